"""A kit that lacks a line its plant needs, or a device without which nothing is judged."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from fitcheck.hydraulics.complete import complete_findings
from fitcheck.model.kit import Kit
from fitcheck.scenario import read_scenario

SCENARIOS = Path(__file__).parents[1] / "scenarios"

#: Lines of the demo kit, and the ports between which no water goes without them.
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
def kit() -> Kit:
    return read_scenario(SCENARIOS / "demo.toml").kit


def test_a_whole_kit_lacks_nothing(kit: Kit) -> None:
    assert complete_findings(kit) == ()


def test_a_bypass_is_no_line_the_plant_needs(kit: Kit) -> None:
    assert complete_findings(_without(kit, "bypass")) == ()


@pytest.mark.parametrize("line", NEEDED)
def test_a_missing_line_is_named_by_its_ends_and_bars_the_order(kit: Kit, line: str) -> None:
    (found,) = complete_findings(_without(kit, line))
    start, end = NEEDED[line]
    assert found.rule == "line-missing"
    assert found.severity == "fail"
    assert found.bars == ("order_hoses",)
    assert f"from {start} to {end}" in found.text
    assert found.remedy is not None
    assert f"from {start} to {end}" in found.remedy.text


def test_a_kit_without_lines_lacks_five(kit: Kit) -> None:
    found = complete_findings(replace(kit, lines=()))
    assert [row.rule for row in found] == ["line-missing"] * 5


def test_without_a_membrane_the_order_waits(kit: Kit) -> None:
    found = complete_findings(replace(kit, membrane=None))
    assert any("[kit.membrane]" in row.text and row.bars == ("order_hoses",) for row in found)


def _without(kit: Kit, name: str) -> Kit:
    assert any(line.name == name for line in kit.lines)
    return replace(kit, lines=tuple(line for line in kit.lines if line.name != name))
