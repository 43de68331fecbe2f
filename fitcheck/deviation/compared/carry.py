"""Transfer the boat's file to another mesh, so that the same layout can be checked in it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fitcheck.geometry.box import as_point
from fitcheck.model.found.deviation import Other, Registration
from fitcheck.model.found.space import Frame
from fitcheck.model.given.boat import (
    Bearing,
    Board,
    BoatPort,
    Centreline,
    Datum,
    Hole,
    Lid,
    TapeMeasure,
    Volume,
)
from fitcheck.model.given.scenario import Scenario
from fitcheck.units import Direction, Picked


def carried(
    scenario: Scenario, frame: Frame, other: Other, registration: Registration
) -> Scenario:
    """The scenario with the other mesh, every picked point transferred to it; same boat frame."""
    over = _Over(frame, registration)
    boat = scenario.boat
    eyes = other.viewpoints or tuple(over.point(eye) for eye in boat.viewpoints)
    moved = replace(
        boat,
        name=other.name,
        mesh=other.mesh,
        origin=other.origin,
        unit=registration.similarity.scale,
        tape_measures=tuple(over.tape(tape) for tape in boat.tape_measures),
        scan_accuracy=other.accuracy,
        up=None if boat.up is None else over.way(boat.up),
        forward=over.way(boat.forward),
        waterline=tuple(over.point(point) for point in boat.waterline),
        datum=over.datum(boat.datum),
        centreline=over.centreline(boat.centreline),
        flotation=None if boat.flotation is None else over.point(boat.flotation),
        inside=over.point(boat.inside),
        viewpoints=eyes,
        crop=tuple(over.point(point) for point in boat.crop),
        lids=tuple(over.lid(lid) for lid in boat.lids),
        keep_outs=tuple(over.volume(volume) for volume in boat.keep_outs),
        solids=tuple(over.volume(volume) for volume in boat.solids),
        boards=tuple(over.board(board) for board in boat.boards),
        # What was measured or touched in the boat here says nothing of the other.
        rays="",
        stations="",
        checked=(),
        declared_free=tuple(over.volume(volume) for volume in boat.declared_free),
        ports=tuple(over.port(port) for port in boat.ports),
        holes=tuple(over.hole(hole) for hole in boat.holes),
        hatch=None if boat.hatch is None else over.lid(boat.hatch),
        level=tuple(over.point(point) for point in boat.level),
    )
    return replace(scenario, boat=moved, boat_file=other.file)


class _Over:
    """Converts what was picked on the mesh here to the axes and unit of the other."""

    def __init__(self, frame: Frame, registration: Registration) -> None:
        self._scale, self._shift = frame.scale, np.array(frame.shift)
        self._turn = np.array(frame.turn)
        self._other = registration.similarity

    def point(self, picked: Picked) -> Picked:
        """A picked point."""
        boat = self._scale * self._turn @ np.array(picked) + self._shift
        return as_point(self._other.back(boat))

    def line(self, ends: tuple[Picked, Picked] | None) -> tuple[Picked, Picked] | None:
        """Two ends."""
        return None if ends is None else (self.point(ends[0]), self.point(ends[1]))

    def way(self, way: Direction) -> Direction:
        """A direction in the mesh's axes."""
        boat = self._turn @ np.array(way)
        found = np.array(self._other.turn).T @ boat
        return as_point(found / np.linalg.norm(found))

    def bearing(self, bearing: Bearing) -> Bearing:
        """A direction in the boat's or the mesh's axes."""
        if bearing.frame == "boat":
            return bearing
        return replace(bearing, vector=self.way(bearing.vector))

    def tape(self, tape: TapeMeasure) -> TapeMeasure:
        """A tape measurement between the same places."""
        return replace(tape, start=self.point(tape.start), end=self.point(tape.end))

    def datum(self, datum: Datum | None) -> Datum | None:
        """The point of known height."""
        return None if datum is None else replace(datum, point=self.point(datum.point))

    def centreline(self, line: Centreline | None) -> Centreline | None:
        """The point of known distance from the centreline."""
        return None if line is None else replace(line, point=self.point(line.point))

    def lid(self, lid: Lid) -> Lid:
        """A ring of corners."""
        return replace(lid, corners=tuple(self.point(corner) for corner in lid.corners))

    def volume(self, volume: Volume) -> Volume:
        """A box along the boat's axes, which are unchanged."""
        return replace(volume, corners=tuple(self.point(corner) for corner in volume.corners))

    def board(self, board: Board) -> Board:
        """A board; places in the boat frame are unchanged."""
        return replace(
            board,
            corners=tuple(
                replace(corner, at=self.point(corner.at)) if corner.frame == "mesh" else corner
                for corner in board.corners
            ),
            grows=None if board.grows is None else self.bearing(board.grows),
        )

    def port(self, port: BoatPort) -> BoatPort:
        """A fixed connection."""
        return replace(port, at=self.point(port.at), bearing=self.bearing(port.bearing))

    def hole(self, hole: Hole) -> Hole:
        """A hole in a bulkhead."""
        return replace(hole, centre=self.point(hole.centre), bearing=self.bearing(hole.bearing))
