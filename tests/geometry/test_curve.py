"""Legs and bends: lengths by hand, tangents, samples, reversal, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve, bent, measure
from fitcheck.geometry.distance import point_piece
from tests.specimens.corners import random_corners

Points = NDArray[np.float64]


def square_corner(radius: float = 0.1) -> Curve:
    return bent(np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0]]), radius)


def test_a_square_corner_is_two_legs_and_a_quarter_circle() -> None:
    curve = square_corner()
    assert curve.length == pytest.approx(0.9 + 0.9 + 0.1 * math.pi / 2, abs=1e-15)
    assert curve.legs[0, 1] == pytest.approx([0.9, 0, 0], abs=1e-15)
    assert curve.centre[0] == pytest.approx([0.9, 0.1, 0], abs=1e-15)
    assert curve.normal[0] == pytest.approx([0, 0, 1], abs=1e-15)
    assert curve.angle[0] == pytest.approx(math.pi / 2, abs=1e-15)


def test_a_straight_polyline_is_one_leg() -> None:
    curve = bent(np.array([[0.0, 0, 0], [0.3, 0, 0], [0.7, 0, 0], [1, 0, 0]]), 0.1)
    assert len(curve.legs) == 1
    assert len(curve.angle) == 0
    assert curve.length == 1.0


def test_touching_bends_in_one_plane_are_merged() -> None:
    t = 0.1 * math.tan(math.radians(75) / 2)
    way = np.array([math.cos(math.radians(75)), math.sin(math.radians(75)), 0.0])
    last = np.array([math.cos(math.radians(150)), math.sin(math.radians(150)), 0.0])
    first = np.array([0.5, 0, 0])
    second = first + 2 * t * way
    curve = bent(np.array([np.zeros(3), first, second, second + last]), 0.1)
    assert len(curve.angle) == 1
    assert curve.angle[0] == pytest.approx(math.radians(150), abs=1e-12)


def test_touching_bends_in_different_planes_are_not_merged() -> None:
    t = 0.1
    corners = [[0.0, 0, 0], [0.5, 0, 0], [0.5, 2 * t, 0], [0.5, 2 * t, 0.5]]
    assert len(bent(np.array(corners), 0.1).angle) == 2


@pytest.mark.parametrize("short", [0.19999, 0.1])
def test_overlapping_bends_are_refused(short: float) -> None:
    corners = np.array([[0.0, 0, 0], [0.5, 0, 0], [0.5, short, 0], [0.5, short, 0.5]])
    with pytest.raises(ValueError, match="overlap"):
        bent(corners, 0.1)


def test_a_first_leg_shorter_than_its_tangent_is_refused() -> None:
    with pytest.raises(ValueError, match="overlap"):
        bent(np.array([[0.0, 0, 0], [0.09, 0, 0], [0.09, 1, 0]]), 0.1)


def test_a_cusp_is_refused() -> None:
    with pytest.raises(ValueError, match="turns back"):
        bent(np.array([[0.0, 0, 0], [1, 0, 0], [0.2, 0, 0]]), 0.1)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.04, 0.15))
def test_samples_are_on_a_smooth_curve_of_the_stated_length(seed: int, radius: float) -> None:
    curve = bent(random_corners(seed, radius), radius)
    points = curve.sample(0.005)
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert step.max() <= 0.005 + 1e-12
    # chords are shorter than arcs by at most s^2 / 24 R^2
    assert step.sum() <= curve.length + 1e-12
    assert step.sum() >= curve.length * (1 - 0.005**2 / (20 * radius**2))
    assert points[0] == pytest.approx(curve.start)
    assert points[-1] == pytest.approx(curve.end)
    way = np.diff(points, axis=0) / step[:, None]
    turn = np.arccos(np.clip((way[:-1] * way[1:]).sum(axis=1), -1, 1))
    assert (turn <= (step[:-1] + step[1:]) / 2 / radius * (1 + 1e-3) + 1e-7).all()


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_pieces_join_without_gap_or_kink(seed: int) -> None:
    curve = bent(random_corners(seed, 0.08), 0.08)
    here, way = curve.start, curve.pieces[0, 3:6]
    for row in curve.pieces:
        assert row[:3] == pytest.approx(here, abs=1e-12)
        assert row[3:6] == pytest.approx(way, abs=1e-9)
        if row[9] == 0:
            here = row[:3] + row[10] * row[3:6]
        else:
            turn = row[10] / row[9]
            here = row[:3] + row[9] * (math.sin(turn) * row[3:6] + (1 - math.cos(turn)) * row[6:9])
            way = math.cos(turn) * row[3:6] + math.sin(turn) * row[6:9]
    assert here == pytest.approx(curve.end, abs=1e-12)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_the_reversed_curve_is_the_same_curve(seed: int) -> None:
    corners = random_corners(seed, 0.08)
    curve, back = bent(corners, 0.08), bent(corners, 0.08).reversed()
    assert back.length == pytest.approx(curve.length, abs=1e-12)
    assert back.start == pytest.approx(curve.end)
    rows = back.pieces
    away = [min(point_piece(*p, rows, n) for n in range(len(rows))) for p in curve.sample(0.02)]
    assert max(away) < 1e-9
    assert back.reversed().normal == pytest.approx(curve.normal)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.04, 0.12))
def test_the_kernel_measures_the_same_length(seed: int, radius: float) -> None:
    corners = random_corners(seed, radius)
    turns = np.zeros(len(corners))
    length, misfit = measure(corners, len(corners), radius, 0.0, turns)
    assert misfit == 0.0
    assert length == pytest.approx(bent(corners, radius).length, abs=1e-12)


def test_the_kernel_measures_the_shortfall_of_legs() -> None:
    corners = np.array([[0.0, 0, 0], [0.5, 0, 0], [0.5, 0.15, 0], [0.5, 0.15, 0.5]])
    assert measure(corners, 4, 0.1, 0.0, np.zeros(4))[1] == pytest.approx(0.05)
    assert measure(corners, 4, 0.1, 0.01, np.zeros(4))[1] == pytest.approx(0.06)


def test_distance_to_an_arc_by_hand() -> None:
    rows = square_corner().pieces
    arc = next(n for n in range(len(rows)) if rows[n, 9] > 0)
    assert point_piece(0.9, 0.1, 0.0, rows, arc) == pytest.approx(0.1)
    assert point_piece(0.9, 0.1, 0.3, rows, arc) == pytest.approx(math.hypot(0.1, 0.3))
    assert point_piece(0.0, 0.0, 0.0, rows, arc) == pytest.approx(0.9)
    corner = math.hypot(0.1, 0.1) - 0.1
    assert point_piece(1.0, 0.0, 0.0, rows, arc) == pytest.approx(corner)
