"""Which cells the viewpoints saw.

A viewpoint saw a cell when the straight line between them crosses no cell that holds a surface
and, carried on behind the cell, meets a surface from its front. A line that runs out of the grid
or ends on the back of a surface proves nothing: it slipped through a hole in the scan.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_pairs
from fitcheck.units import Ratio

#: Below this share of its area the normals of a cell cancel: a sheet seen from both sides.
TWO_SIDED: Ratio = 0.3


@dataclass(frozen=True, eq=False, kw_only=True)
class Scene:
    """What lines of sight meet.

    opaque : grid.shape uint8, 1 where a line of sight ends
    lid    : grid.shape uint8, 1 where a line is let in from outside but ends from inside
    cells  : (m,) sorted flat index of every cell that holds triangles
    facing : (m, 3) area-weighted sum of unit normals in it; area : (m,) sum of weights
    """

    grid: Grid
    opaque: NDArray[np.uint8]
    lid: NDArray[np.uint8]
    cells: NDArray[np.int64]
    facing: NDArray[np.float64]
    area: NDArray[np.float64]


def build_scene(
    grid: Grid,
    triangles: NDArray[np.float64],
    extra: NDArray[np.bool_],
    lid: NDArray[np.bool_],
) -> Scene:
    """Sort (n, 3, 3) triangles [m] into the grid; `extra` cells are opaque without a surface."""
    pair_cell, pair_face = touched_pairs(triangles, grid)
    cells, place = np.unique(pair_cell, return_inverse=True)
    spans = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    length = np.linalg.norm(spans, axis=1)
    # A triangle weighs in a cell by its area, yet never more than the cell's own face.
    weight = np.minimum(length / 2.0, grid.pitch**2)
    normal = spans / np.maximum(length, 1e-300)[:, None]
    shares = weight[pair_face]
    facing = np.stack(
        [
            np.bincount(place, shares * normal[pair_face, axis], minlength=len(cells))
            for axis in range(3)
        ],
        axis=1,
    ).astype(np.float64)
    opaque = extra.astype(np.uint8)
    opaque.reshape(-1)[cells] = 1
    return Scene(
        grid=grid,
        opaque=opaque,
        lid=lid.astype(np.uint8),
        cells=cells,
        facing=facing,
        area=np.bincount(place, shares, minlength=len(cells)).astype(np.float64),
    )


def facing_sign(scene: Scene, eyes: NDArray[np.float64]) -> tuple[Ratio, Ratio]:
    """Sign that makes the surfaces seen from (n, 3) eyes [m] face them, and how clear that is.

    The second number is 1 when every line of sight agrees and 0 when half of them do.
    """
    balance, total = 0.0, 0.0
    for eye in _cell_units(scene.grid, eyes):
        front, back = _facings(
            eye, _directions(1000), scene.opaque, scene.cells, scene.facing, scene.area
        )
        balance += front - back
        total += front + back
    if total == 0.0:
        return 1.0, 0.0
    return (1.0 if balance >= 0.0 else -1.0), abs(balance) / total


def seen_by(
    scene: Scene,
    candidates: NDArray[np.int64],
    eyes: NDArray[np.float64],
    sign: Ratio,
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Count, for every candidate cell, the eyes that saw it and those that looked at a back.

    candidates : (n, 3) cells without a surface; eyes : (m, 3) [m], at most 255
    sign       : from facing_sign; 0 takes every surface as a front
    """
    fronts = np.zeros(len(candidates), dtype=np.uint8)
    backs = np.zeros(len(candidates), dtype=np.uint8)
    scaled = _cell_units(scene.grid, eyes)
    threads = min(8, os.cpu_count() or 1)
    edges = np.linspace(0, len(candidates), 4 * threads + 1).astype(int)

    def work(part: int) -> None:
        rows = slice(edges[part], edges[part + 1])
        _look(
            candidates[rows],
            scaled,
            scene.opaque,
            scene.lid,
            scene.cells,
            scene.facing,
            scene.area,
            sign,
            fronts[rows],
            backs[rows],
        )

    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(work, range(4 * threads)))
    return fronts, backs


def _cell_units(grid: Grid, points: NDArray[np.float64]) -> NDArray[np.float64]:
    scaled = (np.asarray(points, dtype=np.float64).reshape(-1, 3) - np.array(grid.origin)) / (
        grid.pitch
    )
    return np.ascontiguousarray(scaled)


