"""What a hose laid in a coil costs, and whether it may be bent so."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.hydraulics.network.plant import Run
from fitcheck.hydraulics.network.solve import Operation
from fitcheck.hydraulics.rules.judging import COMMON_PRACTICE, Table
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.given.kit import Coil
from fitcheck.units import show


def coil_findings(table: Table) -> Iterator[Finding]:
    """For every coil its loss and room; a fail where it is tighter than the hose may be bent."""
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
        said=f"The coil in {run.line.name} is {show(coil.diameter, 'length')} across on its "
        f"centre line; {run.hose.name} may be coiled no tighter than {show(least, 'length')}.",
        source="the bend radius of the hose, as the kit says",
        value=coil.diameter,
        limit=least,
        unit="m",
        remedy=Remedy(said="Cut the spare hose off, or lay it in a wider coil."),
    )


def _cost(run: Run, coil: Coil, operation: Operation) -> Finding:
    loss = operation.losses[run.line.name]
    outside = coil.diameter + run.hose.outside_diameter
    return Finding(
        severity="note",
        rule="coil",
        subject=run.line.name,
        said=f"{coil.turns:g} turns of {run.line.name} in a coil, {show(coil.length, 'run')} of "
        f"hose, lose {show(loss.coil, 'pressure')} ({operation.state.name}), "
        f"{show(loss.coil / loss.total, 'fraction')} of what the line loses. Its place, "
        f"{show(outside, 'length')} across, was not looked for.",
        source="White 1929; Mori and Nakayama 1967; room: " + COMMON_PRACTICE,
        value=loss.coil,
        limit=None,
        unit="Pa",
        remedy=Remedy(said="Cut the spare hose off."),
    )
