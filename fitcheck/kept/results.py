"""Cached results, under the key of the files they were calculated from."""

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
#: Name of the picture among the cached files; it is part of the page and not a file of its own.
PICTURE = "picture.png"


def keep_result(result: Result) -> None:
    """Cache a result for later runs."""
    _keep("result", result.scenario.inputs, result)


def kept_result(inputs: Inputs) -> Result | None:
    """The cached result for exactly these files, None if there is none."""
    result: Result | None = _opened("result", inputs)
    return result


def keep_explanations(inputs: Inputs, rows: tuple[Explanation, ...]) -> None:
    """Cache the calculations of all lines."""
    _keep("explanations", inputs, rows)


def kept_explanations(inputs: Inputs) -> tuple[Explanation, ...]:
    """The cached calculations of all lines, empty if there are none."""
    rows: tuple[Explanation, ...] = _opened("explanations", inputs) or ()
    return rows


def keep_files(inputs: Inputs, units: System, contents: Mapping[str, bytes]) -> None:
    """Cache the written files of a result, by name."""
    whole = BytesIO()
    with zipfile.ZipFile(whole, "w") as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    keep(_key(f"files {units}", inputs), whole.getvalue())


def kept_files(inputs: Inputs, units: System) -> dict[str, bytes]:
    """The cached written files of a result, empty if there are none."""
    content = kept(_key(f"files {units}", inputs))
    if content is not None:
        with suppress(zipfile.BadZipFile), zipfile.ZipFile(BytesIO(content)) as archive:
            return {name: archive.read(name) for name in archive.namelist()}
    return {}


def _keep(kind: str, inputs: Inputs, value: object) -> None:
    # What cannot be cached is calculated again; that must never lose an answer.
    with suppress(TypeError, ValueError):
        keep(_key(kind, inputs), packed(value))


def _opened(kind: str, inputs: Inputs) -> Any:
    content = kept(_key(kind, inputs))
    if content is not None:
        with suppress(ValueError):
            return unpacked(content)
    return None


def _key(kind: str, inputs: Inputs) -> str:
    """Every input file of a result and its name, because remedies name files."""
    return key_of(kind, (f"{one.sha256} {one.path}" for one in inputs))
