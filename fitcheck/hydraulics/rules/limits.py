"""Verdicts on the pumps: can the wanted flow be had, vacuum, NPSH, inlet pressure.

Vacuum, clean: fine to the first limit, a caution to the second, a fail above. With filters dirty
the second limit is what is fine, and 0.10 bar more is a caution. NPSH available below required
fails; below the ratio or the margin it is a caution. All are common practice unless the kit says
otherwise; the ratio of 1.3 is also what Crane, Flow of Fluids (TP 410), example 7-32 keeps.
"""

from __future__ import annotations

from collections.abc import Callable

from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.setting import Trouble
from fitcheck.hydraulics.network.solve import Operation, first_inlet, high_pressure_inlet
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.rules.judging import (
    Table,
    Verdict,
    graded,
    listed,
    names,
    npsh,
    npsh_required,
    pump_flow,
    suction_lines,
    suction_vacuum,
    worst,
)
from fitcheck.model.finding import Finding, Remedy, Severity
from fitcheck.model.given.kit import Line
from fitcheck.units import Metre, Pascal, show

#: Vacuum that fouling may add before it fails, above the limit for a clean suction side [Pa].
FOULING_VACUUM = 10_000.0

_WHY: dict[Trouble, str] = {
    "vacuum": "the suction side would need more vacuum than the atmosphere can give, the water "
    "boils first",
    "starved": "the high-pressure pump would be starved",
    "run-out": "the feed pump would run beyond the end of its curve",
}


def pump_verdicts(table: Table) -> list[Verdict]:
    """Everything there is to say on whether the pumps are fed."""
    verdicts = [*_flow(table), *_unknown(table)]
    rules: tuple[Callable[[Table, Operation], Verdict | None], ...] = (_vacuum, _npsh, _inlet)
    for rule in rules:
        found = [rule(table, operation) for operation in _by_need(table)]
        hardest = worst(row for row in found if row is not None)
        if hardest is not None:
            verdicts.append(hardest)
    return verdicts


def _by_need(table: Table) -> list[Operation]:
    """Running states, the highest vacuum first, so that of equal verdicts the worst is told."""
    return sorted(table.running, key=lambda op: -(suction_vacuum(table.plant, op) or 0.0))


# --- whether the flow can be had --------------------------------------------------------------


def _flow(table: Table) -> list[Verdict]:
    """One verdict on the states without the wanted flow, one on a bypass too open."""
    verdicts = []
    short = [op for op in table.operations if op.trouble in _WHY]
    if short:
        verdicts.append(_short(table, min(short, key=lambda op: op.feed_flow), short))
    wide = [op for op in table.operations if op.trouble == "bypass too open"]
    if wide:
        verdicts.append(_too_open(table.plant, wide))
    return verdicts


def _short(table: Table, least: Operation, short: list[Operation]) -> Verdict:
    plant = table.plant
    wanted = plant.feed_flow
    expected = table.expected.get(least.state.name)
    side = (
        " on the unfavourable side of bores and heights"
        if expected is not None and not expected.trouble
        else ""
    )
    can = (
        f"The largest flow this layout feeds is {show(least.feed_flow, 'flow')}."
        if least.feed_flow > 0.0
        else "No flow at all keeps the pumps fed."
    )
    return Verdict(
        finding=Finding(
            severity="fail",
            rule="largest-flow",
            subject=_subject(plant),
            said=f"{show(wanted, 'flow')} cannot be had{side} ({least.state.name}): "
            f"{_WHY[least.trouble]}. {can}",
            source="energy balance from the sea to the pump",
            value=least.feed_flow,
            limit=wanted,
            unit="m3/s",
        ),
        lines=names(feed_lines(plant)),
        states=tuple(op.state.name for op in short),
        brief=f"{show(wanted, 'flow')} cannot be had",
    )


def _too_open(plant: Plant, wide: list[Operation]) -> Verdict:
    pump = plant.pump
    end = 0.0 if pump is None else pump.last_flow
    lines = tuple(line.name for line in plant.scenario.kit.lines if line.duty == "bypass")
    return Verdict(
        finding=Finding(
            severity="fail",
            rule="bypass-too-open",
            subject=lines[0] if lines else _subject(plant),
            said=f"The bypass passes so much that the feed pump runs beyond the end of its curve "
            f"({show(end, 'flow')}, {wide[0].state.name}); what it then gives is not known.",
            source="the pump curve given",
            value=None,
            limit=end,
            unit="m3/s",
        ),
        lines=(),
        states=tuple(op.state.name for op in wide),
        brief="lets the pump run beyond its curve",
    )


