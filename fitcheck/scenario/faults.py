"""Pydantic's errors in our own words, at the key where the user wrote it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeGuard

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from fitcheck.scenario.schema.boat_schema import BoatTable
from fitcheck.scenario.schema.kit_schema import KitTable, LayoutTable
from fitcheck.scenario.schema.lines import Path
from fitcheck.scenario.schema.other_schema import OtherTable
from fitcheck.scenario.schema.quantities import FILL_IN
from fitcheck.scenario.schema.table import Table, all_keys, find_field, find_table, keys_of
from fitcheck.scenario.schema.words import listed, near
from fitcheck.scenario.tree import Tree

SCHEMAS: dict[str, type[Table]] = {
    "boat": BoatTable,
    "kit": KitTable,
    "layout": LayoutTable,
    "other": OtherTable,
}

#: Other names for keys.
_ALSO_CALLED = {
    "od": "outside_diameter",
    "id": "bore",
    "inner_diameter": "bore",
    "inside_diameter": "bore",
    "weight": "mass",
    "dimensions": "size",
    "position": "at",
    "location": "at",
    "up": "top",
    "down": "base",
    "bottom": "base",
    "forward": "front",
    "aft": "back",
    "rear": "back",
    "port": "left",
    "starboard": "right",
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
    """The validated table of a section, or None with every fault noted in the tree.

    One mistake is one fault: a key that is missing because it is misspelt, the keys of a table
    that is only there because of one below it, and items of a list that are wrong alike.
    """
    try:
        return SCHEMAS[section].model_validate(tree.get(section))
    except ValidationError as error:
        _note(tree, section, [_Detail.of(section, one) for one in error.errors(include_url=False)])
        return None


@dataclass(frozen=True, slots=True)
class _Detail:
    """One of pydantic's errors at its key path."""

    path: Path
    kind: str
    found: ErrorDetails

    @classmethod
    def of(cls, section: str, found: ErrorDetails) -> _Detail:
        return cls((section, *found["loc"]), found["type"], found)


def _note(tree: Tree, section: str, details: list[_Detail]) -> None:
    gone = {one.path for one in details if one.kind == "missing"}
    meant = {
        one.path: _meant(tree, section, one.path, gone)
        for one in details
        if one.kind == "extra_forbidden"
    }
    partial = sorted({path[:-1] for path in gone if tree.is_implied(path[:-1])}, key=str)
    for table in partial:
        tree.misplaced(str(table[-1]), tree.get(*table))
        keys = sorted(str(path[-1]) for path in gone if path[:-1] == table)
        said = f"the table [{'.'.join(map(str, table))}] is not there, only tables below it"
        siblings = tree.tables(*table[:-1]) if len(table) > 1 else ()
        close = near(str(table[-1]), [name for name in siblings if name != table[-1]])
        remedy = f"did you mean '{close}'?" if close else f"write it, with {listed(keys)}"
        tree.fault(table, said, remedy)
    misspelt = {(*path[:-1], key) for path, key in meant.items() if key is not None}
    alike: dict[tuple[Path, str], list[tuple[Path, str, str]]] = {}
    for one in details:
        if one.kind == "missing" and (one.path in misspelt or one.path[:-1] in partial):
            continue
        if one.kind == "extra_forbidden":
            tree.misplaced(str(one.path[-1]), tree.get(*one.path))
            said, remedy = _unknown(tree, section, one.path, meant[one.path])
        else:
            if one.kind in ("model_type", "dict_type"):
                tree.misplaced(str(one.path[-1]), {})
            said, remedy = _said(section, one.path, one.found)
        home = one.path
        while isinstance(home[-1], int):
            home = home[:-1]
        # Items to be filled in have remedies of their own.
        alone = home == one.path or _to_fill_in(one.found["input"])
        sort = str(one.path) if alone else re.sub(r"'[^']*'|-?[\d.]+|above|below", "", said)
        alike.setdefault((home, sort), []).append((one.path, said, remedy))
    for (path, said, remedy), *others in alike.values():
        also = f" (and {len(others)} more of this list)" if others else ""
        tree.fault(path, said + also, remedy)
        for other, *_ in others:
            tree.refuse(other)


