"""The flow through every element: what the circuit fixes, and one unknown for every loop.

A relief-type or regulating valve is shut until the pressure opens it; which of them are open is
found by trying shut first. A diaphragm pump whose switch would stop it is solved at the pressure
at which the switch starts it again, the lowest it gives; the switch is taken to feel what the
pump adds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import brentq, root

from fitcheck.errors import ConvergenceError
from fitcheck.hydraulics.circuit import Element, Loop
from fitcheck.hydraulics.losses import GRAVITY, HoseLoss, resistance_loss
from fitcheck.hydraulics.plant import Plant
from fitcheck.hydraulics.seawater import Water
from fitcheck.model.hydraulics import State
from fitcheck.units import CubicMetrePerSecond, Metre, Pascal

Trouble = Literal["", "vacuum", "starved", "run-out", "bypass too open", "no flow"]
Flows = Mapping[str, CubicMetrePerSecond]

#: Scale that makes flows a number of litres per minute for the solver.
_LITRE_PER_MINUTE = 1.0 / 60_000.0
#: Pressure that may be left over round a loop.
LOOP_RESIDUAL: Pascal = 0.1
_SCAN = 48
_ROUNDS = 200


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Carried:
    """Flows, what each element takes from the pressure at them, and what is in the way.

    drops   : element -> pressure lost without the static part; negative is gained
    cycling : a pressure switch stops and starts the feed pump
    """

    flows: Flows
    losses: Mapping[str, HoseLoss]
    drops: Mapping[str, Pascal]
    trouble: Trouble
    cycling: bool = False


class Setting:
    """What stays the same while a state is solved."""

    def __init__(self, plant: Plant, state: State) -> None:
        self.plant, self.state = plant, state
        self.circuit = plant.circuit
        self.heights = plant.heights(state)
        self.waters = plant.waters(state)
        self.cap: Metre | None = None

    def water_of(self, element: Element) -> Water:
        """The water in an element."""
        return self.waters[self.circuit.waters[element.end]]

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
            fouled = row.name in self.plant.strainers
            dirt = row.dirty if (self.state.fouled if fouled else self.state.dirty) else 0.0
            loss = resistance_loss(abs(flow), row.loss, row.at_flow, row.exponent, dirt)
            return loss if flow >= 0.0 else -loss
        if element.kind == "feed pump" and self.state.doing == "running":
            return -of.density * GRAVITY * self._head(flow)
        return 0.0

    def _head(self, flow: CubicMetrePerSecond) -> Metre:
        pump = self.plant.pump
        head = 0.0 if pump is None else pump.extended(flow)
        return head if self.cap is None else min(head, self.cap)

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


def carried(setting: Setting, feed_flow: CubicMetrePerSecond) -> Carried:
    """Every flow that can be told at a feed flow [m3/s].

    Raises ConvergenceError if the loops do not come out.
    """
    state = setting.state
    key = (
        feed_flow,
        state.doing,
        state.temperature_C,
        state.salinity,
        state.dirty,
        state.fouled,
        *_standing(setting),
    )
    memory = setting.plant.memory
    if key not in memory:
        memory[key] = _carried(setting, feed_flow)
    found: Carried = memory[key]
    return found


def _standing(setting: Setting) -> Iterator[Pascal]:
    """What heights alone do round every loop: states alike in this share their flows."""
    elements = setting.circuit.elements
    for loop in setting.circuit.loops:
        yield round(sum(sign * setting.static(elements[n]) for n, sign in loop.members), 3)
        line = elements[loop.chord].line
        if line is not None and line.holds_pressure is not None:
            way = setting.circuit.way(str(line.start))
            yield round(sum(abs(setting.static(element)) for element in way), 3)


def _carried(setting: Setting, feed_flow: CubicMetrePerSecond) -> Carried:
    flows, trouble = _flows(setting, feed_flow)
    cycling = False
    pump = setting.plant.scenario.kit.feed_pump
    if pump is not None and _stops(setting, flows):
        cycling, setting.cap = True, _head_of(setting, pump.cut_in)
        flows, trouble = _flows(setting, feed_flow)
        flows = _while_it_runs(setting, flows)
    elements = setting.circuit.elements
    known = {name: flow for name, flow in flows.items() if setting.known(elements[name])}
    return Carried(
        flows=flows,
        losses={
            name: setting.plant.runs[name].loss(flow, setting.water_of(elements[name]))
            for name, flow in known.items()
            if name in setting.plant.runs
        },
        drops={name: setting.drop(elements[name], flow) for name, flow in known.items()},
        trouble=trouble,
        cycling=cycling,
    )


# --- a pump with a pressure switch ------------------------------------------------------------


def _head_of(setting: Setting, pressure: Pascal | None) -> Metre:
    return (pressure or 0.0) / (setting.waters["feed"].density * GRAVITY)


def _stops(setting: Setting, flows: Flows) -> bool:
    """Whether the pressure at what is drawn would open the pump's switch."""
    pump, curve = setting.plant.scenario.kit.feed_pump, setting.plant.pump
    if setting.state.doing != "running" or pump is None or curve is None or not pump.cut_out:
        return False
    through = flows.get("feed pump")
    return through is not None and curve.extended(through) > _head_of(setting, pump.cut_out)


