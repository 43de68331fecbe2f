"""The modules as tables: a designer's moments can be calculated from them, and every finding is
named.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.findings.catalogue import CATALOGUE
from fitcheck.geometry.box import rotation
from fitcheck.model.found.hydraulics import WaterHeld
from fitcheck.model.given.kit import WATER
from fitcheck.model.result import Result
from fitcheck.report import write_all
from fitcheck.report.modules import module_sheet, module_table
from fitcheck.report.numbers import ROUTED, cut_table, hose_table
from fitcheck.report.results.data import as_data
from fitcheck.report.tables import Row, Table, as_csv
from fitcheck.report.weights import Weight, total, weights
from tests.specimens.result import MODULES, made_result, specimen_result

HELD = 0.004


@pytest.fixture(scope="module")
def result() -> Result:
    """The bay, with four litres in its pre-filters."""
    bay = specimen_result()
    held = (WaterHeld(where="prefilters", volume=HELD),)
    return replace(bay, hydraulics=replace(bay.hydraulics, held=held))


def sheet(result: Result, units: str = "metric") -> list[dict[str, str]]:
    text = as_csv(module_sheet(result), units)  # type: ignore[arg-type]
    return list(csv.DictReader(io.StringIO(text)))


def numbers_of(row: dict[str, str], *headings: str) -> np.ndarray:
    return np.array([float(row[heading]) for heading in headings])


TAKEN = ("Mass taken forward [m]", "Mass taken to port [m]", "Mass taken above the sea [m]")
BASE = ("Base forward [m]", "Base to port [m]", "Base above the sea [m]")


@pytest.mark.parametrize("heading", ["Mass dry [kg]", "Mass wet [kg]"])
def test_the_total_has_the_moments_of_its_modules(result: Result, heading: str) -> None:
    """From the written file alone: masses add up, and so do their moments about the origin."""
    rows = sheet(result)
    modules, (whole,) = rows[:-2], [row for row in rows[-2:] if row[heading]]
    masses = np.array([float(row[heading]) for row in modules])
    assert float(whole[heading]) == pytest.approx(masses.sum(), rel=1e-5)
    moments = sum(m * numbers_of(row, *TAKEN) for m, row in zip(masses, modules, strict=True))
    assert numbers_of(whole, *TAKEN) * masses.sum() == pytest.approx(moments, abs=1e-4)


def test_wet_mass_is_dry_mass_plus_water(result: Result) -> None:
    for row in sheet(result)[:-2]:
        dry, wet = numbers_of(row, "Mass dry [kg]", "Mass wet [kg]")
        water = HELD * WATER if row["Module"] == "prefilters" else 0.0
        assert wet - dry == pytest.approx(water, rel=1e-4)
        assert wet == pytest.approx(result.fit.module(row["Module"]).mass, rel=1e-5)
    assert "prefilters" not in as_data(result)["weight"]["without_water"]
    assert len(as_data(result)["weight"]["without_water"]) == len(MODULES) - 1


@pytest.mark.parametrize("made", [specimen_result, made_result])
def test_a_module_can_be_placed_from_its_row(made: object) -> None:
    """Base, rotation and size define the box: its middle is half its height above the base."""
    bay: Result = made()  # type: ignore[operator]
    for row, module in zip(sheet(bay), bay.fit.modules, strict=False):
        turn = rotation(
            tuple(np.radians(numbers_of(row, "Roll [deg]", "Pitch [deg]", "Yaw [deg]")))
        )
        size = numbers_of(row, "Length [mm]", "Width [mm]", "Height [mm]") / 1000
        corners = numbers_of(row, *BASE) + [
            turn @ (np.array([x, y, z]) * size)
            for x in (-0.5, 0.5)
            for y in (-0.5, 0.5)
            for z in (0.0, 1.0)
        ]
        assert np.allclose(corners, module.box.corners(), atol=1e-5)


POINT = st.tuples(*[st.floats(-10, 10)] * 3)
WEIGHT = st.builds(
    lambda at, dry, water: Weight(name="", dry=dry, dry_centre=at, wet=dry + water, wet_centre=at),
    POINT,
    st.floats(0.001, 5000),
    st.floats(0, 2000),
)


@given(st.lists(WEIGHT, min_size=1, max_size=8))
def test_the_centre_of_mass_balances(rows: list[Weight]) -> None:
    """About the centre of mass the moments of the modules cancel."""
    whole = total(rows)
    for mass, centre in (("dry", whole.dry_centre), ("wet", whole.wet_centre)):
        arms = np.array([row.dry_centre for row in rows]) - centre
        masses = np.array([getattr(row, mass) for row in rows])
        assert np.allclose(masses @ arms, 0.0, atol=1e-9 * masses.sum())
        assert getattr(whole, mass) == pytest.approx(masses.sum())


def test_page_csv_and_json_agree(result: Result, tmp_path: Path) -> None:
    write_all(result, tmp_path, None, "metric")
    data = json.loads((tmp_path / "result.json").read_text("utf-8"))
    written = io.StringIO((tmp_path / "modules.csv").read_text("utf-8"))
    assert list(csv.DictReader(written)) == sheet(result)
    for told, weight in zip(data["modules"], weights(result), strict=True):
        assert (told["mass"], told["mass_dry"]) == (weight.wet, weight.dry)
        assert tuple(told["mass_at"]) == weight.dry_centre
    whole = total(weights(result))
    assert (data["weight"]["dry"], data["weight"]["wet"]) == (whole.dry, whole.wet)
    assert tuple(data["weight"]["wet_centre"]) == whole.wet_centre


def test_a_result_without_modules_has_no_total() -> None:
    bay = specimen_result()
    bare = replace(bay, fit=replace(bay.fit, modules=()))
    assert module_table(bare, "metric").rows == module_sheet(bare).rows == ()
    assert as_data(bare)["weight"] is None


# --- findings in the rows ---------------------------------------------------------------------


def rows_of(table: Table, name: str) -> list[Row]:
    return [row for row in table.rows if name in row.cells[:2]]


def test_every_finding_on_a_module_or_a_hose_is_named_in_its_row(result: Result) -> None:
    tables = (module_table(result, "metric"), hose_table(result), cut_table(result))
    named = 0
    for number, finding in enumerate(result.findings, 1):
        for table in tables:
            for row in rows_of(table, finding.subject):
                told = "; ".join(table.texts(row, "metric"))
                mark = f"{CATALOGUE[finding.rule].title} (finding {number})"
                assert (mark in told) == (finding.severity != "note")
                named += mark in told
    assert named >= 4


def test_the_cut_length_comes_before_the_routed_one(result: Result) -> None:
    for table in (hose_table(result), cut_table(result)):
        headings = [column.heading for column in table.columns]
        cut, routed = headings.index("Cut length"), headings.index(ROUTED)
        assert cut + 1 == routed
        for told in result.order.cuts:
            (row,) = rows_of(table, told.line)
            assert (row.cells[cut], row.cells[routed]) == (told.cut_length, told.routed_length)


def test_a_hose_row_has_its_worst_severity(result: Result) -> None:
    """The water side may fail a hose by a finding on the pump."""
    line = result.order.cuts[0].line
    summaries = tuple(
        replace(row, severity="fail") if row.line == line else replace(row, severity=None)
        for row in result.hydraulics.summaries
    )
    water = replace(result.hydraulics, summaries=summaries, findings=())
    (row,) = rows_of(hose_table(replace(result, hydraulics=water)), line)
    assert row.severity == "fail"


def test_a_pump_finding_is_named_on_hoses_that_could_resolve_it(result: Result) -> None:
    line = result.order.cuts[0].line
    (number,) = (n for n, row in enumerate(result.findings, 1) if row.rule == "suction-vacuum")
    pump = result.findings[number - 1].subject
    summaries = tuple(
        replace(row, touched_by=(("suction-vacuum", pump),) if row.line == line else ())
        for row in result.hydraulics.summaries
    )
    table = hose_table(replace(result, hydraulics=replace(result.hydraulics, summaries=summaries)))
    named = [row.cells[1] for row in table.rows if number in {m.number for m in row.marks}]
    assert named == [line]
