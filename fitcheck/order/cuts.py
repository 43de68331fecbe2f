"""How long to cut each hose.

Low pressure: the routed length, an end allowance onto each tail or into each fitting, a service
slack of some percent and at least 20 mm, rounded up. High pressure: an assembly is measured from
face to face and may shorten by some percent under pressure, so it is ordered that much longer,
rounded up to 10 mm up to 1.25 m, 20 mm up to 2.5 m and 50 mm above. All common practice, no source
(hydraulic hose is said to change its length by +2 to -4 % under pressure).
"""

from __future__ import annotations

import math

from fitcheck.model.order import Cut
from fitcheck.model.routes import HoseRoute
from fitcheck.model.scenario import Allowances, Hose, Line
from fitcheck.units import Metre, show

LEAST_SLACK: Metre = 0.020
#: Assemblies up to this length are rounded up to that step.
ASSEMBLY_STEPS: tuple[tuple[Metre, Metre], ...] = ((1.25, 0.010), (2.50, 0.020), (math.inf, 0.050))
#: What does not count when rounding up: a tenth of the width of a saw cut [m].
_NOTHING: Metre = 1e-6


def cut_of(route: HoseRoute, line: Line, hose: Hose, allowances: Allowances) -> Cut:
    """The piece a routed line needs, and how its length came about in words."""
    length, because = (
        _assembly(route.length, allowances)
        if is_assembly(line, hose)
        else _tube(route.length, allowances)
    )
    return Cut(
        line=route.line,
        hose=hose.name,
        routed_length=route.length,
        cut_length=length,
        because=because,
    )


def is_assembly(line: Line, hose: Hose) -> bool:
    """Whether the hose comes made up with its ends on."""
    return hose.sold.by == "assembly" or line.duty == "high pressure"


def rounded_up(length: Metre, step: Metre) -> Metre:
    """The next whole multiple of `step` [m]; with no step the length itself."""
    if step <= 0.0:
        return length
    return round(math.ceil((length - _NOTHING) / step) * step, 9)


def assembly_step(length: Metre) -> Metre:
    """What an assembly of this length is rounded up to [m]."""
    return next(step for most, step in ASSEMBLY_STEPS if length <= most + _NOTHING)


def _tube(routed: Metre, allowances: Allowances) -> tuple[Metre, str]:
    slack = max(allowances.slack * routed, LEAST_SLACK)
    whole = routed + 2 * allowances.end_allowance + slack
    return rounded_up(whole, allowances.rounding), (
        f"{show(routed, 'run')} routed, {show(allowances.end_allowance, 'length')} at each end, "
        f"{show(slack, 'length')} slack, rounded up to {show(allowances.rounding, 'length')}"
    )


def _assembly(routed: Metre, allowances: Allowances) -> tuple[Metre, str]:
    whole = routed * (1.0 + allowances.high_pressure_slack)
    step = assembly_step(whole)
    return rounded_up(whole, step), (
        f"{show(routed, 'run')} routed, {show(allowances.high_pressure_slack, 'fraction')} for "
        f"shortening under pressure, rounded up to {show(step, 'length')}; face to face, ends "
        "included"
    )
