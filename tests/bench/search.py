"""An independent long search for a shorter hose: annealed corners, started from every known hose.

It shares only the clearance test of a curve with the router. Its results are feasible, so they
show how far the router's hose is from the best, and bounds must stay below them.
"""

from __future__ import annotations

import math
import time

import numpy as np
from numba import njit

from fitcheck.geometry.curve import Curve, measure
from fitcheck.routing.lay.line import Routed, route_line
from fitcheck.routing.world.clear import curve_clear
from tests.bench.records import Record
from tests.planted.bay import Problem
from tests.planted.curve import Points
from tests.planted.problem import Ready, ready

#: Maximum corner points of a curve.
MOST = 24


@njit(cache=True)
def _length(world, points, count, radius, need, most, turns):  # type: ignore[no-untyped-def]
    """Length of a rounded polyline if it fits, is clear and not longer than most, else 1e18."""
    size, misfit = measure(points, count, radius, 0.0, turns)
    if misfit > 0.0 or size > most:
        return 1e18
    if not curve_clear(world, points, turns, 0, count - 1, radius, need):
        return 1e18
    return size


@njit(cache=True)
def _step(points, count, d0, d1, i, x, y, z):  # type: ignore[no-untyped-def]
    """Move corner i; the outer ones along the axes of the ports. False if a port is passed."""
    if i == 1 or i == count - 2:
        d, sign, port = (d0, 1.0, 0) if i == 1 else (d1, -1.0, count - 1)
        along = x * d[0] + y * d[1] + z * d[2]
        out = 0.0
        for a in range(3):
            points[i, a] += along * d[a]
            out += sign * (points[i, a] - points[port, a]) * d[a]
        return out > 0.0
    points[i, 0] += x
    points[i, 1] += y
    points[i, 2] += z
    return True


@njit(cache=True)
def _reshape(points, count, radius, kind, rng):  # type: ignore[no-untyped-def]
    """Remove a random inner corner, or add one; returns the count."""
    if kind == 0:
        if count < 5:
            return count
        at = 2 + rng.integers(0, count - 4)
        for j in range(at, count - 1):
            points[j] = points[j + 1]
        return count - 1
    if count >= MOST:
        return count
    at = 1 + rng.integers(0, count - 3)
    share = 0.2 + 0.6 * rng.random()
    for j in range(count, at + 1, -1):
        points[j] = points[j - 1]
    points[at + 1] = share * points[at] + (1.0 - share) * points[at + 2]
    for a in range(3):
        points[at + 1, a] += 0.1 * radius * rng.normal()
    return count + 1


@njit(cache=True)
def anneal(world, points, count, d0, d1, radius, need, tries, heat, rng):  # type: ignore[no-untyped-def]
    """Random moves from a feasible curve, accepting longer ones while hot; keeps the best in
    place.

    Returns (count, length). heat: how much longer a curve may get at first [m].
    """
    turns = np.zeros(MOST + 1)
    here, now = points.copy(), count
    length = _length(world, here, now, radius, need, 1e9, turns)
    best, best_count = length, count
    if length > 1e17:
        return count, length
    size = 0.02
    for n in range(tries):
        warm = heat * (1.0 - n / tries) ** 2
        trial, many = here.copy(), now
        good = True
        what = rng.random()
        if what < 0.04:
            many = _reshape(trial, now, radius, rng.integers(0, 2), rng)
            good = many != now
        else:
            first = 1 + rng.integers(0, now - 2)
            more = 0 if what < 0.7 else (1 if what < 0.9 else now)
            step = size * math.exp(rng.normal())
            x, y, z = rng.normal(), rng.normal(), rng.normal()
            for i in range(first, min(now - 1, first + more + 1)):
                if not _step(trial, now, d0, d1, i, step * x, step * y, step * z):
                    good = False
                    break
        value = 1e18
        if good:
            most = length - warm * math.log(1.0 - rng.random()) if warm > 0 else length
            value = _length(world, trial, many, radius, need, most, turns)
        if value < 1e17:
            here, now, length = trial, many, value
            size = min(0.05, 1.25 * size)
            if value < best - 1e-9:
                best, best_count = value, many
                points[:many] = trial[:many]
        else:
            size = max(2e-5, 0.97 * size)
    return best_count, best


def corners_of(curve: Curve) -> Points:
    """(n, 3) corner points of a curve of the router, bends above 115 degrees in two."""
    corners = [curve.start]
    for n, angle in enumerate(curve.angle):
        spoke = curve.bend_start[n] - curve.centre[n]
        parts = 1 if angle < 2.0 else 2
        part = angle / parts
        for k in range(parts):
            turn = (k + 0.5) * part
            out = math.cos(turn) * spoke + math.sin(turn) * np.cross(curve.normal[n], spoke)
            corners.append(curve.centre[n] + out / math.cos(part / 2))
    return np.array([*corners, curve.end])


def long_search(made: Ready, starts: list[Points], seconds: float) -> tuple[float, str]:
    """Shortest length port to port found in the time, and which start it came from.

    starts: corner points port face to port face of hoses known to be feasible.
    """
    job = made.jobs[0]
    world = made.obstacles.world(job, ())
    ends = job.start.way, -job.end.way
    until = time.process_time() + seconds
    fixed = job.start.lead + job.end.lead
    found: list[tuple[float, Points, str]] = []
    for n, start in enumerate(starts):
        corners = start.copy()
        corners[0], corners[-1] = job.start.tip, job.end.tip
        found.append((math.inf, corners, f"start {n}"))
    rounds, rng = 0, np.random.default_rng(made.problem.seed)
    while found and (time.process_time() < until or rounds < len(starts)):
        if rounds < len(starts):
            which = rounds
        else:
            order = sorted(range(len(found)), key=lambda n: found[n][0])
            which = order[0] if rounds % 3 else order[rounds % len(order)]
        length, corners, name = found[which]
        points = np.zeros((MOST + 1, 3))
        points[: len(corners)] = corners
        heat = 0.0 if rounds < len(starts) else (0.003, 0.0, 0.02, 0.0005)[rounds % 4]
        count, better = anneal(
            world, points, len(corners), *ends, job.radius, job.need, 3000, heat, rng
        )
        if better < length:
            found[which] = (float(better), points[:count].copy(), name)
        rounds += 1
    best = min(found, key=lambda item: item[0], default=(math.inf, np.zeros(0), "none"))
    return best[0] + fixed, best[2]


def long_single(problem: Problem, seconds: float) -> Record:
    """Long search for a shorter hose from the planted hose and from the router's own."""
    made = ready(problem)
    starts = []
    if problem.hole is None:
        starts.append(problem.hoses[0].curve.corners)
        routed = route_line(made.obstacles, made.jobs[0], ())
        if isinstance(routed, Routed):
            starts.append(corners_of(routed.curve))
    length, start = long_search(made, starts, seconds)
    return {
        "kind": "long",
        "seed": problem.seed,
        "solved": math.isfinite(length),
        "length": length if math.isfinite(length) else None,
        "start": start,
        "seconds": seconds,
    }
