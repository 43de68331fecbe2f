"""The input of every rule: one table of solved states, and the verdict type.

A verdict is a finding, the lines whose hoses could resolve it, and a few words for the table of
lines.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Quantity, Said, quantity, say
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import Operation, first_inlet
from fitcheck.hydraulics.physics.losses import GRAVITY, velocity_head
from fitcheck.hydraulics.physics.pumps import gauge_npsh
from fitcheck.model.finding import SEVERITIES, Finding, Severity
from fitcheck.model.given.kit import Limits, Line
from fitcheck.units import CubicMetrePerSecond, Metre, Pascal, Ratio, show

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A finding, the lines that could resolve it, the states it covers, and its short form."""

    finding: Finding
    lines: tuple[str, ...]
    states: tuple[str, ...]
    brief: Said


@dataclass(frozen=True, eq=False, kw_only=True)
class Table:
    """A plant, its solved states and the limits to judge them by.

    safe : the same on the unfavourable side of bores, lengths and heights, which is judged
    expected : on such a table, the states as expected, by name
    """

    plant: Plant
    operations: tuple[Operation, ...]
    limits: Limits
    safe: Table | None = None
    expected: Mapping[str, Operation] = field(default_factory=dict)

    def figure(
        self, worst: Ratio, kind: str, of: Callable[[Operation], Ratio | None], at: str
    ) -> Quantity | Said:
        """The judged value, and the expected one where it reads differently."""
        judged, operation = quantity(worst, kind), self.expected.get(at)
        value = None if operation is None else of(operation)
        if value is None or show(value, kind) == show(worst, kind):
            return judged
        return say("judged.at-worst", expected=quantity(value, kind), judged=judged)

    @property
    def running(self) -> tuple[Operation, ...]:
        """States in which the requested flow is delivered."""
        return tuple(op for op in self.operations if op.feed_flow == self.plant.feed_flow)

    def said(self, state: str) -> Said:
        """The name of a state, in the requested units."""
        return next(op.state.said for op in self.operations if op.state.name == state)

    def source(self, name: str) -> str:
        """Where a limit comes from."""
        return "the kit's limits" if name in self.limits.given else COMMON_PRACTICE


def suction_lines(plant: Plant) -> tuple[Line, ...]:
    """Lines from the sea to the first pump, in that order."""
    inlet = first_inlet(plant)
    return () if inlet is None else plant.circuit.lines_on_way(inlet)


def suction_vacuum(plant: Plant, operation: Operation) -> Pascal | None:
    """Reading of a vacuum gauge at the first pump's inlet, positive below atmosphere [Pa].

    A gauge shows static pressure: the total pressure there (the sea's, less losses and lift) less
    the velocity head in the arriving hose. None where a hose on the way was not routed.
    """
    inlet = first_inlet(plant)
    if inlet is None or inlet not in operation.pressures:
        return None
    lines = plant.circuit.lines_on_way(inlet)
    if not lines:
        return -operation.pressures[inlet]
    speed = operation.losses[lines[-1].name].velocity
    return -operation.pressures[inlet] + velocity_head(speed, operation.waters["feed"].density)


def pump_flow(plant: Plant, operation: Operation) -> CubicMetrePerSecond | None:
    """Flow through the first pump, bypass included; None if unknown."""
    if plant.pump is None:
        return operation.feed_flow
    return operation.flows.get("feed pump")


def npsh(plant: Plant, operation: Operation) -> Metre | None:
    """NPSH available at the first pump on the safe side of the transition band [m]."""
    inlet = first_inlet(plant)
    if inlet is None or inlet not in operation.pressures:
        return None
    feed = operation.waters["feed"]
    return gauge_npsh(
        operation.state.atmosphere,
        operation.pressures[inlet] - operation.band[inlet],
        feed.vapour_pressure,
        feed.density,
    )


def npsh_required(plant: Plant, operation: Operation) -> Metre | None:
    """NPSH required by the feed pump at its own flow, bypass included [m].

    None beyond its last point, since the curve is not extrapolated.
    """
    flow = pump_flow(plant, operation)
    if plant.pump is None or plant.npsh is None or flow is None or not plant.npsh.holds(flow):
        return None
    return plant.npsh.head(flow)


def lowest_pressure(table: Table, line: str, operation: Operation) -> Pascal | None:
    """Lowest static gauge pressure along a routed line, high points included [Pa]."""
    along = static_along(table, line, operation)
    return None if along is None else float(along.min())


def static_along(table: Table, line: str, operation: Operation) -> NDArray[np.float64] | None:
    """Static gauge pressure along a routed line, (n,) [Pa]; the loss is distributed evenly."""
    start = operation.pressures.get(str(table.plant.runs[line].line.start))
    if start is None or line not in operation.losses:
        return None
    loss = operation.losses[line]
    element = table.plant.circuit.elements[line]
    density = operation.waters[table.plant.circuit.waters[element.end]].density
    heights = table.plant.heights_along(line, operation.state)
    gone = np.linspace(0.0, 1.0, len(heights)) * loss.at_most
    along: NDArray[np.float64] = start - density * GRAVITY * (heights - heights[0]) - gone
    return along - velocity_head(loss.velocity, density)


def note(rule: str, subject: str, said: Said) -> Finding:
    """A finding that is reported and not judged."""
    return Finding(severity="note", rule=rule, subject=subject, said=said, source=COMMON_PRACTICE)


def worst(verdicts: Iterable[Verdict]) -> Verdict | None:
    """The severest verdict, the first of equals."""
    return min(verdicts, key=lambda row: SEVERITIES.index(row.finding.severity), default=None)


def graded(value: Ratio, ok: Ratio, most: Ratio) -> Severity | None:
    """None up to `ok`, a caution up to `most`, a fail above."""
    if value <= ok:
        return None
    return "caution" if value <= most else "fail"


def names(lines: Sequence[Line]) -> tuple[str, ...]:
    """Names of lines."""
    return tuple(line.name for line in lines)
