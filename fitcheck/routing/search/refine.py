"""Refine seeds to the shortest feasible curve near them: settle, remove and add corners, polish.

Only curves proven clear are ever kept, so the last one kept is always feasible. The polish is
random with a seeded generator: the same problem gives the same answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import measure
from fitcheck.kernels import kernel
from fitcheck.routing.search.rounded import LEAST_LEG
from fitcheck.routing.search.settle import descend, feasible, settle
from fitcheck.routing.world.clear import curve_clear
from fitcheck.routing.world.field import World
from fitcheck.units import Metre, Ratio

#: Smallest and largest step of the polish [m].
FINEST, COARSEST = 2e-5, 2e-3
#: Maximum curves measured in one polish.
TRIES = 500
#: A bend that turns more than this may be better as two [rad].
WORTH_TWO = 0.3
#: Gain in length that justifies another corner, and loss that justifies removing one [m].
GAIN, LOSS = 2e-4, 5e-5
#: A settled curve is polished only if it is longer than the best polished one by at most this [m].
UNPOLISHED = 1e-3
#: A leg at a port may stray from its axis by this share of its length (rounding).
ASKEW = 1e-7
#: Corners closer to one another than this are merged [m].
NO_LEG = 1e-9
#: Longer than any hose [m].
FAR = 1e9
#: Extra clearance while hoses are relaxed [m], steps per call, and the spacing of sample points:
#: half of it once the weight exceeds STIFF [1/m].
EASED, EASED_STEPS = 2e-4, 6.0
SPACED, STIFF = 0.008, 3e3
#: Seeds are settled with at most this many corner points, leaving room for more.
ROOM = 8


@dataclass(frozen=True, eq=False, kw_only=True)
class Task:
    """What a curve must satisfy: direction of travel at both ends; radius; clearance [m]."""

    world: World
    leaves: NDArray[np.float64]
    arrives: NDArray[np.float64]
    radius: Metre
    need: Metre


@dataclass(frozen=True, eq=False, kw_only=True)
class Shape:
    """A feasible polyline (n, 3) and the length of its rounded curve [m]."""

    corners: NDArray[np.float64]
    length: Metre


def settled(task: Task, seed: NDArray[np.float64], far: bool, limit: Metre) -> Shape | None:
    """The taut feasible curve near a seed, None if it does not become feasible within `limit`."""
    count = len(seed)
    points = np.zeros((count + ROOM, 3))
    points[:count] = seed
    if count < 4:
        good, length = feasible(task.world, points, count, task.radius, task.need)
    else:
        ways = (task.leaves, task.arrives)
        good, length = settle(task.world, points, count, *ways, task.radius, task.need, far, limit)
    corners = apart(points[:count])
    if not good or not _keeps_ways(task, corners):
        return None
    return Shape(corners=corners, length=float(length))


def apart(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Remove corners that coincide with the previous one or with the end: a turn there has no
    room.

    A zero-length leg has no direction, so a bend right at a port would go unnoticed.
    """
    legs = np.linalg.norm(np.diff(points, axis=0), axis=1) > NO_LEG
    kept = np.concatenate([[True], legs[:-1], [True]])
    if len(points) > 2:
        kept[-2] &= legs[-1]
    return points[kept]


def _keeps_ways(task: Task, corners: NDArray[np.float64]) -> bool:
    """Whether a polyline leaves and arrives along the ports' axes; a seed need not."""
    for leg, way in (
        (corners[1] - corners[0], task.leaves),
        (corners[-1] - corners[-2], task.arrives),
    ):
        off = leg - float(leg @ way) * way
        if leg @ way < 0.0 or np.linalg.norm(off) > ASKEW * np.linalg.norm(leg) + 1e-12:
            return False
    return True


def pushed(task: Task, seed: NDArray[np.float64]) -> tuple[Shape, bool]:
    """Settle a nearly feasible seed; also return whether it became feasible."""
    count = len(seed)
    points = np.zeros((count + ROOM, 3))
    points[:count] = seed
    ways = (task.leaves, task.arrives)
    good, length = settle(task.world, points, count, *ways, task.radius, task.need, False, FAR)
    corners = apart(points[:count])
    good = good and _keeps_ways(task, corners)
    return Shape(corners=corners, length=float(length)), bool(good)


