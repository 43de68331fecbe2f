"""The files of a deviation, and its summary in the terminal."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text

from fitcheck import __version__
from fitcheck.model.found.deviation import Deviation
from fitcheck.model.found.look import SEVERITY_LOOKS
from fitcheck.report.document.deviation_page import deviation_html
from fitcheck.report.files import replace_all
from fitcheck.report.results.said import assumption_data, finding_data
from fitcheck.report.scene.ply import as_ply
from fitcheck.report.tables import Table, as_csv, plain
from fitcheck.report.words import deviation_words as words
from fitcheck.report.words.words import place_words
from fitcheck.units import System

_STYLES = {"fail": "bold red", "caution": "yellow", "note": "dim", "pass": "green"}
_HEADING = "bold underline"
_MOST_ROWS = 12


def write_deviation(
    found: Deviation, folder: Path, picture: bytes | None, units: System
) -> tuple[Path, ...]:
    """Write page, tables, data and the other mesh in the boat frame, all or none of them.

    Raises FitcheckError when the folder cannot be written.
    """
    contents = {
        "deviation.html": deviation_html(found, picture, units).encode("utf-8"),
        "deviation.json": (json.dumps(_data(found), indent=1, allow_nan=False) + "\n").encode(),
        "places.csv": as_csv(words.patch_table(found, most=None), units).encode("utf-8"),
        "faces.csv": as_csv(words.face_table(found, everything=True), units).encode("utf-8"),
        "other.ply": as_ply(found.triangles),
    }
    if picture is not None:
        contents["deviation.png"] = picture
    return replace_all(folder, contents)


def _data(found: Deviation) -> dict[str, Any]:
    """deviation.json: SI, boat frame."""
    laid = found.registration
    told = {
        "version": __version__,
        "here": found.here,
        "there": found.there,
        "verdict": found.verdict,
        "trusted": laid.trusted,
        "limit": found.limit,
        "registration": {
            "similarity": asdict(laid.similarity),
            "scale_kept": laid.scale_kept,
            "declared_scale": laid.declared_scale,
            "scale_uncertainty": laid.scale_uncertainty,
            "middle": laid.middle,
            "reach": laid.reach,
            "covariance": laid.covariance.tolist(),
            "noise": laid.noise,
            "covered": laid.covered,
            "covers": laid.covers,
            "pair_spread": laid.pair_spread,
            "pairs": [asdict(pair) for pair in laid.pairs],
            "free": [{"words": row.words, "held": row.held} for row in laid.free],
        },
        "places": [asdict(patch) for patch in found.patches],
        "modules": [asdict(change) for change in found.modules],
        "findings": [finding_data(row) for row in found.findings],
        "assumptions": [assumption_data(row) for row in found.assumptions],
        "inputs": [asdict(one) for one in found.inputs],
    }
    return dict(_finite(told))


def _finite(item: Any) -> Any:
    if isinstance(item, dict):
        return {key: _finite(value) for key, value in item.items()}
    if isinstance(item, list | tuple):
        return [_finite(value) for value in item]
    return None if isinstance(item, float) and not math.isfinite(item) else item


def print_deviation(
    found: Deviation,
    files: Sequence[Path],
    units: System = "metric",
    console: Console | None = None,
) -> None:
    """Print what it comes to, the findings, faces and places, and where the files are."""
    page = console or Console(highlight=False)
    style = "bold red" if not found.registration.trusted else _STYLES[found.verdict]
    head = Text(f"\n{plain(found.there)} against {plain(found.here)}: ")
    _say(page, head.append(words.headline(found), style=style))
    _findings(page, found, units)
    _heading(page, "How one lies on the other")
    for line in words.registration_words(found, units):
        _say(page, Text(line))
    _table(page, words.pair_table(found), units, (0, 4, 5))
    if found.modules:
        _table(page, words.module_table(found), units, (0, 1, 2, 3, 4))
        _table(page, words.face_table(found), units, (0, 1, 2, 3, 4))
    _table(page, words.patch_table(found), units, (0, 1, 2, 5, 7))
    if files:
        _heading(page, "Files")
        for file in files:
            _say(page, Text(str(file)))


def _say(page: Console, content: Text | Grid) -> None:
    page.print(content, highlight=False, markup=False, emoji=False)


def _heading(page: Console, said: str) -> None:
    _say(page, Text(f"\n{said}", style=_HEADING))


def _findings(page: Console, found: Deviation, units: System) -> None:
    grid = Grid.grid(padding=(0, 2, 0, 0))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    for row in found.findings:
        lines = [f"{plain(row.subject)}: {plain(row.text)}"]
        if row.place is not None:
            lines.append(f"where: {place_words(row, units)}")
        if row.remedy is not None and row.severity != "note":
            lines.append(f"remedy: {plain(row.remedy.text)}")
        word = SEVERITY_LOOKS[row.severity].word.upper()
        grid.add_row(Text(word, style=_STYLES[row.severity]), Text("\n".join(lines)))
    _say(page, grid)


def _table(page: Console, table: Table, units: System, kept: tuple[int, ...]) -> None:
    """The columns that matter most, a dozen rows; the files have the rest."""
    if not table.rows:
        return
    _heading(page, table.caption)
    grid = Grid(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0), show_edge=False)
    for index in kept:
        column = table.columns[index]
        grid.add_column(
            plain(column.heading), justify="right" if column.measure else "left", overflow="fold"
        )
    for row in table.rows[:_MOST_ROWS]:
        texts = table.texts(row, units)
        style = _STYLES[row.severity] if row.severity else ""
        grid.add_row(*(Text(texts[index], style=style) for index in kept))
    _say(page, grid)
    if len(table.rows) > _MOST_ROWS:
        _say(page, Text(f"and {len(table.rows) - _MOST_ROWS} more; the files have them all"))
