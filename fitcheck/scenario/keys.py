"""Set one key of a TOML text to a value, keeping comments and order."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from typing import Any

from fitcheck.scenario.schema.lines import Path, find_places


def set_key(text: str, path: Path, value: Any) -> str:
    """The text with the value at that path; missing keys and tables are created.

    Raises ValueError if the resulting text does not have the value there.
    """
    changed = _set(text, path, emit(value))
    if _get(tomllib.loads(changed), path) != _plain(value):
        raise ValueError(f"{'.'.join(map(str, path))} cannot be set")
    return changed


def _set(text: str, path: Path, value: str) -> str:
    places = find_places(text)
    if path in places and places[path].end > places[path].start:
        here = places[path]
        return text[: here.start] + value + text[here.end :]
    table, name = path[:-1], _name(path[-1])
    above = places.get(table)
    if above and _opens(text[above.start : above.end], table):
        line_end = text.find("\n", above.end)
        line_end = len(text) if line_end < 0 else line_end
        return f"{text[:line_end]}\n{name} = {value}{text[line_end:]}"
    if above and text[above.start] == "{":
        inside = text[above.start + 1 : above.end - 1].strip()
        comma = ", " if inside else ""
        return f"{text[: above.start]}{{ {inside}{comma}{name} = {value} }}{text[above.end :]}"
    header = ".".join(_name(step) for step in table)
    return f"{text.rstrip()}\n\n[{header}]\n{name} = {value}\n"


def _opens(header: str, table: Path) -> bool:
    """Whether a header opens exactly this table, not one below it."""
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


def _get(data: Any, path: Path) -> Any:
    for step in path:
        data = data[step]
    return data


def _plain(value: Any) -> Any:
    """Tuples converted to lists, as TOML returns them."""
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value
