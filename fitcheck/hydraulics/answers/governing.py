"""One row for every quantity: its governing state, its band, its limit."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from fitcheck.findings.said import Said, say
from fitcheck.hydraulics.network.bands import favourable
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import Operation, first_inlet, high_pressure_inlet, operate
from fitcheck.hydraulics.rules.hose_limits import SUCTION_SPEED, is_high_pressure
from fitcheck.hydraulics.rules.judging import (
    Table,
    npsh,
    npsh_required,
    pump_flow,
    suction_lines,
    suction_vacuum,
)
from fitcheck.hydraulics.rules.limits import FOULING_VACUUM
from fitcheck.hydraulics.rules.openings import IMMERSION, first_fill_lift, intake, opening_height
from fitcheck.hydraulics.rules.outlets import Outlet, back_limits, back_pressure, outlets
from fitcheck.hydraulics.rules.standing import attitudes, upright
from fitcheck.model.found.hydraulics import Governing, Judgement
from fitcheck.units import Ratio

Figure = Callable[[Plant, Operation], Ratio | None]


@dataclass(frozen=True, eq=False)
class Quantity:
    """A quantity taken from every state: which direction is bad, and its recommended limit.

    sign : 1 where more is worse, -1 where less is
    shown_as : the kind for `units.show`, where the unit is ambiguous
    judged : False where an unknown consumer draws on the suction side, so nothing counts as ok
    """

    said: Said
    subject: str
    unit: str
    figure: Figure
    states: tuple[Operation, ...]
    sign: Ratio = 1.0
    fine: Ratio | None = None
    most: Ratio | None = None
    shown_as: str = ""
    judged: bool = True


def governing(table: Table) -> tuple[Governing, ...]:
    """Every known quantity, in its worst state on the unfavourable side."""
    kinder = favourable(table.plant)
    rows = (_row(table, kinder, quantity) for quantity in _quantities(table))
    return tuple(row for row in rows if row is not None)


def _row(table: Table, kinder: Plant, asked: Quantity) -> Governing | None:
    safe = table.safe or table
    worse = {operation.state.name: operation for operation in safe.running}
    known = []
    for operation in asked.states:
        expected = asked.figure(table.plant, operation)
        if expected is not None:
            worst = worse.get(operation.state.name)
            judged = None if worst is None else asked.figure(safe.plant, worst)
            known.append((expected if judged is None else judged, expected, operation))
    if not known:
        return None
    judged, expected, operation = max(known, key=lambda row: asked.sign * row[0])
    best = asked.figure(kinder, operate(kinder, operation.state))
    return Governing(
        said=asked.said,
        subject=asked.subject,
        state=operation.state.name,
        value=expected,
        worst=judged,
        best=expected if best is None else best,
        limit=asked.most,
        unit=asked.unit,
        shown_as=asked.shown_as or asked.unit,
        verdict=_verdict(judged, asked),
    )


def _verdict(judged: Ratio, asked: Quantity) -> Judgement:
    if asked.most is not None and asked.sign * judged > asked.sign * asked.most:
        return "fails" if asked.fine is not None else "caution"
    if asked.fine is not None and asked.sign * judged > asked.sign * asked.fine:
        return "caution"
    if not asked.judged:
        return "not judged"
    return "fine" if asked.most is not None else "info"


# --- quantities -------------------------------------------------------------------------------


def _quantities(table: Table) -> Iterator[Quantity]:
    known = not table.plant.circuit.branches
    for quantity in (*_suction(table), *_pressures(table)):
        yield replace(quantity, judged=known)
    yield from _outlets(table)
    yield from _hoses(table)
    yield from _heights(table)


def _suction(table: Table) -> Iterator[Quantity]:
    inlet, limits = first_inlet(table.plant), table.limits
    if inlet is None:
        return
    pump, running = inlet.split(".")[0], table.running
    for fouled in (False, True):
        fine = limits.suction_vacuum_max if fouled else limits.suction_vacuum_ok
        most = limits.suction_vacuum_max + (FOULING_VACUUM if fouled else 0.0)
        states = tuple(op for op in running if op.state.fouled == fouled)
        name = say("governing.vacuum-fouled" if fouled else "governing.vacuum-clean")
        yield Quantity(name, pump, "Pa", _vacuum, states, fine=fine, most=most, shown_as="vacuum")
    required = [found for op in running if (found := npsh_required(table.plant, op)) is not None]
    margin = max([limits.npsh_margin, *((limits.npsh_ratio - 1.0) * head for head in required)])
    yield Quantity(
        say("governing.npsh"),
        pump,
        "m",
        _npsh_margin,
        running,
        sign=-1.0,
        fine=margin,
        most=0.0,
        shown_as="head",
    )
    yield Quantity(say("governing.flow"), pump, "m3/s", pump_flow, running)


def _vacuum(plant: Plant, operation: Operation) -> Ratio | None:
    """On the safe side of the transition band [Pa]."""
    shown = suction_vacuum(plant, operation)
    return None if shown is None else shown + operation.band[first_inlet(plant) or ""]


def _npsh_margin(plant: Plant, operation: Operation) -> Ratio | None:
    available, required = npsh(plant, operation), npsh_required(plant, operation)
    return None if available is None or required is None else available - required


def _pressures(table: Table) -> Iterator[Quantity]:
    inlet, least = high_pressure_inlet(table.plant), table.limits.inlet_pressure_min
    if inlet is None:
        return

    def pressure(_: Plant, operation: Operation) -> Ratio | None:
        found = operation.pressures.get(inlet)
        return None if found is None else found - operation.band[inlet]

    name, pump = say("governing.inlet-pressure"), inlet.split(".")[0]
    yield Quantity(name, pump, "Pa", pressure, table.running, sign=-1.0, fine=least, most=least)


def _outlets(table: Table) -> Iterator[Quantity]:
    for outlet in outlets(table.plant):
        if any(line.name not in table.plant.runs for line in outlet.lines):
            continue
        fine, most = back_limits(table, outlet)
        for stopped in (False, True):
            name = say(
                "governing.back-stopped" if stopped else "governing.back-running",
                water=outlet.water,
            )
            figure = _back(outlet, stopped)
            yield Quantity(name, outlet.name, "Pa", figure, table.running, fine=fine, most=most)


def _back(outlet: Outlet, stopped: bool) -> Figure:
    return lambda plant, operation: back_pressure(plant, outlet, operation, stopped=stopped)


def _hoses(table: Table) -> Iterator[Quantity]:
    """Pressure loss of each high-pressure hose as a share of the working pressure, velocity of the
    suction side.
    """
    plant, most = table.plant, table.limits.high_pressure_loss_max
    pump = plant.scenario.kit.high_pressure_pump
    for line in plant.scenario.kit.lines:
        if pump is not None and line.name in plant.runs and is_high_pressure(plant, line):
            name, figure = say("governing.pressure-share"), _share(line.name, pump.pressure)
            yield Quantity(
                name,
                line.name,
                "1",
                figure,
                table.running,
                fine=most,
                most=most,
                shown_as="fraction",
            )
    for line in suction_lines(plant):
        name, figure = say("governing.velocity"), _speed(line.name)
        yield Quantity(name, line.name, "m/s", figure, table.running, most=SUCTION_SPEED[1])


def _share(line: str, pressure: Ratio) -> Figure:
    return lambda _, op: op.losses[line].at_most / pressure if line in op.losses else None


def _speed(line: str) -> Figure:
    return lambda _, op: op.losses[line].velocity if line in op.losses else None


def _heights(table: Table) -> Iterator[Quantity]:
    node, inlet, lift = intake(table.plant), first_inlet(table.plant), first_fill_lift(table)
    heeled = tuple(attitudes(table))
    if node is not None:
        port = node.removeprefix("boat.")
        yield Quantity(
            say("governing.immersion"),
            port,
            "m",
            lambda of, op: -opening_height(of, node, op),
            heeled,
            sign=-1.0,
            most=IMMERSION,
            shown_as="run",
        )
    if inlet is None:
        return
    pump = inlet.split(".")[0]
    yield Quantity(
        say("governing.height"), pump, "m", lambda _, op: op.heights[inlet], heeled, shown_as="run"
    )
    if lift is not None:
        level = (upright(table),)
        name = say("governing.first-fill")
        yield Quantity(name, pump, "m", lambda _, __: lift, level, shown_as="run")
