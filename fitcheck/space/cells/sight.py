"""Which cells the viewpoints saw.

A viewpoint saw a cell when the straight line between them crosses no cell that holds a surface
and, continued behind the cell, meets a surface from its front. A line that leaves the grid or ends
on the back of a surface proves nothing: it slipped through a hole in the scan.

A declared viewpoint looks in every direction, including where no scanner pointed: in through a
missing face, out through a missing underside, and on to a good floor. So a cell must not be among
backs either: from inside a body, the backs of its scanned faces are visible all around.
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import edt
import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_pairs
from fitcheck.kernels import kernel
from fitcheck.model.finding import Tell, silent
from fitcheck.model.progress import part
from fitcheck.units import Metre, Ratio

#: Below this share of its area the normals of a cell cancel out: a sheet seen from both sides.
TWO_SIDED: Ratio = 0.3
#: Cosine beyond which a line clearly meets a back, rather than grazing a rough wall.
CLEARLY_BACK: Ratio = 0.3
#: Cells of which all lines are traced are this far apart [m].
SPACING: Metre = 0.040
#: Marks cells of which nothing was counted.
UNKNOWN = 255
#: What a line from a viewpoint through a cell meets: something before the cell; a front behind it;
#: a back, or nothing that proves anything; a surface it grazes from behind.
BLOCKED, ON_FRONT, ON_WRONG, GRAZING = 0, 1, 2, 3
#: Parts per thread, so that progress can be reported.
PARTS = 16


@dataclass(frozen=True, eq=False, kw_only=True)
class Scene:
    """The obstacles to lines of sight.

    sight : grid.shape uint8, cells to the nearest that ends a line of sight, 0 in it
    ends : the same including lids: a line may enter through a lid but not leave
    cells : (m,) sorted flat index of every cell that holds triangles
    spanned : grid.shape bool, cells over holes of the scan: a line that ends there proves nothing
    hard : grid.shape bool, lids and declared solids: known to be there, a front from any side
    facing : (m, 3) area-weighted sum of unit normals in it; area : (m,) sum of weights
    """

    grid: Grid
    sight: NDArray[np.uint8]
    ends: NDArray[np.uint8]
    spanned: NDArray[np.bool_]
    hard: NDArray[np.bool_]
    cells: NDArray[np.int64]
    facing: NDArray[np.float64]
    area: NDArray[np.float64]


def build_scene(
    grid: Grid,
    triangles: NDArray[np.float64],
    extra: NDArray[np.bool_],
    lid: NDArray[np.bool_],
    spanned: NDArray[np.bool_] | None = None,
) -> Scene:
    """Sort (n, 3, 3) triangles [m] into the grid; `extra` cells are opaque without a surface.

    spanned : holes of the mesh; they end lines of sight where no surface does
    """
    pair_cell, pair_face = touched_pairs(triangles, grid)
    cells, place = np.unique(pair_cell, return_inverse=True)
    spans = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    length = np.linalg.norm(spans, axis=1)
    # A triangle's weight in a cell is its area, but at most the area of a cell face.
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
    opaque = extra.copy()
    opaque.reshape(-1)[cells] = True
    spanned = np.zeros_like(opaque) if spanned is None else spanned & ~opaque
    opaque |= spanned
    sight = room_round(opaque)
    return Scene(
        grid=grid,
        sight=sight,
        ends=room_round(opaque | lid) if lid.any() else sight,
        spanned=spanned,
        hard=extra | lid,
        cells=cells,
        facing=facing,
        area=np.bincount(place, shares, minlength=len(cells)).astype(np.float64),
    )


def facing_sign(scene: Scene, eyes: NDArray[np.float64]) -> tuple[Ratio, Ratio]:
    """Sign that makes the surfaces seen from (n, 3) eyes [m] face them, and how clear it is.

    The second number is 1 when every line of sight agrees and 0 when only half of them do. Eyes
    outside the grid are left out.
    """
    balance, total = 0.0, 0.0
    inside = scene.grid.holds(scene.grid.index(eyes))
    for eye in cell_units(scene.grid, eyes[inside]):
        front, back = _facings(
            eye, directions(1000), scene.sight, scene.cells, scene.facing, scene.area
        )
        balance += front - back
        total += front + back
    if total == 0.0:
        return 1.0, 0.0
    return (1.0 if balance >= 0.0 else -1.0), abs(balance) / total


@dataclass(frozen=True, eq=False, kw_only=True)
class Seen:
    """What viewpoints saw of (n, 3) cells.

    times : (n,) uint8, viewpoints that saw each, at most as many as were asked for
    sample, lines : (m, 3) some of the cells, and of the lines from viewpoints through each the
    numbers that end on a front, that end on a back or nothing, and of all
    """

    times: NDArray[np.uint8]
    sample: NDArray[np.int64]
    lines: NDArray[np.int64]


def seen_by(
    scene: Scene,
    cells: NDArray[np.int64],
    eyes: NDArray[np.float64],
    sign: Ratio,
    enough: int,
    tell: Tell = silent,
) -> Seen:
    """What (m, 3) eyes [m] saw of (n, 3) cells without a surface; counts up to `enough`.

    sign : from facing_sign; 0 takes every surface as a front
    """
    scaled = cell_units(scene.grid, eyes)
    fields = (scene.sight, scene.ends, scene.spanned.reshape(-1), scene.hard.reshape(-1))
    known = (scene.cells, scene.facing, scene.area)
    sample, lines = np.empty((0, 3), dtype=np.int64), np.empty((0, 3), dtype=np.int64)

    def count(some: NDArray[np.int64]) -> NDArray[np.uint8]:
        # The first cells asked about are a sample of all; of these every line is traced.
        nonlocal sample, lines
        if len(sample) == 0:
            sample, lines = some, np.zeros((len(some), 3), dtype=np.int64)

            def trace(rows: slice) -> None:
                _trace(sample[rows], scaled, *fields, *known, sign, lines[rows])

            in_parts(trace, len(sample), tell, "cells looked at from the viewpoints")
            return np.minimum(lines[:, 0], enough).astype(np.uint8)
        times = np.zeros(len(some), dtype=np.uint8)

        def look(rows: slice) -> None:
            _look(some[rows], scaled, *fields, *known, sign, enough, times[rows])

        in_parts(look, len(some), tell, "cells near surfaces looked at from the viewpoints")
        return times

    times = counted(scene, cells, count)
    return Seen(times=times, sample=sample, lines=lines)


def counted(
    scene: Scene,
    cells: NDArray[np.int64],
    count: Callable[[NDArray[np.int64]], NDArray[np.uint8]],
) -> NDArray[np.uint8]:
    """Count something seen from outside for (n, 3) cells, exactly for only some of them.

    count : gives the numbers for (m, 3) cells; it is asked about cells SPACING apart and those
    near surfaces. Of a cube in the open whose corners have the same number, all cells do.
    """
    stride = max(1, round(SPACING / scene.grid.pitch))
    corner = (cells % stride == 0).all(axis=1)
    times = np.zeros(len(cells), dtype=np.uint8)
    times[corner] = count(cells[corner])
    shape = tuple(size // stride + 2 for size in scene.grid.shape)
    least = most = _at_corners(shape, cells[corner] // stride, times[corner])
    for axis in range(3):
        ahead = (slice(None),) * axis + (slice(1, None),)
        here = (slice(None),) * axis + (slice(None, -1),)
        least = np.minimum(least[ahead], least[here])
        most = np.maximum(most[ahead], most[here])
    cube = tuple((cells // stride).T)
    # Nothing opaque comes nearer than the far corner of the cube.
    in_open = scene.sight[tuple(cells.T)] > np.ceil(np.sqrt(3.0) * (stride + 1))
    alike = ~corner & in_open & (least[cube] == most[cube]) & (most[cube] < UNKNOWN)
    times[alike] = least[cube][alike]
    rest = ~corner & ~alike
    times[rest] = count(cells[rest])
    return times


def _at_corners(
    shape: tuple[int, ...], corners: NDArray[np.int64], times: NDArray[np.uint8]
) -> NDArray[np.uint8]:
    lattice = np.full(shape, UNKNOWN, dtype=np.uint8)
    lattice[tuple(corners.T)] = times
    return lattice


def in_parts(
    work: Callable[[slice], None], count: int, tell: Tell = silent, what: str = ""
) -> None:
    """Split rows among threads; the kernels release the GIL.

    what : the step whose progress is reported
    """
    threads = min(8, os.cpu_count() or 1)
    edges = [int(edge) for edge in np.linspace(0, count, PARTS * threads + 1)]
    parts = [slice(first, last) for first, last in itertools.pairwise(edges)]
    with ThreadPoolExecutor(threads) as pool:
        part(tell, what, 0, count)
        for rows, _ in zip(parts, pool.map(work, parts), strict=True):
            part(tell, what, rows.stop, count)


def room_round(opaque: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Whole cells from every cell's centre to that of the nearest opaque or rim cell,
    at most 255.
    """
    clear = ~opaque
    for axis in range(3):
        for end in (0, -1):
            clear[(slice(None),) * axis + (end,)] = False
    distance = edt.edt(clear.astype(np.uint8), black_border=False, parallel=2)
    return np.minimum(distance, 255.0).astype(np.uint8)


