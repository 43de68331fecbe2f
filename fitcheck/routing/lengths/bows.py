"""Bend a stretch of hose out sideways until it has a given length.

A third point V between two points A and B of a curve is moved aside; direct curves join A to V and
V to B. The length grows with the distance V has moved, so a given length is found by bisection,
and only the resulting curve has to be clear. Every bend keeps the radius by construction.
"""

from __future__ import annotations

import math

import numpy as np

from fitcheck.geometry.curve import measure
from fitcheck.kernels import kernel
from fitcheck.routing.search.direct import direct_corners, direct_kernel
from fitcheck.routing.world.clear import curve_clear
from fitcheck.routing.world.field import exact, lower

#: Straight kept on either side of V, beyond A and before B, so that rounding does not make bends
#: overlap [m].
APART = 1e-4
#: Positions of V tried on its way out, and bisection steps after that.
STEPS, HALVINGS = 14, 60
#: Tolerance on the length [m].
EXACT = 1e-9
#: Initial guesses for the middle direction of a direct curve.
TRIALS = 5
#: Maximum corners of a bow.
MOST_CORNERS = 14


@kernel
def bow(a, da, v, dv, b, db, radius, found, half, corners):  # type: ignore[no-untyped-def]
    """Corners (n, 3) of the direct curves A to V to B; returns (count, length), count 0 if none.

    a, b, v (3,) points; da, db, dv (3,) directions of travel there.
    """
    q = v - APART * dv - a
    first = direct_kernel(q, da, dv, radius, np.int64(TRIALS), found)
    if first < 0.0:
        return 0, 0.0
    count = direct_corners(a, da, v - APART * dv, dv, radius, found, corners) - 1
    start = v + APART * dv
    second = direct_kernel(b - start, dv, db, radius, np.int64(TRIALS), found)
    if second < 0.0:
        return 0, 0.0
    more = direct_corners(start, dv, b, db, radius, found, half)
    for i in range(1, more):
        corners[count + i - 1] = half[i]
    return count + more - 1, first + second + 2.0 * APART


@kernel
def _blocked(world, v, need):  # type: ignore[no-untyped-def]
    """Whether point v (3,) [m] is nearer than `need` [m] to an obstacle."""
    if lower(world, v[0], v[1], v[2]) >= need:
        return False
    return exact(world, v[0], v[1], v[2], need) < need


@kernel
def swing(world, ends, middle, aside, wanted, most, radius, need, corners):  # type: ignore[no-untyped-def]
    """Move V aside until the bow has the wanted length and is clear; return its corner count.

    ends (4, 3): A, its direction, B, its direction; middle (2, 3): V before it moves, and its
    direction; aside (3,) the direction it moves in; most: how far at most [m]. 0 if no such bow is
    clear.
    """
    found, half, turns = np.empty(6), np.empty((8, 3)), np.zeros(MOST_CORNERS + 2)
    a, da, b, db = ends[0], ends[1], ends[2], ends[3]
    dv = middle[1]
    before, was = -1.0, 0.0
    for m in range(STEPS + 1):
        out = most * (m / STEPS) ** 1.5
        v = middle[0] + out * aside
        stopped = m > 0 and _blocked(world, v, need)
        count, length = bow(a, da, v, dv, b, db, radius, found, half, corners)
        if count > 0 and before >= 0.0 and (before - wanted) * (length - wanted) <= 0.0:
            low, high, rising = was, out, length >= before
            for _ in range(HALVINGS):
                out = 0.5 * (low + high)
                v = middle[0] + out * aside
                count, length = bow(a, da, v, dv, b, db, radius, found, half, corners)
                if count == 0 or abs(length - wanted) < EXACT:
                    break
                if (length < wanted) == rising:
                    low = out
                else:
                    high = out
            if count > 0 and abs(length - wanted) < EXACT:
                misfit = measure(corners, count, radius, 0.0, turns)[1]
                if misfit < 1e-11 and curve_clear(
                    world, corners, turns, 0, count - 1, radius, need
                ):
                    return count
            return 0
        if stopped:
            return 0
        before, was = (length, out) if count > 0 else (-1.0, out)
    return 0


@kernel
def nearest_to_itself(points, along, apart):  # type: ignore[no-untyped-def]
    """Smallest distance between two points of a curve that are at least `apart` along it [m].

    points (n, 3) on the curve; along (n,) the distance of each from its start [m].
    """
    best = 1e18
    for i in range(points.shape[0]):
        for j in range(i + 1, points.shape[0]):
            if along[j] - along[i] >= apart:
                d = 0.0
                for c in range(3):
                    d += (points[i, c] - points[j, c]) ** 2
                best = min(best, d)
    return math.sqrt(best)
