"""A rounded polyline given by its corners: space used by bends and legs, points, variables.

Corners move freely except those next to the ports, which slide on the ports' axes.
"""

from __future__ import annotations

import math

from fitcheck.kernels import kernel

#: Shortest leg between two bends [m].
LEAST_LEG = 1e-4
#: Largest turn of one corner [rad].
MOST_TURN = 2.15
#: Beyond this turn the tangent length is extended linearly [rad], so that a corner that has turned
#: right back can still recover; its value there and its slope, in bend radii.
STEEP = 2.6
STEEP_TANGENT = 3.6021
STEEP_SLOPE = 6.988
#: Added to the size of every leg, so that a zero-length one still has a direction [m].
NO_LENGTH = 1e-12
#: Legs are required to be this much longer than necessary, to allow for rounding [m].
LEG_SPARE = 1e-5
#: A port's corner lies at least this far in front of the port [m].
LEAST_LEAD = 1e-6
#: Weight of a turn beyond the largest, relative to a leg that is too short [m/rad].
TURN_WEIGHT = 0.3


@kernel
def lay(points, count, radius, turns, rests, angles):  # type: ignore[no-untyped-def]
    """Tangent length and angle of every corner and remainder of every leg; returns length [m].

    points (>= count, 3) [m]; writes turns (count,) [m], angles (count,) [rad] and rests (count -
    1,) [m], negative where the bends of a leg overlap.
    """
    total = 0.0
    ux = uy = uz = 0.0
    turns[0] = angles[0] = 0.0
    turns[count - 1] = angles[count - 1] = 0.0
    for i in range(count - 1):
        vx = points[i + 1, 0] - points[i, 0]
        vy = points[i + 1, 1] - points[i, 1]
        vz = points[i + 1, 2] - points[i, 2]
        size = math.sqrt(vx * vx + vy * vy + vz * vz) + NO_LENGTH
        vx, vy, vz = vx / size, vy / size, vz / size
        if i > 0:
            cx, cy, cz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
            angle = math.atan2(math.sqrt(cx * cx + cy * cy + cz * cz), ux * vx + uy * vy + uz * vz)
            angles[i] = angle
            if angle <= STEEP:
                turns[i] = radius * math.tan(0.5 * angle)
            else:
                turns[i] = radius * (STEEP_TANGENT + STEEP_SLOPE * (angle - STEEP))
            total += radius * angle - 2.0 * turns[i]
            rests[i - 1] -= turns[i]
        rests[i] = size - turns[i]
        total += size
        ux, uy, uz = vx, vy, vz
    return total


@kernel
def sample(points, turns, angles, radius, i, share, out):  # type: ignore[no-untyped-def]
    """Point at a share of the bend at corner i, or (share + 2) of the leg after corner i.

    points (n, 3) [m], turns (n,) [m] and angles (n,) [rad] as in lay; writes out (3,) [m].
    """
    a, b = points[i], points[i + 1]
    vx, vy, vz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    size = math.sqrt(vx * vx + vy * vy + vz * vz) + NO_LENGTH
    vx, vy, vz = vx / size, vy / size, vz / size
    if share >= 2.0:
        s = turns[i] + (share - 2.0) * (size - turns[i] - turns[i + 1])
        out[0], out[1], out[2] = a[0] + s * vx, a[1] + s * vy, a[2] + s * vz
        return
    c = points[i - 1]
    ux, uy, uz = a[0] - c[0], a[1] - c[1], a[2] - c[2]
    size = math.sqrt(ux * ux + uy * uy + uz * uz) + NO_LENGTH
    ux, uy, uz = ux / size, uy / size, uz / size
    cosine = ux * vx + uy * vy + uz * vz
    wx, wy, wz = vx - cosine * ux, vy - cosine * uy, vz - cosine * uz
    sine = math.sqrt(wx * wx + wy * wy + wz * wz) + NO_LENGTH
    phi = share * angles[i]
    p = radius * math.sin(phi) - turns[i]
    q = radius * (1.0 - math.cos(phi)) / sine
    out[0] = a[0] + p * ux + q * wx
    out[1] = a[1] + p * uy + q * wy
    out[2] = a[2] + p * uz + q * wz


@kernel
def shift(points, count, d0, d1, v, h):  # type: ignore[no-untyped-def]
    """Move variable v by h: 0 and 1 are the corners on the ports' axes, then x, y, z of others.

    h [m]; points (>= count, 3) [m]; d0, d1 (3,) unit directions of travel at start and end.
    """
    if v == 0:
        for a in range(3):
            points[1, a] += h * d0[a]
    elif v == 1:
        for a in range(3):
            points[count - 2, a] -= h * d1[a]
    else:
        points[2 + (v - 2) // 3, (v - 2) % 3] += h


@kernel
def corner_of(count, v):  # type: ignore[no-untyped-def]
    """The corner that variable v moves, a row of points (>= count, 3), v as numbered in shift."""
    if v == 0:
        return 1
    return count - 2 if v == 1 else 2 + (v - 2) // 3


@kernel
def lacks(points, count, d0, d1, turns, rests, angles, out):  # type: ignore[no-untyped-def]
    """Shortfall of legs, turns and ports' corners, one residual per leg and per corner [m].

    points (>= count, 3) [m]; d0, d1 (3,) unit directions; turns, rests, angles as in lay; writes
    out (2 count,), the count - 1 legs first.
    """
    for i in range(count - 1):
        floor = LEAST_LEG if 0 < i < count - 2 else 0.0
        out[i] = max(0.0, floor + LEG_SPARE - rests[i])
    for i in range(count):
        out[count - 1 + i] = TURN_WEIGHT * max(0.0, angles[i] - MOST_TURN)
    lead = tail = 0.0
    for a in range(3):
        lead += (points[1, a] - points[0, a]) * d0[a]
        tail += (points[count - 1, a] - points[count - 2, a]) * d1[a]
    out[count - 1] = max(0.0, LEAST_LEAD - lead)
    out[2 * count - 2] = max(0.0, LEAST_LEAD - tail)
