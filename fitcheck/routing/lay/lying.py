"""Hoses during relaxation: their corners, whether they are clear, which one obstructs which."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve, bent
from fitcheck.routing.lay.line import Routed, verdict_of
from fitcheck.routing.search.refine import Shape, Task, apart, polished, pushed, reshaped
from fitcheck.routing.world.obstacles import Obstacles, Tube, stubs_beside, tube, tube_rows
from fitcheck.routing.world.ports import Job
from fitcheck.units import Metre, Ratio

Points = NDArray[np.float64]

#: A straight longer than this gets another corner so that it can be pushed aside [m].
LONG = 0.15
#: Rounding tolerance for the clearance of a straight end [m].
SAME = 1e-9
#: Minimum parts of each straight, by the number of corners of a hose.
FEWEST = {2: 4, 3: 2}


@dataclass(eq=False)
class Lying:
    """One hose in its current position: corners from tip to tip, and whether it is
    proven clear.
    """

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
        """The hose as a curve; None while bends overlap or reach into the required
        straight ends.
        """
        try:
            curve = bent(self.whole, self.job.radius)
        except ValueError:
            return None
        ends = zip(curve.pieces[[0, -1]], (self.job.start.lead, self.job.end.lead), strict=True)
        straight = all(lead == 0.0 or (p[9] == 0.0 and p[10] > lead - SAME) for p, lead in ends)
        return curve if straight else None

    def tube(self) -> Tube:
        """The hose as the other hoses see it."""
        curve = self.curve()
        if curve is None:
            return Tube(pieces=_chords(self.whole, self.job.radius), job=self.job)
        return tube(curve, self.job)


def _chords(corners: Points, radius: Metre) -> Points:
    """Straight pieces (n, 11) along a polyline whose bends overlap, with every corner cut off."""
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
    """Whether a hose may be moved freely: its route is the shortest and passes no hole."""
    job = routed.job
    return not routed.holes and not job.ups and job.way == "shortest"


def inner(routed: Routed) -> Points:
    """Corners from tip to tip of a hose without holes."""
    return routed.corners[1:-1]


def with_corners(corners: Points) -> Points:
    """The polyline with extra corners on its long straights, so that it can give way."""
    rows = [corners[0]]
    for before, after in zip(corners[:-1], corners[1:], strict=True):
        parts = 1 + int(np.linalg.norm(after - before) / LONG)
        # settling needs a corner on the axis of each port
        parts = max(parts, FEWEST.get(len(corners), 1))
        rows += [before + n / parts * (after - before) for n in range(1, parts + 1)]
    return np.array(rows)


@dataclass(eq=False, kw_only=True)
class Crowd:
    """Hoses that move, by position in the list of jobs, and the fixed things beside each of them.

    beside : straight ends of all other hoses
    still : hoses that do not move
    """

    obstacles: Obstacles
    beside: Mapping[int, list[Tube]]
    still: list[Tube]
    lying: dict[int, Lying] = field(default_factory=dict)

    @property
    def clear(self) -> bool:
        """Whether all of them were clear when last measured."""
        return all(one.clear for one in self.lying.values())

    def task(self, key: int, job: Job, share: Ratio = 1.0) -> Task:
        """The clearances a hose must keep between its straight ends; to the other moving hoses
        only a share of the distance.
        """
        world = self.obstacles.world(job, self._stay(key))
        rows = tube_rows(job, self._others(key))
        if len(rows):
            rows[:, 11] = share * (job.need + rows[:, 11]) - job.need
        tubes = np.ascontiguousarray(np.vstack([world.tubes, rows]))
        return Task(
            world=world._replace(tubes=tubes),
            leaves=job.start.way.copy(),
            arrives=-job.end.way,
            radius=job.radius,
            need=job.need,
        )

    def push(self, key: int) -> None:
        """Settle one hose among the others and keep its new position."""
        one = self.lying[key]
        shape, one.clear = pushed(self.task(key, one.job), one.corners)
        # restore corners that merged: settling again needs one on each port axis
        few = len(shape.corners) in FEWEST
        one.corners = with_corners(shape.corners) if few else shape.corners

    def judge(self) -> None:
        """Measure every hose against the others' current positions."""
        for key, one in self.lying.items():
            one.clear = self._keeps(one, [*self._stay(key), *self._others(key)])

    def drop(self) -> None:
        """Remove hoses, the most obstructed first, until the rest keep clear of one another."""
        while True:
            self.judge()
            wrong = [key for key, one in self.lying.items() if not one.clear]
            if not wrong:
                return
            alone = [key for key in wrong if not self._keeps(self.lying[key], self._stay(key))]
            hits = {key: self._hits(key) for key in alone or wrong}
            del self.lying[max(hits, key=lambda key: (hits[key], -key))]

    def shortened(self) -> dict[int, Routed]:
        """Remove excess length, one hose after the other, with the others held in place."""
        return {key: self._short(key, one) for key, one in self.lying.items()}

    def _short(self, key: int, one: Lying) -> Routed:
        length = bent(one.whole, one.job.radius).length - one.job.start.lead - one.job.end.lead
        before, task = one.corners, self.task(key, one.job)
        shape = polished(task, reshaped(task, Shape(corners=apart(before), length=length)))
        one.corners = shape.corners
        if not self._keeps(one, [*self._stay(key), *self._others(key)]):
            one.corners = before
        curve = bent(one.whole, one.job.radius)
        return replace(one.routed, curve=curve, corners=one.whole, direct=False, shorter=None)

    def _stay(self, key: int) -> list[Tube]:
        return [*self.beside[key], *self.still]

    def _others(self, key: int) -> list[Tube]:
        return [other.tube() for name, other in self.lying.items() if name != key]

    def _keeps(self, one: Lying, tubes: Sequence[Tube]) -> bool:
        curve = one.curve()
        if curve is None:
            return False
        return verdict_of(self.obstacles, replace(one.routed, curve=curve), tubes).kept

    def _hits(self, key: int) -> int:
        """How many of the others a hose is too close to."""
        return sum(not self._keeps(self.lying[key], [tube]) for tube in self._others(key))


def crowd_of(
    obstacles: Obstacles,
    jobs: Sequence[Job],
    moving: Mapping[int, Routed],
    fixed: Mapping[int, Routed],
) -> Crowd:
    """A crowd with no hose placed yet.

    Parameters: jobs, all of them; moving and fixed, hoses by position in jobs.
    """
    return Crowd(
        obstacles=obstacles,
        beside={key: stubs_beside(jobs[key], jobs) for key in moving},
        still=[tube(routed.curve, routed.job) for routed in fixed.values()],
    )
