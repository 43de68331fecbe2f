"""Hoses while they are pushed about: corners, whether they are clear, who hinders whom."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve, bent
from fitcheck.routing.field import World
from fitcheck.routing.line import Routed, verdict_of
from fitcheck.routing.obstacles import Obstacles, Tube, tube, tube_rows
from fitcheck.routing.ports import Job
from fitcheck.routing.refine import Shape, Task, polished, reshaped
from fitcheck.units import Metre, Ratio

Points = NDArray[np.float64]

#: A straight longer than this gets another corner to be pushed aside [m].
LONG = 0.15
#: A straight end may lack this much, which is rounding [m].
SAME = 1e-9
#: Parts of each straight at least, by the corners of a hose.
FEWEST = {2: 4, 3: 2}


@dataclass(eq=False)
class Lying:
    """One hose as it lies: corners from tip to tip, and whether that is proven clear."""

    routed: Routed
    corners: Points
    clear: bool = False

    @property
    def job(self) -> Job:
        return self.routed.job

    @property
    def whole(self) -> Points:
        """Corners from port to port."""
        return np.vstack([self.job.start.at, self.corners, self.job.end.at])

    def curve(self) -> Curve | None:
        """The hose as it lies, None while bends overlap or reach into the straight ends asked."""
        try:
            curve = bent(self.whole, self.job.radius)
        except ValueError:
            return None
        ends = zip(curve.pieces[[0, -1]], (self.job.start.lead, self.job.end.lead), strict=True)
        straight = all(lead == 0.0 or (p[9] == 0.0 and p[10] > lead - SAME) for p, lead in ends)
        return curve if straight else None

    def tube(self) -> Tube:
        """What the others see of it."""
        curve = self.curve()
        if curve is None:
            return Tube(pieces=_chords(self.whole, self.job.radius), job=self.job)
        return tube(curve, self.job)


def _chords(corners: Points, radius: Metre) -> Points:
    """Straight pieces (n, 11) along a polyline whose bends overlap, every corner cut off."""
    step = np.diff(corners, axis=0)
    size = np.linalg.norm(step, axis=1)
    way = step / np.maximum(size, 1e-12)[:, None]
    angle = np.arccos(np.clip((way[:-1] * way[1:]).sum(axis=1), -1.0, 1.0))
    reach = np.minimum(radius * np.tan(np.minimum(angle, 2.6) / 2), 0.5 * size[:-1])
    reach = np.minimum(reach, 0.5 * size[1:])[:, None]
    first, last = corners[1:-1] - reach * way[:-1], corners[1:-1] + reach * way[1:]
    middle = 0.25 * first + 0.5 * corners[1:-1] + 0.25 * last
    points = np.vstack([corners[0], *np.stack([first, middle, last], axis=1), corners[-1]])
    step = np.diff(points, axis=0)
    size = np.linalg.norm(step, axis=1)
    rows = np.zeros((len(step), 11))
    rows[:, :3], rows[:, 10] = points[:-1], size
    rows[:, 3:6] = step / np.maximum(size, 1e-12)[:, None]
    return rows[size > 1e-9]


def can_move(routed: Routed) -> bool:
    """Whether a hose may be pushed about freely: its way is the shortest and through no hole."""
    job = routed.job
    return not routed.holes and not job.ups and job.way == "shortest"


def inner(routed: Routed) -> Points:
    """Corners from tip to tip of a hose without holes."""
    return routed.corners[1:-1]


def with_corners(corners: Points) -> Points:
    """The polyline with more corners on its long straights, so that it can give way."""
    rows = [corners[0]]
    for before, after in zip(corners[:-1], corners[1:], strict=True):
        parts = 1 + int(np.linalg.norm(after - before) / LONG)
        # settling needs a corner on the axis of either port
        parts = max(parts, FEWEST.get(len(corners), 1))
        rows += [before + n / parts * (after - before) for n in range(1, parts + 1)]
    return np.array(rows)


def others_of(lying: Mapping[int, Lying], key: int) -> list[Tube]:
    """What one hose sees of all others that move."""
    return [other.tube() for name, other in lying.items() if name != key]


def world_among(
    obstacles: Obstacles, job: Job, share: Ratio, stay: Sequence[Tube], others: Sequence[Tube]
) -> World:
    """Obstacles with only a share of the distance asked to the other hoses that move."""
    world = obstacles.world(job, stay)
    rows = tube_rows(job, others)
    if len(rows):
        rows[:, 11] = share * (job.need + rows[:, 11]) - job.need
    return world._replace(tubes=np.ascontiguousarray(np.vstack([world.tubes, rows])))


def task_of(world: World, job: Job) -> Task:
    """What a hose has to keep between its straight ends."""
    leaves, arrives = job.start.way.copy(), -job.end.way
    return Task(world=world, leaves=leaves, arrives=arrives, radius=job.radius, need=job.need)


def judge(
    obstacles: Obstacles,
    lying: Mapping[int, Lying],
    beside: Mapping[int, list[Tube]],
    still: Sequence[Tube],
) -> None:
    """Measure every hose against the others as they lie now."""
    for key, one in lying.items():
        one.clear = _verdict(obstacles, one, [*beside[key], *still, *others_of(lying, key)])


def _verdict(obstacles: Obstacles, one: Lying, tubes: Sequence[Tube]) -> bool:
    curve = one.curve()
    if curve is None:
        return False
    return verdict_of(obstacles, replace(one.routed, curve=curve), tubes).kept


def drop(
    obstacles: Obstacles,
    lying: dict[int, Lying],
    beside: Mapping[int, list[Tube]],
    still: Sequence[Tube],
) -> None:
    """Take out hoses until those left keep clear of one another, the most hindered first."""
    while True:
        judge(obstacles, lying, beside, still)
        wrong = [key for key, one in lying.items() if not one.clear]
        if not wrong:
            return
        alone = [
            key for key in wrong if not _verdict(obstacles, lying[key], [*beside[key], *still])
        ]
        hits = {key: _hits(obstacles, lying, key) for key in alone or wrong}
        del lying[max(hits, key=lambda key: (hits[key], -key))]


def _hits(obstacles: Obstacles, lying: Mapping[int, Lying], key: int) -> int:
    """How many of the others a hose lies too near to."""
    others = (other for name, other in lying.items() if name != key)
    return sum(not _verdict(obstacles, lying[key], [other.tube()]) for other in others)


def shortened(
    obstacles: Obstacles,
    lying: dict[int, Lying],
    beside: Mapping[int, list[Tube]],
    still: Sequence[Tube],
) -> Iterator[tuple[int, Routed]]:
    """Take up what is left of spare, one hose after the other, the others as they lie."""
    for key, one in lying.items():
        tubes = [*beside[key], *still, *others_of(lying, key)]
        task = task_of(obstacles.world(one.job, tubes), one.job)
        curve = bent(one.whole, one.job.radius)
        inner = curve.length - one.job.start.lead - one.job.end.lead
        before = one.corners
        shape = polished(task, reshaped(task, Shape(corners=one.corners, length=inner)))
        one.corners = shape.corners
        if not _verdict(obstacles, one, tubes):
            one.corners = before
        curve = bent(one.whole, one.job.radius)
        yield key, replace(one.routed, curve=curve, corners=one.whole, direct=False, shorter=None)
