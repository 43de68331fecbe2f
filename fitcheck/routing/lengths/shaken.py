"""Check whether a hose still has a short enough route when its modules are displaced.

Hoses fixed to a moved module move with it and are left out. The others stay as routed; where they
alone are in the way they are re-routed around the moved hose, each within its own length.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import bent, measure
from fitcheck.geometry.distance import index_triangles
from fitcheck.kernels import kernel
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.places import corners_between, free_stretches, place_at
from fitcheck.routing.search.bound import unobstructed_bound
from fitcheck.routing.search.direct import bowed, direct_corners, direct_kernel
from fitcheck.routing.search.refine import Shape, Task, settled
from fitcheck.routing.world.clear import curve_clear, leg_clear
from fitcheck.routing.world.close import NO_CLOSE
from fitcheck.routing.world.field import NO_DARK, World
from fitcheck.routing.world.obstacles import Obstacles, Tube, stub, tube, tube_rows
from fitcheck.routing.world.ports import End, Job
from fitcheck.units import Metre

Points = NDArray[np.float64]

#: Initial guesses for the middle direction of a direct curve.
TRIALS = 5
#: Rounding tolerance for the clearance of a straight end [m].
SPARE = 1e-4
#: Extra clearance given to longer routes, each derived from the previous one [m].
EASED = (0.005, 0.012, 0.025)
#: Iterations that fit the corners at both ports to their bends.
FITTINGS = 12
#: Corners added to a straight hose so that it can be pushed aside.
BOWS = (4, 5)
#: Edge of the single cell used to measure boxes and hoses without a grid [m].
ENDLESS = 1e6

_NOTHING = index_triangles(np.zeros((0, 3, 3)), 1.0)
#: The cell of that one-cell world, read-only as in a space so that no kernel is compiled twice.
_FREE, _FAR = np.zeros((1, 1, 1), dtype=np.uint8), np.full((1, 1, 1), 1e3, dtype=np.float32)
_FREE.setflags(write=False)
_FAR.setflags(write=False)


class Grounds:
    """The compartment without its boxes, and the boxes separately, so that they can be moved."""

    def __init__(self, obstacles: Obstacles) -> None:
        self.obstacles = obstacles
        self._bare: World | None = None

    def bare(self, job: Job) -> World:
        """Mesh, unseen cells and the edge of the scan only; the same for every hose."""
        if self._bare is None:
            world = self.obstacles.world(job, ())
            self._bare = world._replace(
                boxes=np.zeros((0, 15)),
                extra=np.zeros((0, 16)),
                still=np.full_like(world.still, -1.0),
                node=np.full_like(world.node, -1.0),
                close=NO_CLOSE,
            )
        return self._bare


@dataclass(frozen=True, eq=False, kw_only=True)
class _Moved:
    """The scene once the modules have moved.

    shifts : of each module [m]
    bare, near : mesh and unseen cells; boxes, spaces and hoses
    """

    job: Job
    shifts: dict[str, Points]
    bare: World
    near: World

    def shift(self, end: End, there: bool) -> Points:
        """How far an end has moved, if it is the end of this stretch."""
        return self.shifts.get(end.owner, np.zeros(3)) if there else np.zeros(3)

    def whole(self) -> World:
        """Everything in one world, for the refinement."""
        return self.bare._replace(
            boxes=self.near.boxes,
            extra=self.near.extra,
            tubes=self.near.tubes,
            still=np.full_like(self.bare.still, -1.0),
            node=np.full_like(self.bare.node, -1.0),
            room=np.full_like(self.bare.room, -1.0),
        )


@dataclass(frozen=True, eq=False, kw_only=True)
class Laid:
    """A hose as routed, and the longest route it can cover from port face to port face [m]."""

    routed: Routed
    length: Metre

    @property
    def tube(self) -> Tube:
        """The hose as other hoses see it."""
        return tube(self.routed.curve, self.routed.job)


class Shaken:
    """One hose whose ends move with their modules.

    beside : other hoses in their current positions, whichever module moves
    makes_room : whether another hose ever had to be re-routed
    """

    def __init__(
        self,
        grounds: Grounds,
        one: Laid,
        others: Sequence[Laid],
        beside: Sequence[Tube] = (),
    ) -> None:
        self.grounds, self.others = grounds, others
        self.routed, self.length = one.routed, one.length
        routed = one.routed
        self.beside = beside
        self.makes_room = False
        self.obstacles = grounds.obstacles
        self.spaces = np.array(self.obstacles.world(routed.job, ()).extra)
        self.owners = [
            self.obstacles.space_owners[row] for row in self.obstacles.kept_spaces(routed.job)
        ]
        self.stretches = free_stretches(routed)
        self._tubes: dict[frozenset[str], Points] = {}

    @cached_property
    def _seeds(self) -> list[list[Points]]:
        curve = self.routed.curve
        return [[corners_between(curve, *span), *self._eased(span)] for span in self.stretches]

    def _eased(self, span: tuple[Metre, Metre]) -> list[Points]:
        """Inner corners of longer routes over a stretch that keep more than the clearance.

        Dragged along, they need no refinement each time a module moves.
        """
        curve, job = self.routed.curve, self.routed.job
        (start, leaves), (end, arrives) = (place_at(curve, along) for along in span)
        inner = corners_between(curve, *span)
        if self.routed.direct or len(inner) < 2:
            return []
        limit = span[1] - span[0] + self.length - curve.length
        tubes = [*(one.tube for one in self.others), *self.beside]
        world, found = self.obstacles.world(job, tubes), []
        seed = np.vstack([start, inner, end])
        for more in EASED:
            task = Task(
                world=world,
                leaves=leaves,
                arrives=arrives,
                radius=curve.radius,
                need=job.need + more,
            )
            shape = settled(task, seed, False, limit)
            if shape is None or shape.length > limit:
                break
            found.append(shape.corners[1:-1])
            seed = shape.corners
        return found[::-1]

    def _untied(self, moved: Iterable[str]) -> list[Laid]:
        """The other hoses that are not fixed to a moved module."""
        names = set(moved)
        return [o for o in self.others if names.isdisjoint(e.owner for e in o.routed.job.ends)]

    def _rows(self, job: Job, moved: frozenset[str]) -> Points:
        """Rows of everything that may obstruct this hose once the modules have moved."""
        if moved not in self._tubes:
            still = [one.tube for one in self._untied(moved)]
            self._tubes[moved] = tube_rows(job, [*still, *self.beside])
        return self._tubes[moved]

    def holds(self, step: Metre, ways: dict[str, Points]) -> bool:
        """Whether a short enough route is found with modules moved by `step` along their
        directions.
        """
        shifts = {name: step * way for name, way in ways.items()}
        moved = self._moved(shifts)
        if self.lies(moved) is not None:
            return True
        return len(moved.near.tubes) > 0 and self._room_made(shifts, moved)

    def lies(self, moved: _Moved) -> list[Points] | None:
        """Corners of a short enough route, stretch by stretch; None if none was found."""
        if not all(self._straight_clear(moved, end) for end in moved.job.ends):
            return None
        spare = self.length - self.routed.curve.length
        ways = []
        for number, (low, high) in enumerate(self.stretches):
            shape = self._found(moved, number, high - low + spare)
            if shape is None:
                return None
            spare -= shape.length - (high - low)
            ways.append(shape.corners)
        return ways

    def _room_made(self, shifts: dict[str, Points], moved: _Moved) -> bool:
        """Whether the hose has a route that all its neighbours can make room for."""
        self.makes_room = True
        beside = tube_rows(moved.job, self.beside)
        ways = self.lies(replace(moved, near=moved.near._replace(tubes=beside)))
        if ways is None:
            return False
        laid = _tubes(moved.job, ways, self.routed.curve.radius)
        waiting = self._untied(shifts)
        asked = [one for one in waiting if not self._passes(moved, ways, one)]
        waiting = [one for one in waiting if one not in asked]
        for one in asked:
            still = [other.tube for other in waiting]
            shaken = Shaken(self.grounds, one, (), [*still, *laid, *self.beside])
            at = shaken._moved(shifts)
            found = shaken.lies(at)
            if found is None:
                return False
            laid += _tubes(at.job, found, one.routed.curve.radius)
        return True

    def _passes(self, moved: _Moved, ways: Sequence[Points], other: Laid) -> bool:
        """Whether the hose keeps its distance from another hose in its current position."""
        near = moved.near._replace(
            boxes=moved.near.boxes[:0],
            extra=moved.near.extra[:0],
            tubes=tube_rows(moved.job, [other.tube]),
        )
        radius, need = self.routed.curve.radius, moved.job.need
        return all(
            leg_clear(near, end.at, end.at + end.straight * end.way, need - SPARE)
            for end in moved.job.ends
        ) and all(kept(near, near, way, radius, need, math.inf) >= 0.0 for way in ways)

    def _moved(self, shifts: dict[str, Points]) -> _Moved:
        job = self.routed.job
        start, end = (
            _carried(one, shifts[one.owner]) if one.owner in shifts else one for one in job.ends
        )
        job = replace(job, start=start, end=end)
        bare = self.grounds.bare(job)
        return _Moved(job=job, shifts=shifts, bare=bare, near=self._near(bare, job, shifts))

    def _near(self, bare: World, job: Job, shifts: dict[str, Points]) -> World:
        """Boxes, withdrawal spaces and other hoses after the move, in a one-cell world."""
        boxes, spaces = self.obstacles.boxes.copy(), self.spaces.copy()
        for name, shift in shifts.items():
            if (row := self.obstacles.module_row(name)) >= 0:
                boxes[row, :3] += shift
        for row, owner in enumerate(self.owners):
            spaces[row, :3] += shifts.get(owner, 0.0)
        cell = np.full((1, 1, 1), -1.0, dtype=np.float32)
        return bare._replace(
            triangles=_NOTHING,
            label=_FREE,
            dark=NO_DARK,
            reach=_FAR,
            origin=np.full(3, -ENDLESS / 2),
            pitch=np.array([ENDLESS]),
            boxes=boxes,
            extra=spaces,
            tubes=self._rows(job, frozenset(shifts)),
            still=cell,
            node=cell.copy(),
            room=cell.copy(),
            spot=np.full((1, 1, 1), 8, dtype=np.uint8),
        )

    def _straight_clear(self, moved: _Moved, end: End) -> bool:
        """Whether a straight end keeps clear of everything but the module it is fixed to."""
        job, near, own = moved.job, moved.near, self.obstacles.own_box(end)
        tip = end.at + end.straight * end.way
        rest = near.boxes if own < 0 else np.delete(near.boxes, own, axis=0)
        around = near._replace(
            boxes=rest, extra=near.extra[:0], node=np.full_like(near.node, -1.0)
        )
        air = near._replace(
            boxes=near.boxes[:0], tubes=near.tubes[:0], node=np.full_like(near.node, -1.0)
        )
        clear = leg_clear(around, end.at, tip, job.need - SPARE)
        clear = clear and leg_clear(air, end.at, tip, job.need - SPARE)
        if end.owner != "boat":
            clear = clear and leg_clear(moved.bare, end.at, tip, job.need - SPARE)
        return bool(clear)

    def _found(self, moved: _Moved, number: int, limit: Metre) -> Shape | None:
        """A route over one stretch, None if none within the limit was found."""
        curve, need = self.routed.curve, moved.job.need
        low, high = self.stretches[number]
        begin = moved.shift(moved.job.start, number == 0)
        finish = moved.shift(moved.job.end, number == len(self.stretches) - 1)
        (start, leaves), (end, arrives) = place_at(curve, low), place_at(curve, high)
        start, end = start + begin, end + finish
        direct = _direct(start, leaves, end, arrives, curve.radius)
        seeds = [direct]
        for inner in self._seeds[number]:
            seeds += [_dragged(start, inner, end, (begin, finish), drag=d) for d in (True, False)]
        for at, seed in enumerate(seeds):
            if seed is not None:
                fitted = refit(seed.copy(), curve.radius) if at else seed
                length = kept(moved.bare, moved.near, fitted, curve.radius, need, limit)
                if length >= 0.0:
                    return Shape(corners=fitted, length=float(length))
        if unobstructed_bound(start, leaves, end, arrives, curve.radius) > limit:
            return None
        ways = {"leaves": leaves, "arrives": arrives}
        task = Task(world=moved.whole(), radius=curve.radius, need=need, **ways)
        dragged, stayed = seeds[1:3]
        if dragged is None or stayed is None or len(dragged) < 4:
            tries = [(bowed(direct, n), True) for n in BOWS] if direct is not None else []
        else:
            # a single seed may end in a dead end that no extra length resolves
            tries = [(dragged, False), (stayed, True), (dragged, True)]
        for seed, far in tries:
            shape = settled(task, seed, far, limit)
            if shape and shape.length <= limit:
                return shape
        return None


def _carried(end: End, shift: Points) -> End:
    """An end moved with its module."""
    body = end.body.copy()
    body[:, :3] += shift
    return replace(end, at=end.at + shift, body=body)


def _tubes(job: Job, ways: Iterable[Points], radius: Metre) -> list[Tube]:
    """A re-routed hose, with its straight ends and fittings, as other hoses see it."""
    stretches = [Tube(pieces=bent(way, radius).pieces, job=job) for way in ways]
    return stretches + [stub(end, job) for end in job.ends]


def _direct(
    start: Points, leaves: Points, end: Points, arrives: Points, radius: Metre
) -> Points | None:
    """Corners of the direct curve, None if there is none."""
    found, corners = np.empty(6), np.empty((8, 3))
    if direct_kernel(end - start, leaves, arrives, radius, TRIALS, found) < 0.0:
        return None
    count = direct_corners(start, leaves, end, arrives, radius, found, corners)
    return corners[:count]


def _dragged(
    start: Points, inner: Points, end: Points, shifts: tuple[Points, Points], *, drag: bool
) -> Points | None:
    """The previous corners, with those on the port axes moved along with the ports.

    drag: move the corners between as well, in proportion; else they stay.
    """
    if len(inner) < 2:
        stiff = np.allclose(shifts[0], shifts[1])
        return np.vstack([start, inner + shifts[0], end]) if stiff else None
    share = np.linspace(0.0, 1.0, len(inner))[:, None]
    moved = (1 - share) * shifts[0] + share * shifts[1]
    if not drag:
        moved[1:-1] = 0.0
    return np.vstack([start, inner + moved, end])


@kernel
def refit(corners, radius):  # type: ignore[no-untyped-def]
    """Move the first and last corners out along the port axes as far as their bends need.

    corners (n, 3) [m], changed in place and returned; radius [m].
    """
    last = corners.shape[0] - 1
    if last < 3:
        return corners
    for _ in range(FITTINGS):
        for port, corner, after in ((0, 1, 2), (last, last - 1, last - 2)):
            out = corners[corner] - corners[port]
            on = corners[after] - corners[corner]
            size = math.sqrt((out * out).sum())
            cosine = (out * on).sum() / (size * math.sqrt((on * on).sum()) + 1e-15)
            need = radius * math.sqrt(max(0.0, 1.0 - cosine) / max(1e-9, 1.0 + cosine)) + 1e-9
            if need > size > 0.0:
                corners[corner] = corners[port] + out * (need / size)
    return corners


@kernel
def kept(bare, near, corners, radius, need, limit):  # type: ignore[no-untyped-def]
    """Length of a rounded polyline that is valid, clear and within the limit, else -1 [m]."""
    count = corners.shape[0]
    turns = np.zeros(count)
    length, misfit = measure(corners, count, radius, 0.0, turns)
    if misfit > 1e-11 or length > limit:
        return -1.0
    if not curve_clear(near, corners, turns, np.int64(0), count - 1, radius, need):
        return -1.0
    if not curve_clear(bare, corners, turns, np.int64(0), count - 1, radius, need):
        return -1.0
    return length
