"""Whether an assembly of a given length can be routed between its ports, and how.

Starting from the shortest route, one stretch after another is bowed out to one side until the
length is met (bows.py). The result keeps bend radius and clearance by the same verdict as any
route, and does not come near itself. Places, sides and directions are tried in a fixed order,
widest bows first. "Not found" proves nothing: it is one search.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve, bent, measure, on_piece
from fitcheck.routing.lay.line import Routed, verdict_of
from fitcheck.routing.lay.places import corners_between, free_stretches, place_at
from fitcheck.routing.lengths.bows import APART, MOST_CORNERS, nearest_to_itself, swing
from fitcheck.routing.world.field import World
from fitcheck.routing.world.obstacles import Obstacles, Tube
from fitcheck.units import Metre

Points = NDArray[np.float64]

#: Tolerance on the length [m].
MET = 1e-4
#: Directions a bow may go in, all around.
SIDES = 12
#: Positions between its ends at which a bow is moved aside.
SHARES = (0.5, 0.25, 0.75)
#: The shortest stretch that is bowed, in bend radii.
LEAST_STRETCH = 0.5
#: Maximum nested bows, and the share of the excess the first one takes.
DEEPEST = 2
FIRST_SHARES = (0.5, 0.75, 0.25)
#: Spacing of the points at which a curve is checked against itself [m].
SPACING = 0.002


def laid_at_length(
    obstacles: Obstacles,
    routed: Routed,
    length: Metre,
    tubes: Sequence[Tube],
    *,
    gentlest: bool = True,
) -> Routed | None:
    """The hose of a routed line re-routed to measure `length`, None where no route was found.

    Port face to port face, met to 0.1 mm; tubes: all other hoses. Radius and clearance are kept as
    on any route, and the hose keeps its gap to itself. gentlest: return the bow that turns least,
    else the first found.
    """
    if abs(length - routed.curve.length) <= MET:
        return routed
    if length < routed.curve.length:
        return None
    world = obstacles.world(routed.job, tubes)
    return _bowed(_Ask(obstacles, world, tubes, gentlest), routed, length, DEEPEST)


@dataclass(frozen=True, eq=False, slots=True)
class _Ask:
    """What surrounds the hose to be routed, and whether any bow will do."""

    obstacles: Obstacles
    world: World
    tubes: Sequence[Tube]
    gentlest: bool


def _bowed(ask: _Ask, routed: Routed, length: Metre, deep: int) -> Routed | None:
    found = _one_bow(ask, routed, length)
    if found or deep <= 1:
        return found
    excess = length - routed.curve.length
    for share in FIRST_SHARES:
        part = _one_bow(ask, routed, routed.curve.length + share * excess)
        found = part and _bowed(ask, part, length, deep - 1)
        if found:
            return found
    return None


def _one_bow(ask: _Ask, routed: Routed, length: Metre) -> Routed | None:
    """Bow the first stretch that allows it."""
    for first, last in _stretches(routed):
        bows = _bows(ask.world, routed, first, last, length)
        for bow in sorted(bows, key=_turning) if ask.gentlest else bows:
            trial = _with_bow(routed, first, last, bow)
            if trial is None or abs(trial.curve.length - length) > MET:
                continue
            if _apart_from_itself(trial) and verdict_of(ask.obstacles, trial, ask.tubes).kept:
                return trial
    return None


def _bows(
    world: World, routed: Routed, first: _Place, last: _Place, length: Metre
) -> Iterator[Points]:
    """Corners of the clear bows of one stretch that give the hose its length."""
    curve = routed.curve
    corners = np.empty((MOST_CORNERS + 2, 3))
    (a, leaves), (b, arrives) = first.pose, last.pose
    ends = np.array([a + APART * leaves, leaves, b - APART * arrives, arrives])
    wanted = last.along - first.along - 2 * APART + length - curve.length
    given = (wanted, 0.5 * wanted, curve.radius, routed.job.need)
    for middle, aside in _ways(curve, first.along, last.along):
        count = swing(world, ends, middle, aside, *given, corners)
        if count:
            yield corners[:count].copy()


def _turning(corners: Points) -> float:
    """Sum of all bend angles of a bow; the bends before and after it are the same for
    all [rad].
    """
    halves = np.zeros(len(corners))
    measure(corners, len(corners), 1.0, 0.0, halves)
    return round(float(2 * np.arctan(halves).sum()), 6)


# --- where a bow may begin and end ------------------------------------------------------------


@dataclass(frozen=True, eq=False, slots=True)
class _Place:
    """A point on a curve: distance along it, position and direction of travel."""

    along: Metre
    pose: tuple[Points, Points]


def _stretches(routed: Routed) -> Iterator[tuple[_Place, _Place]]:
    """Pairs of places between which the hose may bow, farthest apart first."""
    pairs = []
    for low, high in free_stretches(routed):
        marks = [low, high]
        done = 0.0
        for row in routed.curve.pieces:
            if row[10] > 4 * APART:
                marks += [done + APART, done + row[10] / 2, done + row[10] - APART]
            done += row[10]
        inside = sorted({mark for mark in marks if low <= mark <= high})
        least = LEAST_STRETCH * routed.curve.radius
        pairs += [(a, b) for i, a in enumerate(inside) for b in inside[i + 1 :] if b - a > least]
    seen: list[tuple[Metre, Metre]] = []
    for a, b in sorted(pairs, key=lambda pair: (round(pair[0] - pair[1], 9), pair[0])):
        if all(abs(a - c) + abs(b - d) > 4 * APART for c, d in seen):
            seen.append((a, b))
            yield _place(routed.curve, a), _place(routed.curve, b)


def _place(curve: Curve, along: Metre) -> _Place:
    return _Place(along, place_at(curve, along))


def _ways(curve: Curve, first: Metre, last: Metre) -> Iterator[tuple[Points, Points]]:
    """Where V starts, with its direction, and the direction it moves in."""
    begin, end = (_place(curve, along).pose[0] for along in (first, last))
    for share in SHARES:
        at, along = _place(curve, first + share * (last - first)).pose
        for turned in range(2):
            # V's direction: along the curve, or along the chord of the stretch
            chord = end - begin
            size = np.linalg.norm(chord)
            if turned and (size < 1e-6 or np.linalg.norm(chord / size - along) < 1e-6):
                continue
            way = chord / size if turned else along
            one, two = _square(way)
            for side in range(SIDES):
                angle = 2 * math.pi * side / SIDES
                aside = math.cos(angle) * one + math.sin(angle) * two
                yield np.array([at, way]), aside
                if not turned:
                    yield np.array([at, np.cross(way, aside)]), aside
                    yield np.array([at, -way]), aside


def _square(way: Points) -> tuple[Points, Points]:
    """Two directions square to a given one, the first as level as possible."""
    up = np.array([0.0, 0.0, 1.0]) if abs(way[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    one = np.cross(way, up)
    one /= np.linalg.norm(one)
    return one, np.cross(one, way)


# --- the whole hose again ---------------------------------------------------------------------


def _with_bow(routed: Routed, first: _Place, last: _Place, bow: Points) -> Routed | None:
    """The line with a bow in place of the stretch between two places, None if it does not fit."""
    old = routed.curve
    before = corners_between(old, 0.0, first.along)
    after = corners_between(old, last.along, old.length)
    try:
        curve = bent(np.vstack([old.start, before, bow[1:-1], after, old.end]), old.radius)
    except ValueError:
        return None
    more = curve.length - old.length
    holes = tuple(
        (a + more, b + more) if a >= last.along - 1e-9 else (a, b) for a, b in routed.holes
    )
    return replace(routed, curve=curve, direct=False, holes=holes)


def _apart_from_itself(routed: Routed) -> bool:
    """Whether no two parts of the hose come closer than its gap.

    Parts less than half a turn of the minimum radius apart along the hose cannot: the curve bends
    no more than a circle of that radius, whose chords are shorter (Schur's comparison of curves).
    """
    curve, job = routed.curve, routed.job
    points, along = _sampled(curve)
    asked = min(2 * job.half + job.gap, 2 * curve.radius - 3 * SPACING)
    near = nearest_to_itself(points, along, math.pi * curve.radius - SPACING)
    return bool(near - SPACING >= asked)


def _sampled(curve: Curve) -> tuple[Points, Points]:
    parts, marks, done = [], [], 0.0
    for row in curve.pieces:
        s = np.linspace(0.0, row[10], max(2, math.ceil(row[10] / SPACING) + 1))
        parts.append(on_piece(row, s))
        marks.append(done + s)
        done += row[10]
    return np.concatenate(parts), np.concatenate(marks)
