"""The boat's mesh in the boat frame, cropped, closed with lids and sorted into a grid."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.geometry.box import Box, as_point
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells, touched_pairs
from fitcheck.model.scenario import Boat
from fitcheck.space.frame import Bearings, find_frame, to_boat
from fitcheck.space.gate import RawMesh, read_mesh
from fitcheck.space.labels import Matter, cells_of
from fitcheck.space.place import lid_triangles, place, upright
from fitcheck.units import Metre, Point

#: Cells beyond the mesh on every side.
MARGIN = 3
MAX_CELLS = 100_000_000
#: No compartment is longer, none of use shorter.
LONGEST: Metre = 100.0
SHORTEST: Metre = 0.10


@dataclass(frozen=True, eq=False, kw_only=True)
class Compartment:
    """What the boat file says, in the boat frame [m].

    surface : (n, 3, 3) triangles of the mesh inside the crop; lids : (m, 3, 3)
    eyes    : (k, 3) viewpoints as declared
    """

    bearings: Bearings
    mesh: RawMesh
    surface: NDArray[np.float64]
    lids: NDArray[np.float64]
    crop: Box | None
    blocks: tuple[Box, ...]
    inside: Point
    eyes: NDArray[np.float64]


def bring_aboard(boat: Boat) -> Compartment:
    """Read the mesh and put everything picked on it into the boat frame. Raises MeshError."""
    mesh = read_mesh(Path(boat.mesh))
    bearings = find_frame(boat)
    frame = bearings.frame
    inside = place(frame, boat.inside)
    crop = upright(frame, boat.crop) if boat.crop else None
    surface = np.ascontiguousarray(to_boat(frame, mesh.triangles))
    if crop is not None:
        surface = _cropped(surface, crop, Path(boat.mesh).name)
    _check_size(surface if crop is None else crop.corners(), Path(boat.mesh).name)
    return Compartment(
        bearings=bearings,
        mesh=mesh,
        surface=surface,
        lids=lid_triangles(frame, boat.lids, inside),
        crop=crop,
        blocks=tuple(upright(frame, solid.corners) for solid in boat.solids),
        inside=inside,
        eyes=to_boat(frame, np.array(boat.viewpoints, dtype=np.float64).reshape(-1, 3)),
    )


def fill_grid(compartment: Compartment, pitch: Metre, name: str) -> Matter:
    """Sort surface, lids and declared solids into a grid round the compartment and its eyes."""
    grid = _grid(compartment, pitch, name)
    block = np.zeros(grid.shape, dtype=np.bool_)
    for box in compartment.blocks:
        block |= cells_of(grid, box, touched=True)
    return Matter(
        grid=grid,
        surface=touched_cells(compartment.surface, grid),
        lid=touched_cells(compartment.lids, grid),
        block=block,
        allowed=_allowed(grid, compartment.crop),
    )


def _cropped(surface: NDArray[np.float64], crop: Box, name: str) -> NDArray[np.float64]:
    """The triangles that share a point with the crop box, whole."""
    size = 2.0 * np.array(crop.half)
    if (size < SHORTEST).any():
        raise MeshError(
            name,
            f"the crop box is only {1000 * size.min():.0f} mm thick",
            "give boat.crop two points at opposite corners, above and below, on both sides",
        )
    low = np.array(crop.centre) - np.array(crop.half)
    # In units of the box its overlap test is that of one cell.
    unit = Grid(origin=(0.0, 0.0, 0.0), pitch=1.0, shape=(1, 1, 1))
    _, faces = touched_pairs((surface - low) / size, unit)
    if len(faces) == 0:
        raise MeshError(name, "nothing of the mesh lies inside boat.crop", "pick the crop again")
    return np.ascontiguousarray(surface[faces])


def _check_size(points: NDArray[np.float64], name: str) -> None:
    rows = points.reshape(-1, 3)
    length = float((rows.max(axis=0) - rows.min(axis=0)).max())
    if not SHORTEST <= length <= LONGEST:
        raise MeshError(
            name,
            f"in the stated unit the compartment is {length:.4g} m long",
            "check boat.unit and the tape measures, or cut the compartment out with boat.crop",
        )


def _grid(compartment: Compartment, pitch: Metre, name: str) -> Grid:
    if compartment.crop is None:
        points = np.concatenate([compartment.surface, compartment.lids]).reshape(-1, 3)
    else:
        points = compartment.crop.corners()
    points = np.concatenate([points, compartment.eyes])
    low, high = points.min(axis=0), points.max(axis=0)
    # Half a cell off the lowest point: drawn walls then fall inside cells, not between two.
    origin = low - (MARGIN + 0.5) * pitch
    count = np.floor((high - origin) / pitch).astype(np.int64) + 1 + MARGIN
    cells = math.prod(int(size) for size in count)
    if cells > MAX_CELLS:
        coarser = math.ceil(1000.0 * pitch * (cells / MAX_CELLS) ** (1 / 3)) / 1000.0
        span = " x ".join(f"{size:.2f}" for size in high - low)
        raise MeshError(
            name,
            f"{span} m at a pitch of {1000 * pitch:.3g} mm make {cells:,} cells, "
            f"more than {MAX_CELLS:,}",
            f"cut the compartment out with boat.crop, or take a pitch of {1000 * coarser:.0f} mm",
        )
    return Grid(
        origin=as_point(origin),
        pitch=pitch,
        shape=(int(count[0]), int(count[1]), int(count[2])),
    )


def _allowed(grid: Grid, crop: Box | None) -> NDArray[np.bool_]:
    """Cells that may be free: off the rim of the grid and wholly inside the crop."""
    allowed = np.zeros(grid.shape, dtype=np.bool_)
    allowed[1:-1, 1:-1, 1:-1] = True
    if crop is not None:
        half = np.maximum(np.array(crop.half) - 0.5 * grid.pitch, 0.0)
        inner = Box(centre=crop.centre, half=as_point(half), axes=crop.axes)
        allowed &= cells_of(grid, inner)
    return allowed
