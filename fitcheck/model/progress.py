"""How far a long step has come, for whoever shows it."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

from fitcheck.model.finding import Tell


@runtime_checkable
class Counts(Protocol):
    """A Tell that also reports how much of a step is done."""

    def part(self, what: str, done: int, whole: int) -> None:
        """`done` of `whole` things are done; `what` is the step, its first call has done = 0."""


def part(tell: Tell, what: str, done: int, whole: int) -> None:
    """Tell how far a step has come, where anybody wants to know."""
    if isinstance(tell, Counts):
        tell.part(what, done, whole)
