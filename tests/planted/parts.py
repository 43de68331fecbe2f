"""Parts of a bay, as triangles (n, 3, 3) [m]: sheets, plates with holes, posts, hull."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from fitcheck.geometry.box import Box, as_axes, as_point, rotation, surface
from fitcheck.geometry.distance import point_triangle2
from tests.planted.curve import Points

NONE = np.zeros((0, 3, 3))


@njit(cache=True)
def gaps(points, shift, corner):  # type: ignore[no-untyped-def]
    """Distance of every point to the nearest triangle, the triangles moved by shift (3,)."""
    out = np.empty(points.shape[0])
    for n in range(points.shape[0]):
        x, y, z = points[n, 0] - shift[0], points[n, 1] - shift[1], points[n, 2] - shift[2]
        best = 1e9
        for t in range(corner.shape[0]):
            best = min(best, point_triangle2(x, y, z, corner, t))
        out[n] = math.sqrt(best)
    return out


@njit(cache=True)
def gaps_far(points, corner, far):  # type: ignore[no-untyped-def]
    """Distance of every point to the nearest triangle, at most far; whole triangles skipped."""
    ball = np.empty((corner.shape[0], 4))
    for t in range(corner.shape[0]):
        for a in range(3):
            low = min(corner[t, 0, a], corner[t, 1, a], corner[t, 2, a])
            high = max(corner[t, 0, a], corner[t, 1, a], corner[t, 2, a])
            ball[t, a] = 0.5 * (low + high)
        size = 0.0
        for c in range(3):
            dx = corner[t, c, 0] - ball[t, 0]
            dy = corner[t, c, 1] - ball[t, 1]
            dz = corner[t, c, 2] - ball[t, 2]
            size = max(size, dx * dx + dy * dy + dz * dz)
        ball[t, 3] = math.sqrt(size) + 1e-9
    out = np.empty(points.shape[0])
    for n in range(points.shape[0]):
        x, y, z = points[n, 0], points[n, 1], points[n, 2]
        best = far
        for t in range(corner.shape[0]):
            dx, dy, dz = x - ball[t, 0], y - ball[t, 1], z - ball[t, 2]
            reach = best + ball[t, 3]
            if dx * dx + dy * dy + dz * dz < reach * reach:
                best = min(best, math.sqrt(point_triangle2(x, y, z, corner, t)))
        out[n] = best
    return out


def turned_box(centre: Points, size: Points, angles: Points) -> Box:
    """A box by centre, edges and roll, pitch, yaw."""
    roll, pitch, yaw = (float(angle) for angle in angles)
    axes = rotation((roll, pitch, yaw)).T
    return Box(centre=as_point(centre), half=as_point(np.asarray(size) / 2), axes=as_axes(axes))


def quad(a: Points, b: Points, c: Points, d: Points) -> Points:
    """A flat or twisted four-sided sheet, corners in order."""
    return np.array([(a, b, c), (a, c, d)], dtype=np.float64)


def sheet(box: Box) -> Points:
    """The thin middle sheet of a box, square to its third axis."""
    x, y = box.half[0], box.half[1]
    corners = box.world(np.array([(-x, -y, 0), (x, -y, 0), (x, y, 0), (-x, y, 0)], dtype=float))
    return quad(*corners)


def post(box: Box, sides: int = 16) -> Points:
    """A round post along the third axis of a box, closed at both ends, as wide as the box."""
    angles = 2 * math.pi * np.arange(sides) / sides
    ring = box.half[0] * np.stack([np.cos(angles), np.sin(angles), 0 * angles], axis=1)
    up = np.array([0.0, 0.0, box.half[2]])
    low, high = box.world(ring - up), box.world(ring + up)
    after_low, after_high = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
    foot, head = (np.broadcast_to(box.world(end), low.shape) for end in (-up, up))
    rings = [(low, after_low, after_high), (low, after_high, high)]
    caps = [(foot, after_low, low), (head, high, after_high)]
    return np.concatenate([np.stack(part, axis=1) for part in rings + caps])


def locker(box: Box) -> Points:
    """A locker of thin sheets: a box without its lid."""
    faces = surface(box)
    outward = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    return np.asarray(faces[outward @ np.array(box.axes[2]) < 1e-9 * np.abs(outward).max()])


def solid(box: Box) -> Points:
    """The surface of a box."""
    return surface(box)


def hull_side(low: Points, high: Points, depth: float, bilge: float) -> Points:
    """A curved hull on the side of low y, narrower by `depth` at the bow and `bilge` below."""
    xs, zs = np.linspace(low[0], high[0], 17), np.linspace(low[2], high[2], 11)
    along = (xs - low[0]) / (high[0] - low[0])
    below = 1.0 - (zs - low[2]) / (high[2] - low[2])
    y = low[1] + depth * along[:, None] ** 2 + bilge * below[None] ** 2.5
    grid = np.stack([*np.broadcast_arrays(xs[:, None], y, zs[None])], axis=-1)
    a, b, c, d = grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]
    return np.concatenate([np.stack(t, axis=2).reshape(-1, 3, 3) for t in ((a, b, c), (a, c, d))])


def ribs(hull: Points, every: int, deep: float) -> list[Points]:
    """Frames on a hull from hull_side: webs of sheet at every so many of its stations."""
    rows = hull[: len(hull) // 2, 0].reshape(16, 10, 3)
    inward = np.array([0.0, deep, 0.0])
    return [
        quad(rows[i, j], rows[i, j + 1], rows[i, j + 1] + inward, rows[i, j] + inward)
        for i in range(1, 16, every)
        for j in range(9)
    ]


# --- plates with holes ------------------------------------------------------------------------


def outline(crossings: NDArray[np.float64], radius: float, corners: int = 24) -> Points:
    """Convex outline (k, 2) around discs of a radius about points (n, 2) of a plane."""
    angles = 2 * math.pi * np.arange(corners) / corners
    ring = radius / math.cos(math.pi / corners) * np.stack([np.cos(angles), np.sin(angles)], 1)
    points = (crossings[:, None] + ring[None]).reshape(-1, 2)
    return np.asarray(points[ConvexHull(points).vertices])


def plate(axis: int, at: float, low: Points, high: Points, holes: list[Points]) -> Points | None:
    """A thin sheet square to an axis with convex holes; None where holes overlap.

    low, high : (2,) its corners in the other two axes; holes : outlines (k, 2) inside them
    """
    flat = _pierced(np.asarray(low), np.asarray(high), holes)
    if flat is None:
        return None
    others = [a for a in range(3) if a != axis]
    triangles = np.full((len(flat), 3, 3), at)
    triangles[:, :, others] = flat
    return triangles


def _pierced(low: Points, high: Points, holes: list[Points]) -> Points | None:
    if (high - low < 1e-6).any():
        return None
    if not holes:
        a, b = np.array([high[0], low[1]]), np.array([low[0], high[1]])
        return np.array([(low, a, high), (low, high, b)])
    if any((hole.min(axis=0) < low + 1e-4).any() for hole in holes):
        return None
    if any((hole.max(axis=0) > high - 1e-4).any() for hole in holes):
        return None
    if len(holes) == 1:
        return _ring(low, high, holes[0])
    for axis in range(2):
        order = sorted(holes, key=lambda hole: float(hole[:, axis].min()))
        for n in range(1, len(order)):
            before = max(float(hole[:, axis].max()) for hole in order[:n])
            after = float(order[n][:, axis].min())
            if after - before > 2e-3:
                cut_high, cut_low = high.copy(), low.copy()
                cut_high[axis] = cut_low[axis] = (before + after) / 2
                parts = (
                    _pierced(low, cut_high, order[:n]),
                    _pierced(cut_low, high, order[n:]),
                )
                whole = [part for part in parts if part is not None]
                if len(whole) == 2:
                    return np.concatenate(whole)
    return None


def _ring(low: Points, high: Points, hole: Points) -> Points:
    """The rectangle around one convex hole, cut along rays from the hole's middle."""
    middle = hole.mean(axis=0)
    frame = np.array([(x, y) for x in (low[0], high[0]) for y in (low[1], high[1])])
    points = np.concatenate([hole, frame]) - middle
    angles = np.unique(np.arctan2(points[:, 1], points[:, 0]))
    ways = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    with np.errstate(divide="ignore"):
        reach = np.where(ways > 0, (high - middle) / ways, (low - middle) / ways)
    outer = middle + ways * np.where(np.abs(ways) > 1e-12, reach, np.inf).min(axis=1)[:, None]
    inner = middle + ways * _to_outline(ways, hole - middle)[:, None]
    after, beyond = np.roll(inner, -1, axis=0), np.roll(outer, -1, axis=0)
    first = np.stack([inner, outer, beyond], axis=1)
    return np.concatenate([first, np.stack([inner, beyond, after], axis=1)])


def _to_outline(ways: Points, hole: Points) -> Points:
    """Distance from the origin inside a convex outline to it in each direction."""
    p, q = hole, np.roll(hole, -1, axis=0)
    edge = q - p
    normal = np.stack([edge[:, 1], -edge[:, 0]], axis=1)
    off = (normal * p).sum(axis=1)
    normal, off = normal * np.sign(off)[:, None], np.abs(off)
    along = ways @ normal.T
    return np.asarray(np.where(along > 1e-12, off / np.maximum(along, 1e-12), np.inf).min(axis=1))
