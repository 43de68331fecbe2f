"""Small compartments, hoses and lines to route, built directly.

The room is the plain one of tests.specimens: x -1..1, y -0.75..0.75, z 0..1.2 [m].
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.geometry.curve import turn_between
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells
from fitcheck.model.found.fit import Fit, ModuleFit, ServiceFit
from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.found.space import FREE, SOLID, PlacedHole, PlacedPort, Space
from fitcheck.model.given.kit import (
    Duty,
    Hose,
    Line,
    Module,
    Port,
    PortRef,
    ServiceClearance,
    Sold,
)
from fitcheck.model.given.scenario import LineChoice, Placement, Scenario
from fitcheck.routing import allow_wander, stage
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.proof.proof import Proof
from fitcheck.routing.stage import bound_of
from fitcheck.routing.world.obstacles import Obstacles
from fitcheck.space.cells.field import distance_field
from tests import specimens

Points = NDArray[np.float64]
Corner = tuple[float, float, float]

#: Bend radius, outside diameter and clearance of the default hose here [m].
RADIUS, OUTSIDE, CLEARANCE = 0.1, 0.024, 0.010
#: Centre line to anything solid [m].
NEED = OUTSIDE / 2 + CLEARANCE


def hose(name: str = "hose", radius: float = RADIUS, outside: float = OUTSIDE) -> Hose:
    """A hose by its bend radius and outside diameter."""
    return Hose(
        name=name,
        bore=0.6 * outside,
        outside_diameter=outside,
        min_bend_radius=radius,
        bend_radius_at="centre",
        pressure_rating=5e5,
        wall="reinforced",
        roughness=1.5e-6,
        sold=Sold(by="metre", lengths=(), prices=()),
    )


def port(name: str, at: Sequence[float], way: Sequence[float]) -> PlacedPort:
    """A port of the boat."""
    unit = np.asarray(way, dtype=np.float64) / np.linalg.norm(way)
    return PlacedPort(
        name=name,
        role="other",
        at=as_point(np.asarray(at, dtype=np.float64)),
        direction=as_point(unit),
        connection="hose tail",
        thread="",
    )


def line(name: str, start: str, end: str, kind: str = "hose", duty: Duty = "feed") -> Line:
    """A line between two ports written owner.port."""
    first, last = (PortRef(owner=o, port=p) for o, p in (start.split("."), end.split(".")))
    return Line(
        name=name,
        start=first,
        end=last,
        duty=duty,
        hose=kind,
        fittings=0.0,
        valve_flow=None,
        straight=None,
    )


def meshed(
    triangles: Points,
    *,
    low: Corner = specimens.LOW,
    high: Corner = specimens.HIGH,
    pitch: float = 0.015,
    **changes: Any,
) -> Space:
    """Any triangles, with cells and distances as from a survey; everything else is free."""
    margin = 3
    plain = specimens.hand_made_space(pitch=0.1)
    origin = np.array(low) - margin * pitch
    count = np.ceil((np.array(high) - np.array(low)) / pitch - 1e-9).astype(int) + 2 * margin
    shape = (int(count[0]), int(count[1]), int(count[2]))
    grid = Grid(origin=as_point(origin), pitch=pitch, shape=shape)
    touched = touched_cells(triangles, grid)
    label = np.where(touched, SOLID, FREE).astype(np.uint8)
    given = {"label": label, **changes}
    fields = {
        name: getattr(plain, name) for name in plain.__dataclass_fields__ if name not in given
    }
    fields |= {
        "grid": grid,
        "triangles": np.ascontiguousarray(triangles),
        "distance": distance_field(grid, triangles, touched, given["label"], ()),
        "uncertainty": specimens.unsure(accuracy=0.005),
    }
    return Space(**{**fields, **given})


def modules_of(*boxes: tuple[str, Corner, Corner]) -> tuple[ModuleFit, ...]:
    """Upright module boxes by name and two corners."""
    return tuple(
        ModuleFit(
            name=name,
            verdict="fits",
            box=specimens.upright_box(low, high),
            mass=1.0,
            faces=(),
            service=(),
        )
        for name, low, high in boxes
    )


def fit_of(*modules: ModuleFit) -> Fit:
    """Modules as they stand."""
    return Fit(modules=modules, findings=(), assumptions=())


def withdrawal(low: Corner, high: Corner) -> ServiceFit:
    """A withdrawal space by two corners."""
    box = specimens.upright_box(low, high)
    return ServiceFit(
        face="base",
        kind="withdrawal",
        wanted=0.1,
        contacts=(),
        verdict="clear",
        box=box,
    )


def asked(
    lines: Sequence[Line],
    *,
    hoses: Sequence[Hose] = (),
    choices: Sequence[LineChoice] = (),
    kit: dict[str, Any] | None = None,
    **allowances: float,
) -> Scenario:
    """A scenario with these lines, with one default hose."""
    given = {"hose_clearance": CLEARANCE, "hose_gap": 0.005, "straight": 0.060, **allowances}
    return specimens.scenario(
        specimens.boat("specimen.stl"),
        kit=specimens.kit(
            lines=tuple(lines),
            hoses=tuple(hoses) or (hose(),),
            allowances=specimens.allowances(**given),
            **(kit or {}),
        ),
        layout=specimens.layout(choices=tuple(choices)),
    )


def hole(name: str, centre: Corner, way: Corner, diameter: float) -> PlacedHole:
    """A declared hole."""
    return PlacedHole(name=name, centre=centre, direction=way, diameter=diameter)


def routed(scenario: Scenario, space: Space, *modules: ModuleFit) -> Routes:
    """The stage on a hand-made compartment, with mounting tolerance."""
    return allow_wander(scenario, space, fit_of(*modules))


def only(routes: Routes) -> HoseRoute:
    """The one hose of a result, routed."""
    (found,) = routes.hoses
    assert isinstance(found, HoseRoute), found.reason
    return found


__all__ = [
    "CLEARANCE",
    "NEED",
    "OUTSIDE",
    "RADIUS",
    "Module",
    "Placement",
    "Port",
    "ServiceClearance",
    "asked",
    "fit_of",
    "hole",
    "hose",
    "line",
    "meshed",
    "modules_of",
    "only",
    "port",
    "routed",
    "withdrawal",
]


def unobstructed(_: Obstacles, line: Routed) -> Proof:
    """The bound without obstacles."""
    least = min(bound_of(line.job), line.curve.length)
    clear = line.curve.length - least < 1e-8
    return Proof(bound=least, kind="direct" if clear else "unobstructed")


@pytest.fixture(autouse=True)
def quick_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bound without obstacles only: the full one takes seconds and has its own tests."""

    monkeypatch.setattr(stage, "prove_all", unobstructed)


