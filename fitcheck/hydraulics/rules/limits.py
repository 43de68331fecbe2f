"""Verdicts on the pumps: requested flow, vacuum, NPSH, inlet pressure.

Vacuum, clean: ok up to the first limit, a caution up to the second, a fail above. With dirty
filters it is ok up to the second limit, and a caution up to 0.10 bar more. NPSH available below
required fails; below the ratio or the margin it is a caution. All are common practice unless the
kit says otherwise; the ratio of 1.3 is also used in Crane, Flow of Fluids (TP 410), example 7-32.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fitcheck.findings.said import Said, length, quantity, say
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.setting import Trouble
from fitcheck.hydraulics.network.solve import Operation, first_inlet, high_pressure_inlet
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.rules.judging import (
    Table,
    Verdict,
    graded,
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
from fitcheck.units import Metre, Pascal

#: Vacuum that fouling may add before it fails, above the limit for a clean suction side [Pa].
FOULING_VACUUM = 10_000.0

_WHY: dict[Trouble, Said] = {
    "vacuum": say("largest-flow.vacuum"),
    "starved": say("largest-flow.starved"),
    "run-out": say("largest-flow.run-out"),
}


def pump_verdicts(table: Table) -> list[Verdict]:
    """All verdicts on whether the pumps are fed."""
    verdicts = [*_flow(table), *_unknown(table)]
    rules: tuple[Callable[[Table, Operation], Verdict | None], ...] = (_vacuum, _npsh, _inlet)
    for rule in rules:
        found = [rule(table, operation) for operation in _by_need(table)]
        hardest = worst(row for row in found if row is not None)
        if hardest is not None:
            verdicts.append(hardest)
    return verdicts


def _by_need(table: Table) -> list[Operation]:
    """Running states, highest vacuum first, so that of equal verdicts the worst is reported."""
    return sorted(table.running, key=lambda op: -(suction_vacuum(table.plant, op) or 0.0))


# --- whether the flow can be had --------------------------------------------------------------


def _flow(table: Table) -> list[Verdict]:
    """One verdict on the states without the requested flow, one on a bypass open too far."""
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
    wanted = quantity(plant.feed_flow, "flow")
    expected = table.expected.get(least.state.name)
    can = say("largest-flow.none")
    if least.feed_flow > 0.0:
        can = say("largest-flow.some", flow=quantity(least.feed_flow, "flow"))
    unfavourable = expected is not None and not expected.trouble
    return Verdict(
        finding=Finding(
            severity="fail",
            rule="largest-flow",
            subject=_subject(plant),
            said=say(
                "largest-flow.unfavourable" if unfavourable else "largest-flow.expected",
                wanted=wanted,
                state=least.state.said,
                why=_WHY[least.trouble],
                can=can,
            ),
            source="energy balance from the sea to the pump",
            value=least.feed_flow,
            limit=plant.feed_flow,
            unit="m3/s",
        ),
        lines=names(feed_lines(plant)),
        states=tuple(op.state.name for op in short),
        brief=say("largest-flow.brief", wanted=wanted),
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
            said=say("bypass-too-open", end=quantity(end, "flow"), state=wide[0].state.said),
            source="the pump curve given",
            value=None,
            limit=end,
            unit="m3/s",
        ),
        lines=(),
        states=tuple(op.state.name for op in wide),
        brief=say("bypass-too-open.brief"),
    )


def _unknown(table: Table) -> list[Verdict]:
    """Report which numbers depend on a hose that was not routed."""
    plant = table.plant
    inlet, high = first_inlet(plant), high_pressure_inlet(plant)
    if inlet is None or high is None:
        return []
    pump = [] if plant.pump is None else missing(plant, inlet, through="feed pump")
    rows = (
        (say("not-known.vacuum", port=inlet), missing(plant, inlet)),
        (say("not-known.feed-pump"), pump),
        (say("not-known.inlet-pressure", port=high), missing(plant, high)),
    )
    lost = dict.fromkeys(line for _, lines in rows for line in lines)
    if not lost:
        return []
    return [not_known([what for what, lines in rows if lines], list(lost), _subject(plant))]


def missing(plant: Plant, node: str, through: str = "") -> list[str]:
    """Unrouted lines that the pressure at a node depends on, including loops on its way.

    through : one more element whose flow is needed
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


def not_known(what: Sequence[Said], lost: list[str], subject: str) -> Verdict:
    """The finding that numbers are not available, and why."""
    return Verdict(
        finding=Finding(
            severity="caution",
            rule="not-known",
            subject=subject,
            said=say("not-known", what=what, lines=lost),
            source="the routes",
        ),
        lines=(),
        states=(),
        brief=say("not-known.brief"),
    )


def feed_lines(plant: Plant) -> tuple[Line, ...]:
    """Lines before the high-pressure pump."""
    return plant.circuit.lines_in(plant.circuit.feed_side)


