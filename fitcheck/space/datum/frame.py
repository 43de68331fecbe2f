"""From the mesh's own axes and unit to the boat frame, and the uncertainty of that."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.findings.said import quantity, say
from fitcheck.geometry.box import as_axes, as_point
from fitcheck.model.finding import Assumption, Finding
from fitcheck.model.found.space import Frame
from fitcheck.model.given.boat import Boat
from fitcheck.model.uncertainty import COVERAGE, Uncertainty
from fitcheck.space.datum.level import find_level
from fitcheck.space.datum.picks import accuracy_of, pick_of, unit
from fitcheck.space.datum.scale import find_scale


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearings:
    """The frame, its uncertainty and the findings made on the way."""

    frame: Frame
    uncertainty: Uncertainty
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]


def find_frame(boat: Boat) -> Bearings:
    """Scale by unit and tape, level by axis or waterline, forward square to up, origin.

    Raises MeshError when the unit is not proven, the waterline points are nearly collinear or
    forward is up.
    """
    scale = find_scale(boat)
    level = find_level(boat, scale.value)
    forward = _forward(boat, level.up)
    # Right-handed with x forward and z up: y = up x forward points to port.
    port = np.cross(level.up, forward)
    turn = np.stack([forward, port, level.up])
    shift = np.zeros(3)
    inside = scale.value * turn @ np.array(boat.inside)
    shift[0] = -inside[0]
    shift[2] = -level.height
    findings, assumptions = scale.findings + level.findings, scale.assumptions + level.assumptions
    if boat.centreline is None:
        shift[1] = -inside[1]
        assumptions += (
            Assumption(
                said=say("assumed.centreline"),
                taken=say("assumed.centreline-taken", offset=quantity(0.0, "run")),
                source="boat.centreline is not given; it matters as soon as the boat heels",
                can_flip=True,
            ),
        )
    else:
        on_mesh = scale.value * turn @ np.array(boat.centreline.point)
        shift[1] = boat.centreline.offset - on_mesh[1]
    return Bearings(
        frame=Frame(scale=scale.value, turn=as_axes(turn), shift=as_point(shift)),
        uncertainty=Uncertainty(
            surface=accuracy_of(boat) / COVERAGE,
            pick=pick_of(boat),
            scale=scale.uncertainty,
            height=level.deviation,
            middle=as_point(turn @ level.middle + shift),
            roll=level.slope(port),
            trim=level.slope(forward),
        ),
        findings=findings,
        assumptions=assumptions,
    )


def to_boat(frame: Frame, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(..., 3) points in the mesh's axes and unit -> boat frame [m]."""
    result: NDArray[np.float64] = frame.scale * (
        np.asarray(points, dtype=np.float64) @ np.array(frame.turn).T
    ) + np.array(frame.shift)
    return result


def _forward(boat: Boat, up: NDArray[np.float64]) -> NDArray[np.float64]:
    """The forward direction projected onto the level plane."""
    forward = unit(boat.forward)
    level = forward - (forward @ up) * up
    if np.linalg.norm(level) < 0.5:
        raise MeshError(
            boat.mesh,
            "boat.forward points up or down rather than forward",
            "give the mesh axis, or two points, that run from the stern to the bow",
            "boat.forward",
        )
    return unit(level)
