"""The length bound with obstacles: where any shorter hose would have to run, and how long it is.

A limit is set, and the cubes that may hold a hose within it are found: those of the ellipsoid of
that length, less those without clearance, those not connected to the start, and those that no hose
within the limit passes. For the last, two potentials bound the path around the obstacles, and a
chain through the cube bounds the bends. What is left is the corridor. Planes across it where the
known hose bends or touches an obstacle become gates; the chain of gates bounds the whole hose, and
chains through each cube and all gates narrow the corridor further. An empty corridor proves the
limit. Where a limit cannot be proven a lower one often can, because fewer hoses are within it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label

from fitcheck.geometry.curve import Curve
from fitcheck.geometry.grid import Grid
from fitcheck.routing.proof.chain import through
from fitcheck.routing.proof.gates import (
    Chain,
    Ends,
    Setting,
    chain_of,
    gates_along,
    outlined,
    stacked,
)
from fitcheck.routing.proof.potential import FAR, Measure, Points, Region, potential, region
from fitcheck.routing.search.bound import ROUNDING, unobstructed_bound
from fitcheck.units import Metre, Radian, Ratio

#: Edge of the cubes as a share of the clearance: no thin sheet leaks below a half.
SEALED = 0.47
#: Edge of the blocks that chains run through, in cubes, from fine to coarse.
BLOCKS = (1, 2, 3, 4, 6)
#: Soft minima for chains through cubes [m].
HEATS = np.array([0.003, 0.0008])

#: Position of the next limit between the proven and the failed one.
RETREAT = 0.4
#: A bound this close to the target ends the work.
CLOSE_TO = 0.985

Planes = list[tuple[Points, Points]]


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Problem:
    """Two ends, the clearance of the centre line, the obstacles, a length worth beating."""

    ends: Ends
    clearance: Metre
    measure: Measure
    limit: Metre


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How much work: cubes of a grid, chains through blocks of them, rounds of both; the share of
    the known length to aim for, how often to retry with less, and the gap that ends the work
    [m/m].
    """

    cubes: int
    chains: int
    rounds: int
    share: Ratio
    retreats: int
    enough: Ratio = 0.0


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Corridor:
    """Cubes that hold every hose no longer than the limit, and the best distance proven so far."""

    space: Region
    cubes: NDArray[np.bool_]
    bound: Metre


def certificate(problem: Problem, choices: list[Planes], effort: Effort) -> Metre:
    """No hose between these ends with this radius and clearance is shorter than this [m].

    choices : sets of planes worth trying as gates, each in the order a known hose passes them.
    At most problem.limit.
    """
    ends = problem.ends
    free = unobstructed_bound(
        ends.start, ends.start_direction, ends.end, ends.end_direction, ends.radius
    )
    top = problem.limit * effort.share
    best = free if free >= top else max(free, proven_to(problem, choices, effort, top))
    for _ in range(effort.retreats):
        if best >= CLOSE_TO * top:
            break
        limit = best + RETREAT * (top - best)
        bound = proven_to(problem, choices, effort, limit)
        best = max(best, bound)
        top = top if bound >= limit - ROUNDING else limit
    return best


def proven_to(problem: Problem, choices: list[Planes], effort: Effort, limit: Metre) -> Metre:
    """The bound, capped just below `limit`; longer hoses are ignored.

    Rounding shifts what is compared with the limit by far less than ROUNDING, so no hose shorter
    than the limit by that amount is ever excluded, and where none is left all are at least that
    long.
    """
    most = limit - ROUNDING
    best = 0.0
    corridor: Corridor | None = None
    while True:
        pitch = _pitch(problem, effort, limit, corridor)
        grid = _grid(problem.ends, pitch, limit, corridor)
        wanted = _ellipsoid(grid, problem.ends, limit)
        if corridor is None:
            wanted = _free_only(problem, grid, wanted, limit)
        else:
            wanted &= _refined(grid, corridor)
        space = region(grid, wanted, problem.clearance, problem.measure)
        corridor = narrow(problem, space, limit)
        for _ in range(effort.rounds):
            best = max(best, corridor.bound)
            if best >= limit or not corridor.cubes.any():
                return most
            where = Setting(
                corridor=corridor.cubes,
                grid=grid,
                ends=problem.ends,
                clearance=problem.clearance,
                measure=problem.measure,
            )
            chain = _best_chain(choices, where, limit)
            best = max(best, chain.bound)
            if best >= limit:
                return most
            if not chain.gates:
                break
            before = int(corridor.cubes.sum())
            corridor = pruned(problem, corridor, chain, effort, limit)
            if corridor.bound >= limit:
                return most
            if int(corridor.cubes.sum()) > 0.9 * before:
                break
        if pitch <= SEALED * problem.clearance * 1.001:
            return min(best, most)
        if _pitch(problem, effort, limit, corridor) > 0.8 * pitch:
            return min(best, most)


def _best_chain(choices: list[Planes], where: Setting, limit: Metre) -> Chain:
    chains = []
    for planes in choices:
        chain = chain_of(gates_along(planes, where), where, limit)
        chains.append(chain)
        if chain.bound >= limit:
            break
    return max(chains, key=lambda chain: chain.bound)


