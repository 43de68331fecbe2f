"""Distances to fixed obstacles on a finer grid, computed on demand and cached."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitcheck.kernels import kernel
from fitcheck.units import Metre

#: Maximum cell edge of the close grid [m]; distances in it are cut off at the second value [m].
CLOSE_EDGE, CLOSE_REACH = 0.003, 0.08
#: Maximum number of grid cells that may hold a tile of the close grid.
MOST_CLOSE = 30_000


class Close(NamedTuple):
    """Distances to fixed obstacles on a grid several times finer, computed on demand and cached.

    tile : the grid's shape, number of a cell's tile or -1; used (1,), tiles so far
    value : (tiles, n, n, n), negative: not yet known; cut off at CLOSE_REACH [m]
    """

    tile: NDArray[np.int32]
    used: NDArray[np.int64]
    value: NDArray[np.float32]


def close_grid(shape: tuple[int, ...], pitch: Metre) -> Close:
    """An empty close grid for a grid of this shape and pitch [m]."""
    times = min(8, max(1, math.ceil(pitch / CLOSE_EDGE - 1e-9)))
    return Close(
        tile=np.full(shape, -1, dtype=np.int32),
        used=np.zeros(1, dtype=np.int64),
        value=np.empty((MOST_CLOSE, times, times, times), dtype=np.float32),
    )


#: No space for close distances: all are measured.
NO_CLOSE = Close(
    tile=np.full((1, 1, 1), -1, dtype=np.int32),
    used=np.zeros(1, dtype=np.int64),
    value=np.empty((0, 1, 1, 1), dtype=np.float32),
)


@kernel
def close_at(close, origin, pitch, x, y, z, slope):  # type: ignore[no-untyped-def]
    """(lower bound on the distance to fixed obstacles, likely distance) [m].

    The first subtracts h^2 t (1 - t) for every axis, the likely one only along the gradient, which
    is exact in front of a plane. Writes the gradient, a unit vector, into slope (3,). Both -1
    where a node is not known.
    """
    tile, value = close.tile, close.value
    n = value.shape[1]
    edge = pitch[0] / n
    fx = (x - origin[0]) / edge - 0.5
    fy = (y - origin[1]) / edge - 0.5
    fz = (z - origin[2]) / edge - 0.5
    i, j, k = int(math.floor(fx)), int(math.floor(fy)), int(math.floor(fz))
    n0, n1, n2 = tile.shape
    if i < 0 or j < 0 or k < 0 or i + 1 >= n0 * n or j + 1 >= n1 * n or k + 1 >= n2 * n:
        return -1.0, -1.0
    tx, ty, tz = fx - i, fy - j, fz - k
    total, gx, gy, gz = 0.0, 0.0, 0.0, 0.0
    for a in range(2):
        wx = tx if a == 1 else 1.0 - tx
        p = (i + a) // n
        u = i + a - p * n
        for b in range(2):
            wy = ty if b == 1 else 1.0 - ty
            q = (j + b) // n
            v = j + b - q * n
            for c in range(2):
                wz = tz if c == 1 else 1.0 - tz
                r = (k + c) // n
                number = tile[p, q, r]
                if number < 0:
                    return -1.0, -1.0
                d = np.float64(value[number, u, v, k + c - r * n])
                if d < 0.0:
                    return -1.0, -1.0
                square = d * d
                total += wx * wy * wz * square
                gx += (square if a == 1 else -square) * wy * wz
                gy += (square if b == 1 else -square) * wx * wz
                gz += (square if c == 1 else -square) * wx * wy
    bx, by, bz = tx * (1.0 - tx), ty * (1.0 - ty), tz * (1.0 - tz)
    least = total - edge * edge * (bx + by + bz)
    steep = gx * gx + gy * gy + gz * gz + 1e-30
    likely = total - edge * edge * (bx * gx * gx + by * gy * gy + bz * gz * gz) / steep
    steep = math.sqrt(steep)
    slope[0], slope[1], slope[2] = gx / steep, gy / steep, gz / steep
    return math.sqrt(max(0.0, least)), math.sqrt(max(0.0, likely))