def _while_it_runs(setting: Setting, flows: Flows) -> Flows:
    """Flows with the pump and all before it at what the pump moves at its cut-in pressure."""
    pump, curve = setting.plant.scenario.kit.feed_pump, setting.plant.pump
    if pump is None or curve is None or setting.cap is None:
        return flows
    runs = curve.flow_at(setting.cap)
    way = setting.circuit.way(f"{pump.module}.{pump.inlet}")
    names = ["feed pump", *(element.name for element in way)]
    return {**flows, **{name: max(runs, flows[name]) for name in names if name in flows}}


# --- loops ------------------------------------------------------------------------------------


def _flows(setting: Setting, feed_flow: CubicMetrePerSecond) -> tuple[Flows, Trouble]:
    """Flow of every element that can be told, and what is in the way."""
    flows = {name: share * feed_flow for name, share in setting.circuit.share.items()}
    if setting.state.doing != "running":
        return _without(flows, _not_flushed(setting)), ""
    if _beyond_curve(setting, flows):
        return _without(flows, _looped(setting)), "run-out"
    loops, blind = _solvable(setting)
    for loop in blind:
        for name, _ in loop.members:
            flows.pop(name, None)
    if not loops:
        return flows, _beyond_curve(setting, flows)
    solved, trouble = _with_valves(setting, loops, flows)
    if solved is None:
        for loop in loops:
            for name, _ in loop.members:
                flows.pop(name, None)
        return flows, trouble
    return solved, trouble or _beyond_curve(setting, solved)


def _looped(setting: Setting) -> set[str]:
    return {name for loop in setting.circuit.loops for name, _ in loop.members}


def _not_flushed(setting: Setting) -> set[str]:
    """Elements between the open end and where a flush enters: what they do is not known."""
    flush = setting.plant.scenario.kit.flush
    if setting.state.doing != "flushing" or flush is None:
        return set()
    return {element.name for element in setting.circuit.way(str(flush.at))}


def _without(flows: Flows, names: set[str]) -> Flows:
    return {name: flow for name, flow in flows.items() if name not in names}


def _solvable(setting: Setting) -> tuple[list[Loop], list[Loop]]:
    """Loops whose every element is known, and the others with all that hang together with them."""
    elements = setting.circuit.elements
    blind: list[Loop] = []
    loops = list(setting.circuit.loops)
    unknown = {name for name, element in elements.items() if not setting.known(element)}
    while True:
        hit = [loop for loop in loops if any(name in unknown for name, _ in loop.members)]
        if not hit:
            return loops, blind
        for loop in hit:
            loops.remove(loop)
            unknown |= {name for name, _ in loop.members}
        blind += hit


