"""Polygons cut into triangles that cover the polygon and nothing beside it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def cut_polygons(
    points: NDArray[np.float64], ring: NDArray[np.int64], sizes: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Corners of the triangles (n, 3) of polygons laid one after the other in ring.

    A polygon of k corners gives k - 2 triangles; fewer than three corners give none. Raises
    ValueError when the sizes do not add up or a corner is outside points.
    """
    if (sizes < 0).any() or int(sizes.sum()) != len(ring):
        raise ValueError("the polygons do not add up to their corners")
    if len(ring) and (ring.min() < 0 or ring.max() >= len(points)):
        raise ValueError("a face asks for a corner that is not there")
    each = np.maximum(sizes - 2, 0)
    begun = np.cumsum(each) - each
    first = np.repeat(np.cumsum(sizes) - sizes, each)
    step = np.arange(int(each.sum())) - np.repeat(begun, each)
    fans = np.stack([ring[first], ring[first + step + 1], ring[first + step + 2]], axis=1)
    if (each <= 1).all():
        return fans
    # A fan whose triangles all turn the same way covers just the polygon.
    corner = points[fans]
    area = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    owner = np.repeat(np.arange(len(sizes)), each)
    whole = np.stack([np.bincount(owner, column, len(sizes)) for column in area.T], axis=1)
    back = np.einsum("ij,ij->i", area, whole[owner]) < 0.0
    starts = np.cumsum(sizes) - sizes
    for one in np.unique(owner[back]):
        corners = ring[starts[one] : starts[one] + sizes[one]]
        fans[begun[one] : begun[one] + each[one]] = _ears(points, corners, whole[one])
    return fans


def _ears(
    points: NDArray[np.float64], corners: NDArray[np.int64], normal: NDArray[np.float64]
) -> NDArray[np.int64]:
    """One polygon by ear clipping, seen along its normal."""
    axis = int(np.abs(normal).argmax())
    flat = np.delete(points[corners], axis, axis=1)
    if (normal[axis] < 0.0) != (axis == 1):
        flat = flat[:, ::-1]
    left = list(range(len(corners)))
    cut: list[tuple[int, int, int]] = []
    while len(left) > 3:
        turns = [_ear(flat, left, at) for at in range(len(left))]
        # A polygon that crosses itself has no ear; then the least bad corner goes.
        at = int(np.argmax(turns))
        cut.append((left[at - 1], left[at], left[(at + 1) % len(left)]))
        del left[at]
    cut.append((left[0], left[1], left[2]))
    return np.asarray(corners[np.array(cut)], dtype=np.int64)


def _ear(flat: NDArray[np.float64], left: list[int], at: int) -> float:
    """Doubled area of the ear at a corner; negative when it is none."""
    a, b, c = flat[left[at - 1]], flat[left[at]], flat[left[(at + 1) % len(left)]]
    area = _turn(a, b, c)
    for other in left:
        p = flat[other]
        if (p == a).all() or (p == b).all() or (p == c).all():
            continue
        if _turn(a, b, p) >= 0 and _turn(b, c, p) >= 0 and _turn(c, a, p) >= 0:
            return -1.0 - abs(area)
    return area


def _turn(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
