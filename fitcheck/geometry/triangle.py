"""Distance from points to triangles, exact."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True)
def squared_distance(triangle: NDArray[np.float64], x: float, y: float, z: float) -> float:
    """Squared distance from (x, y, z) to a triangle (3, 3) that has an area [unit squared].

    The nearest point lies in the face, on an edge or at a corner; the barycentric regions decide
    (C. Ericson, "Real-Time Collision Detection", 2005, section 5.1.5, from memory).
    """
    abx = triangle[1, 0] - triangle[0, 0]
    aby = triangle[1, 1] - triangle[0, 1]
    abz = triangle[1, 2] - triangle[0, 2]
    acx = triangle[2, 0] - triangle[0, 0]
    acy = triangle[2, 1] - triangle[0, 1]
    acz = triangle[2, 2] - triangle[0, 2]
    apx, apy, apz = x - triangle[0, 0], y - triangle[0, 1], z - triangle[0, 2]
    ab_ab = abx * abx + aby * aby + abz * abz
    ab_ac = abx * acx + aby * acy + abz * acz
    ac_ac = acx * acx + acy * acy + acz * acz
    ab_ap = abx * apx + aby * apy + abz * apz
    ac_ap = acx * apx + acy * apy + acz * apz
    v = ac_ac * ab_ap - ab_ac * ac_ap
    w = ab_ab * ac_ap - ab_ac * ab_ap
    area = ab_ab * ac_ac - ab_ac * ab_ac
    if v >= 0.0 and w >= 0.0 and v + w <= area and area > 0.0:
        nx, ny, nz = aby * acz - abz * acy, abz * acx - abx * acz, abx * acy - aby * acx
        height = nx * apx + ny * apy + nz * apz
        return float(height * height / (nx * nx + ny * ny + nz * nz))
    best = _to_segment(apx, apy, apz, abx, aby, abz, ab_ap, ab_ab)
    best = min(best, _to_segment(apx, apy, apz, acx, acy, acz, ac_ap, ac_ac))
    bcx, bcy, bcz = acx - abx, acy - aby, acz - abz
    bpx, bpy, bpz = apx - abx, apy - aby, apz - abz
    along = bcx * bpx + bcy * bpy + bcz * bpz
    length = bcx * bcx + bcy * bcy + bcz * bcz
    return float(min(best, _to_segment(bpx, bpy, bpz, bcx, bcy, bcz, along, length)))


@njit(cache=True)
def _to_segment(
    px: float,
    py: float,
    pz: float,
    ex: float,
    ey: float,
    ez: float,
    along: float,
    length: float,
) -> float:
    """Squared distance from p to the segment 0..e; along = p.e, length = e.e."""
    t = 0.0 if length == 0.0 else min(max(along / length, 0.0), 1.0)
    dx, dy, dz = px - t * ex, py - t * ey, pz - t * ez
    return dx * dx + dy * dy + dz * dz
