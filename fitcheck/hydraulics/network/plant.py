"""Everything the solver needs of one scenario: circuit, heights, hoses, pump.

A plant can be copied with other hoses or longer runs, which is how remedies are tested.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.heel import height_above_sea, heights_above_sea
from fitcheck.hydraulics.network.circuit import Circuit, WaterName, build_circuit
from fitcheck.hydraulics.network.states import resting_states, states_of
from fitcheck.hydraulics.physics.coils import coil_loss
from fitcheck.hydraulics.physics.losses import HoseLoss, hose_loss, velocity_head
from fitcheck.hydraulics.physics.open_ends import open_end_coefficients
from fitcheck.hydraulics.physics.pumps import Curve
from fitcheck.hydraulics.physics.seawater import Water, water
from fitcheck.hydraulics.physics.tails import tails_loss
from fitcheck.model.found.hydraulics import State
from fitcheck.model.found.routes import Bend, HoseRoute, Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.kit import Coil, Hose, Kit, Line
from fitcheck.model.given.scenario import Scenario
from fitcheck.units import Celsius, CubicMetrePerSecond, Metre, Point, Ratio

#: Salinity assumed for the product; its density and viscosity hardly depend on it [1].
PRODUCT_SALINITY = 0.0003


@dataclass(frozen=True, eq=False, kw_only=True)
class Run:
    """One line as routed: its hose and shape, or the shape in which a made-up hose is routed.

    length : without a coil [m]; path : (n, 3), as routed [m]
    """

    line: Line
    hose: Hose
    length: Metre
    bends: tuple[Bend, ...]
    path: NDArray[np.float64]
    uncertainty: Metre = 0.0
    bound: Metre = 0.0
    coil: Coil | None = None

    @property
    def whole(self) -> Metre:
        """Length of the hose including its coil."""
        return self.length + (0.0 if self.coil is None else self.coil.length)

    def loss(self, flow: CubicMetrePerSecond, of: Water) -> HoseLoss:
        """Its loss at a flow [m3/s] of that water, including an open relief valve."""
        loss = self._ends_and_coil(self._with_open_ends(flow, of), abs(flow), of)
        opens = self.line.opens_at
        if opens is None or flow <= 0.0:
            return loss
        return replace(loss, fittings=loss.fittings + opens, at_most=loss.at_most + opens)

    def _ends_and_coil(self, loss: HoseLoss, flow: CubicMetrePerSecond, of: Water) -> HoseLoss:
        """Adds the losses of narrower tails and a coil."""
        hose = self.hose
        if not loss.reynolds or (hose.tail_bore is None and self.coil is None):
            return loss
        tails = coil = 0.0
        if hose.tail_bore is not None:
            tails = tails_loss(flow, hose.bore, hose.tail_bore, hose.roughness, of)
        if self.coil is not None:
            coil = coil_loss(flow, hose.bore, self.coil, hose.roughness, of)
        return replace(
            loss,
            friction=loss.friction + coil,
            fittings=loss.fittings + tails,
            at_most=loss.at_most + coil + tails,
            coil=coil,
            tails=tails,
        )

    def _with_open_ends(self, flow: CubicMetrePerSecond, of: Water) -> HoseLoss:
        """Adds the losses of the inlet from the sea or the outlet from the boat."""
        loss = self._hose_loss(flow, of)
        taken = sum(open_end_coefficients(self.line, flow))
        ends = taken * velocity_head(loss.velocity, of.density)
        return replace(
            loss, fittings=loss.fittings + ends, at_most=loss.at_most + ends, open_ends=ends
        )

    def _hose_loss(self, flow: CubicMetrePerSecond, of: Water) -> HoseLoss:
        return hose_loss(
            flow=flow,
            bore=self.hose.bore,
            roughness=self.hose.roughness,
            length=self.length,
            bends=self.bends,
            fittings=self.line.fittings,
            valve_flow=self.line.valve_flow,
            water=of,
        )


@dataclass(frozen=True, eq=False, kw_only=True)
class Plant:
    """A kit in a boat, its hoses as routed; lines without a route are not in `runs`.

    strainers : resistances in which dirt means a fouled strainer
    shared : cached loop flows, shared with changed copies, whose loops are often the same
    """

    scenario: Scenario
    circuit: Circuit
    runs: Mapping[str, Run]
    pump: Curve | None
    npsh: Curve | None
    ports: Mapping[str, Point]
    flotation: Point
    strainers: frozenset[str] = frozenset()
    height_uncertainty: Metre = 0.0
    shared: dict[Any, Any] = field(default_factory=dict, repr=False)

    @property
    def states(self) -> tuple[State, ...]:
        """The running states this plant is judged in."""
        rows = self.scenario.kit.resistances
        dirt = [row.name in self.strainers for row in rows if row.dirty]
        return states_of(
            self.scenario.boat.conditions, filters=False in dirt, strainer=True in dirt
        )

    @property
    def resting_states(self) -> tuple[State, ...]:
        """Stopped and flushing."""
        return resting_states(self.scenario.boat.conditions, self.scenario.kit)

    @property
    def feed_flow(self) -> CubicMetrePerSecond:
        """Flow the high-pressure pump takes [m3/s]; 0 without such a pump."""
        pump = self.scenario.kit.high_pressure_pump
        return 0.0 if pump is None else pump.flow

    def heights(self, state: State) -> dict[str, Metre]:
        """Height of every port above the sea in a state [m]."""
        return {
            name: height_above_sea(at, self.flotation, state.heel, state.trim)
            for name, at in self.ports.items()
        }

    def heights_along(self, line: str, state: State) -> NDArray[np.float64]:
        """Heights above the sea along a routed line, (n,) [m]."""
        path = self.runs[line].path
        return heights_above_sea(path, self.flotation, state.heel, state.trim)

    def waters(self, state: State) -> dict[WaterName, Water]:
        """Feed, brine and product in a state."""
        membrane = self.scenario.kit.membrane
        recovery = 0.0 if membrane is None else membrane.recovery
        if state.doing == "flushing":
            return _waters(min(PRODUCT_SALINITY, state.salinity), 0.0, state.temperature_C)
        return _waters(state.salinity, recovery, state.temperature_C)

    def changed(self, hoses: Mapping[str, Hose], stretch: Ratio = 1.0) -> Plant:
        """The same plant with other hoses on some lines, every changed line longer by the factor
        `stretch`.
        """
        runs = dict(self.runs)
        for line, hose in hoses.items():
            run = runs[line]
            runs[line] = replace(run, hose=hose, length=run.length * stretch)
        return replace(self, runs=runs)

    @property
    def elements_of_resistances(self) -> frozenset[str]:
        """Names of the resistances that water runs through."""
        rows = (element.resistance for element in self.circuit.elements.values())
        return frozenset(row.name for row in rows if row is not None)

    def shortened(self, line: str, share: Ratio) -> Plant:
        """The same plant with one line cut to a share of its length."""
        run = self.runs[line]
        return replace(self, runs={**self.runs, line: replace(run, length=share * run.length)})

    def moved_down(self, module: str, by: Metre) -> Plant:
        """The same plant with the ports of one module lower; its hoses keep their length."""
        ports = {
            name: (at[0], at[1], at[2] - by) if name.split(".")[0] == module else at
            for name, at in self.ports.items()
        }
        return replace(self, ports=ports)

    def with_resistance(self, name: str, share: Ratio) -> Plant:
        """The same plant with one module's resistance reduced to a share."""
        elements = {
            key: replace(
                element,
                resistance=replace(
                    element.resistance,
                    loss=share * element.resistance.loss,
                    dirty=share * element.resistance.dirty,
                ),
            )
            if element.resistance is not None and element.resistance.name == name
            else element
            for key, element in self.circuit.elements.items()
        }
        return replace(self, circuit=replace(self.circuit, elements=elements))

    def with_valve(self, line: str, valve_flow: CubicMetrePerSecond) -> Plant:
        """The same plant with the valve of one line set to pass another flow at 1 bar."""
        return replace(self, runs={**self.runs, line: _set(self.runs[line], valve_flow)})


