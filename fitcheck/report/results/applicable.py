"""What can be applied from a written result: its remedies, and the files they change."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fitcheck.errors import FitcheckError
from fitcheck.findings.said import Said, as_written
from fitcheck.kept.written import read_written
from fitcheck.model.finding import Change, Remedy
from fitcheck.report.results.said import read_said


@dataclass(frozen=True, slots=True, kw_only=True)
class Applicable:
    """The scenario file of a result, and its remedies in the order of their numbers."""

    scenario: Path
    remedies: tuple[Remedy, ...]


def applicable(result: Path, unpacked: Path | None = None) -> Applicable:
    """Read a result.json, or the one in a folder.

    unpacked : the scenario of the pack that contained the result, whose files are unchanged.
    Raises FitcheckError if there is none, or if an input file has changed.
    """
    written = read_written(result)
    file = written.file
    try:
        remedies = tuple(_remedy(row) for row in json.loads(file.read_text("utf-8"))["remedies"])
        scenario = unpacked or Path(written.inputs[0].path)
    except (KeyError, TypeError, IndexError) as error:
        raise FitcheckError(
            f"{file}: is no result of this version; check the scenario again"
        ) from error
    if not unpacked and written.absent:
        home = written.home
        where = f"run this in {home}" if home else "run this where the scenario was checked"
        raise FitcheckError(
            f"{file}: its inputs are not below this folder: {', '.join(written.absent)}; {where}"
        )
    changed = () if unpacked else written.changed
    if changed:
        raise FitcheckError(
            f"{file}: changed since it was written: {', '.join(changed)}; check the scenario again"
        )
    return Applicable(scenario=scenario, remedies=remedies)


def _remedy(row: Any) -> Remedy:
    changes = tuple(
        Change(
            file=str(one["file"]),
            key=str(one["key"]),
            value=_value(one["value"]),
            kind=str(one.get("kind", "")),
        )
        for one in row["changes"]
    )
    return Remedy(said=_said(row), changes=changes, proven=row["proven"])


def _said(row: Any) -> Said:
    """What the remedy says, in the words of another version where its sentence is unknown here."""
    try:
        return read_said(row["said"])
    except KeyError:
        return as_written(str(row["text"]))


def _value(value: str | list[str]) -> str | tuple[str, ...]:
    return value if isinstance(value, str) else tuple(value)
