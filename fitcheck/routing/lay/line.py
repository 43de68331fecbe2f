"""Route one line from port face to port face: straight ends, holes, and the stretches between."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Said, length, quantity, say
from fitcheck.geometry.curve import Curve, bent, turn_between
from fitcheck.geometry.distance import nearest_to_segment
from fitcheck.model.found.space import PlacedHole
from fitcheck.routing.lay.along import route_along
from fitcheck.routing.search.bound import unobstructed_bound
from fitcheck.routing.search.hose import FAR, Found, route
from fitcheck.routing.search.seeds import Patience, Pose
from fitcheck.routing.world.barred import barred
from fitcheck.routing.world.clear import leg_clear
from fitcheck.routing.world.field import World, exact
from fitcheck.routing.world.obstacles import Obstacles, Tube, stub
from fitcheck.routing.world.ports import End, Job
from fitcheck.routing.world.traps import (
    LONGER,
    ROUNDS,
    HighPoint,
    above_ends,
    above_low,
    high_point,
)
from fitcheck.routing.world.verify import Verdict, nearest_to, verify
from fitcheck.units import Metre

#: Straight length on either side of a hole: minimum, maximum and step [m].
HOLE_LEAST, HOLE_MOST, HOLE_STEP = 0.04, 0.08, 0.0025


@dataclass(frozen=True, eq=False, kw_only=True)
class Routed:
    """A line's whole curve, where it passes holes, and whether it is all direct.

    corners : of the polyline whose rounding the curve is, port to port
    rivals : outcomes for the other holes it might pass
    shorter : the shorter route that was rejected for its high point
    over : by how much each stretch between holes is longer than one rejected for lack of support
    [m]
    """

    job: Job
    curve: Curve
    direct: bool
    holes: tuple[tuple[Metre, Metre], ...]
    corners: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 3)))
    rivals: tuple[Routed | Blocked, ...] = ()
    shorter: Routed | None = None
    over: tuple[Metre, ...] = ()


@dataclass(frozen=True, eq=False, kw_only=True)
class Blocked:
    """Why a line has no route before any search, or that the search found none (stretch set).

    alone : its route without the other hoses, if it has one
    tried : whether such a route was searched for
    """

    job: Job
    place: NDArray[np.float64]
    missing: Metre
    said: Said | None = None
    stretch: tuple[Pose, Pose] | None = None
    alone: Routed | None = None
    tried: bool = True

    @property
    def reason(self) -> str:
        """Why there is no route, in words; empty where the search found none."""
        return self.said.text() if self.said else ""


@dataclass(frozen=True, eq=False, kw_only=True)
class _Gate:
    """A hole passed in one direction: the poses where its straight begins and ends."""

    into: Pose
    out: Pose


def route_line(
    obstacles: Obstacles, job: Job, tubes: Sequence[Tube], most: Metre = FAR
) -> Routed | Blocked:
    """Route one line through the compartment, around its boxes and the given tubes.

    Of several permitted holes, the one with the shortest route wins. most: longer routes are
    rejected, and not searched for if there is only one hole [m].
    """
    if not job.others:
        return _through_holes(obstacles, job, tubes, most)
    first = _through_holes(obstacles, job, tubes)
    rivals = [replace(job, holes=holes, others=()) for holes in job.others]
    found = [first, *(_through_holes(obstacles, rival, tubes) for rival in rivals)]
    ways = [one for one in found if isinstance(one, Routed)]
    best = min(ways, key=lambda one: one.curve.length, default=None)
    if best is None:
        return first
    return replace(best, rivals=tuple(one for one in found if one is not best))


def _through_holes(
    obstacles: Obstacles, job: Job, tubes: Sequence[Tube], most: Metre = FAR
) -> Routed | Blocked:
    """Route one line through the holes of its job."""
    stiff = _too_stiff(obstacles, job)
    if stiff:
        return stiff
    for end in job.ends:
        blocked = _end_blocked(obstacles, job, end, tubes)
        if blocked:
            return blocked
    world = obstacles.world(job, tubes)
    gates: list[tuple[_Gate, _Gate]] = []
    for hole in job.holes:
        pair = _gates(world, job, hole)
        if isinstance(pair, Blocked):
            return pair
        gates.append(pair)

    def lay(within: World, longest: Metre) -> Routed | Blocked:
        return _best_of(obstacles, within, job, gates, tubes, longest)

    return without_trap(world, job, lay, most) if job.ups else lay(world, most)


def _too_stiff(obstacles: Obstacles, job: Job) -> Blocked | None:
    """Whether the hose cannot turn from one port to the other anywhere in the compartment.

    While its direction is within 90 deg of that at a port it never goes back, and it turns by no
    more than its length over the radius; so it advances by radius * sin(turn) along the port's
    axis.
    """
    grid = obstacles.space.grid
    size = grid.pitch * np.array(grid.shape)
    turn = min(turn_between(job.start.way, -job.end.way), 0.5 * math.pi)
    for end in job.ends:
        ahead, room = job.radius * math.sin(turn), float(np.abs(end.way) @ size)
        if ahead > room:
            said = say(
                "no-route.too-stiff",
                radius=quantity(job.radius, "gap"),
                ahead=quantity(ahead, "way"),
                end=end.name,
                room=quantity(room, "way"),
            )
            return Blocked(job=job, said=said, place=end.tip, missing=ahead - room)
    return None


def _best_of(
    obstacles: Obstacles,
    world: World,
    job: Job,
    gates: list[tuple[_Gate, _Gate]],
    tubes: Sequence[Tube],
    most: Metre,
) -> Routed | Blocked:
    """The shortest route through any hole in either direction; smallest bounds are tried first."""
    ways = sorted((_stops(job, senses) for senses in product(*gates)), key=partial(_bound, job))
    best: Routed | None = None
    first: Blocked | None = None
    for stops in ways:
        if best and _bound(job, stops) >= best.curve.length:
            break
        result = _through(obstacles, world, job, stops, tubes, most)
        if isinstance(result, Blocked):
            first = first or result
        elif best is None or result.curve.length < best.curve.length:
            best, most = result, min(most, result.curve.length)
    assert best or first
    return best or first  # type: ignore[return-value]


def _stops(job: Job, gates: tuple[_Gate, ...]) -> list[Pose]:
    """Poses to route between, in pairs: ends and holes in order."""
    stops = [Pose(at=job.start.tip, way=job.start.way)]
    for gate in gates:
        stops += [gate.into, gate.out]
    return [*stops, Pose(at=job.end.tip, way=-job.end.way)]


def _bound(job: Job, stops: list[Pose]) -> Metre:
    """Lower bound on the length of the whole line through these stops."""
    total = job.start.lead + job.end.lead
    for start, end in zip(stops[::2], stops[1::2], strict=True):
        total += unobstructed_bound(start.at, start.way, end.at, end.way, job.radius)
    for into, out in zip(stops[1:-1:2], stops[2::2], strict=True):
        total += float(np.linalg.norm(out.at - into.at))
    return total


def _through(
    obstacles: Obstacles,
    world: World,
    job: Job,
    stops: list[Pose],
    tubes: Sequence[Tube],
    most: Metre,
) -> Routed | Blocked:
    """Route every stretch between stops and join them."""
    parts: list[Found] = []
    spare = most - _bound(job, stops)
    for start, end in zip(stops[::2], stops[1::2], strict=True):
        least = unobstructed_bound(start.at, start.way, end.at, end.way, job.radius)
        found = _laid(obstacles, world, start, end, job, tubes, least + spare)
        if found is None:
            return Blocked(job=job, place=start.at, missing=0.0, stretch=(start, end))
        parts.append(found)
    corners = np.vstack([job.start.at, *(part.corners for part in parts), job.end.at])
    curve = bent(corners, job.radius)
    spans = tuple(
        _span(curve, into, out) for into, out in zip(stops[1:-1:2], stops[2::2], strict=False)
    )
    direct = parts[0].direct and not spans
    over = tuple(part.over for part in parts)
    routed = Routed(job=job, curve=curve, direct=direct, holes=spans, corners=corners, over=over)
    verdict = verdict_of(obstacles, routed, tubes)
    if not verdict.kept:
        worst = min((verdict.solid, verdict.space, verdict.hose), key=lambda n: n.clearance)
        return Blocked(
            job=job,
            said=say("no-route.clearance", met=worst.to),
            place=worst.place,
            missing=max(0.0, job.clearance - worst.clearance),
        )
    return routed


def _laid(
    obstacles: Obstacles,
    world: World,
    start: Pose,
    end: Pose,
    job: Job,
    tubes: Sequence[Tube],
    most: Metre,
) -> Found | None:
    """Route one stretch as the line requires."""
    settled = most < FAR / 2 or any(tube.whole for tube in tubes)
    patience = Patience.LONG if settled else Patience.LONGEST
    if world.label is not obstacles.lattice.label:
        # where cells are barred on purpose, a route that is hard to find is not worth the search
        patience = Patience.BRIEF
    if job.way == "along structure" and obstacles.structure is not None:
        return route_along(world, start, end, job, obstacles.structure, patience, most)
    return route(world, start, end, job.radius, job.need, patience, most)


def without_trap(
    world: World, job: Job, lay: Callable[[World, Metre], Routed | Blocked], most: Metre
) -> Routed | Blocked:
    """Prefer a route without a high point if one is found that is not much longer than the
    shortest.
    """
    shortest = lay(world, most)
    if not isinstance(shortest, Routed) or _trap(shortest).rise == 0.0:
        return shortest
    ends = np.array([place for end in job.ends for place in (end.at, end.tip)])
    given = (job.need, job.hose.bore)
    longest = LONGER * shortest.curve.length
    low = barred(world, above_ends(world, ends, job.ups, *given))
    best = _lower(shortest, shortest, lay(low, longest))
    cells, last = np.zeros(world.label.shape, dtype=bool), shortest
    for _ in range(ROUNDS):
        if _trap(best).rise == 0.0 or _trap(last).rise == 0.0:
            break
        cells |= above_low(world, ends, _trap(last), *given)
        trial = lay(barred(world, cells), longest)
        if isinstance(trial, Blocked):
            break
        best, last = _lower(shortest, best, trial), trial
    return best if best is shortest else replace(best, shorter=shortest)


def _trap(routed: Routed) -> HighPoint:
    return high_point(routed.curve, routed.job.ups, routed.job.hose.bore)


def _lower(shortest: Routed, best: Routed, trial: Routed | Blocked) -> Routed:
    """Return the trial if it is not too long and its high point is lower."""
    if isinstance(trial, Blocked) or trial.curve.length > LONGER * shortest.curve.length:
        return best
    return trial if _trap(trial).rise < _trap(best).rise - 1e-3 else best


def verdict_of(obstacles: Obstacles, routed: Routed, tubes: Sequence[Tube]) -> Verdict:
    """The measured clearances of a routed line."""
    return verify(obstacles, routed.job, routed.curve, tubes, routed.holes)


def _span(curve: Curve, into: Pose, out: Pose) -> tuple[Metre, Metre]:
    """Stretch of the curve between a hole's two poses, as distances along the curve."""
    done = 0.0
    for row in curve.pieces:
        along = (into.at - row[:3]) @ row[3:6]
        off = into.at - row[:3] - along * row[3:6]
        if row[9] == 0.0 and np.linalg.norm(off) < 1e-6 and -1e-6 <= along <= row[10] + 1e-6:
            first = done + float(along)
            return first, first + float(np.linalg.norm(out.at - into.at))
        done += row[10]
    raise ValueError("the curve does not pass the hole")


