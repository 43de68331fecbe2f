"""Growth of time and memory with cells and with hoses, each point in its own process."""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fitcheck.model.finding import silent
from fitcheck.routing.lay.line import Routed, route_line
from fitcheck.routing.lay.sets import route_all
from fitcheck.routing.proof.proof import prove_line
from tests.bench.measure import peak_memory
from tests.bench.records import Record
from tests.planted.bay import HIGH, LOW
from tests.planted.problem import ready
from tests.planted.problems import FIRST_SET, crowd, single

MILLIONS = (0.5, 1.0, 2.0, 4.0, 8.0)
HOSES = (1, 2, 4, 6, 9, 12)
SINGLES = range(20, 32)


def points() -> Iterator[Record]:
    """Every point of both tables."""
    for millions in MILLIONS:
        yield _child("cells", millions)
    for hoses in HOSES:
        yield _child("hoses", hoses)


def _child(what: str, size: float) -> Record:
    asked = [sys.executable, "-m", "tests.bench.growth", what, str(size)]
    done = subprocess.run(asked, capture_output=True, text=True, check=True)
    record = dict(json.loads(done.stdout.splitlines()[-1]))
    return {"kind": "growth", "seed": f"{what} {size:g}", **record}


def cells(millions: float, begun: float) -> Record:
    """The same hoses in grids of more and more cells."""
    pitch = float((np.prod(HIGH - LOW) / (millions * 1e6)) ** (1 / 3))
    made = ready(single(SINGLES[0]), 0.05)
    route_line(made.obstacles, made.jobs[0], ())
    first = time.perf_counter() - begun
    prepared, routed, bound, solved, count = [], [], [], 0, 0
    for seed in SINGLES:
        problem = single(seed)
        start = time.perf_counter()
        made = ready(problem, pitch)
        prepared.append(time.perf_counter() - start)
        start = time.perf_counter()
        outcome = route_line(made.obstacles, made.jobs[0], ())
        routed.append(time.perf_counter() - start)
        count = made.space.grid.cells
        if isinstance(outcome, Routed):
            solved += 1
            start = time.perf_counter()
            prove_line(made.obstacles, outcome)
            bound.append(time.perf_counter() - start)
    return {
        "cells": count,
        "pitch": pitch,
        "solved": f"{solved}/{len(SINGLES)}",
        "first hose, from cache": first,
        "grid": statistics.median(prepared),
        "route median": statistics.median(routed),
        "route most": max(routed),
        "bound median": statistics.median(bound),
        "memory": peak_memory(),
    }


def hoses(count: int) -> Record:
    """The first hoses of a set of twelve, routed together."""
    problem = next(p for p in map(crowd, range(FIRST_SET, FIRST_SET + 400)) if len(p.hoses) == 12)
    some = replace(problem, hoses=problem.hoses[:count])
    made = ready(some)
    route_line(made.obstacles, made.jobs[0], ())
    made = ready(some)
    start = time.perf_counter()
    outcomes = route_all(made.obstacles, made.jobs, silent)
    spent = time.perf_counter() - start
    laid = sum(isinstance(outcome, Routed) for outcome in outcomes)
    return {"hoses": count, "laid": laid, "time": spent, "memory": peak_memory()}


if __name__ == "__main__":
    start = time.perf_counter()
    size = float(sys.argv[2])
    print(json.dumps(cells(size, start) if sys.argv[1] == "cells" else hoses(int(size))))
