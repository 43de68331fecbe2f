"""Every judged number of the water side, on the side and in the state it is judged in."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Sequence

from fitcheck.errors import ValidityWarning
from fitcheck.hydraulics.answers.explain import height_step, line_losses, water_steps
from fitcheck.hydraulics.answers.explain_walk import (
    UPPER_FACTOR,
    Judged,
    curve_step,
    flotation_steps,
    pump_flow_step,
    walk,
)
from fitcheck.hydraulics.network.plant import build_plant
from fitcheck.hydraulics.network.solve import first_inlet, high_pressure_inlet
from fitcheck.hydraulics.physics.losses import GRAVITY, velocity_head
from fitcheck.hydraulics.physics.seawater import (
    FREEZING_POINT_OF_WATER,
    SATURATION,
    Water,
    saturation_pressure,
)
from fitcheck.hydraulics.remedy.trials import tabulate
from fitcheck.hydraulics.rules.judging import Table, npsh, npsh_required, pump_flow, suction_lines
from fitcheck.hydraulics.rules.openings import intake
from fitcheck.hydraulics.rules.outlets import Outlet, outlets
from fitcheck.model.found.explanation import Explanation, Step, given, typed
from fitcheck.model.found.hydraulics import Governing
from fitcheck.model.found.routes import Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.units import Pascal


def explain_water(
    scenario: Scenario, space: Space, routes: Routes, judged: Sequence[Governing]
) -> tuple[Explanation, ...]:
    """The loss of every line in every state, and every judged number in the governing state.

    judged : the rows of the result whose worst value is explained
    """
    if scenario.kit.high_pressure_pump is None:
        return ()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        plant = build_plant(scenario, space, routes)
        table = tabulate(plant, plant.states, scenario.kit.limits)
        numbers = (_explanation(table, row) for row in judged if row.said.key in _NUMBERS)
        return (*line_losses(plant, table.operations), *numbers)


def _explanation(table: Table, row: Governing) -> Explanation:
    number, steps = _NUMBERS[row.said.key]
    of = _judged(table, row.state)
    found = [*steps(of, row)]
    if row.limit is not None:
        found.append(given("limit", row.limit, row.unit, f"judged: {row.verdict}"))
    felt = {outlet.felt_at.split(".")[0] for outlet in _outlet(of, row)}
    return Explanation(
        names=(row.subject, *felt),
        number=number,
        said=f"{row.quantity}, on the unfavourable side",
        state=of.operation.state,
        steps=tuple(found),
    )


def _judged(table: Table, state: str) -> Judged:
    """The state on the unfavourable side; as expected if the flow is not delivered there."""
    sides = [side for side in (table.safe, table) if side is not None]
    for side in sides:
        for operation in side.running:
            if operation.state.name == state:
                return Judged(plant=side.plant, operation=operation, expected=table.plant)
    operation = next(row for row in table.operations if row.state.name == state)
    return Judged(plant=table.plant, operation=operation, expected=table.plant)


# --- pumps ------------------------------------------------------------------------------------


def _vacuum(of: Judged, row: Governing) -> Iterator[Step]:
    inlet, found = first_inlet(of.plant) or "", of.operation
    yield from walk(of, inlet)
    band = of.operation.band[inlet]
    head, lines = 0.0, suction_lines(of.plant)
    if lines:
        speed, density = found.losses[lines[-1].name].velocity, found.waters["feed"].density
        head = velocity_head(speed, density)
        yield _velocity_head(speed, density)
    yield Step(
        what="vacuum that a gauge at the inlet shows",
        formula="-p + q + allowance for the transition band",
        numbers=f"-({typed(found.pressures[inlet])}) + {typed(head)} + {typed(band)}",
        value=row.worst,
        unit="Pa",
        source="a gauge shows static pressure: the total pressure less the velocity head",
    )


def _velocity_head(speed: float, density: float) -> Step:
    return Step(
        what="velocity head at the inlet",
        formula="q = rho v^2 / 2",
        numbers=f"{typed(density)} * {typed(speed)}**2 / 2",
        value=velocity_head(speed, density),
        unit="Pa",
        source="Bernoulli",
    )


def _npsh(of: Judged, row: Governing) -> Iterator[Step]:
    inlet, found = first_inlet(of.plant) or "", of.operation
    water = found.waters["feed"]
    yield from walk(of, inlet)
    band = of.operation.band[inlet]
    yield from _vapour_pressure(water)
    available, required = npsh(of.plant, found), npsh_required(of.plant, found)
    flow, curve = pump_flow(of.plant, found), of.plant.npsh
    if available is None or required is None or flow is None or curve is None:
        return
    yield Step(
        what="NPSH available",
        formula="(atmosphere + p - allowance for the transition band - p_v) / (rho g)",
        numbers=f"({typed(found.state.atmosphere)} + ({typed(found.pressures[inlet])})"
        f" - {typed(band)} - {typed(water.vapour_pressure)})"
        f" / ({typed(water.density)} * {GRAVITY})",
        value=available,
        unit="m",
        source="definition; p is the total gauge pressure",
    )
    yield pump_flow_step(of, flow)
    yield curve_step("NPSH required", curve, flow)
    yield Step(
        what="NPSH available less NPSH required",
        formula="available - required",
        numbers=f"{typed(available)} - {typed(required)}",
        value=row.worst,
        unit="m",
        source="difference",
    )


def _vapour_pressure(water: Water) -> Iterator[Step]:
    kelvin = water.temperature_C + FREEZING_POINT_OF_WATER
    n = SATURATION
    theta = kelvin + n[8] / (kelvin - n[9])
    parts = [
        theta**2 * lead + theta * n[at] + n[at + 1]
        for lead, at in ((1.0, 0), (n[2], 3), (n[5], 6))
    ]
    yield Step(
        what="theta of the saturation equation",
        formula="T + n9 / (T - n10)",
        numbers=f"{kelvin!r} + {n[8]!r} / ({kelvin!r} - {n[9]!r})",
        value=theta,
        unit="1",
        source="IAPWS-IF97, eq. 29",
    )
    for name, lead, at, value in zip("ABC", (1.0, n[2], n[5]), (0, 3, 6), parts, strict=True):
        yield Step(
            what=f"{name} of the saturation equation",
            formula="theta^2 + n1 theta + n2; n3, n4, n5; n6, n7, n8",
            numbers=f"{lead!r} * {theta!r}**2 + {n[at]!r} * {theta!r} + {n[at + 1]!r}",
            value=value,
            unit="1",
            source="IAPWS-IF97, eq. 29",
        )
    a, b, c = parts
    pure = saturation_pressure(water.temperature_C)
    yield Step(
        what="vapour pressure of fresh water",
        formula="1e6 (2 C / (-B + sqrt(B^2 - 4 A C)))^4",
        numbers=f"1e6 * (2 * {c!r} / (-({b!r}) + sqrt(({b!r})**2 - 4 * {a!r} * {c!r})))**4",
        value=pure,
        unit="Pa",
        source="IAPWS-IF97, eq. 30",
    )
    grams = typed(water.salinity * 1000.0)
    yield Step(
        what="vapour pressure",
        formula="p (exp(-4.5818e-4 S - 2.0443e-6 S^2)), S in g/kg",
        numbers=f"{typed(pure)} * exp(-4.5818e-4 * {grams} - 2.0443e-6 * {grams}**2)",
        value=water.vapour_pressure,
        unit="Pa",
        source="Nayar, Sharqawy, Banchik and Lienhard 2016",
    )


def _inlet_pressure(of: Judged, row: Governing) -> Iterator[Step]:
    inlet = high_pressure_inlet(of.plant) or ""
    yield from walk(of, inlet)
    band = of.operation.band[inlet]
    yield _sum("inlet pressure", of.operation.pressures[inlet], "-", band, row)


def _sum(what: str, pressure: Pascal, sign: str, band: Pascal, row: Governing) -> Step:
    return Step(
        what=what,
        formula=f"p {sign} allowance for the transition band",
        numbers=f"{typed(pressure)} {sign} {typed(band)}",
        value=row.worst,
        unit="Pa",
        source="gauge pressure, on the unfavourable side",
    )


# --- outlets, hoses, heights ------------------------------------------------------------------


def _outlet(of: Judged, row: Governing) -> list[Outlet]:
    """The outlet a row belongs to, empty if it is about something else."""
    back = row.said.key in ("governing.back-running", "governing.back-stopped")
    water = dict(row.said.blanks).get("water")
    return [one for one in outlets(of.plant) if back and one.water == water]


def _running(of: Judged, row: Governing) -> Iterator[Step]:
    (outlet,) = _outlet(of, row)
    yield from walk(of, outlet.felt_at)
    band = of.operation.band[outlet.felt_at]
    yield _sum("back pressure", of.operation.pressures[outlet.felt_at], "+", band, row)


def _stopped(of: Judged, row: Governing) -> Iterator[Step]:
    (outlet,) = _outlet(of, row)
    state, water = of.operation.state, of.operation.waters[outlet.water]
    yield from water_steps(water)
    yield from flotation_steps(of)
    felt = of.operation.heights[outlet.felt_at]
    yield height_step(of.plant, outlet.felt_at, of.plant.ports[outlet.felt_at], state, felt)
    tops = []
    for line in outlet.lines:
        along = of.plant.heights_along(line.name, state)
        place = of.plant.runs[line.name].path[int(along.argmax())]
        tops.append((float(along.max()), line.name, place))
    top, line_name, place = max(tops, key=lambda one: one[0])
    at = (float(place[0]), float(place[1]), float(place[2]))
    yield height_step(of.plant, f"the highest point of {line_name}", at, state, top)
    level = felt + row.worst / (water.density * GRAVITY)
    if abs(level - top) > 1e-9:
        yield given("height of the sea, which is higher", level, "m", "by definition")
    yield Step(
        what="back pressure at stop",
        formula="rho g (h_top - h)",
        numbers=f"{typed(water.density)} * {GRAVITY} * ({typed(level)} - {typed(felt)})",
        value=row.worst,
        unit="Pa",
        source="hydrostatics: the water column is at rest",
    )


def _share(of: Judged, row: Governing) -> Iterator[Step]:
    pump = of.plant.scenario.kit.high_pressure_pump
    run, loss = of.plant.runs[row.subject], of.operation.losses[row.subject]
    if pump is None:
        return
    yield from water_steps(of.operation.waters[of.plant.circuit.waters[str(run.line.end)]])
    yield from of.loss_steps(row.subject)
    if loss.at_most != loss.total:
        yield given("loss with the upper friction factor", loss.at_most, "Pa", UPPER_FACTOR)
    yield Step(
        what="share of the working pressure",
        formula="dp / p",
        numbers=f"{typed(loss.at_most)} / {typed(pump.pressure)}",
        value=row.worst,
        unit="1",
        source="the kit: working pressure",
    )


def _velocity(of: Judged, row: Governing) -> Iterator[Step]:
    found = of.loss_steps(row.subject)
    for step in found:
        yield step
        if step.unit == "m/s":
            return


def _immersion(of: Judged, row: Governing) -> Iterator[Step]:
    node, state = intake(of.plant) or "", of.operation.state
    height = of.operation.heights[node]
    ports = of.plant.scenario.boat.ports
    below = next(port.opening_below for port in ports if f"boat.{port.name}" == node)
    yield from flotation_steps(of)
    yield height_step(of.plant, node, of.plant.ports[node], state, height)
    yield Step(
        what="depth of the opening below the sea",
        formula="-h + below * cos(heel) cos(trim)",
        numbers=f"-({typed(height)})"
        f" + {typed(below)} * cos({typed(state.heel)}) * cos({typed(state.trim)})",
        value=row.worst,
        unit="m",
        source="the boat file: depth of the opening below the port",
    )


_NUMBERS: dict[str, tuple[str, Callable[[Judged, Governing], Iterator[Step]]]] = {
    "governing.vacuum-clean": ("vacuum", _vacuum),
    "governing.vacuum-fouled": ("vacuum-fouled", _vacuum),
    "governing.npsh": ("npsh", _npsh),
    "governing.inlet-pressure": ("inlet-pressure", _inlet_pressure),
    "governing.back-running": ("back-pressure", _running),
    "governing.back-stopped": ("back-pressure-stopped", _stopped),
    "governing.pressure-share": ("share", _share),
    "governing.velocity": ("velocity", _velocity),
    "governing.immersion": ("immersion", _immersion),
}
