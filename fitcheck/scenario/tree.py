"""All files of a scenario as one tree of raw values, and all their faults."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fitcheck import units
from fitcheck.errors import Fault
from fitcheck.scenario.document import Document
from fitcheck.scenario.schema.lines import Path
from fitcheck.scenario.schema.quantities import FILL_IN


class Tree:
    """Values by key path, whichever file contains them.

    Reading is tolerant (missing or unreadable values are returned as None or empty), so that every
    check can run despite other faults; the schema reports what is unreadable.
    """

    def __init__(self, homes: dict[str, Document]) -> None:
        self._homes = homes
        self.faults: list[Fault] = []

    def has(self, *path: str | int) -> bool:
        """Whether the user wrote this key."""
        return self.get(*path) is not None

    def get(self, *path: str | int) -> Any:
        """The raw value of a key, None if missing."""
        home = self._homes.get(str(path[0]))
        value: Any = home.data if home else None
        for step in path:
            if isinstance(value, dict):
                value = value.get(step)
            elif isinstance(value, list) and isinstance(step, int) and step < len(value):
                value = value[step]
            else:
                return None
        return value

    def tables(self, *path: str | int) -> Iterator[str]:
        """Names of the tables below a key."""
        below = self.get(*path)
        if isinstance(below, dict):
            yield from (name for name, value in below.items() if isinstance(value, dict))

    def items(self, *path: str | int) -> list[Any]:
        """The items of a list, empty if there is none."""
        below = self.get(*path)
        return below if isinstance(below, list) else []

    def text(self, *path: str | int) -> str | None:
        """A text that has been filled in."""
        value = self.get(*path)
        given = isinstance(value, str) and not value.startswith(FILL_IN)
        return value.strip() if given else None

    def quantity(self, kind: str, *path: str | int) -> float | None:
        """SI value of a quantity, None when it cannot be read."""
        text = self.text(*path)
        if text is None:
            return None
        try:
            return units.parse(text, kind)
        except units.QuantityError:
            return None

    def fault(self, path: Path, text: str, remedy: str) -> None:
        """Note a fault at a key, in the file that contains its section."""
        self.faults.append(self._homes[str(path[0])].fault(path, text, remedy))

    def line(self, path: Path) -> int:
        """Line of a key in its file."""
        return self._homes[str(path[0])].line(path)

    def home(self, section: str) -> Document:
        """The file that contains a section."""
        return self._homes[section]
