"""The flow through every element: fixed by the circuit, plus one unknown for every loop.

A relief valve is shut until the pressure opens it; which of them are open is found by trying shut
first. A diaphragm pump that its switch would stop is solved at the cut-in pressure, the lowest it
delivers; the switch is assumed to sense the pressure the pump adds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fitcheck.errors import ConvergenceError
from fitcheck.hydraulics.network.circuit import Loop
from fitcheck.hydraulics.network.loops import residual_of, turned, turns_of
from fitcheck.hydraulics.network.setting import Flows, Setting, Trouble, beyond_curve
from fitcheck.hydraulics.physics.losses import GRAVITY, HoseLoss
from fitcheck.units import CubicMetrePerSecond, Metre, Pascal


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Carried:
    """Flows, pressure drops at these flows, and any obstacle to them.

    drops : element -> pressure lost without the static part; negative is gained
    cycling : a pressure switch stops and starts the feed pump
    """

    flows: Flows
    losses: Mapping[str, HoseLoss]
    drops: Mapping[str, Pascal]
    trouble: Trouble
    cycling: bool = False


def carried(setting: Setting, feed_flow: CubicMetrePerSecond) -> Carried:
    """Every flow that can be determined at a feed flow [m3/s].

    Raises ConvergenceError if the loops do not converge.
    """
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
    """Whether the pressure at the flow drawn would open the pump's switch."""
    pump, curve = setting.plant.scenario.kit.feed_pump, setting.plant.pump
    if setting.state.doing != "running" or pump is None or curve is None or not pump.cut_out:
        return False
    through = flows.get("feed pump")
    return through is not None and curve.extended(through) > _head_of(setting, pump.cut_out)


def _while_it_runs(setting: Setting, flows: Flows) -> Flows:
    """Flows with the pump, and everything before it, at the flow of its cut-in pressure."""
    pump, curve = setting.plant.scenario.kit.feed_pump, setting.plant.pump
    if pump is None or curve is None or setting.cap is None:
        return flows
    runs = curve.flow_at(setting.cap)
    way = setting.circuit.way(f"{pump.module}.{pump.inlet}")
    names = ["feed pump", *(element.name for element in way)]
    return {**flows, **{name: max(runs, flows[name]) for name in names if name in flows}}


# --- loops ------------------------------------------------------------------------------------


def _flows(setting: Setting, feed_flow: CubicMetrePerSecond) -> tuple[Flows, Trouble]:
    """Flow of every element that can be determined, and any obstacle."""
    circuit = setting.circuit
    flows = {name: share * feed_flow for name, share in circuit.share.items()}
    if setting.state.doing == "running":
        flows = {name: flow + circuit.drawn[name] for name, flow in flows.items()}
    if setting.state.doing != "running":
        return _without(flows, _not_flushed(setting)), ""
    if beyond_curve(setting, flows):
        return _without(flows, _looped(setting)), "run-out"
    loops, blind = _solvable(setting)
    for loop in blind:
        for name, _ in loop.members:
            flows.pop(name, None)
    if not loops:
        return flows, beyond_curve(setting, flows)
    solved, trouble = _with_valves(setting, loops, flows)
    if solved is None:
        for loop in loops:
            for name, _ in loop.members:
                flows.pop(name, None)
        return flows, trouble
    return solved, trouble or beyond_curve(setting, solved)


def _looped(setting: Setting) -> set[str]:
    return {name for loop in setting.circuit.loops for name, _ in loop.members}


def _not_flushed(setting: Setting) -> set[str]:
    """Elements between the open end and the flush inlet, whose flow is unknown."""
    flush = setting.plant.scenario.kit.flush
    if setting.state.doing != "flushing" or flush is None:
        return set()
    return {element.name for element in setting.circuit.way(str(flush.at))}


def _without(flows: Flows, names: set[str]) -> Flows:
    return {name: flow for name, flow in flows.items() if name not in names}


def _solvable(setting: Setting) -> tuple[list[Loop], list[Loop]]:
    """Loops whose every element is known, and the others with all that depend on them."""
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
    """All loops solved; pressure-operated valves start shut and are opened where they lift."""
    shut = {loop.chord for loop in loops if _lifts_at(setting, loop) is not None}
    valved = frozenset(shut)
    for _ in range(2 * len(valved) + 1):
        flowing = [loop for loop in loops if loop.chord not in shut]
        turns, trouble = turns_of(setting, flowing, flows)
        if turns is None:
            return None, trouble
        solved = turned(flows, flowing, turns)
        backward = {name for name in valved - shut if solved[name] < 0.0}
        lifting = {
            loop.chord
            for loop in loops
            if loop.chord in shut and residual_of(setting, loop, solved) < 0.0
        }
        if not backward and not lifting:
            return solved, trouble
        shut = (shut | backward) - lifting
    raise ConvergenceError("which valves are open", f"{len(valved)} valves keep changing")


def _lifts_at(setting: Setting, loop: Loop) -> Pascal | None:
    line = setting.circuit.elements[loop.chord].line
    return None if line is None else line.opens_at
