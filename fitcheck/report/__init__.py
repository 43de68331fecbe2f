"""All output of the program except the window.

Takes a Result (or several, or a Standing); prints its summary, writes its files completely or not
at all. `document/parts.py` and `words/console.py`, from which they are built, serve other rooms
too.
"""

from fitcheck.report.calculation import print_explanations
from fitcheck.report.compare_files import write_comparison
from fitcheck.report.files import file_sets
from fitcheck.report.results.applicable import applicable
from fitcheck.report.results.data import as_json
from fitcheck.report.standing import print_standing, write_standing
from fitcheck.report.words.compare_terminal import print_comparison
from fitcheck.report.words.first_screen import brief, first_screen
from fitcheck.report.words.scan_words import scan_rows, usable
from fitcheck.report.words.set_words import set_words
from fitcheck.report.words.terminal import print_summary
from fitcheck.report.write import write_all, write_undrawn

__all__ = [
    "applicable",
    "as_json",
    "brief",
    "file_sets",
    "first_screen",
    "print_comparison",
    "print_explanations",
    "print_standing",
    "print_summary",
    "scan_rows",
    "set_words",
    "usable",
    "write_all",
    "write_comparison",
    "write_standing",
    "write_undrawn",
]
