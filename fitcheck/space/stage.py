"""The space stage: from a scenario's boat to the space that may be trusted as free."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError, ScenarioError
from fitcheck.findings.said import quantity, say
from fitcheck.geometry.box import as_point
from fitcheck.geometry.raster import touched_cells
from fitcheck.model.finding import Finding, Tell, silent
from fitcheck.model.found.space import FREE, UNSEEN, Known, Lattice, PlacedVolume, Space
from fitcheck.model.given.boat import Boat
from fitcheck.model.given.scenario import Scenario
from fitcheck.space import remarks
from fitcheck.space.blame import Site, blame, stands_in
from fitcheck.space.boards import on_boards, place_boards, with_boards
from fitcheck.space.cells.field import distance_field
from fitcheck.space.cells.labels import (
    Cell,
    Evidence,
    Labelling,
    Matter,
    cells_of,
    declare_free,
    label_closed,
    label_seen,
    within,
)
from fitcheck.space.cells.lattice import lattice_of
from fitcheck.space.cells.openings import widest_opening
from fitcheck.space.cells.rays import Rays, share_on_surfaces
from fitcheck.space.cells.sight import Scene, build_scene
from fitcheck.space.checked import count_checks
from fitcheck.space.compartment import (
    Compartment,
    bring_aboard,
    cell_of,
    check_pitch,
    fill_grid,
    long_search,
)
from fitcheck.space.datum.frame import to_boat
from fitcheck.space.datum.place import place, place_holes, place_ports, place_volumes
from fitcheck.space.file_remarks import on_file
from fitcheck.space.look.bits import loose_bits
from fitcheck.space.look.rims import spans
from fitcheck.space.shown import doubted, waver_of
from fitcheck.units import CubicMetre, Metre, Ratio

#: Least share of measured points on the mesh. In simulated scans of three severities it was 88 %
#: or more.
LEAST_ON_MESH: Ratio = 0.80
#: Positions of the scanner shown, of those a file gives.
MOST_SHOWN = 30


def survey(scenario: Scenario, tell: Tell = silent, cell: Metre | None = None) -> Space:
    """Read the boat's mesh and label every cell free, solid or unseen.

    cell : edge of the cells [m]; by default the compartment's size decides. The pitch of the
    layout only affects the hose search and changes nothing of what is known. Raises MeshError for
    an unusable mesh, ScenarioError with the declaration that leaves nothing free; openings, unseen
    corners and misplaced picks are findings.
    """
    boat = scenario.boat
    compartment = bring_aboard(boat)
    told = compartment.provenance
    points = f"{told.points:,} points as " if told.points else ""
    tell(f"Read {points}{compartment.raw:,} triangles.")
    name = Path(boat.mesh).name
    pitch = scenario.layout.pitch
    if said_of_pitch := long_search(check_pitch(compartment, pitch, name), pitch):
        tell(said_of_pitch)
    matter = fill_grid(compartment, cell or cell_of(compartment), name)
    site = Site(boat=boat, compartment=compartment, matter=matter)
    where = stands_in(compartment.inside, site)
    if where:
        raise ScenarioError((blame(scenario, site, where, _usable),))
    labelling, said, turned = _label(site, tell)
    lapsed, checked = count_checks(scenario, compartment.bearings.frame, matter.grid, labelling)
    tell(f"Labelled {matter.grid.cells:,} cells free, solid or unscanned.")
    if not _left(site, labelling).any():
        tell("Nothing is free; looking for the declaration that leaves nothing.")
        raise ScenarioError((blame(scenario, site, "", _usable),))
    space = _measured(boat, compartment, matter, labelling)
    free, unseen = quantity(space.free_volume, "room"), quantity(space.unseen_volume, "room")
    tell(say("step.found", free=free, unseen=unseen))
    waver = waver_of(compartment.surface) if boat.origin == "scan" else None
    sure, doubt = doubted(boat, scenario.boat_file, space.uncertainty, waver)
    space = replace(space, uncertainty=sure, searched=_searched(space, pitch))
    if labelling.glimpsed.any():
        space = replace(space, glimpsed=_glimpsed(space, matter, labelling, pitch))
    said += doubt + on_file(boat, compartment, matter.grid.pitch)
    said += remarks.on_mesh(compartment, labelling, len(space.bits))
    said += remarks.on_space(space, matter) + on_boards(space)
    said += lapsed + remarks.on_ports(space, scenario) + remarks.on_holes(space)
    taken = remarks.assumptions(boat, space, labelling, turned, waver)
    return replace(
        space,
        findings=compartment.bearings.findings + said,
        assumptions=compartment.bearings.assumptions + taken + checked,
    )


def _searched(space: Space, pitch: Metre) -> Lattice | None:
    """Cells at the pitch of the hose search, None where the space's own cells will do."""
    if abs(pitch - space.grid.pitch) < 1e-9:
        return None
    boxes = tuple(volume.box for volume in space.keep_outs + space.solids)
    return lattice_of(space.grid, space.label, space.triangles, boxes, pitch)


