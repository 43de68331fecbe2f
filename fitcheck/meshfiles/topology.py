"""Connectivity of triangles: shared corners, bodies, open edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components


@dataclass(frozen=True, eq=False, kw_only=True)
class Topology:
    """Corners welded to one part in a million of the extent, and the resulting connectivity.

    body : (n,) the body each triangle belongs to
    bodies : number of bodies
    open_edges : edges with one triangle only
    crossed : edges with more than two, or two that disagree about which side is out
    rim : (open_edges,) the open edges, 3 times the triangle plus the corner it begins at
    rim_ends : (open_edges, 2) numbers of the shared corners at their ends
    """

    body: NDArray[np.int32]
    bodies: int
    open_edges: int
    crossed: int
    rim: NDArray[np.int64]
    rim_ends: NDArray[np.int64]


def topology(triangles: NDArray[np.float64]) -> Topology:
    """Weld (n, 3, 3) triangles and count bodies and open edges."""
    corners = welded(triangles)
    keep = (corners != np.roll(corners, 1, axis=1)).all(axis=1)
    start = corners[keep].ravel()
    end = np.roll(corners[keep], -1, axis=1).ravel()
    low, high = np.minimum(start, end), np.maximum(start, end)
    size = int(corners.max()) + 1
    _, where, count = np.unique(
        low.astype(np.int64) * size + high, return_inverse=True, return_counts=True
    )
    balance = np.bincount(where, weights=np.where(start < end, 1.0, -1.0))
    graph = coo_matrix((np.ones(len(start), dtype=np.int8), (start, end)), shape=(size, size))
    _, of_corner = connected_components(graph, directed=False)
    names, body = np.unique(of_corner[corners[:, 0]], return_inverse=True)
    alone = np.flatnonzero(count[where] == 1)
    edge = (3 * np.flatnonzero(keep)[:, None] + np.arange(3)).ravel()
    return Topology(
        body=body.astype(np.int32),
        bodies=len(names),
        open_edges=int((count == 1).sum()),
        crossed=int(((count > 2) | ((count == 2) & (balance != 0.0))).sum()),
        rim=edge[alone],
        rim_ends=np.stack([start[alone], end[alone]], axis=1),
    )


def body_bounds(
    triangles: NDArray[np.float64], found: Topology
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest and highest corner, (bodies, 3) each, of the bounding box of each body."""
    low = np.full((found.bodies, 3), np.inf)
    high = np.full((found.bodies, 3), -np.inf)
    np.minimum.at(low, found.body, triangles.min(axis=1))
    np.maximum.at(high, found.body, triangles.max(axis=1))
    return low, high


def body_sizes(triangles: NDArray[np.float64], found: Topology) -> NDArray[np.float64]:
    """Longest side of the bounding box of each body."""
    low, high = body_bounds(triangles, found)
    result: NDArray[np.float64] = (high - low).max(axis=1)
    return result


def welded(triangles: NDArray[np.float64]) -> NDArray[np.int64]:
    """Number of the shared corner for each corner, (n, 3)."""
    points = triangles.reshape(-1, 3)
    low = points.min(axis=0)
    step = max(float((points.max(axis=0) - low).max()), 1e-30) / 2**20
    cells = np.rint((points - low) / step).astype(np.int64)
    key = (cells[:, 0] << 42) | (cells[:, 1] << 21) | cells[:, 2]
    _, number = np.unique(key, return_inverse=True)
    return number.reshape(-1, 3).astype(np.int64)
