"""Bypass kinds and places, remedies of every kind, governing states, the envelope."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.findings.said import as_written
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.seawater import water
from fitcheck.hydraulics.remedy.applied import applied
from fitcheck.hydraulics.remedy.other_changes import Stands
from fitcheck.hydraulics.remedy.remedies import Again
from fitcheck.hydraulics.remedy.trials import Goal
from fitcheck.model.finding import Change, Finding, Severity
from fitcheck.model.found.hydraulics import Governing, Hydraulics
from fitcheck.model.given.kit import Kit, PortRef
from fitcheck.model.given.scenario import LineChoice, Scenario
from fitcheck.units import parse, show
from tests.specimens.mended import mended_water
from tests.specimens.water import (
    CUBIC_METRE_PER_HOUR,
    OCEAN,
    RUNS,
    a_hose,
    a_port,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_hose,
    with_line,
    within,
)
from tests.specimens.water_solved import finding, long_and_thin, operation, rules, solved

# --- the bypass ---------------------------------------------------------------------------------


def relief(opens_at: float) -> Kit:
    return with_line(plant_kit(), "bypass", opens_at=opens_at, valve_flow=2 / 3600)


def test_a_relief_type_bypass_stays_shut_below_its_pressure() -> None:
    """The pump makes 13.5 m at 9.5 L/min, 1.36 bar: 1.4 bar never opens."""
    shut = operation(relief(1.4e5))
    assert shut.flows["bypass"] == 0.0
    assert shut.losses["bypass"].total == 0.0
    assert shut.flows["feed pump"] == pytest.approx(shut.feed_flow)


@settings(max_examples=20, deadline=None)
@given(st.floats(0.4e5, 1.3e5))
def test_a_relief_type_bypass_opens_at_its_pressure_plus_its_loss(opens_at: float) -> None:
    found = operation(relief(opens_at))
    assert found.flows["bypass"] > 0.0
    across = found.pressures["feed_pump.outlet"] - found.pressures["feed_pump.inlet"]
    assert across > opens_at
    assert found.losses["bypass"].total == pytest.approx(across, rel=1e-6)
    hose = found.losses["bypass"].total - opens_at
    plain = operation(with_line(relief(opens_at), "bypass", opens_at=None))
    assert found.flows["bypass"] < plain.flows["bypass"]
    assert hose < plain.losses["bypass"].total


def tapped_after_filters() -> Kit:
    """The bypass begins at a tee on the filters' outlet."""
    kit = plant_kit()
    modules = tuple(
        replace(row, ports=(*row.ports, a_port("tap", joins="outlet")))
        if row.name == "prefilters"
        else row
        for row in kit.modules
    )
    kit = replace(kit, modules=modules)
    return with_line(kit, "bypass", start=PortRef(owner="prefilters", port="tap"))


def test_a_bypass_after_the_filters_is_affected_by_their_dirt() -> None:
    """Dirt reduces the bypass flow, and all of the pump's water goes through the filters."""
    kit = tapped_after_filters()
    clean, dirty = operation(kit), operation(kit, dirty=True)
    assert clean.flows["pump_to_filters"] == pytest.approx(clean.flows["feed pump"])
    assert dirty.flows["bypass"] < 0.95 * clean.flows["bypass"]
    plain = operation()
    assert clean.pressures["hp_pump.inlet"] < plain.pressures["hp_pump.inlet"]


def returning_to_the_strainer() -> Kit:
    """The bypass ends at a tee on the strainer's inlet, so the suction hose after it carries
    everything.
    """
    kit = plant_kit()
    modules = tuple(
        replace(row, ports=(*row.ports, a_port("back", joins="inlet")))
        if row.name == "strainer"
        else row
        for row in kit.modules
    )
    kit = replace(kit, modules=modules)
    return with_line(kit, "bypass", end=PortRef(owner="strainer", port="back"))


def test_a_bypass_that_returns_further_up_loads_the_suction_hose() -> None:
    found = operation(returning_to_the_strainer())
    assert found.flows["strainer_to_pump"] == pytest.approx(found.flows["feed pump"])
    assert found.flows["sea_to_strainer"] == pytest.approx(found.feed_flow)
    assert found.pressures["feed_pump.inlet"] < operation().pressures["feed_pump.inlet"]


