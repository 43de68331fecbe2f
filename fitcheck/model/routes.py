"""Where every hose runs: legs and bends, length, bound, clearance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.finding import Assumption, Finding
from fitcheck.units import Direction, Metre, Point, Radian

BoundKind = Literal["direct", "certificate", "unobstructed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A straight piece."""

    start: Point
    end: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """A circular arc; `normal` is the right-hand axis it turns about, `angle` in (0, pi)."""

    centre: Point
    normal: Direction
    radius: Metre
    angle: Radian
    start: Point
    end: Point


@dataclass(frozen=True, eq=False, kw_only=True)
class HoseRoute:
    """One hose, routed. Legs and bends alternate: leg, bend, leg ... leg.

    length and bound run port face to port face. bound holds for any hose of this bend radius and
    clearance between these ports, other hoses removed. clearance is from the hose's outer surface
    to the nearest triangle, unseen cell, keep-out, other box or other hose; not counted: the
    straight length at each end against the thing it is fixed to, and the declared hole.
    path : (n, 3) float64, on the curve, spaced at most 5 mm [m]
    """

    line: str
    hose: str
    length: Metre
    bound: Metre
    bound_kind: BoundKind
    smallest_bend_radius: Metre | None
    required_bend_radius: Metre
    clearance: Metre
    clearance_to: str
    required_clearance: Metre
    outside_diameter: Metre
    uncertainty: Metre
    start: Point
    start_direction: Direction
    end: Point
    end_direction: Direction
    straight: Metre
    holes: tuple[str, ...]
    legs: tuple[Leg, ...]
    bends: tuple[Bend, ...]
    path: NDArray[np.float64]

    def __post_init__(self) -> None:
        self.path.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unrouted:
    """A hose for which no way was found, and how near the search came."""

    line: str
    hose: str
    reason: str
    nearest_approach: Point
    missing: Metre
    bound: Metre
    required_bend_radius: Metre
    required_clearance: Metre
    outside_diameter: Metre
    start: Point
    start_direction: Direction
    end: Point
    end_direction: Direction


@dataclass(frozen=True, slots=True, kw_only=True)
class Routes:
    """All hoses, in the kit's order of lines."""

    hoses: tuple[HoseRoute | Unrouted, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]

    def hose(self, line: str) -> HoseRoute | Unrouted:
        """The hose of that line."""
        return next(hose for hose in self.hoses if hose.line == line)
