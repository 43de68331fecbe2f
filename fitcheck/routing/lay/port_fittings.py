"""Straight or elbow: for each end of a line, choose the fitting that gives the shortest route.

Every choice is a pair of places where the hose may begin. Choices whose fittings, or the wrench
clearance around them, have no room are left out; the rest are tried by lower bound, smallest
first. An elbow must shorten hose and fittings together by more than 5 %, else the straight fitting
is kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import say
from fitcheck.model.given.kit import Fitting, PortRef
from fitcheck.model.given.scenario import Scenario
from fitcheck.routing.lay.line import Blocked, Routed, route_line
from fitcheck.routing.search.bound import unobstructed_bound
from fitcheck.routing.search.hose import FAR
from fitcheck.routing.world.obstacles import Obstacles, Tube
from fitcheck.routing.world.ports import BARELY, End, Job
from fitcheck.routing.world.verify import nearest_to
from fitcheck.units import Metre, Ratio

Points = NDArray[np.float64]

#: Name of the bare port, without a fitting, in its offer.
PLAIN = "straight"
#: An elbow must bring the length below this share of the length with the straight fitting.
WORTH: Ratio = 0.95
#: Maximum number of choices with elbows that are routed.
TRIED = 16
#: Orientations of an elbow where the port names none.
AROUND = 8


def with_offers(scenario: Scenario, jobs: Sequence[Job]) -> tuple[Job, ...]:
    """Add to the jobs the fittings their ports offer; jobs without an offer are unchanged."""
    return tuple(_offered_job(scenario, job) for job in jobs)


def _offered_job(scenario: Scenario, job: Job) -> Job:
    refs = (job.line.start, job.line.end)
    start, end = (
        tuple(_offered(scenario, ref, one)) for ref, one in zip(refs, job.ends, strict=True)
    )
    if not start and not end:
        return job
    return replace(
        job,
        offers=(start, end),
        start=start[0] if start else job.start,
        end=end[0] if end else job.end,
    )


def _offered(scenario: Scenario, ref: PortRef, end: End) -> Iterator[End]:
    """Where the hose may begin at one port, straight fittings first; empty without an offer."""
    if ref.owner == "boat":
        return
    placed = scenario.placed.module(ref.owner)
    port = next(port for port in placed.module.ports if port.name == ref.port)
    chosen = [scenario.kit.fitting(name) for name in port.fittings if name != PLAIN]
    if PLAIN in port.fittings:
        yield end
    for fitting in sorted(chosen, key=lambda one: one.kind == "elbow"):
        if fitting.kind == "straight":
            yield _straight(end, fitting)
            continue
        ways = [placed.turn @ np.array(way) for way in port.turns]
        ways = ways or _around(placed.turn, end.way)
        yield from (_elbow(end, fitting, way) for way in ways)


def _around(turn: Points, way: Points) -> list[Points]:
    """Directions square to a port's axis, 45 degrees apart, starting from a module axis."""
    axis = next(row for row in turn.T if abs(row @ way) < 0.5)
    one = axis - (axis @ way) * way
    one /= np.linalg.norm(one)
    two = np.cross(way, one)
    angles = 2 * math.pi * np.arange(AROUND) / AROUND
    return [math.cos(angle) * one + math.sin(angle) * two for angle in angles]


def _straight(end: End, fitting: Fitting) -> End:
    body = np.array([_row(end.at, end.way, fitting.leg)])
    return replace(end, at=end.at + fitting.leg * end.way, fitting=fitting, body=body)


def _elbow(end: End, fitting: Fitting, way: Points) -> End:
    corner = end.at + fitting.leg * end.way
    body = [_row(end.at, end.way, fitting.leg), _row(corner, way, fitting.out)]
    at = corner + fitting.out * way
    return replace(end, at=at, way=way, fitting=fitting, body=np.array(body))


def _row(at: Points, way: Points, length: Metre) -> Points:
    """A straight piece in the row format of Curve.pieces."""
    return np.array([*at, *way, 0.0, 0.0, 0.0, 0.0, length])


def fitting_name(end: End) -> str:
    """Name of the fitting the hose goes on, "" for the bare port."""
    return end.fitting.name if end.fitting else ""