def _gates(world: World, job: Job, hole: PlacedHole) -> tuple[_Gate, _Gate] | Blocked:
    """Both directions through a hole, with the least straight length that clears its edge."""
    centre, axis = np.array(hole.centre), np.array(hole.direction)
    axis = axis / np.linalg.norm(axis)
    if hole.diameter < job.hose.outside_diameter:
        return Blocked(
            job=job,
            said=say("no-route.hole-too-small", hole=hole.name),
            place=centre,
            missing=job.hose.outside_diameter - hole.diameter,
        )
    reach = []
    for side in (-1.0, 1.0):
        steps = np.arange(HOLE_LEAST, HOLE_MOST + 1e-9, HOLE_STEP)
        near = [exact(world, *(centre + side * out * axis), 2 * job.need) for out in steps]
        clear = [out for out, d in zip(steps, near, strict=True) if d >= job.need + 1e-4]
        if not clear:
            return Blocked(
                job=job,
                said=say("no-route.hole-hidden", within=length(HOLE_MOST), hole=hole.name),
                place=centre + side * HOLE_MOST * axis,
                missing=job.need - max(near),
            )
        reach.append(clear[0])
    low, high = centre - reach[0] * axis, centre + reach[1] * axis
    forth = _Gate(into=Pose(at=low, way=axis), out=Pose(at=high, way=axis))
    back = _Gate(into=Pose(at=high, way=-axis), out=Pose(at=low, way=-axis))
    return forth, back


