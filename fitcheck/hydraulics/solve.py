"""The operating point: every flow and pressure of a plant in one state.

Flows the circuit fixes are read off its tree; one unknown remains for every loop, found where the
pressures round it sum to zero. Then pressures are walked outward from the sea.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.optimize import brentq, root

from fitcheck.errors import ConvergenceError
from fitcheck.hydraulics.circuit import OPEN, Element, Loop, WaterName
from fitcheck.hydraulics.losses import GRAVITY, HoseLoss, resistance_loss
from fitcheck.hydraulics.plant import Plant
from fitcheck.hydraulics.pumps import gauge_npsh
from fitcheck.hydraulics.seawater import Water
from fitcheck.model.hydraulics import State
from fitcheck.units import CubicMetrePerSecond, Metre, Pascal

Trouble = Literal["", "vacuum", "starved", "run-out", "bypass too open", "no flow"]

#: Scale that makes flows a number of litres per minute for the solver.
_LITRE_PER_MINUTE = 1.0 / 60_000.0
_LOOP_RESIDUAL = 0.1
_SCAN = 48
_HALVINGS = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One state, solved. A missing flow or pressure hangs on a hose that was not routed.

    pressures : node -> total gauge pressure, velocity head included
    band      : node -> what the upper friction factors of the transition band may take off it
    trouble   : why the wanted flow cannot be had, "" if it can
    """

    state: State
    feed_flow: CubicMetrePerSecond
    flows: Mapping[str, CubicMetrePerSecond]
    losses: Mapping[str, HoseLoss]
    pressures: Mapping[str, Pascal]
    band: Mapping[str, Pascal]
    heights: Mapping[str, Metre]
    waters: Mapping[WaterName, Water]
    trouble: Trouble = ""


def operate(plant: Plant, state: State) -> Operation:
    """The plant at its wanted feed flow or, if that cannot be had, at the largest that can.

    In the second case `trouble` says why and `feed_flow` is the largest flow at which no pump
    cavitates and the high-pressure pump has its inlet pressure (0 if there is none).
    """
    wanted = operate_at(plant, state, plant.feed_flow)
    if wanted.trouble in ("", "bypass too open"):
        return wanted
    return replace(_largest(plant, state), trouble=wanted.trouble)


def operate_at(plant: Plant, state: State, feed_flow: CubicMetrePerSecond) -> Operation:
    """The plant at a feed flow [m3/s]; pressures stay out where they would be impossible.

    Raises ConvergenceError if the loops do not come out.
    """
    setting = _Setting(plant, state)
    flows, trouble = _flows(setting, feed_flow)
    losses = {
        name: plant.runs[name].loss(flow, setting.water_of(plant.circuit.elements[name]))
        for name, flow in flows.items()
        if name in plant.runs
    }
    pressures, band = _pressures(setting, flows, losses)
    return Operation(
        state=state,
        feed_flow=feed_flow,
        flows=flows,
        losses=losses,
        pressures=pressures,
        band=band,
        heights=setting.heights,
        waters=setting.waters,
        trouble=trouble or _trouble(plant, setting, pressures),
    )


class _Setting:
    """What stays the same while a state is solved."""

    def __init__(self, plant: Plant, state: State) -> None:
        self.plant, self.state = plant, state
        self.heights = plant.heights(state)
        self.waters = plant.waters(state)

    def water_of(self, element: Element) -> Water:
        """The water in an element."""
        return self.waters[self.plant.circuit.waters[element.end]]

    def known(self, element: Element) -> bool:
        """Whether the element's loss can be told at all."""
        return element.kind != "line" or element.name in self.plant.runs

    def drop(self, element: Element, flow: CubicMetrePerSecond) -> Pascal:
        """Pressure lost along the element without the static part; negative is gained [Pa]."""
        of = self.water_of(element)
        if element.kind == "line":
            loss = self.plant.runs[element.name].loss(flow, of).total
            return loss if flow >= 0.0 else -loss
        if element.resistance is not None:
            row = element.resistance
            dirt = row.dirty if self.state.dirty else 0.0
            loss = resistance_loss(abs(flow), row.loss, row.at_flow, row.exponent, dirt)
            return loss if flow >= 0.0 else -loss
        if element.kind == "feed pump" and self.plant.pump is not None:
            return -of.density * GRAVITY * self.plant.pump.extended(flow)
        return 0.0

    def static(self, element: Element) -> Pascal:
        """Pressure lost by height from start to end of an element [Pa].

        For an open end the start is the open water or air itself, at zero gauge pressure at the
        sea surface; a tank's end or one above the sea opens to the atmosphere at its own height.
        """
        of = self.water_of(element)
        height = self.heights[element.end]
        if element.kind != "open end":
            return of.density * GRAVITY * (height - self.heights[element.start])
        if self._in_the_sea(element.end):
            return self.waters["feed"].density * GRAVITY * height
        return 0.0

    def _in_the_sea(self, node: str) -> bool:
        """Seacocks always; other openings but tanks only while they are under water."""
        name = node.removeprefix("boat.")
        role = next(port.role for port in self.plant.scenario.boat.ports if port.name == name)
        return role == "seacock" or (role != "tank" and self.heights[node] < 0.0)


