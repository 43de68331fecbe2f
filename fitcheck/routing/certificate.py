"""The deep bound: where any shorter hose would have to run, and how long it would be there.

Two potentials, one from each end, bound the way through every cube; cubes where the sum exceeds
the length of the known hose hold no shorter one. What is left is the corridor. Where the known
hose bends, planes across the corridor become gates, and the gates give the bound. Where the
corridor offers another way round, every hose either takes this way and not the other, or the other
and not this, or both; each case is bounded on its own and the least counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label

from fitcheck.geometry.curve import Curve
from fitcheck.geometry.grid import Grid
from fitcheck.routing.gates import Ends, chain_bound, gates_along, window_at
from fitcheck.routing.potential import FAR, Measure, Points, Potential, Region, potential, region
from fitcheck.routing.taut import descend, pulled, turn_planes
from fitcheck.units import Metre, Radian

#: Most cubes a level may have.
MOST_CUBES = 900_000
#: A gap not worth another case.
CLOSE = 0.004
#: How finely bends are given gates: once, every 45 and every 20 degrees.
STEPS = (math.pi, math.pi / 4, math.pi / 9)

Planes = list[tuple[Points, Points]]


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Problem:
    """Two ends, the clearance of the centre line, the obstacles, a length worth beating."""

    ends: Ends
    clearance: Metre
    measure: Measure
    limit: Metre


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Corridor:
    """Cubes that hold every hose no longer than the limit, and the best distance proven so far."""

    space: Region
    cubes: NDArray[np.bool_]
    back: Potential
    forth: Potential
    bound: Metre


def certificate(
    problem: Problem,
    choices: list[Planes],
    pitches: tuple[Metre, ...] = (0.024, 0.012),
    ways: int = 2,
) -> Metre:
    """No hose between these ends with this radius and clearance is shorter than this [m].

    choices : sets of planes worth trying as gates, each in the order a known hose passes them;
    ways : how often a corridor may be told apart. At most problem.limit.
    """
    ends = problem.ends
    best = float(np.linalg.norm(ends.end - ends.start)) - 1e-9
    before: Corridor | None = None
    for level, pitch in enumerate(pitches):
        space = _space(problem, pitch, before)
        if space is None:
            break
        corridor = narrow(problem, space)
        last = level == len(pitches) - 1
        bound = prove(problem, corridor, choices, ways if last else 0)
        best = max(best, min(problem.limit, bound))
        if best >= problem.limit * (1 - CLOSE):
            break
        before = corridor
    return best


def prove(problem: Problem, corridor: Corridor, choices: list[Planes], ways: int) -> Metre:
    """The best bound for a corridor: its distance, its gates, or the least over its ways."""
    best = corridor.bound
    if best >= problem.limit:
        return best
    for planes in choices:
        gates = gates_along(
            planes,
            corridor.cubes,
            corridor.space.grid,
            problem.ends,
            problem.clearance,
            problem.measure,
        )
        best = max(best, chain_bound(gates, problem.ends, problem.limit))
    if ways and best < problem.limit * (1 - CLOSE):
        best = max(best, _told_apart(problem, corridor, choices, ways))
    return best


def _told_apart(problem: Problem, corridor: Corridor, choices: list[Planes], ways: int) -> Metre:
    """The least bound over the cases: this way alone, another way alone, both."""
    grid, ends = corridor.space.grid, problem.ends
    for plane in choices[0]:
        here = window_at(plane, corridor.cubes, grid)
        if here is None or _parts(corridor.cubes & ~here, grid, ends):
            continue
        other = narrow(problem, _without(corridor, here))
        path = descend(other.back, ends.start)
        if path is None:
            continue
        path = pulled(path, problem.clearance, problem.measure)
        theirs = [turn_planes(path, step) for step in STEPS]
        there = _cut(theirs, corridor, here, ends)
        if there is None:
            continue
        this = narrow(problem, _without(corridor, there))
        both = _through_both(corridor, here, there)
        first = prove(problem, other, theirs, ways - 1)
        second = prove(problem, this, choices, ways - 1)
        return min(first, second, both)
    return -math.inf


def _cut(
    choices: list[Planes], corridor: Corridor, here: NDArray[np.bool_], ends: Ends
) -> NDArray[np.bool_] | None:
    """A window on the other way that with the first one parts the corridor."""
    grid = corridor.space.grid
    for planes in choices:
        for plane in planes:
            there = window_at(plane, corridor.cubes & ~here, grid)
            if there is not None and _parts(corridor.cubes & ~here & ~there, grid, ends):
                return there
    return None


def _parts(cubes: NDArray[np.bool_], grid: Grid, ends: Ends) -> bool:
    """Whether these cubes leave the two ends apart."""
    joined = _component(cubes, grid, ends.start)
    return not joined[_cube(grid, ends.end)]


def _without(corridor: Corridor, window: NDArray[np.bool_]) -> Region:
    kept = np.where(corridor.cubes & ~window, corridor.space.kept, 0).astype(np.uint8)
    return Region(grid=corridor.space.grid, kept=kept)


def _through_both(corridor: Corridor, here: NDArray[np.bool_], there: NDArray[np.bool_]) -> Metre:
    """A hose that passes both windows, in either order, is at least this long."""
    grid = corridor.space.grid
    reach = math.sqrt(3) * grid.pitch
    one, two = (grid.centre(np.argwhere(window)) for window in (here, there))
    gap = max(0.0, float(min(np.linalg.norm(two - point, axis=1).min() for point in one)) - reach)
    from_start = [_least_in(corridor.forth, window) for window in (here, there)]
    to_end = [_least_in(corridor.back, window) for window in (here, there)]
    return gap + min(from_start[0] + to_end[1], from_start[1] + to_end[0])


def _least_in(potential: Potential, window: NDArray[np.bool_]) -> Metre:
    """Smallest bound from anywhere in the cubes to the potential's source."""
    if bool((window & potential.ball).any()):
        return 0.0
    return max(0.0, float(_least_corner(potential.values)[window].min()))


