"""A length bound from a chain of gates: sets of points every short enough hose passes in turn.

Let x1 .. xk be the points where a hose passes gates F1 .. Fk, s0 and s1 its ends with directions
of travel d0 and d1, and a0 .. ak any unit vectors. On the leg from x(i) to x(i+1), of length L,
the tangent starts at some angle b to a(i), ends at some angle b', and turns by at most s / R, so

    L >= <x(i+1) - x(i), a(i)> + R loss(b, b', L),
    loss = chi(b) + chi(b') - 2 chi(max(0, (b + b' - L / R) / 2)),  chi(t) = t - sin t,

and the loss grows with b, b' and L. The tangent at a gate makes angles to a(i-1) and a(i) that
add up to at least the angle between them. Summing the legs,

    length >= <s1, ak> - <s0, a0> + sum over gates of min over F of <x, a(i-1) - a(i)> + R least,

with `least` the smallest sum of losses over all ways to share the angle at every gate. The first
part sees the obstacles exactly where they are touched, the second what bending costs there.
The vectors only have to be good: whatever they are, the bound holds.
"""

from __future__ import annotations

import math

import numpy as np

from fitcheck.kernels import kernel

#: Number of steps for the share of the turn at a gate: while climbing, and for the bound itself.
FEW, MANY = 9, 32
#: A smooth bound that exceeds the target by this much is not improved further [m].
SURE = 0.002


@kernel
def _chi(t):  # type: ignore[no-untyped-def]
    """Length of an arc that turns by t [rad] less its advance along the tangent at either end, in
    radii.
    """
    return t - math.sin(t)


@kernel
def leg_loss(b0, b1, leg, along):  # type: ignore[no-untyped-def]
    """Loss from turning on a leg of at least `leg` radii with end angles of at least b0, b1 [rad].

    Where the leg is too short for the difference, the smaller angle is larger by the rest. The leg
    is also at least `along` plus the loss long. leg, along and the result are in radii.
    """
    loss = 0.0
    for _ in range(8):
        if leg >= b0 + b1:
            return max(0.0, _chi(b0) + _chi(b1))
        low0, low1 = max(b0, b1 - leg), max(b1, b0 - leg)
        meet = max(0.0, 0.5 * (low0 + low1 - leg))
        loss = max(0.0, _chi(low0) + _chi(low1) - 2.0 * _chi(meet))
        if along + loss <= leg + 1e-4:
            break
        leg = along + loss
    return loss


