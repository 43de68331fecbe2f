"""A hose led along structure, so that it can be clipped: short, and in reach of a surface.

A path through the cells, on which a metre out of reach costs several, says where the hose must
leave the structure. Curves beside that path, and the shortest one, are drawn to the surfaces; the
best of them counts. It is feasible among all hoses, so the length bound holds for it.
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
from fitcheck.routing.field import World, roomiest
from fitcheck.routing.hose import FAR, Found, route
from fitcheck.routing.hug import hugged, repaired
from fitcheck.routing.ports import Job
from fitcheck.routing.refine import Shape, Task, settled
from fitcheck.routing.seeds import Pose
from fitcheck.routing.structure import Structure
from fitcheck.units import Metre, Ratio

Points = NDArray[np.float64]

#: What a metre out of reach costs beside a metre in reach, in order of trial.
DEARER: tuple[Ratio, ...] = (4.0, 15.0)
#: Corners of a curve beside a path: how far off it they may cut, in cells, and how far out on the
#: ports' axes the first and last lie, in bend radii.
CUT: tuple[Ratio, ...] = (1.5, 3.0, 5.0)
LEAD: tuple[Ratio, ...] = (0.6, 1.2)
#: A straight longer than this gets another corner when a curve is drawn again [m].
LONG = 0.2
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
    if plain is None:
        return None
    best = _weighed(plain, job, structure)
    if best.hangs == 0.0:
        return plain
    leaves, arrives = start.way.copy(), end.way.copy()
    task = Task(world=world, leaves=leaves, arrives=arrives, radius=job.radius, need=job.need)
    shapes = [Shape(corners=plain.corners, length=plain.length)]
    shapes += _beside_paths(task, start, end, job, structure)
    for shape in shapes:
        for _ in range(2):
            shape = hugged(task, shape, structure, job.reach + job.half, job.span)
            found = Found(corners=shape.corners, length=shape.length, direct=False)
            laid = _weighed(found, job, structure)
            best = min(best, laid, key=lambda one: (one.over, one.cost))
            shape = Shape(corners=_more_corners(shape.corners), length=shape.length)
    return best.found


def _more_corners(corners: Points) -> Points:
    """The same polyline with a corner in the middle of every long straight but first and last."""
    rows = [corners[0]]
    for number in range(1, len(corners)):
        gap = float(np.linalg.norm(corners[number] - corners[number - 1]))
        if 1 < number < len(corners) - 1 and gap > LONG:
            rows.append((corners[number] + corners[number - 1]) / 2)
        rows.append(corners[number])
    return np.array(rows)


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


def _beside_paths(
    task: Task, start: Pose, end: Pose, job: Job, structure: Structure
) -> Iterator[Shape]:
    """Feasible curves beside cheap paths through cells, at most one for each price and cut."""
    world = task.world
    far = structure.beyond(world, job.reach + job.half)
    for dearer in DEARER:
        path = cell_path(world, start.at, end.at, job.need, far, dearer)
        if path is None:
            return
        for cut in CUT:
            inner = path[_kept(path, cut * float(world.pitch[0]))]
            for lead in LEAD:
                first = start.at + lead * job.radius * start.way
                last = end.at - lead * job.radius * end.way
                seed = np.vstack([start.at, first, inner[1:-1], last, end.at])
                shape = repaired(task, seed) or settled(task, seed.copy(), True, FAR)
                if shape:
                    yield shape
                    break


def _kept(path: Points, off: Metre) -> NDArray[np.int64]:
    """Rows of a path that leave a polyline within `off` of all of it, halved at the farthest."""
    rows, waiting = {0, len(path) - 1}, [(0, len(path) - 1)]
    while waiting:
        first, last = waiting.pop()
        way = path[last] - path[first]
        part = path[first : last + 1] - path[first]
        along = np.clip(part @ way / max(float(way @ way), 1e-12), 0.0, 1.0)
        away = np.linalg.norm(part - along[:, None] * way, axis=1)
        at = int(away.argmax())
        if away[at] > off:
            rows.add(first + at)
            waiting += [(first, first + at), (first + at, last)]
    return np.array(sorted(rows))


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