def cell_units(grid: Grid, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Convert (n, 3) points [m] to cells from the grid's corner."""
    scaled = (np.asarray(points, dtype=np.float64).reshape(-1, 3) - np.array(grid.origin)) / (
        grid.pitch
    )
    return np.ascontiguousarray(scaled)


def directions(count: int) -> NDArray[np.float64]:
    """Unit vectors spread evenly over the sphere (a golden-angle spiral)."""
    step = np.arange(count) + 0.5
    z = 1.0 - 2.0 * step / count
    turn = np.pi * (3.0 - np.sqrt(5.0)) * step
    radius = np.sqrt(1.0 - z * z)
    return np.stack([radius * np.cos(turn), radius * np.sin(turn), z], axis=1)


@kernel(nogil=True)
def _look(cells, eyes, sight, ends, spanned, hard, known, facing, area, sign, enough, times):  # type: ignore[no-untyped-def]
    """Set times (n,) to the number of eyes that saw a cell, at most `enough`.

    cells (n, 3); eyes (m, 3) [cells]; sight, ends, facing, area as in Scene, known its cells,
    spanned and hard flat; sign from facing_sign.
    """
    # Eyes that saw the last cell are tried first: neighbours are mostly seen by the same ones.
    order = np.arange(eyes.shape[0])
    for row in range(cells.shape[0]):
        fronts = 0
        for turn in range(eyes.shape[0]):
            eye = order[turn]
            line = _line(
                cells[row], eyes[eye], sight, ends, spanned, hard, known, facing, area, sign
            )
            if line != ON_FRONT:
                continue
            order[turn] = order[fronts]
            order[fronts] = eye
            fronts += 1
            if fronts >= enough:
                break
        times[row] = fronts


@kernel(nogil=True)
def _trace(cells, eyes, sight, ends, spanned, hard, known, facing, area, sign, lines):  # type: ignore[no-untyped-def]
    """Count lines (n, 3) per cell: those on fronts, on backs or nothing, and all.

    cells (n, 3); eyes (m, 3) [cells]; sight, ends, facing, area as in Scene, known its cells,
    spanned and hard flat; sign from facing_sign.
    """
    for row in range(cells.shape[0]):
        for eye in range(eyes.shape[0]):
            line = _line(
                cells[row], eyes[eye], sight, ends, spanned, hard, known, facing, area, sign
            )
            lines[row, 0] += line == ON_FRONT
            lines[row, 1] += line == ON_WRONG
            lines[row, 2] += line != BLOCKED


@kernel(nogil=True)
def _line(cell, eye, sight, ends, spanned, hard, known, facing, area, sign):  # type: ignore[no-untyped-def]
    """Whether a line from an eye to a cell is blocked, and else what it ends on behind it.

    cell (3,); eye (3,) [cells]; the rest as for _trace.
    """
    x, y, z = cell[0] + 0.5, cell[1] + 0.5, cell[2] + 0.5
    dx, dy, dz = eye[0] - x, eye[1] - y, eye[2] - z
    far = np.sqrt(dx * dx + dy * dy + dz * dz)
    if far < 1.0:
        return ON_FRONT
    dx, dy, dz = dx / far, dy / far, dz / far
    if first_met(x, y, z, dx, dy, dz, far, sight) != -1:
        return BLOCKED
    end = first_met(x, y, z, -dx, -dy, -dz, np.inf, ends)
    if end == -1 or spanned[end]:
        return ON_WRONG
    if hard[end]:
        return ON_FRONT
    side = sign * side_met(end, -dx, -dy, -dz, known, facing, area)
    if side <= 0.0:
        return ON_FRONT
    return ON_WRONG if side > CLEARLY_BACK else GRAZING


@kernel(nogil=True)
def first_met(x, y, z, dx, dy, dz, far, room):  # type: ignore[no-untyped-def]
    """Flat index of the first cell without room along a line shorter than far, else -1.

    A cell of room n is n cells from the nearest without room, centre to centre, so the line may
    advance n - sqrt(3) at once; otherwise it steps through the next face. The rim of the grid has
    no room and ends the line. x, y, z, far [cells]; (dx, dy, dz) unit; room (ni, nj, nk) from
    room_round [cells].
    """
    wi = 1.0 / abs(dx) if dx != 0.0 else np.inf
    wj = 1.0 / abs(dy) if dy != 0.0 else np.inf
    wk = 1.0 / abs(dz) if dz != 0.0 else np.inf
    si, sj, sk = 1 if dx > 0 else -1, 1 if dy > 0 else -1, 1 if dz > 0 else -1
    gone = 0.0
    while True:
        px, py, pz = x + gone * dx, y + gone * dy, z + gone * dz
        i, j, k = int(px), int(py), int(pz)
        if room[i, j, k] == 0:
            # Rounding may end a step just inside the next cell; it is opaque all the same.
            return _unless_rim(room, i, j, k)
        ti = gone + (i + 1 - px if dx > 0 else px - i) * wi if dx != 0.0 else np.inf
        tj = gone + (j + 1 - py if dy > 0 else py - j) * wj if dy != 0.0 else np.inf
        tk = gone + (k + 1 - pz if dz > 0 else pz - k) * wk if dz != 0.0 else np.inf
        while room[i, j, k] < 5:
            if ti <= tj and ti <= tk:
                gone = ti
                i += si
                ti += wi
            elif tj <= tk:
                gone = tj
                j += sj
                tj += wj
            else:
                gone = tk
                k += sk
                tk += wk
            if gone >= far:
                return -1
            if room[i, j, k] == 0:
                return _unless_rim(room, i, j, k)
        gone += room[i, j, k] - 1.7321
        if gone >= far:
            return -1


@kernel(nogil=True)
def _unless_rim(room, i, j, k):  # type: ignore[no-untyped-def]
    """Flat index of cell i, j, k, or -1 on the rim of the grid; room (ni, nj, nk) [cells]."""
    ni, nj, nk = room.shape
    if i == 0 or j == 0 or k == 0 or i == ni - 1 or j == nj - 1 or k == nk - 1:
        return -1
    return (i * nj + j) * nk + k


@kernel(nogil=True)
def side_met(flat, dx, dy, dz, known, facing, area):  # type: ignore[no-untyped-def]
    """Cosine between a line of travel and the cell's normals, 0 where these are undefined.

    flat: the cell's flat index; (dx, dy, dz) of any length; known (m,) sorted flat indices; facing
    (m, 3), area (m,) [m2].
    """
    at = np.searchsorted(known, flat)
    if at == known.size or known[at] != flat:
        return 0.0
    fx, fy, fz = facing[at, 0], facing[at, 1], facing[at, 2]
    size = np.sqrt(fx * fx + fy * fy + fz * fz)
    if size < TWO_SIDED * area[at] or size == 0.0:
        return 0.0
    return (fx * dx + fy * dy + fz * dz) / (size * np.sqrt(dx * dx + dy * dy + dz * dz))


@kernel(nogil=True)
def _facings(eye, ways, sight, known, facing, area):  # type: ignore[no-untyped-def]
    """How many lines of sight from an eye end on a front and on a back, by the mesh's winding.

    eye (3,) [cells]; ways (n, 3) unit; sight, facing, area as in Scene, known its cells.
    """
    front, back = 0, 0
    for row in range(ways.shape[0]):
        dx, dy, dz = ways[row, 0], ways[row, 1], ways[row, 2]
        end = first_met(eye[0], eye[1], eye[2], dx, dy, dz, np.inf, sight)
        if end == -1:
            continue
        side = side_met(end, dx, dy, dz, known, facing, area)
        front += side < -0.1
        back += side > 0.1
    return front, back
