"""Depth images to one mesh, as an app on a phone does: truncated signed distance, then a surface.

Averaging of truncated signed distances after Curless and Levoy, A volumetric method for building
complex models from range images, SIGGRAPH 1996; the surface by surface nets after Gibson,
Constrained elastic surface nets, MICCAI 1998, without its smoothing.
"""

from __future__ import annotations

import itertools

import numpy as np
from numba import njit
from numpy.typing import NDArray

from tests.scans.convex import Floats
from tests.scans.sensor import HALF, TALL, WIDE, Picture

EDGE = 0.014
TRUNCATION = 3.5 * EDGE
#: Number of pictures that must have measured a place before it counts.
LEAST = 2.0


def fuse(pictures: list[Picture], low: Floats, high: Floats) -> Floats:
    """Triangles (n, 3, 3) of everything measured between low and high, facing the phone."""
    count = np.ceil((high - low) / EDGE).astype(int)
    value = np.zeros(count, dtype=np.float32)
    weight = np.zeros(count, dtype=np.float32)
    for picture in pictures:
        image = np.nan_to_num(picture.range, nan=-1.0)
        part, first = _in_view(picture, low, count)
        if not part:
            continue
        _integrate(
            value[part],
            weight[part],
            first,
            EDGE,
            picture.believed.eye,
            picture.believed.turn,
            image,
            *HALF,
        )
    return _nets(value / np.maximum(weight, 1e-9), weight >= LEAST, low)


def _in_view(
    picture: Picture, low: Floats, count: NDArray[np.int64]
) -> tuple[tuple[slice, ...], Floats]:
    """The part of the grid covered by a picture, and its first corner."""
    if not np.isfinite(picture.range).any():
        return (), low
    far = float(np.nanmax(picture.range)) + TRUNCATION
    corners = np.array([[x * HALF[0], y * HALF[1], 1.0] for x in (-1, 1) for y in (-1, 1)]) * far
    reach = np.vstack(
        [picture.believed.eye, picture.believed.eye + corners @ picture.believed.turn]
    )
    first = np.clip(np.floor((reach.min(axis=0) - low) / EDGE).astype(int), 0, count)
    last = np.clip(np.ceil((reach.max(axis=0) - low) / EDGE).astype(int), 0, count)
    return tuple(slice(a, b) for a, b in zip(first, last, strict=True)), low + EDGE * first


@njit(cache=True, nogil=True)
def _integrate(value, weight, low, edge, eye, turn, image, half_wide, half_tall):  # type: ignore[no-untyped-def]
    for i in range(value.shape[0]):
        x = low[0] + (i + 0.5) * edge - eye[0]
        for j in range(value.shape[1]):
            y = low[1] + (j + 0.5) * edge - eye[1]
            for k in range(value.shape[2]):
                z = low[2] + (k + 0.5) * edge - eye[2]
                ahead = turn[2, 0] * x + turn[2, 1] * y + turn[2, 2] * z
                if ahead < 0.05:
                    continue
                across = (turn[0, 0] * x + turn[0, 1] * y + turn[0, 2] * z) / (ahead * half_wide)
                if not -1.0 < across < 1.0:
                    continue
                down = (turn[1, 0] * x + turn[1, 1] * y + turn[1, 2] * z) / (ahead * half_tall)
                if not -1.0 < down < 1.0:
                    continue
                # 1 minus the smallest representable difference, plus 1, rounds to 2
                row = min(int((1.0 - down) * 0.5 * TALL), TALL - 1)
                column = min(int((across + 1.0) * 0.5 * WIDE), WIDE - 1)
                measured = image[row, column]
                if measured < 0.0:
                    continue
                gap = measured - np.sqrt(x * x + y * y + z * z)
                if gap > -TRUNCATION:
                    value[i, j, k] += min(gap / TRUNCATION, 1.0)
                    weight[i, j, k] += 1.0


def _nets(value: NDArray[np.float32], known: NDArray[np.bool_], low: Floats) -> Floats:
    """The surface where the values change sign, in cells all of whose corners were measured."""
    shape = np.array(value.shape) - 1
    cells = [
        tuple(slice(c, c + n) for c, n in zip(corner, shape, strict=True))
        for corner in itertools.product((0, 1), repeat=3)
    ]
    whole = np.logical_and.reduce([known[cell] for cell in cells])
    inside = [value[cell] < 0.0 for cell in cells]
    mixed = whole & np.logical_or.reduce(inside) & ~np.logical_and.reduce(inside)
    number = np.full(mixed.shape, -1, dtype=np.int64)
    index = np.argwhere(mixed)
    number[mixed] = np.arange(len(index))
    points = low + EDGE * (index + 0.5 + _crossings(value, index))
    corners = []
    for axis in range(3):
        corners += _quads(value, number, axis)
    if not corners:
        return np.empty((0, 3, 3))
    quads = np.concatenate(corners)
    return points[np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])]


def _crossings(value: NDArray[np.float32], index: NDArray[np.int64]) -> Floats:
    """Mean place of the sign changes along a cell's twelve edges, in cells, (n, 3)."""
    total, count = np.zeros((len(index), 3)), np.zeros(len(index))
    for axis in range(3):
        for side in itertools.product((0, 1), repeat=2):
            start = np.insert(np.array(side), axis, 0)
            step = np.eye(3, dtype=np.int64)[axis]
            a = value[tuple((index + start).T)].astype(np.float64)
            b = value[tuple((index + start + step).T)].astype(np.float64)
            cut = (a < 0.0) != (b < 0.0)
            share = np.where(cut, a / np.where(cut, a - b, 1.0), 0.0)
            total += np.where(cut[:, None], start + share[:, None] * step, 0.0)
            count += cut
    return total / np.maximum(count, 1)[:, None]


def _quads(
    value: NDArray[np.float32], number: NDArray[np.int64], axis: int
) -> list[NDArray[np.int64]]:
    """Four cells around every edge along an axis whose ends differ in sign."""
    one, two = (axis + 1) % 3, (axis + 2) % 3
    low, high = [slice(1, -1)] * 3, [slice(1, -1)] * 3
    low[axis], high[axis] = slice(0, -1), slice(1, None)
    a, b = value[tuple(low)] < 0.0, value[tuple(high)] < 0.0
    around = []
    for back_one, back_two in ((1, 1), (0, 1), (0, 0), (1, 0)):
        place = [slice(None)] * 3
        place[one] = slice(1 - back_one, number.shape[one] - back_one)
        place[two] = slice(1 - back_two, number.shape[two] - back_two)
        around.append(number[tuple(place)])
    ring = np.stack(around, axis=-1)
    held = (a != b) & (ring >= 0).all(axis=-1)
    quads = ring[held]
    # Counter-clockwise about +axis: right where the plus side lies ahead, that is a inside.
    turned = ~a[held]
    quads[turned] = quads[turned][:, ::-1]
    return [quads]
