"""The program: six calls in order."""

from __future__ import annotations

from pathlib import Path

from fitcheck.fit import check_fit
from fitcheck.hydraulics import solve_water
from fitcheck.model.finding import Tell, silent
from fitcheck.model.fit import Fit
from fitcheck.model.result import Result
from fitcheck.model.routes import Routes
from fitcheck.model.scenario import Scenario
from fitcheck.model.space import Space
from fitcheck.order import make_order
from fitcheck.routing import route_hoses
from fitcheck.scenario import read_scenario
from fitcheck.space import survey


def run(file: Path, tell: Tell = silent) -> Result:
    """Check one scenario: from its file to everything there is to say about it.

    Raises ScenarioError or MeshError for bad input, ConvergenceError if the numbers fail;
    a box that does not fit, a hose without a way and a starved pump are results.
    """
    scenario, space, fit, routes = lay_out(file, tell)
    hydraulics = solve_water(scenario, space, routes, tell)
    order = make_order(scenario, routes, hydraulics)
    return Result(
        scenario=scenario, space=space, fit=fit, routes=routes, hydraulics=hydraulics, order=order
    )


def lay_out(file: Path, tell: Tell = silent) -> tuple[Scenario, Space, Fit, Routes]:
    """The same as far as the hoses are routed: boxes and hoses in the boat, no water yet."""
    scenario = read_scenario(file)
    space = survey(scenario, tell)
    fit = check_fit(scenario, space, tell)
    return scenario, space, fit, route_hoses(scenario, space, fit, tell)
