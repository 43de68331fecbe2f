"""The column at the side: title, verdict, and every hose by duty with its line style."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence

from vtkmodules.vtkRenderingCore import vtkActor2D, vtkRenderer, vtkTextActor

from fitcheck.model.found.look import (
    DUTY_LOOKS,
    SEVERITY_LOOKS,
    VERDICT_LOOKS,
    WATER_COLOUR,
    verdict_words,
)
from fitcheck.model.given.kit import DUTIES, Duty
from fitcheck.model.result import Result
from fitcheck.view.drawn.captions import Warned, marked
from fitcheck.view.drawn.overlay import INK, PAPER, plate, text
from fitcheck.view.drawn.scene import (
    CAUTION_COLOUR,
    FAIL_COLOUR,
    SERVICE_COLOUR,
    Row,
    Scene,
    words,
)

#: Width of the column, as a share of the picture.
SHARE = 0.235
#: Units: one is a pixel of a picture 1000 high.
SAMPLE, INDENT, ROW, GAP, EDGE = 62, 78, 21, 30, 16


class Column:
    """Flat actors down the right side of a renderer, redrawn when the size changes."""

    def __init__(self, renderer: vtkRenderer, write: Callable[[Column], None]) -> None:
        """`write` fills the column from the top with the methods below."""
        self._renderer, self._write = renderer, write
        self._actors: list[vtkActor2D] = []
        self._size = (0, 0)
        self.unit = 1.0
        self.left = self.right = self.y = 0.0
        renderer.AddObserver("StartEvent", lambda *_: self._keep_up())

    def refresh(self) -> None:
        """Redraw everything before the next frame."""
        self._size = (0, 0)

    def _keep_up(self) -> None:
        wide, high = self._renderer.GetSize()
        size = (wide, high)
        if size == self._size:
            return
        self._size = size
        for actor in self._actors:
            self._renderer.RemoveViewProp(actor)
        self._actors = []
        self.unit = size[1] / 1000
        self.left = size[0] * (1 - SHARE)
        self.right = size[0] - EDGE * self.unit
        self._add(plate(self.left - 8 * self.unit, 0, size[0], size[1], PAPER))
        self.y = size[1] - EDGE * self.unit
        self._write(self)

    def _add(self, actor: vtkActor2D) -> None:
        self._actors.append(actor)
        self._renderer.AddViewProp(actor)

    def _say(self, actor: vtkTextActor, indent: float) -> None:
        actor.SetPosition(self.left + indent * self.unit, self.y)
        self._add(actor)

    def title(self, words_: str, size: float, colour: str, chars: int = 30) -> None:
        """A bold line or two."""
        for line in textwrap.wrap(words_, chars) or [""]:
            self.y -= 1.35 * size * self.unit
            self._say(text(line, size * self.unit, colour, bold=True), 0)

    def duty(self, duty: Duty) -> None:
        """A duty's line style and name."""
        self.y -= GAP * self.unit
        self._sample(duty)
        self._say(text(duty, 16 * self.unit, bold=True), INDENT)

    def row(self, content: str, colour: str, at_right: str = "") -> None:
        """A line under a duty, and a figure at the right edge."""
        self.y -= ROW * self.unit
        self._say(text(content, 15 * self.unit, colour), INDENT)
        if at_right:
            figure = text(at_right, 15 * self.unit, colour)
            figure.GetTextProperty().SetJustificationToRight()
            self._say(figure, (self.right - self.left) / self.unit)

    def lines(self, contents: Sequence[str], chars: int = 46) -> None:
        """Small lines, wrapped; warnings are highlighted."""
        for content in contents:
            colour = FAIL_COLOUR if isinstance(content, Warned) else INK
            inset = " " * (len(content) - len(content.lstrip()))
            for line in textwrap.wrap(content.strip(), chars):
                self.y -= 18.5 * self.unit
                self._say(text(inset + line, 14 * self.unit, colour), 4 * len(inset))
                inset = inset or "  "

    def swatch(self, words_: str, colour: str, *, filled: bool) -> None:
        """A small rectangle, filled or framed, and its meaning."""
        self.y -= ROW * self.unit
        u, low, right = self.unit, self.y - 1 * self.unit, self.left + SAMPLE * self.unit
        self._add(plate(right - 24 * u, low, right, low + 14 * u, colour))
        if not filled:
            edge = 1.5 * u
            inner = (right - 24 * u + edge, low + edge, right - edge, low + 14 * u - edge)
            self._add(plate(*inner, PAPER))
        self._say(text(words_, 15 * self.unit), INDENT)

    def skip(self, units: float) -> None:
        """Leave space."""
        self.y -= units * self.unit

    def _sample(self, duty: Duty) -> None:
        look = DUTY_LOOKS[duty]
        thick = 5.0 * self.unit * look.width
        middle = self.y + 6 * self.unit
        for start, end in dashes([step * thick for step in look.dash], SAMPLE * self.unit):
            self._add(
                plate(
                    self.left + start,
                    middle - thick / 2,
                    self.left + end,
                    middle + thick / 2,
                    look.colour,
                )
            )


def dashes(dash: Sequence[float], length: float) -> list[tuple[float, float]]:
    """Start and end of every drawn piece of a line; `dash` is (drawn, left out, ...)."""
    if not dash:
        return [(0.0, length)]
    pieces, at, k = [], 0.0, 0
    while at < length:
        end = min(at + dash[k % len(dash)], length)
        if k % 2 == 0:
            pieces.append((at, end))
        at, k = end, k + 1
    return pieces


def write_key(
    column: Column, result: Result, scene: Scene, lifts: dict[str, str] | None = None
) -> None:
    """Title, verdict and the hoses by duty; `lifts` adds a figure after each line's name."""
    look = VERDICT_LOOKS[result.verdict]
    column.title(result.scenario.name, 21, INK)
    said = verdict_words(result.verdict, ready=result.ready)
    column.title(f"{look.mark}  {said}", 17, look.colour)
    for duty in DUTIES:
        rows = [row for row in scene.rows if row.duty == duty]
        if rows:
            column.duty(duty)
        for row in rows:
            column.row(*_row_words(row), (lifts or {}).get(row.line, ""))


def write_swatches(column: Column, scene: Scene) -> None:
    """Meaning of the other colours and frames that occur."""
    groups = {part.group for part in scene.parts}
    names = " ".join(part.name for part in scene.parts)
    column.skip(12)
    if "water" in groups and scene.part("sea").mesh.n_cells:
        column.swatch("sea surface", WATER_COLOUR, filled=True)
    if "service:" in names:
        column.swatch("service clearance, available", SERVICE_COLOUR, filled=False)
    if "short:" in names:
        column.swatch("X service clearance, blocked", FAIL_COLOUR, filled=False)
    if "keep-out:" in names:
        column.swatch("keep out, known solid", CAUTION_COLOUR, filled=False)


def write_worst(column: Column, result: Result) -> None:
    """The worst finding, in its own words."""
    if result.findings and result.verdict != "pass":
        worst = result.findings[0]
        more = len([row for row in result.findings if row.severity == worst.severity]) - 1
        column.skip(14)
        column.lines([marked(worst.severity, worst.text)])
        if more:
            column.lines([f"  and {more} more of that kind"])


def _row_words(row: Row) -> tuple[str, str]:
    content = f"{row.number}  {words(row.line)}" + ("" if row.routed else ": no route")
    severity = row.severity if row.routed else "fail"
    return marked(severity, content), SEVERITY_LOOKS[severity].colour if severity else INK
