"""Building blocks of terminal output; none of them relies on colour."""

from __future__ import annotations

import os
import textwrap
from collections.abc import Iterable, Sequence
from pathlib import Path

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from fitcheck.model.cautions import CAUTIONS
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.look import SEVERITY_LOOKS
from fitcheck.report.tables import Column, Table, plain
from fitcheck.report.words.words import (
    place_words,
    proof_words,
    remedy_number,
    toml_value,
)
from fitcheck.units import System

STYLES = {"fail": "bold red", "caution": "yellow", "note": "dim", "pass": "green"}
_VERDICTS = {"fail": "bold red", "caution": "bold yellow", "pass": "bold green"}
_HEADING = "bold underline"
_WIDE = 120  # from here on the whole hose table fits
_BETWEEN = 2  # blanks between two columns of a grid


def ruled() -> Grid:
    """A table with a rule under its headings and no other."""
    return Grid(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0), show_edge=False)


def _wrapped(heading: str, width: int) -> list[str]:
    return textwrap.wrap(heading, width, break_on_hyphens=False)


def _widths(
    columns: Sequence[Column], cells: Sequence[Sequence[str]], whole: int
) -> tuple[int, ...]:
    """Width of each column of a grid at most `whole` wide in which no amount or word is cut.

    What is left over goes to the narrowest column that needs more. Only where the longest words
    do not fit are the widest of them broken.
    """
    least, wanted = [], []
    for column, own in zip(columns, cells, strict=True):
        parts = own if column.measure else [word for cell in own for word in cell.split()]
        longest = max(map(len, (*parts, *column.heading.split())))
        wanted.append(max(longest, *map(len, own)))
        least.append(longest)
    left = whole - _BETWEEN * (len(columns) - 1) - sum(least)
    while left < 0:
        least[least.index(max(least))] -= 1
        left += 1
    while left > 0 and least != wanted:
        narrow = min((n for n, one in enumerate(least) if one < wanted[n]), key=least.__getitem__)
        least[narrow] += 1
        left -= 1
    return tuple(least)


class Printout:
    """Prints one part after the other on a console, in one unit system."""

    def __init__(
        self,
        console: Console | None = None,
        system: System = "metric",
        remedies: Sequence[Remedy] = (),
    ) -> None:
        self._console, self._system = console or Console(highlight=False), system
        self._remedies = remedies
        self._printed: dict[str, Remedy] = {}  # by text, those with a number

    @property
    def width(self) -> int:
        """Characters in a line."""
        return self._console.width

    def say(self, part: str | Text | Grid | Padding) -> None:
        """One part, unchanged."""
        part = Text(part) if isinstance(part, str) else part
        self._console.print(part, highlight=False, markup=False, emoji=False)

    def heading(self, words: str) -> None:
        """A heading with an empty line above it."""
        self.say(Text(f"\n{words}", style=_HEADING))

    def verdict(self, name: str, words: str, kind: str) -> None:
        """A name and its conclusion."""
        self.say(Text(f"\n{plain(name)}: ").append(words, style=_VERDICTS[kind]))

    def findings(self, findings: Iterable[Finding]) -> None:
        """Findings in the order given, with place and remedy."""
        grid = Grid.grid(padding=(0, 2, 0, 0))
        grid.add_column(no_wrap=True)
        grid.add_column(overflow="fold")
        for finding in findings:
            look = SEVERITY_LOOKS[finding.severity]
            grid.add_row(
                Text(look.word.upper(), style=STYLES[finding.severity]),
                Text("\n").join(Text(part) for part in self._finding_lines(finding)),
            )
        self.say(grid)

    def _finding_lines(self, finding: Finding) -> list[str]:
        lines = [f"{plain(finding.subject)}: {plain(finding.said.text(self._system))}"]
        if finding.place is not None:
            lines.append(f"where: {place_words(finding, self._system)}")
        if finding.remedy is not None:
            lines += self._remedy_lines(finding.remedy, "remedy")
            for other in finding.alternatives:
                lines += self._remedy_lines(other, "or")
        return lines

    def _remedy_lines(self, remedy: Remedy, word: str) -> list[str]:
        number, said = remedy_number(remedy, self._remedies), remedy.said.text(self._system)
        before = self._printed.get(said)
        if before is not None and remedy.changes in ((), before.changes):
            return [f"{word}: the same as remedy{remedy_number(before, self._remedies)} above"]
        if number:
            self._printed[said] = remedy
        lines = [f"{word}{number}{proof_words(remedy)}: {plain(said)}"]
        for change in remedy.changes:
            value = toml_value(change.written(self._system))
            lines.append(f"  in {plain(change.file)}: {plain(change.key)} = {value}")
        return lines

    def table(self, table: Table, most: int | None = None) -> None:
        """One table, its cells wrapped rather than cut; rows beyond `most` are counted."""
        if not table.rows:
            return
        self.heading(plain(table.caption))
        room = ("always", "wide") if self.width >= _WIDE else ("always",)
        kept = [n for n, column in enumerate(table.columns) if column.printed in room]
        shown = table.rows[:most]
        lines = [table.texts(row, self._system) for row in shown]
        columns = [table.columns[n] for n in kept]
        cells = [[line[n] for line in lines] for n in kept]
        grid = ruled()
        for column, width in zip(columns, _widths(columns, cells, self.width), strict=True):
            grid.add_column(
                "\n".join(_wrapped(column.heading, width)),
                justify="right" if column.measure else "left",
                overflow="fold",
                width=width,
            )
        for row, line in zip(shown, lines, strict=True):
            style = STYLES[row.severity] if row.severity in ("fail", "caution") else ""
            grid.add_row(*(Text(line[n], style=style) for n in kept))
        self.say(grid)
        if len(table.rows) > len(shown):
            self.say(f"and {len(table.rows) - len(shown)} more; the files have them all")

    def cautions(self) -> None:
        """The cautions printed with every result."""
        self.heading("Cautions")
        for caution in CAUTIONS:
            self.say(
                Text(f"{caution.about}. ", style="bold").append(
                    caution.said.text(self._system), style=""
                )
            )

    def files(self, files: Sequence[Path]) -> None:
        """Where the files are: the folder once, then the names."""
        if not files:
            return
        self.heading("Files")
        folder = os.path.commonpath([file.parent for file in files])
        self.say(f"in {folder}:")
        for file in files:
            self.say(Padding(Text(os.path.relpath(file, folder)), (0, 0, 0, 2)))
