"""Directions that may be up: those with the most surface square to them. Suggested,
never assumed.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.model.found.scan import UpOffered
from fitcheck.units import Radian

#: A surface within this of square to a direction is level if that direction is up.
LEVEL: Radian = math.radians(8.0)
#: An axis of the mesh is named when the direction is within this of it.
NEAR_AXIS: Radian = math.radians(20.0)
#: Minimum angle between suggested directions.
APART: Radian = math.radians(40.0)
OFFERED, TRIED = 3, 2000
#: Maximum triangles used; a sample of more.
ASKED = 200_000


def find_ups(triangles: NDArray[np.float64], declared: str) -> tuple[UpOffered, ...]:
    """Up to three directions with the most surface square to them; the declared one comes first.

    triangles : (n, 3, 3) in any unit; declared : the up axis of the format, such as "+y", or ""
    """
    some = triangles[:: max(1, len(triangles) // ASKED)]
    spans = np.cross(some[:, 1] - some[:, 0], some[:, 2] - some[:, 0])
    area = np.linalg.norm(spans, axis=1)
    normal = spans / np.maximum(area, 1e-300)[:, None]
    share = _bundled(normal, area)
    found: list[NDArray[np.float64]] = []
    for way, _ in share:
        if all(abs(float(way @ other)) < math.cos(APART) for other in found):
            found.append(_refined(way, normal, area))
        if len(found) == OFFERED:
            break
    ups = [_offered(way, normal, area, declared) for way in found]
    if declared and not any(up.declared for up in ups):
        ups.append(_offered(_axis(declared), normal, area, declared))
    return tuple(sorted(ups, key=lambda up: (not up.declared, -up.level)))


def _bundled(
    normal: NDArray[np.float64], area: NDArray[np.float64]
) -> list[tuple[NDArray[np.float64], float]]:
    """Half-sphere directions with the area square to each, largest first."""
    step = np.arange(TRIED) + 0.5
    z = step / TRIED
    turn = math.pi * (3.0 - math.sqrt(5.0)) * step
    flat = np.sqrt(1.0 - z * z)
    ways = np.stack([flat * np.cos(turn), flat * np.sin(turn), z], axis=1)
    ways = np.concatenate([np.eye(3), ways])
    # Normals are first binned on the sphere, so that many triangles cost no more.
    upper = np.where(normal[:, 2:] < 0.0, -normal, normal)
    _, nearest = _tree(ways).query(upper, workers=2)
    weight = np.bincount(nearest, area, minlength=len(ways))
    near = np.abs(ways @ ways.T) > math.cos(LEVEL)
    total = near @ weight
    order = np.argsort(-total)
    return [(ways[at], float(total[at])) for at in order if total[at] > 0.0]


def _tree(ways: NDArray[np.float64]):  # type: ignore[no-untyped-def]
    from scipy.spatial import cKDTree

    return cKDTree(ways)


def _refined(
    way: NDArray[np.float64], normal: NDArray[np.float64], area: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The mean of the normals near a direction."""
    for _ in range(3):
        cosine = normal @ way
        near = np.abs(cosine) > math.cos(LEVEL)
        if not near.any():
            break
        mean = (np.sign(cosine[near]) * area[near]) @ normal[near]
        way = mean / np.linalg.norm(mean)
    return way


def _offered(
    way: NDArray[np.float64],
    normal: NDArray[np.float64],
    area: NDArray[np.float64],
    declared: str,
) -> UpOffered:
    main = int(np.abs(way).argmax())
    way = way if way[main] > 0.0 else -way
    lean = math.acos(min(1.0, float(way[main])))
    axis = "xyz"[main] if lean < NEAR_AXIS else ""
    called = bool(axis) and declared[1:] == axis
    if called and declared[0] == "-":
        way = -way
    level = float(area[np.abs(normal @ way) > math.cos(LEVEL)].sum() / area.sum())
    return UpOffered(
        axis=declared if called else axis,
        direction=as_point(way),
        level=level,
        lean=lean,
        declared=called,
    )


def _axis(declared: str) -> NDArray[np.float64]:
    return (1.0 if declared[0] == "+" else -1.0) * np.eye(3)["xyz".index(declared[1])]
