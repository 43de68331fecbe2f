"""Pull a rounded polyline taut while obstacles push it away: damped Newton on corner positions.

Minimised is length + m * (missing clearance of samples)^2 + m * (missing leg length)^2, with m
raised in steps. It starts from curves that do not keep the clearance yet, or are not even valid;
the result is only a proposal, proven or rejected by fitcheck.routing.world.clear.curve_clear.
"""

from __future__ import annotations

import math

import numpy as np

from fitcheck.kernels import kernel
from fitcheck.routing.search.rounded import (
    LEAST_LEG,
    NO_LENGTH,
    STEEP,
    STEEP_SLOPE,
    corner_of,
    lacks,
    lay,
    sample,
    shift,
)
from fitcheck.routing.world.clear import curve_clear
from fitcheck.routing.world.close import CLOSE_REACH, close_at
from fitcheck.routing.world.field import close_lower, exact, lower, soft_at, to_soft

#: Up to this weight distances are read from the close grid, whose ripples would hold a curve back.
ROUGH = 1e3
#: Extra clearance while settling [m], increased by as much, up to so many times, whenever it was
#: not enough: a penalty always leaves a small shortfall.
MARGIN, MARGINS = 1.5e-4, 4

#: One descent after the other: weight of the shortfall [1/m], weight of the length, spacing of the
#: sample points [m], maximum steps. A low weight first lets a curve pass through obstacles; a seed
#: far from feasible is moved clear before length counts at all.
FREED = (300.0, 0.05, 0.01, 25.0)
FAR_OFF = (300.0, 1.0, 0.01, 15.0)
NEARER = (3e3, 1.0, 0.006, 12.0)
NEAR = (3e4, 1.0, 0.004, 10.0)
LAST = (2e5, 1.0, 0.0025, 8.0)

#: Distances below this are read from the close grid; beyond it they may be cut off [m].
READABLE = CLOSE_REACH - 1e-3
#: Maximum points with a shortfall that push; any more count in the cost only.
MOST_SAMPLES = 400
#: A corner moves the points of its own bend and of the adjacent legs and bends.
BESIDE = 2
#: A corner that turns less than this does not bend [rad], and its sine is not used as a divisor.
UNBENT, NO_SINE = 1e-9, 1e-12
#: Finite-difference step: rounding dominates below it, curvature above it [m].
DIFFERENCE = 1e-6
#: Distances are measured this much beyond what is required, to get their slope at the edge [m].
EDGE = 1e-5
#: Pivots below this mean that the matrix is not positive definite.
NO_PIVOT = 1e-12

#: Damping of a step [1/m]: initial, minimum, and minimum after a failed step; factors after a step
#: that was taken, failed, or could not be calculated.
DAMPED, LEAST_DAMPED, FAILED_DAMPED = 1.0, 1e-6, 1e-3
EASE_OFF, HARDER, MUCH_HARDER = 0.3, 3.0, 4.0
#: Damping values tried for one step.
ATTEMPTS = 12
#: Maximum movement of a corner in one step, since slopes are only valid locally [m].
MOST_STEP = 0.06
#: A gain below this, or below this share of the cost, ends the descent [m].
LEAST_GAIN, LEAST_SHARE = 1e-8, 1e-6

#: Largest turn of a corner in a curve that counts as feasible [rad].
LARGEST_TURN = 2.2
#: Longer than any curve [m].
ENDLESS = 1e18


@kernel
def _measured(world, x, y, z, want, rough, slope):  # type: ignore[no-untyped-def]
    """Distance at a point where it is below `want`, else a lower bound; rough: the likely one [m].

    x, y, z, want [m]; slope (3,) is written over.
    """
    value = likely = -1.0
    if want < READABLE:
        value, likely = close_lower(world, x, y, z, slope)
    if value < 0.0:
        value = lower(world, x, y, z)
        rough = False
    else:
        value = soft_at(world, x, y, z, likely if rough else value)
    if value < want and not rough:
        value = exact(world, x, y, z, want)
    return value


