"""Standing water: high points that collect air, low points that keep water, volumes.

Every run is followed in the direction of gravity of each heel and trim. A high or low point counts
when it is more than one bore above (or below) the turning points on both sides of it. The water in
hoses and modules gives the volume a flush has to replace.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.heel import heights_above_sea
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.resting import flushed_plant
from fitcheck.hydraulics.network.solve import Operation
from fitcheck.hydraulics.rules.judging import Table, names, suction_lines
from fitcheck.model.found.hydraulics import FlushPlan, TurningPoint, WaterHeld
from fitcheck.model.given.kit import Line
from fitcheck.units import CubicMetre, Metre, Point

#: How often the water is replaced if the kit does not say (common practice, no source).
FLUSH_VOLUMES = 3.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Walk:
    """Consecutive lines along the flow.

    path : (n, 3), a module between two lines is passed from port to port [m]
    lines : which line each point belongs to
    inner : whether the point is inside its line, not at one of its ends
    bore : the narrowest
    """

    path: NDArray[np.float64]
    lines: tuple[str, ...]
    inner: NDArray[np.bool_]
    bore: Metre


def walks(plant: Plant) -> list[Walk]:
    """The path from the sea to the high-pressure pump, each outlet path, and every other line
    alone.
    """
    circuit, kit = plant.circuit, plant.scenario.kit
    chains: list[tuple[Line, ...]] = []
    if kit.high_pressure_pump is not None:
        pump = kit.high_pressure_pump
        chains.append(circuit.lines_on_way(f"{pump.module}.{pump.inlet}"))
    if kit.membrane is not None:
        ports = (kit.membrane.brine, kit.membrane.product)
        chains += [circuit.lines_on_way(f"{kit.membrane.module}.{port}")[::-1] for port in ports]
    taken = {line.name for chain in chains for line in chain}
    chains += [(line,) for line in kit.lines if line.name not in taken]
    whole = [[line for line in chain if line.name in plant.runs] for chain in chains]
    return [_walk(plant, chain) for chain in whole if chain]


def _walk(plant: Plant, chain: Sequence[Line]) -> Walk:
    paths = [plant.runs[line.name].path for line in chain]
    inner = [np.ones(len(path), dtype=bool) for path in paths]
    for row in inner:
        row[0] = row[-1] = False
    return Walk(
        path=np.concatenate(paths),
        lines=tuple(
            line.name for line, path in zip(chain, paths, strict=True) for _ in range(len(path))
        ),
        inner=np.concatenate(inner),
        bore=min(plant.runs[line.name].hose.bore for line in chain),
    )


def turns(heights: NDArray[np.float64], least: Metre) -> list[tuple[int, bool, Metre]]:
    """Where a run turns by more than `least`: index, whether it is a high point, its rise [m].

    The rise is over the higher of the two adjacent low points (the lower of the adjacent high
    points, for a low point); the ends of the run do not count.
    """
    marks = _extremes(heights, least)
    found = []
    for before, at, after in zip(marks, marks[1:], marks[2:], strict=False):
        rise = min(abs(heights[at] - heights[before]), abs(heights[at] - heights[after]))
        found.append((at, bool(heights[at] > heights[before]), float(rise)))
    return found


def _extremes(heights: NDArray[np.float64], least: Metre) -> list[int]:
    """Every extreme larger than `least`, and the outermost at both ends."""
    marks: list[int] = []
    high, low, rising = 0, 0, 0
    for at in range(1, len(heights)):
        high = at if heights[at] > heights[high] else high
        low = at if heights[at] < heights[low] else low
        if rising >= 0 and heights[high] - heights[at] > least:
            marks.append(high)
            rising, low = -1, at
        elif rising <= 0 and heights[at] - heights[low] > least:
            marks.append(low)
            rising, high = 1, at
    return [*marks, low if rising < 0 else high]


def turning_points(table: Table) -> tuple[TurningPoint, ...]:
    """The greatest rise of every high and low point of each line or module over all attitudes."""
    worst: dict[tuple[str, bool], TurningPoint] = {}
    for walk in walks(table.plant):
        for operation in attitudes(table):
            for point in _turning(table.plant, walk, operation):
                key = (point.where, point.kind == "high")
                if key not in worst or point.rise > worst[key].rise:
                    worst[key] = point
    return tuple(worst.values())


def attitudes(table: Table) -> list[Operation]:
    """One running state for every heel and trim."""
    found = {(op.state.heel, op.state.trim): op for op in reversed(table.operations)}
    return list(reversed(found.values()))


def upright(table: Table) -> Operation:
    """The state closest to upright and level: the boat at rest."""
    return min(table.operations, key=lambda op: abs(op.state.heel) + abs(op.state.trim))


def _turning(plant: Plant, walk: Walk, operation: Operation) -> Iterator[TurningPoint]:
    state = operation.state
    heights = heights_above_sea(walk.path, plant.flotation, state.heel, state.trim)
    for turn, high, rise in turns(heights, walk.bore):
        at = _end_of_rise(walk, heights if high else -heights, turn)
        line = walk.lines[at]
        yield TurningPoint(
            where=line if walk.inner[at] else _module(plant, walk, at),
            line=line,
            kind="high" if high else "low",
            at=_point(walk.path[at]),
            height=float(heights[at]),
            rise=rise,
            state=state.name,
        )


def _end_of_rise(walk: Walk, heights: NDArray[np.float64], at: int) -> int:
    """The end of its line where a run only rises to there from a high point, else the point.

    The last stretch to a port is often level: what collects there is at the port, not in the hose.
    """
    if not walk.inner[at]:
        return at
    first = last = at
    while walk.inner[first]:
        first -= 1
    while walk.inner[last]:
        last += 1
    level = heights[at] - walk.bore
    ends = [
        end
        for end, between in ((first, heights[first:at]), (last, heights[at : last + 1]))
        if between.min() >= level
    ]
    return max(ends, key=lambda end: heights[end], default=at)


def _module(plant: Plant, walk: Walk, at: int) -> str:
    """The module at the end of a line, or the boat port."""
    line = plant.scenario.kit.line(walk.lines[at])
    first = at == 0 or walk.lines[at - 1] != walk.lines[at]
    ends = (line.start, line.end)
    path = plant.runs[line.name].path
    forward = bool(np.array_equal(walk.path[at], path[0]))
    end = ends[0] if first or forward else ends[1]
    return end.port if end.owner == "boat" else end.owner


def _point(row: NDArray[np.float64]) -> Point:
    x, y, z = (float(value) for value in row)
    return (x, y, z)


# --- how much water there is ------------------------------------------------------------------


def water_held(plant: Plant) -> tuple[WaterHeld, ...]:
    """The water in every routed hose and in every module that states its volume."""
    hoses = [
        WaterHeld(where=name, volume=math.pi / 4.0 * run.hose.bore**2 * run.whole)
        for name, run in plant.runs.items()
    ]
    kit = plant.scenario.kit
    modules = [WaterHeld(where=row.name, volume=row.holds) for row in kit.modules if row.holds]
    return (*hoses, *modules)


def flush_plan(plant: Plant) -> FlushPlan | None:
    """How much fresh water a flush takes and how long; None without an outlet for the brine.

    It replaces the water of every line that carries the flush, and of the modules they join.
    Without a flush in the kit it enters at the first pump at the feed flow.
    """
    kit = plant.scenario.kit
    if kit.membrane is None or kit.high_pressure_pump is None:
        return None
    flush = kit.flush
    swept = _swept(plant)
    held: CubicMetre = sum(row.volume for row in water_held(plant) if row.where in swept)
    volumes = FLUSH_VOLUMES if flush is None else flush.volumes
    flow = plant.feed_flow if flush is None else flush.flow
    return FlushPlan(
        held=held,
        volumes=volumes,
        volume=held * volumes,
        flow=flow,
        time=held * volumes / flow,
        given=flush is not None,
        lost=tuple(sorted(name for name in swept & _lines(plant) if name not in plant.runs)),
    )


def _lines(plant: Plant) -> set[str]:
    return {line.name for line in plant.scenario.kit.lines}


def _swept(plant: Plant) -> set[str]:
    """Lines that carry the flush and the modules at their ends."""
    flush = plant.scenario.kit.flush
    circuit = flushed_plant(plant).circuit
    carries = {name for name, share in circuit.share.items() if abs(share) > 1e-9}
    carries -= set(names(suction_lines(plant)))
    if flush is not None:
        carries -= {element.name for element in circuit.way(str(flush.at))}
    lines = [line for line in plant.scenario.kit.lines if line.name in carries]
    modules = {end.owner for line in lines for end in (line.start, line.end)} - {"boat"}
    return {line.name for line in lines} | modules
