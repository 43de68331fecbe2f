"""Allowed suction length and lift of a kit: tables in the terminal and a chart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text

from fitcheck.model.found.hydraulics import Standing
from fitcheck.report.document.chart import envelope_svg
from fitcheck.report.files import replace_all
from fitcheck.report.tables import RUN, Measure, plain
from fitcheck.report.words.console import Printout
from fitcheck.units import BAR, CubicMetrePerSecond, Metre, System, show

VALVE = Measure(kind="flow", metric="m3/h", imperial="gal/min", decimals=(2, 2))
#: Longer runs are not considered.
LONGEST_TOLD: Metre = 30.0
#: Every second lift of the envelope is printed.
_EVERY = 2


def write_standing(found: Standing, folder: Path, units: System) -> tuple[Path, ...]:
    """Write the chart into a folder; raises FitcheckError if that fails."""
    drawing = envelope_svg(found.envelope, units, shaded=found.hose, alone=True)
    return replace_all(folder, {"envelope.svg": drawing.encode("utf-8")})


def print_standing(
    found: Standing,
    files: Sequence[Path],
    units: System = "metric",
    console: Console | None = None,
) -> None:
    """Print the longest run of every bore and the settings of the bypass; fits 80 columns."""
    out = Printout(console, units)
    flow, runs = show(found.flow, "flow", units), RUN.unit(units)
    out.heading(plain(f"Allowed suction length and lift of {found.kit}"))
    out.say(
        Text(
            f"Some bypass setting then feeds the high-pressure pump with {flow} and keeps the "
            f"suction vacuum at {plain(found.pump)} within its limit, upright, clean and dirty."
        )
    )
    out.heading(
        f"Maximum suction length [{runs}], by bore and lift of the pump above the sea [{runs}]"
    )
    out.say(_runs(found, units))
    if found.settings:
        valve = VALVE.unit(units)
        present = VALVE.show(found.present or 0.0, units)
        out.heading(
            f"Widest bypass setting [{valve}] with {plain(found.hose)}, by lift and length "
            f"[{runs}]"
        )
        out.say(
            Text(
                f"Flow of the valve at {show(BAR, 'pressure', units)}; the pumps are fed from "
                "closed up to this setting. Its present setting is "
                f"{present}; 'none': no setting feeds them."
            )
        )
        out.say(_settings(found, units))
    out.heading("Assumed, not measured (common practice, no source)")
    for row in found.assumptions:
        out.say(Text(f"- {row.said.text(units)}: {row.taken.text(units)}"))
    out.say(
        Text(
            "\nAn estimate for planning. Once the boat is measured, its own lengths, heights and "
            "heel apply. The makers' instructions, local codes and licensed trades take "
            "precedence."
        )
    )
    out.files(files)


def _grid(first: str, others: Sequence[str]) -> Grid:
    grid = Grid(box=SIMPLE_HEAD, pad_edge=False)
    grid.add_column(first, no_wrap=True)
    for name in others:
        grid.add_column(name, justify="right", no_wrap=True)
    return grid


def _runs(found: Standing, units: System) -> Grid:
    """Rows bores, columns lifts."""
    around = found.envelope
    chosen = range(0, len(around.lifts), _EVERY)
    grid = _grid("Bore", [_number(around.lifts[at], units) for at in chosen])
    for curve in around.curves:
        cells = [_run(curve.longest[at], units) for at in chosen]
        grid.add_row(show(curve.bore, "bore", units), *cells)
    return grid


def _number(length: Metre, units: System) -> str:
    return f"{float(RUN.number(length, units)):.1f}"


def _run(length: Metre | None, units: System) -> str:
    if length is None:
        return "none"
    down = math.floor(10.0 * float(RUN.number(length, units))) / 10.0
    return f"{down:.1f}" + ("+" if length >= LONGEST_TOLD else "")


def _settings(found: Standing, units: System) -> Grid:
    """Rows lifts, columns lengths."""
    grid = _grid("Lift", [_number(length, units) for length in found.lengths])
    for lift, row in zip(found.lifts, found.settings, strict=True):
        grid.add_row(_number(lift, units), *(_setting(value, units) for value in row))
    return grid


def _setting(value: CubicMetrePerSecond | None, units: System) -> str:
    if value is None:
        return "none"
    return "closed" if value == 0.0 else VALVE.figure(value, units)
