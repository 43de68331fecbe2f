"""Where a flood fill from the inside leaks out, and how wide the opening is."""

from __future__ import annotations

from dataclasses import dataclass

import edt
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fitcheck.geometry.box import as_point
from fitcheck.geometry.grid import Grid
from fitcheck.kernels import kernel
from fitcheck.units import Metre, Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """The narrowest place of the widest path out; `width` is about its diameter."""

    place: Point
    width: Metre


def connected(clear: NDArray[np.bool_], start: tuple[int, int, int]) -> NDArray[np.bool_]:
    """Clear cells connected to the start cell through faces."""
    if not clear[start]:
        return np.zeros_like(clear)
    names, _ = ndimage.label(clear)
    result: NDArray[np.bool_] = names == names[start]
    return result


def touches_rim(mask: NDArray[np.bool_]) -> bool:
    """Whether any marked cell lies in the outermost layer of the grid."""
    return any(bool(side.any()) for side in _sides(mask))


def widest_opening(
    grid: Grid, clear: NDArray[np.bool_], start: tuple[int, int, int]
) -> Opening | None:
    """The opening through which the largest ball could leave the compartment, None if closed.

    Cells are joined in order of decreasing clearance until the start is connected to the rim. The
    joining cell is the throat, and its clearance gives the width: low by up to two pitches, since
    marked cells narrow a hole. Never wider than the clearance around the start cell.
    """
    if not clear[start]:
        return None
    padded = np.zeros(tuple(size + 2 for size in clear.shape), dtype=np.uint8)
    padded[1:-1, 1:-1, 1:-1] = clear
    # The rim is open: it must count as clear, not as wall.
    for side in _sides(padded):
        side[...] = 1
    room = edt.edtsq(padded, black_border=False, parallel=2)[1:-1, 1:-1, 1:-1]
    room = np.where(clear, room, 0.0).astype(np.float32)
    cells = np.flatnonzero(room > 0.0)
    order = cells[np.argsort(-room.ravel()[cells], kind="stable")]
    first = int(np.ravel_multi_index(start, clear.shape))
    throat = int(_join(order, np.array(clear.shape), first))
    if throat < 0:
        return None
    index = np.array(np.unravel_index(throat, clear.shape))
    return Opening(
        place=as_point(grid.centre(index)),
        width=2.0 * float(np.sqrt(room.ravel()[throat])) * grid.pitch,
    )


def _sides(array: NDArray[np.generic]) -> list[NDArray[np.generic]]:
    return [
        array[0],
        array[-1],
        array[:, 0],
        array[:, -1],
        array[:, :, 0],
        array[:, :, -1],
    ]


@kernel(nogil=True)
def _join(order, shape, first):  # type: ignore[no-untyped-def]
    """Flat index of the cell that joins `first` to the rim, or -1; cells in order of decreasing
    clearance.

    order (m,), first [flat index]; shape (3,) of the grid.
    """
    count = shape[0] * shape[1] * shape[2]
    parent = np.full(count + 1, -1, np.int32)
    rim = count
    parent[rim] = rim
    strides = (shape[1] * shape[2], shape[2], 1)
    for at in order:
        parent[at] = at
        place = (at // strides[0], at // strides[1] % shape[1], at % shape[2])
        for axis in range(3):
            for step in (-1, 1):
                there = place[axis] + step
                other = rim if there < 0 or there >= shape[axis] else at + step * strides[axis]
                if parent[other] >= 0:
                    parent[_root(parent, other)] = _root(parent, at)
        if parent[first] >= 0 and _root(parent, first) == _root(parent, rim):
            return at
    return -1


@kernel(nogil=True)
def _root(parent, at):  # type: ignore[no-untyped-def]
    """Root of the tree a cell belongs to; parent (cells + 1,) [flat index], compressed
    on the way.
    """
    while parent[at] != at:
        parent[at] = parent[parent[at]]
        at = parent[at]
    return at
