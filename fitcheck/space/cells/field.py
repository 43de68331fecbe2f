"""Lower bound on the distance from every free cell to the nearest thing that is not free.

It is exact near triangles. Further away it follows from the cells: a triangle lies somewhere in a
marked cell, so its distance is at least that of the cell's cube. The distance transform gives the
squared distance N between cell centres. The smallest distance to a cube over all offsets of
squared length N or more is tabulated; it is closer to the truth than subtracting half a cell
diagonal.
"""

from __future__ import annotations

import edt
import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box
from fitcheck.geometry.distance import point_triangle2
from fitcheck.geometry.grid import Grid
from fitcheck.kernels import kernel
from fitcheck.model.found.space import FREE, UNSEEN

#: Width of the exact band around triangles [cells].
BAND = 3.0
#: Half the diagonal of a cell, rounded up [cells].
HALF_DIAGONAL = 0.8661
#: Offsets up to this length are tabulated [cells].
TABLE = 64
#: Makes float32 rounding err on the safe side.
SAFE = 1.0 - 1e-6


def distance_field(
    grid: Grid,
    triangles: NDArray[np.float64],
    surface: NDArray[np.bool_],
    label: NDArray[np.uint8],
    boxes: tuple[Box, ...],
) -> NDArray[np.float32]:
    """Lower bound on the distance from the centres of free cells; 0 in every other cell.

    triangles : (n, 3, 3) [m]; surface : cells they touch; label : FREE, SOLID, UNSEEN
    boxes : keep-outs and declared solids. Returns grid.shape float32 [m].
    """
    free = label == FREE
    far = np.maximum(_to_cubes(~surface), BAND).astype(np.float32)
    field = _near(grid, triangles, free)
    # A distance beyond the band belongs to some triangle, not necessarily the nearest.
    np.copyto(field, far, where=field > BAND)
    np.minimum(field, _to_cubes(label != UNSEEN), out=field)
    field *= np.float32(grid.pitch * SAFE)
    field[~free] = 0.0
    for box in boxes:
        _keep_off(grid, box, field)
    return field


def _near(
    grid: Grid, triangles: NDArray[np.float64], free: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Exact distance to triangles where it is at most BAND, something larger elsewhere [cells]."""
    field = np.full(grid.shape, np.inf, dtype=np.float32)
    scaled = np.ascontiguousarray((triangles - np.array(grid.origin)) / grid.pitch)
    _measure_band(scaled, free, field)
    return field


def _to_cubes(clear: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Smallest possible distance from every cell's centre to a cube that is not clear [cells]."""
    if clear.all():
        return np.full(clear.shape, np.inf, dtype=np.float32)
    squared = edt.edtsq(clear.astype(np.uint8), black_border=False, parallel=2)
    result = np.sqrt(squared) - np.float32(HALF_DIAGONAL)
    tabled = squared <= TABLE**2
    table = _cube_table()
    result[tabled] = table[np.rint(squared[tabled]).astype(np.int64)]
    return np.asarray(result, dtype=np.float32)


def _cube_table() -> NDArray[np.float32]:
    """Smallest distance from a cell's centre to a cube over all offsets of squared length >= N."""
    steps = np.arange(TABLE + 1, dtype=np.float64)
    squared = (steps**2)[:, None, None] + (steps**2)[:, None] + steps**2
    gaps = np.maximum(steps - 0.5, 0.0) ** 2
    cube = np.sqrt(gaps[:, None, None] + gaps[:, None] + gaps)
    table = np.full(TABLE**2 + 1, TABLE - HALF_DIAGONAL)
    inside = squared <= TABLE**2
    np.minimum.at(table, squared[inside].astype(np.int64), cube[inside])
    return np.minimum.accumulate(table[::-1])[::-1].astype(np.float32)


def _keep_off(grid: Grid, box: Box, field: NDArray[np.float32]) -> None:
    """Lower the field to the distance from one box, layer by layer to save memory."""
    j, k = np.indices(grid.shape[1:])
    for i in range(grid.shape[0]):
        centres = grid.centre(np.stack([np.full_like(j, i), j, k], axis=-1))
        gap = np.maximum(box.distance(centres), 0.0) * SAFE
        np.minimum(field[i], gap, out=field[i], casting="same_kind")


@kernel(nogil=True)
def _measure_band(triangles, free, field):  # type: ignore[no-untyped-def]
    """Lower field to the distance from each triangle within BAND of its bounds [cells]."""
    low, high = np.empty(3, np.int64), np.empty(3, np.int64)
    for t in range(triangles.shape[0]):
        for axis in range(3):
            a, b, c = triangles[t, 0, axis], triangles[t, 1, axis], triangles[t, 2, axis]
            first = np.ceil(min(a, b, c) - BAND - 0.5)
            last = np.floor(max(a, b, c) + BAND - 0.5)
            low[axis] = int(min(max(first, 0.0), float(free.shape[axis])))
            high[axis] = int(max(min(last, free.shape[axis] - 1.0), -1.0))
        ux = triangles[t, 1, 0] - triangles[t, 0, 0]
        uy = triangles[t, 1, 1] - triangles[t, 0, 1]
        uz = triangles[t, 1, 2] - triangles[t, 0, 2]
        vx = triangles[t, 2, 0] - triangles[t, 0, 0]
        vy = triangles[t, 2, 1] - triangles[t, 0, 1]
        vz = triangles[t, 2, 2] - triangles[t, 0, 2]
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        size = np.sqrt(nx * nx + ny * ny + nz * nz)
        offset = nx * triangles[t, 0, 0] + ny * triangles[t, 0, 1] + nz * triangles[t, 0, 2]
        for i in range(low[0], high[0] + 1):
            for j in range(low[1], high[1] + 1):
                for k in range(low[2], high[2] + 1):
                    if not free[i, j, k]:
                        continue
                    x, y, z = i + 0.5, j + 0.5, k + 0.5
                    height = abs(nx * x + ny * y + nz * z - offset)
                    # The plane is no further away than the triangle: this dismisses most.
                    if height >= min(field[i, j, k], BAND) * size:
                        continue
                    d = np.sqrt(point_triangle2(x, y, z, triangles, t))
                    if d < field[i, j, k]:
                        field[i, j, k] = d
