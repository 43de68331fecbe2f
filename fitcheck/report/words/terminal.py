"""The summary in the terminal: worst finding first, every verdict in words."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from fitcheck.model.found.look import verdict_words
from fitcheck.model.result import Hold, Result
from fitcheck.report import margins, modules, numbers
from fitcheck.report.tables import plain
from fitcheck.report.words.console import Printout
from fitcheck.report.words.words import apply_command, npsh_words, suction_words, yes_or_not_yet
from fitcheck.units import System


def print_summary(
    result: Result,
    files: Sequence[Path],
    units: System = "metric",
    console: Console | None = None,
) -> None:
    """Print the results, worst first, and where the files are; fits 80 columns."""
    out = Printout(console, units, result.remedies)
    out.verdict(
        result.scenario.name, verdict_words(result.verdict, ready=result.ready), result.verdict
    )
    out.findings(row for row in result.findings if row.severity != "note")
    out.heading("What is safe to do")
    _hold(out, "cut joinery", result.cut_joinery, units)
    _hold(out, "order hoses", result.order_hoses, units)
    out.table(modules.fit_table(result, units))
    out.table(modules.module_table(result, units))
    out.say(modules.weight_words(result, units))
    out.table(numbers.hose_table(result))
    _suction(out, result, units)
    out.table(numbers.order_table(result, units))
    out.table(numbers.assumption_table(result.assumptions))
    if notes := [row for row in result.findings if row.severity == "note"]:
        out.heading("Notes")
        out.findings(notes)
    out.cautions()
    out.files(files)
    if files and result.remedies:
        command = apply_command(str(files[0].parent), "1", units)
        out.say(f"{command} writes remedy 1 into new files next to yours.")


def _hold(out: Printout, what: str, hold: Hold, units: System) -> None:
    words = Text(f"Safe to {what}: ")
    words.append(yes_or_not_yet(hold.safe), style="bold green" if hold.safe else "bold red")
    words.append(f"{', because' if hold.safe else ':'} {plain(hold.said.text(units))}")
    out.say(words)


def _suction(out: Printout, result: Result, units: System) -> None:
    """The suction number with its limit."""
    out.heading("Suction side of the feed pump")
    out.say(f"Suction: {suction_words(result, units)}.")
    out.say(f"NPSH: {npsh_words(result, units)}.")
    for words in (margins.bypass_words, margins.longest_words):
        told = words(result, units)
        if told:
            out.say(f"{plain(told[:1].upper() + told[1:])}.")
    out.table(margins.governing_table(result, units))
