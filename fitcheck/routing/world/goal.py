"""The goal field: how far every cell is from a point through cells a hose may pass.

A first-order fast-marching solution (Sethian, Proceedings of the National Academy of Sciences 93,
1996) with a bucket queue. It guides the search and proves nothing: its values may exceed a real
route.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.distance import meets_triangle
from fitcheck.kernels import kernel
from fitcheck.model.found.space import FREE
from fitcheck.routing.world.field import (
    World,
    fresh_distance,
    node_distance,
    place_in,
    roomiest,
    to_boxes,
)
from fitcheck.units import Metre

#: Value of a field where it does not reach [m].
_FAR = np.float32(1e9)
#: Values above this mean that the field does not reach [m].
UNREACHED = 1e8
#: Steps to the six neighbours of a cell. Bit m of a cell's walls: neighbour m is cut off from it.
_AROUND = ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1))
#: Bit of a cell's walls, set once its neighbours have been updated since it last improved.
_DONE = 1 << 6
#: Cost of a metre through a cell: not examined yet, impassable, keeping the clearance, or keeping
#: it only away from its roomiest place.
_UNASKED, _CLOSED, _ROOMY, _TIGHT = 0.0, -1.0, 1.0, 1.1
#: A cell with less than this below the clearance contains no place that keeps it [cells].
_CORNER = 0.4331
#: Width of a bucket, and the smallest gain worth propagating [cells].
_BUCKET, _NO_GAIN = 0.5, 0.06
#: Buckets per cell of the grid's three edges together: much longer paths are left out.
_BUCKETS = 16
#: Initial size of the queue; doubled as needed.
_WAITING = 1 << 16


@kernel
def _arrival(a, b, c, h):  # type: ignore[no-untyped-def]
    """Upwind solution of |grad T| = 1 from the smallest neighbour on each axis: a, b, c, h [m]."""
    if a > b:
        a, b = b, a
    if b > c:
        b, c = c, b
    if a > b:
        a, b = b, a
    value = a + h
    if value > b:
        value = 0.5 * (a + b + math.sqrt(max(0.0, 2.0 * h * h - (a - b) ** 2)))
        if value > c:
            total = a + b + c
            square = total * total - 3.0 * (a * a + b * b + c * c - h * h)
            value = (total + math.sqrt(max(0.0, square))) / 3.0
    return value


@kernel
def _inside(shape, i, j, k):  # type: ignore[no-untyped-def]
    """Whether cell i, j, k lies in a grid of shape (3,), counts of cells without unit."""
    return 0 <= i < shape[0] and 0 <= j < shape[1] and 0 <= k < shape[2]


@kernel
def _walls(world, i, j, k, need, here, there):  # type: ignore[no-untyped-def]
    """The bits of the neighbours that a sheet or a box cuts off from cell i, j, k.

    Tested is the straight between the roomiest places of both, here and there (3,) [m], both
    written; need [m]; bit m of the six stands for the neighbour _AROUND[m].
    """
    room = roomiest(world, i, j, k, need, here)
    h, still = world.pitch[0], world.still
    wide = need - _CORNER * h
    soft = world.tubes.shape[0] + world.extra.shape[0] > 0
    centre = -1.0 if soft else np.float64(still[i, j, k])
    mask = 0
    for m in range(6):
        p, q, r = i + _AROUND[m][0], j + _AROUND[m][1], k + _AROUND[m][2]
        if centre >= wide and _inside(still.shape, p, q, r):
            # from centre to centre
            more = np.float64(still[p, q, r])
            if more >= wide and centre + more >= h:
                continue
        more = roomiest(world, p, q, r, need, there)
        gap = (here[0] - there[0]) ** 2 + (here[1] - there[1]) ** 2 + (here[2] - there[2]) ** 2
        if more < 0.0 or (room + more) * (room + more) >= gap:
            continue
        x, y, z = (
            0.5 * (here[0] + there[0]),
            0.5 * (here[1] + there[1]),
            0.5 * (here[2] + there[2]),
        )
        boxed = to_boxes(world.boxes, x, y, z, 1.0) <= 0.0
        if boxed or meets_triangle(here, there, world.triangles):
            mask |= 1 << m
    return mask


@kernel
def _cut(walls, one, two, m):  # type: ignore[no-untyped-def]
    """Whether a sheet separates a cell from its neighbour m, as seen from either.

    walls (n,), bits of _walls, no unit; one, two, places of the cell and the neighbour in it.
    """
    return (walls[one] >> m | walls[two] >> (m ^ 1)) & 1


@kernel
def _least(time, walls, to, step, axis):  # type: ignore[no-untyped-def]
    """Earlier of the two neighbours on one axis that are not cut off from the cell [m]."""
    ahead, behind = to + step, to - step
    best = time[to]
    if time[behind] < best and not _cut(walls, to, behind, 2 * axis + 1):
        best = time[behind]
    if time[ahead] < best and not _cut(walls, to, ahead, 2 * axis):
        best = time[ahead]
    return best


@kernel
def _rest(start, other, x, y, z, i, j, k):  # type: ignore[no-untyped-def]
    """Remaining distance from a cell to the start [m]: a known field, else the straight line.

    start (3,) [m], NaN for everywhere; other (nx, ny, nz) [m], or UNKNOWN; x, y, z, the centre of
    cell i, j, k [m].
    """
    if other.shape[0] > 1:
        return np.float64(other[i, j, k])
    if math.isnan(start[0]):
        return 0.0
    return math.sqrt((x - start[0]) ** 2 + (y - start[1]) ** 2 + (z - start[2]) ** 2)


@kernel
def _cell_of(world, point):  # type: ignore[no-untyped-def]
    """Cell i, j, k that holds a point (3,) [m], -1 first where the grid does not or it is NaN."""
    h = world.pitch[0]
    n0, n1, n2 = world.label.shape
    if math.isnan(point[0]):
        return -1, -1, -1
    i = int(math.floor((point[0] - world.origin[0]) / h))
    j = int(math.floor((point[1] - world.origin[1]) / h))
    k = int(math.floor((point[2] - world.origin[2]) / h))
    if i < 0 or j < 0 or k < 0 or i >= n0 or j >= n1 or k >= n2:
        return -1, -1, -1
    return i, j, k


@kernel(inline="always")
def _room(world, soft, i, j, k, need, here):  # type: ignore[no-untyped-def]
    """Distance in a cell of the grid: at its centre where that is plenty, else at its roomiest
    place.

    need and the distance [m], -1 where there is not enough; soft: whether there are withdrawal
    spaces or tubes; writes the roomiest place into here (3,) [m] where it is needed.
    """
    d = np.float64(world.still[i, j, k])
    if d < 0.0 and world.label[i, j, k] == FREE:
        d = fresh_distance(
            world.reach, world.boxes, world.hot, world.origin, world.pitch[0], i, j, k
        )
        world.still[i, j, k] = d
    if soft:
        d = min(d, np.float64(world.node[i, j, k]))
    if d < max(need, world.pitch[0]):
        # not known, or near something
        d = roomiest(world, i, j, k, need, here)
    return d


@kernel
def _march(world, goal, start, need, more, spare, most, other, time):  # type: ignore[no-untyped-def]
    """Fill `time`, flat with a border of one cell, in order of time plus remaining distance [m].

    goal, start (3,) [m]; other: a field from goal_field, or UNKNOWN; time, float32. Stops where
    that sum exceeds `more` times the start's own plus `spare`, or `most`.
    """
    h, shape = world.pitch[0], world.label.shape
    steps = np.array([(shape[1] + 2) * (shape[2] + 2), shape[2] + 2, 1])
    slow = np.zeros(time.shape[0], np.float32)
    walls = np.zeros(time.shape[0], np.uint8)
    width, wide = _BUCKET * h, max(need, h)
    soft = world.tubes.shape[0] + world.extra.shape[0] > 0
    x0, y0, z0 = world.origin[0] + 0.5 * h, world.origin[1] + 0.5 * h, world.origin[2] + 0.5 * h
    here, there = np.empty(3), np.empty(3)
    buckets = int((shape[0] + shape[1] + shape[2]) * _BUCKETS)
    head = np.full(buckets, -1, np.int32)
    room = _WAITING
    after, cell = np.empty(room, np.int32), np.empty(room, np.int32)
    g0, g1, g2 = _cell_of(world, goal)
    s0, s1, s2 = _cell_of(world, start)
    target = (s0 + 1) * steps[0] + (s1 + 1) * steps[1] + s2 + 1 if s0 >= 0 else -1
    used = 0
    for m in range(27):
        i, j, k = g0 + m // 9 - 1, g1 + (m // 3) % 3 - 1, g2 + m % 3 - 1
        if g0 < 0 or not _inside(shape, i, j, k):
            continue
        if m != 13 and node_distance(world, i, j, k) < wide:
            continue
        place_in(world, i, j, k, np.int64(8), here)
        at = (i + 1) * steps[0] + (j + 1) * steps[1] + k + 1
        time[at] = math.sqrt(((here - goal) ** 2).sum())
        slow[at] = _ROOMY
        rest = _rest(start, other, here[0], here[1], here[2], i, j, k)
        slot = int((time[at] + rest) / width) if rest < UNREACHED else buckets
        if slot < buckets:
            after[used], cell[used] = head[slot], at
            head[slot] = used
            used += 1
    stop, b = int(min(buckets - 1, most / width + 1)), 0
    while b < stop:
        entry = head[b]
        if entry < 0:
            b += 1
            continue
        head[b] = after[entry]
        at = np.int64(cell[entry])
        if at == target:
            stop = min(stop, int((more * time[at] + spare) / width) + 1)
        if walls[at] & _DONE:
            continue
        walls[at] |= np.uint8(_DONE)
        row = at // steps[1]
        i0, j0, k0 = row // (shape[1] + 2) - 1, row % (shape[1] + 2) - 1, at - row * steps[1] - 1
        for m in range(6):
            di, dj, dk = _AROUND[m]
            i, j, k = i0 + di, j0 + dj, k0 + dk
            to = at + di * steps[0] + dj * steps[1] + dk
            if time[to] <= time[at] or slow[to] == _CLOSED:
                continue
            if slow[to] == _UNASKED:
                d = -1.0
                if _inside(shape, i, j, k):
                    d = _room(world, soft, i, j, k, need, here)
                if d < 0.0 and (to != target or not _inside(shape, i, j, k)):
                    slow[to] = _CLOSED
                    continue
                slow[to] = _ROOMY if d >= need else _TIGHT
                if d < wide:
                    # a sheet can only separate cells that are this close to something
                    walls[to] = _walls(world, i, j, k, need, here, there)
            value = _arrival(
                _least(time, walls, to, steps[0], np.int64(0)),
                _least(time, walls, to, steps[1], np.int64(1)),
                _least(time, walls, to, steps[2], np.int64(2)),
                h * slow[to],
            )
            if value >= time[to] - _NO_GAIN * h:
                continue
            rest = _rest(start, other, x0 + i * h, y0 + j * h, z0 + k * h, i, j, k)
            slot = max(b, int((value + rest) / width)) if rest < UNREACHED else buckets
            if slot >= stop:
                continue
            time[to] = value
            walls[to] &= np.uint8(_DONE - 1)
            if used == room:
                room *= 2
                after, cell = _longer(after, room), _longer(cell, room)
            after[used], cell[used] = head[slot], to
            head[slot] = used
            used += 1


@kernel
def _longer(array, room):  # type: ignore[no-untyped-def]
    """Copy of array (n,), int32, no unit, in a longer one (room,); the rest is uninitialised."""
    out = np.empty(room, np.int32)
    out[: array.shape[0]] = array
    return out


#: No other field is known.
UNKNOWN: NDArray[np.float32] = np.zeros((1, 1, 1), dtype=np.float32)
#: No particular start: march through everything.
EVERYWHERE: NDArray[np.float64] = np.full(3, np.nan)
#: Cells are left out if their path exceeds the shortest by this share plus the given spare.
DETOUR = 1.01


def goal_field(
    world: World,
    goal: NDArray[np.float64],
    start: NDArray[np.float64],
    need: Metre,
    spare: Metre,
    other: NDArray[np.float32] = UNKNOWN,
    most: Metre = 1e3,
) -> NDArray[np.float32]:
    """Distance of every cell's centre from `goal` through passable cells; 1e9 where unknown [m].

    Parameters: need, clearance of the centre line [m]; spare: cells whose path from goal to start
    exceeds the shortest by DETOUR and this stay unknown [m]; start may be EVERYWHERE; other: the
    field from `start`, if known, which restricts the march to useful cells; most, maximum length
    [m].
    """
    n0, n1, n2 = world.label.shape
    time = np.full((n0 + 2) * (n1 + 2) * (n2 + 2), _FAR, dtype=np.float32)
    _march(world, goal, start, need, DETOUR, spare, most, other, time)
    return np.ascontiguousarray(time.reshape(n0 + 2, n1 + 2, n2 + 2)[1:-1, 1:-1, 1:-1])


@kernel
def read_field(origin, pitch, field, x, y, z, slope):  # type: ignore[no-untyped-def]
    """Field at a point from the known ones of eight nodes, -1 where there are none; writes its
    slope (3,).

    origin (3,), pitch (1,), field (nx, ny, nz), x, y, z [m]; the slope is not to scale: sums of
    differences between nodes [m].
    """
    h = pitch[0]
    n0, n1, n2 = field.shape
    fx = (x - origin[0]) / h - 0.5
    fy = (y - origin[1]) / h - 0.5
    fz = (z - origin[2]) / h - 0.5
    i, j, k = int(math.floor(fx)), int(math.floor(fy)), int(math.floor(fz))
    tx, ty, tz = fx - i, fy - j, fz - k
    weight, total = 0.0, 0.0
    slope[0] = slope[1] = slope[2] = 0.0
    for a in range(2):
        for b in range(2):
            for c in range(2):
                p, q, r = i + a, j + b, k + c
                if p < 0 or q < 0 or r < 0 or p >= n0 or q >= n1 or r >= n2:
                    continue
                value = field[p, q, r]
                if value >= 1e8:
                    continue
                w = (tx if a else 1.0 - tx) * (ty if b else 1.0 - ty) * (tz if c else 1.0 - tz)
                w += 1e-6
                weight += w
                total += w * value
                slope[0] += value if a else -value
                slope[1] += value if b else -value
                slope[2] += value if c else -value
    if weight == 0.0:
        return -1.0
    return total / weight


@kernel
def _descend(world, field, start, goal, path):  # type: ignore[no-untyped-def]
    """Write the path down a goal field into path (m, 3) [m]; returns its points, 0 for none.

    field (nx, ny, nz), start, goal (3,) [m].
    """
    h = world.pitch[0]
    n0, n1, n2 = field.shape
    i, j, k = _cell_of(world, start)
    if i < 0:
        return 0
    path[0] = start
    count = 1
    while count < path.shape[0] - 1:
        best, bi, bj, bk = 1e8, i, j, k
        for p in range(max(0, i - 1), min(n0, i + 2)):
            for q in range(max(0, j - 1), min(n1, j + 2)):
                for r in range(max(0, k - 1), min(n2, k + 2)):
                    value = field[p, q, r]
                    if value >= field[i, j, k]:
                        continue
                    away = math.sqrt((p - i) ** 2 + (q - j) ** 2 + (r - k) ** 2) * h
                    # the steepest descent
                    value = (value - field[i, j, k]) / away
                    if value < best:
                        best, bi, bj, bk = value, p, q, r
        if best > 1e7:
            return 0 if field[i, j, k] > 2.0 * h else _finish(path, count, goal)
        i, j, k = bi, bj, bk
        path[count, 0] = world.origin[0] + (i + 0.5) * h
        path[count, 1] = world.origin[1] + (j + 0.5) * h
        path[count, 2] = world.origin[2] + (k + 0.5) * h
        count += 1
        if field[i, j, k] < 1.2 * h:
            return _finish(path, count, goal)
    return 0


@kernel
def _finish(path, count, goal):  # type: ignore[no-untyped-def]
    """Append goal (3,) to the `count` points of path (m, 3) [m]; returns the new count."""
    path[count] = goal
    return count + 1


def descend(
    world: World,
    field: NDArray[np.float32],
    start: NDArray[np.float64],
    goal: NDArray[np.float64],
) -> NDArray[np.float64] | None:
    """The cell path down a goal field, (n, 3), None if there is none [m]."""
    path = np.empty((4 * sum(field.shape), 3))
    count = _descend(world, field, start, goal, path)
    return path[:count].copy() if count else None
