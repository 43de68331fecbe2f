"""The calculation of one line, step by step, as an engineer would check it by hand.

Every step shows its formula, the formula with its numbers in SI, the result and the source. The
arithmetic is independent: the numbers are calculated here from the printed inputs and must agree
with the stage's results, which a test verifies.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from fitcheck.findings.said import quantity, say
from fitcheck.geometry.heel import sea_normal
from fitcheck.hydraulics.answers.explain_ends import coil_steps, open_end_steps, tail_steps
from fitcheck.hydraulics.network.plant import Plant, Run
from fitcheck.hydraulics.network.solve import Operation
from fitcheck.hydraulics.physics.losses import GRAVITY, HoseLoss, velocity
from fitcheck.hydraulics.physics.seawater import DENSITY_SALINITY, Water
from fitcheck.model.found.explanation import Explanation, Step, given, typed
from fitcheck.model.found.hydraulics import State
from fitcheck.model.found.routes import Bend
from fitcheck.model.given.kit import Line
from fitcheck.units import Metre, Pascal, Point, Ratio

_CHURCHILL = "Churchill 1977, Chemical Engineering"
_BERNOULLI = "Darcy and Weisbach"
#: Smaller values are rounding [Pa].
_NOTHING: Pascal = 1e-6


def line_losses(plant: Plant, found: Sequence[Operation]) -> Iterator[Explanation]:
    """The loss of every routed line in every state where its flow is known, worst first."""
    for line in plant.scenario.kit.lines:
        if line.name in plant.runs:
            known = [operation for operation in found if line.name in operation.losses]
            known.sort(key=lambda row: row.losses[line.name].total, reverse=True)
            yield from (_explanation(plant, line, operation) for operation in known)


def _explanation(plant: Plant, line: Line, operation: Operation) -> Explanation:
    run = plant.runs[line.name]
    return Explanation(
        names=(line.name,),
        number="loss",
        said=f"loss from {line.start} to {line.end} in {run.hose.name}, bores and lengths as "
        "expected",
        state=operation.state,
        steps=tuple(_steps(plant, run, operation)),
    )


# --- steps ------------------------------------------------------------------------------------


def _steps(plant: Plant, run: Run, operation: Operation) -> Iterator[Step]:
    name = run.line.name
    loss = operation.losses[name]
    water = operation.waters[plant.circuit.waters[str(run.line.end)]]
    yield flow_step(plant, name, operation)
    yield from water_steps(water)
    if not loss.reynolds:
        return
    yield from loss_steps(run, operation, water)
    yield from _heights(plant, run, operation, water)


def loss_steps(run: Run, operation: Operation, water: Water) -> Iterator[Step]:
    """The loss of the hose at its flow, part by part, and the sum."""
    name = run.line.name
    loss = operation.losses[name]
    yield from _friction(run, loss, water, abs(operation.flows[name]))
    yield from coil_steps(run, loss, water)
    yield from _bends(run, loss, water)
    yield _fittings(run, water, operation.flows[name])
    yield from open_end_steps(run.line, loss, water, operation.flows[name])
    yield from tail_steps(run, loss, water, abs(operation.flows[name]))
    yield Step(
        what="loss of the line",
        formula="dp = friction + bends + fittings and valve",
        numbers=" + ".join(
            typed(part) for part in _parts(run, loss, water, operation.flows[name])
        ),
        value=loss.total,
        unit="Pa",
        source="sum",
    )


def _parts(run: Run, loss: HoseLoss, water: Water, flow: Ratio) -> list[Pascal]:
    """Friction, bends, fittings; open ends, tails, coil if any."""
    own = _fittings(run, water, flow).value
    more = [part for part in (loss.open_ends, loss.tails, loss.coil) if abs(part) > _NOTHING]
    return [loss.friction - loss.coil, loss.bends, own, *more]


def flow_step(plant: Plant, name: str, operation: Operation) -> Step:
    """The flow of a line, and what determines it."""
    looped = any(name in dict(loop.members) for loop in plant.circuit.loops)
    share, drawn = (part.get(name, 0.0) for part in (plant.circuit.share, plant.circuit.drawn))
    if looped:
        return given(
            "flow",
            operation.flows[name],
            "m3/s",
            "solved: the pressures round the loop sum to zero",
            "sum of dp round the loop = 0",
        )
    return Step(
        what="flow",
        formula="Q = share of the feed flow * feed flow" + (" + other consumers" if drawn else ""),
        numbers=f"{typed(share)} * {typed(operation.feed_flow)}"
        + (f" + {typed(drawn)}" if drawn else ""),
        value=operation.flows[name],
        unit="m3/s",
        source="the kit: high-pressure pump and recovery",
    )


def water_steps(water: Water) -> Iterator[Step]:
    """Density and viscosity of a water."""
    density = "IOC, SCOR and IAPSO 2010 (TEOS-10)"
    if water.salinity > DENSITY_SALINITY:
        density = "Sharqawy, Lienhard and Zubair 2010, eq. 8"
    yield given("density", water.density, "kg/m3", density, "rho(S, t)")
    t, s = typed(water.temperature_C), typed(water.salinity)
    yield Step(
        what="viscosity",
        formula="mu = mu_w(t) * (1 + A(t) S + B(t) S^2)",
        numbers=(
            f"(4.2844e-5 + 1 / (0.157 * ({t} + 64.993)**2 - 91.296))"
            f" * (1 + (1.541 + 1.998e-2 * {t} - 9.52e-5 * {t}**2) * {s}"
            f" + (7.974 - 7.561e-2 * {t} + 4.724e-4 * {t}**2) * {s}**2)"
        ),
        value=water.viscosity,
        unit="Pa s",
        source="Sharqawy, Lienhard and Zubair 2010, eqs. 22 and 23",
    )


def _friction(run: Run, loss: HoseLoss, water: Water, flow: Ratio) -> Iterator[Step]:
    bore = typed(run.hose.bore)
    yield Step(
        what="velocity",
        formula="v = 4 Q / (pi d^2)",
        numbers=f"4 * {typed(flow)} / (pi * {bore}**2)",
        value=loss.velocity,
        unit="m/s",
        source="continuity; d is the true bore",
    )
    yield Step(
        what="Reynolds number",
        formula="Re = rho v d / mu",
        numbers=f"{typed(water.density)} * {typed(loss.velocity)} * {bore}"
        f" / {typed(water.viscosity)}",
        value=loss.reynolds,
        unit="1",
        source="definition",
    )
    number, rough = typed(loss.reynolds), typed(run.hose.roughness / run.hose.bore)
    first = f"(2.457 * log(1 / ((7 / {number})**0.9 + 0.27 * {rough})))**16"
    yield Step(
        what="friction factor (Darcy)",
        formula="f = 8 ((8/Re)^12 + (A + B)^-1.5)^(1/12), "
        "A = (2.457 ln(1 / ((7/Re)^0.9 + 0.27 e/d)))^16, B = (37530/Re)^16",
        numbers=f"8 * ((8 / {number})**12 + ({first} + (37530 / {number})**16)**-1.5)**(1 / 12)",
        value=loss.friction_factor,
        unit="1",
        source=_CHURCHILL,
    )
    yield Step(
        what="velocity head",
        formula="q = rho v^2 / 2",
        numbers=f"{typed(water.density)} * {typed(loss.velocity)}**2 / 2",
        value=water.density * loss.velocity**2 / 2,
        unit="Pa",
        source="Bernoulli",
    )
    head = water.density * loss.velocity**2 / 2
    yield Step(
        what="friction, including the arcs of the bends",
        formula="f L / d * q",
        numbers=f"{typed(loss.friction_factor)} * {typed(run.length)} / {bore} * {typed(head)}",
        value=loss.friction - loss.coil,
        unit="Pa",
        source=f"{_BERNOULLI}; L is the routed length",
    )


def _bends(run: Run, loss: HoseLoss, water: Water) -> Iterator[Step]:
    """The loss of each bend beyond the friction of its own arc, then their sum."""
    parts = []
    for number, bend in enumerate(run.bends, start=1):
        step = _bend(number, bend, run.hose.bore, loss.friction_factor)
        parts.append(typed(step.value))
        yield step
    if parts:
        head = water.density * loss.velocity**2 / 2
        yield Step(
            what="bends",
            formula="sum of K * q",
            numbers=f"({' + '.join(parts)}) * {typed(head)}",
            value=loss.bends,
            unit="Pa",
            source="sum",
        )


def _bend(number: int, bend: Bend, bore: Ratio, factor: Ratio) -> Step:
    ratio, half = bend.radius / bore, math.sin(bend.angle / 2)
    power = 4 * bend.angle / math.pi
    value = (0.10 + 2.4 * factor) * half + 6.6 * factor * (math.sqrt(half) + half) / ratio**power
    sine, f = f"sin({typed(bend.angle)} / 2)", typed(factor)
    return Step(
        what=f"bend {number}, in addition to its arc",
        size=say(
            "explain.bend",
            angle=quantity(bend.angle, "tilt"),
            radius=quantity(bend.radius, "gap"),
        ),
        formula="K = (0.10 + 2.4 f) s + 6.6 f (sqrt(s) + s) / (r/d)^(4 a / pi), s = sin(a/2)",
        numbers=f"(0.10 + 2.4 * {f}) * {sine} + 6.6 * {f} * (sqrt({sine}) + {sine})"
        f" / ({typed(bend.radius)} / {typed(bore)})**(4 * {typed(bend.angle)} / pi)",
        value=value,
        unit="1",
        source="Rennels and Hudson 2012, ch. 15, less f a r/d, which the length includes",
    )


def _fittings(run: Run, water: Water, flow: Ratio) -> Step:
    """Fittings and an open valve, by independent arithmetic."""
    line, bore = run.line, run.hose.bore
    head = water.density * velocity(abs(flow), bore) ** 2 / 2
    value = line.fittings * head
    numbers, formula = f"{typed(line.fittings)} * {typed(head)}", "sum of K * q"
    source = "the kit: sum of K on the hose bore"
    valve = line.valve_flow
    if valve is not None:
        value += 1e5 * water.density / 1000 * (flow / valve) ** 2
        numbers += (
            f" + 1e5 * {typed(water.density)} / 1000 * ({typed(abs(flow))} / {typed(valve)})**2"
        )
        formula += " + 1e5 rho/1000 (Q / Kv)^2"
        source += "; IEC 60534 for the valve"
    if line.opens_at is not None and flow > 0.0:
        value += line.opens_at
        numbers += f" + {typed(line.opens_at)}"
        formula += " + what opens the valve"
    return Step(
        what="fittings" if valve is None and line.opens_at is None else "fittings and valve",
        formula=formula,
        numbers=numbers,
        value=value,
        unit="Pa",
        source=source,
    )


def height_step(plant: Plant, what: str, place: Point, state: State, value: Metre) -> Step:
    """Height of a place above the sea with the boat heeled and trimmed."""
    normal = sea_normal(state.heel, state.trim)
    parts = (
        f"({typed(at)} - {typed(zero)}) * {typed(n + 0.0)}"
        for at, zero, n in zip(place, plant.flotation, normal, strict=True)
    )
    return Step(
        what=f"height of {what} above the sea",
        formula="h = (p - F) . (-sin(trim), sin(heel) cos(trim), cos(heel) cos(trim))",
        numbers=" + ".join(parts),
        value=value,
        unit="m",
        source="the boat turned about its flotation point F",
    )


def static_step(operation: Operation, start: str, end: str, water: Water) -> Step:
    """The pressure due to the height between two ports."""
    rise = operation.heights[end] - operation.heights[start]
    return Step(
        what="static",
        formula="rho g (h_end - h_start)",
        numbers=f"{typed(water.density)} * {GRAVITY} * ({typed(operation.heights[end])}"
        f" - {typed(operation.heights[start])})",
        value=water.density * GRAVITY * rise,
        unit="Pa",
        source="hydrostatics",
    )


def _heights(plant: Plant, run: Run, operation: Operation, water: Water) -> Iterator[Step]:
    """Heights of both ends in this state, the static term and the pressures at both ends."""
    ends = (str(run.line.start), str(run.line.end))
    for end in ends:
        yield height_step(plant, end, plant.ports[end], operation.state, operation.heights[end])
    static = static_step(operation, *ends, water)
    yield static
    if all(end in operation.pressures for end in ends):
        before, after = (operation.pressures[end] for end in ends)
        yield given(f"total gauge pressure at {ends[0]}", before, "Pa", "walked from the open end")
        yield Step(
            what=f"total gauge pressure at {ends[1]}",
            formula="p_end = p_start - dp - static",
            numbers=f"{typed(before)} - {typed(signed_loss(operation, run.line.name))}"
            f" - {typed(static.value)}",
            value=after,
            unit="Pa",
            source="Bernoulli with losses",
        )


def signed_loss(operation: Operation, line: str) -> Pascal:
    """The loss, with the sign of the flow."""
    total = operation.losses[line].total
    return total if operation.flows[line] >= 0.0 else -total
