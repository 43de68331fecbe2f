"""Everything that leaves the program except the window.

Takes a Result; prints its summary, and writes its files whole or not at all.
"""

from fitcheck.report.calculation import print_explanation
from fitcheck.report.terminal import print_summary
from fitcheck.report.write import write_all

__all__ = ["print_explanation", "print_summary", "write_all"]
