"""Friction in a coiled hose, where the curvature suppresses turbulence and increases the loss.

References
----------
Schmidt (1967), Chemie Ingenieur Technik 39, 781-789: critical Reynolds number (by fluids).
White (1929), Streamline flow through curved pipes, Proceedings of the Royal Society A 123: laminar
friction (by fluids).
Mori and Nakayama (1967), Study on forced convective heat transfer in curved pipes, International
Journal of Heat and Mass Transfer 10: turbulent friction (by fluids).
"""

from __future__ import annotations

from fluids.friction import (
    Clamond,
    helical_laminar_fd_White,
    helical_transition_Re_Schmidt,
    helical_turbulent_fd_Mori_Nakayama,
)

from fitcheck.hydraulics.physics.losses import friction_factor, reynolds, velocity, velocity_head
from fitcheck.hydraulics.physics.seawater import Water
from fitcheck.model.given.kit import Coil
from fitcheck.units import CubicMetrePerSecond, Metre, Pascal, Ratio

#: Laminar friction changes to turbulent over this share of the critical Reynolds number.
_OVER: Ratio = 0.1
#: Diameter of the narrowest coil, in bores: no hose can be bent tighter.
_TIGHTEST: Ratio = 4.0


def critical_reynolds(bore: Metre, diameter: Metre) -> Ratio:
    """Reynolds number up to which the flow in a coil stays laminar [1]."""
    return float(helical_transition_Re_Schmidt(Di=bore, Dc=diameter))


def coil_friction_factor(
    reynolds_number: Ratio, bore: Metre, diameter: Metre, roughness: Metre
) -> Ratio:
    """Darcy friction factor in a coil, continuous and never below that of straight hose [1].

    Notes
    -----
    White up to the critical Reynolds number, Mori and Nakayama above, linear between them over a
    tenth of it. The two agree there within 5 % and are within 5 % of Ito's 1959 law for bore /
    diameter 0.01 to 0.1, Re to 1e5; Schmidt's own friction laws are 20 to 60 % above all of them
    near the transition. Both are for smooth walls: the increase due to roughness of a straight
    hose is added.
    """
    if reynolds_number <= 0.0:
        raise ValueError("the Reynolds number must be positive")
    diameter = max(diameter, _TIGHTEST * bore)
    critical = critical_reynolds(bore, diameter)
    first = (1.0 + _OVER) * critical
    if reynolds_number <= critical:
        curved = _laminar(reynolds_number, bore, diameter)
    elif reynolds_number < first:
        share = (reynolds_number - critical) / (first - critical)
        below = _laminar(critical, bore, diameter)
        curved = below + share * (_turbulent(first, bore, diameter, roughness) - below)
    else:
        curved = _turbulent(reynolds_number, bore, diameter, roughness)
    return max(curved, friction_factor(reynolds_number, roughness / bore))


def _laminar(number: Ratio, bore: Metre, diameter: Metre) -> Ratio:
    return float(helical_laminar_fd_White(Re=number, Di=bore, Dc=diameter))


def _turbulent(number: Ratio, bore: Metre, diameter: Metre, roughness: Metre) -> Ratio:
    smooth = float(helical_turbulent_fd_Mori_Nakayama(Re=number, Di=bore, Dc=diameter))
    rough = Clamond(Re=number, eD=roughness / bore) - Clamond(Re=number, eD=0.0)
    return smooth + float(rough)


def coil_loss(
    flow: CubicMetrePerSecond, bore: Metre, coil: Coil, roughness: Metre, water: Water
) -> Pascal:
    """The loss of the coiled part of a hose at a positive flow [Pa]."""
    number = reynolds(flow, bore, water)
    factor = coil_friction_factor(number, bore, coil.diameter, roughness)
    dynamic = velocity_head(velocity(flow, bore), water.density)
    return factor * coil.length / bore * dynamic
