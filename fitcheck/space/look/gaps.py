"""Openings of a mesh by width and place, and double surfaces."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from fitcheck.geometry.box import as_point
from fitcheck.meshfiles.topology import Topology
from fitcheck.model.found.scan import DoubledWalls, Gap
from fitcheck.units import Metre, Ratio

#: Rims examined one by one, longest first; the rest are only counted.
LOOKED_AT = 300
#: A second surface closer than the first value is noise, further than the second a separate
#: object.
NEAREST, FARTHEST = 0.008, 0.060
#: Straight behind: maximum sideways offset in spacings; facing the same way: minimum cosine.
ASIDE: Ratio = 1.4
SAME_WAY: Ratio = 0.8
#: Spacing of the sample points, and limits on their number.
SPACING: Metre = 0.008
FEWEST, MOST, ASKED = 1_000, 200_000, 5_000


def find_gaps(triangles: NDArray[np.float64], found: Topology, least: Metre) -> tuple[Gap, ...]:
    """Rims of open edges about as wide as `least` or wider, widest first.

    Edges that share corners form one rim; its width is the shorter side of its bounding box in its
    own plane.
    """
    if len(found.rim) == 0:
        return ()
    start = triangles.reshape(-1, 3)[found.rim]
    after = np.where(found.rim % 3 == 2, found.rim - 2, found.rim + 1)
    end = triangles.reshape(-1, 3)[after]
    _, place = np.unique(found.rim_ends, return_inverse=True)
    ends = place.reshape(-1, 2)
    size = int(ends.max()) + 1
    links = coo_matrix((np.ones(len(ends), dtype=np.int8), (ends[:, 0], ends[:, 1])), (size, size))
    _, of_corner = connected_components(links, directed=False)
    name = of_corner[ends[:, 0]]
    length = np.bincount(name, np.linalg.norm(end - start, axis=1))
    order = np.argsort(name, kind="stable")
    first = np.searchsorted(name[order], np.arange(len(length) + 1))
    gaps = []
    for one in np.argsort(-length)[:LOOKED_AT]:
        if length[one] < 2.0 * least:
            break
        points = start[order[first[one] : first[one + 1]]]
        middle = points.mean(axis=0)
        _, _, axes = np.linalg.svd(points - middle, full_matrices=False)
        width = float(np.ptp((points - middle) @ axes[1])) if len(axes) > 1 else 0.0
        if width >= least:
            gaps.append(Gap(width=width, rim=float(length[one]), place=as_point(middle)))
    return tuple(sorted(gaps, key=lambda gap: -gap.width))


def find_doubled(triangles: NDArray[np.float64]) -> DoubledWalls | None:
    """The share of a surface that has another one close behind it facing the same way.

    triangles : (n, 3, 3) [m]. Points are sampled on them; behind about one in twenty another
    surface is searched for. None when the share is negligible (under one in two hundred).
    """
    points, normals, spacing = _strewn(triangles)
    tree = cKDTree(points)
    asked = np.random.default_rng(1).permutation(len(points))[:ASKED]
    near = tree.query_ball_point(points[asked], FARTHEST, workers=2)
    counts = np.array([len(row) for row in near])
    one = np.repeat(asked, counts)
    other = np.concatenate([np.asarray(row, dtype=np.int64) for row in near])
    gap = points[other] - points[one]
    behind = -np.einsum("ij,ij->i", gap, normals[one])
    aside = np.linalg.norm(gap + behind[:, None] * normals[one], axis=1)
    alike = np.einsum("ij,ij->i", normals[one], normals[other]) > SAME_WAY
    hit = alike & (behind > NEAREST) & (aside < ASIDE * spacing)
    doubled = np.unique(one[hit])
    share = len(doubled) / len(asked)
    if share < 0.005:
        return None
    # In the middle of the thickest cluster, so that the place reported is one of them.
    crowd = cKDTree(points[doubled])
    most = int(np.argmax(crowd.query_ball_point(points[doubled], 0.15, return_length=True)))
    return DoubledWalls(
        share=share, apart=float(np.median(behind[hit])), place=as_point(points[doubled[most]])
    )


def _strewn(
    triangles: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], Metre]:
    """Points sampled evenly over triangles, the unit normals there, and their spacing."""
    spans = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    area = np.linalg.norm(spans, axis=1)
    draw = np.random.default_rng(0)
    total = float(area.sum()) / 2.0
    count = int(np.clip(total / SPACING**2, FEWEST, MOST))
    of = np.searchsorted(np.cumsum(area), draw.random(count) * area.sum())
    of = np.minimum(of, len(area) - 1)
    u, v = draw.random((2, count))
    u, v = np.where(u + v > 1.0, 1.0 - u, u), np.where(u + v > 1.0, 1.0 - v, v)
    a, b, c = np.moveaxis(triangles[of], 1, 0)
    return (
        a + u[:, None] * (b - a) + v[:, None] * (c - a),
        spans[of] / area[of][:, None],
        math.sqrt(total / count),
    )
