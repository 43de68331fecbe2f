"""The boat's mesh in the boat frame: cropped, closed with lids and sorted into a grid."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.findings.said import Said, quantity, say
from fitcheck.geometry.box import Box, as_point
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells, touched_pairs
from fitcheck.meshfiles.frames import read_rays, with_stations
from fitcheck.meshfiles.gate import RawMesh, read_mesh
from fitcheck.meshfiles.splats import make_splats
from fitcheck.model.found.space import Frame
from fitcheck.model.given.boat import Boat
from fitcheck.space.cells.labels import Matter, cells_of
from fitcheck.space.cells.rays import Rays
from fitcheck.space.datum.frame import Bearings, find_frame, to_boat
from fitcheck.space.datum.place import lid_triangles, place, upright
from fitcheck.units import Metre, Point, amount

#: Cells beyond the mesh on every side.
MARGIN = 3
#: Cell edge used to decide what was seen: the side of a cube as large as the compartment over
#: CELLS_ALONG, limited to this range. The sight rules were calibrated at the upper limit [m].
CELLS_ALONG = 60
FINEST: Metre = 0.010
COARSEST: Metre = 0.020
MAX_CELLS = 100_000_000
#: Number of cells beyond which a check takes minutes. Measured on the demo, ten hoses, processor
#: time of the routing: 20 s at 1.9 million, 14 s at 3.6, 74 s at 6.3.
MINUTES = 5_000_000
#: No compartment is longer, and no useful one is shorter.
LONGEST: Metre = 100.0
SHORTEST: Metre = 0.10
#: Points this far outside the crop still belong to its walls; fewer than this number do not make a
#: surface.
CLOSE: Metre = 0.05
#: Phones and headsets measure no farther; common practice, no source.
FARTHEST_EYE: Metre = 5.0
FEWEST_POINTS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """What the mesh file itself declared.

    doubts : why it may not be the complete export
    unit : the unit it declares, and `taken` whether the boat is measured by it
    reach : half edge of the squares that stand for points, median and 95th percentile; 0 for a
    mesh; points, stations : of a point cloud
    """

    said: tuple[str | Said, ...]
    doubts: tuple[str, ...]
    unit: Metre | None
    taken: bool
    points: int = 0
    stations: int = 0
    reach: tuple[Metre, Metre] = (0.0, 0.0)


@dataclass(frozen=True, eq=False, kw_only=True)
class Compartment:
    """The contents of the boat file in the boat frame [m].

    surface : (n, 3, 3) triangles of the mesh inside the crop; lids : (m, 3, 3)
    eyes : (k, 3) viewpoints as declared; rays : those the scanner measured, if the file gives them
    raw : triangles of the file, or squares its points were made into
    """

    bearings: Bearings
    raw: int
    dropped: tuple[str, ...]
    provenance: Provenance
    surface: NDArray[np.float64]
    lids: NDArray[np.float64]
    crop: Box | None
    blocks: tuple[Box, ...]
    inside: Point
    eyes: NDArray[np.float64]
    rays: Rays | None = None


def bring_aboard(boat: Boat) -> Compartment:
    """Read the mesh and convert everything picked on it to the boat frame. Raises MeshError."""
    name = Path(boat.mesh).name
    mesh = read_mesh(Path(boat.mesh))
    if boat.stations and not boat.rays:
        mesh = with_stations(mesh, Path(boat.stations), name)
    taken = boat.unit is None and len(boat.tape_measures) < 2 and mesh.unit is not None
    bearings = find_frame(replace(boat, unit=mesh.unit) if taken else boat)
    frame = bearings.frame
    inside = place(frame, boat.inside)
    crop = upright(frame, boat.crop) if boat.crop else None
    told = Provenance(said=mesh.said, doubts=mesh.doubts, unit=mesh.unit, taken=taken)
    if mesh.is_cloud:
        surface, told = _splatted(mesh, bearings, crop, told, name)
    else:
        surface = to_boat(frame, mesh.triangles)
    raw = len(surface) if mesh.is_cloud else mesh.raw
    if crop is not None:
        surface = _cropped(surface, crop, name)
    _check_size(surface if crop is None else crop.corners(), name, bearings)
    eyes = np.array(boat.viewpoints, dtype=np.float64).reshape(-1, 3)
    _refuse_far(to_boat(frame, eyes), surface)
    return Compartment(
        bearings=bearings,
        raw=raw,
        dropped=mesh.dropped,
        provenance=told,
        surface=np.ascontiguousarray(surface),
        lids=lid_triangles(frame, boat.lids, inside),
        crop=crop,
        blocks=tuple(upright(frame, solid.corners) for solid in boat.solids),
        inside=inside,
        eyes=to_boat(frame, eyes),
        rays=_rays(boat, mesh, frame),
    )


def _rays(boat: Boat, mesh: RawMesh, frame: Frame) -> Rays | None:
    """The measured rays of the file that tells which point was measured from where."""
    if boat.rays:
        mesh = read_rays(Path(boat.rays), Path(boat.stations) if boat.stations else None)
    known = mesh.station >= 0
    if not len(mesh.stations) or not known.any():
        return None
    return Rays(
        stations=to_boat(frame, mesh.stations),
        points=to_boat(frame, mesh.points[known]),
        frame=mesh.station[known],
    )


def _splatted(
    mesh: RawMesh, bearings: Bearings, crop: Box | None, told: Provenance, name: str
) -> tuple[NDArray[np.float64], Provenance]:
    """The points inside the crop as squares [m]."""
    frame = bearings.frame
    points = to_boat(frame, mesh.points)
    near = np.ones(len(points), dtype=np.bool_)
    if crop is not None:
        away = np.abs(points - np.array(crop.centre)) - np.array(crop.half)
        near = (away < CLOSE).all(axis=1)
    if near.sum() < FEWEST_POINTS:
        seen = f"only {int(near.sum()):,} points are inside boat.crop"
        seen = seen if crop is not None else f"has only {len(points):,} points"
        key = "boat.mesh" if crop is None else "boat.crop"
        raise MeshError(name, seen, "pick the crop again, or export more of the cloud", key)
    _check_size(points[near], name, bearings)
    towards = np.empty((0, 3))
    if len(mesh.stations):
        known = np.concatenate([to_boat(frame, mesh.stations), np.full((1, 3), np.nan)])
        towards = known[mesh.station[near]]
    normals = mesh.normals[near] @ np.array(frame.turn).T if len(mesh.normals) else mesh.normals
    splats = make_splats(points[near], normals, towards)
    half, most = (float(value) for value in np.quantile(splats.reach, [0.5, 0.95]))
    told = replace(told, points=mesh.raw, stations=len(mesh.stations), reach=(half, most))
    return splats.triangles, told


def cell_of(compartment: Compartment) -> Metre:
    """Cell edge, determined by the compartment alone [m].

    What was seen, what is open and what a box or hose meets must not depend on the pitch chosen
    for the hose search.
    """
    low, high = _extent(compartment)
    side = float(np.prod(np.maximum(high - low, COARSEST))) ** (1 / 3)
    cell = min(max(side / CELLS_ALONG, FINEST), COARSEST)
    while math.prod(_count(high - low, cell)) > MAX_CELLS:
        cell *= 1.25
    return cell


def fill_grid(compartment: Compartment, pitch: Metre, name: str) -> Matter:
    """Sort surface, lids and declared solids into a grid around the compartment and its eyes.

    pitch : edge of its cells [m]; raises MeshError if that gives too many
    """
    grid = _grid(compartment, pitch, name)
    return Matter(
        grid=grid,
        surface=touched_cells(compartment.surface, grid),
        lid=touched_cells(compartment.lids, grid),
        block=blocked_cells(grid, compartment.blocks),
        allowed=_allowed(grid, compartment.crop),
    )


def blocked_cells(grid: Grid, blocks: Sequence[Box]) -> NDArray[np.bool_]:
    """Cells that declared solids touch. grid.shape bool."""
    block = np.zeros(grid.shape, dtype=np.bool_)
    for box in blocks:
        block |= cells_of(grid, box, touched=True)
    return block


def _cropped(surface: NDArray[np.float64], crop: Box, name: str) -> NDArray[np.float64]:
    """The triangles that share a point with the crop box, whole."""
    size = 2.0 * np.array(crop.half)
    if (size < SHORTEST).any():
        raise MeshError(
            name,
            f"the crop box is only {amount(float(size.min()), 'gap')} thick",
            "give boat.crop two points at opposite corners of the box, in all three directions",
            "boat.crop",
        )
    low = np.array(crop.centre) - np.array(crop.half)
    # In units of the box, its overlap test is that of one cell.
    unit = Grid(origin=(0.0, 0.0, 0.0), pitch=1.0, shape=(1, 1, 1))
    _, faces = touched_pairs((surface - low) / size, unit)
    if len(faces) == 0:
        seen = "no part of the mesh is inside boat.crop"
        raise MeshError(name, seen, "pick the crop again", "boat.crop")
    return np.ascontiguousarray(surface[faces])


def _check_size(points: NDArray[np.float64], name: str, bearings: Bearings) -> None:
    rows = points.reshape(-1, 3)
    length = float((rows.max(axis=0) - rows.min(axis=0)).max())
    if not SHORTEST <= length <= LONGEST:
        raise _of_the_scale(bearings) or MeshError(
            name,
            f"in the stated unit the compartment is {amount(length, 'length')} long",
            "check boat.unit and the tape measures, or cut the compartment out with boat.crop",
            "boat.unit",
        )


def _refuse_far(eyes: NDArray[np.float64], surface: NDArray[np.float64]) -> None:
    """Raise MeshError for a viewpoint from which no scanner sees the mesh."""
    rows = surface.reshape(-1, 3)
    away = np.maximum(rows.min(axis=0) - eyes, eyes - rows.max(axis=0))
    off = np.linalg.norm(np.maximum(away, 0.0), axis=1)
    if len(off) and off.max() > FARTHEST_EYE:
        key = f"boat.viewpoints, item {int(off.argmax()) + 1}"
        seen = f"the viewpoint is {amount(float(off.max()), 'length')} outside the mesh"
        raise MeshError(key, seen, "pick it again where the scanner was held", key)


def _of_the_scale(bearings: Bearings) -> MeshError | None:
    """The error for a size that is wrong because the scale is wrong, None if it is not."""
    for row in bearings.findings:
        if row.rule == "scale" and row.severity == "fail":
            remedy = "correct boat.unit or the length of the tape measurement"
            return MeshError("boat.tape", row.text.rstrip("."), remedy, "boat.tape")
    return None


def _grid(compartment: Compartment, pitch: Metre, name: str) -> Grid:
    check_pitch(compartment, pitch, name)
    low, high = _extent(compartment)
    # Half a cell off the lowest point, so that drawn walls are inside cells, not between two.
    origin = low - (MARGIN + 0.5) * pitch
    count = _count(high - low, pitch)
    return Grid(
        origin=as_point(origin),
        pitch=pitch,
        shape=count,
    )


def _extent(compartment: Compartment) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest and highest corner of the region to examine, viewpoints included [m]."""
    if compartment.crop is None:
        points = np.concatenate([compartment.surface, compartment.lids]).reshape(-1, 3)
    else:
        points = compartment.crop.corners()
    points = np.concatenate([points, compartment.eyes])
    return points.min(axis=0), points.max(axis=0)


