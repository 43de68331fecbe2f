"""What is in front of a box's face: triangles and cells clipped to the prism over the face.

Depths count along the face's outward direction from the face, negative behind it.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import FACES, Box, as_point
from fitcheck.geometry.distance import TriangleIndex
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.overlap import (
    TOUCH,
    _bin_range,
    _to_local,
    bins,
    triangles_near,
)
from fitcheck.kernels import kernel
from fitcheck.units import Metre, Point, Ratio

#: Margin behind a face exactly on a surface, so that rounding does not hide the surface [m].
BACK = 1e-7
#: Maximum corners of a triangle or a square cut by six planes. In exact arithmetic it is 9 and 10,
#: but a plane that is within rounding of them all cuts a polygon of n corners up to n times: from
#: 3 to 4, 6, 9, 13, 19, 28, and from 4 to 6, 9, 13, 19, 28, 42.
MOST_CORNERS = 42

Floats = NDArray[np.float64]


def prism_gap(
    index: TriangleIndex, box: Box, face: str, most: Metre
) -> tuple[Metre, Point | None, int]:
    """Exact gap from a face to the first triangle in front of it, square to it, over its full
    area.

    Returns the gap [m], the place and the triangle's number; (inf, None, -1) when there is nothing
    within `most`. A triangle that only touches the prism's sides is not in front of the face.
    """
    axis, sign = FACES[face]
    frame = np.array(box.centre), np.array(box.axes)
    point = np.zeros(3)
    reach = min(0.2, most)
    while True:
        low, high = _region(box, axis, sign, -BACK, reach)
        args = (*bins(index), *frame, low, high, axis, sign, point)
        depth, number = _first_triangle(*args)
        if number >= 0:
            gap = max(depth - box.half[axis], 0.0)
            return float(gap), as_point(box.world(point)), int(number)
        if reach >= most:
            return math.inf, None, -1
        reach = min(3 * reach, most)


def prism_cells_gap(
    mask: NDArray[np.bool_], grid: Grid, box: Box, face: str, most: Metre
) -> tuple[Metre, Point | None]:
    """Exact gap from a face to the first cell cube set in `mask` in front of it [m], and the
    place.
    """
    axis, sign = FACES[face]
    frame = np.array(box.centre), np.array(box.axes)
    point = np.zeros(3)
    reach = min(0.2, most)
    while True:
        low, high = _region(box, axis, sign, -BACK, reach)
        origin = np.array(grid.origin)
        depth = _first_cell(mask, origin, grid.pitch, *frame, low, high, axis, sign, point)
        if depth < np.inf:
            return float(max(depth - box.half[axis], 0.0)), as_point(box.world(point))
        if reach >= most:
            return math.inf, None
        reach = min(3 * reach, most)


def prism_edge_gap(low: Floats, high: Floats, box: Box, face: str) -> tuple[Metre, Point]:
    """How far the face can move outward before it leaves the block low..high [m]; and where."""
    axis, sign = FACES[face]
    outward = sign * np.array(box.axes)[axis]
    corners = _face_corners(box, axis, sign)
    with np.errstate(divide="ignore", invalid="ignore"):
        ahead = np.where(outward > 0, high - corners, low - corners) / outward
    ahead = np.where(np.abs(outward) < 1e-12, np.inf, ahead)
    first = int(ahead.min(axis=1).argmin())
    gap = float(ahead.min(axis=1)[first])
    return gap, as_point(corners[first] + gap * outward)


def pieces_inside(index: TriangleIndex, box: Box) -> tuple[Floats, NDArray[np.int64], Floats]:
    """Triangles clipped to the box.

    Returns, one row per piece: how deep it reaches behind each face in the order of FACES (m, 6)
    [m]; the box axis closest to its triangle's normal (m,); the deepest points (m, 6, 3) in the
    boat frame [m].
    """
    reach = np.abs(np.array(box.axes)).T @ np.array(box.half)
    near = triangles_near(index, np.array(box.centre) - reach, np.array(box.centre) + reach)
    half = np.array(box.half) - TOUCH
    depth, axis = np.zeros((len(near), 6)), np.full(len(near), -1, dtype=np.int64)
    points = np.zeros((len(near), 6, 3))
    frame = np.array(box.centre), np.array(box.axes)
    _clip_inside(index.corner[near], *frame, half, depth, axis, points)
    keep = axis >= 0
    return depth[keep], axis[keep], box.world(points[keep])


def covered(index: TriangleIndex, box: Box, face: str, behind: Metre, before: Metre) -> Ratio:
    """Share of a face's area with triangles between `behind` and `before` it, projected onto the
    face [1].

    Sheets one behind the other each count, so the share may exceed one.
    """
    axis, sign = FACES[face]
    low, high = _region(box, axis, sign, -behind, before)
    corners = box.world(np.array([low, high]))
    reach = np.abs(np.array(box.axes)).T @ ((high - low) / 2)
    middle = corners.mean(axis=0)
    near = triangles_near(index, middle - reach, middle + reach)
    frame = np.array(box.centre), np.array(box.axes)
    area = _area_inside(index.corner[near], *frame, low, high, axis)
    sides = np.delete(np.array(box.half), axis)
    return float(area / (4 * sides.prod()))


def _region(box: Box, axis: int, sign: int, behind: Metre, before: Metre) -> tuple[Floats, Floats]:
    """The prism over a face as a block in the box's own axes; its sides stop short of a touch."""
    low, high = TOUCH - np.array(box.half), np.array(box.half) - TOUCH
    ends = sorted((sign * (box.half[axis] + behind), sign * (box.half[axis] + before)))
    low[axis], high[axis] = ends
    return low, high


