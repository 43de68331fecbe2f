"""Remedies applied to scenario files, as a user with an editor would."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from fitcheck.scenario.schema.lines import Path as KeyPath
from fitcheck.scenario.schema.lines import find_places


def apply_changes(changes: Iterable[Mapping[str, Any]], folder: Path) -> None:
    """Write each change {file, key, value} into its file.

    file is taken from the current folder or, by its name alone, in `folder`, which goes first.
    """
    for change in changes:
        path = folder / Path(str(change["file"])).name
        path = path if path.exists() else Path(str(change["file"]))
        text = path.read_text("utf-8").replace("\r\n", "\n")
        path.write_text(set_key(text, str(change["key"]), change["value"]), "utf-8")


def set_key(text: str, key: str, value: Any) -> str:
    """A TOML text with one key set, comments and order kept; tables are made as needed."""
    path: KeyPath = tuple(key.split("."))
    changed = _set(text, path, emit(value))
    assert _get(tomllib.loads(changed), path) == _plain(value), key
    return changed


def _set(text: str, path: KeyPath, value: str) -> str:
    places = find_places(text)
    if path in places and places[path].end > places[path].start:
        here = places[path]
        return text[: here.start] + value + text[here.end :]
    table, name = path[:-1], _name(path[-1])
    here = places.get(table)
    if here and _opens(text[here.start : here.end], table):
        line_end = text.find("\n", here.end)
        line_end = len(text) if line_end < 0 else line_end
        return f"{text[:line_end]}\n{name} = {value}{text[line_end:]}"
    if here and text[here.start] == "{":
        inside = text[here.start + 1 : here.end - 1].strip()
        comma = ", " if inside else ""
        return f"{text[: here.start]}{{ {inside}{comma}{name} = {value} }}{text[here.end :]}"
    header = ".".join(_name(step) for step in table)
    return f"{text.rstrip()}\n\n[{header}]\n{name} = {value}\n"


def _opens(header: str, table: KeyPath) -> bool:
    """Whether a header opens just this table, and not one below it."""
    return header.startswith("[") and tuple(header.strip("[] ").split(".")) == table


def emit(value: Any) -> str:
    """A value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_name(k)} = {emit(v)}" for k, v in value.items()) + " }"
    return "[" + ", ".join(emit(item) for item in value) + "]"


def _name(step: str | int) -> str:
    text = str(step)
    return text if re.fullmatch(r"[A-Za-z0-9_-]+", text) else json.dumps(text)


def _get(data: Any, path: KeyPath) -> Any:
    for step in path:
        data = data[step]
    return data


def _plain(value: Any) -> Any:
    """Tuples as the lists that TOML gives back."""
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value