# --- flows ------------------------------------------------------------------------------------


def _flows(
    setting: _Setting, feed_flow: CubicMetrePerSecond
) -> tuple[dict[str, CubicMetrePerSecond], Trouble]:
    """Flow of every element that can be told, and what is in the way."""
    circuit = setting.plant.circuit
    flows = {name: share * feed_flow for name, share in circuit.share.items()}
    loops, blind = _solvable(setting)
    for loop in blind:
        for name, _ in loop.members:
            flows.pop(name, None)
    if not loops:
        return flows, _beyond_curve(setting, flows)
    if len(loops) == 1:
        turns, trouble = _one_loop(setting, loops[0], flows)
    else:
        turns, trouble = _many_loops(setting, loops, flows)
    if turns is None:
        for loop in loops:
            for name, _ in loop.members:
                flows.pop(name, None)
        return flows, trouble
    solved = _turned(flows, loops, turns)
    return solved, trouble or _beyond_curve(setting, solved)


def _solvable(setting: _Setting) -> tuple[list[Loop], list[Loop]]:
    """Loops whose every element is known, and the others with all that hang together with them."""
    elements = setting.plant.circuit.elements
    blind: list[Loop] = []
    loops = list(setting.plant.circuit.loops)
    unknown = {name for name, element in elements.items() if not setting.known(element)}
    while True:
        hit = [loop for loop in loops if any(name in unknown for name, _ in loop.members)]
        if not hit:
            return loops, blind
        for loop in hit:
            loops.remove(loop)
            unknown |= {name for name, _ in loop.members}
        blind += hit


def _turned(
    flows: Mapping[str, CubicMetrePerSecond],
    loops: list[Loop],
    turns: list[CubicMetrePerSecond],
) -> dict[str, CubicMetrePerSecond]:
    solved = dict(flows)
    for loop, turn in zip(loops, turns, strict=True):
        for name, sign in loop.members:
            solved[name] += sign * turn
    return solved


def _round(setting: _Setting, loop: Loop, flows: Mapping[str, CubicMetrePerSecond]) -> Pascal:
    """Sum of all pressure drops round a loop; zero at the operating point [Pa]."""
    elements = setting.plant.circuit.elements
    return sum(
        sign * (setting.drop(elements[name], flows[name]) + setting.static(elements[name]))
        for name, sign in loop.members
    )


def _one_loop(
    setting: _Setting, loop: Loop, flows: Mapping[str, CubicMetrePerSecond]
) -> tuple[list[CubicMetrePerSecond] | None, Trouble]:
    """The one turn at which the drops round the loop cancel, by scanning and bracketing.

    With a drooping pump curve there may be two; the larger flow is the stable one.
    """
    low, high = _bracket(setting, loop, flows)
    if high <= low:
        return None, "run-out"

    def around(turn: CubicMetrePerSecond) -> Pascal:
        return _round(setting, loop, _turned(flows, [loop], [turn]))

    droops = setting.plant.pump is not None and setting.plant.pump.droops
    marks = np.linspace(low, high, _SCAN if droops else 2).tolist()
    values = [around(mark) for mark in marks]
    if values[-1] < 0.0:
        return None, "bypass too open"
    for at in range(len(marks) - 1, 0, -1):
        if values[at - 1] <= 0.0 <= values[at]:
            turn = brentq(around, marks[at - 1], marks[at], xtol=1e-15, rtol=1e-13)
            return [_checked(turn, around(turn))], ""
    raise ConvergenceError(f"flow through {loop.chord}", f"{values[0]:.3g} Pa at no flow")


def _bracket(
    setting: _Setting, loop: Loop, flows: Mapping[str, CubicMetrePerSecond]
) -> tuple[CubicMetrePerSecond, CubicMetrePerSecond]:
    """Turns between which the loop's flow must lie: the pump stays on its curve.

    A loop without a pump may turn either way; its flow is bounded by what the tree carries.
    """
    pump = setting.plant.pump
    signs = dict(loop.members)
    if pump is None or signs.get("feed pump") != 1:
        most = 4.0 * max(setting.plant.feed_flow, *(abs(flow) for flow in flows.values()))
        return -most, most
    through = flows["feed pump"]
    return max(0.0, pump.first_flow - through), pump.last_flow - through


def _checked(turn: CubicMetrePerSecond, residual: Pascal) -> CubicMetrePerSecond:
    if abs(residual) > _LOOP_RESIDUAL:
        raise ConvergenceError("the flow round the bypass", f"{residual:.3g} Pa left over")
    return turn


