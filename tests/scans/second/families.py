"""Six families of compartments, drawn at random from a seed.

x forward, y to port, z up from the keel or sole, metres. A cavity goes on beyond the opening as
the place the owner stands in; the deck or wall with the opening, and all that is built in, are
bodies.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.scans.second.level import FAMILIES
from tests.scans.second.solids import Body, Floats, block, loft, prism, tube, walled
from tests.scans.second.world import World, world

#: How far the cavity goes on beyond the opening, and bodies out of the cavity.
BEYOND, OUT = 1.0, 0.06


@dataclass(frozen=True, eq=False)
class Bay:
    """A compartment with one opening.

    opening : (4, 3) corners in order on the outer face; normal: the way out
    inner   : places with normal . p < inner are the compartment's own; outer: of the outer face
    low, high : bounds of the compartment; sea: height of the sea
    """

    family: str
    world: World
    opening: Floats
    normal: Floats
    inner: float
    outer: float
    inside: tuple[float, float, float]
    low: Floats
    high: Floats
    sea: float

    def own(self, points: Floats) -> Floats:
        """Which of (n, 3) points lie on the compartment's side of the opening."""
        return np.asarray(points @ self.normal < self.inner)


@dataclass(frozen=True, eq=False)
class Hull:
    """Sections of a hull as Bezier curves from keel to deck, narrowing and rising aft."""

    length: float
    half: float
    deck: float
    dead: float  # rise of the bottom at the quarter beam
    bilge: float  # 0 slack to 1 hard
    rocker: float
    narrow: float

    def curve(self, x: float, count: int = 9) -> Floats:
        """(count, 2) y and z from keel to deck."""
        aft = 1.0 - x / self.length
        half, keel = self.half * (1.0 - self.narrow * aft**2), self.rocker * aft**2
        t = np.linspace(0.0, 1.0, count)[:, None]
        posts = np.array(
            [
                (0.0, keel),
                (half * (0.55 + 0.45 * self.bilge), keel + self.dead),
                (half, keel + self.dead + (1.0 - self.bilge) * 0.4 * self.deck),
                (half, self.deck),
            ]
        )
        a, b, c, d = posts
        return np.asarray(
            (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
        )

    def breadth(self, x: float, z: float) -> float:
        """Half breadth at a height."""
        y, heights = self.curve(x, 40).T
        return float(np.interp(z, heights, y))

    def cavity(self, *, both: bool) -> Body:
        """The room inside, up through the deck; one side of the centreline or both."""
        rings = []
        for x in np.linspace(0.0, self.length, 7):
            curve = self.curve(x)
            top = curve[-1] + [0.0, BEYOND]
            port = [*curve[1:], top]
            if both:
                other = [(-y, z) for y, z in port[::-1]]
                ring = [curve[0], *port, *other]
            else:
                ring = [curve[0], *port, (0.0, top[1])]
            rings.append([(x, y, z) for y, z in ring])
        return loft("hull", rings)

    def rib(self, x: float, wide: float, deep: float, side: int) -> Body:
        """A frame up the hull."""
        curve = self.curve(x, 12)
        way = np.gradient(curve, axis=0)
        out = np.stack([way[:, 1], -way[:, 0]], axis=1)
        out /= np.linalg.norm(out, axis=1)[:, None]
        outline = np.concatenate([curve + OUT * out, (curve - deep * out)[::-1]])
        outline = outline[outline[:, 0] > -OUT]
        return prism("rib", outline * [side, 1], 0, x, x + wide)

    def stringer(self, z: float, radius: float, side: int) -> Body:
        """A square bar along the hull at a height, nine tenths of it to be seen."""
        path = [
            (x, side * (self.breadth(float(x), z) - 0.4 * radius), z)
            for x in np.linspace(-OUT, self.length + OUT, 8)
        ]
        return tube("stringer", path, radius, sides=4)

    def tank(
        self, x: tuple[float, float], inner: float, low: float, high: float, side: int
    ) -> Body:
        """A tank that follows the hull from an upright inner face."""
        rings = []
        for at in np.linspace(*x, 4):
            z = np.linspace(low, high, 5)
            y = [max(self.breadth(float(at), float(h)) - 0.01, inner + 0.05) for h in z]
            outline = [(inner, low), *zip(y, z, strict=True), (inner, high)]
            rings.append([(at, side * a, b) for a, b in outline])
        return loft("tank", rings)


def _hull(rng: np.random.Generator, length: float, half: float, deck: float) -> Hull:
    return Hull(
        length=length,
        half=half,
        deck=deck,
        dead=deck * rng.uniform(0.06, 0.2),
        bilge=rng.uniform(0.25, 0.75),
        rocker=deck * rng.uniform(0.02, 0.15),
        narrow=rng.uniform(0.05, 0.25),
    )


def _sole(hull: Hull, z: float) -> Body:
    return block("sole", (-OUT, -3, -0.5), (hull.length + OUT, 3, z))


def _decked(
    family: str,
    rng: np.random.Generator,
    cavity: Body,
    bodies: list[Body],
    deck: float,
    hatch: tuple[float, float, float, float],
    depth: float,
) -> Bay:
    """A bay under a deck with a hatch (x0, y0, x1, y1), its inside point `depth` under it."""
    points = cavity.triangles.reshape(-1, 3)
    low, high = points.min(axis=0), points.max(axis=0)
    over = deck + rng.uniform(0.015, 0.045)
    x0, y0, x1, y1 = hatch
    whole = [(low[n] - OUT, high[n] + OUT) for n in (0, 1)]
    top = walled("deck", 2, (deck, over), [(x0, x1), (y0, y1)], whole)
    corners = [(x0, y0, over), (x1, y0, over), (x1, y1, over), (x0, y1, over)]
    return Bay(
        family=family,
        world=world(cavity, [*bodies, *top]),
        opening=np.array(corners),
        normal=np.array([0.0, 0.0, 1.0]),
        inner=deck,
        outer=over,
        inside=((x0 + x1) / 2, (y0 + y1) / 2, deck - depth),
        low=low,
        high=np.array([*high[:2], deck]),
        sea=deck * rng.uniform(0.3, 0.6),
    )


def lazarette(rng: np.random.Generator) -> Bay:
    """Under a cockpit: its well hangs down the middle, steering and an exhaust behind it."""
    length, half, deck = rng.uniform(1.5, 2.1), rng.uniform(0.85, 1.1), rng.uniform(0.95, 1.2)
    hull = _hull(rng, length, half, deck)
    well = (rng.uniform(0.5, 0.65), rng.uniform(0.24, 0.3), deck - rng.uniform(0.38, 0.5))
    y, z = rng.uniform(0.05, 0.12), rng.uniform(0.3, 0.4)
    bodies = [
        _sole(hull, hull.rocker + rng.uniform(0.06, 0.1)),
        block("well", (well[0], -well[1], well[2]), (length + OUT, well[1], deck + 0.01)),
        tube("rudder tube", [(0.3, 0, -OUT), (0.3, 0, deck + 0.01)], rng.uniform(0.045, 0.06), 16),
        prism("quadrant", [(0.25, -0.03), (0.25, 0.03), (0.5, 0.2), (0.55, 0.0), (0.5, -0.2)],
              2, z + 0.2, z + 0.215),
        tube("cable", [(0.5, 0.19, z + 0.21), (0.9, 0.3, z), (length + OUT, 0.34, z)], 0.009, 8),
        tube("cable", [(0.5, -0.19, z + 0.21), (0.9, -0.3, z), (length + OUT, -0.34, z)],
             0.009, 8),
        tube("exhaust", [(length + OUT, -0.45, 0.35), (1.0, -0.45, 0.4), (0.8, -0.45, deck - 0.12),
                         (0.6, -0.45, deck - 0.1), (0.4, -0.45, 0.5), (-OUT, -0.45, 0.42)],
             rng.uniform(0.04, 0.055)),
        tube("bottle", [(length - 0.2, 0.5, 0.2), (length - 0.2, 0.5, rng.uniform(0.5, 0.6))],
             rng.uniform(0.11, 0.15), 20),
        block("box", (0.75, y - 0.1, 0.05), (1.1, y + 0.15, rng.uniform(0.22, 0.32))),
    ]  # fmt: skip
    wide = min(0.42, hull.breadth(0.5, deck) - well[1] - 0.12)
    x0 = rng.uniform(0.3, 0.5)
    hatch = (x0, well[1] + 0.04, x0 + rng.uniform(0.6, 0.8), well[1] + 0.04 + wide)
    return _decked("lazarette", rng, hull.cavity(both=True), bodies, deck, hatch, 0.3)


def under_berth(rng: np.random.Generator) -> Bay:
    """Low, one side, stringers along the hull, a bearer, a strum box and a hose."""
    length, half, deck = rng.uniform(1.3, 1.9), rng.uniform(0.8, 1.0), rng.uniform(0.48, 0.65)
    hull = _hull(rng, length, half, deck)
    bodies = [hull.stringer(deck * share, rng.uniform(0.025, 0.04), 1) for share in (0.42, 0.7)]
    x = rng.uniform(0.3, 0.45) * length
    bodies += [
        _sole(hull, hull.rocker + rng.uniform(0.02, 0.05)),
        prism("bearer", [(-OUT, -OUT), (1.3, -OUT), (1.3, deck * 0.42), (-OUT, deck * 0.28)],
              0, x, x + 0.02),
        hull.tank((length - rng.uniform(0.28, 0.4), length - 0.01), 0.1, 0.05, deck * 0.7, 1),
        tube("hose", [(-OUT, 0.07, 0.16), (x, 0.09, 0.2), (length + OUT, 0.05, 0.15)],
             rng.uniform(0.014, 0.024)),
        block("strum box", (0.08, 0.15, 0.0), (0.2, 0.3, rng.uniform(0.15, 0.2))),
        block("cleat", (-OUT, 0.0, deck - 0.045), (length + OUT, 0.03, deck + 0.01)),
    ]  # fmt: skip
    x0, along = rng.uniform(0.25, 0.4), rng.uniform(0.45, 0.65)
    hatch = (x0, 0.1, x0 + along, 0.1 + rng.uniform(0.36, 0.46))
    return _decked("under berth", rng, hull.cavity(both=False), bodies, deck, hatch, 0.18)


def twin_tanks(rng: np.random.Generator) -> Bay:
    """An engine between two tanks that follow the hull, shaft, riser and filters."""
    length, half, deck = rng.uniform(1.9, 2.5), rng.uniform(1.0, 1.25), rng.uniform(1.05, 1.3)
    hull = _hull(rng, length, half, deck)
    x, wide = rng.uniform(0.6, 0.75), rng.uniform(0.19, 0.26)
    long, tall = rng.uniform(0.75, 0.95), rng.uniform(0.5, 0.6)
    base = hull.dead + rng.uniform(0.1, 0.16)
    side = [(0, 0.12), (0.15, 0.12), (0.2, 0), (0.7, 0), (0.75, 0.1), (1, 0.12), (1, 0.75),
            (0.8, 0.8), (0.75, 1), (0.25, 1), (0.2, 0.7), (0, 0.55)]  # fmt: skip
    outline = [(x + long * a, base + tall * b) for a, b in side]
    inner, high = rng.uniform(0.48, 0.56), deck * rng.uniform(0.6, 0.8)
    ends = (rng.uniform(0.5, 0.7), length - rng.uniform(0.25, 0.4))
    z = base + 0.3 * tall
    bodies = [
        _sole(hull, hull.rocker + rng.uniform(0.03, 0.06)),
        prism("engine", outline, 1, -wide, wide),
        block("gearbox", (x - 0.28, -0.12, z - 0.14), (x + 0.02, 0.12, z + 0.14)),
        tube("shaft", [(-OUT, 0.0, z - 0.16), (x - 0.2, 0.0, z)], 0.02),
        hull.tank(ends, inner, base - 0.02, high, 1),
        hull.tank(ends, inner, base - 0.02, high * rng.uniform(0.8, 1.0), -1),
        tube("riser", [(x + 0.15, -0.1, base + 0.7 * tall), (x + 0.05, -0.1, base + tall + 0.08),
                       (x - 0.15, -0.2, base + tall), (0.2, -0.3, 0.5), (-OUT, -0.3, 0.5)],
             rng.uniform(0.035, 0.05)),
        tube("alternator", [(x + long - 0.02, wide + 0.06, base + 0.7 * tall),
                            (x + long - 0.2, wide + 0.06, base + 0.7 * tall)], 0.075, 16),
        tube("filter", [(0.12, 0.5, 0.6), (0.12, 0.5, 0.85)], 0.06, 16),
        tube("pipe", [(-OUT, 0.42, 0.3), (length + OUT, 0.44, 0.28)], rng.uniform(0.01, 0.02)),
    ]  # fmt: skip
    for s in (-1, 1):
        low = (x - 0.2, s * (wide - 0.02) - 0.05, -0.2)
        high_ = (x + long + 0.15, s * (wide - 0.02) + 0.05, base + 0.05)
        bodies.append(block("bed", low, high_))
    hatch = (x - rng.uniform(0.0, 0.15), -0.4, x + rng.uniform(0.75, 0.95), 0.4)
    return _decked("twin tanks", rng, hull.cavity(both=True), bodies, deck, hatch, 0.17)


def l_shape(rng: np.random.Generator) -> Bay:
    """Round the corner of a joiner's box: one leg lies out of sight of the hatch."""
    a, b, deck = rng.uniform(1.2, 1.6), rng.uniform(1.1, 1.5), rng.uniform(0.65, 0.95)
    p, q = rng.uniform(0.55, 0.7), rng.uniform(0.5, 0.65)
    outline = [(0, 0), (a, 0), (a, q), (p, q), (p, b), (0, b)]
    z = deck * rng.uniform(0.45, 0.6)
    radius = rng.uniform(0.15, 0.19)
    bodies = [
        tube("heater", [(a - 0.04, 0.04 + radius, 0.04 + radius),
                        (a - rng.uniform(0.4, 0.5), 0.04 + radius, 0.04 + radius)], radius, 20),
        block("shelf", (-OUT, b - rng.uniform(0.25, 0.35), z), (p + OUT, b + OUT, z + 0.02)),
        block("battery", (0.08, b - 0.34, -OUT), (0.38, b - 0.1, rng.uniform(0.2, 0.26))),
        tube("hose", [(a - 0.2, 0.06, 2 * radius + 0.08), (p, 0.05, 0.2), (0.05, 0.06, 0.12),
                      (0.05, b + OUT, 0.12)], rng.uniform(0.012, 0.02)),
        block("post", (p - 0.045, q - 0.045, -OUT), (p, q, deck + 0.01)),
        tube("rail", [(-OUT, 0.02, deck - 0.03), (a + OUT, 0.02, deck - 0.03)], 0.028, 4),
    ]  # fmt: skip
    cavity = prism("walls", outline, 2, 0.0, deck + BEYOND)
    hatch = (0.1, 0.08, p - 0.06, min(0.08 + rng.uniform(0.5, 0.7), b - 0.2))
    return _decked("l shape", rng, cavity, bodies, deck, hatch, 0.3)


def wet_locker(rng: np.random.Generator) -> Bay:
    """Tall and narrow behind a door, with pipes, conduits and hooks 8 to 40 mm thick."""
    wide, deep, tall = rng.uniform(0.7, 0.95), rng.uniform(0.55, 0.8), rng.uniform(1.5, 1.85)
    slope = rng.uniform(0.15, 0.35)
    cavity = block("walls", (0, -BEYOND, 0), (wide, deep, tall))
    z = rng.uniform(0.6, 0.9)
    bodies = [
        prism("hull", [(deep - slope, -OUT), (deep + OUT, -OUT), (deep + OUT, z), (deep, z)], 0,
              -OUT, wide + OUT),
        tube("rail", [(-OUT, 0.3, tall - 0.2), (wide + OUT, 0.3, tall - 0.2)], 0.0125),
        block("tray", (-OUT, -OUT, -OUT), (wide + OUT, deep + OUT, rng.uniform(0.02, 0.06))),
        block("panel", (wide - rng.uniform(0.05, 0.09), 0.12, 1.0), (wide + OUT, 0.4, 1.3)),
    ]  # fmt: skip
    for _ in range(int(rng.integers(3, 6))):
        x, r = rng.uniform(0.06, wide - 0.06), rng.uniform(0.0075, 0.02)
        y = deep - slope - r - rng.uniform(0.01, 0.03)
        path = [(x, y, -OUT), (x, y, rng.uniform(0.3, 0.5)), (x, deep - r - 0.012, z + 0.08),
                (x, deep - r - 0.012, tall + OUT)]  # fmt: skip
        bodies.append(tube("pipe", path, r))
    for _ in range(int(rng.integers(2, 4))):
        side, h = rng.choice([0.012, wide - 0.012]), rng.uniform(0.3, tall - 0.3)
        r = rng.uniform(0.008, 0.014)
        bodies.append(tube("conduit", [(side, -0.0, h), (side, deep + OUT, h + 0.02)], r, 8))
    for x in np.linspace(0.15, wide - 0.15, 3):
        y = deep + 0.01
        bodies.append(
            tube("hook", [(x, y, 1.35), (x, y - 0.07, 1.35), (x, y - 0.08, 1.4)], 0.008, 8)
        )
    thick = rng.uniform(0.015, 0.03)
    door = [(0.07, wide - 0.07), (rng.uniform(0.12, 0.2), tall - 0.12)]
    bodies += walled("front", 1, (-thick, 0.0), door, [(-OUT, wide + OUT), (-OUT, tall + OUT)])
    (x0, x1), (z0, z1) = door
    corners = [(x0, -thick, z0), (x1, -thick, z0), (x1, -thick, z1), (x0, -thick, z1)]
    return Bay(
        family="wet locker",
        world=world(cavity, bodies),
        opening=np.array(corners),
        normal=np.array([0.0, -1.0, 0.0]),
        inner=0.0,
        outer=thick,
        inside=(wide / 2, 0.24, 1.1),
        low=np.array([0.0, 0.0, 0.0]),
        high=np.array([wide, deep, tall]),
        sea=rng.uniform(0.2, 0.5),
    )


def ribbed(rng: np.random.Generator) -> Bay:
    """Ribs every 400 mm up both sides, floors between them, a pump and a hose."""
    length, half, deck = rng.uniform(1.7, 2.3), rng.uniform(0.7, 0.95), rng.uniform(0.8, 1.05)
    hull = _hull(rng, length, half, deck)
    wide, thick = rng.uniform(0.03, 0.05), rng.uniform(0.04, 0.065)
    sole = hull.rocker + rng.uniform(0.03, 0.06)
    bodies = [_sole(hull, sole)]
    for x in np.arange(rng.uniform(0.12, 0.3), length - 0.06, 0.4):
        bodies += [hull.rib(float(x), wide, thick, side) for side in (-1, 1)]
        floor = (x, -3.0, -OUT), (x + 0.02, 3.0, sole + rng.uniform(0.05, 0.09))
        bodies.append(block("floor", *floor))
    bodies += [hull.stringer(deck * 0.62, 0.025, side) for side in (-1, 1)]
    y = rng.uniform(-0.2, 0.1)
    bodies += [
        block("pump", (0.1, y, -OUT), (0.38, y + 0.2, sole + rng.uniform(0.18, 0.3))),
        tube("hose", [(-OUT, 0.3, 0.3), (length + OUT, 0.28, 0.34)], rng.uniform(0.012, 0.022)),
        tube("duct", [(-OUT, -0.32, deck - 0.1), (length + OUT, -0.3, deck - 0.1)], 0.05, 16),
    ]
    x0 = rng.uniform(0.35, 0.6)
    hatch = (x0, -0.25, x0 + rng.uniform(0.55, 0.75), rng.uniform(0.25, 0.35))
    return _decked("ribbed", rng, hull.cavity(both=True), bodies, deck, hatch, 0.3)


_DRAW: tuple[Callable[[np.random.Generator], Bay], ...] = (
    lazarette, under_berth, twin_tanks, l_shape, wet_locker, ribbed,
)  # fmt: skip


def draw_bay(family: str, seed: int) -> Bay:
    """The compartment of that family and seed."""
    number = FAMILIES.index(family)
    return _DRAW[number](np.random.default_rng([seed, 77, number]))