def eased(
    task: Task, corners: NDArray[np.float64], weight: float, pull: Ratio
) -> NDArray[np.float64]:
    """Corners (n, 3) after a few steps, feasible or not.

    weight : of missing clearance squared [1/m]
    pull : of the length
    """
    count = len(corners)
    points = np.zeros((count + ROOM, 3))
    points[:count] = corners
    spacing = SPACED if weight < STIFF else SPACED / 2
    want = task.need + EASED
    ends = (task.leaves, task.arrives, task.radius)
    descend(task.world, points, count, *ends, want, weight, pull, spacing, EASED_STEPS)
    return points[:count].copy()


def reshaped(task: Task, shape: Shape) -> Shape:
    """Remove and add corners as long as that shortens the curve."""
    return _more(task, _fewer(task, shape))


def _fewer(task: Task, shape: Shape) -> Shape:
    at = 2
    while at < len(shape.corners) - 2:
        limit = shape.length + LOSS
        trial = settled(task, np.delete(shape.corners, at, axis=0), False, limit)
        if trial and trial.length < limit:
            shape = trial
        else:
            at += 1
    return shape


def _more(task: Task, shape: Shape) -> Shape:
    """Split bends, the largest first, each at most once."""
    turns = _turns(shape.corners)
    for at in np.argsort(-turns):
        if turns[at] < WORTH_TWO:
            break
        place = shape.corners[int(at) + 1]
        here = int(np.argmin(np.linalg.norm(shape.corners - place, axis=1)))
        if not 0 < here < len(shape.corners) - 1:
            continue
        limit = shape.length - GAIN
        trial = settled(task, split(shape.corners, here, task.radius), False, limit)
        if trial and trial.length < limit:
            shape = trial
    return shape


