"""Convert everything picked on the mesh to the boat frame."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box, as_axes, as_point
from fitcheck.model.found.space import Frame, PlacedHole, PlacedPort, PlacedVolume
from fitcheck.model.given.boat import Bearing, Boat, Lid, Spot, Volume
from fitcheck.space.datum.frame import to_boat
from fitcheck.units import Direction, Picked, Point


def place(frame: Frame, picked: Picked) -> Point:
    """A picked point in the boat frame [m]."""
    return as_point(to_boat(frame, np.array(picked)))


def spot(frame: Frame, one: Spot) -> Point:
    """A picked point, or a place of the boat frame, in the boat frame [m]."""
    return place(frame, one.at) if one.frame == "mesh" else one.at


def place_ports(frame: Frame, boat: Boat) -> tuple[PlacedPort, ...]:
    """The boat's fixed connections in the boat frame."""
    return tuple(
        PlacedPort(
            name=port.name,
            role=port.role,
            at=place(frame, port.at),
            direction=_direction(frame, port.bearing),
            connection=port.connection,
            thread=port.thread,
        )
        for port in boat.ports
    )


def place_holes(frame: Frame, boat: Boat) -> tuple[PlacedHole, ...]:
    """The bulkhead holes in the boat frame."""
    return tuple(
        PlacedHole(
            name=hole.name,
            centre=place(frame, hole.centre),
            direction=_direction(frame, hole.bearing),
            diameter=hole.diameter,
        )
        for hole in boat.holes
    )


def place_volumes(frame: Frame, volumes: Sequence[Volume]) -> tuple[PlacedVolume, ...]:
    """Boxes along the boat's axes that just enclose the picked corners."""
    return tuple(
        PlacedVolume(
            name=volume.name,
            box=upright(frame, volume.corners),
            why=volume.why,
            distance=volume.distance,
        )
        for volume in volumes
    )


def upright(frame: Frame, corners: Sequence[Picked]) -> Box:
    """The box along the boat's axes that just encloses the picked corners."""
    points = to_boat(frame, np.array(corners))
    low, high = points.min(axis=0), points.max(axis=0)
    return Box(
        centre=as_point((low + high) / 2), half=as_point((high - low) / 2), axes=as_axes(np.eye(3))
    )


def lid_triangles(frame: Frame, lids: Sequence[Lid], inside: Point) -> NDArray[np.float64]:
    """Triangles of the lids, (n, 3, 3) [m], turned to face the inside point."""
    parts = [np.empty((0, 3, 3))]
    for lid in lids:
        ring = to_boat(frame, np.array(lid.corners))
        middle = ring.mean(axis=0)
        after = np.roll(ring, -1, axis=0)
        fan = np.stack([ring, after, np.broadcast_to(middle, ring.shape)], axis=1)
        normal = np.cross(fan[:, 1] - fan[:, 0], fan[:, 2] - fan[:, 0]).sum(axis=0)
        away = float(normal @ (np.array(inside) - middle)) < 0.0
        parts.append(fan[:, ::-1] if away else fan)
    return np.concatenate(parts)


def _direction(frame: Frame, bearing: Bearing) -> Direction:
    vector = np.array(bearing.vector, dtype=np.float64)
    if bearing.frame == "mesh":
        vector = np.array(frame.turn) @ vector
    return as_point(vector / np.linalg.norm(vector))
