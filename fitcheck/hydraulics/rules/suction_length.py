"""Suction hose length of one bore: as routed, as recommended by the kit, as calculated.

A length by hose ignores lift, flow and the other resistances. So the length at which the vacuum
just needs no remark is reported as well: at this lift and flow, in the state and on the side that
the vacuum is judged in, with everything but the length of that hose unchanged.
"""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.findings.said import Said, length, quantity, say
from fitcheck.hydraulics.network.plant import Run
from fitcheck.hydraulics.network.solve import Operation, first_inlet
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.rules.judging import Table, suction_lines, suction_vacuum
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.given.kit import SuctionLength
from fitcheck.units import Metre, Pascal


def suction_length_findings(table: Table) -> Iterator[Finding]:
    """A caution where it is longer than the kit allows, a note where the calculation differs."""
    lines = suction_lines(table.plant)
    if not lines or any(line.name not in table.plant.runs for line in lines):
        return
    limited: dict[Metre, list[Run]] = {}
    for line in lines:
        run = table.plant.runs[line.name]
        limited.setdefault(run.hose.bore, []).append(run)
    for runs in limited.values():
        limits = [(run.hose.suction_length, run.hose.name) for run in runs]
        said = [(limit, hose) for limit, hose in limits if limit is not None]
        if said:
            strictest, hose = min(said, key=lambda row: (row[0].most, row[0].recommended))
            yield from _finding(table, runs, hose, strictest)


def _finding(table: Table, runs: list[Run], hose: str, limit: SuctionLength) -> Iterator[Finding]:
    whole = sum(run.whole for run in runs)
    over = whole > limit.most
    most = limit.most if over else limit.recommended
    kit = say(
        "suction-length.allowed" if over else "suction-length.recommended",
        whole=quantity(whole, "run"),
        hose=hose,
        most=quantity(most, "run"),
        source=limit.source,
    )
    said = _difference(table, runs, whole, whole <= limit.recommended, kit)
    if over and said is None:
        said = say("suction-length", kit=kit)
    if said is None:
        return
    remedy = Remedy(said=say("suction-length.remedy", over=length(whole - limit.most)))
    yield Finding(
        severity="caution" if over else "note",
        rule="suction-length",
        subject=(first_inlet(table.plant) or "").split(".")[0],
        said=said,
        source=f"the kit: {limit.source}",
        value=whole,
        limit=most,
        unit="m",
        remedy=remedy if over else None,
    )


def _difference(
    table: Table, runs: list[Run], whole: Metre, short: bool, kit: Said
) -> Said | None:
    """Why the calculation disagrees that the hose is short enough, or too long.

    short, kit : whether the kit recommends the length, and the words for it
    """
    judged, wanted = table.safe or table, table.limits.suction_vacuum_ok
    flow = quantity(table.plant.feed_flow, "flow")
    found = _highest(judged)
    if found is None:
        dry = next((op for op in judged.operations if op.trouble == "vacuum"), None)
        if dry is None or not short:
            return None
        return say("suction-length.not-drawn", kit=kit, flow=flow, state=dry.state.said)
    vacuum, operation = found
    if short == (vacuum <= wanted):
        return None
    names = [run.line.name for run in runs]
    rubbed = sum(operation.losses[name].friction for name in names)
    each = rubbed / sum(judged.plant.runs[name].whole for name in names)
    inlet = first_inlet(judged.plant) or ""
    height = operation.waters["feed"].density * GRAVITY * operation.heights[inlet]
    return say(
        "suction-length.disagrees",
        kit=kit,
        flow=flow,
        allowed=quantity(max(0.0, whole + (wanted - vacuum) / each), "run"),
        vacuum=quantity(wanted, "vacuum"),
        state=operation.state.said,
        height=quantity(height, "pressure"),
        others=quantity(vacuum - rubbed - height, "pressure"),
        each=quantity(each, "pressure"),
    )


def _highest(table: Table) -> tuple[Pascal, Operation] | None:
    """The highest vacuum with a clean strainer and the requested flow, and its state."""
    inlet = first_inlet(table.plant) or ""
    rows = [
        (vacuum + op.band[inlet], op)
        for op in table.running
        if not op.state.fouled and (vacuum := suction_vacuum(table.plant, op)) is not None
    ]
    return max(rows, key=lambda row: row[0], default=None)
