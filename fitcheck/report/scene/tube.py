"""Hoses as tubes with bands, for the scene."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.found.routes import Bend, Leg

Points = NDArray[np.float64]
_SIDES = 12
_STEP = math.radians(7.5)


@dataclass(frozen=True, eq=False)
class Tube:
    """Vertices and outward normals (n, 3), faces (m, 3), and which vertices are in a gap (n,)."""

    vertices: Points
    normals: Points
    faces: NDArray[np.int64]
    gap: NDArray[np.bool_]


def centre_line(legs: Sequence[Leg], bends: Sequence[Bend]) -> Points:
    """Corners of the curve's polygon, with arcs split at least every 7.5 degrees: (n, 3) [m]."""
    pieces = [np.asarray(legs[0].start)[None]]
    for leg, bend in zip(legs, [*bends, None], strict=True):
        pieces.append(np.asarray(leg.end)[None])
        if bend is not None:
            pieces.append(_arc(bend))
    return _without_repeats(np.concatenate(pieces))


def _arc(bend: Bend) -> Points:
    count = max(2, math.ceil(bend.angle / _STEP) + 1)
    angles = np.linspace(0.0, bend.angle, count)[1:, None]
    arm = np.subtract(bend.start, bend.centre)
    points: Points = (
        bend.centre + np.cos(angles) * arm + np.sin(angles) * np.cross(bend.normal, arm)
    )
    return points


def _without_repeats(points: Points) -> Points:
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return points[np.concatenate([[True], steps > 1e-6])]


def tube(
    points: Points, diameter: float, dash: Sequence[float] = (), *, drawn_only: bool = False
) -> Tube:
    """A tube around a polygon of two or more points.

    dash : alternating lengths drawn and left out [m], () to draw everything; the gaps are marked,
    or missing with `drawn_only`.
    """
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    frames = _frames(points)
    pieces = [
        _piece(points, along, frames, diameter / 2, start, end, gap)
        for start, end, gap in _bands(float(along[-1]), dash)
        if not (gap and drawn_only)
    ]
    counts = np.cumsum([0, *(len(piece.vertices) for piece in pieces)])
    return Tube(
        np.concatenate([piece.vertices for piece in pieces]),
        np.concatenate([piece.normals for piece in pieces]),
        np.concatenate([piece.faces + n for piece, n in zip(pieces, counts, strict=False)]),
        np.concatenate([piece.gap for piece in pieces]),
    )


def _bands(length: float, dash: Sequence[float]) -> list[tuple[float, float, bool]]:
    """Start, end and whether it is a gap, consecutively over the length."""
    if not dash:
        return [(0.0, length, False)]
    bands, start, index = [], 0.0, 0
    while start < length - 1e-9:
        end = min(start + dash[index % len(dash)], length)
        bands.append((start, end, index % 2 == 1))
        start, index = end, index + 1
    return bands


def _frames(points: Points) -> NDArray[np.float64]:
    """Two unit vectors square to the line at every point, transported without twist."""
    ways = np.diff(points, axis=0)
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    tangents = np.concatenate([ways[:1], ways[:-1] + ways[1:], ways[-1:]])
    tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
    side = np.cross(tangents[0], np.eye(3)[np.argmin(np.abs(tangents[0]))])
    frames = []
    for tangent in tangents:
        side = side - (side @ tangent) * tangent
        side = side / np.linalg.norm(side)
        frames.append((side, np.cross(tangent, side)))
    return np.array(frames)


def _piece(
    points: Points,
    along: Points,
    frames: NDArray[np.float64],
    radius: float,
    start: float,
    end: float,
    gap: bool,
) -> Tube:
    inner = along[(along > start + 1e-9) & (along < end - 1e-9)]
    stations = np.concatenate([[start], inner, [end]])
    centres = np.stack([np.interp(stations, along, points[:, k]) for k in range(3)], axis=1)
    sides = np.array(
        [[np.interp(stations, along, frames[:, j, k]) for k in range(3)] for j in range(2)]
    )
    angles = np.linspace(0.0, 2 * np.pi, _SIDES, endpoint=False)
    normals = np.einsum("a,ks->sak", np.cos(angles), sides[0])
    normals += np.einsum("a,ks->sak", np.sin(angles), sides[1])
    normals /= np.linalg.norm(normals, axis=2, keepdims=True)
    vertices = centres[:, None] + radius * normals
    count = len(stations) * _SIDES
    return Tube(
        vertices.reshape(-1, 3),
        normals.reshape(-1, 3),
        _rings(len(stations)),
        np.full(count, gap),
    )


def _rings(stations: int) -> NDArray[np.int64]:
    """Two triangles between adjacent vertices on every two rings, facing outward."""
    ring, side = np.meshgrid(np.arange(stations - 1), np.arange(_SIDES), indexing="ij")
    a = (ring * _SIDES + side).reshape(-1)
    b = (ring * _SIDES + (side + 1) % _SIDES).reshape(-1)
    c, d = a + _SIDES, b + _SIDES
    return np.concatenate([np.stack([a, b, d], axis=1), np.stack([a, d, c], axis=1)])
