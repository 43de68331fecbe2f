"""Which cells of a grid a surface touches, never one too few.

A cell counts when the closed cube and the triangle share a point: thirteen separating axes (T.
Akenine-Moeller, "Fast 3D Triangle-Box Overlap Testing", Journal of Graphics Tools 6, 2001). The
cube is enlarged by one part in a million: without that, a wall lying exactly on a lattice plane is
lost to rounding and a flood fill leaks through it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.grid import Grid
from fitcheck.kernels import kernel

#: Half edge of a cell in cell units, enlarged by one part in a million.
HALF = 0.5 * (1.0 + 1e-6)


def touched_cells(triangles: NDArray[np.float64], grid: Grid) -> NDArray[np.bool_]:
    """Mark every cell a triangle touches.

    triangles : (n, 3, 3) [m], parts outside the grid are ignored. Returns grid.shape bool.
    """
    mask = np.zeros(grid.shape, dtype=np.bool_)
    _mark(_in_cells(triangles, grid), mask)
    return mask


def touched_pairs(
    triangles: NDArray[np.float64], grid: Grid
) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """List every cell (flat index) with every triangle that touches it, in order of triangles.

    triangles : (n, 3, 3) [m]. Returns two (m,) arrays.
    """
    scaled = _in_cells(triangles, grid)
    shape = np.array(grid.shape, dtype=np.int64)
    empty = np.empty(0, dtype=np.int64)
    none = np.empty(0, dtype=np.int32)
    count = _list_pairs(scaled, shape, empty, none)
    cells = np.empty(count, dtype=np.int64)
    faces = np.empty(count, dtype=np.int32)
    _list_pairs(scaled, shape, cells, faces)
    return cells, faces


def _in_cells(triangles: NDArray[np.float64], grid: Grid) -> NDArray[np.float64]:
    scaled = (np.asarray(triangles, dtype=np.float64) - np.asarray(grid.origin)) / grid.pitch
    return np.ascontiguousarray(scaled)


@kernel
def _mark(scaled: NDArray[np.float64], mask: NDArray[np.bool_]) -> None:
    """Set in mask (ni, nj, nk) every cell a triangle of scaled (n, 3, 3) [cells] touches."""
    shape = np.array(mask.shape, dtype=np.int64)
    low, high = np.empty(3, dtype=np.int64), np.empty(3, dtype=np.int64)
    for face in range(scaled.shape[0]):
        reach(scaled[face], shape, low, high)
        for i in range(low[0], high[0] + 1):
            for j in range(low[1], high[1] + 1):
                for k in range(low[2], high[2] + 1):
                    if not mask[i, j, k] and overlaps(scaled[face], i + 0.5, j + 0.5, k + 0.5):
                        mask[i, j, k] = True


@kernel
def _list_pairs(
    scaled: NDArray[np.float64],
    shape: NDArray[np.int64],
    cells: NDArray[np.int64],
    faces: NDArray[np.int32],
) -> int:
    """Count the pairs, and write them when the arrays have room.

    scaled (n, 3, 3) [cells]; shape (3,) of the grid; cells (m,) flat indices; faces (m,) numbers.
    """
    low, high = np.empty(3, dtype=np.int64), np.empty(3, dtype=np.int64)
    count = 0
    for face in range(scaled.shape[0]):
        reach(scaled[face], shape, low, high)
        for i in range(low[0], high[0] + 1):
            for j in range(low[1], high[1] + 1):
                for k in range(low[2], high[2] + 1):
                    if overlaps(scaled[face], i + 0.5, j + 0.5, k + 0.5):
                        if count < cells.size:
                            cells[count] = (i * shape[1] + j) * shape[2] + k
                            faces[count] = face
                        count += 1
    return count


@kernel
def reach(
    triangle: NDArray[np.float64],
    shape: NDArray[np.int64],
    low: NDArray[np.int64],
    high: NDArray[np.int64],
) -> None:
    """Write the first and last cell index whose cube may touch the triangle, within the grid.

    triangle (3, 3) [cells]; shape (3,) of the grid; low, high (3,), low above high where none may.
    """
    for axis in range(3):
        a, b, c = triangle[0, axis], triangle[1, axis], triangle[2, axis]
        first = np.ceil(min(a, b, c) - 0.5 - HALF)
        last = np.floor(max(a, b, c) - 0.5 + HALF)
        # Clamped as floats first: a far vertex must not wrap around as an integer.
        low[axis] = int(min(max(first, 0.0), float(shape[axis])))
        high[axis] = int(max(min(last, shape[axis] - 1.0), -1.0))


@kernel
def overlaps(triangle: NDArray[np.float64], x: float, y: float, z: float) -> bool:
    """Whether a triangle [cells] touches the unit cube centred at (x, y, z).

    `reach` tests the three axes of the cube itself.
    """
    ax, ay, az = triangle[0, 0] - x, triangle[0, 1] - y, triangle[0, 2] - z
    bx, by, bz = triangle[1, 0] - x, triangle[1, 1] - y, triangle[1, 2] - z
    cx, cy, cz = triangle[2, 0] - x, triangle[2, 1] - y, triangle[2, 2] - z
    ux, uy, uz = bx - ax, by - ay, bz - az
    vx, vy, vz = cx - bx, cy - by, cz - bz
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    if abs(nx * ax + ny * ay + nz * az) > HALF * (abs(nx) + abs(ny) + abs(nz)):
        return False
    if _edge_parts(ux, uy, uz, ax, ay, az, cx, cy, cz):
        return False
    if _edge_parts(vx, vy, vz, bx, by, bz, ax, ay, az):
        return False
    return not _edge_parts(ax - cx, ay - cy, az - cz, cx, cy, cz, bx, by, bz)


@kernel
def _edge_parts(
    ex: float,
    ey: float,
    ez: float,
    px: float,
    py: float,
    pz: float,
    qx: float,
    qy: float,
    qz: float,
) -> bool:
    """Whether an axis square to the edge and a cube edge separates (p on the edge, q opposite).

    Edge (ex, ey, ez); p and q from the cube's centre [cells].
    """
    s, t = ez * py - ey * pz, ez * qy - ey * qz
    r = HALF * (abs(ey) + abs(ez))
    if min(s, t) > r or max(s, t) < -r:
        return True
    s, t = ex * pz - ez * px, ex * qz - ez * qx
    r = HALF * (abs(ex) + abs(ez))
    if min(s, t) > r or max(s, t) < -r:
        return True
    s, t = ey * px - ex * py, ey * qx - ex * qy
    r = HALF * (abs(ex) + abs(ey))
    return min(s, t) > r or max(s, t) < -r
