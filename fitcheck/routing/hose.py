"""One hose between two oriented points: direct curve, else seeds refined and the shortest kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import measure
from fitcheck.routing.direct import direct_corners, direct_kernel
from fitcheck.routing.field import World, curve_clear, leg_clear
from fitcheck.routing.goal import descend, goal_field
from fitcheck.routing.lattice import lattice_seeds
from fitcheck.routing.refine import refine
from fitcheck.units import Metre

#: States the lattice opens at most before it gives up.
STATES = 60_000
#: Ways round that are looked for beside the first.
OTHER_WAYS = 2


@dataclass(frozen=True, eq=False, kw_only=True)
class Pose:
    """A point and a direction of travel, (3,) each."""

    at: NDArray[np.float64]
    way: NDArray[np.float64]

    def back(self) -> Pose:
        """The same place run the other way."""
        return Pose(at=self.at, way=-self.way)


@dataclass(frozen=True, eq=False, kw_only=True)
class Found:
    """A feasible polyline and its length; `direct` if it is the proven shortest curve."""

    corners: NDArray[np.float64]
    length: Metre
    direct: bool

    def reversed(self) -> Found:
        """Run the other way."""
        return Found(corners=self.corners[::-1].copy(), length=self.length, direct=self.direct)


def route(
    world: World, start: Pose, end: Pose, radius: Metre, need: Metre, effort: float = 1.0
) -> Found | None:
    """The shortest feasible curve found from one pose to another, None if none was.

    The ends are put in a fixed order first, so that swapped ports give the same curve.
    """
    if tuple(start.at) > tuple(end.at):
        found = route(world, end.back(), start.back(), radius, need, effort)
        return found.reversed() if found else None
    return _direct(world, start, end, radius, need) or _around(
        world, start, end, radius, need, effort
    )


def _direct(world: World, start: Pose, end: Pose, radius: Metre, need: Metre) -> Found | None:
    state, corners, turns = np.empty(6), np.empty((8, 3)), np.zeros(8)
    length = direct_kernel(end.at - start.at, start.way, end.way, radius, state)
    if length < 0.0:
        return None
    count = direct_corners(start.at, start.way, end.at, end.way, radius, state, corners)
    measure(corners, count, radius, 0.0, turns)
    both_turn = state[3] > 1e-6 and state[4] > 1e-6
    if both_turn and state[5] < 1e-6:
        return None
    if not curve_clear(world, corners, turns, 0, count - 1, radius, need):
        return None
    return Found(corners=corners[:count].copy(), length=length, direct=True)


def _around(
    world: World, start: Pose, end: Pose, radius: Metre, need: Metre, effort: float
) -> Found | None:
    best: Found | None = None
    ways = (start.way, end.way)
    for seed in _seeds(world, start, end, radius, need, effort):
        better = refine(world, seed, ways, radius, need, effort)
        if better and (best is None or better[1] < best.length):
            best = Found(corners=better[0], length=better[1], direct=False)
    return best


def _seeds(
    world: World, start: Pose, end: Pose, radius: Metre, need: Metre, effort: float
) -> list[NDArray[np.float64]]:
    """Polylines worth refining: from the lattice both ways and from pulled strings."""
    none = np.zeros((0, 4))
    field = goal_field(world, end.at, start.at, need, none)
    states = int(STATES * effort)
    ends = (start.at, start.way, end.at, end.way)
    seeds = lattice_seeds(world, field, ends, radius, need, states, 1e9)
    if not seeds:
        back = goal_field(world, start.at, end.at, need, none)
        ends = (end.at, -end.way, start.at, -start.way)
        turned = lattice_seeds(world, back, ends, radius, need, states, 1e9)
        seeds = [seed[::-1].copy() for seed in turned]
    return seeds + _strings(world, field, start, end, radius, need)


def _strings(
    world: World,
    field: NDArray[np.float32],
    start: Pose,
    end: Pose,
    radius: Metre,
    need: Metre,
) -> list[NDArray[np.float64]]:
    """Pulled strings of the shortest way and, with balls put in the way, of others."""
    seeds: list[NDArray[np.float64]] = []
    barred = np.zeros((0, 4))
    for _ in range(1 + OTHER_WAYS):
        path = descend(world, field, start.at, end.at)
        if path is None:
            break
        string = _pulled(world, path, need)
        seeds.append(_with_ends(string, start, end, radius))
        middle = path[len(path) // 2]
        barred = np.vstack([barred, [*middle, 0.15]])
        field = goal_field(world, end.at, start.at, need, barred)
    return seeds


def _pulled(world: World, path: NDArray[np.float64], need: Metre) -> NDArray[np.float64]:
    """Take out points of a path wherever the straight between their neighbours is clear."""
    need = max(0.5 * need, need - 0.5 * float(world.pitch[0]))
    kept = [path[0]]
    at = 0
    while at < len(path) - 1:
        far = len(path) - 1
        while far > at + 1 and not leg_clear(world, path[at], path[far], need):
            far = at + max(1, (far - at) * 3 // 4)
        kept.append(path[far])
        at = far
    return np.array(kept)


def _with_ends(
    string: NDArray[np.float64], start: Pose, end: Pose, radius: Metre
) -> NDArray[np.float64]:
    """Corners on both ports' axes put before and after the string's inner points."""
    lead = start.at + 0.6 * radius * start.way
    tail = end.at - 0.6 * radius * end.way
    return np.vstack([string[:1], lead, string[1:-1], tail, string[-1:]])
