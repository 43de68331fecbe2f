"""Stills for visual inspection: parts, tags and a column of words, drawn off screen."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.view.drawn.cameras import Field, Outlook, hold
from fitcheck.view.drawn.canvas import Canvas, aim, light
from fitcheck.view.drawn.captions import Tag
from fitcheck.view.drawn.key import SHARE, Column
from fitcheck.view.drawn.overlay import TagLayer
from fitcheck.view.drawn.scene import Part
from fitcheck.view.pictures.still import FINER, halved, png

Array = NDArray[np.float64]
SIZE = (1300, 680)


def render(
    framed: Array,
    parts: list[Part],
    tags: list[Tag],
    write: Callable[[Column], None],
    outlook: Outlook,
) -> bytes:
    """One still, drawn larger and halved."""
    wide, high = SIZE[0] * FINER, SIZE[1] * FINER
    unit = high / 720
    plotter = pv.Plotter(off_screen=True, window_size=(wide, high), lighting="none")
    plotter.render_window.SetMultiSamples(0)
    plotter.set_background("white")
    light(plotter)
    canvas = Canvas(plotter, unit)
    for part in parts:
        canvas.add(part, part.opacity)
    some = framed[:: max(1, len(framed) // 20_000)]
    field = Field(right=1 - 2 * SHARE - 0.04, aspect=wide / high)
    aim(plotter, hold(some, outlook, field))
    layer = TagLayer(plotter.renderer, unit, (12, 12, SHARE * wide / unit + 12, 12))
    layer.fill(tags, some[:0])
    Column(plotter.renderer, write)
    pixels = plotter.screenshot(None, return_img=True)
    plotter.close()
    return png(halved(np.asarray(pixels)))
