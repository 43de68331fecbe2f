"""Hoses that crowd one another: led past each other thin, then jostled until all have room; those
that find none are led anew past the others as they lie then, and all are jostled again.

What a hose lacks in distance weighs little at first, so that every hose of a crowd gives way by
its share instead of lying taut against the next; the weight grows over the rounds of all hoses.
Settled one by one at full weight, each would stop at its neighbour and no hose would move again.
A weak pull on the length lets them swell apart. Nothing is random.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from fitcheck.routing.hose import route
from fitcheck.routing.line import Routed
from fitcheck.routing.lying import (
    Lying,
    drop,
    inner,
    judge,
    others_of,
    shortened,
    task_of,
    with_corners,
    world_among,
)
from fitcheck.routing.obstacles import Obstacles, Tube, stubs_beside, tube
from fitcheck.routing.ports import Job
from fitcheck.routing.refine import eased, pushed
from fitcheck.routing.seeds import Patience, Pose
from fitcheck.units import Metre, Ratio

Points = NDArray[np.float64]

#: Share of the distance between hoses kept while they are led past each other.
THIN: Ratio = 0.5
#: What lacks in distance weighs, one after the other [1/m].
WEIGHTS = (30.0, 60.0, 100.0, 200.0, 400.0, 800.0, 1.6e3, 4e3, 1e4, 3e4, 1e5, 2e5)
#: Rounds of all hoses at one weight at most; less if no corner moves more than STILL [m].
SWEEPS = 8
STILL: Metre = 2e-4
#: What length weighs beside that, jostled time after time.
PULLS: tuple[Ratio, ...] = (0.3, 0.1, 1.0, 0.3, 0.1, 0.3)
#: How often those not clear at last are settled for good.
LAST = 4


def jostled(
    obstacles: Obstacles,
    jobs: Sequence[Job],
    moving: Mapping[int, Routed],
    fixed: Mapping[int, Routed],
) -> dict[int, Routed]:
    """Those of some hoses that find room beside one another and the fixed: of several trials the
    one that keeps the most.

    Parameters: jobs, all of them; moving and fixed, hoses by position in jobs.
    """
    beside = {key: stubs_beside(jobs[key], jobs) for key in moving}
    still = [tube(routed.curve, routed.job) for routed in fixed.values()]
    short = sorted(moving, key=lambda key: (moving[key].curve.length, key))
    best: dict[int, Lying] = {}
    for order in (short, short[::-1]):
        lying: dict[int, Lying] = {}
        for pull in PULLS:
            _lead(obstacles, lying, moving, order, beside, still)
            _jostle(obstacles, lying, beside, still, pull)
            if len(lying) > len(best):
                best = {key: Lying(one.routed, one.corners) for key, one in lying.items()}
            if len(best) == len(moving):
                return dict(shortened(obstacles, best, beside, still))
    return dict(shortened(obstacles, best, beside, still))


def _lead(
    obstacles: Obstacles,
    lying: dict[int, Lying],
    moving: Mapping[int, Routed],
    order: Sequence[int],
    beside: Mapping[int, list[Tube]],
    still: Sequence[Tube],
) -> None:
    """Lead the hoses that do not lie yet, one after the other, past those that do, all thinned;
    their own way alone where there is none.
    """
    for key in order:
        if key in lying:
            continue
        alone = moving[key]
        job, others = alone.job, [other.tube() for other in lying.values()]
        world = world_among(obstacles, job, THIN, [*beside[key], *still], others)
        ends = Pose(at=job.start.tip, way=job.start.way), Pose(at=job.end.tip, way=-job.end.way)
        found = route(world, *ends, job.radius, job.need, Patience.LONG)
        lying[key] = Lying(alone, with_corners(found.corners if found else inner(alone)))


def _jostle(
    obstacles: Obstacles,
    lying: dict[int, Lying],
    beside: Mapping[int, list[Tube]],
    still: Sequence[Tube],
    pull: Ratio,
) -> None:
    """Let hoses give way to one another; those that find no room are taken out."""
    for weight in WEIGHTS:
        for _ in range(SWEEPS):
            moved = 0.0
            for key, one in lying.items():
                asked = [*beside[key], *still]
                world = world_among(obstacles, one.job, 1.0, asked, others_of(lying, key))
                corners = eased(task_of(world, one.job), one.corners, weight, pull)
                moved = max(moved, float(np.abs(corners - one.corners).max()))
                one.corners = corners
            if moved < STILL:
                break
    for _ in range(LAST):
        judge(obstacles, lying, beside, still)
        if all(one.clear for one in lying.values()):
            return
        for key, one in lying.items():
            if not one.clear:
                asked = [*beside[key], *still]
                world = world_among(obstacles, one.job, 1.0, asked, others_of(lying, key))
                shape, one.clear = pushed(task_of(world, one.job), one.corners, far=False)
                one.corners = shape.corners
    drop(obstacles, lying, beside, still)
