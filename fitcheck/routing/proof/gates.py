"""Gates: windows in planes that every short enough hose must pass in turn.

The corridor's cubes hold every hose in question. A window W is a connected set of them (by faces,
edges or corners), complete among the cubes a plane touches. The corridor without W splits into
connected parts. No part is touched by the plane next to W, so each of its cubes next to W lies
wholly on one side. Where every part has one side only, B is the parts below.

*It is passed.* Let the hose be in B at some time and outside B and W at a later one. From its last
time in B until it is first in neither it is in W alone, and goes from below the plane to above it:
it crosses the plane in a cube of W. For the gate, the start is in B and the end in neither.

*In order.* Gates are kept only where B and W of each lie in B of the next. Take for each gate the
crossing after the last time in its B. It happens in W, which is in the next B, so before the last
time there, so before the crossing of the next. For the same reason a hose that is at a time t in a
cube outside B and W of the first m gates and in B of all others crosses the first m, in order,
before t (look at the hose until t only), and the others, in order, after it.

Rounding: a cube counts as touched up to 1e-9 of its size beyond the plane, ends and cubes meet in
closed sets, squares of a window are kept 1e-6 m beyond what distance and size require.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, label

from fitcheck.geometry.grid import Grid
from fitcheck.kernels import kernel
from fitcheck.routing.proof.chain import climb, spared
from fitcheck.routing.proof.potential import Measure, Points
from fitcheck.units import Metre

#: Squares of a gate are split until their half diagonal is below this: at first, and where they
#: decide the bound [m].
FIRST, FINEST = 0.003, 0.0007
#: Squares this close to the minimum are split further [m].
DECIDES = 0.004
#: Subtracted from the bound for rounding [m].
ROUNDING = 1e-9
#: Soft minima from warm to cold [m], and steps at each.
HEATS, STEPS_EACH = np.array([0.005, 0.0015, 0.0004]), 8
#: A climb from straight directions first treats bends as this share of their radius.
SOFT = 0.1
TOUCH = np.ones((3, 3, 3))


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Gate:
    """A window in a plane: squares that hold every point with clearance the hose may pass.

    point, normal : (3,) the plane, normal along the way; side : (2, 3) axes in the plane
    centre : (n, 3) [m]; half : (n,) half an edge of each square [m]; sure : (n,) wholly clear
    before : cubes of the corridor that lie before it; cubes : those of the window
    """

    point: Points
    normal: Points
    side: Points
    centre: Points
    half: NDArray[np.float64]
    sure: NDArray[np.bool_]
    before: NDArray[np.bool_]
    cubes: NDArray[np.bool_]


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Ends:
    """Both ends of a hose and its bend radius; directions of travel."""

    start: Points
    start_direction: Points
    end: Points
    end_direction: Points
    radius: Metre

    def rows(self) -> Points:
        """(4, 3) start, its direction, end, its direction."""
        return np.array([self.start, self.start_direction, self.end, self.end_direction])


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Setting:
    """Input of the gate search: corridor, its grid, the ends, clearance and obstacles."""

    corridor: NDArray[np.bool_]
    grid: Grid
    ends: Ends
    clearance: Metre
    measure: Measure


def gates_along(planes: list[tuple[Points, Points]], where: Setting) -> list[Gate]:
    """The planes that are proven gates: each separates the ends, and each lies beyond the last.

    planes : point and direction of travel; corridor : cubes that hold every hose short enough.
    """
    gates: list[Gate] = []
    behind: NDArray[np.bool_] | None = None
    for plane in planes:
        parted = parted_by(plane, where)
        if parted is None:
            continue
        window, before = parted
        if behind is not None and bool((behind & ~before).any()):
            continue
        gate = _window(plane, window, before, where)
        gates.append(gate)
        behind = before | window
    return gates


def parted_by(
    plane: tuple[Points, Points], where: Setting
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]] | None:
    """Cubes of the window and all cubes before it, or None if the plane does not separate the
    ends.

    The cubes connected to the one at the plane's point are tried first, then all the plane
    touches.
    """
    touch = _touched(plane, where.corridor, where.grid)
    groups, count = label(touch, structure=TOUCH)
    home = groups[_cube(where.grid, plane[0])]
    if home:
        found = _sides(plane, np.asarray(groups == home), where)
        if found is not None or count == 1:
            return found
    return _sides(plane, touch, where)


def _sides(
    plane: tuple[Points, Points], window: NDArray[np.bool_], where: Setting
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]] | None:
    grid, ends = where.grid, where.ends
    height = _heights(grid, *plane)
    rest, count = label(where.corridor & ~window, structure=TOUCH)
    first, last = rest[_cube(grid, ends.start)], rest[_cube(grid, ends.end)]
    if first == 0 or last == 0 or first == last:
        return None
    rim = binary_dilation(window, structure=TOUCH) & ~window & (rest > 0)
    above = np.bincount(rest[rim & (height > 0)], minlength=count + 1) > 0
    below = np.bincount(rest[rim & (height <= 0)], minlength=count + 1) > 0
    if bool((above & below).any()) or not below[first] or below[last]:
        return None
    before = below[rest] & (rest > 0)
    return window, before


def _touched(
    plane: tuple[Points, Points], corridor: NDArray[np.bool_], grid: Grid
) -> NDArray[np.bool_]:
    reach = grid.pitch / 2 * np.abs(plane[1]).sum() * (1 + 1e-9)
    return np.asarray(corridor & (np.abs(_heights(grid, *plane)) <= reach))


def _heights(grid: Grid, point: Points, normal: Points) -> NDArray[np.float64]:
    """Signed distance of every cube's centre from a plane."""
    parts = [
        (grid.origin[a] + grid.pitch * (np.arange(grid.shape[a]) + 0.5) - point[a]) * normal[a]
        for a in range(3)
    ]
    return np.asarray(parts[0][:, None, None] + parts[1][None, :, None] + parts[2][None, None, :])


