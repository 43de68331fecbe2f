"""Points without faces as a surface: each represents a square that closes the gap to the next.

The square is in the least-squares plane of the point's neighbours and reaches as far as the sixth
of them, so that squares overlap both for regular and for random points: with N points expected
within that reach, a place stays uncovered with probability exp(-N).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from fitcheck.units import Metre

#: Points are thinned to one per cube of this edge.
GRAIN: Metre = 0.005
#: Maximum number of squares; with more points the cubes grow instead.
MAX_SQUARES = 500_000
#: Neighbours that determine a square's reach and its plane.
REACHED, FITTED = 6, 20
#: A gap wider than this is an opening, not a gap between points.
WIDEST: Metre = 0.030
#: A point whose neighbours are further away than this is isolated.
ALONE: Metre = 0.080


@dataclass(frozen=True, eq=False, kw_only=True)
class Splats:
    """Squares as triangles (2 n, 3, 3) [m]; reach : (n,) half edge of each [m]."""

    triangles: NDArray[np.float64]
    reach: NDArray[np.float64]


def make_splats(
    points: NDArray[np.float64], normals: NDArray[np.float64], towards: NDArray[np.float64]
) -> Splats:
    """Squares for (n, 3) points [m], turned to face the viewer.

    normals : (n, 3) of the file or empty; towards : (n, 3) place that saw each point, NaN where
    unknown, or empty. Without either, the side a square faces is arbitrary.
    """
    keep = _thinned(points)
    points = points[keep]
    count = min(FITTED + 1, len(points))
    tree = cKDTree(points)
    near = np.empty((len(points), count), dtype=np.int64)
    away = np.empty((len(points), count))
    step = 200_000
    for start in range(0, len(points), step):
        rows = slice(start, start + step)
        away[rows], near[rows] = (
            part.reshape(-1, count) for part in tree.query(points[rows], k=count, workers=2)
        )
    reach = _reach(away[:, min(REACHED, count - 1)])
    across, along = _planes(points, near)
    facing = np.cross(across, along)
    wanted = _wanted(points, keep, normals, towards)
    if len(wanted):
        turned = np.einsum("ij,ij->i", facing, wanted) < 0.0
        along[turned] *= -1.0
    return Splats(triangles=_squares(points, across, along, reach), reach=reach)


def _thinned(points: NDArray[np.float64]) -> NDArray[np.int64]:
    """Index of the first point in each cube; cubes grow until there are few enough."""
    grain = GRAIN
    while True:
        cell = np.floor((points - points.min(axis=0)) / grain).astype(np.int64)
        size = cell.max(axis=0) + 1
        key = (cell[:, 0] * size[1] + cell[:, 1]) * size[2] + cell[:, 2]
        _, first = np.unique(key, return_index=True)
        if len(first) <= MAX_SQUARES:
            return np.sort(first)
        grain *= max(1.1, (len(first) / MAX_SQUARES) ** 0.5)


def _reach(sixth: NDArray[np.float64]) -> NDArray[np.float64]:
    reach = np.clip(sixth, 0.5 * GRAIN, WIDEST)
    return np.where(sixth > ALONE, 0.5 * GRAIN, reach)


def _planes(
    points: NDArray[np.float64], near: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Two unit vectors in the plane through each point's neighbours."""
    across, along = np.empty_like(points), np.empty_like(points)
    for start in range(0, len(points), 100_000):
        rows = slice(start, start + 100_000)
        cloud = points[near[rows]]
        cloud = cloud - cloud.mean(axis=1, keepdims=True)
        _, vectors = np.linalg.eigh(np.einsum("nki,nkj->nij", cloud, cloud))
        along[rows], across[rows] = vectors[:, :, 1], vectors[:, :, 2]
    return across, along


def _wanted(
    points: NDArray[np.float64],
    keep: NDArray[np.int64],
    normals: NDArray[np.float64],
    towards: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Direction each square should face, 0 where unknown."""
    if len(towards):
        return np.nan_to_num(towards[keep] - points)
    return np.nan_to_num(normals[keep]) if len(normals) else np.empty((0, 3))


def _squares(
    points: NDArray[np.float64],
    across: NDArray[np.float64],
    along: NDArray[np.float64],
    reach: NDArray[np.float64],
) -> NDArray[np.float64]:
    u, v = across * reach[:, None], along * reach[:, None]
    a, b, c, d = points - u - v, points + u - v, points + u + v, points - u + v
    return np.stack([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)], axis=1).reshape(
        -1, 3, 3
    )