def narrow(problem: Problem, space: Region) -> Corridor:
    """Potentials from both ends and the cubes a hose within the limit may pass."""
    ends, grid = problem.ends, space.grid
    joined = _component(space.kept > 0, grid, ends.start)
    space = Region(grid=grid, kept=np.where(joined, space.kept, 0).astype(np.uint8))
    back, forth = potential(space, ends.end), potential(space, ends.start)
    bound = max(float(back.at(ends.start[None])[0]), float(forth.at(ends.end[None])[0]))
    if not joined[_cube(grid, ends.end)]:
        bound = FAR
    near = _least_corner(back.values + forth.values) <= problem.limit
    cubes = (space.kept > 0) & (near | back.ball | forth.ball)
    cubes = _component(cubes, grid, ends.start) & (space.kept > 0)
    return Corridor(space=space, cubes=cubes, back=back, forth=forth, bound=bound)


def _space(problem: Problem, pitch: Metre, before: Corridor | None) -> Region | None:
    """The region at one pitch, inside the corridor before; None if it takes too many cubes."""
    grid = _grid(problem.ends, pitch, problem.limit, before)
    if grid.cells > 8 * MOST_CUBES:
        return None
    wanted = _ellipsoid(grid, problem.ends, problem.limit)
    if before is not None:
        wanted &= _refined(grid, before)
    if int(wanted.sum()) > MOST_CUBES:
        return None
    return region(grid, wanted, problem.clearance, problem.measure)


