"""A module's permitted orientation, whether it passes the hatch, who can lift it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import quantity, say
from fitcheck.fit.measured.surroundings import Surroundings
from fitcheck.fit.wording import PRACTICE, length
from fitcheck.geometry.box import Box
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.given.kit import Module
from fitcheck.units import Kilogram, Metre, Radian

#: Maximum tilt of a module from its required orientation [rad]; common practice, no source.
LEAN = math.radians(5.0)
#: Heavier modules need two persons in a cramped space [kg]; common practice, no source.
ONE_PERSON: Kilogram = 15.0


def lean(module: Module, box: Box) -> Radian | None:
    """Angle between a module's orientation and the required one; None where any is permitted
    [rad].

    Upright: its own height against up. Horizontal: its length against level.
    """
    if module.stands == "upright":
        return math.acos(max(-1.0, min(1.0, box.axes[2][2])))
    if module.stands == "horizontal":
        return abs(math.asin(max(-1.0, min(1.0, box.axes[0][2]))))
    return None


def leans(module: Module, box: Box) -> bool:
    """Whether the module is tilted more than allowed."""
    angle = lean(module, box)
    return angle is not None and angle > LEAN + 1e-9


def standing_finding(module: Module, box: Box, remedy: Remedy | None) -> Finding | None:
    """A fail when the module is tilted more than allowed."""
    angle = lean(module, box)
    if angle is None or not leans(module, box):
        return None
    return Finding(
        severity="fail",
        rule="standing",
        subject=module.name,
        said=say(
            "standing.upright" if module.stands == "upright" else "standing.level",
            name=module.name,
            lean=quantity(angle, "angle"),
            most=quantity(LEAN, "angle"),
        ),
        source="the kit's own rule; its tolerance is common practice, no source",
        value=angle,
        limit=LEAN,
        unit="rad",
        remedy=remedy,
    )


def opening(corners: NDArray[np.float64]) -> tuple[Metre, Metre]:
    """Width and height of an opening [m], the smaller first.

    Sides of the smallest rectangle with one side along an edge that encloses the corners (n, 3)
    [m], seen square to their plane.
    """
    spread = corners - corners.mean(axis=0)
    plane = np.linalg.svd(spread)[2][:2]
    flat = spread @ plane.T
    best = (math.inf, math.inf)
    for edge in np.roll(flat, -1, axis=0) - flat:
        size = float(np.linalg.norm(edge))
        if size < 1e-9:
            continue
        along = edge / size
        across = np.array([-along[1], along[0]])
        sides = sorted((float(np.ptp(flat @ along)), float(np.ptp(flat @ across))))
        if sides[0] * sides[1] < best[0] * best[1]:
            best = (sides[0], sides[1])
    return best


def hatch_findings(modules: tuple[Module, ...], around: Surroundings) -> list[Finding]:
    """A caution for every box that does not pass the hatch, and a note on what was not checked."""
    if len(around.space.hatch) < 3:
        return []
    corners = np.array(around.space.hatch)
    small, large = opening(corners)
    doubt = around.space.uncertainty.of_length(large, picked=2)
    found = [_through(module, small, large, doubt) for module in modules]
    note = Finding(
        severity="note",
        rule="hatch",
        subject="boat.hatch",
        said=say("hatch.unchecked", small=length(small), large=length(large)),
        source="the boat file",
    )
    return [row for row in found if row is not None] + [note]


def _through(module: Module, small: Metre, large: Metre, doubt: Metre) -> Finding | None:
    thin, middle = sorted(module.size)[:2]
    room = min(small - thin, large - middle)
    if room >= doubt:
        return None
    if room < 0.0:
        text = say(
            "hatch.too-small",
            name=module.name,
            thin=length(thin),
            middle=length(middle),
            small=length(small),
            large=length(large),
        )
        remedy = say("hatch.turn")
    else:
        spare, unsure = length(room), length(doubt)
        text = say("hatch.in-doubt", name=module.name, room=spare, doubt=unsure)
        remedy = say("hatch.measure")
    return Finding(
        severity="caution",
        rule="hatch",
        subject=module.name,
        said=text,
        source="the boat file and the kit",
        value=room,
        limit=0.0 if room < 0.0 else doubt,
        unit="m",
        bars=("cut_joinery",),
        remedy=Remedy(said=remedy),
    )


def lifting_finding(module: Module) -> Finding | None:
    """A caution for a module too heavy for one person."""
    if module.mass <= ONE_PERSON:
        return None
    return Finding(
        severity="note",
        rule="lifting",
        subject=module.name,
        said=say("lifting.two", name=module.name, mass=quantity(module.mass, "mass")),
        source=PRACTICE,
        value=module.mass,
        limit=ONE_PERSON,
        unit="kg",
    )
