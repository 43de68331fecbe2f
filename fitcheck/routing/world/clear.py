"""Proofs that a leg, a bend or a whole curve keeps a distance, also between the sample points.

Along a chord of length s between points of distance a and b to a closed set, d^2 >= (1 - t) a^2 +
t b^2 - s^2 t (1 - t), since d(x)^2 - |x|^2 is concave.
"""

from __future__ import annotations

import math

import numpy as np

from fitcheck.kernels import kernel
from fitcheck.routing.world.field import distance_at, ease, exact, known_at, soft_at

#: Required beyond `need` at every sample point, and beyond what is proven between them [m].
POINT_SPARE = 5e-5
PROOF_SPARE = 1e-5


@kernel
def chord_floor(a, b, s):  # type: ignore[no-untyped-def]
    """Least squared distance along a chord of length s between points of distance a and b.

    a, b, s [m]; returns [m2].
    """
    aa, bb, ss = a * a, b * b, s * s
    if ss <= 0.0:
        return min(aa, bb)
    t = 0.5 * (1.0 - (bb - aa) / ss)
    t = min(1.0, max(0.0, t))
    return (1.0 - t) * aa + t * bb - ss * t * (1.0 - t)


@kernel(inline="always")
def _reading(world, soft, x, y, z, want):  # type: ignore[no-untyped-def]
    """Distance at x, y, z as in distance_at, using cached values first; `want` too [m].

    soft: whether there are withdrawal spaces or tubes.
    """
    value = known_at(world.still, world.origin, world.pitch, x, y, z)
    if value >= want and soft:
        value = soft_at(world, x, y, z, value)
    if value < 0.0:
        value = distance_at(world, x, y, z, want)
    elif value < want:
        value = exact(world, x, y, z, 1.5 * want)
    return value


@kernel
def leg_clear(world, p, q, need):  # type: ignore[no-untyped-def]
    """Whether every point of segment pq is proven to keep `need` [m]."""
    dx, dy, dz = q[0] - p[0], q[1] - p[1], q[2] - p[2]
    length = math.sqrt(dx * dx + dy * dy + dz * dz)
    want = need + POINT_SPARE
    less = ease(world, need)
    soft = world.tubes.shape[0] + world.extra.shape[0] > 0
    proof, least = (need + less + PROOF_SPARE) ** 2, (need + less) ** 2
    here = _reading(world, soft, p[0], p[1], p[2], want)
    if here < want:
        return False
    s = 0.0
    while s < length:
        step = min(length - s, max(5e-4, 1.8 * math.sqrt((here + less) ** 2 - least)))
        while True:
            f = (s + step) / length
            there = _reading(world, soft, p[0] + f * dx, p[1] + f * dy, p[2] + f * dz, want)
            if there < want:
                return False
            if chord_floor(here + less, there + less, step) >= proof:
                break
            if step <= 5e-4:
                return False
            step = max(5e-4, 0.5 * step)
        s += step
        if length - s < 1e-12:
            break
        here = there
    return True


@kernel
def arc_clear(world, p, d, w, radius, angle, need):  # type: ignore[no-untyped-def]
    """Whether the arc from p along d turning to the side w by `angle` is proven to keep `need`.

    p (3,) [m]; d, w (3,) unit vectors, square to each other; radius, need [m]; angle [rad].
    """
    want = need + POINT_SPARE
    less = ease(world, need)
    soft = world.tubes.shape[0] + world.extra.shape[0] > 0
    here = _reading(world, soft, p[0], p[1], p[2], want)
    if here < want:
        return False
    phi = 0.0
    least = 5e-4 / radius
    while phi < angle:
        reach = 1.8 * math.sqrt((here + less) ** 2 - (need + less) ** 2) / radius
        step = min(angle - phi, max(least, min(reach, 0.35)))
        while True:
            a = radius * math.sin(phi + step)
            b = radius * (1.0 - math.cos(phi + step))
            x, y, z = (
                p[0] + a * d[0] + b * w[0],
                p[1] + a * d[1] + b * w[1],
                p[2] + a * d[2] + b * w[2],
            )
            there = _reading(world, soft, x, y, z, want)
            if there < want:
                return False
            bulge = radius * (1.0 - math.cos(0.5 * step))
            chord = 2.0 * radius * math.sin(0.5 * step)
            asked = need + less + PROOF_SPARE + bulge
            if chord_floor(here + less, there + less, chord) >= asked * asked:
                break
            if step <= least:
                return False
            step = max(least, 0.5 * step)
        phi += step
        if angle - phi < 1e-12:
            break
        here = there
    return True


@kernel
def curve_clear(world, points, turns, first, last, radius, need):  # type: ignore[no-untyped-def]
    """Whether the rounded polyline is proven clear from corner `first` to corner `last`.

    points (n, 3), turns (n,), tangent length of each corner, radius, need [m]. Pieces checked: the
    bends first .. last and the legs between them.
    """
    u, v, w, p, q = np.empty(3), np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    for i in range(first, last + 1):
        if turns[i] > 0.0:
            _unit(points[i - 1], points[i], u)
            _unit(points[i], points[i + 1], v)
            cosine = u[0] * v[0] + u[1] * v[1] + u[2] * v[2]
            size = 0.0
            for a in range(3):
                w[a] = v[a] - cosine * u[a]
                size += w[a] * w[a]
                p[a] = points[i, a] - turns[i] * u[a]
            size = math.sqrt(size)
            if size > 1e-12:
                for a in range(3):
                    w[a] /= size
                angle = math.atan2(size, cosine)
                if not arc_clear(world, p, u, w, radius, angle, need):
                    return False
        if i < last:
            _unit(points[i], points[i + 1], u)
            for a in range(3):
                p[a] = points[i, a] + turns[i] * u[a]
                q[a] = points[i + 1, a] - turns[i + 1] * u[a]
            if not leg_clear(world, p, q, need):
                return False
    return True


@kernel
def _unit(p, q, out):  # type: ignore[no-untyped-def]
    """Write the unit vector from p to q, (3,) [m], into out (3,); near 0 where they coincide."""
    x, y, z = q[0] - p[0], q[1] - p[1], q[2] - p[2]
    size = math.sqrt(x * x + y * y + z * z)
    if size < 1e-15:
        size = 1.0
    out[0], out[1], out[2] = x / size, y / size, z / size
