"""Draw a feasible hose towards structure: small moves of corners that lessen what hangs free.

Minimised is the length and what hanging free costs; only curves proven clear are kept. Random with
a seeded generator: the same problem gives the same answer.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from fitcheck.geometry.curve import measure
from fitcheck.geometry.distance import nearest_triangle, point_box
from fitcheck.routing.field import World, curve_clear
from fitcheck.routing.refine import Shape, Task
from fitcheck.routing.settle import LEAST_LEG, MARGIN, descend, feasible
from fitcheck.routing.structure import Structure
from fitcheck.units import Metre

#: Pull on the length while a seed is repaired.
PULL = 0.05
#: Distances to structure are told up to this [m].
FARTHEST = 0.2
#: Largest and smallest step of a corner [m]; curves measured at most.
COARSEST, FINEST, TRIES = 0.04, 1e-3, 1500
#: Places looked at along a curve are this far apart [m].
SPACING = 0.012
#: What hanging free costs, a metre of it and a square metre of distance beyond reach.
HANGING, BEYOND = 2.0, 20.0
#: What a metre more than the span costs.
OVER_SPAN = 10.0
#: Taken off the reach, since distances between cells are interpolated [m].
SPARE = 2e-3


def hugged(task: Task, shape: Shape, structure: Structure, reach: Metre, span: Metre) -> Shape:
    """The shape drawn to within `reach` of structure where its radius and clearance let it.

    Parameters: reach of the centre line; span, longest stretch wanted out of it [m].
    """
    count = len(shape.corners)
    if count < 4:
        return shape
    world: World = task.world
    points = np.ascontiguousarray(shape.corners).copy()
    away = np.full(world.label.shape, -1.0, dtype=np.float32)
    ways = (task.leaves, task.arrives, task.radius, task.need)
    given = (structure.triangles, structure.boxes, away, reach - SPARE, span)
    draws = np.random.default_rng(20240229).standard_normal((TRIES, 4))
    _hug(world, given, points, count, ways, draws)
    length = float(measure(points, count, task.radius, 0.0, np.zeros(count))[0])
    return Shape(corners=points, length=length)


def repaired(task: Task, seed: NDArray[np.float64]) -> Shape | None:
    """A feasible curve beside a seed, with hardly any pull on its length; None if none found."""
    count = len(seed)
    points = np.ascontiguousarray(seed).copy()
    if count < 5:
        return None
    ways = (task.leaves, task.arrives, task.radius)
    for weight in (3e2, 3e3, 3e4, 2e5, 2e5):
        want = task.need + (2.0 if weight < 2e5 else 4.0) * MARGIN
        descend(task.world, points, count, *ways, want, weight, PULL, 0.006, 12)
        good, length = feasible(task.world, points, count, task.radius, task.need)
        if good:
            return Shape(corners=points, length=float(length))
    return None


@njit(cache=True)
def _cell(world, triangles, boxes, away, i, j, k):  # type: ignore[no-untyped-def]
    n0, n1, n2 = away.shape
    i, j, k = min(n0 - 1, max(0, i)), min(n1 - 1, max(0, j)), min(n2 - 1, max(0, k))
    if away[i, j, k] < 0.0:
        h = world.pitch[0]
        x = world.origin[0] + (i + 0.5) * h
        y = world.origin[1] + (j + 0.5) * h
        z = world.origin[2] + (k + 0.5) * h
        best = FARTHEST
        for b in range(boxes.shape[0]):
            best = min(best, point_box(x, y, z, boxes, b))
        away[i, j, k] = nearest_triangle(x, y, z, triangles, best)[0]
    return away[i, j, k]


@njit(cache=True)
def _away(world, triangles, boxes, away, p):  # type: ignore[no-untyped-def]
    """Distance to structure, interpolated between cells."""
    h = world.pitch[0]
    fx = (p[0] - world.origin[0]) / h - 0.5
    fy = (p[1] - world.origin[1]) / h - 0.5
    fz = (p[2] - world.origin[2]) / h - 0.5
    i, j, k = int(math.floor(fx)), int(math.floor(fy)), int(math.floor(fz))
    tx, ty, tz = fx - i, fy - j, fz - k
    total = 0.0
    for a in range(2):
        for b in range(2):
            for c in range(2):
                share = (tx if a else 1.0 - tx) * (ty if b else 1.0 - ty) * (tz if c else 1.0 - tz)
                total += share * _cell(world, triangles, boxes, away, i + a, j + b, k + c)
    return total


@njit(cache=True)
def _place(points, turns, radius, i, bend, share, out):  # type: ignore[no-untyped-def]
    """Point at a share of the bend at corner i, or of the straight after it."""
    v = points[i + 1] - points[i]
    size = math.sqrt((v * v).sum())
    v = v / size
    if not bend:
        s = turns[i] + share * (size - turns[i] - turns[i + 1])
        out[:] = points[i] + s * v
        return
    u = points[i] - points[i - 1]
    u = u / math.sqrt((u * u).sum())
    cosine = min(1.0, max(-1.0, (u * v).sum()))
    w = v - cosine * u
    sine = math.sqrt((w * w).sum())
    phi = share * math.atan2(sine, cosine)
    along = radius * math.sin(phi) - turns[i]
    aside = radius * (1.0 - math.cos(phi)) / max(sine, 1e-12)
    out[:] = points[i] + along * u + aside * w


@njit(cache=True)
def _cost(world, given, points, count, turns, length, radius):  # type: ignore[no-untyped-def]
    """Length and what hanging free costs."""
    triangles, boxes, away, reach, span = given
    out = np.empty(3)
    total, run, longest = length, 0.0, 0.0
    for i in range(count - 1):
        for bend in (True, False):
            if bend:
                size = 2.0 * radius * math.atan2(turns[i], radius) if i > 0 else 0.0
            else:
                gap = points[i + 1] - points[i]
                size = math.sqrt((gap * gap).sum()) - turns[i] - turns[i + 1]
            if size < 1e-9:
                continue
            steps = int(size / SPACING) + 1
            for m in range(steps):
                _place(points, turns, radius, i, bend, (m + 0.5) / steps, out)
                beyond = _away(world, triangles, boxes, away, out) - reach
                if beyond > 0.0:
                    run += size / steps
                    total += size / steps * (HANGING + BEYOND * beyond)
                    longest = max(longest, run)
                else:
                    run = 0.0
    return total + OVER_SPAN * max(0.0, longest - span)


@njit(cache=True)
def _hug(world, given, points, count, ways, draws):  # type: ignore[no-untyped-def]
    """Lower the cost of a feasible rounded polyline in place by small moves of its corners."""
    leaves, arrives, radius, need = ways
    turns, other = np.zeros(count), np.zeros(count)
    length, _ = measure(points, count, radius, LEAST_LEG, turns)
    cost = _cost(world, given, points, count, turns, length, radius)
    trial = points.copy()
    sigma = np.full(count, COARSEST)
    for n in range(draws.shape[0]):
        i = 1 + n % (count - 2)
        if sigma[i] < FINEST:
            if sigma[1 : count - 1].max() < FINEST:
                break
            continue
        last = i + 1 if draws[n, 3] > 0.5 and i + 2 < count - 1 else i
        for c in range(i, last + 1):
            if c == 1:
                trial[c] += sigma[i] * draws[n, 0] * leaves
            elif c == count - 2:
                trial[c] += sigma[i] * draws[n, 0] * arrives
            else:
                trial[c] += sigma[i] * draws[n, :3]
        lead = ((trial[1] - trial[0]) * leaves).sum()
        tail = ((trial[count - 1] - trial[count - 2]) * arrives).sum()
        better = False
        if lead > 0.0 and tail > 0.0:
            size, misfit = measure(trial, count, radius, LEAST_LEG, other)
            if misfit == 0.0:
                value = _cost(world, given, trial, count, other, size, radius)
                if value < cost - 1e-6:
                    better = curve_clear(world, trial, other, 0, count - 1, radius, need)
        if better:
            cost = value
            points[:] = trial
            sigma[i] = min(COARSEST, 1.5 * sigma[i])
        else:
            trial[:] = points
            sigma[i] *= 0.93
    return cost
