"""The calculation of one line, step by step, as an engineer would check it by hand.

Every step shows its formula, the formula with its numbers in SI, what it comes to and the source.
The numbers are arithmetic of their own: they are worked out here from printed inputs and must
come to what the stage found, which a test holds them to.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterable, Iterator

from fitcheck.errors import FitcheckError, ValidityWarning
from fitcheck.geometry.heel import sea_normal
from fitcheck.hydraulics.answers.explain_ends import coil_steps, open_end_steps, tail_steps
from fitcheck.hydraulics.network.plant import Plant, Run, build_plant
from fitcheck.hydraulics.network.solve import Operation, operate
from fitcheck.hydraulics.physics.losses import GRAVITY, HoseLoss, velocity
from fitcheck.hydraulics.physics.seawater import DENSITY_SALINITY, Water
from fitcheck.model.found.hydraulics import Explanation, State, Step
from fitcheck.model.found.routes import Bend, HoseRoute, Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.kit import Line
from fitcheck.model.given.scenario import Scenario
from fitcheck.units import Pascal, Ratio, ascii_spelling

_CHURCHILL = "Churchill 1977, Chemical Engineering"
_BERNOULLI = "Darcy and Weisbach"
#: Less than this is rounding [Pa].
_NOTHING: Pascal = 1e-6


def explain_line(
    scenario: Scenario, space: Space, routes: Routes, name: str, state: str = ""
) -> Explanation:
    """Work out one line in one state: the one in which it loses most unless `state` names another.

    Raises FitcheckError for a line that is not in the kit, was not routed or whose flow is not
    known, and for a state that is not asked for in the boat file.
    """
    line = _line(scenario, name)
    if not isinstance(routes.hose(name), HoseRoute):
        raise FitcheckError(f"{name}: no route was found for this hose, so its loss is unknown")
    plant = build_plant(scenario, space, routes)
    known = _known(line, _operations(plant, _states(plant, state)))
    if not known:
        raise FitcheckError(f"{name}: the flow in this hose is unknown in that state")
    return _explanation(plant, line, known[0])


def explain_all(scenario: Scenario, space: Space, routes: Routes) -> tuple[Explanation, ...]:
    """Every routed line in every state its flow is known in, the one it loses most in first."""
    plant = build_plant(scenario, space, routes)
    found = _operations(plant, plant.states)
    return tuple(
        _explanation(plant, line, operation)
        for line in scenario.kit.lines
        if line.name in plant.runs
        for operation in _known(line, found)
    )


def _operations(plant: Plant, states: Iterable[State]) -> list[Operation]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        return [operate(plant, row) for row in states]


def _known(line: Line, found: list[Operation]) -> list[Operation]:
    """Those in which the line's flow is known, the one in which it loses most first."""
    known = [operation for operation in found if line.name in operation.losses]
    return sorted(known, key=lambda row: row.losses[line.name].total, reverse=True)


def _explanation(plant: Plant, line: Line, operation: Operation) -> Explanation:
    name = line.name
    return Explanation(
        line=name,
        start=str(line.start),
        end=str(line.end),
        hose=plant.runs[name].hose.name,
        state=operation.state,
        steps=tuple(_steps(plant, plant.runs[name], operation)),
    )


def _line(scenario: Scenario, name: str) -> Line:
    found = next((line for line in scenario.kit.lines if line.name == name), None)
    if found is None:
        known = ", ".join(line.name for line in scenario.kit.lines)
        raise FitcheckError(f"there is no line '{name}' in the kit; its lines are {known}")
    return found


def _states(plant: Plant, name: str) -> list[State]:
    states = plant.states
    if not name:
        return list(states)
    found = [state for state in states if name in _spellings(state)]
    if not found:
        known = "; ".join(state.name for state in states)
        raise FitcheckError(f"there is no state '{name}'; the states are: {known}")
    return found


def _spellings(state: State) -> set[str]:
    """A state's name in the units and signs that people are shown."""
    shown = {state.name, state.said.text("imperial")}
    return shown | {ascii_spelling(name) for name in shown}


# --- steps ------------------------------------------------------------------------------------


