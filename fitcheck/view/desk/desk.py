"""The window itself: switches, sliders, keys and clicks over one canvas."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from typing import Literal

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from vtkmodules.vtkCommonDataModel import vtkPlane
from vtkmodules.vtkRenderingCore import vtkPropPicker

from fitcheck.errors import FitcheckError
from fitcheck.model.result import Result
from fitcheck.units import Ratio, System, show
from fitcheck.view.desk.moving import Mover, Moving
from fitcheck.view.desk.readout import heel_words, lifts, readout
from fitcheck.view.drawn.cameras import Field, Preset, hold, outlook
from fitcheck.view.drawn.canvas import Canvas, aim, light
from fitcheck.view.drawn.captions import Warned, build_tags
from fitcheck.view.drawn.ground import ground_marks
from fitcheck.view.drawn.key import SHARE, Column, write_key, write_swatches
from fitcheck.view.drawn.overlay import INK, TagLayer, text
from fitcheck.view.drawn.scene import Group, Scene, build_scene, sea_part
from fitcheck.view.drawn.skin import sea_sheet
from fitcheck.view.pictures.probe import probe

Array = NDArray[np.float64]
Cut = Literal["none", "across", "along", "level"]
CUTS: tuple[Cut, ...] = ("none", "across", "along", "level")

SIZE = (1600, 1000)
SCAN_OPACITY: Ratio = 0.55
MOST_HEEL_DEGREES = 30.0
#: A press and release this close together are a click, not a drag [px].
CLICK = 4
#: Switches and sliders are left of and below these: clicks there do not reach the scene [px].
CONTROLS = (170, 330)

Switch = Group | Literal["tags"]
SWITCHES: tuple[tuple[Switch, str, bool], ...] = (
    ("scan", "scan", True),
    ("modules", "modules", True),
    ("hoses", "hoses", True),
    ("ports", "ports", True),
    ("service", "service space", True),
    ("unseen", "unseen space", False),
    ("water", "sea", True),
    ("tags", "tags", True),
)
VIEWS: dict[Preset, tuple[str, str]] = {
    "perspective": ("F1", "corner"),
    "plan": ("F2", "plan"),
    "elevation": ("F3", "elevation"),
    "end": ("F4", "end"),
}
DROPS = "Moved modules are not saved: F9 saves them, F5 again discards them."
#: Keys the plotter binds to unexpected actions.
SURPRISES = ("b", "v", "C", "Up", "Down", "plus", "minus")
HELP = """\
 drag            turn                     F1   view from the best corner
 shift + drag    move                     F2   plan, bow to the right
 wheel           zoom in, zoom out        F3   elevation, from starboard
 click           numbers of a hose,       F4   end, looking forward
                 a module or a tag        F5   check the files again
 click outside   deselect                 F6   section: none, across, along, level
 arrows          move the clicked module  F7   show the other side of the section
                 10 mm, with shift 1 mm   F8   run all checks
 page up, down   raise it, lower it       F9   save the moved modules
 u               metric or imperial       h    this help
                                          q    close """


class Desk:
    """One result in one window."""

    def __init__(
        self,
        result: Result,
        recompute: Callable[[], Result] | None,
        units: System,
        mover: Mover | None = None,
        *,
        off_screen: bool = False,
        size: tuple[int, int] = SIZE,
    ) -> None:
        self.result, self.recompute, self.system = result, recompute, units
        self.picked = ""
        self.heel = 0.0
        self.cut: Cut = "none"
        self.cut_share, self.cut_flip = 0.5, False
        self.status = ""
        self.moving = Moving(self, mover)
        self.preset: Preset = "perspective"
        self.shown = {group: on for group, _, on in SWITCHES}
        self._plane = vtkPlane()
        self._pressed = (0, 0)
        self._ready = False  # sliders call back while they are being created
        self.plotter = pv.Plotter(off_screen=off_screen, window_size=size, lighting="none")
        self.plotter.set_background("white")
        if probe().software:
            self.plotter.render_window.SetMultiSamples(0)  # halves the time of a frame
        light(self.plotter)
        self.canvas = Canvas(self.plotter, size[1] / 1000)
        margins = (CONTROLS[0] + 20, 90, SHARE * size[0] * 1000 / size[1] + 12, 12)
        self.tags = TagLayer(self.plotter.renderer, size[1] / 1000, margins)
        self.column = Column(self.plotter.renderer, self._write_column)
        self.scene: Scene = build_scene(result)
        self._help = text(HELP, 15, INK, fixed=True)
        self._build()

    # Building.

    def open(self) -> None:
        """Run until the window is closed."""
        self.plotter.show(title=f"fitcheck: {self.result.scenario.name}")
        said = self.moving.closed()
        if said:
            sys.stderr.write(f"{said}\n")

    def _build(self) -> None:
        self._draw()
        self.look_from(self.preset)
        self._add_switches()
        self._add_sliders()
        self._add_help()
        self._bind_keys()
        self._bind_mouse()
        self._ready = True

    def _draw(self) -> None:
        self.canvas.draw(self.scene, SCAN_OPACITY)
        for group, on in self.shown.items():
            self.canvas.show(group, on)
        self._draw_marks()
        self._cut_all()
        self._heel_sea()

    def _draw_marks(self) -> None:
        marks, names = ground_marks(
            self.scene.focus, outlook(self.preset, self.result), self.system
        )
        self.canvas.remove_group("ground")
        for part in marks:
            self.canvas.add(part)
        self._marks = marks
        self.tags.fill((*build_tags(self.result, self.system), *names), self.scene.focus)

    def _add_switches(self) -> None:
        """Two columns of buttons upwards from the lower left corner, so that they stay there on a
        resize.
        """
        top = 24 * (len(SWITCHES) + len(VIEWS)) + 40
        for k, (group, words, on) in enumerate(SWITCHES):
            self._button(
                words, top - 24 * k, on, lambda value, group=group: self.switch(group, bool(value))
            )
        for k, (preset, (key, words)) in enumerate(VIEWS.items()):
            self._button(
                f"{words}  {key}",
                top - 24 * (len(SWITCHES) + k) - 14,
                True,
                lambda _, preset=preset: self.look_from(preset),
                colour="#5B646C",
            )

    def _button(
        self,
        words: str,
        y: float,
        on: bool,
        act: Callable[..., None],
        colour: str = "#0072B2",
    ) -> None:
        steady = colour != "#0072B2"
        self.plotter.add_checkbox_button_widget(
            act,
            value=on,
            position=(14, y),
            size=17,
            border_size=2,
            color_on=colour,
            color_off=colour if steady else "#FFFFFF",
            background_color="#9AA0A6",
        )
        label = text(words, 14, INK)
        label.SetPosition(38, y + 3)
        self.plotter.renderer.AddViewProp(label)

    def _add_sliders(self) -> None:
        self._heel_slider = self.plotter.add_slider_widget(
            lambda degrees: self.set_heel(math.radians(degrees)) if self._ready else None,
            rng=(-MOST_HEEL_DEGREES, MOST_HEEL_DEGREES),
            value=0.0,
            title=f"heel: {heel_words(0.0)}",
            pointa=(0.17, 0.05),
            pointb=(0.42, 0.05),
            **_SLIDER,
        )
        self._cut_slider = self.plotter.add_slider_widget(
            lambda share: self.set_cut_share(share) if self._ready else None,
            rng=(0.0, 1.0),
            value=0.5,
            title="section: none (F6)",
            pointa=(0.47, 0.05),
            pointb=(0.72, 0.05),
            **_SLIDER,
        )
        for slider in (self._heel_slider, self._cut_slider):
            slider.GetRepresentation().ShowSliderLabelOff()

    def _add_help(self) -> None:
        style = self._help.GetTextProperty()
        style.SetBackgroundColor(1.0, 1.0, 1.0)
        style.SetBackgroundOpacity(0.95)
        style.SetFrame(True)
        style.SetFrameColor(0.13, 0.14, 0.16)
        self._help.SetPosition(200, self.plotter.window_size[1] - 30)
        self._help.SetVisibility(False)
        self._help.SetLayerNumber(5)
        self.plotter.renderer.AddViewProp(self._help)

    def _bind_keys(self) -> None:
        for preset, (key, _) in VIEWS.items():
            self.plotter.add_key_event(key, lambda preset=preset: self.look_from(preset))
        self.plotter.add_key_event("F5", self.check_again)
        self.plotter.add_key_event("F6", self.next_cut)
        self.plotter.add_key_event("F7", self.flip_cut)
        self.moving.bind()
        self.plotter.add_key_event("u", self.switch_units)
        self.plotter.add_key_event("h", self.switch_help)
        for key in SURPRISES:
            self.plotter.clear_events_for_key(key)
        interactor = self.plotter.iren.interactor
        tag = interactor.AddObserver("CharEvent", self._only_known_keys, 5.0)
        self._char_command = (interactor, tag)

    def _only_known_keys(self, interactor: pv.RenderWindowInteractor, _: str) -> None:
        """The library's own keys (wireframe, stereo, fly ...) would be unexpected here."""
        if interactor.GetKeySym() not in ("q", "e", "r"):
            interactor.GetCommand(self._char_command[1]).SetAbortFlag(1)

    def _bind_mouse(self) -> None:
        # The mast stays upright however the mouse is dragged.
        self.plotter.enable_terrain_style(mouse_wheel_zooms=True, shift_pans=True)
        # The interactor's style does not pass on releases, so the plotter is asked for them.
        self.plotter.iren.add_observer("LeftButtonPressEvent", self._press)
        self.plotter.iren.add_observer("LeftButtonReleaseEvent", self._release)

    # The mouse.

    def _press(self, *_: object) -> None:
        self._pressed = self.plotter.iren.interactor.GetEventPosition()

    def _release(self, *_: object) -> None:
        x, y = self.plotter.iren.interactor.GetEventPosition()
        moved = max(abs(x - self._pressed[0]), abs(y - self._pressed[1]))
        if moved <= CLICK and not self._is_control(x, y):
            self.pick(self.item_at(x, y))

    def _is_control(self, x: float, y: float) -> bool:
        wide, high = self.plotter.renderer.GetSize()
        on_switch = x < CONTROLS[0] and y < CONTROLS[1]
        return on_switch or y < 0.09 * high or x > wide * (1 - SHARE)

    def item_at(self, x: float, y: float) -> str:
        """The hose or box at a position in the window [px], "" for none."""
        tagged = self.tags.at(x, y)
        if tagged:
            return tagged
        picker = vtkPropPicker()
        picker.PickFromListOn()
        for name, part in self.canvas.parts.items():
            if part.item and self.canvas.actors[name].GetVisibility():
                picker.AddPickList(self.canvas.actors[name])
        picker.Pick(x, y, 0, self.plotter.renderer)
        actor = picker.GetViewProp()
        return next(
            (
                part.item
                for name, part in self.canvas.parts.items()
                if self.canvas.actors[name] is actor
            ),
            "",
        )

    # What keys, switches and clicks do.

    def pick(self, item: str) -> None:
        """Show the numbers of an item and fade all others; "" clears the selection."""
        self.picked = item
        for name, part in self.canvas.parts.items():
            if part.group in ("modules", "hoses", "ports", "service"):
                owned = part.item == item or name.endswith(f":{item.split(':')[-1]}")
                self.canvas.tint(name, faded=bool(item) and not owned, picked=False)
        if item.startswith("hose:"):
            self.canvas.tint(item, faded=False, picked=True)
        self._say()

    def switch(self, group: Switch, on: bool) -> None:
        """Show or hide a group of things with its tags."""
        self.shown[group] = on
        if group == "tags":
            self.tags.show("", on)
        else:
            self.canvas.show(group, on)
            self.tags.show(group, on)
        self.plotter.render()

    def look_from(self, preset: Preset) -> None:
        """Take one of the standard views."""
        self.preset = preset
        self._draw_marks()
        wide, high = self.plotter.window_size
        field = Field(left=-0.76, right=1 - 2 * SHARE - 0.04, low=-0.78, aspect=wide / high)
        held = np.vstack([self.scene.focus, *(part.mesh.points for part in self._marks)])
        aim(self.plotter, hold(held, outlook(preset, self.result), field))
        self._cut_all()
        self.plotter.render()

    def switch_units(self) -> None:
        """Switch between metric and imperial units."""
        self.system = "imperial" if self.system == "metric" else "metric"
        self._draw_marks()
        self._say_cut()
        self._say()

    def switch_help(self) -> None:
        """Show or hide the list of keys."""
        self._help.SetVisibility(not self._help.GetVisibility())
        self.plotter.render()

    def set_heel(self, heel: float) -> None:
        """Heel the boat: updates the sea in the drawing and the lifts in the column."""
        self.heel = heel
        self._heel_slider.GetRepresentation().SetTitleText(f"heel: {heel_words(heel)}")
        self._heel_sea()
        self._say()

    def _heel_sea(self) -> None:
        sheet = sea_sheet(self.result.space, self.heel)
        drawn = self.canvas.actors.get("sea")
        if drawn is not None:
            drawn.mapper.dataset.copy_from(sheet)
        else:  # upright, the sea was above or below the compartment
            self.canvas.add(sea_part(sheet), 0.22)

    def check_again(self) -> None:
        """Read and check the scenario's files again."""
        if self.recompute is None:
            return
        if self.moving.unsaved and self.status != DROPS:
            self.status = DROPS
            self._say()
            return
        self.status = "checking again ..."
        self._say()
        try:
            self.result = self.recompute()
        except FitcheckError as error:
            self.status = Warned(f"X not checked: {error}")
        else:
            self.status = ""
            self.moving.forget()
            self.redraw(self.result)
        self.pick(self.picked)

    def redraw(self, result: Result) -> None:
        """Draw another result of the same boat."""
        self.result = result
        self.scene = build_scene(result, self.scene)
        self.picked = self.picked if self.picked in self.scene.items else ""
        self._draw()

    # The section.

    def next_cut(self) -> None:
        """Switch to the next section axis."""
        self.cut = CUTS[(CUTS.index(self.cut) + 1) % len(CUTS)]
        self._cut_all()
        self._say_cut()
        self.plotter.render()

    def flip_cut(self) -> None:
        """Show the other side."""
        self.cut_flip = not self.cut_flip
        self._cut_all()
        self.plotter.render()

    def set_cut_share(self, share: float) -> None:
        """Move the section to a share of the compartment's extent."""
        self.cut_share = share
        self._cut_all()
        self._say_cut()

    def cut_place(self) -> tuple[int, float]:
        """Axis and coordinate of the section [m]."""
        axis = {"none": 0, "across": 0, "along": 1, "level": 2}[self.cut]
        bounds = self.scene.part("scan").mesh.bounds
        low, high = bounds[2 * axis], bounds[2 * axis + 1]
        return axis, low + self.cut_share * (high - low)

    def _cut_all(self) -> None:
        axis, place = self.cut_place()
        normal, origin = np.zeros(3), np.zeros(3)
        towards_eye = np.subtract(self.plotter.camera.position, self.plotter.camera.focal_point)
        normal[axis] = -1.0 if (towards_eye[axis] > 0) != self.cut_flip else 1.0
        origin[axis] = place
        self.tags.kept = lambda points: (points - origin) @ normal >= 0
        if self.cut == "none":
            self.tags.kept = lambda points: np.ones(len(points), dtype=bool)
        self.tags.refresh()
        self._plane.SetNormal(*normal)
        self._plane.SetOrigin(*origin)
        for name, part in self.canvas.parts.items():
            mapper = self.canvas.actors[name].mapper
            mapper.RemoveAllClippingPlanes()
            if self.cut != "none" and part.group != "ground":
                mapper.AddClippingPlane(self._plane)

    def _say_cut(self) -> None:
        axis, place = self.cut_place()
        sides = (("aft", "forward"), ("to starboard", "to port"), ("below", "above"))[axis]
        words = f"section: {self.cut}"
        if self.cut == "none":
            words += " (F6)"
        else:
            words += f", {show(abs(place), 'length', self.system)} {sides[place > 0]}"
        self._cut_slider.GetRepresentation().SetTitleText(words)

    # The column.

    def _say(self) -> None:
        self.column.refresh()
        self.plotter.render()

    def _write_column(self, column: Column) -> None:
        write_key(column, self.result, self.scene, lifts(self.result, self.heel, self.system))
        write_swatches(column, self.scene)
        column.skip(10)
        column.lines(
            [f"At the right: lift of the line's end above its start, {heel_words(self.heel)}."]
        )
        column.skip(14)
        if self.status:
            column.lines([self.status])
        if told := self.moving.told():
            column.lines(told)
            column.skip(10)
        if self.picked:
            title, *rest = readout(self.result, self.picked, self.system, self.heel)
            column.title(title, 17, INK)
            column.lines(rest)
        else:
            column.lines(["Click a hose, a module or a tag for its numbers; h for help."])


_SLIDER = {
    "interaction_event": "always",
    "style": "modern",
    "color": INK,
    "title_color": INK,
    "title_height": 0.016,
    "slider_width": 0.018,
    "tube_width": 0.004,
}
