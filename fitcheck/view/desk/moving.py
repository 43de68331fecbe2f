"""A picked box moved with the arrow keys, and the effect on the hoses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Protocol

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.errors import FitcheckError
from fitcheck.geometry.box import as_point
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.given.scenario import Placement
from fitcheck.model.result import Result
from fitcheck.units import Metre, System, show
from fitcheck.view.drawn.canvas import Canvas
from fitcheck.view.drawn.captions import Warned
from fitcheck.view.drawn.scene import numbers, words

Array = NDArray[np.float64]

#: One key press, and one with shift [m].
STEP, FINE = 0.010, 0.001
#: The layout is checked when no key has been pressed for this long [ms].
REST = 150
#: Smaller changes of length are not reported [m].
SAME = 5e-4
#: Maximum lines on hoses that changed.
MOST_TOLD = 6
KEYS = ("Left", "Right", "Up", "Down", "Prior", "Next")
SENSES = (("aft", "forward"), ("to starboard", "to port"), ("down", "up"))


class Mover(Protocol):
    """Checks the layout with a module elsewhere."""

    def move(self, placement: Placement) -> Result:
        """Boxes, hoses and water with one module elsewhere."""

    def settle(self) -> Result:
        """All results for the current layout."""

    def save(self) -> Path:
        """Write the current layout; returns the new file."""


class Shown(Protocol):
    """The window in which a box is moved."""

    result: Result
    system: System
    picked: str
    status: str
    plotter: pv.Plotter
    canvas: Canvas

    def pick(self, item: str) -> None:
        """Show the numbers of an item."""

    def redraw(self, result: Result) -> None:
        """Draw another result of the same boat."""


class Moving:
    """Keys, pending checks, and what has been moved since the files were read."""

    def __init__(self, desk: Shown, mover: Mover | None) -> None:
        self.desk, self.mover = desk, mover
        self.first = desk.result
        self.waiting, self._name = np.zeros(3), ""
        self._saved = desk.result.scenario.layout
        self._timer = -1

    def bind(self) -> None:
        """Listen to the keys, if there is a mover."""
        if self.mover is None:
            return
        for key in KEYS:
            self.desk.plotter.add_key_event(key, lambda key=key: self.press(key))
        self.desk.plotter.add_key_event("F8", self.settle)
        self.desk.plotter.add_key_event("F9", self.save)
        if not self.desk.plotter.off_screen:
            self.desk.plotter.iren.interactor.AddObserver("TimerEvent", self._rested)

    def forget(self) -> None:
        """Reset after the files were read again."""
        self.first, self.waiting = self.desk.result, np.zeros(3)
        self._saved = self.desk.result.scenario.layout

    @property
    def unsaved(self) -> bool:
        """Whether a box is at a position that no file contains."""
        return bool(self.waiting.any()) or self.desk.result.scenario.layout != self._saved

    def closed(self) -> str:
        """Save unsaved moves when the window closes; returns a message about it."""
        if not self.unsaved:
            return ""
        self.save()
        return self.desk.status

    # Keys.

    def press(self, key: str) -> None:
        """One step of the picked box; checked at once where there is no timer."""
        fine = bool(self.desk.plotter.iren.interactor.GetShiftKey())
        self.nudge(self.way(key) * (FINE if fine else STEP))
        if self.desk.plotter.off_screen:
            self.check()
            return
        interactor = self.desk.plotter.iren.interactor
        if self._timer >= 0:
            interactor.DestroyTimer(self._timer)
        self._timer = interactor.CreateOneShotTimer(REST)

    def _rested(self, *_: object) -> None:
        self._timer = -1
        self.check()

    def way(self, key: str) -> Array:
        """The boat axis that a key moves along in the current view."""
        camera = self.desk.plotter.camera
        ahead = np.subtract(camera.focal_point, camera.position)
        ahead /= np.linalg.norm(ahead)
        up = np.array(camera.up)
        right = np.cross(ahead, up)
        if key in ("Prior", "Next"):
            return np.array([0.0, 0.0, 1.0 if key == "Prior" else -1.0])
        across = int(np.argmax(np.abs(right[:2])))
        axis = across if key in ("Left", "Right") else 1 - across
        # an up key moves away from the eye; in a plan view, upwards on the screen
        sense = right[axis] if axis == across else (ahead + up)[axis]
        way = np.zeros(3)
        way[axis] = (1.0 if sense >= 0.0 else -1.0) * (1.0 if key in ("Right", "Up") else -1.0)
        return way

    # What they do.

    def nudge(self, shift: Array) -> None:
        """Draw the picked box at its new position; it is not checked there yet."""
        kind, _, name = self.desk.picked.partition(":")
        if kind != "module":
            self.desk.status = "Click a module first; the arrow keys move it."
            self.desk.pick(self.desk.picked)
            return
        if name != self._name:
            self.check()  # the pending check belongs to the previous box
        self._name = name
        self.waiting = self.waiting + shift
        for part in (f"module:{name}", f"edges:{name}", f"hidden:{name}", f"verdict:{name}"):
            if part in self.desk.canvas.actors:
                self.desk.canvas.actors[part].position = tuple(self.waiting)
        self.desk.plotter.render()

    def check(self) -> None:
        """Check the layout with the box at its drawn position."""
        if self.mover is None or not self.waiting.any():
            return
        old = self.desk.result.scenario.layout.placement(self._name)
        placement = replace(old, at=as_point(np.array(old.at) + self.waiting))
        self.waiting = np.zeros(3)
        self._show(lambda mover: mover.move(placement))

    def settle(self) -> None:
        """All results for the current layout."""
        self.desk.status = "all checks ..."
        self.desk.pick(self.desk.picked)
        self._show(lambda mover: mover.settle())

    def save(self) -> None:
        """Write the current layout next to its files."""
        if self.mover is None or not self.unsaved:
            return
        self.check()
        try:
            file = self.mover.save()
        except FitcheckError as error:
            self.desk.status = Warned(f"X not saved: {error}")
        else:
            self._saved = self.desk.result.scenario.layout
            self.desk.status = f"Saved: {file}"
        self.desk.pick(self.desk.picked)

    def _show(self, check: Callable[[Mover], Result]) -> None:
        if self.mover is None:
            return
        try:
            result = check(self.mover)
        except FitcheckError as error:
            self.desk.status = Warned(f"X not checked: {error}")
            self.desk.redraw(self.desk.result)
        else:
            self.desk.status = ""
            self.desk.redraw(result)
        self.desk.pick(self.desk.picked)

    # In words.

    def told(self) -> list[str]:
        """What was moved since the files were read, and the hoses that became longer
        or shorter.
        """
        now, system = self.desk.result, self.desk.system
        lines = []
        for row in now.scenario.layout.placements:
            shift = np.subtract(row.at, self.first.scenario.layout.placement(row.module).at)
            if np.abs(shift).max() > 1e-9:
                lines.append(f"Moved: {words(row.module)}, {_said(shift, system)}")
        if not lines:
            return []
        if now.scenario.layout != self._saved:
            lines.append("  not saved yet (F9); remedies are shown after all checks (F8)")
        return [*lines, *self._changed(now)]

    def _changed(self, now: Result) -> list[str]:
        lines = []
        for hose in now.routes.hoses:
            old = self.first.routes.hose(hose.line)
            title = f"  {numbers(now)[hose.line]}  {words(hose.line)}"
            if isinstance(hose, HoseRoute) and isinstance(old, HoseRoute):
                more = hose.length - old.length
                if abs(more) > SAME:
                    sign = "+" if more > 0 else "-"
                    lines.append(f"{title}: {sign}{show(abs(more), 'length', self.desk.system)}")
            elif isinstance(hose, HoseRoute):
                lines.append(f"{title}: has a route now")
            elif isinstance(old, HoseRoute):
                lines.append(Warned(f"X {title.strip()}: has no route any more"))
        rest = len(lines) - MOST_TOLD
        return lines if rest <= 0 else [*lines[:MOST_TOLD], f"  and {rest} more"]


def _said(shift: Array, system: System) -> str:
    """A displacement in words used on board."""
    parts: list[tuple[Metre, str]] = [
        (abs(float(value)), SENSES[axis][int(value > 0)]) for axis, value in enumerate(shift)
    ]
    return ", ".join(f"{show(size, 'length', system)} {way}" for size, way in parts if size > 1e-9)
