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
from fitcheck.kernels import kernel
from fitcheck.model.finding import Tell, silent
from fitcheck.space.cells.sight import (
    CLEARLY_BACK,
    Scene,
    cell_units,
    directions,
    first_met,
    in_parts,
    side_met,
)
from fitcheck.units import Metre, Ratio

#: Directions examined around a cell.
LOOKS = 64
#: Minimum of fronts less backs in air, as a share of all looks.
NET_FRONTS: Ratio = 0.43
#: Below this number of viewpoints the net of fronts must be higher, by the square root of the
#: ratio: the scatter of a mean falls with the root of the count.
MANY = 4
#: Share of viewpoint lines that must end on fronts: this times the share of the whole scan's lines
#: that do not, up to the second value.
PER_DOUBT: Ratio = 2.5
AGREEING: Ratio = 0.7
#: A front with another surface's back this close behind it is backed [m].
BACKED: Metre = 0.080
#: A back this close counts WEIGHT times: machinery is about half a metre wide, so from its middle
#: its own faces are this close (common practice, no source) [m].
CLOSE: Metre = 0.25
WEIGHT = 3
#: Spacing of the cells examined, and the width they are averaged over [m].
SPACING: Metre = 0.040
WIDTH: Metre = 0.100


def agreed(
    scene: Scene,
    good: NDArray[np.int64],
    eyes: NDArray[np.float64],
    sign: Ratio,
    tell: Tell = silent,
    *,
    scan: bool = True,
) -> NDArray[np.bool_]:
    """For every cell a viewpoint saw, whether all lines around it confirm that it is air.

    good : (n, 3); eyes : (m, 3) [m]; sign : from facing_sign, not 0
    """
    grid = scene.grid
    stride = max(1, round(SPACING / grid.pitch))
    asked = good[(good % stride == 0).all(axis=1)]
    if len(asked) == 0:
        asked = good
    tally = np.zeros((len(asked), 4), dtype=np.int64)
    ways, scaled = directions(LOOKS), cell_units(grid, eyes)
    fields = (scene.sight, scene.ends, scene.spanned.reshape(-1), scene.hard.reshape(-1))
    known = (scene.cells, scene.facing, scene.area)
    reaches = (BACKED / grid.pitch, CLOSE / grid.pitch)

    def work(rows: slice) -> None:
        _tally(asked[rows], scaled, ways, *fields, *known, sign, *reaches, tally[rows])

    in_parts(work, len(asked), tell, "cells asked whether their surroundings agree")
    fronts, wrong, lines, net = tally.T
    doubt = float(wrong.sum() / max(1, lines.sum()))
    share, around, seen = _averaged(
        grid, asked, (fronts / np.maximum(lines, 1), net / LOOKS, fronts), good
    )
    # A drawing lacks nothing, so that no viewpoint had a chance to miss a body.
    many = MANY if scan else min(MANY, len(eyes))
    few = np.sqrt(np.maximum(1.0, many / np.maximum(seen, 1.0)))
    result: NDArray[np.bool_] = (share >= min(AGREEING, PER_DOUBT * doubt)) & (
        around >= few * NET_FRONTS
    )
    return result


def _averaged(
    grid: Grid,
    asked: NDArray[np.int64],
    values: tuple[NDArray[Any], ...],
    good: NDArray[np.int64],
) -> list[NDArray[np.float64]]:
    """Means of the values of examined cells over WIDTH around every good cell; -1 without any."""
    width = 2 * max(1, round(0.5 * WIDTH / grid.pitch)) + 1
    sums = []
    for given in (np.ones(len(asked)), *values):
        field = np.zeros(grid.shape, dtype=np.float32)
        field[tuple(asked.T)] = given
        sums.append(uniform_filter(field, width, mode="constant")[tuple(good.T)])
    heard = sums[0] * width**3 > 0.5
    return [np.where(heard, part / np.where(heard, sums[0], 1.0), -1.0) for part in sums[1:]]


