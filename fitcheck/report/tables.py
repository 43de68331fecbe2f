"""A table that knows the quantity of each column, and its cells as text or as CSV."""

from __future__ import annotations

import csv
import io
import unicodedata
from dataclasses import dataclass, replace
from typing import Literal

from fitcheck.findings.said import Said
from fitcheck.model.finding import Severity
from fitcheck.units import System, show_fixed, show_trade, write

NOTHING = "-"
Cell = str | Said | float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """The quantity of a column: its kind, its one unit, metric and imperial, its decimals.

    feet   : imperial in feet and inches for people, with these decimals of an inch
    traded : imperial as the fraction of an inch it is sold by, where there is one
    """

    kind: str
    metric: str
    imperial: str
    decimals: tuple[int, int]
    feet: bool = False
    traded: bool = False

    def show(self, value: float, system: System) -> str:
        """The value with its unit, for people, with the decimals of the column."""
        if self.traded and (named := show_trade(value, system)):
            return named
        unit = "ft in" if self.feet and system == "imperial" else self.unit(system)
        return show_fixed(value, self.kind, unit, self.decimals[system == "imperial"])

    def figure(self, value: float, system: System) -> str:
        """The same without its unit; not in feet and inches."""
        return self.show(value, system).split()[0].rstrip("°")

    def unit(self, system: System) -> str:
        """The unit of the whole column in CSV."""
        return self.metric if system == "metric" else self.imperial

    def number(self, value: float, system: System) -> str:
        """The value in the column's unit, without it, to six digits."""
        return f"{float(write(value, self.kind, self.unit(system)).split()[0]):.6g}"


#: A hose, or a distance along one.
RUN = Measure(kind="length", metric="m", imperial="ft", decimals=(2, 1), feet=True)
#: A position or a height in the boat.
HEIGHT = Measure(kind="length", metric="m", imperial="in", decimals=(2, 1))
#: A position, to be measured with a tape.
TAPE = Measure(kind="length", metric="m", imperial="in", decimals=(3, 2))
SIZE = Measure(kind="length", metric="mm", imperial="in", decimals=(1, 2))
#: An uncertainty of a length, rounded up to whole millimetres.
UNSURE = Measure(kind="length", metric="mm", imperial="in", decimals=(0, 2))
BORE = Measure(kind="length", metric="mm", imperial="in", decimals=(1, 3), traded=True)
HEAD = Measure(kind="head", metric="m", imperial="ft", decimals=(2, 1))
PRESSURE = Measure(kind="pressure", metric="bar", imperial="psi", decimals=(3, 2))
VACUUM = Measure(kind="pressure", metric="bar", imperial="inHg", decimals=(3, 2))
FLOW = Measure(kind="flow", metric="L/min", imperial="gal/min", decimals=(2, 2))
SPEED = Measure(kind="speed", metric="m/s", imperial="ft/s", decimals=(2, 2))
VOLUME = Measure(kind="volume", metric="L", imperial="gal", decimals=(2, 2))
#: The free volume of a compartment.
ROOM = Measure(kind="volume", metric="L", imperial="gal", decimals=(0, 0))
AREA = Measure(kind="area", metric="cm2", imperial="in2", decimals=(0, 1))
MASS = Measure(kind="mass", metric="kg", imperial="lb", decimals=(2, 1))
ANGLE = Measure(kind="angle", metric="deg", imperial="deg", decimals=(1, 1))
FRACTION = Measure(kind="fraction", metric="%", imperial="%", decimals=(1, 1))


