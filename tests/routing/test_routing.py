"""Routing as a stage: invariants of every route, exact answers around obstacles, holes, crowds."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from fitcheck.geometry.box import as_point, rotation
from fitcheck.model.found.routes import HoseRoute, Routes, Unrouted
from fitcheck.model.found.space import UNSEEN, Known, Space
from fitcheck.model.given.scenario import LineChoice
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.routing.lay import line as lay_line
from fitcheck.routing.lay.line import Routed, route_line
from tests import specimens
from tests.planted.problem import ready
from tests.planted.problems import single
from tests.specimens.laid import between
from tests.specimens.routing import (
    CLEARANCE,
    NEED,
    OUTSIDE,
    RADIUS,
    asked,
    check_curve,
    hole,
    hose,
    line,
    meshed,
    modules_of,
    only,
    port,
    quick_bound,  # noqa: F401
    routed,
    withdrawal,
)

Points = NDArray[np.float64]


# --- what holds for every route ---------------------------------------------------------------


def distances(points: Points, triangles: Points) -> Points:
    """Distance of points to the nearest triangle by brute force over dense samples of it."""
    weights = [(i / 40, j / 40, 1 - (i + j) / 40) for i in range(41) for j in range(41 - i)]
    cloud = np.concatenate([np.einsum("k,nkd->nd", np.array(w), triangles) for w in weights])
    away = [np.linalg.norm(cloud - point, axis=1).min() for point in points]
    return np.array(away)


def away_from_ends(found: HoseRoute) -> Points:
    """The path without its straight ends."""
    along = np.concatenate([[0], np.linalg.norm(np.diff(found.path, axis=0), axis=1).cumsum()])
    inner = (along > found.straight) & (along < along[-1] - found.straight)
    return found.path[inner]


def past_a_block(
    start: tuple[float, float, float] = (-0.9, 0.0, 0.3),
    block: tuple[specimens.Corner, specimens.Corner] = ((-0.2, -0.5, 0.0), (0.2, 0.5, 0.8)),
    radius: float = RADIUS,
) -> Routes:
    """Two ports facing each other with a block between."""
    triangles = specimens.join(specimens.room(), specimens.box(*block))
    ports = (port("a", start, (1, 0, 0)), port("b", (0.9, 0.0, 0.3), (-1, 0, 0)))
    scenario = asked([line("one", "boat.a", "boat.b")], hoses=[hose(radius=radius)])
    return routed(scenario, meshed(triangles, ports=ports))


@settings(max_examples=6, deadline=None, derandomize=True)
@given(st.integers(0, 1000))
def test_random_blocks_are_passed_with_radius_and_clearance(seed: int) -> None:
    rng = np.random.default_rng(seed)
    low = np.array([rng.uniform(-0.45, 0.1), rng.uniform(-0.75, -0.2), 0.0])
    high = low + np.array([rng.uniform(0.1, 0.4), rng.uniform(0.3, 0.7), rng.uniform(0.3, 0.9)])
    triangles = specimens.join(specimens.room(), specimens.box(as_point(low), as_point(high)))
    start = (-0.9, rng.uniform(-0.5, 0.5), rng.uniform(0.15, 1.0))
    end = (0.9, rng.uniform(-0.5, 0.5), rng.uniform(0.15, 1.0))
    ports = (port("a", start, (1, 0, 0)), port("b", end, (-1, 0, 0)))
    scenario = asked(
        [line("one", "boat.a", "boat.b")], hoses=[hose(radius=rng.uniform(0.05, 0.14))]
    )
    found = only(routed(scenario, meshed(triangles, ports=ports)))
    check_curve(found)
    box = specimens.upright_box(as_point(low), as_point(high))
    inner = away_from_ends(found)
    assert box.distance(inner).min() >= NEED - 1e-6
    walls = np.concatenate([inner - np.array(specimens.LOW), np.array(specimens.HIGH) - inner])
    assert walls.min() >= NEED - 1e-6
    assert found.clearance >= CLEARANCE - 1e-6


def test_reversed_ports_give_the_same_length() -> None:
    block = specimens.box((-0.2, -0.5, 0.0), (0.2, 0.5, 0.8))
    ports = (port("a", (-0.9, 0.1, 0.3), (1, 0, 0)), port("b", (0.9, 0.0, 0.4), (-1, 0, 0)))
    space = meshed(specimens.join(specimens.room(), block), ports=ports)
    forth = only(routed(asked([line("one", "boat.a", "boat.b")]), space))
    back = only(routed(asked([line("one", "boat.b", "boat.a")]), space))
    assert back.length == pytest.approx(forth.length, abs=1e-9)


def test_a_rotated_and_moved_compartment_gives_the_same_length() -> None:
    block = specimens.box((-0.2, -0.5, 0.0), (0.2, 0.5, 0.8))
    triangles = specimens.join(specimens.room(), block)
    ends = [((-0.9, 0.0, 0.3), (1.0, 0, 0)), ((0.9, 0.0, 0.3), (-1.0, 0, 0))]
    lengths = []
    for angles, shift in (((0.0, 0, 0), (0.0, 0, 0)), ((0.2, -0.3, 0.7), (0.03, 0.011, -0.02))):
        turn = rotation(angles)
        moved = specimens.moved(triangles, turn, shift)
        ports = tuple(
            port(name, turn @ np.array(at) + np.array(shift), turn @ np.array(way))
            for name, (at, way) in zip("ab", ends, strict=True)
        )
        low, high = moved.min(axis=(0, 1)), moved.max(axis=(0, 1))
        space = meshed(moved, low=as_point(low), high=as_point(high), ports=ports)
        lengths.append(only(routed(asked([line("one", "boat.a", "boat.b")]), space)).length)
    # only the search may differ, not the grid
    assert lengths[1] == pytest.approx(lengths[0], rel=3e-3)


def test_the_same_problem_gives_the_same_curve() -> None:
    one, two = only(past_a_block()), only(past_a_block())
    assert (one.path == two.path).all()


def test_a_needless_corner_is_removed() -> None:
    """Over from the port, around the edge of the block, in at the other port: three bends."""
    block = ((-0.1, -0.1, 0.4), (0.3, 0.5, 1.1))
    where = between(
        (-0.5, 0.1, 0.5), (0.0, 0.0, 1.0), (0.6, -0.2, 0.7), (-1.0, 0.0, 0.0), bodies=[block]
    )
    assert len(where.route().curve.angle) == 3


# --- exact answers ----------------------------------------------------------------------------


def test_a_clear_direct_curve_is_its_own_bound() -> None:
    ports = (port("a", (-0.5, 0.0, 0.4), (1, 0, 0)), port("b", (0.4, 0.3, 0.4), (0, -1, 0)))
    found = only(
        routed(asked([line("one", "boat.a", "boat.b")]), meshed(specimens.room(), ports=ports))
    )
    # an L with 60 mm straight at both ends: legs 0.78 and 0.18 beyond, hypot and a quarter
    # (Dubins 1957, arc-straight-arc with both arcs to the same side)
    exact = 0.12 + math.hypot(0.84 - RADIUS, 0.24 - RADIUS) + math.pi * RADIUS / 2
    assert found.length == pytest.approx(exact, abs=1e-9)
    assert found.bound_kind == "direct"
    assert found.bound == pytest.approx(exact, abs=1e-8)


def post(radius: float, sides: int = 720) -> Points:
    """A post along y through the room, centred at x = 0, z = 0.6; its edges on the true circle."""
    body = specimens.cylinder(radius, 1.5, (0.0, 0.0, 0.0), sides=sides)
    quarter = rotation((0.0, 0.0, math.pi / 2))
    return specimens.moved(body, quarter, (0.0, 0.0, 0.6))


def test_a_taut_hose_around_a_post_by_elementary_geometry() -> None:
    """Two tangents and the arc between: 2 sqrt(a^2 - rho^2) + rho (Theta - 2 acos(rho / a)).

    The ports point along the tangents, so the taut curve needs no other bend. The post's radius
    makes the clearance arc exactly the bend radius: one bend is the exact optimum.
    """
    rho = 0.150
    away, lean = 0.55, math.acos(rho / 0.55)
    leg = math.sqrt(away**2 - rho**2)
    turn = math.radians(178)
    centre = np.array([0.0, 0.0, 0.6])
    first = math.pi / 2 + turn / 2
    last = math.pi / 2 - turn / 2
    exact = 2 * leg + rho * (turn - 2 * lean)
    ends = []
    for angle, side in ((first, -1.0), (last, 1.0)):
        at = centre + away * np.array([math.cos(angle), 0.0, math.sin(angle)])
        touch = angle + side * lean
        foot = centre + rho * np.array([math.cos(touch), 0.0, math.sin(touch)])
        ends.append((at, foot - at))
    ports = (port("a", *ends[0]), port("b", *ends[1]))
    triangles = specimens.join(specimens.room(), post(rho - NEED))
    scenario = asked([line("one", "boat.a", "boat.b")], hoses=[hose(radius=rho)])
    found = only(routed(scenario, meshed(triangles, ports=ports)))
    assert found.length == pytest.approx(exact, abs=4e-4)
    assert found.length >= exact - 1e-5
    assert found.bound <= exact + 1e-9


def test_a_hose_around_a_thick_post_is_within_half_a_per_cent() -> None:
    """The clearance arc is wider than the bend radius: several bends follow it closely."""
    rho, away = 0.250, 0.58
    lean, leg = math.acos(rho / away), math.sqrt(away**2 - rho**2)
    turn = math.radians(170)
    centre = np.array([0.0, 0.0, 0.6])
    ends = []
    for angle, side in ((math.pi / 2 + turn / 2, -1.0), (math.pi / 2 - turn / 2, 1.0)):
        at = centre + away * np.array([math.cos(angle), 0.0, math.sin(angle)])
        touch = angle + side * lean
        foot = centre + rho * np.array([math.cos(touch), 0.0, math.sin(touch)])
        ends.append((at, foot - at))
    exact = 2 * leg + rho * (turn - 2 * lean)
    ports = (port("a", *ends[0]), port("b", *ends[1]))
    triangles = specimens.join(specimens.room(), post(rho - NEED))
    scenario = asked([line("one", "boat.a", "boat.b")], hoses=[hose(radius=0.06)])
    found = only(routed(scenario, meshed(triangles, ports=ports)))
    assert exact - 1e-5 <= found.length <= 1.005 * exact
    assert found.bound <= exact + 1e-9


# --- things in the way ------------------------------------------------------------------------


def test_a_thin_sheet_is_not_crossed() -> None:
    wall = specimens.sheet(0.0031, (-0.75, 0.0), (0.75, 0.7))
    ports = (port("a", (-0.5, 0.0, 0.3), (1, 0, 0)), port("b", (0.5, 0.0, 0.3), (-1, 0, 0)))
    space = meshed(specimens.join(specimens.room(), wall), ports=ports)
    found = only(routed(asked([line("one", "boat.a", "boat.b")]), space))
    check_curve(found)
    crossing = np.flatnonzero(np.diff(np.sign(found.path[:, 0] - 0.0031)))
    assert (found.path[crossing, 2] > 0.7 + NEED - 0.005).all()
    assert distances(found.path, wall).min() >= NEED - 1e-4


def test_a_slot_with_a_millimetre_to_spare_is_found() -> None:
    """Two sheets leave a slot of need + 1 mm on both sides; the way around is closed."""
    gap = NEED + 0.001
    low = specimens.sheet(0.0, (-0.75, 0.0), (0.75, 0.6 - gap))
    high = specimens.sheet(0.0, (-0.75, 0.6 + gap), (0.75, 1.2))
    ports = (port("a", (-0.6, 0.2, 0.35), (1, 0, 0)), port("b", (0.6, -0.1, 0.8), (-1, 0, 0)))
    space = meshed(specimens.join(specimens.room(), low, high), ports=ports)
    found = only(routed(asked([line("one", "boat.a", "boat.b")]), space))
    check_curve(found)
    assert distances(found.path, specimens.join(low, high)).min() >= NEED - 1e-4


def test_a_declared_hole_is_passed_on_its_axis() -> None:
    wall = specimens.bulkhead(0.0, (0.1, 0.5), 0.03)
    ports = (port("a", (-0.6, -0.3, 0.4), (1, 0, 0)), port("b", (0.6, 0.3, 0.7), (-1, 0, 0)))
    space = meshed(
        specimens.join(specimens.room(), wall),
        ports=ports,
        holes=(hole("gap", (0.0, 0.1, 0.5), (1.0, 0.0, 0.0), 0.03),),
    )
    choice = LineChoice(line="one", holes=("gap",), hose="")
    for first, last in (("boat.a", "boat.b"), ("boat.b", "boat.a")):
        found = only(routed(asked([line("one", first, last)], choices=[choice]), space))
        check_curve(found)
        assert found.holes == ("gap",)
        near = np.abs(found.path[:, 0]) < 0.04
        assert found.path[near, 1:] == pytest.approx(np.tile([0.1, 0.5], (near.sum(), 1)))
        outside = (np.abs(found.path[:, 0]) > 0.08) & (np.abs(found.path[:, 0]) < 0.4)
        assert distances(found.path[outside], wall).min() >= NEED - 1e-4


def test_a_hole_smaller_than_the_hose_is_named() -> None:
    wall = specimens.bulkhead(0.0, (0.1, 0.5), 0.02)
    ports = (port("a", (-0.6, -0.3, 0.4), (1, 0, 0)), port("b", (0.6, 0.3, 0.7), (-1, 0, 0)))
    space = meshed(
        specimens.join(specimens.room(), wall),
        ports=ports,
        holes=(hole("gap", (0.0, 0.1, 0.5), (1.0, 0.0, 0.0), 0.02),),
    )
    choice = LineChoice(line="one", holes=("gap",), hose="")
    (lost,) = routed(asked([line("one", "boat.a", "boat.b")], choices=[choice]), space).hoses
    assert isinstance(lost, Unrouted)
    assert "gap" in lost.reason
    assert lost.missing == pytest.approx(OUTSIDE - 0.02)


def with_unseen(space: Space, low: specimens.Corner, high: specimens.Corner) -> Space:
    """The same space with the cells whose centres are in a box unseen."""
    index = np.stack(np.indices(space.grid.shape), axis=-1)
    centre = space.grid.centre(index)
    inside = ((centre > np.array(low)) & (centre < np.array(high))).all(axis=-1)
    label = np.where(inside, np.uint8(UNSEEN), space.label)
    away = distance_transform_edt(~inside) * space.grid.pitch
    # between centres, so that the cube may be half a diagonal nearer
    least = np.maximum(0.0, away - 0.867 * space.grid.pitch)
    distance = np.minimum(space.distance, least).astype(np.float32)
    return replace(space, label=label, distance=distance)


def test_unseen_cells_block_hoses_as_whole_cubes() -> None:
    ports = (port("a", (-0.9, 0.0, 0.3), (1, 0, 0)), port("b", (0.9, 0.0, 0.3), (-1, 0, 0)))
    space = with_unseen(meshed(specimens.room(), ports=ports), (-0.2, -0.4, 0.0), (0.2, 0.4, 0.6))
    found = only(routed(asked([line("one", "boat.a", "boat.b")]), space))
    check_curve(found)
    cells = np.argwhere(space.label == UNSEEN)
    low = np.array(space.grid.origin) + space.grid.pitch * cells
    away = [
        np.linalg.norm(
            np.maximum(0, np.maximum(low - p, p - low - space.grid.pitch)), axis=1
        ).min()
        for p in found.path[::4]
    ]
    assert min(away) >= NEED - 1e-6


def test_a_hose_with_no_proven_route_is_routed_through_glimpsed_space_with_a_caution() -> None:
    ports = (port("a", (-0.9, 0.0, 0.3), (1, 0, 0)), port("b", (0.9, 0.0, 0.3), (-1, 0, 0)))
    room = meshed(specimens.room(), ports=ports)
    across = with_unseen(room, (-0.1, -1.0, -1.0), (0.1, 1.0, 2.0))
    (lost,) = routed(asked([line("one", "boat.a", "boat.b")]), across).hoses
    assert isinstance(lost, Unrouted)
    known = Known(label=room.label, distance=room.distance, searched=None)
    routes = routed(asked([line("one", "boat.a", "boat.b")]), replace(across, glimpsed=known))
    found = only(routes)
    assert found.length == pytest.approx(1.8, abs=1e-6)
    assert found.weak is not None
    assert abs(found.weak.place[0]) <= 0.1 + 1e-6  # type: ignore[index]
    (touch,) = [row for row in routes.findings if row.rule == "touch"]
    assert touch.bars == ("order_hoses",)


def test_a_proven_route_is_kept_though_glimpsed_space_would_be_shorter() -> None:
    ports = (port("a", (-0.9, 0.0, 0.3), (1, 0, 0)), port("b", (0.9, 0.0, 0.3), (-1, 0, 0)))
    room = meshed(specimens.room(), ports=ports)
    block = with_unseen(room, (-0.2, -0.4, 0.0), (0.2, 0.4, 0.6))
    known = Known(label=room.label, distance=room.distance, searched=None)
    routes = routed(asked([line("one", "boat.a", "boat.b")]), replace(block, glimpsed=known))
    strict = only(routed(asked([line("one", "boat.a", "boat.b")]), block))
    assert only(routes).length == strict.length
    assert only(routes).weak is None


def test_module_boxes_and_withdrawal_spaces_are_kept_clear() -> None:
    (block,) = modules_of(("tank", (-0.2, -0.3, 0.0), (0.2, 0.3, 0.5)))
    block = replace(block, service=(withdrawal((-0.2, -0.3, 0.5), (0.2, 0.3, 0.9)),))
    ports = (port("a", (-0.9, 0.0, 0.3), (1, 0, 0)), port("b", (0.9, 0.0, 0.3), (-1, 0, 0)))
    space = meshed(specimens.room(), ports=ports)
    found = only(routed(asked([line("one", "boat.a", "boat.b")]), space, block))
    check_curve(found)
    assert block.box.distance(found.path).min() >= NEED - 1e-6
    assert block.service[0].box.distance(found.path).min() >= OUTSIDE / 2 - 1e-6


# --- no way -----------------------------------------------------------------------------------


def test_a_closed_bulkhead_gives_no_route_with_a_place() -> None:
    wall = specimens.sheet(0.0, (-0.75, 0.0), (0.75, 1.2))
    ports = (port("a", (-0.6, 0.0, 0.3), (1, 0, 0)), port("b", (0.6, 0.0, 0.3), (-1, 0, 0)))
    space = meshed(specimens.join(specimens.room(), wall), ports=ports, pitch=0.02)
    routes = routed(asked([line("one", "boat.a", "boat.b")]), space)
    (lost,) = routes.hoses
    assert isinstance(lost, Unrouted)
    assert abs(lost.nearest_approach[0]) < 0.05
    assert 0 < lost.missing <= NEED
    (fail,) = [finding for finding in routes.findings if finding.severity == "fail"]
    assert fail.rule == "no-route"
    assert fail.bars == ("cut_joinery", "order_hoses")
    assert fail.place == lost.nearest_approach
    assert "impossible" not in fail.text


def test_too_narrow_a_slot_reports_the_shortfall() -> None:
    gap = NEED - 0.006
    low = specimens.sheet(0.0, (-0.75, 0.0), (0.75, 0.6 - gap))
    high = specimens.sheet(0.0, (-0.75, 0.6 + gap), (0.75, 1.2))
    ports = (port("a", (-0.6, 0.0, 0.6), (1, 0, 0)), port("b", (0.6, 0.0, 0.6), (-1, 0, 0)))
    space = meshed(specimens.join(specimens.room(), low, high), ports=ports)
    (lost,) = routed(asked([line("one", "boat.a", "boat.b")]), space).hoses
    assert isinstance(lost, Unrouted)
    assert lost.missing == pytest.approx(0.006, abs=0.0005)
    assert lost.nearest_approach == pytest.approx((0, 0, 0.6), abs=0.76)
    assert abs(lost.nearest_approach[0]) < 0.03


def test_too_stiff_a_hose_is_reported_without_a_search() -> None:
    """The room is 2 m long and 1.5 m wide; a right-angled turn takes the bend radius ahead."""
    ports = (port("a", (-0.6, 0.0, 0.3), (1, 0, 0)), port("b", (0.0, 0.5, 0.6), (0, -1, 0)))
    space = meshed(specimens.room(), ports=ports, pitch=0.03)
    lines = [line("one", "boat.a", "boat.b", "stiff")]
    (lost,) = routed(asked(lines, hoses=[hose("stiff", radius=5.0)]), space).hoses
    assert isinstance(lost, Unrouted)
    assert "reaches 5.00 m ahead of boat." in lost.reason
    assert 5.0 - 2.3 < lost.missing < 5.0 - 1.5


def test_a_wall_in_front_of_a_port_is_reported(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """70 mm beyond the straight length the hose meets a wall with no room to turn.

    The search, which finds no route, is skipped.
    """
    monkeypatch.setattr(lay_line, "_laid", lambda *_: None)
    tip, face = -0.6 + 0.03, -0.5 + NEED
    wall = specimens.sheet(face, (-0.4, 0.0), (0.4, 0.9))
    ports = (port("a", (-0.6, 0.0, 0.3), (1, 0, 0)), port("b", (0.6, 0.0, 0.3), (-1, 0, 0)))
    space = meshed(specimens.join(specimens.room(), wall), ports=ports)
    lines = [line("one", "boat.a", "boat.b", "stiff")]
    asks = asked(lines, hoses=[hose("stiff", radius=0.6)], straight=0.03)
    (lost,) = routed(asks, space).hoses
    assert isinstance(lost, Unrouted)
    told = re.search(r"at boat.a only (\d+) mm is clear ahead", lost.reason)
    assert told is not None
    assert float(told[1]) == pytest.approx(70, abs=3)
    assert lost.nearest_approach == pytest.approx((tip + 0.07, 0.0, 0.3), abs=0.003)


def test_a_port_in_a_wall_is_named() -> None:
    ports = (port("a", (-0.97, 0.0, 0.3), (-1, 0, 0)), port("b", (0.6, 0.0, 0.3), (-1, 0, 0)))
    space = meshed(specimens.room(), ports=ports)
    (lost,) = routed(asked([line("one", "boat.a", "boat.b")]), space).hoses
    assert isinstance(lost, Unrouted)
    assert "boat.a" in lost.reason


def test_the_remedy_is_a_hose_with_a_smaller_bend_radius() -> None:
    """A well too narrow for the stiff hose to turn in, wide enough for the other."""
    body = [
        specimens.box((-0.3, -0.12, 0.0), (0.3, -0.11, 1.2)),
        specimens.box((-0.3, 0.11, 0.0), (0.3, 0.12, 1.2)),
        specimens.box((-0.13, -0.11, 0.0), (-0.12, 0.11, 1.2)),
        specimens.box((0.12, -0.11, 0.0), (0.13, 0.11, 1.2)),
    ]
    ports = (
        port("a", (-0.04, 0.0, 0.3), (0, 0, 1)),
        port("b", (0.0, 0.04, 0.75), (0, -1, 0)),
    )
    space = meshed(specimens.join(specimens.room(), *body), ports=ports)
    scenario = asked(
        [line("one", "boat.a", "boat.b", "stiff")],
        hoses=[hose("stiff", radius=0.16), hose("supple", radius=0.04)],
        straight=0.03,
    )
    routes = routed(scenario, space)
    (fail,) = [finding for finding in routes.findings if finding.severity == "fail"]
    assert fail.remedy is not None
    (change,) = fail.remedy.changes
    assert change.key == "layout.lines.one.hose"
    assert change.value == "supple"


# --- findings ---------------------------------------------------------------------------------


def test_hoses_within_the_scan_accuracy_share_one_caution() -> None:
    block = specimens.box((-0.2, -0.5, 0.0), (0.2, 0.5, 0.8))
    ports = (port("a", (-0.9, 0.0, 0.3), (1, 0, 0)), port("b", (0.9, 0.0, 0.3), (-1, 0, 0)))
    triangles = specimens.join(specimens.room(), block)
    scenario = asked([line("one", "boat.a", "boat.b")])
    counts = [
        sum(
            finding.rule == "clearance-accuracy"
            for finding in routed(
                scenario,
                meshed(triangles, ports=ports, uncertainty=specimens.unsure(accuracy=accuracy)),
            ).findings
        )
        for accuracy in (0.005, 0.020)
    ]
    assert counts == [0, 1]


def test_uncertainty_grows_with_scale_and_accuracy() -> None:
    found = only(past_a_block())
    ports = (port("a", (-0.9, 0.0, 0.3), (1, 0, 0)), port("b", (0.9, 0.0, 0.3), (-1, 0, 0)))
    block = specimens.box((-0.2, -0.5, 0.0), (0.2, 0.5, 0.8))
    triangles = specimens.join(specimens.room(), block)
    unsure = specimens.unsure(scale_uncertainty=0.01, accuracy=0.015)
    space = meshed(triangles, ports=ports, uncertainty=unsure)
    rough = only(routed(asked([line("one", "boat.a", "boat.b")]), space))
    assert rough.length == pytest.approx(found.length)
    ends = math.sqrt(2) * 0.015
    assert rough.uncertainty == pytest.approx(math.hypot(COVERAGE * 0.01 * rough.length, ends))


def test_a_hose_never_arrives_backwards() -> None:
    """Settling once left the last corner 4 um behind the port of this planted hose."""
    made = ready(single(328))
    laid = route_line(made.obstacles, made.jobs[0], ())
    assert isinstance(laid, Routed)
    path = laid.curve.sample(0.001)
    ends = laid.job.ends
    for step, way in ((path[1] - path[0], ends[0].way), (path[-2] - path[-1], ends[1].way)):
        assert step @ way == pytest.approx(np.linalg.norm(step), abs=1e-9)
