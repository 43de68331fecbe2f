"""The user's description of the boat, in SI.

Points marked Picked are as picked on the mesh, in the mesh's own axes and unit; every other point
is in the boat frame (x forward, y to port, z up; origin on the centreline at the sea surface below
the inside point).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.units import (
    Celsius,
    Direction,
    Metre,
    Pascal,
    Picked,
    Point,
    Radian,
    Ratio,
)

#: Whether a board already exists.
BoardState = Literal["existing", "planned"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeMeasure:
    """A length measured on board between two picked points, uncertainty `within` (95 %)."""

    start: Picked
    end: Picked
    length: Metre
    within: Metre = 0.003


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """A direction, in the boat frame ("up", "aft" ...) or in the mesh's axes (towards a point)."""

    frame: Literal["boat", "mesh"]
    vector: Direction


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """A picked point whose height above the sea was measured, and how."""

    point: Picked
    above_sea: Metre
    taken: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Centreline:
    """A picked point and its distance from the centreline, positive to port."""

    point: Picked
    offset: Metre


@dataclass(frozen=True, slots=True, kw_only=True)
class Lid:
    """A plane over an opening: three or more picked corners in order around it."""

    name: str
    corners: tuple[Picked, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Volume:
    """A box aligned with the boat's axes that just encloses all picked corners (two or more).

    Hoses keep `distance` from it in addition to their clearance (a hot thing).
    """

    name: str
    corners: tuple[Picked, ...]
    why: str
    distance: Metre = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A point picked on the mesh, or a position in the boat frame [m]."""

    frame: Literal["boat", "mesh"]
    at: Picked


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A rectangular board: four corners in order around one face, and its thickness.

    The thickness extends away from the inside point, or along `grows` if given.
    """

    name: str
    corners: tuple[Spot, ...]
    thickness: Metre
    state: BoardState
    grows: Bearing | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """Space touched on board beside a module or on the route of a line, and the gap measured.

    position : of the module in the layout when it was checked, None of a line
    """

    of: str
    at: Spot
    gap: Metre
    position: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoatPort:
    """A fixed connection of the boat; `bearing` points out of it, the way a hose leaves.

    `opening_below` is how far the opening in the hull is below the point where the hose begins.
    """

    name: str
    role: Literal["seacock", "overboard", "tank", "other"]
    at: Picked
    bearing: Bearing
    connection: str
    thread: str
    opening_below: Metre = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A hole in a bulkhead a hose may pass, square to the bulkhead along `bearing`."""

    name: str
    centre: Picked
    bearing: Bearing
    diameter: Metre


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """The states the boat is judged in; every combination counts.

    heel positive starboard down, trim positive bow down; salinity as mass fraction. `given` names
    those stated by the user; the rest are common practice.
    """

    heel: tuple[Radian, ...]
    trim: tuple[Radian, ...]
    water_temperature_C: tuple[Celsius, ...]
    salinity: tuple[Ratio, ...]
    atmosphere: Pascal
    given: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Boat:
    """A compartment: its mesh, how to read it, and the fixed things in it.

    `scan_accuracy` is the uncertainty of a surface (95 %); for a drawing, of the boat as built.
    `level` are points at the same height. `rays` is a file with measured points besides the mesh,
    `stations` a list of the scanner's position for each frame; "" without.
    """

    name: str
    mesh: str
    origin: Literal["scan", "cad"]
    unit: Metre | None
    tape_measures: tuple[TapeMeasure, ...]
    scan_accuracy: Metre | None
    up: Direction | None
    forward: Direction
    waterline: tuple[Picked, ...]
    datum: Datum | None
    centreline: Centreline | None
    flotation: Picked | None
    inside: Picked
    viewpoints: tuple[Picked, ...]
    crop: tuple[Picked, ...]
    lids: tuple[Lid, ...]
    keep_outs: tuple[Volume, ...]
    solids: tuple[Volume, ...]
    declared_free: tuple[Volume, ...]
    ports: tuple[BoatPort, ...]
    holes: tuple[Hole, ...]
    hatch: Lid | None
    conditions: Conditions
    level: tuple[Picked, ...] = ()
    boards: tuple[Board, ...] = ()
    checked: tuple[Checked, ...] = ()
    rays: str = ""
    stations: str = ""
