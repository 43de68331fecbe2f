"""A window to rotate, cut and heel a result in."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

from fitcheck.view.pictures.probe import no_display, probe, use

if TYPE_CHECKING:
    from collections.abc import Callable

    from fitcheck.model.result import Result
    from fitcheck.units import System
    from fitcheck.view.desk.moving import Mover

SHOWN, NOT_SHOWN = 0, 2


def show(
    result: Result,
    recompute: Callable[[], Result] | None = None,
    units: System = "metric",
    mover: Mover | None = None,
) -> int:
    """Open the window and wait until it is closed; returns 0, or 2 with a message if it cannot
    open.

    recompute : checks the scenario again from its files, for the F5 key
    mover : moves a module and checks the layout, for the arrow keys
    """
    reason = why_no_window()
    if reason:
        sys.stderr.write(f"{reason}\n")
        return NOT_SHOWN
    use(probe())
    # The drawing library may only be loaded after a trial drawing has succeeded.
    from fitcheck.view.desk.desk import Desk

    Desk(result, recompute, units, mover).open()
    return SHOWN


def why_no_window() -> str:
    """Why no window can open here, "" if one can."""
    reason = no_display()
    if reason:
        return reason
    renderer = probe()
    if not renderer.works:
        return renderer.advice
    if not renderer.on_screen:
        return (
            "no display: nothing could be drawn on the one named by DISPLAY "
            f"({os.environ.get('DISPLAY', '')!r}; a Wayland desktop needs XWayland); "
            "a picture (--picture FILE) needs none"
        )
    return ""