def _cube(grid: Grid, point: Points) -> tuple[int, ...]:
    index = np.clip(grid.index(np.asarray(point)), 0, np.array(grid.shape) - 1)
    return tuple(int(i) for i in index)


def _window(
    plane: tuple[Points, Points],
    window: NDArray[np.bool_],
    before: NDArray[np.bool_],
    where: Setting,
) -> Gate:
    """Cover the part of the plane in the window's cubes that may keep the clearance."""
    point, normal = plane
    grid = where.grid
    first = np.cross(normal, np.eye(3)[int(np.abs(normal).argmin())])
    side = np.stack([first / np.linalg.norm(first), np.zeros(3)])
    side[1] = np.cross(normal, side[0])
    flat = (grid.centre(np.argwhere(window)) - point) @ side.T
    reach = grid.pitch
    cells = np.unique(np.round(flat / (2 * reach)).astype(np.int64), axis=0)
    around = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)])
    cells = np.unique((cells[:, None] + around).reshape(-1, 2), axis=0)
    centre, half = point + (cells * 2 * reach) @ side, np.full(len(cells), reach)
    wide = binary_dilation(window, structure=TOUCH)
    done: list[tuple[NDArray[np.generic], ...]] = []
    while len(centre):
        diagonal = half * math.sqrt(2)
        inside = _in_cubes(centre, wide, grid) | (diagonal > grid.pitch)
        centre, half, sure = _maybe(centre[inside], half[inside], where)
        small = half * math.sqrt(2) <= grid.pitch
        settled = small & (sure | (half * math.sqrt(2) < FIRST))
        done.append((centre[settled], half[settled], sure[settled]))
        centre, half = _quartered(centre[~settled], half[~settled], side)
    centre, half, sure = (np.concatenate([part[a] for part in done]) for a in range(3))
    return Gate(
        point=point,
        normal=normal,
        side=side,
        centre=centre.reshape(-1, 3),
        half=half,
        sure=sure.astype(np.bool_),
        before=before,
        cubes=window,
    )