def check_curve(found: HoseRoute) -> None:
    """Radius, straight ends, tangents, length and bound of one route."""
    assert len(found.legs) == len(found.bends) + 1
    ways = []
    for leg in found.legs:
        step = np.array(leg.end) - np.array(leg.start)
        size = float(np.linalg.norm(step))
        ways.append(step / size if size > 1e-9 else None)
    for bend, before, after in zip(found.bends, ways[:-1], ways[1:], strict=True):
        spoke = np.array(bend.start) - np.array(bend.centre)
        assert np.linalg.norm(spoke) == pytest.approx(bend.radius, abs=1e-9)
        assert bend.radius >= found.required_bend_radius - 1e-12
        assert 0 < bend.angle < math.pi
        tangent = np.cross(np.array(bend.normal), spoke) / bend.radius
        if before is not None:
            assert turn_between(tangent, before) < 1e-6
        if before is not None and after is not None:
            assert turn_between(before, after) == pytest.approx(bend.angle, abs=1e-6)
    assert ways[0] is not None
    assert ways[-1] is not None
    assert turn_between(ways[0], np.array(found.start_direction)) < 1e-6
    assert turn_between(ways[-1], np.array(found.end_direction)) < 1e-6
    for leg in (found.legs[0], found.legs[-1]):
        assert math.dist(leg.start, leg.end) >= found.straight - 1e-9
    legs = sum(math.dist(leg.start, leg.end) for leg in found.legs)
    assert found.length == pytest.approx(
        legs + sum(bend.radius * bend.angle for bend in found.bends), abs=1e-9
    )
    assert found.bound <= found.length
    step = np.linalg.norm(np.diff(found.path, axis=0), axis=1)
    assert step.max() <= 0.005 + 1e-12
    assert found.path[0] == pytest.approx(found.start)
    assert found.path[-1] == pytest.approx(found.end)
