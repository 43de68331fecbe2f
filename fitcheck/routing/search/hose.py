"""One hose between two poses: the direct curve, else the shortest curve refined from seeds."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import measure
from fitcheck.routing.search.bound import unobstructed_bound
from fitcheck.routing.search.direct import ALL_TRIALS, direct_corners, direct_kernel
from fitcheck.routing.search.refine import FAR as FAR
from fitcheck.routing.search.refine import Shape, Task, polished, reshaped, settled
from fitcheck.routing.search.seeds import (
    BRIEF_EFFORTS,
    EFFORTS,
    GRAINS,
    Patience,
    Pose,
    Sources,
    seed_rounds,
)
from fitcheck.routing.world.clear import curve_clear
from fitcheck.routing.world.field import World
from fitcheck.routing.world.goal import UNREACHED
from fitcheck.units import Metre

#: A seed is dropped once it costs this much more than the best curve [m/m].
LEFT = 1.015
#: A curve this much longer than the cell path may not be the best there is [m/m].
DOUBTFUL = 1.15
#: A curve this close to the bound ends the search [m/m].
CLOSE = 0.002
#: Seeds with equally many corners that are this close at PLACES points count as one [m].
ALIKE, PLACES = 0.02, 11


@dataclass(frozen=True, eq=False, kw_only=True)
class Found:
    """A feasible polyline and its length; `direct` if it is the proven shortest curve.

    over : how much longer it is than a feasible one rejected in its favour [m]
    """

    corners: NDArray[np.float64]
    length: Metre
    direct: bool
    over: Metre = 0.0

    def reversed(self) -> Found:
        """The same hose in the other direction."""
        return replace(self, corners=self.corners[::-1].copy())


def route(
    world: World,
    start: Pose,
    end: Pose,
    radius: Metre,
    need: Metre,
    patience: Patience = Patience.LONGEST,
    most: Metre = FAR,
) -> Found | None:
    """The shortest feasible curve found from one pose to another, None if there is none.

    The ends are put in a fixed order first, so that swapped ports give the same curve. most:
    longer routes are rejected [m].
    """
    if tuple(start.at) > tuple(end.at):
        found = route(world, end.back(), start.back(), radius, need, patience, most)
        return found.reversed() if found else None
    task = Task(world=world, leaves=start.way, arrives=end.way, radius=radius, need=need)
    return _direct(task, start, end) or _around(task, start, end, patience, most)


def _direct(task: Task, start: Pose, end: Pose) -> Found | None:
    """The direct curve, None if there is none or it is not clear."""
    state, corners, turns = np.empty(6), np.empty((8, 3)), np.zeros(8)
    step, radius = end.at - start.at, task.radius
    length = direct_kernel(step, start.way, end.way, radius, ALL_TRIALS, state)
    if length < 0.0:
        return None
    count = direct_corners(start.at, start.way, end.at, end.way, radius, state, corners)
    measure(corners, count, radius, 0.0, turns)
    touching = state[3] > 1e-6 and state[4] > 1e-6 and state[5] < 1e-6
    clear = curve_clear(task.world, corners, turns, 0, count - 1, radius, task.need)
    if not clear or touching:
        return None
    return Found(corners=corners[:count].copy(), length=length, direct=True)


@dataclass(frozen=True, eq=False, kw_only=True)
class _Search:
    """A search: from where to where, and a lower bound `least` on the length."""

    task: Task
    start: Pose
    end: Pose
    least: Metre

    def sources(self, pool: _Pool, spare: Metre) -> Sources:
        """Seed sources within some distance of the shortest cell path."""
        return Sources(
            task=self.task, start=self.start, end=self.end, spare=spare, most=pool.shortest
        )


def _around(task: Task, start: Pose, end: Pose, patience: Patience, most: Metre) -> Found | None:
    """The shortest curve that any seed leads to; stops within CLOSE of the bound."""
    pool = _Pool(task, most)
    least = unobstructed_bound(start.at, start.way, end.at, end.way, task.radius)
    search = _Search(task=task, start=start, end=end, least=least)
    if patience == Patience.BRIEF:
        _searched(search, pool, EFFORTS[:BRIEF_EFFORTS])
    else:
        through = _searched(search, pool, EFFORTS)
        if patience == Patience.LONGEST and through < UNREACHED:
            _approached(search, pool, through)
    if not pool.shapes:
        return None
    best = min(pool.shapes, key=lambda shape: shape.length)
    best = polished(task, reshaped(task, best))
    return Found(corners=best.corners, length=best.length, direct=False)


def _searched(search: _Search, pool: _Pool, efforts: tuple[tuple[Metre, int], ...]) -> Metre:
    """Increase the effort until there is a curve and no shorter one is expected.

    Returns the length of the cell path.
    """
    through = UNREACHED
    for spare, states in efforts:
        sources = search.sources(pool, spare)
        if not pool.shapes and not sources.open:
            return through
        for seeds in seed_rounds(sources, states, bool(pool.shapes)):
            if pool.shapes and pool.shortest() < search.least * (1.0 + CLOSE):
                break
            pool.settle(seeds())
        wide = spare > EFFORTS[0][0]
        through = sources.through
        if pool.shapes and (wide or pool.shortest() <= sources.covered):
            break
    return through


def _approached(search: _Search, pool: _Pool, through: Metre) -> None:
    """If in doubt, try routes a goal field cannot see: a loop before or after a port."""
    sources = search.sources(pool, EFFORTS[-1][0])
    for grain in GRAINS:
        for turned in (False, True):
            if pool.shortest() > DOUBTFUL * max(search.least, through):
                for seeds in sources.approached(turned, grain):
                    pool.settle(seeds)


class _Pool:
    """Seeds tried so far and the feasible curves they led to."""

    def __init__(self, task: Task, most: Metre) -> None:
        self.shapes: list[Shape] = []
        self._task, self._most = task, most
        self._tried: dict[int, list[NDArray[np.float64]]] = {}

    def shortest(self) -> Metre:
        """Length of the shortest curve so far; without one, the maximum wanted."""
        return min((shape.length for shape in self.shapes), default=self._most)

    def settle(self, seeds: list[NDArray[np.float64]]) -> None:
        """Settle the seeds that differ from those already tried."""
        for seed in seeds:
            places = _places(seed)
            tried = self._tried.setdefault(len(seed), [])
            if any(np.abs(places - other).max() < ALIKE for other in tried):
                continue
            tried.append(places)
            shape = settled(self._task, seed, True, LEFT * self.shortest())
            if shape:
                self.shapes.append(shape)


def _places(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points at equal shares of a polyline, (PLACES, 3)."""
    along = np.concatenate([[0.0], np.linalg.norm(np.diff(corners, axis=0), axis=1).cumsum()])
    shares = np.linspace(0.0, along[-1], PLACES + 2)[1:-1]
    return np.column_stack([np.interp(shares, along, corners[:, axis]) for axis in range(3)])
