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
    out.table(words.pair_table(found), ("Forward", "To port", "Up"), _MOST_ROWS)
    out.table(words.module_table(found), ("Gap there to",), _MOST_ROWS)
    out.table(words.face_table(found), ("Limited by",), _MOST_ROWS)
    left_out = ("Typically", "±", "Size", "Beside")
    out.table(words.patch_table(found), left_out, _MOST_ROWS)
    out.files(files)
