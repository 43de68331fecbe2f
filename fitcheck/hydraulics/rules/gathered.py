"""Findings on water and air that stay where they should not: traps, vents, drains, flushing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from fitcheck.hydraulics.rules.judging import (
    COMMON_PRACTICE,
    Table,
    listed,
    names,
    static_along,
    suction_lines,
)
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.hydraulics import FlushPlan, TurningPoint
from fitcheck.units import Metre, Point, show


def gathered_findings(
    table: Table, points: Sequence[TurningPoint], flush: FlushPlan | None
) -> Iterator[Finding]:
    """Air traps on the suction side, one note on vents, one on drains, one on the flush."""
    suction = set(names(suction_lines(table.plant)))
    for point in points:
        if point.kind == "high" and point.line in suction:
            yield _trap(table, point)
    vents = [row for row in points if row.kind == "high" and row.line not in suction]
    if vents:
        yield _note(
            "vents",
            vents[0].where,
            f"Air gathers at high points; a vent there lets it out: {_places(vents)}.",
        )
    drains = [row for row in points if row.kind == "low"]
    if drains:
        yield _note(
            "drains",
            drains[0].where,
            "Water stays in low points; for frost or a long stop open or blow out: "
            f"{_places(drains)}.",
        )
    if flush is not None:
        yield _flush(table, flush)


def _trap(table: Table, point: TurningPoint) -> Finding:
    """A caution inside a hose that comes below atmospheric pressure, else a note."""
    inside = point.where == point.line
    drawn = _lowest(table, point) < 0.0
    severe = inside and drawn
    where = f"{point.where} {'has' if inside else 'is'} a high point"
    return Finding(
        severity="caution" if severe else "note",
        rule="air-trap",
        subject=point.where,
        said=f"{where} {show(point.rise, 'length')} above the low points beside it "
        f"({point.state}): air gathers there and "
        + (
            "comes to the pump in one piece."
            if drawn
            else "stays, though the water there is under pressure; vent it when filling."
        ),
        source=COMMON_PRACTICE,
        value=point.rise,
        limit=table.plant.runs[point.line].hose.bore,
        unit="m",
        place=point.at,
        remedy=Remedy(
            said=f"Lead {point.line} so that it only rises towards the pump, or fit a vent at "
            "that point."
        )
        if severe
        else None,
    )


def _lowest(table: Table, point: TurningPoint) -> float:
    """Lowest static pressure at a place of a line over all running states [Pa]."""
    path = table.plant.runs[point.line].path
    at = int(np.argmin(np.abs(path - np.asarray(point.at)).sum(axis=1)))
    rows = (static_along(table, point.line, op) for op in table.running)
    return min((float(row[at]) for row in rows if row is not None), default=0.0)


def _places(points: Sequence[TurningPoint]) -> str:
    return listed([f"{row.where} ({_at(row.at)})" for row in points])


def _at(point: Point) -> str:
    ways = (("forward", "aft"), ("to port", "to starboard"), ("up", "down"))
    return ", ".join(
        f"{_metres(value)} {way[value < 0]}" for value, way in zip(point, ways, strict=True)
    )


def _metres(value: Metre) -> str:
    return show(abs(value), "run")


def _flush(table: Table, plan: FlushPlan) -> Finding:
    kit = table.plant.scenario.kit
    subject = kit.membrane.module if kit.membrane is not None else kit.name
    dry = [row.name for row in kit.modules if not row.holds and row.ports]
    left_out = f" Not counted: the water in {listed(dry)}." if dry else ""
    how = "" if plan.given else "; the kit does not say how it is flushed"
    return _note(
        "flush",
        subject,
        f"A flush changes {show(plan.held, 'volume')} of water {plan.volumes:g} times: "
        f"{show(plan.volume, 'volume')} of fresh water, {plan.time / 60:.1f} min at "
        f"{show(plan.flow, 'flow')}{how}.{left_out}",
    )


def _note(rule: str, subject: str, text: str) -> Finding:
    return Finding(severity="note", rule=rule, subject=subject, said=text, source=COMMON_PRACTICE)
