"""The state lattice: best-first search over position and heading with real bends.

A state is a point and one of 26 headings; a move is a short straight or one bend of the hose's
radius. From every state the direct curve to the goal is tried. Pruning keeps one state per cell
and heading, and the goal field may overestimate, so the result is a seed, never a proven optimum.
"""

from __future__ import annotations

import heapq
import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import measure
from fitcheck.kernels import kernel
from fitcheck.routing.search.direct import direct_corners, direct_kernel
from fitcheck.routing.world.clear import arc_clear, curve_clear, leg_clear
from fitcheck.routing.world.field import World
from fitcheck.routing.world.goal import read_field
from fitcheck.units import Metre, Ratio

#: Headings: the directions to the 26 neighbours of a cell, and the port's own as the last.
HEADINGS, PORT = 26, 26
#: Straight after every bend, so that tangent lengths never touch [m].
AFTER_BEND = 1e-3
#: Turns of one bend: up to the first value between headings, which reaches adjacent ones; up to
#: the second from the port, whose direction may be far from all headings; below the third there is
#: no bend [rad].
TURN, FIRST_TURN, LEAST_TURN = 1.06, 1.9, 1e-4
#: Maximum corner points of a seed, and those reserved for the direct curve that ends it.
MOST_CORNERS, DIRECT_CORNERS = 60, 8
#: A straight step, and the edge of a cell in which one state per heading is kept: in bend radii,
#: minimum and maximum [m]. Shorter steps open too many states, longer ones skip narrow places.
STEP, SHORTEST, LONGEST = 0.4, 0.015, 0.03
CELL, FINEST, COARSEST = 0.4, 0.02, 0.03
#: Share of its radius that a turn downhill costs beyond going straight: it need not be made all at
#: once.
TURNED = 0.7
#: Routes up to this much longer than the best are still followed: the goal field may overestimate
#: [m/m].
BEYOND = 1.03
#: After the first seed, as many states again are opened, plus this many.
ONCE_MORE, STATES_MORE = 2, 1500
#: Labels allocated per state that may be opened, and the maximum one state may add.
LABELS, ADDED = 4, 40
#: Slots of the state table per label: at least two thirds stay empty.
SLOTS = 3
#: Cells along y and z that a key distinguishes, and how many a point may lie outside the grid.
CELLS_Y, CELLS_Z, OUTSIDE = 4096, 4096, 8
#: Spreads the keys over the table (the golden ratio's share of 2**60).
SPREAD, FOLD = 0x9E3779B97F4A7C1, 17
#: A state must cost at least this much less than the one kept in its place [m].
NO_GAIN = 1e-9
#: Seeds this close to one another at the ends of so many parts count as one [m].
ALIKE, PARTS = 0.08, 10
#: Seeds kept from one search.
SEEDS = 4
#: Shots aim at the port and at points out on its axis, so that a last bend has room [m].
AIMED = (0.0, 0.03, 0.08, 0.16)
#: How far out that axis is checked, and in what steps [m].
AXIS, AXIS_STEP = 0.2, 0.02
#: For a tree without a goal: a point beyond everything, a length beyond any wanted, and the field
#: value where the tree may not go [m].
NOWHERE, ANY_LENGTH, CLOSED = 1e6, 1e5, 2e8


class Tree(NamedTuple):
    """The states a search has reached: `used` labels, each with place, last bend, cost, parent,
    heading.

    bent: whether the last move was a bend
    """

    used: int
    place: NDArray[np.float64]
    corner: NDArray[np.float64]
    cost: NDArray[np.float64]
    parent: NDArray[np.int64]
    way: NDArray[np.int64]
    bent: NDArray[np.uint8]


class Headings(NamedTuple):
    """27 directions, the last one the port's own, and the bends between them.

    way (27, 3); number (27,); to (27, 26); angle (27, 26) [rad]
    """

    way: NDArray[np.float64]
    number: NDArray[np.int64]
    to: NDArray[np.int64]
    angle: NDArray[np.float64]


