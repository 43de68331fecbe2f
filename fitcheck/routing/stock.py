"""Whether an assembly of a given length can be laid between its ports, and how.

From the shortest route on, one stretch after another is bowed out to one side until the length is
met (fitcheck.routing.bows); what is found keeps bend radius and clearance by the same verdict as
any route, and does not come near itself. Places, sides and ways are tried in a fixed order, the
widest bows first. "Not found" proves nothing: it is one search.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve, bent, on_piece
from fitcheck.routing.bows import APART, MOST_CORNERS, nearest_to_itself, swing
from fitcheck.routing.field import World
from fitcheck.routing.line import Routed, verdict_of
from fitcheck.routing.obstacles import Obstacles, Tube
from fitcheck.routing.places import corners_between, free_stretches, place_at
from fitcheck.units import Metre

Points = NDArray[np.float64]

#: A length is met when it is met to this [m].
MET = 1e-4
#: Sides a bow may go to, all round.
SIDES = 12
#: Where between its ends a bow is moved aside.
SHARES = (0.5, 0.25, 0.75)
#: The shortest stretch that is bowed, in bend radii.
LEAST_STRETCH = 0.5
#: Bows one on another at most, and the share of the excess that the first one takes.
DEEPEST = 2
FIRST_SHARES = (0.5, 0.75, 0.25)
#: Spacing of the points at which a curve is compared with itself [m].
SPACING = 0.002


def laid_at_length(
    obstacles: Obstacles, routed: Routed, length: Metre, tubes: Sequence[Tube]
) -> Routed | None:
    """The hose of a routed line laid so that it measures `length`, None where no way was found.

    Port face to port face, met to 0.1 mm; tubes: all other hoses. Radius and clearance are kept
    as on any route, and the hose keeps its gap to itself.
    """
    if abs(length - routed.curve.length) <= MET:
        return routed
    if length < routed.curve.length:
        return None
    world = obstacles.world(routed.job, tubes)
    return _bowed(obstacles, world, routed, length, tubes, DEEPEST)


def _bowed(
    obstacles: Obstacles,
    world: World,
    routed: Routed,
    length: Metre,
    tubes: Sequence[Tube],
    deep: int,
) -> Routed | None:
    found = _one_bow(obstacles, world, routed, length, tubes)
    if found or deep <= 1:
        return found
    excess = length - routed.curve.length
    for share in FIRST_SHARES:
        part = _one_bow(obstacles, world, routed, routed.curve.length + share * excess, tubes)
        found = part and _bowed(obstacles, world, part, length, tubes, deep - 1)
        if found:
            return found
    return None


def _one_bow(
    obstacles: Obstacles, world: World, routed: Routed, length: Metre, tubes: Sequence[Tube]
) -> Routed | None:
    """The bow that turns least of the first stretch that has one."""
    curve = routed.curve
    corners = np.empty((MOST_CORNERS + 2, 3))
    excess = length - curve.length
    for first, last in _stretches(routed):
        (a, leaves), (b, arrives) = first.pose, last.pose
        ends = np.array([a + APART * leaves, leaves, b - APART * arrives, arrives])
        wanted = last.along - first.along - 2 * APART + excess
        trials: list[Routed] = []
        for middle, aside in _ways(curve, first.along, last.along):
            count = swing(
                world,
                ends,
                middle,
                aside,
                wanted,
                0.5 * wanted,
                curve.radius,
                routed.job.need,
                corners,
            )
            if count == 0:
                continue
            trial = _with_bow(routed, first, last, corners[:count])
            if trial and abs(trial.curve.length - length) <= MET:
                trials.append(trial)
        for trial in sorted(trials, key=_turning):
            if _apart_from_itself(trial) and verdict_of(obstacles, trial, tubes).kept:
                return trial
    return None


def _turning(routed: Routed) -> float:
    return round(float(routed.curve.angle.sum()), 6)


# --- where a bow may begin and end ------------------------------------------------------------


@dataclass(frozen=True, eq=False, slots=True)
class _Place:
    """A place on a curve: distance along it, point and direction of travel."""

    along: Metre
    pose: tuple[Points, Points]


def _stretches(routed: Routed) -> Iterator[tuple[_Place, _Place]]:
    """Pairs of places between which the hose may bow, the farthest apart first."""
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
    """Where V stands before it moves, with its direction, and the way it moves."""
    begin, end = (_place(curve, along).pose[0] for along in (first, last))
    for share in SHARES:
        at, along = _place(curve, first + share * (last - first)).pose
        for turned in range(2):
            # held along the curve, or along the chord of the stretch
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
    """Two directions square to one: the first as level as can be."""
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
    """Whether no two parts of the hose come nearer than its gap.

    Parts less than half a turn of the least radius apart along it cannot: the curve bends no more
    than a circle of that radius, whose chords are shorter (Schur's comparison of curves).
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
