"""A box with any orientation in the boat frame."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.units import Direction, Metre, Point, Radian, Ratio

#: Face name -> (axis, sign) in the box's own axes: x length, y width, z height.
FACES: dict[str, tuple[int, int]] = {
    "front": (0, 1),
    "back": (0, -1),
    "left": (1, 1),
    "right": (1, -1),
    "top": (2, 1),
    "base": (2, -1),
}


def rotation(rotate: tuple[Radian, Radian, Radian]) -> NDArray[np.float64]:
    """Matrix for roll, pitch, yaw about the fixed axes x, then y, then z: Rz @ Ry @ Rx.

    Parameters: rotate, three angles [rad]. Returns (3, 3), columns are the rotated axes.
    """
    (cr, cp, cy) = (math.cos(angle) for angle in rotate)
    (sr, sp, sy) = (math.sin(angle) for angle in rotate)
    roll = np.array([[1, 0, 0], [0, cr, -sr], [0, sr, cr]])
    pitch = np.array([[cp, 0, sp], [0, 1, 0], [-sp, 0, cp]])
    yaw = np.array([[cy, -sy, 0], [sy, cy, 0], [0, 0, 1]])
    return yaw @ pitch @ roll


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box by its centre, half sizes and the directions of its own axes (rows of `axes`)."""

    centre: Point
    half: Point
    axes: tuple[tuple[Ratio, Ratio, Ratio], tuple[Ratio, Ratio, Ratio], tuple[Ratio, Ratio, Ratio]]

    def local(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 3) boat-frame points [m] -> the box's own axes, origin at its centre [m]."""
        return (np.asarray(points) - np.asarray(self.centre)) @ np.asarray(self.axes).T

    def world(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 3) points in the box's own axes [m] -> boat frame [m]."""
        return np.asarray(self.centre) + np.asarray(points) @ np.asarray(self.axes)

    def corners(self) -> NDArray[np.float64]:
        """(8, 3) corners in the boat frame [m], the last axis changing fastest."""
        signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
        return self.world(signs * np.asarray(self.half))

    def distance(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Signed distance of (..., 3) points to the surface, negative inside [m]."""
        excess = np.abs(self.local(points)) - np.asarray(self.half)
        outside = np.linalg.norm(np.maximum(excess, 0.0), axis=-1)
        inside: NDArray[np.float64] = np.minimum(excess.max(axis=-1), 0.0)
        result: NDArray[np.float64] = outside + inside
        return result


def placed_box(size: Point, at: Point, rotate: tuple[Radian, Radian, Radian]) -> Box:
    """Box of `size` (length, width, height) with its base centre at `at`, rotated by `rotate`."""
    turn = rotation(rotate)
    centre = np.asarray(at) + turn @ np.array([0.0, 0.0, size[2] / 2])
    return Box(centre=as_point(centre), half=as_point(np.asarray(size) / 2), axes=as_axes(turn.T))


def grown(box: Box, face: str, depth: float) -> Box:
    """The block of `depth` on one face of the box (a service clearance) [m]."""
    axis, sign = FACES[face]
    half = list(box.half)
    offset = np.zeros(3)
    offset[axis] = sign * (half[axis] + depth / 2)
    half[axis] = depth / 2
    return Box(centre=as_point(box.world(offset)), half=as_point(np.array(half)), axes=box.axes)


def opposite(face: str) -> str:
    """The face on the other side of the box."""
    axis, sign = FACES[face]
    return next(name for name, where in FACES.items() if where == (axis, -sign))


def outward(box: Box, face: str) -> Direction:
    """Unit vector pointing out of a face, boat frame."""
    axis, sign = FACES[face]
    return as_point(sign * np.asarray(box.axes)[axis])


def drawn_in(box: Box, depths: dict[str, Metre]) -> Box:
    """The box with each named face moved inward by its depth (outward if negative) [m].

    A side never becomes negative: half a millimetre of it is left.
    """
    low, high = -np.asarray(box.half), np.asarray(box.half)
    for face, depth in depths.items():
        axis, sign = FACES[face]
        if sign > 0:
            high[axis] -= depth
        else:
            low[axis] += depth
    middle, half = (low + high) / 2, np.maximum((high - low) / 2, 0.00025)
    return Box(centre=as_point(box.world(middle)), half=as_point(half), axes=box.axes)


def surface(box: Box) -> NDArray[np.float64]:
    """(12, 3, 3) triangles of the box's surface in the boat frame [m], two per face."""
    quads = np.array(_QUADS)
    corners = box.corners()
    return np.concatenate([corners[quads[:, [0, 1, 2]]], corners[quads[:, [0, 2, 3]]]])


#: Corners around each face, numbered as in Box.corners, seen from outside.
_QUADS = ((4, 6, 7, 5), (0, 1, 3, 2), (2, 3, 7, 6), (0, 4, 5, 1), (1, 5, 7, 3), (0, 2, 6, 4))


def as_point(values: NDArray[np.float64]) -> Point:
    """A (3,) array as a plain tuple."""
    x, y, z = (float(v) for v in values)
    return (x, y, z)


def as_axes(
    rows: NDArray[np.float64],
) -> tuple[tuple[Ratio, Ratio, Ratio], tuple[Ratio, Ratio, Ratio], tuple[Ratio, Ratio, Ratio]]:
    """A (3, 3) array of row axes as plain tuples."""
    return (as_point(rows[0]), as_point(rows[1]), as_point(rows[2]))
