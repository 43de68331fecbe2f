"""Pressure lost in a hose: friction, bends, fittings, valve; and in a module, port to port.

Every loss coefficient refers to the velocity in the hose bore. The routed length includes the arcs
of its bends, so a bend only adds its loss beyond the friction of its own arc.

References
----------
Churchill (1977), Friction-factor equation spans all fluid-flow regimes, Chemical Engineering.
Colebrook (1939), Turbulent flow in pipes, Journal of the Institution of Civil Engineers.
Clamond (2009), Efficient resolution of the Colebrook equation (its solution, by fluids).
Rennels and Hudson (2012), Pipe Flow: A Practical and Comprehensive Guide, ch. 15 (by fluids).
IEC 60534-2-1, flow coefficient Kv of a valve.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import fluids
from fluids.friction import Churchill_1977, Clamond

from fitcheck.hydraulics.physics.seawater import Water
from fitcheck.model.found.routes import Bend
from fitcheck.units import (
    CubicMetrePerSecond,
    KilogramPerCubicMetre,
    Metre,
    MetrePerSecond,
    Pascal,
    Radian,
    Ratio,
)

GRAVITY = 9.80665
#: Reynolds numbers between which a flow may be laminar or turbulent.
TRANSITION = (2000.0, 4000.0)
#: Water density and pressure in the definition of a valve's flow coefficient.
_VALVE_DENSITY, _VALVE_PRESSURE = 1000.0, 1e5


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseLoss:
    """The loss of one hose at one flow, in parts.

    coil is included in friction; tails and open_ends are included in fittings: the losses of a
    coil, of narrower hose ends, and of the inlet from or outlet to open water or air. bends is the
    loss above the friction of the arcs; at_most is the sum with the upper friction factor of the
    transition band, equal to the sum outside it.
    """

    velocity: MetrePerSecond
    reynolds: Ratio
    friction_factor: Ratio
    friction: Pascal
    bends: Pascal
    fittings: Pascal
    at_most: Pascal
    coil: Pascal = 0.0
    tails: Pascal = 0.0
    open_ends: Pascal = 0.0

    @property
    def total(self) -> Pascal:
        """All parts together [Pa]."""
        return self.friction + self.bends + self.fittings

    @property
    def transition(self) -> bool:
        """Whether the flow may be laminar or turbulent."""
        return in_transition(self.reynolds)


def velocity(flow: CubicMetrePerSecond, bore: Metre) -> MetrePerSecond:
    """Mean velocity of a flow in a round bore [m/s]."""
    return flow / (math.pi * bore**2 / 4.0)


def velocity_head(speed: MetrePerSecond, density: KilogramPerCubicMetre) -> Pascal:
    """The dynamic pressure of a speed, density * speed ** 2 / 2 [Pa]."""
    return density * speed**2 / 2.0


def reynolds(flow: CubicMetrePerSecond, bore: Metre, water: Water) -> Ratio:
    """Reynolds number of a flow in a round bore [1]."""
    return abs(velocity(flow, bore)) * bore * water.density / water.viscosity


def in_transition(reynolds_number: Ratio) -> bool:
    """Whether both laminar and turbulent flow are possible at a Reynolds number."""
    return TRANSITION[0] < reynolds_number < TRANSITION[1]


def friction_factor(reynolds_number: Ratio, relative_roughness: Ratio) -> Ratio:
    """Darcy friction factor, continuous through laminar, transition and turbulent flow [1].

    Notes
    -----
    Churchill 1977. Chosen because it is continuous: a bracketing solver cannot get stuck at a
    jump, as it would where a laminar and a turbulent equation meet.
    """
    if reynolds_number <= 0.0:
        raise ValueError("the Reynolds number must be positive")
    return float(Churchill_1977(Re=reynolds_number, eD=relative_roughness))


def friction_band(reynolds_number: Ratio, relative_roughness: Ratio) -> tuple[Ratio, Ratio]:
    """Lowest and highest possible Darcy friction factor of the flow [1].

    In the transition band they are 64/Re and Colebrook's (or Churchill's if that is higher);
    elsewhere both are Churchill's.
    """
    middle = friction_factor(reynolds_number, relative_roughness)
    if not in_transition(reynolds_number):
        return middle, middle
    turbulent = float(Clamond(Re=reynolds_number, eD=relative_roughness))
    return min(64.0 / reynolds_number, middle), max(turbulent, middle)


def bend_coefficient(
    angle: Radian, radius: Metre, bore: Metre, friction: Ratio, reynolds_number: Ratio
) -> Ratio:
    """Loss coefficient of a bend beyond the friction of its own arc [1].

    Parameters
    ----------
    angle    : of the bend [rad]
    radius   : on the centre line [m]
    bore     : true inside diameter [m]
    friction : Darcy friction factor [1]
    reynolds_number : of the flow [1]

    Notes
    -----
    Rennels and Hudson, smooth bends, minus friction * angle * radius / bore. Correlations that
    jump with the radius, or fall below the arc's own friction, are unsuitable for hose sweeps.
    """
    whole = fluids.bend_rounded(
        Di=bore,
        angle=math.degrees(angle),
        fd=friction,
        rc=radius,
        Re=reynolds_number,
        method="Rennels",
    )
    return float(whole) - friction * angle * radius / bore


def valve_loss(
    flow: CubicMetrePerSecond, valve_flow: CubicMetrePerSecond, density: KilogramPerCubicMetre
) -> Pascal:
    """Loss of a valve that passes `valve_flow` of water at 1 bar [Pa], after IEC 60534."""
    return _VALVE_PRESSURE * (density / _VALVE_DENSITY) * (flow / valve_flow) ** 2


def resistance_loss(
    flow: CubicMetrePerSecond,
    loss: Pascal,
    at_flow: CubicMetrePerSecond,
    exponent: Ratio,
    dirt: Pascal = 0.0,
) -> Pascal:
    """Loss of a module, port to port: (loss + dirt) * (flow / at_flow) ** exponent [Pa]."""
    return (loss + dirt) * (flow / at_flow) ** exponent


def hose_loss(
    *,
    flow: CubicMetrePerSecond,
    bore: Metre,
    roughness: Metre,
    length: Metre,
    bends: Sequence[Bend],
    fittings: Ratio,
    valve_flow: CubicMetrePerSecond | None,
    water: Water,
) -> HoseLoss:
    """Loss of a hose at a flow of either sign; all parts are positive [Pa].

    Parameters
    ----------
    flow       : [m3/s]
    bore       : true inside diameter [m]
    roughness  : of the bore [m]
    length     : routed, arcs included [m]
    bends      : their radii on the centre line
    fittings   : sum of loss coefficients on the hose bore, without bends [1]
    valve_flow : flow that a valve in the line passes at 1 bar, None without one [m3/s]
    water      : in the line
    """
    flow = abs(flow)
    number = reynolds(flow, bore, water)
    if number < 1e-6:
        return HoseLoss(
            velocity=0.0,
            reynolds=0.0,
            friction_factor=0.0,
            friction=0.0,
            bends=0.0,
            fittings=0.0,
            at_most=0.0,
        )
    speed = velocity(flow, bore)
    dynamic = velocity_head(speed, water.density)
    valve = 0.0 if valve_flow is None else valve_loss(flow, valve_flow, water.density)
    fixed = fittings * dynamic + valve
    factor = friction_factor(number, roughness / bore)
    straight, turned = _friction_and_bends(factor, number, bore, length, bends, dynamic)
    at_most = straight + turned + fixed
    if in_transition(number):
        upper = friction_band(number, roughness / bore)[1]
        at_most = fixed + sum(_friction_and_bends(upper, number, bore, length, bends, dynamic))
    return HoseLoss(
        velocity=speed,
        reynolds=number,
        friction_factor=factor,
        friction=straight,
        bends=turned,
        fittings=fixed,
        at_most=at_most,
    )


def _friction_and_bends(
    factor: Ratio,
    number: Ratio,
    bore: Metre,
    length: Metre,
    bends: Sequence[Bend],
    dynamic: Pascal,
) -> tuple[Pascal, Pascal]:
    turned = sum(bend_coefficient(b.angle, b.radius, bore, factor, number) for b in bends)
    return factor * length / bore * dynamic, turned * dynamic
