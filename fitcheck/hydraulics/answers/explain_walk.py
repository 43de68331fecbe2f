"""Pressures step by step, from the sea or another open end to a port of the plant."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fitcheck.hydraulics.answers.explain import (
    flow_step,
    height_step,
    loss_steps,
    signed_loss,
    static_step,
    water_steps,
)
from fitcheck.hydraulics.network.circuit import Element
from fitcheck.hydraulics.network.plant import Plant, Run
from fitcheck.hydraulics.network.solve import Operation
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.pumps import Curve
from fitcheck.model.found.explanation import Step, given, typed
from fitcheck.model.given.kit import Resistance
from fitcheck.units import CubicMetrePerSecond, Pascal

UPPER_FACTOR = "Colebrook 1939 for the friction factor, between Re 2000 and 4000"
_AS_JUDGED = "judged on the unfavourable side"


@dataclass(frozen=True, eq=False, kw_only=True)
class Judged:
    """One state of the plant as it is judged, and the same plant as expected."""

    plant: Plant
    operation: Operation
    expected: Plant

    def run_steps(self, line: str) -> Iterator[Step]:
        """Bore and length of a hose on the side it is judged on."""
        yield from _sides(self.expected.runs[line], self.plant.runs[line])

    def loss_steps(self, line: str) -> Iterator[Step]:
        """A line's flow and its losses; every step is named after the line."""
        run = self.plant.runs[line]
        water = self.operation.waters[self.plant.circuit.waters[str(run.line.end)]]
        steps = [*self.run_steps(line), flow_step(self.plant, line, self.operation)]
        if self.operation.losses[line].reynolds:
            steps += loss_steps(run, self.operation, water)
        for step in steps:
            yield replace(step, what=f"{line}: {step.what}")


def walk(of: Judged, node: str) -> Iterator[Step]:
    """Total gauge pressure of every port from the open end to `node`, in that order."""
    way = list(of.plant.circuit.way(node))[::-1]
    if not way:
        return
    waters = dict.fromkeys(of.plant.circuit.waters[element.end] for element in way)
    if way[0].kind == "open end":
        waters = {**dict.fromkeys(waters), "feed": None}
    for name in waters:
        for step in water_steps(of.operation.waters[name]):
            yield replace(step, what=f"{name} water: {step.what}")
    yield from flotation_steps(of)
    above = ""
    for element in way:
        yield from _element(of, element, above)
        above = element.start if element.end == above else element.end
    yield from _band(of, node)


def _band(of: Judged, node: str) -> Iterator[Step]:
    """The additional loss if the flow were turbulent in the transition band."""
    if of.operation.band[node]:
        losses = [of.operation.losses.get(one.name) for one in of.plant.circuit.way(node)]
        parts = [
            f"({typed(loss.at_most)} - {typed(loss.total)})"
            for loss in losses
            if loss is not None and loss.at_most != loss.total
        ]
        yield Step(
            what="what the transition band may take",
            formula="sum of (loss with the upper friction factor - loss) of the lines on the way",
            numbers=" + ".join(parts),
            value=of.operation.band[node],
            unit="Pa",
            source=UPPER_FACTOR,
        )


def flotation_steps(of: Judged) -> Iterator[Step]:
    """The assumed floating level: every height above the sea is measured from it."""
    up = of.expected.flotation[2]
    by = up - of.plant.flotation[2]
    if by:
        yield Step(
            what="z of the flotation point F",
            formula="z_F - what heights above the sea are not known to",
            numbers=f"{typed(up)} - {typed(by)}",
            value=of.plant.flotation[2],
            unit="m",
            source=f"the survey; {_AS_JUDGED}",
        )


def _sides(expected: Run, judged: Run) -> Iterator[Step]:
    if judged.hose.bore != expected.hose.bore:
        sign = "+" if judged.hose.bore > expected.hose.bore else "-"
        yield Step(
            what="bore",
            formula=f"d (1 {sign} tolerance)",
            numbers=f"{typed(expected.hose.bore)} * (1 {sign} "
            f"{typed(expected.hose.bore_tolerance)})",
            value=judged.hose.bore,
            unit="m",
            source=f"the kit; {_AS_JUDGED}",
        )
    if judged.length != expected.length:
        yield Step(
            what="length",
            formula="L + what it is not known to",
            numbers=f"{typed(expected.length)} + {typed(judged.length - expected.length)}",
            value=judged.length,
            unit="m",
            source=f"as routed; {_AS_JUDGED}",
        )