#: What a page shows of a column beyond its text.
Role = Literal["", "number", "duty", "verdict"]
#: The terminals that show a column; page and files have all.
Printed = Literal["always", "wide", "never"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A heading, and the quantity of its numbers (None: text).

    marked  : whether the findings on a row are named in this column, before its own text
    role    : number of a hose, whose name is in the next column; duty of a hose; verdict
    printed : in which terminals it is shown
    """

    heading: str
    measure: Measure | None = None
    marked: bool = False
    role: Role = ""
    printed: Printed = "always"

    def text(self, cell: Cell, system: System) -> str:
        """A cell for people."""
        if isinstance(cell, Said):
            cell = cell.text(system)
        if isinstance(cell, str):
            return plain(cell) or NOTHING
        if cell is None:
            return NOTHING
        return self.measure.show(cell, system) if self.measure else f"{cell:g}"


#: The number of a hose.
NUMBER = Column(heading="No.", role="number")
DUTY = Column(heading="Duty", role="duty")
#: The verdict on a row.
JUDGED = Column(heading="Verdict", role="verdict")
#: The same, after the findings on the row.
VERDICT = replace(JUDGED, marked=True)


def wide(*columns: Column) -> tuple[Column, ...]:
    """Columns that are left out of a terminal that is not wide."""
    return tuple(replace(column, printed="wide") for column in columns)


def unprinted(*columns: Column) -> tuple[Column, ...]:
    """Columns that are left out of every terminal."""
    return tuple(replace(column, printed="never") for column in columns)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A finding on a row: its title, its position among the findings of the result, from 1."""

    severity: Severity
    title: str
    number: int

    @property
    def words(self) -> str:
        """The mark as plain text without a link."""
        return f"{self.severity}: {self.title} (finding {self.number})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Cells in the order of the columns; `node` is the row's name in the scene, or ""."""

    cells: tuple[Cell, ...]
    node: str = ""
    severity: Severity | None = None
    duty: str = ""
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A caption, columns and rows."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]

    def own_texts(self, row: Row, system: System) -> list[str]:
        """The same without the findings on the row."""
        pairs = zip(self.columns, row.cells, strict=True)
        return [column.text(cell, system) for column, cell in pairs]

    def texts(self, row: Row, system: System) -> list[str]:
        """The cells of a row for people."""
        pairs = zip(self.columns, _with_marks(self, row, system), strict=True)
        return [column.text(cell, system) for column, cell in pairs]


def _with_marks(table: Table, row: Row, system: System) -> tuple[Cell, ...]:
    """The cells of a row as text, with its findings named in the marked column."""
    words = tuple(mark.words for mark in row.marks)
    cells = (cell.text(system) if isinstance(cell, Said) else cell for cell in row.cells)
    return tuple(
        "; ".join((*words, *([cell] if isinstance(cell, str) and cell else [])))
        if column.marked
        else cell
        for column, cell in zip(table.columns, cells, strict=True)
    )


def columns(*headings: str | tuple[str, Measure] | Column) -> tuple[Column, ...]:
    """Columns from headings, with the quantity of those that hold numbers."""
    return tuple(_column(item) for item in headings)


def _column(item: str | tuple[str, Measure] | Column) -> Column:
    if isinstance(item, Column):
        return item
    heading, measure = (item, None) if isinstance(item, str) else item
    return Column(heading=heading, measure=measure)


def plain(text: str) -> str:
    """Text from a file without control characters, so that it cannot affect a terminal or page."""
    return "".join(
        "\ufffd" if unicodedata.category(mark) in ("Cc", "Cf", "Cs", "Zl", "Zp") else mark
        for mark in text
    )


#: The decimal separator in a CSV file.
Decimal = Literal["point", "comma"]


def as_csv(table: Table, system: System, decimal: Decimal = "point") -> str:
    """CSV with one number per cell, its unit in the heading.

    With a decimal comma, cells are separated by semicolons, as spreadsheets there expect.
    """
    text = io.StringIO()
    writer = csv.writer(text, delimiter=";" if decimal == "comma" else ",", lineterminator="\n")
    writer.writerow(
        f"{column.heading} [{column.measure.unit(system)}]" if column.measure else column.heading
        for column in table.columns
    )
    for row in table.rows:
        pairs = zip(table.columns, _with_marks(table, row, system), strict=True)
        writer.writerow(_csv_cell(column, cell, system, decimal) for column, cell in pairs)
    return text.getvalue()


def _csv_cell(column: Column, cell: Cell, system: System, decimal: Decimal) -> str:
    if cell is None:
        return ""
    if isinstance(cell, Said):
        cell = cell.text(system)
    if isinstance(cell, str):
        # A spreadsheet would execute a text that starts like a formula.
        return f"'{cell}" if cell[:1] in tuple("=+-@\t\r") else plain(cell)
    number = column.measure.number(cell, system) if column.measure else f"{cell:.6g}"
    return number.replace(".", ",") if decimal == "comma" else number
