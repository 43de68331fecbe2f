"""Everything a hose must clear, and the distance to it.

Distances are to closed sets, so d(x)^2 - |x|^2 is concave: between grid nodes v with weights w,
d(x)^2 >= sum w d_v^2 - h^2 sum t (1 - t) (t the position inside the cell per axis). Trilinear
interpolation of d itself has no such bound: it overestimates across thin sheets.

Calling a kernel with a World costs a fifth of a microsecond because of its two dozen arrays, so
frequent queries read single arrays (known_at, close_at) and only unknown values are requested from
the World.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.distance import TriangleIndex, nearest_triangle, point_box, point_piece
from fitcheck.kernels import kernel
from fitcheck.routing.world.close import CLOSE_REACH, NO_CLOSE, Close, close_at

_FREE, _UNSEEN = 0, 2


class Dark(NamedTuple):
    """Unseen cells, each a full cube that blocks, and their grid.

    label : grid shape; steps : whole cells to the nearest unseen one, by the largest coordinate,
    255 at most; origin (3,), pitch (1,) [m]
    """

    label: NDArray[np.uint8]
    steps: NDArray[np.uint8]
    origin: NDArray[np.float64]
    pitch: NDArray[np.float64]


#: No unseen cells, in an unbounded grid.
NO_DARK = Dark(
    label=np.zeros((1, 1, 1), dtype=np.uint8),
    steps=np.full((1, 1, 1), 255, dtype=np.uint8),
    origin=np.full(3, -5e5),
    pitch=np.full(1, 1e6),
)
# read-only as in a space: kernels are compiled again for writable arrays
NO_DARK.label.setflags(write=False)


class World(NamedTuple):
    """All obstacles of one hose, in arrays.

    triangles : index; label, reach : cells of the search and a lower bound on the distance from
    their centres; origin (3,), pitch (1,) [m]
    dark : unseen cells in the space's own grid, whose edge ends the world; bars : barred ones
    boxes : (n, 15) always there; extra : (m, 16) for this hose only (withdrawal spaces)
    tubes : (k, 12) pieces of other hoses and straight ends. The last columns of extra and tubes
    are what each requires of this hose's centre line beyond the clearance `need` that everything
    else requires; it is subtracted from the distance and may be negative [m].
    still, node : distance at cell centres to fixed obstacles, to extra and tubes; negative: not
    yet known
    room, spot : greatest clearance among eight places in a cell and which one, fixed obstacles
    only; negative likewise
    hot : (n, 16) boxes and the distance that counts as part of each [m]
    close : finer distances to fixed obstacles
    """

    triangles: TriangleIndex
    label: NDArray[np.uint8]
    dark: Dark
    reach: NDArray[np.float32]
    origin: NDArray[np.float64]
    pitch: NDArray[np.float64]
    boxes: NDArray[np.float64]
    extra: NDArray[np.float64]
    tubes: NDArray[np.float64]
    still: NDArray[np.float32]
    node: NDArray[np.float32]
    room: NDArray[np.float32]
    spot: NDArray[np.uint8]
    hot: NDArray[np.float64] = np.zeros((0, 16))
    close: Close = NO_CLOSE
    bars: Dark = NO_DARK


@kernel
def outside(world, x, y, z):  # type: ignore[no-untyped-def]
    """Distance to the outside of the space's grid, 0 outside [m]."""
    dark = world.dark
    h = dark.pitch[0]
    n0, n1, n2 = dark.label.shape
    x, y, z = x - dark.origin[0], y - dark.origin[1], z - dark.origin[2]
    return max(0.0, min(x, n0 * h - x, y, n1 * h - y, z, n2 * h - z))


@kernel
def to_unseen(world, x, y, z, cutoff):  # type: ignore[no-untyped-def]
    """Distance to the nearest unseen or barred cell as a full cube, up to `cutoff` [m]."""
    return _to_dark(world.bars, x, y, z, _to_dark(world.dark, x, y, z, cutoff))


