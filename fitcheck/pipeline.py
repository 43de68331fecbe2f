"""The program: its steps, in order."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from datetime import date
from pathlib import Path

from fitcheck.errors import FitcheckError, MeshError
from fitcheck.findings.causes import OF_ALL
from fitcheck.fit import check_fit, explain_gaps, mend_fit, stands_lower
from fitcheck.hydraulics import explain_water, find_ranges, mend_water, solve_water
from fitcheck.kept import keep_explanations, keep_result, keep_space, kept_space
from fitcheck.model.finding import Finding, Tell, silent
from fitcheck.model.found.explanation import Explanation
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.found.routes import Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Placement, Scenario
from fitcheck.model.result import Result
from fitcheck.order import explain_cuts, make_order
from fitcheck.routing import Recall, allow_wander, play_unknown, route_hoses
from fitcheck.scenario import read_scenario, save_moved
from fitcheck.space import explain_scale, long_search, on_frame, on_nearby, survey


def run(file: Path, tell: Tell = silent) -> Result:
    """Check one scenario: from its file to the full result.

    Raises ScenarioError or MeshError for bad input, ConvergenceError if the numbers fail; a box
    that does not fit, a hose without a route and a starved pump are results.
    """
    return run_read(read_scenario(file), tell)


def run_read(scenario: Scenario, tell: Tell = silent) -> Result:
    """Check a scenario that has already been read; the results are cached."""
    return _kept(_checked(scenario, _surveyed(scenario, tell), tell, Recall()))


def _kept(result: Result) -> Result:
    """The same result, cached with the calculations of its numbers."""
    keep_result(result)
    with suppress(FitcheckError):
        keep_explanations(result.scenario.inputs, explain(result))
    return result


def explain(result: Result) -> tuple[Explanation, ...]:
    """The calculations of every judged number of a result."""
    scenario, space, routes = result.scenario, result.space, result.routes
    return (
        *explain_water(scenario, space, routes, result.hydraulics.governing),
        *explain_gaps(space, result.fit),
        *explain_cuts(scenario, space, routes, result.order),
        explain_scale(scenario.boat),
    )


def _surveyed(scenario: Scenario, tell: Tell) -> Space:
    """The space, cached by an earlier run with the same boat and mesh, else surveyed."""
    space = kept_space(scenario)
    if space is not None:
        tell("Boat and mesh are as in an earlier run: its cells are opened")
        grid = space.lattice.grid
        if slow := long_search(grid.cells, grid.pitch):
            tell(slow)
        return space
    try:
        space = survey(scenario, tell)
    except MeshError as error:
        line = scenario.line(error.key)
        raise error.located(scenario.boat_file, line) from error
    keep_space(scenario, space)
    return space


def _checked(
    scenario: Scenario, space: Space, tell: Tell, recall: Recall, *, moved: bool = False
) -> Result:
    """Boxes, hoses, water, order, and the steps between them, which a box moved by hand skips."""
    near: tuple[Finding, ...] = ()

    fit = check_fit(scenario, space, tell)
    routes = route_hoses(scenario, space, fit, tell, recall)
    if moved:
        # Until the mounting tolerance is known, no hose may be ordered.
        routes = replace(routes, findings=routes.findings + play_unknown(routes))
    else:
        # Assemblies may get longer here, which the water side has to take into account.
        routes = allow_wander(scenario, space, fit, recall, tell)
    hydraulics = solve_water(scenario, space, routes, tell)
    frame = on_frame(scenario, space)
    # Positions and hoses proposed in a wrong frame or at a wrong scale would be wrong themselves.
    wrong = any(row.rule in OF_ALL and row.severity == "fail" for row in frame + space.findings)
    if not moved and not wrong:
        tried = trial(scenario, space, fit, routes, recall)
        lower = stands_lower(scenario, space)
        fit = mend_fit(scenario, space, fit, tell)
        hydraulics = mend_water(scenario, space, routes, hydraulics, tried, lower, tell)
        hydraulics = find_ranges(scenario, space, routes, hydraulics, tell)
    if not moved:
        near = on_nearby(space, fit, routes)
    # Hoses that a remedy changes are marked in the order.
    order = make_order(scenario, space, routes, hydraulics)
    return Result(
        scenario=scenario,
        space=space,
        fit=fit,
        routes=routes,
        hydraulics=hydraulics,
        order=order,
        near=near,
        frame=frame,
        date=date.today().isoformat(),
    )


def trial(
    before: Scenario, space: Space, fit: Fit, routes: Routes, recall: Recall | None = None
) -> Callable[[Scenario], Hydraulics | None]:
    """A function that tests a changed scenario in the same space: boxes, hoses, water, order.

    It returns None if boxes, hoses or order have a new fail, or a new bar to a step; the rules of
    the water side judge its own changes.
    """
    recall = recall or Recall()

    def again(scenario: Scenario) -> Hydraulics | None:
        stood = check_fit(scenario, space)
        if _worse(fit.findings, stood.findings):
            return None
        laid = route_hoses(scenario, space, stood, recall=recall)
        if _worse(routes.findings, laid.findings):
            return None
        water = solve_water(scenario, space, laid)
        # The findings of an order depend on the lengths alone, so one water side serves for both.
        orders = (
            make_order(before, space, routes, water),
            make_order(scenario, space, laid, water),
        )
        return None if _worse(*(order.findings for order in orders)) else water

    return again


def _worse(before: Iterable[Finding], after: Iterable[Finding]) -> bool:
    """Whether there is a new fail, or a rule newly bars a step."""
    old = tuple(before)
    fails = {(row.rule, row.subject) for row in old if row.severity == "fail"}
    barred = {row.rule for row in old if row.bars or row.severity == "fail"}
    return any(
        (row.rule, row.subject) not in fails
        if row.severity == "fail"
        else bool(row.bars) and row.rule not in barred
        for row in after
    )


class Tryout:
    """A scenario whose modules can be moved: only what a move affects is re-routed."""

    def __init__(self, file: Path, tell: Tell = silent, result: Result | None = None) -> None:
        """`result` is that of the unchanged file, if it was calculated before."""
        self.file, self._tell = file, tell
        self._recall = Recall()
        self.result = result or _kept(self.reread())

    def reread(self) -> Result:
        """The scenario as its files are now."""
        scenario = read_scenario(self.file)
        space = _surveyed(scenario, self._tell)
        self.result = _checked(scenario, space, self._tell, self._recall)
        return self.result

    def settle(self) -> Result:
        """The current layout with all results, including remedies and mounting tolerance."""
        self.result = _checked(self.result.scenario, self.result.space, silent, self._recall)
        return self.result

    def save(self) -> Path:
        """Write the current layout next to its files; raises FitcheckError if that fails."""
        return save_moved(self.file, self.result.scenario)

    def move(self, placement: Placement) -> Result:
        """The result with one module elsewhere, without remedies, ranges and mounting tolerance.

        Routes, bounds and clearances are those of a check of the whole layout. An assembly may get
        longer once the mounting tolerance is known, so until then no hose may be ordered.
        """
        scenario = with_placement(self.result.scenario, placement)
        space = self.result.space
        if any(check.of == placement.module for check in scenario.boat.checked):
            space = _surveyed(scenario, silent)  # what was checked for it lapses
        self.result = _checked(scenario, space, silent, self._recall, moved=True)
        return self.result


def with_placement(scenario: Scenario, placement: Placement) -> Scenario:
    """The scenario with one module elsewhere."""
    placements = tuple(
        placement if row.module == placement.module else row for row in scenario.layout.placements
    )
    return replace(scenario, layout=replace(scenario.layout, placements=placements))
