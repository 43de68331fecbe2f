"""Drawing the picture of a scan off screen."""

from __future__ import annotations

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.model.found.look import SCAN_COLOUR, UNSEEN_COLOUR
from fitcheck.model.found.scan import Gap, Preview, ScanLook
from fitcheck.units import System, show
from fitcheck.view.drawn.cameras import Field, Outlook, hold
from fitcheck.view.drawn.canvas import Canvas, aim, light
from fitcheck.view.drawn.captions import Tag
from fitcheck.view.drawn.key import SHARE, Column
from fitcheck.view.drawn.overlay import INK, TagLayer
from fitcheck.view.drawn.scene import FAIL_COLOUR, Part
from fitcheck.view.drawn.shapes import joined
from fitcheck.view.drawn.skin import scan_skin, unseen_skin
from fitcheck.view.pictures.still import FINER, halved, png

Array = NDArray[np.float64]

EYE_COLOUR = "#0072B2"
#: Gaps marked, widest first.
MARKED = 4


def render_scan(look: ScanLook, size: tuple[int, int], units: System) -> bytes:
    """The picture as PNG. Only call this where a renderer is known to work and there
    is a preview.
    """
    assert look.preview is not None
    wide, high = size[0] * FINER, size[1] * FINER
    unit = high / 1000
    plotter = pv.Plotter(off_screen=True, window_size=(wide, high), lighting="none")
    plotter.render_window.SetMultiSamples(0)
    plotter.set_background("white")
    light(plotter)
    canvas = Canvas(plotter, unit)
    parts, tags = _drawn(look, look.preview, units)
    for part in parts:
        canvas.add(part, part.opacity)
    points = look.preview.space.triangles.reshape(-1, 3)
    some = points[:: max(1, len(points) // 20_000)]
    field = Field(right=1 - 2 * SHARE - 0.04, aspect=wide / high)
    aim(plotter, hold(some, _outlook(look), field))
    layer = TagLayer(plotter.renderer, unit, (12, 12, SHARE * wide / unit + 12, 12))
    layer.fill(tags, some[:0])
    Column(plotter.renderer, lambda column: _write(column, look))
    pixels = plotter.screenshot(None, return_img=True)
    plotter.close()
    return png(halved(np.asarray(pixels)))


def _drawn(look: ScanLook, seen: Preview, units: System) -> tuple[list[Part], list[Tag]]:
    space = seen.space
    size = 2.0 * space.grid.pitch
    parts = [
        Part(name="scan", group="scan", mesh=scan_skin(space), colour=SCAN_COLOUR, one_sided=True)
    ]
    hidden = unseen_skin(space)
    if hidden.n_cells and not seen.closed:
        parts.append(
            Part(
                name="unseen",
                group="unseen",
                mesh=hidden,
                colour=UNSEEN_COLOUR,
                opacity=0.5,
                lit=False,
                hatched=True,
            )
        )
    eyes = look.scale * np.array(seen.eyes)
    balls = joined([pv.Sphere(radius=0.4 * size, center=eye) for eye in eyes])
    parts.append(Part(name="eyes", group="ground", mesh=balls, colour=EYE_COLOUR, through=True))
    tags = [_tag("inside, offered", eyes[0], EYE_COLOUR)]
    for number, (name, gap) in enumerate(_openings(look, seen)):
        at = look.scale * np.array(gap.place)
        ball = pv.Sphere(radius=0.6 * size, center=at)
        parts.append(
            Part(name=f"gap {number}", group="ground", mesh=ball, colour=FAIL_COLOUR, through=True)
        )
        tags.append(_tag(f"{name}, about {_length(gap.width, look, units)}", at, FAIL_COLOUR))
    return parts + _axes(space.triangles), tags + _axis_tags(space.triangles)


def _openings(look: ScanLook, seen: Preview) -> list[tuple[str, Gap]]:
    found = [("open rim", gap) for gap in look.gaps[:MARKED]]
    return found if seen.opening is None else [("widest way out", seen.opening), *found]


def _axes(triangles: Array) -> list[Part]:
    low, length = _corner(triangles)
    return [
        Part(
            name=f"axis {axis}",
            group="ground",
            mesh=pv.Arrow(start=low, direction=np.eye(3)[axis], scale=length, shaft_radius=0.02),
            colour=INK,
            lit=False,
        )
        for axis in range(3)
    ]


def _axis_tags(triangles: Array) -> list[Tag]:
    low, length = _corner(triangles)
    return [_tag(f"+{'xyz'[axis]}", low + length * np.eye(3)[axis], INK) for axis in range(3)]


def _corner(triangles: Array) -> tuple[Array, float]:
    """Position and length of the drawn mesh axes, next to its lowest corner."""
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    length = 0.16 * float((high - low).max())
    return low - 0.25 * length, length


def _tag(words: str, at: Array, colour: str) -> Tag:
    return Tag(text=words, group="ground", anchors=np.array([at, at]), edge_colour=colour)


def _outlook(look: ScanLook) -> Outlook:
    """Across a corner from above, using the first suggested up direction."""
    up = np.array(look.ups[0].direction) if look.ups else np.array([0.0, 0.0, 1.0])
    side = np.cross(up, np.eye(3)[int(np.abs(up).argmin())])
    side /= np.linalg.norm(side)
    towards = 0.62 * up + 0.55 * side + 0.56 * np.cross(up, side)
    return Outlook(towards_eye=as_point(towards), up=as_point(up), square=False)


def _write(column: Column, look: ScanLook) -> None:
    seen = look.preview
    assert seen is not None
    column.title(look.file, 20, INK)
    column.skip(8)
    column.swatch("surface", SCAN_COLOUR, filled=True)
    column.swatch("stays unseen", UNSEEN_COLOUR, filled=True)
    column.swatch("open here", FAIL_COLOUR, filled=True)
    column.swatch("viewpoint", EYE_COLOUR, filled=True)
    column.skip(14)
    stood = "by the file" if seen.stations else "offered, not known"
    lines = [f"{len(seen.eyes)} viewpoints, {stood}."]
    if look.ups:
        up = look.ups[0]
        lines.append(f"Drawn with {up.axis or 'the levellest way'} upright: offered, not known.")
    if look.unit is None:
        lines.append("Unit not known: lengths are those of the file.")
    lines.append("Walls between you and the inside are left out.")
    column.lines(lines)


def _length(value: float, look: ScanLook, units: System) -> str:
    return f"{value:.3g}" if look.unit is None else show(value * look.unit, "length", units)
