"""Findings on coils: their loss, and whether the hose may be bent that tightly."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.findings.said import length, quantity, say
from fitcheck.hydraulics.network.plant import Run
from fitcheck.hydraulics.network.solve import Operation
from fitcheck.hydraulics.rules.judging import COMMON_PRACTICE, Table
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.given.kit import Coil


def coil_findings(table: Table) -> Iterator[Finding]:
    """For every coil its loss and size; a fail where it is tighter than the minimum
    bend radius.
    """
    for line in table.plant.scenario.kit.lines:
        run = table.plant.runs.get(line.name)
        if run is None or run.coil is None:
            continue
        if 0.5 * run.coil.diameter < run.hose.min_bend_radius - 1e-9:
            yield _too_tight(run, run.coil)
        known = [op for op in table.running if line.name in op.losses]
        if known:
            yield _cost(run, run.coil, max(known, key=lambda op: op.losses[line.name].coil))


def _too_tight(run: Run, coil: Coil) -> Finding:
    least = 2.0 * run.hose.min_bend_radius
    return Finding(
        severity="fail",
        rule="coil-too-tight",
        subject=run.line.name,
        said=say(
            "coil-too-tight",
            line=run.line.name,
            across=length(coil.diameter),
            hose=run.hose.name,
            least=length(least),
        ),
        source="the bend radius of the hose, as the kit says",
        value=coil.diameter,
        limit=least,
        unit="m",
        remedy=Remedy(said=say("coil-too-tight.remedy")),
    )


def _cost(run: Run, coil: Coil, operation: Operation) -> Finding:
    loss = operation.losses[run.line.name]
    outside = coil.diameter + run.hose.outside_diameter
    return Finding(
        severity="note",
        rule="coil",
        subject=run.line.name,
        said=say(
            "coil",
            turns=quantity(coil.turns, "factor"),
            line=run.line.name,
            whole=quantity(coil.length, "run"),
            lost=quantity(loss.coil, "pressure"),
            state=operation.state.said,
            share=quantity(loss.coil / loss.total, "fraction"),
            across=length(outside),
        ),
        source="White 1929; Mori and Nakayama 1967; room: " + COMMON_PRACTICE,
        value=loss.coil,
        limit=None,
        unit="Pa",
        remedy=Remedy(said=say("coil.remedy")),
    )
