"""A "not yet" names what makes it a yes, and the named change removes its reason.

`tests.bench.named_changes` does the same on whole layouts.
"""

from __future__ import annotations

import ast
from dataclasses import replace

import pytest

from fitcheck.hydraulics.remedy.applied import applied
from fitcheck.model.finding import Finding
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.given.kit import Kit, PortRef
from fitcheck.model.given.scenario import Scenario
from tests import ROOT
from tests.specimens.mended import mended_water
from tests.specimens.result import specimen_result
from tests.specimens.water import (
    CUBIC_METRE_PER_HOUR,
    RUNS,
    a_hose,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_hose,
    with_line,
)
from tests.specimens.water_solved import dirt, long_and_thin

PACKAGE = ROOT / "fitcheck"
STAGES = ("space", "fit", "routing", "hydraulics", "order")
#: Get their remedies from `with_remedies`, which gives one to every fail.
JUDGED = {f"hydraulics/rules/{name}.py" for name in ("limits", "hose_limits", "outlets")}


def test_every_finding_that_may_bar_a_step_has_a_remedy() -> None:
    without = []
    for stage in STAGES:
        for path in sorted((PACKAGE / stage).rglob("*.py")):
            name = path.relative_to(PACKAGE).as_posix()
            if name in JUDGED:
                continue
            for call in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "Finding":
                    keys = {row.arg: row.value for row in call.keywords}
                    fails = any(
                        isinstance(row, ast.Constant) and row.value == "fail"
                        for row in ast.walk(keys["severity"])
                    )
                    if ("bars" in keys or fails) and "remedy" not in keys:
                        without.append(f"{name}:{call.lineno}")
    assert without == []


def reasons(result: Hydraulics) -> list[Finding]:
    return [row for row in result.findings if row.severity == "fail" or row.bars]


def key(finding: Finding) -> tuple[str, str]:
    return finding.rule, finding.subject


def opened(flow: float, kit: Kit | None = None) -> Kit:
    return with_line(kit or plant_kit(), "bypass", valve_flow=flow * CUBIC_METRE_PER_HOUR)


def turned(name: str) -> Kit:
    kit = plant_kit()
    line = kit.line(name)
    return with_line(kit, name, start=line.end, end=line.start)


PLANTS = {
    "thin and long": (long_and_thin(), 12.0),
    "thin, long and dirty": (long_and_thin(9_000.0, 60_000.0), 14.0),
    "bypass too open": (opened(2.0), 0.9),
    "bypass far too open": (opened(2.2, long_and_thin(filters=55_000.0)), 12.0),
    "bypass beyond the curve": (opened(4.0), 0.9),
    "a soft wall": (
        with_hose(
            with_hose(plant_kit(), a_hose("suction_19", wall="soft")), a_hose("spare", bore=0.0191)
        ),
        0.9,
    ),
    "a weak high-pressure hose": (
        with_hose(plant_kit(), a_hose("hp_8", pressure_rating=60e5)),
        0.9,
    ),
    "a weak feed hose": (
        with_hose(
            with_hose(plant_kit(), a_hose("feed_12", pressure_rating=1.3e5)),
            a_hose("firm", bore=0.0128),
        ),
        0.9,
    ),
    "brine through a tube": (with_line(plant_kit(), "overboard", hose="product_6"), 0.9),
    "thin product, brine and suction": (
        with_line(with_line(long_and_thin(), "overboard", hose="product_6"), "product"),
        12.0,
    ),
    "a dirty strainer": (dirt(9e4, 0.0), 0.9),
    "no way through the filters": (dirt(0.0, 3e5), 0.9),
    "no membrane": (replace(plant_kit(), membrane=None), 0.9),
    "no pump": (replace(plant_kit(), high_pressure_pump=None), 0.9),
    "brine into the tank": (
        with_line(plant_kit(), "overboard", end=PortRef(owner="boat", port="tank")),
        0.9,
    ),
    "a line written against its water": (turned("pump_to_filters"), 0.9),
}


@pytest.mark.parametrize("name", PLANTS)
def test_a_water_side_change_removes_its_reason(name: str) -> None:
    """Changed hoses are a tenth longer, as remedies assume."""
    kit, length = PLANTS[name]
    of = plant_scenario(kit)
    before = reasons(solved(of, of, length))
    assert before, "this plant has nothing wrong with it"
    for row in before:
        assert row.remedy is not None, row.text
        assert row.remedy.text
        if row.remedy.changes and row.rule != "line-reversed":
            changed = applied(of, row.remedy.changes)
            assert key(row) not in {key(one) for one in reasons(solved(changed, of, length))}


def solved(of: Scenario, before: Scenario, length: float) -> Hydraulics:
    lengths = {name: row[0] for name, row in RUNS.items()} | {"sea_to_strainer": length}
    for line in of.kit.lines:
        if of.hose_of(line) != before.hose_of(before.kit.line(line.name)):
            lengths[line.name] *= 1.1
    return mended_water(of, plant_space(of), plant_routes(of, **lengths))


def test_the_specimen_result_names_the_changes_its_reasons_need() -> None:
    result = specimen_result()
    for row in (*result.cut_joinery.reasons, *result.order_hoses.reasons):
        assert row.remedy is not None
        assert row.remedy.text
