"""Meshes to draw: tubes of true diameter with their dashes, box edges, arrows, crosses."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from fitcheck.geometry.box import Box
from fitcheck.units import Direction, Metre, Point, Ratio

Array = NDArray[np.float64]

#: Whiteness of the gaps of a dashed tube.
GAP_WHITENESS = 0.80

#: Turns smaller than this are not corners [rad].
STRAIGHT = 2e-3

_QUADS = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
_EDGES = tuple((a, b) for a in range(8) for b in range(a + 1, 8) if (a ^ b) in (1, 2, 4))


def rgb(colour: str) -> NDArray[np.uint8]:
    """A colour "#RRGGBB" as three bytes."""
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], dtype=np.uint8)


def tube(path: Array, diameter: Metre, sides: int = 16) -> pv.PolyData:
    """A round tube of true diameter along a path (n, 3) [m], with its arc length per cell.

    Cells: (n - 1) * sides quadrilaterals, then two end caps; "arc" is the middle of each cell.
    """
    tangent, side, other = frames(path)
    turn = np.linspace(0.0, 2 * np.pi, sides, endpoint=False)
    spoke = (
        np.cos(turn)[None, :, None] * side[:, None] + np.sin(turn)[None, :, None] * other[:, None]
    )
    points = path[:, None] + diameter / 2 * spoke
    ring = np.arange(len(path) - 1)[:, None] * sides
    here, there = np.arange(sides), (np.arange(sides) + 1) % sides
    quads = np.stack([ring + here, ring + there, ring + sides + there, ring + sides + here], -1)
    caps = [np.arange(sides)[::-1], np.arange(sides) + (len(path) - 1) * sides]
    faces = np.concatenate(
        [np.insert(quads.reshape(-1, 4), 0, 4, axis=1).ravel(), *([sides, *cap] for cap in caps)]
    )
    mesh = pv.PolyData(points.reshape(-1, 3), faces)
    mesh.point_data["Normals"] = spoke.reshape(-1, 3)
    mesh.point_data.active_normals_name = "Normals"
    arc = arc_length(path)
    middle = np.repeat((arc[1:] + arc[:-1]) / 2, sides)
    mesh.cell_data["arc"] = np.concatenate([middle, [0.0, arc[-1]]])
    return mesh


def frames(path: Array) -> tuple[Array, Array, Array]:
    """Tangents of a path and two directions square to them, transported without twist."""
    step = np.diff(path, axis=0)
    step /= np.linalg.norm(step, axis=1)[:, None]
    tangent = np.vstack([step[:1], step[1:] + step[:-1], step[-1:]])
    tangent /= np.linalg.norm(tangent, axis=1)[:, None]
    side = np.zeros_like(tangent)
    side[0] = np.cross(tangent[0], np.eye(3)[np.argmin(np.abs(tangent[0]))])
    for i in range(1, len(path)):
        side[i] = side[i - 1] - (side[i - 1] @ tangent[i]) * tangent[i]
        side[i] /= np.linalg.norm(side[i])
    side[0] /= np.linalg.norm(side[0])
    return tangent, side, np.cross(tangent, side)


def arc_length(path: Array) -> Array:
    """Distance along a path to each of its points, (n,) [m]."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])


def drawn(arc: Array, dash: Sequence[Ratio], width: Metre) -> NDArray[np.bool_]:
    """Mask of the places along a line covered by its dashes; `dash` is (drawn, left out, ...) in
    widths.
    """
    if not dash:
        return np.ones(len(arc), dtype=bool)
    ends = np.cumsum(dash) * width
    place = np.searchsorted(ends, np.asarray(arc) % ends[-1], side="right")
    return place % 2 == 0


def dashed_tube(path: Array, diameter: Metre, colour: str, dash: Sequence[Ratio]) -> pv.PolyData:
    """A tube with its line style painted on it: cell colours "rgb", gaps nearly white."""
    mesh = tube(with_places(path, dash_ends(path, diameter, dash)), diameter)
    ink = rgb(colour)
    gap = (ink + (255.0 - ink) * GAP_WHITENESS).astype(np.uint8)
    shown = drawn(np.asarray(mesh.cell_data["arc"]), dash, diameter)
    mesh.cell_data["rgb"] = np.where(shown[:, None], ink, gap)
    return mesh