def _turns(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    way = np.diff(corners, axis=0)
    way /= np.linalg.norm(way, axis=1)[:, None]
    return np.asarray(np.arccos(np.clip((way[:-1] * way[1:]).sum(axis=1), -1.0, 1.0)))


def split(corners: NDArray[np.float64], at: int, radius: Metre) -> NDArray[np.float64]:
    """Replace one corner by two of half the turn, on the tangent at the middle of its bend."""
    before, here, after = corners[at - 1], corners[at], corners[at + 1]
    u, v = here - before, after - here
    u, v = u / np.linalg.norm(u), v / np.linalg.norm(v)
    angle = math.acos(float(np.clip(u @ v, -1.0, 1.0)))
    back = radius * (math.tan(angle / 2) - math.tan(angle / 4))
    pair = np.array([here - back * u, here + back * v])
    return np.concatenate([corners[:at], pair, corners[at + 1 :]])


def polished(task: Task, shape: Shape) -> Shape:
    """The same curve with the slack left by settling removed, and needless corners too.

    Corners added one after the other can often be reduced by one once all of them are in place.
    """
    shape = _tightened(task, shape)
    at = 2
    while at < len(shape.corners) - 2:
        trial = _without(task, shape, at)
        if trial:
            shape, at = trial, 2
        else:
            at += 1
    return shape


def _without(task: Task, shape: Shape, at: int) -> Shape | None:
    """A polished curve with one corner less, None if that is longer."""
    seed = np.delete(shape.corners, at, axis=0)
    for far in (False, True):
        trial = settled(task, seed, far, shape.length + UNPOLISHED)
        trial = trial and _tightened(task, trial)
        if trial and trial.length < shape.length + LOSS:
            return trial
    return None


def _tightened(task: Task, shape: Shape) -> Shape:
    """The same corners moved slightly until the curve is as short as they allow."""
    count = len(shape.corners)
    if count < 4:
        return shape
    points = shape.corners.copy()
    state = np.array([20240229], dtype=np.uint64)
    length = improve(
        task.world, points, count, task.leaves, task.arrives, task.radius, task.need, TRIES, state
    )
    return Shape(corners=points, length=float(length))


@kernel
def _random(state):  # type: ignore[no-untyped-def]
    """Next number of a 64-bit linear congruential generator, in [0, 1), no unit.

    state (1,) uint64, changed in place.
    """
    state[0] = state[0] * np.uint64(6364136223846793005) + np.uint64(1442695040888963407)
    return float(state[0] >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@kernel
def _normal(state):  # type: ignore[no-untyped-def]
    """Next number of an approximately normal distribution, mean 0 and variance 1, no unit.

    state (1,) as in _random.
    """
    total = 0.0
    for _ in range(6):
        total += _random(state)
    return (total - 3.0) * 1.4142135623730951


@kernel
def _moved(points, count, i, d0, d1, dx, dy, dz):  # type: ignore[no-untyped-def]
    """Move corner i, along the axis where the port constrains it; False if it would pass the port.

    points (>= count, 3) [m], changed in place; d0, d1 (3,) unit directions of travel at start and
    end; dx, dy, dz [m].
    """
    if i == 1:
        s = dx * d0[0] + dy * d0[1] + dz * d0[2]
        out = 0.0
        for a in range(3):
            points[1, a] += s * d0[a]
            out += (points[1, a] - points[0, a]) * d0[a]
        return out > 0.0
    if i == count - 2:
        s = dx * d1[0] + dy * d1[1] + dz * d1[2]
        out = 0.0
        for a in range(3):
            points[i, a] += s * d1[a]
            out += (points[count - 1, a] - points[i, a]) * d1[a]
        return out > 0.0
    points[i, 0] += dx
    points[i, 1] += dy
    points[i, 2] += dz
    return True


@kernel
def _downhill(points, count, i, d0, d1, radius, turns, out):  # type: ignore[no-untyped-def]
    """Direction that shortens the curve fastest when corner i moves, unit, into out (3,)."""
    h = 1e-5
    base = measure(points, count, radius, 0.0, turns)[0]
    keep = points[i].copy()
    size = 0.0
    for a in range(3):
        dx = h if a == 0 else 0.0
        dy = h if a == 1 else 0.0
        dz = h if a == 2 else 0.0
        _moved(points, count, i, d0, d1, dx, dy, dz)
        out[a] = base - measure(points, count, radius, 0.0, turns)[0]
        points[i] = keep
        size += out[a] * out[a]
    size = math.sqrt(size)
    if size > 1e-14:
        for a in range(3):
            out[a] /= size


@kernel
def improve(world, points, count, d0, d1, radius, need, tries, state):  # type: ignore[no-untyped-def]
    """Shorten a feasible rounded polyline in place by small moves of corners; returns length [m].

    points (>= count, 3) [m]; d0, d1 (3,) unit directions of travel at start and end; radius, need
    [m]; tries, maximum moves; state (1,) as in _random.
    """
    turns, other = np.zeros(points.shape[0]), np.zeros(points.shape[0])
    length, _ = measure(points, count, radius, LEAST_LEG, turns)
    trial = points.copy()
    sigma = np.full(points.shape[0], COARSEST)
    down = np.empty(3)
    inner = count - 2
    for n in range(tries):
        i = 1 + n % inner
        if sigma[i] < FINEST:
            if sigma[1 : count - 1].max() < FINEST:
                break
            continue
        kind = _random(state)
        step = sigma[i] * (0.3 + 1.2 * _random(state))
        x, y, z = _normal(state), _normal(state), _normal(state)
        if kind < 0.5:
            _downhill(trial, count, i, d0, d1, radius, other, down)
            noise = 0.9 * _random(state)
            x, y, z = down[0] + noise * x, down[1] + noise * y, down[2] + noise * z
        size = math.sqrt(x * x + y * y + z * z) + 1e-30
        x, y, z = x * step / size, y * step / size, z * step / size
        good = _moved(trial, count, i, d0, d1, x, y, z)
        low, high = i, i
        if kind > 0.75 and i + 1 < count - 1:
            high = i + 1
            good = _moved(trial, count, high, d0, d1, x, y, z) and good
        shorter = False
        if good:
            size, misfit = measure(trial, count, radius, LEAST_LEG, other)
            if misfit == 0.0 and size < length - 1e-8:
                a, b = max(1, low - 1) - 1, min(count - 2, high + 1) + 1
                shorter = curve_clear(world, trial, other, a, b, radius, need)
        if shorter:
            length = size
            points[low : high + 1] = trial[low : high + 1]
            sigma[i] = min(COARSEST, 1.7 * sigma[i])
        else:
            trial[low : high + 1] = points[low : high + 1]
            sigma[i] *= 0.85
    return length
