"""The cells of the hose search, where its pitch differs from that of the space."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Lattice
from fitcheck.space.cells.field import distance_field
from fitcheck.units import Metre


def lattice_of(
    grid: Grid,
    label: NDArray[np.uint8],
    triangles: NDArray[np.float64],
    boxes: tuple[Box, ...],
    pitch: Metre,
) -> Lattice:
    """Cells of another pitch over the same space, wholly inside its grid.

    Every distance is to the unseen cells of the space itself, so that a curve that is clear at one
    pitch is clear at any other. boxes : keep-outs and declared solids
    """
    shape = tuple(max(1, int(count * grid.pitch / pitch + 1e-9)) for count in grid.shape)
    cells = Grid(origin=grid.origin, pitch=pitch, shape=(shape[0], shape[1], shape[2]))
    surface = touched_cells(triangles, cells)
    dark = label == UNSEEN
    touched = _overlapped(dark, grid, cells)
    known = np.where(surface, SOLID, FREE).astype(np.uint8)
    known[touched] = UNSEEN
    distance = distance_field(cells, triangles, surface, known, boxes)
    np.minimum(distance, _to_edge(cells), out=distance)
    middle = [
        np.minimum(((np.arange(count) + 0.5) * (pitch / grid.pitch)).astype(int), most - 1)
        for count, most in zip(cells.shape, grid.shape, strict=True)
    ]
    known[touched & ~dark[np.ix_(*middle)]] = SOLID
    return Lattice(grid=cells, label=known, distance=distance)


def _to_edge(grid: Grid) -> NDArray[np.float32]:
    """From cell centres to the edge of the grid, beyond which nothing was examined [m]."""
    steps = [np.minimum(np.arange(n), np.arange(n)[::-1]) for n in grid.shape]
    least = np.minimum.reduce(np.meshgrid(*steps, indexing="ij"))
    return np.asarray(grid.pitch * (least + 0.5), dtype=np.float32)


def _overlapped(dark: NDArray[np.bool_], grid: Grid, cells: Grid) -> NDArray[np.bool_]:
    """Cells that share volume with a set one in `dark`, whose grid begins at the same corner."""
    table = np.zeros(tuple(count + 1 for count in dark.shape), dtype=np.int64)
    table[1:, 1:, 1:] = dark
    for axis in range(3):
        np.cumsum(table, axis=axis, out=table)
    ratio = cells.pitch / grid.pitch
    ends = []
    for count, most in zip(cells.shape, dark.shape, strict=True):
        low = np.floor(np.arange(count) * ratio + 1e-9).astype(int)
        high = np.ceil((np.arange(count) + 1) * ratio - 1e-9).astype(int)
        ends.append((np.clip(low, 0, most), np.clip(high, 0, most)))
    total = np.zeros(cells.shape, dtype=np.int64)
    for corner in np.ndindex(2, 2, 2):
        sign = 1 if sum(corner) % 2 else -1
        total += sign * table[np.ix_(*(ends[axis][side] for axis, side in enumerate(corner)))]
    return total > 0
