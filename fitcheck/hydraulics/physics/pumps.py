"""Pump curves and the suction side of a pump.

Curves are interpolated monotonically between the given points and never extrapolated.

References
----------
Fritsch and Butland (1984), A method for constructing local monotone piecewise cubic interpolants
(scipy's PCHIP).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from fitcheck.errors import OutOfRangeError
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.model.given.kit import CurvePoint
from fitcheck.units import CubicMetrePerSecond, KilogramPerCubicMetre, Metre, Pascal, amount


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Break points and cubic coefficients as plain numbers, so that a call takes a microsecond."""

    flows: tuple[CubicMetrePerSecond, ...]
    heads: tuple[Metre, ...]
    cubics: tuple[tuple[Metre, Metre, Metre, Metre], ...]


class Curve:
    """Head over flow through the given points, monotone between them.

    Raises ValueError for fewer than two points or flows that do not increase.
    """

    def __init__(self, points: Sequence[CurvePoint]) -> None:
        flows = np.array([point.flow for point in points])
        heads = np.array([point.head for point in points])
        if len(points) < 2 or not (np.diff(flows) > 0.0).all():
            raise ValueError("a curve needs two or more points of rising flow")
        cubic = PchipInterpolator(flows, heads)
        rows = tuple(tuple(float(c) for c in column) for column in cubic.c.T)
        self._pieces = _Pieces(tuple(flows.tolist()), tuple(heads.tolist()), rows)  # type: ignore[arg-type]

    @property
    def first_flow(self) -> CubicMetrePerSecond:
        """Flow of the first point [m3/s]."""
        return self._pieces.flows[0]

    @property
    def last_flow(self) -> CubicMetrePerSecond:
        """Flow of the last point, where the curve ends [m3/s]."""
        return self._pieces.flows[-1]

    @property
    def shut_off_head(self) -> Metre:
        """The highest head of the pump anywhere on its curve [m]."""
        return max(self._pieces.heads)

    @property
    def droops(self) -> bool:
        """Whether the head rises anywhere with the flow, so that two flows share a head."""
        return bool((np.diff(self._pieces.heads) > 0.0).any())

    def holds(self, flow: CubicMetrePerSecond) -> bool:
        """Whether the curve covers this flow."""
        return self.first_flow <= flow <= self.last_flow

    def head(self, flow: CubicMetrePerSecond) -> Metre:
        """Head at a flow of the curve [m]; raises OutOfRangeError beyond its ends."""
        if not self.holds(flow):
            raise OutOfRangeError(
                "flow through the pump",
                amount(flow, "flow"),
                f"{amount(self.first_flow, 'flow')} to {amount(self.last_flow, 'flow')}",
                "the curve given",
            )
        return self._cubic(flow)

    def flow_at(self, head: Metre) -> CubicMetrePerSecond:
        """The largest flow of the curve at which it still reaches a head [m]."""
        heads = self._pieces.heads
        if head > heads[0]:
            return self.first_flow
        if head <= heads[-1]:
            return self.last_flow
        return float(
            brentq(lambda flow: self.extended(flow) - head, self.first_flow, self.last_flow)
        )

    def extended(self, flow: CubicMetrePerSecond) -> Metre:
        """Head at any flow, extrapolated linearly beyond the ends [m]: only for a
        solver's steps.
        """
        inside = min(max(flow, self.first_flow), self.last_flow)
        beyond = flow - inside
        if not beyond:
            return self._cubic(flow)
        fall = (self._pieces.heads[0] - self._pieces.heads[-1]) / (
            self.last_flow - self.first_flow
        )
        return self._cubic(inside) - beyond * max(fall, 0.0)

    def _cubic(self, flow: CubicMetrePerSecond) -> Metre:
        a, b, c, d, x = self.cubic_at(flow)
        return ((a * x + b) * x + c) * x + d

    def cubic_at(
        self, flow: CubicMetrePerSecond
    ) -> tuple[Metre, Metre, Metre, Metre, CubicMetrePerSecond]:
        """The piece a flow is on, a x^3 + b x^2 + c x + d, with x measured from its
        first point.
        """
        flows = self._pieces.flows
        at = int(np.searchsorted(flows, flow, side="right")) - 1
        at = min(max(at, 0), len(flows) - 2)
        return *self._pieces.cubics[at], flow - flows[at]


def npsh_available(
    surface_pressure: Pascal,
    vapour_pressure: Pascal,
    density: KilogramPerCubicMetre,
    lift: Metre,
    friction_head: Metre,
) -> Metre:
    """Net positive suction head available at a pump inlet [m].

    Parameters
    ----------
    surface_pressure : absolute, on the free water surface [Pa]
    vapour_pressure  : absolute, of the water pumped [Pa]
    density          : of the water pumped [kg/m3]
    lift             : pump inlet above the water surface, positive up; subtracted [m]
    friction_head    : all losses from the surface to the pump inlet [m]

    Notes
    -----
    (surface_pressure - vapour_pressure) / (density g) - lift - friction_head. The velocity head at
    the inlet is part of it and is neither added nor subtracted.
    """
    return (surface_pressure - vapour_pressure) / (density * GRAVITY) - lift - friction_head


def gauge_npsh(
    atmosphere: Pascal,
    gauge_pressure: Pascal,
    vapour_pressure: Pascal,
    density: KilogramPerCubicMetre,
) -> Metre:
    """The same from the total gauge pressure at the inlet, velocity head included [m]."""
    return npsh_available(
        atmosphere + gauge_pressure, vapour_pressure, density, lift=0.0, friction_head=0.0
    )