def headings(first: NDArray[np.float64]) -> Headings:
    """The lattice's headings with the port's direction as the last."""
    rows = [
        (x, y, z)
        for x in (-1, 0, 1)
        for y in (-1, 0, 1)
        for z in (-1, 0, 1)
        if (x, y, z) != (0, 0, 0)
    ]
    way = np.array([*rows, tuple(first)], dtype=np.float64)
    way /= np.linalg.norm(way, axis=1)[:, None]
    cosine = np.clip(way @ way.T, -1.0, 1.0)
    angle = np.arccos(cosine)
    every = HEADINGS + 1
    count = np.zeros(every, dtype=np.int64)
    to, turn = np.zeros((every, HEADINGS), dtype=np.int64), np.zeros((every, HEADINGS))
    for a in range(every):
        most = FIRST_TURN if a == PORT else TURN
        for b in range(HEADINGS):
            if a != b and LEAST_TURN < angle[a, b] <= most:
                to[a, count[a]], turn[a, count[a]] = b, angle[a, b]
                count[a] += 1
    return Headings(way, count, to, turn)


@kernel
def _slot(keys, key):  # type: ignore[no-untyped-def]
    """Index of a key in the table keys (2**n,), or where it would be inserted: open addressing.

    keys int64, -1 where free; key and the returned index have no unit.
    """
    mask = keys.shape[0] - 1
    at = (key * SPREAD ^ (key >> FOLD)) & mask
    while keys[at] != -1 and keys[at] != key:
        at = (at + 1) & mask
    return at


@kernel
def _bend(p, d, n, radius, angle, corner, after, side):  # type: ignore[no-untyped-def]
    """Corner, point after the bend [m] and side of a bend from d to n at p, into (3,) each.

    p (3,) [m]; d, n (3,) unit directions; radius [m]; angle [rad] between them.
    """
    t = radius * math.tan(0.5 * angle)
    size = 0.0
    cosine = d[0] * n[0] + d[1] * n[1] + d[2] * n[2]
    for a in range(3):
        corner[a] = p[a] + t * d[a]
        after[a] = corner[a] + (t + AFTER_BEND) * n[a]
        side[a] = n[a] - cosine * d[a]
        size += side[a] * side[a]
    size = math.sqrt(size)
    for a in range(3):
        side[a] /= size


@kernel
def guess_left(origin, pitch, field, p, d, radius, slope):  # type: ignore[no-untyped-def]
    """Remaining length [m]: the goal field, plus the cost of turning downhill; -1 where unknown.

    origin, p (3,), pitch (1,), field (n0, n1, n2) [m]; d (3,) unit direction; slope (3,) is
    written.
    """
    value = read_field(origin, pitch, field, p[0], p[1], p[2], slope)
    if value < 0.0:
        return -1.0
    size = math.sqrt(slope[0] ** 2 + slope[1] ** 2 + slope[2] ** 2)
    if size > 0.0:
        cosine = -(slope[0] * d[0] + slope[1] * d[1] + slope[2] * d[2]) / size
        turn = math.acos(min(1.0, max(-1.0, cosine)))
        value += TURNED * radius * (turn - math.sin(turn))
    return value


@kernel
def trace(parent, place, corner, bent, label, points):  # type: ignore[no-untyped-def]
    """Corners from the start to a label, its own point last; returns the count, 0 if too many.

    parent, place, corner, bent as in Tree; writes points (n, 3) [m].
    """
    count = 0
    at = label
    while at >= 0:
        if bent[at]:
            count += 1
        at = parent[at]
    if count + 2 > points.shape[0] - DIRECT_CORNERS:
        return 0
    number = count
    at = label
    while at >= 0:
        if bent[at]:
            points[number] = corner[at]
            number -= 1
        parent_ = parent[at]
        if parent_ < 0:
            points[0] = place[at]
        at = parent_
    return count + 1


@kernel
def _keep(seeds, counts, totals, points, count, total):  # type: ignore[no-untyped-def]
    """Keep a seed among the best; one that runs close to a kept one replaces it if shorter.

    seeds (k, m, 3) [m], counts (k,), totals (k,) [m], written; points (>= count, 3), total [m].
    """
    worst, slot = total, -1
    for s in range(totals.shape[0]):
        if counts[s] > 0 and _alike(seeds[s], counts[s], points, count):
            if total >= totals[s]:
                return
            slot = s
            break
        if totals[s] > worst:
            worst, slot = totals[s], s
    if slot >= 0:
        seeds[slot, :count] = points[:count]
        counts[slot] = count
        totals[slot] = total


