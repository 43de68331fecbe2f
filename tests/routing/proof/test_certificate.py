"""The full length bound compared with exact answers, and with every curve tried."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve
from fitcheck.geometry.grid import Grid
from fitcheck.routing.proof.certificate import (
    Effort,
    Problem,
    bend_planes,
    certificate,
    contact_planes,
)
from fitcheck.routing.proof.gates import Ends
from fitcheck.routing.proof.potential import Measure, potential, region
from fitcheck.routing.proof.proof import STEPS

RADIUS, CLEARANCE = 0.1, 0.022
EFFORT = Effort(cubes=8000, chains=400, rounds=2, share=0.985, retreats=0)


def proven(curve: Curve, ends: Ends, measure: Measure) -> float:
    """The certificate with the curve's own length and bends."""
    problem = Problem(ends=ends, clearance=CLEARANCE, measure=measure, limit=curve.length)
    held = contact_planes(curve, problem, 0.0, curve.length)
    return certificate(problem, [held, *(bend_planes(curve, step) for step in STEPS)], EFFORT)


def arc(
    centre: list[float], radius: float, normal: list[float], start: list[float], angle: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Start, end and end direction of an arc."""
    c, n, p = np.array(centre), np.array(normal), np.array(start)
    out = p - c
    end = c + math.cos(angle) * out + math.sin(angle) * np.cross(n, out)
    along = np.cross(n, end - c)
    return p, end, along / np.linalg.norm(along)


def one_bend(
    centre: list[float],
    radius: float,
    start: list[float],
    angle: float,
    before: float,
    after: float,
) -> tuple[Curve, Ends]:
    """Leg, bend, leg, turning right-hand about -z."""
    normal = [0.0, 0.0, -1.0]
    first, last, leaving = arc(centre, radius, normal, start, angle)
    arriving = np.cross(normal, first - np.array(centre))
    arriving /= np.linalg.norm(arriving)
    s0, s1 = first - before * arriving, last + after * leaving
    curve = Curve(
        radius=radius,
        legs=np.array([[s0, first], [last, s1]]),
        centre=np.array([centre]),
        normal=np.array([normal]),
        angle=np.array([angle]),
        bend_start=first[None],
        bend_end=last[None],
    )
    ends = Ends(start=s0, start_direction=arriving, end=s1, end_direction=leaving, radius=RADIUS)
    return curve, ends


def round_a_post(turn: float) -> tuple[Curve, Ends, Measure, float]:
    """A taut hose around a post of 200 mm radius: two tangents and the arc between.

    Exact: 2 sqrt(a^2 - rho^2) + rho (turn - 2 acos(rho / a)), elementary geometry.
    """
    rho, away = 0.2 + CLEARANCE, 0.6
    lean = math.acos(rho / away)
    leg = math.sqrt(away**2 - rho**2)
    top = math.pi - lean
    start = [rho * math.cos(top), rho * math.sin(top), 0.013]
    curve, ends = one_bend([0.0, 0.0, 0.013], rho, start, turn - 2 * lean, leg, leg)
    exact = 2 * leg + rho * (turn - 2 * lean)

    def measure(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.hypot(points[:, 0], points[:, 1]) - 0.2)

    return curve, ends, measure, exact


def over_an_edge(turn: float, leg: float) -> tuple[Curve, Ends, Measure, float]:
    """A hose over one convex edge, its bend touching the clearance at the apex.

    Exact: 2 leg + R turn; shorter is impossible by the corner argument in gates.py.
    """
    centre = [0.0, CLEARANCE - RADIUS, 0.0]
    half = turn / 2
    start = [-RADIUS * math.sin(half), centre[1] + RADIUS * math.cos(half), 0.0]
    curve, ends = one_bend(centre, RADIUS, start, turn, leg, leg)
    face = np.array([1.0, math.tan(math.radians(20))])
    face /= np.linalg.norm(face)

    def measure(points: NDArray[np.float64]) -> NDArray[np.float64]:
        flat = np.column_stack([np.abs(points[:, 0]), points[:, 1]])
        beside = flat @ np.array([face[1], -face[0]])
        return np.where(beside > 0, flat @ face, np.linalg.norm(flat, axis=1))

    return curve, ends, measure, 2 * leg + RADIUS * turn


@pytest.mark.parametrize("degrees", [150, 180])
def test_bound_around_a_post(degrees: int) -> None:
    curve, ends, measure, exact = round_a_post(math.radians(degrees))
    bound = proven(curve, ends, measure)
    assert curve.length == pytest.approx(exact, abs=1e-12)
    assert 0.98 * exact <= bound <= exact


@pytest.mark.parametrize("degrees", [60, 90])
def test_bound_over_an_edge(degrees: int) -> None:
    curve, ends, measure, exact = over_an_edge(math.radians(degrees), 0.45)
    bound = proven(curve, ends, measure)
    assert curve.length == pytest.approx(exact, abs=1e-12)
    assert 0.98 * exact <= bound <= exact


def test_a_straight_hose_is_its_own_bound() -> None:
    ends = Ends(
        start=np.array([0.0, 0.0, 0.0]),
        start_direction=np.array([1.0, 0.0, 0.0]),
        end=np.array([0.8, 0.0, 0.0]),
        end_direction=np.array([1.0, 0.0, 0.0]),
        radius=RADIUS,
    )
    none = np.zeros((0, 3))
    curve = Curve(
        radius=RADIUS,
        legs=np.array([[ends.start, ends.end]]),
        centre=none,
        normal=none,
        angle=np.zeros(0),
        bend_start=none,
        bend_end=none,
    )
    bound = proven(curve, ends, lambda points: np.full(len(points), 1.0))
    assert 0.799 < bound <= 0.8


@settings(max_examples=15, deadline=None)
@given(
    st.tuples(*[st.floats(-0.2, 0.2)] * 3),
    st.tuples(*[st.floats(-0.2, 0.2)] * 3),
    st.floats(0.02, 0.12),
)
def test_the_potential_never_exceeds_a_path_around_a_ball(
    one: tuple[float, float, float], two: tuple[float, float, float], radius: float
) -> None:
    """Compared with the exact distance around a ball: tangents and a great arc (elementary
    geometry).
    """
    keep = radius + CLEARANCE
    start = np.array(one) + np.array([0.35, 0.0, 0.0])
    end = np.array(two) - np.array([0.35, 0.0, 0.0])
    if min(np.linalg.norm(start), np.linalg.norm(end)) < keep + 1e-3:
        return
    grid = Grid(origin=(-0.6, -0.35, -0.35), pitch=0.035, shape=(34, 20, 20))

    def measure(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.linalg.norm(points, axis=1) - radius)

    space = region(grid, np.ones(grid.shape, dtype=bool), CLEARANCE, measure)
    bound = float(potential(space, end).at(start[None])[0])
    assert bound <= way_round_a_ball(start, end, keep) + 1e-9


def way_round_a_ball(start: NDArray[np.float64], end: NDArray[np.float64], keep: float) -> float:
    """Shortest curve outside a ball about the origin."""
    a, b = float(np.linalg.norm(start)), float(np.linalg.norm(end))
    angle = math.acos(np.clip(start @ end / (a * b), -1, 1))
    arc_angle = angle - math.acos(keep / a) - math.acos(keep / b)
    if arc_angle <= 0:
        return float(np.linalg.norm(end - start))
    return math.sqrt(a * a - keep * keep) + math.sqrt(b * b - keep * keep) + keep * arc_angle


def test_a_hose_back_to_where_it_began_has_a_bound() -> None:
    """In the open, from a point back to it in the same direction: one full circle is possible; a
    division by the distance between the ends would warn, which fails.
    """
    here, ahead = np.zeros(3), np.array([1.0, 0.0, 0.0])
    ends = Ends(start=here, start_direction=ahead, end=here, end_direction=ahead, radius=RADIUS)
    circle = 2 * math.pi * RADIUS
    middle = np.array([[0.0, RADIUS, 0.0]])
    curve = Curve(
        radius=RADIUS,
        legs=np.array([[here, here], [here, here]]),
        centre=middle,
        normal=np.array([[0.0, 0.0, 1.0]]),
        angle=np.array([2 * math.pi]),
        bend_start=here[None],
        bend_end=here[None],
    )

    def open_air(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.full(len(points), 1.0)

    problem = Problem(ends=ends, clearance=CLEARANCE, measure=open_air, limit=circle)
    assert 0.0 <= certificate(problem, [bend_planes(curve, 0.3)], EFFORT) <= circle
