"""One hose between two oriented points: direct curve, else seeds refined and the shortest kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import measure
from fitcheck.routing.direct import ALL_TRIALS, direct_corners, direct_kernel
from fitcheck.routing.field import World, curve_clear
from fitcheck.routing.refine import Shape, Task, polished, reshaped, settled
from fitcheck.routing.seeds import (
    MORE_SPARE,
    MORE_STATES,
    SPARE,
    STATES,
    Pose,
    Sources,
    lattice_rounds,
)
from fitcheck.units import Metre

#: Ways round whose corners are worked over in full.
WORKED_OVER = 2
#: A seed this much longer than the best settled one is left [m/m].
LEFT = 1.25
#: Two settled curves of this difference in length are taken for one [m].
SAME = 2e-5


@dataclass(frozen=True, eq=False, kw_only=True)
class Found:
    """A feasible polyline and its length; `direct` if it is the proven shortest curve."""

    corners: NDArray[np.float64]
    length: Metre
    direct: bool

    def reversed(self) -> Found:
        """Run the other way."""
        return Found(corners=self.corners[::-1].copy(), length=self.length, direct=self.direct)


def route(world: World, start: Pose, end: Pose, radius: Metre, need: Metre) -> Found | None:
    """The shortest feasible curve found from one pose to another, None if none was.

    The ends are put in a fixed order first, so that swapped ports give the same curve.
    """
    if tuple(start.at) > tuple(end.at):
        found = route(world, end.back(), start.back(), radius, need)
        return found.reversed() if found else None
    return _direct(world, start, end, radius, need) or _around(world, start, end, radius, need)


def _direct(world: World, start: Pose, end: Pose, radius: Metre, need: Metre) -> Found | None:
    state, corners, turns = np.empty(6), np.empty((8, 3)), np.zeros(8)
    step = end.at - start.at
    length = direct_kernel(step, start.way, end.way, radius, ALL_TRIALS, state)
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


def _around(world: World, start: Pose, end: Pose, radius: Metre, need: Metre) -> Found | None:
    task = Task(world=world, leaves=start.way, arrives=end.way, radius=radius, need=need)
    shapes: list[Shape] = []
    for spare, states in ((SPARE, STATES), (MORE_SPARE, MORE_STATES)):
        sources = Sources(world=world, start=start, end=end, radius=radius, need=need, spare=spare)
        shapes = _collect(task, sources, states)
        if shapes:
            break
    if not shapes:
        return None
    worked = [reshaped(task, shape) for shape in _different(shapes)[:WORKED_OVER]]
    best = polished(task, min(worked, key=lambda shape: shape.length))
    return Found(corners=best.corners, length=best.length, direct=False)


def _collect(task: Task, sources: Sources, states: int) -> list[Shape]:
    """Feasible curves from every source of seeds, the shortest first."""
    shapes: list[Shape] = []
    string = sources.string()
    if string is not None:
        shapes += _settled(task, [string])
    for given_up, turned, number in lattice_rounds(sources, states):
        most = min((shape.length for shape in shapes), default=1e9)
        shapes += _settled(task, sources.lattice(given_up, turned, number, 1.02 * most))
    return sorted(shapes, key=lambda shape: shape.length)


def _settled(task: Task, seeds: list[NDArray[np.float64]]) -> list[Shape]:
    return [shape for seed in seeds if (shape := settled(task, seed, far=True))]


def _different(shapes: list[Shape]) -> list[Shape]:
    """The shortest of every length, none much longer than the best."""
    kept: list[Shape] = []
    for shape in shapes:
        near = shape.length < LEFT * shapes[0].length
        if near and all(abs(shape.length - other.length) > SAME for other in kept):
            kept.append(shape)
    return kept
