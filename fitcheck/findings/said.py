"""Sentences by key: the key of a sentence and the values for its blanks.

A stage calls `say("mounting.short", usual=length(asked), hoses=rows)`; the sentence is in
`sentences` and is formatted when it is printed, in the requested units.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fitcheck.findings.sentences import SENTENCES
from fitcheck.units import System, show, show_row

_BLANK = re.compile(r"\{(\w+)(?::([^}]*))?\}")
#: Words between the last two items of a list.
_JOINING = ("and", "or")


@dataclass(frozen=True, slots=True)
class Quantity:
    """An SI number, or several, with the kind they are shown as by `units.show` or `show_row`."""

    value: float | tuple[float, ...]
    kind: str


@dataclass(frozen=True, slots=True)
class Said:
    """The key of a sentence, and the value of each of its blanks."""

    key: str
    blanks: tuple[tuple[str, Blank], ...] = ()

    def text(self, system: System = "metric") -> str:
        """The sentence in words.

        A blank is written {name}; a list is joined by commas, by "and" in {name:and}, by "or" in
        {name:or}, by what follows a blank in {name: or }. {name:hose|hoses} chooses by a count, or
        by how many a list has; {name:^} begins with a capital. Raises KeyError for a key or a
        blank that is not there.
        """
        filled = dict(self.blanks)

        def fill(found: re.Match[str]) -> str:
            return _filled(filled[found[1]], found[2] or "", system)

        return _BLANK.sub(fill, SENTENCES[self.key])


#: Names and words as the user wrote them, counts, quantities, clauses, and lists of these.
Blank = str | int | Quantity | Said | tuple["Blank", ...]


def say(key: str, **blanks: Blank | Sequence[Blank] | None) -> Said:
    """One sentence with its blanks filled; None leaves a blank empty."""
    rows = ((name, _held(value)) for name, value in blanks.items())
    return Said(key, tuple(rows))


def as_written(text: Blank) -> Said:
    """Words without a sentence, such as those read from a file."""
    return Said("as-written", (("text", text),))


def quantity(value: float, kind: str) -> Quantity:
    """A number with the kind it is shown as."""
    return Quantity(float(value), kind)


def length(value: float) -> Quantity:
    """A length, a gap or a distance [m]."""
    return quantity(value, "length")


def quantities(values: Iterable[float], kind: str) -> Quantity:
    """Several lengths shown with one unit."""
    return Quantity(tuple(float(value) for value in values), kind)


def where(at: Iterable[float]) -> Quantity:
    """A place in the boat frame [m]."""
    return quantities(at, "place")


def in_a_row(parts: tuple[Blank, ...], system: System = "metric") -> str:
    """Words and quantities joined by commas."""
    return _joined(parts, "", system)


def _held(value: Blank | Sequence[Blank] | None) -> Blank:
    if value is None:
        return ""
    return value if isinstance(value, str | int | Quantity | Said) else tuple(value)


def _filled(value: Blank, form: str, system: System) -> str:
    if "|" in form:
        one, more = form.split("|")
        return one if _count(value) == 1 else more
    words = _joined(value, form, system) if isinstance(value, tuple) else _one(value, system)
    return words[:1].upper() + words[1:] if form == "^" else words


def _count(value: Blank) -> int:
    if isinstance(value, tuple):
        return len(value)
    assert isinstance(value, int), value
    return value


def _joined(value: tuple[Blank, ...], form: str, system: System) -> str:
    words = [_filled(item, "", system) for item in value]
    if form.startswith(" "):
        return form.join(words)
    if form not in _JOINING or len(words) < 2:
        return (form + " " if form == ";" else ", ").join(words)
    return f"{', '.join(words[:-1])} {form} {words[-1]}"


def _one(value: str | int | Quantity | Said, system: System) -> str:
    if isinstance(value, Said):
        return value.text(system)
    if isinstance(value, Quantity):
        if isinstance(value.value, tuple):
            return show_row(value.value, value.kind, system)
        return show(value.value, value.kind, system)
    return f"{value:,}" if isinstance(value, int) else value