def bend_planes(curve: Curve, step: Radian, first: int = 0, last: int | None = None) -> Planes:
    """Planes square to the curve in its bends first .. last: one per bend and per `step` of it."""
    planes: Planes = []
    for row in range(len(curve.angle))[first:last]:
        angle = float(curve.angle[row])
        count = max(1, math.ceil(angle / step))
        out = (curve.bend_start[row] - curve.centre[row]) / curve.radius
        along = np.cross(curve.normal[row], out)
        for part in (np.arange(count) + 0.5) / count * angle:
            spoke = math.cos(part) * out + math.sin(part) * along
            tangent = math.cos(part) * along - math.sin(part) * out
            planes.append((curve.centre[row] + curve.radius * spoke, tangent))
    return planes


def _grid(ends: Ends, pitch: Metre, limit: Metre, within: Corridor | None) -> Grid:
    """Cubes over the ellipsoid of all points a hose of that length can reach, or the corridor."""
    middle, half = (ends.start + ends.end) / 2, np.abs(ends.end - ends.start) / 2
    apart = float(np.linalg.norm(ends.end - ends.start))
    across = math.sqrt(max(0.0, limit**2 - apart**2)) / 2
    reach = np.minimum(half + across, limit / 2) + 2 * pitch
    low, high = middle - reach, middle + reach
    if within is not None:
        index = np.argwhere(within.cubes)
        origin = np.asarray(within.space.grid.origin)
        low = np.maximum(low, origin + within.space.grid.pitch * (index.min(axis=0) - 1))
        high = np.minimum(high, origin + within.space.grid.pitch * (index.max(axis=0) + 2))
    i, j, k = (int(math.ceil(size / pitch)) for size in high - low)
    x, y, z = (float(value) for value in low)
    return Grid(origin=(x, y, z), pitch=pitch, shape=(i, j, k))


def _ellipsoid(grid: Grid, ends: Ends, limit: Metre) -> NDArray[np.bool_]:
    """Cubes that may hold a point whose distances to both ends add up to at most the limit."""
    away = np.zeros(grid.shape)
    for end in (ends.start, ends.end):
        parts = [
            (grid.origin[a] + grid.pitch * (np.arange(grid.shape[a]) + 0.5) - end[a]) ** 2
            for a in range(3)
        ]
        away += np.sqrt(
            parts[0][:, None, None] + parts[1][None, :, None] + parts[2][None, None, :]
        )
    return np.asarray(away <= limit + math.sqrt(3) * grid.pitch)


def _refined(grid: Grid, within: Corridor) -> NDArray[np.bool_]:
    """Cubes of the finer grid that meet a cube of the coarser corridor."""
    found = np.zeros(grid.shape, dtype=np.bool_)
    corner = np.stack(np.meshgrid(*[np.arange(n) for n in grid.shape], indexing="ij"), axis=-1)
    for offset in np.array([(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)]):
        points = np.asarray(grid.origin) + grid.pitch * (corner + offset)
        index = within.space.grid.index(points)
        held = within.space.grid.holds(index)
        index = np.clip(index, 0, np.array(within.space.grid.shape) - 1)
        found |= held & within.cubes[tuple(np.moveaxis(index, -1, 0))]
    return found


def _cube(grid: Grid, point: Points) -> tuple[int, ...]:
    index = np.clip(grid.index(point), 0, np.array(grid.shape) - 1)
    return tuple(int(i) for i in index)


def _component(cubes: NDArray[np.bool_], grid: Grid, point: Points) -> NDArray[np.bool_]:
    """Cubes joined to the one that holds the point (it counts whatever it is)."""
    home = _cube(grid, point)
    cubes = cubes.copy()
    cubes[home] = True
    groups, _ = label(cubes, structure=np.ones((3, 3, 3)))
    return np.asarray(groups == groups[home])


def _least_corner(nodes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Smallest value at the eight corners of every cube."""
    least = nodes
    for axis in range(3):
        ahead = [slice(None)] * 3
        behind = [slice(None)] * 3
        ahead[axis], behind[axis] = slice(1, None), slice(None, -1)
        least = np.minimum(least[tuple(ahead)], least[tuple(behind)])
    return least
