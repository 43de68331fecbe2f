"""The stage: solve every state, judge it, find remedies."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

from fitcheck.errors import OutOfRangeError, ValidityWarning
from fitcheck.findings.said import Said, quantity, say
from fitcheck.geometry.heel import height_above_sea
from fitcheck.hydraulics.answers.assumptions import assumptions_of
from fitcheck.hydraulics.answers.envelope import bypass_range, envelope
from fitcheck.hydraulics.answers.governing import governing
from fitcheck.hydraulics.network.plant import Plant, build_plant
from fitcheck.hydraulics.network.resting import resting_operations
from fitcheck.hydraulics.network.solve import Operation, high_pressure_inlet
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.seawater import DENSITY_SALINITY, STATED_SALINITY
from fitcheck.hydraulics.remedy.other_changes import Stands
from fitcheck.hydraulics.remedy.remedies import Again, with_remedies
from fitcheck.hydraulics.remedy.trials import judge, tabulate
from fitcheck.hydraulics.rules.acceleration import acceleration_findings
from fitcheck.hydraulics.rules.coil_findings import coil_findings
from fitcheck.hydraulics.rules.complete import complete_findings
from fitcheck.hydraulics.rules.gathered import gathered_findings
from fitcheck.hydraulics.rules.hose_limits import is_high_pressure
from fitcheck.hydraulics.rules.judging import (
    Table,
    Verdict,
    npsh,
    npsh_required,
    pump_flow,
    suction_lines,
    suction_vacuum,
    worst,
)
from fitcheck.hydraulics.rules.openings import opening_findings
from fitcheck.hydraulics.rules.outlets import back_pressures
from fitcheck.hydraulics.rules.piping import piping_findings
from fitcheck.hydraulics.rules.standing import flush_plan, turning_points, water_held
from fitcheck.hydraulics.rules.suction_length import suction_length_findings
from fitcheck.model.finding import Finding, Remedy, Severity, Tell, silent
from fitcheck.model.found.hydraulics import Hydraulics, LineLoss, LineSummary, PumpState, State
from fitcheck.model.found.routes import Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.kit import Line
from fitcheck.model.given.scenario import Scenario
from fitcheck.units import Metre, Pascal


def solve_water(
    scenario: Scenario, space: Space, routes: Routes, tell: Tell = silent
) -> Hydraulics:
    """Losses of every routed hose and the state of the pumps in every state of boat and water.

    Results that depend on a hose without a route are left out and reported as such. Where the
    requested flow cannot be delivered, the state is given at the largest possible flow, and fails.
    Raises OutOfRangeError for water outside -2..45 degC or 0..50 g/kg, ConvergenceError if the
    flows do not converge.
    """
    _guard_salinity(scenario)
    plant = build_plant(scenario, space, routes)
    states = plant.states
    if scenario.kit.high_pressure_pump is None:
        return _without_pump(scenario, states)
    with _valid():
        table = tabulate(plant, states, scenario.kit.limits, tell)
        tell(f"{len(states)} states of boat and water calculated")
        verdicts = judge(table)
        findings = [verdict.finding for verdict in verdicts]
        assumptions = assumptions_of(table)
        resting = resting_operations(plant)
        points = turning_points(table)
        rows = governing(table)
        flush = flush_plan(plant)
        subject = (high_pressure_inlet(plant) or "").split(".")[0]
        others = (
            *suction_length_findings(table),
            *complete_findings(scenario),
            *piping_findings(table),
            *opening_findings(table),
            *gathered_findings(table, points, flush),
            *acceleration_findings(table),
            *coil_findings(table),
            *_cycling(table),
            *_salinity_findings(table, subject),
        )
    tell(f"{len(plant.runs)} hoses checked")
    return Hydraulics(
        states=(*states, *(operation.state for operation in resting)),
        lines=tuple(_line_losses(plant, (*table.operations, *resting))),
        pumps=(
            *_pump_states(plant, table.operations),
            *(_high_pressure_state(plant, operation) for operation in resting),
        ),
        summaries=tuple(_summaries(table, list(zip(verdicts, findings, strict=True)))),
        back_pressures=back_pressures(table),
        findings=(*findings, *others),
        assumptions=assumptions,
        governing=rows,
        turning_points=points,
        held=water_held(plant),
        flush=flush,
    )


def mend_water(
    scenario: Scenario,
    space: Space,
    routes: Routes,
    water: Hydraulics,
    again: Again | None = None,
    stands: Stands | None = None,
    tell: Tell = silent,
) -> Hydraulics:
    """The water side with remedies for every fail and caution, each solved before it is reported.

    again : routes and solves a changed scenario, so that the first remedy reported is known to
    work
    stands : how far a module can be lowered, so that none is put into the hull
    """
    if scenario.kit.high_pressure_pump is None:
        return water
    with _valid():
        table = _table(scenario, space, routes)
        verdicts = judge(table)
        others = water.findings[len(verdicts) :]
        findings = with_remedies(table, verdicts, others, again, stands, tell)
        summaries = tuple(_summaries(table, list(zip(verdicts, findings, strict=True))))
    return replace(water, findings=(*findings, *others), summaries=summaries)


def find_ranges(
    scenario: Scenario, space: Space, routes: Routes, water: Hydraulics, tell: Tell = silent
) -> Hydraulics:
    """The water side with the allowed suction length over lift, and bypass settings."""
    if scenario.kit.high_pressure_pump is None:
        return water
    with _valid():
        table = _table(scenario, space, routes)
        found = replace(water, envelope=envelope(table, tell), bypass=bypass_range(table))
    tell("remedies tried; lengths and bypass settings that work found")
    return found


def _table(scenario: Scenario, space: Space, routes: Routes) -> Table:
    plant = build_plant(scenario, space, routes)
    return tabulate(plant, plant.states, scenario.kit.limits)


@contextmanager
def _valid() -> Iterator[None]:
    """Formulas used beyond their range are reported in the findings, not as single warnings."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        yield


