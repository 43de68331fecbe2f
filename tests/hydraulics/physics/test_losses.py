"""Losses of one hose: regimes, parts, trends; the published values are in test_sources."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fitcheck.errors import OutOfRangeError
from fitcheck.hydraulics.physics.losses import (
    HoseLoss,
    bend_coefficient,
    friction_band,
    friction_factor,
    hose_loss,
    resistance_loss,
    valve_loss,
)
from fitcheck.hydraulics.physics.pumps import Curve, npsh_available
from fitcheck.hydraulics.physics.seawater import water
from tests.specimens.water import LITRE_PER_MINUTE, PUMP_CURVE, a_bend, curve

SEA = water(0.0352, 15.0)


def lost(litres: float = 9.5, **changes: Any) -> HoseLoss:
    """A metre of half-inch hose with two bends."""
    plain: dict[str, Any] = {
        "flow": litres * LITRE_PER_MINUTE,
        "bore": 0.0127,
        "roughness": 1.5e-6,
        "length": 1.0,
        "bends": (a_bend(90, 0.08), a_bend(45, 0.08)),
        "fittings": 1.0,
        "valve_flow": None,
        "water": SEA,
    }
    return hose_loss(**(plain | changes))


@given(st.floats(0.05, 60.0), st.floats(1.001, 2.0))
def test_loss_grows_with_flow(litres: float, factor: float) -> None:
    assert lost(litres * factor).total > lost(litres).total


@given(st.floats(0.5, 40.0), st.floats(0.006, 0.025), st.floats(1.02, 2.0))
def test_loss_decreases_with_bore(litres: float, bore: float, factor: float) -> None:
    """Outside the transition band, where both answers are possible."""
    narrow, wide = lost(litres, bore=bore), lost(litres, bore=bore * factor)
    assume(not narrow.transition)
    assume(not wide.transition)
    assert wide.total < narrow.total


@given(st.floats(0.05, 60.0))
def test_loss_does_not_depend_on_flow_direction(litres: float) -> None:
    assert lost(-litres) == lost(litres)


@given(st.floats(0.1, 60.0), st.floats(0.1, 5.0))
def test_friction_is_proportional_to_length(litres: float, length: float) -> None:
    one, more = lost(litres), lost(litres, length=length)
    assert more.friction == pytest.approx(one.friction * length, rel=1e-12)
    assert (more.bends, more.fittings) == (one.bends, one.fittings)


def test_still_water_loses_nothing() -> None:
    assert lost(0.0).total == 0.0
    assert lost(0.0).at_most == 0.0


def test_laminar_loss_follows_hagen_poiseuille() -> None:
    """dp = 128 mu L Q / (pi d^4)."""
    flow = 0.5 * LITRE_PER_MINUTE
    found = lost(0.5, bends=(), fittings=0.0)
    assert found.reynolds < 1000
    assert found.friction == pytest.approx(
        128 * SEA.viscosity * flow / (math.pi * 0.0127**4), rel=1e-4
    )


@given(st.floats(100.0, 1e6), st.floats(0.0, 0.01))
def test_friction_factor_is_continuous(reynolds: float, roughness: float) -> None:
    here, there = (friction_factor(reynolds * k, roughness) for k in (1.0, 1.0001))
    assert there == pytest.approx(here, rel=0.002)


@given(st.floats(2001.0, 3999.0), st.floats(0.0, 0.01))
def test_the_band_contains_the_factor_used_for_solving(reynolds: float, roughness: float) -> None:
    low, high = friction_band(reynolds, roughness)
    assert low <= friction_factor(reynolds, roughness) <= high
    assert low <= 64.0 / reynolds


@given(st.floats(0.1, 60.0))
def test_the_judged_loss_is_never_less_than_expected(litres: float) -> None:
    found = lost(litres)
    assert found.at_most >= found.total
    assert found.transition == (2000 < found.reynolds < 4000)
    if not found.transition:
        assert found.at_most == pytest.approx(found.total)


def test_in_transition_the_turbulent_loss_is_judged() -> None:
    """At 1.6 L/min the half-inch hose runs at a Reynolds number of about 2250."""
    found = lost(1.6, bends=(), fittings=0.0)
    upper = friction_band(found.reynolds, 1.5e-6 / 0.0127)[1]
    assert found.transition
    assert upper > 1.3 * found.friction_factor
    assert found.at_most / found.total == pytest.approx(upper / found.friction_factor)


@given(st.floats(5.0, 179.0), st.floats(1.5, 15.0), st.floats(4e3, 1e5))
def test_a_bend_adds_loss_beyond_its_arc(degrees: float, ratio: float, reynolds: float) -> None:
    factor = friction_factor(reynolds, 0.0)
    excess = bend_coefficient(math.radians(degrees), ratio * 0.0127, 0.0127, factor, reynolds)
    assert 0.0 < excess < 0.6


def test_counting_the_arc_twice_is_detected() -> None:
    """1.65 m with three square bends of 65 mm: the arcs' friction is 17 % of the loss."""
    bends = (a_bend(90, 0.065),) * 3
    found = lost(10.0, length=1.65, bends=bends, fittings=0.0, water=water(0.0352, 25.0))
    arcs = found.friction * 3 * math.pi / 2 * 0.065 / 1.65
    assert arcs / found.total == pytest.approx(0.17, abs=0.015)


