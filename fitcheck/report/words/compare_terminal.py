"""The comparison in the terminal: a table if it fits, else one block per row."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text

from fitcheck.model.found.comparison import Comparison
from fitcheck.model.found.look import verdict_words
from fitcheck.report.tables import NOTHING, plain
from fitcheck.report.words.console import STYLES, Printout, ruled
from fitcheck.report.words.longest import longest_table
from fitcheck.report.words.side_by_side import BEST, Entry, Line, Side, letter, side_by_side
from fitcheck.units import System

#: Minimum characters of a column before words break badly.
_LABEL, _COLUMN = 20, 17


def print_comparison(
    comparison: Comparison,
    files: Sequence[Path],
    units: System = "metric",
    console: Console | None = None,
) -> None:
    """Print the candidates, differences, common rows, failures, and where the files are."""
    out = Printout(console, units)
    side = side_by_side(comparison, units)
    _candidates(out, comparison)
    for remark in side.remarks:
        out.say(Text(remark, style="yellow"))
    if side.letters:
        out.heading("What differs (best in each row marked)")
        wide = out.width >= _LABEL + _COLUMN * len(side.letters)
        (_as_table if wide else _as_blocks)(out, side)
        out.table(longest_table(comparison))
        out.heading(f"The same in all {len(side.letters)}")
        for line in side.same:
            out.say(f"{line.label}: {_text(line.entries[0])}")
    for n, ran in comparison.ran:
        if ran.fails:
            out.heading(f"What fails in {letter(n)}, {plain(comparison.candidates[n].name)}")
            for row in ran.fails:
                out.say(f"- {plain(row.said.text(units))}")
    out.files(files)
    for n, one in enumerate(comparison.candidates):
        if files and one.folder:
            out.say(f"{letter(n)} in full: {one.folder}")


def _candidates(out: Printout, comparison: Comparison) -> None:
    grid = Grid.grid(padding=(0, 2, 0, 0))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    grid.add_column(overflow="fold")
    for n, one in enumerate(comparison.candidates):
        if one.ran is None:
            why = plain(one.why.splitlines()[0]) if one.why else ""
            more = len(one.why.splitlines()) - 1
            said = why if one.stopped == "waiting" else f"could not be run: {why}"
            told = said + (f" (and {more} more)" if more > 0 else "")
            style = "fail"
        else:
            told = verdict_words(one.ran.verdict, ready=one.ran.ready)
            style = one.ran.verdict
        grid.add_row(
            Text(letter(n), style="bold"), Text(plain(one.name)), Text(told, style=STYLES[style])
        )
    out.say(grid)


def _text(entry: Entry | None) -> str:
    return entry.text if entry else NOTHING


def _as_table(out: Printout, side: Side) -> None:
    grid = ruled()
    grid.add_column("", overflow="fold", min_width=12)
    for mark, name in zip(side.letters, side.names, strict=True):
        grid.add_column(f"{mark} {name}", overflow="fold", ratio=1)
    group = ""
    for line in side.differing:
        if line.group != group:
            group = line.group
            grid.add_row(Text(group, style="bold"), *("" for _ in side.letters))
        grid.add_row(Text(line.label), *(_cell(line, n) for n in range(len(side.letters))))
    out.say(grid)


def _cell(line: Line, number: int) -> Text:
    entry = line.entries[number]
    style = STYLES[entry.severity] if entry and entry.severity else ""
    words = Text(_text(entry), style=style)
    if number in line.best:
        words.append(f" ({BEST})", style="bold")
    return words


def _as_blocks(out: Printout, side: Side) -> None:
    for line in side.differing:
        out.say(Text(f"{line.group}: {line.label}", style="bold"))
        for n, mark in enumerate(side.letters):
            out.say(Text(f"  {mark} ").append_text(_cell(line, n)))
