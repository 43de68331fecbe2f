"""A kit before any boat is measured: edges of its envelope compared with the solver
and by hand.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from rich.console import Console

from fitcheck.cli import BAD_INPUT, PASSED, main
from fitcheck.errors import FitcheckError
from fitcheck.hydraulics import standing
from fitcheck.hydraulics.answers.envelope import LONGEST, feeds, piped, worst_states
from fitcheck.hydraulics.answers.kit_alone import stood
from fitcheck.hydraulics.network.bands import raised
from fitcheck.hydraulics.network.solve import operate
from fitcheck.hydraulics.remedy.trials import tabulate
from fitcheck.hydraulics.rules.judging import suction_vacuum
from fitcheck.model.found.hydraulics import Standing
from fitcheck.model.given.kit import Kit
from fitcheck.report import print_standing
from fitcheck.report.document.chart import envelope_svg
from fitcheck.units import System
from tests import ROOT
from tests.specimens.amounts import SYSTEMS, PageText, amounts, foreign, users_own
from tests.specimens.water import a_hose, plant_kit, with_hose, with_line

SCENARIOS = ROOT / "scenarios"


def narrow_kit() -> Kit:
    """The specimen with a half-inch suction side and a three-quarter inch hose to change to."""
    kit = with_hose(plant_kit(), a_hose("half", bore=0.0127))
    for line in ("sea_to_strainer", "strainer_to_pump"):
        kit = with_line(kit, line, hose="half")
    return kit


@pytest.fixture(scope="module")
def found() -> Standing:
    return standing(narrow_kit())


@pytest.mark.parametrize("system", SYSTEMS)
def test_all_of_it_is_printed_in_the_units_asked_for(found: Standing, system: System) -> None:
    text = io.StringIO()
    print_standing(found, [], system, Console(file=text, width=400))
    drawing = PageText(envelope_svg(found.envelope, system, shaded=found.hose, alone=True)).text
    own = users_own(narrow_kit())
    for told in (text.getvalue(), drawing):
        assert foreign(told, system, own) == []
        assert amounts(told, system)


def known(lengths: Sequence[float | None]) -> list[float]:
    """Lengths up to the first lift at which nothing works."""
    none = next((at for at, row in enumerate(lengths) if row is None), len(lengths))
    assert all(row is None for row in lengths[none:])
    return [row for row in lengths[:none] if row is not None]


def test_more_lift_allows_less_hose_and_more_bore_allows_more(found: Standing) -> None:
    curves = found.envelope.curves
    assert [curve.bore for curve in curves] == sorted(curve.bore for curve in curves)
    for curve in curves:
        assert all(one >= two for one, two in pairwise(known(curve.longest)))
    for narrow, wide in pairwise(curves):
        for one, two in zip(narrow.longest, wide.longest, strict=True):
            assert (two or 0.0) >= (one or 0.0)


def test_the_envelope_ends_where_the_pumps_are_no_longer_fed(found: Standing) -> None:
    """One per cent inside the curve the solver finds no fault, outside it does."""
    plant = stood(narrow_kit())
    table = tabulate(plant, plant.states, plant.scenario.kit.limits)
    hose = plant.scenario.kit.hose("half")
    shut = plant.with_valve("bypass", 1e-9)
    curve = next(row for row in found.envelope.curves if row.hose == "half")
    edges = [
        (lift, length)
        for lift, length in zip(found.envelope.lifts, curve.longest, strict=True)
        if length is not None and 0.5 < length < LONGEST
    ]
    assert len(edges) >= 4
    for lift, length in edges:
        for share, right in ((0.99, True), (1.01, False)):
            tried = raised(piped(shut, hose, share * length), lift)
            assert feeds(table, tried, worst_states(table)) is right


def test_vacuum_at_the_edge_of_the_envelope_is_the_limit(found: Standing) -> None:
    """At the sea's level the gauge shows 0.25 bar clean or 0.35 bar fouled at the edge."""
    plant = stood(narrow_kit())
    hose = plant.scenario.kit.hose("half")
    curve = next(row for row in found.envelope.curves if row.hose == "half")
    at = found.envelope.lifts.index(0.0)
    length = curve.longest[at]
    assert length is not None
    laid = piped(plant, hose, length)
    vacuum = {
        (state.dirty, state.fouled): suction_vacuum(laid, operate(laid, state)) or 0.0
        for state in plant.states
        if state.temperature_C == 5.0
    }
    margins = (25_000.0 - vacuum[False, False], 35_000.0 - vacuum[False, True])
    assert min(margins) == pytest.approx(0.0, abs=30.0)


