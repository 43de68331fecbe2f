"""Columns: one unit and one number of decimals each, and no cell cut in a narrow terminal."""

from __future__ import annotations

import io
from collections import Counter
from dataclasses import replace

import pytest
from rich.console import Console

from fitcheck.model.result import Result
from fitcheck.report import print_summary
from fitcheck.report.document.page import page_html
from fitcheck.report.tables import MASS, PRESSURE, Column, Row, Table
from fitcheck.report.words.console import Printout
from fitcheck.units import System
from tests.specimens.amounts import PageText, uneven_columns
from tests.specimens.result import made_result, specimen_result

SYSTEMS = pytest.mark.parametrize("system", ["metric", "imperial"])


@SYSTEMS
@pytest.mark.parametrize("made", [specimen_result, made_result])
def test_a_column_has_one_number_of_decimals(made: object, system: System) -> None:
    tables = PageText(page_html(made(), None, None, system)).tables  # type: ignore[operator]
    assert len(tables) >= 8
    assert [row for table in tables for row in uneven_columns(table)] == []


def test_uneven_columns_are_seen() -> None:
    rows = [["No.", "Mass", "Bore"], ["1", "0.4 kg", "3/4 in"], ["2", "1.71 kg", "0.512 in"]]
    assert uneven_columns(rows) == ["Mass: kg [1, 2]"]
    rows = [["Range", "Length"], ["4 to 5.5 bar", "1 ft 4 in"], ["4.0 to 5.5 bar", "2 ft 4.5 in"]]
    assert uneven_columns(rows) == ["Range: bar [0, 1]", "Length: in [0, 1]"]


@pytest.mark.parametrize(
    ("value", "metric", "imperial"),
    [
        (0.4, "0.40 kg", "0.9 lb"),
        (1.71, "1.71 kg", "3.8 lb"),
        (1234.5, "1,234.50 kg", "2,721.6 lb"),
    ],
)
def test_the_unit_of_a_column_gives_its_decimals(value: float, metric: str, imperial: str) -> None:
    assert MASS.show(value, "metric") == metric
    assert MASS.show(value, "imperial") == imperial
    assert PRESSURE.show(-1e-9, "metric") == "0.000 bar"


def summary(result: Result, system: System, width: int) -> Counter[str]:
    text = io.StringIO()
    print_summary(result, [], system, Console(file=text, width=width))
    return Counter(text.getvalue().replace("\u2500", "").split())


@SYSTEMS
def test_a_narrow_terminal_shows_every_word_of_every_cell(system: System) -> None:
    result = specimen_result()
    assert summary(result, system, 80) == summary(result, system, 119)


def test_words_are_broken_rather_than_lost_where_nothing_else_helps() -> None:
    name = "a_name_that_is_longer_than_the_line"
    column = Column(heading="Name")
    table = Table(
        caption="Names",
        columns=(column, replace(column, heading="Other")),
        rows=(Row(cells=(name, name[::-1])),),
    )
    text = io.StringIO()
    Printout(Console(file=text, width=20)).table(table)
    assert max(map(len, text.getvalue().splitlines())) <= 20
    left = "".join(line[:9].strip() for line in text.getvalue().splitlines()[4:])
    assert left == name
