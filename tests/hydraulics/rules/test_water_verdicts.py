"""Verdicts of the water side, and remedies that work once applied."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitcheck.hydraulics import solve_water
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.seawater import water
from fitcheck.model.finding import SEVERITIES
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.given.scenario import Scenario
from tests.specimens.mended import mended_water
from tests.specimens.water import (
    CUBIC_METRE_PER_HOUR,
    LITRE_PER_MINUTE,
    OCEAN,
    a_hose,
    a_route,
    curve,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_choice,
    with_hose,
    with_line,
    within,
)
from tests.specimens.water_solved import (
    dirt,
    finding,
    long_and_thin,
    rules,
    solved,
    worst_vacuum,
)


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


# --- verdicts -----------------------------------------------------------------------------------


def test_a_long_thin_suction_line_fails_and_its_remedy_works() -> None:
    of = plant_scenario(long_and_thin())
    routes = plant_routes(of, sea_to_strainer=12.0)
    result = mended_water(of, plant_space(of), routes)
    failed = finding(result, "suction-vacuum")
    assert failed.severity == "fail"
    assert failed.remedy is not None
    mended = repaired(of, result)
    after = mended_water(mended, plant_space(mended), rerouted(mended, routes, longer=1.1))
    assert rules(after, "fail") == set()


def test_a_line_names_the_findings_behind_its_verdict() -> None:
    """Its severity is the worst of theirs; a suction hose names the vacuum at its pump."""
    result = solved(long_and_thin(), sea_to_strainer=12.0)
    found = {(row.rule, row.subject): row.severity for row in result.findings}
    for row in result.summaries:
        touched = {found[pair] for pair in row.touched_by}
        assert row.severity == next((s for s in SEVERITIES if s in touched), None)
        assert "note" not in touched
    suction = result.summary("sea_to_strainer")
    assert suction is not None
    assert ("suction-vacuum", "feed_pump") in suction.touched_by
    assert suction.severity == "fail"


def test_the_smallest_passing_bore_is_used_on_one_line_only() -> None:
    of = plant_scenario(long_and_thin())
    result = mended_water(of, plant_space(of), plant_routes(of, sea_to_strainer=12.0))
    failed = finding(result, "suction-vacuum")
    one = failed.alternatives[0]
    assert [(row.key, row.value) for row in one.changes] == [
        ("layout.lines.sea_to_strainer.hose", "suction_16")
    ]
    assert "12.7" not in one.text
    assert "15.9 mm" in one.text


def test_a_remedy_keeps_a_margin_and_allows_for_a_longer_route() -> None:
    """The next bore would just be enough at the present length: the one after it is chosen."""
    limit = long_and_thin().limits.suction_vacuum_max
    next_bore = with_line(long_and_thin(), "sea_to_strainer", hose="suction_16")
    vacuums = [worst_vacuum(solved(next_bore, sea_to_strainer=length)) for length in (10.0, 20.0)]
    slope = (vacuums[1] - vacuums[0]) / 10.0
    just = 10.0 + (0.88 * limit - vacuums[0]) / slope
    assert worst_vacuum(solved(next_bore, sea_to_strainer=just)) == pytest.approx(0.88 * limit)
    failed = finding(solved(long_and_thin(), sea_to_strainer=just), "suction-vacuum")
    one = failed.alternatives[0]
    assert [row.value for row in one.changes] == ["suction_19"]


def test_a_soft_hose_is_not_suggested_for_the_suction_side() -> None:
    """A rating below the depth of the sea: of two wider hoses the reinforced one is chosen."""
    kit = with_hose(dirt(0.0, 60_000.0), a_hose("suction_19", pressure_rating=1_000.0))
    kit = with_hose(kit, a_hose("soft", bore=0.0191, wall="soft"))
    kit = with_hose(kit, a_hose("firm", bore=0.0192))
    failed = [row for row in solved(kit).findings if row.rule == "pressure-rating"]
    assert {row.subject for row in failed} == {"sea_to_strainer", "strainer_to_pump"}
    assert failed[0].remedy is not None
    assert {row.value for row in failed[0].remedy.changes} == {"firm"}


def test_findings_on_one_side_share_one_remedy() -> None:
    of = plant_scenario(long_and_thin(9_000.0, 60_000.0))
    result = mended_water(of, plant_space(of), plant_routes(of, sea_to_strainer=14.0))
    fails = [row for row in result.findings if row.severity == "fail"]
    assert len(fails) >= 2
    assert len({row.remedy for row in fails}) == 1


def test_an_impossible_vacuum_is_never_reported() -> None:
    """Through a tube of 6.4 mm the water boils: the largest possible flow is reported."""
    kit = with_hose(plant_kit(), a_hose("thin", bore=0.0064, min_bend_radius=0.05))
    kit = with_line(
        with_line(kit, "sea_to_strainer", hose="thin"), "strainer_to_pump", hose="thin"
    )
    result = solved(kit, sea_to_strainer=12.0)
    failed = finding(result, "largest-flow")
    assert failed.severity == "fail"
    assert "would boil" in failed.text
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


def test_a_slightly_larger_flow_starves_a_pump() -> None:
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


def test_no_inlet_pressure_below_the_minimum_is_reported() -> None:
    kit = with_line(plant_kit(), "bypass", valve_flow=4 * CUBIC_METRE_PER_HOUR)
    result = solved(kit)
    assert "largest-flow" in rules(result, "fail")
    for pump in result.pumps:
        assert pump.inlet_pressure is None or pump.inlet_pressure >= 0.0


def test_the_remedy_closes_a_bypass_open_too_far() -> None:
    kit = with_line(plant_kit(), "bypass", valve_flow=2 * CUBIC_METRE_PER_HOUR)
    failed = finding(solved(kit), "inlet-pressure")
    assert failed.remedy is not None
    change = failed.remedy.changes[0]
    assert (change.file, change.key) == ("kit.toml", "kit.lines.bypass.valve")
    assert isinstance(change.value, str)
    setting = float(change.value.removesuffix(" m3/h")) * CUBIC_METRE_PER_HOUR
    assert rules(solved(with_line(kit, "bypass", valve_flow=setting)), "fail") == set()


def test_no_head_is_reported_beyond_the_pump_curve() -> None:
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
    result = mended_water(of, plant_space(of), plant_routes(of))
    failed = finding(result, "largest-flow")
    assert failed.value == 0.0
    assert failed.remedy is not None
    assert failed.remedy.changes == ()
    assert "height" in failed.remedy.text
    assert all(row.suction_vacuum is None for row in result.pumps)


def test_soft_wall_fails_on_suction_only_under_vacuum() -> None:
    """Flooded it holds; with dirt in the strainer it does not."""
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
def test_a_hose_must_withstand_relief_setting_or_shut_off(
    hose: str, rating: float, line: str, limit: float
) -> None:
    """Shut-off: 14 m of sea water, plus the 0.10 m that the pump is below the sea."""
    result = solved(with_hose(plant_kit(), a_hose(hose, pressure_rating=rating)))
    failed = [row for row in result.findings if row.rule == "pressure-rating"]
    assert failed[0].subject == line
    assert failed[0].severity == "fail"
    assert failed[0].limit == pytest.approx(limit, rel=1e-6)


def test_high_pressure_loss_is_judged_by_share_and_reduced_by_bore() -> None:
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


def test_product_is_judged_stopped_and_running() -> None:
    """A tank 3.5 m above the vessel: 0.34 bar stopped, more when running."""
    of = plant_scenario()
    ports = tuple(
        replace(port, at=(0.0, 0.0, 3.95)) if port.role == "tank" else port
        for port in of.boat.ports
    )
    of = replace(of, boat=replace(of.boat, ports=ports))
    result = mended_water(of, plant_space(of), plant_routes(of))
    row = next(row for row in result.back_pressures if row.outlet == "product")
    assert row.stopped == pytest.approx(3.5 * GRAVITY * water(0.0003, 5.0).density, rel=1e-3)
    assert row.running > row.stopped > row.limit
    assert finding(result, "product-back-pressure").severity == "fail"


@pytest.mark.parametrize(
    ("height", "given", "severity"),
    [
        (3.0, (), None),  # 0.3 bar
        (8.0, (), "caution"),  # 0.8 bar
        (20.0, (), "fail"),  # 2.0 bar, 3 % of 55 bar are 1.65
        (8.0, ("brine_back_pressure_max",), "fail"),
    ],
)
def test_brine_back_pressure_is_a_share_of_the_working_pressure(
    height: float, given: tuple[str, ...], severity: str | None
) -> None:
    kit = plant_kit()
    of = plant_scenario(replace(kit, limits=replace(kit.limits, given=given)))
    ports = tuple(
        replace(port, at=(0.0, 0.0, height)) if port.role == "overboard" else port
        for port in of.boat.ports
    )
    of = replace(of, boat=replace(of.boat, ports=ports))
    result = solve_water(of, plant_space(of), plant_routes(of))
    found = [row for row in result.findings if row.rule == "brine-back-pressure"]
    assert [row.severity for row in found] == ([] if severity is None else [severity])
    rows = [row for row in result.governing if row.quantity.startswith("brine back pressure")]
    word = {None: "fine", "caution": "caution", "fail": "fails"}[severity]
    assert word in {row.verdict for row in rows}


def test_the_stopped_column_reaches_the_highest_point() -> None:
    of = plant_scenario()
    routes = plant_routes(of)
    product = routes.hose("product")
    assert isinstance(product, HoseRoute)
    over = np.vstack([product.path, [(0.0, 0.0, 4.0)], product.path[-1:]])
    hoses = tuple(
        replace(row, path=over) if isinstance(row, HoseRoute) and row.line == "product" else row
        for row in routes.hoses
    )
    result = mended_water(of, plant_space(of), replace(routes, hoses=hoses))
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
    """At 9.5 L/min the pump needs 2 m, at its own 18.3 L/min with the bypass 20 m."""
    kit = plant_kit()
    assert kit.feed_pump is not None
    steep = replace(kit.feed_pump, npsh_required=curve(((0, 1.0), (10, 2.0), (18, 20), (50, 40))))
    result = solved(replace(kit, feed_pump=steep))
    failed = finding(result, "npsh-margin")
    assert failed.severity == "fail"
    assert failed.limit is not None
    assert failed.limit > 19.0
    assert "18" in failed.text


# --- assumptions --------------------------------------------------------------------------------


def flips(result: Hydraulics) -> set[str]:
    """What could change the verdict."""
    return {row.what for row in result.assumptions if row.can_flip}


def test_bore_and_height_change_the_verdict_only_near_a_limit() -> None:
    """0.10 bar is recommended, more is a caution: 0.06 bar is far from it, 0.0995 bar is not."""
    states: dict[str, Any] = {"water_temperature_C": (5.0,)}
    kit = within(long_and_thin(filters=0.0), 0.05)
    far = solved(kit, off=0.005, sea_to_strainer=1.0, **states)
    near = solved(kit, off=0.005, sea_to_strainer=2.8, **states)
    assert worst_vacuum(far) < 7_000
    assert 9_900 < worst_vacuum(near) < 10_000
    assert {"bore of every hose", "heights above the sea"} <= flips(near)
    assert not {"bore of every hose", "heights above the sea"} & flips(far)


def test_the_verdict_is_that_of_the_unfavourable_side() -> None:
    """0.0995 bar would be ok; with bores 5 % less or the boat 5 mm higher it is not."""
    states: dict[str, Any] = {"water_temperature_C": (5.0,), "sea_to_strainer": 2.8}
    exact = long_and_thin(filters=0.0)
    assert "suction-vacuum" not in {row.rule for row in solved(exact, **states).findings}
    lifted = finding(solved(exact, off=0.02, **states), "suction-vacuum")
    expected = worst_vacuum(solved(exact, **states))
    rise = 0.02 * GRAVITY * water(OCEAN, 5.0).density
    assert lifted.value == pytest.approx(expected + rise)
    assert "worst case" in lifted.text
    narrowed = finding(solved(within(exact, 0.05), **states), "suction-vacuum")
    assert narrowed.value is not None
    assert narrowed.value > 1.1 * expected


def test_assumptions_are_reported() -> None:
    told = {row.what for row in solved().assumptions}
    assert {"flow path through panel", "salinity of the product"} <= told
    given_limits = replace(plant_kit().limits, given=("suction_vacuum_max",))
    assert "limits of the pumps and the membrane" in told
    stated = solved(replace(plant_kit(), limits=given_limits))
    assert "limits of the pumps and the membrane" not in {row.what for row in stated.assumptions}
