"""A stage and the remedy steps of a whole check, in one call."""

from __future__ import annotations

from fitcheck.fit import check_fit, mend_fit
from fitcheck.hydraulics import find_ranges, mend_water, solve_water
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.found.routes import Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario


def mended_fit(scenario: Scenario, space: Space) -> Fit:
    """Every module judged, with remedies where one fails."""
    return mend_fit(scenario, space, check_fit(scenario, space))


def mended_water(scenario: Scenario, space: Space, routes: Routes, *tries: object) -> Hydraulics:
    """The water side with its remedies and ranges; tries: further arguments of `mend_water`."""
    water = solve_water(scenario, space, routes)
    water = mend_water(scenario, space, routes, water, *tries)  # type: ignore[arg-type]
    return find_ranges(scenario, space, routes, water)
