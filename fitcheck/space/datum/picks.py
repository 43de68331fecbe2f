"""How accurately points are picked and lengths are measured on board."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Said, say
from fitcheck.model.given.boat import Boat
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.units import Metre

#: Standard deviation of a point picked on a scan, on each axis (measured on synthetic scans), and
#: on a drawing (common practice, no source).
PICK: Metre = 0.008
PICK_DRAWN: Metre = 0.001
#: Accuracy assumed for a scan that states none; common practice, no source.
SCAN_ACCURACY: Metre = 0.020
#: A drawing is exact; how far the boat as built deviates from it is unknown.
CAD_ACCURACY: Metre = 0.0
PRACTICE = "common practice, no source"


def pick_of(boat: Boat) -> Metre:
    """Standard deviation of a picked point on each axis."""
    return PICK if boat.origin == "scan" else PICK_DRAWN


def accuracy_of(boat: Boat) -> Metre:
    """Uncertainty of a surface (95 %): as stated, else the usual value."""
    usual = SCAN_ACCURACY if boat.origin == "scan" else CAD_ACCURACY
    return usual if boat.scan_accuracy is None else boat.scan_accuracy


def picked_on_surface(boat: Boat) -> Metre:
    """Standard deviation, along any one line, of a point picked on a surface of the mesh."""
    return float(np.hypot(pick_of(boat), accuracy_of(boat) / COVERAGE))


def unit(vector: NDArray[np.float64] | tuple[float, float, float]) -> NDArray[np.float64]:
    """The same direction, of length 1."""
    values = np.asarray(vector, dtype=np.float64)
    result: NDArray[np.float64] = values / np.linalg.norm(values)
    return result


def axis_of(up: NDArray[np.float64]) -> Said:
    """The mesh axis that a direction is parallel to, or nearly."""
    axis = int(np.abs(up).argmax())
    sign = "+" if up[axis] > 0 else "-"
    along = abs(up[axis]) > 0.9999
    return say("axis.along" if along else "axis.nearly", sign=sign, axis="xyz"[axis])
