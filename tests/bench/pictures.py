"""Three pictures of routes for the eye: both ways of a line, a manifold, a bundle.

Usage: python -m tests.bench.pictures FOLDER. The demo's hoses as the shortest and along structure;
two planted sets.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.fit import check_fit
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.look import SCAN_COLOUR
from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.routing import route_hoses
from fitcheck.scenario import read_scenario
from fitcheck.space import survey
from fitcheck.view.drawn.cameras import Outlook
from fitcheck.view.drawn.key import Column
from fitcheck.view.drawn.overlay import INK
from fitcheck.view.drawn.scene import Part
from fitcheck.view.drawn.shapes import joined, solid_box, tube
from fitcheck.view.drawn.skin import scan_skin
from tests import ROOT
from tests.bench.pictured import PICTURED, laid
from tests.bench.stills import render
from tests.planted.problem import Ready

Array = NDArray[np.float64]
DEMO = ROOT / "scenarios" / "demo.toml"
#: Colours of the hoses, in turn.
HUES = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#7A5C00", "#56B4E9", "#8B1E3F", "#444444")
BOX_COLOUR, CLIP_COLOUR = "#D8CDB8", "#111111"
DEMO_OUTLOOK = Outlook(towards_eye=(0.35, -0.75, 0.55), up=(0.0, 0.0, 1.0), square=False)


def main() -> int:
    """Write the pictures."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name in PICTURED:
        made, found = laid(name)
        paths = [(one.curve.sample(0.005), one.job.hose.outside_diameter) for one in found]
        (folder / f"{name.split()[1]}.png").write_bytes(draw_set(made, paths, name))
    scenario = read_scenario(DEMO)
    space = survey(scenario)
    fit = check_fit(scenario, space)
    for way in ("shortest", "along structure"):
        routes = route_hoses(with_way(scenario, way), space, fit)
        (folder / f"{way.replace(' ', '_')}.png").write_bytes(draw_demo(space, fit, routes, way))
    return 0


def with_way(scenario: Scenario, way: str) -> Scenario:
    """All lines routed in one mode."""
    lines = tuple(replace(line, way=way) for line in scenario.kit.lines)  # type: ignore[arg-type]
    return replace(scenario, kit=replace(scenario.kit, lines=lines))


def draw_demo(space: Space, fit: Fit, routes: Routes, way: str) -> bytes:
    """Compartment, modules, hoses and clips."""
    found = [hose for hose in routes.hoses if isinstance(hose, HoseRoute)]
    clips = [pv.Sphere(radius=0.011, center=clip.point) for hose in found for clip in hose.clips]
    parts = [
        skin(space),
        boxes([module.box for module in fit.modules]),
        *tubes([(np.array(hose.path), hose.outside_diameter) for hose in found]),
        Part(name="clips", group="hoses", mesh=joined(clips), colour=CLIP_COLOUR),
    ]

    def write(column: Column) -> None:
        column.title(f"Demo: {way}", 20, INK, 24)
        column.skip(8)
        column.swatch("clip", CLIP_COLOUR, filled=True)
        for number, hose in enumerate(found):
            column.swatch(hose.line, HUES[number % len(HUES)], filled=True)
            span = max((span.length for span in hose.unsupported), default=0.0)
            column.lines([f"{hose.length:.3f} m, hangs {1e3 * span:.0f} mm at most"])

    return render(space.triangles.reshape(-1, 3), parts, [], write, DEMO_OUTLOOK)


def draw_set(made: Ready, paths: list[tuple[Array, float]], name: str) -> bytes:
    """A planted set in its bay."""
    middle = np.mean(np.vstack([path for path, _ in paths]), axis=0)
    framed = np.vstack([path for path, _ in paths] + [middle[None] + 0.25, middle[None] - 0.25])
    parts = [
        skin(made.space, opacity=0.12),
        boxes([module.box for module in made.fit.modules], opacity=0.35),
        *tubes(paths),
    ]

    def write(column: Column) -> None:
        column.title(f"Planted: {name}", 20, INK, 24)
        column.skip(8)
        for number, (path, diameter) in enumerate(paths):
            column.swatch(f"hose {number}", HUES[number % len(HUES)], filled=True)
            length = float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
            column.lines([f"{length:.3f} m, {1e3 * diameter:.0f} mm across"])

    return render(framed, parts, [], write, OUTLOOKS[name])


OUTLOOKS = {
    "a crowded manifold": DEMO_OUTLOOK,
    "a bundle through one hole": Outlook(
        towards_eye=(0.6, -0.6, 0.52), up=(0.0, 0.0, 1.0), square=False
    ),
}


def skin(space: Space, opacity: float = 1.0) -> Part:
    """The surfaces without those between the eye and the inside; or all, transparent."""
    whole = opacity == 1.0
    return Part(
        name="scan",
        group="scan",
        mesh=scan_skin(space),
        colour=SCAN_COLOUR,
        one_sided=whole,
        opacity=opacity,
    )


def boxes(bodies: Sequence[object], opacity: float = 1.0) -> Part:
    """Module boxes; transparent where they hide the hoses."""
    mesh = joined([solid_box(body) for body in bodies])  # type: ignore[arg-type]
    return Part(name="modules", group="modules", mesh=mesh, colour=BOX_COLOUR, opacity=opacity)


def tubes(paths: Sequence[tuple[Array, float]]) -> list[Part]:
    """Hoses, each in its own colour."""
    return [
        Part(
            name=f"hose {number}",
            group="hoses",
            mesh=tube(path, diameter),
            colour=HUES[number % len(HUES)],
            smooth=True,
        )
        for number, (path, diameter) in enumerate(paths)
    ]


if __name__ == "__main__":
    sys.exit(main())