def _end_blocked(
    obstacles: Obstacles, job: Job, end: End, tubes: Sequence[Tube]
) -> Blocked | None:
    """What obstructs the straight length of an end, None if nothing does."""
    where = say("no-route.straight", straight=quantity(end.straight, "gap"), end=end.name)
    if end.owner == "boat":
        first, last = end.at + 0.5 * end.lead * end.way, end.tip
        if nearest_to_segment(first, last, obstacles.triangles, 1e-6)[1] >= 0:
            said = say("no-route.into-mesh", where=where)
            return Blocked(job=job, said=said, place=last, missing=job.need)
    near = nearest_to(obstacles, job, stub(end, job).pieces[0], end, tubes)
    for found, asked in zip(near, (job.clearance, 0.0, 0.0), strict=True):
        if found.clearance < asked - 1e-7:
            missing = asked - found.clearance
            return Blocked(
                job=job,
                said=say(
                    "no-route.blocked",
                    where=where,
                    met=found.to,
                    missing=quantity(missing, "sliver"),
                ),
                place=found.place,
                missing=missing,
            )
    world = obstacles.world(job, tubes)
    lack = job.need + 5e-5 - exact(world, *end.tip, 2 * job.need)
    if lack > 0 and not leg_clear(world, end.tip, end.tip, job.need):
        return Blocked(
            job=job,
            said=say("no-route.no-room", where=where, lack=quantity(lack, "sliver")),
            place=end.tip,
            missing=lack,
        )
    return None