def _with_valves(
    setting: Setting, loops: list[Loop], flows: Flows
) -> tuple[Flows | None, Trouble]:
    """All loops solved, valves that open by pressure shut first and opened where they lift."""
    shut = {loop.chord for loop in loops if _lifts_at(setting, loop) is not None}
    valved = frozenset(shut)
    for _ in range(2 * len(valved) + 1):
        flowing = [loop for loop in loops if loop.chord not in shut]
        turns, trouble = _turns(setting, flowing, flows)
        if turns is None:
            return None, trouble
        solved = _turned(flows, flowing, turns)
        backward = {name for name in valved - shut if solved[name] < 0.0}
        lifting = {
            loop.chord
            for loop in loops
            if loop.chord in shut and _residual(setting, loop, solved) < 0.0
        }
        if not backward and not lifting:
            return solved, trouble
        shut = (shut | backward) - lifting
    raise ConvergenceError("which valves are open", f"{len(valved)} valves keep changing")


def _lifts_at(setting: Setting, loop: Loop) -> Pascal | None:
    line = setting.circuit.elements[loop.chord].line
    if line is None:
        return None
    return line.opens_at if line.opens_at is not None else line.holds_pressure


def _turns(
    setting: Setting, loops: list[Loop], flows: Flows
) -> tuple[list[CubicMetrePerSecond] | None, Trouble]:
    if not loops:
        return [], ""
    if len(loops) > 1:
        return _many_loops(setting, loops, flows)
    loop = loops[0]
    line = setting.circuit.elements[loop.chord].line
    if line is not None and line.holds_pressure is not None:
        return _one_loop(setting, loop, flows)
    key = _signature(setting, loop, flows)
    shared = setting.plant.shared
    if key not in shared:
        shared[key] = _one_loop(setting, loop, flows)
    found: tuple[list[CubicMetrePerSecond] | None, Trouble] = shared[key]
    return found


def _signature(setting: Setting, loop: Loop, flows: Flows) -> tuple[object, ...]:
    """Everything that the flow round a loop hangs on."""
    elements, state = setting.circuit.elements, setting.state
    static = sum(sign * setting.static(elements[name]) for name, sign in loop.members)
    parts = tuple(
        (setting.plant.runs.get(name), elements[name].resistance, sign, flows[name])
        for name, sign in loop.members
    )
    weather = (state.temperature_C, state.salinity, state.dirty, state.fouled)
    return (parts, weather, setting.cap, setting.plant.pump, round(static, 3))


def _turned(flows: Flows, loops: Sequence[Loop], turns: Sequence[CubicMetrePerSecond]) -> Flows:
    solved = dict(flows)
    for loop, turn in zip(loops, turns, strict=True):
        for name, sign in loop.members:
            solved[name] += sign * turn
    return solved


def _residual(setting: Setting, loop: Loop, flows: Flows) -> Pascal:
    """Zero at the operating point, rising with the loop's own flow [Pa].

    The sum of all pressure drops round the loop; or, where a valve holds a pressure, what is
    wanting of it.
    """
    elements = setting.circuit.elements
    line = elements[loop.chord].line
    around = sum(
        sign * (setting.drop(elements[name], flows[name]) + setting.static(elements[name]))
        for name, sign in loop.members
    )
    if line is not None and line.holds_pressure is not None:
        # Wide open, the valve can do no more: then the hose alone decides.
        wanting = line.holds_pressure - pressure_at(setting, str(line.start), flows)
        return max(wanting, around)
    if line is not None and line.opens_at is not None and flows[loop.chord] <= 0.0:
        around += line.opens_at
    return around


def pressure_at(setting: Setting, node: str, flows: Flows) -> Pascal:
    """Total gauge pressure of a node by the tree from the open end [Pa]."""
    total = 0.0
    for element in setting.circuit.way(node):
        sign = 1.0 if element.end == node else -1.0
        total -= sign * (setting.drop(element, flows[element.name]) + setting.static(element))
        node = element.start if element.end == node else element.end
    return total


