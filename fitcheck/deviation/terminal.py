"""A deviation in the terminal: the conclusion, the findings, then the tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fitcheck.deviation import words
from fitcheck.model.found.deviation import Deviation
from fitcheck.report.words.console import Printout
from fitcheck.units import System

_MOST_ROWS = 12


def print_deviation(found: Deviation, files: Sequence[Path], units: System = "metric") -> None:
    """Print the conclusion, the findings, faces and places, and where the files are.

    The most important columns and a dozen rows of each table; the files have the rest.
    """
    out = Printout(system=units)
    out.verdict(words.title(found), words.headline(found), found.verdict)
    out.findings(found.findings)
    out.heading("Alignment")
    for line in words.registration_words(found, units):
        out.say(line)
    for table in (
        words.pair_table(found),
        words.module_table(found),
        words.face_table(found, units),
        words.patch_table(found, units),
    ):
        out.table(table, _MOST_ROWS)
    out.files(files)
