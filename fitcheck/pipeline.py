"""The program: six calls in order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from fitcheck.fit import check_fit
from fitcheck.hydraulics import solve_water
from fitcheck.model.finding import Tell, silent
from fitcheck.model.fit import Fit
from fitcheck.model.hydraulics import Hydraulics
from fitcheck.model.result import Result
from fitcheck.model.routes import Unrouted
from fitcheck.model.scenario import Placement, Scenario
from fitcheck.model.space import Space
from fitcheck.order import make_order
from fitcheck.routing import Recall, route_hoses
from fitcheck.scenario import read_scenario, save_moved
from fitcheck.space import UNSEEN_NEAR, on_nearby, survey


def run(file: Path, tell: Tell = silent) -> Result:
    """Check one scenario: from its file to everything there is to say about it.

    Raises ScenarioError or MeshError for bad input, ConvergenceError if the numbers fail;
    a box that does not fit, a hose without a way and a starved pump are results.
    """
    scenario = read_scenario(file)
    space = survey(scenario, tell)
    return _checked(scenario, space, tell, Recall())


def _checked(scenario: Scenario, space: Space, tell: Tell, recall: Recall) -> Result:
    fit = check_fit(scenario, space, tell)
    routes = route_hoses(scenario, space, fit, tell, recall)
    hydraulics = solve_water(scenario, space, routes, tell, trial(space, fit, recall))
    order = make_order(scenario, space, routes, hydraulics)
    # Told last, since it needs boxes and hoses; a layout settled again is told anew.
    told = tuple(row for row in space.findings if row.rule != UNSEEN_NEAR)
    space = replace(space, findings=told + on_nearby(space, fit, routes))
    return Result(
        scenario=scenario, space=space, fit=fit, routes=routes, hydraulics=hydraulics, order=order
    )


def trial(
    space: Space, before: Fit, recall: Recall | None = None
) -> Callable[[Scenario], Hydraulics | None]:
    """A function that tries a changed scenario in the same space: boxes, hoses, water.

    It returns None where a box that fitted no longer does, or a hose finds no way.
    """
    told = {(row.rule, row.subject) for row in before.findings if row.severity == "fail"}
    recall = recall or Recall()

    def again(scenario: Scenario) -> Hydraulics | None:
        fit = check_fit(scenario, space)
        fails = {(row.rule, row.subject) for row in fit.findings if row.severity == "fail"}
        if fails - told:
            return None
        routes = route_hoses(scenario, space, fit, recall=recall, wander=False)
        if any(isinstance(hose, Unrouted) for hose in routes.hoses):
            return None
        return solve_water(scenario, space, routes, full=False)

    return again


class Tryout:
    """A scenario whose modules can be put elsewhere: only what a move disturbs is routed again."""

    def __init__(self, file: Path, tell: Tell = silent) -> None:
        self.file, self._tell = file, tell
        self._recall = Recall()
        self.result = self.reread()

    def reread(self) -> Result:
        """The scenario as its files have it now."""
        scenario = read_scenario(self.file)
        space = survey(scenario, self._tell)
        self.result = _checked(scenario, space, self._tell, self._recall)
        return self.result

    def settle(self) -> Result:
        """The layout as it stands with everything there is to say, remedies and wander too."""
        self.result = _checked(self.result.scenario, self.result.space, silent, self._recall)
        return self.result

    def save(self) -> Path:
        """Write the layout as it stands beside its files; raises FitcheckError if that fails."""
        return save_moved(self.file, self.result.scenario)

    def move(self, placement: Placement) -> Result:
        """The result with one module elsewhere, without remedies, envelope and wander.

        Lengths, bounds, clearances and verdicts are those of a check of the whole layout.
        """
        scenario, space = with_placement(self.result.scenario, placement), self.result.space
        fit = check_fit(scenario, space, mend=False)
        routes = route_hoses(scenario, space, fit, recall=self._recall, wander=False)
        hydraulics = solve_water(scenario, space, routes, full=False)
        order = make_order(scenario, space, routes, hydraulics)
        self.result = Result(
            scenario=scenario,
            space=space,
            fit=fit,
            routes=routes,
            hydraulics=hydraulics,
            order=order,
        )
        return self.result


def with_placement(scenario: Scenario, placement: Placement) -> Scenario:
    """The scenario with one module elsewhere."""
    placements = tuple(
        placement if row.module == placement.module else row for row in scenario.layout.placements
    )
    return replace(scenario, layout=replace(scenario.layout, placements=placements))
