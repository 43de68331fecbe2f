"""Hoses that meet are pushed apart together: the distance asked grows from a part to all of it.

Every hose begins on its own shortest way. At each share of the distance asked between hoses, one
after the other is settled anew among the others as they lie; so that neighbours give way a little
each, and a bundle finds over and under by itself. Nothing is random: the same set gives the same
answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fitcheck.routing.field import World
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
from fitcheck.routing.obstacles import Obstacles, stubs_beside, tube
from fitcheck.routing.ports import Job
from fitcheck.routing.refine import pushed
from fitcheck.units import Ratio

#: Shares of the distance between hoses asked one after the other.
SHARES: tuple[Ratio, ...] = (0.35, 0.6, 0.8, 0.9, 1.0)
#: How often at most all hoses are settled with all of it asked.
ROUNDS = 8


def spread(
    obstacles: Obstacles,
    jobs: Sequence[Job],
    moving: Mapping[int, Routed],
    fixed: Mapping[int, Routed],
) -> dict[int, Routed]:
    """Those of some hoses that find room beside one another and the fixed, pushed apart together.

    Parameters: jobs, all of them; moving and fixed, hoses by position in jobs.
    """
    lying = {key: Lying(routed, with_corners(inner(routed))) for key, routed in moving.items()}
    beside = {key: stubs_beside(one.job, jobs) for key, one in lying.items()}
    still = [tube(routed.curve, routed.job) for routed in fixed.values()]
    for share in (*SHARES, *[1.0] * ROUNDS):
        if share == 1.0 and all(one.clear for one in lying.values()):
            break
        for key, one in lying.items():
            if share < 1.0 or not one.clear:
                others = others_of(lying, key)
                _push(one, world_among(obstacles, one.job, share, beside[key] + still, others))
        if share == 1.0:
            judge(obstacles, lying, beside, still)
    drop(obstacles, lying, beside, still)
    return dict(shortened(obstacles, lying, beside, still))


def _push(one: Lying, world: World) -> None:
    """Settle one hose among the others and leave it where it came to lie."""
    shape, one.clear = pushed(task_of(world, one.job), one.corners)
    one.corners = shape.corners
