"""A module's gaps and service clearances, step by step: nearest thing, distance, uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from fitcheck.geometry.box import Box
from fitcheck.model.contact import Contact
from fitcheck.model.found.explanation import Explanation, Step, given, typed
from fitcheck.model.found.fit import Fit, ModuleFit
from fitcheck.model.found.space import Space
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.units import Metre, Point

_JCGM = "JCGM 100:2008, 5.1.2 and 6.2"


def explain_gaps(space: Space, fit: Fit) -> Iterator[Explanation]:
    """For every module the deciding gap, then the nearest thing of every kind, then service
    clearances.
    """
    for module in fit.modules:
        near = [row for row in module.contacts if row not in module.decided_by]
        rows = [*module.decided_by, *near]
        yield _explanation(
            module, "gap", f"gaps, verdict: {module.verdict}", _gaps(space, rows, module)
        )
        for service in module.service:
            if service.contacts:
                yield _explanation(
                    module,
                    f"{service.kind}-{service.face}",
                    f"{service.kind} on the {service.face} face, verdict: {service.verdict}",
                    _steps(space, service.contacts[0], None),
                )


def _explanation(module: ModuleFit, number: str, said: str, steps: Iterator[Step]) -> Explanation:
    return Explanation(
        names=(module.name,), number=number, said=said, state=None, steps=tuple(steps)
    )


def _gaps(space: Space, rows: list[Contact], module: ModuleFit) -> Iterator[Step]:
    for met in rows:
        yield from _steps(space, met, module.box)


def _steps(space: Space, met: Contact, box: Box | None) -> Iterator[Step]:
    """One gap, the parts of its uncertainty, and how much of the requirement is surely
    available.
    """
    to = met.meets
    yield _gap(met, box)
    yield from _uncertainty(space, met)
    yield Step(
        what=f"gap to {to} that is certain, less the required gap",
        formula="gap - uncertainty - required",
        numbers=f"{typed(met.gap)} - {typed(met.uncertainty)} - {typed(met.asked)}",
        value=met.margin,
        unit="m",
        source="difference; the module may touch what it is fixed to",
    )


def _gap(met: Contact, box: Box | None) -> Step:
    what = f"gap to {met.meets}"
    if box is None or met.place is None or not met.gap > 0.0:
        return given(what, met.gap, "m", "measured on the mesh and the boxes in position")
    numbers, value = _distance(met.place, box)
    if abs(value - met.gap) > 1e-6:
        return given(what, met.gap, "m", "measured between the two bodies")
    return Step(
        what=what,
        formula="distance of the point from the box, along each axis of the box beyond its half",
        numbers=numbers,
        value=met.gap,
        unit="m",
        source=f"the point at ({', '.join(typed(x) for x in met.place)}), boat frame",
    )


def _distance(place: Point, box: Box) -> tuple[str, Metre]:
    """Distance of a place outside a box, as arithmetic and as a number [m]."""
    parts, square = [], 0.0
    away = np.array(place) - np.array(box.centre)
    for axis, half in zip(box.axes, box.half, strict=True):
        along = abs(float(away @ np.array(axis)))
        if along > half:
            terms = " + ".join(
                f"({typed(p)} - {typed(c)}) * {typed(n)}"
                for p, c, n in zip(place, box.centre, axis, strict=True)
                if abs(n) > 1e-9
            )
            parts.append(f"(abs({terms}) - {typed(half)})**2")
            square += (along - half) ** 2
    return f"sqrt({' + '.join(parts)})" if parts else "0", math.sqrt(square)


def _uncertainty(space: Space, met: Contact) -> Iterator[Step]:
    """The uncertainty of the gap, from what the survey leaves open."""
    what, known = f"uncertainty of the gap to {met.meets}, 95 %", space.uncertainty
    place = met.place or (0.0, 0.0, 0.0)
    if known.of_gap(place, met.kind) != met.uncertainty or not met.uncertainty:
        source = "both are set out from the same origin, or the user set the boundary"
        yield given(what, met.uncertainty, "m", source)
        return
    tilt = max(known.scale, known.roll, known.trim)
    lever = tilt * math.dist(place, (0.0, 0.0, 0.0))
    yield Step(
        what="effect of scale and level at that point",
        formula="max(scale, roll, trim) * distance from the origin",
        numbers=f"max({typed(known.scale)}, {typed(known.roll)}, {typed(known.trim)})"
        f" * sqrt({' + '.join(f'({typed(x)})**2' for x in place)})",
        value=lever,
        unit="m",
        source="standard uncertainties of the survey",
    )
    unseen = met.kind in ("unseen", "glimpsed")
    end = known.cell / math.sqrt(12.0) if unseen else known.surface
    pick = known.pick if met.kind in ("keep-out", "solid", "hot") else 0.0
    cell = "half a cell either way, a rectangular distribution"
    yield given(
        "standard uncertainty of its surface",
        end,
        "m",
        cell if unseen else "the surface, as surveyed",
    )
    yield Step(
        what=what,
        formula="1.96 sqrt(lever^2 + end^2 + pick^2)",
        numbers=f"{COVERAGE} * sqrt({typed(lever)}**2 + {typed(end)}**2 + {typed(pick)}**2)",
        value=met.uncertainty,
        unit="m",
        source=_JCGM,
    )
