"""The goal field: how far every cell is from a point through cells a hose may pass.

A first-order fast-marching solution (Sethian, Proceedings of the National Academy of Sciences 93,
1996) with a bucket queue. It guides the search and proves nothing: its values may exceed a real
route.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from fitcheck.routing.field import World, node_distance
from fitcheck.units import Metre

_FAR = np.float32(1e9)


@njit(cache=True)
def _axis(field, i, j, k, axis):  # type: ignore[no-untyped-def]
    n = field.shape[axis]
    at = i if axis == 0 else (j if axis == 1 else k)
    best = _FAR
    for step in (-1, 1):
        if 0 <= at + step < n:
            if axis == 0:
                value = field[i + step, j, k]
            elif axis == 1:
                value = field[i, j + step, k]
            else:
                value = field[i, j, k + step]
            best = min(best, value)
    return best


@njit(cache=True)
def _arrival(a, b, c, h):  # type: ignore[no-untyped-def]
    """Upwind solution of |grad T| = 1 from the smallest neighbour on each axis."""
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


@njit(cache=True)
def _march(world, goal, start, need, more, spare, barred, field):  # type: ignore[no-untyped-def]
    h = world.pitch[0]
    n0, n1, n2 = field.shape
    width = 0.5 * h
    # how near a cell's centre may be and still belong to a way that keeps `need`
    least = max(need - 0.87 * h, 0.55 * h)
    buckets = int(4 * (n0 + n1 + n2) * 6)
    head = np.full(buckets, -1, np.int32)
    room = 1 << 16
    after = np.empty(room, np.int32)
    cell = np.empty(room, np.int64)
    used = 0
    done = np.zeros((n0, n1, n2), np.uint8)
    g = np.empty(3, np.int64)
    s = np.empty(3, np.int64)
    for a in range(3):
        g[a] = int(math.floor((goal[a] - world.origin[a]) / h))
        s[a] = int(math.floor((start[a] - world.origin[a]) / h))
    for i in range(g[0] - 1, g[0] + 2):
        for j in range(g[1] - 1, g[1] + 2):
            for k in range(g[2] - 1, g[2] + 2):
                if i < 0 or j < 0 or k < 0 or i >= n0 or j >= n1 or k >= n2:
                    continue
                x = world.origin[0] + (i + 0.5) * h - goal[0]
                y = world.origin[1] + (j + 0.5) * h - goal[1]
                z = world.origin[2] + (k + 0.5) * h - goal[2]
                here = i == g[0] and j == g[1] and k == g[2]
                if not here and node_distance(world, i, j, k) < least:
                    continue
                field[i, j, k] = math.sqrt(x * x + y * y + z * z)
                b = int(field[i, j, k] / width)
                after[used], cell[used] = head[b], (i * n1 + j) * n2 + k
                head[b] = used
                used += 1
    inside = 0 <= s[0] < n0 and 0 <= s[1] < n1 and 0 <= s[2] < n2
    stop = buckets - 8
    b = 0
    while b < stop:
        entry = head[b]
        if entry < 0:
            b += 1
            continue
        head[b] = after[entry]
        index = cell[entry]
        k = index % n2
        j = (index // n2) % n1
        i = index // (n1 * n2)
        if done[i, j, k]:
            continue
        done[i, j, k] = 1
        if inside and i == s[0] and j == s[1] and k == s[2]:
            stop = min(stop, int((more * field[i, j, k] + spare) / width) + 1)
        for m in range(6):
            p = i + (1 if m == 0 else (-1 if m == 1 else 0))
            q = j + (1 if m == 2 else (-1 if m == 3 else 0))
            r = k + (1 if m == 4 else (-1 if m == 5 else 0))
            if p < 0 or q < 0 or r < 0 or p >= n0 or q >= n1 or r >= n2 or done[p, q, r]:
                continue
            last = inside and p == s[0] and q == s[1] and r == s[2]
            d = node_distance(world, p, q, r)
            if d < least and not last:
                continue
            slow = 1.0 if d >= need else 1.25
            if barred.shape[0] > 0:
                x = world.origin[0] + (p + 0.5) * h
                y = world.origin[1] + (q + 0.5) * h
                z = world.origin[2] + (r + 0.5) * h
                for e in range(barred.shape[0]):
                    off = (x - barred[e, 0]) ** 2 + (y - barred[e, 1]) ** 2
                    off += (z - barred[e, 2]) ** 2
                    if off < barred[e, 3] * barred[e, 3]:
                        slow = 6.0
            value = _arrival(
                _axis(field, p, q, r, 0),
                _axis(field, p, q, r, 1),
                _axis(field, p, q, r, 2),
                h * slow,
            )
            if value < field[p, q, r] - 1e-7:
                field[p, q, r] = value
                slot = max(b, int(value / width))
                if slot < buckets:
                    if used == room:
                        room *= 2
                        wider = np.empty(room, np.int32)
                        wider[:used] = after
                        after = wider
                        longer = np.empty(room, np.int64)
                        longer[:used] = cell
                        cell = longer
                    after[used], cell[used] = head[slot], (p * n1 + q) * n2 + r
                    head[slot] = used
                    used += 1


def goal_field(
    world: World,
    goal: NDArray[np.float64],
    start: NDArray[np.float64],
    need: Metre,
    barred: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Distance of every cell's centre from `goal` through passable cells; 1e9 where unknown [m].

    Parameters: need, clearance of the centre line [m]; barred (n, 4), balls to go round if there
    is another way: centre and radius [m]. Marching stops a third beyond the distance of `start`.
    """
    field = np.full(world.label.shape, _FAR, dtype=np.float32)
    _march(world, goal, start, need, 1.35, 0.3, barred, field)
    return field


@njit(cache=True)
def read_field(world, field, x, y, z, slope):  # type: ignore[no-untyped-def]
    """Field at a point from the known ones of eight nodes, -1 where none; writes its slope (3,)."""
    h = world.pitch[0]
    n0, n1, n2 = field.shape
    fx = (x - world.origin[0]) / h - 0.5
    fy = (y - world.origin[1]) / h - 0.5
    fz = (z - world.origin[2]) / h - 0.5
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


@njit(cache=True)
def _descend(world, field, start, goal, path):  # type: ignore[no-untyped-def]
    h = world.pitch[0]
    n0, n1, n2 = field.shape
    i = int(math.floor((start[0] - world.origin[0]) / h))
    j = int(math.floor((start[1] - world.origin[1]) / h))
    k = int(math.floor((start[2] - world.origin[2]) / h))
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
                    # the steepest way down
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


@njit(cache=True)
def _finish(path, count, goal):  # type: ignore[no-untyped-def]
    path[count] = goal
    return count + 1


def descend(
    world: World,
    field: NDArray[np.float32],
    start: NDArray[np.float64],
    goal: NDArray[np.float64],
) -> NDArray[np.float64] | None:
    """The way down a goal field from cell to cell, (n, 3), None where there is none [m]."""
    path = np.empty((4 * sum(field.shape), 3))
    count = _descend(world, field, start, goal, path)
    return path[:count].copy() if count else None
