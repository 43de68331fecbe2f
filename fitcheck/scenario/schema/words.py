"""Text fragments for fault messages."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def near(word: str, known: Iterable[str]) -> str | None:
    """The known word that was probably meant, None if none is close."""
    words = {name.casefold(): name for name in known}
    found = difflib.get_close_matches(word.casefold(), words, n=1, cutoff=0.6)
    return words[found[0]] if found else None


def did_you_mean(word: str, known: Iterable[str], what: str) -> str:
    """The closest word as a question, or the list of available `what`."""
    names = list(known)
    close = near(word, names)
    if close:
        return f"did you mean '{close}'?"
    return f"{what}: {listed(names)}" if names else f"there are no {what} yet"


def listed(names: Iterable[str]) -> str:
    """Names separated by commas."""
    return ", ".join(names)


def either(names: Iterable[str]) -> str:
    """Quoted names with commas and a final "or"."""
    *first, last = (f'"{name}"' for name in names)
    return f"{', '.join(first)} or {last}" if first else last
