"""Losses at the ends of a hose whose tails are narrower than the hose.

Each end contracts the flow into the tail and lets it expand again; both losses and the friction of
the tail itself refer to the velocity in the reduced bore.

References
----------
Rennels and Hudson (2012), Pipe Flow, ch. 10, sharp-edged contraction (by fluids).
Borda and Carnot, sudden expansion: (1 - area ratio) ** 2, exact for a momentum balance.
"""

from __future__ import annotations

import fluids

from fitcheck.hydraulics.physics.losses import friction_factor, reynolds, velocity, velocity_head
from fitcheck.hydraulics.physics.seawater import Water
from fitcheck.units import CubicMetrePerSecond, Metre, Pascal, Ratio

#: Length assumed for a tail of which only the bore is given (common practice, no source).
TAIL_LENGTH: Metre = 0.030
#: Ends of a hose.
ENDS = 2


def contraction_coefficient(bore: Metre, tail_bore: Metre) -> Ratio:
    """Loss coefficient of the contraction, on the velocity in the tail [1]; turbulent flow.

    Higher than the older 0.42 (1 - ratio ** 2) or 0.5 (1 - ratio ** 2): at half the bore 0.50
    against 0.32 and 0.38.
    """
    return float(fluids.contraction_sharp(Di1=bore, Di2=tail_bore))


def expansion_coefficient(bore: Metre, tail_bore: Metre) -> Ratio:
    """Loss coefficient of the expansion, on the velocity in the tail [1]."""
    return (1.0 - (tail_bore / bore) ** 2) ** 2


def tail_coefficients(
    flow: CubicMetrePerSecond, bore: Metre, tail_bore: Metre, roughness: Metre, water: Water
) -> tuple[Ratio, Ratio, Ratio]:
    """Contraction, friction and expansion of one tail, on the velocity in it [1]."""
    factor = friction_factor(reynolds(flow, tail_bore, water), roughness / tail_bore)
    return (
        contraction_coefficient(bore, tail_bore),
        factor * TAIL_LENGTH / tail_bore,
        expansion_coefficient(bore, tail_bore),
    )


def tails_loss(
    flow: CubicMetrePerSecond, bore: Metre, tail_bore: Metre, roughness: Metre, water: Water
) -> Pascal:
    """Losses of both ends of a hose at a positive flow [Pa]; 0 if no tail is narrower."""
    if tail_bore >= bore:
        return 0.0
    dynamic = velocity_head(velocity(flow, tail_bore), water.density)
    return ENDS * sum(tail_coefficients(flow, bore, tail_bore, roughness, water)) * dynamic
