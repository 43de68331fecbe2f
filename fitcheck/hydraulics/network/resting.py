"""The plant stopped, and the plant flushed with fresh water.

Stopped, nothing flows: the pressures are those of the static water columns from the openings.
Flushing, fresh water enters at one port and leaves with the brine; the membrane makes no product,
and the water in the lines before that port does not move.
"""

from __future__ import annotations

from dataclasses import replace

from fitcheck.hydraulics.network.circuit import build_circuit
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import Operation, operate_at


def resting_operations(plant: Plant) -> tuple[Operation, ...]:
    """Every stopped and flushing state, solved."""
    flush = plant.scenario.kit.flush
    flushed = flushed_plant(plant)
    return tuple(
        operate_at(plant, state, 0.0)
        if state.doing == "stopped" or flush is None
        else operate_at(flushed, state, flush.flow)
        for state in plant.resting_states
    )


def flushed_plant(plant: Plant) -> Plant:
    """The same plant without recovery; unchanged without a membrane."""
    kit = plant.scenario.kit
    if kit.membrane is None:
        return plant
    kit = replace(kit, membrane=replace(kit.membrane, recovery=0.0))
    return replace(plant, circuit=build_circuit(kit))
