"""High and low points, openings, priming, flushing: shapes that can be judged by eye."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.seawater import water
from fitcheck.hydraulics.rules.standing import turns
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.given.kit import CurvePoint, FeedPump, Flush, Kit, PortRef
from fitcheck.model.given.scenario import Scenario
from tests.specimens.mended import mended_water
from tests.specimens.water import (
    HEIGHTS,
    LITRE_PER_MINUTE,
    RUNS,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
)
from tests.specimens.water_solved import finding, rules, solved

# --- turns of a run -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heights", "found"),
    [
        ([0.0, 1.0], []),
        ([0.0, 0.5, 0.2, 1.0], [(1, True, 0.3), (2, False, 0.3)]),
        ([0.0, 0.5, 0.45, 1.0], []),
        ([1.0, 0.0, 0.6], [(1, False, 0.6)]),
        ([0.0, 0.3, 0.0], [(1, True, 0.3)]),
        ([0.0, 0.05, 0.3, 0.28, 0.31, -0.2], [(4, True, 0.31)]),
        ([0.0, 0.0, 0.0], []),
    ],
)
def test_turning_points_of_a_run(
    heights: list[float], found: list[tuple[int, bool, float]]
) -> None:
    """A turning point differs by more than 0.1 m on both sides; the ends do not count."""
    got = turns(np.array(heights), 0.1)
    assert [(at, high) for at, high, _ in got] == [(at, high) for at, high, _ in found]
    assert [rise for _, _, rise in got] == pytest.approx([rise for _, _, rise in found])


@given(st.lists(st.floats(-2, 2), min_size=2, max_size=30))
def test_turning_points_alternate_and_flip_with_the_boat(heights: list[float]) -> None:
    got = turns(np.array(heights), 0.1)
    assert all(a[1] != b[1] for a, b in zip(got, got[1:], strict=False))
    assert all(rise > 0.1 - 1e-12 for _, _, rise in got)
    over = turns(-np.array(heights), 0.1)
    assert [(at, not high) for at, high, _ in got] == [(at, high) for at, high, _ in over]


# --- air traps ----------------------------------------------------------------------------------


def bent(routes: Routes, line: str, *middle: tuple[float, float, float]) -> Routes:
    """Routes with one run through other points."""
    hoses = []
    for row in routes.hoses:
        if row.line == line:
            assert isinstance(row, HoseRoute)
            corners = [row.start, *middle, row.end]
            pieces = [np.linspace(a, b, 20) for a, b in zip(corners, corners[1:], strict=False)]
            row = replace(row, path=np.concatenate(pieces))
        hoses.append(row)
    return replace(routes, hoses=tuple(hoses))


def led(line: str, *middle: tuple[float, float, float], **water_states: Any) -> Hydraulics:
    of = plant_scenario(**water_states)
    return mended_water(of, plant_space(of), bent(plant_routes(of), line, *middle))


def test_a_hump_in_the_suction_hose_is_an_air_trap() -> None:
    """Up to 0.30 m above the sea, then down to the pump 0.10 m below it."""
    trap = finding_of(led("strainer_to_pump", (0.0, 0.0, 0.30)), "air-trap", "strainer_to_pump")
    assert trap.severity == "caution"
    assert trap.place == pytest.approx((0.0, 0.0, 0.30))
    assert trap.value == pytest.approx(0.40)  # over the pump, 0.10 m below the sea


def finding_of(result: Hydraulics, rule: str, subject: str) -> Any:
    return next(row for row in result.findings if (row.rule, row.subject) == (rule, subject))


def test_a_hump_under_water_is_a_note() -> None:
    """Its water stays above atmospheric pressure."""
    deep = plant_scenario()
    low = tuple(
        replace(row, at=(0.0, 0.0, -3.0)) if row.module in ("strainer", "feed_pump") else row
        for row in deep.layout.placements
    )
    deep = replace(deep, layout=replace(deep.layout, placements=low))
    routes = bent(plant_routes(deep), "strainer_to_pump", (0.0, 0.0, -2.5))
    result = mended_water(deep, plant_space(deep), routes)
    assert finding_of(result, "air-trap", "strainer_to_pump").severity == "note"


def test_a_rising_hose_traps_nothing() -> None:
    """The strainer is the highest point of the suction side, so it is named and not a hose."""
    result = solved()
    assert [row.subject for row in result.findings if row.rule == "air-trap"] == ["strainer"]
    assert finding_of(result, "air-trap", "strainer").severity == "note"


def test_a_level_end_at_the_highest_port_traps_nothing() -> None:
    """It rises to the pump, 0.3 m above the sea, and is level for its last 60 mm."""
    of = plant_scenario()
    high = tuple(
        replace(row, at=(0.0, 0.0, 0.30)) if row.module == "feed_pump" else row
        for row in of.layout.placements
    )
    of = replace(of, layout=replace(of.layout, placements=high))
    routes = bent(plant_routes(of), "strainer_to_pump", (-0.06, 0.0, 0.30))
    found = mended_water(of, plant_space(of), routes)
    assert traps(found) == {"feed_pump"}
    assert finding_of(found, "air-trap", "feed_pump").severity == "note"


def test_a_hump_next_to_an_equally_high_port_is_a_trap() -> None:
    """The hose rises to 0.3 m, dips to the sea and comes up to the pump at 0.3 m again."""
    of = plant_scenario()
    high = tuple(
        replace(row, at=(0.0, 0.0, 0.30)) if row.module == "feed_pump" else row
        for row in of.layout.placements
    )
    of = replace(of, layout=replace(of.layout, placements=high))
    way = ((-0.5, 0.0, 0.30), (-0.25, 0.0, 0.0))
    routes = bent(plant_routes(of), "strainer_to_pump", *way)
    assert "strainer_to_pump" in traps(mended_water(of, plant_space(of), routes))


def test_heel_alone_can_make_a_trap() -> None:
    """A run out to starboard and back is level upright, and a hump when heeled to port."""
    out = (0.0, -0.8, -0.0751)
    assert "strainer_to_pump" not in traps(led("strainer_to_pump", out))
    heeled = led("strainer_to_pump", out, heel=(-0.35, 0.0))
    assert "strainer_to_pump" in traps(heeled)
    point = next(row for row in heeled.turning_points if row.where == "strainer_to_pump")
    assert point.state.startswith("20.05° to port")
    over_the_pump = 0.8 * math.sin(0.35) + (0.1 - 0.0751) * math.cos(0.35)
    assert point.rise == pytest.approx(over_the_pump)


def traps(result: Hydraulics) -> set[str]:
    return {row.subject for row in result.findings if row.rule == "air-trap"}


def test_high_and_low_points_elsewhere_are_vents_and_drains() -> None:
    result = led("overboard", (0.0, 0.0, 0.9), (0.0, 0.0, 0.1))
    kinds = {(row.where, row.kind) for row in result.turning_points}
    assert {("overboard", "high"), ("overboard", "low")} <= kinds
    assert "overboard" in finding(result, "vents").text
    assert "overboard" in finding(result, "drains").text


# --- openings -----------------------------------------------------------------------------------


def with_port(of: Scenario, name: str, z: float, y: float = 0.0, **more: Any) -> Scenario:
    ports = tuple(
        replace(port, at=(0.0, y, z), **more) if port.name == name else port
        for port in of.boat.ports
    )
    return replace(of, boat=replace(of.boat, ports=ports))


def water_of(of: Scenario) -> Hydraulics:
    return mended_water(of, plant_space(of), plant_routes(of))


def test_an_intake_must_stay_under_at_every_heel() -> None:
    """0.40 m under at rest, 0.9 m to starboard: 0.02 m above the sea at 26 deg to port."""
    angle = math.radians(26)
    upright = water_of(with_port(plant_scenario(), "seacock", -0.40, y=-0.9))
    heeled = water_of(with_port(plant_scenario(heel=(-angle, 0.0)), "seacock", -0.40, y=-0.9))
    assert "pickup-immersion" not in rules(upright, "caution")
    said = finding(heeled, "pickup-immersion")
    assert (said.bars == ("order_hoses",)) is (said.value <= 0.0)
    assert said.value == pytest.approx(0.40 * math.cos(angle) - 0.9 * math.sin(angle))
    deeper = with_port(
        plant_scenario(heel=(-angle, 0.0)), "seacock", -0.40, -0.9, opening_below=0.3
    )
    assert "pickup-immersion" not in rules(water_of(deeper), "caution")


def test_an_outlet_near_the_sea_is_a_caution() -> None:
    said = finding(water_of(with_port(plant_scenario(), "overboard", 0.06)), "outlet-height")
    assert said.value == pytest.approx(0.06)
    assert "outlet-height" not in rules(solved(), "caution")


@pytest.mark.parametrize(("loop", "severity"), [(0.1, "caution"), (0.5, "note")])
def test_an_outlet_that_dips_needs_a_loop(loop: float, severity: str) -> None:
    """The panel must be low, or the hose from it already forms a loop."""
    of = with_port(plant_scenario(), "overboard", -0.2)
    low = tuple(
        replace(row, at=(0.0, 0.0, 0.05)) if row.module == "panel" else row
        for row in of.layout.placements
    )
    of = replace(of, layout=replace(of.layout, placements=low))
    routes = bent(plant_routes(of), "overboard", (0.0, 0.0, loop))
    said = finding(mended_water(of, plant_space(of), routes), "outlet-under-water")
    assert said.severity == severity
    assert said.value == pytest.approx(loop)
    assert (said.remedy is None) == (severity == "note")


def test_modules_below_the_sea_are_named_with_their_depth() -> None:
    said = finding(solved(), "stands-below-the-sea").text
    assert "strainer (50 mm)" in said
    assert "feed_pump (100 mm)" in said
    assert "hp_pump" not in said


def test_a_tank_above_the_membrane_and_a_brine_hose_below_the_panel_can_siphon() -> None:
    said = {row.subject: row.text for row in solved().findings if row.rule == "siphon"}
    assert "350 mm above the membrane" in said["tank"]
    assert "50 mm below panel" in said["overboard"]


# --- first fill ---------------------------------------------------------------------------------


def pump(**changes: Any) -> Kit:
    kit = plant_kit()
    assert kit.feed_pump is not None
    return replace(kit, feed_pump=replace(kit.feed_pump, **changes))


def high(kit: Kit, height: float = 0.5) -> Hydraulics:
    of = plant_scenario(kit)
    placements = tuple(
        replace(row, at=(0.0, 0.0, height)) if row.module == "feed_pump" else row
        for row in of.layout.placements
    )
    return water_of(replace(of, layout=replace(of.layout, placements=placements)))


def test_a_pump_above_the_sea_must_be_primed() -> None:
    said = finding(high(pump()), "first-fill")
    assert (said.severity, said.value) == ("caution", pytest.approx(0.5))
    assert "first-fill" not in rules(solved(), "caution")


@pytest.mark.parametrize(("primes_to", "severity"), [(1.0, None), (0.3, "fail")])
def test_a_self_priming_pump_needs_its_height_stated(
    primes_to: float, severity: str | None
) -> None:
    found = [
        row.severity
        for row in high(pump(primes_to=primes_to)).findings
        if row.rule == "first-fill"
    ]
    assert found == ([] if severity is None else [severity])


# --- stopped and flushing -----------------------------------------------------------------------


def test_a_stopped_plant_has_static_pressures_only() -> None:
    result = solved(water_temperature_C=(5.0,))
    rows = [row for row in result.lines if row.state == "upright, 5 °C, stopped"]
    assert len(rows) == len(RUNS)
    assert all(row.flow == row.loss == 0.0 for row in rows)
    product = next(row for row in rows if row.line == "product")
    assert product.static == pytest.approx(0.35 * GRAVITY * water(0.0003, 5.0).density)


def flushed(flow: float = 6.0) -> Kit:
    flush = Flush(
        at=PortRef(owner="feed_pump", port="inlet"), flow=flow * LITRE_PER_MINUTE, volumes=3.0
    )
    modules = tuple(replace(row, holds=0.001) for row in plant_kit().modules)
    return replace(plant_kit(), flush=flush, modules=modules)


def test_a_flush_is_fresh_from_its_port_to_the_sea() -> None:
    """Through feed, high pressure and brine; suction side and product do not flow."""
    result = solved(flushed(), water_temperature_C=(5.0,))
    rows = {row.line: row for row in result.lines if row.state == "upright, 5 °C, flushing"}
    assert "sea_to_strainer" not in rows
    for line in ("pump_to_filters", "filters_to_hp", "hp_to_vessel", "overboard"):
        assert rows[line].flow == pytest.approx(6.0 * LITRE_PER_MINUTE)
    assert rows["product"].flow == rows["bypass"].flow == 0.0
    fresh = water(0.0003, 5.0).density
    assert rows["overboard"].static == pytest.approx(-0.05 * GRAVITY * fresh)


def test_the_water_of_a_flush_is_counted() -> None:
    """Bores and lengths by hand, and five modules of a litre each: pump to panel."""
    plan = solved(flushed()).flush
    assert plan is not None
    swept = {"pump_to_filters": 12.7, "filters_to_hp": 12.7, "hp_to_vessel": 7.9}
    swept |= {"vessel_to_panel": 7.9, "overboard": 12.7}
    by_hand = sum(math.pi / 4 * (bore / 1e3) ** 2 * RUNS[line][0] for line, bore in swept.items())
    assert plan.held == pytest.approx(by_hand + 0.005)
    assert plan.volume == pytest.approx(3 * plan.held)
    assert plan.time == pytest.approx(plan.volume / (6.0 * LITRE_PER_MINUTE))
    assert plan.lost == ()


# --- a diaphragm pump ---------------------------------------------------------------------------


def diaphragm(flow: float, cut_out: float = 2.5e5, cut_in: float = 1.5e5) -> Kit:
    """Head falls from 30 m at `flow` to zero at 1.3 times that flow."""
    curve = tuple(
        CurvePoint(flow=share * flow * LITRE_PER_MINUTE, head=head)
        for share, head in ((1.0, 30.0), (1.15, 15.0), (1.3, 0.0))
    )
    kit = plant_kit()
    assert isinstance(kit.feed_pump, FeedPump)
    pump = replace(kit.feed_pump, kind="diaphragm", curve=curve, cut_out=cut_out, cut_in=cut_in)
    lines = tuple(line for line in kit.lines if line.name != "bypass")
    return replace(kit, feed_pump=pump, lines=lines)


def test_a_diaphragm_pump_with_excess_flow_cycles() -> None:
    """12 L/min at shut-off where 9.5 are drawn: judged at cut-in and at the flow while it runs."""
    result = solved(diaphragm(12.0), water_temperature_C=(5.0,))
    row = next(row for row in result.pumps if row.pump == "feed_pump")
    density = water(0.03516504, 5.0).density
    head = 1.5e5 / (density * GRAVITY)
    assert row.cycles
    assert row.flow == pytest.approx(
        (1.15 + 0.15 * (15.0 - head) / 15.0) * 12 * LITRE_PER_MINUTE, rel=1e-3
    )
    said = finding(result, "pump-cycling")
    assert said.value == pytest.approx(9.5 * LITRE_PER_MINUTE / row.flow)
    small = solved(diaphragm(8.0), water_temperature_C=(5.0,))
    assert not any(row.cycles for row in small.pumps)


def test_suction_of_a_cycling_pump_is_judged_while_it_runs() -> None:
    """More vacuum than at the mean flow, which a smaller pump would draw."""
    cycling, steady = (
        solved(diaphragm(flow), water_temperature_C=(5.0,), sea_to_strainer=6.0).pumps[0]
        for flow in (12.0, 8.0)
    )
    assert cycling.suction_vacuum is not None
    assert steady.suction_vacuum is not None
    assert cycling.flow > steady.flow
    assert cycling.suction_vacuum > steady.suction_vacuum
    assert HEIGHTS["feed_pump"] < 0.0
