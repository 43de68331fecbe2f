"""Flat drawing over the picture: texts, and tags with their leaders."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import numpy_to_vtk
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkRenderingCore import (
    vtkActor2D,
    vtkPolyDataMapper2D,
    vtkRenderer,
    vtkTextActor,
)

from fitcheck.view.drawn.captions import Tag
from fitcheck.view.drawn.shapes import rgb
from fitcheck.view.drawn.tags import Placed, spread

Array = NDArray[np.float64]

INK = "#202428"
PAPER = "#FFFFFF"
#: Maximum places a tag may point at, and points tags avoid: more only cost time.
MOST_ANCHORS, MOST_AVOIDED = 4, 90


def text(
    content: str, size: float, colour: str = INK, *, bold: bool = False, fixed: bool = False
) -> vtkTextActor:
    """A flat text positioned by its lower left corner (upper left for several lines)."""
    actor = vtkTextActor()
    actor.SetInput(content)
    style = actor.GetTextProperty()
    style.SetFontFamilyToCourier() if fixed else style.SetFontFamilyToArial()
    style.SetFontSize(max(1, round(size)))
    style.SetColor(*(rgb(colour) / 255.0))
    style.SetBold(bold)
    if "\n" in content:
        style.SetVerticalJustificationToTop()
        style.SetLineSpacing(1.15)
    actor.PickableOff()
    return actor


def strokes(ends: Array, colour: str, width: float) -> vtkActor2D:
    """Flat lines: ends (n, 2, 2) [px]."""
    actor = vtkActor2D()
    mapper = vtkPolyDataMapper2D()
    mapper.SetInputData(_lines(ends))
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*(rgb(colour) / 255.0))
    actor.GetProperty().SetLineWidth(width)
    actor.PickableOff()
    return actor


def plate(left: float, low: float, right: float, high: float, colour: str) -> vtkActor2D:
    """A flat filled rectangle [px]."""
    data = vtkPolyData()
    data.SetPoints(_points(np.array([[left, low], [right, low], [right, high], [left, high]])))
    cells = vtkCellArray()
    cells.InsertNextCell(4, (0, 1, 2, 3))
    data.SetPolys(cells)
    actor = vtkActor2D()
    mapper = vtkPolyDataMapper2D()
    mapper.SetInputData(data)
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*(rgb(colour) / 255.0))
    actor.PickableOff()
    return actor


def _lines(ends: Array) -> vtkPolyData:
    data = vtkPolyData()
    data.SetPoints(_points(np.asarray(ends, dtype=np.float64).reshape(-1, 2)))
    cells = vtkCellArray()
    for i in range(len(ends)):
        cells.InsertNextCell(2, (2 * i, 2 * i + 1))
    data.SetLines(cells)
    return data


def _points(flat: Array) -> vtkPoints:
    points = vtkPoints()
    points.SetData(numpy_to_vtk(np.column_stack([flat, np.zeros(len(flat))]), deep=True))
    return points


class TagLayer:
    """The tags of a scene, positioned again before every frame."""

    def __init__(self, renderer: vtkRenderer, unit: float, margins: Sequence[float]) -> None:
        """`unit` is one pixel of a picture 1000 high; margins left, low, right, high in units."""
        self._renderer, self._unit, self._margins = renderer, unit, margins
        self._tags: list[Tag] = []
        self._texts: list[vtkTextActor] = []
        self._sizes: list[tuple[float, float]] = []
        self._offsets: dict[str, tuple[float, float]] = {}
        self._hidden: set[str] = set()
        self._seen: tuple[object, ...] = ()
        #: Points (n, 3) -> mask of those not cut away by a section.
        self.kept: Callable[[Array], NDArray[np.bool_]] = _all_kept
        self._leaders = strokes(np.zeros((0, 2, 2)), INK, 1.2 * unit)
        self.avoid: Array = np.zeros((0, 3))
        renderer.AddViewProp(self._leaders)
        renderer.AddObserver("StartEvent", lambda *_: self.place())

    def fill(self, tags: Sequence[Tag], avoid: Array) -> None:
        """Replace all tags; `avoid` (n, 3) are points that tags should not cover [m]."""
        for actor in self._texts:
            self._renderer.RemoveViewProp(actor)
        self._tags, self.avoid = list(tags), avoid[:: max(1, len(avoid) // MOST_AVOIDED)]
        self._seen = ()
        self._texts = [self._tag_text(tag) for tag in tags]
        self._sizes = [self._measure(actor) for actor in self._texts]
        for actor in self._texts:
            self._renderer.AddViewProp(actor)

    def show(self, group: str, shown: bool) -> None:
        """Show or hide the tags of one group ("" for all)."""
        self._hidden.discard(group) if shown else self._hidden.add(group)
        self._seen = ()

    def refresh(self) -> None:
        """Position the tags again before the next frame, even if the camera has not moved."""
        self._seen = ()

    def place(self) -> None:
        """Put every tag near its anchor in the current view."""
        seen = (*view_matrix(self._renderer).ravel(), *self._renderer.GetSize())
        if seen == self._seen:
            return
        self._seen = seen
        frame = self._frame()
        kept = [(i, at) for i, at in self._anchors() if _inside(at, frame)]
        visible = {i for i, _ in kept}
        for i, actor in enumerate(self._texts):
            actor.SetVisibility(i in visible)
        earlier = {
            k: self._offsets[self._key(i)]
            for k, (i, _) in enumerate(kept)
            if self._key(i) in self._offsets
        }
        places = spread(
            [at for _, at in kept],
            [self._sizes[i] for i, _ in kept],
            frame,
            earlier,
            self._project(self.avoid),
        )
        for (i, at), placed in zip(kept, places, strict=True):
            self._texts[i].SetPosition(*placed.corner)
            self._offsets[self._key(i)] = _offset(placed, at)
        ends = [placed.leader for placed in places if placed.leader]
        self._leaders.GetMapper().SetInputData(_lines(np.array(ends).reshape(-1, 2, 2)))

    def _anchors(self) -> Iterator[tuple[int, Array]]:
        """Tags that are switched on, and the screen positions of anchors not cut away [px]."""
        for i, tag in enumerate(self._tags):
            if {"", tag.group} & self._hidden:
                continue
            left = tag.anchors
            if tag.group != "ground":
                left = left[self.kept(left)]
            if len(left):
                yield i, self._project(left[:MOST_ANCHORS])

    def at(self, x: float, y: float) -> str:
        """The item whose tag covers a position in the window [px], or ""."""
        for tag, actor, size in zip(self._tags, self._texts, self._sizes, strict=True):
            left, low = actor.GetPosition()
            inside = left <= x <= left + size[0] and low <= y <= low + size[1]
            if actor.GetVisibility() and inside:
                return tag.item
        return ""

    def _key(self, i: int) -> str:
        return f"{i}:{self._tags[i].text}"

    def _tag_text(self, tag: Tag) -> vtkTextActor:
        actor = text(f" {tag.text} ", 15 * self._unit, INK, bold=tag.bold)
        style = actor.GetTextProperty()
        style.SetBackgroundColor(*(rgb(PAPER) / 255.0))
        style.SetBackgroundOpacity(0.92)
        style.SetFrame(True)
        style.SetFrameColor(*(rgb(tag.edge_colour) / 255.0))
        style.SetFrameWidth(max(1, round((2.4 if tag.bold else 1.2) * self._unit)))
        return actor

    def _measure(self, actor: vtkTextActor) -> tuple[float, float]:
        size = [0.0, 0.0]
        actor.GetSize(self._renderer, size)
        return (size[0], size[1])

    def _project(self, points: Array) -> Array:
        return project(self._renderer, points)

    def _frame(self) -> tuple[float, float, float, float]:
        wide, high = self._renderer.GetSize()
        left, low, right, top = (self._unit * margin for margin in self._margins)
        return (left, low, wide - right, high - top)


def view_matrix(renderer: vtkRenderer) -> Array:
    """From the boat frame to the picture's -1..1, (4, 4)."""
    matrix = renderer.GetActiveCamera().GetCompositeProjectionTransformMatrix(
        renderer.GetTiledAspectRatio(), -1.0, 1.0
    )
    return np.array([[matrix.GetElement(i, j) for j in range(4)] for i in range(4)])


def _all_kept(points: Array) -> NDArray[np.bool_]:
    return np.ones(len(points), dtype=bool)


def project(renderer: vtkRenderer, points: Array) -> Array:
    """Screen positions of (n, 3) points, (n, 2) [px]."""
    seen = np.column_stack([points, np.ones(len(points))]) @ view_matrix(renderer).T
    flat = seen[:, :2] / np.where(np.abs(seen[:, 3:]) < 1e-9, 1e-9, seen[:, 3:])
    placed: Array = (flat + 1.0) / 2.0 * np.asarray(renderer.GetSize())
    return placed


def _inside(flat: Array, frame: tuple[float, float, float, float]) -> bool:
    x, y = flat[0]
    return bool(frame[0] <= x <= frame[2] and frame[1] <= y <= frame[3])


def _offset(placed: Placed, anchors: Array) -> tuple[float, float]:
    return (placed.corner[0] - anchors[0][0], placed.corner[1] - anchors[0][1])
