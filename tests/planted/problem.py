"""A planted problem in the program's form: scenario, space, fit, obstacles and jobs."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fitcheck.geometry.box import Box, as_point
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells
from fitcheck.model.found.fit import Fit, ModuleFit
from fitcheck.model.found.space import FREE, SOLID, Frame, PlacedHole, PlacedPort, Space
from fitcheck.model.given.kit import Hose, Line, Module, Port, PortRef, Sold
from fitcheck.model.given.scenario import Placement, Scenario
from fitcheck.model.uncertainty import Uncertainty
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.stage import PATH_STEP
from fitcheck.routing.told.pieces import bends_of, legs_of
from fitcheck.routing.world.obstacles import Obstacles, gather
from fitcheck.routing.world.ports import Job, make_jobs
from fitcheck.space.cells.field import distance_field
from tests import specimens
from tests.planted.bay import HIGH, LOW, PlantedHose, Problem
from tests.planted.curve import Planted, Points

MARGIN = 3
PITCH = 0.015


@dataclass(frozen=True, eq=False)
class Ready:
    """All inputs of the router."""

    problem: Problem
    scenario: Scenario
    space: Space
    fit: Fit
    obstacles: Obstacles
    jobs: tuple[Job, ...]


def ready(problem: Problem, pitch: float = PITCH) -> Ready:
    """Build scenario, space and fit of a problem at a pitch of the grid [m]."""
    space, fit = _space(problem, pitch), _fit(problem)
    scenario = _scenario(problem)
    return Ready(
        problem=problem,
        scenario=scenario,
        space=space,
        fit=fit,
        obstacles=gather(space, fit),
        jobs=make_jobs(scenario, space),
    )


def bare_space(triangles: Points, low: Points, high: Points, pitch: float) -> Space:
    """A space of triangles in a grid between two corners, with everything else free."""
    origin = low - MARGIN * pitch
    count = np.ceil((high - low) / pitch - 1e-9).astype(int) + 2 * MARGIN
    shape = (int(count[0]), int(count[1]), int(count[2]))
    grid = Grid(origin=as_point(origin), pitch=pitch, shape=shape)
    surface = touched_cells(triangles, grid)
    label = np.where(surface, SOLID, FREE).astype(np.uint8)
    return Space(
        frame=Frame(
            scale=1.0,
            turn=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
            shift=(0.0, 0.0, 0.0),
        ),
        grid=grid,
        triangles=np.ascontiguousarray(triangles),
        label=label,
        distance=distance_field(grid, triangles, surface, label, ()),
        inside=(0.0, 0.0, 0.6),
        flotation=(0.0, 0.0, 0.0),
        viewpoints=(),
        ports=(),
        holes=(),
        keep_outs=(),
        solids=(),
        declared_free=(),
        hatch=(),
        uncertainty=Uncertainty(),
        raw_triangles=len(triangles),
        dropped=(),
        findings=(),
        assumptions=(),
    )


def _space(problem: Problem, pitch: float) -> Space:
    ports = []
    for hose in problem.hoses:
        for end in (0, 1):
            if hose.owners[end] == "boat":
                at, way = _port(hose, end)
                name = f"{hose.name} {end}"
                ports.append(PlacedPort(
                    name=name, role="other", at=as_point(at), direction=as_point(way),
                    connection="", thread="",
                ))  # fmt: skip
    hole = problem.hole
    holes = () if hole is None else (
        PlacedHole(
            name="hole", centre=hole.centre, direction=hole.direction, diameter=hole.diameter
        ),
    )  # fmt: skip
    plain = bare_space(problem.triangles, LOW, HIGH, pitch)
    return replace(plain, ports=tuple(ports), holes=holes)


def _port(hose: PlantedHose, end: int) -> tuple[Points, Points]:
    """A port and the direction a hose leaves it."""
    curve = hose.curve
    return curve.corners[-end], curve.ways[-end] * (1.0 if end == 0 else -1.0)


def _fit(problem: Problem) -> Fit:
    modules = tuple(
        ModuleFit(
            name=name,
            verdict="fits",
            box=box,
            mass=1.0,
            faces=(),
            service=(),
        )
        for name, box in problem.boxes.items()
    )
    return Fit(modules=modules, findings=(), assumptions=())


def _base(box: Box) -> Points:
    return np.array(box.centre) - box.half[2] * np.array(box.axes[2])


def _scenario(problem: Problem) -> Scenario:
    modules, placements = [], []
    for name, box in problem.boxes.items():
        ports = []
        for hose in problem.hoses:
            for end in (0, 1):
                if hose.owners[end] == name:
                    at, way = _port(hose, end)
                    ports.append(Port(
                        name=f"{hose.name} {end}", at=as_point(at - _base(box)),
                        direction=as_point(way), connection="", thread="", joins="",
                    ))  # fmt: skip
        if ports:
            size = as_point(2 * np.array(box.half))
            modules.append(Module(
                name=name, size=size, mass=1.0, stands="any", ports=tuple(ports), service=()
            ))  # fmt: skip
            placements.append(
                Placement(module=name, at=as_point(_base(box)), rotate=(0.0, 0.0, 0.0))
            )
    kit = specimens.kit(
        modules=tuple(modules),
        lines=tuple(_line(hose) for hose in problem.hoses),
        hoses=tuple(_hose(hose) for hose in problem.hoses),
        allowances=specimens.allowances(
            hose_clearance=problem.clearance, hose_gap=problem.gap, straight=problem.straight
        ),
    )
    layout = specimens.layout(*placements, choices=_choices(problem))
    return specimens.scenario(specimens.boat("none"), kit=kit, layout=layout)


def _choices(problem: Problem) -> Any:
    if problem.hole is None:
        return ()
    choice = specimens.layout().choice("hose")
    return (replace(choice, line="hose", holes=("hole",)),)


def _line(hose: PlantedHose) -> Line:
    start, end = (PortRef(owner=owner, port=f"{hose.name} {n}")
                  for n, owner in enumerate(hose.owners))  # fmt: skip
    return Line(
        name=hose.name,
        start=start,
        end=end,
        duty="feed",
        hose=hose.name,
        fittings=0.0,
        valve_flow=None,
        straight=None,
    )


def _hose(hose: PlantedHose) -> Hose:
    return Hose(
        name=hose.name,
        bore=hose.half,
        outside_diameter=2 * hose.half,
        min_bend_radius=hose.radius,
        bend_radius_at="centre",
        pressure_rating=1e6,
        wall="reinforced",
        roughness=1e-6,
        sold=Sold(by="metre", lengths=(), prices=()),
    )


# --- as result.json tells it ------------------------------------------------------------------


def told(made: Ready, routes: list[Routed | None], bounds: list[float]) -> dict[str, Any]:
    """The part of a result the route checker reads, for all routed hoses."""
    hoses = []
    for hose, routed, bound in zip(made.problem.hoses, routes, bounds, strict=True):
        if routed is None:
            continue
        legs = [{"start": leg.start, "end": leg.end} for leg in legs_of(routed.curve)]
        bends = [
            {
                key: getattr(bend, key)
                for key in ("centre", "normal", "radius", "angle", "start", "end")
            }
            for bend in bends_of(routed.curve)
        ]
        path = routed.curve.sample(PATH_STEP)
        hoses.append(_told(made.problem, hose, legs, bends, path, routed.curve.length, bound))
    return _whole(made.problem, hoses)


def told_planted(problem: Problem) -> dict[str, Any]:
    """The same for the planted curves."""
    hoses = []
    for hose in problem.hoses:
        legs = [{"start": a, "end": b} for a, b in hose.curve.legs()]
        path, _ = hose.curve.sample(PATH_STEP)
        bends = hose.curve.bends()
        hoses.append(_told(problem, hose, legs, bends, path, hose.curve.length, 0.0))
    return _whole(problem, hoses)


def _told(  # noqa: PLR0913, PLR0917
    problem: Problem,
    hose: PlantedHose,
    legs: list[dict[str, Any]],
    bends: list[dict[str, Any]],
    path: Points,
    length: float,
    bound: float,
) -> dict[str, Any]:
    curve: Planted = hose.curve
    hole = problem.hole
    return {
        "line": hose.name,
        "routed": True,
        "from": f"{hose.owners[0]}.{hose.name} 0",
        "to": f"{hose.owners[1]}.{hose.name} 1",
        "legs": legs,
        "bends": bends,
        "path": path,
        "length": length,
        "bound": bound,
        "smallest_bend_radius": min((bend["radius"] for bend in bends), default=None),
        "required_bend_radius": hose.radius,
        "clearance": -math.inf,
        "required_clearance": problem.clearance,
        "outside_diameter": 2 * hose.half,
        "start": curve.corners[0],
        "start_direction": curve.ways[0],
        "end": curve.corners[-1],
        "end_direction": curve.ways[-1],
        "straight": problem.straight,
        "holes": [] if hole is None else [
            {"centre": hole.centre, "direction": hole.direction, "diameter": hole.diameter,
             "name": "hole"}
        ],
    }  # fmt: skip


def _whole(problem: Problem, hoses: list[dict[str, Any]]) -> dict[str, Any]:
    modules = [
        {"name": name, "corners": box.corners(), "service": []}
        for name, box in problem.boxes.items()
    ]
    return {"hoses": hoses, "modules": modules, "allowances": {"hose_gap": problem.gap}}
