"""The tables of scenarios/FORMAT.md, from the schema that reads the files.

python -m tests.format_tables    write them into scenarios/FORMAT.md
"""

from __future__ import annotations

import re
import typing
from collections.abc import Iterator
from typing import Any

from pydantic.fields import FieldInfo

from fitcheck.scenario.keys import emit
from fitcheck.scenario.schema import boat_schema, kit_schema, other_schema
from fitcheck.scenario.schema.quantities import Quantity
from fitcheck.scenario.schema.table import Table, keys_of
from tests import ROOT

GUIDE = ROOT / "scenarios" / "FORMAT.md"
_RANGES = re.compile(r"<!-- ranges -->\n.*?<!-- end -->", re.DOTALL)
_BLOCK = re.compile(r"<!-- keys: (\w+) -->\n.*?<!-- end -->", re.DOTALL)


def tables() -> dict[str, type[Table]]:
    """Every table of the format, by its class name."""
    found = {
        name: item
        for module in (boat_schema, kit_schema, other_schema)
        for name, item in vars(module).items()
        if isinstance(item, type) and issubclass(item, Table) and item is not Table
    }
    return dict(sorted(found.items()))


def filled_in(text: str) -> str:
    """A text with each block between `<!-- keys: Name -->` and `<!-- end -->` regenerated."""
    return _BLOCK.sub(lambda found: _block(found[1]), in_ranges(text))


def in_ranges(text: str) -> str:
    """A text with the block between `<!-- ranges -->` and `<!-- end -->` regenerated."""
    rows = "\n".join(
        f"| {', '.join(f'`{key}`' for key in keys)} | {one.least} to {one.most} | {one.why} |"
        for one, keys in ranges().items()
    )
    block = f"<!-- ranges -->\n| keys | plausible | why |\n|---|---|---|\n{rows}\n<!-- end -->"
    return _RANGES.sub(lambda _: block, text)


def ranges() -> dict[Quantity, list[str]]:
    """Every plausible range of the format with the keys that use it."""
    found: dict[Quantity, list[str]] = {}
    for table in tables().values():
        head = (table.__doc__ or "").partition(":")[0].partition(",")[0].strip("[]")
        for key, field in keys_of(table).items():
            for one in quantities(field):
                found.setdefault(one, []).append(f"{head}.{key}")
    return found


def quantities(field: FieldInfo) -> list[Quantity]:
    """The ranges of a key's value: several for a pair, none for text or a table."""
    own = [item for item in field.metadata if isinstance(item, Quantity)]
    return own or list(dict.fromkeys(_inside(field.annotation)))


def _inside(annotation: Any) -> Iterator[Quantity]:
    yield from (m for m in getattr(annotation, "__metadata__", ()) if isinstance(m, Quantity))
    for part in typing.get_args(annotation):
        yield from _inside(part)


def named(text: str) -> set[str]:
    """Tables with a block in a text."""
    return set(_BLOCK.findall(text))


def _block(name: str) -> str:
    table = tables()[name]
    rows = "\n".join(_rows(table))
    said = " ".join((table.__doc__ or "").split())
    header = "| key | means | example | when left out |\n|---|---|---|---|"
    return f"<!-- keys: {name} -->\n{_as_code(said)}\n\n{header}\n{rows}\n<!-- end -->"


def _as_code(said: str) -> str:
    """A docstring whose leading table names are formatted as code."""
    heads, _, rest = said.partition(":")
    return f"{', '.join(f'`{head.strip()}`' for head in heads.split(','))}:{rest}"


def _rows(table: type[Table]) -> Iterator[str]:
    for key, field in keys_of(table).items():
        example = str((field.examples or [""])[0])
        yield f"| `{key}` | {field.description} | `{example}` | {_left_out(field)} |"


def _left_out(field: FieldInfo) -> str:
    if field.is_required():
        return "a fault"
    default: Any = field.default
    if default in (None, "") or isinstance(default, Table | dict) or default == []:
        return ""
    return f"`{emit(default)}`"


if __name__ == "__main__":
    GUIDE.write_text(filled_in(GUIDE.read_text("utf-8")), "utf-8")
