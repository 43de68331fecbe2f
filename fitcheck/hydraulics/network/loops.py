"""The flow around every loop: it is where the pressures around the loop cancel.

One loop is scanned and bracketed; several are solved at once and, if that does not converge, one
after the other. Every answer is checked by its residual.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.optimize import brentq, root

from fitcheck.errors import ConvergenceError
from fitcheck.hydraulics.network.circuit import Loop
from fitcheck.hydraulics.network.setting import Flows, Setting, Trouble, beyond_curve
from fitcheck.units import CubicMetrePerSecond, Pascal

#: Scale that makes flows a number of litres per minute for the solver.
_LITRE_PER_MINUTE = 1.0 / 60_000.0
#: Maximum residual pressure around a loop.
LOOP_RESIDUAL: Pascal = 0.1
_SCAN = 48
_ROUNDS = 200


def turns_of(
    setting: Setting, loops: list[Loop], flows: Flows
) -> tuple[list[CubicMetrePerSecond] | None, Trouble]:
    """What each loop adds to the flows of its members [m3/s]; None and a reason where there is no
    solution.

    Raises ConvergenceError if the loops do not converge.
    """
    if not loops:
        return [], ""
    if len(loops) > 1:
        return _many_loops(setting, loops, flows)
    loop = loops[0]
    key = _signature(setting, loop, flows)
    shared = setting.plant.shared
    if key not in shared:
        shared[key] = _one_loop(setting, loop, flows)
    found: tuple[list[CubicMetrePerSecond] | None, Trouble] = shared[key]
    return found


def _signature(setting: Setting, loop: Loop, flows: Flows) -> tuple[object, ...]:
    """Everything that the flow around a loop depends on."""
    elements, state = setting.circuit.elements, setting.state
    static = sum(sign * setting.static(elements[name]) for name, sign in loop.members)
    parts = tuple(
        (setting.plant.runs.get(name), elements[name].resistance, sign, flows[name])
        for name, sign in loop.members
    )
    weather = (state.temperature_C, state.salinity, state.dirty, state.fouled)
    return (parts, weather, setting.cap, setting.plant.pump, round(static, 3))


def turned(flows: Flows, loops: Sequence[Loop], turns: Sequence[CubicMetrePerSecond]) -> Flows:
    """Flows with every loop's contribution added."""
    solved = dict(flows)
    for loop, turn in zip(loops, turns, strict=True):
        for name, sign in loop.members:
            solved[name] += sign * turn
    return solved


def residual_of(setting: Setting, loop: Loop, flows: Flows) -> Pascal:
    """The sum of all pressure drops around a loop: zero at the operating point [Pa].

    It rises with the loop's own flow.
    """
    elements = setting.circuit.elements
    line = elements[loop.chord].line
    around = sum(
        sign * (setting.drop(elements[name], flows[name]) + setting.static(elements[name]))
        for name, sign in loop.members
    )
    if line is not None and line.opens_at is not None and flows[loop.chord] <= 0.0:
        around += line.opens_at
    return around


def _one_loop(
    setting: Setting, loop: Loop, flows: Flows
) -> tuple[list[CubicMetrePerSecond] | None, Trouble]:
    """The one loop flow at which the drops around the loop cancel, by scanning and bracketing.

    With a drooping pump curve there may be two; the larger flow is the stable one.
    """
    low, high = _bracket(setting, loop, flows)
    if high <= low:
        return None, "run-out"

    def around(turn: CubicMetrePerSecond) -> Pascal:
        return residual_of(setting, loop, turned(flows, [loop], [turn]))

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
    """Bounds on the loop's flow: the pump stays on its curve.

    A loop without a pump may flow either way; its flow is bounded by what the tree carries.
    """
    pump = setting.plant.pump
    signs = dict(loop.members)
    if pump is None or signs.get("feed pump") != 1:
        most = 4.0 * max(setting.plant.feed_flow, *(abs(flow) for flow in flows.values()))
        return -most, most
    through = flows["feed pump"]
    line = setting.circuit.elements[loop.chord].line
    one_way = line is not None and line.opens_at is not None
    return 0.0 if one_way else pump.first_flow - through, pump.last_flow - through


def _checked(turn: CubicMetrePerSecond, residual: Pascal) -> CubicMetrePerSecond:
    if abs(residual) > LOOP_RESIDUAL:
        raise ConvergenceError("the flow round the bypass", f"{residual:.3g} Pa left over")
    return turn


def _many_loops(
    setting: Setting, loops: list[Loop], flows: Flows
) -> tuple[list[CubicMetrePerSecond] | None, Trouble]:
    """All loop flows at once; the drops rise with the flows, so there is one answer.

    From several starting points; if none converges, loop after loop in turn, which always gets
    closer.
    """

    def around(turns: np.ndarray) -> list[float]:
        tried = turned(flows, loops, [float(turn) * _LITRE_PER_MINUTE for turn in turns])
        return [residual_of(setting, loop, tried) / 1e4 for loop in loops]

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
    over = beyond_curve(setting, turned(flows, loops, found))
    return (None, "bypass too open") if over else (found, "")


def _left_over(residuals: Sequence[float]) -> Pascal:
    return float(np.abs(residuals).max()) * 1e4


def _one_after_the_other(setting: Setting, loops: list[Loop], flows: Flows) -> np.ndarray:
    """Each loop alone with the others fixed, repeatedly."""
    turns = np.zeros(len(loops))
    reach = 4.0 * max(setting.plant.feed_flow, *(abs(flow) for flow in flows.values()))
    for _ in range(_ROUNDS):
        before = turns.copy()
        for at, loop in enumerate(loops):

            def around(turn: float, at: int = at, loop: Loop = loop) -> Pascal:
                tried = [*turns[:at], turn, *turns[at + 1 :]]
                return residual_of(setting, loop, turned(flows, loops, tried))

            if around(-reach) < 0.0 < around(reach):
                turns[at] = brentq(around, -reach, reach, xtol=1e-15, rtol=1e-13)
        if np.abs(turns - before).max() < 1e-13:
            break
    return turns
