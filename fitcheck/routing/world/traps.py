"""High points of a suction hose, where air collects, and the cells to bar to avoid them.

A high point is where the hose rises more than one bore above the lowest points before and after it
in the direction of gravity of some heel and trim (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.geometry.curve import Curve
from fitcheck.model.given.boat import Conditions
from fitcheck.routing.world.barred import centres, near
from fitcheck.routing.world.field import World
from fitcheck.units import Direction, Metre, Point, Ratio

#: A route without a high point may be this much longer than the shortest.
LONGER: Ratio = 1.25
#: How often a high point is barred.
ROUNDS = 3
#: Spacing of the heights taken along a hose [m].
LOOK_STEP = 0.002
#: Share of the bore that a hose may rise next to a barred cell.
SHARE: Ratio = 0.8
#: Cells barred around a high point lie within this plus its rise [m].
ROUND = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class HighPoint:
    """The worst high point of a hose: rise over the higher adjacent low point, 0 for none.

    level : height of that low point along `up` [m]
    """

    rise: Metre
    place: Point
    level: Metre
    up: Direction


def ways_up(conditions: Conditions) -> tuple[Direction, ...]:
    """Unit vectors straight up from the sea in boat axes, one for every heel and trim.

    The third row of R_y(trim) R_x(heel): heel about the boat's own x axis first, then trim.
    """
    return tuple(
        (-math.sin(trim), math.sin(heel) * math.cos(trim), math.cos(heel) * math.cos(trim))
        for heel in conditions.heel
        for trim in conditions.trim
    )


def high_point(curve: Curve, ups: Sequence[Direction], bore: Metre) -> HighPoint:
    """The high point with the greatest rise over all up directions; a rise up to the
    bore is none.
    """
    points = curve.sample(LOOK_STEP)
    worst = HighPoint(rise=0.0, place=as_point(points[0]), level=0.0, up=ups[0])
    for up in ups:
        heights = points @ np.array(up)
        before = np.minimum.accumulate(heights)
        after = np.minimum.accumulate(heights[::-1])[::-1]
        low = np.maximum(before, after)
        at = int(np.argmax(heights - low))
        rise = float(heights[at] - low[at])
        if rise > max(bore, worst.rise):
            place = as_point(points[at])
            worst = HighPoint(rise=rise, place=place, level=float(low[at]), up=up)
    return worst


def above_ends(
    world: World, ends: NDArray[np.float64], ups: Sequence[Direction], need: Metre, bore: Metre
) -> NDArray[np.bool_]:
    """Cells a hose must avoid so that it does not rise above any of the points `ends` (n, 3)."""
    places = centres(world)
    cells = np.zeros(world.label.shape, dtype=bool)
    for up in ups:
        top = float((ends @ np.array(up)).max())
        cells |= _over(world, places, up, top, need, bore)
    return cells & ~_round_ends(world, ends, need)


def above_low(
    world: World, ends: NDArray[np.float64], high: HighPoint, need: Metre, bore: Metre
) -> NDArray[np.bool_]:
    """Cells around a high point that a hose must avoid to remove it."""
    reach = np.array([ROUND + high.rise])
    cells = near(world, np.array([high.place]), reach)
    cells &= _over(world, centres(world), high.up, high.level, need, bore)
    return cells & ~_round_ends(world, ends, need)


def _over(
    world: World,
    places: NDArray[np.float64],
    up: Direction,
    level: Metre,
    need: Metre,
    bore: Metre,
) -> NDArray[np.bool_]:
    # the clearance to a barred cell keeps the hose up to half a diagonal below the cell's centre
    spare = need + SHARE * bore - 0.87 * float(world.pitch[0])
    return np.asarray(places @ np.array(up) > level + spare)


def _round_ends(world: World, ends: NDArray[np.float64], need: Metre) -> NDArray[np.bool_]:
    return near(world, ends, np.full(len(ends), need + 1.8 * float(world.pitch[0])))
