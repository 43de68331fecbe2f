"""No hose of this bend radius between these ports is shorter: the support-function bound.

Proof. Let T(s) be the unit tangent of any curve of length L whose radius is never below R, leaving
along d0 and arriving along d1, and n any unit vector with angles b0 to d0 and b1 to d1. T turns by
at most s / R from the start and (L - s) / R to the end, so its angle to n is at least
max(0, b0 - s / R, b1 - (L - s) / R) and, q being end minus start,

    <q, n> <= H_L(n) = integral over 0..L of cos max(0, b0 - s / R, b1 - (L - s) / R) ds.

A length L with H_L(n) < <q, n> for some n is therefore impossible. Obstacles only take curves
away. If an arc-straight-arc with both turns at most pi exists, n along its straight gives equality
at its own length: it is the shortest curve of all.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.kernels import kernel
from fitcheck.units import Metre

#: Subtracted from every bound for rounding [m].
ROUNDING = 1e-9


@kernel
def support(length, b0, b1, radius):  # type: ignore[no-untyped-def]
    """H_L(n) for the angles b0, b1 [rad] between n and the two tangents [m]."""
    if radius * (b0 + b1) <= length:
        return length + radius * (math.sin(b0) - b0 + math.sin(b1) - b1)
    meet = min(length, max(0.0, 0.5 * (radius * (b0 - b1) + length)))
    first = math.sin(b0) - math.sin(b0 - meet / radius)
    second = math.sin(b1) - math.sin(b1 - (length - meet) / radius)
    return radius * (first + second)


@kernel
def least_length(along, least, b0, b1, radius):  # type: ignore[no-untyped-def]
    """Largest length up to which H stays below `along`, from `least` upwards [m].

    dH/dL is the cosine of the angle where the two ramps meet (1 where they do not), so H grows by
    at most the step: stepping by the shortfall never passes the first crossing, monotone or not.
    """
    length = least
    for _ in range(400):
        short = along - support(length, b0, b1, radius)
        if short <= 1e-13:
            break
        length += short
    return length


@kernel
def _angle(a, b):  # type: ignore[no-untyped-def]
    """Angle [rad] between two vectors a, b (3,), of any length but 0."""
    cx = a[1] * b[2] - a[2] * b[1]
    cy = a[2] * b[0] - a[0] * b[2]
    cz = a[0] * b[1] - a[1] * b[0]
    dot = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    return math.atan2(math.sqrt(cx * cx + cy * cy + cz * cz), dot)


@kernel
def _for_direction(q, n, d0, d1, radius, floor):  # type: ignore[no-untyped-def]
    """Length [m] that the support bound in direction n proves, at least `floor` [m].

    q (3,) [m] from start to end; n, d0, d1 (3,) unit vectors; radius [m].
    """
    along = q[0] * n[0] + q[1] * n[1] + q[2] * n[2]
    return least_length(along, floor, _angle(n, d0), _angle(n, d1), radius)


@kernel
def bound_kernel(q, d0, d1, radius):  # type: ignore[no-untyped-def]
    """Best support bound over directions [m]: a spiral of 300, then the best of them is improved.

    q (3,) [m] from start to end; d0, d1 (3,) unit directions of travel there; radius [m].
    """
    floor = math.sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2])
    best = floor
    n, top, trial = np.empty(3), np.zeros(3), np.empty(3)
    for i in range(300):
        z = 1.0 - (2.0 * i + 1.0) / 300.0
        r = math.sqrt(max(0.0, 1.0 - z * z))
        turn = 2.399963229728653 * i
        n[0], n[1], n[2] = r * math.cos(turn), r * math.sin(turn), z
        value = _for_direction(q, n, d0, d1, radius, floor)
        if value > best:
            best = value
            top[:] = n
    if top[0] == 0.0 and top[1] == 0.0 and top[2] == 0.0:
        if floor <= 0.0:
            return best
        top[:] = q / floor
    step = 0.15
    while step > 1e-7:
        better = False
        for k in range(6):
            trial[:] = top
            trial[k // 2] += step if k % 2 == 0 else -step
            trial /= math.sqrt((trial * trial).sum())
            value = _for_direction(q, trial, d0, d1, radius, floor)
            if value > best:
                best = value
                top[:] = trial
                better = True
        if not better:
            step *= 0.5
    return best


def unobstructed_bound(
    start: NDArray[np.float64],
    leaves: NDArray[np.float64],
    end: NDArray[np.float64],
    arrives: NDArray[np.float64],
    radius: Metre,
) -> Metre:
    """Lower bound on the length of any curve of that radius between the two points and directions
    [m].

    Parameters: start, end (3,) [m]; leaves, arrives (3,) unit directions of travel; radius [m].
    """
    q = np.ascontiguousarray(end - start, dtype=np.float64)
    value = float(bound_kernel(q, leaves, arrives, radius))
    return max(0.0, value * (1.0 - 1e-12) - ROUNDING)