@kernel
def _angle(a, b):  # type: ignore[no-untyped-def]
    """Angle [rad] between two vectors a, b (3,), of any length but 0."""
    x = a[1] * b[2] - a[2] * b[1]
    y = a[2] * b[0] - a[0] * b[2]
    z = a[0] * b[1] - a[1] * b[0]
    return math.atan2(math.sqrt(x * x + y * y + z * z), a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


@kernel
def _shared(turn, first, last, legs, along, parts, sound, share):  # type: ignore[no-untyped-def]
    """Smallest sum of losses over all ways to share the turns; writes the chosen shares.

    turn (k,), first, last [rad]; legs, along (k + 1,) and the sum in radii; share (k,) in 0 .. 1.
    sound : each share represents an interval; otherwise itself, for climbing.
    """
    gates = len(turn)
    if gates == 0:
        return leg_loss(first, last, legs[0], along[0])
    cost = np.empty((gates, parts))
    came = np.zeros((gates, parts), dtype=np.int64)
    into, out = np.empty(parts), np.empty(parts)
    for m in range(parts):
        into[m] = m / parts if sound else m / (parts - 1)
        out[m] = (parts - 1 - m) / parts if sound else 1.0 - into[m]
    for m in range(parts):
        cost[0, m] = leg_loss(first, into[m] * turn[0], legs[0], along[0])
    for g in range(1, gates):
        for m in range(parts):
            best, at = 1e30, 0
            for n in range(parts):
                if cost[g - 1, n] < best:
                    value = leg_loss(out[n] * turn[g - 1], into[m] * turn[g], legs[g], along[g])
                    if cost[g - 1, n] + value < best:
                        best, at = cost[g - 1, n] + value, n
            cost[g, m], came[g, m] = best, at
    best, at = 1e30, 0
    for n in range(parts):
        value = cost[gates - 1, n] + leg_loss(
            out[n] * turn[gates - 1], last, legs[gates], along[gates]
        )
        if value < best:
            best, at = value, n
    for g in range(gates - 1, -1, -1):
        share[g] = into[at]
        at = came[g, at]
    return best


@kernel
def _reach(centre, half, side, first, last, way, sign):  # type: ignore[no-untyped-def]
    """Least of sign <x, way> over the squares of a gate [m], and which square has it.

    centre (n, 3), half (n,) [m], of which rows first .. last - 1; side (3, 3), way (3,), no unit.
    """
    spread = 0.0
    for r in range(side.shape[0]):
        spread += abs(side[r, 0] * way[0] + side[r, 1] * way[1] + side[r, 2] * way[2])
    best, at = 1e30, first
    for n in range(first, last):
        value = centre[n, 0] * way[0] + centre[n, 1] * way[1] + centre[n, 2] * way[2]
        value = sign * value - half[n] * spread
        if value < best:
            best, at = value, n
    return best, at


@kernel
def _legs(centre, half, rows, sides, ends, ways, vectors, legs, along):  # type: ignore[no-untyped-def]
    """Lower bounds on the length of every leg: the best of its vector and a direction across it.

    centre, half, rows, sides, ends, ways, vectors as in climb; writes legs (k + 1,) and, by the
    vectors alone, along (k + 1,) [m].
    """
    gates = len(rows)
    for leg in range(gates + 1):
        legs[leg] = 0.0
        for turn in range(2):
            way = vectors[leg] if turn == 0 else ways[leg]
            if leg == 0:
                most = ends[0, 0] * way[0] + ends[0, 1] * way[1] + ends[0, 2] * way[2]
            else:
                most = -_reach(
                    centre, half, sides[leg - 1], rows[leg - 1, 0], rows[leg - 1, 1], way, -1.0
                )[0]
            if leg == gates:
                least = ends[2, 0] * way[0] + ends[2, 1] * way[1] + ends[2, 2] * way[2]
            else:
                least = _reach(centre, half, sides[leg], rows[leg, 0], rows[leg, 1], way, 1.0)[0]
            legs[leg] = max(legs[leg], least - most)
            if turn == 0:
                along[leg] = least - most


@kernel
def value(  # type: ignore[no-untyped-def]
    centre, half, rows, sides, ends, radius, vectors, legs, along, parts, sound, at, share, turn
):
    """The bound for given vectors [m]; writes the squares where minima are reached, shares, turns.

    centre .. vectors as in climb; legs, along (k + 1,) [m]; written: at (k,), share (k,) in 0 ..
    1, turn (k,) [rad].
    """
    gates = len(rows)
    total = 0.0
    for a in range(3):
        total += ends[2, a] * vectors[gates, a] - ends[0, a] * vectors[0, a]
    for g in range(gates):
        least, square = _reach(
            centre, half, sides[g], rows[g, 0], rows[g, 1], vectors[g] - vectors[g + 1], 1.0
        )
        total += least
        at[g] = square
        turn[g] = _angle(vectors[g], vectors[g + 1])
    first, last = _angle(ends[1], vectors[0]), _angle(ends[3], vectors[gates])
    cost = _shared(turn, first, last, legs / radius, along / radius, parts, sound, share)
    return total + radius * cost


@kernel
def _lean(grad, here, to, size):  # type: ignore[no-untyped-def]
    """Add the derivative of size * angle(here, to) by `here` to grad (3,) [m].

    here, to (3,) unit vectors; size [m], for an angle in radians.
    """
    dot = here[0] * to[0] + here[1] * to[1] + here[2] * to[2]
    sine = math.sqrt(max(0.0, 1.0 - dot * dot))
    if sine > 1e-6:
        for a in range(3):
            grad[a] -= size * (to[a] - dot * here[a]) / sine


@kernel
def _slope(b0, b1, leg, along, which):  # type: ignore[no-untyped-def]
    """Derivative of leg_loss by b0 (which 0) or b1 (which 1), in radii per radian.

    b0, b1 [rad]; leg, along in radii.
    """
    step = 1e-6
    if which == 0:
        return (leg_loss(b0 + step, b1, leg, along) - leg_loss(b0, b1, leg, along)) / step
    return (leg_loss(b0, b1 + step, leg, along) - leg_loss(b0, b1, leg, along)) / step


@kernel
def _soft(centre, first, last, way, heat, mean, spread):  # type: ignore[no-untyped-def]
    """Soft minimum of <x, way> over points [m], with their weighted mean and spread.

    centre (n, 3) [m], of which rows first .. last - 1; way (3,), no unit; heat [m]; written: mean
    (3,) [m], spread (3, 3) [m2].
    """
    least = 1e30
    for n in range(first, last):
        v = centre[n, 0] * way[0] + centre[n, 1] * way[1] + centre[n, 2] * way[2]
        least = min(least, v)
    total = 0.0
    mean[:], spread[:] = 0.0, 0.0
    for n in range(first, last):
        v = centre[n, 0] * way[0] + centre[n, 1] * way[1] + centre[n, 2] * way[2] - least
        if v < 12.0 * heat:
            w = math.exp(-v / heat)
            total += w
            for a in range(3):
                mean[a] += w * centre[n, a]
                for b in range(a + 1):
                    spread[a, b] += w * centre[n, a] * centre[n, b]
    for a in range(3):
        mean[a] /= total
    for a in range(3):
        for b in range(a + 1):
            spread[a, b] = spread[a, b] / total - mean[a] * mean[b]
            spread[b, a] = spread[a, b]
    return least - heat * math.log(total)


@kernel
def _smooth(  # type: ignore[no-untyped-def]
    centre, half, rows, sides, ends, ways, radius, vectors, heat, mean, spread, share, grad
):
    """The bound with soft minima, and its gradient (k + 1, 3) by the vectors."""
    gates = len(rows)
    legs, along = np.empty(gates + 1), np.empty(gates + 1)
    turn, lean = np.zeros(gates), np.zeros(gates)
    _legs(centre, half, rows, sides, ends, ways, vectors, legs, along)
    total = 0.0
    for a in range(3):
        total += ends[2, a] * vectors[gates, a] - ends[0, a] * vectors[0, a]
    for g in range(gates):
        total += _soft(
            centre, rows[g, 0], rows[g, 1], vectors[g] - vectors[g + 1], heat, mean[g], spread[g]
        )
        turn[g] = _angle(vectors[g], vectors[g + 1])
    first, last = _angle(ends[1], vectors[0]), _angle(ends[3], vectors[gates])
    total += radius * _shared(turn, first, last, legs / radius, along / radius, FEW, False, share)
    for leg in range(gates + 1):
        for a in range(3):
            p = ends[0, a] if leg == 0 else mean[leg - 1, a]
            q = ends[2, a] if leg == gates else mean[leg, a]
            grad[leg, a] = q - p
    for leg in range(gates + 1):
        span, far = legs[leg] / radius, along[leg] / radius
        b0 = first if leg == 0 else (1.0 - share[leg - 1]) * turn[leg - 1]
        b1 = last if leg == gates else share[leg] * turn[leg]
        d0, d1 = _slope(b0, b1, span, far, 0), _slope(b0, b1, span, far, 1)
        if leg == 0:
            _lean(grad[0], vectors[0], ends[1], radius * d0)
        else:
            lean[leg - 1] += radius * d0 * (1.0 - share[leg - 1])
        if leg == gates:
            _lean(grad[gates], vectors[gates], ends[3], radius * d1)
        else:
            lean[leg] += radius * d1 * share[leg]
    for g in range(gates):
        _lean(grad[g], vectors[g], vectors[g + 1], lean[g])
        _lean(grad[g + 1], vectors[g + 1], vectors[g], lean[g])
    return total


@kernel
def climb(  # type: ignore[no-untyped-def]
    centre,
    half,
    rows,
    sides,
    ends,
    ways,
    radius,
    vectors,
    target,
    heats,
    rounds,
    mean,
    spread,
    share,
):
    """Improve the vectors in place; returns the bound they prove.

    centre (n, 3), half (n,) : squares of all gates, gate g has rows rows[g, 0] .. rows[g, 1];
    sides (k, 3, 3); ends (4, 3) : start, its direction, end, its direction; ways (k + 1, 3) : a
    direction across every leg. Written: mean (k, 3), spread (k, 3, 3) of where minima are reached;
    share (k,) of each turn made before its gate.
    """
    gates = len(rows)
    size = 3 * (gates + 1)
    grad, trial = np.empty((gates + 1, 3)), np.empty((gates + 1, 3))
    fresh = np.empty((gates + 1, 3))
    damp = 0.3 * radius
    for heat in heats:
        here = _smooth(
            centre, half, rows, sides, ends, ways, radius, vectors, heat, mean, spread, share, grad
        )
        for _ in range(rounds):
            system = np.zeros((size, size))
            rest = 0.0
            for leg in range(gates + 1):
                dot = (grad[leg] * vectors[leg]).sum()
                for a in range(3):
                    grad[leg, a] -= dot * vectors[leg, a]
                    system[3 * leg + a, 3 * leg + a] = max(dot, 0.005) + damp
                rest += (grad[leg] ** 2).sum()
            if rest < 1e-9:
                break
            for g in range(gates):
                for a in range(3):
                    for b in range(3):
                        c = spread[g, a, b] / heat
                        system[3 * g + a, 3 * g + b] += c
                        system[3 * g + 3 + a, 3 * g + 3 + b] += c
                        system[3 * g + a, 3 * g + 3 + b] -= c
                        system[3 * g + 3 + a, 3 * g + b] -= c
            # movement along a vector itself is ruled out
            for leg in range(gates + 1):
                for a in range(3):
                    for b in range(3):
                        system[3 * leg + a, 3 * leg + b] += (
                            10.0 * vectors[leg, a] * vectors[leg, b]
                        )
            move = np.linalg.solve(system, grad.copy().reshape(-1))
            step, better = 1.0, False
            for _try in range(5):
                for leg in range(gates + 1):
                    length = 0.0
                    for a in range(3):
                        trial[leg, a] = vectors[leg, a] + step * move[3 * leg + a]
                        length += trial[leg, a] ** 2
                    trial[leg] /= math.sqrt(length)
                there = _smooth(
                    centre, half, rows, sides, ends, ways, radius, trial, heat, mean, spread,
                    share, fresh,
                )  # fmt: skip
                if there > here + 1e-6:
                    better = True
                    break
                step *= 0.3
            if not better:
                damp *= 3.0
                if damp > 30.0 * radius:
                    break
                continue
            gain = there - here
            damp = max(0.03 * radius, 0.5 * damp)
            here = there
            vectors[:], grad[:] = trial, fresh
            if gain < 2e-5 or here > target + SURE:
                break
        _smooth(
            centre, half, rows, sides, ends, ways, radius, vectors, heat, mean, spread, share, grad
        )
    return sound(centre, half, rows, sides, ends, ways, radius, vectors)


@kernel
def sound(centre, half, rows, sides, ends, ways, radius, vectors):  # type: ignore[no-untyped-def]
    """The bound these vectors prove [m]."""
    gates = len(rows)
    legs, along = np.empty(gates + 1), np.empty(gates + 1)
    at = np.zeros(gates, dtype=np.int64)
    turn, share = np.zeros(gates), np.zeros(gates)
    _legs(centre, half, rows, sides, ends, ways, vectors, legs, along)
    return value(
        centre, half, rows, sides, ends, radius, vectors, legs, along, MANY, True, at, share, turn
    )


@kernel
def spared(centre, half, rows, sides, vectors, bound, target, keep):  # type: ignore[no-untyped-def]
    """Mark the squares through which the bound stays below the target.

    centre .. vectors as in climb; bound, target [m]; writes keep (n,), bool.
    """
    for g in range(len(rows)):
        way = vectors[g] - vectors[g + 1]
        least, _ = _reach(centre, half, sides[g], rows[g, 0], rows[g, 1], way, 1.0)
        for n in range(rows[g, 0], rows[g, 1]):
            here, _ = _reach(centre, half, sides[g], n, n + 1, way, 1.0)
            keep[n] = bound + here - least <= target


@kernel
def through(  # type: ignore[no-untyped-def]
    points, edge, before, centre, half, rows, sides, ends, radius, vectors, limit, heats, out
):
    """Bounds on the length of a hose that passes a cube between gate `before` - 1 and gate
    `before`.

    points (n, 3) : centres of the cubes [m]; edge of a cube [m]; before (n,); out (n,) [m]
    """
    gates = len(rows)
    many = len(half)
    all_centre, all_half = np.empty((many + 1, 3)), np.empty(many + 1)
    all_centre[:many], all_half[:many] = centre, half
    all_half[many] = 0.5 * edge
    mine = np.empty((gates + 1, 2), dtype=np.int64)
    frame, ways = np.zeros((gates + 1, 3, 3)), np.empty((gates + 2, 3))
    trial = np.empty((gates + 2, 3))
    mean, spread = np.zeros((gates + 1, 3)), np.zeros((gates + 1, 3, 3))
    share = np.zeros(gates + 1)
    middle = np.zeros((gates, 3))
    for g in range(gates):
        for n in range(rows[g, 0], rows[g, 1]):
            middle[g] += centre[n] / (rows[g, 1] - rows[g, 0])
    for p in range(len(points)):
        place = before[p]
        all_centre[many] = points[p]
        for g in range(gates + 1):
            if g == place:
                mine[g, 0], mine[g, 1] = many, many + 1
                frame[g] = np.eye(3)
            else:
                old = g if g < place else g - 1
                mine[g] = rows[old]
                frame[g] = sides[old]
        for leg in range(gates + 2):
            if leg <= place:
                trial[leg] = vectors[leg]
            else:
                trial[leg] = vectors[leg - 1]
        for a in range(3):
            start = ends[0, a] if place == 0 else middle[place - 1, a]
            to = ends[2, a] if place == gates else middle[place, a]
            trial[place, a] = points[p, a] - start
            trial[place + 1, a] = to - points[p, a]
        for leg in range(place, place + 2):
            length = math.sqrt((trial[leg] ** 2).sum())
            if length < 1e-9:
                trial[leg] = vectors[place]
            else:
                trial[leg] /= length
        ways[:] = trial
        out[p] = climb(
            all_centre, all_half, mine, frame, ends, ways, radius, trial, limit, heats, 6, mean,
            spread, share,
        )  # fmt: skip
