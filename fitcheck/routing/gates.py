"""A length bound from gates: plane windows that every short enough hose must pass in turn.

Let x1 .. xk be the points where a hose passes gates F1 .. Fk, s0 and s1 its ends with directions
of travel d0 and d1, and a0 .. ak any unit vectors. On the leg from x(i) to x(i+1), of length L,
the tangent starts at some angle b to a(i), ends at some angle b', and turns by at most s / R, so

    L >= <x(i+1) - x(i), a(i)> + R loss(b, b', L),
    loss = chi(b) + chi(b') - 2 chi(max(0, (b + b' - L / R) / 2)),  chi(t) = t - sin t,

where a leg too short for both turns counts as the shortest that has room. The tangent at a gate
makes angles to a(i-1) and a(i) that add up to at least the angle between them. Summing the legs,

    length >= <s1, ak> - <s0, a0> + sum over gates of min over F of <x, a(i-1) - a(i)> + R least,

with `least` the smallest sum of losses over all ways to share the angle at every gate. The first
part sees the obstacles exactly where they are touched, the second what bending costs there.
The vectors only have to be good: whatever they are, the bound holds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, label
from scipy.spatial import cKDTree

from fitcheck.geometry.grid import Grid
from fitcheck.routing.potential import Measure, Points
from fitcheck.units import Metre

#: Squares of a gate are cut until their half diagonal is below this [m].
FINEST = 0.0007
#: How finely the share of the turn at a gate is told apart.
SHARES = 60
#: Taken off the bound for rounding [m].
ROUNDING = 1e-9
TOUCH = np.ones((3, 3, 3))


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Gate:
    """A window in a plane: squares that hold every point with clearance the hose may pass.

    point, normal : (3,) the plane, normal along the way; side : (2, 3) axes in the plane
    centre : (n, 3) [m]; half : (n,) half an edge of each square [m]
    """

    point: Points
    normal: Points
    side: Points
    centre: Points
    half: NDArray[np.float64]

    def least(self, vector: Points) -> tuple[float, Points]:
        """Smallest <x, vector> over the window, and a centre near where it is taken."""
        spread = np.abs(self.side @ vector).sum()
        value = self.centre @ vector - self.half * spread
        at = int(value.argmin())
        return float(value[at]), self.centre[at]


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Ends:
    """Both ends of a hose and its bend radius; directions of travel."""

    start: Points
    start_direction: Points
    end: Points
    end_direction: Points
    radius: Metre


def gates_along(
    planes: list[tuple[Points, Points]],
    corridor: NDArray[np.bool_],
    grid: Grid,
    ends: Ends,
    clearance: Metre,
    measure: Measure,
) -> list[Gate]:
    """The planes that are proven gates: each parts the corridor, each lies beyond the last.

    planes : point and direction of travel; corridor : cubes that hold every hose short enough.
    """
    gates: list[Gate] = []
    behind: NDArray[np.bool_] | None = None
    for point, normal in planes:
        parted = _parted(point, normal, corridor, grid, ends)
        if parted is None:
            continue
        window, before = parted
        if behind is not None and bool((behind & ~before).any()):
            continue
        gate = _window(point, normal, window, grid, clearance, measure)
        if len(gate.centre):
            gates.append(gate)
            behind = before | window
    return gates


def _parted(
    point: Points, normal: Points, corridor: NDArray[np.bool_], grid: Grid, ends: Ends
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]] | None:
    """Cubes of the window and all cubes before it, or None if the plane does not part the ends."""
    window = window_at((point, normal), corridor, grid)
    if window is None:
        return None
    height = _heights(grid, point, normal)
    rest, count = label(corridor & ~window, structure=TOUCH)
    first, last = rest[_cube(grid, ends.start)], rest[_cube(grid, ends.end)]
    if first == 0 or last == 0 or first == last:
        return None
    rim = binary_dilation(window, structure=TOUCH) & ~window & (rest > 0)
    above = np.bincount(rest[rim & (height > 0)], minlength=count + 1) > 0
    below = np.bincount(rest[rim & (height <= 0)], minlength=count + 1) > 0
    if bool((above & below).any()) or above[first] or below[last]:
        return None
    before = below[rest] & (rest > 0)
    return window, before


def window_at(
    plane: tuple[Points, Points], corridor: NDArray[np.bool_], grid: Grid
) -> NDArray[np.bool_] | None:
    """Cubes of the corridor that touch the plane and are joined there to the one at its point."""
    point, normal = plane
    height = _heights(grid, point, normal)
    touch = corridor & (np.abs(height) <= grid.pitch / 2 * np.abs(normal).sum() * (1 + 1e-9))
    groups, _ = label(touch, structure=TOUCH)
    home = groups[_cube(grid, point)]
    return None if home == 0 else np.asarray(groups == home)


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
    point: Points,
    normal: Points,
    window: NDArray[np.bool_],
    grid: Grid,
    clearance: Metre,
    measure: Measure,
) -> Gate:
    """Cover the part of the plane in the window's cubes that may keep the clearance."""
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
    done: list[tuple[Points, NDArray[np.float64]]] = []
    while len(centre):
        diagonal = half * math.sqrt(2)
        inside = _in_cubes(centre, wide, grid) | (diagonal > grid.pitch)
        away = measure(centre)
        maybe = inside & (away >= clearance - diagonal - 1e-6)
        settled = maybe & ((away >= clearance + diagonal) | (diagonal < FINEST))
        settled &= diagonal <= grid.pitch
        done.append((centre[settled], half[settled]))
        rest = maybe & ~settled
        centre, half = _quartered(centre[rest], half[rest], side)
    return Gate(
        point=point,
        normal=normal,
        side=side,
        centre=np.concatenate([part[0] for part in done]).reshape(-1, 3),
        half=np.concatenate([part[1] for part in done]),
    )


