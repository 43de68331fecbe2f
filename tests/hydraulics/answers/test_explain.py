"""Calculations by hand: every printed arithmetic agrees with the stage's result."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from fitcheck.hydraulics import explain_water, solve_water
from fitcheck.model.found.explanation import Explanation, Step
from fitcheck.report import print_explanations
from tests.specimens.explained import explain_line, typed_in
from tests.specimens.water import (
    CUBIC_METRE_PER_HOUR,
    LINES,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_line,
)
from tests.specimens.water_solved import solved


def explained(line: str, state: str = "", **water: object) -> Explanation:
    of = plant_scenario(**water)
    return explain_line(of, plant_space(of), plant_routes(of), line, state)


def step(explanation: Explanation, what: str) -> Step:
    return next(step for step in explanation.steps if step.what.startswith(what))


def named(explanation: Explanation) -> str:
    assert explanation.state is not None
    return explanation.state.name


@pytest.mark.parametrize("line", LINES)
def test_the_arithmetic_gives_the_value(line: str) -> None:
    """Typed into a calculator, the numbers of every step give its result."""
    explanation = explained(line, heel=(0.35,), trim=(-0.03,))
    typed = [row for row in explanation.steps if row.numbers]
    assert len(typed) >= 8
    for row in typed:
        found = typed_in(row)
        assert found == pytest.approx(
            row.value, rel=2e-5, abs=0.06 if row.unit == "Pa" else 1e-6
        ), row.what


def test_the_arithmetic_holds_for_a_valve_that_opens_by_pressure() -> None:
    """Every step, including the loss of the line."""
    wide = 2.0 * CUBIC_METRE_PER_HOUR
    kit = with_line(plant_kit(), "bypass", valve_flow=wide, opens_at=60_000.0)
    of = plant_scenario(kit)
    explanation = explain_line(of, plant_space(of), plant_routes(of), "bypass")
    for row in explanation.steps:
        if row.numbers:
            found = typed_in(row)
            assert found == pytest.approx(row.value, rel=2e-5, abs=0.2), row.what
    reported = solve_water(of, plant_space(of), plant_routes(of)).lines
    loss = next(
        row.loss for row in reported if row.line == "bypass" and row.state == named(explanation)
    )
    assert step(explanation, "loss of the line").value == pytest.approx(loss)


@pytest.mark.parametrize("line", LINES)
def test_the_explanation_matches_the_stage(line: str) -> None:
    explanation = explained(line)
    row = next(
        row for row in solved().lines if row.line == line and row.state == named(explanation)
    )
    assert step(explanation, "loss of the line").value == pytest.approx(row.loss)
    assert step(explanation, "static").value == pytest.approx(row.static)
    worst = max(row.loss for row in solved().lines if row.line == line)
    assert row.loss == pytest.approx(worst)


def test_another_state_can_be_named() -> None:
    states = [state.name for state in solved().states if state.doing == "running"]
    told = explained("product", states[-1])
    assert told.state is not None
    assert told.state.name == states[-1]


def test_a_hose_without_a_route_has_no_calculation() -> None:
    of = plant_scenario()
    rows = explain_water(of, plant_space(of), plant_routes(of, lost=("product",)), ())
    assert "product" not in {name for row in rows for name in row.names}


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_every_step_is_printed_with_its_source(units: str) -> None:
    explanation = explained("bypass")
    console = Console(width=400, record=True, file=io.StringIO())
    print_explanations([explanation], units, console)  # type: ignore[arg-type]
    text = console.export_text()
    assert ("41 °F" if units == "imperial" else "5 °C") in text
    for row in explanation.steps:
        assert row.what in text
        assert row.source in text
        assert row.numbers in text
