"""The program: six calls in order."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from fitcheck.fit import check_fit
from fitcheck.hydraulics import solve_water
from fitcheck.model.finding import Tell, silent
from fitcheck.model.fit import Fit
from fitcheck.model.hydraulics import Hydraulics
from fitcheck.model.result import Result
from fitcheck.model.routes import Unrouted
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
    scenario = read_scenario(file)
    space = survey(scenario, tell)
    fit = check_fit(scenario, space, tell)
    routes = route_hoses(scenario, space, fit, tell)
    hydraulics = solve_water(scenario, space, routes, tell, trial(space, fit))
    order = make_order(scenario, routes, hydraulics)
    return Result(
        scenario=scenario, space=space, fit=fit, routes=routes, hydraulics=hydraulics, order=order
    )


def trial(space: Space, before: Fit) -> Callable[[Scenario], Hydraulics | None]:
    """A function that tries a changed scenario in the same space: boxes, hoses, water.

    It returns None where a box that fitted no longer does, or a hose finds no way.
    """
    told = {(row.rule, row.subject) for row in before.findings if row.severity == "fail"}

    def again(scenario: Scenario) -> Hydraulics | None:
        fit = check_fit(scenario, space)
        fails = {(row.rule, row.subject) for row in fit.findings if row.severity == "fail"}
        routes = None if fails - told else route_hoses(scenario, space, fit)
        if routes is None or any(isinstance(hose, Unrouted) for hose in routes.hoses):
            return None
        return solve_water(scenario, space, routes)

    return again
