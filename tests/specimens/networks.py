"""Small random feed plants: parallel hoses, and returns around the pump."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from fitcheck.hydraulics.network.plant import Plant, build_plant
from fitcheck.hydraulics.network.solve import Operation, operate_at
from fitcheck.model.found.routes import Routes
from fitcheck.model.given.kit import Kit, Line
from fitcheck.model.given.scenario import Scenario
from tests.specimens.water import (
    LITRE_PER_MINUTE,
    a_hose,
    a_port,
    a_route,
    curve,
    plant_kit,
    plant_scenario,
    plant_space,
)


@dataclass(frozen=True)
class Drawn:
    """One random plant and its state."""

    scenario: Scenario
    plant: Plant

    def solved(self) -> Operation:
        return operate_at(self.plant, self.plant.states[0], self.plant.feed_flow)


def drawn(seed: int) -> Drawn:
    """A plant with random hoses, lengths, side branches and returns."""
    chance = random.Random(seed)
    kit = _plain(chance)
    for number in range(chance.randint(1, 4)):
        line = chance.choice(["sea_to_strainer", "strainer_to_pump", "pump_to_filters", "bypass"])
        kit = _doubled(kit, line, number)
    bores = {line.name: chance.uniform(0.012, 0.022) for line in kit.lines}
    hoses = tuple(
        a_hose(
            name, bore=bore, outside_diameter=bore + 0.006, roughness=chance.uniform(1e-6, 3e-5)
        )
        for name, bore in bores.items()
    )
    lines = tuple(_drawn_line(line, chance) for line in kit.lines)
    kit = replace(kit, hoses=hoses, lines=lines)
    of = plant_scenario(kit, water_temperature_C=(chance.uniform(5.0, 30.0),))
    hoses_laid = [a_route(of, line, chance.uniform(0.5, 8.0), ()) for line in of.kit.lines]
    routes = Routes(hoses=tuple(hoses_laid), findings=(), assumptions=())
    return Drawn(of, build_plant(of, plant_space(of), routes))


def _plain(chance: random.Random) -> Kit:
    """The feed side alone, with filters without loss and a flow that keeps all hoses turbulent."""
    kit = plant_kit()
    pump = kit.high_pressure_pump
    assert pump is not None
    keep = ("sea_to_strainer", "strainer_to_pump", "pump_to_filters", "bypass", "filters_to_hp")
    assert kit.feed_pump is not None
    heads = curve(((0, 14.0), (60, 10.0), (120, 2.0)))
    return replace(
        kit,
        lines=tuple(line for line in kit.lines if line.name in keep),
        membrane=None,
        resistances=tuple(replace(row, loss=0.0, dirty=0.0) for row in kit.resistances),
        feed_pump=replace(kit.feed_pump, curve=heads, npsh_required=()),
        high_pressure_pump=replace(pump, flow=chance.uniform(15, 25) * LITRE_PER_MINUTE),
    )


def _doubled(kit: Kit, name: str, number: int) -> Kit:
    """One more hose parallel to a line, on ports that share the water of its ports."""
    first = kit.line(name)
    ports = {}
    for end in (first.start, first.end):
        if end.owner == "boat":
            ports[end] = end
            continue
        module = kit.module(end.owner)
        joined = next(port for port in module.ports if port.name == end.port).joins or end.port
        added = a_port(f"extra_{number}_{end.port}", joins=joined)
        module = replace(module, ports=(*module.ports, added))
        kit = replace(
            kit, modules=tuple(module if m.name == module.name else m for m in kit.modules)
        )
        ports[end] = replace(end, port=added.name)
    second = replace(
        first, name=f"{name}_{number}", start=ports[first.start], end=ports[first.end]
    )
    return replace(kit, lines=(*kit.lines, second))


def _drawn_line(line: Line, chance: random.Random) -> Line:
    fittings = chance.uniform(0.5, 6.0) if line.duty != "bypass" else chance.uniform(60.0, 300.0)
    return replace(line, hose=line.name, fittings=fittings, valve_flow=None)
