"""Split polygons into triangles that cover exactly the polygon."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.kernels import kernel
from fitcheck.meshfiles.reading import REEXPORT


def cut_faces(
    points: NDArray[np.float64],
    ring: list[int] | NDArray[np.int64],
    sizes: list[int] | NDArray[np.int64],
    name: str,
) -> NDArray[np.float64]:
    """Triangles (n, 3, 3) of a file's faces. Raises MeshError where a corner does not exist."""
    try:
        index = cut_polygons(points, np.asarray(ring, np.int64), np.asarray(sizes, np.int64))
    except (ValueError, OverflowError) as error:
        raise MeshError(name, str(error), REEXPORT) from None
    return np.asarray(points[index], dtype=np.float64)


def cut_polygons(
    points: NDArray[np.float64], ring: NDArray[np.int64], sizes: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Corners of the triangles (n, 3) of consecutive polygons in ring.

    A polygon of k corners gives k - 2 triangles; fewer than three corners give none. Raises
    ValueError when the sizes do not add up or a corner is outside points.
    """
    if (sizes < 0).any() or int(sizes.sum()) != len(ring):
        raise ValueError("the polygon sizes do not add up to the number of corners")
    if len(ring) and (ring.min() < 0 or ring.max() >= len(points)):
        raise ValueError("a face refers to a missing corner")
    each = np.maximum(sizes - 2, 0)
    begun = np.cumsum(each) - each
    first = np.repeat(np.cumsum(sizes) - sizes, each)
    step = np.arange(int(each.sum())) - np.repeat(begun, each)
    fans = np.stack([ring[first], ring[first + step + 1], ring[first + step + 2]], axis=1)
    if (each <= 1).all():
        return fans
    # A fan whose triangles all turn the same way covers exactly the polygon.
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
    """One polygon by ear clipping, seen along its normal; quadratic in its corners."""
    axis = int(np.abs(normal).argmax())
    flat = np.delete(points[corners], axis, axis=1)
    if (normal[axis] < 0.0) != (axis == 1):
        flat = flat[:, ::-1]
    cut = np.empty((len(corners) - 2, 3), dtype=np.int64)
    _clip(np.ascontiguousarray(flat), cut)
    return np.asarray(corners[cut], dtype=np.int64)


@kernel
def _clip(flat: NDArray[np.float64], cut: NDArray[np.int64]) -> None:
    """Write to cut (k - 2, 3) the corners of the ears in turn, largest first, as rows of flat.

    flat (k, 2) [the file's unit].
    """
    number = len(flat)
    before, after = np.empty(number, np.int64), np.empty(number, np.int64)
    # Doubled area of the ear at each corner, below 0 where there is none, -inf once it is cut.
    areas = np.empty(number)
    for at in range(number):
        before[at] = at - 1 if at > 0 else number - 1
        after[at] = at + 1 if at < number - 1 else 0
    for at in range(number):
        areas[at] = _ear(flat, before, after, at)
    for done in range(number - 2):
        at = int(np.argmax(areas))
        if areas[at] < 0.0:
            for one in range(number):
                if areas[one] > -np.inf:
                    areas[one] = _ear(flat, before, after, one)
            # A polygon that crosses itself may have no ear; then the least bad corner is cut.
            at = int(np.argmax(areas))
        first, last = before[at], after[at]
        cut[done, 0], cut[done, 1], cut[done, 2] = first, at, last
        after[first], before[last] = last, first
        areas[at] = -np.inf
        areas[first] = _ear(flat, before, after, first)
        areas[last] = _ear(flat, before, after, last)


@kernel
def _ear(
    flat: NDArray[np.float64], before: NDArray[np.int64], after: NDArray[np.int64], at: int
) -> float:
    """Doubled area [unit of flat, squared] of the ear at a corner; negative if there is none.

    flat (k, 2); before, after (k,): the adjacent corners not cut yet.
    """
    a, b, c = flat[before[at]], flat[at], flat[after[at]]
    area = _turn(a, b, c)
    if area < 0.0:
        return -1.0 - abs(area)
    if area == 0.0:
        return 0.0
    one, last = after[after[at]], before[at]
    while one != last:
        p = flat[one]
        one = after[one]
        if _turn(a, b, p) < 0.0 or _turn(b, c, p) < 0.0 or _turn(c, a, p) < 0.0:
            continue
        if not (_same(p, a) or _same(p, b) or _same(p, c)):
            return -1.0 - abs(area)
    return area


@kernel
def _same(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    """Whether two points (2,) [any unit] are exactly equal."""
    return bool(one[0] == other[0] and one[1] == other[1])


@kernel
def _turn(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> float:
    """Doubled area of a triangle, positive where it turns left; a, b, c (2,) [any unit]."""
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
