"""A kit before any boat is measured: its allowed distance from the sea and height above it.

All modules are placed at one height, level; the suction side is one length of hose, and every
other hose has a given length with two right-angled bends. Length and lift of the suction side are
then varied. The assumptions are reported with the answer.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fitcheck.errors import FitcheckError, ValidityWarning
from fitcheck.findings.said import quantity, say
from fitcheck.hydraulics.answers.envelope import (
    SHUT,
    WIDEST,
    envelope,
    feeds,
    longest,
    piped,
    slopes_of,
    worst_states,
)
from fitcheck.hydraulics.network.bands import narrowed, raised
from fitcheck.hydraulics.network.circuit import build_circuit
from fitcheck.hydraulics.network.halving import largest
from fitcheck.hydraulics.network.plant import Plant, Run, build_curves, strainers_of
from fitcheck.hydraulics.network.solve import first_inlet
from fitcheck.hydraulics.remedy.trials import tabulate
from fitcheck.hydraulics.rules.judging import COMMON_PRACTICE, Table, names, suction_lines
from fitcheck.model.finding import Assumption
from fitcheck.model.found.hydraulics import Envelope, Standing, State
from fitcheck.model.found.routes import Bend
from fitcheck.model.given.boat import Bearing, Boat, BoatPort, Conditions
from fitcheck.model.given.kit import Hose, Kit, Line
from fitcheck.model.given.scenario import Layout, Scenario
from fitcheck.units import Celsius, CubicMetrePerSecond, Metre, Point

#: Length of every hose that is not on the suction side.
OTHERS: Metre = 2.0
BENDS = 2
WATER_C: tuple[Celsius, Celsius] = (5.0, 30.0)
SALINITY = 0.0352
#: Suction lengths (3, 5, 10, 15, 20 and 30 ft) and lifts of the table of settings.
LENGTHS: tuple[Metre, ...] = tuple(round(feet * 0.3048, 4) for feet in (3, 5, 10, 15, 20, 30))
LIFTS: tuple[Metre, ...] = (-0.5, 0.0, 0.5, 1.0, 1.5, 2.0)
_HALVINGS = 12
#: Smallest setting considered; below it the valve is as good as shut.
_LEAST: CubicMetrePerSecond = 0.01 / 3600.0


def standing(kit: Kit) -> Standing:
    """Where some bypass setting feeds the kit and keeps its vacuum, over length, lift and bore.

    Raises FitcheckError for a kit without a high-pressure pump or without a line from the sea.
    """
    plant = stood(kit)
    lines, inlet = suction_lines(plant), first_inlet(plant)
    if kit.high_pressure_pump is None or inlet is None:
        raise FitcheckError(f"{kit.name}: it names no high-pressure pump, so no flow is known")
    if not lines:
        raise FitcheckError(f"{kit.name}: no line leads from the boat to {inlet}")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        table = tabulate(plant, plant.states, kit.limits)
        around = envelope(table)
        if around is None:
            raise FitcheckError(f"{kit.name}: its suction side has no known hose")
        hose = min((plant.runs[name].hose for name in names(lines)), key=lambda row: row.bore)
        bypass = _bypass(plant)
        return Standing(
            kit=kit.name,
            pump=inlet.split(".")[0],
            flow=plant.feed_flow,
            hose=hose.name,
            present=None if bypass is None else bypass.valve_flow,
            envelope=_as_set(table, around, hose),
            lengths=LENGTHS,
            lifts=LIFTS,
            settings=() if bypass is None else _settings(table, hose, bypass.name),
            assumptions=_assumptions(plant),
        )


# --- over length, lift and setting ------------------------------------------------------------


def _bypass(plant: Plant) -> Line | None:
    lines = (run.line for run in plant.runs.values())
    rows = [line for line in lines if line.duty == "bypass" and line.valve_flow is not None]
    return rows[0] if rows else None


def _as_set(table: Table, around: Envelope, own: Hose) -> Envelope:
    """The curve of the kit's own hose with the present bypass setting.

    Left out where the bypass returns upstream, because its flow then depends on the suction side.
    """
    suction = set(names(suction_lines(table.plant)))
    if any(suction & set(dict(loop.members)) for loop in table.plant.circuit.loops):
        return Envelope(lifts=around.lifts, curves=around.curves)
    slopes = slopes_of(table, table.plant, own)
    reach = tuple(longest(slopes, lift, fine=False) for lift in around.lifts)
    curves = tuple(
        replace(curve, as_set=reach) if curve.hose == own.name else curve
        for curve in around.curves
    )
    return Envelope(lifts=around.lifts, curves=curves)


def _settings(
    table: Table, hose: Hose, line: str
) -> tuple[tuple[CubicMetrePerSecond | None, ...], ...]:
    """By lift, then length; 0 where only shut works, None where nothing does [m3/s]."""
    states = _extreme(worst_states(table))
    laid = [narrowed(piped(table.plant, hose, length)) for length in LENGTHS]
    return tuple(
        tuple(_widest(table, raised(plant, lift), line, states) for plant in laid)
        for lift in LIFTS
    )


def _extreme(states: Sequence[State]) -> tuple[State, ...]:
    """All clean, and all dirty and fouled."""
    dirt = [(state.dirty, state.fouled) for state in states]
    return tuple(
        state for state, at in zip(states, dirt, strict=True) if at in (min(dirt), max(dirt))
    )


def _widest(
    table: Table, plant: Plant, line: str, states: Sequence[State]
) -> CubicMetrePerSecond | None:
    """By bisection on the logarithm between the smallest and largest settings considered."""

    def passes(setting: CubicMetrePerSecond) -> bool:
        return feeds(table, plant.with_valve(line, setting), states)

    if not passes(SHUT):
        return None
    if passes(WIDEST):
        return WIDEST
    least, most = math.log(_LEAST), math.log(WIDEST)
    found = largest(lambda size: passes(math.exp(size)), least, most, _HALVINGS)
    return 0.0 if found is None else math.exp(found)


# --- the kit in any boat --------------------------------------------------------------------


def stood(kit: Kit) -> Plant:
    """The kit with its pump at sea level."""
    of = _scenario(kit)
    circuit = build_circuit(kit)
    pump, npsh = build_curves(kit)
    nowhere: Point = (0.0, 0.0, 0.0)
    ports = {f"{m.name}.{port.name}": nowhere for m in kit.modules for port in m.ports}
    ports |= {f"boat.{port.name}": nowhere for port in of.boat.ports}
    return Plant(
        scenario=of,
        circuit=circuit,
        runs={line.name: _run(line, kit.hose(line.hose)) for line in kit.lines},
        pump=pump,
        npsh=npsh,
        ports=ports,
        flotation=nowhere,
        strainers=strainers_of(kit, circuit),
    )


def _run(line: Line, hose: Hose) -> Run:
    bend = Bend(
        centre=(0.0, 0.0, 0.0),
        normal=(0.0, 0.0, 1.0),
        radius=hose.min_bend_radius,
        angle=math.pi / 2,
        start=(0.0, 0.0, 0.0),
        end=(0.0, 0.0, 0.0),
    )
    return Run(
        line=line,
        hose=hose,
        length=OTHERS,
        bends=(bend,) * BENDS,
        path=np.zeros((2, 3)),
        coil=line.coil,
    )


def _scenario(kit: Kit) -> Scenario:
    """A generic boat: openings as the kit's lines need them, upright, cold and warm water."""
    ends = [
        (end.port, line.duty)
        for line in kit.lines
        for end in (line.start, line.end)
        if end.owner == "boat"
    ]
    ahead = Bearing(frame="boat", vector=(1.0, 0.0, 0.0))
    ports = tuple(
        BoatPort(
            name=name,
            role="seacock" if duty == "suction" else "tank" if duty == "product" else "overboard",
            at=(0.0, 0.0, 0.0),
            bearing=ahead,
            connection="",
            thread="",
        )
        for name, duty in dict(ends).items()
    )
    boat = Boat(
        name="any boat",
        mesh="",
        origin="cad",
        unit=None,
        tape_measures=(),
        scan_accuracy=None,
        up=None,
        forward=(1.0, 0.0, 0.0),
        waterline=(),
        datum=None,
        centreline=None,
        flotation=None,
        inside=(0.0, 0.0, 0.0),
        viewpoints=(),
        crop=(),
        lids=(),
        keep_outs=(),
        solids=(),
        declared_free=(),
        ports=ports,
        holes=(),
        hatch=None,
        conditions=Conditions(
            heel=(0.0,),
            trim=(0.0,),
            water_temperature_C=WATER_C,
            salinity=(SALINITY,),
            atmosphere=101_325.0,
        ),
    )
    return Scenario(
        name=kit.name,
        about="",
        boat=boat,
        kit=kit,
        layout=Layout(name="anywhere", placements=(), choices=(), pitch=0.015),
        boat_file="",
        kit_file="",
        layout_file="",
        inputs=(),
    )


def _assumptions(plant: Plant) -> tuple[Assumption, ...]:
    cold, warm = WATER_C
    rows = [
        (say("alone.hoses"), say("alone.hoses-as", each=quantity(OTHERS, "run"))),
        (say("alone.bends"), say("alone.bends-as", bends=BENDS)),
        (say("alone.heights"), say("alone.heights-as")),
        (
            say("alone.sea"),
            say(
                "alone.sea-as",
                cold=quantity(cold, "temperature"),
                warm=quantity(warm, "temperature"),
                salt=quantity(SALINITY, "mass fraction"),
            ),
        ),
        (say("alone.bores"), say("alone.bores-as")),
    ]
    return tuple(
        Assumption(said=said, taken=taken, source=COMMON_PRACTICE, can_flip=True)
        for said, taken in rows
    )
