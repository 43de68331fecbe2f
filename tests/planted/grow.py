"""Place obstacles around hoses already laid out: moved in from outside to a chosen slack."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from fitcheck.geometry.box import Box, as_axes, as_point
from tests.planted import parts
from tests.planted.bay import (
    HIGH,
    LOW,
    PORT_PITCH,
    Level,
    PlantedHole,
    PlantedHose,
    Problem,
    slack,
)
from tests.planted.curve import Planted, Points


@dataclass(frozen=True)
class Growth:
    """Parameters of a level: slack left beyond the need [m], and minimum and maximum numbers of
    things.
    """

    slack: tuple[float, float]
    inside: float
    guards: tuple[int, int]
    plates: tuple[int, int]
    partial: tuple[int, int]
    clutter: tuple[int, int]


GROWTH: dict[Level, Growth] = {
    "easy": Growth((0.008, 0.015), 0.6, (3, 6), (0, 1), (0, 1), (5, 10)),
    "middle": Growth((0.003, 0.008), 0.9, (6, 11), (1, 1), (0, 2), (9, 15)),
    "hard": Growth((0.0007, 0.002), 1.0, (10, 18), (1, 2), (1, 3), (14, 24)),
}


@dataclass(eq=False)
class Bay:
    """Hoses laid out so far and the obstacles around them."""

    clearance: float
    gap: float
    straight: float
    hoses: list[PlantedHose] = field(default_factory=list)
    boxes: dict[str, Box] = field(default_factory=dict)
    sheets: list[Points] = field(default_factory=list)
    hole: PlantedHole | None = None
    points: Points = field(default_factory=lambda: np.zeros((0, 3)))
    needs: Points = field(default_factory=lambda: np.zeros(0))

    def lay(self, name: str, radius: float, half: float, curve: Planted) -> None:
        """Add a hose."""
        self.hoses.append(PlantedHose(name, radius, half, curve, ("boat", "boat")))

    def lay_apart(
        self, rng: np.random.Generator, radius: float, half: float, curve: Planted
    ) -> bool:
        """Add a hose if it keeps the gap to all others with some slack, ports apart."""
        mine = curve.sample(0.004)[0]
        for other in self.hoses:
            asked = half + other.half + self.gap + rng.uniform(0.0008, 0.003)
            theirs = other.curve.sample(0.004)[0]
            gap = np.linalg.norm(mine[:, None] - theirs[None], axis=2).min()
            if gap < asked + 2e-4:
                return False
            for port in (curve.corners[0], curve.corners[-1]):
                for taken in (other.curve.corners[0], other.curve.corners[-1]):
                    if np.linalg.norm(port - taken) < PORT_PITCH - 1e-9:
                        return False
        self.lay(f"hose {len(self.hoses) + 1}", radius, half, curve)
        return True

    def settle(self) -> None:
        """No more hoses: sample what obstacles must keep clear of."""
        sampled = [hose.curve.sample(0.002)[0] for hose in self.hoses]
        self.points = np.ascontiguousarray(np.concatenate(sampled))
        needs = [
            np.full(len(points), hose.half + self.clearance)
            for hose, points in zip(self.hoses, sampled, strict=True)
        ]
        self.needs = np.concatenate(needs)

    def margin(self, triangles: Points, shift: Points | None = None) -> float:
        """Smallest distance of any hose to some triangles beyond its need [m]."""
        away = parts.gaps(self.points, np.zeros(3) if shift is None else shift, triangles)
        return float((away - self.needs).min())

    def add(self, rng: np.random.Generator, box: Box | None, triangles: Points) -> None:
        """Keep a part: as a box half of the time, else as triangles."""
        if box is not None and rng.random() < 0.5:
            self.boxes[f"box {len(self.boxes) + 1}"] = box
        else:
            self.sheets.append(triangles)

    def manifold(self, rng: np.random.Generator, hoses: Sequence[PlantedHose], end: int) -> None:
        """A box with the ports of some hoses on one face, if they leave along an axis."""
        ports = [hose.curve.corners[-end] for hose in hoses]
        way = hoses[0].curve.ways[-end] * (1 if end == 0 else -1)
        if np.abs(way).max() < 1 - 1e-9:
            return
        low, high = np.min(ports, axis=0), np.max(ports, axis=0)
        axis = int(np.abs(way).argmax())
        wider = rng.uniform(0.015, 0.06, 3)
        low, high = low - wider, high + wider
        deep = rng.uniform(0.05, 0.2)
        face = ports[0][axis]
        low[axis], high[axis] = (face - deep, face) if way[axis] > 0 else (face, face + deep)
        box = Box(
            centre=as_point((low + high) / 2),
            half=as_point((high - low) / 2),
            axes=as_axes(np.eye(3)),
        )
        if not self._clear_of_hoses(box, hoses, end):
            return
        name = f"manifold {len(self.boxes) + 1}"
        self.boxes[name] = box
        mine = set(map(id, hoses))
        self.hoses[:] = [
            self._owned(hose, end, name) if id(hose) in mine else hose for hose in self.hoses
        ]

    @staticmethod
    def _owned(hose: PlantedHose, end: int, name: str) -> PlantedHose:
        owners = (name, hose.owners[1]) if end == 0 else (hose.owners[0], name)
        return PlantedHose(hose.name, hose.radius, hose.half, hose.curve, owners)

    def _clear_of_hoses(self, box: Box, owners: Sequence[PlantedHose], end: int) -> bool:
        for hose in self.hoses:
            points, along = hose.curve.sample(0.002)
            need = hose.half + self.clearance
            if hose in owners:
                along = along if end == 0 else along[-1] - along
                points = points[along >= self.straight]
                need -= max(0.0, need + 0.001 - self.straight)
            if float(box.distance(points).min()) < need + 0.0005:
                return False
        return True


def grown(
    rng: np.random.Generator, bay: Bay, seed: int, level: Level, family: str
) -> Problem | None:
    """Place everything around the hoses and prove that they still fit."""
    growth = GROWTH[level]
    if family in ("single", "hole"):
        for end in (0, 1):
            if rng.random() < 0.5:
                bay.manifold(rng, bay.hoses[:1], end)
    bay.settle()
    _grow_hull(rng, bay, growth)
    for _ in range(int(rng.integers(growth.plates[0], growth.plates[1] + 1))):
        _grow_plate(rng, bay, growth, whole=True)
    for _ in range(int(rng.integers(growth.partial[0], growth.partial[1] + 1))):
        _grow_plate(rng, bay, growth, whole=False)
    many = 1 + len(bay.hoses) // 3
    for hose in bay.hoses:
        _guard_bends(rng, bay, growth, hose.curve)
    for _ in range(many * int(rng.integers(growth.guards[0], growth.guards[1] + 1))):
        _guard(rng, bay, growth)
    for _ in range(int(rng.integers(growth.clutter[0], growth.clutter[1] + 1))):
        _clutter(rng, bay, growth)
    problem = Problem(
        seed=seed,
        level=level,
        family=family,
        hoses=tuple(bay.hoses),
        clearance=bay.clearance,
        gap=bay.gap,
        straight=bay.straight,
        boxes=bay.boxes,
        triangles=np.concatenate([*bay.sheets, parts.NONE]),
        hole=bay.hole,
    )
    return problem if slack(problem) >= 0.5 * growth.slack[0] else None


def _slack(rng: np.random.Generator, growth: Growth) -> float:
    return float(rng.uniform(*growth.slack))


def _grow_hull(rng: np.random.Generator, bay: Bay, growth: Growth) -> None:
    """A hull side as full as the hoses allow, with frames where they clear."""
    depth, bilge = rng.uniform(0.05, 0.3), rng.uniform(0.1, 0.5)
    for share in (1.0, 0.75, 0.5, 0.25, 0.1):
        beyond = np.array([0.1, 0.0, 0.1])
        hull = parts.hull_side(LOW - beyond, HIGH + beyond, share * depth, share * bilge)
        if bay.margin(hull) >= growth.slack[1]:
            break
    else:
        return
    bay.sheets.append(hull)
    for web in parts.ribs(hull, int(rng.integers(2, 5)), rng.uniform(0.03, 0.08)):
        if bay.margin(web) >= growth.slack[0]:
            bay.sheets.append(web)


def _grow_plate(rng: np.random.Generator, bay: Bay, growth: Growth, whole: bool) -> None:
    """A bulkhead (or shelf, if not whole) with one hole around every strand that crosses it."""
    for _ in range(12):
        hose = bay.hoses[int(rng.integers(len(bay.hoses)))]
        leg = int(rng.integers(len(hose.curve.ways)))
        axis = int(np.abs(hose.curve.ways[leg]).argmax())
        if abs(hose.curve.ways[leg][axis]) < 0.75:
            continue
        first, last = hose.curve.legs()[leg]
        at = float((first + rng.uniform(0.2, 0.8) * (last - first))[axis])
        others = [a for a in range(3) if a != axis]
        low, high = LOW[others] - 0.1, HIGH[others] + 0.1
        if not whole:
            here = first[others]
            low = np.maximum(low, here - rng.uniform(0.15, 0.6, 2))
            high = np.minimum(high, here + rng.uniform(0.15, 0.6, 2))
        made = _pierced(rng, bay, growth, axis, at, low, high)
        if made is not None:
            bay.sheets.append(made)
            return


def _pierced(  # noqa: PLR0913, PLR0917
    rng: np.random.Generator,
    bay: Bay,
    growth: Growth,
    axis: int,
    at: float,
    low: Points,
    high: Points,
) -> Points | None:
    others = [a for a in range(3) if a != axis]
    wanted = _slack(rng, growth)
    crossings, needs = _crossings(bay, axis, at)
    inside = ((crossings[:, others] > low) & (crossings[:, others] < high)).all(axis=1)
    flat, needs = crossings[inside][:, others], needs[inside]
    groups = _groups(flat, 2.2 * bay.needs.max() + 0.02)
    more = 0.0
    while more < 0.06:
        holes = [
            parts.outline(flat[group], float(needs[group].max()) + wanted + more)
            for group in groups
        ]
        made = parts.plate(axis, at, low, high, holes)
        if made is None:
            if len(groups) < 2:
                return None
            groups = [[n for group in groups for n in group]]
            continue
        lack = wanted - bay.margin(made)
        if lack <= 0:
            return made
        more += 1.02 * lack + 2e-5
    return None


def _crossings(bay: Bay, axis: int, at: float) -> tuple[Points, Points]:
    """Where hoses cross a plane, and what each needs there."""
    places, needs = [np.zeros((0, 3))], []
    for hose in bay.hoses:
        points = hose.curve.sample(0.002)[0]
        off = points[:, axis] - at
        rows = np.flatnonzero((off[:-1] * off[1:] < 0) | (off[:-1] == 0))
        places.append((points[rows] + points[rows + 1]) / 2)
        needs += [hose.half + bay.clearance] * len(rows)
    return np.concatenate(places), np.array(needs)


def _groups(flat: Points, near: float) -> list[list[int]]:
    """Group points of a plane with no gap above `near`."""
    groups: list[list[int]] = []
    for n in range(len(flat)):
        touching = [g for g in groups if np.linalg.norm(flat[g] - flat[n], axis=1).min() < near]
        groups = [g for g in groups if g not in touching]
        groups.append([m for g in touching for m in g] + [n])
    return groups


def _guard_bends(rng: np.random.Generator, bay: Bay, growth: Growth, curve: Planted) -> None:
    """Something inside every bend, so that the corner cannot be cut."""
    for bend in curve.bends():
        if rng.random() > growth.inside:
            continue
        middle = (bend["start"] + bend["end"]) / 2 - bend["centre"]
        out = middle / np.linalg.norm(middle)
        apex = bend["centre"] + bend["radius"] * out
        _bring(rng, bay, apex, -out, bend["normal"], _slack(rng, growth))


def _guard(rng: np.random.Generator, bay: Bay, growth: Growth) -> None:
    """Something moved up to a random place of a random hose from a random side."""
    hose = bay.hoses[int(rng.integers(len(bay.hoses)))]
    points, _ = hose.curve.sample(0.01)
    at = int(rng.integers(1, len(points) - 1))
    way = points[at + 1] - points[at - 1]
    way /= np.linalg.norm(way)
    side = rng.normal(size=3)
    side -= (side @ way) * way
    side /= np.linalg.norm(side)
    long = np.cross(side, way) if rng.random() < 0.6 else way
    _bring(rng, bay, points[at], side, long, _slack(rng, growth))


def _bring(  # noqa: PLR0913, PLR0917
    rng: np.random.Generator, bay: Bay, at: Points, side: Points, long: Points, wanted: float
) -> bool:
    """Move a part from a side towards the hoses until the wanted slack is left."""
    size = np.array([rng.uniform(0.02, 0.15), rng.uniform(0.02, 0.2), rng.uniform(0.1, 0.6)])
    turn = 0.0 if rng.random() < 0.5 else rng.uniform(0, math.pi)
    first = math.cos(turn) * side + math.sin(turn) * np.cross(long, side)
    axes = np.array([first, np.cross(long, first), long])
    kind = rng.choice(["box", "box", "post", "sheet", "sheet", "locker"])
    if kind == "sheet":
        axes, size = np.roll(axes, 1, axis=0), np.array([size[2], rng.uniform(0.1, 0.5), 0.01])
    make = {"box": parts.solid, "post": parts.post, "sheet": parts.sheet, "locker": parts.locker}
    for away in (0.4, 0.25, 0.15):
        centre = at + away * side
        box = Box(centre=as_point(centre), half=as_point(size / 2), axes=as_axes(axes))
        shape = make[str(kind)](box)
        if bay.margin(shape) >= wanted:
            break
    else:
        return False
    gone = 0.0
    for _ in range(200):
        step = bay.margin(shape, -gone * side) - wanted
        if step < 1e-6 or gone > away + 0.3:
            break
        gone += step
    if gone > away + 0.3:
        return False
    moved = Box(centre=as_point(centre - gone * side), half=box.half, axes=box.axes)
    bay.add(rng, moved if kind == "box" else None, shape - gone * side)
    return True


def _clutter(rng: np.random.Generator, bay: Bay, growth: Growth) -> None:
    """A part anywhere in the bay, made smaller until it clears the hoses."""
    centre, size = rng.uniform(LOW, HIGH), rng.uniform(0.06, 0.5, 3)
    turned = rng.uniform(-math.pi, math.pi) if rng.random() < 0.4 else 0.0
    kind = rng.choice(["box", "box", "post", "sheet", "locker"])
    make = {"box": parts.solid, "post": parts.post, "sheet": parts.sheet, "locker": parts.locker}
    for _ in range(4):
        box = parts.turned_box(centre, size, np.array([0.0, 0.0, turned]))
        shape = make[str(kind)](box)
        if bay.margin(shape) >= _slack(rng, growth) and not (
            kind in ("box", "post") and (box.distance(bay.points) < 0).any()
        ):
            bay.add(rng, box if kind == "box" else None, shape)
            return
        size = 0.6 * size


def declare_hole(rng: np.random.Generator, bay: Bay) -> bool:
    """A sheet across a long leg with a hole too small for the clearance."""
    hose = bay.hoses[0]
    legs = hose.curve.legs()
    sizes = np.linalg.norm(legs[:, 1] - legs[:, 0], axis=1)
    lead = max(bay.straight, hose.half + bay.clearance)
    sizes[[0, -1]] -= lead
    leg = int(sizes.argmax())
    if sizes[leg] < 0.19:
        return False
    way = hose.curve.ways[leg]
    begin = legs[leg, 0] + (lead if leg == 0 else 0.0) * way
    centre = begin + rng.uniform(0.09, sizes[leg] - 0.09) * way
    need = hose.half + bay.clearance
    diameter = rng.uniform(2 * hose.half + 0.0015, 2 * need - 0.001)
    flat = parts.plate(
        2, 0.0, -rng.uniform(0.1, 0.4, 2), rng.uniform(0.1, 0.4, 2),
        [parts.outline(np.zeros((1, 2)), diameter / 2)],
    )  # fmt: skip
    aside = np.cross(way, [0.0, 0.0, 1.0] if abs(way[2]) < 0.9 else [1.0, 0.0, 0.0])
    aside /= np.linalg.norm(aside)
    bay.sheets.append(centre + flat @ np.array([aside, np.cross(way, aside), way]))
    bay.hole = PlantedHole(as_point(centre), as_point(way), float(diameter))
    return True