def test_the_range_of_the_bypass_ends_where_something_fails() -> None:
    kit = plant_kit()
    found = solved(kit).bypass
    assert found is not None
    assert found.widest is not None
    for share, fails in ((0.98, False), (1.03, True)):
        again = solved(with_line(kit, "bypass", valve_flow=share * found.widest))
        assert bool(rules(again, "fail")) == fails
    dirty = replace(kit.resistances[1], dirty=1.5e5)
    none = solved(replace(kit, resistances=(kit.resistances[0], dirty))).bypass
    assert none is not None
    assert none.widest is None


# --- remedies -----------------------------------------------------------------------------------


def water_of(
    of: Scenario, again: Again | None = None, stands: Stands | None = None, **lengths: float
) -> Hydraulics:
    return mended_water(of, plant_space(of), plant_routes(of, **lengths), again, stands)


def anywhere(_: str, least: float, __: float) -> float:
    """A room in which every box fits at any height."""
    return least


def test_a_caution_names_its_remedy() -> None:
    of = plant_scenario(long_and_thin(filters=0.0))
    said = finding(water_of(of, sea_to_strainer=4.0), "suction-vacuum")
    assert said.severity == "caution"
    assert said.remedy is not None
    assert said.remedy.proven == "solved"
    after = water_of(applied(of, said.remedy.changes), sea_to_strainer=4.4)
    assert "suction-vacuum" not in {row.rule for row in after.findings}


def ways(said: Finding) -> list[str]:
    assert said.remedy is not None
    return [said.remedy.text, *(row.text for row in said.alternatives)]


def test_alternatives_have_their_numbers() -> None:
    """Hoses, the pump lower, a shorter run with its bound."""
    of = plant_scenario(long_and_thin())
    said = finding(water_of(of, stands=anywhere, sea_to_strainer=12.0), "suction-vacuum")
    told = ways(said)
    assert told[0].startswith("Use suction_16 for sea_to_strainer and strainer_to_pump")
    assert any(text.startswith("Lower feed_pump") for text in told)
    # the bound is 12 m here, so no shorter run exists
    assert not any(text.startswith("Shorten sea_to_strainer") for text in told)


def test_lowering_the_pump_as_suggested_passes() -> None:
    of = plant_scenario(long_and_thin())
    said = finding(water_of(of, stands=anywhere, sea_to_strainer=12.0), "suction-vacuum")
    lower = next(row for row in said.alternatives if row.said.key == "module-lowered")
    change = lower.changes[0]
    assert change.key == "layout.modules.feed_pump.at"
    after = water_of(applied(of, lower.changes), sea_to_strainer=12.0)
    assert "suction-vacuum" not in rules(after, "fail")


def test_a_pump_is_lowered_only_as_far_as_its_box_fits() -> None:
    of = plant_scenario(long_and_thin())
    asked: list[tuple[str, float, float]] = []

    def nowhere(module: str, least: float, most: float) -> None:
        asked.append((module, least, most))

    for stands in (None, nowhere):
        said = finding(water_of(of, stands=stands, sea_to_strainer=12.0), "suction-vacuum")
        assert "module-lowered" not in {row.said.key for row in said.alternatives}
    ((module, least, most),) = set(asked)
    assert module == "feed_pump"
    assert 0.0 < least < most

    def on_the_sole(_: str, least: float, __: float) -> float:
        return least + 0.2

    said = finding(water_of(of, stands=on_the_sole, sea_to_strainer=12.0), "suction-vacuum")
    lower = next(row for row in said.alternatives if row.said.key == "module-lowered")
    assert parse(lower.changes[0].value[2], "length") == pytest.approx(-0.10 - least - 0.2)


def test_the_whole_suction_side_in_one_bore_comes_first() -> None:
    of = plant_scenario(long_and_thin())
    said = finding(water_of(of, sea_to_strainer=12.0), "suction-vacuum")
    assert said.remedy is not None
    assert [(row.key, row.value) for row in said.remedy.changes] == [
        ("layout.lines.sea_to_strainer.hose", "suction_16"),
        ("layout.lines.strainer_to_pump.hose", "suction_16"),
    ]


