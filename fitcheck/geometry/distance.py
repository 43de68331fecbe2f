"""Exact distances: point and segment to triangles, boxes, straight pieces and arcs.

Triangles are found through a uniform index of cubic bins in compressed rows. The kernels take
arrays and scalars only; plain functions allocate.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitcheck.kernels import kernel
from fitcheck.units import Metre

#: Bins per axis are limited so that the table of a huge mesh stays small.
MOST_BINS = 400


class TriangleIndex(NamedTuple):
    """Triangles and the bins each of them passes through.

    corner : (n, 3, 3) [m]; ball : (n, 4) centre and radius of a ball around each triangle [m]
    origin : (3,) corner of the first bin [m]; size : (1,) edge of a bin [m]; shape : (3,)
    start, item : compressed rows, bin -> triangles; asked : (n + 1,) last query of each triangle
    (marks those already visited)
    """

    corner: NDArray[np.float64]
    ball: NDArray[np.float64]
    origin: NDArray[np.float64]
    size: NDArray[np.float64]
    shape: NDArray[np.int64]
    start: NDArray[np.int64]
    item: NDArray[np.int64]
    asked: NDArray[np.int64]


def index_triangles(triangles: NDArray[np.float64], size: Metre) -> TriangleIndex:
    """Index of triangles by cubic bins.

    Parameters: triangles (n, 3, 3) [m], n may be 0; size, edge of a bin [m].
    """
    corner = np.ascontiguousarray(triangles, dtype=np.float64).reshape(-1, 3, 3).view()
    # always read-only: kernels are compiled again for writable arrays
    corner.setflags(write=False)
    if len(corner) == 0:
        low, high = np.zeros(3), np.full(3, size)
    else:
        low, high = corner.min(axis=(0, 1)), corner.max(axis=(0, 1))
    size = max(size, float((high - low).max()) / MOST_BINS)
    origin = low - 0.5 * size
    shape = np.floor((high - origin) / size).astype(np.int64) + 1
    ball = _balls(corner)
    count = np.zeros(int(shape.prod()) + 1, dtype=np.int64)
    _fill_bins(corner, origin, size, shape, count, np.zeros(0, dtype=np.int64), False)
    start = np.concatenate(([0], np.cumsum(count[:-1])))
    item = np.zeros(int(start[-1]), dtype=np.int64)
    _fill_bins(corner, origin, size, shape, start[:-1].copy(), item, True)
    asked = np.zeros(len(corner) + 1, dtype=np.int64)
    return TriangleIndex(corner, ball, origin, np.array([size]), shape, start, item, asked)


def _balls(corner: NDArray[np.float64]) -> NDArray[np.float64]:
    centre = (corner.min(axis=1) + corner.max(axis=1)) / 2
    radius = np.linalg.norm(corner - centre[:, None], axis=2).max(axis=1, initial=0.0)
    return np.column_stack([centre, radius * (1 + 1e-12)])


@kernel
def _fill_bins(corner, origin, size, shape, place, item, write):  # type: ignore[no-untyped-def]
    """Count in place (>= bins,) the triangles of every bin, or also list them in item.

    corner (n, 3, 3), origin (3,), size [m]; shape (3,). To write, place starts as each bin's first
    row of item (m,), which receives triangle numbers. A bin may list triangles just outside it.
    """
    reach = 0.8661 * size
    for t in range(corner.shape[0]):
        lo = np.empty(3, np.int64)
        hi = np.empty(3, np.int64)
        for a in range(3):
            least = min(corner[t, 0, a], corner[t, 1, a], corner[t, 2, a])
            most = max(corner[t, 0, a], corner[t, 1, a], corner[t, 2, a])
            lo[a] = max(0, int(math.floor((least - origin[a]) / size - 1e-9)))
            hi[a] = min(shape[a] - 1, int(math.floor((most - origin[a]) / size + 1e-9)))
        for i in range(lo[0], hi[0] + 1):
            for j in range(lo[1], hi[1] + 1):
                for k in range(lo[2], hi[2] + 1):
                    x = origin[0] + (i + 0.5) * size
                    y = origin[1] + (j + 0.5) * size
                    z = origin[2] + (k + 0.5) * size
                    if point_triangle2(x, y, z, corner, t) <= reach * reach:
                        b = (i * shape[1] + j) * shape[2] + k
                        if write:
                            item[place[b]] = t
                        place[b] += 1


@kernel
def point_triangle2(px, py, pz, corner, t):  # type: ignore[no-untyped-def]
    """Squared distance of a point to triangle t [m2], by the region of the nearest feature.

    px, py, pz [m]; corner (n, 3, 3) [m].
    Method: Ericson, Real-Time Collision Detection, 2005, section 5.1.5 (from memory).
    """
    ax, ay, az = corner[t, 0, 0], corner[t, 0, 1], corner[t, 0, 2]
    abx, aby, abz = corner[t, 1, 0] - ax, corner[t, 1, 1] - ay, corner[t, 1, 2] - az
    acx, acy, acz = corner[t, 2, 0] - ax, corner[t, 2, 1] - ay, corner[t, 2, 2] - az
    apx, apy, apz = px - ax, py - ay, pz - az
    d1 = abx * apx + aby * apy + abz * apz
    d2 = acx * apx + acy * apy + acz * apz
    if d1 <= 0.0 and d2 <= 0.0:
        return apx * apx + apy * apy + apz * apz
    bpx, bpy, bpz = apx - abx, apy - aby, apz - abz
    d3 = abx * bpx + aby * bpy + abz * bpz
    d4 = acx * bpx + acy * bpy + acz * bpz
    if d3 >= 0.0 and d4 <= d3:
        return bpx * bpx + bpy * bpy + bpz * bpz
    cpx, cpy, cpz = apx - acx, apy - acy, apz - acz
    d5 = abx * cpx + aby * cpy + abz * cpz
    d6 = acx * cpx + acy * cpy + acz * cpz
    if d6 >= 0.0 and d5 <= d6:
        return cpx * cpx + cpy * cpy + cpz * cpz
    vc = d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        f = d1 / (d1 - d3)
        ex, ey, ez = apx - f * abx, apy - f * aby, apz - f * abz
        return ex * ex + ey * ey + ez * ez
    vb = d5 * d2 - d1 * d6
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        f = d2 / (d2 - d6)
        ex, ey, ez = apx - f * acx, apy - f * acy, apz - f * acz
        return ex * ex + ey * ey + ez * ez
    va = d3 * d6 - d5 * d4
    if va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        f = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        ex = bpx - f * (acx - abx)
        ey = bpy - f * (acy - aby)
        ez = bpz - f * (acz - abz)
        return ex * ex + ey * ey + ez * ez
    total = va + vb + vc
    v, w = vb / total, vc / total
    ex = apx - v * abx - w * acx
    ey = apy - v * aby - w * acy
    ez = apz - v * abz - w * acz
    return ex * ex + ey * ey + ez * ez


@kernel
def nearest_triangle(x, y, z, index, cutoff):  # type: ignore[no-untyped-def]
    """(distance [m], triangle) of the nearest triangle closer than `cutoff`, else (cutoff, -1).

    x, y, z, cutoff [m]; index a TriangleIndex, whose `asked` is written.
    """
    size = index.size[0]
    best = cutoff
    best2 = cutoff * cutoff
    found = -1
    last = index.asked.shape[0] - 1
    index.asked[last] += 1
    query = index.asked[last]
    n0, n1, n2 = index.shape[0], index.shape[1], index.shape[2]
    fx, fy, fz = x - index.origin[0], y - index.origin[1], z - index.origin[2]
    i0 = max(0, int(math.floor((fx - cutoff) / size)))
    i1 = min(n0 - 1, int(math.floor((fx + cutoff) / size)))
    j0 = max(0, int(math.floor((fy - cutoff) / size)))
    j1 = min(n1 - 1, int(math.floor((fy + cutoff) / size)))
    k0 = max(0, int(math.floor((fz - cutoff) / size)))
    k1 = min(n2 - 1, int(math.floor((fz + cutoff) / size)))
    if i0 > i1 or j0 > j1 or k0 > k1:
        return best, found
    ci, cj = int(fx // size), int(fy // size)
    for n in range(2 * (i1 - i0 + 1) + 2 * abs(ci - i0) + 2):
        # rows near the point first: what is found there rules out the others
        i = ci + (n + 1) // 2 if n % 2 else ci - n // 2
        if i < i0 or i > i1:
            continue
        gx = max(0.0, i * size - fx, fx - (i + 1) * size)
        if gx >= best:
            continue
        for m in range(2 * (j1 - j0 + 1) + 2 * abs(cj - j0) + 2):
            j = cj + (m + 1) // 2 if m % 2 else cj - m // 2
            if j < j0 or j > j1:
                continue
            row = (i * n1 + j) * n2
            if index.start[row + k0] == index.start[row + k1 + 1]:
                continue
            gy = max(0.0, j * size - fy, fy - (j + 1) * size)
            if gx * gx + gy * gy >= best2:
                continue
            for k in range(k0, k1 + 1):
                first, end = index.start[row + k], index.start[row + k + 1]
                if first == end:
                    continue
                gz = max(0.0, k * size - fz, fz - (k + 1) * size)
                if gx * gx + gy * gy + gz * gz >= best2:
                    continue
                for e in range(first, end):
                    t = index.item[e]
                    if index.asked[t] == query:
                        continue
                    index.asked[t] = query
                    bx, by, bz = x - index.ball[t, 0], y - index.ball[t, 1], z - index.ball[t, 2]
                    reach = best + index.ball[t, 3]
                    if bx * bx + by * by + bz * bz >= reach * reach:
                        continue
                    d2 = point_triangle2(x, y, z, index.corner, t)
                    if d2 < best2:
                        best2 = d2
                        best = math.sqrt(d2)
                        found = t
    return best, found


@kernel
def segment_segment2(a, b, c, d):  # type: ignore[no-untyped-def]
    """Squared distance of segments ab and cd [m2]; each argument is (3,) [m]."""
    ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    vx, vy, vz = d[0] - c[0], d[1] - c[1], d[2] - c[2]
    wx, wy, wz = a[0] - c[0], a[1] - c[1], a[2] - c[2]
    uu = ux * ux + uy * uy + uz * uz
    vv = vx * vx + vy * vy + vz * vz
    uv = ux * vx + uy * vy + uz * vz
    uw = ux * wx + uy * wy + uz * wz
    vw = vx * wx + vy * wy + vz * wz
    det = uu * vv - uv * uv
    s = 0.0
    if det > 1e-14 * uu * vv:
        s = min(1.0, max(0.0, (uv * vw - vv * uw) / det))
    t = (uv * s + vw) / vv if vv > 0.0 else 0.0
    if t < 0.0:
        t = 0.0
        s = min(1.0, max(0.0, -uw / uu)) if uu > 0.0 else 0.0
    elif t > 1.0:
        t = 1.0
        s = min(1.0, max(0.0, (uv - uw) / uu)) if uu > 0.0 else 0.0
    ex, ey, ez = wx + s * ux - t * vx, wy + s * uy - t * vy, wz + s * uz - t * vz
    return ex * ex + ey * ey + ez * ez


@kernel
def segment_triangle(a, b, corner, t):  # type: ignore[no-untyped-def]
    """Distance of segment ab to triangle t; 0 where they cross [m]."""
    p, q, r = corner[t, 0], corner[t, 1], corner[t, 2]
    if _crosses(a, b, p, q, r):
        return 0.0
    best = min(segment_segment2(a, b, p, q), segment_segment2(a, b, q, r))
    best = min(best, segment_segment2(a, b, r, p))
    best = min(best, point_triangle2(a[0], a[1], a[2], corner, t))
    best = min(best, point_triangle2(b[0], b[1], b[2], corner, t))
    return math.sqrt(best)


@kernel
def _crosses(a, b, p, q, r):  # type: ignore[no-untyped-def]
    """Whether segment ab meets triangle pqr, each (3,) [m]; never for one in its plane."""
    ux, uy, uz = q[0] - p[0], q[1] - p[1], q[2] - p[2]
    vx, vy, vz = r[0] - p[0], r[1] - p[1], r[2] - p[2]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    da = nx * (a[0] - p[0]) + ny * (a[1] - p[1]) + nz * (a[2] - p[2])
    db = nx * (b[0] - p[0]) + ny * (b[1] - p[1]) + nz * (b[2] - p[2])
    if da * db > 0.0 or da == db:
        return False
    f = da / (da - db)
    wx = a[0] + f * (b[0] - a[0]) - p[0]
    wy = a[1] + f * (b[1] - a[1]) - p[1]
    wz = a[2] + f * (b[2] - a[2]) - p[2]
    uu, vv = ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz
    uv = ux * vx + uy * vy + uz * vz
    wu, wv = wx * ux + wy * uy + wz * uz, wx * vx + wy * vy + wz * vz
    det = uu * vv - uv * uv
    if det <= 0.0:
        return False
    s, t = (vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det
    return s >= 0.0 and t >= 0.0 and s + t <= 1.0


@kernel
def nearest_to_segment(a, b, index, cutoff):  # type: ignore[no-untyped-def]
    """(distance [m], triangle) of the triangle nearest to segment ab, else (cutoff, -1).

    Only triangles closer than `cutoff` count. a, b (3,), cutoff [m]; index a TriangleIndex, whose
    `asked` is written.
    """
    best, found = cutoff, -1
    size = index.size[0]
    last = index.asked.shape[0] - 1
    index.asked[last] += 1
    query = index.asked[last]
    lo, hi = np.empty(3, np.int64), np.empty(3, np.int64)
    for m in range(3):
        lo[m] = max(0, int(math.floor((min(a[m], b[m]) - cutoff - index.origin[m]) / size)))
        most = int(math.floor((max(a[m], b[m]) + cutoff - index.origin[m]) / size))
        hi[m] = min(index.shape[m] - 1, most)
    for i in range(lo[0], hi[0] + 1):
        for j in range(lo[1], hi[1] + 1):
            for k in range(lo[2], hi[2] + 1):
                bin_ = (i * index.shape[1] + j) * index.shape[2] + k
                for m in range(index.start[bin_], index.start[bin_ + 1]):
                    t = index.item[m]
                    if index.asked[t] == query:
                        continue
                    index.asked[t] = query
                    d = segment_triangle(a, b, index.corner, t)
                    if d < best:
                        best, found = d, t
    return best, found


@kernel
def meets_triangle(a, b, index):  # type: ignore[no-untyped-def]
    """Whether segment ab passes through any triangle; a, b (3,) [m]; index a TriangleIndex."""
    size = index.size[0]
    n1, n2 = index.shape[1], index.shape[2]
    lo, hi = np.empty(3, np.int64), np.empty(3, np.int64)
    for m in range(3):
        lo[m] = max(0, int(math.floor((min(a[m], b[m]) - index.origin[m]) / size)))
        most = int(math.floor((max(a[m], b[m]) - index.origin[m]) / size))
        hi[m] = min(index.shape[m] - 1, most)
    x, y, z = 0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]), 0.5 * (a[2] + b[2])
    if lo[0] > hi[0] or lo[1] > hi[1] or lo[2] > hi[2]:
        return False
    half = 0.5 * math.sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2)
    for i in range(lo[0], hi[0] + 1):
        for j in range(lo[1], hi[1] + 1):
            row = (i * n1 + j) * n2
            for e in range(index.start[row + lo[2]], index.start[row + hi[2] + 1]):
                t = index.item[e]
                reach = half + index.ball[t, 3]
                dx, dy, dz = x - index.ball[t, 0], y - index.ball[t, 1], z - index.ball[t, 2]
                if dx * dx + dy * dy + dz * dz > reach * reach:
                    continue
                if _crosses(a, b, index.corner[t, 0], index.corner[t, 1], index.corner[t, 2]):
                    return True
    return False


@kernel
def point_box(x, y, z, boxes, b):  # type: ignore[no-untyped-def]
    """Distance of a point to box b, 0 inside; a row is centre, half sizes, three axes [m]."""
    dx, dy, dz = x - boxes[b, 0], y - boxes[b, 1], z - boxes[b, 2]
    total = 0.0
    for a in range(3):
        m = 6 + 3 * a
        along = dx * boxes[b, m] + dy * boxes[b, m + 1] + dz * boxes[b, m + 2]
        over = abs(along) - boxes[b, 3 + a]
        if over > 0.0:
            total += over * over
    return math.sqrt(total)


@kernel
def point_piece(x, y, z, pieces, p):  # type: ignore[no-untyped-def]
    """Distance of a point to piece p of a curve [m].

    A row is start (3), tangent (3), side (3), radius, length: a point at s lies at start + s
    tangent when radius is 0, else on the arc that turns from the tangent to the side.
    """
    dx, dy, dz = x - pieces[p, 0], y - pieces[p, 1], z - pieces[p, 2]
    a = dx * pieces[p, 3] + dy * pieces[p, 4] + dz * pieces[p, 5]
    radius, length = pieces[p, 9], pieces[p, 10]
    if radius == 0.0:
        s = min(length, max(0.0, a))
        ex, ey, ez = dx - s * pieces[p, 3], dy - s * pieces[p, 4], dz - s * pieces[p, 5]
        return math.sqrt(ex * ex + ey * ey + ez * ez)
    b = dx * pieces[p, 6] + dy * pieces[p, 7] + dz * pieces[p, 8]
    ex = dx - a * pieces[p, 3] - b * pieces[p, 6]
    ey = dy - a * pieces[p, 4] - b * pieces[p, 7]
    ez = dz - a * pieces[p, 5] - b * pieces[p, 8]
    h2 = ex * ex + ey * ey + ez * ez
    angle = length / radius
    phi = math.atan2(a, radius - b)
    if phi < 0.0:
        phi += 2.0 * math.pi
    if phi <= angle:
        off = math.hypot(a, radius - b) - radius
        return math.sqrt(off * off + h2)
    ea, eb = a - radius * math.sin(angle), b - radius * (1.0 - math.cos(angle))
    return math.sqrt(min(a * a + b * b, ea * ea + eb * eb) + h2)


def distances(
    points: NDArray[np.float64], index: TriangleIndex, cutoff: Metre
) -> NDArray[np.float64]:
    """Exact distance of (n, 3) points to the nearest triangle, up to `cutoff` [m]."""
    points = np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 3)
    result: NDArray[np.float64] = _many(points, index, cutoff)
    return result


@kernel
def _many(points, index, cutoff):  # type: ignore[no-untyped-def]
    """Distances (n,) of points (n, 3) to the nearest triangle, up to `cutoff` [m]."""
    out = np.empty(points.shape[0])
    for n in range(points.shape[0]):
        out[n] = nearest_triangle(points[n, 0], points[n, 1], points[n, 2], index, cutoff)[0]
    return out


def nearest(
    points: NDArray[np.float64], index: TriangleIndex, cutoff: Metre
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """(n,) exact distances as in `distances`, and (n,) which triangle, -1 beyond `cutoff`."""
    points = np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 3)
    found: tuple[NDArray[np.float64], NDArray[np.int64]] = _many_which(points, index, cutoff)
    return found


@kernel
def _many_which(points, index, cutoff):  # type: ignore[no-untyped-def]
    """Distances (n,) [m] as from `_many`, and which triangle (n,), -1 beyond `cutoff`."""
    out = np.empty(points.shape[0])
    which = np.empty(points.shape[0], np.int64)
    for n in range(points.shape[0]):
        p = points[n]
        out[n], which[n] = nearest_triangle(p[0], p[1], p[2], index, cutoff)
    return out, which
