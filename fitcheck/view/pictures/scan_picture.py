"""Picture of a mesh before anything is declared: seen, unseen, and its openings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fitcheck.view.pictures.probe import probe, use

if TYPE_CHECKING:
    from fitcheck.model.found.scan import ScanLook
    from fitcheck.units import System


def scan_picture(
    look: ScanLook, units: System, size: tuple[int, int] = (1600, 1000)
) -> bytes | None:
    """A PNG of the mesh with unseen space hatched and its openings marked.

    None when nothing on this machine can draw, or the mesh contains no free space.
    """
    renderer = probe()
    if not renderer.works or look.preview is None:
        return None
    use(renderer)
    # The drawing library may only be loaded after a trial drawing has succeeded.
    from fitcheck.view.pictures.scan_still import render_scan

    return render_scan(look, size, units)