def pruned(
    problem: Problem, corridor: Corridor, chain: Chain, effort: Effort, limit: Metre
) -> Corridor:
    """The corridor without the cubes that no hose within the limit passes, by chains through them.

    A cube that lies beyond the gates before some number and before all later ones is passed
    between them: see gates.py. A block of such cubes is dropped as a whole where the bound through
    it is too long.
    """
    grid, gates = corridor.space.grid, chain.gates
    open_cubes = corridor.cubes.copy()
    place = np.zeros(grid.shape, dtype=np.int64)
    for gate in gates:
        open_cubes &= ~gate.cubes
        place += ~(gate.before | gate.cubes)
    index = np.argwhere(open_cubes)
    for size in BLOCKS:
        keys = np.column_stack([index // size, place[tuple(index.T)]])
        blocks, home = np.unique(keys, axis=0, return_inverse=True)
        if len(blocks) <= effort.chains:
            break
    centres = np.asarray(grid.origin) + grid.pitch * size * (blocks[:, :3] + 0.5)
    out = np.zeros(len(blocks))
    beyond = np.ascontiguousarray(blocks[:, 3])
    windows = stacked([outlined(gate) for gate in gates])
    through(
        np.ascontiguousarray(centres), size * grid.pitch, beyond, *windows, problem.ends.rows(),
        problem.ends.radius, chain.vectors, limit, HEATS, out,
    )  # fmt: skip
    gone = index[out[home.reshape(-1)] > limit + 1e-9]
    cubes = corridor.cubes.copy()
    cubes[tuple(gone.T)] = False
    cubes = _component(cubes, grid, problem.ends.start) & corridor.cubes
    bound = corridor.bound if _near(cubes, grid, problem.ends.end) else FAR
    return Corridor(space=corridor.space, cubes=cubes, bound=bound)


def _free_only(
    problem: Problem, grid: Grid, wanted: NDArray[np.bool_], limit: Metre
) -> NDArray[np.bool_]:
    """Remove the cubes a hose within the limit could not pass even without obstacles."""
    ends = problem.ends
    index = np.argwhere(wanted)
    blocks, home = np.unique(index // 2, axis=0, return_inverse=True)
    centres = np.asarray(grid.origin) + grid.pitch * (2 * blocks + 1.0)
    out = np.zeros(len(blocks))
    step = ends.end - ends.start
    # any direction will do where the ends coincide
    way = step[None] / np.linalg.norm(step) if step.any() else np.eye(3)[:1]
    through(
        np.ascontiguousarray(centres), 2 * grid.pitch, np.zeros(len(blocks), dtype=np.int64),
        *stacked([]), ends.rows(), ends.radius, way, limit, HEATS, out,
    )  # fmt: skip
    kept = index[out[home.reshape(-1)] <= limit + 1e-9]
    found = np.zeros_like(wanted)
    found[tuple(kept.T)] = True
    return found


def _pitch(problem: Problem, effort: Effort, limit: Metre, within: Corridor | None) -> Metre:
    """Edge of the cubes: set by the clearance, or by the maximum number of cubes."""
    if within is None:
        apart = float(np.linalg.norm(problem.ends.end - problem.ends.start))
        volume = math.pi / 6 * limit * max(0.0, limit**2 - apart**2)
    else:
        volume = int(within.cubes.sum()) * within.space.grid.pitch**3
    return max(SEALED * problem.clearance, (volume / effort.cubes) ** (1 / 3))


def narrow(problem: Problem, space: Region, limit: Metre) -> Corridor:
    """Potentials from both ends and the cubes a hose within the limit may pass."""
    ends, grid = problem.ends, space.grid
    joined = _component(space.kept > 0, grid, ends.start)
    space = Region(grid=grid, kept=np.where(joined, space.kept, 0).astype(np.uint8))
    back, forth = potential(space, ends.end), potential(space, ends.start)
    bound = max(float(back.at(ends.start[None])[0]), float(forth.at(ends.end[None])[0]))
    if not _near(joined, grid, ends.end):
        bound = FAR
    near = _least_corner(back.values + forth.values) <= limit
    cubes = (space.kept > 0) & (near | back.ball | forth.ball)
    cubes = _component(cubes, grid, ends.start) & (space.kept > 0)
    return Corridor(space=space, cubes=cubes, bound=bound)


def contact_planes(
    curve: Curve, problem: Problem, low: Metre, high: Metre, near: Metre = 0.0015
) -> Planes:
    """Planes square to the curve at its points of least clearance, between two distances along it
    and at least 12 mm apart.
    """
    step = 0.002
    points = curve.sample(step)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    away = problem.measure(points) - problem.clearance
    planes: Planes = []
    last = low
    for row in range(2, len(points) - 2):
        held = away[row] < near and away[row] == away[row - 2 : row + 3].min()
        if held and last + 0.012 < along[row] + 0.006 < high:
            ahead = points[row + 1] - points[row - 1]
            planes.append((points[row], ahead / np.linalg.norm(ahead)))
            last = float(along[row])
    return planes


def bend_planes(curve: Curve, step: Radian, first: int = 0, last: int | None = None) -> Planes:
    """Planes square to the curve in its bends first .. last: one per bend and one per `step` along
    it.
    """
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


def _near(cubes: NDArray[np.bool_], grid: Grid, point: Points) -> bool:
    """Whether a point lies in one of the cubes, or next to one."""
    low = np.maximum(0, np.array(_cube(grid, point)) - 1)
    i, j, k = (slice(int(a), int(a) + 3) for a in low)
    return bool(cubes[i, j, k].any())


def _component(cubes: NDArray[np.bool_], grid: Grid, point: Points) -> NDArray[np.bool_]:
    """Cubes connected to the one that holds the point (which always counts)."""
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
