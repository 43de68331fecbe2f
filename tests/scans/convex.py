"""Closed bodies as convex pieces: exact rays and inside tests, independent of the program."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Convex:
    """A convex body: normal . p <= offset for every face; triangles face outward."""

    name: str
    planes: Floats  # (m, 4) outward unit normal and offset
    triangles: Floats  # (n, 3, 3)


def convex(name: str, points: Floats | Sequence[Sequence[float]]) -> Convex:
    """The convex hull of points."""
    rows = np.asarray(points, dtype=np.float64)
    hull = ConvexHull(rows)
    corners = rows[hull.simplices]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    wrong = (normals * hull.equations[:, :3]).sum(axis=1) < 0.0
    corners[wrong] = corners[wrong][:, ::-1]
    planes = np.unique(np.round(hull.equations, 9), axis=0)
    planes[:, 3] = -planes[:, 3]
    return Convex(name, np.ascontiguousarray(planes), np.ascontiguousarray(corners))


def block(name: str, low: Sequence[float], high: Sequence[float]) -> Convex:
    """An upright box."""
    ends = np.array([low, high], dtype=np.float64)
    return convex(name, [[ends[i, 0], ends[j, 1], ends[k, 2]] for i, j, k in np.ndindex(2, 2, 2)])


def pipe(name: str, start: Sequence[float], end: Sequence[float], radius: float) -> Convex:
    """A straight pipe of twelve sides that lies inside the round one."""
    a, b = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    along = (b - a) / np.linalg.norm(b - a)
    side = np.cross(along, np.eye(3)[int(np.abs(along).argmin())])
    side /= np.linalg.norm(side)
    turn = (np.arange(12) + 0.5) * np.pi / 6.0
    ring = radius * (np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * np.cross(along, side))
    return convex(name, np.concatenate([a + ring, b + ring]))


@dataclass(frozen=True, eq=False)
class World:
    """One convex cavity with convex solids in it; a solid ends where it leaves the cavity."""

    cavity: Convex
    solids: tuple[Convex, ...]
    planes: Floats
    first: NDArray[np.int64]
    ball: Floats  # (n, 4) centre and radius around every solid

    def cast(self, origin: Floats, ways: Floats) -> tuple[Floats, NDArray[np.int64], Floats]:
        """First surface along (n, 3) unit ways from (n, 3) origins inside the cavity.

        Returns range (n,), index of the solid (-1 the cavity's wall) and the surface's normal
        towards the viewer (n, 3). An origin in a solid has range 0.
        """
        count = len(ways)
        reach, which = np.empty(count), np.empty(count, np.int64)
        normal = np.empty((count, 3))
        _cast(
            np.ascontiguousarray(np.broadcast_to(origin, ways.shape)),
            np.ascontiguousarray(ways),
            self.planes,
            self.first,
            self.ball,
            reach,
            which,
            normal,
        )
        return reach, which, normal

    def depth(self, points: Floats) -> tuple[Floats, Floats, NDArray[np.int64]]:
        """(n, 3) points -> how far in the solids, how far out of the cavity, deepest solid.

        Each is positive inside what it names and, where positive, never above the true depth.
        """
        rows = np.ascontiguousarray(points, dtype=np.float64)
        solid, beyond = np.empty(len(rows)), np.empty(len(rows))
        which = np.empty(len(rows), np.int64)
        _depth(rows, self.planes, self.first, solid, beyond, which)
        return solid, beyond, which


def world(cavity: Convex, solids: Sequence[Convex]) -> World:
    """A cavity and its solids, ready for rays."""
    parts = [cavity, *solids]
    counts = [len(part.planes) for part in parts]
    balls = []
    for part in solids:
        points = part.triangles.reshape(-1, 3)
        middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
        balls.append([*middle, np.linalg.norm(points - middle, axis=1).max() + 1e-9])
    return World(
        cavity=cavity,
        solids=tuple(solids),
        planes=np.ascontiguousarray(np.concatenate([part.planes for part in parts])),
        first=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        ball=np.array(balls, dtype=np.float64).reshape(-1, 4),
    )


@njit(cache=True, nogil=True)
def _cast(origin, ways, planes, first, ball, reach, which, normal):  # type: ignore[no-untyped-def]
    for row in range(ways.shape[0]):
        ox, oy, oz = origin[row, 0], origin[row, 1], origin[row, 2]
        dx, dy, dz = ways[row, 0], ways[row, 1], ways[row, 2]
        best, face, body = np.inf, 0, -1
        for p in range(first[0], first[1]):
            slope = planes[p, 0] * dx + planes[p, 1] * dy + planes[p, 2] * dz
            if slope > 1e-12:
                gap = planes[p, 3] - planes[p, 0] * ox - planes[p, 1] * oy - planes[p, 2] * oz
                if gap / slope < best:
                    best, face = gap / slope, p
        for s in range(ball.shape[0]):
            cx, cy, cz = ball[s, 0] - ox, ball[s, 1] - oy, ball[s, 2] - oz
            along = cx * dx + cy * dy + cz * dz
            if cx * cx + cy * cy + cz * cz - along * along > ball[s, 3] ** 2:
                continue
            enter, leave, at = -np.inf, np.inf, -1
            for p in range(first[s + 1], first[s + 2]):
                slope = planes[p, 0] * dx + planes[p, 1] * dy + planes[p, 2] * dz
                gap = planes[p, 3] - planes[p, 0] * ox - planes[p, 1] * oy - planes[p, 2] * oz
                if slope > 1e-12:
                    leave = min(leave, gap / slope)
                elif slope < -1e-12:
                    if gap / slope > enter:
                        enter, at = gap / slope, p
                elif gap < 0.0:
                    leave = -np.inf
                if enter > leave or leave < 0.0 or enter >= best:
                    leave = -np.inf
                    break
            if leave < 0.0 or enter > leave or enter >= best:
                continue
            best, face, body = max(enter, 0.0), at, s
        reach[row], which[row] = best, body
        sign = -1.0 if body < 0 else 1.0
        for axis in range(3):
            normal[row, axis] = sign * planes[max(face, 0), axis]


@njit(cache=True, nogil=True)
def _depth(points, planes, first, solid, beyond, which):  # type: ignore[no-untyped-def]
    for row in range(points.shape[0]):
        x, y, z = points[row, 0], points[row, 1], points[row, 2]
        out = -np.inf
        for p in range(first[0], first[1]):
            out = max(out, planes[p, 0] * x + planes[p, 1] * y + planes[p, 2] * z - planes[p, 3])
        beyond[row] = out
        best, body = -np.inf, -1
        for s in range(first.shape[0] - 2):
            inside = np.inf
            for p in range(first[s + 1], first[s + 2]):
                gap = planes[p, 3] - planes[p, 0] * x - planes[p, 1] * y - planes[p, 2] * z
                inside = min(inside, gap)
                if inside <= best:
                    break
            if inside > best:
                best, body = inside, s
        solid[row], which[row] = best, body
