"""The scale of the mesh from the tape measures, step by step."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from fitcheck.model.found.explanation import Explanation, Step, given, typed
from fitcheck.model.given.boat import Boat
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.space.datum.least_squares import KNOWN_BEFORE
from fitcheck.space.datum.picks import PRACTICE, accuracy_of, pick_of
from fitcheck.space.datum.scale import Taped, find_scale, taped

_JCGM = "least squares; JCGM 100:2008, 5.1.2 and annex G"


def explain_scale(boat: Boat) -> Explanation:
    """Metres per unit of the mesh, and their uncertainty."""
    return Explanation(
        names=("scale",),
        number="scale",
        said="metres to one unit of the mesh",
        state=None,
        steps=tuple(_steps(boat)),
    )


def _steps(boat: Boat) -> Iterator[Step]:
    if boat.tape_measures:
        yield from _taped(boat, taped(boat))
        return
    found = find_scale(boat)
    yield given("scale", found.value, "m", "the unit stated in the boat file")
    yield given("uncertainty, 95 %", COVERAGE * found.uncertainty, "1", PRACTICE)


def _taped(boat: Boat, found: Taped) -> Iterator[Step]:
    surface = math.hypot(pick_of(boat), accuracy_of(boat) / COVERAGE)
    yield Step(
        what="standard uncertainty of a picked point on a surface",
        formula="sqrt(pick^2 + (accuracy / 1.96)^2)",
        numbers=f"sqrt({typed(pick_of(boat))}**2 + ({typed(accuracy_of(boat))} / {COVERAGE})**2)",
        value=surface,
        unit="m",
        source="the boat file, else as is usual (common practice, no source)",
    )
    for number, tape in enumerate(boat.tape_measures):
        kept = "" if found.fitted.kept[number] else ", set aside: it does not go with the others"
        name = f"tape measure {number + 1}"
        yield Step(
            what=f"{name}: length between the picks{kept}",
            formula="distance of two points",
            numbers="sqrt("
            + " + ".join(
                f"({typed(b)} - {typed(a)})**2" for a, b in zip(tape.start, tape.end, strict=True)
            )
            + ")",
            value=float(found.picked[number]),
            unit="units of the mesh",
            source="the boat file",
        )
        yield given(f"{name}: length taken on board", tape.length, "m", "the boat file")
        yield Step(
            what=f"{name}: standard uncertainty",
            formula="sqrt((within / 1.96)^2 + 2 surface^2)",
            numbers=f"sqrt(({typed(tape.within)} / {COVERAGE})**2 + 2 * {typed(surface)}**2)",
            value=float(found.deviation[number]),
            unit="m",
            source=_JCGM,
        )
    yield from _fitted(found)


def _fitted(found: Taped) -> Iterator[Step]:
    kept = np.flatnonzero(found.fitted.kept)
    rows = [(found.picked[n], found.lengths[n], found.deviation[n]) for n in kept]
    scale = float(found.fitted.values[0])
    squares = " + ".join(f"({typed(p)} / {typed(s)})**2" for p, _, s in rows)
    yield Step(
        what="scale",
        formula="sum of p t / s^2 over sum of (p / s)^2",
        numbers=f"({' + '.join(f'{typed(p)} * {typed(t)} / {typed(s)}**2' for p, t, s in rows)})"
        f" / ({squares})",
        value=scale,
        unit="m",
        source=_JCGM,
    )
    free = len(rows) - 1
    yield Step(
        what="scatter of the tape measures kept",
        formula="sum of ((scale p - t) / s)^2",
        numbers=" + ".join(
            f"(({scale:.10g} * {p:.10g} - {t:.10g}) / {typed(s)})**2" for p, t, s in rows
        ),
        value=float(sum(((scale * p - t) / s) ** 2 for p, t, s in rows)),
        unit="1",
        source=f"{free} of them free; {KNOWN_BEFORE} more count as known beforehand",
    )
    plain = 1.0 / float(sum((p / s) ** 2 for p, _, s in rows))
    wider = float(found.fitted.spread[0, 0]) / plain
    yield given("how much wider for so few of them", wider, "1", "Student's factor squared")
    yield Step(
        what="uncertainty, 95 %, as a share",
        formula="1.96 sqrt(wider / sum of (p / s)^2) / scale",
        numbers=f"{COVERAGE} * sqrt({typed(wider)} / ({squares})) / {typed(scale)}",
        value=COVERAGE * math.sqrt(float(found.fitted.spread[0, 0])) / scale,
        unit="1",
        source=_JCGM,
    )
