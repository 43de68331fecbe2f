"""A picture, or one line on why there is none: a drawing failure never loses a result."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from fitcheck.errors import drawing_fault
from fitcheck.model.finding import Tell
from fitcheck.model.result import Result
from fitcheck.units import System
from fitcheck.view.pictures.picture import picture
from fitcheck.view.pictures.probe import probe

#: Address space that drawing may need; with less, the drawing library ends the process [bytes].
DRAWING = 1_000_000_000


def address_space_left() -> int | None:
    """Address space a hard limit leaves to this process [bytes]; None without a limit."""
    try:
        import resource

        limit, _ = resource.getrlimit(resource.RLIMIT_AS)
        if limit == resource.RLIM_INFINITY:
            return None
        pages = int(Path("/proc/self/statm").read_text().split()[0])
        return int(limit - pages * resource.getpagesize())
    except (ImportError, OSError, ValueError, IndexError):
        return None


def picture_or_why(
    result: Result, units: System, tell: Tell
) -> tuple[bytes | None, tuple[str, ...]]:
    """The picture of a result, None if there is none; and why drawing it failed."""
    return tried(lambda: picture(result, units=units), tell)


def tried(draw: Callable[[], bytes | None], tell: Tell) -> tuple[bytes | None, tuple[str, ...]]:
    """The drawing, or None with the reason reported; and why drawing it failed."""
    renderer = probe()
    if not renderer.works:
        tell(f"no picture: {renderer.advice}")
        return None, ()
    if (room := address_space_left()) is not None and room < DRAWING:
        told = f"no picture: drawing takes {DRAWING / 1e9:.1f} GB and the limit set for this "
        told += f"program leaves {max(room, 0) / 1e9:.1f} GB; raise it (ulimit -v)"
        tell(told)
        return None, (told,)
    try:
        return draw(), ()
    except Exception as error:
        told = drawing_fault("picture", error)
    tell(told)
    return None, (told,)