def _many_loops(
    setting: _Setting, loops: list[Loop], flows: Mapping[str, CubicMetrePerSecond]
) -> tuple[list[CubicMetrePerSecond] | None, Trouble]:
    """All turns at once; the drops rise with the flows, so there is one answer."""

    def around(turns: np.ndarray) -> list[float]:
        turned = _turned(flows, loops, [float(turn) * _LITRE_PER_MINUTE for turn in turns])
        return [_round(setting, loop, turned) / 1e4 for loop in loops]

    for start in (0.5, 0.1, 2.0, 0.02):
        guess = np.full(len(loops), start * setting.plant.feed_flow / _LITRE_PER_MINUTE)
        found = root(around, guess, method="hybr", options={"xtol": 1e-12})
        residual = float(np.abs(around(found.x)).max()) * 1e4
        if residual <= _LOOP_RESIDUAL:
            return [float(turn) * _LITRE_PER_MINUTE for turn in found.x], ""
    raise ConvergenceError(f"the flows round {len(loops)} loops", f"{residual:.3g} Pa left over")


def _beyond_curve(setting: _Setting, flows: Mapping[str, CubicMetrePerSecond]) -> Trouble:
    through = flows.get("feed pump")
    pump = setting.plant.pump
    if pump is None or through is None:
        return ""
    return "" if through <= pump.last_flow * (1.0 + 1e-9) else "run-out"


# --- pressures --------------------------------------------------------------------------------


def _pressures(
    setting: _Setting,
    flows: Mapping[str, CubicMetrePerSecond],
    losses: Mapping[str, HoseLoss],
) -> tuple[dict[str, Pascal], dict[str, Pascal]]:
    """Total gauge pressure of every node that hangs on an open end through known elements."""
    circuit = setting.plant.circuit
    pressures: dict[str, Pascal] = {OPEN: 0.0}
    band: dict[str, Pascal] = {OPEN: 0.0}
    for node in circuit.order:
        if node not in circuit.parent:
            continue
        name, above = circuit.parent[node]
        element = circuit.elements[name]
        if above not in pressures or name not in flows or not setting.known(element):
            continue
        sign = 1.0 if element.start == above else -1.0
        drop = setting.drop(element, flows[name]) + setting.static(element)
        spread = losses[name].at_most - losses[name].total if name in losses else 0.0
        pressures[node] = pressures[above] - sign * drop
        band[node] = band[above] + spread
    pressures.pop(OPEN)
    return pressures, band


def _trouble(plant: Plant, setting: _Setting, pressures: Mapping[str, Pascal]) -> Trouble:
    """Whether the wanted flow is a fiction: boiling on the suction side, or a starved pump."""
    feed = setting.waters["feed"]
    least = feed.vapour_pressure - plant.scenario.boat.conditions.atmosphere
    suction = suction_nodes(plant)
    if any(pressures[node] <= least for node in suction if node in pressures):
        return "vacuum"
    inlet = high_pressure_inlet(plant)
    if plant.pump is not None and inlet is not None and pressures.get(inlet, 0.0) < 0.0:
        return "starved"
    return ""


def suction_nodes(plant: Plant) -> tuple[str, ...]:
    """Nodes from the sea to the inlet of the first pump, that inlet first."""
    inlet = first_inlet(plant)
    if inlet is None:
        return ()
    parent = plant.circuit.parent
    nodes = []
    while inlet in parent:
        nodes.append(inlet)
        inlet = parent[inlet][1]
    return tuple(nodes)


def first_inlet(plant: Plant) -> str | None:
    """Inlet of the pump that sucks: the feed pump, or the high-pressure pump without one."""
    pump = plant.scenario.kit.feed_pump
    if pump is not None:
        return f"{pump.module}.{pump.inlet}"
    return high_pressure_inlet(plant)


def high_pressure_inlet(plant: Plant) -> str | None:
    """Inlet of the high-pressure pump."""
    pump = plant.scenario.kit.high_pressure_pump
    return None if pump is None else f"{pump.module}.{pump.inlet}"


def _largest(plant: Plant, state: State) -> Operation:
    """The largest feed flow that keeps every pump fed, by halving."""
    low, high = 0.0, plant.feed_flow
    best = operate_at(plant, state, 0.0)
    if not fed(plant, best):
        return replace(best, trouble="no flow", feed_flow=0.0)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        trial = operate_at(plant, state, middle)
        if fed(plant, trial):
            low, best = middle, trial
        else:
            high = middle
    return best


def fed(plant: Plant, operation: Operation) -> bool:
    """Whether no pump cavitates and the high-pressure pump has its least inlet pressure."""
    if operation.trouble:
        return False
    least = plant.scenario.kit.limits.inlet_pressure_min
    pressure = operation.pressures.get(high_pressure_inlet(plant) or "")
    return (pressure is None or pressure >= least) and not _cavitates(plant, operation)


def _cavitates(plant: Plant, operation: Operation) -> bool:
    """Whether the feed pump has less NPSH than it asks at its own flow, bypass included."""
    inlet, flow = first_inlet(plant), operation.flows.get("feed pump")
    if plant.npsh is None or flow is None or inlet is None or inlet not in operation.pressures:
        return False
    feed = operation.waters["feed"]
    available = gauge_npsh(
        plant.scenario.boat.conditions.atmosphere,
        operation.pressures[inlet],
        feed.vapour_pressure,
        feed.density,
    )
    return plant.npsh.holds(flow) and available < plant.npsh.head(flow)
