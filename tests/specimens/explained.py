"""The calculations of a plant, and a requested one."""

from __future__ import annotations

import math

from fitcheck.hydraulics import explain_water, solve_water
from fitcheck.model.found.explanation import Explanation, Step
from fitcheck.model.found.routes import Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario

#: Functions available when a step is typed in.
TYPED = {name: getattr(math, name) for name in ("pi", "sin", "cos", "log", "sqrt", "exp", "ceil")}
TYPED |= {"max": max, "abs": abs}


def typed_in(step: Step) -> float:
    """Result of evaluating the numbers of a step."""
    return float(eval(step.numbers, {"__builtins__": {}}, TYPED))


def explain_line(
    of: Scenario, space: Space, routes: Routes, line: str, state: str = ""
) -> Explanation:
    """The loss of a line in a state, by default the one with the highest loss."""
    return next(
        row
        for row in explain_water(of, space, routes, ())
        if row.names == (line,) and row.state is not None and state in ("", row.state.name)
    )


def explain_judged(
    of: Scenario, space: Space, routes: Routes, name: str, number: str
) -> Explanation:
    """A number as it is judged."""
    rows = solve_water(of, space, routes).governing
    return next(
        row
        for row in explain_water(of, space, routes, rows)
        if name in row.names and row.number == number
    )
