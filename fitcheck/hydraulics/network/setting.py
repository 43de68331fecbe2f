"""What is constant while a state is solved: heights, waters, and the loss of each element."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from fitcheck.hydraulics.network.circuit import Element
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.physics.losses import GRAVITY, resistance_loss
from fitcheck.hydraulics.physics.seawater import Water
from fitcheck.model.found.hydraulics import State
from fitcheck.units import CubicMetrePerSecond, Metre, Pascal

#: Resistance of an open end in air to water flowing in from it [Pa s/m3]: 0.1 bar moves 0.00006
#: L/min.
AIR_RESISTANCE = 1e13
#: Smaller flows count as none; the flow AIR_RESISTANCE lets through is below this.
STILL: CubicMetrePerSecond = 1e-8

Trouble = Literal["", "vacuum", "starved", "run-out", "bypass too open", "no flow"]
Flows = Mapping[str, CubicMetrePerSecond]


class Setting:
    """What is constant while a state is solved."""

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
        """Whether the element's loss can be determined at all."""
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
        if flow > 0.0 and self.in_air(element):
            return AIR_RESISTANCE * flow
        return 0.0

    def _head(self, flow: CubicMetrePerSecond) -> Metre:
        pump = self.plant.pump
        head = 0.0 if pump is None else pump.extended(flow)
        return head if self.cap is None else min(head, self.cap)

    def static(self, element: Element) -> Pascal:
        """Pressure difference due to height from start to end of an element [Pa].

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

    def in_air(self, element: Element) -> bool:
        """Whether an element is an open end in air, from which no water can come.

        A running plant may draw its feed from a tank; brine and product only run into one.
        """
        if element.kind != "open end" or self.state.doing != "running":
            return False
        name = element.end.removeprefix("boat.")
        role = next(port.role for port in self.plant.scenario.boat.ports if port.name == name)
        draws = role == "tank" and self.circuit.waters[element.end] == "feed"
        return not draws and not self._in_the_sea(element.end)

    def _in_the_sea(self, node: str) -> bool:
        """Seacocks always; other openings except tanks only while they are under water."""
        name = node.removeprefix("boat.")
        role = next(port.role for port in self.plant.scenario.boat.ports if port.name == name)
        return role == "seacock" or (role != "tank" and self.heights[node] < 0.0)


def beyond_curve(setting: Setting, flows: Flows) -> Trouble:
    """Whether the feed pump would run beyond the last point of its curve."""
    through = flows.get("feed pump")
    pump = setting.plant.pump
    if pump is None or through is None:
        return ""
    return "" if through <= pump.last_flow * (1.0 + 1e-9) else "run-out"