def test_a_remedy_reports_the_numbers_of_the_judged_side() -> None:
    """Applied, on routes a tenth longer, its finding would give the reported number."""
    tight = within(long_and_thin(), 0.05)
    tight = replace(tight, limits=replace(tight.limits, suction_vacuum_ok=0.01))
    of = plant_scenario(tight)
    said = finding(water_of(of, sea_to_strainer=9.0), "suction-vacuum")
    assert said.severity == "fail"
    assert said.remedy is not None
    runs = {"sea_to_strainer": 9.9, "strainer_to_pump": 1.1 * RUNS["strainer_to_pump"][0]}
    after = finding(water_of(applied(of, said.remedy.changes), **runs), "suction-vacuum")
    assert after.value is not None
    assert f"at most {show(after.value, 'vacuum')}" in said.remedy.text


def test_fails_without_a_common_remedy_each_have_one() -> None:
    """Weak feed hoses, and filters dirtier than any hose can compensate: the hoses still have a
    remedy.
    """
    kit = with_hose(plant_kit(), a_hose("feed_12", pressure_rating=1.3e5))
    kit = with_hose(kit, a_hose("firm", bore=0.0127, pressure_rating=10e5))
    kit = replace(kit, resistances=(kit.resistances[0], replace(kit.resistances[1], dirty=1.2e5)))
    result = water_of(plant_scenario(kit))
    assert rules(result, "fail") >= {"pressure-rating", "largest-flow"}
    lost = finding(result, "largest-flow").remedy
    assert lost is not None
    assert lost.changes == ()
    for row in result.findings:
        if row.rule == "pressure-rating" and row.severity == "fail":
            assert row.remedy is not None
            assert [change.value for change in row.remedy.changes] == ["firm"]


def test_no_wider_bore_is_suggested_for_a_pressure_rating() -> None:
    kit = with_hose(plant_kit(), a_hose("hp_8", pressure_rating=60e5))
    for row in water_of(plant_scenario(kit)).findings:
        if row.rule == "pressure-rating":
            assert row.remedy is not None
            assert "wide" not in row.remedy.text
            assert "rated for at least 68 bar" in row.remedy.text


def test_a_barely_sufficient_hose_is_reported_once_proven() -> None:
    """The widest hose on both lines gives 0.95 of the limit: it passes without the 10 % margin."""
    of = plant_scenario(long_and_thin())
    wide = dict.fromkeys(("sea_to_strainer", "strainer_to_pump"), "suction_19")

    def again(changed: Scenario) -> Hydraulics:
        return water_of(changed, sea_to_strainer=30.0)

    given = [
        Change(file="", key=f"layout.lines.{line}.hose", value=hose) for line, hose in wide.items()
    ]
    most = finding_vacuum(again(applied(of, given)))
    kit = replace(of.kit, limits=replace(of.kit.limits, suction_vacuum_max=most / 0.95))
    of = replace(of, kit=kit)
    assert finding(water_of(of, sea_to_strainer=30.0), "suction-vacuum").remedy.changes == ()  # type: ignore[union-attr]
    said = finding(water_of(of, again, sea_to_strainer=30.0), "suction-vacuum")
    assert said.remedy is not None
    assert said.remedy.proven == "run again"
    assert {change.value for change in said.remedy.changes} == {"suction_19"}


def finding_vacuum(result: Hydraulics) -> float:
    """The highest vacuum with clean filters [Pa]."""
    return row(result, "vacuum-clean").worst


def test_an_existing_fail_rejects_no_remedy() -> None:
    """The brine's hose is far too thin: the suction side's remedy is still tested and reported."""
    kit = with_line(long_and_thin(), "overboard", hose="product_6")
    of = plant_scenario(kit)

    def again(changed: Scenario) -> Hydraulics:
        return water_of(changed, sea_to_strainer=12.0)

    result = water_of(of, again, sea_to_strainer=12.0)
    assert "brine-back-pressure" in rules(result, "fail")
    said = finding(result, "suction-vacuum")
    assert said.remedy is not None
    assert said.remedy.proven == "run again"


