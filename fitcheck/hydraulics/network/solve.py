"""The operating point: every flow and pressure of a plant in one state.

Flows fixed by the circuit are read off its tree; one unknown remains for every loop, found where
the pressures around it add up to zero. Then pressures are calculated outward from the sea.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from fitcheck.hydraulics.network.circuit import OPEN, WaterName
from fitcheck.hydraulics.network.flows import Carried, carried
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.setting import Setting, Trouble
from fitcheck.hydraulics.physics.losses import HoseLoss
from fitcheck.hydraulics.physics.pumps import gauge_npsh
from fitcheck.hydraulics.physics.seawater import Water
from fitcheck.model.found.hydraulics import State
from fitcheck.units import CubicMetrePerSecond, Metre, Pascal


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One solved state. Flows and pressures that depend on an unrouted hose are missing.

    pressures : node -> total gauge pressure, velocity head included
    band : node -> by how much the upper friction factors of the transition band may lower it
    trouble : why the requested flow cannot be delivered, "" if it can
    cycling : a pressure switch stops and starts the feed pump
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
    cycling: bool = False


_HALVINGS = 16


def operate(plant: Plant, state: State) -> Operation:
    """The plant at its requested feed flow or, if that cannot be delivered, at the largest
    possible one.

    In the second case `trouble` gives the reason and `feed_flow` is the largest flow at which no
    pump cavitates and the high-pressure pump has its inlet pressure (0 if there is none).
    """
    wanted = operate_at(plant, state, plant.feed_flow)
    if wanted.trouble in ("", "bypass too open"):
        return wanted
    return replace(_largest(plant, state), trouble=wanted.trouble)


def operate_at(plant: Plant, state: State, feed_flow: CubicMetrePerSecond) -> Operation:
    """The plant at a feed flow [m3/s]; physically impossible pressures are left out.

    Raises ConvergenceError if the loops do not converge.
    """
    setting = Setting(plant, state)
    found = carried(setting, feed_flow)
    pressures, band = _pressures(setting, found)
    return Operation(
        state=state,
        feed_flow=feed_flow,
        flows=found.flows,
        losses=found.losses,
        pressures=pressures,
        band=band,
        heights=setting.heights,
        waters=setting.waters,
        trouble=found.trouble or _trouble(plant, setting, pressures),
        cycling=found.cycling,
    )


# --- pressures --------------------------------------------------------------------------------


def _pressures(setting: Setting, found: Carried) -> tuple[dict[str, Pascal], dict[str, Pascal]]:
    """Total gauge pressure of every node connected to an open end through known elements."""
    circuit = setting.circuit
    pressures: dict[str, Pascal] = {OPEN: 0.0}
    band: dict[str, Pascal] = {OPEN: 0.0}
    for node in circuit.order:
        if node not in circuit.parent:
            continue
        name, above = circuit.parent[node]
        element = circuit.elements[name]
        if above not in pressures or name not in found.drops:
            continue
        sign = 1.0 if element.start == above else -1.0
        drop = found.drops[name] + setting.static(element)
        loss = found.losses.get(name)
        spread = 0.0 if loss is None else loss.at_most - loss.total
        pressures[node] = pressures[above] - sign * drop
        band[node] = band[above] + spread
    pressures.pop(OPEN)
    return pressures, band


def _trouble(plant: Plant, setting: Setting, pressures: Mapping[str, Pascal]) -> Trouble:
    """Why the requested flow cannot be delivered: boiling on the suction side, or a
    starved pump.
    """
    if setting.state.doing != "running":
        return ""
    feed = setting.waters["feed"]
    least = feed.vapour_pressure - setting.state.atmosphere
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
    """Inlet of the first pump: the feed pump, or the high-pressure pump without one."""
    pump = plant.scenario.kit.feed_pump
    if pump is not None:
        return f"{pump.module}.{pump.inlet}"
    return high_pressure_inlet(plant)


def high_pressure_inlet(plant: Plant) -> str | None:
    """Inlet of the high-pressure pump."""
    pump = plant.scenario.kit.high_pressure_pump
    return None if pump is None else f"{pump.module}.{pump.inlet}"


def _largest(plant: Plant, state: State) -> Operation:
    """The largest feed flow that keeps every pump fed, by bisection."""
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
    """Whether no pump cavitates and the high-pressure pump has its minimum inlet pressure."""
    if operation.trouble:
        return False
    least = plant.scenario.kit.limits.inlet_pressure_min
    pressure = operation.pressures.get(high_pressure_inlet(plant) or "")
    return (pressure is None or pressure >= least) and not _cavitates(plant, operation)


def _cavitates(plant: Plant, operation: Operation) -> bool:
    """Whether the feed pump has less NPSH than required at its own flow, bypass included."""
    inlet, flow = first_inlet(plant), operation.flows.get("feed pump")
    if plant.npsh is None or flow is None or inlet is None or inlet not in operation.pressures:
        return False
    feed = operation.waters["feed"]
    available = gauge_npsh(
        operation.state.atmosphere,
        operation.pressures[inlet],
        feed.vapour_pressure,
        feed.density,
    )
    return plant.npsh.holds(flow) and available < plant.npsh.head(flow)
