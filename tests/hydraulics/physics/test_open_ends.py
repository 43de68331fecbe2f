"""Inlet from the sea and outlet from the boat: separate from the kit's own loss coefficients."""

from __future__ import annotations

import pytest

from fitcheck.hydraulics import solve_water
from fitcheck.hydraulics.network.plant import Run, build_plant
from fitcheck.hydraulics.physics.losses import velocity_head
from fitcheck.hydraulics.physics.open_ends import open_end_coefficients
from fitcheck.hydraulics.physics.seawater import water
from tests.specimens.explained import explain_line
from tests.specimens.water import (
    LINES,
    OCEAN,
    a_line,
    plant_routes,
    plant_scenario,
    plant_space,
)

#: Loss coefficients of each line of the plant at its open ends, and with reversed flow.
AHEAD = {"sea_to_strainer": 0.5, "overboard": 1.0, "product": 1.0}
BACK = {"sea_to_strainer": 1.0, "overboard": 0.5, "product": 0.5}


@pytest.mark.parametrize("name", LINES)
def test_only_ends_at_the_boat_are_open(name: str) -> None:
    assert sum(open_end_coefficients(a_line(name), 1.0)) == AHEAD.get(name, 0.0)
    assert sum(open_end_coefficients(a_line(name), -1.0)) == BACK.get(name, 0.0)


def run_of(name: str, fittings: float) -> Run:
    """A line as routed, with another sum of loss coefficients."""
    of = plant_scenario()
    plant = build_plant(of, plant_space(of), plant_routes(of))
    run = plant.runs[name]
    return Run(
        line=a_line(name, fittings=fittings),
        hose=run.hose,
        length=run.length,
        bends=run.bends,
        path=run.path,
    )


@pytest.mark.parametrize("name", AHEAD)
def test_the_velocity_head_is_lost_once(name: str) -> None:
    """Without fittings a line has the losses of friction, bends and its open end."""
    sea, flow = water(OCEAN, 15.0), 1.5e-4
    loss = run_of(name, 0.0).loss(flow, sea)
    head = velocity_head(loss.velocity, sea.density)
    assert loss.total - loss.friction - loss.bends == pytest.approx(AHEAD[name] * head)
    assert loss.open_ends == pytest.approx(AHEAD[name] * head)
    assert run_of(name, 2.0).loss(flow, sea).total - loss.total == pytest.approx(2.0 * head)


def test_open_end_loss_is_in_the_result_and_the_explanation() -> None:
    of = plant_scenario(water_temperature_C=(15.0,))
    result = solve_water(of, plant_space(of), plant_routes(of))
    rows = {row.line: row for row in result.lines if row.state == result.states[0].name}
    for name in LINES:
        assert (rows[name].open_end_loss > 0.0) == (name in AHEAD)
        assert rows[name].open_end_loss <= rows[name].fitting_loss
        explained = explain_line(of, plant_space(of), plant_routes(of), name)
        steps = [row for row in explained.steps if row.what.startswith("entrance from the sea")]
        assert len(steps) == (name in AHEAD)