def _unknown(table: Table) -> list[Verdict]:
    """Say which numbers hang on a hose that was not routed."""
    plant = table.plant
    inlet, high = first_inlet(plant), high_pressure_inlet(plant)
    if inlet is None or high is None:
        return []
    rows = {
        f"the vacuum at {inlet}": missing(plant, inlet),
        "the flow and NPSH of the feed pump": missing(plant, inlet, through="feed pump"),
        f"the pressure at {high}": missing(plant, high),
    }
    if plant.pump is None:
        del rows["the flow and NPSH of the feed pump"]
    lost = dict.fromkeys(line for lines in rows.values() for line in lines)
    if not lost:
        return []
    return [not_known(listed([what for what in rows if rows[what]]), list(lost), _subject(plant))]


def missing(plant: Plant, node: str, through: str = "") -> list[str]:
    """Unrouted lines that the pressure at a node hangs on, the loops on its way included.

    through : one more element whose flow is asked for
    """
    circuit = plant.circuit
    way = {element.name for element in circuit.way(node)} | {through}
    for loop in circuit.loops:
        members = {name for name, _ in loop.members}
        if members & way:
            way |= members
    return [
        line.name
        for line in plant.scenario.kit.lines
        if line.name in way and line.name not in plant.runs
    ]


def not_known(what: str, lost: list[str], subject: str) -> Verdict:
    """The finding that a number is not available, and why."""
    return Verdict(
        finding=Finding(
            severity="caution",
            rule="not-known",
            subject=subject,
            said=f"Not known: {what}; no way was found for {listed(lost)}.",
            source="the routes",
        ),
        lines=(),
        states=(),
        brief="not known",
    )


def feed_lines(plant: Plant) -> tuple[Line, ...]:
    """Lines before the high-pressure pump."""
    return plant.circuit.lines_in(plant.circuit.feed_side)


def _subject(plant: Plant) -> str:
    """The module of the pump that sucks."""
    inlet = first_inlet(plant)
    return "feed pump" if inlet is None else inlet.split(".")[0]


# --- one state at a time ----------------------------------------------------------------------


def _vacuum(table: Table, operation: Operation) -> Verdict | None:
    plant, limits = table.plant, table.limits
    inlet = first_inlet(plant)
    shown = suction_vacuum(plant, operation)
    if shown is None or inlet is None:
        return None
    vacuum = shown + operation.band[inlet]
    dirty = operation.state.fouled
    ok = limits.suction_vacuum_max if dirty else limits.suction_vacuum_ok
    most = limits.suction_vacuum_max + (FOULING_VACUUM if dirty else 0.0)
    severity = graded(vacuum, ok, most)
    if severity is None:
        return None
    limit = most if severity == "fail" else ok
    name = "suction_vacuum_max" if severity == "fail" or dirty else "suction_vacuum_ok"
    lines = suction_lines(plant)
    heaviest = max(lines, key=lambda line: operation.losses[line.name].total)
    lost = operation.losses[heaviest.name].total
    return _verdict(
        severity,
        "suction-vacuum",
        table,
        operation,
        text=f"A vacuum gauge at the inlet of {_subject(plant)} would show "
        f"{_vacuum_words(table, vacuum, operation)} ({operation.state.name}); "
        f"{_bar(severity, limit)}. The inlet stands {_where(operation.heights[inlet])}; "
        f"of the hoses {heaviest.name} loses most, "
        f"{show(lost, 'pressure')}.",
        source=table.source(name),
        value=vacuum,
        limit=limit,
        unit="Pa",
        lines=names(lines),
        brief=f"pump vacuum {show(vacuum, 'vacuum')}, limit {show(limit, 'vacuum')}",
        remedy=_less(table, operation, vacuum, vacuum - limit) if severity == "caution" else None,
    )


def _vacuum_words(table: Table, vacuum: Pascal, operation: Operation) -> str:
    plant = table.plant
    at = operation.state.name
    return table.figure(vacuum, "vacuum", lambda op: suction_vacuum(plant, op), at)


def _less(table: Table, operation: Operation, vacuum: Pascal, excess: Pascal) -> Remedy | None:
    """How much less loss makes a caution fine; None where more is asked than is lost at all."""
    inlet = first_inlet(table.plant) or ""
    lift = operation.waters["feed"].density * GRAVITY * operation.heights[inlet]
    if excess >= vacuum - lift:
        return None
    return Remedy(
        said=f"{show(excess, 'pressure')} less lost in hoses and strainer would make it fine."
    )


