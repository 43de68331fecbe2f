"""Remedies applied to a scenario in memory, as a user would write them into its files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fitcheck.model.finding import Change
from fitcheck.model.given.scenario import Scenario
from fitcheck.units import parse


def applied(scenario: Scenario, changes: Sequence[Change]) -> Scenario:
    """The scenario with the changes made; raises ValueError for a key that no remedy writes."""
    for change in changes:
        scenario = _applied(scenario, change)
    return scenario


def _applied(scenario: Scenario, change: Change) -> Scenario:
    section, kind, name, key = change.key.split(".")
    value = change.value
    if (section, kind, key) == ("layout", "lines", "hose") and isinstance(value, str):
        return _with_hose(scenario, name, value)
    if (section, kind, key) == ("kit", "lines", "valve") and isinstance(value, str):
        return _with_valve(scenario, name, value)
    if (section, kind, key) == ("layout", "modules", "at") and not isinstance(value, str):
        return _with_place(scenario, name, value)
    if (section, kind) == ("kit", "resistances") and isinstance(value, str):
        return _with_loss(scenario, name, key, value)
    raise ValueError(f"no remedy writes {change.key}")


def _with_hose(scenario: Scenario, line: str, hose: str) -> Scenario:
    layout = scenario.layout
    others = tuple(row for row in layout.choices if row.line != line)
    choice = replace(layout.choice(line), hose=hose)
    return replace(scenario, layout=replace(layout, choices=(*others, choice)))


def _with_valve(scenario: Scenario, name: str, setting: str) -> Scenario:
    flow = parse(setting, "flow")
    lines = tuple(
        replace(line, valve_flow=flow) if line.name == name else line
        for line in scenario.kit.lines
    )
    return replace(scenario, kit=replace(scenario.kit, lines=lines))


def _with_loss(scenario: Scenario, name: str, key: str, written: str) -> Scenario:
    pressure = parse(written, "pressure")
    rows = tuple(
        replace(
            row,
            loss=pressure if key == "loss" else row.loss,
            dirty=pressure if key == "dirty" else row.dirty,
        )
        if row.name == name
        else row
        for row in scenario.kit.resistances
    )
    return replace(scenario, kit=replace(scenario.kit, resistances=rows))


def _with_place(scenario: Scenario, module: str, at: tuple[str, ...]) -> Scenario:
    x, y, z = (parse(text, "length") for text in at)
    places = tuple(
        replace(row, at=(x, y, z)) if row.module == module else row
        for row in scenario.layout.placements
    )
    return replace(scenario, layout=replace(scenario.layout, placements=places))
