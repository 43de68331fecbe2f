"""The files of a comparison: page, table, data."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fitcheck import __version__
from fitcheck.model.found.comparison import Candidate, Comparison
from fitcheck.model.result import Hold
from fitcheck.report.document.compare_page import compare_html
from fitcheck.report.files import replace_all
from fitcheck.report.results.json_text import json_text
from fitcheck.report.results.said import finding_data
from fitcheck.report.tables import NOTHING, plain
from fitcheck.report.words.longest import longest_table
from fitcheck.report.words.side_by_side import Entry, Line, letter, side_by_side
from fitcheck.units import System


def write_comparison(comparison: Comparison, folder: Path, units: System) -> tuple[Path, ...]:
    """Write compare.html, compare.csv and compare.json, all or none of them.

    Raises FitcheckError when the folder cannot be written.
    """
    contents = {
        "compare.html": compare_html(comparison, units).encode("utf-8"),
        "compare.csv": _csv(comparison, units).encode("utf-8"),
        "compare.json": json_text(_data(comparison)).encode(),
    }
    return replace_all(folder, contents)


def _csv(comparison: Comparison, units: System) -> str:
    """One table row per line, one number per cell where it is one."""
    side = side_by_side(comparison, units)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    letters = [letter(n) for n in range(len(comparison.candidates))]
    names = [f"{letter(n)} {plain(one.name)}" for n, one in enumerate(comparison.candidates)]
    writer.writerow(["Group", "Row", "Unit", *names, "Best", "Differs"])
    files = [_safe(one.file) for one in comparison.candidates]
    writer.writerow(["", "File", "", *files, "", ""])
    whys = [_safe(one.why.splitlines()[0]) if one.why else "" for one in comparison.candidates]
    if any(whys):
        writer.writerow(["", "Could not be run", "", *whys, "", ""])
    places = [letters.index(mark) for mark in side.letters]
    for line in (*side.differing, *side.same):
        cells = [""] * len(letters)
        for place, entry in zip(places, line.entries, strict=True):
            cells[place] = _cell(line, entry, units)
        unit = line.measure.unit(units) if line.measure else ""
        best = " ".join(side.letters[n] for n in line.best)
        writer.writerow(
            [line.group, line.label, unit, *cells, best, "yes" if line.differs else "no"]
        )
    return out.getvalue()


def _cell(line: Line, entry: Entry | None, units: System) -> str:
    if entry is None:
        return ""
    if line.measure and entry.value is not None and math.isfinite(entry.value):
        return line.measure.number(entry.value, units)
    return _safe(entry.text)


def _safe(content: str) -> str:
    """Text that a spreadsheet does not execute as a formula."""
    content = plain(content)
    return f"'{content}" if content[:1] in tuple("=+-@") and content != NOTHING else content


def _data(comparison: Comparison) -> dict[str, Any]:
    """compare.json: SI, every candidate in full, the rows that differ with their best."""
    side = side_by_side(comparison, "metric")
    return {
        "version": __version__,
        "candidates": [_candidate(n, one) for n, one in enumerate(comparison.candidates)],
        "rows": [
            {
                "group": line.group,
                "row": line.label,
                "unit": _si(line),
                "differs": line.differs,
                "values": {
                    mark: None if entry is None else _number(entry)
                    for mark, entry in zip(side.letters, line.entries, strict=True)
                },
                "best": [side.letters[n] for n in line.best],
            }
            for line in (*side.differing, *side.same)
        ],
        "longest": {str(row.cells[0]): row.cells[2] for row in longest_table(comparison).rows},
    }


def _si(line: Line) -> str:
    if line.measure is None:
        return ""
    return {"length": "m", "head": "m", "pressure": "Pa", "volume": "m3"}[line.measure.kind]


def _number(entry: Entry) -> float | str | None:
    if entry.value is None:
        return entry.text
    return entry.value if math.isfinite(entry.value) else None


def _candidate(number: int, one: Candidate) -> dict[str, Any]:
    told: dict[str, Any] = {
        "letter": letter(number),
        "name": one.name,
        "file": one.file,
        "stopped": one.stopped,
        "why": one.why.splitlines(),
        "folder": one.folder,
        "ran": None,
    }
    if one.ran is not None:
        said = {
            "kit": one.ran.kit.name,
            "cut_joinery": _hold(one.ran.cut_joinery),
            "order_hoses": _hold(one.ran.order_hoses),
            "fails": [row.text for row in one.ran.fails],
            "vacuum_clean_state": one.ran.vacuum_clean_state.text(),
            "vacuum_fouled_state": one.ran.vacuum_fouled_state.text(),
        }
        told["ran"] = asdict(one.ran) | said
    return told


def _hold(hold: Hold) -> dict[str, Any]:
    reasons = [finding_data(row) for row in hold.reasons]
    return {"safe": hold.safe, "because": hold.because, "reasons": reasons}
