"""The states a boat is judged in, and the height of a point above the sea in each.

The boat turns about its flotation point; the sea stays where it is. This takes the draught at that
point as unchanged, which holds for small angles and grows worse with asymmetric hull sections.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.hydraulics import State
from fitcheck.model.scenario import Conditions
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
    """Height of `point` above the sea [m], the boat turned by heel and trim [rad]."""
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


def states_of(conditions: Conditions) -> tuple[State, ...]:
    """Every combination of heel, trim, water temperature, salinity, clean and dirty filters."""
    salinities_differ = len(set(conditions.salinity)) > 1
    return tuple(
        State(
            name=_name(heel, trim, temperature, salinity if salinities_differ else None, dirty),
            heel=heel,
            trim=trim,
            temperature_C=temperature,
            salinity=salinity,
            dirty=dirty,
        )
        for heel, trim, temperature, salinity, dirty in itertools.product(
            dict.fromkeys(conditions.heel),
            dict.fromkeys(conditions.trim),
            dict.fromkeys(conditions.water_temperature_C),
            dict.fromkeys(conditions.salinity),
            (False, True),
        )
    )


def _name(
    heel: Radian, trim: Radian, temperature_C: float, salinity: float | None, dirty: bool
) -> str:
    parts = [_attitude(heel, "starboard down", "port down")]
    if trim:
        parts.append(_attitude(trim, "bow down", "bow up"))
    parts.append(f"{temperature_C:.4g} degC")
    if salinity is not None:
        parts.append(f"{salinity * 1000:.4g} g/kg")
    parts.append("filters dirty" if dirty else "filters clean")
    return ", ".join(parts)


def _attitude(angle: Radian, positive: str, negative: str) -> str:
    if not angle:
        return "upright"
    return f"{abs(math.degrees(angle)):.4g} deg {positive if angle > 0 else negative}"