def test_a_remedy_with_a_new_fail_is_rejected() -> None:
    """Run again, each remedy fails where nothing failed before."""
    of = plant_scenario(long_and_thin())
    tried: list[tuple[LineChoice, ...]] = []

    def again(changed: Scenario) -> Hydraulics:
        tried.append(changed.layout.choices)
        thin = with_line(changed.kit, "overboard", hose="product_6")
        return water_of(replace(changed, kit=thin), sea_to_strainer=12.0)

    said = finding(water_of(of, again, sea_to_strainer=12.0), "suction-vacuum")
    assert len(tried) == 2
    assert said.remedy is not None
    left = [row for row in (said.remedy, *said.alternatives) if row.changes]
    assert all(row.proven == "solved" for row in left)
    assert not {applied(of, row.changes).layout.choices for row in left} & set(tried)


@pytest.mark.parametrize(
    ("severity", "key", "missed"),
    [
        ("fail", ("velocity", "a"), True),
        ("fail", ("wanted", "a"), True),
        ("fail", ("older", "a"), False),
        ("fail", ("older", "b"), True),
        ("caution", ("wanted", "a"), True),
        ("caution", ("velocity", "a"), False),
        ("note", ("wanted", "a"), False),
    ],
)
def test_a_goal_is_missed_by_unresolved_findings_and_new_fails(
    severity: Severity, key: tuple[str, str], missed: bool
) -> None:
    goal = Goal(
        lines=("a",),
        severity="caution",
        wanted=frozenset({("wanted", "a")}),
        worst=(),
        older=frozenset({("older", "a")}),
    )
    found = Finding(severity=severity, rule=key[0], subject=key[1], said=as_written(""), source="")
    assert goal.missed_by(found) == missed


def test_the_suggested_strainer_passes() -> None:
    """A strainer that fouls to 1 bar: no hose is enough, a larger strainer alone is."""
    kit = plant_kit()
    rows = tuple(
        replace(one, loss=4_000.0, dirty=9e4) if one.name == "strainer" else one
        for one in kit.resistances
    )
    of = plant_scenario(replace(kit, resistances=rows))
    said = finding(water_of(of), "suction-vacuum")
    assert said.remedy is not None
    larger = next(one for one in (said.remedy, *said.alternatives) if "strainer" in one.text)
    assert {change.key for change in larger.changes} == {
        "kit.resistances.strainer.loss",
        "kit.resistances.strainer.dirty",
    }
    assert "suction-vacuum" not in rules(water_of(applied(of, larger.changes)), "fail")


def test_a_shorter_run_is_suggested_down_to_its_bound() -> None:
    of = plant_scenario(long_and_thin())
    routes = plant_routes(of, sea_to_strainer=12.0)
    hoses = tuple(replace(row, bound=1.0) for row in routes.hoses)
    result = mended_water(of, plant_space(of), replace(routes, hoses=hoses))
    short = next(text for text in ways(finding(result, "suction-vacuum")) if "Shorten sea" in text)
    assert "minimum between these ports is 1 m" in short
    length = float(short.split(" to ")[1].split(" m")[0])
    after = water_of(of, sea_to_strainer=length)
    assert "suction-vacuum" not in rules(after, "fail")


def test_a_remedy_comes_first_only_if_the_whole_job_passes_with_it() -> None:
    """If the first hose has no route when re-routed, the next remedy is reported."""
    of = plant_scenario(long_and_thin())
    tried: list[Scenario] = []

    def again(changed: Scenario) -> Hydraulics | None:
        tried.append(changed)
        return None if len(tried) == 1 else water_of(changed, sea_to_strainer=12.5)

    said = finding(water_of(of, again, sea_to_strainer=12.0), "suction-vacuum")
    assert said.remedy is not None
    assert said.remedy.proven == "run again"
    assert len(tried) == 2
    assert applied(of, said.remedy.changes) == tried[1]
    assert not any(tried[0] == applied(of, row.changes) for row in said.alternatives)


def test_hose_and_valve_are_combined_if_neither_is_enough() -> None:
    """A thin suction hose and a bypass open far too wide."""
    kit = with_line(
        long_and_thin(filters=55_000.0), "bypass", valve_flow=2.2 * CUBIC_METRE_PER_HOUR
    )
    of = plant_scenario(kit)
    result = water_of(of, sea_to_strainer=12.0)
    fails = [row for row in result.findings if row.severity == "fail"]
    assert {row.rule for row in fails} >= {"suction-vacuum", "largest-flow"}
    remedy = fails[0].remedy
    assert remedy is not None
    keys = {change.key.split(".")[-1] for change in remedy.changes}
    assert keys == {"hose", "valve"}
    after = water_of(applied(of, remedy.changes), sea_to_strainer=13.0)
    assert rules(after, "fail") == set()