def _directions(count: int) -> NDArray[np.float64]:
    """Unit vectors spread evenly over the sphere (a golden-angle spiral)."""
    step = np.arange(count) + 0.5
    z = 1.0 - 2.0 * step / count
    turn = np.pi * (3.0 - np.sqrt(5.0)) * step
    radius = np.sqrt(1.0 - z * z)
    return np.stack([radius * np.cos(turn), radius * np.sin(turn), z], axis=1)


@njit(cache=True, nogil=True)
def _look(cells, eyes, opaque, lid, known, facing, area, sign, fronts, backs):  # type: ignore[no-untyped-def]
    for row in range(cells.shape[0]):
        x, y, z = cells[row, 0] + 0.5, cells[row, 1] + 0.5, cells[row, 2] + 0.5
        for eye in range(eyes.shape[0]):
            dx, dy, dz = eyes[eye, 0] - x, eyes[eye, 1] - y, eyes[eye, 2] - z
            if dx == 0.0 and dy == 0.0 and dz == 0.0:
                fronts[row] += 1
                continue
            if _first(x, y, z, dx, dy, dz, 1.0, opaque, opaque) != -1:
                continue
            end = _first(x, y, z, -dx, -dy, -dz, np.inf, opaque, lid)
            if end == -1:
                continue
            side = _side(end, -dx, -dy, -dz, known, facing, area) * sign
            if side <= 0.0:
                fronts[row] += 1
            elif side > 0.3:
                backs[row] += 1


@njit(cache=True, nogil=True)
def _first(x, y, z, dx, dy, dz, end, opaque, lid):  # type: ignore[no-untyped-def]
    """Flat index of the first opaque or lid cell along a line, its own cell not counted, or -1.

    Steps from cell to cell through the faces the line crosses; [cells].
    """
    i, j, k = int(np.floor(x)), int(np.floor(y)), int(np.floor(z))
    si, sj, sk = 1 if dx > 0 else -1, 1 if dy > 0 else -1, 1 if dz > 0 else -1
    wi = 1.0 / abs(dx) if dx != 0.0 else np.inf
    wj = 1.0 / abs(dy) if dy != 0.0 else np.inf
    wk = 1.0 / abs(dz) if dz != 0.0 else np.inf
    ti = (i + 1 - x if dx > 0 else x - i) * wi if dx != 0.0 else np.inf
    tj = (j + 1 - y if dy > 0 else y - j) * wj if dy != 0.0 else np.inf
    tk = (k + 1 - z if dz > 0 else z - k) * wk if dz != 0.0 else np.inf
    ni, nj, nk = opaque.shape
    while True:
        if ti <= tj and ti <= tk:
            t = ti
            i += si
            ti += wi
        elif tj <= tk:
            t = tj
            j += sj
            tj += wj
        else:
            t = tk
            k += sk
            tk += wk
        if t >= end or i < 0 or j < 0 or k < 0 or i >= ni or j >= nj or k >= nk:
            return -1
        if opaque[i, j, k] != 0 or lid[i, j, k] != 0:
            return (i * nj + j) * nk + k


@njit(cache=True, nogil=True)
def _side(flat, dx, dy, dz, known, facing, area):  # type: ignore[no-untyped-def]
    """Cosine between a line of travel and the cell's normals, 0 where it has none to speak of."""
    at = np.searchsorted(known, flat)
    if at == known.size or known[at] != flat:
        return 0.0
    fx, fy, fz = facing[at, 0], facing[at, 1], facing[at, 2]
    size = np.sqrt(fx * fx + fy * fy + fz * fz)
    if size < TWO_SIDED * area[at] or size == 0.0:
        return 0.0
    return (fx * dx + fy * dy + fz * dz) / (size * np.sqrt(dx * dx + dy * dy + dz * dz))


@njit(cache=True, nogil=True)
def _facings(eye, ways, opaque, known, facing, area):  # type: ignore[no-untyped-def]
    """How many lines of sight from an eye end on a front and on a back, by the mesh's winding."""
    front, back = 0, 0
    for row in range(ways.shape[0]):
        dx, dy, dz = ways[row, 0], ways[row, 1], ways[row, 2]
        # An eye outside the grid sees nothing of it from here.
        for axis in range(3):
            if eye[axis] < 0.0 or eye[axis] >= opaque.shape[axis]:
                return front, back
        end = _first(eye[0], eye[1], eye[2], dx, dy, dz, np.inf, opaque, opaque)
        if end == -1:
            continue
        side = _side(end, dx, dy, dz, known, facing, area)
        front += side < -0.1
        back += side > 0.1
    return front, back
