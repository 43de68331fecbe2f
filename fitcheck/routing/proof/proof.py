"""Lower bound on the length of any hose between these ports, for a routed line.

Other hoses are ignored, so the bound shows the most that moving them could gain. A line through
declared holes is bounded stretch by stretch: the hose is straight on the axis inside each hole.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve
from fitcheck.kernels import kernel
from fitcheck.model.found.routes import BoundKind
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.proof.certificate import (
    Effort,
    Problem,
    bend_planes,
    certificate,
    contact_planes,
)
from fitcheck.routing.proof.gates import Ends
from fitcheck.routing.proof.potential import Points
from fitcheck.routing.search.bound import ROUNDING, unobstructed_bound
from fitcheck.routing.world.field import World, exact
from fitcheck.routing.world.obstacles import Obstacles
from fitcheck.units import Metre

#: Subtracted from the clearance: rounding the search may leave [m].
SPARE = 1e-5
#: Distances are exact up to the clearance and this much more [m].
BEYOND = 0.06

EFFORT = Effort(cubes=15_000, chains=500, rounds=2, share=0.985, retreats=2, enough=0.004)
#: Spacing of gates in bends: one per bend, and every 45 degrees.
STEPS = (math.pi, math.pi / 4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """A lower bound on the length of any hose of this radius and clearance, and its kind."""

    bound: Metre
    kind: BoundKind


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class _Stretch:
    """The part of a routed line between two straights, and its bends first .. last.

    least : length of the shortest feasible curve known: the stretch itself or one rejected in its
    favour
    """

    ends: Ends
    begins: Metre
    length: Metre
    least: Metre
    first: int
    last: int

    @property
    def free(self) -> Metre:
        """The support bound, obstacles ignored."""
        return _free(self.ends)


def prove_line(obstacles: Obstacles, routed: Routed, level: Effort = EFFORT) -> Proof:
    """The bound of a routed line, port face to port face."""
    length = routed.curve.length
    stretches = _stretches(routed)
    fixed = length - sum(stretch.length for stretch in stretches)
    free = fixed + sum(stretch.free for stretch in stretches)
    other = fixed + _other_senses(routed, stretches)
    if min(free, other) > length - 3 * ROUNDING:
        return Proof(bound=length, kind="direct")
    least = fixed + sum(stretch.least for stretch in stretches)
    if min(free, other) > least * (1 - level.enough):
        return Proof(bound=float(min(free, other)), kind="unobstructed")
    measure = Surroundings(obstacles.world(routed.job, ()), routed.job.need + BEYOND)
    proven = fixed + sum(
        max(stretch.free, _proven(routed, stretch, measure, level)) for stretch in stretches
    )
    bound = min(proven, other, length)
    kind: BoundKind = "certificate" if bound > free + ROUNDING else "unobstructed"
    return Proof(bound=float(bound), kind=kind)


def _proven(routed: Routed, stretch: _Stretch, measure: Surroundings, level: Effort) -> Metre:
    if stretch.free > stretch.least - 3 * ROUNDING:
        return stretch.free
    problem = Problem(
        ends=stretch.ends,
        clearance=routed.job.need - SPARE,
        measure=measure,
        limit=stretch.least,
    )
    held = contact_planes(routed.curve, problem, stretch.begins, stretch.begins + stretch.length)
    bends = [bend_planes(routed.curve, step, stretch.first, stretch.last) for step in STEPS]
    return certificate(problem, [held, *bends], level)


def _free(ends: Ends) -> Metre:
    return unobstructed_bound(
        ends.start, ends.start_direction, ends.end, ends.end_direction, ends.radius
    )


def _stretches(routed: Routed) -> list[_Stretch]:
    """The stretches between the straight lengths at the ports and in the holes."""
    curve, job = routed.curve, routed.job
    marks = [job.start.lead]
    for span in routed.holes:
        marks += span
    marks.append(curve.length - job.end.lead)
    bends = _bend_places(curve)
    found = []
    over = routed.over or (0.0,) * (len(marks) // 2)
    if routed.shorter is not None and len(over) == 1:
        over = (max(over[0], curve.length - routed.shorter.curve.length),)
    for first, last, spare in zip(marks[::2], marks[1::2], over, strict=True):
        rows = np.flatnonzero((bends > first) & (bends < last))
        start, leaves = _pose(curve, first)
        end, arrives = _pose(curve, last)
        ends = Ends(
            start=start,
            start_direction=leaves,
            end=end,
            end_direction=arrives,
            radius=job.radius,
        )
        low, high = (int(rows[0]), int(rows[-1]) + 1) if len(rows) else (0, 0)
        long = last - first
        found.append(
            _Stretch(
                ends=ends, begins=first, length=long, least=long - spare, first=low, last=high
            )
        )
    return found


def _other_senses(routed: Routed, stretches: list[_Stretch]) -> Metre:
    """The least support bound with some hole passed in the other direction; infinite without a
    hole.
    """
    least = math.inf
    for turned in product((False, True), repeat=len(routed.holes)):
        if not any(turned):
            continue
        stops = [(stretches[0].ends.start, stretches[0].ends.start_direction)]
        for before, after, other in zip(stretches[:-1], stretches[1:], turned, strict=True):
            into = (before.ends.end, before.ends.end_direction)
            out = (after.ends.start, after.ends.start_direction)
            stops += [(out[0], -out[1]), (into[0], -into[1])] if other else [into, out]
        stops.append((stretches[-1].ends.end, stretches[-1].ends.end_direction))
        radius = routed.job.radius
        pairs = zip(stops[::2], stops[1::2], strict=True)
        parts = [unobstructed_bound(p, d, q, e, radius) for (p, d), (q, e) in pairs]
        least = min(least, sum(parts))
    return least


def _bend_places(curve: Curve) -> NDArray[np.float64]:
    """Distance along the curve to the middle of every bend."""
    lengths = curve.pieces[:, 10]
    begins = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    return np.asarray((begins + lengths / 2)[curve.pieces[:, 9] > 0])


def _pose(curve: Curve, along: Metre) -> tuple[Points, Points]:
    """Point and direction of travel on a straight piece at a distance along the curve."""
    begins = 0.0
    for row in curve.pieces:
        if row[9] == 0.0 and along <= begins + row[10] + 1e-6:
            return row[:3] + (along - begins) * row[3:6], row[3:6].copy()
        begins += row[10]
    raise ValueError("the place lies beyond the curve")


class Surroundings:
    """Exact distance of points from everything a hose must clear, up to a cutoff."""

    def __init__(self, world: World, cutoff: Metre) -> None:
        self._world, self._cutoff = world, cutoff

    def __call__(self, points: Points) -> NDArray[np.float64]:
        """(n, 3) points [m] -> (n,) distances, at most the cutoff [m]."""
        out = np.zeros(len(points))
        _distances(self._world, np.ascontiguousarray(points), self._cutoff, out)
        return out


@kernel
def _distances(world, points, cutoff, out):  # type: ignore[no-untyped-def]
    """Distance of points (n, 3) to every obstacle, at most `cutoff`, into out (n,), all [m]."""
    for row in range(points.shape[0]):
        out[row] = exact(world, points[row, 0], points[row, 1], points[row, 2], cutoff)
