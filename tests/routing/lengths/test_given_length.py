"""Assemblies of a given length: routed exactly, with radius and clearance kept, or not at all."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.model.given.kit import Duty
from fitcheck.order.cuts import cut_of
from fitcheck.routing.lay.line import Routed, verdict_of
from fitcheck.routing.lengths.assemblies import assembly_findings
from fitcheck.routing.lengths.stock import laid_at_length
from tests import specimens
from tests.specimens.laid import Ground, between, sold_as
from tests.specimens.routing import CLEARANCE, NEED, OUTSIDE, RADIUS, asked, hose, line, only, port
from tests.specimens.routing import routed as stage

X, Y = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
LEAD = 0.060


def u_turn(offset: float = 0.5, **more: object) -> Ground:
    """Two ports side by side that both point forward."""
    return between((-0.3, -offset / 2, 0.6), X, (-0.3, offset / 2, 0.6), X, **more)


def holds(where: Ground, laid: Routed | None, length: float) -> None:
    """A route has that length, is valid by both checkers, and keeps clear of itself."""
    assert laid is not None
    assert laid.curve.length == pytest.approx(length, abs=1e-4)
    assert laid.curve.radius >= RADIUS
    assert verdict_of(where.obstacles, laid, ()).kept
    assert where.faults(laid) == []
    assert apart(laid) >= OUTSIDE


def apart(laid: Routed) -> float:
    """Smallest distance between points of the hose half a turn or more apart along it."""
    points = laid.curve.sample(0.004)
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(step)])
    away = np.linalg.norm(points[:, None] - points[None], axis=2)
    away[np.abs(along[:, None] - along[None]) < math.pi * RADIUS] = np.inf
    return float(away.min())


@pytest.mark.parametrize("times", [1.0005, 1.01, 1.05, 1.3, 1.8, 2.5])
def test_a_u_turn_can_have_any_length(times: float) -> None:
    where = u_turn()
    shortest = where.route()
    assert shortest.curve.length == pytest.approx(2 * LEAD + math.pi * RADIUS + 0.3, abs=1e-6)
    length = times * shortest.curve.length
    holds(where, laid_at_length(where.obstacles, shortest, length, ()), length)


def test_a_straight_hose_is_bowed_out() -> None:
    where = between((-0.5, 0.0, 0.6), X, (0.5, 0.0, 0.6), (-1.0, 0.0, 0.0))
    straight = where.route()
    assert len(straight.curve.angle) == 0
    laid = laid_at_length(where.obstacles, straight, 1.04, ())
    holds(where, laid, 1.04)
    assert laid is not None
    # an arch of two straight flanks is the flattest shape of that length over its chord
    aside = np.abs(laid.curve.sample(0.002) - [0.0, 0.0, 0.6])[:, 1:].max()
    assert 0.02 < aside < math.sqrt(1.04**2 - 1) / 2


@settings(max_examples=8, deadline=None)
@given(
    st.tuples(st.floats(-0.4, 0.4), st.floats(-0.3, 0.3), st.floats(0.4, 0.8)),
    st.tuples(st.floats(-0.4, 0.4), st.floats(-0.3, 0.3), st.floats(0.4, 0.8)),
    st.integers(0, 5),
    st.integers(0, 5),
    st.floats(1.01, 1.6),
)
def test_any_ports_in_a_room_take_a_longer_hose(
    first: tuple[float, float, float],
    last: tuple[float, float, float],
    way: int,
    other: int,
    times: float,
) -> None:
    if math.dist(first, last) < 4 * RADIUS:
        return
    ways = [tuple(sign * row) for row in np.eye(3) for sign in (1.0, -1.0)]
    where = between(first, ways[way], last, ways[other])
    shortest = where.route()
    length = times * shortest.curve.length
    laid = laid_at_length(where.obstacles, shortest, length, ())
    holds(where, laid, length)
    again = laid_at_length(where.obstacles, shortest, length, ())
    assert laid is not None
    assert again is not None
    assert np.array_equal(laid.curve.legs, again.curve.legs)


def test_nothing_is_shorter_than_the_shortest() -> None:
    where = u_turn()
    shortest = where.route()
    assert laid_at_length(where.obstacles, shortest, 0.999 * shortest.curve.length, ()) is None
    assert laid_at_length(where.obstacles, shortest, shortest.curve.length, ()) is shortest


def tunnel() -> Ground:
    """Facing ports in a square tunnel one millimetre wider all around than the hose needs."""
    half = NEED + 0.001
    low, high = (-0.8, -half, 0.6 - half), (0.8, half, 0.6 + half)
    return between((-0.5, 0.0, 0.6), X, (0.5, 0.0, 0.6), (-1.0, 0.0, 0.0), low=low, high=high)


def test_a_tunnel_leaves_no_room_for_a_bow() -> None:
    where = tunnel()
    straight = where.route()
    assert laid_at_length(where.obstacles, straight, 1.05, ()) is None


def test_a_slot_is_bowed_along_itself() -> None:
    low, high = (-0.8, -0.5, 0.55), (0.8, 0.5, 0.65)
    where = between((-0.5, 0.0, 0.6), X, (0.5, 0.0, 0.6), (-1.0, 0.0, 0.0), low=low, high=high)
    laid = laid_at_length(where.obstacles, where.route(), 1.2, ())
    holds(where, laid, 1.2)
    assert laid is not None
    assert np.abs(laid.curve.sample(0.005)[:, 2] - 0.6).max() <= 0.05 - NEED + 1e-6


def test_a_hose_around_a_body_can_be_bowed() -> None:
    body = ((-0.1, -0.75, 0.0), (0.1, 0.3, 1.2))
    where = between((-0.6, -0.3, 0.6), X, (0.6, -0.3, 0.6), (-1.0, 0.0, 0.0), bodies=[body])
    shortest = where.route()
    assert not shortest.direct
    for times in (1.02, 1.25):
        length = times * shortest.curve.length
        holds(where, laid_at_length(where.obstacles, shortest, length, ()), length)


# --- as reported by the stage


def run(offset: float, *lengths: float, duty: Duty = "high pressure", **room: object):  # type: ignore[no-untyped-def]
    """The stage on a U-turn of an assembly sold in these lengths."""
    kind = sold_as(hose(), *lengths)
    ports = (
        port("a", (-0.3, -offset / 2, 0.6), X),
        port("b", (-0.3, offset / 2, 0.6), X),
    )
    scenario = asked([line("run", "boat.a", "boat.b", duty=duty)], hoses=[kind])
    routes = stage(scenario, specimens.hand_made_space(pitch=0.015, ports=ports, **room))
    return scenario, only(routes), routes.findings


def test_the_shortest_sufficient_stock_length_is_chosen() -> None:
    scenario, found, findings = run(0.5, 0.7, 0.75, 0.8, 1.0, 1.5)
    assert found.length == pytest.approx(0.734159, abs=1e-6)
    assembly = found.assembly
    assert assembly is not None
    # 0.734159 * 1.04 = 0.7635, and 0.8 less 4 % is 0.768
    assert (assembly.length, assembly.stock, assembly.stands) == (0.8, True, True)
    legs = sum(math.dist(leg.start, leg.end) for leg in assembly.legs)
    arcs = sum(bend.angle * bend.radius for bend in assembly.bends)
    assert legs + arcs == pytest.approx(0.8, abs=1e-4)
    assert "assembly-laid" in {finding.rule for finding in findings}
    a_line, kind = scenario.kit.lines[0], scenario.kit.hoses[0]
    cut = cut_of(found, a_line, kind, scenario.kit.allowances)
    assert cut.cut_length == 0.8


def test_a_made_to_length_hose_still_reaches_when_shortened() -> None:
    for offset in (0.42, 0.5, 0.613):
        _, found, _ = run(offset)
        assembly = found.assembly
        assert assembly is not None
        assert assembly.stands
        assert 0.96 * assembly.length >= found.length - 1e-4
        assert assembly.length <= found.length / 0.96 + 0.010 + 1e-9


def test_without_pressure_no_length_change_is_checked() -> None:
    _, found, _ = run(0.5, 0.8, duty="product")
    assert found.assembly is not None
    assert (found.assembly.longer, found.assembly.shorter) == (None, None)
    assert found.assembly.stands


def test_a_tube_is_not_an_assembly() -> None:
    where = u_turn()
    assert only(stage(where.scenario, where.space)).assembly is None


def test_no_room_for_the_bow_is_reported() -> None:
    half = NEED + 0.001
    low, high = (-0.8, -half, 0.6 - half), (0.8, half, 0.6 + half)
    ports = (port("a", (-0.5, 0.0, 0.6), X), port("b", (0.5, 0.0, 0.6), (-1.0, 0.0, 0.0)))
    kind = sold_as(hose(), 1.2, 2.0)
    scenario = asked([line("run", "boat.a", "boat.b", duty="high pressure")], hoses=[kind])
    routes = stage(
        scenario, specimens.hand_made_space(pitch=0.015, low=low, high=high, ports=ports)
    )
    found = only(routes)
    assert found.assembly is not None
    assert (found.assembly.length, found.assembly.laid) == (1.2, False)
    (said,) = [row for row in routes.findings if row.rule == "assembly-not-laid"]
    assert said.subject == "run"
    assert said.value == pytest.approx(0.2, abs=1e-6)
    assert any(row.rule == "straight-pressure-hose" for row in routes.findings)
    cut = cut_of(found, scenario.kit.lines[0], kind, scenario.kit.allowances)
    assert cut.cut_length == pytest.approx(1.04)


def test_failing_only_under_pressure_is_a_separate_finding() -> None:
    _, found, _ = run(0.5, 0.8)
    assert found.assembly is not None
    weak = replace(found, assembly=replace(found.assembly, longer=False))
    (said,) = assembly_findings([weak])
    assert said.rule == "assembly-under-pressure"
    assert "longer" in said.text
    assert CLEARANCE > 0
