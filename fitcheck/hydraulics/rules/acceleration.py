"""Acceleration head: the extra head a reciprocating pump needs because it draws in pulses.

The water in the feed line is accelerated and slowed down at every stroke. The formula below treats
pipe and water as nearly rigid, so it is an upper limit; a flexible hose yields and absorbs most of
it. It is therefore reported and never judged.

References
----------
Hydraulic Institute, Reciprocating Pumps (ANSI/HI 6.6): h = L v n C / (K g), for short lines, the
sum over pieces of different bore. Worked in Gas Processors Suppliers Association, Engineering
Data Book, section 12. Both from memory; said in words by Henshaw (2011), Acceleration head, in a
trade paper on pumps.
"""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.findings.said import quantity, say
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import Operation, first_inlet, high_pressure_inlet
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.physics.pumps import gauge_npsh
from fitcheck.hydraulics.rules.judging import Table, names
from fitcheck.hydraulics.rules.limits import feed_lines
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.given.kit import Line
from fitcheck.units import Metre, MetrePerSecond, PerSecond, Ratio

#: How unsteadily a pump draws, by number of plungers; two are single-acting.
UNSTEADINESS: dict[int, Ratio] = {2: 0.200, 3: 0.066, 5: 0.040, 7: 0.028, 9: 0.022}
#: Compressibility factor: 1.4 for water without air, 1.5 for ordinary water, 2.5 for hot oil.
WATER_YIELD: Ratio = 1.5
#: The formula does not apply to longer feed lines (all pieces together).
LONGEST: Metre = 15.0
SOURCE = "ANSI/HI 6.6, from memory; rigid line, so an upper limit"


def acceleration_head(
    length: Metre,
    speed: MetrePerSecond,
    turns: PerSecond,
    plungers: int,
    yielding: Ratio = WATER_YIELD,
) -> Metre:
    """Head needed to accelerate the water in one piece of a rigid feed line [m].

    Parameters
    ----------
    length   : of the piece; up to 15 m in all [m]
    speed    : mean velocity in it [m/s]
    turns    : of the crank [1/s]; the published constants are for turns per minute
    plungers : 2, 3, 5, 7 or 9
    yielding : compressibility factor of the liquid, 1.5 for water [1]
    """
    return length * speed * 60.0 * turns * UNSTEADINESS[plungers] / (yielding * GRAVITY)


def acceleration_findings(table: Table) -> Iterator[Finding]:
    """One note where the kit states the speed of the high-pressure pump."""
    plant = table.plant
    pump, inlet = plant.scenario.kit.high_pressure_pump, high_pressure_inlet(plant)
    if pump is None or inlet is None or pump.speed is None or pump.plungers is None:
        return
    lines = pulsing_lines(plant)
    known = [op for op in table.running if inlet in op.pressures]
    if not lines or not known or any(line.name not in plant.runs for line in lines):
        return
    asked = sum(
        acceleration_head(
            plant.runs[line.name].whole,
            known[0].losses[line.name].velocity,
            pump.speed,
            pump.plungers,
        )
        for line in lines
    )
    length = sum(plant.runs[line.name].whole for line in lines)
    stands = min(_stands(inlet, op) for op in known)
    said = say(
        "acceleration-head",
        pump=pump.module,
        plungers=pump.plungers,
        speed=quantity(pump.speed, "rotation"),
        lines=names(lines),
        length=quantity(length, "run"),
        asked=quantity(asked, "head"),
        stands=quantity(stands, "head"),
    )
    if length > LONGEST:
        said = say("acceleration-head.beyond", advice=said, longest=quantity(LONGEST, "run"))
    yield Finding(
        severity="note",
        rule="acceleration-head",
        subject=pump.module,
        said=said,
        source=SOURCE,
        value=asked,
        limit=None,
        unit="m",
        place=plant.ports.get(inlet),
        remedy=Remedy(said=say("acceleration-head.remedy")) if asked > stands else None,
    )


def pulsing_lines(plant: Plant) -> tuple[Line, ...]:
    """Lines the pulses run through: from the feed pump, or from the sea without one."""
    circuit, inlet = plant.circuit, high_pressure_inlet(plant)
    if inlet is None:
        return ()
    feeds = {line.name for line in feed_lines(plant)}
    before = (
        set() if plant.pump is None else set(names(circuit.lines_on_way(first_inlet(plant) or "")))
    )
    return tuple(
        line
        for line in circuit.lines_on_way(inlet)
        if line.name in feeds and line.name not in before and line.duty != "bypass"
    )


def _stands(inlet: str, operation: Operation) -> Metre:
    feed = operation.waters["feed"]
    return gauge_npsh(
        operation.state.atmosphere,
        operation.pressures[inlet],
        feed.vapour_pressure,
        feed.density,
    )
