"""A calculation in the terminal: formula, numbers, result, source."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from fitcheck.model.found.explanation import Explanation, Step
from fitcheck.model.found.hydraulics import State
from fitcheck.report.tables import plain
from fitcheck.report.words.console import Printout
from fitcheck.units import System, show

#: SI units that are also shown in another unit for people.
_SHOWN = ("m3/s", "m/s", "Pa", "kg/m3", "m", "Pa s")


def print_explanations(
    rows: Iterable[Explanation], units: System = "metric", console: Console | None = None
) -> None:
    """Print every step; the arithmetic is SI throughout and can be typed into a calculator."""
    out = Printout(console, units)
    for row in rows:
        out.heading(plain(f"{row.names[0]}, {row.number}: {row.said}"))
        state = "" if row.state is None else f"State: {_named(row.state, units)}. "
        out.say(f"{state}Arithmetic in m, Pa, kg, s and radians.")
        for number, step in enumerate(row.steps, start=1):
            size = f" ({step.size.text(units)})" if step.size else ""
            out.say(Text(f"\n{number}. {plain(step.what)}{size}", style="bold"))
            for line in _lines(step, units):
                out.say(Padding(Text(line), (0, 0, 0, 3)))


def _named(state: State, units: System) -> str:
    return state.said.text(units) or state.name


def _lines(step: Step, units: System) -> list[str]:
    lines = [step.formula, f"= {step.numbers}" if step.numbers else ""]
    lines += [f"= {result_words(step, units)}", f"source: {plain(step.source)}"]
    return [line for line in lines if line]


def result_words(step: Step, units: System) -> str:
    """The value in SI to five digits and, if there is one, in a unit people use.

    In other units than metric the arithmetic has no unit of its own beside that one.
    """
    found = f"{step.value:.5g}"
    known = step.unit in _SHOWN
    if step.unit != "1" and (units == "metric" or not known):
        found += f" {step.unit}"
    return f"{found} ({show(step.value, step.unit, units)})" if known else found
