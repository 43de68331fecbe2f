"""A layout whose modules were moved, written beside the files it came from, comments kept."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path as FilePath

from fitcheck.model.given.scenario import Scenario
from fitcheck.scenario.schema.lines import Path, find_places
from fitcheck.units import Metre
from fitcheck.writing import write_one

#: Places finer than this are not written [m].
STEP: Metre = 1e-4


def save_moved(file: FilePath, scenario: Scenario) -> FilePath:
    """Write a scenario with its modules where they stand now, under new names; returns its file.

    file : the scenario file as it was read. The layout's text is copied with `at` of every moved
    module changed; where the layout is a file of its own, a scenario that uses the copy is written
    too. No file that exists is touched. Raises FitcheckError when nothing can be written there.
    """
    text = _read(file)
    layout_name = _layout_among(file, text)
    ending = _free_ending(file, layout_name)
    target = file.with_stem(file.stem + ending)
    if layout_name is None:
        write_one(target, _with_places(text, scenario).encode())
        return target
    layout = file.parent / layout_name
    copy = layout.with_stem(layout.stem + ending)
    write_one(copy, _with_places(_read(layout), scenario).encode())
    renamed = str(FilePath(layout_name).with_name(copy.name)).replace("\\", "/")
    number = tomllib.loads(text)["uses"].index(layout_name)
    write_one(target, _with_value(text, ("uses", number), json.dumps(renamed)).encode())
    return target


def _layout_among(file: FilePath, text: str) -> str | None:
    """Which used file holds the layout; None for the scenario file itself."""
    data = tomllib.loads(text)
    if "layout" in data:
        return None
    return next(
        name
        for name in data.get("uses", [])
        if "layout" in tomllib.loads(_read(file.parent / name))
    )


def _free_ending(file: FilePath, layout_name: str | None) -> str:
    """_moved, or with the first number that no file has yet."""
    wanted = [file, *([file.parent / layout_name] if layout_name else [])]
    number = 1
    while True:
        ending = "_moved" if number == 1 else f"_moved{number}"
        if not any(path.with_stem(path.stem + ending).exists() for path in wanted):
            return ending
        number += 1


def _with_places(text: str, scenario: Scenario) -> str:
    """The layout's text with every module at its place."""
    data = tomllib.loads(text)["layout"]["modules"]
    for placement in scenario.layout.placements:
        at = [f"{round(value / STEP) * STEP:.4f}" for value in placement.at]
        at = [value[:-1] if value.endswith("0") else value for value in at]
        value = "[" + ", ".join(f'"{number} m"' for number in at) + "]"
        if data[placement.module]["at"] != json.loads(value):
            text = _with_value(text, ("layout", "modules", placement.module, "at"), value)
    return text


def _with_value(text: str, path: Path, value: str) -> str:
    place = find_places(text)[path]
    return text[: place.start] + value + text[place.end :]


def _read(path: FilePath) -> str:
    return path.read_text("utf-8-sig").replace("\r\n", "\n")
