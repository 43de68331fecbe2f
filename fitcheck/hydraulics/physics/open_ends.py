"""Losses of a hose that begins or ends in open water or air, referred to its bore.

Pressures here are total, so the velocity head comes out of the sea's pressure at the inlet and is
lost at the outlet: once each, and not again in the loss coefficients of the kit.

References
----------
Crane Co., Flow of Fluids, TP 410, page A-30: entrance sharp-edged 0.5, exit 1.0 of any shape.
F. M. White, Fluid Mechanics, sect. 6.9 (minor losses): the same.
"""

from __future__ import annotations

from fitcheck.model.given.kit import Line
from fitcheck.units import CubicMetrePerSecond, Ratio

#: Sharp-edged and flush with the hull or tank.
ENTRANCE: Ratio = 0.5
EXIT: Ratio = 1.0


def open_end_coefficients(line: Line, flow: CubicMetrePerSecond) -> tuple[Ratio, Ratio]:
    """Loss coefficients of the inlet and the outlet at a flow of either sign [1].

    Only an end at a port of the boat is open: the loss of a module is given from port to port.
    """
    begins, ends = line.start, line.end
    if flow < 0.0:
        begins, ends = ends, begins
    return (
        ENTRANCE if begins.owner == "boat" else 0.0,
        EXIT if ends.owner == "boat" else 0.0,
    )
