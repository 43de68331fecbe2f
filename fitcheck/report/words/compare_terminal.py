"""The comparison in the terminal: a table where it fits, a block a row where it does not."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text

from fitcheck.model.found.comparison import Comparison
from fitcheck.model.found.look import VERDICT_LOOKS
from fitcheck.report.tables import NOTHING, plain
from fitcheck.report.words.side_by_side import BEST, Entry, Line, Side, letter, side_by_side
from fitcheck.units import System

_STYLES = {"fail": "bold red", "caution": "yellow", "note": "dim", "pass": "green"}
_HEADING = "bold underline"
#: Characters a column needs before words break badly.
_LABEL, _COLUMN = 20, 17


def print_comparison(
    comparison: Comparison,
    files: Sequence[Path],
    units: System = "metric",
    console: Console | None = None,
) -> None:
    """Print who is compared, what differs, what is the same, what stopped, where the files are."""
    page = console or Console(highlight=False)
    side = side_by_side(comparison, units)
    _candidates(page, comparison)
    for remark in side.remarks:
        _say(page, Text(remark, style="yellow"))
    if side.letters:
        _heading(page, "What differs (best in each row marked)")
        wide = page.width >= _LABEL + _COLUMN * len(side.letters)
        (_as_table if wide else _as_blocks)(page, side)
        _heading(page, f"The same in all {len(side.letters)}")
        for line in side.same:
            _say(page, Text(f"{line.label}: {_text(line.entries[0])}"))
    for n, ran in comparison.ran:
        if ran.fails:
            _heading(page, f"What fails in {letter(n)}, {plain(comparison.candidates[n].name)}")
            for row in ran.fails:
                _say(page, Text(f"- {plain(row.text)}"))
    if files:
        _heading(page, "Files")
        for file in files:
            _say(page, Text(str(file)))
        for n, one in enumerate(comparison.candidates):
            if one.folder:
                _say(page, Text(f"{letter(n)} in full: {one.folder}"))


def _say(page: Console, text: Text | Grid) -> None:
    page.print(text, highlight=False, markup=False, emoji=False)


def _heading(page: Console, words: str) -> None:
    _say(page, Text(f"\n{words}", style=_HEADING))


def _candidates(page: Console, comparison: Comparison) -> None:
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
            told, style = VERDICT_LOOKS[one.ran.verdict].word, one.ran.verdict
        grid.add_row(
            Text(letter(n), style="bold"), Text(plain(one.name)), Text(told, style=_STYLES[style])
        )
    _say(page, grid)


def _text(entry: Entry | None) -> str:
    return entry.text if entry else NOTHING


def _as_table(page: Console, side: Side) -> None:
    grid = Grid(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0), show_edge=False)
    grid.add_column("", overflow="fold", min_width=12)
    for mark, name in zip(side.letters, side.names, strict=True):
        grid.add_column(f"{mark} {name}", overflow="fold", ratio=1)
    group = ""
    for line in side.differing:
        if line.group != group:
            group = line.group
            grid.add_row(Text(group, style="bold"), *("" for _ in side.letters))
        grid.add_row(Text(line.label), *(_cell(line, n) for n in range(len(side.letters))))
    _say(page, grid)


def _cell(line: Line, number: int) -> Text:
    entry = line.entries[number]
    style = _STYLES[entry.severity] if entry and entry.severity else ""
    words = Text(_text(entry), style=style)
    if number in line.best:
        words.append(f" ({BEST})", style="bold")
    return words


def _as_blocks(page: Console, side: Side) -> None:
    for line in side.differing:
        _say(page, Text(f"{line.group}: {line.label}", style="bold"))
        for n, mark in enumerate(side.letters):
            _say(page, Text(f"  {mark} ").append_text(_cell(line, n)))