@kernel
def _gather(world, points, count, turns, rests, angles, radius, want, spacing, rough, samples):  # type: ignore[no-untyped-def]
    """Samples with missing clearance: corner, share, amount. Returns (count, sum of squares [m2]).

    points (>= count, 3) [m]; turns, rests, angles as in lay; want, spacing [m]; samples: corner
    (m,), share (m,) as in sample, missing clearance (m,) [m], all written.
    """
    where, share, lack = samples
    out, slope = np.empty(3), np.empty(3)
    used, total = 0, 0.0
    handy = want < READABLE
    soft = world.tubes.shape[0] + world.extra.shape[0] > 0
    for i in range(count - 1):
        for kind in range(2):
            if kind == 0:
                size = radius * angles[i]
                if i == 0 or angles[i] < UNBENT:
                    continue
            else:
                size = rests[i]
                if size <= 0.0:
                    continue
            steps = int(size / spacing) + 1
            m = 0
            while m < steps:
                at = (m + 0.5) / steps + 2.0 * kind
                sample(points, turns, angles, radius, i, at, out)
                d = -1.0
                if handy:
                    d, likely = close_at(
                        world.close, world.origin, world.pitch, out[0], out[1], out[2], slope
                    )
                    d = likely if rough else d
                    if soft and d > 0.0:
                        d = soft_at(world, out[0], out[1], out[2], d)
                if d < 0.0:
                    d = _measured(world, out[0], out[1], out[2], want, rough, slope)
                elif d < want and not rough:
                    d = exact(world, out[0], out[1], out[2], want)
                if d < want:
                    total += (want - d) ** 2
                    if used < where.shape[0]:
                        where[used], share[used], lack[used] = i, at, want - d
                        used += 1
                    m += 1
                else:
                    # nothing can be closer than `want` before this
                    m += 1 + int((d - want) * steps / size)
    return used, total


@kernel
def _slope(world, p, reach, rough, out):  # type: ignore[no-untyped-def]
    """Gradient of the distance at p (3,) [m], from the close grid or by differences, into out
    (3,).

    reach: how far distances are measured [m].
    """
    h = DIFFERENCE
    if rough and reach < READABLE:
        _, value = close_lower(world, p[0], p[1], p[2], out)
        if value >= 0.0:
            soft = soft_at(world, p[0], p[1], p[2], value)
            if soft < value:
                out[0] = (to_soft(world, p[0] + h, p[1], p[2], reach) - soft) / h
                out[1] = (to_soft(world, p[0], p[1] + h, p[2], reach) - soft) / h
                out[2] = (to_soft(world, p[0], p[1], p[2] + h, reach) - soft) / h
            return
    here = exact(world, p[0], p[1], p[2], reach)
    out[0] = (exact(world, p[0] + h, p[1], p[2], reach) - here) / h
    out[1] = (exact(world, p[0], p[1] + h, p[2], reach) - here) / h
    out[2] = (exact(world, p[0], p[1], p[2] + h, reach) - here) / h


@kernel
def _solve(matrix, right, damping):  # type: ignore[no-untyped-def]
    """Cholesky solution (n,) of (matrix + damping) x = right; False where not positive definite.

    matrix (n, n) symmetric [1/m]; right (n,); damping [1/m], added to the diagonal.
    """
    n = right.shape[0]
    low = matrix.copy()
    for i in range(n):
        low[i, i] += damping
    for i in range(n):
        for j in range(i + 1):
            total = low[i, j]
            for k in range(j):
                total -= low[i, k] * low[j, k]
            if i == j:
                if total <= NO_PIVOT:
                    return False, right
                low[i, i] = math.sqrt(total)
            else:
                low[i, j] = total / low[j, j]
    x = right.copy()
    for i in range(n):
        for k in range(i):
            x[i] -= low[i, k] * x[k]
        x[i] /= low[i, i]
    for i in range(n - 1, -1, -1):
        for k in range(i + 1, n):
            x[i] -= low[k, i] * x[k]
        x[i] /= low[i, i]
    return True, x


