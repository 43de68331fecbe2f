"""The sea surface when the boat heels, seen from the boat."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.units import Direction, Point, Radian

Array = NDArray[np.float64]


def sea_normal(heel: Radian, trim: Radian = 0.0) -> Direction:
    """Upward normal of the sea surface in the boat frame.

    Heel is positive starboard down, trim positive bow down.
    """
    return (
        -math.sin(trim),
        math.sin(heel) * math.cos(trim),
        math.cos(heel) * math.cos(trim),
    )


def heights(points: Array, flotation: Point, heel: Radian, trim: Radian = 0.0) -> Array:
    """Heights of (..., 3) points above the sea, (...) [m].

    The boat rotates about the flotation point, which assumes constant draught: the error grows
    with heel and with the asymmetry of the heeled section.
    """
    found: Array = (np.asarray(points) - np.asarray(flotation)) @ np.asarray(
        sea_normal(heel, trim)
    )
    return found


def sea_level(across: Array, flotation: Point, heel: Radian, trim: Radian = 0.0) -> Array:
    """The points of the sea surface over (n, 2) places x, y: (n, 3) [m]."""
    normal = np.asarray(sea_normal(heel, trim))
    away = np.asarray(across) - np.asarray(flotation)[:2]
    level = flotation[2] - away @ normal[:2] / normal[2]
    return np.column_stack([across, level])
