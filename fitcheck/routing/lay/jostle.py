"""Relax hoses that crowd one another. They are first routed past each other thinner than they are,
then relaxed together until all have clearance. Those that find none are re-routed past the
others' current positions, and all are relaxed again.

A hose's missing clearance weighs little at first, so every hose of a crowd gives way by its share
instead of lying taut against the next; the weight grows over rounds of all hoses. Settled one by
one at full weight, each would stop at its neighbour. A weak pull on the length lets them spread
apart. Nothing is random.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.lying import Crowd, Lying, crowd_of, inner, with_corners
from fitcheck.routing.search.hose import route
from fitcheck.routing.search.refine import eased
from fitcheck.routing.search.seeds import Patience, Pose
from fitcheck.routing.world.obstacles import Obstacles
from fitcheck.routing.world.ports import Job
from fitcheck.units import Metre, Ratio

#: Share of the distance between hoses kept while they are first routed past each other.
THIN: Ratio = 0.5
#: Weights of missing clearance, in sequence [1/m].
WEIGHTS = (30.0, 60.0, 100.0, 200.0, 400.0, 800.0, 1.6e3, 4e3, 1e4, 3e4, 1e5, 2e5)
#: Maximum rounds of all hoses at one weight; fewer if no corner moves more than STILL [m].
SWEEPS = 8
STILL: Metre = 2e-4
#: Weight of length relative to that, one value for each relaxation.
PULLS: tuple[Ratio, ...] = (0.3, 0.1, 1.0, 0.3, 0.1, 0.3)
#: How often hoses that are still not clear are settled for good.
LAST = 4


def jostled(
    obstacles: Obstacles,
    jobs: Sequence[Job],
    moving: Mapping[int, Routed],
    fixed: Mapping[int, Routed],
) -> dict[int, Routed]:
    """Route hoses that find room beside one another and the fixed ones; the best of several
    trials.

    Parameters: jobs, all of them; moving and fixed, hoses by position in jobs.
    """
    crowd = crowd_of(obstacles, jobs, moving, fixed)
    short = sorted(moving, key=lambda key: (moving[key].curve.length, key))
    best: dict[int, Lying] = {}
    for order in (short, short[::-1]):
        crowd.lying = {}
        for pull in PULLS:
            _lead(crowd, moving, order)
            _jostle(crowd, pull)
            if len(crowd.lying) > len(best):
                best = {key: replace(one) for key, one in crowd.lying.items()}
            if len(best) == len(moving):
                return crowd.shortened()
    crowd.lying = best
    return crowd.shortened()


def _lead(crowd: Crowd, moving: Mapping[int, Routed], order: Sequence[int]) -> None:
    """Route the hoses not placed yet, one after the other and all thinned, past those that are. A
    hose with no such route takes its own, ignoring the others.
    """
    for key in order:
        if key in crowd.lying:
            continue
        alone = moving[key]
        job, world = alone.job, crowd.task(key, alone.job, THIN).world
        ends = Pose(at=job.start.tip, way=job.start.way), Pose(at=job.end.tip, way=-job.end.way)
        found = route(world, *ends, job.radius, job.need, Patience.LONG)
        crowd.lying[key] = Lying(alone, with_corners(found.corners if found else inner(alone)))


def _jostle(crowd: Crowd, pull: Ratio) -> None:
    """Let hoses give way to one another; remove those that find no room."""
    for weight in WEIGHTS:
        for _ in range(SWEEPS):
            if _sweep(crowd, weight, pull) < STILL:
                break
    for _ in range(LAST):
        crowd.judge()
        if crowd.clear:
            return
        for key, one in crowd.lying.items():
            if not one.clear:
                crowd.push(key)
    crowd.drop()


def _sweep(crowd: Crowd, weight: float, pull: Ratio) -> Metre:
    """Relax every hose once at a weight [1/m]; return the largest movement of a corner."""
    moved = 0.0
    for key, one in crowd.lying.items():
        corners = eased(crowd.task(key, one.job), one.corners, weight, pull)
        moved = max(moved, float(np.abs(corners - one.corners).max()))
        one.corners = corners
    return moved
