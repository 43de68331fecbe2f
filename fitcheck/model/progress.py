"""Progress of a long step, for display."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

from fitcheck.model.finding import Tell


@runtime_checkable
class Counts(Protocol):
    """A Tell that also reports how much of a step is done."""

    def part(self, what: str, done: int, whole: int) -> None:
        """`done` of `whole` things are done; `what` is the step, its first call has done = 0."""


def part(tell: Tell, what: str, done: int, whole: int) -> None:
    """Report the progress of a step, if the listener wants it."""
    if isinstance(tell, Counts):
        tell.part(what, done, whole)
