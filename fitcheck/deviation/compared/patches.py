"""Where the other mesh is inwards or outwards of this one by more than a limit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from fitcheck.deviation.registration.surface import Surface, spread_places
from fitcheck.geometry.box import Box, as_point
from fitcheck.geometry.distance import index_triangles, nearest
from fitcheck.model.found.deviation import Patch, Registration
from fitcheck.units import Metre, SquareMetre

Array = NDArray[np.float64]

#: Spacing of the sample places, unless there are too many.
SPACING: Metre = 0.02
MOST_PLACES = 90_000
#: A deviation is the median of so many neighbours'.
NEIGHBOURS = 9
#: Smaller patches are not reported; patches closer than this to one another are merged.
LEAST: SquareMetre = 0.003
JOINED: Metre = 0.06
#: Modules this close to a patch are named with it.
BESIDE: Metre = 0.12
#: A surface within this that faces the other way is the far side of a sheet.
SHEET: Metre = 0.08
#: Beyond this distance a surface is not considered the same surface moved.
FARTHEST: Metre = 0.40


@dataclass(frozen=True, eq=False, kw_only=True)
class Offsets:
    """(n, 3) places on the other mesh, (n,) signed distance to the mesh here, inwards negative.

    ways : (n, 3) unit, square to the surface here towards the free side; area of each place
    """

    places: Array
    off: Array
    ways: Array
    area: SquareMetre


def offsets(
    here: Array,
    there: Array,
    free: Callable[[Array], NDArray[np.bool_]],
    pitch: Metre,
    farthest: Metre = FARTHEST,
) -> Offsets:
    """Distance to this mesh of places sampled on the other mesh.

    Parameters: here, there (n, 3, 3) triangles, boat frame [m]; free, whether points (n, 3) are in
    the free space here; pitch of its cells [m]. Off is `farthest` or -`farthest` where nothing is
    closer.
    """
    edge = np.cross(there[:, 1] - there[:, 0], there[:, 2] - there[:, 0])
    total = float(np.linalg.norm(edge, axis=1).sum()) / 2.0
    count = int(np.clip(total / SPACING**2, 500, MOST_PLACES))
    other = spread_places(there, count, seed=2)
    own = spread_places(here, count, seed=3)
    index = index_triangles(here, 0.05)
    distance, which = nearest(other.places, index, farthest)
    normal = _normals(here)[which]
    height = np.einsum("ni,ni->n", other.places - here[which, 0], normal)
    height, normal = _far_sides(other, own, height, normal, distance)
    normal, height = _towards_free(other.places, height, normal, free, pitch)
    size = np.where(np.abs(height) < distance, distance, np.abs(height))
    inside = np.where(distance > 2.0 * pitch, free(other.places), height > 0.0)
    off = np.where(inside, -1.0, 1.0) * np.minimum(size, farthest)
    return Offsets(places=other.places, off=_smoothed(other, off), ways=normal, area=total / count)


def find_patches(
    found: Offsets,
    limit: Metre,
    registration: Registration,
    boxes: dict[str, Box],
) -> tuple[Patch, ...]:
    """Connected places over the limit, worst inward one first."""
    rows = []
    for sign in (-1.0, 1.0):
        over = np.flatnonzero(sign * found.off > limit)
        for member in _joined(found.places[over]):
            own = over[member]
            if len(own) * found.area >= LEAST:
                rows.append(_patch(found, own, sign, registration, boxes))
    return tuple(sorted(rows, key=lambda row: (row.worst > 0.0, -abs(row.worst) * row.area**0.5)))


def _normals(triangles: Array) -> Array:
    square = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return square / np.maximum(np.linalg.norm(square, axis=1), 1e-300)[:, None]


def _far_sides(
    other: Surface, own: Surface, height: Array, normal: Array, distance: Array
) -> tuple[Array, Array]:
    """Where the nearest surface faces the other way, the nearest that faces the same way."""
    cosine = np.einsum("ni,ni->n", other.normals, normal)
    turned = np.sign(np.sign(cosine[np.abs(cosine) > 0.5]).sum())
    wrong = np.flatnonzero((turned * cosine < -0.5) & (distance < SHEET))
    if turned == 0.0 or not len(wrong):
        return height, normal
    _, near = own.tree.query(other.places[wrong], k=24, distance_upper_bound=1.5 * SHEET)
    known = near < len(own.places)
    near = np.where(known, near, 0)
    alike = turned * np.einsum("ni,nki->nk", other.normals[wrong], own.normals[near]) > 0.5
    best = np.argmax(known & alike, axis=1)
    has = (known & alike).any(axis=1)
    chosen = near[np.arange(len(wrong)), best][has]
    height, normal = height.copy(), normal.copy()
    normal[wrong[has]] = own.normals[chosen]
    step = other.places[wrong[has]] - own.places[chosen]
    height[wrong[has]] = np.einsum("ni,ni->n", step, own.normals[chosen])
    return height, normal


def _towards_free(
    places: Array,
    height: Array,
    normal: Array,
    free: Callable[[Array], NDArray[np.bool_]],
    pitch: Metre,
) -> tuple[Array, Array]:
    """Normals turned to the free side, and heights along them."""
    foot = places - height[:, None] * normal
    votes = np.zeros(len(places))
    for steps in (1.5, 2.5):
        away = steps * pitch * normal
        votes += free(foot + away).astype(float) - free(foot - away)
    flip = np.where(votes < 0.0, -1.0, 1.0)
    return normal * flip[:, None], height * flip


def _smoothed(other: Surface, off: Array) -> Array:
    _, near = other.tree.query(other.places, k=min(NEIGHBOURS, len(off)))
    return np.asarray(np.median(off[near.reshape(len(off), -1)], axis=1))


def _joined(places: Array) -> list[NDArray[np.int64]]:
    if not len(places):
        return []
    pairs = cKDTree(places).query_pairs(JOINED, output_type="ndarray")
    count = len(places)
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    number, label = connected_components(graph, directed=False)
    return [np.flatnonzero(label == one) for one in range(number)]


def _patch(
    found: Offsets,
    own: NDArray[np.int64],
    sign: float,
    registration: Registration,
    boxes: dict[str, Box],
) -> Patch:
    places, off = found.places[own], found.off[own]
    near = {name: float(box.distance(places).min()) for name, box in boxes.items()}
    beside = sorted((name for name in near if near[name] < BESIDE), key=near.__getitem__)
    return Patch(
        place=as_point(places.mean(axis=0)),
        low=as_point(places.min(axis=0)),
        high=as_point(places.max(axis=0)),
        worst=float(np.quantile(off, 0.95 if sign > 0.0 else 0.05)),
        typical=float(np.median(off)),
        area=len(own) * found.area,
        uncertainty=float(np.median(registration.uncertainty(places, found.ways[own]))),
        beside=tuple(beside),
    )
