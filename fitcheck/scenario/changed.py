"""Write a scenario with some keys changed next to its files, keeping comments."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from pathlib import Path as FilePath
from typing import Any

from fitcheck.errors import FitcheckError
from fitcheck.model.given.scenario import Scenario
from fitcheck.scenario.keys import set_key
from fitcheck.scenario.schema.lines import Path
from fitcheck.units import Metre
from fitcheck.writing import write_one

#: Resolution of the positions written [m].
STEP: Metre = 1e-4

#: Path of a key and its new value.
Setting = tuple[Path, Any]


def save_moved(file: FilePath, scenario: Scenario) -> FilePath:
    """Write a scenario with its modules at their current positions; returns the new file."""
    layout = _holding(file, "layout")
    data = tomllib.loads(_read(layout))["layout"]["modules"]
    settings: list[Setting] = []
    for placement in scenario.layout.placements:
        at = [f"{round(value / STEP) * STEP:.4f}" for value in placement.at]
        told = [f"{value.removesuffix('0')} m" for value in at]
        if data[placement.module]["at"] != told:
            settings.append((("layout", "modules", placement.module, "at"), told))
    return _write(file, {layout: settings}, "_moved")


def save_applied(file: FilePath, changes: Iterable[tuple[str, str, Any]]) -> FilePath:
    """Write a scenario with keys changed; returns the new file.

    changes : file, as named in a finding; key, its steps separated by dots; value
    """
    parts = {path.name: path for path in _parts(file)}
    settings: dict[FilePath, list[Setting]] = {}
    for name, key, value in changes:
        path = parts.get(FilePath(name).name)
        if path is None:
            raise FitcheckError(f"{name}: is no file of {file}; check it again")
        settings.setdefault(path, []).append((tuple(key.split(".")), value))
    return _write(file, settings, "_applied")


def _write(file: FilePath, settings: dict[FilePath, list[Setting]], word: str) -> FilePath:
    """Copies with the keys set, and a scenario that uses them; existing files are never touched.

    Raises FitcheckError when the files cannot be written.
    """
    ending = _free_ending((file, *settings), word)
    text = _set(_read(file), settings.get(file, []), file)
    for number, name in enumerate(tomllib.loads(text).get("uses", [])):
        part = file.parent / name
        if part in settings:
            copy = part.with_stem(part.stem + ending)
            write_one(copy, _set(_read(part), settings[part], part).encode())
            renamed = FilePath(name).with_name(copy.name).as_posix()
            text = set_key(text, ("uses", number), renamed)
    target = file.with_stem(file.stem + ending)
    write_one(target, text.encode())
    return target


def _set(text: str, settings: Iterable[Setting], path: FilePath) -> str:
    try:
        for key, value in settings:
            text = set_key(text, key, value)
    except ValueError as error:
        raise FitcheckError(f"{path}: {error}; write it by hand") from error
    return text


def _parts(file: FilePath) -> tuple[FilePath, ...]:
    """The scenario's file and the files it uses."""
    uses = tomllib.loads(_read(file)).get("uses", [])
    return (file, *(file.parent / name for name in uses))


def _holding(file: FilePath, table: str) -> FilePath:
    """Which of them contains a table."""
    return next(path for path in _parts(file) if table in tomllib.loads(_read(path)))


def _free_ending(files: Iterable[FilePath], word: str) -> str:
    """The word, or the word with the first number not used by a file yet."""
    wanted, number = tuple(files), 1
    while True:
        ending = word if number == 1 else f"{word}{number}"
        if not any(path.with_stem(path.stem + ending).exists() for path in wanted):
            return ending
        number += 1


def _read(path: FilePath) -> str:
    return path.read_text("utf-8-sig").replace("\r\n", "\n")
