"""An open end in air lets water out and none in; one under water lets it in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitcheck.hydraulics import solve_water
from fitcheck.hydraulics.network.plant import build_plant
from fitcheck.hydraulics.network.setting import STILL
from fitcheck.hydraulics.network.solve import operate
from fitcheck.model.found.routes import Routes
from fitcheck.model.given.boat import Bearing, BoatPort
from fitcheck.model.given.kit import PortRef
from fitcheck.model.given.scenario import Scenario
from tests.specimens.water import (
    a_line,
    a_port,
    a_route,
    plant_kit,
    plant_scenario,
    plant_space,
)


def two_ways_out(dump: float, overboard: float = 0.35) -> tuple[Scenario, Routes]:
    """Brine that can leave overboard, and through a second hose to a dump, at these heights."""
    kit = plant_kit()
    panel = kit.module("panel")
    ports = (
        a_port("brine_in", joins="brine_out"),
        a_port("brine_out"),
        a_port("second", joins="brine_out"),
    )
    panel = replace(panel, ports=ports)
    line = replace(
        a_line("overboard"),
        name="dump",
        start=PortRef(owner="panel", port="second"),
        end=PortRef(owner="boat", port="dump"),
    )
    kit = replace(
        kit,
        modules=tuple(panel if row.name == "panel" else row for row in kit.modules),
        lines=(*kit.lines, line),
    )
    of = plant_scenario(kit, water_temperature_C=(15.0,))
    port = BoatPort(
        name="dump",
        role="overboard",
        at=(0.0, 0.0, dump),
        bearing=Bearing(frame="boat", vector=(0.0, 0.0, 1.0)),
        connection="hose tail 19 mm",
        thread="3/4 in BSP",
    )
    ports = tuple(
        replace(row, at=(0.0, 0.0, overboard)) if row.name == "overboard" else row
        for row in of.boat.ports
    )
    of = replace(of, boat=replace(of.boat, ports=(*ports, port)))
    hoses = tuple(a_route(of, row, 1.5, ()) for row in kit.lines)
    return of, Routes(hoses=hoses, findings=(), assumptions=())


@pytest.mark.parametrize(("dump", "overboard"), [(0.35, 3.0), (3.0, 0.35)])
def test_no_water_is_drawn_from_an_opening_in_air(dump: float, overboard: float) -> None:
    of, routes = two_ways_out(dump, overboard)
    plant = build_plant(of, plant_space(of), routes)
    found = operate(plant, plant.states[0])
    brine = found.flows["vessel_to_panel"]
    ways = [found.flows["overboard"], found.flows["dump"]]
    assert sum(ways) == pytest.approx(brine)
    assert min(ways) == pytest.approx(0.0, abs=STILL)
    lower = "dump" if dump < overboard else "overboard"
    assert found.flows[lower] == pytest.approx(brine, rel=1e-4)


@pytest.mark.parametrize(("dump", "overboard"), [(0.35, 3.0), (3.0, 0.35)])
def test_the_dry_opening_is_reported(dump: float, overboard: float) -> None:
    of, routes = two_ways_out(dump, overboard)
    result = solve_water(of, plant_space(of), routes)
    dry = {row.subject for row in result.findings if row.rule == "outlet-dry"}
    assert dry == {"overboard" if dump < overboard else "dump"}
    assert not [row for row in result.findings if row.rule == "backward-flow"]


def test_two_equal_openings_share_the_flow() -> None:
    of, routes = two_ways_out(0.35)
    plant = build_plant(of, plant_space(of), routes)
    found = operate(plant, plant.states[0])
    assert found.flows["overboard"] == pytest.approx(found.flows["dump"])
    result = solve_water(of, plant_space(of), routes)
    assert not [row for row in result.findings if row.rule == "outlet-dry"]


def test_an_opening_under_water_lets_the_sea_in() -> None:
    """The height closes the brine's own hose; the second, under water, is open to the sea."""
    of, routes = two_ways_out(-0.5)
    plant = build_plant(of, plant_space(of), routes)
    found = operate(plant, plant.states[0])
    assert found.flows["dump"] > 0.0
    assert found.pressures["boat.dump"] > 0.0