@given(st.floats(0.1, 50.0), st.floats(0.1, 10.0))
def test_a_valve_passes_its_flow_at_one_bar(litres: float, share: float) -> None:
    valve = litres * LITRE_PER_MINUTE
    assert valve_loss(share * valve, valve, 1000.0) == pytest.approx(1e5 * share**2)


def test_a_module_has_its_given_loss_at_its_flow() -> None:
    assert resistance_loss(2.0, 100.0, 2.0, 1.7) == 100.0
    assert resistance_loss(2.0, 100.0, 2.0, 1.7, dirt=50.0) == 150.0
    assert resistance_loss(4.0, 100.0, 2.0, 2.0) == 400.0


# --- pump curves ------------------------------------------------------------------------------


@given(st.floats(0.0, 50.0), st.floats(0.0, 50.0))
def test_a_falling_curve_is_interpolated_monotonically(first: float, second: float) -> None:
    pump = Curve(curve(PUMP_CURVE))
    low, high = sorted((first, second))
    assert pump.head(low * LITRE_PER_MINUTE) >= pump.head(high * LITRE_PER_MINUTE) - 1e-12


def test_a_curve_goes_through_its_points() -> None:
    pump = Curve(curve(PUMP_CURVE))
    for flow, head in PUMP_CURVE:
        assert pump.head(flow * LITRE_PER_MINUTE) == pytest.approx(head)
    assert pump.shut_off_head == 14.0
    assert not pump.droops


@pytest.mark.parametrize("litres", [-0.1, 50.1])
def test_a_curve_is_never_extrapolated(litres: float) -> None:
    with pytest.raises(OutOfRangeError, match="flow through the pump"):
        Curve(curve(PUMP_CURVE)).head(litres * LITRE_PER_MINUTE)


def test_a_drooping_curve_is_detected() -> None:
    assert Curve(curve(((0, 10.0), (10, 11.0), (20, 8.0)))).droops


def test_flows_of_a_curve_must_increase() -> None:
    with pytest.raises(ValueError, match="rising flow"):
        Curve(curve(((0, 10.0), (0, 9.0))))


@given(st.floats(-3.0, 5.0), st.floats(0.0, 5.0))
def test_npsh_decreases_by_lift_and_friction_head(lift: float, friction: float) -> None:
    level = npsh_available(101_325.0, 2_339.0, 1025.0, 0.0, 0.0)
    found = npsh_available(101_325.0, 2_339.0, 1025.0, lift, friction)
    assert level - found == pytest.approx(lift + friction, abs=1e-9)
