"""The direct curve and the bound: known answers, and that no curve undercuts the bound.

Planar answers follow from Dubins, On curves of minimal length with a constraint on average
curvature, and with prescribed initial and terminal positions and tangents, American Journal of
Mathematics 79 (1957): the shortest curve is arc-straight-arc (or three arcs), each case calculated
by hand with the formula next to it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from fitcheck.geometry.box import rotation
from fitcheck.geometry.curve import bent
from fitcheck.routing.search.bound import support, unobstructed_bound
from fitcheck.routing.search.direct import direct_curve
from tests.specimens.corners import random_corners

Points = NDArray[np.float64]
R = 0.1
ORIGIN = np.zeros(3)


def s_shift(along: float, aside: float) -> float:
    """Left, straight, right: the two circles' inner tangent."""
    straight = math.sqrt(along**2 + (2 * R - aside) ** 2 - 4 * R**2)
    turn = math.atan2(along, 2 * R - aside) - math.atan2(straight, 2 * R)
    return straight + 2 * R * turn


#: End point, direction of arrival, length; all start along x.
KNOWN = {
    "straight on": ((0.7, 0, 0), (1, 0, 0), 0.7),
    "U-turn at 0.5 m: half a circle in two quarters and D - 2R": (
        (0, 0.5, 0),
        (-1, 0, 0),
        math.pi * R + 0.5 - 2 * R,
    ),
    "skew, x then z: two quarters and b - 2R": (
        (0.1, 0.7, 0.1),
        (0, 0, 1),
        math.pi * R + 0.7 - 2 * R,
    ),
    "shift to the side": ((0.9, 0.12, 0), (1, 0, 0), s_shift(0.9, 0.12)),
    "L-bend": (
        (0.8, 0.6, 0),
        (0, 1, 0),
        math.hypot(0.8 - R, 0.6 - R) + math.pi * R / 2,
    ),
    "one quarter and a straight": ((0.1, 0.5, 0), (0, 1, 0), math.pi * R / 2 + 0.4),
}


@pytest.mark.parametrize("case", KNOWN)
def test_known_lengths(case: str) -> None:
    end, arrives, length = KNOWN[case]
    way, there = np.array([1.0, 0, 0]), np.array(arrives, dtype=float)
    curve = direct_curve(ORIGIN, way, np.array(end, dtype=float), there, R)
    assert curve is not None
    assert curve.length == pytest.approx(length, abs=1e-12)
    bound = unobstructed_bound(ORIGIN, way, np.array(end, dtype=float), there, R)
    assert length - 3e-9 <= bound <= length


def test_known_lengths_as_printed() -> None:
    """Figures of an earlier independent calculation, R = 0.1 m, from memory."""
    figures = {
        "U-turn at 0.5 m: half a circle in two quarters and D - 2R": 0.614159,
        "skew, x then z: two quarters and b - 2R": 0.814159,
        "shift to the side": 0.908044,
        "L-bend": 1.017312,
    }
    for case, figure in figures.items():
        assert KNOWN[case][2] == pytest.approx(figure, abs=5e-7)


def random_ends(seed: int) -> tuple[Points, Points, Points]:
    """End point and two directions."""
    rng = np.random.default_rng(seed)
    way, there = rng.normal(size=(2, 3))
    return (
        rng.normal(size=3) * rng.uniform(0.05, 0.7),
        way / np.linalg.norm(way),
        there / np.linalg.norm(there),
    )


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 100_000), st.floats(0.03, 0.15))
def test_a_direct_curve_meets_its_ends_and_its_bound(seed: int, radius: float) -> None:
    end, way, there = random_ends(seed)
    curve = direct_curve(ORIGIN, way, end, there, radius)
    assume(curve is not None)
    assert curve is not None
    points = curve.sample(1e-4)
    assert points[0] == pytest.approx(ORIGIN, abs=1e-12)
    assert points[-1] == pytest.approx(end, abs=1e-12)
    for step, wanted in ((points[1] - points[0], way), (points[-1] - points[-2], there)):
        # the chord differs from the tangent by half the angle it spans
        assert step / np.linalg.norm(step) == pytest.approx(wanted, abs=1e-4 / radius)
    bound = unobstructed_bound(ORIGIN, way, end, there, radius)
    assert curve.length - 1e-8 <= bound <= curve.length


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 100_000), st.floats(0.04, 0.15))
def test_no_curve_is_shorter_than_the_bound(seed: int, radius: float) -> None:
    corners = random_corners(seed, radius)
    curve = bent(corners, radius)
    way, there = corners[1] - corners[0], corners[-1] - corners[-2]
    way, there = way / np.linalg.norm(way), there / np.linalg.norm(there)
    assert unobstructed_bound(curve.start, way, curve.end, there, radius) <= curve.length


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 100_000))
def test_moving_rotating_and_reversing_keeps_the_length(seed: int) -> None:
    end, way, there = random_ends(seed)
    curve = direct_curve(ORIGIN, way, end, there, R)
    assume(curve is not None)
    assert curve is not None
    rng = np.random.default_rng(seed)
    turn, shift = rotation(tuple(rng.uniform(-3, 3, 3))), rng.normal(size=3)
    moved = direct_curve(shift, turn @ way, turn @ end + shift, turn @ there, R)
    back = direct_curve(end, -there, ORIGIN, -way, R)
    assert moved is not None
    assert moved.length == pytest.approx(curve.length, abs=1e-9)
    assert back is not None
    assert back.length == pytest.approx(curve.length, abs=1e-9)


@pytest.mark.parametrize(("b0", "b1"), [(0.0, 0.0), (0.7, 0.0), (1.2, 2.1), (3.0, 3.1)])
@pytest.mark.parametrize("length", [0.05, 0.21, 0.6])
def test_the_support_function_equals_its_integral(b0: float, b1: float, length: float) -> None:
    s = (np.arange(200_000) + 0.5) * length / 200_000
    angle = np.maximum(0.0, np.maximum(b0 - s / R, b1 - (length - s) / R))
    integral = float(np.cos(angle).mean() * length)
    assert support(length, b0, b1, R) == pytest.approx(integral, abs=1e-9)


def test_ports_too_close_for_a_direct_curve_have_a_bound() -> None:
    """Side by side and facing the same way, closer than two radii: three arcs, no straight."""
    way = np.array([1.0, 0, 0])
    end = np.array([0.0, 0.1, 0])
    assert direct_curve(ORIGIN, way, end, -way, R) is None
    # known from Dubins: arcs of turn a, pi + 2 a, a about three touching circles, 4 R cos a =
    # 2 R + d, so that the whole is R (pi + 4 a)
    shortest = R * (math.pi + 4 * math.acos((2 * R + 0.1) / (4 * R)))
    assert 0.1 < unobstructed_bound(ORIGIN, way, end, -way, R) <= shortest
