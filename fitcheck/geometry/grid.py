"""A regular grid of cubic cells in the boat frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.units import Metre, Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Cells of edge `pitch`; cell (i, j, k) spans origin + pitch * (i..i+1, j..j+1, k..k+1)."""

    origin: Point
    pitch: Metre
    shape: tuple[int, int, int]

    @property
    def cells(self) -> int:
        """Number of cells in the grid."""
        return self.shape[0] * self.shape[1] * self.shape[2]

    def centre(self, index: NDArray[np.integer]) -> NDArray[np.float64]:
        """Centres of cells, (..., 3) index -> (..., 3) points [m]."""
        return np.asarray(self.origin) + self.pitch * (np.asarray(index) + 0.5)

    def index(self, points: NDArray[np.float64]) -> NDArray[np.int64]:
        """Cell that contains each point, (..., 3) [m] -> (..., 3); may be outside the grid."""
        scaled = (np.asarray(points, dtype=np.float64) - np.asarray(self.origin)) / self.pitch
        return np.floor(scaled).astype(np.int64)

    def holds(self, index: NDArray[np.integer]) -> NDArray[np.bool_]:
        """Whether each (..., 3) index is inside the grid."""
        index = np.asarray(index)
        inside = (index >= 0) & (index < np.asarray(self.shape))
        return np.asarray(inside.all(axis=-1))
