"""A picture, or one line of why there is none: no drawing takes a result with it."""

from __future__ import annotations

from collections.abc import Callable

from fitcheck.errors import drawing_fault
from fitcheck.model.finding import Tell
from fitcheck.model.result import Result
from fitcheck.units import System
from fitcheck.view.picture import picture
from fitcheck.view.probe import probe


def drawn(result: Result, units: System, tell: Tell) -> tuple[bytes | None, tuple[str, ...]]:
    """The picture of a result, None where there is none; and what drawing it failed of."""
    return tried(lambda: picture(result, units=units), tell)


def tried(draw: Callable[[], bytes | None], tell: Tell) -> tuple[bytes | None, tuple[str, ...]]:
    """What was drawn, or None with the reason told; and what drawing it failed of."""
    renderer = probe()
    if not renderer.works:
        tell(f"no picture: {renderer.advice}")
        return None, ()
    try:
        return draw(), ()
    except Exception as error:
        told = drawing_fault("picture", error)
    tell(told)
    return None, (told,)