def _face_corners(box: Box, axis: int, sign: int) -> Floats:
    signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
    return box.world(signs[signs[:, axis] == sign] * np.array(box.half))


# --- kernels: arrays and scalars only ---------------------------------------------------------


@kernel
def _clip_to(polygon, count, low, high, spare):  # type: ignore[no-untyped-def]
    """Clip a convex polygon to the block low..high in place; returns its new corner count.

    polygon, spare (MOST_CORNERS, 3), of which count rows are corners, low, high (3,) [m].
    """
    for a in range(3):
        for side in range(2):
            kept = 0
            for i in range(count):
                j = (i + 1) % count
                if side == 0:
                    here, there = polygon[i, a] - low[a], polygon[j, a] - low[a]
                else:
                    here, there = high[a] - polygon[i, a], high[a] - polygon[j, a]
                if here >= 0.0:
                    spare[kept] = polygon[i]
                    kept += 1
                if (here > 0.0 and there < 0.0) or (here < 0.0 and there > 0.0):
                    w = here / (here - there)
                    for b in range(3):
                        spare[kept, b] = polygon[i, b] + w * (polygon[j, b] - polygon[i, b])
                    kept += 1
            count = kept
            if count == 0:
                return 0
            polygon[:count] = spare[:count]
    return count


@kernel
def _misses(polygon, count, low, high):  # type: ignore[no-untyped-def]
    """Whether a polygon's bounds miss the block; polygon (>= count, 3), low, high (3,) [m]."""
    for a in range(3):
        least, most = np.inf, -np.inf
        for i in range(count):
            least = min(least, polygon[i, a])
            most = max(most, polygon[i, a])
        if least > high[a] or most < low[a]:
            return True
    return False


@kernel
def _world_bounds(centre, axes, low, high):  # type: ignore[no-untyped-def]
    """Bounds (3,) in the boat frame of a block low..high given in the box's own axes [m].

    centre, low, high (3,) [m]; axes (3, 3) unit rows.
    """
    first = centre.copy()
    last = centre.copy()
    for b in range(3):
        for a in range(3):
            p, q = axes[a, b] * low[a], axes[a, b] * high[a]
            first[b] += min(p, q)
            last[b] += max(p, q)
    return first, last


@kernel
def _first_triangle(  # type: ignore[no-untyped-def]
    triangles, start, item, origin, width, shape, centre, axes, low, high, axis, sign, point
):
    """Smallest sign * coordinate along `axis` [m] of the triangles clipped to the block, and
    which.

    Triangles and bins as from `bins`; centre, low, high (3,) [m]; axes (3, 3) unit rows; point
    (3,) [m] is written in the box's own axes. (inf, -1) without any.
    """
    begin, end = _world_bounds(centre, axes, low, high)
    first, last = _bin_range(origin, width, shape, begin, end)
    polygon, spare = np.empty((MOST_CORNERS, 3)), np.empty((MOST_CORNERS, 3))
    best, number = np.inf, -1
    for i in range(first[0], last[0] + 1):
        for j in range(first[1], last[1] + 1):
            row = (i * shape[1] + j) * shape[2]
            for m in range(start[row + first[2]], start[row + last[2] + 1]):
                _to_local(triangles[item[m]], centre, axes, polygon)
                if _misses(polygon, np.int64(3), low, high):
                    continue
                nearest = sign * polygon[0, axis]
                for v in range(1, 3):
                    nearest = min(nearest, sign * polygon[v, axis])
                if nearest >= best:
                    continue
                for v in range(_clip_to(polygon, np.int64(3), low, high, spare)):
                    if sign * polygon[v, axis] < best:
                        best = sign * polygon[v, axis]
                        number = item[m]
                        point[:] = polygon[v]
    return best, number


