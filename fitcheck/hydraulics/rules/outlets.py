"""Back pressure on the brine and the product, running and stopped.

Running, the hose is full and the water leaves at the outlet. Stopped, nothing flows and the column
up to the highest point of the run rests on what is below: on the panel for the brine; for the
product on the membrane, which then has no pressure of its own.

Product back pressure tears the membrane, so exceeding its limit is a fail. The brine only adds to
the load of the pressure pump: it is a fail above the share of the working pressure that a hose may
take, or above the maker's limit, and a caution above 0.5 bar unless the maker states otherwise.
The rating of its hoses is judged separately.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fitcheck.findings.said import Said, quantity, say
from fitcheck.hydraulics.network.circuit import Element, WaterName
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import Operation
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.rules.judging import Table, Verdict, graded, names
from fitcheck.hydraulics.rules.limits import missing, not_known
from fitcheck.model.finding import Finding, Severity
from fitcheck.model.found.hydraulics import BackPressure
from fitcheck.model.given.kit import Line
from fitcheck.units import Pascal

RULES = {"brine": "brine-back-pressure", "product": "product-back-pressure"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """An outlet of the membrane: where its back pressure acts, and the lines from there on."""

    water: WaterName
    felt_at: str
    lines: tuple[Line, ...]
    opening: str

    @property
    def name(self) -> str:
        """Named after its last line."""
        return self.lines[-1].name


def outlets(plant: Plant) -> tuple[Outlet, ...]:
    """The brine and product outlets, as far as they are connected."""
    membrane = plant.scenario.kit.membrane
    if membrane is None:
        return ()
    found = []
    waters: tuple[tuple[WaterName, str], ...] = (
        ("brine", membrane.brine),
        ("product", membrane.product),
    )
    for water, port in waters:
        way = tuple(plant.circuit.way(f"{membrane.module}.{port}"))
        low = tuple(element.line for element in _low_pressure(way, water) if element.line)
        if low and way[-1].kind == "open end":
            found.append(
                Outlet(water=water, felt_at=str(low[0].start), lines=low, opening=way[-1].end)
            )
    return tuple(found)


def _low_pressure(way: tuple[Element, ...], water: WaterName) -> Iterator[Element]:
    """Elements from the first line of that duty on."""
    begun = False
    for element in way:
        begun = begun or (element.line is not None and element.line.duty == water)
        if begun:
            yield element


def back_pressures(table: Table) -> tuple[BackPressure, ...]:
    """Every outlet in its worst running and its worst stopped state."""
    rows = []
    for outlet in outlets(table.plant):
        running = [(p, op) for op in table.running if (p := _running(outlet, op)) is not None]
        if not running or any(line.name not in table.plant.runs for line in outlet.lines):
            continue
        stopped = [(_stopped(table.plant, outlet, op), op) for op in table.operations]
        most, state = max(running, key=lambda row: row[0])
        still, still_state = max(stopped, key=lambda row: row[0])
        rows.append(
            BackPressure(
                outlet=outlet.name,
                running=most,
                running_state=state.state.name,
                stopped=still,
                stopped_state=still_state.state.name,
                limit=back_limits(table, outlet)[1],
            )
        )
    return tuple(rows)


def back_limits(table: Table, outlet: Outlet) -> tuple[Pascal, Pascal]:
    """Recommended maximum and limit of the back pressure [Pa]."""
    limits, pump = table.limits, table.plant.scenario.kit.high_pressure_pump
    if outlet.water == "product":
        return limits.product_back_pressure_max, limits.product_back_pressure_max
    fine = limits.brine_back_pressure_max
    if pump is None or "brine_back_pressure_max" in limits.given:
        return fine, fine
    return fine, max(fine, limits.high_pressure_loss_max * pump.pressure)


def back_pressure(
    plant: Plant, outlet: Outlet, operation: Operation, *, stopped: bool
) -> Pascal | None:
    """Back pressure of one outlet in one state, running or stopped [Pa]."""
    return _stopped(plant, outlet, operation) if stopped else _running(outlet, operation)


def _running(outlet: Outlet, operation: Operation) -> Pascal | None:
    """On the safe side of the transition band [Pa]."""
    if outlet.felt_at not in operation.pressures:
        return None
    return operation.pressures[outlet.felt_at] + operation.band[outlet.felt_at]


def _stopped(plant: Plant, outlet: Outlet, operation: Operation) -> Pascal:
    """The column up to the highest point of the run, or to the sea if that is higher."""
    state = operation.state
    level = max(float(plant.heights_along(line.name, state).max()) for line in outlet.lines)
    ports = plant.scenario.boat.ports
    role = next(port.role for port in ports if f"boat.{port.name}" == outlet.opening)
    if role != "tank":
        level = max(level, 0.0)
    density = operation.waters[outlet.water].density
    return density * GRAVITY * (level - operation.heights[outlet.felt_at])


def outlet_verdicts(table: Table, rows: tuple[BackPressure, ...]) -> list[Verdict]:
    """Back pressures above their limit, and unknown ones."""
    verdicts = []
    by_name = {row.outlet: row for row in rows}
    for outlet in outlets(table.plant):
        row = by_name.get(outlet.name)
        lost = missing(table.plant, outlet.felt_at)
        if lost:
            verdicts.append(not_known([_of(outlet)], lost, outlet.name))
        elif row is not None:
            fine, most = back_limits(table, outlet)
            severity = graded(max(row.running, row.stopped), fine, most)
            if severity is not None:
                verdicts.append(_too_much(table, outlet, row, severity))
    return verdicts


def _of(outlet: Outlet) -> Said:
    return say("not-known.back-pressure", water=outlet.water)


def _too_much(table: Table, outlet: Outlet, row: BackPressure, severity: Severity) -> Verdict:
    fine, most = back_limits(table, outlet)
    limit = most if severity == "fail" else fine
    standing = row.stopped > row.running
    value = max(row.running, row.stopped)
    state = row.stopped_state if standing else row.running_state
    pressure, bound = quantity(value, "pressure"), quantity(limit, "pressure")
    at = table.said(state)
    doing = say("back-pressure.stopped" if standing else "back-pressure.running")
    if outlet.water == "product":
        said = say("product-back-pressure", pressure=pressure, doing=doing, state=at, limit=bound)
    else:
        said = say(
            "brine-back-pressure.most" if severity == "fail" else "brine-back-pressure.fine",
            pressure=pressure,
            module=outlet.felt_at.split(".")[0],
            doing=doing,
            state=at,
            limit=bound,
        )
    return Verdict(
        finding=Finding(
            severity=severity,
            rule=RULES[outlet.water],
            subject=outlet.name,
            said=said,
            source=table.source(f"{outlet.water}_back_pressure_max"),
            value=value,
            limit=limit,
            unit="Pa",
        ),
        lines=names(outlet.lines),
        states=(state,),
        brief=say(
            "back-pressure.brief" if severity == "fail" else "back-pressure.fine-brief",
            pressure=pressure,
            limit=bound,
        ),
    )
