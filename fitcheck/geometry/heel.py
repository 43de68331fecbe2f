"""The height of a point above the sea with the boat heeled and trimmed.

The boat rotates about its flotation point; the sea stays where it is. This assumes constant
draught at that point, which holds for small angles and gets worse with asymmetric hull sections.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.units import Direction, Metre, Point, Radian


def sea_normal(heel: Radian, trim: Radian) -> Direction:
    """Unit vector straight up from the sea, in boat axes.

    Parameters
    ----------
    heel : positive starboard down [rad]
    trim : positive bow down [rad]

    Notes
    -----
    The third row of R_y(trim) R_x(heel): heel about the boat's own x axis first, then trim.
    """
    return (
        -math.sin(trim),
        math.sin(heel) * math.cos(trim),
        math.cos(heel) * math.cos(trim),
    )


def height_above_sea(point: Point, flotation: Point, heel: Radian, trim: Radian) -> Metre:
    """Height of `point` above the sea [m], with the boat rotated by heel and trim [rad]."""
    normal = sea_normal(heel, trim)
    return sum((p - f) * n for p, f, n in zip(point, flotation, normal, strict=True))


def heights_above_sea(
    points: NDArray[np.float64], flotation: Point, heel: Radian, trim: Radian
) -> NDArray[np.float64]:
    """Heights of (n, 3) points [m] above the sea, (n,) [m]."""
    heights: NDArray[np.float64] = (points - np.asarray(flotation)) @ np.asarray(
        sea_normal(heel, trim)
    )
    return heights