def _glimpsed(space: Space, matter: Matter, labelling: Labelling, pitch: Metre) -> Known:
    """The same cells with those free that were seen, though not beyond doubt."""
    label = with_boards(labelling.as_seen, matter.grid, space.boards)
    distance = _distance(matter, space.triangles, label, space.keep_outs + space.solids)
    seen = replace(space, label=label, distance=distance)
    return Known(label=label, distance=distance, searched=_searched(seen, pitch))


def _distance(
    matter: Matter,
    triangles: NDArray[np.float64],
    label: NDArray[np.uint8],
    volumes: tuple[PlacedVolume, ...],
) -> NDArray[np.float32]:
    boxes = tuple(volume.box for volume in volumes)
    return distance_field(matter.grid, triangles, matter.surface | matter.lid, label, boxes)


def _label(site: Site, tell: Tell = silent) -> tuple[Labelling, tuple[Finding, ...], int]:
    """Labels, findings on them, and the number of cells that are free by declaration alone."""
    labelling, said = _looked(site.boat, site.compartment, site.matter, tell)
    declared = place_volumes(site.compartment.bearings.frame, site.boat.declared_free)
    boxes = tuple(volume.box for volume in declared)
    turned = declare_free(labelling, site.matter.grid, boxes, site.matter.allowed)
    return labelling, said, turned


def _left(site: Site, labelling: Labelling) -> NDArray[np.bool_]:
    """Free cells outside all boards and keep-outs; none if the inside point is in a board."""
    frame, grid = site.compartment.bearings.frame, site.matter.grid
    boards = place_boards(frame, site.boat.boards, site.compartment.inside)
    free: NDArray[np.bool_] = with_boards(labelling.as_seen, grid, boards) == FREE
    inside = np.array([site.compartment.inside])
    if any(float(board.box.distance(inside)[0]) <= 0.0 for board in boards):
        free[:] = False
    for volume in place_volumes(frame, site.boat.keep_outs):
        free &= ~cells_of(grid, volume.box)
    return free


def _usable(site: Site) -> CubicMetre:
    """The volume available to boxes and hoses, 0 where the inside point is not in air."""
    if stands_in(site.compartment.inside, site):
        return 0.0
    return float(_left(site, _label(site)[0]).sum()) * site.matter.grid.pitch**3


def _looked(
    boat: Boat, compartment: Compartment, matter: Matter, tell: Tell
) -> tuple[Labelling, tuple[Finding, ...]]:
    """Label by the method the mesh allows: a flood fill when it is drawn and closed, else by
    sight.
    """
    start = _cell(compartment, matter)
    scene = build_scene(
        matter.grid,
        compartment.surface,
        matter.block,
        matter.lid,
        _spanned(boat, compartment, matter),
    )
    said: tuple[Finding, ...] = ()
    eyes, blind = _open_eyes(compartment, matter)
    if boat.origin == "cad":
        closed = label_closed(matter, scene, start)
        if closed is not None:
            return closed, remarks.on_pocket(closed, matter, compartment.inside)
        opening = widest_opening(matter.grid, ~matter.solid, start)
        said = remarks.on_leak(opening, judged_by_sight=len(eyes) > 0)
    given = len(eyes) + len(blind)
    if len(eyes) == 0 and compartment.rays is None:
        eyes = np.array([compartment.inside])
    if boat.rays and compartment.rays is not None:
        _check_same_axes(scene, compartment.rays, Path(boat.rays).name)
    evidence = Evidence(
        eyes=eyes,
        rays=compartment.rays,
        scan=boat.origin == "scan",
        cloud=compartment.provenance.points > 0,
    )
    seen = label_seen(matter, scene, start, evidence, tell)
    return seen, said + remarks.on_sight(seen, boat, blind, given, compartment.inside)