def _element(of: Judged, element: Element, above: str) -> Iterator[Step]:
    """From the pressure at `above` to that at the element's other end."""
    found, node = of.operation, element.start if element.end == above else element.end
    yield height_step(of.plant, node, of.plant.ports[node], found.state, found.heights[node])
    if element.kind == "open end":
        yield _opening(of, node)
        return
    name = f"{element.name}: "
    water = found.waters[of.plant.circuit.waters[element.end]]
    yield replace(
        static := static_step(found, element.start, element.end, water), what=f"{name}static"
    )
    lost: Pascal = 0.0
    if element.kind == "line":
        yield from of.loss_steps(element.name)
        lost = signed_loss(found, element.name)
    elif element.resistance is not None:
        step = _resistance(of, element, element.resistance)
        yield step
        lost = step.value
    elif element.kind == "feed pump":
        fall = found.pressures[element.start] - found.pressures[element.end] - static.value
        yield from _head(of, found.flows[element.name], -fall)
        lost = fall
    sign = "-" if node == element.end else "+"
    yield Step(
        what=f"total gauge pressure at {node}",
        formula=f"p {sign} (dp + static)",
        numbers=f"{typed(found.pressures[above])} {sign} ({typed(lost)} + {typed(static.value)})",
        value=found.pressures[node],
        unit="Pa",
        source="Bernoulli with losses",
    )


def _opening(of: Judged, node: str) -> Step:
    pressure = of.operation.pressures[node]
    if not pressure:
        return given(f"total gauge pressure at {node}", 0.0, "Pa", "it opens to the air")
    density = of.operation.waters["feed"].density
    return Step(
        what=f"total gauge pressure at {node}",
        formula="-rho g h",
        numbers=f"-{typed(density)} * {GRAVITY} * ({typed(of.operation.heights[node])})",
        value=pressure,
        unit="Pa",
        source="the sea outside; hydrostatics",
    )


def _resistance(of: Judged, element: Element, row: Resistance) -> Step:
    state = of.operation.state
    dirty = state.fouled if row.name in of.plant.strainers else state.dirty
    flow = of.operation.flows[element.name]
    dirt = row.dirty if dirty else 0.0
    value = (row.loss + dirt) * (abs(flow) / row.at_flow) ** row.exponent
    return Step(
        what=f"{element.name}: loss",
        formula="(loss + dirt) * (Q / Q_0)^n",
        numbers=f"({typed(row.loss)} + {typed(dirt)}) * ({typed(abs(flow))}"
        f" / {typed(row.at_flow)})**{typed(row.exponent)}",
        value=value if flow >= 0.0 else -value,
        unit="Pa",
        source="the kit",
    )


def _head(of: Judged, flow: CubicMetrePerSecond, gained: Pascal) -> Iterator[Step]:
    """The flow through the feed pump, its head at that flow and the resulting pressure."""
    density, pump = of.operation.waters["feed"].density, of.plant.pump
    head = gained / (density * GRAVITY)
    yield pump_flow_step(of, flow)
    if pump is not None and pump.holds(flow) and abs(pump.head(flow) - head) < 1e-6:
        yield curve_step("head of the feed pump", pump, flow)
    else:
        yield given("head of the feed pump", head, "m", "held by its pressure switch")
    yield Step(
        what="pressure of the feed pump",
        formula="rho g H",
        numbers=f"{typed(density)} * {GRAVITY} * {typed(head)}",
        value=gained,
        unit="Pa",
        source="hydrostatics; taken as a negative loss",
    )


def pump_flow_step(of: Judged, flow: CubicMetrePerSecond) -> Step:
    """The flow through the feed pump: what is drawn, plus what returns through the bypass."""
    found = of.operation
    round_it = [
        found.flows[run.line.name]
        for run in of.plant.runs.values()
        if run.line.duty == "bypass" and run.line.name in found.flows
    ]
    whole = found.feed_flow + sum(round_it)
    if abs(whole - flow) > 1e-9:
        return given("flow through the feed pump", flow, "m3/s", "solved with the circuit")
    return Step(
        what="flow through the feed pump",
        formula="feed flow + bypass flow, for which the pressures round the bypass sum to zero",
        numbers=" + ".join(typed(one) for one in (found.feed_flow, *round_it)),
        value=flow,
        unit="m3/s",
        source="solved with the circuit",
    )


def curve_step(what: str, curve: Curve, flow: CubicMetrePerSecond) -> Step:
    """The value of a pump curve at a flow."""
    a, b, c, d, x = curve.cubic_at(flow)
    at = typed(x)
    return Step(
        what=what,
        formula="a x^3 + b x^2 + c x + d, x from the point of the curve before it",
        numbers=f"{typed(a)} * {at}**3 + {typed(b)} * {at}**2 + {typed(c)} * {at} + {typed(d)}",
        value=curve.head(flow),
        unit="m",
        source="the kit's curve, through its points as Fritsch and Butland 1984 do",
    )