@kernel
def _alike(a, na, b, nb):  # type: ignore[no-untyped-def]
    """Whether polylines a (>= na, 3) and b (>= nb, 3) [m] are close to each other all along."""
    p, q = np.empty(3), np.empty(3)
    for m in range(1, PARTS):
        _along(a, na, m / PARTS, p)
        _along(b, nb, m / PARTS, q)
        if (p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2 + (p[2] - q[2]) ** 2 > ALIKE * ALIKE:
            return False
    return True


@kernel
def _along(a, n, share, out):  # type: ignore[no-untyped-def]
    """Point at a share of the length of a polyline a (>= n, 3), into out (3,) [m]."""
    total = 0.0
    for i in range(n - 1):
        total += math.sqrt(((a[i + 1] - a[i]) ** 2).sum())
    rest = share * total
    for i in range(n - 1):
        size = math.sqrt(((a[i + 1] - a[i]) ** 2).sum())
        if rest <= size or i == n - 2:
            f = rest / size if size > 0.0 else 0.0
            for c in range(3):
                out[c] = a[i, c] + f * (a[i + 1, c] - a[i, c])
            return
        rest -= size


@kernel
def _shoot(world, p, d, p1, d1, reach, radius, need, g, most, state):  # type: ignore[no-untyped-def]
    """Direct curves from a state to the goal or to points out along its axis.

    p, p1 (3,) [m]; d, d1 (3,) unit directions; g, the way behind it; reach, how far the axis is
    clear; most, longer curves are rejected [m]; state: corners (8, 3) [m], turns (8,), found (6,),
    all written. Returns (corner count, total [m]), 0 if none.
    """
    corners, turns, found = state
    goal, q = np.empty(3), np.empty(3)
    for out in AIMED:
        if out > reach:
            break
        for a in range(3):
            goal[a] = p1[a] - out * d1[a]
            q[a] = goal[a] - p[a]
        size = direct_kernel(q, d, d1, radius, np.int64(1), found)
        if size < 0.0 or g + size + out >= most:
            continue
        count = direct_corners(p, d, goal, d1, radius, found, corners)
        measure(corners, count, radius, 0.0, turns)
        if curve_clear(world, corners, turns, np.int64(0), count - 1, radius, need):
            if out > 0.0:
                corners[count] = p1
                count += 1
            return count, g + size + out
    return 0, 0.0


@kernel
def search(world, field, p0, p1, d1, table, radius, need, plan, seeds, counts, totals):  # type: ignore[no-untyped-def]
    """Fill seeds (k, MOST_CORNERS, 3), counts, totals with different routes; returns the tree.

    field (n0, n1, n2) [m] as in read_field; p0, p1 (3,) [m]; d1 (3,) direction of arrival; table:
    Headings from the start; plan (5,): straight step, cell [m], maximum states, reach along the
    goal's axis [m], maximum length [m]; counts (k,), totals (k,) [m].
    """
    step, cell, most_states, reach, most = plan[0], plan[1], int(plan[2]), plan[3], plan[4]
    room = most_states * LABELS
    place = np.empty((room, 3))
    corner = np.empty((room, 3))
    cost = np.empty(room)
    parent = np.empty(room, np.int64)
    way = np.empty(room, np.int64)
    bent = np.zeros(room, np.uint8)
    size = 1
    while size < SLOTS * room:
        size *= 2
    keys = np.full(size, -1, np.int64)
    values = np.empty(size, np.int64)
    slope, side, after, bend = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    points = np.empty((seeds.shape[1], 3))
    state = (np.empty((DIRECT_CORNERS, 3)), np.empty(DIRECT_CORNERS), np.empty(6))
    place[0], cost[0], parent[0], way[0] = p0, 0.0, -1, PORT
    used = 1
    origin, pitch = world.origin, world.pitch
    guess = guess_left(origin, pitch, field, p0, table.way[PORT], radius, slope)
    heap = [(guess, np.int64(0))]
    opened = 0
    best = most
    limit = most_states
    while len(heap) > 0 and opened < limit and used < room - ADDED:
        guess, label = heapq.heappop(heap)
        if guess >= BEYOND * best:
            break
        p, heading = place[label], way[label]
        if label > 0:
            at = _slot(keys, _key(origin, p, heading, cell))
            if values[at] != label:
                continue
        opened += 1
        d = table.way[heading]
        count, total = _shoot(
            world, p, d, p1, d1, reach, radius, need, cost[label], BEYOND * best, state
        )
        if count > 0:
            first = trace(parent, place, corner, bent, label, points)
            if first > 0:
                for c in range(1, count):
                    points[first + c - 1] = state[0][c]
                _keep(seeds, counts, totals, points, first + count - 1, total)
                if best >= most:
                    limit = min(limit, ONCE_MORE * opened + STATES_MORE)
                best = min(best, total)
        for m in range(table.number[heading] + 1):
            if m == 0:
                target = heading
                for a in range(3):
                    after[a] = p[a] + step * d[a]
                g = cost[label] + step
            else:
                target = table.to[heading, m - 1]
                angle = table.angle[heading, m - 1]
                _bend(p, d, table.way[target], radius, angle, bend, after, side)
                g = cost[label] + radius * angle + AFTER_BEND
            key = _key(origin, after, target, cell)
            at = _slot(keys, key)
            if keys[at] == key and cost[values[at]] <= g + NO_GAIN:
                continue
            h = guess_left(origin, pitch, field, after, table.way[target], radius, slope)
            if h < 0.0 or g + h >= BEYOND * best:
                continue
            if m == 0:
                if not leg_clear(world, p, after, need):
                    continue
            elif not arc_clear(world, p, d, side, radius, angle, need):
                continue
            keys[at] = key
            values[at] = used
            place[used] = after
            cost[used] = g
            parent[used] = label
            way[used] = target
            bent[used] = 1 if m > 0 else 0
            if m > 0:
                corner[used] = bend
            heapq.heappush(heap, (g + h, np.int64(used)))
            used += 1
    return Tree(used, place, corner, cost, parent, way, bent)


@kernel
def _key(origin, p, heading, cell):  # type: ignore[no-untyped-def]
    """A number for the cell of p (3,) and a heading; origin (3,), cell [m]."""
    i = int(math.floor((p[0] - origin[0]) / cell)) + OUTSIDE
    j = int(math.floor((p[1] - origin[1]) / cell)) + OUTSIDE
    k = int(math.floor((p[2] - origin[2]) / cell)) + OUTSIDE
    return ((i * CELLS_Y + j) * CELLS_Z + k) * (HEADINGS + 1) + heading


@kernel
def axis_reach(world, p, d, need, most):  # type: ignore[no-untyped-def]
    """How far out along -d from p (3,) a straight stays clear, at most `most` [m]."""
    far = np.empty(3)
    out = 0.0
    while out < most:
        for a in range(3):
            far[a] = p[a] - (out + AXIS_STEP) * d[a]
        near = p - out * d
        if not leg_clear(world, near, far, need):
            break
        out += AXIS_STEP
    return out


def _plan(
    radius: Metre, states: int, reach: Metre, most: Metre, grain: Ratio
) -> NDArray[np.float64]:
    step = min(LONGEST, max(SHORTEST, STEP * radius))
    cell = min(COARSEST, max(FINEST, CELL * radius))
    return np.array([grain * step, grain * cell, states, reach, most])


def grow(
    world: World,
    known: NDArray[np.bool_],
    at: NDArray[np.float64],
    way: NDArray[np.float64],
    radius: Metre,
    need: Metre,
    states: int,
    grain: Ratio,
) -> tuple[Tree, Headings]:
    """The tree of everything reachable from a pose, nearest first.

    Parameters: known, cells it may pass; need, clearance of the centre line [m]; states, opened;
    grain, scales the usual step and cell.
    """
    table = headings(way)
    level = np.where(known, np.float32(0.0), np.float32(CLOSED))
    seeds, none = np.empty((1, MOST_CORNERS, 3)), np.zeros(1, dtype=np.int64)
    # no goal: shots at a point beyond everything exceed the maximum length
    goal = np.full(3, NOWHERE)
    plan = _plan(radius, states, 0.0, ANY_LENGTH, grain)
    tree = search(world, level, at, goal, way, table, radius, need, plan, seeds, none, np.ones(1))
    return tree, table


def lattice_seeds(
    world: World,
    field: NDArray[np.float32],
    ends: tuple[
        NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]
    ],
    radius: Metre,
    need: Metre,
    states: int,
    most: Metre,
    grain: Ratio = 1.0,
) -> list[NDArray[np.float64]]:
    """Feasible polylines from one pose to another, shortest first.

    Parameters: ends, start (3,), its direction, goal (3,), direction of arrival; field, the goal
    field of the goal [m]; need, clearance of the centre line [m]; states, maximum states opened;
    most, maximum length [m]; grain, scales the usual step and cell.
    """
    p0, d0, p1, d1 = ends
    plan = _plan(radius, states, axis_reach(world, p1, d1, need, AXIS), most, grain)
    seeds = np.empty((SEEDS, MOST_CORNERS, 3))
    counts, totals = np.zeros(SEEDS, dtype=np.int64), np.full(SEEDS, np.inf)
    search(world, field, p0, p1, d1, headings(d0), radius, need, plan, seeds, counts, totals)
    order = [int(s) for s in np.argsort(totals) if counts[s] > 0]
    return [seeds[s, : counts[s]].copy() for s in order]
