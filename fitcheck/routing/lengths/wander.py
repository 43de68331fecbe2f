"""How far the modules at a hose's ends may stand from their places before it gets too short.

The modules are moved along their axes and to the corners of a cube, one at a time, both apart and
both together, in growing steps; each time a way no longer than the ordered length must be found
that keeps radius and clearance. Directions and steps are samples: between them nothing is proven.
Other hoses lie as routed, save those fixed to a moved module, which go along and are left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numba import njit
from numpy.typing import NDArray

from fitcheck.geometry.curve import measure
from fitcheck.geometry.distance import index_triangles
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.given.cutting import is_assembly, tube_length
from fitcheck.model.given.kit import Allowances
from fitcheck.model.given.scenario import Scenario
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.places import corners_between, free_stretches, place_at
from fitcheck.routing.lay.recall import Reach, Recall, rows_of
from fitcheck.routing.lay.sets import Outcome
from fitcheck.routing.search.bound import unobstructed_bound
from fitcheck.routing.search.direct import direct_corners, direct_kernel
from fitcheck.routing.search.refine import Task, settled
from fitcheck.routing.world.clear import curve_clear, leg_clear
from fitcheck.routing.world.close import NO_CLOSE
from fitcheck.routing.world.field import NO_DARK, World
from fitcheck.routing.world.obstacles import Obstacles, Tube, tube, tube_rows
from fitcheck.routing.world.ports import End, Job
from fitcheck.units import Metre, show

Points = NDArray[np.float64]

#: How exactly a module is taken to be mounted; steps of the displacements, and the largest [m].
USUAL, STEP, MOST = 0.020, 0.005, 0.060
#: What lengths are tried longer by until they last [m].
SPARE_STEP = 0.010
#: First guesses of a direct curve's middle direction.
TRIALS = 5
#: What a straight end may lack of its clearance: rounding [m].
SPARE = 1e-4
#: Room beyond the clearance that longer ways are given, each from the one before [m].
EASED = (0.005, 0.012, 0.025)
#: Times the corners at both ports are fitted to their bends.
FITTINGS = 12
#: Edge of the one cell in which boxes and hoses are looked at without a grid [m].
ENDLESS = 1e6
COMMON = "common practice, no source"

_AXES = [sign * row for row in np.eye(3) for sign in (1.0, -1.0)]
_NOTHING = index_triangles(np.zeros((0, 3, 3)), 1.0)
_CORNERS = [np.array(corner) for corner in product((1.0, -1.0), repeat=3)]


def with_wander(
    scenario: Scenario,
    obstacles: Obstacles,
    outcomes: Sequence[Outcome],
    hoses: Sequence[HoseRoute | Unrouted],
    recall: Recall,
) -> tuple[HoseRoute | Unrouted, ...]:
    """The hoses with how far the modules at their ends may wander, in the order of the jobs."""
    grounds = Grounds(obstacles)
    laid = [outcome for outcome in outcomes if isinstance(outcome, Routed)]
    told = list(hoses)
    for number, (outcome, hose) in enumerate(zip(outcomes, hoses, strict=True)):
        if isinstance(outcome, Routed) and isinstance(hose, HoseRoute):
            others = [tube(other.curve, other.job) for other in laid if other is not outcome]
            length = reach_of(hose, outcome.job, scenario.kit.allowances)
            asked = scenario.kit.allowances.mounting
            wander, spare = _recalled(recall, grounds, outcome, length, others, asked)
            told[number] = replace(hose, wander=wander, mounting_spare=spare)
    return tuple(told)


def _recalled(
    recall: Recall,
    grounds: Grounds,
    routed: Routed,
    length: Metre,
    others: Sequence[Tube],
    asked: Metre,
) -> tuple[Metre | None, Metre]:
    """`lasting_wander`, as before where nothing within the moved hose's reach has changed."""
    job = routed.job
    # both ends may be moved by the corner of a cube, and hoses go along with their modules
    most = max(MOST, asked)
    whole = length + 4 * math.sqrt(3.0) * most
    reach = Reach(length=whole, room=job.need + math.sqrt(3.0) * most)
    return recall.ask(
        "wander",
        job,
        rows_of(grounds.obstacles, job, others),
        lambda: lasting_wander(grounds, routed, length, others, asked),
        lambda _: reach,
        given=(routed, length, asked),
    )


