"""The same obstacles with some cells barred, to keep a search to part of the compartment.

A barred cell blocks like an unseen one. The curve found is feasible without the bars too, and is
the shortest found among those that keep their clearance from them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_cdt

from fitcheck.model.found.space import FREE, UNSEEN
from fitcheck.routing.world.close import close_grid
from fitcheck.routing.world.field import Dark, World


def barred(world: World, cells: NDArray[np.bool_]) -> World:
    """The world with these cells barred, (grid shape) bool; caches are not shared with the
    original.
    """
    shut = cells | (world.bars.label == UNSEEN)
    label = np.where(shut, np.uint8(UNSEEN), world.label)
    away = steps_to(shut)
    # a cell's centre is no closer to a cube than the steps to it less half an edge
    least = np.maximum((away - 0.5) * float(world.pitch[0]), 0.0)
    reach = np.minimum(world.reach, least).astype(np.float32)
    bars = np.where(shut, np.uint8(UNSEEN), np.uint8(FREE))
    # read-only as in a space: kernels are compiled again for writable arrays
    for array in (label, reach, bars):
        array.setflags(write=False)
    return world._replace(
        label=label,
        bars=Dark(label=bars, steps=away, origin=world.origin, pitch=world.pitch),
        reach=reach,
        still=np.full_like(world.still, -1.0),
        node=np.full_like(world.node, -1.0),
        room=np.full_like(world.room, -1.0),
        spot=np.full_like(world.spot, 8),
        close=close_grid(label.shape, float(world.pitch[0])),
    )


def steps_to(cells: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Whole cells to the nearest set one, by the largest coordinate, 255 at most."""
    if not cells.any():
        return np.full(cells.shape, 255, dtype=np.uint8)
    away = distance_transform_cdt(~cells, metric="chessboard")
    return np.minimum(away, 255).astype(np.uint8)


def centres(world: World) -> NDArray[np.float64]:
    """Centres of all cells, grid shape and 3 [m]."""
    rows = np.moveaxis(np.indices(world.label.shape, dtype=np.float64), 0, -1)
    return np.asarray(world.origin + (rows + 0.5) * float(world.pitch[0]))


def near(
    world: World, points: NDArray[np.float64], radius: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Cells whose centre lies within a radius (n,) of one of (n, 3) points [m]."""
    found = np.zeros(world.label.shape, dtype=bool)
    pitch = float(world.pitch[0])
    for point, far in zip(points, radius, strict=True):
        at = (point - world.origin) / pitch - 0.5
        low = np.maximum(np.floor(at - far / pitch).astype(int), 0)
        high = np.minimum(np.ceil(at + far / pitch).astype(int) + 1, world.label.shape)
        if (low >= high).any():
            continue
        axes = [np.arange(low[a], high[a]) - at[a] for a in range(3)]
        square = sum(np.ix_(*(axis**2 for axis in axes)), start=np.zeros(1))
        part = tuple(slice(low[a], high[a]) for a in range(3))
        found[part] |= square <= (far / pitch) ** 2
    return found