def _check_same_axes(scene: Scene, rays: Rays, name: str) -> None:
    """Raise MeshError where the points of a separate file are not those of the mesh."""
    share = share_on_surfaces(scene, rays)
    if share < LEAST_ON_MESH:
        raise MeshError(
            name,
            f"only {100.0 * share:.0f} % of its points are on the mesh",
            "export points, stations and mesh in the same axes and unit, from the same scan",
            "boat.rays",
        )


def _spanned(boat: Boat, compartment: Compartment, matter: Matter) -> NDArray[np.bool_]:
    """Cells of the holes in a scan, except those that contain a viewpoint or the inside point."""
    mask = np.zeros(matter.grid.shape, dtype=np.bool_)
    if boat.origin != "scan" or compartment.provenance.points:
        return mask
    stands = matter.grid.centre(
        matter.grid.index(np.vstack([compartment.eyes, compartment.inside]))
    )
    for fan in spans(compartment.surface):
        reach = 2.0 * matter.grid.pitch
        low, high = fan.min(axis=(0, 1)) - reach, fan.max(axis=(0, 1)) + reach
        near = stands[((stands > low) & (stands < high)).all(axis=1)]
        cells = touched_cells(fan, matter.grid)
        if len(near) and cells[tuple(matter.grid.index(near).T)].any():
            continue
        mask |= cells
    return mask


def _cell(compartment: Compartment, matter: Matter) -> Cell:
    """The inside point's cell."""
    index = matter.grid.index(np.array(compartment.inside))
    return int(index[0]), int(index[1]), int(index[2])


def _open_eyes(
    compartment: Compartment, matter: Matter
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The viewpoints in the open, and those in a surface or a declared solid."""
    eyes = compartment.eyes
    index = matter.grid.index(eyes)
    blind = (matter.surface | matter.block)[tuple(index.T)]
    return eyes[~blind], eyes[blind]


def _stands(compartment: Compartment) -> NDArray[np.float64]:
    """Where the scanner stood: the viewpoints declared, and some of those the file gives [m]."""
    if compartment.rays is None:
        return compartment.eyes
    stations = compartment.rays.stations
    return np.concatenate([compartment.eyes, stations[:: max(1, len(stations) // MOST_SHOWN)]])


def _measured(boat: Boat, compartment: Compartment, matter: Matter, labelling: Labelling) -> Space:
    """The Space without findings and assumptions."""
    frame = compartment.bearings.frame
    surface = compartment.surface
    if labelling.facing < 0.0:
        surface = surface[:, ::-1]
    triangles = np.ascontiguousarray(np.concatenate([surface, compartment.lids]))
    keep_outs = place_volumes(frame, boat.keep_outs)
    boards = place_boards(frame, boat.boards, compartment.inside)
    solids = place_volumes(frame, boat.solids) + boards
    label = with_boards(labelling.label, matter.grid, boards)
    outside = (label == UNSEEN) & ~within(label)
    if boat.origin == "cad" and labelling.needed == 0:
        outside = label == UNSEEN
    return Space(
        frame=frame,
        grid=matter.grid,
        triangles=triangles,
        label=label,
        distance=_distance(matter, triangles, label, keep_outs + solids),
        inside=compartment.inside,
        flotation=(0.0, 0.0, 0.0) if boat.flotation is None else place(frame, boat.flotation),
        viewpoints=tuple(as_point(eye) for eye in _stands(compartment)),
        ports=place_ports(frame, boat),
        holes=place_holes(frame, boat),
        keep_outs=keep_outs,
        solids=solids,
        declared_free=place_volumes(frame, boat.declared_free),
        hatch=(
            ()
            if boat.hatch is None
            else tuple(as_point(p) for p in to_boat(frame, np.array(boat.hatch.corners)))
        ),
        uncertainty=replace(compartment.bearings.uncertainty, cell=matter.grid.pitch),
        raw_triangles=compartment.raw,
        dropped=compartment.dropped,
        findings=(),
        assumptions=(),
        unseen_outside=float(outside.sum()) * matter.grid.pitch**3,
        # Squares that stand for points are not connected to anything.
        bits=() if compartment.provenance.points else loose_bits(compartment.surface),
        lid_triangles=len(compartment.lids),
    )