def lasting_wander(
    grounds: Grounds, routed: Routed, length: Metre, others: Sequence[Tube], asked: Metre
) -> tuple[Metre | None, Metre]:
    """The wander, of tube with what makes it last; and the reach that has to be added for that.

    Whole steps of SPARE_STEP are tried, up to twice what the displaced ends are farther apart. An
    assembly is made longer by whoever lays it, so its wander is that of the length given.
    """
    found = wander_of(grounds, routed, length, others, asked)
    if found is None or found >= asked - 1e-9:
        return found, 0.0

    moved = _owners(routed)

    def lasts(steps: int) -> bool:
        shaken = _Shaken(grounds, routed, length + steps * SPARE_STEP, others)
        return all(shaken.holds(asked, shifts) for shifts in _displacements(moved))

    low, high = 0, math.ceil(4 * math.sqrt(3.0) * asked / SPARE_STEP)
    if not lasts(high):
        return found, math.inf
    while high - low > 1:
        middle = (low + high) // 2
        if lasts(middle):
            high = middle
        else:
            low = middle
    if is_assembly(routed.job.line, routed.job.hose):
        return found, high * SPARE_STEP
    best = wander_of(grounds, routed, length + high * SPARE_STEP, others, asked)
    return best, high * SPARE_STEP


def _owners(routed: Routed) -> list[str]:
    """The modules at the ends of a hose."""
    return list(dict.fromkeys(end.owner for end in routed.job.ends if end.owner != "boat"))


def reach_of(hose: HoseRoute, job: Job, allowances: Allowances) -> Metre:
    """How long a way the hose as ordered can go, port face to port face.

    A tube loses its end allowances; a high-pressure hose keeps what it may shorten by.
    """
    if hose.assembly is None:
        return tube_length(hose.length, allowances) - 2 * allowances.end_allowance
    high = job.line.duty == "high pressure"
    return hose.assembly.length * (1.0 - (allowances.high_pressure_slack if high else 0.0))


def wander_of(
    grounds: Grounds,
    routed: Routed,
    length: Metre,
    others: Sequence[Tube],
    asked: Metre = USUAL,
) -> Metre | None:
    """The largest step up to which every displacement tried leaves a way of `length` at most.

    None where no end is on a module. asked : is one of the steps [m]
    """
    moved = _owners(routed)
    if not moved:
        return None
    found = 0.0
    shaken = _Shaken(grounds, routed, length, others)
    steps = {round(float(step), 9) for step in np.arange(STEP, MOST + STEP / 2, STEP)}
    for step in sorted(steps | ({asked} if asked > 0.0 else set())):
        if not all(shaken.holds(step, shifts) for shifts in _displacements(moved)):
            break
        found = float(step)
    return found


def _displacements(moved: Sequence[str]) -> Iterator[dict[str, Points]]:
    """Which module goes which way, in half edges of the cube."""
    if len(moved) == 2:
        yield from ({moved[0]: way, moved[1]: -way} for way in _CORNERS)
        yield from ({moved[0]: way, moved[1]: way} for way in _CORNERS)
    for name in moved:
        yield from ({name: way} for way in [*_CORNERS, *_AXES])


class Grounds:
    """The compartment without its boxes, and the boxes apart, so that these can be moved."""

    def __init__(self, obstacles: Obstacles) -> None:
        self.obstacles = obstacles
        self._bare: World | None = None

    def bare(self, job: Job) -> World:
        """Mesh, unseen cells and the edge of the scan alone; the same for every hose."""
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
    """Everything as it stands once the modules have moved.

    shifts : of each module [m]; bare, near : mesh and unseen cells; boxes, spaces and hoses
    """

    job: Job
    shifts: dict[str, Points]
    bare: World
    near: World

    def shift(self, end: End, there: bool) -> Points:
        """How far an end has moved, if it is the end of this stretch."""
        return self.shifts.get(end.owner, np.zeros(3)) if there else np.zeros(3)

    def whole(self) -> World:
        """All of it together, for the refinement."""
        return self.bare._replace(
            boxes=self.near.boxes,
            extra=self.near.extra,
            tubes=self.near.tubes,
            still=np.full_like(self.bare.still, -1.0),
            node=np.full_like(self.bare.node, -1.0),
            room=np.full_like(self.bare.room, -1.0),
        )