def _maybe(
    centre: Points, half: NDArray[np.float64], where: Setting
) -> tuple[Points, NDArray[np.float64], NDArray[np.bool_]]:
    """The squares that may hold a point with clearance, and which of them are clear everywhere."""
    diagonal = half * math.sqrt(2)
    away = where.measure(centre)
    kept = away >= where.clearance - diagonal - 1e-6
    return centre[kept], half[kept], (away >= where.clearance + diagonal)[kept]


def _in_cubes(points: Points, cubes: NDArray[np.bool_], grid: Grid) -> NDArray[np.bool_]:
    index = grid.index(points)
    held = grid.holds(index)
    index = np.clip(index, 0, np.array(grid.shape) - 1)
    return held & cubes[tuple(index.T)]


def _quartered(
    centre: Points, half: NDArray[np.float64], side: Points
) -> tuple[Points, NDArray[np.float64]]:
    """Split each square into four."""
    signs = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)]) / 2
    moved = centre[:, None, :] + half[:, None, None] * (signs @ side)[None]
    return moved.reshape(-1, 3), np.repeat(half / 2, 4)


# --- the bound over a chain of gates ----------------------------------------------------------


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Chain:
    """Gates in order, the vectors that prove the bound, the bound [m]."""

    gates: list[Gate]
    vectors: Points
    bound: Metre


def chain_of(gates: list[Gate], where: Setting, limit: Metre) -> Chain:
    """The best bound found for a hose that passes these gates in turn.

    Squares that no hose within the limit passes are dropped along the way, and those that decide
    are split; a gate with none left proves the limit.
    """
    ends = where.ends
    stops = np.vstack([ends.start, *[gate.point for gate in gates], ends.end])
    vectors = _unit(np.diff(stops, axis=0))
    best = -math.inf
    for _ in range(6):
        if any(len(gate.half) == 0 for gate in gates):
            return Chain(gates=gates, vectors=vectors, bound=limit)
        bound, vectors, keep = _climbed(gates, ends, vectors, limit)
        best = max(best, bound)
        left = [_only(gate, rows) for gate, rows in zip(gates, keep, strict=True)]
        if best >= limit or any(len(gate.half) == 0 for gate in left):
            return Chain(gates=gates, vectors=vectors, bound=limit)
        finer = [_finer(gate, vectors[n] - vectors[n + 1], where) for n, gate in enumerate(left)]
        cut = sum(len(rows) for rows in keep) - sum(len(gate.half) for gate in left)
        same = all(one is two for one, two in zip(left, finer, strict=True))
        many = sum(len(rows) for rows in keep)
        gates = finer
        if same and cut < 0.1 * many:
            break
    return Chain(gates=gates, vectors=vectors, bound=best - ROUNDING)


def stacked(gates: list[Gate]) -> tuple[Points, NDArray[np.float64], NDArray[np.int64], Points]:
    """Squares of all gates for the kernels: centres, halves, rows of each gate, axes."""
    sides = np.zeros((len(gates), 3, 3))
    for number, gate in enumerate(gates):
        sides[number, :2] = gate.side
    last = np.cumsum([len(gate.half) for gate in gates]).astype(np.int64).reshape(-1)
    first = np.concatenate([np.zeros(1, dtype=np.int64), last])[: len(gates)]
    centre = np.concatenate([np.zeros((0, 3)), *[gate.centre for gate in gates]])
    half = np.concatenate([np.zeros(0), *[gate.half for gate in gates]])
    return centre, half, np.column_stack([first, last]), sides


def outlined(gate: Gate) -> Gate:
    """The gate reduced to the corners of its squares' convex hull, where a linear function has its
    minimum.
    """
    signs = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)])
    flat = (gate.centre - gate.point) @ gate.side.T
    corners = (flat[:, None] + gate.half[:, None, None] * signs).reshape(-1, 2)
    corner = gate.point + corners[hull(corners)] @ gate.side
    nothing = np.zeros(len(corner))
    return replace(gate, centre=corner, half=nothing, sure=nothing > 0)


