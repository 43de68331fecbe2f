"""The scan and the unseen space as surfaces light enough to draw."""

from __future__ import annotations

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.model.found.space import FREE, UNSEEN, Space
from fitcheck.units import Metre, Radian
from fitcheck.view.desk.heel import sea_level

Array = NDArray[np.float64]

MOST_TRIANGLES = 60_000
#: One stripe of the hatch plus the gap after it.
STRIPE: Metre = 0.04

#: Points at which the free side of a triangle is tested (barycentric).
_PLACES = np.array([[1, 1, 1], [3, 1, 1], [1, 3, 1], [1, 1, 3]], dtype=np.float64)
_PLACES /= _PLACES.sum(axis=1)[:, None]


def scan_skin(space: Space, most: int = MOST_TRIANGLES) -> pv.PolyData:
    """The scan, thinned for display only, every triangle turned to face the free side.

    Anything between the eye and the inside of the compartment then shows its back and can be left
    out.
    """
    count = len(space.triangles)
    faces = np.insert(np.arange(3 * count).reshape(count, 3), 0, 3, axis=1).ravel()
    mesh = pv.PolyData(space.triangles.reshape(-1, 3), faces)
    mesh = mesh.clean(tolerance=1e-6, absolute=True)
    # Thinning turns a sliver whose corners coincide into a line or a point, which is dropped here.
    mesh = pv.PolyData(np.asarray(mesh.points), faces=np.asarray(mesh.faces))
    if mesh.n_cells > most:
        mesh = mesh.decimate(1.0 - most / mesh.n_cells)
    if not mesh.n_cells:
        return pv.PolyData()
    corners = np.asarray(mesh.points, dtype=np.float64)
    order = np.asarray(mesh.faces).reshape(-1, 4)[:, 1:]
    order = np.where(faces_free(space, corners[order])[:, None], order, order[:, ::-1])
    turned = pv.PolyData(corners, np.insert(order, 0, 3, axis=1).ravel())
    return turned.compute_normals(
        cell_normals=False, split_vertices=True, feature_angle=50.0, consistent_normals=False
    )


def faces_free(space: Space, triangles: Array) -> NDArray[np.bool_]:
    """Whether each triangle (n, 3, 3) has more free cells in front of it than behind it."""
    edge = triangles[:, 1:] - triangles[:, :1]
    normal = np.cross(edge[:, 0], edge[:, 1])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    votes = np.zeros(len(triangles))
    for weights in _PLACES:
        at = np.einsum("k,nkx->nx", weights, triangles)
        for steps in (1.5, 2.5):
            away = steps * space.grid.pitch * normal
            votes += free_at(space, at + away).astype(float) - free_at(space, at - away)
    return votes >= 0


def free_at(space: Space, points: Array) -> NDArray[np.bool_]:
    """Whether each point (n, 3) lies in a free cell."""
    index = space.grid.index(points)
    held = space.grid.holds(index)
    index[~held] = 0
    return np.asarray(held & (space.label[tuple(index.T)] == FREE))


def unseen_skin(space: Space) -> pv.PolyData:
    """The faces between free and unseen cells, with texture places for a slanted hatch."""
    points, along = [], []
    for axis in range(3):
        for side in (1, -1):
            corners, hatch = _faces_towards_free(space, axis, side)
            points.append(corners)
            along.append(hatch)
    corners = np.concatenate(points).reshape(-1, 3)
    count = len(corners) // 4
    mesh = pv.PolyData(
        corners, np.insert(np.arange(4 * count).reshape(count, 4), 0, 4, axis=1).ravel()
    )
    if count:
        places = np.concatenate(along).ravel() / STRIPE
        mesh.active_texture_coordinates = np.column_stack([places, np.zeros(len(places))])
    return mesh


def _faces_towards_free(space: Space, axis: int, side: int) -> tuple[Array, Array]:
    """Squares (n, 4, 3) between unseen cells and free ones along an axis, and hatch (n, 4)."""
    label = space.label
    here = [slice(None)] * 3
    there = [slice(None)] * 3
    here[axis] = slice(None, -1) if side > 0 else slice(1, None)
    there[axis] = slice(1, None) if side > 0 else slice(None, -1)
    meets = (label[tuple(here)] == UNSEEN) & (label[tuple(there)] == FREE)
    cells = np.argwhere(meets)
    if side < 0:
        cells[:, axis] += 1
    u, v = (axis + 1) % 3, (axis + 2) % 3
    ring = np.zeros((4, 3))
    ring[[1, 2], u] = 1
    ring[[2, 3], v] = 1
    ring[:, axis] = side > 0
    if side < 0:
        ring = ring[::-1]
    corners = np.asarray(space.grid.origin) + space.grid.pitch * (cells[:, None] + ring)
    return corners, corners[..., u] + corners[..., v]


def sea_sheet(space: Space, heel: Radian, trim: Radian = 0.0) -> pv.PolyData:
    """The sea surface where it would be in the free space of the compartment, in squares.

    Empty when the sea is above or below it; the squares are one cell wide, seen from above.
    """
    pitch, (nx, ny, _) = space.grid.pitch, space.grid.shape
    x = space.grid.origin[0] + pitch * np.arange(nx + 1)
    y = space.grid.origin[1] + pitch * np.arange(ny + 1)
    places = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    points = sea_level(places, space.flotation, heel, trim)
    i, j = (index.ravel() for index in np.meshgrid(np.arange(nx), np.arange(ny), indexing="ij"))
    first = i * (ny + 1) + j
    squares = np.column_stack([first, first + ny + 1, first + ny + 2, first + 1])
    wet = free_at(space, points[squares].mean(axis=1))
    return pv.PolyData(points, np.insert(squares[wet], 0, 4, axis=1).ravel()).clean()


def hatch(colour: str, width: int = 32) -> pv.Texture:
    """A stripe, half of it inked, that repeats along the first texture direction."""
    ink = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])
    picture = np.zeros((4, width, 4), dtype=np.uint8)
    picture[..., :3] = ink
    picture[..., 3] = np.where(np.arange(width) < width // 3, 190, 70)
    texture = pv.Texture(picture)
    texture.repeat = True
    return texture