def _one_loop(
    setting: Setting, loop: Loop, flows: Flows
) -> tuple[list[CubicMetrePerSecond] | None, Trouble]:
    """The one turn at which the drops round the loop cancel, by scanning and bracketing.

    With a drooping pump curve there may be two; the larger flow is the stable one.
    """
    low, high = _bracket(setting, loop, flows)
    if high <= low:
        return None, "run-out"

    def around(turn: CubicMetrePerSecond) -> Pascal:
        return _residual(setting, loop, _turned(flows, [loop], [turn]))

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
    setting: Setting, loop: Loop, flows: Flows
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
    line = setting.circuit.elements[loop.chord].line
    one_way = line is not None and (line.opens_at or line.holds_pressure)
    return 0.0 if one_way else pump.first_flow - through, pump.last_flow - through


def _checked(turn: CubicMetrePerSecond, residual: Pascal) -> CubicMetrePerSecond:
    if abs(residual) > LOOP_RESIDUAL:
        raise ConvergenceError("the flow round the bypass", f"{residual:.3g} Pa left over")
    return turn


def _many_loops(
    setting: Setting, loops: list[Loop], flows: Flows
) -> tuple[list[CubicMetrePerSecond] | None, Trouble]:
    """All turns at once; the drops rise with the flows, so there is one answer.

    From a few starts; if none of them arrives, loop after loop in turn, which always comes nearer.
    """

    def around(turns: np.ndarray) -> list[float]:
        turned = _turned(flows, loops, [float(turn) * _LITRE_PER_MINUTE for turn in turns])
        return [_residual(setting, loop, turned) / 1e4 for loop in loops]

    turns = np.zeros(len(loops))
    for start in (0.5, 0.1, 2.0, 0.02):
        guess = np.full(len(loops), start * setting.plant.feed_flow / _LITRE_PER_MINUTE)
        turns = root(around, guess, method="hybr", options={"xtol": 1e-12}).x
        if _left_over(around(turns)) <= LOOP_RESIDUAL:
            break
    else:
        turns = _one_after_the_other(setting, loops, flows) / _LITRE_PER_MINUTE
    residual = _left_over(around(turns))
    if residual > LOOP_RESIDUAL:
        raise ConvergenceError(f"the flows round {len(loops)} loops", f"{residual:.3g} Pa left")
    found = [float(turn) * _LITRE_PER_MINUTE for turn in turns]
    over = _beyond_curve(setting, _turned(flows, loops, found))
    return (None, "bypass too open") if over else (found, "")


def _left_over(residuals: Sequence[float]) -> Pascal:
    return float(np.abs(residuals).max()) * 1e4


def _one_after_the_other(setting: Setting, loops: list[Loop], flows: Flows) -> np.ndarray:
    """Each loop alone with the others held, round and round."""
    turns = np.zeros(len(loops))
    reach = 4.0 * max(setting.plant.feed_flow, *(abs(flow) for flow in flows.values()))
    for _ in range(_ROUNDS):
        before = turns.copy()
        for at, loop in enumerate(loops):

            def around(turn: float, at: int = at, loop: Loop = loop) -> Pascal:
                tried = [*turns[:at], turn, *turns[at + 1 :]]
                return _residual(setting, loop, _turned(flows, loops, tried))

            if around(-reach) < 0.0 < around(reach):
                turns[at] = brentq(around, -reach, reach, xtol=1e-15, rtol=1e-13)
        if np.abs(turns - before).max() < 1e-13:
            break
    return turns


def _beyond_curve(setting: Setting, flows: Flows) -> Trouble:
    through = flows.get("feed pump")
    pump = setting.plant.pump
    if pump is None or through is None:
        return ""
    return "" if through <= pump.last_flow * (1.0 + 1e-9) else "run-out"
