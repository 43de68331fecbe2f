"""What can be learned from a mesh file alone, before anything about it is declared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.findings.said import Said
from fitcheck.model.found.space import Space
from fitcheck.units import CubicMetre, Direction, Metre, Radian, Ratio

#: Three numbers in the mesh's own unit and axes.
Numbers = tuple[Ratio, Ratio, Ratio]


@dataclass(frozen=True, slots=True, kw_only=True)
class UpOffered:
    """A direction that may be up: `axis` ("y") where one of the mesh's is close, else "".

    level : share of the surface that is square to it; lean : angle from the axis; declared : the
    format calls it up, `axis` then with its sign
    """

    axis: str
    direction: Direction
    level: Ratio
    lean: Radian
    declared: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A rim of open edges: approximate width, perimeter, place. In the mesh's own unit."""

    width: Ratio
    rim: Ratio
    place: Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Bits:
    """Loose pieces: how many, the size of the largest and its place, in the mesh's own unit."""

    count: int
    largest: Ratio
    place: Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubledWalls:
    """Share of the surface with another behind it that faces the same way, the distance, the
    place.
    """

    share: Ratio
    apart: Ratio
    place: Numbers


@dataclass(frozen=True, eq=False, kw_only=True)
class Preview:
    """What would count as seen if the scanner had been at the suggested `eyes`.

    inside, eyes, opening place and width are in the mesh's own unit; `space` contains the labels,
    with the axes of the mesh and its lengths times Look.scale; closed : a fill from inside does
    not leak out; stations : the eyes are the scanner positions of the file
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
    """Everything a mesh file alone can show; lengths are in its own unit.

    unit : metres per unit, None if not declared; unit_from names the source
    scale : factor applied to lengths for the preview: the unit, or one that makes it 3 m long
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
    said: tuple[str | Said, ...]
    ups: tuple[UpOffered, ...]
    gaps: tuple[Gap, ...]
    bits: Bits | None
    doubled: DoubledWalls | None
    preview: Preview | None
