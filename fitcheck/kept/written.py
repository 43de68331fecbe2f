"""result.json read back: what any version can, and the whole result beside it where it serves.

Inputs and files are listed alike in every version; all else is in result.zip, which only the
version that wrote it is sure to open, or is calculated again.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from fitcheck.errors import FitcheckError
from fitcheck.kept.codec import unpacked
from fitcheck.kept.inputs import digest
from fitcheck.model.given.scenario import InputFile
from fitcheck.model.result import Result

#: Version of result.json and result.zip; files that say none are of the first.
FORMAT = 2
#: The whole result beside result.json, which lists it with its hash.
WHOLE = "result.zip"


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What is read of a result.json of any version: what it was made from, and its files."""

    file: Path
    format: int
    date: str
    inputs: tuple[InputFile, ...]
    listed: dict[str, str]

    @property
    def absent(self) -> tuple[str, ...]:
        """Inputs that are not here."""
        return tuple(one.path for one in self.inputs if not Path(one.path).exists())

    @property
    def changed(self) -> tuple[str, ...]:
        """Inputs that are here and not as they were."""
        there = (one for one in self.inputs if one.path not in self.absent)
        return tuple(one.path for one in there if not _is(Path(one.path), one.sha256))

    def whole(self) -> Result | None:
        """The whole result, None where it is not there, not as written or of another version."""
        path = self.file.with_name(WHOLE)
        if self.format != FORMAT or not _is(path, self.listed.get(WHOLE, "")):
            return None
        with suppress(OSError, ValueError):
            result: Result = unpacked(path.read_bytes())
            return result
        return None


def read_written(place: Path) -> Written:
    """Read a result.json, or the one in a folder. Raises FitcheckError where there is none."""
    file = place / "result.json" if place.is_dir() else place
    if not file.is_file():  # a pipe would be waited for
        raise FitcheckError(f"{file}: is not there, or no plain file; name what check wrote")
    try:
        data = json.loads(file.read_text("utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise FitcheckError(f"{file}: cannot be read as a result ({error})") from error
    try:
        return Written(
            file=file,
            format=int(data.get("format", 1)),
            date=str(data.get("date", "")),
            inputs=tuple(
                InputFile(path=str(row["file"]), sha256=str(row["sha256"]))
                for row in data["inputs"]
            ),
            listed={str(row["file"]): str(row["sha256"]) for row in data.get("files", ())},
        )
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise FitcheckError(f"{file}: is no result; check the scenario again") from error


def _is(path: Path, sha256: str) -> bool:
    """Whether a file is there and has that digest."""
    with suppress(OSError, ValueError):
        return digest(path) == sha256
    return False
