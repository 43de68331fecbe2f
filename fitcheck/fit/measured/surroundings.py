"""Everything a box can meet: the mesh, unseen space, named volumes, other modules, the grid's
edge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box, surface
from fitcheck.geometry.distance import TriangleIndex, index_triangles
from fitcheck.geometry.overlap import BIN, few
from fitcheck.kernels import kernel
from fitcheck.model.contact import Contact, Kind
from fitcheck.model.found.space import SOLID, UNSEEN, Space
from fitcheck.units import Metre, Point

#: An overlap up to this is setting-out tolerance, not a clash [m]; common practice, no source.
PLAY = 0.0005
#: Packers and bedding under a box that is screwed down [m]; common practice, no source.
PACKING = 0.003
#: Declared things a box may be fixed to.
STRUCTURE: tuple[Kind, ...] = ("solid", "board")


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A named box that something may collide with."""

    name: str
    kind: Kind
    box: Box


@dataclass(frozen=True, eq=False, kw_only=True)
class Bodies:
    """Named boxes with their surfaces, twelve triangles each in the order of `each`."""

    each: tuple[Body, ...]
    index: TriangleIndex

    @cached_property
    def by_kind(self) -> tuple[Bodies, ...]:
        """The same bodies grouped by kind."""
        kinds = dict.fromkeys(body.kind for body in self.each)
        return tuple(self.of_kinds(kind) for kind in kinds)

    def of_kinds(self, *kinds: Kind) -> Bodies:
        """The bodies of the given kinds."""
        return bodies(tuple(body for body in self.each if body.kind in kinds))

    def of_triangle(self, number: int) -> Body:
        """The body that a triangle of the index belongs to."""
        return self.each[number // 12]


def bodies(each: tuple[Body, ...]) -> Bodies:
    """Gather bodies so that one search covers them all."""
    surfaces = [surface(body.box) for body in each]
    triangles = np.concatenate(surfaces) if surfaces else np.zeros((0, 3, 3))
    return Bodies(each=each, index=few(triangles))


@dataclass(frozen=True, eq=False, kw_only=True)
class Surroundings:
    """One compartment prepared for many queries.

    unseen : cells that bar a box, grid.shape: unseen, and too far from every surface for the gap
    to be the surface's own noise
    fixed : declared solids and keep-outs
    """

    space: Space
    scan: bool
    index: TriangleIndex
    unseen: NDArray[np.bool_]
    fixed: tuple[Body, ...]

    @cached_property
    def carrying(self) -> TriangleIndex:
        """What boxes may be fixed to: the existing structure, and the boards to be built."""
        boards = [surface(body.box) for body in self.fixed if body.kind == "board"]
        return index_triangles(np.concatenate([self._there, *boards]), BIN)

    @cached_property
    def there(self) -> TriangleIndex:
        """What boards may be fixed to: the mesh without lids and loose pieces, and declared
        things.
        """
        return index_triangles(self._there, BIN)

    @cached_property
    def _there(self) -> NDArray[np.float64]:
        mesh = self.space.triangles[: len(self.space.triangles) - self.space.lid_triangles]
        for bit in self.space.bits:
            away = np.linalg.norm(mesh - np.array(bit.centre), axis=-1).max(axis=1)
            mesh = mesh[away > bit.radius + PLAY]
        solids = [surface(body.box) for body in self.fixed if body.kind == "solid"]
        return np.concatenate([mesh, *solids])

    @property
    def low(self) -> NDArray[np.float64]:
        """Lowest corner of the grid [m]."""
        return np.array(self.space.grid.origin)

    @property
    def high(self) -> NDArray[np.float64]:
        """Highest corner of the grid [m]."""
        return self.low + self.space.grid.pitch * np.array(self.space.grid.shape)

    @property
    def span(self) -> Metre:
        """Upper bound on any distance in the grid [m]."""
        return float(np.linalg.norm(self.high - self.low))

    @cached_property
    def table(self) -> NDArray[np.int32]:
        """Running sums of the cells no box may contain whole: solid, or unseen and barring."""
        return running_sums((self.space.label == SOLID) | self.unseen)

    @cached_property
    def unseen_table(self) -> NDArray[np.int32]:
        """Running sums of the unseen cells that bar."""
        return running_sums(self.unseen)

    @property
    def noise(self) -> Metre:
        """How far a box may overlap the mesh through noise of the mesh alone [m]."""
        return max(PLAY, self.space.accuracy) if self.scan else PLAY

    @property
    def reach(self) -> Metre:
        """A face this close to a surface may rest on it or be screwed to it [m]."""
        return (self.space.accuracy if self.scan else 0.0) + PACKING

    def uncertainty(self, place: Point, kind: Kind = "mesh") -> Metre:
        """Uncertainty (95 %) of a gap that ends at a place, at a thing of a kind [m]."""
        return self.space.uncertainty.of_gap(place, kind)

    def contact(self, kind: Kind, gap: Metre, place: Point | None, subject: str = "") -> Contact:
        """A gap with its uncertainty; a loose piece does not count as a surface of the mesh."""
        if kind == "mesh" and place is not None:
            bits = self.space.bits
            loose = any(math.dist(place, bit.centre) <= bit.radius + PLAY for bit in bits)
            kind = "bit" if loose else kind
        unsure = self.uncertainty(place or (0.0, 0.0, 0.0), kind)
        return Contact(kind=kind, subject=subject, gap=gap, uncertainty=unsure, place=place)


def running_sums(cells: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Number of set cells below each lattice corner, one longer each way than `cells`."""
    table = np.zeros(tuple(n + 1 for n in cells.shape), dtype=np.int32)
    table[1:, 1:, 1:] = cells
    for axis in range(3):
        np.cumsum(table, axis=axis, out=table)
    return table


def surround(space: Space, *, scan: bool) -> Surroundings:
    """Prepare the compartment: triangles in bins, unseen cells that bar, named volumes.

    scan : whether the mesh was measured (it has noise) rather than drawn
    """
    solids = [
        Body(name=v.name, kind="board" if v.board == "planned" else "solid", box=v.box)
        for v in space.solids
    ]
    keep_outs = [Body(name=v.name, kind="keep-out", box=v.box) for v in space.keep_outs]
    return Surroundings(
        space=space,
        scan=scan,
        index=index_triangles(space.triangles, BIN),
        unseen=barring_cells(space),
        fixed=tuple(solids + keep_outs),
    )


def barring_cells(space: Space) -> NDArray[np.bool_]:
    """Unseen cells that bar a box: all but the noise layer on the surfaces.

    Rays stop at the first solid cell, and a scan cannot distinguish a surface from the air within
    its accuracy. So an unseen cell whose centre is within accuracy + one pitch of a solid cell's
    centre adds nothing to the triangles there, and these are judged to the same accuracy by their
    own test. A box in nothing but such cells is caught separately (see `swallowed`).
    """
    pitch = space.grid.pitch
    reach = (space.accuracy + pitch) / pitch * (1 + 1e-9)
    side = np.arange(-math.floor(reach), math.floor(reach) + 1)
    ball = np.stack(np.meshgrid(side, side, side, indexing="ij"), axis=-1).reshape(-1, 3)
    ball = ball[np.linalg.norm(ball, axis=1) <= reach]
    unseen: NDArray[np.bool_] = space.label == UNSEEN
    _wipe(space.label, SOLID, ball, unseen)
    return unseen


@kernel
def _wipe(label, solid, ball, unseen):  # type: ignore[no-untyped-def]
    """Clear `unseen` within the ball round every solid cell.

    label, unseen (ni, nj, nk); solid, the value in label; ball (m, 3) steps from it [cells].
    """
    ni, nj, nk = label.shape
    for i in range(ni):
        for j in range(nj):
            for k in range(nk):
                if label[i, j, k] != solid:
                    continue
                for b in range(len(ball)):
                    x, y, z = i + ball[b, 0], j + ball[b, 1], k + ball[b, 2]
                    if 0 <= x < ni and 0 <= y < nj and 0 <= z < nk:
                        unseen[x, y, z] = False
