"""Planted sets selected for pictures.

The manifold has seven hoses side by side, each to a place of its own. In the other, seven of
eleven hoses pass one hole of the bulkhead at x = -0.283 m.
"""

from __future__ import annotations

from fitcheck.model.finding import silent
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.sets import route_all
from tests.planted.problem import Ready, ready
from tests.planted.problems import crowd

#: Seeds of tests.planted.problems.crowd.
PICTURED = {"a crowded manifold": 10_006, "a bundle through one hole": 10_000}


def laid(name: str) -> tuple[Ready, list[Routed]]:
    """A set worth a picture and its hoses; `problem` and `space` of the first hold what stands."""
    made = ready(crowd(PICTURED[name]))
    outcomes = route_all(made.obstacles, made.jobs, silent)
    return made, [outcome for outcome in outcomes if isinstance(outcome, Routed)]
