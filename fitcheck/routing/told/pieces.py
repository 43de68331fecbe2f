"""Convert a Curve to the model's legs and bends."""

from __future__ import annotations

from fitcheck.geometry.box import as_point
from fitcheck.geometry.curve import Curve
from fitcheck.model.found.routes import Bend, Leg


def legs_of(curve: Curve) -> tuple[Leg, ...]:
    """The straight pieces of a curve."""
    return tuple(Leg(start=as_point(leg[0]), end=as_point(leg[1])) for leg in curve.legs)


def bends_of(curve: Curve) -> tuple[Bend, ...]:
    """The bends of a curve."""
    return tuple(
        Bend(
            centre=as_point(curve.centre[number]),
            normal=as_point(curve.normal[number]),
            radius=curve.radius,
            angle=float(curve.angle[number]),
            start=as_point(curve.bend_start[number]),
            end=as_point(curve.bend_end[number]),
        )
        for number in range(len(curve.angle))
    )
