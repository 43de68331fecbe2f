"""What the lines in many directions from every cell end on, found for all cells at once.

Lines in one direction are parallel, so each passes through many cells, and all of those share its
end. One pass over the grid for each direction, from the far end of the lines back, hands every
cell the end of the next cell on its line: one step for a cell and a direction, however long the
line is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.kernels import kernel
from fitcheck.model.finding import Tell, silent
from fitcheck.model.progress import part
from fitcheck.space.cells.sight import CLEARLY_BACK, TWO_SIDED, Scene, directions, in_parts
from fitcheck.units import Metre, Ratio

#: Directions examined around every cell.
LOOKS = 64
#: A front with another surface's back this close behind it is backed [m].
BACKED: Metre = 0.080
#: A back this close counts WEIGHT times: machinery is about half a metre wide, so from its middle
#: its own faces are this close (common practice, no source) [m].
CLOSE: Metre = 0.25
WEIGHT = 3
#: What a line ends on: a back, something that proves nothing, a front, a front that cannot be
#: backed; besides, a cell without a surface, and the rim of the grid.
_BACK, _NEITHER, _FRONT, _HARD, _CLEAR, _RIM = -1, 0, 1, 2, 3, 4
#: A layer no line reaches.
_NEVER = 1 << 30


@dataclass(frozen=True, eq=False, kw_only=True)
class Looks:
    """Counts over LOOKS directions from every cell without a surface; grid.shape.

    net : int16, fronts less backs; backed fronts count as neither, close backs WEIGHT times
    met : uint8, directions in which there is anything; backs : uint8, those that meet a back
    """

    net: NDArray[np.int16]
    met: NDArray[np.uint8]
    backs: NDArray[np.uint8]

    def among_backs(self, share: Ratio) -> NDArray[np.bool_]:
        """Cells around which backs are at least this share of what is met."""
        return (self.backs > 0) & (self.backs >= share * self.met)


def look_around(scene: Scene, sign: Ratio, tell: Tell = silent) -> Looks:
    """Look from every cell in LOOKS directions; sign : from facing_sign, not 0."""
    grid, ways = scene.grid, directions(LOOKS)
    net = np.zeros(grid.shape, dtype=np.int16)
    met, backs = np.zeros((2, *grid.shape), dtype=np.uint8)
    plain, normals = _plain_ends(scene), sign * _normals(scene)
    reaches = np.array([BACKED, CLOSE]) / grid.pitch
    longest = np.abs(ways).argmax(axis=1)
    done = 0
    for axis in range(3):
        # The axis a line is longest along comes first, so that a layer of the grid is one step.
        order = (axis, *(other for other in range(3) if other != axis))
        ends = np.ascontiguousarray(plain.transpose(order))
        counts = tuple(np.zeros(ends.shape, dtype=one.dtype) for one in (net, met, backs))
        index = np.stack(np.unravel_index(scene.cells, grid.shape), axis=1)[:, order]
        places = np.ravel_multi_index(tuple(index.T), ends.shape)
        # Declared things stay fronts, and the rim of the grid proves nothing even in a surface.
        plainly = ends.reshape(-1)[places]
        fixed = (plainly == _HARD) | (plainly == _RIM)
        for way in ways[longest == axis]:
            side = normals @ way
            named = np.where(side < -CLEARLY_BACK, _FRONT, _NEITHER)
            named[side > CLEARLY_BACK] = _BACK
            ends.reshape(-1)[places] = np.where(fixed, plainly, named)
            _along(ends, way[list(order)], reaches, counts)
            done += 1
            part(tell, "directions looked in from all cells", done, LOOKS)
        back = tuple(np.argsort(order))
        for whole, some in zip((net, met, backs), counts, strict=True):
            whole += some.transpose(back)
    return Looks(net=net, met=met, backs=backs)


def _plain_ends(scene: Scene) -> NDArray[np.int8]:
    """What lines end on in every cell, triangles apart."""
    ends = np.full(scene.grid.shape, _CLEAR, dtype=np.int8)
    ends[scene.ends == 0] = _NEITHER
    ends[scene.hard] = _HARD
    for axis in range(3):
        for end in (0, -1):
            ends[(slice(None),) * axis + (end,)] = _RIM
    return ends


def _normals(scene: Scene) -> NDArray[np.float64]:
    """(m, 3) unit normals of the cells that hold triangles, 0 where they cancel out."""
    size = np.linalg.norm(scene.facing, axis=1)
    known = (size >= TWO_SIDED * scene.area) & (size > 0.0)
    return np.where(known[:, None], scene.facing / np.maximum(size, 1e-300)[:, None], 0.0)


def _along(
    ends: NDArray[np.int8],
    way: NDArray[np.float64],
    reaches: NDArray[np.float64],
    counts: tuple[NDArray[np.generic], ...],
) -> None:
    """Add one direction to the counts; its first component is the longest.

    reaches : BACKED and CLOSE [cells]
    """
    depth = ends.shape[0]
    tilt = way[1:] / abs(way[0])
    drift = np.floor((depth - 1) * tilt + 0.5).astype(np.int64)
    size = np.array(ends.shape[1:]) + np.abs(drift)
    shift = np.maximum(drift, 0)
    kind = np.full(size, _RIM, dtype=np.int8)
    at, back = np.full((2, *size), _NEVER, dtype=np.int32)
    near = reaches * abs(way[0])

    def work(rows: slice) -> None:
        _sweep(
            ends, rows.start, rows.stop, tilt, shift, way[0] > 0.0, near, kind, at, back, *counts
        )

    in_parts(work, int(size[0]))


@kernel(nogil=True)
def _sweep(  # type: ignore[no-untyped-def]
    ends, first, last, tilt, shift, ahead, near, kind, at, back, net, met, backs
):
    """Count what the lines of rows first to last end on, from their far end back.

    ends (d, n, m): what a line ends on in each cell; tilt (2,): rows and columns a line moves in
    one layer; shift (2,): row and column of its array a line through the first cell of layer 0
    has; ahead: lines run towards higher layers; near (2,): how far off a front is backed and a
    back is close [layers]; kind, at, back (r, c): the end each line has met so far, its layer, and
    the layer of its last back; net, met, backs (d, n, m) are added to.
    """
    depth, rows, columns = ends.shape
    for step in range(depth - 1, -1, -1):
        layer = step if ahead else depth - 1 - step
        down = int(np.floor(step * tilt[0] + 0.5)) - shift[0]
        right = int(np.floor(step * tilt[1] + 0.5)) - shift[1]
        for i in range(max(0, first + down), min(rows, last + down)):
            for j in range(columns):
                here = ends[layer, i, j]
                if here != _CLEAR:
                    if here == _BACK:
                        back[i - down, j - right] = step
                    elif here == _FRONT and back[i - down, j - right] - step <= near[0]:
                        here = _NEITHER
                    kind[i - down, j - right] = here
                    at[i - down, j - right] = step
                    continue
                end = kind[i - down, j - right]
                if end != _RIM:
                    met[layer, i, j] += 1
                    if _FRONT <= end <= _HARD:
                        net[layer, i, j] += 1
                    elif end == _BACK:
                        backs[layer, i, j] += 1
                        close = at[i - down, j - right] - step <= near[1]
                        net[layer, i, j] -= WEIGHT if close else 1
