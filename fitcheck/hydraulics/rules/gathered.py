"""Findings on trapped water and air: traps, vents, drains, flushing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from fitcheck.findings.said import Said, length, quantity, say
from fitcheck.hydraulics.rules.judging import (
    COMMON_PRACTICE,
    Table,
    names,
    note,
    static_along,
    suction_lines,
)
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.hydraulics import FlushPlan, TurningPoint
from fitcheck.units import Point


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
        yield note("vents", vents[0].where, say("vents", places=_places(vents)))
    drains = [row for row in points if row.kind == "low"]
    if drains:
        yield note("drains", drains[0].where, say("drains", places=_places(drains)))
    if flush is not None:
        yield _flush(table, flush)


def _trap(table: Table, point: TurningPoint) -> Finding:
    """A caution inside a hose that goes below atmospheric pressure, else a note."""
    inside = point.where == point.line
    drawn = _lowest(table, point) < 0.0
    severe = inside and drawn
    where = say("air-trap.has" if inside else "air-trap.is", place=point.where)
    return Finding(
        severity="caution" if severe else "note",
        rule="air-trap",
        subject=point.where,
        said=say(
            "air-trap.drawn" if drawn else "air-trap.stays",
            where=where,
            rise=length(point.rise),
            state=table.said(point.state),
        ),
        source=COMMON_PRACTICE,
        value=point.rise,
        limit=table.plant.runs[point.line].hose.bore,
        unit="m",
        place=point.at,
        remedy=Remedy(said=say("air-trap.remedy", line=point.line)) if severe else None,
    )


def _lowest(table: Table, point: TurningPoint) -> float:
    """Lowest static pressure at a place of a line over all running states [Pa]."""
    path = table.plant.runs[point.line].path
    at = int(np.argmin(np.abs(path - np.asarray(point.at)).sum(axis=1)))
    rows = (static_along(table, point.line, op) for op in table.running)
    return min((float(row[at]) for row in rows if row is not None), default=0.0)


def _places(points: Sequence[TurningPoint]) -> list[Said]:
    return [say("gathered.place", where=row.where, at=_at(row.at)) for row in points]


def _at(point: Point) -> list[Said]:
    x, y, z = point
    along, across, up = (quantity(abs(value), "run") for value in point)
    return [
        say("gathered.aft" if x < 0 else "gathered.forward", by=along),
        say("gathered.starboard" if y < 0 else "gathered.port", by=across),
        say("gathered.down" if z < 0 else "gathered.up", by=up),
    ]


def _flush(table: Table, plan: FlushPlan) -> Finding:
    kit = table.plant.scenario.kit
    subject = kit.membrane.module if kit.membrane is not None else kit.name
    dry = [row.name for row in kit.modules if not row.holds and row.ports]
    said = say(
        "flush.given" if plan.given else "flush.not-given",
        held=quantity(plan.held, "volume"),
        times=quantity(plan.volumes, "factor"),
        volume=quantity(plan.volume, "volume"),
        minutes=f"{plan.time / 60:.1f}",
        flow=quantity(plan.flow, "flow"),
    )
    if dry:
        said = say("flush.left-out", flush=said, modules=dry)
    return note("flush", subject, said)
