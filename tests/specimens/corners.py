"""Random polylines that a curve of a given radius can follow."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


def random_corners(seed: int, radius: float) -> Points:
    """A polyline whose legs are long enough for any turn up to 115 degrees."""
    rng = np.random.default_rng(seed)
    way = rng.normal(size=3)
    way /= np.linalg.norm(way)
    points = [rng.normal(size=3)]
    for _ in range(int(rng.integers(1, 6))):
        points.append(points[-1] + way * radius * rng.uniform(3.2, 6.0))
        aside = np.cross(way, rng.normal(size=3))
        aside /= np.linalg.norm(aside)
        turn = rng.uniform(0.01, 2.0)
        way = math.cos(turn) * way + math.sin(turn) * aside
    points.append(points[-1] + way * radius * rng.uniform(3.2, 6.0))
    return np.array(points)
