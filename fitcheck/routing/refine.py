"""From a seed to the shortest feasible curve near it: corners moved, taken out, put in.

Only proven-clear curves are ever accepted, so the last one kept is always feasible. The moves are
random, the generator seeded: the same problem gives the same answer.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from fitcheck.geometry.curve import measure
from fitcheck.routing.field import World, curve_clear, distance_at
from fitcheck.units import Metre

#: Shortest leg between two bends [m].
LEAST_LEG = 1e-4
#: Smallest step worth trying [m].
FINEST = 2e-5


@njit(cache=True)
def _random(state):  # type: ignore[no-untyped-def]
    """Next number of a 64-bit linear congruential generator, in [0, 1)."""
    state[0] = state[0] * np.uint64(6364136223846793005) + np.uint64(1442695040888963407)
    return float(state[0] >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@njit(cache=True)
def _normal(state):  # type: ignore[no-untyped-def]
    total = 0.0
    for _ in range(6):
        total += _random(state)
    return (total - 3.0) * 1.4142135623730951


@njit(cache=True)
def _moved(points, count, i, d0, d1, dx, dy, dz):  # type: ignore[no-untyped-def]
    """Move corner i, along the axis where the port holds it; False if it would pass the port."""
    if i == 1:
        s = dx * d0[0] + dy * d0[1] + dz * d0[2]
        for a in range(3):
            points[1, a] += s * d0[a]
        out = 0.0
        for a in range(3):
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


@njit(cache=True)
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


@njit(cache=True)
def improve(world, points, count, d0, d1, radius, need, tries, first, state):  # type: ignore[no-untyped-def]
    """Shorten a feasible rounded polyline in place; returns its length.

    first: largest step to begin with [m]; tries: curves measured at most.
    """
    turns, other = np.zeros(points.shape[0]), np.zeros(points.shape[0])
    length, _ = measure(points, count, radius, LEAST_LEG, turns)
    trial = points.copy()
    sigma = np.full(points.shape[0], first)
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
        if kind > 0.75:
            more = 1 if kind < 0.93 else inner
            for j in range(i + 1, min(count - 1, i + 1 + more)):
                good = _moved(trial, count, j, d0, d1, x, y, z) and good
                high = j
        shorter = False
        if good:
            size, misfit = measure(trial, count, radius, LEAST_LEG, other)
            if misfit == 0.0 and size < length - 1e-8:
                a, b = max(1, low - 1) - 1, min(count - 2, high + 1) + 1
                shorter = curve_clear(world, trial, other, a, b, radius, need)
        if shorter:
            length = size
            points[low : high + 1] = trial[low : high + 1]
            sigma[i] = min(first, 1.7 * sigma[i])
        else:
            trial[low : high + 1] = points[low : high + 1]
            sigma[i] *= 0.9
    return length


@njit(cache=True)
def violation(world, points, turns, count, radius, need):  # type: ignore[no-untyped-def]
    """How much a rounded polyline fails to keep `need`: sum over 8 mm samples of what lacks."""
    u, v, w = np.empty(3), np.empty(3), np.empty(3)
    want = need + 1e-4
    total = 0.0
    for i in range(count - 1):
        size = 0.0
        for a in range(3):
            u[a] = points[i + 1, a] - points[i, a]
            size += u[a] * u[a]
        size = math.sqrt(size)
        if size < 1e-9:
            continue
        for a in range(3):
            u[a] /= size
        if i > 0 and turns[i] > 0.0:
            cosine = u[0] * v[0] + u[1] * v[1] + u[2] * v[2]
            sine = 0.0
            for a in range(3):
                w[a] = u[a] - cosine * v[a]
                sine += w[a] * w[a]
            sine = math.sqrt(sine)
            if sine > 1e-9:
                angle = math.atan2(sine, cosine)
                steps = int(radius * angle / 0.008) + 1
                for m in range(steps):
                    turn = angle * (m + 0.5) / steps
                    b, c = radius * math.sin(turn), radius * (1.0 - math.cos(turn)) / sine
                    x = points[i, 0] - turns[i] * v[0] + b * v[0] + c * w[0]
                    y = points[i, 1] - turns[i] * v[1] + b * v[1] + c * w[1]
                    z = points[i, 2] - turns[i] * v[2] + b * v[2] + c * w[2]
                    total += max(0.0, want - distance_at(world, x, y, z, want))
        straight = size - turns[i] - turns[i + 1]
        if straight > 0.0:
            steps = int(straight / 0.008) + 1
            for m in range(steps):
                s = turns[i] + straight * (m + 0.5) / steps
                x, y, z = points[i, 0] + s * u[0], points[i, 1] + s * u[1], points[i, 2] + s * u[2]
                total += max(0.0, want - distance_at(world, x, y, z, want))
        for a in range(3):
            v[a] = u[a]
    return total


@njit(cache=True)
def _merit(world, points, turns, count, radius, need, length, misfit, best):  # type: ignore[no-untyped-def]
    value = 20.0 * misfit + 0.02 * length
    if value >= best:
        return value
    return value + violation(world, points, turns, count, radius, need)


@njit(cache=True)
def repair(world, points, count, d0, d1, radius, need, tries, state):  # type: ignore[no-untyped-def]
    """Move corners until the curve fits and is proven clear; True if that came about."""
    turns = np.zeros(points.shape[0])
    trial = points.copy()
    inner = count - 2
    sigma = np.full(points.shape[0], 0.03)
    length, misfit = measure(points, count, radius, LEAST_LEG, turns)
    best = _merit(world, points, turns, count, radius, need, length, misfit, 1e18)
    for n in range(tries):
        i = 1 + n % inner
        step = sigma[i] * (0.2 + 1.3 * _random(state))
        x, y, z = step * _normal(state), step * _normal(state), step * _normal(state)
        good = _moved(trial, count, i, d0, d1, x, y, z)
        low, high = i, i
        if _random(state) > 0.7 and i + 1 < count - 1:
            high = i + 1
            good = _moved(trial, count, high, d0, d1, x, y, z) and good
        value = best
        if good:
            length, misfit = measure(trial, count, radius, LEAST_LEG, turns)
            value = _merit(world, trial, turns, count, radius, need, length, misfit, best)
        if value < best:
            best = value
            points[low : high + 1] = trial[low : high + 1]
            sigma[i] = min(0.08, 1.6 * sigma[i])
            near = misfit == 0.0 and value - 0.02 * length < 1e-9
            if near and curve_clear(world, points, turns, 0, count - 1, radius, need):
                return True
        else:
            trial[low : high + 1] = points[low : high + 1]
            sigma[i] = max(3e-4, 0.93 * sigma[i])
    return False


@njit(cache=True)
def feasible(world, points, count, radius, need):  # type: ignore[no-untyped-def]
    """Whether the rounded polyline fits and is proven clear, and its length (or 1e18)."""
    turns = np.zeros(points.shape[0])
    length, misfit = measure(points, count, radius, LEAST_LEG, turns)
    if misfit > 0.0 or not curve_clear(world, points, turns, 0, count - 1, radius, need):
        return False, 1e18
    return True, length


@njit(cache=True)
def drop_corners(world, points, count, d0, d1, radius, need, tries, state):  # type: ignore[no-untyped-def]
    """Take out corners one by one where the rest is feasible and not longer; returns the count."""
    length = feasible(world, points, count, radius, need)[1]
    i = 2
    while i < count - 2:
        trial = points.copy()
        for j in range(i, count - 1):
            trial[j] = trial[j + 1]
        good, size = feasible(world, trial, count - 1, radius, need)
        if not good and repair(world, trial, count - 1, d0, d1, radius, need, tries, state):
            good, size = feasible(world, trial, count - 1, radius, need)
        if good:
            size = improve(world, trial, count - 1, d0, d1, radius, need, 6 * tries, 0.01, state)
        if good and size <= length + 2e-4:
            points[:] = trial
            length = min(length, size)
            count -= 1
        else:
            i += 1
    return count


@njit(cache=True)
def add_corner(points, count, at, radius):  # type: ignore[no-untyped-def]
    """Split the bend at a corner into two of half the angle a little apart; returns the count.

    The two corners lie on the tangent at the middle of the bend: the curve stays inside the old
    corner's triangle.
    """
    a, b, c = points[at - 1], points[at], points[at + 1]
    u, v = b - a, c - b
    lu, lv = math.sqrt((u**2).sum()), math.sqrt((v**2).sum())
    u, v = u / lu, v / lv
    sine = math.sqrt(max(0.0, 1.0 - (u * v).sum() ** 2))
    angle = math.atan2(sine, (u * v).sum())
    t = radius * math.tan(angle / 2) - radius * math.tan(angle / 4)
    if t <= 0.0 or count + 1 > points.shape[0]:
        return count
    first, last = b - t * u, b + t * v
    for j in range(count, at + 1, -1):
        points[j] = points[j - 1]
    points[at], points[at + 1] = first, last
    return count + 1


def refine(
    world: World,
    seed: NDArray[np.float64],
    ways: tuple[NDArray[np.float64], NDArray[np.float64]],
    radius: Metre,
    need: Metre,
    effort: float,
) -> tuple[NDArray[np.float64], Metre] | None:
    """The shortest feasible polyline found near a seed and its length, None if none is feasible.

    Parameters: seed (n, 3), first and last inner corner on the ports' axes [m]; ways, directions
    of travel at both ends; need, clearance of the centre line [m]; effort, 1 for a usual hose.
    """
    state = np.array([20240229], dtype=np.uint64)
    count = len(seed)
    points = np.zeros((count + 12, 3))
    points[:count] = seed
    d0, d1 = ways
    if count < 4:
        good, length = feasible(world, points, count, radius, need)
        return (points[:count].copy(), length) if good else None
    tries = int(400 * effort)
    if not feasible(world, points, count, radius, need)[0] and not repair(
        world, points, count, d0, d1, radius, need, 6 * tries, state
    ):
        return None
    length = improve(world, points, count, d0, d1, radius, need, 2 * tries, 0.03, state)
    count = drop_corners(world, points, count, d0, d1, radius, need, tries // 8, state)
    length = improve(world, points, count, d0, d1, radius, need, 4 * tries, 0.02, state)
    return _split_and_improve(world, points, count, length, (d0, d1), radius, need, tries, state)


def _split_and_improve(  # noqa: PLR0913, PLR0917
    world: World,
    points: NDArray[np.float64],
    count: int,
    length: Metre,
    ways: tuple[NDArray[np.float64], NDArray[np.float64]],
    radius: Metre,
    need: Metre,
    tries: int,
    state: NDArray[np.uint64],
) -> tuple[NDArray[np.float64], Metre]:
    """Try a split of each bend; keep what is shorter."""
    d0, d1 = ways
    for at in range(count - 2, 0, -1):
        trial = points.copy()
        more = int(add_corner(trial, count, at, radius))
        if more == count:
            continue
        good, size = feasible(world, trial, more, radius, need)
        if not good and not repair(world, trial, more, d0, d1, radius, need, tries // 4, state):
            continue
        size = improve(world, trial, more, d0, d1, radius, need, 2 * tries, 0.01, state)
        if size < length - 3e-4:
            points, count, length = trial, more, size
    return points[:count].copy(), length
