"""The direct curve: arc, straight, arc between two port directions.

If both turns are at most pi and the straight is not negative it is the shortest curve of that bend
radius between the two directions, with or without obstacles (proof in bound.py). Planar cases:
Dubins, On curves of minimal length with a constraint on average curvature, American Journal of
Mathematics 79 (1957).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve, bent
from fitcheck.kernels import kernel
from fitcheck.units import Metre

#: Largest turn of one corner; a larger one becomes two corners that touch [rad].
MOST_TURN = 2.0
#: Number of initial guesses in direct_kernel.
ALL_TRIALS = 9
#: Larger turns of an arc are left to the search: near pi its plane is undefined [rad].
HALF_TURN = 3.141591


@kernel
def direct_kernel(q, d0, d1, radius, trials, out):  # type: ignore[no-untyped-def]
    """Shortest arc-straight-arc over q (3,) leaving along d0 and arriving along d1.

    trials: initial guesses for the middle direction, ALL_TRIALS to try every one.

    Writes middle direction (3), first turn, second turn, straight into out (6,). Returns its
    length, or -1 where none with turns below pi and a straight >= 0 was found.
    """
    size = math.sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2])
    best = -1.0
    if size < 1e-12:
        return best
    n = np.empty(3)
    for trial in range(trials):
        for a in range(3):
            n[a] = q[a] / size
        if trial == 1:
            _blend(n, d0, 1.5)
        elif trial == 2:
            _blend(n, d1, 1.5)
        elif trial == 3:
            _blend(n, d0, -1.5)
        elif trial == 4:
            _blend(n, d1, -1.5)
        elif trial == 5:
            _blend(n, d0, 1.0)
            _blend(n, d1, 1.0)
        elif trial == 6:
            _blend(n, d0, 1.0)
            _blend(n, d1, -1.0)
        elif trial == 7:
            _blend(n, d0, -1.0)
            _blend(n, d1, 1.0)
        elif trial == 8:
            # square to all three, for mirror-symmetric problems
            n[0] = n[0] + 0.9 * (d0[1] * q[2] - d0[2] * q[1]) / size + 0.05
            n[1] = n[1] + 0.9 * (d0[2] * q[0] - d0[0] * q[2]) / size + 0.03
            n[2] = n[2] + 0.9 * (d0[0] * q[1] - d0[1] * q[0]) / size
            _blend(n, d0, 0.0)
        length = _newton(q, d0, d1, radius, n, out)
        if length >= 0.0:
            # a valid one is the global optimum: no need to search further
            return length
    return best


@kernel
def _blend(n, d, share):  # type: ignore[no-untyped-def]
    """Make n (3,) the unit vector along n + share d; unchanged where that sum is near 0.

    d (3,) unit direction; share, no unit.
    """
    x, y, z = n[0] + share * d[0], n[1] + share * d[1], n[2] + share * d[2]
    size = math.sqrt(x * x + y * y + z * z)
    if size > 1e-9:
        n[0], n[1], n[2] = x / size, y / size, z / size


@kernel
def _arc(d, n, radius):  # type: ignore[no-untyped-def]
    """Displacement x, y, z [m] of the arc that turns d into n, and its angle [rad].

    d, n (3,) unit directions; radius [m].
    """
    cosine = d[0] * n[0] + d[1] * n[1] + d[2] * n[2]
    wx, wy, wz = n[0] - cosine * d[0], n[1] - cosine * d[1], n[2] - cosine * d[2]
    sine = math.sqrt(wx * wx + wy * wy + wz * wz)
    angle = math.atan2(sine, cosine)
    if sine < 1e-14:
        return 0.0, 0.0, 0.0, angle
    # R (sin d + (1 - cos) w / |w|)
    a, b = radius * sine, radius * (1.0 - cosine) / sine
    return a * d[0] + b * wx, a * d[1] + b * wy, a * d[2] + b * wz, angle


@kernel
def _rest(q, d0, back, radius, n):  # type: ignore[no-untyped-def]
    """Remainder of q between the two arcs for the middle direction n, and both turns.

    q (3,) [m]; d0, back, n (3,) unit directions, back against the travel at the end; radius [m];
    returns x, y, z [m] and two angles [rad].
    """
    ax, ay, az, alpha = _arc(d0, n, radius)
    m = np.empty(3)
    m[0], m[1], m[2] = -n[0], -n[1], -n[2]
    # the second arc run backwards turns -d1 into -n
    bx, by, bz, beta = _arc(back, m, radius)
    return q[0] - ax + bx, q[1] - ay + by, q[2] - az + bz, alpha, beta


@kernel
def _newton(q, d0, d1, radius, n, out):  # type: ignore[no-untyped-def]
    """Length of the direct curve reached by Newton steps from n, -1 where they do not converge
    [m].

    q (3,) [m]; d0, d1 (3,) unit directions of travel; radius [m]; n (3,) unit, changed in place.
    On success writes out (6,): middle direction, both turns [rad], the straight [m].
    """
    back = np.empty(3)
    back[0], back[1], back[2] = -d1[0], -d1[1], -d1[2]
    e, f, t = np.empty(3), np.empty(3), np.empty(3)
    scale = radius + abs(q[0]) + abs(q[1]) + abs(q[2])
    for step in range(40):
        rx, ry, rz, alpha, beta = _rest(q, d0, back, radius, n)
        along = rx * n[0] + ry * n[1] + rz * n[2]
        # two directions square to n
        k = 0
        if abs(n[1]) < abs(n[k]):
            k = 1
        if abs(n[2]) < abs(n[k]):
            k = 2
        e[0], e[1], e[2] = -n[k] * n[0], -n[k] * n[1], -n[k] * n[2]
        e[k] += 1.0
        size = math.sqrt(e[0] * e[0] + e[1] * e[1] + e[2] * e[2])
        e[0], e[1], e[2] = e[0] / size, e[1] / size, e[2] / size
        f[0] = n[1] * e[2] - n[2] * e[1]
        f[1] = n[2] * e[0] - n[0] * e[2]
        f[2] = n[0] * e[1] - n[1] * e[0]
        u = rx * e[0] + ry * e[1] + rz * e[2]
        v = rx * f[0] + ry * f[1] + rz * f[2]
        if abs(u) + abs(v) < 2e-15 * scale * 10:
            break
        h = 1e-7
        j = np.empty((2, 2))
        for c in range(2):
            for a in range(3):
                t[a] = n[a] + h * (e[a] if c == 0 else f[a])
            size = math.sqrt(t[0] * t[0] + t[1] * t[1] + t[2] * t[2])
            t[0], t[1], t[2] = t[0] / size, t[1] / size, t[2] / size
            sx, sy, sz, _a, _b = _rest(q, d0, back, radius, t)
            # components square to the moved direction, in the moved frame, to first order
            sn = sx * t[0] + sy * t[1] + sz * t[2]
            px, py, pz = sx - sn * t[0], sy - sn * t[1], sz - sn * t[2]
            j[0, c] = (px * e[0] + py * e[1] + pz * e[2] - u) / h
            j[1, c] = (px * f[0] + py * f[1] + pz * f[2] - v) / h
        det = j[0, 0] * j[1, 1] - j[0, 1] * j[1, 0]
        if abs(det) < 1e-12:
            return -1.0
        du = -(j[1, 1] * u - j[0, 1] * v) / det
        dv = -(j[0, 0] * v - j[1, 0] * u) / det
        move = math.sqrt(du * du + dv * dv)
        if move > 0.5:
            du, dv = 0.5 * du / move, 0.5 * dv / move
        for a in range(3):
            n[a] += du * e[a] + dv * f[a]
        size = math.sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2])
        n[0], n[1], n[2] = n[0] / size, n[1] / size, n[2] / size
        if step > 14 and move > 0.1:
            return -1.0
    rx, ry, rz, alpha, beta = _rest(q, d0, back, radius, n)
    along = rx * n[0] + ry * n[1] + rz * n[2]
    across = (rx - along * n[0]) ** 2 + (ry - along * n[1]) ** 2 + (rz - along * n[2]) ** 2
    if across > (1e-11 * scale) ** 2 or along < -1e-12 or alpha > HALF_TURN or beta > HALF_TURN:
        return -1.0
    out[0], out[1], out[2], out[3], out[4], out[5] = n[0], n[1], n[2], alpha, beta, max(0.0, along)
    return radius * (alpha + beta) + max(0.0, along)


@kernel
def direct_corners(p0, d0, p1, d1, radius, found, corners):  # type: ignore[no-untyped-def]
    """Corner points of a direct curve found by direct_kernel; writes (<= 6, 3), returns count.

    A turn above MOST_TURN becomes two corners.
    """
    n = found[:3]
    count = 1
    corners[0] = p0
    alpha, beta = found[3], found[4]
    if alpha > 1e-9:
        if alpha > MOST_TURN:
            t = radius * math.tan(alpha / 4)
            corners[1] = p0 + t * d0
            corners[2] = p0 + _whole_arc(d0, n, radius) - t * n
            count = 3
        else:
            corners[1] = p0 + radius * math.tan(alpha / 2) * d0
            count = 2
    if beta > 1e-9:
        if beta > MOST_TURN:
            t = radius * math.tan(beta / 4)
            corners[count] = p1 - _whole_arc(n, d1, radius) + t * n
            corners[count + 1] = p1 - t * d1
            count += 2
        else:
            corners[count] = p1 - radius * math.tan(beta / 2) * d1
            count += 1
    corners[count] = p1
    return count + 1


@kernel
def _whole_arc(d, n, radius):  # type: ignore[no-untyped-def]
    """Displacement (3,) [m] of the whole arc from d to n.

    d, n (3,) unit directions; radius [m].
    """
    ax, ay, az, _ = _arc(d, n, radius)
    out = np.empty(3)
    out[0], out[1], out[2] = ax, ay, az
    return out


def direct_curve(
    start: NDArray[np.float64],
    leaves: NDArray[np.float64],
    end: NDArray[np.float64],
    arrives: NDArray[np.float64],
    radius: Metre,
) -> Curve | None:
    """The direct curve between two points and directions of travel, None if there is none.

    Parameters: start, end (3,) [m]; leaves, arrives (3,) unit directions of travel; radius [m].
    """
    found = np.empty(6)
    corners = np.empty((6, 3))
    start, end = np.ascontiguousarray(start), np.ascontiguousarray(end)
    if direct_kernel(end - start, leaves, arrives, radius, ALL_TRIALS, found) < 0.0:
        return None
    count = direct_corners(start, leaves, end, arrives, radius, found, corners)
    try:
        return bent(corners[:count], radius)
    except ValueError:
        return None


def bowed(direct: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    """A direct curve's corners (n, 3) plus `count` more on its longest straight, to be pushed
    aside.
    """
    longest = int(np.linalg.norm(np.diff(direct, axis=0), axis=1).argmax())
    first, last = direct[longest], direct[longest + 1]
    share = (np.arange(1, count + 1) / (count + 1))[:, None]
    extra = first + share * (last - first)
    return np.concatenate([direct[: longest + 1], extra, direct[longest + 1 :]])
