"""What is known of the compartment, in the boat frame."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box
from fitcheck.geometry.grid import Grid
from fitcheck.model.finding import Assumption, Finding
from fitcheck.model.given.boat import BoardState
from fitcheck.model.uncertainty import Uncertainty
from fitcheck.units import CubicMetre, Direction, Metre, Point, Ratio

#: Values of Space.label.
FREE, SOLID, UNSEEN = 0, 1, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Mesh coordinates to boat frame: boat = scale * turn @ mesh + shift."""

    scale: Metre
    turn: tuple[Direction, Direction, Direction]
    shift: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedPort:
    """A fixed connection of the boat in the boat frame; `direction` points the way a
    hose leaves.
    """

    name: str
    role: Literal["seacock", "overboard", "tank", "other"]
    at: Point
    direction: Direction
    connection: str
    thread: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedHole:
    """A bulkhead hole in the boat frame; it may be passed either way along `direction`."""

    name: str
    centre: Point
    direction: Direction
    diameter: Metre


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedVolume:
    """A keep-out, declared solid or board in the boat frame; hoses keep `distance` more from it.

    `board` says whether a board exists or is planned, None for anything else; a board's thickness
    is along the box's third axis.
    """

    name: str
    box: Box
    why: str
    distance: Metre = 0.0
    board: BoardState | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseBit:
    """A small unconnected body of the mesh, a bracket or noise, and its enclosing ball."""

    centre: Point
    radius: Metre


@dataclass(frozen=True, eq=False, kw_only=True)
class Lattice:
    """Cells of the hose search; what is known is decided on those of the space.

    label : grid.shape uint8: FREE, UNSEEN where the centre is unseen, SOLID where a triangle or
    unseen space is in the cell and has to be measured
    distance : grid.shape float32, like that of the space
    """

    grid: Grid
    label: NDArray[np.uint8]
    distance: NDArray[np.float32]

    def __post_init__(self) -> None:
        for array in (self.label, self.distance):
            array.setflags(write=False)


@dataclass(frozen=True, eq=False, kw_only=True)
class Known:
    """The cells with glimpsed ones taken as free; fields as in Space."""

    label: NDArray[np.uint8]
    distance: NDArray[np.float32]
    searched: Lattice | None

    def __post_init__(self) -> None:
        for array in (self.label, self.distance):
            array.setflags(write=False)


@dataclass(frozen=True, eq=False, kw_only=True)
class Space:
    """The compartment: triangles, labelled cells and a lower bound on the distance.

    triangles : (n, 3, 3) float64, boat frame [m], the last `lid_triangles` are those of lids
    solids : declared solids and boards
    label : grid.shape uint8, FREE, SOLID or UNSEEN
    distance : grid.shape float32, lower bound on the distance from a cell's centre to the nearest
    triangle, unseen cell or keep-out [m]
    searched : cells at the requested pitch, None if the space's own are used
    glimpsed : the same with unseen cells free that viewpoints saw but the scan does not prove;
    None without any
    """

    frame: Frame
    grid: Grid
    triangles: NDArray[np.float64]
    label: NDArray[np.uint8]
    distance: NDArray[np.float32]
    inside: Point
    flotation: Point
    viewpoints: tuple[Point, ...]
    ports: tuple[PlacedPort, ...]
    holes: tuple[PlacedHole, ...]
    keep_outs: tuple[PlacedVolume, ...]
    solids: tuple[PlacedVolume, ...]
    declared_free: tuple[PlacedVolume, ...]
    hatch: tuple[Point, ...]
    uncertainty: Uncertainty
    raw_triangles: int
    dropped: tuple[str, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]
    unseen_outside: CubicMetre = 0.0
    bits: tuple[LooseBit, ...] = ()
    lid_triangles: int = 0
    searched: Lattice | None = None
    glimpsed: Known | None = None

    def __post_init__(self) -> None:
        for array in (self.triangles, self.label, self.distance):
            array.setflags(write=False)

    @cached_property
    def as_seen(self) -> Space | None:
        """The space in which glimpsed cells are free, None where there are none."""
        if self.glimpsed is None:
            return None
        known = self.glimpsed
        return replace(
            self,
            label=known.label,
            distance=known.distance,
            searched=known.searched,
            glimpsed=None,
        )

    @property
    def lattice(self) -> Lattice:
        """The cells of the hose search."""
        return self.searched or Lattice(grid=self.grid, label=self.label, distance=self.distance)

    @property
    def accuracy(self) -> Metre:
        """Uncertainty of a surface (95 %) [m]."""
        return self.uncertainty.of_surface()

    @property
    def scale_uncertainty(self) -> Ratio:
        """Standard uncertainty of every length, as a share of it."""
        return self.uncertainty.scale

    @property
    def height_uncertainty(self) -> Metre:
        """Uncertainty of the sea level below the inside point (95 %) [m]."""
        x, y, _ = self.inside
        return self.uncertainty.of_height((x, y, self.uncertainty.middle[2]))

    @property
    def free_volume(self) -> CubicMetre:
        """Volume of the cells seen free [m3]."""
        return float((self.label == FREE).sum()) * self.grid.pitch**3

    @property
    def unseen_volume(self) -> CubicMetre:
        """Volume of the unseen cells, without those outside the compartment [m3].

        `unseen_outside` are those: cells that do not have something known on both sides along two
        of the axes.
        """
        return float((self.label == UNSEEN).sum()) * self.grid.pitch**3 - self.unseen_outside

    @property
    def boards(self) -> tuple[PlacedVolume, ...]:
        """The boards among the solids."""
        return tuple(solid for solid in self.solids if solid.board is not None)

    def port(self, name: str) -> PlacedPort:
        """The boat port of that name."""
        return next(port for port in self.ports if port.name == name)

    def hole(self, name: str) -> PlacedHole:
        """The hole of that name."""
        return next(hole for hole in self.holes if hole.name == name)
