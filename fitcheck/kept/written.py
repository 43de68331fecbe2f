"""Read result.json of any version, and the whole result next to it where that is usable.

Modules, hoses, order and inputs have had the same keys in every version; everything else is either
in result.zip, which only the version that wrote it is sure to open, or calculated again.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from fitcheck.errors import FitcheckError
from fitcheck.kept.codec import unpacked
from fitcheck.kept.inputs import digest
from fitcheck.model.given.scenario import InputFile
from fitcheck.model.result import Result
from fitcheck.units import Metre, Point, Price, Ratio

#: Version of result.json and result.zip; files without one are of the first version.
FORMAT = 4
#: The whole result next to result.json, which lists it with its hash.
WHOLE = "result.zip"
#: Maximum number of files of a folder to name.
MOST_NAMED = 6
_Row = TypeVar("_Row")


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenModule:
    """A module as written: its verdict, and the corners of its box in the boat frame."""

    name: str
    verdict: str
    corners: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenHose:
    """A hose as written: no length and no path without a route."""

    line: str
    hose: str
    length: Metre | None
    cut_length: Metre | None
    path: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenItem:
    """A row of the order in words: number of pieces or metres, by `unit`."""

    item: str
    quantity: Ratio
    unit: str
    length: Metre | None
    for_lines: tuple[str, ...]
    note: str
    price: Price | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """The contents of a result.json of any version."""

    file: Path
    format: int
    date: str
    inputs: tuple[InputFile, ...]
    modules: tuple[WrittenModule, ...]
    hoses: tuple[WrittenHose, ...]
    order: tuple[WrittenItem, ...]
    listed: dict[str, str]

    @property
    def absent(self) -> tuple[str, ...]:
        """Inputs that are missing."""
        return tuple(one.path for one in self.inputs if not Path(one.path).exists())

    @property
    def changed(self) -> tuple[str, ...]:
        """Inputs that exist but have changed."""
        there = (one for one in self.inputs if one.path not in self.absent)
        return tuple(one.path for one in there if not _is(Path(one.path), one.sha256))

    @property
    def home(self) -> Path | None:
        """The folder above the result that contains its missing inputs, None if there is none."""
        first = Path(self.inputs[0].path) if self.absent else Path()
        above = self.file.absolute().parents if self.inputs and not first.is_absolute() else ()
        return next(
            (folder for folder in above if _is(folder / first, self.inputs[0].sha256)), None
        )

    def whole(self) -> Result | None:
        """The whole result; None if it is missing, modified or of another version."""
        path = self.file.with_name(WHOLE)
        if self.format != FORMAT or not _is(path, self.listed.get(WHOLE, "")):
            return None
        with suppress(OSError, ValueError):
            result: Result = unpacked(path.read_bytes())
            return result
        return None


def read_written(place: Path) -> Written:
    """Read a result.json, or the one in a folder. Raises FitcheckError if there is none."""
    file = place / "result.json" if place.is_dir() else place
    if not file.is_file():  # reading from a pipe would block
        raise FitcheckError(_no_result(place, file))
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
            modules=_readable(_module, data.get("modules")),
            hoses=_readable(_hose, data.get("hoses")),
            order=_readable(_item, data.get("order")),
            listed={str(row["file"]): str(row["sha256"]) for row in data.get("files", ())},
        )
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise FitcheckError(f"{file}: is no result; check the scenario again") from error


def _no_result(place: Path, file: Path) -> str:
    """The message if there is no result; names the scenario files in the folder."""
    if not place.is_dir() or file.exists():
        return f"{file}: is not there, or no plain file; name what check wrote"
    names = sorted(one.name for one in place.glob("*.toml"))
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    there = f"a scenario file in it ({', '.join(names[:MOST_NAMED])}{more})" if names else ""
    wanted = f"name {there}, or" if there else "name a scenario file, or"
    return f"{place}: is a folder without result.json; {wanted} a folder that check wrote"


def _readable(read: Callable[[Any], _Row], rows: Any) -> tuple[_Row, ...]:
    """The readable rows; one corrupted by another program does not affect the others."""
    found = []
    for row in rows if isinstance(rows, list) else ():
        with suppress(AttributeError, KeyError, TypeError, ValueError):
            found.append(read(row))
    return tuple(found)


def _module(row: Any) -> WrittenModule:
    return WrittenModule(
        name=str(row["name"]), verdict=str(row["verdict"]), corners=_points(row["corners"])
    )


def _hose(row: Any) -> WrittenHose:
    return WrittenHose(
        line=str(row["line"]),
        hose=str(row["hose"]),
        length=row["length"],
        cut_length=row.get("cut_length"),
        path=_points(row["path"]),
    )


def _item(row: Any) -> WrittenItem:
    return WrittenItem(
        item=str(row["item"]),
        quantity=float(row["quantity"]),
        unit=str(row["unit"]),
        length=row["length"],
        for_lines=tuple(row["for_lines"]),
        note=str(row.get("note", "")),
        price=row.get("price"),
    )


def _points(rows: Any) -> tuple[Point, ...]:
    return tuple((float(x), float(y), float(z)) for x, y, z in rows)


def _is(path: Path, sha256: str) -> bool:
    """Whether a file exists and has that digest."""
    with suppress(OSError, ValueError):
        return digest(path) == sha256
    return False
