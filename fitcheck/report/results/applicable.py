"""What of a result that was written can be applied: its remedies, and the files they change."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fitcheck.errors import FitcheckError
from fitcheck.findings.said import as_written
from fitcheck.model.finding import Change, Remedy


@dataclass(frozen=True, slots=True, kw_only=True)
class Applicable:
    """The scenario file of a result, and its remedies in the order of their numbers."""

    scenario: Path
    remedies: tuple[Remedy, ...]


def applicable(result: Path) -> Applicable:
    """Read a result.json, or the one in a folder.

    Raises FitcheckError where there is none, and where a file it was worked out from has changed.
    """
    file = result / "result.json" if result.is_dir() else result
    data = _read(file)
    try:
        inputs = [(Path(row["file"]), str(row["sha256"])) for row in data["inputs"]]
        remedies = tuple(_remedy(row) for row in data["remedies"])
        scenario = inputs[0][0]
    except (KeyError, TypeError, IndexError) as error:
        raise FitcheckError(
            f"{file}: is no result of this version; check the scenario again"
        ) from error
    changed = [str(path) for path, digest in inputs if _digest(path) != digest]
    if changed:
        raise FitcheckError(
            f"{file}: not as they were when it was written, or not below this folder: "
            f"{', '.join(changed)}; check the scenario again"
        )
    return Applicable(scenario=scenario, remedies=remedies)


def _read(file: Path) -> Any:
    try:
        return json.loads(file.read_text("utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise FitcheckError(f"{file}: cannot be read as a result ({error})") from error


def _remedy(row: Any) -> Remedy:
    changes = tuple(
        Change(file=str(one["file"]), key=str(one["key"]), value=one["value"])
        for one in row["changes"]
    )
    return Remedy(said=as_written(str(row["text"])), changes=changes, proven=row["proven"])


def _digest(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""