@kernel(nogil=True)
def _tally(  # type: ignore[no-untyped-def]
    cells, eyes, ways, sight, ends, spanned, hard, known, facing, area, sign, thick, close, tally
):
    """Per cell: viewpoint lines on fronts, on backs or nothing, all lines; fronts less backs of
    looks.

    Looks that end on fronts with a back within `thick` cells behind count as neither, backs within
    `close` cells WEIGHT times. cells (n, 3); eyes (m, 3) [cells]; ways (k, 3) unit; sight, ends,
    facing, area as in Scene, known its cells, spanned and hard flat; sign from facing_sign;
    tally (n, 4) is added to.
    """
    for row in range(cells.shape[0]):
        x, y, z = cells[row, 0] + 0.5, cells[row, 1] + 0.5, cells[row, 2] + 0.5
        for eye in range(eyes.shape[0]):
            dx, dy, dz = eyes[eye, 0] - x, eyes[eye, 1] - y, eyes[eye, 2] - z
            far = np.sqrt(dx * dx + dy * dy + dz * dz)
            if far < 1.0:
                tally[row, 0] += 1
                tally[row, 2] += 1
                continue
            dx, dy, dz = dx / far, dy / far, dz / far
            if first_met(x, y, z, dx, dy, dz, far, sight) != -1:
                continue
            tally[row, 2] += 1
            end = first_met(x, y, z, -dx, -dy, -dz, np.inf, ends)
            if end == -1 or spanned[end]:
                tally[row, 1] += 1
                continue
            if hard[end]:
                tally[row, 0] += 1
                continue
            side = sign * side_met(end, -dx, -dy, -dz, known, facing, area)
            tally[row, 0] += side <= 0.0
            tally[row, 1] += side > CLEARLY_BACK
        for way in range(ways.shape[0]):
            dx, dy, dz = ways[way, 0], ways[way, 1], ways[way, 2]
            end = first_met(x, y, z, dx, dy, dz, np.inf, ends)
            if end != -1 and hard[end]:
                tally[row, 3] += 1
            elif end != -1 and not spanned[end]:
                side = sign * side_met(end, dx, dy, dz, known, facing, area)
                if side > CLEARLY_BACK:
                    tally[row, 3] -= WEIGHT if _within(end, x, y, z, close, ends) else 1
                elif side < -CLEARLY_BACK and not _backed(
                    end, dx, dy, dz, thick, ends, known, facing, area, sign
                ):
                    tally[row, 3] += 1


@kernel(nogil=True)
def _within(end, x, y, z, reach, ends):  # type: ignore[no-untyped-def]
    """Whether the centre of a cell is within a number of cells of a point.

    end: the cell's flat index in ends (ni, nj, nk); x, y, z, reach [cells].
    """
    _, columns, layers = ends.shape
    dx = end // (columns * layers) + 0.5 - x
    dy, dz = (end // layers) % columns + 0.5 - y, end % layers + 0.5 - z
    return dx * dx + dy * dy + dz * dz <= reach * reach


@kernel(nogil=True)
def _backed(end, dx, dy, dz, thick, ends, known, facing, area, sign):  # type: ignore[no-untyped-def]
    """Whether a line, continued through the cell it ended in, meets a back within thick cells.

    end: that cell's flat index; (dx, dy, dz) unit direction; thick [cells]; ends, facing, area as
    in Scene, known its cells; sign from facing_sign.
    """
    rows, columns, layers = ends.shape
    x = end // (columns * layers) + 0.5
    y, z = (end // layers) % columns + 0.5, end % layers + 0.5
    for step in range(1, int(2.0 * thick) + 1):
        i, j, k = int(x + 0.5 * step * dx), int(y + 0.5 * step * dy), int(z + 0.5 * step * dz)
        if not (0 <= i < rows and 0 <= j < columns and 0 <= k < layers):
            return False
        if ends[i, j, k] == 0:
            flat = (i * columns + j) * layers + k
            if sign * side_met(flat, dx, dy, dz, known, facing, area) > CLEARLY_BACK:
                return True
    return False