@kernel
def _corner_slope(place, radius, out):  # type: ignore[no-untyped-def]
    """Gradient of the length added by the bend at place[1], into out.

    place (3, 3) [m]; out (9,): x, y, z of each of the three corners.
    """
    ux, uy, uz = place[1, 0] - place[0, 0], place[1, 1] - place[0, 1], place[1, 2] - place[0, 2]
    vx, vy, vz = place[2, 0] - place[1, 0], place[2, 1] - place[1, 1], place[2, 2] - place[1, 2]
    first = math.sqrt(ux * ux + uy * uy + uz * uz) + NO_LENGTH
    second = math.sqrt(vx * vx + vy * vy + vz * vz) + NO_LENGTH
    ux, uy, uz = ux / first, uy / first, uz / first
    vx, vy, vz = vx / second, vy / second, vz / second
    cx, cy, cz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    sine, cosine = math.sqrt(cx * cx + cy * cy + cz * cz), ux * vx + uy * vy + uz * vz
    out[:] = 0.0
    if sine < NO_SINE:
        return
    angle = math.atan2(sine, cosine)
    # of radius angle - 2 lay's tangent length
    if angle <= STEEP:
        rate = -radius * math.tan(0.5 * angle) ** 2
    else:
        rate = (1.0 - 2.0 * STEEP_SLOPE) * radius
    f, g = rate / (first * sine), rate / (second * sine)
    out[0] = f * (vx - cosine * ux)
    out[1] = f * (vy - cosine * uy)
    out[2] = f * (vz - cosine * uz)
    out[6] = -g * (ux - cosine * vx)
    out[7] = -g * (uy - cosine * vy)
    out[8] = -g * (uz - cosine * vz)
    for a in range(3):
        out[3 + a] = -out[a] - out[6 + a]


@kernel
def _variable(count, d0, d1, corner, axis):  # type: ignore[no-untyped-def]
    """Variable that moves a corner along an axis, -1 if none does, and how far [m per m].

    d0, d1 (3,) unit directions of travel at start and end.
    """
    if corner == 0 or corner == count - 1:
        return -1, 0.0
    if corner == 1:
        return 0, d0[axis]
    if corner == count - 2:
        return 1, -d1[axis]
    return 2 + 3 * (corner - 2) + axis, 1.0