def _guard_salinity(scenario: Scenario) -> None:
    for salinity in scenario.boat.conditions.salinity:
        if not 0.0 <= salinity <= DENSITY_SALINITY:
            raise OutOfRangeError(
                "salinity of the sea", f"{salinity * 1000:g} g/kg", "0 to 50 g/kg", "TEOS-10"
            )


def _without_pump(scenario: Scenario, states: tuple[State, ...]) -> Hydraulics:
    finding = Finding(
        severity="caution",
        rule="device-missing",
        subject=scenario.kit.name,
        said=say("device-missing.no-pump"),
        source="the kit",
        remedy=Remedy(said=say("device-missing.give-pump")),
        bars=("order_hoses",),
    )
    return Hydraulics(
        states=states,
        lines=(),
        pumps=(),
        summaries=(),
        back_pressures=(),
        findings=(finding, *complete_findings(scenario)),
        assumptions=(),
    )


# --- rows -------------------------------------------------------------------------------------


def _line_losses(plant: Plant, operations: Sequence[Operation]) -> Iterator[LineLoss]:
    """Every routed line with a known flow, in every state."""
    for line in plant.scenario.kit.lines:
        for op in operations:
            if line.name not in op.losses:
                continue
            loss = op.losses[line.name]
            yield LineLoss(
                line=line.name,
                state=op.state.name,
                flow=op.flows[line.name],
                velocity=loss.velocity,
                reynolds=loss.reynolds,
                friction_factor=loss.friction_factor,
                friction_loss=loss.friction,
                bend_loss=loss.bends,
                fitting_loss=loss.fittings,
                static=_static(plant, line, op),
                loss_at_most=loss.at_most,
                open_end_loss=loss.open_ends,
            )


def _static(plant: Plant, line: Line, operation: Operation) -> float:
    water = operation.waters[plant.circuit.waters[str(line.end)]]
    rise = operation.heights[str(line.end)] - operation.heights[str(line.start)]
    return water.density * GRAVITY * rise


def _pump_states(plant: Plant, operations: Sequence[Operation]) -> Iterator[PumpState]:
    """The feed pump, if there is one, and the high-pressure pump in every running state."""
    kit = plant.scenario.kit
    for op in operations:
        if kit.feed_pump is not None:
            yield _feed_pump_state(plant, kit.feed_pump.module, op)
        yield _high_pressure_state(plant, op)


def _feed_pump_state(plant: Plant, module: str, op: Operation) -> PumpState:
    flow = pump_flow(plant, op)
    stopped = op.feed_flow == 0.0
    bypass = None if flow is None or stopped else flow - op.feed_flow
    head = None if flow is None or stopped or plant.pump is None else plant.pump.head(flow)
    return PumpState(
        pump=module,
        state=op.state.name,
        flow=op.feed_flow if flow is None else flow,
        suction_vacuum=None if stopped else suction_vacuum(plant, op),
        npsh_available=None if stopped else npsh(plant, op),
        npsh_required=None if stopped else npsh_required(plant, op),
        bypass_flow=bypass,
        head=head,
        inlet_pressure=None,
        cycles=op.cycling,
    )


def _high_pressure_state(plant: Plant, op: Operation) -> PumpState:
    """Without a feed pump, this pump is the first one."""
    inlet = high_pressure_inlet(plant) or ""
    sucks = plant.pump is None and op.feed_flow > 0.0 and op.state.doing == "running"
    pressure = op.pressures.get(inlet)
    # A hanging column below the sea at rest lasts only while no air gets in: not reported.
    known = op.feed_flow > 0.0 or (op.state.doing == "stopped" and (pressure or 0.0) > 0.0)
    return PumpState(
        pump=inlet.split(".")[0],
        state=op.state.name,
        flow=op.feed_flow,
        suction_vacuum=suction_vacuum(plant, op) if sucks else None,
        npsh_available=npsh(plant, op) if sucks else None,
        npsh_required=None,
        bypass_flow=None,
        head=None,
        inlet_pressure=pressure if known else None,
    )


