"""Narrower ends, coils, pulses: losses by hand, and continuity and monotonicity."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.errors import ScenarioError
from fitcheck.hydraulics.physics.coils import coil_friction_factor, critical_reynolds
from fitcheck.hydraulics.physics.losses import friction_factor, velocity_head
from fitcheck.hydraulics.physics.seawater import water
from fitcheck.hydraulics.physics.tails import tails_loss
from fitcheck.hydraulics.rules.acceleration import acceleration_head
from fitcheck.model.given.kit import Coil, Kit
from fitcheck.order import make_order
from fitcheck.scenario import read_kit
from tests import ROOT
from tests.specimens.explained import explain_line
from tests.specimens.water import (
    LITRE_PER_MINUTE,
    OCEAN,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_hose,
    with_line,
)
from tests.specimens.water_solved import operation, solved

KIT = ROOT / "scenarios" / "demo_kit.toml"
FLOW = 10 * LITRE_PER_MINUTE
BORE = 0.0127
BORES = st.floats(0.006, 0.025)
NUMBERS = st.floats(50.0, 9e4)


def changed_hose(name: str, **changes: Any) -> Kit:
    kit = plant_kit()
    return with_hose(kit, replace(kit.hose(name), **changes))


# --- narrower ends ----------------------------------------------------------------------------


def test_tails_of_80_percent_bore_lose_nearly_two_velocity_heads() -> None:
    """Each contracts (0.562) and expands (0.316) the flow; its own friction is added."""
    of = water(OCEAN, 20.0)
    speed = FLOW / (math.pi * BORE**2 / 4)
    tail = 0.8 * BORE
    number = of.density * (speed / 0.64) * tail / of.viscosity
    rubbed = friction_factor(number, 0.0) * 0.030 / tail / 0.8**4
    lost = tails_loss(FLOW, BORE, tail, 0.0, of) / velocity_head(speed, of.density)
    assert lost == pytest.approx(2 * (0.562 + 0.316 + rubbed), rel=2e-3)


def test_a_tail_as_wide_as_its_hose_loses_nothing() -> None:
    assert tails_loss(FLOW, BORE, BORE, 0.0, water(OCEAN, 20.0)) == 0.0


@given(BORES, st.floats(0.4, 0.99), st.floats(0.4, 0.99))
def test_narrower_tails_never_lose_less(bore: float, one: float, two: float) -> None:
    of = water(OCEAN, 20.0)
    wide, narrow = max(one, two) * bore, min(one, two) * bore
    assert tails_loss(FLOW, bore, narrow, 0.0, of) >= tails_loss(FLOW, bore, wide, 0.0, of)


def test_tails_raise_the_vacuum_by_their_loss() -> None:
    plain = operation()
    tailed = operation(changed_hose("suction_19", tail_bore=0.014))
    more = sum(tailed.losses[line].tails for line in ("sea_to_strainer", "strainer_to_pump"))
    assert more > 100.0
    fall = plain.pressures["feed_pump.inlet"] - tailed.pressures["feed_pump.inlet"]
    assert fall == pytest.approx(more, rel=1e-6)


# --- coils ------------------------------------------------------------------------------------


@given(NUMBERS, st.floats(1.0, 1.05), BORES, st.floats(8.0, 200.0))
def test_coil_loss_is_continuous_and_increases_with_flow(
    number: float, step: float, bore: float, ratio: float
) -> None:
    """f Re^2 represents the loss; over a step of s it grows by between s and s^10."""
    diameter = ratio * bore
    low = coil_friction_factor(number, bore, diameter, 1.5e-6)
    high = coil_friction_factor(number * step, bore, diameter, 1.5e-6)
    assert high * step**2 >= low * (1 - 1e-12)
    assert high * step**2 <= low * step**10 * (1 + 1e-12)


@given(NUMBERS, BORES, st.floats(8.0, 200.0))
def test_a_coil_never_loses_less_than_straight_hose(
    number: float, bore: float, ratio: float
) -> None:
    curved = coil_friction_factor(number, bore, ratio * bore, 1.5e-6)
    assert curved >= friction_factor(number, 1.5e-6 / bore)


def test_a_tighter_coil_stays_laminar_for_longer() -> None:
    assert critical_reynolds(BORE, 0.2) > critical_reynolds(BORE, 0.5) > 2300.0


def coiled() -> Kit:
    return with_line(plant_kit(), "sea_to_strainer", coil=Coil(turns=3, diameter=0.4))


def test_a_coil_adds_its_own_friction_and_its_water() -> None:
    """Three turns of 0.4 m are 3.77 m of hose."""
    plain, found = operation(), operation(coiled())
    assert found.losses["sea_to_strainer"].coil > 0.0
    fall = plain.pressures["strainer.inlet"] - found.pressures["strainer.inlet"]
    assert fall == pytest.approx(found.losses["sea_to_strainer"].coil, rel=1e-9)
    held = {row.where: row.volume for row in solved(coiled()).held}
    length = 0.90 + 3 * math.pi * 0.4
    assert held["sea_to_strainer"] == pytest.approx(math.pi / 4 * 0.01905**2 * length)


def test_a_coil_is_reported_and_one_too_tight_fails() -> None:
    told = [row for row in solved(coiled()).findings if row.rule.startswith("coil")]
    assert [(row.rule, row.severity) for row in told] == [("coil", "note")]
    tight = with_line(plant_kit(), "sea_to_strainer", coil=Coil(turns=3, diameter=0.2))
    rules = {row.rule: row for row in solved(tight).findings}
    assert rules["coil-too-tight"].severity == "fail"
    assert rules["coil-too-tight"].limit == pytest.approx(0.24)


def test_the_order_includes_the_hose_of_the_coil() -> None:
    lengths = {}
    for kit in (plant_kit(), coiled()):
        of, routes = plant_scenario(kit), plant_routes(plant_scenario(kit))
        order = make_order(of, plant_space(of), routes, solved(kit))
        lengths[kit is None, len(lengths)] = {cut.line: cut.cut_length for cut in order.cuts}
    plain, more = lengths.values()
    assert more["sea_to_strainer"] - plain["sea_to_strainer"] == pytest.approx(3.77, abs=0.02)


def test_a_made_up_hose_has_no_coil(tmp_path: Path) -> None:
    text = KIT.read_text()
    coil = 'duty = "high pressure"\ncoil = { turns = 2, diameter = "400 mm" }'
    file = tmp_path / "kit.toml"
    file.write_text(text.replace('duty = "high pressure"', coil, 1))
    with pytest.raises(ScenarioError, match="made-up assembly"):
        read_kit(file)


def test_a_tail_wider_than_its_hose_is_a_fault(tmp_path: Path) -> None:
    file = tmp_path / "kit.toml"
    text = KIT.read_text()
    file.write_text(text.replace('bore = "12.7 mm"', 'bore = "12.7 mm"\ntail_bore = "13 mm"', 1))
    with pytest.raises(ScenarioError, match="tail_bore"):
        read_kit(file)


# --- explained --------------------------------------------------------------------------------


def test_tails_and_coil_are_explained_with_correct_arithmetic() -> None:
    kit = coiled()
    kit = with_hose(kit, replace(kit.hose("suction_19"), tail_bore=0.014))
    of = plant_scenario(kit)
    told = explain_line(of, plant_space(of), plant_routes(of), "sea_to_strainer")
    words = [step.what for step in told.steps]
    assert "coil: friction" in words
    assert "tails: loss of both ends" in words
    names = {name: getattr(math, name) for name in ("pi", "log", "sin", "sqrt")}
    for step in told.steps:
        if step.numbers:
            worked = eval(step.numbers, {"__builtins__": {}}, names)  # noqa: S307
            assert worked == pytest.approx(step.value, rel=2e-6), step.what


# --- pulses -----------------------------------------------------------------------------------


def test_acceleration_head_by_hand() -> None:
    """1.5 m of 12.7 mm at 9.5 L/min, three plungers: 1.5 * 1.25 * 1450 * 0.066 / 14.71."""
    speed = 9.5 / 60_000 / (math.pi / 4 * 0.0127**2)
    assert acceleration_head(1.5, speed, 1450 / 60, 3) == pytest.approx(12.2, abs=0.05)


def test_acceleration_head_is_noted_if_the_pump_speed_is_given() -> None:
    kit = plant_kit()
    assert all(row.rule != "acceleration-head" for row in solved(kit).findings)
    pump = kit.high_pressure_pump
    assert pump is not None
    kit = replace(kit, high_pressure_pump=replace(pump, speed=1450 / 60, plungers=3))
    found = next(row for row in solved(kit).findings if row.rule == "acceleration-head")
    assert found.severity == "note"
    speed = pump.flow / (math.pi / 4 * 0.0127**2)
    assert found.value == pytest.approx(acceleration_head(1.65 + 1.40, speed, 1450 / 60, 3))


# --- the setting for a pressure ---------------------------------------------------------------


@settings(max_examples=10, deadline=None)
@given(st.floats(0.25e5, 0.35e5))
def test_the_widest_setting_leaves_exactly_the_minimum_pressure(wanted: float) -> None:
    kit = plant_kit()
    kit = replace(kit, limits=replace(kit.limits, inlet_pressure_min=wanted))
    bypass = solved(kit).bypass
    assert bypass is not None
    assert bypass.widest is not None
    after = solved(with_line(kit, "bypass", valve_flow=bypass.widest))
    least = min(row.worst for row in after.governing if row.said.key == "governing.inlet-pressure")
    assert least == pytest.approx(wanted, abs=200.0)
