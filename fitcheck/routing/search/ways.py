"""Other ways round: paths of cells between two points that no known path runs beside.

Where the fields towards both ends fall off in opposite directions, the way through a cell is as
straight as the obstacles allow: such cells lie in the valleys of the sum of both fields, one
valley for every way round. The sum there is about the length of that way, bends left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from fitcheck.routing.world.barred import near
from fitcheck.routing.world.field import World
from fitcheck.routing.world.goal import UNREACHED, descend
from fitcheck.units import Metre

Points = NDArray[np.float64]
Field = NDArray[np.float32]

#: Cosine of the two directions downhill in a valley at most.
OPPOSITE = -0.94
#: Paths tried at most.
VIAS = 6


def ways_round(
    world: World,
    forth: Field,
    back: Field,
    ends: tuple[Points, Points],
    most: Callable[[], Metre],
    known: Sequence[Points],
    apart: Metre,
) -> Iterator[Points]:
    """Paths (n, 3) from the first end to the second, the shortest first.

    Parameters: forth, back, fields towards the second end and the first; most, length through
    cells that is wanted [m]; known, polylines no path is wanted beside; apart, paths nearer to
    one another count as one [m].
    """
    low, high = _part(forth, back, most())
    if (low >= high).any():
        return
    part = tuple(slice(a, b) for a, b in zip(low, high, strict=True))
    total = np.where(_valleys(forth[part], back[part]), forth[part] + back[part], np.inf)
    for line in known:
        _blot(world, total, low, _dense(line, float(world.pitch[0])), apart)
    for _ in range(VIAS):
        at = np.unravel_index(int(total.argmin()), total.shape)
        if not total[at] < most():
            return
        via = world.origin + (low + np.array(at) + 0.5) * world.pitch[0]
        halves = descend(world, back, via, ends[0]), descend(world, forth, via, ends[1])
        path = via[None]
        if halves[0] is not None and halves[1] is not None:
            path = np.vstack([halves[0][::-1], halves[1][1:]])
            yield path
        _blot(world, total, low, path, apart)


def _blot(
    world: World, total: NDArray[np.float64], low: NDArray[np.int64], path: Points, apart: Metre
) -> None:
    """Take out the cells beside a path."""
    beside = near(world, path, np.full(len(path), apart))
    part = tuple(slice(a, a + n) for a, n in zip(low, total.shape, strict=True))
    total[beside[part]] = np.inf


def _dense(line: Points, step: Metre) -> Points:
    """Points along a polyline, no further apart than a step."""
    rows = []
    for first, last in zip(line[:-1], line[1:], strict=True):
        count = 1 + int(np.linalg.norm(last - first) / step)
        rows.append(first + np.linspace(0.0, 1.0, count, endpoint=False)[:, None] * (last - first))
    return np.vstack([*rows, line[-1:]])


def _part(forth: Field, back: Field, most: Metre) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Corners of the box of cells whose way is short enough, low and high."""
    wanted = forth + back < most
    low, high = np.zeros(3, np.int64), np.zeros(3, np.int64)
    for axis in range(3):
        rows = np.flatnonzero(wanted.any(axis=tuple(a for a in range(3) if a != axis)))
        if len(rows):
            low[axis], high[axis] = rows[0], rows[-1] + 1
    return low, high


def _valleys(forth: Field, back: Field) -> NDArray[np.bool_]:
    """Cells from which both ends lie in about opposite directions."""
    one, two = _slope(forth), _slope(back)
    sizes = np.sqrt((one**2).sum(axis=0) * (two**2).sum(axis=0)) + 1e-9
    known = (forth < UNREACHED) & (back < UNREACHED)
    return known & ((one * two).sum(axis=0) < OPPOSITE * sizes)


def _slope(field: Field) -> Field:
    """Slope of a field from the known neighbours of every cell, (3, ...) [m per cell]."""
    known = field < UNREACHED
    slope = np.zeros((3, *field.shape), dtype=np.float32)
    for axis in range(3):
        both = np.diff(known, axis=axis) == 0
        step = np.where(both, np.diff(field, axis=axis), np.float32(0.0))
        ahead, behind = [(0, 0)] * 3, [(0, 0)] * 3
        ahead[axis], behind[axis] = (0, 1), (1, 0)
        count = np.pad(both, ahead).astype(np.float32) + np.pad(both, behind)
        slope[axis] = (np.pad(step, ahead) + np.pad(step, behind)) / np.maximum(count, 1.0)
    return slope
