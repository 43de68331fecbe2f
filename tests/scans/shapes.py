"""Three kinds of bay, drawn at random from a seed: a hull side, a locker under a berth, an engine
space.

x forward, y to port, z up from the lowest sole, metres. Every bay is in one convex cavity that
extends above the deck (the berth's top, the cockpit sole) as the cabin where the owner stands;
deck, frames and machinery are solids in it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.scans.convex import Convex, Floats, World, block, convex, pipe, world

#: Solids extend this far out of the cavity so that there is no gap to its wall.
BURIED = 0.05
#: Height of the cabin above the deck.
CABIN = 1.1


@dataclass(frozen=True, eq=False)
class Bay:
    """A bay: its world, its deck and hatch, and a point in its open middle.

    under, over : heights of the deck's underside and top; hatch : x0, y0, x1, y1 of its opening
    """

    name: str
    world: World
    under: float
    over: float
    hatch: tuple[float, float, float, float]
    inside: tuple[float, float, float]
    low: Floats
    high: Floats


@dataclass(frozen=True, eq=False)
class Hull:
    """The port side of a hull, convex: half breadth by height, narrowed towards the ends."""

    heights: Floats
    breadths: Floats
    length: float
    taper: float

    def breadth(self, x: float, z: float) -> float:
        """Half breadth at a place of the hull, at least as far out as the drawn facets."""
        full = 1.0 - self.taper * (2.0 * x / self.length - 0.8) ** 2 / 1.44
        return float(np.interp(z, self.heights, self.breadths)) * full

    def cavity(self, inner: float) -> Convex:
        """Everything between the hull and the plane y = inner."""
        points = []
        for x in np.linspace(0.0, self.length, 6):
            for z in self.heights:
                points += [(x, inner, z), (x, max(self.breadth(x, z), inner + 0.02), z)]
        return convex("hull", points)

    def strip(
        self, name: str, x: tuple[float, float], z: tuple[float, float], deep: float
    ) -> Convex:
        """A piece on the hull between two stations and two heights, `deep` athwart."""
        points = []
        for at in x:
            for height in z:
                edge = self.breadth(at, height)
                points += [(at, edge + BURIED, height), (at, edge - deep, height)]
        return convex(name, points)


def _hull(rng: np.random.Generator, length: float, half: float, deck: float, top: float) -> Hull:
    """A round bilge from a flat of bottom to a flare above the deck."""
    power = rng.uniform(1.8, 2.6)
    flat = rng.uniform(0.35, 0.6) * half
    low = np.linspace(0.0, deck, 6)
    breadths = flat + (half - flat) * (1.0 - (1.0 - low / deck) ** power) ** (1.0 / power)
    flare = breadths[-1] + min(0.04, breadths[-1] - breadths[-2])
    return Hull(
        heights=np.array([*low, top]),
        breadths=np.array([*breadths, flare]),
        length=length,
        taper=rng.uniform(0.03, 0.14),
    )


def _deck(hatch: tuple[float, float, float, float], under: float, over: float) -> list[Convex]:
    """Four slabs round an opening."""
    x0, y0, x1, y1 = hatch
    far = 10.0
    return [
        block("deck", (-far, -far, under), (x0, far, over)),
        block("deck", (x1, -far, under), (far, far, over)),
        block("deck", (x0, -far, under), (x1, y0, over)),
        block("deck", (x0, y1, under), (x1, far, over)),
    ]


def _frames(rng: np.random.Generator, hull: Hull, deck: float, spacing: float) -> list[Convex]:
    """Frames up the hull and stringers along it."""
    made = []
    wide, deep = rng.uniform(0.030, 0.045), rng.uniform(0.040, 0.060)
    for x in np.arange(rng.uniform(0.15, 0.4), hull.length - 0.1, spacing):
        for low, high in zip(hull.heights[:-2], hull.heights[1:-1], strict=True):
            made.append(hull.strip("frame", (x, x + wide), (low, min(high, deck)), deep))
    for share in (0.35, 0.72)[: int(rng.integers(1, 3))]:
        z, tall = share * deck, rng.uniform(0.030, 0.045)
        for x in np.linspace(0.0, hull.length, 6)[:-1]:
            piece = (x, x + hull.length / 5.0)
            made.append(hull.strip("stringer", piece, (z, z + tall), 0.8 * deep))
    return made


def _bay(name: str, cavity: Convex, solids: list[Convex], **known: object) -> Bay:
    points = cavity.triangles.reshape(-1, 3)
    return Bay(
        name=name,
        world=world(cavity, solids),
        low=points.min(axis=0),
        high=points.max(axis=0),
        **known,  # type: ignore[arg-type]
    )


def hull_side(rng: np.random.Generator) -> Bay:
    """A bay along the hull with frames, stringers, a shelf and a battery."""
    length, half = rng.uniform(1.6, 2.3), rng.uniform(0.85, 1.15)
    deck = rng.uniform(0.9, 1.15)
    over = deck + rng.uniform(0.02, 0.04)
    hull = _hull(rng, length, half, deck, over + CABIN)
    inner = rng.uniform(-0.25, -0.05)
    wide, along = rng.uniform(0.45, 0.6), rng.uniform(0.5, 0.7)
    x0 = rng.uniform(0.3, length - along - 0.3)
    y0 = inner + rng.uniform(0.08, 0.2)
    hatch = (x0, y0, x0 + along, min(y0 + wide, hull.breadth(x0, deck) - 0.1))
    solids = _deck(hatch, deck, over)
    solids += _frames(rng, hull, deck, rng.uniform(0.38, 0.55))
    solids.append(block("sole", (-1, -1, -1), (length + 1, 3, rng.uniform(0.015, 0.05))))
    # A battery on the sole at one end, a shelf on the hull at the other, a pipe along the panel.
    aft = rng.random() < 0.5
    size = rng.uniform((0.25, 0.20, 0.20), (0.45, 0.3, 0.34))
    x = rng.uniform(0.05, 0.2) if aft else length - size[0] - rng.uniform(0.05, 0.2)
    y = inner + rng.uniform(0.06, 0.2)
    solids.append(block("battery", (x, y, 0.0), (x + size[0], y + size[1], size[2])))
    shelf = (length * 0.62, length + 0.1) if aft else (-0.1, length * 0.38)
    z = deck * rng.uniform(0.45, 0.6)
    edge = 0.55 * hull.breadth(float(np.clip(np.mean(shelf), 0, length)), z)
    solids.append(block("shelf", (shelf[0], edge, z), (shelf[1], 3.0, z + 0.025)))
    z, radius = rng.uniform(0.4, 0.7) * deck, rng.uniform(0.02, 0.035)
    y = inner + radius + rng.uniform(0.01, 0.05)
    solids.append(pipe("pipe", (-0.1, y, z), (length + 0.1, y, z), radius))
    middle = (x0 + along / 2, (hatch[1] + hatch[3]) / 2, 0.62 * deck)
    return _bay("hull side", hull.cavity(inner), solids, under=deck, over=over, hatch=hatch,
                inside=middle)  # fmt: skip


def locker(rng: np.random.Generator) -> Bay:
    """A locker under a berth: low, the hull sloping across it, a tank, a hose and a divider."""
    length, half = rng.uniform(1.3, 1.9), rng.uniform(0.75, 1.0)
    deck = rng.uniform(0.45, 0.62)
    over = deck + rng.uniform(0.015, 0.025)
    hull = _hull(rng, length, half, deck, over + CABIN)
    along, wide = rng.uniform(0.42, 0.6), rng.uniform(0.34, 0.45)
    x0 = rng.uniform(0.3, length - along - 0.3)
    y0 = rng.uniform(0.08, 0.14)
    hatch = (x0, y0, x0 + along, y0 + wide)
    solids = _deck(hatch, deck, over)
    solids += _frames(rng, hull, deck, rng.uniform(0.45, 0.7))
    solids.append(block("sole", (-1, -1, -1), (length + 1, 3, rng.uniform(0.01, 0.04))))
    # A tank at one end, as wide as possible, and a knee-high divider short of the hatch.
    end = rng.uniform(0.22, 0.3)
    aft = rng.random() < 0.5
    x = (0.01, end) if aft else (length - end, length - 0.01)
    tank = (
        (x[0], rng.uniform(0.05, 0.15), 0.0),
        (x[1], 0.62 * half, deck * rng.uniform(0.5, 0.8)),
    )
    solids.append(block("tank", *tank))
    x = x0 - rng.uniform(0.06, 0.12) if not aft else x0 + along + rng.uniform(0.05, 0.1)
    high = deck * rng.uniform(0.3, 0.5)
    solids.append(block("divider", (x, -0.1, 0.0), (x + 0.018, 2.0, high)))
    z, radius = rng.uniform(0.12, 0.2), rng.uniform(0.018, 0.03)
    y = 0.01 + radius
    solids.append(pipe("hose", (-0.1, y, z), (length + 0.1, y, z + 0.04), radius))
    for y in (0.0, hatch[3] + 0.03):
        solids.append(block("cleat", (-0.1, y, deck - 0.04), (length + 0.1, y + 0.03, deck)))
    middle = (x0 + along / 2, y0 + wide / 2, 0.6 * deck)
    return _bay("locker", hull.cavity(0.0), solids, under=deck, over=over, hatch=hatch,
                inside=middle)  # fmt: skip


def engine_space(rng: np.random.Generator) -> Bay:
    """An engine on its beds with gearbox, exhaust and filter, a tank to one side, pipes."""
    length, half = rng.uniform(2.0, 2.8), rng.uniform(0.85, 1.1)
    deck = rng.uniform(1.0, 1.25)
    over = deck + rng.uniform(0.025, 0.05)
    hull = _hull(rng, length, half, deck, over + CABIN)
    inner = -rng.uniform(0.6, 0.8)
    x0, along = rng.uniform(0.5, 0.8), rng.uniform(0.7, 0.95)
    hatch = (x0, rng.uniform(-0.4, -0.3), x0 + along, rng.uniform(0.3, 0.4))
    solids = _deck(hatch, deck, over)
    solids += _frames(rng, hull, deck, rng.uniform(0.5, 0.7))
    solids.append(block("sole", (-1, -2, -1), (length + 1, 3, rng.uniform(0.015, 0.05))))
    # Engine: a block over a narrower sump on two beds, a gearbox aft, a riser and an exhaust.
    x, long, wide = rng.uniform(0.5, 0.7), rng.uniform(0.7, 0.9), rng.uniform(0.2, 0.27)
    low, high = rng.uniform(0.2, 0.26), rng.uniform(0.62, 0.78)
    solids += [
        block("engine", (x, -wide, low), (x + long, wide, high)),
        block("sump", (x + 0.1, -0.5 * wide, 0.08), (x + long - 0.1, 0.5 * wide, low + 0.01)),
        block("gearbox", (x - 0.25, -0.11, low), (x + 0.01, 0.11, low + 0.26)),
        block("bed", (x - 0.2, -wide - 0.02, 0.0), (x + long + 0.1, -wide + 0.05, low - 0.04)),
        block("bed", (x - 0.2, wide - 0.05, 0.0), (x + long + 0.1, wide + 0.02, low - 0.04)),
    ]
    pipe_y, pipe_z, radius = rng.uniform(-0.5, -0.42), high - 0.15, rng.uniform(0.035, 0.05)
    solids += [
        pipe("riser", (x + 0.12, -wide + 0.05, pipe_z), (x + 0.12, pipe_y, pipe_z), radius),
        pipe("exhaust", (x + 0.12, pipe_y, pipe_z), (-0.1, pipe_y, pipe_z - 0.1), radius),
    ]
    # A tank on the port side forward of the engine, a filter on the starboard panel, a fuel pipe.
    y = rng.uniform(0.36, 0.45)
    x1 = length - rng.uniform(0.02, 0.1)
    tall = rng.uniform(0.4, 0.65)
    solids.append(block("tank", (x1 - rng.uniform(0.5, 0.7), y, 0.0), (x1, y + 0.35, tall)))
    x, z = rng.uniform(1.4, 1.7), rng.uniform(0.55, 0.75)
    solids.append(pipe("filter", (x, inner + 0.09, z - 0.2), (x, inner + 0.09, z), 0.06))
    z, radius = rng.uniform(0.1, 0.16), rng.uniform(0.018, 0.03)
    solids.append(pipe("pipe", (-0.1, inner + 0.1, z), (length + 0.1, inner + 0.1, z), radius))
    middle = (x0 + along / 2, 0.0, (high + deck) / 2)
    return _bay("engine space", hull.cavity(inner), solids, under=deck, over=over, hatch=hatch,
                inside=middle)  # fmt: skip


_DRAW: dict[str, Callable[[np.random.Generator], Bay]] = {
    "hull side": hull_side,
    "locker": locker,
    "engine space": engine_space,
}


def draw_bay(shape: str, seed: int) -> Bay:
    """The bay of that shape and seed."""
    return _DRAW[shape](np.random.default_rng([seed, sorted(_DRAW).index(shape)]))
