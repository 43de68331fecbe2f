"""Rooms and lines for clips, routes along structure and air traps; results for the checker."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.kit import Duty, Line
from fitcheck.model.given.scenario import Scenario
from tests import specimens
from tests.route_checker import check_among
from tests.specimens.routing import CLEARANCE, OUTSIDE, line, only, port, routed

Points = NDArray[np.float64]


def one_line(duty: Duty = "feed", **changes: Any) -> Line:
    """A line from boat.a to boat.b."""
    return replace(line("l", "boat.a", "boat.b", duty=duty), **changes)


def with_ports(space: Space, start: tuple[Any, Any], end: tuple[Any, Any]) -> Space:
    """The space with ports a and b, each a position and an outward direction."""
    return replace(space, ports=(port("a", *start), port("b", *end)))


def laid(scenario: Scenario, space: Space) -> tuple[HoseRoute, Routes]:
    """The one hose of a scenario, also checked by the independent checker."""
    routes = routed(scenario, space)
    hose = only(routes)
    assert check_among(as_result(scenario, routes), space.triangles) == []
    return hose, routes


def as_result(scenario: Scenario, routes: Routes) -> dict[str, Any]:
    """The input of the checker for a result."""
    return {
        "allowances": {"hose_gap": scenario.kit.allowances.hose_gap},
        "modules": [],
        "hoses": [
            _as_data(scenario, hose) for hose in routes.hoses if isinstance(hose, HoseRoute)
        ],
    }


def _as_data(scenario: Scenario, hose: HoseRoute) -> dict[str, Any]:
    named = scenario.kit.line(hose.line)
    plain = {name: getattr(hose, name) for name in hose.__dataclass_fields__}
    return plain | {
        "routed": True,
        "duty": named.duty,
        "from": str(named.start),
        "to": str(named.end),
        "holes": [],
        "legs": [{"start": leg.start, "end": leg.end} for leg in hose.legs],
        "bends": [
            {name: getattr(bend, name) for name in bend.__dataclass_fields__}
            for bend in hose.bends
        ],
        "path": hose.path.tolist(),
    }


def along_path(hose: HoseRoute) -> tuple[Points, Points]:
    """Points of a route's path and the position of each along it, with bends as chords."""
    s = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(hose.path, axis=0), axis=1))])
    return hose.path, s * hose.length / s[-1]


def to_room(points: Points) -> Points:
    """Distance of points to the walls of the plain room."""
    walls = np.stack([points - np.array(specimens.LOW), np.array(specimens.HIGH) - points], -1)
    return walls.min(axis=(-1, -2))


__all__ = [
    "CLEARANCE",
    "OUTSIDE",
    "along_path",
    "as_result",
    "laid",
    "one_line",
    "to_room",
    "with_ports",
]
