"""The route of every hose: legs and bends, length, bound, clearance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Said
from fitcheck.geometry.box import Box, as_axes, as_point
from fitcheck.model.contact import Contact, Kind
from fitcheck.model.finding import Assumption, Finding
from fitcheck.model.given.kit import Way
from fitcheck.units import Direction, Metre, Point, Radian, Ratio

#: Width of a drawn clip.
CLIP_WIDTH: Metre = 0.014

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """Where a hose is clipped: a point of its centre line and the direction to the support.

    along is the distance along the hose from the start's port face; distance is from the hose's
    outer surface to the support, which `to` names for people.
    """

    along: Metre
    point: Point
    normal: Direction
    kind: Kind
    to: str
    distance: Metre

    def block(self, outside_diameter: Metre) -> Box:
        """A block from the centre line of the hose to the surface, to be drawn."""
        normal = np.array(self.normal)
        aside = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
        aside /= np.linalg.norm(aside)
        half = (outside_diameter / 2 + self.distance) / 2
        return Box(
            centre=as_point(np.array(self.point) + half * normal),
            half=(half, CLIP_WIDTH / 2, CLIP_WIDTH / 2),
            axes=as_axes(np.stack([normal, aside, np.cross(normal, aside)])),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch out of reach of any surface, as distances along the hose, and its middle."""

    start: Metre
    end: Metre
    place: Point

    @property
    def length(self) -> Metre:
        """Length of the unsupported span."""
        return self.end - self.start


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembly:
    """A made-up hose of a given length between the ports, and whether a route was found for it.

    length is face to face; `stock` if hose is sold in that length. Under pressure the length
    changes: `longer` and `shorter` say whether it could be routed then too, None where that is not
    required. legs and bends are the route at `length`, its excess in a bow; empty without a route.
    """

    length: Metre
    stock: bool
    laid: bool
    longer: bool | None
    shorter: bool | None
    legs: tuple[Leg, ...]
    bends: tuple[Bend, ...]

    @property
    def stands(self) -> bool:
        """Whether it can be routed, at rest and under pressure."""
        return self.laid and self.longer is not False and self.shorter is not False


@dataclass(frozen=True, eq=False, kw_only=True)
class HoseRoute:
    """One hose, routed. Legs and bends alternate: leg, bend, leg ... leg.

    length and bound are port face to port face. bound holds for any hose of this bend radius and
    clearance between these ports, without other hoses. clearance is from the hose's outer surface
    to the nearest triangle, unseen cell, keep-out, other box or other hose; not counted: the
    straight length at each end against the thing it is fixed to, and the declared hole.
    contacts : the nearest thing of every kind, each with its own uncertainty; uncertainty of
    length and clearance_uncertainty are at 95 %
    path : (n, 3) float64, on the curve, spaced at most 5 mm [m]
    unsupported : stretches whose outer surface is further than `reach` from any surface
    assembly : the made-up hose it is ordered as, None for tube cut on board
    wander : the ordered length reaches with the modules at its ends displaced by up to +- this
    along each axis, in the directions tried; None where no end is on a module
    mounting_spare : length added for the mounting tolerance required by the kit; inf where no
    length was found
    weak : the glimpsed space it needs, None if it needs none
    fittings : the kit's fittings used at its start and end, "" for the bare port;
    `fitting_loss_coefficient` is their loss on the hose bore
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
    way: Way = "shortest"
    reach: Metre = 0.060
    clips: tuple[Clip, ...] = ()
    unsupported: tuple[Span, ...] = ()
    assembly: Assembly | None = None
    wander: Metre | None = None
    mounting_spare: Metre = 0.0
    clearance_uncertainty: Metre = 0.0
    contacts: tuple[Contact, ...] = ()
    weak: Contact | None = None
    fittings: tuple[str, str] = ("", "")
    fitting_loss_coefficient: Ratio = 0.0

    def __post_init__(self) -> None:
        self.path.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unrouted:
    """A hose without a route, and how close the search came."""

    line: str
    hose: str
    said: Said
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

    @property
    def reason(self) -> str:
        """Why no route was found, in words."""
        return self.said.text()


@dataclass(frozen=True, slots=True, kw_only=True)
class Routes:
    """All hoses, in the kit's order of lines."""

    hoses: tuple[HoseRoute | Unrouted, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]

    def hose(self, line: str) -> HoseRoute | Unrouted:
        """The hose of that line."""
        return next(hose for hose in self.hoses if hose.line == line)
