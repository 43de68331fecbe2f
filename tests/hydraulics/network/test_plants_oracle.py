"""Three whole plants compared with EPANET, for all judged numbers.

Heeled to both sides, with an outlet under water, with a relief valve. EPANET knows one
liquid at a time, so feed, brine and product are networks of their own, in metres of that water:

- sea, tank and air are reservoirs; a brine outlet under water has the sea's metres as brine's;
- what the high-pressure pump takes, and what the membrane gives, are demands;
- the feed pump is its curve in 61 points, joined by straight lines;
- strainer and filters are general purpose valves with their loss as a curve;
- a valve's flow at 1 bar is a minor loss of its pipe; what opens it is a pressure breaker valve
  before it, which takes exactly that;
- hoses have no bends, and inlet (0.5) and outlet (1.0) are minor losses.

Friction is Swamee and Jain's there, Churchill's here, laminar or well turbulent in every hose.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fitcheck.hydraulics import solve_water
from fitcheck.hydraulics.network.plant import Plant, build_plant
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.seawater import Water
from fitcheck.model.found.hydraulics import Hydraulics, State
from fitcheck.model.found.routes import Routes
from fitcheck.model.given.kit import Line, Resistance
from fitcheck.model.given.scenario import Scenario
from tests.specimens.water import (
    CUBIC_METRE_PER_HOUR,
    RUNS,
    a_hose,
    a_route,
    plant_kit,
    plant_scenario,
    plant_space,
    with_hose,
    with_line,
)

#: Of a pressure, as a share of the feed pump's shut-off head; of a flow, of the feed flow.
PRESSURE_WITHIN, FLOW_WITHIN = 0.003, 0.015
#: EPANET's viscosity is relative to 1.1e-5 ft2/s.
EPANET_VISCOSITY = 1.1e-5 * 0.3048**2
#: Published for pure water at 15 degC, and the reduction by the ocean's salt.
VAPOUR_15C = 1_705.6 * (1.0 - 0.0186)
FEED_LINES = ("sea_to_strainer", "strainer_to_pump", "pump_to_filters", "bypass", "filters_to_hp")
PLANTS = ("heeled", "under water", "relief")
#: The same water on both sides of a port.
SAME = {
    "feed_pump.bypass_tap": "feed_pump.outlet",
    "feed_pump.bypass_return": "feed_pump.inlet",
}


@dataclass(frozen=True)
class Judged:
    """The judged numbers of one state, by either engine [Pa, m, m3/s]."""

    vacuum: float
    npsh: float
    inlet: float
    brine: float
    product: float
    pump_flow: float
    bypass: float


def laid(name: str) -> tuple[Scenario, Routes]:
    """One of the three plants, its hoses without bends."""
    kit = with_hose(with_line(plant_kit(), "product", hose="product_12"), a_hose("product_12"))
    conditions: dict[str, Any] = {"water_temperature_C": (15.0,)}
    if name == "heeled":
        conditions["heel"] = (math.radians(-20.0), math.radians(20.0))
    if name == "relief":
        wide = 2.0 * CUBIC_METRE_PER_HOUR
        kit = with_line(kit, "bypass", opens_at=100_000.0, valve_flow=wide)
    of = plant_scenario(kit, **conditions)
    if name == "heeled":
        of = sideways(of)
    if name == "under water":
        ports = tuple(
            replace(port, at=(0.0, 0.0, -0.6)) if port.role == "overboard" else port
            for port in of.boat.ports
        )
        of = replace(of, boat=replace(of.boat, ports=ports))
    hoses = tuple(a_route(of, line, RUNS[line.name][0], ()) for line in of.kit.lines)
    return of, Routes(hoses=hoses, findings=(), assumptions=())


def sideways(of: Scenario) -> Scenario:
    """Modules at different places across the boat, so that heel lifts each differently."""
    across = {"strainer": 0.4, "feed_pump": 1.2, "prefilters": 0.9, "hp_pump": -0.5}
    placements = tuple(
        replace(row, at=(0.0, across.get(row.module, 0.2), row.at[2]))
        for row in of.layout.placements
    )
    return replace(of, layout=replace(of.layout, placements=placements))


# --- by EPANET --------------------------------------------------------------------------------


class Network:
    """One water of the plant in one state."""

    def __init__(self, plant: Plant, state: State, water: Water) -> None:
        wntr = pytest.importorskip("wntr")
        self.plant, self.state, self.water = plant, state, water
        self.heights = plant.heights(state)
        self.model = wntr.network.WaterNetworkModel()
        self.simulator = wntr.sim.EpanetSimulator
        options = self.model.options.hydraulic
        options.headloss = "D-W"
        options.inpfile_units = "LPM"
        options.viscosity = water.viscosity / water.density / EPANET_VISCOSITY
        options.accuracy = 1e-5
        options.trials = 200

    def node(self, name: str, taken: float = 0.0) -> str:
        """A junction at its height, once."""
        name = SAME.get(name, name)
        if name not in self.model.node_name_list:
            self.model.add_junction(name, base_demand=taken, elevation=self.heights[name])
        return name

    def pipe(self, line: Line, start: str = "") -> None:
        """A hose with its fittings, open ends and valve as minor losses."""
        run = self.plant.runs[line.name]
        area = math.pi * run.hose.bore**2 / 4.0
        minor = line.fittings
        minor += 0.5 * (line.start.owner == "boat") + 1.0 * (line.end.owner == "boat")
        if line.valve_flow is not None:
            minor += 200.0 * (area / line.valve_flow) ** 2
        ends = (start or SAME.get(str(line.start), str(line.start)), str(line.end))
        self.model.add_pipe(
            line.name,
            ends[0],
            SAME.get(ends[1], ends[1]),
            length=run.length,
            diameter=run.hose.bore,
            roughness=run.hose.roughness,
            minor_loss=minor,
        )

    def resistance(self, row: Resistance) -> None:
        """Loss port to port as a curve of heads."""
        fouled = self.state.fouled if row.name == "strainer" else self.state.dirty
        most = row.loss + (row.dirty if fouled else 0.0)
        weight = self.water.density * GRAVITY
        flows = np.linspace(0.0, 6.0 * row.at_flow, 241).tolist()
        points = [(q, most * (q / row.at_flow) ** row.exponent / weight) for q in flows]
        self.model.add_curve(row.name, "HEADLOSS", points)
        ends = [self.node(f"{row.module}.{port}") for port in (row.start, row.end)]
        self.model.add_valve(row.name, *ends, 0.05, "GPV", 0.0, row.name)

    def solved(self, folder: Path) -> tuple[dict[str, float], dict[str, float]]:
        """Flows by element [m3/s] and total gauge pressures by node [Pa]."""
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found = self.simulator(self.model).run_sim(file_prefix=str(folder / "plant"))
        heads = found.node["head"].iloc[0].to_dict()
        weight = self.water.density * GRAVITY
        pressures = {
            name: (head - self.heights[name]) * weight
            for name, head in heads.items()
            if name in self.heights
        }
        return found.link["flowrate"].iloc[0].to_dict(), pressures


def feed_network(plant: Plant, state: State) -> Network:
    """From the sea to the high-pressure pump."""
    kit = plant.scenario.kit
    net = Network(plant, state, plant.waters(state)["feed"])
    net.model.add_reservoir("boat.seacock", base_head=0.0)
    net.node("hp_pump.inlet", taken=plant.feed_flow)
    for row in kit.resistances:
        net.resistance(row)
    for name in ("feed_pump.inlet", "feed_pump.outlet"):
        net.node(name)
    assert plant.pump is not None
    flows = (plant.pump.last_flow * n / 60 for n in range(61))
    net.model.add_curve("pump", "HEAD", [(flow, plant.pump.extended(flow)) for flow in flows])
    net.model.add_pump("pump", "feed_pump.inlet", "feed_pump.outlet", "HEAD", "pump")
    for name in FEED_LINES:
        line = kit.line(name)
        if line.opens_at is None:
            net.pipe(line)
            continue
        height = net.heights["feed_pump.outlet"]
        net.model.add_junction("behind_the_valve", base_demand=0.0, elevation=height)
        head = line.opens_at / (net.water.density * GRAVITY)
        net.model.add_valve("opens", "feed_pump.outlet", "behind_the_valve", 0.05, "PBV", 0, head)
        net.pipe(line, start="behind_the_valve")
    return net


def outlet_network(plant: Plant, state: State, name: str, flow: float) -> Network:
    """One outlet: the flow from the membrane, through one hose, into the sea, a tank or air."""
    line = plant.scenario.kit.line(name)
    waters = plant.waters(state)
    water = waters["product" if line.duty == "product" else "brine"]
    net = Network(plant, state, water)
    net.node(str(line.start), taken=-flow)
    height = net.heights[str(line.end)]
    outside = max(0.0, -height) * waters["feed"].density / water.density
    net.model.add_reservoir(str(line.end), base_head=height + outside)
    net.pipe(line)
    return net


def by_epanet(plant: Plant, state: State, folder: Path) -> Judged:
    """The judged numbers of one state."""
    membrane = plant.scenario.kit.membrane
    assert membrane is not None
    net = feed_network(plant, state)
    flows, pressures = net.solved(folder)
    given = plant.feed_flow * membrane.recovery
    ways = {"overboard": plant.feed_flow - given, "product": given}
    backs = {
        name: outlet_network(plant, state, name, flow).solved(folder)[1]
        for name, flow in ways.items()
    }
    density = net.water.density
    bore = plant.runs["strainer_to_pump"].hose.bore
    speed = flows["strainer_to_pump"] / (math.pi * bore**2 / 4.0)
    sucked = pressures["feed_pump.inlet"]
    return Judged(
        vacuum=-sucked + density * speed**2 / 2.0,
        npsh=(state.atmosphere + sucked - VAPOUR_15C) / (density * GRAVITY),
        inlet=pressures["hp_pump.inlet"],
        brine=backs["overboard"]["panel.brine_out"],
        product=backs["product"]["vessel.product"],
        pump_flow=flows["pump"],
        bypass=flows["bypass"],
    )


# --- by the stage -----------------------------------------------------------------------------


def by_stage(result: Hydraulics, state: State) -> Judged:
    """The same as the stage reports them."""
    rows = {row.pump: row for row in result.pumps if row.state == state.name}
    feed, high = rows["feed_pump"], rows["hp_pump"]
    brine, product = (
        next(
            row.worst
            for row in result.governing
            if row.said.key == "governing.back-running" and row.quantity.startswith(of)
        )
        for of in ("brine", "product")
    )
    known = (feed.suction_vacuum, feed.npsh_available, high.inlet_pressure, feed.bypass_flow)
    assert None not in known
    vacuum, npsh, inlet, bypass = (float(value or 0.0) for value in known)
    return Judged(
        vacuum=vacuum,
        npsh=npsh,
        inlet=inlet,
        brine=brine,
        product=product,
        pump_flow=feed.flow,
        bypass=bypass,
    )


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", PLANTS)
def test_judged_numbers_agree_with_epanet(name: str, tmp_path: Path) -> None:
    pytest.importorskip("wntr")
    of, routes = laid(name)
    plant = build_plant(of, plant_space(of), routes)
    result = solve_water(of, plant_space(of), routes)
    theirs = {state.name: by_epanet(plant, state, tmp_path) for state in plant.states}
    assert plant.pump is not None
    scale = plant.pump.shut_off_head
    weight = plant.waters(plant.states[0])["feed"].density * GRAVITY
    for state in plant.states:
        found, other = by_stage(result, state), theirs[state.name]
        for key in ("vacuum", "inlet"):
            difference = abs(getattr(found, key) - getattr(other, key)) / weight
            assert difference < PRESSURE_WITHIN * scale, (state.name, key)
        assert abs(found.npsh - other.npsh) < PRESSURE_WITHIN * scale, state.name
        for key in ("pump_flow", "bypass"):
            difference = abs(getattr(found, key) - getattr(other, key))
            assert difference < FLOW_WITHIN * plant.feed_flow, (state.name, key)
    for key in ("brine", "product"):
        worst = max(getattr(row, key) for row in theirs.values())
        told = getattr(by_stage(result, plant.states[0]), key)
        assert abs(told - worst) / weight < PRESSURE_WITHIN * scale, key


def test_the_plants_match_their_names() -> None:
    """Heel changes the vacuum, and the relief valve takes more than its opening pressure."""
    results = {}
    for name in PLANTS:
        of, routes = laid(name)
        results[name] = solve_water(of, plant_space(of), routes)
    tilted = [by_stage(results["heeled"], state).vacuum for state in results["heeled"].states[:8]]
    assert max(tilted) - min(tilted) > 5_000.0
    lines = results["relief"].lines
    bypass = next(row for row in lines if row.line == "bypass")
    open_valve = 1e5 * (bypass.flow / (2.0 * CUBIC_METRE_PER_HOUR)) ** 2
    assert bypass.fitting_loss > 2.0 * open_valve


def test_the_hoses_are_laminar_or_well_turbulent() -> None:
    """Where the two friction formulas agree."""
    for name in PLANTS:
        of, routes = laid(name)
        result = solve_water(of, plant_space(of), routes)
        running = {state.name for state in result.states if state.doing == "running"}
        for row in result.lines:
            if row.state in running and row.flow:
                assert not 2000.0 < row.reynolds < 4000.0, (name, row.line)