def test_settings_get_smaller_with_length_and_lift_until_none_works(found: Standing) -> None:
    assert found.present == pytest.approx(0.5 / 3600)
    rows = [[-1.0 if value is None else value for value in row] for row in found.settings]
    for row in rows:
        assert all(one >= two for one, two in pairwise(row))
    for one, two in pairwise(rows):
        assert all(a >= b for a, b in zip(one, two, strict=True))
    assert any(value == -1.0 for row in rows for value in row)
    assert any(value > 0.0 for row in rows for value in row)


def test_a_reported_setting_feeds_and_a_wider_one_does_not(found: Standing) -> None:
    plant = stood(narrow_kit())
    table = tabulate(plant, plant.states, plant.scenario.kit.limits)
    hose = plant.scenario.kit.hose("half")
    lift, length = found.lifts[1], found.lengths[1]
    setting = found.settings[1][1]
    assert setting
    laid = raised(piped(plant, hose, length), lift)
    assert feeds(table, laid.with_valve("bypass", setting), worst_states(table))
    assert not feeds(table, laid.with_valve("bypass", 1.02 * setting), worst_states(table))


def test_a_kit_without_a_feed_pump_must_be_flooded() -> None:
    """It needs 0.2 bar at its inlet, about 2 m below the sea: no lift of the table is
    low enough.
    """
    kit = narrow_kit()
    bare = replace(
        kit,
        feed_pump=None,
        lines=tuple(
            replace(line, end=replace(line.end, owner="prefilters", port="inlet"))
            if line.name == "strainer_to_pump"
            else line
            for line in kit.lines
            if line.name not in ("bypass", "pump_to_filters")
        ),
    )
    alone = standing(bare)
    assert alone.settings == ()
    assert all(row is None for curve in alone.envelope.curves for row in curve.longest)


def test_a_kit_without_a_high_pressure_pump_is_refused() -> None:
    with pytest.raises(FitcheckError, match="high-pressure pump"):
        standing(replace(plant_kit(), high_pressure_pump=None, membrane=None))


def test_the_command_prints_tables_and_draws(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    kit = str(SCENARIOS / "demo_kit.toml")
    assert main(("envelope", kit, "--out", str(tmp_path))) == PASSED
    told = capsys.readouterr().out
    assert re.search(r"12\.7 mm +12\.3", told)
    assert "none" in told
    assert "0.50 m³/h" in told
    drawing = ElementTree.parse(tmp_path / "envelope.svg").getroot()
    assert drawing.tag.endswith("svg")
    words = "".join(drawing.itertext())
    assert "no setting does" in words
    assert "this layout" not in words


def test_a_boat_file_or_a_faulty_kit_is_bad_input(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    boat = SCENARIOS / "demo_boat.toml"
    assert main(("envelope", str(boat), "--out", str(tmp_path / "out"))) == BAD_INPUT
    assert "there is no [kit]" in capsys.readouterr().err
    faulty = tmp_path / "kit.toml"
    text = (SCENARIOS / "demo_kit.toml").read_text()
    faulty.write_text(text.replace('hose = "suction_13"', 'hose = "suction_31"'))
    assert main(("envelope", str(faulty), "--out", str(tmp_path / "out"))) == BAD_INPUT
    assert "there is no hose 'suction_31'" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