def test_other_keys_than_those_of_remedies_are_refused() -> None:
    with pytest.raises(ValueError, match="no remedy writes"):
        applied(
            plant_scenario(), [Change(file="kit.toml", key="kit.lines.bypass.duty", value="x")]
        )


# --- what governs, and bands --------------------------------------------------------------------


def row(result: Hydraulics, key: str) -> Governing:
    return next(row for row in result.governing if row.said.key == f"governing.{key}")


def test_every_band_contains_its_expected_value_and_widens_with_tolerance() -> None:
    exact = solved(heel=(-0.3, 0.0, 0.3))
    loose = solved(within(plant_kit(), 0.05), off=0.02, heel=(-0.3, 0.0, 0.3))
    assert len(exact.governing) >= 12
    for one, other in zip(exact.governing, loose.governing, strict=True):
        assert one.said == other.said
        low, high = sorted((other.best, other.worst))
        assert low - 1e-9 <= other.value <= high + 1e-9
        assert one.best == pytest.approx(one.worst, rel=1e-9, abs=1e-12)


def test_the_governing_vacuum_is_the_highest_of_all_states() -> None:
    result = solved(heel=(-0.3, 0.0, 0.3))
    clean = [
        pump.suction_vacuum
        for pump in result.pumps
        if pump.suction_vacuum is not None and "fouled" not in pump.state
    ]
    assert row(result, "vacuum-clean").value == pytest.approx(max(clean))


def test_lower_air_pressure_only_reduces_npsh() -> None:
    states: dict[str, Any] = {"water_temperature_C": (5.0,)}
    one = solved(**states)
    low = solved(atmosphere=97_000.0, **states)
    drop = (101_325.0 - 97_000.0) / (water(OCEAN, 5.0).density * GRAVITY)
    assert row(low, "npsh").value == pytest.approx(row(one, "npsh").value - drop)
    for before, after in zip(one.governing, low.governing, strict=True):
        assert after.said == before.said
        if after.said.key != "governing.npsh":
            assert after.value == pytest.approx(before.value)


# --- envelope -----------------------------------------------------------------------------------


def test_the_envelope_ends_where_a_limit_is_met() -> None:
    """A layout on the curve of its own bore just passes; a tenth beyond it fails."""
    kit = long_and_thin(strainer=0.0, filters=0.0)
    result = solved(kit, water_temperature_C=(5.0,))
    around = result.envelope
    assert around is not None
    assert around.own_length == pytest.approx(2.0)
    assert around.own_lift == pytest.approx(-0.10)
    curve = next(one for one in around.curves if one.hose == "suction_13")
    below, above = (curve.longest[around.lifts.index(lift)] for lift in (-0.25, 0.0))
    assert below is not None
    assert above is not None
    longest = below + (above - below) * 0.15 / 0.25
    for share, fails in ((0.99, False), (1.01, True)):
        shared = {
            "sea_to_strainer": 0.45 * longest * share,
            "strainer_to_pump": 0.55 * longest * share,
        }
        again = solved(kit, water_temperature_C=(5.0,), **shared)
        assert bool(rules(again, "fail")) == fails


def test_allowed_length_increases_with_bore_and_decreases_with_lift() -> None:
    around = solved(long_and_thin()).envelope
    assert around is not None
    reach = [[0.0 if x is None else x for x in curve.longest] for curve in around.curves]
    assert [curve.bore for curve in around.curves] == sorted(curve.bore for curve in around.curves)
    for one in reach:
        assert one == sorted(one, reverse=True)
    for narrow, wide in zip(reach, reach[1:], strict=False):
        assert all(a <= b for a, b in zip(narrow, wide, strict=True))
    for curve in around.curves:
        pairs = zip(curve.fine, curve.longest, strict=True)
        assert all((fine or 0.0) <= (longest or 0.0) for fine, longest in pairs)
