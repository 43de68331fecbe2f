"""Exact smallest distance from a rotated box to triangles and to another box, in any direction.

Between a disjoint box and triangle the distance is reached between a corner of the triangle and
the box, between two edges, or between a corner of the box and the triangle's inside.
"""

from __future__ import annotations

import math

import numpy as np

from fitcheck.geometry.box import Box, as_point, surface
from fitcheck.geometry.distance import TriangleIndex
from fitcheck.geometry.overlap import (
    _bin_range,
    _to_local,
    _triangle_overlaps,
    bins,
    boxes_depth,
    few,
)
from fitcheck.kernels import kernel
from fitcheck.units import Metre, Point


def gap_to_triangles(
    index: TriangleIndex, box: Box, most: Metre = math.inf
) -> tuple[Metre, Point | None]:
    """Smallest distance from the box to the triangles [m] and the point of theirs nearest to it.

    Zero when the box overlaps one of them; (inf, None) when none is within `most`.
    """
    if len(index.corner) == 0:
        return math.inf, None
    reach = min(max(0.25 * max(box.half), 0.02), most)
    point = np.zeros(3)
    frame = np.array(box.centre), np.array(box.half), np.array(box.axes)
    while True:
        gap = float(_nearest(*bins(index), *frame, reach, point))
        if gap <= reach:
            return gap, as_point(box.world(point))
        if reach >= most:
            return math.inf, None
        reach = min(2 * reach, most)


def boxes_gap(a: Box, b: Box) -> tuple[Metre, Point]:
    """Distance between two boxes [m], negative by the smallest separating shift when they overlap.

    The point is the one of `b` nearest to `a`; for overlapping boxes, a point inside both.
    """
    depth = boxes_depth(a, b)
    if depth > 0.0:
        inside = b.local(a.world(np.clip(a.local(np.array(b.centre)), -np.array(a.half), a.half)))
        return -depth, as_point(b.world(np.clip(inside, -np.array(b.half), b.half)))
    gap, point = gap_to_triangles(few(surface(b)), a)
    return gap, point if point is not None else b.centre


# --- kernels: arrays and scalars only ---------------------------------------------------------


@kernel
def _nearest(  # type: ignore[no-untyped-def]
    triangles, start, item, origin, width, shape, centre, half, axes, reach, point
):
    """Smallest distance of a box to the triangles up to `reach`, inf beyond [m].

    Triangles and bins as from `bins`; centre, half (3,), reach [m]; axes (3, 3) unit rows; point
    (3,) [m], written in the box's own axes from its centre.
    """
    spread = np.empty(3)
    for a in range(3):
        spread[a] = reach + (
            abs(axes[0, a]) * half[0] + abs(axes[1, a]) * half[1] + abs(axes[2, a]) * half[2]
        )
    first, last = _bin_range(origin, width, shape, centre - spread, centre + spread)
    local = np.empty((3, 3))
    here = np.empty(3)
    best = reach * reach * (1 + 1e-12) + 1e-300
    found = False
    for i in range(first[0], last[0] + 1):
        for j in range(first[1], last[1] + 1):
            row = (i * shape[1] + j) * shape[2]
            for m in range(start[row + first[2]], start[row + last[2] + 1]):
                _to_local(triangles[item[m]], centre, axes, local)
                if _bounds_gap(local, half) > best:
                    continue
                gap = _triangle_gap(local, half, here)
                if gap <= best:
                    best = gap
                    found = True
                    point[:] = here
                    if best == 0.0:
                        return 0.0
    return math.sqrt(best) if found else np.inf


@kernel
def _bounds_gap(v, half):  # type: ignore[no-untyped-def]
    """Lower bound on the squared distance from the box at the origin to a triangle's bounds [m2].

    v (3, 3) corners, half (3,) [m].
    """
    total = 0.0
    for a in range(3):
        low = min(v[0, a], v[1, a], v[2, a]) - half[a]
        high = -half[a] - max(v[0, a], v[1, a], v[2, a])
        off = max(low, high, 0.0)
        total += off * off
    return total


@kernel
def _triangle_gap(v, half, point):  # type: ignore[no-untyped-def]
    """Squared distance of a triangle to the box at the origin [m2].

    v (3, 3) corners, half (3,) [m]; point (3,) [m], the triangle's nearest, is written.
    """
    if _triangle_overlaps(v, half):
        _point_in_both(v, half, point)
        return 0.0
    best = np.inf
    for s in range(3):
        gap = 0.0
        for a in range(3):
            off = max(abs(v[s, a]) - half[a], 0.0)
            gap += off * off
        if gap < best:
            best = gap
            point[:] = v[s]
    best = _corners_gap(v, half, best, point)
    return _edges_gap(v, half, best, point)


