"""One row for every quantity: the state that governs it, its band, its limit."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

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
from fitcheck.model.found.hydraulics import Governing
from fitcheck.units import Ratio

Figure = Callable[[Plant, Operation], Ratio | None]


@dataclass(frozen=True, eq=False, kw_only=True)
class Quantity:
    """What is asked of every state: a figure, which way it is bad, and up to where it is fine.

    sign   : 1 where more is worse, -1 where less is
    judged : False where what else draws on the suction side is not known, so nothing is fine
    """

    name: str
    subject: str
    figure: Figure
    sign: Ratio
    fine: Ratio | None
    most: Ratio | None
    unit: str
    states: tuple[Operation, ...]
    judged: bool = True


def governing(table: Table) -> tuple[Governing, ...]:
    """Every quantity that is known, in the state in which it is worst on the unfavourable side."""
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
        quantity=asked.name,
        subject=asked.subject,
        state=operation.state.name,
        value=expected,
        worst=judged,
        best=expected if best is None else best,
        limit=asked.most,
        unit=asked.unit,
        verdict=_verdict(judged, asked),
    )


def _verdict(judged: Ratio, asked: Quantity) -> str:
    if asked.most is not None and asked.sign * judged > asked.sign * asked.most:
        return "fails" if asked.fine is not None else "caution"
    if asked.fine is not None and asked.sign * judged > asked.sign * asked.fine:
        return "caution"
    if not asked.judged:
        return "not judged"
    return "fine" if asked.most is not None else "told"


# --- quantities -------------------------------------------------------------------------------


def _quantities(table: Table) -> Iterator[Quantity]:
    known = not table.plant.circuit.branches
    for quantity in (*_suction(table), *_pressures(table)):
        yield replace(quantity, judged=known)
    yield from _outlets(table)
    yield from _hoses(table)
    yield from _heights(table)


def _quantity(
    table: Table,
    name: str,
    subject: str,
    figure: Figure,
    sign: Ratio,
    fine: Ratio | None,
    most: Ratio | None,
    unit: str,
    states: tuple[Operation, ...] | None = None,
) -> Quantity:
    return Quantity(
        name=name,
        subject=subject,
        figure=figure,
        sign=sign,
        fine=fine,
        most=most,
        unit=unit,
        states=table.running if states is None else states,
    )


def _suction(table: Table) -> Iterator[Quantity]:
    inlet, limits = first_inlet(table.plant), table.limits
    if inlet is None:
        return
    pump = inlet.split(".")[0]
    for fouled, words in ((False, "strainer clean"), (True, "strainer fouled")):
        more = FOULING_VACUUM if fouled else 0.0
        fine = limits.suction_vacuum_max if fouled else limits.suction_vacuum_ok
        states = tuple(op for op in table.running if op.state.fouled == fouled)
        yield _quantity(
            table,
            f"vacuum at the inlet, {words}",
            pump,
            _vacuum,
            1.0,
            fine,
            limits.suction_vacuum_max + more,
            "Pa",
            states,
        )
    yield _quantity(table, "NPSH in hand", pump, _npsh_margin, -1.0, limits.npsh_margin, 0.0, "m")
    yield _quantity(table, "flow of the pump", pump, pump_flow, 1.0, None, None, "m3/s")


def _vacuum(plant: Plant, operation: Operation) -> Ratio | None:
    """On the safe side of the transition band [Pa]."""
    shown = suction_vacuum(plant, operation)
    return None if shown is None else shown + operation.band[first_inlet(plant) or ""]


def _npsh_margin(plant: Plant, operation: Operation) -> Ratio | None:
    available, required = npsh(plant, operation), npsh_required(plant, operation)
    return None if available is None or required is None else available - required


def _pressures(table: Table) -> Iterator[Quantity]:
    inlet = high_pressure_inlet(table.plant)
    if inlet is None:
        return

    def pressure(plant: Plant, operation: Operation) -> Ratio | None:
        found = operation.pressures.get(inlet)
        return None if found is None else found - operation.band[inlet]

    least = table.limits.inlet_pressure_min
    yield _quantity(
        table, "pressure at the inlet", inlet.split(".")[0], pressure, -1.0, least, least, "Pa"
    )


def _outlets(table: Table) -> Iterator[Quantity]:
    for outlet in outlets(table.plant):
        if any(line.name not in table.plant.runs for line in outlet.lines):
            continue
        fine, most = back_limits(table, outlet)
        for stopped, words in ((False, "running"), (True, "stopped")):
            yield _quantity(
                table,
                f"back pressure of the {outlet.water}, {words}",
                outlet.name,
                _back(outlet, stopped),
                1.0,
                fine,
                most,
                "Pa",
            )


def _back(outlet: Outlet, stopped: bool) -> Figure:
    return lambda plant, operation: back_pressure(plant, outlet, operation, stopped=stopped)


def _hoses(table: Table) -> Iterator[Quantity]:
    """Share of the working pressure of each high-pressure hose, velocity of the suction side."""
    plant = table.plant
    pump = plant.scenario.kit.high_pressure_pump
    for line in plant.scenario.kit.lines:
        if pump is not None and line.name in plant.runs and is_high_pressure(plant, line):
            most = table.limits.high_pressure_loss_max
            figure = _share(line.name, pump.pressure)
            yield _quantity(
                table, "share of the working pressure", line.name, figure, 1.0, most, most, "1"
            )
    for line in suction_lines(plant):
        figure = _speed(line.name)
        yield _quantity(table, "velocity", line.name, figure, 1.0, None, SUCTION_SPEED[1], "m/s")


def _share(line: str, pressure: Ratio) -> Figure:
    def share(_: Plant, operation: Operation) -> Ratio | None:
        loss = operation.losses.get(line)
        return None if loss is None else loss.at_most / pressure

    return share


def _speed(line: str) -> Figure:
    def speed(_: Plant, operation: Operation) -> Ratio | None:
        loss = operation.losses.get(line)
        return None if loss is None else loss.velocity

    return speed


def _heights(table: Table) -> Iterator[Quantity]:
    plant = table.plant
    node, level = intake(plant), upright(table)
    inlet = first_inlet(plant)
    heeled = tuple(attitudes(table))
    if node is not None:

        def immersion(of: Plant, operation: Operation) -> Ratio:
            return -opening_height(of, node, operation)

        yield _quantity(
            table,
            "intake under water",
            node.removeprefix("boat."),
            immersion,
            -1.0,
            None,
            IMMERSION,
            "m",
            heeled,
        )
    if inlet is not None:
        yield _quantity(
            table,
            "pump above the sea",
            inlet.split(".")[0],
            lambda _, operation: operation.heights[inlet],
            1.0,
            None,
            None,
            "m",
            heeled,
        )
    lift = first_fill_lift(table)
    if lift is not None and inlet is not None:
        yield _quantity(
            table,
            "lift of the first fill",
            inlet.split(".")[0],
            lambda _, __: lift,
            1.0,
            None,
            None,
            "m",
            (level,),
        )
