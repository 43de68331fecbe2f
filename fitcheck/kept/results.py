"""What was calculated, under the key of the files it was calculated from."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from contextlib import suppress
from io import BytesIO
from typing import Any

from fitcheck.kept.cache import keep, kept, key_of
from fitcheck.kept.codec import packed, unpacked
from fitcheck.model.found.explanation import Explanation
from fitcheck.model.given.scenario import InputFile
from fitcheck.model.result import Result
from fitcheck.units import System

Inputs = tuple[InputFile, ...]
#: The picture among the files kept; it stands in the page and in no file of its own.
PICTURE = "picture.png"


def keep_result(result: Result) -> None:
    """Keep a result for later runs."""
    _keep("result", result.scenario.inputs, result)


def kept_result(inputs: Inputs) -> Result | None:
    """The result calculated from these files, None where none is kept of just these."""
    result: Result | None = _opened("result", inputs)
    return result


def keep_explanations(inputs: Inputs, rows: tuple[Explanation, ...]) -> None:
    """Keep the calculations of all lines."""
    _keep("explanations", inputs, rows)


def kept_explanations(inputs: Inputs) -> tuple[Explanation, ...]:
    """The calculations of all lines, none where they are not kept."""
    rows: tuple[Explanation, ...] = _opened("explanations", inputs) or ()
    return rows


def keep_files(inputs: Inputs, units: System, contents: Mapping[str, bytes]) -> None:
    """Keep the files of a result as they were written, by name."""
    whole = BytesIO()
    with zipfile.ZipFile(whole, "w") as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    keep(_key(f"files {units}", inputs), whole.getvalue())


def kept_files(inputs: Inputs, units: System) -> dict[str, bytes]:
    """The files of a result as they were written, none where they are not kept."""
    content = kept(_key(f"files {units}", inputs))
    if content is not None:
        with suppress(zipfile.BadZipFile), zipfile.ZipFile(BytesIO(content)) as archive:
            return {name: archive.read(name) for name in archive.namelist()}
    return {}


def _keep(kind: str, inputs: Inputs, value: object) -> None:
    # What cannot be kept is calculated again: never a reason to lose an answer.
    with suppress(TypeError, ValueError):
        keep(_key(kind, inputs), packed(value))


def _opened(kind: str, inputs: Inputs) -> Any:
    content = kept(_key(kind, inputs))
    if content is not None:
        with suppress(ValueError):
            return unpacked(content)
    return None


def _key(kind: str, inputs: Inputs) -> str:
    """Every file a result is calculated from, and what it is called: remedies name files."""
    return key_of(kind, (f"{one.sha256} {one.path}" for one in inputs))
