"""A kit without a line its plant needs, or without a device that is needed to judge anything."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitcheck.hydraulics.rules.complete import complete_findings
from fitcheck.model.given.kit import PortRef
from fitcheck.model.given.scenario import Scenario
from fitcheck.scenario import read_scenario
from tests import ROOT

SCENARIOS = ROOT / "scenarios"

#: Lines of the demo kit, and the ports that are disconnected without them.
NEEDED = {
    "sea_to_strainer": ("the boat", "feed_pump.inlet"),
    "strainer_to_pump": ("the boat", "feed_pump.inlet"),
    "pump_to_prefilters": ("feed_pump.outlet", "hp_pump.inlet"),
    "prefilters_to_hp": ("feed_pump.outlet", "hp_pump.inlet"),
    "hp_to_vessel": ("hp_pump.outlet", "vessel.feed"),
    "vessel_to_panel": ("vessel.brine", "the boat"),
    "brine_overboard": ("vessel.brine", "the boat"),
    "product_to_panel": ("vessel.product", "the boat"),
    "product_to_tank": ("vessel.product", "the boat"),
}


@pytest.fixture(scope="module")
def demo() -> Scenario:
    return read_scenario(SCENARIOS / "demo.toml")


def test_a_complete_kit_has_no_finding(demo: Scenario) -> None:
    assert complete_findings(demo) == ()


def test_a_bypass_is_not_a_required_line(demo: Scenario) -> None:
    assert complete_findings(_without(demo, "bypass")) == ()


@pytest.mark.parametrize("line", NEEDED)
def test_a_missing_line_is_named_by_its_ends_and_bars_the_order(demo: Scenario, line: str) -> None:
    (found,) = complete_findings(_without(demo, line))
    start, end = NEEDED[line]
    assert found.rule == "line-missing"
    assert found.severity == "fail"
    assert found.bars == ("order_hoses",)
    assert f"from {start} to {end}" in found.text
    assert found.remedy is not None
    assert f"from {start} to {end}" in found.remedy.text


def test_a_kit_without_lines_has_five_missing(demo: Scenario) -> None:
    found = complete_findings(_with(demo, lines=()))
    assert [row.rule for row in found] == ["line-missing"] * 5


def test_without_a_membrane_the_order_waits(demo: Scenario) -> None:
    found = complete_findings(_with(demo, membrane=None))
    assert any("[kit.membrane]" in row.text and row.bars == ("order_hoses",) for row in found)


def test_brine_into_a_tank_bars_the_order(demo: Scenario) -> None:
    found = _only(_led(demo, "brine_overboard", end=PortRef(owner="boat", port="tank")))
    assert (found.rule, found.subject) == ("boat-port-role", "tank")
    assert "brine water goes to boat.tank" in found.text


def test_product_overboard_bars_the_order(demo: Scenario) -> None:
    found = _only(_led(demo, "product_to_tank", end=PortRef(owner="boat", port="overboard")))
    assert (found.rule, found.subject) == ("boat-port-role", "overboard")


@pytest.mark.parametrize("role", ["overboard", "tank"])
def test_feed_must_come_from_a_seacock(demo: Scenario, role: str) -> None:
    found = _only(_with_role(demo, "seacock", role))
    assert (found.rule, found.subject) == ("boat-port-role", "seacock")
    assert 'boat.ports.seacock.role = "seacock"' in found.remedy.text


@pytest.mark.parametrize("port", ["seacock", "overboard", "tank"])
def test_a_port_with_role_other_may_serve_any_water(demo: Scenario, port: str) -> None:
    assert complete_findings(_with_role(demo, port, "other")) == ()


def test_brine_must_not_return_to_the_intake(demo: Scenario) -> None:
    other = _with_role(demo, "seacock", "other")
    found = _only(_led(other, "brine_overboard", end=PortRef(owner="boat", port="seacock")))
    assert (found.rule, found.subject) == ("boat-port-role", "seacock")
    assert "seawater intake" in found.text


@pytest.mark.parametrize("line", NEEDED)
def test_a_reversed_line_is_corrected_by_its_remedy(demo: Scenario, line: str) -> None:
    row = demo.kit.line(line)
    found = _only(_led(demo, line, start=row.end, end=row.start))
    assert (found.rule, found.subject) == ("line-reversed", line)
    assert [change.key.split(".")[-1] for change in found.remedy.changes] == ["from", "to"]
    assert [change.value for change in found.remedy.changes] == [str(row.start), str(row.end)]


def _only(scenario: Scenario) -> Any:
    (found,) = complete_findings(scenario)
    assert found.severity == "fail"
    assert found.bars == ("order_hoses",)
    assert found.remedy is not None
    return found


def _led(scenario: Scenario, name: str, **ends: PortRef) -> Scenario:
    lines = tuple(
        replace(line, **ends) if line.name == name else line for line in scenario.kit.lines
    )
    return _with(scenario, lines=lines)


def _with_role(scenario: Scenario, name: str, role: Any) -> Scenario:
    ports = tuple(
        replace(port, role=role) if port.name == name else port for port in scenario.boat.ports
    )
    return replace(scenario, boat=replace(scenario.boat, ports=ports))


def _with(scenario: Scenario, **changes: Any) -> Scenario:
    return replace(scenario, kit=replace(scenario.kit, **changes))


def _without(scenario: Scenario, name: str) -> Scenario:
    lines = scenario.kit.lines
    assert any(line.name == name for line in lines)
    return _with(scenario, lines=tuple(line for line in lines if line.name != name))
