"""The answer on one screen of a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path

from fitcheck.model.result import Result
from fitcheck.report.tables import plain
from fitcheck.report.words.answer import FLIPS, SAFETY, Answer, answer
from fitcheck.report.words.words import apply_command
from fitcheck.units import System

WIDTH = 80
#: Maximum lines of a remedy, with a command and without; the report has the full text.
MOST_LINES = (1, 2)
_LEAD = 13
_CUT = " ..."


def first_screen(result: Result, files: Sequence[Path], system: System) -> str:
    """The answer in about twenty lines of 80 columns; `files` as written, the page first."""
    told = answer(result, system)
    return "\n".join(
        (
            *_headline(result, told),
            "",
            *(line for what, _, words in told.steps for line in _row(what, words)),
            *_to_do(told, files, system),
            "",
            *_row("Modules", told.boxes),
            *_lengths(told),
            *(_row("Pump", "; ".join(told.pump)) if told.pump else ()),
            *(_row("Assumed", f"{FLIPS} {told.flips}") if told.flips else ()),
            *(_row("Report", str(files[0])) if files else ()),
            *_row("Safety", SAFETY),
        )
    )


def brief(result: Result, system: System) -> str:
    """A two-line summary to read aloud."""
    return "\n".join(f"{what}: {words}." for what, _, words in answer(result, system).steps)


def _headline(result: Result, told: Answer) -> list[str]:
    files = dict.fromkeys(
        Path(name).name
        for name in (
            result.scenario.boat_file,
            result.scenario.kit_file,
            result.scenario.layout_file,
        )
    )
    return _hung("", plain(f"{result.scenario.name}: {told.verdict} ({', '.join(files)})"))


def _to_do(told: Answer, files: Sequence[Path], system: System) -> Iterator[str]:
    """The most urgent causes, each with its remedy and the command that applies it."""
    if not told.deeds:
        return
    yield ""
    yield f"{told.heading}{f' ({told.left} more in the report)' if told.left else ''}"
    for number, deed in enumerate(told.deeds, 1):
        yield from _hung(f" {number} ", deed.wrong)
        applied = deed.remedy if files else None
        yield from _shortened(_hung("   ", deed.right), MOST_LINES[0 if applied else 1])
        if applied:
            yield f"   {apply_command(str(files[0].parent), applied, system)}"


def _shortened(lines: list[str], most: int) -> list[str]:
    """At most so many lines; the report has the full text."""
    if len(lines) <= most:
        return lines
    *kept, last = lines[:most]
    if len(last) + len(_CUT) > WIDTH:
        last = last.rpartition(" ")[0]
    return [*kept, last + _CUT]


def _lengths(told: Answer) -> Iterator[str]:
    if not told.cuts:
        yield from _row("Hoses", "no hose is routed")
        return
    rows = [
        f"{row.hose}: {', '.join(f'hose {number} {length}' for number, length in row.pieces)}"
        for row in told.cuts
    ]
    yield from _listed("Cut lengths", rows if told.ready else [told.cut_note, *rows])
    if told.lost:
        yield from _row("", f"no route: {', '.join(told.lost)}")


def _listed(lead: str, rows: Sequence[str]) -> Iterator[str]:
    """Several rows under one name."""
    for at, words in enumerate(rows):
        yield from _row("" if at else lead, words)


def _row(lead: str, words: str) -> list[str]:
    """A name in the first column and its text in the second."""
    if len(lead) >= _LEAD:
        lead = f"{lead} "
    return _hung(f"{lead:<{_LEAD}}", words)


def _hung(lead: str, words: str) -> list[str]:
    return textwrap.wrap(
        words,
        WIDTH,
        initial_indent=lead,
        subsequent_indent=" " * min(len(lead), _LEAD),
        break_long_words=False,
        break_on_hyphens=False,
    )
