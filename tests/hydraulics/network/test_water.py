"""The whole water side: known numbers, invariants, missing parts, loops."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.errors import OutOfRangeError
from fitcheck.hydraulics.network.plant import build_plant
from fitcheck.hydraulics.network.solve import Operation, operate
from fitcheck.hydraulics.network.states import states_of
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.seawater import water
from fitcheck.model.found.routes import Routes
from fitcheck.model.given.kit import Kit
from fitcheck.model.given.scenario import Scenario
from tests.specimens.mended import mended_water
from tests.specimens.water import (
    CUBIC_METRE_PER_HOUR,
    LITRE_PER_MINUTE,
    OCEAN,
    RUNS,
    a_hose,
    a_port,
    a_route,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_choice,
    with_hose,
    with_line,
)
from tests.specimens.water_solved import (
    finding,
    moved,
    operation,
    rules,
    solve_states,
    solved,
)

# --- regression: numbers this plant has always had, worked out by a program written apart --------

#: temperature -> total pressure and loss at the pump inlet [kPa], NPSH [m], bypass [L/min],
#: discharge and inlet pressure [bar], high-pressure line and vessel [bar], brine loss [kPa],
#: product back pressure [bar]
GOLDEN = {
    5.0: (-0.798, 1.806, 9.890, 8.746, 1.2352, 1.0170, 1.1958, 5.79, 0.0814),
    15.0: (-0.752, 1.758, 9.830, 8.755, 1.2334, 1.0199, 1.1591, 5.48, 0.0973),
    25.0: (-0.716, 1.720, 9.715, 8.763, 1.2305, 1.0206, 1.1304, 5.25, 0.0940),
    32.0: (-0.697, 1.698, 9.583, 8.767, 1.2278, 1.0201, 1.1135, 5.11, 0.0915),
}
VESSEL_BAR = 0.40


@pytest.mark.parametrize("temperature", GOLDEN)
def test_regression_clean(temperature: float) -> None:
    """Not an independent truth: calculated earlier by the same author from the same equations."""
    found = operation(water_temperature_C=(temperature,))
    losses = {name: loss.total for name, loss in found.losses.items()}
    feed = found.waters["feed"]
    inlet = found.pressures["feed_pump.inlet"]
    suction = -inlet - feed.density * GRAVITY * found.heights["feed_pump.inlet"]
    available = (101_325 + inlet - feed.vapour_pressure) / (feed.density * GRAVITY)
    computed = (
        inlet / 1e3,
        suction / 1e3,
        available,
        found.flows["bypass"] / LITRE_PER_MINUTE,
        found.pressures["feed_pump.outlet"] / 1e5,
        found.pressures["hp_pump.inlet"] / 1e5,
        (losses["hp_to_vessel"] + losses["vessel_to_panel"]) / 1e5 + VESSEL_BAR,
        losses["overboard"] / 1e3,
        found.pressures["vessel.product"] / 1e5,
    )
    assert computed == pytest.approx(GOLDEN[temperature], rel=0.005)


@pytest.mark.filterwarnings("ignore::fitcheck.errors.ValidityWarning")
def test_regression_dirty() -> None:
    """Not an independent truth, as above: warm, salty, low air pressure, strainer and filters
    dirty.
    """
    found = operation(
        dirty=True, water_temperature_C=(32.0,), salinity=(0.040,), atmosphere=97_000.0
    )
    assert found.pressures["feed_pump.inlet"] == pytest.approx(-8_903, rel=0.005)
    assert found.flows["bypass"] == pytest.approx(8.767 * LITRE_PER_MINUTE, rel=0.005)
    assert found.pressures["feed_pump.outlet"] == pytest.approx(115_010, rel=0.005)
    assert found.pressures["hp_pump.inlet"] == pytest.approx(34_190, rel=0.015)


@pytest.mark.parametrize(
    ("line", "cold", "warm"),
    [
        ("sea_to_strainer", 441, 403),
        ("strainer_to_pump", 453, 405),
        ("pump_to_filters", 4_770, 4_323),
        ("filters_to_hp", 4_172, 3_796),
        ("hp_to_vessel", 49_140, 44_960),
        ("vessel_to_panel", 30_440, 28_080),
        ("overboard", 5_790, 5_250),
        ("product", 4_720, 5_980),
    ],
)
def test_regression_lines(line: str, cold: float, warm: float) -> None:
    """Cold is not always worst: the product hose is half laminar at 5 degC."""
    result = solved(water_temperature_C=(5.0, 25.0))
    found = [row.loss for row in result.lines if row.line == line and row.state.endswith("clean")]
    assert found == pytest.approx([cold, warm], rel=0.005)


# --- what must always hold ----------------------------------------------------------------------

valves = st.floats(0.05, 1.5)
levels = st.floats(-0.6, 0.6)


@settings(max_examples=25, deadline=None)
@given(valves, st.booleans())
def test_pressures_around_the_bypass_sum_to_zero(valve: float, dirty: bool) -> None:
    kit = with_line(plant_kit(), "bypass", valve_flow=valve * CUBIC_METRE_PER_HOUR)
    found = operation(kit, dirty)
    pump, feed = plant_kit().feed_pump, found.waters["feed"]
    assert pump is not None
    of = plant_scenario(kit)
    head = build_plant(of, plant_space(of), plant_routes(of)).pump
    assert head is not None
    through = found.flows["feed pump"]
    gained = feed.density * GRAVITY * head.head(through)
    assert found.losses["bypass"].total == pytest.approx(gained, rel=1e-6)
    assert through == pytest.approx(found.feed_flow + found.flows["bypass"])


@settings(max_examples=25, deadline=None)
@given(valves)
def test_dirty_filters_only_lower_the_inlet_pressure(valve: float) -> None:
    """With the bypass around the pump alone, its flow does not depend on the filters."""
    kit = with_line(plant_kit(), "bypass", valve_flow=valve * CUBIC_METRE_PER_HOUR)
    strainer, filters = kit.resistances
    kit = replace(kit, resistances=(replace(strainer, dirty=0.0), filters))
    clean, dirty = operation(kit), operation(kit, dirty=True)
    if dirty.trouble or clean.trouble:
        return
    assert dirty.flows["bypass"] == pytest.approx(clean.flows["bypass"], rel=1e-9)
    gone = clean.pressures["hp_pump.inlet"] - dirty.pressures["hp_pump.inlet"]
    assert gone == pytest.approx(filters.dirty, abs=0.5)


@settings(max_examples=20, deadline=None)
@given(st.floats(-0.5, 0.5), st.floats(-0.1, 0.1))
def test_a_mirrored_boat_with_opposite_heel_gives_the_same(heel: float, trim: float) -> None:
    states: dict[str, Any] = {"trim": (trim,), "water_temperature_C": (15.0,)}
    one = moved(plant_scenario(heel=(heel,), **states), y=0.9)
    other = moved(plant_scenario(heel=(-heel,), **states), y=-0.9)
    for a, b in zip(pressures_of(one), pressures_of(other), strict=True):
        assert a == pytest.approx(b, abs=1e-6)


def pressures_of(of: Scenario) -> list[float]:
    """Every pressure of the first state, in one order."""
    plant = build_plant(of, plant_space(of), plant_routes(of))
    found = operate(plant, solve_states(of)[0]).pressures
    return [found[node] for node in sorted(found)]


@settings(max_examples=20, deadline=None)
@given(st.floats(0.2, 6.0), st.floats(1.05, 3.0))
def test_a_longer_suction_hose_never_feeds_the_pump_better(length: float, factor: float) -> None:
    short, long = solved(sea_to_strainer=length), solved(sea_to_strainer=length * factor)
    for a, b in zip(short.pumps, long.pumps, strict=True):
        if a.suction_vacuum is not None and b.suction_vacuum is not None:
            assert b.suction_vacuum > a.suction_vacuum
        if a.npsh_available is not None and b.npsh_available is not None:
            assert b.npsh_available < a.npsh_available


def test_lift_is_from_the_sea_and_not_from_the_seacock() -> None:
    """Moving the seacock deeper only changes the pressure at the pump by the run between them."""
    deep = plant_scenario()
    ports = tuple(
        replace(port, at=(0.0, 0.0, -0.8)) if port.role == "seacock" else port
        for port in deep.boat.ports
    )
    deep = replace(deep, boat=replace(deep.boat, ports=ports))
    one = mended_water(deep, plant_space(deep), plant_routes(deep)).pumps
    other = solved().pumps
    assert [row.suction_vacuum for row in one] == pytest.approx(
        [row.suction_vacuum for row in other]
    )


def test_the_gauge_reads_static_pressure() -> None:
    """Lower than the total by the velocity head; NPSH includes the total."""
    found = operation()
    result = solved(water_temperature_C=(25.0,)).pumps[0]
    speed = found.losses["strainer_to_pump"].velocity
    density = found.waters["feed"].density
    assert result.suction_vacuum == pytest.approx(
        -found.pressures["feed_pump.inlet"] + density * speed**2 / 2
    )


def test_static_is_positive_where_the_end_is_higher() -> None:
    """Product hose: tank 0.35 m above the vessel, fresh water of about 1000 kg/m3."""
    row = next(row for row in solved(water_temperature_C=(5.0,)).lines if row.line == "product")
    assert row.static == pytest.approx(0.35 * GRAVITY * water(0.0003, 5.0).density)


def test_a_pump_off_the_centreline_rises_with_heel() -> None:
    """0.10 m under water and 0.9 m to port: 0.290 m above it at 25 deg to starboard."""
    of = moved(plant_scenario(heel=(math.radians(25),), water_temperature_C=(15.0,)), y=0.9)
    plant = build_plant(of, plant_space(of), plant_routes(of))
    assert operate(plant, solve_states(of)[0]).heights["feed_pump.inlet"] == pytest.approx(
        0.290, abs=5e-4
    )


def test_every_state_is_reported_for_every_line_and_pump() -> None:
    result = solved(heel=(-0.3, 0.0, 0.3), salinity=(0.03, OCEAN))
    running = [state for state in result.states if state.doing == "running"]
    stopped = [state for state in result.states if state.doing == "stopped"]
    assert len(running) == 3 * 2 * 2 * 4
    assert len(stopped) == 3 * 2 * 2
    assert len(result.states) == len(running) + len(stopped)
    assert len(result.lines) == 9 * len(result.states)
    assert len(result.pumps) == 2 * len(running) + len(stopped)
    assert {row.state for row in result.lines} == {state.name for state in result.states}


def test_a_good_plant_has_no_fail_and_no_caution() -> None:
    result = solved()
    assert rules(result, "fail") == rules(result, "caution") == set()
    assert all(row.verdict.startswith("ok") for row in result.summaries)


# --- without parts ------------------------------------------------------------------------------


def test_numbers_that_depend_on_an_unrouted_suction_hose_are_missing() -> None:
    result = solved(lost=("strainer_to_pump",))
    assert all(row.suction_vacuum is None and row.npsh_available is None for row in result.pumps)
    assert all(row.inlet_pressure is None for row in result.pumps)
    assert "strainer_to_pump" in finding(result, "not-known").text
    assert result.summary("strainer_to_pump") is None
    assert result.summary("product") is not None


def test_an_unrouted_bypass_leaves_the_pump_but_not_the_suction_unknown() -> None:
    result = solved(lost=("bypass",))
    feed = [row for row in result.pumps if row.pump == "feed_pump"]
    assert all(row.bypass_flow is None and row.head is None for row in feed)
    assert all(row.suction_vacuum is not None and row.npsh_required is None for row in feed)
    assert "bypass" in finding(result, "not-known").text


def test_without_a_feed_pump_the_high_pressure_pump_is_first() -> None:
    """Flooded: only height feeds it."""
    kit = plant_kit()
    gone = ("bypass", "pump_to_filters", "strainer_to_pump")
    lines = tuple(line for line in kit.lines if line.name not in gone)
    strainer = next(line for line in kit.lines if line.name == "strainer_to_pump")
    filters = next(line for line in kit.lines if line.name == "pump_to_filters")
    joined = replace(strainer, end=filters.end)
    kit = replace(kit, lines=(*lines[:1], joined, *lines[1:]), feed_pump=None)
    of = plant_scenario(kit)
    deep = tuple(
        replace(row, at=(0.0, 0.0, -6.0)) if row.module == "hp_pump" else row
        for row in of.layout.placements
    )
    result = mended_water(of, plant_space(of), plant_routes(of))
    assert finding(result, "inlet-pressure").severity == "fail"
    assert all(
        row.suction_vacuum is not None for row in result.pumps if "stopped" not in row.state
    )
    of = replace(of, layout=replace(of.layout, placements=deep))
    flooded = mended_water(of, plant_space(of), plant_routes(of, filters_to_hp=2.0))
    clean = [row for row in flooded.pumps if row.state.endswith("clean")]
    assert all(row.suction_vacuum is not None and row.suction_vacuum < -40_000 for row in clean)
    assert all(row.inlet_pressure is not None and row.inlet_pressure > 40_000 for row in clean)


def test_without_a_pump_the_water_side_is_reported_as_not_judged() -> None:
    result = solved(replace(plant_kit(), high_pressure_pump=None))
    assert result.lines == result.pumps == ()
    assert "high-pressure pump" in finding(result, "device-missing").text


def test_water_outside_the_range_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="salinity"):
        solved(salinity=(0.051,))
    with pytest.raises(OutOfRangeError, match="temperature"):
        solved(water_temperature_C=(50.0,))


def test_salty_brine_is_a_note_and_not_a_warning() -> None:
    assert "salinity-range" in rules(solved(salinity=(0.041,)), "note")


# --- more than one loop -------------------------------------------------------------------------


def doubled(line: str, kit: Kit | None = None) -> Scenario:
    """The plant with a second hose beside one line, on ports that share the water of its ports."""
    kit = plant_kit() if kit is None else kit
    first = kit.line(line)
    second = replace(
        first,
        name=f"{line}_2",
        start=replace(first.start, port=f"{first.start.port}_2"),
        end=replace(first.end, port=f"{first.end.port}_2"),
    )
    modules = []
    for module in kit.modules:
        ports = [
            a_port(f"{ref.port}_2", joins=ref.port)
            for ref in (first.start, first.end)
            if ref.owner == module.name
        ]
        modules.append(replace(module, ports=(*module.ports, *ports)))
    return plant_scenario(
        replace(kit, modules=tuple(modules), lines=(*kit.lines, second)),
        water_temperature_C=(25.0,),
    )


def doubled_operation(of: Scenario) -> Operation:
    """Its first state solved, the second hose like the first."""
    routes = []
    for line in of.kit.lines:
        length, bends, _, _ = RUNS[line.name.removesuffix("_2")]
        routes.append(a_route(of, line, length, bends))
    every = Routes(hoses=tuple(routes), findings=(), assumptions=())
    return operate(build_plant(of, plant_space(of), every), states_of(of.boat.conditions)[0])


def test_parallel_hoses_share_the_flow() -> None:
    """One more loop, without a pump in it, next to the bypass."""
    found = doubled_operation(doubled("pump_to_filters"))
    half = 9.5 / 2 * LITRE_PER_MINUTE
    assert found.flows["pump_to_filters"] == pytest.approx(half, rel=1e-6)
    assert found.flows["pump_to_filters_2"] == pytest.approx(half, rel=1e-6)
    one = operation()
    assert found.flows["bypass"] == pytest.approx(one.flows["bypass"], rel=1e-6)
    assert found.pressures["hp_pump.inlet"] > one.pressures["hp_pump.inlet"]


def test_two_bypasses_pass_more_than_one_and_both_balance_the_pump() -> None:
    found, one = doubled_operation(doubled("bypass")), operation()
    both = found.flows["bypass"], found.flows["bypass_2"]
    assert both[0] == pytest.approx(both[1], rel=1e-6)
    assert one.flows["bypass"] < sum(both) < 2 * one.flows["bypass"]
    gained = found.pressures["feed_pump.outlet"] - found.pressures["feed_pump.inlet"]
    assert found.losses["bypass_2"].total == pytest.approx(gained, rel=1e-6)


def test_a_loop_without_a_pump_alone() -> None:
    """Without the bypass: two parallel suction hoses."""
    kit = plant_kit()
    kit = replace(kit, lines=tuple(line for line in kit.lines if line.duty != "bypass"))
    found = doubled_operation(doubled("strainer_to_pump", kit))
    half = 9.5 / 2 * LITRE_PER_MINUTE
    assert found.flows["strainer_to_pump"] == pytest.approx(half, rel=1e-6)
    assert found.flows["feed pump"] == pytest.approx(2 * half)


def test_unequal_parallel_hoses_have_the_same_loss() -> None:
    kit = with_hose(plant_kit(), a_hose("feed_9", bore=0.0095))
    of = doubled("filters_to_hp", kit)
    of = with_choice(of, "filters_to_hp_2", "feed_9")
    found = doubled_operation(of)
    wide, thin = found.losses["filters_to_hp"], found.losses["filters_to_hp_2"]
    assert wide.total == pytest.approx(thin.total, rel=1e-5)
    assert found.flows["filters_to_hp"] > 1.8 * found.flows["filters_to_hp_2"]
    total = found.flows["filters_to_hp"] + found.flows["filters_to_hp_2"]
    assert total == pytest.approx(9.5 * LITRE_PER_MINUTE)