@kernel
def _first_cell(  # type: ignore[no-untyped-def]
    mask, origin, pitch, centre, axes, low, high, axis, sign, point
):
    """Smallest sign * coordinate along `axis` [m] of the cell cubes clipped to the block, else
    inf.

    mask (ni, nj, nk); origin (3,), pitch [m]; centre, low, high (3,) [m]; axes (3, 3) unit rows;
    point (3,) [m] is written in the box's own axes.
    """
    begin, end = _world_bounds(centre, axes, low, high)
    first, last = _bin_range(origin, pitch, np.array(mask.shape), begin, end)
    polygon, spare = np.empty((MOST_CORNERS, 3)), np.empty((MOST_CORNERS, 3))
    middle = np.empty(3)
    spread = np.empty(3)
    for a in range(3):
        spread[a] = pitch / 2 * (abs(axes[a, 0]) + abs(axes[a, 1]) + abs(axes[a, 2]))
    best = np.inf
    for i in range(first[0], last[0] + 1):
        for j in range(first[1], last[1] + 1):
            for k in range(first[2], last[2] + 1):
                if not mask[i, j, k]:
                    continue
                x = origin[0] + (i + 0.5) * pitch - centre[0]
                y = origin[1] + (j + 0.5) * pitch - centre[1]
                z = origin[2] + (k + 0.5) * pitch - centre[2]
                out = False
                for a in range(3):
                    middle[a] = axes[a, 0] * x + axes[a, 1] * y + axes[a, 2] * z
                    out = out or middle[a] - spread[a] > high[a] or middle[a] + spread[a] < low[a]
                if out or sign * middle[axis] - spread[axis] >= best:
                    continue
                best = _cube_depth(
                    middle, pitch, axes, low, high, axis, sign, best, point, polygon, spare
                )
    return best


@kernel
def _cube_depth(  # type: ignore[no-untyped-def]
    middle, pitch, axes, low, high, axis, sign, best, point, polygon, spare
):
    """Lower `best` [m] using the six sides of one cube, clipped to the block.

    middle (3,) of the cube in the box's axes, pitch, low, high (3,) [m]; axes (3, 3) unit rows;
    point (3,) [m] is written; polygon, spare (MOST_CORNERS, 3) [m] are overwritten.
    """
    for d in range(3):
        e, f = (d + 1) % 3, (d + 2) % 3
        for side in (-0.5, 0.5):
            for c in range(4):
                u = 0.5 if c == 1 or c == 2 else -0.5
                w = 0.5 if c >= 2 else -0.5
                for a in range(3):
                    polygon[c, a] = middle[a] + pitch * (
                        side * axes[a, d] + u * axes[a, e] + w * axes[a, f]
                    )
            if _misses(polygon, np.int64(4), low, high):
                continue
            for v in range(_clip_to(polygon, np.int64(4), low, high, spare)):
                if sign * polygon[v, axis] < best:
                    best = sign * polygon[v, axis]
                    point[:] = polygon[v]
    return best


@kernel
def _looks_along(v):  # type: ignore[no-untyped-def]
    """Axis, 0 to 2, closest to a triangle's normal; v (>= 3, 3) corners [m]."""
    e, f = v[1] - v[0], v[2] - v[0]
    n = (
        abs(e[1] * f[2] - e[2] * f[1]),
        abs(e[2] * f[0] - e[0] * f[2]),
        abs(e[0] * f[1] - e[1] * f[0]),
    )
    if n[0] >= n[1] and n[0] >= n[2]:
        return 0
    return 1 if n[1] >= n[2] else 2


@kernel
def _clip_inside(triangles, centre, axes, half, depth, axis, points):  # type: ignore[no-untyped-def]
    """Clip triangles (n, 3, 3) [m] to a box at centre; rows of triangles outside are unchanged.

    centre, half (3,) [m]; axes (3, 3) unit rows. Written: depth (n, 6) behind each of FACES [m];
    axis (n,), as in `_looks_along`; points (n, 6, 3), the deepest in the box's own axes [m].
    """
    polygon, spare = np.empty((MOST_CORNERS, 3)), np.empty((MOST_CORNERS, 3))
    for t in range(len(triangles)):
        _to_local(triangles[t], centre, axes, polygon)
        if _misses(polygon, np.int64(3), -half, half):
            continue
        along = _looks_along(polygon)
        count = _clip_to(polygon, np.int64(3), -half, half, spare)
        if count == 0:
            continue
        axis[t] = along
        for face in range(6):
            a, sign = face // 2, 1 - 2 * (face % 2)
            depth[t, face] = -1.0
            for v in range(count):
                if half[a] - sign * polygon[v, a] > depth[t, face]:
                    depth[t, face] = half[a] - sign * polygon[v, a]
                    points[t, face] = polygon[v]


@kernel
def _area_inside(triangles, centre, axes, low, high, axis):  # type: ignore[no-untyped-def]
    """Area of the clipped triangles as seen along `axis` [m2].

    triangles (n, 3, 3), centre (3,), the block low, high (3,) [m]; axes (3, 3) unit rows.
    """
    polygon, spare = np.empty((MOST_CORNERS, 3)), np.empty((MOST_CORNERS, 3))
    b, c = (axis + 1) % 3, (axis + 2) % 3
    total = 0.0
    for t in range(len(triangles)):
        _to_local(triangles[t], centre, axes, polygon)
        if _misses(polygon, np.int64(3), low, high):
            continue
        count = _clip_to(polygon, np.int64(3), low, high, spare)
        twice = 0.0
        for v in range(1, count - 1):
            twice += (polygon[v, b] - polygon[0, b]) * (polygon[v + 1, c] - polygon[0, c])
            twice -= (polygon[v, c] - polygon[0, c]) * (polygon[v + 1, b] - polygon[0, b])
        total += abs(twice) / 2
    return total
