"""Cases whose shortest length is known: ports alone, and three obstacles with an exact answer.

Two windows. Two thin bulkheads square to x; the hose passes over the sill e1 of the first and
under the lintel e2 of the second, c being the clearance of its centre line, R its bend radius. Its
legs have the directions u1, u2, u1 = (cos A, +-sin A); w = u1 - u2 over its length 2 sin A points
up. For any hose with points x1, x2 over the sill and under the lintel, start s0 and end s1,

    L >= <x1 - s0, u1> + <x2 - x1, u2> + <s1 - x2, u1> + 4 R (A - sin A),

the last term because along each leg the tangent's angle to its direction costs R (t - sin t) of an
end angle t, the two angles at a gate add up to 2A at least, and t - sin t is convex; the ports lie
along u1. <x1 - e1, w> >= c and <x2 - e2, -w> >= c make the right side least where both touch, and
there arcs of radius R whose apex touches are equal to it: with straights l at the ends and m
between, the shortest hose measures 2 l + m + 4 R A. (Legs of at least pi R, as here.)
One window alone, or a convex edge, is half of it: 2 l + 2 R A.

A post: tangents and the arc between, 2 sqrt(a^2 - rho^2) + rho (turn - 2 acos(rho / a)) with rho
the post's radius and the clearance, a the distance of both ports from its axis. A hose of smaller
bend radius comes as near to it as it has bends.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fitcheck.routing.lay.line import Routed, route_line
from tests.bench.measure import clock, proven
from tests.bench.records import Record
from tests.planted import parts
from tests.planted.bay import HIGH, LOW, PlantedHose, Problem
from tests.planted.curve import Planted, Points, Ports
from tests.planted.problem import ready, told
from tests.route_checker import check_among

RADIUS, HALF, CLEARANCE, STRAIGHT = 0.1, 0.008, 0.014, 0.06
NEED = HALF + CLEARANCE
#: A leaning hose has its middle here in the bay [m].
MIDDLE = np.array([0.0, 0.0, 0.6])


@dataclass(frozen=True, eq=False)
class Case:
    """A problem and its shortest length port to port [m]."""

    name: str
    exact: float
    curve: Planted | Ports
    triangles: Points


def measure_case(case: Case) -> Record:
    """Route and bound one case."""
    hose = PlantedHose("hose", RADIUS, HALF, case.curve, ("boat", "boat"))  # type: ignore[arg-type]
    problem = Problem(
        seed=0,
        level="easy",
        family="known",
        hoses=(hose,),
        clearance=CLEARANCE,
        gap=0.005,
        straight=STRAIGHT,
        boxes={},
        triangles=case.triangles,
    )
    made = ready(problem)
    routed, wall, _ = clock(lambda: route_line(made.obstacles, made.jobs[0], ()))
    record: Record = {"kind": "known", "seed": case.name, "exact": case.exact, "time": wall}
    if not isinstance(routed, Routed):
        return {**record, "solved": False}
    bound = proven(made, routed)
    return {
        **record,
        "solved": True,
        "length": routed.curve.length,
        "bound": bound["bound"],
        "bound_kind": bound["kind"],
        "faults": check_among(told(made, [routed], [bound["bound"]]), case.triangles),
    }


def all_cases() -> list[Case]:
    """Every case."""
    found = [*_empty()]
    found += [_post(math.radians(turn)) for turn in (150, 180)]
    found += [_edge(math.radians(turn) / 2) for turn in (60, 90)]
    found += [_windows(math.radians(turn) / 2) for turn in (40, 60)]
    return found


def _empty() -> Iterator[Case]:
    x, y, z = np.eye(3)
    r = RADIUS
    a, b = 0.9, 0.12
    straight = math.sqrt(a * a + (2 * r - b) ** 2 - 4 * r * r)
    lean = math.atan2(a, 2 * r - b) - math.atan2(straight, 2 * r)
    answers = (
        ("U-turn, ports 0.5 m apart", (0.0, 0.5, 0.0), -x, math.pi * r + 0.5 - 2 * r),
        ("skew, along X then Z", (0.1, 0.7, 0.1), z, math.pi * r + 0.7 - 2 * r),
        ("S-shift of 0.12 m in 0.9 m", (a, b, 0.0), x, straight + 2 * r * lean),
        ("L, 0.8 m by 0.6 m", (0.8, 0.6, 0.0), y, math.hypot(0.7, 0.5) + math.pi * r / 2),
    )
    for name, step, way, length in answers:
        lead = STRAIGHT
        first = MIDDLE - np.array(step) / 2
        corners = np.array([first - lead * x, first + np.array(step) + lead * way])
        yield Case(name, length + 2 * lead, Ports(corners, np.array([x, way])), parts.NONE)


def _flat(angle: float) -> Points:
    return np.array([math.cos(angle), math.sin(angle), 0.0])


def _post(turn: float) -> Case:
    size, away = 0.2, 0.6
    rho = size + NEED
    lean = math.acos(rho / away)
    middle = MIDDLE - np.array([0.0, 0.2, 0.0])
    ends = [away * _flat(math.pi / 2 + sign * turn / 2) for sign in (1, -1)]
    corner = rho / math.cos((turn - 2 * lean) / 2) * _flat(math.pi / 2)
    curve = Planted(middle + np.array([ends[0], corner, ends[1]]), np.array([rho]))
    sides = 720
    box = parts.turned_box(
        middle, np.array([*(2 * [2 * size / math.cos(math.pi / sides)]), 2.0]), np.zeros(3)
    )
    exact = 2 * math.sqrt(away**2 - rho**2) + rho * (turn - 2 * lean)
    return Case(f"post, {math.degrees(turn):.0f} deg round", exact, curve, parts.post(box, sides))


def _edge(half: float) -> Case:
    leg, edge = 0.45, MIDDLE + np.array([0.0, 0.15, 0.0])
    up = _flat(math.pi / 2)
    corner = edge + (NEED - RADIUS + RADIUS / math.cos(half)) * up
    reach = leg + RADIUS * math.tan(half)
    corners = np.array([corner - reach * _flat(half), corner, corner + reach * _flat(-half)])
    along = np.array([0.0, 0.0, 1.0])
    faces = [
        parts.quad(edge - along, edge + along, edge + along + 2 * down, edge - along + 2 * down)
        for down in (_flat(-half - 0.4), _flat(math.pi + half + 0.4))
    ]
    name = f"convex edge, {math.degrees(2 * half):.0f} deg"
    curve = Planted(corners, np.array([RADIUS]))
    return Case(name, 2 * leg + 2 * RADIUS * half, curve, np.concatenate(faces))


def _windows(half: float) -> Case:
    leg, between = 0.36, 0.42
    up = _flat(math.pi / 2)
    over = RADIUS / math.cos(half)
    aside = _flat(math.pi / 2 - half)
    one = np.zeros(3)
    two = one + between * _flat(-half) + 2 * RADIUS * aside
    sill, lintel = one + (RADIUS - NEED) * up, two - (RADIUS - NEED) * up
    first, second = one + over * up, two - over * up
    reach = leg + RADIUS * math.tan(half)
    corners = [first - reach * _flat(half), first, second, second + reach * _flat(half)]
    shift = MIDDLE - (one + two) / 2
    plates = []
    for at, low, high in (
        (sill, 0.0, 0.3),
        (lintel, -0.3, 0.0),
    ):
        centre = (at + shift)[1:]
        hole = centre + np.array([(low, -0.25), (high, -0.25), (high, 0.25), (low, 0.25)])
        plates.append(
            parts.plate(0, float((at + shift)[0]), LOW[1:] - 0.1, HIGH[1:] + 0.1, [hole])
        )
    exact = 2 * leg + between + 4 * RADIUS * half
    curve = Planted(np.array(corners) + shift, np.full(2, RADIUS))
    return Case(
        f"two offset windows, {math.degrees(2 * half):.0f} deg", exact, curve,
        np.concatenate([plate for plate in plates if plate is not None]),
    )  # fmt: skip