def _where(height: Metre) -> str:
    side = "above" if height >= 0.0 else "below"
    return f"{show(abs(height), 'length')} {side} the sea"


def _bar(severity: Severity, limit: Pascal) -> str:
    shown = show(limit, "vacuum")
    return f"{shown} is the most" if severity == "fail" else f"up to {shown} is fine"


def _npsh(table: Table, operation: Operation) -> Verdict | None:
    plant, limits = table.plant, table.limits
    available, required = npsh(plant, operation), npsh_required(plant, operation)
    if required is None:
        return _beyond_npsh_curve(table, operation)
    if available is None:
        return None
    wanted = max(limits.npsh_ratio * required, required + limits.npsh_margin)
    if available >= wanted:
        return None
    severity: Severity = "fail" if available < required else "caution"
    flow = pump_flow(plant, operation) or 0.0
    return _verdict(
        severity,
        "npsh-margin",
        table,
        operation,
        text=f"{_subject(plant)} has {_npsh_words(table, available, operation)} of NPSH and asks "
        f"{show(required, 'head')} at its {show(flow, 'flow')}, bypass included "
        f"({operation.state.name}); {show(wanted, 'head')} would be safe.",
        source=table.source("npsh_ratio"),
        value=available,
        limit=required if severity == "fail" else wanted,
        unit="m",
        lines=names(suction_lines(plant)),
        brief=f"NPSH {show(available, 'head')} against {show(required, 'head')}",
    )


def _npsh_words(table: Table, available: Metre, operation: Operation) -> str:
    plant = table.plant
    return table.figure(available, "head", lambda op: npsh(plant, op), operation.state.name)


def _beyond_npsh_curve(table: Table, operation: Operation) -> Verdict | None:
    """Say so where the pump runs beyond the last point of its NPSH curve."""
    plant, flow = table.plant, pump_flow(table.plant, operation)
    if plant.pump is None or plant.npsh is None or flow is None:
        return None
    end = plant.npsh.last_flow
    return _verdict(
        "caution",
        "npsh-margin",
        table,
        operation,
        text=f"{_subject(plant)} runs at {show(flow, 'flow')}, bypass included, and the NPSH it "
        f"asks is only given to {show(end, 'flow')} ({operation.state.name}).",
        source="the NPSH curve given",
        value=flow,
        limit=end,
        unit="m3/s",
        lines=(),
        brief="NPSH not given at this flow",
    )


def _inlet(table: Table, operation: Operation) -> Verdict | None:
    plant = table.plant
    inlet = high_pressure_inlet(plant)
    if inlet is None or inlet not in operation.pressures:
        return None
    pressure = operation.pressures[inlet] - operation.band[inlet]
    least = table.limits.inlet_pressure_min
    if pressure >= least:
        return None
    at = operation.state.name
    told = table.figure(pressure, "pressure", lambda op: op.pressures.get(inlet), at)
    return _verdict(
        "fail",
        "inlet-pressure",
        table,
        operation,
        text=f"{inlet.split('.')[0]} gets {told} at its inlet "
        f"({operation.state.name}); {show(least, 'pressure')} is the least.",
        source=table.source("inlet_pressure_min"),
        value=pressure,
        limit=least,
        unit="Pa",
        lines=names(feed_lines(plant)),
        brief=f"inlet pressure {show(pressure, 'pressure')}",
        port=inlet,
    )


def _verdict(
    severity: Severity,
    rule: str,
    table: Table,
    operation: Operation,
    *,
    text: str,
    source: str,
    value: float,
    limit: float,
    unit: str,
    lines: tuple[str, ...],
    brief: str,
    port: str = "",
    remedy: Remedy | None = None,
) -> Verdict:
    """A verdict on one state, placed at a pump's inlet (the first pump's unless told)."""
    inlet = port or first_inlet(table.plant) or ""
    return Verdict(
        finding=Finding(
            severity=severity,
            rule=rule,
            subject=inlet.split(".")[0],
            said=text,
            source=source,
            value=value,
            limit=limit,
            unit=unit,
            place=table.plant.ports.get(inlet),
            remedy=remedy,
        ),
        lines=lines,
        states=(operation.state.name,),
        brief=brief,
    )
