"""Pydantic's errors in our own words, at the key where the user wrote it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from fitcheck.scenario.schema.boat_schema import BoatTable
from fitcheck.scenario.schema.kit_schema import KitTable, LayoutTable
from fitcheck.scenario.schema.lines import Path
from fitcheck.scenario.schema.other_schema import OtherTable
from fitcheck.scenario.schema.quantities import FILL_IN
from fitcheck.scenario.schema.table import Table, all_keys, find_field, find_table, keys_of
from fitcheck.scenario.schema.words import did_you_mean, near
from fitcheck.scenario.tree import Tree

SCHEMAS: dict[str, type[Table]] = {
    "boat": BoatTable,
    "kit": KitTable,
    "layout": LayoutTable,
    "other": OtherTable,
}

#: Removed keys that an older file may contain, by section, and their replacements.
_REMOVED: dict[tuple[str, str], str] = {
    ("kit", "holds_pressure"): "write opens_at, the pressure difference at which the valve opens",
    ("kit", "inlet_pressure_wanted"): "leave it out; inlet_pressure_min is the least allowed",
    ("boat", "more_atmospheres"): "write the lowest air pressure of all as atmosphere",
    ("boat", "plumb"): "write level with three or more points at one height, waterline or up",
    ("other", "scale"): "leave it out; the scale is kept if drawings or tape measurements prove "
    "both meshes (unit, or two tables [[other.tape]]), else solved",
}


def validate(tree: Tree, section: str) -> Any:
    """The validated table of a section, or None with every fault noted in the tree."""
    try:
        return SCHEMAS[section].model_validate(tree.get(section))
    except ValidationError as error:
        details = error.errors(include_url=False)
        misspelt = {_meant(section, detail) for detail in details}
        for detail in details:
            path: Path = (section, *detail["loc"])
            if detail["type"] == "missing" and path in misspelt:
                continue
            tree.fault(path, *_said(section, path, detail))
        return None


def _meant(section: str, detail: ErrorDetails) -> Path | None:
    """The known key closest to an unknown one, None if none is close."""
    if detail["type"] != "extra_forbidden":
        return None
    *table, word = detail["loc"]
    found = find_table(SCHEMAS[section], tuple(table))
    close = near(str(word), keys_of(found)) if found else None
    return (section, *table, close) if close else None


def _said(section: str, path: Path, detail: ErrorDetails) -> tuple[str, str]:
    """Fault and remedy of one of pydantic's errors."""
    written = detail["input"]
    if isinstance(written, str) and written.startswith(FILL_IN):
        wanted = written.removeprefix(FILL_IN).lstrip(" :")
        return "is still to be filled in", wanted or _example(section, path)
    speak = _WORDS.get(detail["type"])
    if speak is None:
        return f"{_quoted(written)} cannot be used here", _example(section, path)
    return speak(section, path, detail)


def _refused(_: str, __: Path, detail: ErrorDetails) -> tuple[str, str]:
    return detail["ctx"]["text"], detail["ctx"]["remedy"]


def _missing(section: str, path: Path, _: ErrorDetails) -> tuple[str, str]:
    field = find_field(SCHEMAS[section], path[1:])
    means = f" ({field.description})" if field and field.description else ""
    return f"is missing{means}", _example(section, path)


def _unknown(section: str, path: Path, _: ErrorDetails) -> tuple[str, str]:
    """An unknown key: its replacement, a close one, its table, or else all known keys."""
    word = str(path[-1])
    if (section, word) in _REMOVED:
        return "is no longer a key", _REMOVED[section, word]
    table = find_table(SCHEMAS[section], path[1:-1])
    known = keys_of(table) if table else {}
    if near(word, known) is None:
        elsewhere = {k: p for name, t in SCHEMAS.items() for k, p in all_keys(t, name).items()}
        if word in elsewhere:
            return "is not a key of this table", f"it belongs in {elsewhere[word]}"
    return "is not a key of this table", did_you_mean(word, known, "the keys are")


def _choice(section: str, path: Path, detail: ErrorDetails) -> tuple[str, str]:
    known = re.findall(r"'([^']*)'", detail["ctx"]["expected"])
    written = detail["input"]
    if not isinstance(written, str):
        return f"{_quoted(written)} is not a word in quotes", _example(section, path)
    close = near(written, known)
    choices = ", ".join(f'"{word}"' for word in known)
    remedy = f'did you mean "{close}"? write one of {choices}' if close else f"write {choices}"
    return f"'{written}' is not one of the words allowed here", remedy


def _too_few(section: str, path: Path, detail: ErrorDetails) -> tuple[str, str]:
    given = detail["ctx"]["actual_length"]
    least = detail["ctx"]["min_length"]
    return f"{given or 'none'} given, at least {least} wanted", _example(section, path)


def _wrong_type(what: str) -> Callable[[str, Path, ErrorDetails], tuple[str, str]]:
    def speak(section: str, path: Path, detail: ErrorDetails) -> tuple[str, str]:
        return f"{_quoted(detail['input'])} is not {what}", _example(section, path)

    return speak


_WORDS: dict[str, Callable[[str, Path, ErrorDetails], tuple[str, str]]] = {
    "refused": _refused,
    "missing": _missing,
    "extra_forbidden": _unknown,
    "literal_error": _choice,
    "too_short": _too_few,
    "string_type": _wrong_type("text in quotes"),
    "float_type": _wrong_type("a plain number without quotes"),
    "finite_number": _wrong_type("a finite number"),
    "list_type": _wrong_type("a list in [ ]"),
    "dict_type": _wrong_type("a table"),
    "model_type": _wrong_type("a table"),
}


def _example(section: str, path: Path) -> str:
    """An example for a key, from the schema."""
    field = find_field(SCHEMAS[section], path[1:])
    if field is None:  # an item of a list: show the whole list
        path = path[:-1]
        field = find_field(SCHEMAS[section], path[1:])
    if field is None or not field.examples:
        return "see the example scenarios for how this is written"
    example = str(field.examples[0])
    table = re.match(r"\[+(?:boat|kit|layout)\.", example)
    return f"write a table {example}" if table else f"write e.g. {path[-1]} = {example}"


def _quoted(written: Any) -> str:
    if isinstance(written, str):
        return f"'{written}'"
    if isinstance(written, bool):
        return str(written).lower()
    return f"{written:g}" if isinstance(written, int | float) else "this"