def _meant(tree: Tree, section: str, path: Path, gone: set[Path]) -> str | None:
    """The known key that an unknown one probably means; missing keys first."""
    *table, word = path
    found = find_table(SCHEMAS[section], tuple(table[1:]))
    if found is None:
        return None
    known = keys_of(found)
    spelled = _ALSO_CALLED.get(str(word).casefold())
    if spelled in known:
        return spelled
    written = tree.get(*table)
    free = [key for key in known if key not in written]
    missing = [key for key in free if (*table, key) in gone]
    close = near(str(word), missing) or near(str(word), free) or near(str(word), known)
    if close is None and len(missing) == 1 == sum(key not in known for key in written):
        return missing[0]
    return close


def _said(section: str, path: Path, detail: ErrorDetails) -> tuple[str, str]:
    """Fault and remedy of one of pydantic's errors."""
    written = detail["input"]
    if _to_fill_in(written):
        wanted = written.removeprefix(FILL_IN).lstrip(" :")
        return "is still to be filled in", wanted or _example(section, path)
    speak = _WORDS.get(detail["type"])
    if speak is None:
        return f"{_quoted(written)} cannot be used here", _example(section, path)
    return speak(section, path, detail)


def _to_fill_in(written: Any) -> TypeGuard[str]:
    return isinstance(written, str) and written.startswith(FILL_IN)


def _refused(section: str, path: Path, detail: ErrorDetails) -> tuple[str, str]:
    return detail["ctx"]["text"], detail["ctx"]["remedy"] or _example(section, path)


def _missing(section: str, path: Path, _: ErrorDetails) -> tuple[str, str]:
    field = find_field(SCHEMAS[section], path[1:])
    means = f" ({field.description})" if field and field.description else ""
    return f"is missing{means}", _example(section, path)


def _unknown(tree: Tree, section: str, path: Path, close: str | None) -> tuple[str, str]:
    """An unknown key: its replacement, a close one, its table, or else all known keys."""
    word = str(path[-1])
    if (section, word) in _REMOVED:
        return "is no longer a key", _REMOVED[section, word]
    said = "is not a key of this table"
    table = find_table(SCHEMAS[section], path[1:-1])
    known = keys_of(table) if table else {}
    if close is not None:
        means = "" if near(word, [close]) else f" ({known[close].description})"
        return said, f"did you mean '{close}'{means}?"
    belongs = where_it_belongs(word, tree.get(*path), section)
    return said, belongs or f"the keys are: {listed(known)}"


def where_it_belongs(word: str, written: Any, section: str = "boat") -> str:
    """The table an unknown key or table belongs in, "" if none; its own section first."""
    schemas = {section: SCHEMAS[section]} | SCHEMAS
    for name, schema in schemas.items():
        home = all_keys(schema, name).get(word)
        if home is None:
            continue
        steps = tuple(home.split("."))[1:]
        if not isinstance(written, dict):
            return f"it belongs in {home}" if find_table(schema, steps) is None else ""
        below = next(iter(written), "NAME")
        if _accepts(find_table(schema, steps), written):
            return f"write [{home}]"
        if _accepts(find_table(schema, (*steps, "NAME")), written.get(below)):
            return f"write [{home}.{below}]"
    # For example [layout.feed_pump] instead of [layout.modules.feed_pump].
    for name, schema in schemas.items():
        for key in keys_of(schema):
            if _accepts(find_table(schema, (key, "NAME")), written):
                return f"write [{name}.{key}.{word}]"
    return ""


def _accepts(table: type[Table] | None, written: Any) -> bool:
    """Whether a table knows all the keys of what was written."""
    return (
        table is not None
        and isinstance(written, dict)
        and bool(written)
        and set(written) <= set(keys_of(table))
    )


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


def _no_table(section: str, path: Path, detail: ErrorDetails) -> tuple[str, str]:
    written = detail["input"]
    if isinstance(written, list) and all(isinstance(one, dict) for one in written):
        name = ".".join(map(str, path))
        return f"is written [[{name}]], as one of several", f"write [{name}]"
    return f"{_quoted(written)} is not a table", _example(section, path)


_WORDS: dict[str, Callable[[str, Path, ErrorDetails], tuple[str, str]]] = {
    "refused": _refused,
    "missing": _missing,
    "literal_error": _choice,
    "too_short": _too_few,
    "string_type": _wrong_type("text in quotes"),
    "float_type": _wrong_type("a plain number without quotes"),
    "finite_number": _wrong_type("a finite number"),
    "list_type": _wrong_type("a list in [ ]"),
    "dict_type": _no_table,
    "model_type": _no_table,
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
