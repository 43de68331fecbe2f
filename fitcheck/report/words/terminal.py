"""The summary in the terminal: worst finding first, every verdict in words, no colour needed."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from fitcheck.model.cautions import CAUTIONS
from fitcheck.model.finding import Finding, Remedy, Severity
from fitcheck.model.found.look import SEVERITY_LOOKS, VERDICT_LOOKS
from fitcheck.model.result import Hold, Result
from fitcheck.report import margins, numbers
from fitcheck.report.margins import bypass_words, longest_words
from fitcheck.report.tables import Table, plain
from fitcheck.report.words.words import (
    amount_words,
    npsh_words,
    place_words,
    proof_words,
    remedy_number,
    suction_words,
    toml_value,
    yes_or_not_yet,
)
from fitcheck.units import System

_STYLES: dict[Severity, str] = {"fail": "bold red", "caution": "yellow", "note": "dim"}
_HEADING = "bold underline"
_UNBROKEN = 20  # a column of texts no longer than this is never wrapped


def print_summary(
    result: Result,
    files: Sequence[Path],
    units: System = "metric",
    console: Console | None = None,
) -> None:
    """Print what was found, the worst first, and where the files are; 80 columns suffice."""
    page = _Page(console or Console(highlight=False), units, result.remedies)
    page.verdict(result)
    page.findings(row for row in result.findings if row.severity != "note")
    page.holds(result)
    page.table(numbers.fit_table(result, units))
    page.hoses(result)
    page.suction(result)
    page.table(numbers.order_table(result, units), left_out=("Note", "Price"))
    page.table(numbers.assumption_table(result))
    page.notes([row for row in result.findings if row.severity == "note"])
    page.cautions()
    page.files(files)
    page.how_to_apply(files)


class _Page:
    """Prints one part after the other on a console, in one system of units."""

    def __init__(self, console: Console, system: System, remedies: Sequence[Remedy]) -> None:
        self._console, self._system, self._remedies = console, system, remedies

    def _print(self, text: Text | Grid | Padding) -> None:
        self._console.print(text, highlight=False, markup=False, emoji=False)

    def _heading(self, words: str) -> None:
        self._print(Text(f"\n{words}", style=_HEADING))

    def verdict(self, result: Result) -> None:
        """The name of the scenario and what it comes to."""
        style = {"fail": "bold red", "caution": "bold yellow", "pass": "bold green"}
        words = Text(f"\n{plain(result.scenario.name)}: ")
        words.append(VERDICT_LOOKS[result.verdict].word, style=style[result.verdict])
        self._print(words)

    def findings(self, findings: Iterable[Finding]) -> None:
        """Findings, the worst first, with where and how to put it right."""
        grid = Grid.grid(padding=(0, 2, 0, 0))
        grid.add_column(no_wrap=True)
        grid.add_column(overflow="fold")
        for finding in findings:
            look = SEVERITY_LOOKS[finding.severity]
            grid.add_row(
                Text(look.word.upper(), style=_STYLES[finding.severity]),
                Text("\n").join(Text(part) for part in self._finding_lines(finding)),
            )
        self._print(grid)

    def notes(self, findings: Sequence[Finding]) -> None:
        """What is good to know and changes nothing."""
        if findings:
            self._heading("Notes")
            self.findings(findings)

    def _finding_lines(self, finding: Finding) -> list[str]:
        lines = [f"{plain(finding.subject)}: {plain(finding.text)}"]
        if self._system == "imperial" and finding.value is not None:
            lines.append(f"in your units: {amount_words(finding, self._system)}")
        if finding.place is not None:
            lines.append(f"where: {place_words(finding, self._system)}")
        if finding.remedy is not None:
            lines += self._remedy_lines(finding.remedy, "remedy")
            for other in finding.alternatives:
                lines += self._remedy_lines(other, "or")
        return lines

    def _remedy_lines(self, remedy: Remedy, word: str) -> list[str]:
        number = remedy_number(remedy, self._remedies)
        lines = [f"{word}{number}{proof_words(remedy)}: {plain(remedy.text)}"]
        for change in remedy.changes:
            lines.append(
                f"  in {plain(change.file)}: {plain(change.key)} = {toml_value(change.value)}"
            )
        return lines

    def holds(self, result: Result) -> None:
        """Whether joinery may be cut and hoses ordered."""
        self._heading("What is safe to do")
        self._hold("cut joinery", result.cut_joinery)
        self._hold("order hoses", result.order_hoses)

    def _hold(self, what: str, hold: Hold) -> None:
        words = Text(f"Safe to {what}: ")
        words.append(yes_or_not_yet(hold.safe), style="bold green" if hold.safe else "bold red")
        words.append(f"{', because' if hold.safe else ':'} {plain(hold.because)}")
        self._print(words)

    def hoses(self, result: Result) -> None:
        """The hose table as wide as the terminal allows."""
        wide = self._console.width >= 120
        self.table(numbers.hose_table(result) if wide else numbers.short_hose_table(result))

    def suction(self, result: Result) -> None:
        """The suction number against its limit."""
        self._heading("Can the pump be fed")
        self._print(Text(f"Suction: {suction_words(result, self._system)}."))
        self._print(Text(f"NPSH: {npsh_words(result, self._system)}."))
        for words in (bypass_words, longest_words):
            told = words(result, self._system)
            if told:
                self._print(Text(f"{plain(told[:1].upper() + told[1:])}."))
        self.table(margins.governing_table(result, self._system), left_out=("In the state",))

    def table(self, table: Table, left_out: tuple[str, ...] = ()) -> None:
        """One table, its cells wrapped rather than cut."""
        if not table.rows:
            return
        self._heading(table.caption)
        kept = [i for i, column in enumerate(table.columns) if column.heading not in left_out]
        lines = [table.texts(row, self._system) for row in table.rows]
        grid = Grid(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0), show_edge=False)
        for index in kept:
            column = table.columns[index]
            grid.add_column(
                column.heading,
                justify="right" if column.measure else "left",
                overflow="fold",
                no_wrap=max(len(line[index]) for line in lines) <= _UNBROKEN,
            )
        for row, line in zip(table.rows, lines, strict=True):
            style = _STYLES[row.severity] if row.severity in ("fail", "caution") else ""
            grid.add_row(*(Text(line[index], style=style) for index in kept))
        self._print(grid)

    def cautions(self) -> None:
        """What must be said beside every result."""
        self._heading("Cautions")
        for caution in CAUTIONS:
            self._print(Text(f"{caution.about}. ", style="bold").append(caution.text, style=""))

    def files(self, files: Sequence[Path]) -> None:
        """Where the files are: the folder once, then the names."""
        if not files:
            return
        self._heading("Files")
        folder = os.path.commonpath([file.parent for file in files])
        self._print(Text(f"in {folder}:"))
        for file in files:
            self._print(Padding(Text(os.path.relpath(file, folder)), (0, 0, 0, 2)))

    def how_to_apply(self, files: Sequence[Path]) -> None:
        """The command that writes a remedy into files."""
        if files and self._remedies:
            self._print(
                Text(
                    f"fitcheck apply {files[0].parent} 1 writes remedy 1 into new files beside "
                    "yours."
                )
            )
