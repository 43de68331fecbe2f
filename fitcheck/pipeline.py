"""The program: six calls in order."""

from __future__ import annotations

from pathlib import Path

from fitcheck.fit import check_fit
from fitcheck.hydraulics import solve_water
from fitcheck.model.finding import Tell, silent
from fitcheck.model.result import Result
from fitcheck.order import make_order
from fitcheck.routing import route_hoses
from fitcheck.scenario import read_scenario
from fitcheck.space import survey


def run(file: Path, tell: Tell = silent) -> Result:
    """Check one scenario: from its file to everything there is to say about it.

    Raises ScenarioError or MeshError for bad input, ConvergenceError if the numbers fail;
    a box that does not fit, a hose without a way and a starved pump are results.
    """
    scenario = read_scenario(file)
    space = survey(scenario, tell)
    fit = check_fit(scenario, space, tell)
    routes = route_hoses(scenario, space, fit, tell)
    hydraulics = solve_water(scenario, space, routes, tell)
    order = make_order(scenario, routes, hydraulics)
    return Result(
        scenario=scenario, space=space, fit=fit, routes=routes, hydraulics=hydraulics, order=order
    )
