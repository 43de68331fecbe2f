"""One hose in a hand-made compartment, and any curve of it in the form of result.json."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.model.found.fit import Fit, ModuleFit
from fitcheck.model.found.space import Space
from fitcheck.model.given.kit import Hose, Module, Port
from fitcheck.model.given.scenario import Placement, Scenario
from fitcheck.routing.lay.line import Routed, route_line
from fitcheck.routing.lay.port_fittings import with_offers
from fitcheck.routing.told.pieces import bends_of, legs_of
from fitcheck.routing.world.obstacles import Obstacles, gather
from fitcheck.routing.world.ports import Job, make_jobs
from tests import specimens
from tests.route_checker import check_among
from tests.specimens.routing import asked, fit_of, line, modules_of, port

Points = NDArray[np.float64]
Corner = tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Ground:
    """A compartment prepared for routing."""

    scenario: Scenario
    space: Space
    fit: Fit
    obstacles: Obstacles
    jobs: tuple[Job, ...]

    def route(self, number: int = 0) -> Routed:
        """The shortest route of one line."""
        found = route_line(self.obstacles, self.jobs[number], ())
        assert isinstance(found, Routed), found.reason
        return found

    def faults(self, routed: Routed) -> list[str]:
        """Faults of a curve found by the independent checker."""
        return check_among(told(routed, self.fit), self.space.triangles)


def ground(scenario: Scenario, space: Space, *modules: ModuleFit) -> Ground:
    """A hand-made compartment with its modules."""
    fit = fit_of(*modules)
    obstacles = gather(space, fit)
    jobs = with_offers(scenario, make_jobs(scenario, space))
    return Ground(scenario, space, fit, obstacles, jobs)


def between(first: Corner, leaves: Corner, last: Corner, arrives: Corner, **more: Any) -> Ground:
    """One line between two ports of the boat; `arrives` points out of the second one."""
    ports = (port("a", first, leaves), port("b", last, arrives))
    space = specimens.hand_made_space(pitch=0.015, ports=ports, **more)
    return ground(asked([line("run", "boat.a", "boat.b")]), space)


def with_module(
    low: Corner,
    high: Corner,
    ports: tuple[Port, ...],
    scenario: Scenario,
    space: Space,
) -> Ground:
    """A scenario with one module `pump` between two corners added."""
    a, b = np.array(low), np.array(high)
    base = as_point(np.array([*(a + b)[:2] / 2, a[2]]))
    module = Module(
        name="pump",
        size=as_point(b - a),
        mass=1.0,
        stands="any",
        ports=ports,
        service=(),
    )
    kit = replace(scenario.kit, modules=(module,))
    place = Placement(module="pump", at=base, rotate=(0.0, 0.0, 0.0))
    layout = replace(scenario.layout, placements=(place,))
    whole = replace(scenario, kit=kit, layout=layout)
    return ground(whole, space, *modules_of(("pump", low, high)))


def module_port(name: str, at: Corner, way: Corner, **more: Any) -> Port:
    """A port in the module frame."""
    plain = Port(name=name, at=at, direction=way, connection="hose tail", thread="", joins="")
    return replace(plain, **more)


def told(routed: Routed, fit: Fit) -> dict[str, Any]:
    """The input of the independent checker for one hose."""
    job, curve = routed.job, routed.curve
    legs = [{"start": leg.start, "end": leg.end} for leg in legs_of(curve)]
    keys = ("centre", "normal", "radius", "angle", "start", "end")
    bends = [{key: getattr(bend, key) for key in keys} for bend in bends_of(curve)]
    hose = {
        "line": job.line.name,
        "routed": True,
        "from": job.start.name,
        "to": job.end.name,
        "legs": legs,
        "bends": bends,
        "path": curve.sample(0.005),
        "length": curve.length,
        "bound": 0.0,
        "smallest_bend_radius": curve.radius if bends else None,
        "required_bend_radius": job.radius,
        "clearance": -np.inf,
        "required_clearance": job.clearance,
        "outside_diameter": job.hose.outside_diameter,
        "start": job.start.at,
        "start_direction": job.start.way,
        "end": job.end.at,
        "end_direction": -job.end.way,
        "straight": job.start.straight,
        "holes": [],
    }
    modules = [
        {"name": module.name, "corners": module.box.corners(), "service": []}
        for module in fit.modules
    ]
    return {"hoses": [hose], "modules": modules, "allowances": {"hose_gap": job.gap}}


def sold_as(hose: Hose, *lengths: float) -> Hose:
    """The hose sold as assemblies of these lengths."""
    return replace(hose, sold=replace(hose.sold, by="assembly", lengths=lengths))