# --- the choice -------------------------------------------------------------------------------


def route_fitted(obstacles: Obstacles, job: Job, tubes: Sequence[Tube]) -> Routed | Blocked:
    """Route one line with the best of the fittings its ports offer."""
    if not any(job.offers):
        return route_line(obstacles, job, tubes)
    pairs = _pairs(obstacles, job, tubes)
    if not pairs:
        return Blocked(
            job=job,
            said=say("no-route.no-fitting", start=job.start.name, end=job.end.name),
            place=job.start.at,
            missing=0.0,
        )
    best: Routed | None = None
    first: Blocked | None = None
    tried = 0
    for trial, bound in pairs:
        elbows = _elbows(trial)
        if best and _score(trial, bound) >= _score(best.job, best.curve.length):
            continue
        if elbows and tried == TRIED:
            continue
        tried += elbows > 0
        most = FAR
        if best:
            most = _score(best.job, best.curve.length) * WORTH**elbows - _fitted(trial)
        found = route_line(obstacles, trial, tubes, most)
        if isinstance(found, Blocked):
            first = first or found
        elif best is None or _better(found, best):
            best = found
    if best is None:
        assert first is not None
        return first
    return replace(best, rivals=best.rivals + tuple(_rivals(pairs, best.job)))


def _pairs(obstacles: Obstacles, job: Job, tubes: Sequence[Tube]) -> list[tuple[Job, Metre]]:
    """Choices for both ends that have room, with the bounds of their hoses, in order of trial."""
    ends = [
        [one for one in (offer or (plain,)) if _has_room(obstacles, job, _led(one, job), tubes)]
        for offer, plain in zip(job.offers, job.ends, strict=True)
    ]
    found = []
    for start, end in product(*ends):
        trial = replace(job, start=_led(start, job), end=_led(end, job), offers=((), ()))
        found.append((trial, _bound(trial)))
    return sorted(found, key=lambda pair: (_score(*pair), _elbows(pair[0])))


def _led(end: End, job: Job) -> End:
    return replace(end, lead=max(end.straight, job.need + BARELY))


def _elbows(job: Job) -> int:
    return sum(end.fitting is not None and end.fitting.kind == "elbow" for end in job.ends)


def _fitted(job: Job) -> Metre:
    """Length of the fittings at both ends."""
    return sum(end.fitting.length for end in job.ends if end.fitting)


def _score(job: Job, length: Metre) -> Metre:
    """Length of hose and fittings, plus what an elbow has to save."""
    return float((length + _fitted(job)) / WORTH ** _elbows(job))


def _better(one: Routed, two: Routed) -> bool:
    first, second = (_score(routed.job, routed.curve.length) for routed in (one, two))
    return first < second - 1e-9


def _bound(job: Job) -> Metre:
    """Lower bound on the length of the hose, ignoring obstacles and holes."""
    a, b = job.start, job.end
    tips = [end.at + end.straight * end.way for end in (a, b)]
    return (
        a.straight + unobstructed_bound(tips[0], a.way, tips[1], -b.way, job.radius) + b.straight
    )


def _rivals(pairs: Sequence[tuple[Job, Metre]], chosen: Job) -> Iterator[Blocked]:
    """The other choices, for the bound: one for each set of holes."""
    for job, _ in pairs:
        if job.start is chosen.start and job.end is chosen.end:
            continue
        for holes in (job.holes, *job.others):
            rival = replace(job, holes=holes, others=())
            yield Blocked(job=rival, place=job.start.at, missing=0.0, tried=False)


def _has_room(obstacles: Obstacles, job: Job, end: End, tubes: Sequence[Tube]) -> bool:
    """Whether a fitting keeps the hose's clearances and a wrench fits around its leg."""
    for number, row in enumerate(end.body):
        solid, space, hose = nearest_to(obstacles, job, row, end, tubes)
        if solid.clearance < job.clearance - 1e-7 or min(space.clearance, hose.clearance) < -1e-7:
            return False
        wrench = end.fitting.wrench if end.fitting and number == 0 else 0.0
        if solid.clearance + job.half < wrench / 2 - 1e-7:
            return False
    return True
