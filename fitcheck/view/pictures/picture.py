"""A still picture of a result, drawn without a window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fitcheck.view.pictures.probe import probe, use

if TYPE_CHECKING:
    from fitcheck.model.found.deviation import Deviation
    from fitcheck.model.result import Result
    from fitcheck.units import System
    from fitcheck.view.drawn.cameras import Preset


def picture(
    result: Result,
    size: tuple[int, int] = (1600, 1000),
    units: System = "metric",
    preset: Preset = "perspective",
) -> bytes | None:
    """A PNG of the compartment with its near walls cut away, the kit in it, tags and a key.

    None when nothing on this machine can draw; `probe().advice` says what to install.
    """
    renderer = probe()
    if not renderer.works:
        return None
    use(renderer)
    # The drawing library may only be loaded after a trial drawing has succeeded.
    from fitcheck.view.pictures.still import render

    return render(result, size, units, preset)


def deviation_picture(
    found: Deviation, size: tuple[int, int] = (1600, 1000), units: System = "metric"
) -> bytes | None:
    """A PNG of the other mesh coloured by how far it is inwards or outwards, or None."""
    renderer = probe()
    if not renderer.works:
        return None
    use(renderer)
    from fitcheck.view.pictures.deviation import render_deviation

    return render_deviation(found, size, units)