def _steps(plant: Plant, run: Run, operation: Operation) -> Iterator[Step]:
    name = run.line.name
    loss = operation.losses[name]
    water = operation.waters[plant.circuit.waters[str(run.line.end)]]
    yield _flow(plant, name, operation)
    yield from _water(water)
    if not loss.reynolds:
        return
    yield from _friction(run, loss, water, abs(operation.flows[name]))
    yield from coil_steps(run, loss, water)
    yield from _bends(run, loss, water)
    yield _fittings(run, water, operation.flows[name])
    yield from open_end_steps(run.line, loss, water, operation.flows[name])
    yield from tail_steps(run, loss, water, abs(operation.flows[name]))
    yield Step(
        what="loss of the line",
        formula="dp = friction + bends + fittings and valve",
        numbers=" + ".join(_n(part) for part in _parts(run, loss, water, operation.flows[name])),
        value=loss.total,
        unit="Pa",
        source="sum",
    )
    yield from _heights(plant, run, operation, water)


def _parts(run: Run, loss: HoseLoss, water: Water, flow: Ratio) -> list[Pascal]:
    """Friction, bends, fittings; open ends, tails, coil if any."""
    own = _fittings(run, water, flow).value
    more = [part for part in (loss.open_ends, loss.tails, loss.coil) if abs(part) > _NOTHING]
    return [loss.friction - loss.coil, loss.bends, own, *more]


def _n(value: Ratio) -> str:
    """A number to seven digits, as one types it."""
    return f"{value:.7g}"


def _given(what: str, value: Ratio, unit: str, source: str, formula: str = "") -> Step:
    return Step(what=what, formula=formula, numbers="", value=value, unit=unit, source=source)


def _flow(plant: Plant, name: str, operation: Operation) -> Step:
    looped = any(name in dict(loop.members) for loop in plant.circuit.loops)
    share, drawn = (part.get(name, 0.0) for part in (plant.circuit.share, plant.circuit.drawn))
    if looped:
        return _given(
            "flow",
            operation.flows[name],
            "m3/s",
            "solved: the pressures round the loop sum to zero",
            "sum of dp round the loop = 0",
        )
    return Step(
        what="flow",
        formula="Q = share of the feed flow * feed flow" + (" + other consumers" if drawn else ""),
        numbers=f"{_n(share)} * {_n(operation.feed_flow)}" + (f" + {_n(drawn)}" if drawn else ""),
        value=operation.flows[name],
        unit="m3/s",
        source="the kit: high-pressure pump and recovery",
    )


def _water(water: Water) -> Iterator[Step]:
    density = "IOC, SCOR and IAPSO 2010 (TEOS-10)"
    if water.salinity > DENSITY_SALINITY:
        density = "Sharqawy, Lienhard and Zubair 2010, eq. 8"
    yield _given("density", water.density, "kg/m3", density, "rho(S, t)")
    t, s = _n(water.temperature_C), _n(water.salinity)
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
    bore = _n(run.hose.bore)
    yield Step(
        what="velocity",
        formula="v = 4 Q / (pi d^2)",
        numbers=f"4 * {_n(flow)} / (pi * {bore}**2)",
        value=loss.velocity,
        unit="m/s",
        source="continuity; d is the true bore",
    )
    yield Step(
        what="Reynolds number",
        formula="Re = rho v d / mu",
        numbers=f"{_n(water.density)} * {_n(loss.velocity)} * {bore} / {_n(water.viscosity)}",
        value=loss.reynolds,
        unit="1",
        source="definition",
    )
    number, rough = _n(loss.reynolds), _n(run.hose.roughness / run.hose.bore)
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
        numbers=f"{_n(water.density)} * {_n(loss.velocity)}**2 / 2",
        value=water.density * loss.velocity**2 / 2,
        unit="Pa",
        source="Bernoulli",
    )
    head = water.density * loss.velocity**2 / 2
    yield Step(
        what="friction, arcs of the bends included",
        formula="f L / d * q",
        numbers=f"{_n(loss.friction_factor)} * {_n(run.length)} / {bore} * {_n(head)}",
        value=loss.friction - loss.coil,
        unit="Pa",
        source=f"{_BERNOULLI}; L as it lies",
    )


def _bends(run: Run, loss: HoseLoss, water: Water) -> Iterator[Step]:
    """Each bend beyond the friction of its own arc, then what they cost together."""
    parts = []
    for number, bend in enumerate(run.bends, start=1):
        step = _bend(number, bend, run.hose.bore, loss.friction_factor)
        parts.append(_n(step.value))
        yield step
    if parts:
        head = water.density * loss.velocity**2 / 2
        yield Step(
            what="bends",
            formula="sum of K * q",
            numbers=f"({' + '.join(parts)}) * {_n(head)}",
            value=loss.bends,
            unit="Pa",
            source="sum",
        )