@kernel
def _to_dark(dark, x, y, z, cutoff):  # type: ignore[no-untyped-def]
    """Distance from x, y, z to the nearest unseen cell of a grid, up to `cutoff`, all [m]."""
    h = dark.pitch[0]
    n0, n1, n2 = dark.label.shape
    fx, fy, fz = x - dark.origin[0], y - dark.origin[1], z - dark.origin[2]
    near = dark.steps[
        min(n0 - 1, max(0, int(fx // h))),
        min(n1 - 1, max(0, int(fy // h))),
        min(n2 - 1, max(0, int(fz // h))),
    ]
    if (near - 1.0) * h >= cutoff:
        return cutoff
    best = cutoff * cutoff
    if near < 255:
        # the nearest one is no further away than this
        cutoff = min(cutoff, 1.7321 * h * (near + 1.0))
    i0, i1 = max(0, int((fx - cutoff) // h)), min(n0 - 1, int((fx + cutoff) // h))
    j0, j1 = max(0, int((fy - cutoff) // h)), min(n1 - 1, int((fy + cutoff) // h))
    k0, k1 = max(0, int((fz - cutoff) // h)), min(n2 - 1, int((fz + cutoff) // h))
    for i in range(i0, i1 + 1):
        gx = max(0.0, i * h - fx, fx - (i + 1) * h)
        for j in range(j0, j1 + 1):
            gy = max(0.0, j * h - fy, fy - (j + 1) * h)
            row = gx * gx + gy * gy
            if row >= best:
                continue
            for k in range(k0, k1 + 1):
                if dark.label[i, j, k] == _UNSEEN:
                    gz = max(0.0, k * h - fz, fz - (k + 1) * h)
                    best = min(best, row + gz * gz)
    return math.sqrt(best)


@kernel
def to_boxes(boxes, x, y, z, cutoff):  # type: ignore[no-untyped-def]
    """Distance to the nearest of some boxes, up to `cutoff` [m]."""
    best = cutoff
    for b in range(boxes.shape[0]):
        best = min(best, point_box(x, y, z, boxes, b))
    return best


@kernel
def to_hot(hot, x, y, z, cutoff):  # type: ignore[no-untyped-def]
    """Distance to the nearest of some boxes expanded by their own clearance, within [0, cutoff]
    [m].
    """
    best = cutoff
    for b in range(hot.shape[0]):
        best = min(best, point_box(x, y, z, hot, b) - hot[b, 15])
    return max(0.0, best)


@kernel
def to_tubes(tubes, x, y, z, cutoff):  # type: ignore[no-untyped-def]
    """Distance to the nearest tube less its extra requirement, within [0, cutoff] [m]."""
    best = cutoff
    for p in range(tubes.shape[0]):
        most = best + tubes[p, 11] + tubes[p, 10]
        dx, dy, dz = x - tubes[p, 0], y - tubes[p, 1], z - tubes[p, 2]
        if most > 0.0 and dx * dx + dy * dy + dz * dz < most * most:
            best = min(best, point_piece(x, y, z, tubes, p) - tubes[p, 11])
    return max(0.0, best)


@kernel
def to_soft(world, x, y, z, cutoff):  # type: ignore[no-untyped-def]
    """Distance to withdrawal spaces and tubes less their extra requirements, up to
    `cutoff` [m].
    """
    best = to_tubes(world.tubes, x, y, z, cutoff)
    for b in range(world.extra.shape[0]):
        best = min(best, point_box(x, y, z, world.extra, b) - world.extra[b, 15])
    return max(0.0, best)


@kernel
def ease(world, need):  # type: ignore[no-untyped-def]
    """Smallest extra requirement of a space or a tube, 0 at most [m].

    A distance d less a negative b is not a distance to a closed set, but d^2 - |x|^2 stays
    concave: proofs between points use all distances and the need increased by this.
    """
    least = 0.0
    for p in range(world.tubes.shape[0]):
        least = min(least, world.tubes[p, 11])
    for b in range(world.extra.shape[0]):
        least = min(least, world.extra[b, 15])
    # hoses are thicker than this, so it only matters where clearance is given up on purpose
    return max(least, 1e-3 - need)


@kernel
def to_standing(world, x, y, z, cutoff):  # type: ignore[no-untyped-def]
    """Exact distance to fixed obstacles, up to `cutoff` [m]."""
    best = min(cutoff, outside(world, x, y, z))
    if best <= 0.0:
        return 0.0
    best = to_boxes(world.boxes, x, y, z, best)
    best = to_hot(world.hot, x, y, z, best)
    best = nearest_triangle(x, y, z, world.triangles, best)[0]
    return to_unseen(world, x, y, z, best)


@kernel
def exact(world, x, y, z, cutoff):  # type: ignore[no-untyped-def]
    """Exact distance to every obstacle of this hose, up to `cutoff` [m]."""
    return to_standing(world, x, y, z, to_soft(world, x, y, z, cutoff))


@kernel
def fresh_distance(reach, boxes, hot, origin, h, i, j, k):  # type: ignore[no-untyped-def]
    """still_distance of a free cell, from the survey, boxes and the grid's outside [m]."""
    n0, n1, n2 = reach.shape
    inside = min(i, j, k, n0 - 1 - i, n1 - 1 - j, n2 - 1 - k) + 0.5
    best = min(np.float64(reach[i, j, k]), h * inside)
    x, y, z = origin[0] + (i + 0.5) * h, origin[1] + (j + 0.5) * h, origin[2] + (k + 0.5) * h
    return to_boxes(boxes, x, y, z, to_hot(hot, x, y, z, best)) * (1.0 - 1e-6)


@kernel
def still_distance(world, i, j, k):  # type: ignore[no-untyped-def]
    """Lower bound on the distance from a cell's centre to fixed obstacles, 0 outside [m].

    A free cell takes the survey's distance, which is exact near triangles; a cell that contains
    triangles is measured, since the survey has 0 there.
    """
    n0, n1, n2 = world.label.shape
    if i < 0 or j < 0 or k < 0 or i >= n0 or j >= n1 or k >= n2:
        return 0.0
    still = world.still[i, j, k]
    if still < 0.0:
        h = world.pitch[0]
        x = world.origin[0] + (i + 0.5) * h
        y = world.origin[1] + (j + 0.5) * h
        z = world.origin[2] + (k + 0.5) * h
        if world.label[i, j, k] == _UNSEEN:
            still = np.float32(0.0)
        elif world.label[i, j, k] == _FREE:
            still = np.float32(
                fresh_distance(world.reach, world.boxes, world.hot, world.origin, h, i, j, k)
            )
        else:
            still = np.float32(to_standing(world, x, y, z, h) * (1.0 - 1e-6))
        world.still[i, j, k] = still
    return np.float64(still)


@kernel
def soft_distance(world, i, j, k):  # type: ignore[no-untyped-def]
    """The same for withdrawal spaces and tubes, for a cell of the grid, at most 1 m [m]."""
    if world.tubes.shape[0] + world.extra.shape[0] == 0:
        return 1.0
    value = world.node[i, j, k]
    if value < 0.0:
        h = world.pitch[0]
        x = world.origin[0] + (i + 0.5) * h
        y = world.origin[1] + (j + 0.5) * h
        z = world.origin[2] + (k + 0.5) * h
        value = np.float32(to_soft(world, x, y, z, 1.0) * (1.0 - 1e-6))
        world.node[i, j, k] = value
    return np.float64(value)


@kernel
def node_distance(world, i, j, k):  # type: ignore[no-untyped-def]
    """Lower bound on the distance at the centre of a cell, 0 outside the grid [m]."""
    still = still_distance(world, i, j, k)
    return min(still, soft_distance(world, i, j, k)) if still > 0.0 else 0.0


@kernel
def soft_at(world, x, y, z, cutoff):  # type: ignore[no-untyped-def]
    """Distance to withdrawal spaces and tubes, measured only where the cell value says it may
    matter [m].
    """
    if world.tubes.shape[0] + world.extra.shape[0] == 0:
        return cutoff
    h = world.pitch[0]
    n0, n1, n2 = world.label.shape
    fx, fy, fz = (x - world.origin[0]) / h, (y - world.origin[1]) / h, (z - world.origin[2]) / h
    i, j, k = int(math.floor(fx)), int(math.floor(fy)), int(math.floor(fz))
    if 0 <= i < n0 and 0 <= j < n1 and 0 <= k < n2:
        square = (fx - i - 0.5) ** 2 + (fy - j - 0.5) ** 2 + (fz - k - 0.5) ** 2
        if soft_distance(world, i, j, k) - h * math.sqrt(square) >= cutoff:
            return cutoff
    return to_soft(world, x, y, z, cutoff)


@kernel
def place_in(world, i, j, k, spot, out):  # type: ignore[no-untyped-def]
    """One of eight places in a cell, a quarter of an edge off its centre; 8 is the centre.

    i, j, k, the cell; spot in 0 .. 8; writes out (3,) [m].
    """
    h = world.pitch[0]
    out[0], out[1], out[2] = i + 0.5, j + 0.5, k + 0.5
    if spot < 8:
        for a in range(3):
            out[a] += 0.25 if (spot >> a) & 1 else -0.25
    for a in range(3):
        out[a] = world.origin[a] + h * out[a]


@kernel
def roomiest(world, i, j, k, need, out):  # type: ignore[no-untyped-def]
    """Clearance at the roomiest place of a cell that a route keeping `need` may use, else -1 [m].

    A point that keeps `need` [m] lies within 0.87 edges of its cell's centre and within 0.44 of
    one of the eight places: a cell with less clearance contains none. Writes the place to out (3,)
    [m].
    """
    h = world.pitch[0]
    n0, n1, n2 = world.label.shape
    if i < 0 or j < 0 or k < 0 or i >= n0 or j >= n1 or k >= n2:
        return -1.0
    d = np.float64(world.still[i, j, k])
    if d < 0.0 or world.tubes.shape[0] + world.extra.shape[0] > 0:
        d = node_distance(world, i, j, k)
    if d == 0.0:
        return -1.0
    place_in(world, i, j, k, np.int64(8), out)
    if d >= need - 0.4331 * h:
        return d
    if d < need - 0.8661 * h:
        return -1.0
    if world.room[i, j, k] < 0.0:
        best, spot = np.float32(0.0), 8
        for s in range(8):
            place_in(world, i, j, k, s, out)
            value = np.float32(to_standing(world, out[0], out[1], out[2], 2.5 * h))
            if value > best:
                best, spot = value, s
            if best > d + 0.4 * h:
                break
        world.room[i, j, k], world.spot[i, j, k] = best, spot
    place_in(world, i, j, k, np.int64(world.spot[i, j, k]), out)
    room = soft_at(world, out[0], out[1], out[2], np.float64(world.room[i, j, k]))
    room = max(d, room)
    return room if room >= need - 0.4331 * h else -1.0


@kernel
def known_at(still, origin, pitch, x, y, z):  # type: ignore[no-untyped-def]
    """Lower bound on the distance from the eight nodes around a point; -1: not known.

    still (nx, ny, nz), origin (3,), pitch (1,), x, y, z and the distance [m].
    """
    h = pitch[0]
    n0, n1, n2 = still.shape
    fx, fy, fz = (x - origin[0]) / h - 0.5, (y - origin[1]) / h - 0.5, (z - origin[2]) / h - 0.5
    i, j, k = int(math.floor(fx)), int(math.floor(fy)), int(math.floor(fz))
    if i < 0 or j < 0 or k < 0 or i + 1 >= n0 or j + 1 >= n1 or k + 1 >= n2:
        return -1.0
    tx, ty, tz = fx - i, fy - j, fz - k
    total = -h * h * (tx * (1.0 - tx) + ty * (1.0 - ty) + tz * (1.0 - tz))
    least = 0.0
    for a in range(2):
        wx = tx if a == 1 else 1.0 - tx
        for b in range(2):
            wy = wx * (ty if b == 1 else 1.0 - ty)
            for c in range(2):
                d = np.float64(still[i + a, j + b, k + c])
                least = min(least, d)
                total += wy * (tz if c == 1 else 1.0 - tz) * d * d
    if least < 0.0:
        return -1.0
    return math.sqrt(total) if total > 0.0 else 0.0


@kernel
def lower(world, x, y, z):  # type: ignore[no-untyped-def]
    """Lower bound on the distance from the eight nodes around a point [m]."""
    value = known_at(world.still, world.origin, world.pitch, x, y, z)
    if value < 0.0:
        h = world.pitch[0]
        fx = (x - world.origin[0]) / h - 0.5
        fy = (y - world.origin[1]) / h - 0.5
        fz = (z - world.origin[2]) / h - 0.5
        i, j, k = int(math.floor(fx)), int(math.floor(fy)), int(math.floor(fz))
        tx, ty, tz = fx - i, fy - j, fz - k
        total = -h * h * (tx * (1.0 - tx) + ty * (1.0 - ty) + tz * (1.0 - tz))
        for m in range(8):
            a, b, c = m & 1, m >> 1 & 1, m >> 2
            d = still_distance(world, i + a, j + b, k + c)
            w = (tx if a else 1.0 - tx) * (ty if b else 1.0 - ty) * (tz if c else 1.0 - tz)
            total += w * d * d
        value = math.sqrt(total) if total > 0.0 else 0.0
    if value > 0.0 and world.tubes.shape[0] + world.extra.shape[0] > 0:
        value = soft_at(world, x, y, z, value)
    return value


@kernel
def _close_node(world, a, b, c):  # type: ignore[no-untyped-def]
    """Distance to fixed obstacles at a node of the close grid, -1 where there is no
    tile left [m].
    """
    close = world.close
    n = close.value.shape[1]
    i, j, k = a // n, b // n, c // n
    n0, n1, n2 = close.tile.shape
    if i < 0 or j < 0 or k < 0 or i >= n0 or j >= n1 or k >= n2:
        return 0.0
    number = close.tile[i, j, k]
    if number < 0:
        number = np.int32(close.used[0])
        if number == close.value.shape[0]:
            return -1.0
        close.used[0] += 1
        close.tile[i, j, k] = number
        close.value[number] = -1.0
    value = close.value[number, a - i * n, b - j * n, c - k * n]
    if value < 0.0:
        edge = world.pitch[0] / n
        x = world.origin[0] + (a + 0.5) * edge
        y = world.origin[1] + (b + 0.5) * edge
        z = world.origin[2] + (c + 0.5) * edge
        value = np.float32(to_standing(world, x, y, z, CLOSE_REACH) * (1.0 - 1e-6))
        close.value[number, a - i * n, b - j * n, c - k * n] = value
    return np.float64(value)


@kernel
def close_lower(world, x, y, z, slope):  # type: ignore[no-untyped-def]
    """Both distances of close_at [m], measuring unknown nodes first; -1 where there is no tile
    left.

    x, y, z [m]; writes the gradient, a unit vector, into slope (3,).
    """
    edge = world.pitch[0] / world.close.value.shape[1]
    i = int(math.floor((x - world.origin[0]) / edge - 0.5))
    j = int(math.floor((y - world.origin[1]) / edge - 0.5))
    k = int(math.floor((z - world.origin[2]) / edge - 0.5))
    for m in range(8):
        if _close_node(world, i + (m & 1), j + (m >> 1 & 1), k + (m >> 2)) < 0.0:
            return -1.0, -1.0
    return close_at(world.close, world.origin, world.pitch, x, y, z, slope)


@kernel
def distance_at(world, x, y, z, want):  # type: ignore[no-untyped-def]
    """A lower bound if that is at least `want`, else the exact distance up to 1.5 want [m]."""
    value = lower(world, x, y, z)
    if value >= want:
        return value
    return exact(world, x, y, z, 1.5 * want)