def _summaries(table: Table, judged: Sequence[tuple[Verdict, Finding]]) -> Iterator[LineSummary]:
    """One row for every routed line with a known flow: its worst state, lifts and judgement."""
    for line in table.plant.scenario.kit.lines:
        rows = [op for op in table.operations if line.name in op.losses]
        if not rows:
            continue
        heaviest = max(rows, key=lambda op: op.losses[line.name].at_most)
        rises = [op.heights[str(line.end)] - op.heights[str(line.start)] for op in rows]
        loss = heaviest.losses[line.name]
        touching = [pair for pair in judged if _touches(line, *pair)]
        severity, said = _judgement(table, line, touching, loss.at_most)
        yield LineSummary(
            line=line.name,
            state=heaviest.state.name,
            severity=severity,
            flow=heaviest.flows[line.name],
            velocity=loss.velocity,
            loss=loss.at_most,
            lift=_upright_rise(table.plant, line),
            worst_lift=max(rises),
            said=said,
            touched_by=tuple(
                dict.fromkeys(
                    (finding.rule, finding.subject)
                    for _, finding in touching
                    if finding.severity != "note"
                )
            ),
        )


def _upright_rise(plant: Plant, line: Line) -> Metre:
    start, end = (
        height_above_sea(plant.ports[str(port)], plant.flotation, 0.0, 0.0)
        for port in (line.start, line.end)
    )
    return end - start


def _judgement(
    table: Table, line: Line, touching: Sequence[tuple[Verdict, Finding]], loss: Pascal
) -> tuple[Severity | None, Said]:
    """The worst verdict that concerns the line, or its good result."""
    hardest = worst(verdict for verdict, _ in touching)
    if hardest is not None and hardest.finding.severity != "note":
        severity = hardest.finding.severity
        said = say("line.fails" if severity == "fail" else "line.caution", why=hardest.brief)
        better = next(
            _better(line, finding) for verdict, finding in touching if verdict is hardest
        )
        return severity, say("line.better", verdict=said, hose=better) if better else said
    pump = table.plant.scenario.kit.high_pressure_pump
    if pump is not None and is_high_pressure(table.plant, line):
        return None, say("line.fine-share", share=quantity(loss / pump.pressure, "fraction"))
    unknown = table.plant.circuit.branches and line in suction_lines(table.plant)
    return None, say("line.not-judged" if unknown else "line.fine")


def _touches(line: Line, verdict: Verdict, finding: Finding) -> bool:
    """Whether a verdict concerns this line: its own, its side's, or one that changing it resolves.

    The supply of the high-pressure pump depends on every line before it; only those to change are
    marked.
    """
    if verdict.finding.subject == line.name or _better(line, finding):
        return True
    return line.name in verdict.lines and finding.rule not in ("inlet-pressure", "largest-flow")


def _better(line: Line, finding: Finding) -> str:
    """The hose that a remedy gives this line, "" if none."""
    changes = () if finding.remedy is None else finding.remedy.changes
    key = f"layout.lines.{line.name}.hose"
    return next((str(row.value) for row in changes if row.key == key), "")


# --- findings ------------------------------------------------------------------------------------


def _cycling(table: Table) -> Iterator[Finding]:
    """A diaphragm pump that delivers more than is drawn is cycled by its switch."""
    plant = table.plant
    pump, often = plant.scenario.kit.feed_pump, [op for op in table.operations if op.cycling]
    if pump is None or not often or not pump.cut_in or not pump.cut_out:
        return
    runs = max(often, key=lambda op: op.flows.get("feed pump", 0.0))
    through = runs.flows.get("feed pump", 0.0)
    if not through:
        return
    yield Finding(
        severity="caution",
        rule="pump-cycling",
        subject=pump.module,
        said=say(
            "pump-cycling",
            pump=pump.module,
            given=quantity(through, "flow"),
            drawn=quantity(runs.feed_flow, "flow"),
            stops=quantity(pump.cut_out, "pressure"),
            starts=quantity(pump.cut_in, "pressure"),
            share=quantity(runs.feed_flow / through, "fraction"),
        ),
        source="the pump curve and switch given",
        value=runs.feed_flow / through,
        limit=1.0,
        unit="1",
        place=plant.ports.get(f"{pump.module}.{pump.inlet}"),
        remedy=Remedy(
            said=say("pump-cycling.remedy", bypass=quantity(through - runs.feed_flow, "flow"))
        ),
    )


def _salinity_findings(table: Table, subject: str) -> Iterator[Finding]:
    saltiest = max(
        (water for op in table.operations for water in op.waters.values()),
        key=lambda water: water.salinity,
    )
    if saltiest.salinity > STATED_SALINITY:
        yield Finding(
            severity="note",
            rule="salinity-range",
            subject=subject,
            said=say(
                "salinity-range",
                saltiest=quantity(saltiest.salinity, "mass fraction"),
                stated=quantity(STATED_SALINITY, "mass fraction"),
            ),
            source="IOC, SCOR and IAPSO 2010; Sharqawy et al. 2010",
            value=saltiest.salinity,
            limit=STATED_SALINITY,
            unit="1",
        )
