"""Gap between a face of a box and the surface behind it, point by point over the face."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.fit.measured.surroundings import PACKING, Surroundings
from fitcheck.geometry.box import FACES, Box, as_point
from fitcheck.geometry.distance import TriangleIndex
from fitcheck.geometry.overlap import TOUCH, triangles_near
from fitcheck.model.contact import Contact
from fitcheck.model.given.kit import Face
from fitcheck.units import Metre, Ratio

Floats = NDArray[np.float64]

#: Sample points along each side of a face.
SAMPLES = 24
#: Share of a face that must be sunk for the surface to count as reaching into it, and the multiple
#: of the standard deviation that normal noise exceeds on the same share [1].
SUNK_SHARE: Ratio = 0.1
SUNK_SPREAD: Ratio = 1.2816
#: Standard deviation from the median absolute deviation, normal distribution [1].
FROM_MEDIAN: Ratio = 1.4826


def surface_behind(box: Box, face: Face, around: Surroundings) -> tuple[Floats, Floats]:
    """Gap from each point of a face to the surface square behind it that a box may be fixed to.

    Returns the same as `gaps_to`, over the range that noise and packing allow.
    """
    return gaps_to(around.carrying, box, face, behind=around.noise, before=around.reach)


def gaps_to(
    index: TriangleIndex, box: Box, face: Face, *, behind: Metre, before: Metre
) -> tuple[Floats, Floats]:
    """Gap from each point of a face to the triangles square behind it, and the points.

    Returns the gaps (SAMPLES**2,) [m], negative where a triangle lies inside the box, inf where
    there is none from `behind` the face to `before` it, and the points (SAMPLES**2, 2) from the
    middle of the face in shares of its shorter half side.
    """
    axis, sign = FACES[face]
    sides = [side for side in range(3) if side != axis]
    half = np.array(box.half)
    steps = (2.0 * np.arange(SAMPLES) + 1.0) / SAMPLES - 1.0
    grid = np.stack(np.meshgrid(steps, steps, indexing="ij"), axis=-1).reshape(-1, 2)
    points = grid * half[sides]
    top = sign * half[axis]
    ends = sorted((top - sign * (behind + TOUCH), top + sign * (before + TOUCH)))
    low, high = -half, half.copy()
    low[axis], high[axis] = ends
    reach = np.abs(np.array(box.axes)).T @ ((high - low) / 2)
    middle = box.world((low + high) / 2)
    near = box.local(index.corner[triangles_near(index, middle - reach, middle + reach)])
    gaps = np.full(len(points), np.inf)
    for corners in near:
        at, inside = _crossing(corners[:, sides], corners[:, axis], points)
        inside &= (at >= ends[0]) & (at <= ends[1])
        gaps = np.minimum(gaps, np.where(inside, sign * at - half[axis], np.inf))
    return gaps, points / half[sides].min()


def _crossing(flat: Floats, height: Floats, points: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """The height at which lines square to the face cross a triangle's plane, and which of them
    meet it.
    """
    a, b, c = flat
    (ux, uy), (vx, vy) = b - a, c - a
    area = float(ux * vy - uy * vx)
    if abs(area) < 1e-12:
        return np.zeros(len(points)), np.zeros(len(points), dtype=np.bool_)
    x, y = (points - a).T
    s, t = (x * vy - y * vx) / area, (ux * y - uy * x) / area
    at: Floats = height[0] + s * (height[1] - height[0]) + t * (height[2] - height[0])
    edge = -1e-9
    return at, (s >= edge) & (t >= edge) & (s + t <= 1.0 - edge)


def sunk(box: Box, face: Face, around: Surroundings) -> Contact | None:
    """The surface a face is fixed to, where it reaches into the box more than its noise explains.

    A tenth of the face must be deeper than the packing under a box plus what the roughness of that
    surface causes on a tenth of any face.
    """
    gaps, points = surface_behind(box, face, around)
    found = gaps[np.isfinite(gaps)]
    if len(found) < SUNK_SHARE * len(gaps):
        return None
    depth: Metre = -float(np.quantile(np.minimum(gaps, around.reach), SUNK_SHARE))
    spread = FROM_MEDIAN * float(np.median(np.abs(found - np.median(found))))
    if depth <= PACKING + SUNK_SPREAD * spread:
        return None
    axis, sign = FACES[face]
    sides = [side for side in range(3) if side != axis]
    local = np.zeros(3)
    local[sides] = points[int(gaps.argmin())] * np.array(box.half)[sides].min()
    local[axis] = sign * box.half[axis]
    return around.contact("mesh", -depth, as_point(box.world(local)))
