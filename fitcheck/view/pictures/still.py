"""Draw one picture off screen: everything at twice the size, then halved."""

from __future__ import annotations

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import numpy_to_vtk, vtk_to_numpy
from vtkmodules.vtkCommonDataModel import vtkImageData
from vtkmodules.vtkIOImage import vtkPNGWriter

from fitcheck.model.result import Result
from fitcheck.units import System
from fitcheck.view.drawn.cameras import Field, Preset, hold, outlook
from fitcheck.view.drawn.canvas import Canvas, aim, light
from fitcheck.view.drawn.captions import build_tags
from fitcheck.view.drawn.ground import ground_marks
from fitcheck.view.drawn.key import SHARE, Column, write_key, write_swatches, write_worst
from fitcheck.view.drawn.overlay import TagLayer
from fitcheck.view.drawn.scene import Scene, build_scene

#: Oversampling factor each way: smooth edges on any renderer.
FINER = 2


def render(result: Result, size: tuple[int, int], units: System, preset: Preset) -> bytes:
    """The picture as PNG. Only call this where a renderer is known to work."""
    wide, high = size[0] * FINER, size[1] * FINER
    unit = high / 1000
    plotter = pv.Plotter(off_screen=True, window_size=(wide, high), lighting="none")
    plotter.render_window.SetMultiSamples(0)
    plotter.set_background("white")
    light(plotter)
    scene = build_scene(result)
    canvas = Canvas(plotter, unit)
    canvas.draw(scene, scan_opacity=1.0)
    canvas.show("unseen", False)
    look = outlook(preset, result)
    marks, names = ground_marks(scene.focus, look, units)
    for part in marks:
        canvas.add(part)
    held = np.vstack([scene.focus, *(part.mesh.points for part in marks)])
    field = Field(right=1 - 2 * SHARE - 0.04, aspect=wide / high)
    aim(plotter, hold(held, look, field))
    tags = TagLayer(plotter.renderer, unit, (12, 12, SHARE * wide / unit + 12, 12))
    tags.fill((*build_tags(result, units), *names), scene.focus)
    Column(plotter.renderer, lambda column: _write_column(column, result, scene))
    pixels = plotter.screenshot(None, return_img=True)
    plotter.close()
    return png(halved(np.asarray(pixels)))


def _write_column(column: Column, result: Result, scene: Scene) -> None:
    write_key(column, result, scene)
    write_swatches(column, scene)
    write_worst(column, result)


def halved(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """An (h, w, 3) picture averaged over FINER by FINER pixels."""
    high, wide = pixels.shape[0] // FINER * FINER, pixels.shape[1] // FINER * FINER
    total = np.zeros((high // FINER, wide // FINER, 3), dtype=np.uint16)
    for row in range(FINER):
        for column in range(FINER):
            total += pixels[row:high:FINER, column:wide:FINER, :3]
    return ((total + FINER**2 // 2) // FINER**2).astype(np.uint8)


def png(pixels: NDArray[np.uint8]) -> bytes:
    """An (h, w, 3) picture as PNG."""
    high, wide = pixels.shape[:2]
    image = vtkImageData()
    image.SetDimensions(wide, high, 1)
    image.GetPointData().SetScalars(numpy_to_vtk(pixels[::-1].reshape(-1, 3).copy(), deep=True))
    writer = vtkPNGWriter()
    writer.SetInputData(image)
    writer.WriteToMemoryOn()
    writer.Write()
    return bytes(vtk_to_numpy(writer.GetResult()))
