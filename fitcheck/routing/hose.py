"""One hose between two oriented points: direct curve, else seeds refined and the shortest kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import measure
from fitcheck.routing.bound import unobstructed_bound
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
    bowed,
    seed_rounds,
)
from fitcheck.units import Metre

#: Ways round whose corners are worked over in full.
WORKED_OVER = 2
#: A curve this much longer than the best is not worked over [m/m].
LEFT = 1.015
#: A curve this near the bound ends the search for other ways [m/m].
CLOSE = 0.002
#: Longer than any hose [m].
FAR = 1e9
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


def route(
    world: World, start: Pose, end: Pose, radius: Metre, need: Metre, hard: bool = True
) -> Found | None:
    """The shortest feasible curve found from one pose to another, None if none was.

    The ends are put in a fixed order first, so that swapped ports give the same curve. hard: look
    longer where nothing is found at first.
    """
    if tuple(start.at) > tuple(end.at):
        found = route(world, end.back(), start.back(), radius, need, hard)
        return found.reversed() if found else None
    task = Task(world=world, leaves=start.way, arrives=end.way, radius=radius, need=need)
    direct = _direct(task, start, end)
    return direct if isinstance(direct, Found) else _around(task, start, end, direct, hard)


def _direct(task: Task, start: Pose, end: Pose) -> Found | NDArray[np.float64] | None:
    """The direct curve if it is clear, its corners if it is not, None where there is none."""
    state, corners, turns = np.empty(6), np.empty((8, 3)), np.zeros(8)
    step, radius = end.at - start.at, task.radius
    length = direct_kernel(step, start.way, end.way, radius, ALL_TRIALS, state)
    if length < 0.0:
        return None
    count = direct_corners(start.at, start.way, end.at, end.way, radius, state, corners)
    measure(corners, count, radius, 0.0, turns)
    touching = state[3] > 1e-6 and state[4] > 1e-6 and state[5] < 1e-6
    clear = curve_clear(task.world, corners, turns, 0, count - 1, radius, task.need)
    if clear and not touching:
        return Found(corners=corners[:count].copy(), length=length, direct=True)
    return corners[:count].copy()


def _around(
    task: Task, start: Pose, end: Pose, direct: NDArray[np.float64] | None, hard: bool
) -> Found | None:
    """The shortest of what the seeds lead to; none is asked for beyond CLOSE of the bound."""
    shapes = _settled(task, bowed(direct), FAR) if direct is not None else []
    least = unobstructed_bound(start.at, start.way, end.at, end.way, task.radius)
    for spare, states in ((SPARE, STATES), (MORE_SPARE, MORE_STATES)):
        sources = Sources(task=task, start=start, end=end, spare=spare)
        _collect(task, sources, states, least, shapes)
        if shapes or not hard:
            break
    if not shapes:
        return None
    shapes.sort(key=lambda shape: shape.length)
    worked = [reshaped(task, shape) for shape in _different(shapes)[:WORKED_OVER]]
    best = polished(task, min(worked, key=lambda shape: shape.length))
    return Found(corners=best.corners, length=best.length, direct=False)


def _collect(task: Task, sources: Sources, states: int, least: Metre, shapes: list[Shape]) -> None:
    """Add feasible curves from one source of seeds after another while they may be shorter."""
    for seeds in seed_rounds(sources, states, partial(_shortest, shapes)):
        if _shortest(shapes) < least * (1.0 + CLOSE):
            return
        shapes += _settled(task, seeds(), LEFT * _shortest(shapes))


def _shortest(shapes: list[Shape]) -> Metre:
    return min((shape.length for shape in shapes), default=FAR)


def _settled(task: Task, seeds: list[NDArray[np.float64]], limit: Metre) -> list[Shape]:
    return [shape for seed in seeds if (shape := settled(task, seed, True, limit))]


def _different(shapes: list[Shape]) -> list[Shape]:
    """One of every length, none much longer than the best."""
    kept: list[Shape] = []
    for shape in shapes:
        near = shape.length < LEFT * shapes[0].length
        if near and all(abs(shape.length - other.length) > SAME for other in kept):
            kept.append(shape)
    return kept