def dash_ends(path: Array, width: Metre, dash: Sequence[Ratio]) -> Array:
    """Distances along a path at which its dashes begin and end [m]."""
    length = arc_length(path)[-1]
    if not dash:
        return np.zeros(0)
    rounds = np.arange(math.ceil(length / (sum(dash) * width)))
    ends = (rounds[:, None] * sum(dash) + np.cumsum(dash)) * width
    return ends[ends < length]


def with_places(path: Array, places: Array) -> Array:
    """The path through its corners and the given distances along it, with straight
    runs thinned.
    """
    arc = arc_length(path)
    step = np.diff(path, axis=0) / np.diff(arc)[:, None]
    turns = np.linalg.norm(np.diff(step, axis=0), axis=1) > STRAIGHT
    kept = arc[np.concatenate([[True], turns, [True]])]
    wanted = np.union1d(kept, places)
    wanted = wanted[np.concatenate([[True], np.diff(wanted) > 1e-6])]
    return np.column_stack([np.interp(wanted, arc, path[:, axis]) for axis in range(3)])


def broken_line(start: Point, end: Point, diameter: Metre, dash: Metre = 0.03) -> pv.PolyData:
    """A straight row of short tubes with gaps of the same length between them."""
    run = np.subtract(end, start)
    length = float(np.linalg.norm(run))
    count = max(1, round(length / dash / 2))
    at = np.linspace(0.0, 1.0, 2 * count)
    ends = np.asarray(start) + at[:, None] * run
    return joined([tube(ends[i : i + 2], diameter) for i in range(0, 2 * count, 2)])


def solid_box(box: Box) -> pv.PolyData:
    """The six faces of a box, each with its own corners so that they shade flat."""
    corners = box.corners()
    points = np.concatenate([corners[list(quad)] for quad in _QUADS])
    return pv.PolyData(points, np.insert(np.arange(24).reshape(6, 4), 0, 4, axis=1).ravel())


def box_edges(box: Box) -> pv.PolyData:
    """The twelve edges of a box as lines."""
    lines = np.insert(np.array(_EDGES), 0, 2, axis=1).ravel()
    return pv.PolyData(box.corners(), lines=lines)


def thick_edges(box: Box, diameter: Metre) -> pv.PolyData:
    """The twelve edges of a box as rods, visible at any distance."""
    corners = box.corners()
    return joined([tube(corners[list(pair)], diameter, sides=8) for pair in _EDGES])


def arrow(at: Point, direction: Direction, radius: Metre) -> pv.PolyData:
    """A stub and a cone at a port, pointing out of it, wider than the hose on it."""
    ahead = np.asarray(direction)
    neck, tip = at + 1.2 * radius * ahead, at + 4.0 * radius * ahead
    cone = pv.Cone(
        center=(neck + tip) / 2,
        direction=direction,
        height=float(np.linalg.norm(tip - neck)),
        radius=radius,
        resolution=24,
    )
    stub = tube(np.array([at, neck]), 1.3 * radius, sides=24)
    return joined([stub, cone])


def cross(at: Point, size: Metre) -> pv.PolyData:
    """A three-armed cross of rods, visible as a cross from any direction."""
    arms = []
    for direction in ((1.0, 1.0, 1.0), (1.0, -1.0, -1.0), (-1.0, 1.0, -1.0), (-1.0, -1.0, 1.0)):
        reach = np.asarray(direction) / np.sqrt(3.0) * size / 2
        arms.append(tube(np.array([at - reach, at + reach]), size / 7, sides=10))
    return joined(arms)


def joined(meshes: Sequence[pv.PolyData]) -> pv.PolyData:
    """Several meshes as one."""
    return meshes[0] if len(meshes) == 1 else meshes[0].append_polydata(*meshes[1:])
