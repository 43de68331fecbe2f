"""The water side whole: known numbers, invariants, verdicts, remedies that hold once applied."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.errors import OutOfRangeError
from fitcheck.hydraulics import solve_water
from fitcheck.hydraulics.heel import states_of
from fitcheck.hydraulics.losses import GRAVITY
from fitcheck.hydraulics.plant import build_plant
from fitcheck.hydraulics.rule_of_thumb import FOOT, read_rule
from fitcheck.hydraulics.seawater import water
from fitcheck.hydraulics.solve import Operation, operate
from fitcheck.model.finding import Finding
from fitcheck.model.hydraulics import Hydraulics
from fitcheck.model.routes import HoseRoute, Routes
from fitcheck.model.scenario import Kit, Scenario
from tests.water_specimens import (
    CUBIC_METRE_PER_HOUR,
    LITRE_PER_MINUTE,
    OCEAN,
    RUNS,
    a_hose,
    a_port,
    a_route,
    curve,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_choice,
    with_hose,
    with_line,
)


def solved(kit: Kit | None = None, lost: tuple[str, ...] = (), **changes: Any) -> Hydraulics:
    """The plant solved; changes go to the conditions, or to line lengths if they name a line."""
    lengths = {name: value for name, value in changes.items() if isinstance(value, float)}
    water_states = {name: value for name, value in changes.items() if name not in lengths}
    of = plant_scenario(kit, **water_states)
    return solve_water(of, plant_space(of), plant_routes(of, lost, **lengths))


def operation(kit: Kit | None = None, dirty: bool = False, **changes: Any) -> Operation:
    """One state of the plant, solved."""
    of = plant_scenario(kit, **({"water_temperature_C": (25.0,)} | changes))
    plant = build_plant(of, plant_space(of), plant_routes(of))
    states = [row for row in solve_states(of) if row.dirty == dirty]
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


def repaired(of: Scenario, result: Hydraulics) -> Scenario:
    """The scenario with the hose changes of every remedy applied."""
    for row in result.findings:
        for change in () if row.remedy is None else row.remedy.changes:
            _, lines, line, key = change.key.split(".")
            assert (change.file, lines, key) == (of.layout_file, "lines", "hose")
            assert isinstance(change.value, str)
            of = with_choice(of, line, change.value)
    return of


def rerouted(of: Scenario, before: Routes, longer: float = 1.0) -> Routes:
    """The same runs with the hoses the scenario now has."""
    hoses = []
    for route in before.hoses:
        assert isinstance(route, HoseRoute)
        bends = [math.degrees(bend.angle) for bend in route.bends]
        line = of.kit.line(route.line)
        changed = of.hose_of(line).name != route.hose
        length = route.length * (longer if changed else 1.0)
        hoses.append(a_route(of, line, length, bends))
    return Routes(hoses=tuple(hoses), findings=(), assumptions=())


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
    """Not outside truth: one author worked these out before, for the same equations."""
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
    """Not outside truth, as above: warm, salty, low barometer, strainer and filters dirty."""
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
    found = [row.loss for row in result.lines if row.line == line and "clean" in row.state]
    assert found == pytest.approx([cold, warm], rel=0.005)


# --- what must always hold ----------------------------------------------------------------------

valves = st.floats(0.05, 1.5)
levels = st.floats(-0.6, 0.6)


@settings(max_examples=25, deadline=None)
@given(valves, st.booleans())
def test_pressures_round_the_bypass_sum_to_zero(valve: float, dirty: bool) -> None:
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
def test_dirty_filters_take_their_dirt_off_the_inlet_and_nothing_else(valve: float) -> None:
    """With the bypass round the pump alone its flow does not know of the filters."""
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
def test_a_boat_mirrored_and_heeled_the_other_way_is_the_same(heel: float, trim: float) -> None:
    states: dict[str, Any] = {"trim": (trim,), "water_temperature_C": (15.0,)}
    one = moved(plant_scenario(heel=(heel,), **states), y=0.9)
    other = moved(plant_scenario(heel=(-heel,), **states), y=-0.9)
    for a, b in zip(pressures_of(one), pressures_of(other), strict=True):
        assert a == pytest.approx(b, abs=1e-6)


def moved(of: Scenario, y: float) -> Scenario:
    """All modules moved to one side."""
    placements = tuple(replace(row, at=(row.at[0], y, row.at[2])) for row in of.layout.placements)
    return replace(of, layout=replace(of.layout, placements=placements))


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
    """Moving the seacock deeper changes no pressure at the pump but by the run between them."""
    deep = plant_scenario()
    ports = tuple(
        replace(port, at=(0.0, 0.0, -0.8)) if port.role == "seacock" else port
        for port in deep.boat.ports
    )
    deep = replace(deep, boat=replace(deep.boat, ports=ports))
    one = solve_water(deep, plant_space(deep), plant_routes(deep)).pumps
    other = solved().pumps
    assert [row.suction_vacuum for row in one] == pytest.approx(
        [row.suction_vacuum for row in other]
    )


def test_the_gauge_reads_static_pressure() -> None:
    """Lower than the total by the velocity head; NPSH counts the total."""
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
    """0.10 m under water and 0.9 m to port: 0.290 m above it at 25 deg starboard down."""
    of = moved(plant_scenario(heel=(math.radians(25),), water_temperature_C=(15.0,)), y=0.9)
    plant = build_plant(of, plant_space(of), plant_routes(of))
    assert operate(plant, solve_states(of)[0]).heights["feed_pump.inlet"] == pytest.approx(
        0.290, abs=5e-4
    )


def test_every_state_is_reported_for_every_line_and_pump() -> None:
    result = solved(heel=(-0.3, 0.0, 0.3), salinity=(0.03, OCEAN))
    assert len(result.states) == 3 * 2 * 2 * 2
    assert len(result.lines) == 9 * len(result.states)
    assert len(result.pumps) == 2 * len(result.states)
    assert {row.state for row in result.lines} == {state.name for state in result.states}


def test_a_good_plant_has_no_fail_and_no_caution() -> None:
    result = solved()
    assert rules(result, "fail") == rules(result, "caution") == set()
    assert all(row.verdict.startswith("fine") for row in result.summaries)


# --- verdicts -----------------------------------------------------------------------------------


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


def test_a_long_thin_suction_line_fails_and_its_remedy_holds() -> None:
    of = plant_scenario(long_and_thin())
    routes = plant_routes(of, sea_to_strainer=12.0)
    result = solve_water(of, plant_space(of), routes)
    failed = finding(result, "suction-vacuum")
    assert failed.severity == "fail"
    assert failed.remedy is not None
    mended = repaired(of, result)
    after = solve_water(mended, plant_space(mended), rerouted(mended, routes, longer=1.1))
    assert rules(after, "fail") == set()


def test_the_smallest_bore_that_passes_is_taken_on_one_line_only() -> None:
    of = plant_scenario(long_and_thin())
    result = solve_water(of, plant_space(of), plant_routes(of, sea_to_strainer=12.0))
    failed = finding(result, "suction-vacuum")
    assert failed.remedy is not None
    assert [(row.key, row.value) for row in failed.remedy.changes] == [
        ("layout.lines.sea_to_strainer.hose", "suction_16")
    ]
    assert "12.7" not in failed.remedy.text
    assert "15.9 mm" in failed.remedy.text


def test_a_remedy_keeps_a_tenth_in_hand_and_allows_for_a_longer_way() -> None:
    """The next bore would just do at the present length: the one after it is taken."""
    limit = long_and_thin().limits.suction_vacuum_max
    next_bore = with_line(long_and_thin(), "sea_to_strainer", hose="suction_16")
    vacuums = [worst_vacuum(solved(next_bore, sea_to_strainer=length)) for length in (10.0, 20.0)]
    slope = (vacuums[1] - vacuums[0]) / 10.0
    just = 10.0 + (0.88 * limit - vacuums[0]) / slope
    assert worst_vacuum(solved(next_bore, sea_to_strainer=just)) == pytest.approx(0.88 * limit)
    failed = finding(solved(long_and_thin(), sea_to_strainer=just), "suction-vacuum")
    assert failed.remedy is not None
    assert [row.value for row in failed.remedy.changes] == ["suction_19"]


def worst_vacuum(result: Hydraulics) -> float:
    """The highest vacuum with clean filters [Pa]."""
    return max(
        row.suction_vacuum
        for row in result.pumps
        if row.suction_vacuum is not None and "clean" in row.state
    )


def test_a_soft_hose_is_no_remedy_on_the_suction_side() -> None:
    """A rating below the depth of the sea: of two wider hoses the reinforced one is taken."""
    kit = with_hose(dirt(0.0, 60_000.0), a_hose("suction_19", pressure_rating=1_000.0))
    kit = with_hose(kit, a_hose("soft", bore=0.0191, wall="soft"))
    kit = with_hose(kit, a_hose("firm", bore=0.0192))
    failed = [row for row in solved(kit).findings if row.rule == "pressure-rating"]
    assert {row.subject for row in failed} == {"sea_to_strainer", "strainer_to_pump"}
    assert failed[0].remedy is not None
    assert {row.value for row in failed[0].remedy.changes} == {"firm"}


def test_findings_on_one_side_share_one_remedy() -> None:
    of = plant_scenario(long_and_thin(9_000.0, 60_000.0))
    result = solve_water(of, plant_space(of), plant_routes(of, sea_to_strainer=14.0))
    fails = [row for row in result.findings if row.severity == "fail"]
    assert len(fails) >= 2
    assert len({row.remedy for row in fails}) == 1


def test_an_impossible_vacuum_is_never_told() -> None:
    """Through a tube of 6.4 mm the water boils: the largest flow that can be had is told."""
    kit = with_hose(plant_kit(), a_hose("thin", bore=0.0064, min_bend_radius=0.05))
    kit = with_line(
        with_line(kit, "sea_to_strainer", hose="thin"), "strainer_to_pump", hose="thin"
    )
    result = solved(kit, sea_to_strainer=12.0)
    failed = finding(result, "largest-flow")
    assert failed.severity == "fail"
    assert "boils" in failed.text
    assert failed.value is not None
    assert 0.0 < failed.value < 9.5 * LITRE_PER_MINUTE
    atmosphere = plant_scenario().boat.conditions.atmosphere
    for pump in result.pumps:
        assert pump.flow < 20 * LITRE_PER_MINUTE
        if pump.suction_vacuum is not None:
            assert pump.suction_vacuum < atmosphere
        if pump.npsh_available is not None and pump.npsh_required is not None:
            assert pump.npsh_available >= pump.npsh_required - 1e-9
    assert not [row for row in result.findings if row.rule == "suction-vacuum"]


def test_the_largest_flow_is_the_largest() -> None:
    kit = with_hose(plant_kit(), a_hose("thin", bore=0.0064, min_bend_radius=0.05))
    kit = with_line(kit, "sea_to_strainer", hose="thin")
    result = solved(kit, sea_to_strainer=15.0)
    most = finding(result, "largest-flow").value
    assert most is not None
    assert kit.high_pressure_pump is not None
    for share, feeds in ((0.999, True), (1.001, False)):
        pump = replace(kit.high_pressure_pump, flow=share * most)
        again = solved(replace(kit, high_pressure_pump=pump), sea_to_strainer=15.0)
        short = {"largest-flow", "npsh-margin", "inlet-pressure"} & rules(again, "fail")
        assert (not short) == feeds


def test_a_starved_pump_has_no_inlet_pressure_told_below_its_least() -> None:
    kit = with_line(plant_kit(), "bypass", valve_flow=4 * CUBIC_METRE_PER_HOUR)
    result = solved(kit)
    assert "largest-flow" in rules(result, "fail")
    for pump in result.pumps:
        assert pump.inlet_pressure is None or pump.inlet_pressure >= 0.0


def test_a_bypass_too_open_is_closed_by_the_remedy() -> None:
    kit = with_line(plant_kit(), "bypass", valve_flow=2 * CUBIC_METRE_PER_HOUR)
    failed = finding(solved(kit), "inlet-pressure")
    assert failed.remedy is not None
    change = failed.remedy.changes[0]
    assert (change.file, change.key) == ("kit.toml", "kit.lines.bypass.valve")
    assert isinstance(change.value, str)
    setting = float(change.value.removesuffix(" m3/h")) * CUBIC_METRE_PER_HOUR
    assert rules(solved(with_line(kit, "bypass", valve_flow=setting)), "fail") == set()


def test_a_pump_beyond_its_curve_has_no_head_told() -> None:
    kit = with_hose(plant_kit(), a_hose("wide", bore=0.04, min_bend_radius=0.1))
    kit = with_line(kit, "bypass", hose="wide", valve_flow=None, fittings=0.1)
    result = solved(kit)
    assert finding(result, "bypass-too-open").severity == "fail"
    assert all(row.head is None and row.bypass_flow is None for row in result.pumps)
    assert result.pumps[0].suction_vacuum is not None


def test_a_plant_too_high_above_the_sea_has_no_flow_at_all() -> None:
    of = plant_scenario()
    placements = tuple(replace(row, at=(0.0, 0.0, 12.0)) for row in of.layout.placements)
    of = replace(of, layout=replace(of.layout, placements=placements))
    result = solve_water(of, plant_space(of), plant_routes(of))
    failed = finding(result, "largest-flow")
    assert failed.value == 0.0
    assert failed.remedy is not None
    assert failed.remedy.changes == ()
    assert "height" in failed.remedy.text
    assert all(row.suction_vacuum is None for row in result.pumps)


def test_soft_wall_fails_on_suction_only_under_vacuum() -> None:
    """Flooded it stands; with dirt in the strainer it does not."""
    soft = a_hose("suction_19", wall="soft")
    result = solved(with_hose(with_hose(plant_kit(), soft), a_hose("spare", bore=0.0191)))
    failed = [row for row in result.findings if row.rule == "suction-wall"]
    assert [row.subject for row in failed] == ["strainer_to_pump"]
    assert failed[0].severity == "fail"
    assert failed[0].remedy is not None
    assert [row.value for row in failed[0].remedy.changes] == ["spare"]


@pytest.mark.parametrize(
    ("hose", "rating", "line", "limit"),
    [
        ("hp_8", 65e5, "hp_to_vessel", 68e5),
        ("feed_12", 1.3e5, "pump_to_filters", 14.1 * GRAVITY * water(OCEAN, 5.0).density),
    ],
)
def test_a_hose_must_stand_relief_setting_or_shut_off(
    hose: str, rating: float, line: str, limit: float
) -> None:
    """Shut-off: 14 m of sea water, and the 0.10 m that the pump lies below the sea."""
    result = solved(with_hose(plant_kit(), a_hose(hose, pressure_rating=rating)))
    failed = [row for row in result.findings if row.rule == "pressure-rating"]
    assert failed[0].subject == line
    assert failed[0].severity == "fail"
    assert failed[0].limit == pytest.approx(limit, rel=1e-6)


def test_high_pressure_loss_is_judged_by_its_share_and_mended_by_bore() -> None:
    kit = with_hose(plant_kit(), a_hose("hp_8", bore=0.0048, min_bend_radius=0.1))
    kit = with_hose(kit, a_hose("hp_6", bore=0.0064, pressure_rating=200e5, min_bend_radius=0.1))
    kit = with_hose(kit, replace(a_hose("hp_8"), name="hp_79", pressure_rating=200e5))
    made_up = replace(a_hose("hp_8").sold, by="assembly")
    kit = replace(
        kit, hoses=tuple(replace(row, sold=made_up) for row in kit.hoses[-3:]) + kit.hoses[:-3]
    )
    result = solved(kit)
    failed = [row for row in result.findings if row.rule == "high-pressure-loss"]
    assert [row.severity for row in failed] == ["fail", "fail"]
    assert failed[0].remedy is not None
    assert failed[0].remedy.changes[0].value == "hp_6"


def test_product_is_judged_at_stop_and_running() -> None:
    """A tank 3.5 m above the vessel: 0.34 bar at stop, more running."""
    of = plant_scenario()
    ports = tuple(
        replace(port, at=(0.0, 0.0, 3.95)) if port.role == "tank" else port
        for port in of.boat.ports
    )
    of = replace(of, boat=replace(of.boat, ports=ports))
    result = solve_water(of, plant_space(of), plant_routes(of))
    row = next(row for row in result.back_pressures if row.outlet == "product")
    assert row.stopped == pytest.approx(3.5 * GRAVITY * water(0.0003, 5.0).density, rel=1e-3)
    assert row.running > row.stopped > row.limit
    assert finding(result, "product-back-pressure").severity == "fail"


def test_the_column_at_stop_reaches_to_the_highest_point_of_the_run() -> None:
    of = plant_scenario()
    routes = plant_routes(of)
    product = routes.hose("product")
    assert isinstance(product, HoseRoute)
    over = np.vstack([product.path, [(0.0, 0.0, 4.0)], product.path[-1:]])
    hoses = tuple(
        replace(row, path=over) if isinstance(row, HoseRoute) and row.line == "product" else row
        for row in routes.hoses
    )
    result = solve_water(of, plant_space(of), replace(routes, hoses=hoses))
    row = next(row for row in result.back_pressures if row.outlet == "product")
    assert row.stopped == pytest.approx(3.55 * GRAVITY * water(0.0003, 5.0).density, rel=1e-3)
    assert row.running < row.limit


@pytest.mark.parametrize(
    ("length", "fouling", "severity"),
    [
        (2.0, 0.0, None),  # 0.08 bar
        (4.0, 0.0, "caution"),  # 0.12 bar
        (12.0, 0.0, "fail"),  # 0.28 bar
        (2.0, 15_000.0, None),  # 0.08 bar clean, 0.22 bar fouled
        (2.0, 22_000.0, "caution"),  # 0.29 bar fouled
        (2.0, 32_000.0, "fail"),  # 0.38 bar fouled
    ],
)
def test_vacuum_limits_clean_and_fouled(
    length: float, fouling: float, severity: str | None
) -> None:
    """Clean above 0.10 bar is a caution, above 0.25 a fail; fouled 0.25 and 0.35 bar."""
    result = solved(long_and_thin(fouling), sea_to_strainer=length, water_temperature_C=(5.0,))
    found = [row.severity for row in result.findings if row.rule == "suction-vacuum"]
    assert found == ([] if severity is None else [severity])


def test_npsh_is_judged_at_the_pumps_own_flow() -> None:
    """At 9.5 L/min the pump asks 2 m, at its own 18.3 L/min with the bypass 20 m."""
    kit = plant_kit()
    assert kit.feed_pump is not None
    steep = replace(kit.feed_pump, npsh_required=curve(((0, 1.0), (10, 2.0), (18, 20), (50, 40))))
    result = solved(replace(kit, feed_pump=steep))
    failed = finding(result, "npsh-margin")
    assert failed.severity == "fail"
    assert failed.limit is not None
    assert failed.limit > 19.0
    assert "18" in failed.text


# --- without parts ------------------------------------------------------------------------------


def test_an_unrouted_suction_hose_leaves_its_numbers_out() -> None:
    result = solved(lost=("strainer_to_pump",))
    assert all(row.suction_vacuum is None and row.npsh_available is None for row in result.pumps)
    assert all(row.inlet_pressure is None for row in result.pumps)
    assert "strainer_to_pump" in finding(result, "not-known").text
    assert result.summary("strainer_to_pump") is None
    assert result.summary("product") is not None
    assert result.rules == ()


def test_an_unrouted_bypass_leaves_the_pump_but_not_the_suction_unknown() -> None:
    result = solved(lost=("bypass",))
    feed = [row for row in result.pumps if row.pump == "feed_pump"]
    assert all(row.bypass_flow is None and row.head is None for row in feed)
    assert all(row.suction_vacuum is not None and row.npsh_required is None for row in feed)
    assert "bypass" in finding(result, "not-known").text


def test_without_a_feed_pump_the_high_pressure_pump_sucks() -> None:
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
    result = solve_water(of, plant_space(of), plant_routes(of))
    assert finding(result, "inlet-pressure").severity == "fail"
    assert all(row.suction_vacuum is not None for row in result.pumps)
    of = replace(of, layout=replace(of.layout, placements=deep))
    flooded = solve_water(of, plant_space(of), plant_routes(of, filters_to_hp=2.0))
    clean = [row for row in flooded.pumps if "clean" in row.state]
    assert all(row.suction_vacuum is not None and row.suction_vacuum < -40_000 for row in clean)
    assert all(row.inlet_pressure is not None and row.inlet_pressure > 40_000 for row in clean)


def test_without_any_pump_the_water_is_not_judged_and_it_is_said() -> None:
    result = solved(replace(plant_kit(), high_pressure_pump=None))
    assert result.lines == result.pumps == ()
    assert "high-pressure pump" in finding(result, "not-known").text


def test_water_outside_the_range_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="salinity"):
        solved(salinity=(0.051,))
    with pytest.raises(OutOfRangeError, match="temperature"):
        solved(water_temperature_C=(50.0,))


def test_salty_brine_is_a_note_and_not_a_warning() -> None:
    assert "salinity-range" in rules(solved(salinity=(0.041,)), "note")


# --- the trade's rule ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "feet", "answer"),
    [
        (0.0127, 9.9, "good"),
        (0.0127, 10.1, "at most"),
        (0.0127, 14.9, "at most"),
        (0.0127, 15.1, "too long"),
        (0.01905, 40.0, "good"),
        (0.0095, 3.0, "too long"),
        (0.016, 16.0, "too long"),
    ],
)
def test_the_rule_of_thumb_by_its_words(size: float, feet: float, answer: str) -> None:
    """Common practice, no source: half an inch 10 ft, 15 ft at most, then three quarters."""
    assert read_rule(size, feet * FOOT).answer == answer


def test_both_readings_stand_beside_the_number_and_disagree_where_they_should() -> None:
    """13 m of half-inch bore: too long as bore; as outside diameter of 19 mm it would be fine."""
    bore, outside = solved(long_and_thin(), sea_to_strainer=13.0).rules
    assert (bore.size, outside.size) == (0.0127, 0.019)
    assert bore.agrees
    assert not outside.agrees
    assert "0.25 bar" in bore.why


def test_the_rule_is_stricter_than_the_numbers_at_a_small_flow() -> None:
    """5.5 m of half-inch bore at 9.5 L/min: the rule says no, the pump does not mind."""
    result = solved(long_and_thin(), sea_to_strainer=4.4)
    assert not result.rules[0].agrees
    assert "rule-of-thumb" in rules(result, "note")


# --- assumptions --------------------------------------------------------------------------------


def flips(result: Hydraulics) -> set[str]:
    """What could change the verdict."""
    return {row.what for row in result.assumptions if row.can_flip}


def test_a_bore_or_a_height_flips_the_verdict_only_near_a_limit() -> None:
    """0.10 bar is fine, more a caution: 0.06 bar is far from it, 0.0995 bar is not."""
    states: dict[str, Any] = {"water_temperature_C": (5.0,)}
    far = solved(long_and_thin(filters=0.0), sea_to_strainer=1.0, **states)
    near = solved(long_and_thin(filters=0.0), sea_to_strainer=2.8, **states)
    assert worst_vacuum(far) < 7_000
    assert 9_900 < worst_vacuum(near) < 10_000
    assert {"bore of every hose", "heights above the sea"} <= flips(near)
    assert not {"bore of every hose", "heights above the sea"} & flips(far)


def test_what_is_taken_for_granted_is_told() -> None:
    told = {row.what for row in solved().assumptions}
    assert {"way through panel", "salinity of the product"} <= told
    given_limits = replace(plant_kit().limits, given=("suction_vacuum_max",))
    assert "limits of the pumps and the membrane" in told
    stated = solved(replace(plant_kit(), limits=given_limits))
    assert "limits of the pumps and the membrane" not in {row.what for row in stated.assumptions}


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


def test_two_hoses_side_by_side_share_the_flow() -> None:
    """One more loop, without a pump in it, beside the bypass."""
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
    """Without the bypass: two suction hoses side by side."""
    kit = plant_kit()
    kit = replace(kit, lines=tuple(line for line in kit.lines if line.duty != "bypass"))
    found = doubled_operation(doubled("strainer_to_pump", kit))
    half = 9.5 / 2 * LITRE_PER_MINUTE
    assert found.flows["strainer_to_pump"] == pytest.approx(half, rel=1e-6)
    assert found.flows["feed pump"] == pytest.approx(2 * half)


def test_unequal_hoses_side_by_side_lose_the_same() -> None:
    kit = with_hose(plant_kit(), a_hose("feed_9", bore=0.0095))
    of = doubled("filters_to_hp", kit)
    of = with_choice(of, "filters_to_hp_2", "feed_9")
    found = doubled_operation(of)
    wide, thin = found.losses["filters_to_hp"], found.losses["filters_to_hp_2"]
    assert wide.total == pytest.approx(thin.total, rel=1e-5)
    assert found.flows["filters_to_hp"] > 1.8 * found.flows["filters_to_hp_2"]
    total = found.flows["filters_to_hp"] + found.flows["filters_to_hp_2"]
    assert total == pytest.approx(9.5 * LITRE_PER_MINUTE)
