"""Whether the mesh is upside down, the wrong way round or at the wrong height.

Modules are positioned in the boat frame, so if one key of that frame is wrong, most of them are in
walls or outside the mesh at once. Then the frame is built again with one key as it may have been
meant, and the one reading that clears them is named.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.findings.said import Said, quantity, say
from fitcheck.model.finding import Change, Finding, Remedy
from fitcheck.model.found.space import FREE, Frame, Space
from fitcheck.model.given.boat import Boat
from fitcheck.model.given.scenario import Scenario
from fitcheck.space.datum.frame import find_frame
from fitcheck.space.datum.place import place_ports
from fitcheck.units import Direction, Metre, Ratio, write

#: Fewer misplaced items, or a smaller share of all, are no evidence against the frame.
FEWEST_BAD = 2
LEAST_BAD: Ratio = 1 / 3
#: Another reading is named if it leaves at most this share of them.
LEFT: Ratio = 1 / 4
#: An item is clear if at least this share of its samples is in free cells.
CLEAR: Ratio = 0.9
#: Samples along each edge of a module, and their distances in front of a port [m].
ALONG = 5
AHEAD: tuple[Metre, ...] = (0.04, 0.06, 0.08)
#: Typing errors in a height: the sign, then units.
FACTORS: tuple[Ratio, ...] = (-1.0, 1000.0, 0.001, 10.0, 0.1, 100.0, 0.01)
HIGHEST: Metre = 20.0
_AXES: dict[str, Direction] = {
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """The boat with one key as it may have been meant; value : to write there, "" if not one."""

    key: str
    boat: Boat
    change: Said
    value: str = ""
    kind: str = ""


def on_frame(scenario: Scenario, space: Space) -> tuple[Finding, ...]:
    """The key of the boat frame that is probably wrong, if one reading explains what is misplaced.

    Nothing is reported if the scale itself fails, or if readings of several keys explain it.
    """
    if any(row.rule == "scale" and row.severity == "fail" for row in space.findings):
        return ()
    # The scale is not in question, whatever it was derived from.
    boat = replace(scenario.boat, unit=space.frame.scale, tape_measures=())
    now = _clear(scenario, space, boat, space.frame)
    bad = {name for name, clear in now.items() if not clear}
    if len(bad) < FEWEST_BAD or len(bad) < LEAST_BAD * len(now):
        return ()
    found: list[tuple[int, Reading]] = []
    for reading in _readings(boat, space.frame):
        try:
            frame = find_frame(reading.boat).frame
        except MeshError:
            continue
        clear = _clear(scenario, space, reading.boat, frame)
        found.append((sum(not one for one in clear.values()), reading))
    least = min((left for left, _ in found), default=len(bad))
    best = [reading for left, reading in found if left == least]
    if least > LEFT * len(bad) or len({reading.key for reading in best}) > 1:
        return ()
    return (_finding(scenario, best[0], bad, len(now), least),)


def _finding(
    scenario: Scenario, reading: Reading, bad: set[str], count: int, left: int
) -> Finding:
    file, key, value = scenario.boat_file, reading.key, reading.value
    changes = (Change(file=file, key=key, value=value, kind=reading.kind),) if value else ()
    clear = count - left
    return Finding(
        severity="fail",
        rule="frame-doubted",
        subject=key,
        said=say(
            "frame-doubted", names=sorted(bad), change=reading.change, clear=clear, count=count
        ),
        source="what was measured",
        remedy=Remedy(
            said=say(
                "frame-doubted.remedy",
                change=reading.change,
                now=count - len(bad),
                clear=clear,
                count=count,
            ),
            changes=changes,
        ),
        bars=("cut_joinery", "order_hoses"),
    )


# --- other readings ---------------------------------------------------------------------------


def _readings(boat: Boat, frame: Frame) -> Iterator[Reading]:
    forward, port, up = (np.array(row) for row in frame.turn)
    if boat.waterline:
        for order in list(permutations(range(3)))[1:]:
            marks = tuple((row[order[0]], row[order[1]], row[order[2]]) for row in boat.waterline)
            names = ", ".join("xyz"[axis] for axis in order)
            yield Reading(
                key="boat.waterline",
                boat=replace(boat, waterline=marks),
                change=say("frame-doubted.waterline", order=names),
            )
    ways = [-up] if boat.waterline or boat.level else [-up, forward, -forward, port, -port]
    for way in ways:
        yield _turned(boat, "boat.up", way)
    for way in (-forward, port, -port):
        yield _turned(boat, "boat.forward", way)
    if boat.up is not None:
        yield Reading(
            key="boat.up",
            boat=replace(boat, up=boat.forward, forward=boat.up),
            change=say("frame-doubted.swapped"),
        )
    if boat.centreline is not None and boat.centreline.offset:
        offset = boat.centreline.offset
        side = "port" if offset < 0.0 else "starboard"
        yield Reading(
            key="boat.centreline.side",
            boat=replace(boat, centreline=replace(boat.centreline, offset=-offset)),
            change=say("frame-doubted.side", side=side),
            value=side,
        )
    if boat.datum is not None and not boat.waterline:
        for factor in FACTORS:
            height = factor * boat.datum.above_sea
            if height and abs(height) < HIGHEST:
                yield Reading(
                    key="boat.datum.above_sea",
                    boat=replace(boat, datum=replace(boat.datum, above_sea=height)),
                    change=say("frame-doubted.height", height=quantity(height, "tape")),
                    value=write(height, "length", "m"),
                    kind="length",
                )


def _turned(boat: Boat, key: str, way: NDArray[np.float64]) -> Reading:
    """The boat with another up or forward, written as an axis of the mesh if it is one."""
    vector: Direction = (float(way[0]), float(way[1]), float(way[2]))
    turned = replace(boat, up=vector) if key == "boat.up" else replace(boat, forward=vector)
    name = next((name for name, axis in _AXES.items() if np.dot(axis, way) > 0.9999), "")
    if name:
        change = say("frame-doubted.axis", wrong=key, axis=name)
    elif key == "boat.up":
        change = say("frame-doubted.up")
    else:
        change = say("frame-doubted.forward")
    return Reading(key=key, boat=turned, change=change, value=name)


# --- what is clear ----------------------------------------------------------------------------


def _clear(scenario: Scenario, space: Space, boat: Boat, frame: Frame) -> dict[str, bool]:
    """Whether each module and each boat port with a direction in the boat frame is in the open.

    The cells are those of the frame of the space; only the items are placed anew.
    """
    here, there = space.frame, frame
    turn = np.array(here.turn) @ np.array(there.turn).T
    shift = np.array(here.shift) - turn @ np.array(there.shift)
    steps = np.linspace(-1.0, 1.0, ALONG)
    grid = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(-1, 3)
    found = {}
    for row in scenario.placed.modules:
        # Cells at its faces contain what it is fixed to.
        half = np.array(row.box.half)
        core = np.maximum(half - 1.5 * space.grid.pitch, 0.3 * half)
        points = row.box.world(grid * core)
        found[row.module.name] = _free(space, points @ turn.T + shift) >= CLEAR
    words = {port.name for port in boat.ports if port.bearing.frame == "boat"}
    for port in place_ports(there, boat):
        if port.name in words:
            points = np.array(port.at) + np.outer(AHEAD, port.direction)
            found[f"boat.{port.name}"] = _free(space, points @ turn.T + shift) >= CLEAR
    return found


def _free(space: Space, points: NDArray[np.float64]) -> Ratio:
    """Share of points in free cells."""
    index = space.grid.index(points)
    held = space.grid.holds(index)
    return float((space.label[tuple(index[held].T)] == FREE).sum()) / len(points)