def _bend(number: int, bend: Bend, bore: Ratio, factor: Ratio) -> Step:
    ratio, half = bend.radius / bore, math.sin(bend.angle / 2)
    power = 4 * bend.angle / math.pi
    value = (0.10 + 2.4 * factor) * half + 6.6 * factor * (math.sqrt(half) + half) / ratio**power
    sine, f = f"sin({_n(bend.angle)} / 2)", _n(factor)
    return Step(
        what=f"bend {number}, {math.degrees(bend.angle):.1f} deg, "
        f"radius {bend.radius * 1000:.0f} mm, beyond its arc",
        formula="K = (0.10 + 2.4 f) s + 6.6 f (sqrt(s) + s) / (r/d)^(4 a / pi), s = sin(a/2)",
        numbers=f"(0.10 + 2.4 * {f}) * {sine} + 6.6 * {f} * (sqrt({sine}) + {sine})"
        f" / ({_n(bend.radius)} / {_n(bore)})**(4 * {_n(bend.angle)} / pi)",
        value=value,
        unit="1",
        source="Rennels and Hudson 2012, ch. 15, less f a r/d, which the length holds",
    )


def _fittings(run: Run, water: Water, flow: Ratio) -> Step:
    """Fittings and an open valve, by arithmetic of their own."""
    line, bore = run.line, run.hose.bore
    head = water.density * velocity(abs(flow), bore) ** 2 / 2
    value = line.fittings * head
    numbers, formula = f"{_n(line.fittings)} * {_n(head)}", "sum of K * q"
    source = "the kit: sum of K on the hose bore"
    valve = line.valve_flow
    if valve is not None:
        value += 1e5 * water.density / 1000 * (flow / valve) ** 2
        numbers += f" + 1e5 * {_n(water.density)} / 1000 * ({_n(abs(flow))} / {_n(valve)})**2"
        formula += " + 1 bar * rho/1000 * (Q / Kv)^2"
        source += "; IEC 60534 for the valve"
    if line.opens_at is not None and flow > 0.0:
        value += line.opens_at
        numbers += f" + {_n(line.opens_at)}"
        formula += " + what opens the valve"
    return Step(
        what="fittings" if valve is None and line.opens_at is None else "fittings and valve",
        formula=formula,
        numbers=numbers,
        value=value,
        unit="Pa",
        source=source,
    )


def _heights(plant: Plant, run: Run, operation: Operation, water: Water) -> Iterator[Step]:
    """Heights of both ends in this state, the static term and the pressures at both ends."""
    ends = (str(run.line.start), str(run.line.end))
    normal = sea_normal(operation.state.heel, operation.state.trim)
    for end in ends:
        parts = (
            f"({_n(at)} - {_n(zero)}) * {_n(n)}"
            for at, zero, n in zip(plant.ports[end], plant.flotation, normal, strict=True)
        )
        yield Step(
            what=f"height of {end} above the sea",
            formula="h = (p - F) . (-sin(trim), sin(heel) cos(trim), cos(heel) cos(trim))",
            numbers=" + ".join(parts),
            value=operation.heights[end],
            unit="m",
            source="the boat turned about its flotation point F",
        )
    rise = operation.heights[ends[1]] - operation.heights[ends[0]]
    yield Step(
        what="static",
        formula="rho g (h_end - h_start)",
        numbers=f"{_n(water.density)} * {GRAVITY} * ({_n(operation.heights[ends[1]])}"
        f" - {_n(operation.heights[ends[0]])})",
        value=water.density * GRAVITY * rise,
        unit="Pa",
        source="hydrostatics",
    )
    if all(end in operation.pressures for end in ends):
        before, after = (operation.pressures[end] for end in ends)
        yield _given(
            f"total gauge pressure at {ends[0]}", before, "Pa", "walked from the open end"
        )
        yield Step(
            what=f"total gauge pressure at {ends[1]}",
            formula="p_end = p_start - dp - static",
            numbers=f"{_n(before)} - {_n(_signed(operation, run))}"
            f" - {_n(water.density * GRAVITY * rise)}",
            value=after,
            unit="Pa",
            source="Bernoulli with losses",
        )


def _signed(operation: Operation, run: Run) -> Ratio:
    """The loss with the sign of the flow."""
    total = operation.losses[run.line.name].total
    return total if operation.flows[run.line.name] >= 0.0 else -total