def check_pitch(compartment: Compartment, pitch: Metre, name: str) -> int:
    """Number of cells at this pitch; MeshError, with a pitch that works, for too many."""
    low, high = _extent(compartment)
    size = high - low
    cells = math.prod(_count(size, pitch))
    if cells <= MAX_CELLS:
        return cells
    coarser = math.ceil(1000.0 * pitch * (cells / MAX_CELLS) ** (1 / 3)) / 1000.0
    # The margin does not shrink with the cells.
    while math.prod(_count(size, coarser)) > MAX_CELLS:
        coarser += 0.001
    span = " x ".join(amount(length, "run") for length in size.tolist())
    raise _of_the_scale(compartment.bearings) or MeshError(
        name,
        f"a compartment of {span} at a pitch of {amount(pitch, 'length')} has {cells:,} cells, "
        f"more than {MAX_CELLS:,}",
        "cut the compartment out with boat.crop, or set layout.pitch to "
        f"{amount(coarser, 'gap')} or more",
    )


def long_search(cells: int, pitch: Metre) -> Said | None:
    """A warning before hoses are searched on so many cells, None if that does not take minutes."""
    if cells <= MINUTES:
        return None
    coarser = math.ceil(1000.0 * pitch * (cells / MINUTES) ** (1 / 3)) / 1000.0
    return say("step.long-search", cells=cells, coarser=quantity(coarser, "file size"))


def _count(size: NDArray[np.float64], pitch: Metre) -> tuple[int, int, int]:
    """Cells along each axis of a compartment of that size, margins included."""
    count = np.floor(size / pitch + MARGIN + 0.5).astype(np.int64) + 1 + MARGIN
    return int(count[0]), int(count[1]), int(count[2])


def _allowed(grid: Grid, crop: Box | None) -> NDArray[np.bool_]:
    """Cells that may be free: off the rim of the grid and wholly inside the crop."""
    allowed = np.zeros(grid.shape, dtype=np.bool_)
    allowed[1:-1, 1:-1, 1:-1] = True
    if crop is not None:
        half = np.maximum(np.array(crop.half) - 0.5 * grid.pitch, 0.0)
        inner = Box(centre=crop.centre, half=as_point(half), axes=crop.axes)
        allowed &= cells_of(grid, inner)
    return allowed
