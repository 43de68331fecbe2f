"""Uncertainty of the boat frame: one statement, propagated into every gap, length and height.

Standard uncertainties are combined as the root of their squares and the result is expanded to 95 %
by the factor 1.96 (JCGM 100:2008, "Guide to the expression of uncertainty in measurement", clauses
5.1.2 and 6.2). Values based on few readings were already widened by Student's factor (the same,
annex G.3), so one factor is enough.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from fitcheck.model.contact import Kind
from fitcheck.units import Metre, Point, Radian, Ratio

#: Expands a standard uncertainty to 95 %, normal distribution (JCGM 100:2008, table G.1).
COVERAGE: Ratio = 1.96

Verdict = Literal["clear", "tight", "does not fit"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainty:
    """Standard uncertainties of what a survey knows; every method returns one expanded to 95 %.

    surface : of a point on a surface, square to it: noise, smoothing, drift, or building
    pick : of a point picked by hand, in addition
    scale : share of every length; modules are set out from the origin of the boat frame
    height : of the sea level at `middle`; roll, trim: of its slope to port and forward
    cell : edge of a cell
    """

    surface: Metre = 0.0
    pick: Metre = 0.0
    scale: Ratio = 0.0
    height: Metre = 0.0
    middle: Point = (0.0, 0.0, 0.0)
    roll: Radian = 0.0
    trim: Radian = 0.0
    cell: Metre = 0.0

    def of_surface(self) -> Metre:
        """A point on a surface, without scale and level [m]."""
        return COVERAGE * self.surface

    def of_gap(self, place: Point, met: Kind = "mesh") -> Metre:
        """A gap between a module or hose, set out from the frame's origin, and what it meets [m].

        Scale moves a surface in the direction from the origin, tilt square to it, so together they
        move it by at most the larger of the two. The edge of unseen cells is not a surface; half a
        cell either way is a rectangular distribution. Volumes were picked by hand; a module, hose
        or planned board is set out like the box itself.
        """
        if met in ("module", "hose", "board"):
            return 0.0
        lever = max(self.scale, self.roll, self.trim) * math.dist(place, (0.0, 0.0, 0.0))
        end = self.cell / math.sqrt(12.0) if met in ("unseen", "glimpsed") else self.surface
        pick = self.pick if met in ("keep-out", "solid", "hot") else 0.0
        return COVERAGE * math.hypot(lever, end, pick)

    def of_length(self, length: Metre, picked: int = 0) -> Metre:
        """A length between places or along a hose, with `picked` of its ends picked by
        hand [m].
        """
        ends = math.hypot(self.surface, self.surface, math.sqrt(picked) * self.pick)
        return COVERAGE * math.hypot(self.scale * length, ends)

    def of_height(self, place: Point, *, picked: bool = False) -> Metre:
        """The height of a place above the sea [m]; both tilts are assumed to act together."""
        ahead, aside = (abs(place[axis] - self.middle[axis]) for axis in (0, 1))
        tilt = self.trim * ahead + self.roll * aside
        pick = math.hypot(self.surface, self.pick) if picked else 0.0
        up = self.scale * abs(place[2] - self.middle[2])
        return COVERAGE * math.hypot(self.height, tilt, up, pick)


def rounded(uncertainty: Metre) -> Metre:
    """For people: up to the next millimetre, since no uncertainty is known better [m]."""
    return math.ceil(uncertainty * 1e3 - 1e-6) / 1e3


def verdict_of(gap: Metre, uncertainty: Metre, asked: Metre = 0.0) -> Verdict:
    """Clear only if certainly so; does not fit only where no error could change that."""
    if gap - uncertainty >= asked - 1e-9:
        return "clear"
    return "tight" if gap + uncertainty >= 0.0 else "does not fit"