class _Shaken:
    """One hose, its ends moved with their modules."""

    def __init__(
        self, grounds: Grounds, routed: Routed, length: Metre, others: Sequence[Tube]
    ) -> None:
        self.grounds, self.routed, self.length, self.others = grounds, routed, length, others
        self.obstacles = grounds.obstacles
        self.spaces = np.array(self.obstacles.world(routed.job, ()).extra)
        self.owners = [
            self.obstacles.space_owners[row] for row in self.obstacles.kept_spaces(routed.job)
        ]
        self.stretches = free_stretches(routed)
        self._seeds = [
            [corners_between(routed.curve, *span), *self._eased(span)] for span in self.stretches
        ]
        self._tubes: dict[frozenset[str], Points] = {}

    def _eased(self, span: tuple[Metre, Metre]) -> list[Points]:
        """Inner corners of longer ways over a stretch that keep more than the clearance.

        Dragged along they need no refinement as soon as a module moves.
        """
        curve, job = self.routed.curve, self.routed.job
        (start, leaves), (end, arrives) = (place_at(curve, along) for along in span)
        inner = corners_between(curve, *span)
        if self.routed.direct or len(inner) < 2:
            return []
        limit = span[1] - span[0] + self.length - curve.length
        world, found = self.obstacles.world(job, self.others), []
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

    def _tied(self, job: Job, moved: frozenset[str]) -> Points:
        """Rows of the other hoses, less those that go along with a moved module."""
        if moved not in self._tubes:
            still = [o for o in self.others if not any(e.owner in moved for e in o.job.ends)]
            self._tubes[moved] = tube_rows(job, still)
        return self._tubes[moved]

    def holds(self, step: Metre, ways: dict[str, Points]) -> bool:
        """Whether a way short enough is found with modules moved by `step` along their ways."""
        moved = self._moved({name: step * way for name, way in ways.items()})
        if not all(self._straight_clear(moved, end) for end in moved.job.ends):
            return False
        spare = self.length - self.routed.curve.length
        for number, (low, high) in enumerate(self.stretches):
            found = self._found(moved, number, high - low + spare)
            if found is None:
                return False
            spare -= found - (high - low)
        return True

    def _moved(self, shifts: dict[str, Points]) -> _Moved:
        job = self.routed.job
        start, end = (
            replace(one, at=one.at + shifts[one.owner]) if one.owner in shifts else one
            for one in job.ends
        )
        job = replace(job, start=start, end=end)
        bare = self.grounds.bare(job)
        return _Moved(job=job, shifts=shifts, bare=bare, near=self._near(bare, job, shifts))

    def _near(self, bare: World, job: Job, shifts: dict[str, Points]) -> World:
        """Boxes, withdrawal spaces and other hoses as they stand then, in one endless cell."""
        boxes, spaces = self.obstacles.boxes.copy(), self.spaces.copy()
        for name, shift in shifts.items():
            if (row := self.obstacles.module_row(name)) >= 0:
                boxes[row, :3] += shift
        for row, owner in enumerate(self.owners):
            spaces[row, :3] += shifts.get(owner, 0.0)
        cell = np.full((1, 1, 1), -1.0, dtype=np.float32)
        return bare._replace(
            triangles=_NOTHING,
            label=np.zeros((1, 1, 1), dtype=np.uint8),
            dark=NO_DARK,
            reach=np.full((1, 1, 1), 1e3, dtype=np.float32),
            origin=np.full(3, -ENDLESS / 2),
            pitch=np.array([ENDLESS]),
            boxes=boxes,
            extra=spaces,
            tubes=self._tied(job, frozenset(shifts)),
            still=cell,
            node=cell.copy(),
            room=cell.copy(),
            spot=np.full((1, 1, 1), 8, dtype=np.uint8),
        )

    def _straight_clear(self, moved: _Moved, end: End) -> bool:
        """Whether a straight end keeps clear of all but what it is fixed to."""
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

    def _found(self, moved: _Moved, number: int, limit: Metre) -> Metre | None:
        """Length of a way over one stretch, None if none within the limit was found."""
        curve, need = self.routed.curve, moved.job.need
        low, high = self.stretches[number]
        begin = moved.shift(moved.job.start, number == 0)
        finish = moved.shift(moved.job.end, number == len(self.stretches) - 1)
        (start, leaves), (end, arrives) = place_at(curve, low), place_at(curve, high)
        start, end = start + begin, end + finish
        seeds = [_direct(start, leaves, end, arrives, curve.radius)]
        for inner in self._seeds[number]:
            seeds += [_dragged(start, inner, end, (begin, finish), drag=d) for d in (True, False)]
        for at, seed in enumerate(seeds):
            if seed is not None:
                fitted = refit(seed.copy(), curve.radius) if at else seed
                length = kept(moved.bare, moved.near, fitted, curve.radius, need, limit)
                if length >= 0.0:
                    return float(length)
        if seeds[1] is None or len(seeds[1]) < 4:
            return None
        if unobstructed_bound(start, leaves, end, arrives, curve.radius) > limit:
            return None
        ways = {"leaves": leaves, "arrives": arrives}
        task = Task(world=moved.whole(), radius=curve.radius, need=need, **ways)
        # from one seed alone the search may end in a dead end that no length leads out of
        for seed, far in ((seeds[1], False), (seeds[2], True), (seeds[1], True)):
            shape = settled(task, seed, far, limit) if seed is not None else None
            if shape and shape.length <= limit:
                return shape.length
        return None


