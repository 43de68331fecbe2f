"""Why no route was found for a hose, with the place and the shortfall there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Quantity, Said, quantity, say
from fitcheck.routing.lay.line import Blocked, Routed, verdict_of
from fitcheck.routing.lay.sets import Outcome
from fitcheck.routing.search.seeds import Pose
from fitcheck.routing.world.clear import leg_clear
from fitcheck.routing.world.field import World, exact
from fitcheck.routing.world.goal import EVERYWHERE, descend, goal_field
from fitcheck.routing.world.obstacles import Obstacles, stubs_beside, tube
from fitcheck.routing.world.ports import Job
from fitcheck.units import Metre

Points = NDArray[np.float64]

#: Bisection steps for the clearance of the widest path.
HALVINGS = 5
#: Step in which the free straight ahead of a port is measured [m].
STEP = 0.002
#: Hoses that overlap by less than this do not conflict [m].
SPARE = 1e-6
_FAR = 1e8


@dataclass(frozen=True, eq=False, kw_only=True)
class Told:
    """A reason, the place (3,) and the shortfall there [m]."""

    said: Said
    place: NDArray[np.float64]
    missing: Metre


def explain(
    obstacles: Obstacles, blocked: Blocked, outcomes: Sequence[Outcome], jobs: Sequence[Job]
) -> Told:
    """Why a line is blocked; never "impossible", since a failed search proves nothing.

    If it has a route without the other hoses, the reason names the hoses in conflict and where.
    """
    if blocked.alone is not None:
        return _contended(obstacles, blocked, blocked.alone, outcomes, jobs)
    if blocked.stretch is None:
        return _as_blocked(blocked)
    job = blocked.job
    stubs = stubs_beside(job, jobs)
    return _narrowest(obstacles.world(job, stubs), blocked.stretch, job)


def _contended(
    obstacles: Obstacles,
    blocked: Blocked,
    alone: Routed,
    outcomes: Sequence[Outcome],
    jobs: Sequence[Job],
) -> Told:
    """Which hoses occupy the route it would take alone; the place is where they overlap most."""
    job = blocked.job
    laid = [other for other in outcomes if isinstance(other, Routed)]
    met = [(verdict_of(obstacles, alone, [tube(o.curve, o.job)]).hose, o.job) for o in laid]
    taken = sorted(
        ((nearest.clearance, other.line.name, nearest.place) for nearest, other in met),
        key=lambda row: row[:2],
    )
    taken = [row for row in taken if row[0] < -SPARE]
    if blocked.stretch is None:
        told = _as_blocked(blocked)
    else:
        tubes = stubs_beside(job, jobs) + [tube(other.curve, other.job) for other in laid]
        told = _narrowest(obstacles.world(job, tubes), blocked.stretch, job)
    if not taken:
        return told
    said = say(
        "no-route.contends",
        why=told.said,
        hoses=[name for _, name, _ in taken],
        alone=quantity(alone.curve.length, "way"),
    )
    return Told(said=said, place=taken[0][2], missing=told.missing)


def _as_blocked(blocked: Blocked) -> Told:
    """The reason given before any search."""
    assert blocked.said is not None
    return Told(said=blocked.said, place=blocked.place, missing=blocked.missing)


def _narrowest(world: World, stretch: tuple[Pose, Pose], job: Job) -> Told:
    """The tightest place on the widest path from one end of the stretch to the other."""
    start, end = stretch[0].at, stretch[1].at
    pitch = quantity(world.pitch[0], "gap")
    path = _path(world, start, end, job.need)
    low, high = 0.0, job.need
    if path is None:
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            trial = _path(world, start, end, middle)
            path = trial if trial is not None else path
            low, high = (middle, high) if trial is not None else (low, middle)
    if path is None:
        return _closed(world, start, end, job, pitch)
    place, room = _tightest(world, path, job.need)
    missing = max(0.0, job.need - room)
    if missing < 0.5 * float(world.pitch[0]):
        tight = Told(said=say("no-route.tightest"), place=place, missing=missing)
        told = _no_room_to_bend(world, stretch, job) or tight
        radius = quantity(job.radius, "gap")
        said = say("no-route.no-bend", pitch=pitch, radius=radius, where=told.said)
        return replace(told, said=said)
    said = say("no-route.too-narrow", pitch=pitch, missing=quantity(missing, "gap"))
    return Told(said=said, place=place, missing=missing)


def _no_room_to_bend(world: World, stretch: tuple[Pose, Pose], job: Job) -> Told | None:
    """The end with less free straight ahead, if that is less than the bend radius."""
    names: dict[tuple[Metre, ...], str | Said] = {tuple(end.tip): end.name for end in job.ends}
    runs = []
    for pose in (stretch[0], stretch[1].back()):
        run, name = _run(world, pose, job), names.get(tuple(pose.at), say("no-route.hole"))
        runs.append((run, name, pose.at + run * pose.way))
    run, name, place = min(runs, key=lambda row: row[0])
    if run >= job.radius:
        return None
    ahead, radius = quantity(run, "gap"), quantity(job.radius, "gap")
    said = say("no-route.ahead", end=name, ahead=ahead, radius=radius)
    return Told(said=said, place=place, missing=job.radius - run)


def _run(world: World, pose: Pose, job: Job) -> Metre:
    """How far a hose can run straight from a pose, up to the bend radius."""
    steps = np.arange(STEP, job.radius + STEP, STEP)
    for step in steps:
        if not leg_clear(world, pose.at, pose.at + step * pose.way, job.need):
            return float(step - STEP)
    return job.radius


def _tightest(world: World, path: Points, need: Metre) -> tuple[Points, Metre]:
    """The place of least clearance on a cell path, with each point moved aside to where there is
    most.
    """
    best, least = path[0], np.inf
    for number in range(1, len(path) - 1):
        room = exact(world, *path[number], 3 * need)
        if room >= min(need, least):
            continue
        way = path[number + 1] - path[number - 1]
        place, room = _roomiest_beside(world, path[number], way / np.linalg.norm(way), need)
        if room < least:
            best, least = place, room
    return best, float(min(least, 3 * need))


def _roomiest_beside(
    world: World, place: Points, way: Points, need: Metre
) -> tuple[Points, Metre]:
    """Climb to more clearance square to a direction, close to a place."""
    first = np.cross(way, np.eye(3)[int(np.abs(way).argmin())])
    first /= np.linalg.norm(first)
    sides = (first, -first, np.cross(way, first), -np.cross(way, first))
    room, step = float(exact(world, *place, 3 * need)), 0.5 * float(world.pitch[0])
    for _ in range(40):
        trials = [place + step * side for side in sides]
        rooms = [float(exact(world, *trial, 3 * need)) for trial in trials]
        most = int(np.argmax(rooms))
        if rooms[most] > room:
            place, room = trials[most], rooms[most]
        elif step < 5e-4:
            break
        else:
            step /= 2
    return place, room


def _path(
    world: World, start: NDArray[np.float64], end: NDArray[np.float64], need: Metre
) -> NDArray[np.float64] | None:
    field = goal_field(world, end, start, need, 0.05)
    return descend(world, field, start, end)


def _closed(
    world: World, start: NDArray[np.float64], end: NDArray[np.float64], job: Job, pitch: Quantity
) -> Told:
    """Where the cells reached from the start come closest to the end."""
    field = goal_field(world, start, EVERYWHERE, 0.0, 0.0)
    reached = np.argwhere(field < _FAR)
    points = world.origin + (reached + 0.5) * world.pitch[0]
    away = np.linalg.norm(points - end, axis=1)
    place = points[away.argmin()] if len(points) else start
    missing = float(max(0.0, job.need - exact(world, *place, 3 * job.need)))
    return Told(said=say("no-route.closed", pitch=pitch), place=place, missing=missing)
