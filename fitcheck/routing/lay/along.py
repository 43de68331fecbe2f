"""Route a hose along structure so that it can be clipped: short, and within reach of a surface.

A cell-to-cell path, on which a metre out of reach costs several, shows where the hose must leave
the structure. All other cells out of reach are barred, and the shortest hose through the rest is
searched for as usual. The first such hose that keeps the span wins, else the one that exceeds it
least. Each is feasible without the bars too, so the length bound holds for it.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import bent
from fitcheck.geometry.distance import nearest_to_segment
from fitcheck.kernels import kernel
from fitcheck.routing.search.hose import FAR, Found, route
from fitcheck.routing.search.refine import Shape, Task, polished, reshaped, settled
from fitcheck.routing.search.seeds import Patience, Pose
from fitcheck.routing.world.barred import barred, near
from fitcheck.routing.world.field import World, roomiest
from fitcheck.routing.world.ports import Job
from fitcheck.routing.world.structure import Structure, looked_at
from fitcheck.units import Metre, Ratio

Points = NDArray[np.float64]

#: Price of a metre out of reach, relative to a metre close to a surface, in the path search.
DEARER: tuple[Ratio, ...] = (4.0, 15.0)
#: Cells left open around the part of the path that is out of reach, in bend radii, and around the
#: ports, in spans. Smaller values are tried only if the largest gives a route: a path has no
#: direction and may pass a port on the side the hose cannot enter from.
OPEN: Ratio = 2.0
SWINGS: tuple[Ratio, ...] = (0.75, 0.45)
#: Corners of a curve beside a path: how far from the path they may cut, in cells, and how far out
#: on the port axes the first and last lie, in bend radii.
CUT: tuple[Ratio, ...] = (4.0, 2.0)
LEAD: tuple[Ratio, ...] = (0.6, 1.2)
#: Routes tried at each of these; after each, the middle of its longest span is barred too.
SHUT = 2
#: Added to the price of a metre: out of reach, and within reach by the share of the reach used.
HANGING, STANDING_OFF = 3.0, 0.3
#: Clearance of a cell that has not been measured yet [m].
UNASKED = np.float32(-2.0)
#: Tolerance on the span [m].
BARELY = 1e-3


@dataclass(frozen=True, eq=False, kw_only=True)
class _Laid:
    """One route: how far its longest stretch out of reach exceeds the span, and its cost [m]."""

    found: Found
    over: Metre
    cost: Metre
    hangs: Metre


def route_along(
    world: World,
    start: Pose,
    end: Pose,
    job: Job,
    structure: Structure,
    patience: Patience = Patience.LONGEST,
    most: Metre = FAR,
) -> Found | None:
    """Return the best route found along structure from one pose to another, None if there is none.

    Parameters: most, routes as long as this or longer are rejected [m].
    """
    if tuple(start.at) > tuple(end.at):
        found = route_along(world, end.back(), start.back(), job, structure, patience, most)
        return found.reversed() if found else None
    plain = route(world, start, end, job.radius, job.need, patience, most)
    if plain is None:
        return None
    best = _weighed(plain, job, structure)
    if best.hangs == 0.0:
        return plain
    for searched in (False, True):
        for found in _in_reach(world, start, end, job, structure, searched):
            laid = _weighed(found, job, structure)
            best = min(best, laid, key=lambda one: (one.over, one.cost))
            if laid.over == 0.0:
                break
        if best.over == 0.0:
            break
    return replace(best.found, over=max(0.0, best.found.length - plain.length))


def _weighed(found: Found, job: Job, structure: Structure) -> _Laid:
    """Cost of a route: its length, weighted by distance from structure, most where unsupported."""
    limit = job.reach + job.half
    curve = bent(found.corners, job.radius)
    spans = structure.unsupported(curve, limit)
    longest = max((span.length for span in spans), default=0.0)
    s, points = looked_at(curve)
    off = (structure.nearest(points, limit)[0] - job.half) / job.reach
    price = np.where(off >= 1.0 - 1e-9, HANGING, STANDING_OFF * off)
    return _Laid(
        found=found,
        over=max(0.0, longest - job.span - BARELY),
        cost=found.length + float((np.diff(s) * (price[1:] + price[:-1]) / 2).sum()),
        hangs=sum(span.length for span in spans),
    )


def _in_reach(
    world: World, start: Pose, end: Pose, job: Job, structure: Structure, searched: bool
) -> Iterator[Found]:
    """Yield routes that leave the reach of structure only near the out-of-reach part of a path.

    searched: use the full search, else pull a curve taut beside the path.
    """
    apart, pitch = structure.apart(world), float(world.pitch[0])
    limit = job.reach + job.half
    # a hose that keeps its clearance from a barred cell stays within reach
    far = apart > limit + job.need - 0.6 * pitch
    before = np.zeros((0, 3))
    for dearer in DEARER:
        path = cell_path(world, start.at, end.at, job.need, apart / limit, dearer)
        if path is None or np.array_equal(path, before):
            return
        before = path
        # left open: the part of the path out of reach, and the turn out of each port
        crossed = np.vstack([start.at, end.at, path[far[_cells(world, path)]]])
        for swing in SWINGS:
            radius = np.full(len(crossed), job.need + pitch + OPEN * job.radius)
            radius[:2] = np.maximum(radius[:2], swing * job.span)
            shut, tried = far & ~near(world, crossed, radius), 0
            while tried < SHUT:
                within = barred(world, shut)
                if searched:
                    found = route(within, start, end, job.radius, job.need, Patience.BRIEF)
                else:
                    found = _taut(within, start, end, job, path)
                if found is None:
                    break
                yield found
                tried += 1
                spans = structure.unsupported(bent(found.corners, job.radius), limit)
                middle = np.array([max(spans, key=lambda span: span.length).place])
                shut |= far & near(world, middle, np.array([job.span / 4]))
            if not tried:
                break


def _taut(world: World, start: Pose, end: Pose, job: Job, path: Points) -> Found | None:
    """The shortest of the taut curves beside a path, None if none became feasible."""
    task = Task(world=world, leaves=start.way, arrives=end.way, radius=job.radius, need=job.need)
    shape: Shape | None = None
    for seed in _seeds(task, start, end, path):
        shape = settled(task, seed, True, shape.length if shape else FAR) or shape
    if shape is None:
        return None
    shape = polished(task, reshaped(task, shape))
    return Found(corners=shape.corners, length=shape.length, direct=False)


def _seeds(task: Task, start: Pose, end: Pose, path: Points) -> Iterator[Points]:
    """Polylines beside a path, with fine or coarse corners."""
    for cut in CUT:
        inner = path[_kept(path, cut * float(task.world.pitch[0]))][1:-1]
        for lead in LEAD:
            first = start.at + lead * task.radius * start.way
            last = end.at - lead * task.radius * end.way
            yield np.vstack([start.at, first, inner, last, end.at])


def _kept(path: Points, off: Metre) -> NDArray[np.int64]:
    """Rows of a path whose polyline stays within `off` of all of it, split at the
    farthest point.
    """
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


def _cells(world: World, points: Points) -> tuple[NDArray[np.int64], ...]:
    """Indices of the cells that contain the points."""
    rows = np.floor((points - world.origin) / world.pitch[0]).astype(np.int64)
    return tuple(rows.T)


def cell_path(
    world: World, start: Points, end: Points, need: Metre, off: NDArray[np.float32], dearer: Ratio
) -> Points | None:
    """The cheapest cell-to-cell path, (n, 3) [m].

    Parameters: off, distance of every cell to structure, divided by the reach; dearer, price of a
    metre where that is above 1.
    """
    first, last = (np.floor((p - world.origin) / world.pitch[0]).astype(int) for p in (start, end))
    for at in (first, last):
        if (at < 0).any() or (at >= np.array(world.label.shape)).any():
            return None
    before = np.full(world.label.size, -2, dtype=np.int64)
    cost = np.full(world.label.size, np.inf)
    if not _search(world, first, last, need, off, dearer, before, cost):
        return None
    rows = [int(np.ravel_multi_index(tuple(last), world.label.shape))]
    while before[rows[-1]] >= 0:
        rows.append(int(before[rows[-1]]))
    cells = np.stack(np.unravel_index(rows[::-1], world.label.shape), axis=1)
    return np.asarray(world.origin + (cells + 0.5) * world.pitch[0])


@kernel
def _search(world, first, last, need, off, dearer, before, cost):  # type: ignore[no-untyped-def]
    """Whether A* over the 26 neighbours of every cell reaches cell `last` from cell `first`.

    first, last (3,); need [m]; off (n0, n1, n2), distance to structure over the reach,
    dimensionless; dearer, dimensionless. Writes before, cost (n0 n1 n2,): the flat index of each
    cell's predecessor, and its priced distance [m].
    """
    h = world.pitch[0]
    n0, n1, n2 = world.label.shape
    here, there = np.empty(3), np.empty(3)
    # cached: each cell is queried from each of its neighbours
    room = np.full(cost.shape[0], UNASKED, np.float32)
    spot = np.empty((cost.shape[0], 3), np.float32)
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
        if room[at] == UNASKED:
            room[at] = roomiest(world, i, j, k, need, here)
            spot[at] = here
        a = room[at]
        here[:] = spot[at]
        for di in range(-1, 2):
            for dj in range(-1, 2):
                for dk in range(-1, 2):
                    p, q, r = i + di, j + dj, k + dk
                    if p < 0 or q < 0 or r < 0 or p >= n0 or q >= n1 or r >= n2:
                        continue
                    to = (p * n1 + q) * n2 + r
                    if done[to]:
                        continue
                    if room[to] == UNASKED:
                        room[to] = roomiest(world, p, q, r, need, there)
                        spot[to] = there
                    b = room[to]
                    there[:] = spot[to]
                    if b < 0.0 and to != goal:
                        continue
                    step = h * np.sqrt(di * di + dj * dj + dk * dk)
                    price = 1.0 + 0.3 * off[p, q, r] if off[p, q, r] <= 1.0 else dearer
                    if b < need:
                        price *= 1.2
                    value = cost[at] + step * price
                    if value >= cost[to]:
                        continue
                    gap = 0.0
                    for m in range(3):
                        gap += (here[m] - there[m]) ** 2
                    sum_ = max(a, 0.0) + max(b, 0.0)
                    # a thin sheet can pass between two cells only where both barely keep the
                    # clearance
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
