"""Legs and bends: a polyline whose corners are circular arcs of one radius.

The corner points and the radius define the whole curve; radius and tangents hold by construction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitcheck.kernels import kernel
from fitcheck.units import Metre, Radian

#: A turn smaller than this is not a bend [rad].
STRAIGHT = 1e-8
#: Two bends in one plane with less than this between them are one bend [m].
TOUCHING = 1e-9
#: Rounding allowed where two tangent lengths meet exactly [m].
ROUNDING = 1e-12


@dataclass(frozen=True, eq=False, kw_only=True)
class Curve:
    """Alternating legs and bends: leg, bend, leg ... leg.

    legs : (n + 1, 2, 3) start and end of every straight piece [m]
    centre, normal, bend_start, bend_end : (n, 3)
    angle : (n,), in (0, pi), right-hand about normal
    """

    radius: Metre
    legs: NDArray[np.float64]
    centre: NDArray[np.float64]
    normal: NDArray[np.float64]
    angle: NDArray[np.float64]
    bend_start: NDArray[np.float64]
    bend_end: NDArray[np.float64]

    @cached_property
    def length(self) -> Metre:
        """Length of all legs and bends."""
        straight = np.linalg.norm(self.legs[:, 1] - self.legs[:, 0], axis=1).sum()
        return float(straight + self.radius * self.angle.sum())

    @property
    def start(self) -> NDArray[np.float64]:
        """First point, (3,) [m]."""
        return self.legs[0, 0]

    @property
    def end(self) -> NDArray[np.float64]:
        """Last point, (3,) [m]."""
        return self.legs[-1, 1]

    @cached_property
    def pieces(self) -> NDArray[np.float64]:
        """(m, 11) rows start, tangent, side, radius (0 on a leg), length, in order of travel.

        A leg too short to have a direction is left out.
        """
        rows = []
        for number, (first, last) in enumerate(self.legs):
            length = float(np.linalg.norm(last - first))
            if length > TOUCHING:
                rows.append([*first, *((last - first) / length), 0.0, 0.0, 0.0, 0.0, length])
            if number < len(self.angle):
                side = (self.centre[number] - self.bend_start[number]) / self.radius
                tangent = np.cross(side, self.normal[number])
                turn = self.radius * self.angle[number]
                rows.append([*self.bend_start[number], *tangent, *side, self.radius, turn])
        return np.array(rows, dtype=np.float64).reshape(-1, 11)

    def sample(self, spacing: Metre) -> NDArray[np.float64]:
        """(n, 3) points on the curve at most `spacing` apart along it, piece ends included [m]."""
        parts = [self.start[None]]
        for row in self.pieces:
            steps = max(1, math.ceil(row[10] / spacing - 1e-9))
            parts.append(on_piece(row, row[10] * np.arange(1, steps + 1) / steps))
        points = np.concatenate(parts)
        points[-1] = self.end
        return points

    def reversed(self) -> Curve:
        """The same curve in the other direction."""
        return Curve(
            radius=self.radius,
            legs=self.legs[::-1, ::-1].copy(),
            centre=self.centre[::-1].copy(),
            normal=-self.normal[::-1],
            angle=self.angle[::-1].copy(),
            bend_start=self.bend_end[::-1].copy(),
            bend_end=self.bend_start[::-1].copy(),
        )


def on_piece(row: NDArray[np.float64], s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points of one piece at distances s (n,) from its start, (n, 3) [m]."""
    start, tangent, side, radius = row[:3], row[3:6], row[6:9], row[9]
    if radius == 0.0:
        return start + np.outer(s, tangent)
    turn = s / radius
    along, aside = radius * np.sin(turn), radius * (1.0 - np.cos(turn))
    return start + np.outer(along, tangent) + np.outer(aside, side)


