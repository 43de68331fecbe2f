"""Convert the compartment and its boxes to the arrays of the search, and results back to names."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box
from fitcheck.geometry.curve import Curve
from fitcheck.geometry.distance import TriangleIndex, index_triangles, point_box
from fitcheck.model.contact import Kind
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.space import UNSEEN, Lattice, Space
from fitcheck.routing.world.barred import steps_to
from fitcheck.routing.world.close import Close, close_grid
from fitcheck.routing.world.field import Dark, World
from fitcheck.routing.world.ports import BARELY, End, Job
from fitcheck.routing.world.structure import Structure

#: Edge of the bins triangles are sorted into, in cells.
BIN_CELLS = 2.0
#: A port of another line closer than this is the same port: two hoses on one tee [m].
SAME_PORT = 1e-3


@dataclass(frozen=True, eq=False, kw_only=True)
class Tube:
    """A piece of another hose: rows (n, 11) as Curve.pieces; the job it belongs to.

    whole : it is a routed hose, which might be moved
    """

    pieces: NDArray[np.float64]
    job: Job
    whole: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class Obstacles:
    """Everything in the compartment except hoses.

    lattice : the cells of the search; dark : the unseen ones of the space itself
    boxes : (n, 15) rows with their kinds and plain names
    spaces : withdrawal spaces with the modules they belong to
    hot : (n, 16) rows with `hot_names`, the last column the extra distance of hoses
    structure : surfaces that carry clips, None where not needed
    """

    space: Space
    lattice: Lattice
    dark: Dark
    triangles: TriangleIndex
    boxes: NDArray[np.float64]
    names: tuple[str, ...]
    kinds: tuple[Kind, ...]
    spaces: NDArray[np.float64]
    space_owners: tuple[str, ...]
    still: NDArray[np.float32]
    room: NDArray[np.float32]
    spot: NDArray[np.uint8]
    hot: NDArray[np.float64]
    hot_names: tuple[str, ...]
    close: Close
    structure: Structure | None = None

    def world(self, job: Job, tubes: Iterable[Tube]) -> World:
        """The obstacles of one hose, with its own empty cache for the nodes."""
        extra = self.spaces[self.kept_spaces(job)]
        return World(
            triangles=self.triangles,
            label=self.lattice.label,
            dark=self.dark,
            reach=self.lattice.distance,
            origin=np.array(self.lattice.grid.origin, dtype=np.float64),
            pitch=np.array([self.lattice.grid.pitch]),
            boxes=self.boxes,
            extra=_asking(extra, job),
            tubes=tube_rows(job, tubes),
            still=self.still,
            node=np.full(self.still.shape, -1.0, dtype=np.float32),
            room=self.room,
            spot=self.spot,
            hot=self.hot,
            close=self.close,
        )

    def kept_spaces(self, job: Job) -> NDArray[np.int64]:
        """Withdrawal spaces this hose must avoid: all but those its straight ends are in."""
        keep = [row for row in range(len(self.spaces)) if not self._stands_in(job, row)]
        return np.array(keep, dtype=np.int64)

    def _stands_in(self, job: Job, row: int) -> bool:
        centre, half, axes = _unpacked(self.spaces[row])
        share = np.linspace(0.02, 1.0, 25)[:, None]
        for end in job.ends:
            points = end.at + share * (end.tip - end.at)
            if (np.abs((points - centre) @ axes.T) < half + 1e-9).all(axis=1).any():
                return True
        return False

    def own_box(self, end: End) -> int:
        """Row of the box of the module an end is fixed to, -1 for the boat."""
        return self.module_row(end.owner)

    def module_row(self, name: str) -> int:
        """Row of the box of a module, -1 if it has none."""
        named = zip(self.kinds, self.names, strict=True)
        return next((row for row, one in enumerate(named) if one == ("module", name)), -1)


def _asking(rows: NDArray[np.float64], job: Job) -> NDArray[np.float64]:
    """(n, 16) withdrawal spaces and what each requires beyond `need`: less by the whole clearance.

    The space is air: a hose may run beside it, only not in it.
    """
    asked = np.full((len(rows), 1), -job.clearance)
    for number in range(len(rows)):
        spare = min(point_box(*end.tip, rows, number) for end in job.ends) - job.half
        if 0.0 <= spare < BARELY:
            # a straight end may just touch it; the verdict makes no exception
            asked[number] -= BARELY
    return np.hstack([rows, asked])


def _unpacked(
    row: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    return row[:3], row[3:6], row[6:15].reshape(3, 3)


def box_row(box: Box) -> list[float]:
    """A box as a row: centre, half sizes, three axes."""
    return [*box.centre, *box.half, *box.axes[0], *box.axes[1], *box.axes[2]]


def tube_rows(job: Job, tubes: Iterable[Tube]) -> NDArray[np.float64]:
    """(n, 12) pieces of other hoses and what each requires of this one beyond its own need."""
    parts = []
    for tube in tubes:
        margin = np.full((len(tube.pieces), 1), job.beside(tube.job))
        parts.append(np.hstack([tube.pieces, margin]))
    return np.concatenate(parts) if parts else np.zeros((0, 12))


def stub(end: End, job: Job) -> Tube:
    """The straight length at one end as a tube, with the fitting it begins on."""
    row = [*end.at, *end.way, 0.0, 0.0, 0.0, 0.0, end.straight]
    return Tube(pieces=np.vstack([row, end.body]), job=job)


def stubs_beside(job: Job, jobs: Iterable[Job]) -> list[Tube]:
    """Straight lengths of all other hoses, except those on the same port."""
    return [
        stub(end, other)
        for other in jobs
        if other is not job
        for end in other.ends
        if all(np.linalg.norm(end.at - own.at) > SAME_PORT for own in job.ends)
    ]


def tube(curve: Curve, job: Job) -> Tube:
    """A routed hose as a tube, including its fittings."""
    pieces = np.vstack([curve.pieces, *(end.body for end in job.ends)])
    return Tube(pieces=pieces, job=job, whole=True)


def dark_of(space: Space) -> Dark:
    """The unseen cells of a space, prepared for distance queries."""
    return Dark(
        label=space.label,
        steps=steps_to(space.label == UNSEEN),
        origin=np.array(space.grid.origin, dtype=np.float64),
        pitch=np.array([space.grid.pitch]),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Ground:
    """The parts of a compartment that no box and no hose changes: triangles, unseen cells."""

    triangles: TriangleIndex
    dark: Dark


def ground_of(space: Space) -> Ground:
    """Index the compartment."""
    triangles = index_triangles(space.triangles, BIN_CELLS * space.grid.pitch)
    return Ground(triangles=triangles, dark=dark_of(space))


def gather(space: Space, fit: Fit, ground: Ground | None = None) -> Obstacles:
    """The compartment with its volumes and the module boxes; indexed if no ground is given."""
    ground = ground or ground_of(space)
    named: list[tuple[str, Box, Kind]] = [(one.name, one.box, "module") for one in fit.modules]
    named += [(one.name, one.box, "keep-out") for one in space.keep_outs]
    named += [
        (one.name, one.box, "board" if one.board == "planned" else "solid") for one in space.solids
    ]
    spaces = [
        (module.name, service.box)
        for module in fit.modules
        for service in module.service
        if service.kind == "withdrawal"
    ]
    hot = [volume for volume in (*space.keep_outs, *space.solids) if volume.distance > 0.0]
    lattice = space.lattice
    shape = lattice.grid.shape
    return Obstacles(
        space=space,
        lattice=lattice,
        dark=ground.dark,
        triangles=ground.triangles,
        boxes=np.array([box_row(box) for _, box, _ in named]).reshape(-1, 15),
        names=tuple(name for name, _, _ in named),
        kinds=tuple(kind for _, _, kind in named),
        spaces=np.array([box_row(box) for _, box in spaces]).reshape(-1, 15),
        space_owners=tuple(name for name, _ in spaces),
        still=np.full(shape, -1.0, dtype=np.float32),
        room=np.full(shape, -1.0, dtype=np.float32),
        spot=np.full(shape, 8, dtype=np.uint8),
        hot=np.array([[*box_row(one.box), one.distance] for one in hot]).reshape(-1, 16),
        close=close_grid(shape, lattice.grid.pitch),
        hot_names=tuple(one.name for one in hot),
    )
