"""A picture of a mesh nobody has said anything of yet: seen, unseen, and where it is open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fitcheck.view.pictures.probe import probe, use

if TYPE_CHECKING:
    from fitcheck.model.found.scan import ScanLook


def scan_picture(look: ScanLook, size: tuple[int, int] = (1600, 1000)) -> bytes | None:
    """A PNG of the mesh with what would stay unseen hatched and its openings marked.

    None when nothing on this machine can draw, or there is no room in the mesh to show.
    """
    renderer = probe()
    if not renderer.works or look.preview is None:
        return None
    use(renderer)
    # The drawing library may only be loaded where something has been seen to draw.
    from fitcheck.view.pictures.scan_still import render_scan

    return render_scan(look, size)
