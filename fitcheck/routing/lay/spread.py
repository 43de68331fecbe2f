"""Hoses that meet are pushed apart together: the distance asked grows from a part to all of it.

Every hose begins on its own shortest way. At each share of the distance asked between hoses, one
after the other is settled anew among the others as they lie; so that neighbours give way a little
each, and a bundle finds over and under by itself. Nothing is random: the same set gives the same
answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.lying import Lying, crowd_of, inner, with_corners
from fitcheck.routing.world.obstacles import Obstacles
from fitcheck.routing.world.ports import Job
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
    crowd = crowd_of(obstacles, jobs, moving, fixed)
    for key, routed in moving.items():
        crowd.lying[key] = Lying(routed, with_corners(inner(routed)))
    for share in (*SHARES, *[1.0] * ROUNDS):
        if share == 1.0 and crowd.clear:
            break
        for key, one in crowd.lying.items():
            if share < 1.0 or not one.clear:
                crowd.push(key, share)
        if share == 1.0:
            crowd.judge()
    crowd.drop()
    return crowd.shortened()
