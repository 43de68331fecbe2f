"""Judged numbers by hand: vapour, the sea at an outlet, the band, heavy brine."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitcheck.hydraulics import solve_water
from fitcheck.hydraulics.network.plant import build_plant
from fitcheck.hydraulics.network.solve import Operation, operate
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.seawater import water
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.given.kit import Kit
from fitcheck.model.given.scenario import Scenario
from tests.specimens.water import (
    HEIGHTS,
    OCEAN,
    a_hose,
    curve,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_hose,
    with_line,
)
from tests.specimens.water_solved import finding

#: Saturated steam at 40 degC, as published in any table; ocean salt reduces it by 1.86 %.
VAPOUR_40C, SALT_TAKES = 7_384.0, 0.0186


def found(of: Scenario, **lengths: float) -> Hydraulics:
    """A scenario solved without remedies."""
    return solve_water(of, plant_space(of), plant_routes(of, **lengths))


def first(of: Scenario, **lengths: float) -> Operation:
    """Its first state."""
    plant = build_plant(of, plant_space(of), plant_routes(of, **lengths))
    return operate(plant, plant.states[0])


def with_port(of: Scenario, name: str, height: float) -> Scenario:
    """One opening of the boat at another height."""
    ports = tuple(
        replace(port, at=(0.0, 0.0, height)) if port.name == name else port
        for port in of.boat.ports
    )
    return replace(of, boat=replace(of.boat, ports=ports))


# --- vapour pressure --------------------------------------------------------------------------


def npsh_by_hand(of: Scenario) -> float:
    """For water at 40 degC, whose vapour pressure takes 0.74 m [m]."""
    absolute = 101_325.0 + first(of).pressures["feed_pump.inlet"]
    steam = VAPOUR_40C * (1.0 - SALT_TAKES)
    return (absolute - steam) / (water(OCEAN, 40.0).density * GRAVITY)


def test_vapour_pressure_is_subtracted_from_npsh() -> None:
    of = plant_scenario(water_temperature_C=(40.0,))
    pump = next(row for row in found(of).pumps if row.npsh_available is not None)
    assert pump.npsh_available == pytest.approx(npsh_by_hand(of), abs=0.005)


def npsh_asked(head: float) -> Kit:
    """The plant, never dirty, with a pump that needs the same NPSH at every flow."""
    kit = plant_kit()
    assert kit.feed_pump is not None
    asked = curve(((0, head), (60, head)))
    clean = tuple(replace(row, dirty=0.0) for row in kit.resistances)
    pump = replace(kit.feed_pump, npsh_required=asked)
    return replace(kit, feed_pump=pump, resistances=clean)


def test_a_pump_between_its_npsh_with_and_without_vapour_fails() -> None:
    asked = npsh_by_hand(plant_scenario(water_temperature_C=(40.0,))) + 0.3
    judged = found(plant_scenario(npsh_asked(asked), water_temperature_C=(40.0,)))
    assert finding(judged, "npsh-margin").severity == "fail"


# --- an outlet under water --------------------------------------------------------------------


def test_an_outlet_under_water_adds_back_pressure() -> None:
    """Brine outlet 1 m below the sea: one metre of sea less the weight of the brine in
    the hose.
    """
    above, below = plant_scenario(), with_port(plant_scenario(), "overboard", -1.0)
    sea = water(OCEAN, above.boat.conditions.water_temperature_C[0]).density
    states = first(above), first(below)
    brine = states[0].waters["brine"].density
    for state, height, outside in zip(
        states, (HEIGHTS["boat.overboard"], -1.0), (0.0, 1.0), strict=True
    ):
        column = brine * GRAVITY * (height - HEIGHTS["panel"])
        lost = state.losses["overboard"].total
        by_hand = sea * GRAVITY * outside + column + lost
        assert state.pressures["panel.brine_out"] == pytest.approx(by_hand, abs=1.0)


def test_a_stopped_outlet_under_water_is_at_sea_level() -> None:
    """Panel 0.40 m below the sea, opening 1 m below it."""
    of = with_port(plant_scenario(), "overboard", -1.0)
    placements = tuple(
        replace(row, at=(0.0, 0.0, -0.4)) if row.module == "panel" else row
        for row in of.layout.placements
    )
    of = replace(of, layout=replace(of.layout, placements=placements))
    row = next(row for row in found(of).back_pressures if row.outlet == "overboard")
    cold = water(OCEAN / (1.0 - 1.0 / 9.5), 5.0).density
    assert row.stopped == pytest.approx(0.4 * GRAVITY * cold, rel=1e-3)


# --- the band of the transition ---------------------------------------------------------------


def in_transition() -> tuple[Kit, dict[str, float]]:
    """A feed hose so wide and long that its flow may be laminar or turbulent, and it matters."""
    kit = with_line(plant_kit(), "filters_to_hp", hose="wide")
    return with_hose(kit, a_hose("wide", bore=0.042, outside_diameter=0.05)), {
        "filters_to_hp": 200.0
    }


def test_the_inlet_pressure_is_judged_at_the_end_of_the_band() -> None:
    kit, lengths = in_transition()
    cold = {"water_temperature_C": (5.0,)}
    state = first(plant_scenario(kit, **cold), **lengths)
    pressure, band = state.pressures["hp_pump.inlet"], state.band["hp_pump.inlet"]
    assert band > 5.0
    for share, severity in ((0.5, "fail"), (1.5, None)):
        # Clean filters are the first state; the limit lies inside the band, then below it.
        limits = replace(kit.limits, inlet_pressure_min=pressure - share * band)
        clean = replace(
            kit,
            limits=limits,
            resistances=tuple(replace(row, dirty=0.0) for row in kit.resistances),
        )
        result = found(plant_scenario(clean, **cold), **lengths)
        severities = [row.severity for row in result.findings if row.rule == "inlet-pressure"]
        assert severities == ([] if severity is None else [severity])
        word = next(row for row in result.governing if row.said.key == "governing.inlet-pressure")
        assert word.verdict == ("fine" if severity is None else "fails")


def test_the_npsh_row_is_not_ok_if_the_ratio_is_short() -> None:
    """A margin of 1 cm is available, but the required ratio is not."""
    kit = plant_kit()
    limits = replace(kit.limits, npsh_margin=0.01, npsh_ratio=10.0)
    result = found(plant_scenario(replace(kit, limits=limits)))
    (row,) = [row for row in result.governing if row.said.key == "governing.npsh"]
    assert finding(result, "npsh-margin").severity == row.verdict == "caution"


# --- the brine --------------------------------------------------------------------------------


@pytest.mark.parametrize(("recovery", "salt"), [(0.1, OCEAN / 0.9), (0.5, OCEAN / 0.5)])
def test_the_brine_column_uses_the_density_of_brine(recovery: float, salt: float) -> None:
    """At half recovery 70 g/kg: beyond TEOS-10, the density of Sharqawy et al. eq. 8."""
    kit = plant_kit()
    assert kit.membrane is not None
    kit = replace(kit, membrane=replace(kit.membrane, recovery=recovery))
    of = with_port(plant_scenario(kit, water_temperature_C=(40.0,)), "overboard", 2.4)
    row = next(row for row in found(of).back_pressures if row.outlet == "overboard")
    t = 40.0
    pure = 9.999e2 + 2.034e-2 * t - 6.162e-3 * t**2 + 2.261e-5 * t**3 - 4.657e-8 * t**4
    salted = 8.020e2 - 2.001 * t + 1.677e-2 * t**2 - 3.060e-5 * t**3 - 1.613e-5 * salt * t**2
    by_hand = (pure + salt * salted) * GRAVITY * (2.4 - HEIGHTS["panel"])
    # TEOS-10, which serves the lighter brine, lies up to 0.07 % from it.
    assert row.stopped == pytest.approx(by_hand, rel=1e-6 if salt > 0.05 else 1e-3)