def _direct(
    start: Points, leaves: Points, end: Points, arrives: Points, radius: Metre
) -> Points | None:
    """Corners of the direct curve, None where there is none."""
    found, corners = np.empty(6), np.empty((8, 3))
    if direct_kernel(end - start, leaves, arrives, radius, TRIALS, found) < 0.0:
        return None
    count = direct_corners(start, leaves, end, arrives, radius, found, corners)
    return corners[:count]


def _dragged(
    start: Points, inner: Points, end: Points, shifts: tuple[Points, Points], *, drag: bool
) -> Points | None:
    """The corners as they were, those on the ports' axes moved along with them.

    drag: those between are moved too, in proportion; else they stay.
    """
    if len(inner) < 2:
        stiff = np.allclose(shifts[0], shifts[1])
        return np.vstack([start, inner + shifts[0], end]) if stiff else None
    share = np.linspace(0.0, 1.0, len(inner))[:, None]
    moved = (1 - share) * shifts[0] + share * shifts[1]
    if not drag:
        moved[1:-1] = 0.0
    return np.vstack([start, inner + moved, end])


@njit(cache=True)
def refit(corners, radius):  # type: ignore[no-untyped-def]
    """Move the first and the last corner out along the ports' axes as far as their bends need."""
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


@njit(cache=True)
def kept(bare, near, corners, radius, need, limit):  # type: ignore[no-untyped-def]
    """Length of a rounded polyline that fits, is clear and within the limit, else -1 [m]."""
    count = corners.shape[0]
    turns = np.zeros(count)
    length, misfit = measure(corners, count, radius, 0.0, turns)
    if misfit > 1e-11 or length > limit:
        return -1.0
    if not curve_clear(near, corners, turns, 0, count - 1, radius, need):
        return -1.0
    if not curve_clear(bare, corners, turns, 0, count - 1, radius, need):
        return -1.0
    return length


# --- in words ---------------------------------------------------------------------------------


def wander_findings(hoses: Iterable[HoseRoute | Unrouted], asked: Metre = USUAL) -> list[Finding]:
    """How exactly the modules must stand for the ordered lengths to reach, in one finding.

    asked : how far they may stand off [m]; a length that does not hold then bars the order
    """
    known = [hose for hose in hoses if isinstance(hose, HoseRoute) and hose.wander is not None]
    if not known:
        return []
    tightest = min(known, key=lambda hose: (hose.wander, hose.line))
    least = tightest.wander or 0.0
    usual = show(asked, "length")
    short = sorted(
        (hose for hose in known if (hose.wander or 0.0) < asked - 1e-9),
        key=lambda hose: (hose.wander or 0.0, hose.line),
    )
    text = f"Mount the modules within +-{usual} of their places: every ordered length holds."
    remedy = None
    if short:
        named = ", ".join(_play(hose) for hose in short)
        text = (
            f"With the modules within +-{usual} of their places not every ordered length holds. "
            f"These ask for more: {named}."
        )
        longer = ", ".join(_longer(hose) for hose in short)
        remedy = Remedy(
            text=f"Measure these once the modules stand, or route them another way: {longer}. "
            f"Or mount the modules within +-{show(least, 'length')} of their places and write "
            "that as kit.allowances.mounting."
        )
    return [
        Finding(
            severity="caution" if short else "note",
            rule="mounting",
            subject=tightest.line,
            text=text,
            source="ways sought with the modules moved along and across their axes, in steps of "
            f"{show(STEP, 'length')}; {usual}: kit.allowances.mounting",
            value=least,
            limit=asked,
            unit="m",
            remedy=remedy,
            bars=("order_hoses",) if short else (),
        )
    ]


def _play(hose: HoseRoute) -> str:
    return f"{hose.line} " + (
        f"+-{show(hose.wander, 'length')}" if hose.wander else "no play at all"
    )


def _longer(hose: HoseRoute) -> str:
    if math.isinf(hose.mounting_spare):
        return f"{hose.line}: no length was found that would hold"
    whole = hose.length if hose.assembly is None else hose.assembly.length
    spare = show(hose.mounting_spare, "length")
    return f"{hose.line}: {spare} more than {show(whole, 'run')} would hold"
