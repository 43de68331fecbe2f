"""A hose led along structure, so that it can be clipped: short, and in reach of a surface.

A path through the cells, on which a metre out of reach costs several, says where the hose must
leave the structure. Every other cell out of reach is barred, and the router finds the shortest
hose in what is left. The hose is feasible among all hoses, so the length bound holds for it.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from fitcheck.geometry.curve import bent
from fitcheck.geometry.distance import nearest_to_segment
from fitcheck.routing.barred import barred, near
from fitcheck.routing.field import World, roomiest
from fitcheck.routing.hose import Found, route
from fitcheck.routing.ports import Job
from fitcheck.routing.seeds import Pose
from fitcheck.routing.structure import Structure
from fitcheck.units import Metre, Ratio

Points = NDArray[np.float64]

#: What a metre out of reach costs beside a metre in reach, in order of trial.
DEARER: tuple[Ratio, ...] = (4.0, 15.0)
#: Room to turn round a path where it leaves the structure, in bend radii, in order of trial.
ROOM: tuple[Ratio, ...] = (0.8, 1.6)
#: What a metre out of reach counts beside a metre of length when two ways are compared.
COUNTS: Ratio = 3.0
#: A span is kept to this [m].
BARELY = 1e-3


@dataclass(frozen=True, eq=False, kw_only=True)
class _Laid:
    """One way: how far its longest stretch out of reach exceeds the span, and its cost [m]."""

    found: Found
    over: Metre
    cost: Metre
    hangs: Metre


def route_along(
    world: World, start: Pose, end: Pose, job: Job, structure: Structure
) -> Found | None:
    """The best way found along structure from one pose to another, None if there is no way."""
    if tuple(start.at) > tuple(end.at):
        found = route_along(world, end.back(), start.back(), job, structure)
        return found.reversed() if found else None
    plain = route(world, start, end, job.radius, job.need)
    best = _weighed(plain, job, structure) if plain else None
    if best and best.hangs == 0.0:
        return best.found
    for within in _restricted(world, start, end, job, structure):
        found = route(within, start, end, job.radius, job.need)
        if found is None:
            continue
        laid = _weighed(found, job, structure)
        if best is None or (laid.over, laid.cost) < (best.over, best.cost):
            best = laid
        if laid.over == 0.0:
            break
    return best.found if best else None


def _weighed(found: Found, job: Job, structure: Structure) -> _Laid:
    spans = structure.unsupported(bent(found.corners, job.radius), job.reach + job.half)
    longest = max((span.length for span in spans), default=0.0)
    hangs = sum(span.length for span in spans)
    return _Laid(
        found=found,
        over=max(0.0, longest - job.span - BARELY),
        cost=found.length + COUNTS * hangs,
        hangs=hangs,
    )


def _restricted(
    world: World, start: Pose, end: Pose, job: Job, structure: Structure
) -> Iterator[World]:
    """Worlds in which a hose can leave the structure only where a path through cells does."""
    pitch = float(world.pitch[0])
    limit = job.reach + job.half
    far = structure.beyond(world, limit)
    # the hose keeps its clearance from barred cells too
    bars = structure.beyond(world, limit + job.need - 0.5 * pitch)
    for dearer in DEARER:
        path = cell_path(world, start.at, end.at, job.need, far, dearer)
        if path is None:
            return
        off = path[_cells_at(world, path, far)]
        for room in ROOM:
            points = np.vstack([off, start.at, end.at])
            spare = job.need + room * job.radius + pitch
            yield barred(world, bars & ~near(world, points, np.full(len(points), spare)))


def _cells_at(world: World, points: Points, mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    at = np.floor((points - world.origin) / world.pitch[0]).astype(int)
    at = np.clip(at, 0, np.array(mask.shape) - 1)
    return np.asarray(mask[at[:, 0], at[:, 1], at[:, 2]])


def cell_path(
    world: World, start: Points, end: Points, need: Metre, far: NDArray[np.bool_], dearer: Ratio
) -> Points | None:
    """The cheapest way from cell to cell, (n, 3) [m]; a metre in a far cell costs `dearer`."""
    first, last = (np.floor((p - world.origin) / world.pitch[0]).astype(int) for p in (start, end))
    for at in (first, last):
        if (at < 0).any() or (at >= np.array(world.label.shape)).any():
            return None
    before = np.full(world.label.size, -2, dtype=np.int64)
    cost = np.full(world.label.size, np.inf)
    if not _search(world, first, last, need, far, dearer, before, cost):
        return None
    rows = [int(np.ravel_multi_index(tuple(last), world.label.shape))]
    while before[rows[-1]] >= 0:
        rows.append(int(before[rows[-1]]))
    cells = np.stack(np.unravel_index(rows[::-1], world.label.shape), axis=1)
    return np.asarray(world.origin + (cells + 0.5) * world.pitch[0])


@njit(cache=True)
def _search(world, first, last, need, far, dearer, before, cost):  # type: ignore[no-untyped-def]
    """A* over the 26 neighbours of every cell; fills what came before each."""
    h = world.pitch[0]
    n0, n1, n2 = world.label.shape
    here, there = np.empty(3), np.empty(3)
    goal = (last[0] * n1 + last[1]) * n2 + last[2]
    at = (first[0] * n1 + first[1]) * n2 + first[2]
    cost[at] = 0.0
    before[at] = -1
    heap = [(0.0, np.int64(at))]
    done = np.zeros(cost.shape[0], np.bool_)
    while len(heap) > 0:
        _, at = heapq.heappop(heap)
        if at == goal:
            return True
        if done[at]:
            continue
        done[at] = True
        i, j, k = at // (n1 * n2), (at // n2) % n1, at % n2
        a = roomiest(world, i, j, k, need, here)
        for di in range(-1, 2):
            for dj in range(-1, 2):
                for dk in range(-1, 2):
                    p, q, r = i + di, j + dj, k + dk
                    if p < 0 or q < 0 or r < 0 or p >= n0 or q >= n1 or r >= n2:
                        continue
                    to = (p * n1 + q) * n2 + r
                    if done[to]:
                        continue
                    b = roomiest(world, p, q, r, need, there)
                    if b < 0.0 and to != goal:
                        continue
                    step = h * np.sqrt(di * di + dj * dj + dk * dk)
                    price = dearer if far[p, q, r] else 1.0
                    if b < need:
                        price *= 1.2
                    value = cost[at] + step * price
                    if value >= cost[to]:
                        continue
                    gap = 0.0
                    for m in range(3):
                        gap += (here[m] - there[m]) ** 2
                    sum_ = max(a, 0.0) + max(b, 0.0)
                    # a sheet can stand between only where both hardly keep the clearance
                    near = sum_ * sum_ < gap
                    if near and nearest_to_segment(here, there, world.triangles, 1e-9)[1] >= 0:
                        continue
                    cost[to] = value
                    before[to] = at
                    left = h * np.sqrt(
                        (p - last[0]) ** 2 + (q - last[1]) ** 2 + (r - last[2]) ** 2
                    )
                    heapq.heappush(heap, (value + left, np.int64(to)))
    return False
