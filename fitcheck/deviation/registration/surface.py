"""Places sampled evenly on a mesh, each with the surface normal there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from fitcheck.units import SquareMetre

Array = NDArray[np.float64]

#: Neighbours over which surface normals are averaged, and their minimum agreement.
NEIGHBOURS = 20
ALIKE = 0.5


@dataclass(frozen=True, eq=False, kw_only=True)
class Surface:
    """(n, 3) places and unit normals, and the area each place represents."""

    places: Array
    normals: Array
    area: SquareMetre
    tree: cKDTree

    def moved(self, places: Array, normals: Array) -> Surface:
        """The same surface with its places moved."""
        return Surface(places=places, normals=normals, area=self.area, tree=cKDTree(places))


def spread_places(triangles: Array, count: int, seed: int = 0) -> Surface:
    """`count` places on (n, 3, 3) triangles, evenly by area, with averaged normals.

    The same triangles give the same places. The normal of a single triangle of a noisy scan is
    random; the mean over its neighbours is that of the area they span.
    """
    edge = triangles[:, 1:] - triangles[:, :1]
    square = np.cross(edge[:, 0], edge[:, 1])
    area = np.linalg.norm(square, axis=1) / 2.0
    rng = np.random.default_rng(seed)
    total = float(area.sum())
    steps = (np.arange(count) + rng.random(count)) * total / count
    which = np.minimum(np.searchsorted(np.cumsum(area), steps, side="right"), len(area) - 1)
    u, v = rng.random((2, count))
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    places = triangles[which, 0] + u[:, None] * edge[which, 0] + v[:, None] * edge[which, 1]
    own = square[which] / np.maximum(2.0 * area[which], 1e-300)[:, None]
    tree = cKDTree(places)
    return Surface(places=places, normals=_averaged(tree, own), area=total / count, tree=tree)


def _averaged(tree: cKDTree, own: Array) -> Array:
    count = min(NEIGHBOURS, len(own))
    _, near = tree.query(tree.data, k=count)
    near = near.reshape(len(own), count)
    alike = np.einsum("ni,nki->nk", own, own[near]) > ALIKE
    mean = np.einsum("nk,nki->ni", alike.astype(np.float64), own[near])
    length = np.linalg.norm(mean, axis=1)[:, None]
    return np.where(length > 1e-9, mean / np.maximum(length, 1e-9), own)
