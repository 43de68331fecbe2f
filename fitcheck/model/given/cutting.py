"""Cut and order lengths of hoses: the rules shared by routing and order.

Low pressure: the routed length, an end allowance onto each tail or into each fitting, a service
slack of some percent and at least 20 mm, and the uncertainty of the length, rounded up. High
pressure: an assembly is measured from face to face and may shorten by some percent under pressure,
so it is ordered longer by that and by the uncertainty of the length, rounded up to 10 mm up to
1.25 m, 20 mm up to 2.5 m and 50 mm above. All common practice, no source (hydraulic hose is said
to change its length by +2 to -4 % under pressure).
"""

from __future__ import annotations

import math

from fitcheck.model.given.kit import Allowances, Hose, Line
from fitcheck.units import Metre

LEAST_SLACK: Metre = 0.020
#: Assemblies up to this length are rounded up to that step.
ASSEMBLY_STEPS: tuple[tuple[Metre, Metre], ...] = ((1.25, 0.010), (2.50, 0.020), (math.inf, 0.050))
#: Ignored when rounding up: a tenth of the width of a saw cut [m].
NOTHING: Metre = 1e-6


def is_assembly(line: Line, hose: Hose) -> bool:
    """Whether the hose comes made up with its ends on."""
    return hose.sold.by == "assembly" or line.duty == "high pressure"


def rounded_up(length: Metre, step: Metre) -> Metre:
    """The next multiple of `step` [m]; with no step the length itself."""
    if step <= 0.0:
        return length
    return round(math.ceil((length - NOTHING) / step) * step, 9)


def assembly_step(length: Metre) -> Metre:
    """The rounding step of an assembly of this length [m]."""
    return next(step for most, step in ASSEMBLY_STEPS if length <= most + NOTHING)


def service_slack(routed: Metre, allowances: Allowances) -> Metre:
    """Excess of a cut tube over its routed length, without the ends."""
    return max(allowances.slack * routed, LEAST_SLACK)


def tube_length(routed: Metre, allowances: Allowances, unsure: Metre = 0.0) -> Metre:
    """Cut length of a tube whose true routed length may be longer by `unsure`."""
    whole = routed + unsure + 2 * allowances.end_allowance + service_slack(routed, allowances)
    return rounded_up(whole, allowances.rounding)


def assembly_length(routed: Metre, allowances: Allowances, unsure: Metre = 0.0) -> Metre:
    """Order length of an assembly for a routed length, face to face."""
    whole = (routed + unsure) * (1.0 + allowances.high_pressure_slack)
    return rounded_up(whole, assembly_step(whole))


def lasting_length(
    routed: Metre, line: Line, allowances: Allowances, unsure: Metre = 0.0
) -> Metre:
    """The length for which a high-pressure hose still reaches after it has shortened."""
    least = assembly_length(routed, allowances, unsure)
    if line.duty != "high pressure":
        return least
    whole = max(least, (routed + unsure) / (1.0 - allowances.high_pressure_slack))
    return rounded_up(whole, assembly_step(whole))
