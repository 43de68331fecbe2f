"""Suction length over lift: the region where some bypass setting feeds the plant and keeps the
vacuum.

For one hose on the whole suction side. The vacuum at the pump is the lift plus the loss of that
hose, its fittings and the strainer; the bypass flow comes on top and may be set from shut to wide
open. Shut gives the high-pressure pump most, so where shut is not enough, nothing is. Judged at
the coldest and the warmest water, upright, clean and dirty, with bores at the narrow end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitcheck.hydraulics.network.bands import narrowed
from fitcheck.hydraulics.network.halving import largest
from fitcheck.hydraulics.network.plant import Plant, Run
from fitcheck.hydraulics.network.solve import (
    Operation,
    first_inlet,
    high_pressure_inlet,
    operate_at,
)
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.rules.judging import (
    Table,
    names,
    npsh,
    npsh_required,
    suction_lines,
    suction_vacuum,
)
from fitcheck.hydraulics.rules.limits import FOULING_VACUUM, pump_verdicts
from fitcheck.hydraulics.rules.standing import upright
from fitcheck.model.finding import Tell, silent
from fitcheck.model.found.hydraulics import BypassRange, Envelope, EnvelopeCurve, State
from fitcheck.model.given.kit import Hose
from fitcheck.model.progress import part
from fitcheck.units import CubicMetrePerSecond, Metre, Pascal

#: Lifts of the pump above the sea, and the longest run considered.
LIFTS: tuple[Metre, ...] = tuple(np.round(np.arange(-1.0, 2.51, 0.25), 3).tolist())
LONGEST: Metre = 30.0
_HALVINGS = 18
#: Range in which a bypass valve setting is searched.
SHUT: CubicMetrePerSecond = 1e-9
WIDEST: CubicMetrePerSecond = 10.0 / 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """A quantity that must stay below a limit: its value at zero length and lift, and
    its slopes.
    """

    start: Pascal
    per_metre: Pascal
    per_lift: Pascal
    fine: Pascal
    most: Pascal


def envelope(table: Table, tell: Tell = silent) -> Envelope | None:
    """The longest run over lift for every bore of suction hose in the kit, and for this layout's
    own.

    None where the suction side is not routed or nothing is drawn.
    """
    plant, lines = table.plant, suction_lines(table.plant)
    inlet = first_inlet(plant)
    if inlet is None or not lines or any(line.name not in plant.runs for line in lines):
        return None
    curves: list[EnvelopeCurve] = []
    shut = {
        name: _shut(run) if run.line.duty == "bypass" else run for name, run in plant.runs.items()
    }
    hoses = suction_hoses(plant)
    for hose in hoses:
        part(tell, "bores tried on the suction side", len(curves), len(hoses))
        slopes = slopes_of(table, replace(plant, runs=shut), hose)
        curves.append(
            EnvelopeCurve(
                hose=hose.name,
                bore=hose.bore,
                longest=tuple(longest(slopes, lift, fine=False) for lift in LIFTS),
                fine=tuple(longest(slopes, lift, fine=True) for lift in LIFTS),
            )
        )
    thin = min((plant.runs[line.name] for line in lines), key=lambda run: run.hose.bore)
    return Envelope(
        lifts=LIFTS,
        curves=tuple(curves),
        own_length=sum(plant.runs[line.name].whole for line in lines),
        own_lift=upright(table).heights[inlet],
        own_bore=thin.hose.bore,
    )


def suction_hoses(plant: Plant) -> list[Hose]:
    """Reinforced hoses suitable for the suction side, and those it has now, by bore."""
    used = {plant.runs[line.name].hose.name for line in suction_lines(plant)}
    kit = plant.scenario.kit
    sold = {hose.sold.by for hose in kit.hoses if hose.name in used}
    rows = [
        hose
        for hose in kit.hoses
        if hose.name in used or (hose.wall == "reinforced" and hose.sold.by in sold)
    ]
    by_bore = {hose.bore: hose for hose in sorted(rows, key=lambda hose: hose.name in used)}
    return [by_bore[bore] for bore in sorted(by_bore)]


def worst_states(table: Table) -> tuple[State, ...]:
    """Upright, the coldest and the warmest water, clean and dirty."""
    rows = [op.state for op in table.operations]
    level = upright(table).state
    rows = [row for row in rows if (row.heel, row.trim) == (level.heel, level.trim)]
    warmth = {min(row.temperature_C for row in rows), max(row.temperature_C for row in rows)}
    return tuple(row for row in rows if row.temperature_C in warmth)


def slopes_of(table: Table, shut: Plant, hose: Hose) -> list[Slope]:
    """The limits on a suction side of one hose, all linear in length and lift.

    With the bypass shut, no flow depends on either, so two lengths are enough.
    """
    states = worst_states(table)
    lengths = (1.0, 2.0)
    short, long = (narrowed(piped(shut, hose, length)) for length in lengths)
    slopes = []
    for state in states:
        at = [operate_at(plant, state, plant.feed_flow) for plant in (short, long)]
        height = at[0].heights[first_inlet(table.plant) or ""]
        weight = at[0].waters["feed"].density * GRAVITY
        for near, far in zip(
            _limited(table, short, at[0]), _limited(table, long, at[1]), strict=True
        ):
            rise = far[0] - near[0]
            slopes.append(
                Slope(
                    start=near[0] - rise * lengths[0] - weight * height,
                    per_metre=rise,
                    per_lift=weight,
                    fine=near[1],
                    most=near[2],
                )
            )
    return slopes


def _limited(
    table: Table, plant: Plant, operation: Operation
) -> Iterator[tuple[Pascal, Pascal, Pascal]]:
    """Vacuum, NPSH shortfall and inlet pressure shortfall: value, recommended, limit [Pa]."""
    limits, inlet = table.limits, first_inlet(plant) or ""
    shown = suction_vacuum(plant, operation)
    if shown is None:
        return
    fouled = operation.state.fouled
    yield (
        shown + operation.band[inlet],
        limits.suction_vacuum_max if fouled else limits.suction_vacuum_ok,
        limits.suction_vacuum_max + (FOULING_VACUUM if fouled else 0.0),
    )
    available, required = npsh(plant, operation), npsh_required(plant, operation)
    weight = operation.waters["feed"].density * GRAVITY
    if available is not None and required is not None:
        wanted = max(limits.npsh_ratio * required, required + limits.npsh_margin)
        yield -available * weight, -wanted * weight, -required * weight
    high = high_pressure_inlet(plant)
    if high is not None and high in operation.pressures:
        given = operation.pressures[high] - operation.band[high]
        yield -given, -limits.inlet_pressure_min, -limits.inlet_pressure_min


def longest(slopes: Sequence[Slope], lift: Metre, *, fine: bool) -> Metre | None:
    """The longest suction run of a hose at a lift, up to LONGEST; None where there is none [m]."""
    reach = LONGEST
    for slope in slopes:
        room = (slope.fine if fine else slope.most) - slope.start - slope.per_lift * lift
        if slope.per_metre > 0.0:
            reach = min(reach, room / slope.per_metre)
        elif room < 0.0:
            return None
    return reach if reach > 0.0 else None


def piped(plant: Plant, hose: Hose, length: Metre) -> Plant:
    """All of the suction side in one hose, its length distributed as now."""
    lines = names(suction_lines(plant))
    total = sum(plant.runs[name].length for name in lines)
    runs = dict(plant.runs)
    for name in lines:
        run = runs[name]
        runs[name] = replace(run, hose=hose, length=length * run.length / total)
    return replace(plant, runs=runs)


def _shut(run: Run) -> Run:
    line = replace(run.line, valve_flow=SHUT, opens_at=None)
    return replace(run, line=line)


def feeds(table: Table, plant: Plant, states: Sequence[State]) -> bool:
    """Whether the requested flow is delivered and no pump verdict fails."""
    operations = []
    for state in states:
        operations.append(operate_at(plant, state, plant.feed_flow))
        if operations[-1].trouble:
            return False
    found = pump_verdicts(Table(plant=plant, operations=tuple(operations), limits=table.limits))
    return not any(verdict.finding.severity == "fail" for verdict in found)


# --- the bypass -------------------------------------------------------------------------------


def bypass_range(table: Table) -> BypassRange | None:
    """The settings of the bypass valve for which the pumps are fed, everything dirty.

    Shut is judged first; then wider, until something fails. None without such a valve.
    """
    plant = table.plant
    line = next(
        (
            run.line
            for run in plant.runs.values()
            if run.line.duty == "bypass" and run.line.valve_flow is not None
        ),
        None,
    )
    if line is None or line.valve_flow is None:
        return None
    safe = table.safe or table
    dirt = max((op.state.dirty, op.state.fouled) for op in table.operations)
    states = tuple(
        op.state for op in table.operations if (op.state.dirty, op.state.fouled) == dirt
    )

    def passes(setting: CubicMetrePerSecond) -> bool:
        return feeds(table, safe.plant.with_valve(line.name, setting), states)

    widest = largest(passes, SHUT, WIDEST, _HALVINGS)
    return BypassRange(line=line.name, present=line.valve_flow, widest=widest)
