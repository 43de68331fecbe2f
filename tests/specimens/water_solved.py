"""The plant of `water` solved, and its findings by rule."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fitcheck.hydraulics.network.plant import build_plant
from fitcheck.hydraulics.network.solve import Operation, operate
from fitcheck.hydraulics.network.states import states_of
from fitcheck.model.finding import Finding
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.given.kit import Kit
from fitcheck.model.given.scenario import Scenario
from tests.specimens.mended import mended_water
from tests.specimens.water import (
    RUNS,
    a_hose,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_hose,
    with_line,
)


def solved(
    kit: Kit | None = None, lost: tuple[str, ...] = (), *, off: float = 0.0, **changes: Any
) -> Hydraulics:
    """The plant solved; changes go to the conditions, or to line lengths if they name a line.

    off : uncertainty of heights from the survey [m]
    """
    lengths = {name: value for name, value in changes.items() if name in RUNS}
    water_states = {name: value for name, value in changes.items() if name not in lengths}
    of = plant_scenario(kit, **water_states)
    return mended_water(of, plant_space(of, off), plant_routes(of, lost, **lengths))


def operation(kit: Kit | None = None, dirty: bool = False, **changes: Any) -> Operation:
    """One state of the plant, solved."""
    of = plant_scenario(kit, **({"water_temperature_C": (25.0,)} | changes))
    plant = build_plant(of, plant_space(of), plant_routes(of))
    states = [row for row in solve_states(of) if row.dirty == row.fouled == dirty]
    return operate(plant, states[0])


def solve_states(of: Scenario) -> Any:
    """States of a scenario."""
    return states_of(of.boat.conditions)


def finding(result: Hydraulics, rule: str) -> Finding:
    """The one finding of a rule."""
    found = [row for row in result.findings if row.rule == rule]
    assert len(found) == 1, [row.rule for row in result.findings]
    return found[0]


def rules(result: Hydraulics, severity: str) -> set[str]:
    """Rules with a finding of that severity."""
    return {row.rule for row in result.findings if row.severity == severity}


def dirt(strainer: float, filters: float) -> Kit:
    """The plant with other pressures added by dirt, at the flow each is given for [Pa]."""
    kit = plant_kit()
    first, second = kit.resistances
    return replace(
        kit, resistances=(replace(first, dirty=strainer), replace(second, dirty=filters))
    )


def long_and_thin(strainer: float = 0.0, filters: float = 30_000.0) -> Kit:
    """Half-inch suction hose on both lines; larger ones are in the kit."""
    kit = with_line(dirt(strainer, filters), "sea_to_strainer", hose="suction_13")
    kit = with_line(kit, "strainer_to_pump", hose="suction_13")
    kit = with_hose(kit, a_hose("suction_13"))
    return with_hose(kit, a_hose("suction_16", bore=0.0159, min_bend_radius=0.09))


def worst_vacuum(result: Hydraulics) -> float:
    """The highest vacuum with clean filters [Pa]."""
    return max(
        row.suction_vacuum
        for row in result.pumps
        if row.suction_vacuum is not None and row.state.endswith("clean")
    )


def moved(of: Scenario, y: float) -> Scenario:
    """All modules moved to one side."""
    placements = tuple(replace(row, at=(row.at[0], y, row.at[2])) for row in of.layout.placements)
    return replace(of, layout=replace(of.layout, placements=placements))