def bent(corners: NDArray[np.float64], radius: Metre) -> Curve:
    """The curve through corner points: first and last are its ends, the others are rounded.

    Parameters: corners (n, 3), n >= 2 [m]; radius of every bend [m]. Corners that do not turn are
    left out; two touching bends in one plane become one. Raises ValueError where tangent lengths
    overlap by more than rounding, or the polyline turns back on itself.
    """
    points = _turning(np.asarray(corners, dtype=np.float64))
    step = np.diff(points, axis=0)
    length = np.linalg.norm(step, axis=1)
    way = step / length[:, None]
    cross = np.cross(way[:-1], way[1:])
    angle = np.arctan2(np.linalg.norm(cross, axis=1), (way[:-1] * way[1:]).sum(axis=1))
    tangent = radius * np.tan(angle / 2)
    rest = length - np.concatenate(([0.0], tangent)) - np.concatenate((tangent, [0.0]))
    if (rest < -ROUNDING).any():
        raise ValueError(f"bends overlap by {-rest.min():.3g} m")
    normal = cross / np.linalg.norm(cross, axis=1)[:, None]
    first = points[1:-1] - tangent[:, None] * way[:-1]
    last = points[1:-1] + tangent[:, None] * way[1:]
    centre = first + radius * np.cross(normal, way[:-1])
    legs = np.stack(
        [np.concatenate((points[:1], last)), np.concatenate((first, points[-1:]))], axis=1
    )
    touching = rest[1:-1] < TOUCHING
    curve = (legs, centre, normal, angle, first, last)
    return _merged(radius, curve, touching)


def _turning(points: NDArray[np.float64]) -> NDArray[np.float64]:
    keep = [points[0]]
    for number in range(1, len(points) - 1):
        before, after = points[number] - keep[-1], points[number + 1] - points[number]
        if np.linalg.norm(after) < TOUCHING or np.linalg.norm(before) < TOUCHING:
            continue
        turn = math.atan2(float(np.linalg.norm(np.cross(before, after))), float(before @ after))
        if turn > math.pi - 1e-6:
            raise ValueError("the polyline turns back on itself")
        if turn > STRAIGHT:
            keep.append(points[number])
    return np.array([*keep, points[-1]])


def _merged(
    radius: Metre, curve: tuple[NDArray[np.float64], ...], touching: NDArray[np.bool_]
) -> Curve:
    """Merge touching bends in one plane into one bend."""
    legs, centre, normal, angle, first, last = curve
    groups: list[list[int]] = []
    for number in range(len(angle)):
        one_plane = bool(groups) and float(normal[number] @ normal[groups[-1][-1]]) > 1 - 1e-12
        if groups and touching[number - 1] and one_plane:
            groups[-1].append(number)
        else:
            groups.append([number])
    heads = [group[0] for group in groups]
    tails = [group[-1] for group in groups]
    return Curve(
        radius=radius,
        legs=np.stack([legs[[0] + [t + 1 for t in tails], 0], legs[[*heads, -1], 1]], axis=1),
        centre=centre[heads],
        normal=normal[heads],
        angle=np.array([angle[group].sum() for group in groups]),
        bend_start=first[heads],
        bend_end=last[tails],
    )


def turn_between(first: NDArray[np.float64], second: NDArray[np.float64]) -> Radian:
    """Angle between two directions, exact near 0 and pi."""
    return math.atan2(float(np.linalg.norm(np.cross(first, second))), float(first @ second))


@kernel
def measure(points, count, radius, least, turns):  # type: ignore[no-untyped-def]
    """Length of the rounded polyline of the first `count` points, and its misfit.

    `least` is the shortest leg allowed between bends; writes the tangent length of each corner
    into `turns`. Returns (length, misfit): misfit is the total shortfall of the legs [m].
    """
    total = 0.0
    misfit = 0.0
    turns[0] = 0.0
    ux = uy = uz = 0.0
    previous = 0.0
    for i in range(count - 1):
        vx = points[i + 1, 0] - points[i, 0]
        vy = points[i + 1, 1] - points[i, 1]
        vz = points[i + 1, 2] - points[i, 2]
        size = math.sqrt(vx * vx + vy * vy + vz * vz)
        if size < 1e-9:
            misfit += 1.0
            turns[i] = 0.0
            continue
        vx, vy, vz = vx / size, vy / size, vz / size
        if i > 0:
            cx, cy, cz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
            sine = math.sqrt(cx * cx + cy * cy + cz * cz)
            angle = math.atan2(sine, ux * vx + uy * vy + uz * vz)
            if angle > 2.2:
                misfit += (angle - 2.2) * radius
                angle = 2.2
            tangent = radius * math.tan(0.5 * angle)
            turns[i] = tangent
            total += radius * angle - 2.0 * tangent
            rest = previous - tangent
            floor = least if i > 1 else 0.0
            if rest < floor:
                misfit += floor - rest
            previous = size - tangent
        else:
            previous = size
        total += size
        ux, uy, uz = vx, vy, vz
    turns[count - 1] = 0.0
    if previous < 0.0:
        misfit -= previous
    return total, misfit