def _in_cubes(points: Points, cubes: NDArray[np.bool_], grid: Grid) -> NDArray[np.bool_]:
    index = grid.index(points)
    held = grid.holds(index)
    index = np.clip(index, 0, np.array(grid.shape) - 1)
    return held & cubes[tuple(index.T)]


def _quartered(
    centre: Points, half: NDArray[np.float64], side: Points
) -> tuple[Points, NDArray[np.float64]]:
    """Each square as four."""
    signs = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)]) / 2
    moved = centre[:, None, :] + half[:, None, None] * (signs @ side)[None]
    return moved.reshape(-1, 3), np.repeat(half / 2, 4)


# --- the bound over a chain of gates ----------------------------------------------------------


def chain_bound(gates: list[Gate], ends: Ends, target: Metre, rounds: int = 120) -> Metre:
    """The best bound found for a hose that passes these gates in turn [m].

    target : length of a known hose, only to choose steps; the bound holds whatever it is.
    """
    least = _least_legs(gates, ends)
    vectors = _first_vectors(gates, ends)
    best = -math.inf
    for turn in range(rounds):
        bound, points = _bound(gates, ends, vectors, least)
        best = max(best, bound)
        stops = np.vstack([ends.start, *points, ends.end])
        pull = np.diff(stops, axis=0)
        pull -= (pull * vectors).sum(axis=1, keepdims=True) * vectors
        size = float((pull**2).sum())
        if size < 1e-14 or bound >= target:
            break
        step = max(target - bound, 1e-4) / size * (0.7 if turn < 40 else 0.25)
        vectors = _unit(vectors + min(step, 2.0) * pull)
    return best - ROUNDING


def _first_vectors(gates: list[Gate], ends: Ends) -> Points:
    stops = np.vstack([ends.start, *[gate.point for gate in gates], ends.end])
    return _unit(np.diff(stops, axis=0))


def _unit(rows: Points) -> Points:
    length = np.linalg.norm(rows, axis=-1, keepdims=True)
    return np.asarray(rows / np.maximum(length, 1e-12))


def _least_legs(gates: list[Gate], ends: Ends) -> NDArray[np.float64]:
    """A lower bound on the distance between neighbouring gates."""
    clouds = [(ends.start[None], np.zeros(1))]
    clouds += [(gate.centre, gate.half * math.sqrt(2)) for gate in gates]
    clouds.append((ends.end[None], np.zeros(1)))
    gaps = []
    for (one, r1), (two, r2) in zip(clouds[:-1], clouds[1:], strict=True):
        few, many, rf, rm = (one, two, r1, r2) if len(one) < len(two) else (two, one, r2, r1)
        away, _ = cKDTree(many).query(few)
        gaps.append(max(0.0, float((away - rf).min()) - float(rm.max())))
    return np.array(gaps)


def _bound(
    gates: list[Gate], ends: Ends, vectors: Points, least: NDArray[np.float64]
) -> tuple[float, list[Points]]:
    """The bound for given vectors, and the gate points where its minima are taken."""
    total = float(ends.end @ vectors[-1] - ends.start @ vectors[0])
    points = []
    for gate, before, after in zip(gates, vectors[:-1], vectors[1:], strict=True):
        value, at = gate.least(before - after)
        total += value
        points.append(at)
    return total + ends.radius * _least_loss(ends, vectors, least / ends.radius), points


def _least_loss(ends: Ends, vectors: Points, legs: NDArray[np.float64]) -> float:
    """Smallest sum of losses over all ways to share the angles, each share an interval."""
    first = np.array([_angle(ends.start_direction, vectors[0])])
    cost = np.zeros(1)
    share = np.arange(SHARES) / SHARES
    for before, after, leg in zip(vectors[:-1], vectors[1:], legs[:-1], strict=True):
        turn = _angle(before, after)
        into, out = share * turn, (1 - share - 1 / SHARES) * turn
        cost = (cost[:, None] + _loss(first[:, None], into[None, :], float(leg))).min(axis=0)
        first = np.maximum(out, 0.0)
    last = _angle(ends.end_direction, vectors[-1])
    return float((cost + _loss(first, np.array(last), float(legs[-1]))).min())


def _loss(b0: NDArray[np.float64], b1: NDArray[np.float64], leg: float) -> NDArray[np.float64]:
    """Loss of a leg at least `leg` radii long whose end angles are at least b0 and b1.

    A larger smaller angle may ease the turn, so the smaller is first raised to within the leg.
    """
    low0, low1 = np.maximum(b0, b1 - leg), np.maximum(b1, b0 - leg)
    meet = np.maximum(0.0, (low0 + low1 - leg) / 2)
    return np.maximum(0.0, _chi(low0) + _chi(low1) - 2 * _chi(meet))


def _chi(t: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(t - np.sin(t))


def _angle(a: Points, b: Points) -> float:
    return math.atan2(float(np.linalg.norm(np.cross(a, b))), float(a @ b))