@kernel
def _point_in_both(v, half, point):  # type: ignore[no-untyped-def]
    """Find approximately the triangle's deepest point in the box: its point of least outside
    distance.

    v (3, 3) corners, half (3,) [m]; point (3,) [m] is written.
    """
    best = np.inf
    steps = 12
    for i in range(steps + 1):
        for j in range(steps + 1 - i):
            s, t = i / steps, j / steps
            off = -np.inf
            for a in range(3):
                p = v[0, a] + s * (v[1, a] - v[0, a]) + t * (v[2, a] - v[0, a])
                off = max(off, abs(p) - half[a])
            if off < best:
                best = off
                point[:] = v[0] + s * (v[1] - v[0]) + t * (v[2] - v[0])


@kernel
def _corners_gap(v, half, best, point):  # type: ignore[no-untyped-def]
    """Lower `best` [m2] using the box corners that project onto the triangle's inside.

    v (3, 3) corners, half (3,) [m]; point (3,) [m] is written where the result is below `best`.
    """
    e, f = v[1] - v[0], v[2] - v[0]
    n = np.array([e[1] * f[2] - e[2] * f[1], e[2] * f[0] - e[0] * f[2], e[0] * f[1] - e[1] * f[0]])
    square = n[0] * n[0] + n[1] * n[1] + n[2] * n[2]
    if square < 1e-30:
        return best
    for c in range(8):
        x = (half[0] if c & 1 else -half[0]) - v[0, 0]
        y = (half[1] if c & 2 else -half[1]) - v[0, 1]
        z = (half[2] if c & 4 else -half[2]) - v[0, 2]
        off = n[0] * x + n[1] * y + n[2] * z
        if off * off / square >= best:
            continue
        gx, gy, gz = y * f[2] - z * f[1], z * f[0] - x * f[2], x * f[1] - y * f[0]
        s = (gx * n[0] + gy * n[1] + gz * n[2]) / square
        gx, gy, gz = e[1] * z - e[2] * y, e[2] * x - e[0] * z, e[0] * y - e[1] * x
        t = (gx * n[0] + gy * n[1] + gz * n[2]) / square
        if s >= 0.0 and t >= 0.0 and s + t <= 1.0:
            best = off * off / square
            point[:] = v[0] + s * e + t * f
    return best


@kernel
def _edges_gap(v, half, best, point):  # type: ignore[no-untyped-def]
    """Lower `best` [m2] using the twelve edges of the box against the three of the triangle.

    v (3, 3) corners, half (3,) [m]; point (3,) [m] is written where the result is below `best`.
    """
    for s in range(3):
        t = (s + 1) % 3
        dx, dy, dz = v[t, 0] - v[s, 0], v[t, 1] - v[s, 1], v[t, 2] - v[s, 2]
        for a in range(3):
            b, c = (a + 1) % 3, (a + 2) % 3
            for sign in range(4):
                pb = half[b] if sign & 1 else -half[b]
                pc = half[c] if sign & 2 else -half[c]
                gap, u = _edge_gap(v[s], dx, dy, dz, a, b, c, half[a], pb, pc)
                if gap < best:
                    best = gap
                    point[0] = v[s, 0] + u * dx
                    point[1] = v[s, 1] + u * dy
                    point[2] = v[s, 2] + u * dz
    return best


@kernel
def _edge_gap(p, dx, dy, dz, a, b, c, reach, pb, pc):  # type: ignore[no-untyped-def]
    """Squared distance [m2] from p + u d, 0 <= u <= 1, to the box edge along axis `a`; and that u.

    The edge is |w| <= reach at (pb, pc) on the other axes. Without its ends the distance is a
    parabola in u; beyond an end it is the distance to that end: a convex function of three pieces.
    p (3,), d = (dx, dy, dz), reach, pb, pc [m]; a, b, c the three axes by number.
    """
    d = (dx, dy, dz)
    square = d[b] * d[b] + d[c] * d[c]
    whole = square + d[a] * d[a]
    if whole == 0.0:
        return np.inf, 0.0
    ub, uc = p[b] - pb, p[c] - pc
    u = 0.0
    if square > 0.0:
        u = min(max(-(ub * d[b] + uc * d[c]) / square, 0.0), 1.0)
    w = p[a] + u * d[a]
    if abs(w) > reach:
        end = reach if w > 0.0 else -reach
        u = -((p[a] - end) * d[a] + ub * d[b] + uc * d[c]) / whole
        u = min(max(u, 0.0), 1.0)
        w = p[a] + u * d[a]
    over = max(abs(w) - reach, 0.0)
    x, y = ub + u * d[b], uc + u * d[c]
    return over * over + x * x + y * y, u
