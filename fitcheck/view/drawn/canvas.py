"""A scene in a plotter: actors by name, what is shown, the sea at a heel."""

from __future__ import annotations

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.model.found.look import FADED, PICKED_COLOUR, UNSEEN_COLOUR
from fitcheck.units import Ratio
from fitcheck.view.drawn.cameras import VIEW_ANGLE, Camera
from fitcheck.view.drawn.scene import Group, Part, Scene
from fitcheck.view.drawn.skin import hatch

Array = NDArray[np.float64]


#: Ambient and diffuse light: flat faces pale for print, round things modelled.
SHINE: dict[Group, tuple[Ratio, Ratio]] = {"scan": (0.74, 0.32), "modules": (0.66, 0.26)}


#: Depth offset that puts a thing in front of all others.
FORWARD = -66_000.0


class Canvas:
    """The actors of one scene in one plotter."""

    def __init__(self, plotter: pv.Plotter, unit: float) -> None:
        self.plotter, self.unit = plotter, unit
        self.actors: dict[str, pv.Actor] = {}
        self.parts: dict[str, Part] = {}

    def draw(self, scene: Scene, scan_opacity: Ratio) -> None:
        """Replace everything by the parts of a scene."""
        for actor in self.actors.values():
            self.plotter.remove_actor(actor, render=False)
        self.actors.clear()
        self.parts.clear()
        for part in scene.parts:
            self.add(part, scan_opacity if part.group == "scan" else part.opacity)

    def add(self, part: Part, opacity: Ratio = 1.0) -> None:
        """Draw one more part, replacing any other of that name."""
        if part.name in self.actors:
            self.plotter.remove_actor(self.actors.pop(part.name), render=False)
            del self.parts[part.name]
        if not part.mesh.n_points:  # the library refuses empty meshes
            return
        self.parts[part.name] = part
        self.actors[part.name] = self._actor(part, opacity)

    def _actor(self, part: Part, opacity: Ratio) -> pv.Actor:
        actor = self.plotter.add_mesh(
            part.mesh,
            color=part.colour,
            scalars=None if part.colour else "rgb",
            rgb=part.colour is None,
            opacity=opacity,
            culling="back" if part.one_sided else None,
            lighting=part.lit,
            line_width=part.line_width * self.unit,
            texture=hatch(UNSEEN_COLOUR) if part.hatched else None,
            pickable=bool(part.item),
            reset_camera=False,
            render=False,
        )
        actor.prop.interpolation = "Phong" if part.smooth else "Flat"
        shine = SHINE.get(part.group, (0.45, 0.43)) if part.lit else (0.0, 1.0)
        actor.prop.ambient, actor.prop.diffuse = shine
        if part.through:
            _bring_forward(actor.mapper)
        return actor

    def show(self, group: str, shown: bool) -> None:
        """Show or hide all parts of a group."""
        for name, part in self.parts.items():
            if part.group == group:
                self.actors[name].SetVisibility(shown)

    def remove_group(self, group: str) -> None:
        """Remove all parts of a group."""
        for name in [name for name, part in self.parts.items() if part.group == group]:
            self.plotter.remove_actor(self.actors.pop(name), render=False)
            del self.parts[name]

    def tint(self, name: str, *, faded: bool, picked: bool) -> None:
        """Fade a part, draw it in the colour of the picked item, or draw it normally."""
        part, actor = self.parts[name], self.actors[name]
        actor.prop.opacity = part.opacity * (FADED if faded else 1.0)
        if part.colour is None:
            actor.mapper.scalar_visibility = not picked
        actor.prop.color = PICKED_COLOUR if picked else (part.colour or "white")


def _bring_forward(mapper: pv.DataSetMapper) -> None:
    """Draw as if in front of everything."""
    mapper.SetResolveCoincidentTopologyToPolygonOffset()
    mapper.SetRelativeCoincidentTopologyLineOffsetParameters(0.0, FORWARD)
    mapper.SetRelativeCoincidentTopologyPolygonOffsetParameters(0.0, FORWARD)


def light(plotter: pv.Plotter) -> None:
    """A lamp at the eye and one above the port quarter, so that no two faces look alike."""
    plotter.remove_all_lights()
    plotter.add_light(pv.Light(light_type="headlight", intensity=1.0))
    above = pv.Light(position=(-2.0, 1.0, 5.0), focal_point=(0.0, 0.0, 0.0), intensity=0.28)
    above.positional = False
    plotter.add_light(above)


def aim(plotter: pv.Plotter, camera: Camera) -> None:
    """Point the plotter's camera."""
    view = plotter.camera
    view.position, view.focal_point, view.up = camera.eye, camera.target, camera.up
    view.view_angle = float(np.degrees(VIEW_ANGLE))
    view.parallel_projection = camera.scale is not None
    if camera.scale is not None:
        view.parallel_scale = camera.scale
    plotter.renderer.ResetCameraClippingRange()
