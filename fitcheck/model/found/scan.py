"""What a look at a mesh file alone can tell, before anybody has said what it is of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.model.found.space import Space
from fitcheck.units import CubicMetre, Direction, Metre, Radian, Ratio

#: Three numbers in the mesh's own unit and axes.
Numbers = tuple[Ratio, Ratio, Ratio]


@dataclass(frozen=True, slots=True, kw_only=True)
class UpOffered:
    """A direction that may be up: `axis` ("y") where one of the mesh's is near, else "".

    level : share of the surface that lies square to it; lean : angle from the axis; declared : the
    format calls it up, `axis` then with its sign
    """

    axis: str
    direction: Direction
    level: Ratio
    lean: Radian
    declared: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A rim of open edges: about how wide, how long round it, where. In the mesh's own unit."""

    width: Ratio
    rim: Ratio
    place: Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Bits:
    """Loose bits: how many, the size of the largest and where it is, in the mesh's own unit."""

    count: int
    largest: Ratio
    place: Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubledWalls:
    """Share of the surface with another behind it that faces the same way, how far, where."""

    share: Ratio
    apart: Ratio
    place: Numbers


@dataclass(frozen=True, eq=False, kw_only=True)
class Preview:
    """What would count as seen if the scanner had been held at the `eyes` offered.

    inside, eyes, opening place and width are in the mesh's own unit; `space` holds the labels, its
    axes those of the mesh, its lengths those of the mesh times Look.scale; closed : a fill from
    inside does not run out; stations : the eyes are where the file says the scanner stood
    """

    space: Space
    inside: Numbers
    eyes: tuple[Numbers, ...]
    stations: bool
    closed: bool
    opening: Gap | None
    free: CubicMetre
    unseen: CubicMetre


@dataclass(frozen=True, eq=False, kw_only=True)
class ScanLook:
    """Everything a mesh file alone can tell; lengths are in its own unit.

    unit  : metres per unit, None when nobody said; unit_from says who did
    scale : what lengths were multiplied by to look at it: the unit, or one that makes it 3 m long
    """

    file: str
    triangles: int
    points: int
    bodies: int
    open_edges: int
    crossed: int
    extents: Numbers
    bounds: tuple[Numbers, Numbers]
    unit: Metre | None
    unit_from: Literal["file", "user", ""]
    declared: Metre | None
    scale: Metre
    said: tuple[str, ...]
    ups: tuple[UpOffered, ...]
    gaps: tuple[Gap, ...]
    bits: Bits | None
    doubled: DoubledWalls | None
    preview: Preview | None