def hull(flat: NDArray[np.float64]) -> NDArray[np.int64]:
    """Rows of (n, 2) points on their convex hull, in order around it, by a monotone chain."""
    order = np.lexsort((flat[:, 1], flat[:, 0]))
    across = flat[order, 0]
    first = np.concatenate([[True], across[1:] != across[:-1]])
    last = np.concatenate([first[1:], [True]])
    kept = np.empty(2 * len(flat), dtype=np.int64)
    half = _side(flat, order[first], kept, 0)
    return kept[: _side(flat, order[last][::-1], kept, half)]


@kernel
def _side(flat, rows, kept, begin):  # type: ignore[no-untyped-def]
    """Append half the hull to `kept`, which holds `begin` rows; return the new number of rows.

    flat (n, 2) [m]; rows (m,) of flat, in order across; kept (2 n,), rows of flat, written.
    """
    end = begin
    for row in rows:
        while end > begin + 1:
            a, b = kept[end - 2], kept[end - 1]
            area = (flat[b, 0] - flat[a, 0]) * (flat[row, 1] - flat[a, 1])
            area -= (flat[b, 1] - flat[a, 1]) * (flat[row, 0] - flat[a, 0])
            if area > 0.0:
                break
            end -= 1
        kept[end] = row
        end += 1
    return end


def _climbed(
    gates: list[Gate], ends: Ends, vectors: Points, limit: Metre
) -> tuple[Metre, Points, list[NDArray[np.bool_]]]:
    """The bound, its vectors, and for each gate the squares a hose within the limit may pass."""
    centre, half, rows, sides = stacked(gates)
    corners = stacked([outlined(gate) for gate in gates])
    middles = np.vstack([ends.start, *[gate.centre.mean(axis=0) for gate in gates], ends.end])
    ways = _unit(np.diff(middles, axis=0))
    best, bound = vectors, -math.inf
    for trial, radii in ((vectors.copy(), (1.0,)), (ways.copy(), (SOFT, 1.0))):
        count = len(gates)
        room = np.zeros((count, 3)), np.zeros((count, 3, 3)), np.zeros(count)
        proven = -math.inf
        for share in radii:
            proven = climb(
                *corners, ends.rows(), ways, share * ends.radius, trial, limit, HEATS,
                STEPS_EACH, *room,
            )  # fmt: skip
        if proven > bound:
            best, bound = trial, float(proven)
    vectors = best
    keep = np.ones(len(half), dtype=np.bool_)
    spared(centre, half, rows, sides, vectors, bound, limit, keep)
    return float(bound), vectors, [keep[low:high] for low, high in rows]


def _only(gate: Gate, rows: NDArray[np.bool_]) -> Gate:
    return replace(gate, centre=gate.centre[rows], half=gate.half[rows], sure=gate.sure[rows])


def _finer(gate: Gate, way: Points, where: Setting) -> Gate:
    """The gate with its deciding squares split; itself where there are none."""
    value = gate.centre @ way - gate.half * np.abs(gate.side @ way).sum()
    rows = ~gate.sure & (gate.half * math.sqrt(2) > FINEST) & (value < value.min() + DECIDES)
    if not rows.any():
        return gate
    new = _maybe(*_quartered(gate.centre[rows], gate.half[rows], gate.side), where)
    old = gate.centre[~rows], gate.half[~rows], gate.sure[~rows]
    centre, half, sure = (np.concatenate(pair) for pair in zip(old, new, strict=True))
    return replace(gate, centre=centre, half=half, sure=sure)


def _unit(rows: Points) -> Points:
    length = np.linalg.norm(rows, axis=-1, keepdims=True)
    return np.asarray(rows / np.maximum(length, 1e-12))
