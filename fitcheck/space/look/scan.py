"""Examine a mesh file before anything about it has been declared."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.meshfiles.gate import RawMesh, read_mesh
from fitcheck.meshfiles.splats import make_splats
from fitcheck.meshfiles.topology import Topology, body_sizes, topology
from fitcheck.model.finding import Tell, silent
from fitcheck.model.found.scan import Bits, DoubledWalls, Gap, ScanLook
from fitcheck.space.look.bits import BIT
from fitcheck.space.look.gaps import find_doubled, find_gaps
from fitcheck.space.look.preview import preview
from fitcheck.space.look.upward import find_ups
from fitcheck.units import Metre

#: Length assumed for a mesh while its unit is unknown.
UNKNOWN: Metre = 3.0
#: Openings narrower than this are not reported.
LEAST_GAP: Metre = 0.020


def scan(mesh_path: Path | str, unit: Metre | None = None, tell: Tell = silent) -> ScanLook:
    """Report what a mesh file contains and what would be seen of it. Raises MeshError.

    unit : metres per unit as stated by the user; else as declared by the file, else unknown
    """
    path = Path(mesh_path)
    mesh = read_mesh(path)
    told = f"{mesh.raw:,} {'points' if mesh.is_cloud else 'triangles'}"
    tell(f"Read {told}.")
    taken = unit if unit is not None else mesh.unit
    rows = mesh.points if mesh.is_cloud else mesh.triangles.reshape(-1, 3)
    low, high = rows.min(axis=0), rows.max(axis=0)
    scale = taken if taken is not None else UNKNOWN / float((high - low).max())
    surface = _surface(mesh, scale)
    look = ScanLook(
        file=path.name,
        triangles=0 if mesh.is_cloud else len(surface),
        points=len(mesh.points),
        bodies=0,
        open_edges=0,
        crossed=0,
        extents=as_point(high - low),
        bounds=(as_point(low), as_point(high)),
        unit=taken,
        unit_from="user" if unit is not None else "file" if taken is not None else "",
        declared=mesh.unit,
        scale=scale,
        said=mesh.said + mesh.doubts + tuple(f"{words} were dropped" for words in mesh.dropped),
        ups=find_ups(surface, mesh.up),
        gaps=(),
        bits=None,
        doubled=None,
        preview=None,
    )
    if not mesh.is_cloud:
        look = _with_topology(look, surface)
        tell("Gaps, loose pieces and double walls checked.")
    if not mesh.is_cloud or len(surface):
        look = replace(look, preview=preview(surface, scale * mesh.stations, scale))
        tell("Lines of sight checked.")
    return look


def _surface(mesh: RawMesh, scale: Metre) -> NDArray[np.float64]:
    """Triangles, or squares for points, in metres or scaled as if 3 m long."""
    if not mesh.is_cloud:
        return np.ascontiguousarray(mesh.triangles * scale)
    towards = np.empty((0, 3))
    if len(mesh.stations):
        known = np.concatenate([scale * mesh.stations, np.full((1, 3), np.nan)])
        towards = known[mesh.station]
    return make_splats(scale * mesh.points, mesh.normals, towards).triangles


def _with_topology(look: ScanLook, surface: NDArray[np.float64]) -> ScanLook:
    found = topology(surface)
    bits, large = _bits(surface, found, look.scale)
    gaps = tuple(_unscaled(gap, look.scale) for gap in find_gaps(surface, found, LEAST_GAP))
    doubled = find_doubled(surface)
    if doubled is not None:
        doubled = DoubledWalls(
            share=doubled.share,
            apart=doubled.apart / look.scale,
            place=as_point(np.array(doubled.place) / look.scale),
        )
    return replace(
        look,
        bodies=large,
        open_edges=found.open_edges,
        crossed=found.crossed,
        gaps=gaps,
        bits=bits,
        doubled=doubled,
    )


def _bits(surface: NDArray[np.float64], found: Topology, scale: Metre) -> tuple[Bits | None, int]:
    """Bodies smaller than a loose piece, and the number of larger ones."""
    size = body_sizes(surface, found)
    small = np.flatnonzero(size < BIT)
    if len(small) == 0 or len(small) == len(size):
        return None, len(size)
    largest = int(small[size[small].argmax()])
    middle = surface[found.body == largest].mean(axis=(0, 1))
    bits = Bits(
        count=len(small),
        largest=float(size[largest]) / scale,
        place=as_point(middle / scale),
    )
    return bits, len(size) - len(small)


def _unscaled(gap: Gap, scale: Metre) -> Gap:
    return Gap(
        width=gap.width / scale,
        rim=gap.rim / scale,
        place=as_point(np.array(gap.place) / scale),
    )