@kernel
def _curvature(points, count, d0, d1, radius, slope, matrix):  # type: ignore[no-untyped-def]
    """Gradient and Hessian of the length into slope (n,) and matrix (n, n) [1/m]: legs exactly,
    bends by differences of their gradients.

    points (>= count, 3) [m]; d0, d1 (3,) unit directions; n variables as in shift.
    """
    slope[:] = 0.0
    matrix[:] = 0.0
    h = DIFFERENCE
    up, down, here, block = np.empty(9), np.empty(9), np.empty(9), np.empty((9, 9))
    variable, share = np.empty(9, np.int64), np.empty(9)
    place = np.empty((3, 3))
    for i in range(count - 1):
        bend = i > 0
        first = i - 1 if bend else 0
        corners = 3 if bend else 2
        place[0], place[1] = points[first], points[first + 1]
        if bend:
            place[2] = points[i + 1]
            _corner_slope(place, radius, here)
            for m in range(9):
                keep = place[m // 3, m % 3]
                place[m // 3, m % 3] = keep + h
                _corner_slope(place, radius, up)
                place[m // 3, m % 3] = keep - h
                _corner_slope(place, radius, down)
                place[m // 3, m % 3] = keep
                for o in range(9):
                    block[m, o] = (up[o] - down[o]) / (2.0 * h)
        else:
            here[:] = 0.0
            block[:] = 0.0
        # the leg after corner i
        near = 3 * (corners - 2)
        size = math.sqrt(((points[i + 1] - points[i]) ** 2).sum()) + NO_LENGTH
        for a in range(3):
            u = (points[i + 1, a] - points[i, a]) / size
            here[near + a] -= u
            here[near + 3 + a] += u
            for b in range(3):
                v = (points[i + 1, b] - points[i, b]) / size
                value = ((1.0 if a == b else 0.0) - u * v) / size
                block[near + a, near + b] += value
                block[near + 3 + a, near + 3 + b] += value
                block[near + a, near + 3 + b] -= value
                block[near + 3 + a, near + b] -= value
        for m in range(3 * corners):
            variable[m], share[m] = _variable(count, d0, d1, first + m // 3, m % 3)
            if variable[m] >= 0:
                slope[variable[m]] += share[m] * here[m]
        for m in range(3 * corners):
            for o in range(3 * corners):
                if variable[m] >= 0 and variable[o] >= 0:
                    value = 0.5 * (block[m, o] + block[o, m]) * share[m] * share[o]
                    matrix[variable[m], variable[o]] += value


@kernel
def _push(world, points, count, d0, d1, radius, weight, want, samples, slope, matrix):  # type: ignore[no-untyped-def]
    """Add to slope and matrix the contributions of samples and legs with a shortfall.

    points (>= count, 3) [m]; d0, d1 (3,) unit directions; weight [1/m]; want [m]; samples as
    written by _gather, and their number; slope (n,), matrix (n, n) [1/m].
    """
    n = slope.shape[0]
    where, share, lack, used = samples
    h = DIFFERENCE
    turns, rests, angles = np.zeros(count), np.zeros(count), np.zeros(count)
    lay(points, count, radius, turns, rests, angles)
    here, there, away = np.empty(3), np.empty(3), np.empty(3)
    way = np.zeros((used, 3))
    base = np.zeros((used, 3))
    for s in range(used):
        sample(points, turns, angles, radius, where[s], share[s], here)
        base[s] = here
        _slope(world, here, want + EDGE, weight < ROUGH, away)
        way[s] = away
    missing, other = np.zeros(2 * count), np.zeros(2 * count)
    lacks(points, count, d0, d1, turns, rests, angles, missing)
    rows = np.zeros((used + 2 * count, n))
    trial = points.copy()
    for v in range(n):
        c = corner_of(count, v)
        shift(trial, count, d0, d1, v, h)
        lay(trial, count, radius, turns, rests, angles)
        for s in range(used):
            if abs(where[s] - c) <= BESIDE:
                sample(trial, turns, angles, radius, where[s], share[s], there)
                for a in range(3):
                    rows[s, v] += way[s, a] * (there[a] - base[s, a]) / h
        lacks(trial, count, d0, d1, turns, rests, angles, other)
        for m in range(2 * count):
            if missing[m] > 0.0:
                rows[used + m, v] = -(other[m] - missing[m]) / h
        trial[:count] = points[:count]
    these = np.empty(n, np.int64)
    for s in range(used + 2 * count):
        amount = lack[s] if s < used else missing[s - used]
        if amount <= 0.0:
            continue
        filled = 0
        for v in range(n):
            if rows[s, v] != 0.0:
                these[filled] = v
                filled += 1
        for e in range(filled):
            v = these[e]
            a = 2.0 * weight * rows[s, v]
            slope[v] -= amount * a
            for f in range(filled):
                matrix[v, these[f]] += a * rows[s, these[f]]


@kernel
def _cost(world, points, count, d0, d1, radius, weight, want, spacing, samples, length_share):  # type: ignore[no-untyped-def]
    """The objective [m], and the number of samples with missing clearance, which are written.

    points (>= count, 3) [m]; d0, d1 (3,) unit directions; weight [1/m]; want, spacing [m].
    """
    turns, rests, angles = np.zeros(count), np.zeros(count), np.zeros(count)
    missing = np.zeros(2 * count)
    length = lay(points, count, radius, turns, rests, angles)
    lacks(points, count, d0, d1, turns, rests, angles, missing)
    used, total = _gather(
        world, points, count, turns, rests, angles, radius, want, spacing, weight < ROUGH, samples
    )
    total += (missing**2).sum()
    return length_share * length + weight * total, used


@kernel
def descend(world, points, count, d0, d1, radius, want, weight, length_share, spacing, rounds):  # type: ignore[no-untyped-def]
    """Damped Newton steps at one weight, points moved in place; returns the last cost [m].

    points (>= count, 3) [m]; d0, d1 (3,) unit directions; radius, want, spacing [m]; weight [1/m];
    rounds, a float: an integer literal in a call would trigger another compilation.
    """
    n = 2 + 3 * (count - 4)
    room = MOST_SAMPLES
    samples = (np.empty(room, np.int64), np.empty(room), np.empty(room))
    spare = (np.empty(room, np.int64), np.empty(room), np.empty(room))
    slope, matrix = np.zeros(n), np.zeros((n, n))
    trial = points.copy()
    damping = DAMPED
    cost, used = _cost(
        world, points, count, d0, d1, radius, weight, want, spacing, samples, length_share
    )
    for _ in range(int(rounds)):
        _curvature(points, count, d0, d1, radius, slope, matrix)
        slope *= length_share
        matrix *= length_share
        active = (samples[0], samples[1], samples[2], used)
        _push(world, points, count, d0, d1, radius, weight, want, active, slope, matrix)
        moved = False
        gain = 0.0
        for _attempt in range(ATTEMPTS):
            good, step = _solve(matrix, -slope, damping)
            if not good:
                damping = max(MUCH_HARDER * damping, FAILED_DAMPED)
                continue
            size = np.abs(step).max()
            if size > MOST_STEP:
                step = step * (MOST_STEP / size)
            trial[:count] = points[:count]
            for v in range(n):
                shift(trial, count, d0, d1, v, step[v])
            value, number = _cost(
                world, trial, count, d0, d1, radius, weight, want, spacing, spare, length_share
            )
            if value < cost:
                moved = True
                gain = cost - value
                cost, used = value, number
                points[:count] = trial[:count]
                samples, spare = spare, samples
                damping = max(LEAST_DAMPED, EASE_OFF * damping)
                break
            damping = max(HARDER * damping, FAILED_DAMPED)
        if not moved or gain < LEAST_GAIN + LEAST_SHARE * cost:
            break
    return cost


@kernel
def feasible(world, points, count, radius, need):  # type: ignore[no-untyped-def]
    """(valid and proven clear, length [m]) of points (>= count, 3) [m]."""
    turns, rests, angles = np.zeros(count), np.zeros(count), np.zeros(count)
    length = lay(points, count, radius, turns, rests, angles)
    for i in range(count - 1):
        if rests[i] < (LEAST_LEG if 0 < i < count - 2 else 0.0):
            return False, length
    if angles.max() > LARGEST_TURN:
        return False, length
    return curve_clear(world, points, turns, np.int64(0), count - 1, radius, need), length


@kernel
def _sets_off(points, count, d0, d1):  # type: ignore[no-untyped-def]
    """Whether the corners on the ports' axes lie in front of the ports, not behind them.

    A corner that hardly turns needs no room, so one just behind the port would pass as feasible.
    points (>= count, 3) [m]; d0, d1 (3,) unit directions of travel at start and end.
    """
    lead = tail = 0.0
    for a in range(3):
        lead += (points[1, a] - points[0, a]) * d0[a]
        tail += (points[count - 1, a] - points[count - 2, a]) * d1[a]
    return lead >= 0.0 and tail >= 0.0


@kernel
def settle(world, points, count, d0, d1, radius, need, far, limit):  # type: ignore[no-untyped-def]
    """Settle a polyline in place; returns (feasible, length). far: it may be far from feasible.

    points (>= count, 3) [m]; d0, d1 (3,) unit directions of travel at start and end; radius, need
    [m]. Gives up as soon as a cost exceeds `limit`, because at a higher weight it only rises [m].
    """
    want = need + MARGIN
    if far:
        _at(world, points, count, d0, d1, radius, want, FREED)
        cost = _at(world, points, count, d0, d1, radius, want, FAR_OFF)
        if cost > limit:
            return False, cost
    cost = _at(world, points, count, d0, d1, radius, want, NEARER)
    if cost > limit:
        return False, cost
    cost = _at(world, points, count, d0, d1, radius, want, NEAR)
    if cost > limit:
        return False, cost
    length = ENDLESS
    for more in range(MARGINS):
        want = need + MARGIN * (1 + more)
        _at(world, points, count, d0, d1, radius, want, LAST)
        good, length = feasible(world, points, count, radius, need)
        if good and _sets_off(points, count, d0, d1):
            return True, length
    return False, length


@kernel
def _at(world, points, count, d0, d1, radius, want, stage):  # type: ignore[no-untyped-def]
    """One descent (see descend); returns the cost [m].

    points (>= count, 3) [m], changed in place; d0, d1 (3,) unit directions; radius, want [m];
    stage (4,): weight [1/m], share of the length, spacing [m], steps.
    """
    weight, share, spacing, steps = stage
    return descend(world, points, count, d0, d1, radius, want, weight, share, spacing, steps)
