"""Position of every key and value in a TOML text.

`tomllib` gives values without positions; this reads the same text again for the positions only. It
relies on `tomllib` having accepted the text.
"""

from __future__ import annotations

import bisect
import re
import tomllib
from dataclasses import dataclass

#: A key path: names, and zero-based indices of list items.
Path = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_STRING = re.compile(r"\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'")
_LONG_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"""(?:"{0,2}(?!"))|\'\'\'.*?\'\'\'(?:\'{0,2}(?!\'))', re.DOTALL
)
_SCALAR = re.compile(r"[^,\]}#\n]*")


@dataclass(frozen=True, slots=True)
class Place:
    """Line of the key (from 1), and where its value starts and ends in the text.

    A table's value is its header, so that text can be inserted right after it.
    """

    line: int
    start: int
    end: int


def find_places(text: str) -> dict[Path, Place]:
    """Position of every key path of a valid TOML text."""
    return _Finder(text).places


class _Finder:
    """One pass over the text from start to end."""

    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.breaks = [found.start() for found in re.finditer("\n", text)]
        self.places: dict[Path, Place] = {}
        self._items: dict[Path, int] = {}
        table: Path = ()
        self._skip_blank()
        while self.at < len(text):
            table = self._header() if text[self.at] == "[" else self._pair(table)
            self._skip_blank()

    def _line(self, at: int) -> int:
        return bisect.bisect_left(self.breaks, at) + 1

    def _skip_blank(self) -> None:
        found = _BLANK.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def _take(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if found is None:
            raise ValueError(f"not TOML at character {self.at}")
        self.at = found.end()
        return found[0]

    def _note(self, path: Path, place: Place) -> None:
        """Keep the first position of a path and of the tables it implies."""
        for length in range(1, len(path)):
            self.places.setdefault(path[:length], place)
        self.places[path] = place

    def _header(self) -> Path:
        """Read [a.b] or [[a.b]] and return the table it opens."""
        start = self.at
        double = self.text.startswith("[[", start)
        self.at += 2 if double else 1
        path: Path = ()
        names = self._key()
        for name in names[:-1]:
            path = self._newest((*path, name))
        path = (*path, names[-1])
        if double:
            number = self._items.get(path, 0)
            self._items[path] = number + 1
            path = (*path, number)
        self.at = self.text.index("]", self.at) + (2 if double else 1)
        self._note(path, Place(self._line(start), start, self.at))
        return path

    def _newest(self, path: Path) -> Path:
        """The item of an array of tables that a later header refers to."""
        return (*path, self._items[path] - 1) if path in self._items else path

    def _key(self) -> list[str]:
        """Read a bare, quoted or dotted key."""
        names = []
        while True:
            self._skip_blank()
            quoted = self.text[self.at] in "\"'"
            raw = self._take(_STRING if quoted else _BARE)
            names.append(str(tomllib.loads(f"key = {raw}")["key"]) if quoted else raw)
            self._skip_blank()
            if self.text[self.at] != ".":
                return names
            self.at += 1

    def _pair(self, table: Path) -> Path:
        """Read key = value in a table and return that table."""
        line = self._line(self.at)
        path = (*table, *self._key())
        self.at += 1  # the equals sign
        self._value(path, line)
        return table

    def _value(self, path: Path, line: int | None = None) -> None:
        self._skip_blank()
        start = self.at
        # Noted before its contents, so that they do not define its position.
        self._note(path, Place(line or self._line(start), start, start))
        first = self.text[start]
        if first in "[{":
            self._many(path, "]" if first == "[" else "}")
        elif self.text.startswith(('"""', "'''"), start):
            self._take(_LONG_STRING)
        elif first in "\"'":
            self._take(_STRING)
        else:
            self.at = start + len(self._take(_SCALAR).rstrip())
        self.places[path] = Place(self.places[path].line, start, self.at)

    def _many(self, path: Path, closing: str) -> None:
        """Read the items of a list or the pairs of an inline table."""
        self.at += 1
        number = 0
        self._skip_blank()
        while self.text[self.at] != closing:
            if closing == "]":
                self._value((*path, number))
            else:
                self._pair(path)
            number += 1
            self._skip_blank()
            if self.text[self.at] == ",":
                self.at += 1
                self._skip_blank()
        self.at += 1
