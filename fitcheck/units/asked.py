"""Amounts in faults, in the units asked for.

A finding keeps its quantities until it is printed; an exception is words as soon as it is raised.
So the units its amounts are told in are set for a whole command. No result may hold such words.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from fitcheck.units.annotations import Point, System
from fitcheck.units.showing import show, show_row

_ASKED: ContextVar[System] = ContextVar("asked", default="metric")


@contextmanager
def faults_in(system: System) -> Iterator[None]:
    """Tell the amounts of faults in these units meanwhile."""
    before = _ASKED.set(system)
    try:
        yield
    finally:
        _ASKED.reset(before)


def amount(value: float, kind: str) -> str:
    """A quantity for a fault; kind : as for `show`."""
    return show(value, kind, _ASKED.get())


def place(point: Point) -> str:
    """A place in the boat frame for a fault [m]."""
    return show_row(point, "place", _ASKED.get())
