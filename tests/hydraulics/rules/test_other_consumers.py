"""Other consumers on the suction side: unknown ones bar the order, stated ones are included."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitcheck.model.given.kit import Consumer, Kit, PortRef
from tests.specimens.water import (
    HEIGHTS,
    LITRE_PER_MINUTE,
    RUNS,
    a_line,
    a_module,
    a_port,
    plant_kit,
)
from tests.specimens.water_solved import finding, operation, solved

ENGINE = PortRef(owner="engine", port="raw")


@pytest.fixture(autouse=True)
def _the_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    """An engine as high as the strainer, with a hose like the suction hose."""
    monkeypatch.setitem(HEIGHTS, "engine", HEIGHTS["strainer"])
    monkeypatch.setitem(RUNS, "to_engine", (0.9, (), 1.0, None))


def shared(drawn: float | None, kit: Kit | None = None) -> Kit:
    """The plant whose strainer also feeds an engine; `drawn` [L/min] is its stated flow."""
    kit = plant_kit() if kit is None else kit
    strainer = kit.module("strainer")
    tapped = replace(strainer, ports=(*strainer.ports, a_port("tap", joins="outlet")))
    line = replace(
        a_line("sea_to_strainer"),
        name="to_engine",
        start=PortRef(owner="strainer", port="tap"),
        end=ENGINE,
    )
    others = tuple(row for row in kit.modules if row.name != "strainer")
    consumers = ()
    if drawn is not None:
        consumers = (Consumer(name="engine", at=ENGINE, flow=drawn * LITRE_PER_MINUTE),)
    return replace(
        kit,
        modules=(tapped, *others, a_module("engine", a_port("raw"))),
        lines=(*kit.lines, line),
        consumers=consumers,
    )


def test_an_unknown_consumer_bars_the_order_and_says_what_to_state() -> None:
    result = solved(shared(None))
    told = finding(result, "consumer-unknown")
    assert told.bars == ("order_hoses",)
    assert told.remedy is not None
    assert "[kit.consumers.engine]" in told.remedy.text
    assert "engine.raw" in told.remedy.text
    assert not [row for row in result.findings if row.rule == "line-without-flow"]


def test_with_an_unknown_consumer_no_suction_row_is_ok() -> None:
    result = solved(shared(None))
    suction = [row for row in result.governing if row.shown_as in ("vacuum", "head")]
    assert suction
    assert all(row.verdict != "fine" for row in suction)
    line = result.summary("sea_to_strainer")
    assert line is not None
    assert line.verdict != "fine"


@pytest.mark.parametrize("drawn", [0.0, 5.0])
def test_a_stated_consumer_is_judged(drawn: float) -> None:
    result = solved(shared(drawn))
    assert not [row for row in result.findings if row.rule == "consumer-unknown"]
    assert any(row.verdict == "fine" for row in result.governing)


def test_a_consumer_without_flow_changes_nothing() -> None:
    plain, none = operation(), operation(shared(0.0))
    for node, pressure in plain.pressures.items():
        assert none.pressures[node] == pytest.approx(pressure, abs=0.1)


def test_a_consumers_flow_passes_the_shared_hose() -> None:
    drawn = 5.0 * LITRE_PER_MINUTE
    plain, both = operation(), operation(shared(5.0))
    shared_hose = both.flows["sea_to_strainer"]
    assert both.flows["to_engine"] == pytest.approx(drawn)
    assert shared_hose == pytest.approx(plain.flows["sea_to_strainer"] + drawn)
    assert both.flows["strainer_to_pump"] == pytest.approx(plain.flows["strainer_to_pump"])
    assert both.pressures["strainer.inlet"] < plain.pressures["strainer.inlet"]
