"""All files of a scenario as one tree of raw values, and all their faults."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from fitcheck import units
from fitcheck.errors import Fault
from fitcheck.scenario.document import Document
from fitcheck.scenario.schema.lines import Path
from fitcheck.scenario.schema.quantities import FILL_IN
from fitcheck.scenario.schema.words import listed


class Tree:
    """Values by key path, whichever file contains them.

    Reading is tolerant (missing, unreadable or already faulty values are returned as None or
    empty), so that every check can run despite other faults and one mistake is one fault.
    """

    def __init__(self, homes: dict[str, Document]) -> None:
        self._homes = homes
        self._noted: list[Fault] = []
        self._refused: set[Path] = set()
        self._unmet: dict[tuple[str, str], list[Fault]] = {}
        self._astray: set[str] = set()

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
        """A text that has been filled in and has no fault."""
        if self.refused(*path):
            return None
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

    def refused(self, *path: str | int) -> bool:
        """Whether a fault was noted at a key or at a table round it."""
        return any(path[:length] in self._refused for length in range(1, len(path) + 1))

    def refuse(self, path: Path) -> None:
        """Exclude the value of a key from further checks."""
        self._refused.add(path)

    def fault(self, path: Path, text: str, remedy: str) -> None:
        """Note a fault at a key, in the file that contains its section."""
        self._noted.append(self._fault(path, text, remedy))
        self.refuse(path)

    def leads_nowhere(self, path: Path, what: str, name: str, text: str, remedy: str) -> None:
        """Note a name of something that does not exist; what : its kind, with its owner.

        The same name at several keys is one fault. It is none if a table of that name is in the
        wrong place, which is a fault already.
        """
        self.refuse(path)
        if name not in self._astray:
            self._unmet.setdefault((what, name), []).append(self._fault(path, text, remedy))

    def misplaced(self, name: str, value: Any) -> None:
        """Note a table in the wrong place or without its own keys, and all tables in it."""
        self._astray.add(name)
        for key, inside in value.items() if isinstance(value, dict) else ():
            if isinstance(inside, dict):
                self.misplaced(key, inside)

    def is_implied(self, path: Path) -> bool:
        """Whether a table exists only because of the header of one inside it."""
        below = self.get(*path)
        return isinstance(below, dict) and self.home(str(path[0])).is_implied(path, below)

    def is_misplaced(self, name: str) -> bool:
        """Whether a table of that name is in the wrong place or without its own keys."""
        return name in self._astray

    @property
    def faults(self) -> list[Fault]:
        """All faults noted, one for each cause."""
        return self._noted + [_together(rows) for rows in self._unmet.values()]

    def _fault(self, path: Path, text: str, remedy: str) -> Fault:
        return self._homes[str(path[0])].fault(path, text, remedy)

    def line(self, path: Path) -> int:
        """Line of a key in its file."""
        return self._homes[str(path[0])].line(path)

    def home(self, section: str) -> Document:
        """The file that contains a section."""
        return self._homes[section]


def _together(rows: list[Fault]) -> Fault:
    """The first of several faults with one cause, with the lines of the others."""
    first, *others = sorted(rows)
    lines = [f"{one.line}" for one in others if one.file == first.file]
    places = [f"line{'s' if len(lines) > 1 else ''} {listed(lines)}"] if lines else []
    places += [f"{one.file}:{one.line}" for one in others if one.file != first.file]
    also = f" (also in {' and '.join(places)})" if places else ""
    return replace(first, text=first.text + also)
