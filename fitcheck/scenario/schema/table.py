"""Common base of all tables of a scenario file, and functions to find a table's keys."""

from __future__ import annotations

import types
import typing
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field
from pydantic.fields import FieldInfo

from fitcheck.scenario.schema.lines import Path


class Table(BaseModel):
    """A table that accepts only known keys and never coerces values."""

    # Defaults are written as users would write them, so they are validated like any other value.
    model_config = ConfigDict(
        strict=True, extra="forbid", frozen=True, allow_inf_nan=False, validate_default=True
    )


def key(means: str, example: str, **more: Any) -> Any:
    """A key: its meaning, and an example of what is written after the equals sign (or a table's
    header).
    """
    return Field(description=means, examples=[example], **more)


def keys_of(table: type[Table]) -> dict[str, FieldInfo]:
    """Fields of a table by their key in the file."""
    return {field.alias or name: field for name, field in table.model_fields.items()}


def find_field(table: type[Table], path: Path) -> FieldInfo | None:
    """The field at a key path, None if there is none or the path leads into a list."""
    field = None
    inside: Any = table
    for step in path:
        inside = _plain(inside)
        if isinstance(inside, type) and issubclass(inside, Table):
            field = keys_of(inside).get(str(step))
            if field is None:
                return None
            inside = field.annotation
        else:
            field, inside = None, _item(inside)
    return field


def find_table(table: type[Table], path: Path) -> type[Table] | None:
    """The table at a key path, None if it is something else."""
    inside: Any = table
    for step in path:
        inside = _plain(inside)
        if isinstance(inside, type) and issubclass(inside, Table):
            field = keys_of(inside).get(str(step))
            inside = field.annotation if field else None
        else:
            inside = _item(inside)
    inside = _plain(inside)
    return inside if isinstance(inside, type) and issubclass(inside, Table) else None


def all_keys(table: type[Table], path: str) -> dict[str, str]:
    """Every key below a table, with the first path it is found at ("kit.hoses.NAME.bore")."""
    found: dict[str, str] = {}
    for name, field in keys_of(table).items():
        found.setdefault(name, f"{path}.{name}")
        inside = _plain(field.annotation)
        step = ""
        if typing.get_origin(inside) in (dict, list):
            step = ".NAME" if typing.get_origin(inside) is dict else ""
            inside = _plain(_item(inside))
        if isinstance(inside, type) and issubclass(inside, Table):
            for name_below, path_below in all_keys(inside, f"{path}.{name}{step}").items():
                found.setdefault(name_below, path_below)
    return found


def _plain(annotation: Any) -> Any:
    """An annotation without its metadata and without None."""
    if typing.get_origin(annotation) is Annotated:
        return _plain(typing.get_args(annotation)[0])
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        return _plain(next(a for a in typing.get_args(annotation) if a is not type(None)))
    return annotation


def _item(annotation: Any) -> Any:
    """The item type of a list or a table of tables, None for anything else."""
    parts = typing.get_args(annotation)
    return parts[-1] if typing.get_origin(annotation) in (dict, list) and parts else None
