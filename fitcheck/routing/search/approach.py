"""Poses in the open from which a port can be reached, for ports no simple approach leads to.

A goal field ignores bends: where a hose must leave its port the other way, or come in by a loop,
it draws the search into a place too small to turn in. So everything reachable with bends from one
port is explored, and poses far out in that tree replace the port as the goal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.kernels import kernel
from fitcheck.routing.search.lattice import MOST_CORNERS, grow, guess_left, trace
from fitcheck.routing.world.field import World
from fitcheck.routing.world.goal import UNREACHED
from fitcheck.units import Metre, Ratio

Points = NDArray[np.float64]

#: Poses count if they are further along than this share of the furthest.
FAR_OUT = 0.6
#: Poses closer to one another than this are merged; their headings count as so many bend radii
#: [m].
APART, TURNED = 0.08, 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Grain:
    """Resolution: step and cell as a share of the usual; states opened from a port, and to it."""

    size: Ratio
    tree: int
    states: int


@dataclass(frozen=True, eq=False, kw_only=True)
class Approach:
    """A pose reached from a port, (3,) each, the corners from the port to it, its length [m]."""

    at: Points
    way: Points
    corners: Points
    length: Metre


def approaches(
    world: World,
    field: NDArray[np.float32],
    at: Points,
    way: Points,
    radius: Metre,
    need: Metre,
    many: int,
    grain: Grain,
) -> list[Approach]:
    """Poses reached from a port, most promising first.

    Parameters: field, towards the goal; at, way, the port and the direction away from it; need,
    clearance of the centre line; many, maximum number of poses.
    """
    tree, table = grow(world, field < UNREACHED, at, way, radius, need, grain.tree, grain.size)
    left = np.empty(tree.used)
    _left(world, field, tree, table.way, radius, left)
    cost, ways = tree.cost[: tree.used], table.way[tree.way[: tree.used]]
    open_ = np.flatnonzero((cost >= FAR_OUT * cost.max()) & (left >= 0.0))
    taken: list[Approach] = []
    apart = np.full(len(open_), np.inf)
    total = cost[open_] + left[open_]
    poses = np.column_stack([tree.place[open_], TURNED * radius * ways[open_]])
    while len(taken) < many and len(open_) and apart.max() > APART:
        one = int(apart.argmax()) if taken else int(total.argmin())
        apart = np.minimum(apart, np.linalg.norm(poses - poses[one], axis=1))
        total[one] = np.inf
        points = np.empty((MOST_CORNERS, 3))
        label = int(open_[one])
        count = trace(tree.parent, tree.place, tree.corner, tree.bent, label, points)
        if count == 0:  # more corners than a seed may have
            continue
        taken.append(
            Approach(
                at=tree.place[label].copy(),
                way=ways[label].copy(),
                corners=points[:count].copy(),
                length=float(cost[label]),
            )
        )
    return taken


@kernel
def _left(world, field, tree, ways, radius, left):  # type: ignore[no-untyped-def]
    """Remaining length from every label of a tree, -1 where unknown, into left (n,) [m].

    field (nx, ny, nz), radius [m]; ways (27, 3), unit directions indexed by tree.way.
    """
    slope = np.empty(3)
    for n in range(left.shape[0]):
        d = ways[tree.way[n]]
        left[n] = guess_left(world.origin, world.pitch, field, tree.place[n], d, radius, slope)