def _subject(plant: Plant) -> str:
    """The module of the first pump."""
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
    at, heaviest = (
        operation.state.name,
        max(lines, key=lambda line: operation.losses[line.name].total),
    )
    lost = operation.losses[heaviest.name].total
    return _verdict(
        severity,
        "suction-vacuum",
        table,
        operation,
        said=say(
            "suction-vacuum.most" if severity == "fail" else "suction-vacuum.fine",
            pump=_subject(plant),
            vacuum=table.figure(vacuum, "vacuum", lambda op: suction_vacuum(plant, op), at),
            state=operation.state.said,
            limit=quantity(limit, "vacuum"),
            where=_where(operation.heights[inlet]),
            line=heaviest.name,
            lost=quantity(lost, "pressure"),
        ),
        source=table.source(name),
        value=vacuum,
        limit=limit,
        unit="Pa",
        lines=names(lines),
        brief=say(
            "suction-vacuum.brief" if severity == "fail" else "suction-vacuum.fine-brief",
            vacuum=quantity(vacuum, "vacuum"),
            limit=quantity(limit, "vacuum"),
        ),
        remedy=_less(table, operation, vacuum, vacuum - limit) if severity == "caution" else None,
    )


def _less(table: Table, operation: Operation, vacuum: Pascal, excess: Pascal) -> Remedy | None:
    """How much less loss makes a caution ok; None where that exceeds the whole loss."""
    inlet = first_inlet(table.plant) or ""
    lift = operation.waters["feed"].density * GRAVITY * operation.heights[inlet]
    if excess >= vacuum - lift:
        return None
    return Remedy(said=say("suction-vacuum.remedy", less=quantity(excess, "pressure")))


def _where(height: Metre) -> Said:
    if height >= 0.0:
        return say("suction-vacuum.above", height=length(height))
    return say("suction-vacuum.below", depth=length(-height))


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
    at, flow = operation.state.name, pump_flow(plant, operation) or 0.0
    return _verdict(
        severity,
        "npsh-margin",
        table,
        operation,
        said=say(
            "npsh-margin.short",
            pump=_subject(plant),
            available=table.figure(available, "head", lambda op: npsh(plant, op), at),
            required=quantity(required, "head"),
            flow=quantity(flow, "flow"),
            state=operation.state.said,
            wanted=quantity(wanted, "head"),
        ),
        source=table.source("npsh_ratio"),
        value=available,
        limit=required if severity == "fail" else wanted,
        unit="m",
        lines=names(suction_lines(plant)),
        brief=say(
            "npsh-margin.short-brief",
            available=quantity(available, "head"),
            required=quantity(required, "head"),
        ),
    )


def _beyond_npsh_curve(table: Table, operation: Operation) -> Verdict | None:
    """A verdict where the pump runs beyond the last point of its NPSH curve."""
    plant, flow = table.plant, pump_flow(table.plant, operation)
    if plant.pump is None or plant.npsh is None or flow is None:
        return None
    end = plant.npsh.last_flow
    return _verdict(
        "caution",
        "npsh-margin",
        table,
        operation,
        said=say(
            "npsh-margin.beyond",
            pump=_subject(plant),
            flow=quantity(flow, "flow"),
            end=quantity(end, "flow"),
            state=operation.state.said,
        ),
        source="the NPSH curve given",
        value=flow,
        limit=end,
        unit="m3/s",
        lines=(),
        brief=say("npsh-margin.beyond-brief"),
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
    return _verdict(
        "fail",
        "inlet-pressure",
        table,
        operation,
        said=say(
            "inlet-pressure",
            pump=inlet.split(".")[0],
            pressure=table.figure(pressure, "pressure", lambda op: op.pressures.get(inlet), at),
            state=operation.state.said,
            least=quantity(least, "pressure"),
        ),
        source=table.source("inlet_pressure_min"),
        value=pressure,
        limit=least,
        unit="Pa",
        lines=names(feed_lines(plant)),
        brief=say(
            "inlet-pressure.brief",
            pressure=quantity(pressure, "pressure"),
            least=quantity(least, "pressure"),
        ),
        port=inlet,
    )


def _verdict(
    severity: Severity,
    rule: str,
    table: Table,
    operation: Operation,
    *,
    said: Said,
    source: str,
    value: float,
    limit: float,
    unit: str,
    lines: tuple[str, ...],
    brief: Said,
    port: str = "",
    remedy: Remedy | None = None,
) -> Verdict:
    """A verdict on one state, placed at a pump's inlet (the first pump's by default)."""
    inlet = port or first_inlet(table.plant) or ""
    return Verdict(
        finding=Finding(
            severity=severity,
            rule=rule,
            subject=inlet.split(".")[0],
            said=said,
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
