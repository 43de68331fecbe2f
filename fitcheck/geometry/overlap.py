"""Overlap of rotated boxes with triangles, cells and each other, by separating axes.

Two bodies are disjoint when some axis separates their projections; touching within TOUCH counts as
disjoint.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box
from fitcheck.geometry.distance import TriangleIndex, index_triangles
from fitcheck.geometry.grid import Grid
from fitcheck.kernels import kernel
from fitcheck.units import Metre

#: Bodies that share no more than this are touching, not overlapping [m].
TOUCH = 1e-9
#: Edge of a bin that contains any compartment [m].
ONE_BIN = 1000.0
#: Edge of the bins for a compartment's triangles [m]: a typical box spans a few.
BIN = 0.06

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def bins(index: TriangleIndex) -> tuple[Floats, Ints, Ints, Floats, Metre, Ints]:
    """The parts of an index that the kernels here take, in their order."""
    return index.corner, index.start, index.item, index.origin, float(index.size[0]), index.shape


def few(triangles: Floats) -> TriangleIndex:
    """An index of one bin, for a few triangles (n, 3, 3) close together [m]."""
    return index_triangles(triangles, ONE_BIN)


def triangles_near(index: TriangleIndex, low: Floats, high: Floats) -> Ints:
    """Numbers of the triangles in the bins that a box low..high touches, each once, ascending."""
    first, last = _bin_range(index.origin, float(index.size[0]), index.shape, low, high)
    if (last < first).any():
        return np.zeros(0, dtype=np.int64)
    rows = np.arange(first[0], last[0] + 1)[:, None] * index.shape[1]
    columns = (rows + np.arange(first[1], last[1] + 1)).ravel() * index.shape[2]
    runs = [index.item[index.start[c + first[2]] : index.start[c + last[2] + 1]] for c in columns]
    return np.unique(np.concatenate(runs)).astype(np.int64)


def boxes_hit_triangles(index: TriangleIndex, box: Box, centres: Floats) -> NDArray[np.bool_]:
    """Whether the box, moved to each of (n, 3) centres [m], overlaps a triangle."""
    hit = np.zeros(len(centres), dtype=np.bool_)
    centres = np.ascontiguousarray(centres, dtype=np.float64)
    _hit_triangles(*bins(index), centres, np.array(box.half), np.array(box.axes), hit)
    return hit


def boxes_hit_cells(
    mask: NDArray[np.bool_], grid: Grid, box: Box, centres: Floats
) -> NDArray[np.bool_]:
    """Whether the box, moved to each of (n, 3) centres [m], overlaps a cell cube set in `mask`."""
    hit = np.zeros(len(centres), dtype=np.bool_)
    centres = np.ascontiguousarray(centres, dtype=np.float64)
    frame = np.array(grid.origin), grid.pitch
    _hit_cells(mask, *frame, centres, np.array(box.half), np.array(box.axes), hit)
    return hit


def cells_in_box(label: NDArray[np.generic], grid: Grid, box: Box, value: int = 1) -> Ints:
    """(m, 3) indices of the cells labelled `value` whose cubes overlap the box."""
    reach = np.abs(np.array(box.axes)).T @ np.array(box.half)
    low = np.maximum(grid.index(np.array(box.centre) - reach), 0)
    high = np.minimum(grid.index(np.array(box.centre) + reach) + 1, grid.shape)
    if (high <= low).any():
        return np.zeros((0, 3), dtype=np.int64)
    part = label[low[0] : high[0], low[1] : high[1], low[2] : high[2]]
    cells: Ints = np.argwhere(part == value) + low
    keep = np.zeros(len(cells), dtype=np.bool_)
    centre, half, axes = np.array(box.centre), np.array(box.half), np.array(box.axes)
    _cubes_overlap(grid.centre(cells), grid.pitch / 2, centre, half, axes, keep)
    return cells[keep]


def boxes_depth(a: Box, b: Box) -> Metre:
    """Smallest shift that separates two overlapping boxes [m]; zero or less when they are
    disjoint.

    Below zero it only means that they are disjoint, not how far.
    """
    return float(
        _box_depth(
            np.array(a.centre),
            np.array(a.half),
            np.array(a.axes),
            np.array(b.centre),
            np.array(b.half),
            np.array(b.axes),
        )
    )


def boxes_hit_boxes(box: Box, centres: Floats, others: tuple[Box, ...]) -> NDArray[np.bool_]:
    """Whether the box, moved to each of (n, 3) centres [m], overlaps any of the other boxes."""
    hit = np.zeros(len(centres), dtype=np.bool_)
    half, axes = np.array(box.half), np.array(box.axes)
    for other in others:
        far = np.array(other.centre), np.array(other.half), np.array(other.axes)
        _hit_box(np.ascontiguousarray(centres), half, axes, *far, hit)
    return hit


# --- kernels: arrays and scalars only ---------------------------------------------------------


@kernel
def _bin_range(origin, width, shape, low, high):  # type: ignore[no-untyped-def]
    """First and last bin (3,) a block touches on every axis; 0 to -1 on every axis if it touches
    none.

    Code that loops over some of the axes only and reads rows of bins by the third stays inside.
    origin (3,), width of a bin, low, high (3,) [m]; shape (3,).
    """
    first = np.zeros(3, dtype=np.int64)
    last = np.full(3, -1, dtype=np.int64)
    for a in range(3):
        least = np.floor((low[a] - TOUCH - origin[a]) / width)
        most = np.floor((high[a] + TOUCH - origin[a]) / width)
        # NaN compares as false and touches nothing
        if not (most >= 0.0 and least <= shape[a] - 1.0):
            return np.zeros(3, dtype=np.int64), np.full(3, -1, dtype=np.int64)
        # clamped as floats first: a far end must not wrap around as an integer
        first[a] = int(max(least, 0.0))
        last[a] = int(min(most, shape[a] - 1.0))
    return first, last


@kernel
def _to_local(triangle, centre, axes, out):  # type: ignore[no-untyped-def]
    """Write a triangle (3, 3) [m] in a box's own axes, from its centre, to the first rows of out.

    centre (3,) [m]; axes (3, 3) unit rows; out (>= 3, 3) [m].
    """
    for v in range(3):
        x = triangle[v, 0] - centre[0]
        y = triangle[v, 1] - centre[1]
        z = triangle[v, 2] - centre[2]
        for a in range(3):
            out[v, a] = axes[a, 0] * x + axes[a, 1] * y + axes[a, 2] * z


@kernel
def _axis_parts(x, y, z, v, half):  # type: ignore[no-untyped-def]
    """Whether the axis (x, y, z) separates a triangle from the box at the origin.

    The axis may have any length; a zero axis never separates. v (3, 3) corners, half (3,) [m].
    """
    length = math.sqrt(x * x + y * y + z * z)
    if length < 1e-12:
        return False
    p = x * v[0, 0] + y * v[0, 1] + z * v[0, 2]
    q = x * v[1, 0] + y * v[1, 1] + z * v[1, 2]
    r = x * v[2, 0] + y * v[2, 1] + z * v[2, 2]
    reach = half[0] * abs(x) + half[1] * abs(y) + half[2] * abs(z) - TOUCH * length
    return min(p, q, r) >= reach or max(p, q, r) <= -reach


@kernel
def _triangle_overlaps(v, half):  # type: ignore[no-untyped-def]
    """Whether a triangle overlaps the box at the origin (Akenine-Moeller 2001).

    v (3, 3) corners, half (3,) [m].
    """
    for a in range(3):
        if min(v[0, a], v[1, a], v[2, a]) >= half[a] - TOUCH:
            return False
        if max(v[0, a], v[1, a], v[2, a]) <= TOUCH - half[a]:
            return False
    ex, ey, ez = v[1, 0] - v[0, 0], v[1, 1] - v[0, 1], v[1, 2] - v[0, 2]
    fx, fy, fz = v[2, 0] - v[0, 0], v[2, 1] - v[0, 1], v[2, 2] - v[0, 2]
    if _axis_parts(ey * fz - ez * fy, ez * fx - ex * fz, ex * fy - ey * fx, v, half):
        return False
    for s in range(3):
        t = (s + 1) % 3
        x, y, z = v[t, 0] - v[s, 0], v[t, 1] - v[s, 1], v[t, 2] - v[s, 2]
        if _axis_parts(0.0, -z, y, v, half):
            return False
        if _axis_parts(z, 0.0, -x, v, half):
            return False
        if _axis_parts(-y, x, 0.0, v, half):
            return False
    return True


@kernel
def _hit_triangles(  # type: ignore[no-untyped-def]
    triangles, start, item, origin, width, shape, centres, half, axes, hit
):
    """Set hit (n,) where the box, moved to a centre, overlaps a triangle.

    Triangles and bins as from `bins`; centres (n, 3), half (3,) [m]; axes (3, 3) unit rows.
    """
    reach = np.empty(3)
    for a in range(3):
        reach[a] = (
            abs(axes[0, a]) * half[0] + abs(axes[1, a]) * half[1] + abs(axes[2, a]) * half[2]
        )
    local = np.empty((3, 3))
    for n in range(len(centres)):
        low, high = centres[n] - reach, centres[n] + reach
        first, last = _bin_range(origin, width, shape, low, high)
        for i in range(first[0], last[0] + 1):
            if hit[n]:
                break
            for j in range(first[1], last[1] + 1):
                if hit[n]:
                    break
                row = (i * shape[1] + j) * shape[2]
                for m in range(start[row + first[2]], start[row + last[2] + 1]):
                    _to_local(triangles[item[m]], centres[n], axes, local)
                    if _triangle_overlaps(local, half):
                        hit[n] = True
                        break


@kernel
def _box_depth(ca, ha, aa, cb, hb, ab):  # type: ignore[no-untyped-def]
    """Smallest overlap of the projections on the 15 axes of two boxes [m]; the first gap found, <=
    0, if disjoint.

    Centres ca, cb (3,) and half sizes ha, hb (3,) [m]; aa, ab (3, 3) unit rows.
    """
    turn = np.empty((3, 3))
    shift = np.empty(3)
    for i in range(3):
        shift[i] = (
            aa[i, 0] * (cb[0] - ca[0]) + aa[i, 1] * (cb[1] - ca[1]) + aa[i, 2] * (cb[2] - ca[2])
        )
        for j in range(3):
            turn[i, j] = aa[i, 0] * ab[j, 0] + aa[i, 1] * ab[j, 1] + aa[i, 2] * ab[j, 2]
    best = np.inf
    for i in range(3):
        far = ha[i]
        for j in range(3):
            far += hb[j] * abs(turn[i, j])
        best = min(best, far - abs(shift[i]))
        if best <= 0.0:
            return best
    for j in range(3):
        far = hb[j]
        along = 0.0
        for i in range(3):
            far += ha[i] * abs(turn[i, j])
            along += shift[i] * turn[i, j]
        best = min(best, far - abs(along))
        if best <= 0.0:
            return best
    for i in range(3):
        for j in range(3):
            sine = math.sqrt(max(0.0, 1.0 - turn[i, j] ** 2))
            if sine < 1e-6:
                continue
            i1, i2, j1, j2 = (i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3
            far = ha[i1] * abs(turn[i2, j]) + ha[i2] * abs(turn[i1, j])
            far += hb[j1] * abs(turn[i, j2]) + hb[j2] * abs(turn[i, j1])
            along = shift[i2] * turn[i1, j] - shift[i1] * turn[i2, j]
            best = min(best, (far - abs(along)) / sine)
            if best <= 0.0:
                return best
    return best


@kernel
def _hit_box(centres, half, axes, other, other_half, other_axes, hit):  # type: ignore[no-untyped-def]
    """Set hit (n,) where the box, moved to a centre, overlaps the other box.

    centres (n, 3), half, other, other_half (3,) [m]; axes, other_axes (3, 3) unit rows.
    """
    for n in range(len(centres)):
        if not hit[n]:
            depth = _box_depth(centres[n], half, axes, other, other_half, other_axes)
            hit[n] = depth > TOUCH


@kernel
def _cubes_overlap(cubes, reach, centre, half, axes, keep):  # type: ignore[no-untyped-def]
    """Write to keep (n,) whether each level cube overlaps the box.

    cubes (n, 3) centres and reach, half an edge [m]; centre, half (3,) [m]; axes (3, 3) unit rows.
    """
    cube = np.full(3, reach)
    level = np.eye(3)
    for n in range(len(cubes)):
        keep[n] = _box_depth(cubes[n], cube, level, centre, half, axes) > TOUCH


@kernel
def _hit_cells(mask, origin, pitch, centres, half, axes, hit):  # type: ignore[no-untyped-def]
    """Set hit (n,) where the box, moved to a centre, overlaps a cube set in mask (ni, nj, nk).

    origin (3,), pitch of the grid [m]; centres (n, 3), half (3,) [m]; axes (3, 3) unit rows.
    """
    cube = np.full(3, pitch / 2)
    level = np.eye(3)
    shape = np.array(mask.shape)
    reach = np.empty(3)
    for a in range(3):
        reach[a] = (
            abs(axes[0, a]) * half[0] + abs(axes[1, a]) * half[1] + abs(axes[2, a]) * half[2]
        )
    place = np.empty(3)
    for n in range(len(centres)):
        first, last = _bin_range(origin, pitch, shape, centres[n] - reach, centres[n] + reach)
        for i in range(first[0], last[0] + 1):
            place[0] = origin[0] + (i + 0.5) * pitch
            for j in range(first[1], last[1] + 1):
                place[1] = origin[1] + (j + 0.5) * pitch
                for k in range(first[2], last[2] + 1):
                    if hit[n] or not mask[i, j, k]:
                        continue
                    place[2] = origin[2] + (k + 0.5) * pitch
                    hit[n] = _box_depth(place, cube, level, centres[n], half, axes) > TOUCH
