"""Places along a routed curve: point and direction, the free stretches, their corners."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.search.direct import MOST_TURN
from fitcheck.units import Metre

Points = NDArray[np.float64]


def place_at(curve: Curve, along: Metre) -> tuple[Points, Points]:
    """Point and direction of travel at a distance along a curve, (3,) each."""
    done = 0.0
    for row in curve.pieces[:-1]:
        if along <= done + row[10] + 1e-12:
            return on_row(row, along - done)
        done += row[10]
    return on_row(curve.pieces[-1], along - done)


def on_row(row: Points, s: Metre) -> tuple[Points, Points]:
    """Point and direction of travel at a distance from the start of one piece."""
    if row[9] == 0.0:
        return row[:3] + s * row[3:6], row[3:6].copy()
    turn = s / row[9]
    at = row[:3] + row[9] * (math.sin(turn) * row[3:6] + (1 - math.cos(turn)) * row[6:9])
    return at, math.cos(turn) * row[3:6] + math.sin(turn) * row[6:9]


def free_stretches(routed: Routed) -> list[tuple[Metre, Metre]]:
    """The parts of a line that may be moved: not its straight ends, not inside holes."""
    marks = [routed.job.start.lead]
    for span in routed.holes:
        marks += span
    marks.append(routed.curve.length - routed.job.end.lead)
    return list(zip(marks[::2], marks[1::2], strict=True))


def corners_between(curve: Curve, first: Metre, last: Metre) -> Points:
    """Corners (n, 3) of the bends, or parts of bends, between two distances along a curve [m]."""
    rows = []
    done = 0.0
    for row in curve.pieces:
        low, high = max(0.0, first - done), min(row[10], last - done)
        done += row[10]
        if row[9] == 0.0 or high - low < 1e-9:
            continue
        parts = math.ceil((high - low) / row[9] / MOST_TURN)
        step = (high - low) / parts
        for number in range(parts):
            at, way = on_row(row, low + number * step)
            rows.append(at + row[9] * math.tan(step / row[9] / 2) * way)
    return np.array(rows).reshape(-1, 3)