@lru_cache(maxsize=1024)
def _set(run: Run, valve_flow: CubicMetrePerSecond) -> Run:
    """Return the same object for the same setting, so that cached solutions are reused."""
    return replace(run, line=replace(run.line, valve_flow=valve_flow))


def build_plant(scenario: Scenario, space: Space, routes: Routes) -> Plant:
    """Combine circuit, port positions, routed hoses and pump curves."""
    circuit = build_circuit(scenario.kit)
    pump, npsh = build_curves(scenario.kit)
    ports = {name: at for name, (at, _) in scenario.placed.ports(space.ports).items()}
    return Plant(
        scenario=scenario,
        circuit=circuit,
        runs=_runs(scenario, routes),
        pump=pump,
        npsh=npsh,
        ports=ports,
        flotation=space.flotation,
        strainers=strainers_of(scenario.kit, circuit),
        height_uncertainty=max(map(space.uncertainty.of_height, ports.values()), default=0.0),
    )


def build_curves(kit: Kit) -> tuple[Curve | None, Curve | None]:
    """Head and NPSH required of the feed pump over flow, None where there is none."""
    pump = kit.feed_pump
    if pump is None:
        return None, None
    asked = pump.npsh_required
    return Curve(pump.curve), Curve(asked) if len(asked) >= 2 else None


def strainers_of(kit: Kit, circuit: Circuit) -> frozenset[str]:
    """Resistances declared as strainers, or between the sea and the feed pump."""
    pump = kit.feed_pump
    way = () if pump is None else circuit.way(f"{pump.module}.{pump.inlet}")
    before = {row.resistance.name for row in way if row.resistance is not None}
    return frozenset(
        row.name
        for row in kit.resistances
        if row.kind == "strainer" or (not row.kind and row.name in before)
    )


def _runs(scenario: Scenario, routes: Routes) -> dict[str, Run]:
    runs = {}
    for route in routes.hoses:
        if isinstance(route, HoseRoute):
            line = scenario.kit.line(route.line)
            lay = route.assembly if route.assembly is not None and route.assembly.laid else route
            runs[route.line] = Run(
                line=with_fittings(line, route),
                hose=scenario.hose_of(line),
                length=lay.length,
                bends=lay.bends,
                path=route.path,
                uncertainty=route.uncertainty,
                bound=route.bound,
                coil=line.coil,
            )
    return runs


def with_fittings(line: Line, route: HoseRoute) -> Line:
    """The line with the loss of the fittings at its hose ends added."""
    more = route.fitting_loss_coefficient
    return replace(line, fittings=line.fittings + more) if more else line


@lru_cache(maxsize=64)
def _waters(salinity: Ratio, recovery: Ratio, temperature_C: Celsius) -> dict[WaterName, Water]:
    return {
        "feed": water(salinity, temperature_C),
        "brine": water(salinity / (1.0 - recovery), temperature_C),
        "product": water(min(PRODUCT_SALINITY, salinity), temperature_C),
    }
