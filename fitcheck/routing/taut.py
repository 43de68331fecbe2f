"""A taut way through a region, found by going down a potential and pulling the string.

It proves nothing; it only says where gates are worth setting up.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.routing.potential import FAR, Measure, Points, Potential
from fitcheck.units import Metre, Radian

AROUND = np.array(
    [(i, j, k) for i in (-1, 0, 1) for j in (-1, 0, 1) for k in (-1, 0, 1) if i or j or k]
)


def descend(potential: Potential, start: Points) -> Points | None:
    """(n, 3) points from start to the potential's source, node by node downhill [m]."""
    grid, phi = potential.region.grid, potential.values
    shape = np.array(phi.shape)
    node = np.clip(np.round((start - np.asarray(grid.origin)) / grid.pitch), 0, shape - 1)
    node = node.astype(np.int64)
    points = [np.asarray(start, dtype=np.float64)]
    for _ in range(int(shape.sum()) * 4):
        here = np.asarray(grid.origin) + grid.pitch * node
        points.append(here)
        if np.linalg.norm(here - potential.source) < 3.5 * grid.pitch:
            return np.array([*points, potential.source])
        beside = node + AROUND
        beside = beside[((beside >= 0) & (beside < shape)).all(axis=1)]
        value = phi[tuple(beside.T)]
        drop = (value - phi[tuple(node)]) / np.linalg.norm(beside - node, axis=1)
        best = int(np.where(value < FAR, drop, np.inf).argmin())
        if value[best] >= phi[tuple(node)]:
            return None
        node = beside[best]
    return None


def pulled(points: Points, clearance: Metre, measure: Measure, rounds: int = 60) -> Points:
    """The same way with the string pulled: points move to the middle of their neighbours where
    that keeps the clearance (n, 3) [m]."""
    path = resampled(points, 0.012)
    for turn in range(rounds):
        odd = slice(1 + turn % 2, len(path) - 1, 2)
        middle = (path[:-2] + path[2:]) / 2
        wish = middle[odd.start - 1 :: 2][: len(path[odd])]
        here = path[odd]
        away = measure(wish)
        free = away >= np.minimum(clearance, measure(here) + 1e-4)
        path[odd] = np.where(free[:, None], wish, here)
    return resampled(path, 0.012)


def resampled(points: Points, spacing: Metre) -> Points:
    """Points at equal distances along a polyline, both ends kept."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    count = max(3, int(along[-1] / spacing) + 1)
    at = np.linspace(0.0, along[-1], count)
    return np.stack([np.interp(at, along, points[:, axis]) for axis in range(3)], axis=1)


def turn_planes(path: Points, step: Radian) -> list[tuple[Points, Points]]:
    """Planes square to the way, one for every `step` of turning and one in the middle."""
    reach = 3
    tangent = path[2 * reach :] - path[: -2 * reach]
    if len(tangent) < 3:
        return []
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-12)
    turned = np.arccos(np.clip((tangent[1:] * tangent[:-1]).sum(axis=1), -1, 1))
    total = np.concatenate([[0.0], np.cumsum(turned)])
    marks = (np.arange(max(1, int(np.ceil(total[-1] / step)))) + 0.5) * step
    rows = np.unique(np.searchsorted(total, marks[marks < total[-1]]))
    rows = np.unique(np.append(rows, len(tangent) // 2))
    return [(path[row + reach], tangent[row]) for row in rows]


def length_of(path: NDArray[np.float64]) -> Metre:
    """Length of a polyline."""
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
