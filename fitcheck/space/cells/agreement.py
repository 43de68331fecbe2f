"""Whether the lines of sight around a cell agree that it is air.

In air, nearly all surfaces met in any direction show their front. Inside a body whose faces were
only partly scanned, a few viewpoints may see in and through, but there are backs and holes all
around. The more of a scan is missing, the less two or three fronts prove, so more of the lines
must agree. Both measures are averaged over neighbouring cells, because bodies are larger than one
cell.

A mirror image lets lines into a body whose faces were scanned well, and the scan's own thickness
lines it with fronts on the inside. Such a front is backed: the outer face lies close behind it,
seen from its other side. Plywood is backed as well, but not on all sides, so a backed front proves
nothing.

A body that was never in view leaves no surface at all: lines of sight from the phone's positions
pass through it as through air. Each viewpoint that sees through it is one chance that it would
have been recorded; so the fewer there are, the more of the looks must meet fronts. A partly
scanned body has its own backs close around its inside, so a close back weighs more.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter

from fitcheck.geometry.grid import Grid
from fitcheck.space.cells.looks import LOOKS, Looks
from fitcheck.space.cells.sight import Seen
from fitcheck.units import Metre, Ratio

#: Minimum of fronts less backs in air, as a share of all looks.
NET_FRONTS: Ratio = 0.43
#: Below this number of viewpoints the net of fronts must be higher, by the square root of the
#: ratio: the scatter of a mean falls with the root of the count.
MANY = 4
#: Share of viewpoint lines that must end on fronts: this times the share of the whole scan's lines
#: that do not, up to the second value.
PER_DOUBT: Ratio = 2.5
AGREEING: Ratio = 0.7
#: Width over which all counts are averaged [m].
WIDTH: Metre = 0.100


def agreed(
    grid: Grid,
    good: NDArray[np.int64],
    seen: Seen,
    looks: Looks,
    *,
    eyes: int,
    scan: bool = True,
) -> NDArray[np.bool_]:
    """For every cell a viewpoint saw, whether all lines around it confirm that it is air.

    good : (n, 3); seen, looks : of the same scene; eyes : number of viewpoints
    """
    fronts, wrong, lines = seen.lines[seen.lines[:, 0] > 0].T
    sample = seen.sample[seen.lines[:, 0] > 0]
    doubt = float(wrong.sum() / max(1, lines.sum()))
    share, times = _averaged(grid, sample, (fronts / np.maximum(lines, 1), fronts), good)
    around = net_fronts(grid, good, looks)
    # A drawing lacks nothing, so that no viewpoint had a chance to miss a body.
    many = MANY if scan else min(MANY, eyes)
    few = np.sqrt(np.maximum(1.0, many / np.maximum(times, 1.0)))
    result: NDArray[np.bool_] = (share >= min(AGREEING, PER_DOUBT * doubt)) & (
        around >= few * NET_FRONTS
    )
    return result


def net_fronts(grid: Grid, cells: NDArray[np.int64], looks: Looks) -> NDArray[np.float64]:
    """Fronts less backs around each of (n, 3) cells, as a share of all looks, averaged."""
    (net,) = _averaged(grid, cells, (looks.net[tuple(cells.T)] / LOOKS,), cells)
    return net


def _averaged(
    grid: Grid,
    sample: NDArray[np.int64],
    values: tuple[NDArray[Any], ...],
    good: NDArray[np.int64],
) -> list[NDArray[np.float64]]:
    """Means of the values of sampled cells over WIDTH around every good cell; -1 without any."""
    width = 2 * max(1, round(0.5 * WIDTH / grid.pitch)) + 1
    sums = []
    for given in (np.ones(len(sample)), *values):
        field = np.zeros(grid.shape, dtype=np.float32)
        field[tuple(sample.T)] = given
        sums.append(uniform_filter(field, width, mode="constant")[tuple(good.T)])
    heard = sums[0] * width**3 > 0.5
    return [np.where(heard, part / np.where(heard, sums[0], 1.0), -1.0) for part in sums[1:]]
