"""Measure one problem: routed, proven, checked independently, timed."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from fitcheck.geometry.curve import bent, measure
from fitcheck.model.finding import silent
from fitcheck.routing.lay.line import Routed, route_line
from fitcheck.routing.lay.sets import route_all
from fitcheck.routing.proof.proof import prove_line
from fitcheck.routing.world.clear import curve_clear
from tests.bench.records import Record
from tests.planted.bay import Problem
from tests.planted.problem import Ready, ready, told, told_planted
from tests.route_checker import check_among


def clock(call: Callable[[], Any]) -> tuple[Any, float, float]:
    """What a call returns, how long it took by the clock and by the processor [s]."""
    wall, work = time.perf_counter(), time.process_time()
    answer = call()
    return answer, time.perf_counter() - wall, time.process_time() - work


def peak_memory() -> float:
    """Peak memory of this process [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure_single(problem: Problem, planted: bool = True) -> Record:
    """Route one hose and prove its bound; check route and planted curve.

    planted: prove the bound of the planted curve too, which takes as long again.
    """
    made, prepared, _ = clock(lambda: ready(problem))
    job = made.jobs[0]
    routed, wall, work = clock(lambda: route_line(made.obstacles, job, ()))
    solved = isinstance(routed, Routed)
    record: Record = {
        **_about(problem, "single"),
        "cells": made.space.grid.cells,
        "prepared": prepared,
        "time": wall,
        "work": work,
        "solved": solved,
        "radius": job.radius,
        "need": job.need,
    }
    if not solved:
        clear = planted_clear(made)
        record |= {"reason": routed.reason, "planted_clear": clear}
        return {**record, "memory": peak_memory()}
    record["length"] = routed.curve.length
    record["bends"] = len(routed.curve.angle)
    record["direct"] = bool(routed.direct)
    record["quick"] = proven(made, routed)
    record["planted_bound"] = planted_bound(made) if planted else None
    result = told(made, [routed], [record["quick"]["bound"]])
    record["faults"] = check_among(result, problem.triangles)
    record["planted_faults"] = check_among(told_planted(problem), problem.triangles)
    return {**record, "memory": peak_memory()}


def proven(made: Ready, routed: Routed) -> Record:
    """A bound, its kind and what it took."""
    proof, wall, work = clock(lambda: prove_line(made.obstacles, routed))
    return {"bound": proof.bound, "kind": proof.kind, "time": wall, "work": work}


def planted_bound(made: Ready) -> float | None:
    """The bound with the planted curve as the known hose: a fair test for a bound that is too
    high.

    A bound never exceeds the length of the hose it is calculated for, so a longer one tests its
    soundness better. None where the planted bends differ, or pass a declared hole.
    """
    hose = made.problem.hoses[0]
    if made.problem.hole is not None or np.ptp(hose.curve.radii) > 1e-12:
        return None
    curve = bent(hose.curve.corners, hose.radius)
    routed = Routed(job=made.jobs[0], curve=curve, direct=False, holes=())
    return float(prove_line(made.obstacles, routed).bound)


def planted_clear(made: Ready, number: int = 0) -> bool:
    """Whether the router's own proof accepts the planted curve between the straight ends."""
    hose, job = made.problem.hoses[number], made.jobs[number]
    if made.problem.hole is not None or np.ptp(hose.curve.radii) > 1e-12:
        return True
    corners = hose.curve.corners.copy()
    corners[0], corners[-1] = job.start.tip, job.end.tip
    turns = np.zeros(len(corners))
    misfit = measure(corners, len(corners), job.radius, 0.0, turns)[1]
    world = made.obstacles.world(job, ())
    last = len(corners) - 1
    return misfit == 0.0 and bool(
        curve_clear(world, corners, turns, 0, last, job.radius, job.need)
    )


def measure_set(problem: Problem, bounded: bool) -> Record:
    """Route all hoses of a crowd; bound each on its own if asked; check them together."""
    made, prepared, _ = clock(lambda: ready(problem))
    outcomes, wall, work = clock(lambda: route_all(made.obstacles, made.jobs, silent))
    routes = [outcome if isinstance(outcome, Routed) else None for outcome in outcomes]
    lost = [
        {"hose": hose.name, "reason": outcome.reason, "planted_clear": planted_clear(made, n)}
        for n, (hose, outcome) in enumerate(zip(problem.hoses, outcomes, strict=True))
        if not isinstance(outcome, Routed)
    ]
    bounds, bound_wall, bound_work = clock(
        lambda: [
            prove_line(made.obstacles, routed).bound if routed and bounded else None
            for routed in routes
        ]
    )
    laid = [bound or 0.0 for bound in bounds]
    record = {
        **_about(problem, "set"),
        "prepared": prepared,
        "time": wall,
        "work": work,
        "hoses": len(problem.hoses),
        "solved": not lost,
        "lost": lost,
        "lengths": [routed.curve.length if routed else None for routed in routes],
        "bounds": bounds,
        "bound_time": bound_wall,
        "bound_work": bound_work,
        "planted_lengths": [hose.curve.length for hose in problem.hoses],
        "faults": check_among(told(made, routes, laid), problem.triangles),
        "planted_faults": check_among(told_planted(problem), problem.triangles),
    }
    return {**record, "memory": peak_memory()}


def _about(problem: Problem, kind: str) -> Record:
    return {
        "kind": kind,
        "seed": problem.seed,
        "level": problem.level,
        "family": problem.family,
        "planted": problem.length,
    }
