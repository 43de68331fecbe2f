"""Position tags so that they do not overlap, and draw them with their leaders."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Rings around the anchor on which a tag is tried, in tag heights, and the number of places on
#: each.
RINGS = ((0.0, 1), (1.6, 8), (2.6, 12), (4.0, 12), (6.0, 12), (8.5, 16), (12.0, 16))


@dataclass(frozen=True, eq=False, slots=True)
class Placed:
    """A tag's lower left corner, size and the anchor it points at [px]."""

    corner: tuple[float, float]
    size: tuple[float, float]
    anchor: tuple[float, float]

    @property
    def leader(self) -> tuple[tuple[float, float], tuple[float, float]] | None:
        """Line from the tag's edge to the anchor, None when the tag covers it."""
        x = min(max(self.anchor[0], self.corner[0]), self.corner[0] + self.size[0])
        y = min(max(self.anchor[1], self.corner[1]), self.corner[1] + self.size[1])
        return None if (x, y) == self.anchor else ((x, y), self.anchor)


def spread(
    anchors: list[Array],
    sizes: list[tuple[float, float]],
    frame: tuple[float, float, float, float],
    earlier: dict[int, tuple[float, float]] | None = None,
    avoid: Array | None = None,
) -> list[Placed]:
    """Place every tag near one of its anchors, without overlaps, inside the frame.

    anchors : for each tag, (n, 2) places it may point at, preferred first [px]
    sizes : width and height of each tag [px]
    frame : left, low, right, high the tags must stay in [px]
    earlier : previous offset of a tag from its anchor, so that it stays if possible [px]
    avoid : (m, 2) places that tags should not cover [px]
    """
    placed: list[Placed] = []
    for i in sorted(range(len(sizes)), key=lambda i: len(anchors[i])):
        others = [anchors[j][0] for j in range(len(sizes)) if j != i]
        bare = np.array(others).reshape(-1, 2)
        if avoid is not None:
            bare = np.vstack([bare, avoid])
        stay = (earlier or {}).get(i)
        placed.append(_best(anchors[i], sizes[i], frame, placed, bare, stay))
    order = sorted(range(len(sizes)), key=lambda i: len(anchors[i]))
    return [placed[order.index(i)] for i in range(len(sizes))]


def _best(
    anchors: Array,
    size: tuple[float, float],
    frame: tuple[float, float, float, float],
    placed: list[Placed],
    bare: Array,
    stay: tuple[float, float] | None,
) -> Placed:
    tries = _tries(anchors, size, stay)
    low = np.clip(tries[:, :2], frame[:2], np.asarray(frame[2:]) - size)
    high = low + size
    cost = 0.02 * np.linalg.norm(low + np.asarray(size) / 2 - tries[:, 2:4], axis=1) / size[1]
    cost += 0.05 * tries[:, 4]
    cost += 0.15 * _covers(low - 2, high + 2, bare)
    if len(anchors) == 1:  # a tag with a single place is a mark, which must stay visible
        cost += 0.5 * _covers(low - 6, high + 6, anchors)
    for other in placed:
        cost += 8.0 * _overlap(low - 4, high + 4, other)
        cost += 1.5 * _crosses(low, high, tries[:, 2:4], other)
    if stay is not None:
        cost[0] -= 0.10
    best = int(np.argmin(cost))
    return Placed(
        (float(low[best, 0]), float(low[best, 1])),
        size,
        (float(tries[best, 2]), float(tries[best, 3])),
    )


def _tries(anchors: Array, size: tuple[float, float], stay: tuple[float, float] | None) -> Array:
    """Rows: corner x, y, anchor x, y, rank of the anchor. The first is the previous place."""
    rows = []
    if stay is not None:
        rows.append((*(anchors[0] + stay), *anchors[0], 0))
    for rank, anchor in enumerate(anchors):
        for radius, count in RINGS:
            for k in range(count):
                turn = 2 * math.pi * (k + 0.5) / count
                x = anchor[0] + math.cos(turn) * (radius * size[1] + (radius > 0) * size[0] / 2)
                y = anchor[1] + math.sin(turn) * radius * size[1]
                rows.append((x - size[0] / 2, y - size[1] / 2, *anchor, rank))
    return np.array(rows, dtype=np.float64)


def _covers(low: Array, high: Array, points: Array) -> Array:
    """Number of points under each trial."""
    inside = (points[None] > low[:, None]) & (points[None] < high[:, None])
    count: Array = inside.all(axis=2).sum(axis=1).astype(np.float64)
    return np.minimum(count, 6.0)


def _overlap(low: Array, high: Array, other: Placed) -> Array:
    """Shared area of each trial with a placed tag, over the smaller area, plus one if any."""
    corner = np.asarray(other.corner)
    shared = np.minimum(high, corner + other.size) - np.maximum(low, corner)
    area = np.maximum(shared, 0.0).prod(axis=1)
    smaller = min(float((high - low).prod(axis=1).min()), other.size[0] * other.size[1])
    return np.where(area > 0, 1.0 + area / smaller, 0.0)


def _crosses(low: Array, high: Array, anchors: Array, other: Placed) -> Array:
    """Whether each trial's leader crosses the leader of a placed tag, or runs under that tag."""
    start = np.clip(anchors, low, high)
    corner = np.asarray(other.corner)
    hit = np.zeros(len(low), dtype=bool)
    for share in (0.25, 0.5, 0.75, 1.0):
        at = start + share * (anchors - start)
        hit |= ((at > corner - 2) & (at < corner + other.size + 2)).all(axis=1)
    if other.leader is not None:
        a, b = (np.asarray(end) for end in other.leader)
        hit |= _cut(start, anchors, a, b)
    return hit.astype(np.float64)


def _cut(start: Array, end: Array, a: Array, b: Array) -> NDArray[np.bool_]:
    def side(p: Array, q: Array, r: Array) -> Array:
        u, v = q - p, r - p
        area: Array = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
        return area

    one = side(a, b, start) * side(a, b, end) < 0
    other = side(start, end, np.broadcast_to(a, start.shape)) * side(
        start, end, np.broadcast_to(b, start.shape)
    )
    return np.asarray(one & (other < 0))
