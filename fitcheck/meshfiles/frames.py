"""Scanner positions in a list beside a point cloud whose points have frame numbers."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.meshfiles.gate import RawMesh, read_mesh

COLUMNS = ["frame", "x", "y", "z"]
#: A list with more rows is no list of scanner positions.
MOST_ROWS = 1_000_000
_LISTED = (
    "write one row for each frame: its number and where the scanner was, say 12,0.31,1.02,0.4"
)


def read_rays(points: Path, stations: Path | None) -> RawMesh:
    """Read measured points with the frame that measured each. Raises MeshError.

    stations : list of scanner positions for points in PLY
    """
    try:
        cloud = read_mesh(points)
    except MeshError as error:
        raise MeshError(error.file, error.seen, error.remedy, "boat.rays") from None
    if not cloud.is_cloud:
        seen = "has faces; rays are points, each with the frame that measured it"
        raise MeshError(points.name, seen, "name a PLY or E57 file with points", "boat.rays")
    cloud = cloud if stations is None else with_stations(cloud, stations, points.name)
    if not len(cloud.stations) or not (cloud.station >= 0).any():
        seen = "does not tell where any of its points was measured from"
        remedy = "export E57 with scanner positions, or PLY with frame numbers and boat.stations"
        raise MeshError(points.name, seen, remedy, "boat.rays")
    return cloud


def with_stations(cloud: RawMesh, path: Path, name: str) -> RawMesh:
    """The cloud with the positions of its frames. Raises MeshError; name : of the cloud's file."""
    if not len(cloud.station):
        seen = "its points have no frame numbers"
        remedy = "give each point the property 'frame', or leave boat.stations out"
        raise MeshError(name, seen, remedy, "boat.stations")
    frames, places = read_stations(path)
    order = np.argsort(frames)
    at = np.minimum(np.searchsorted(frames[order], cloud.station), len(frames) - 1)
    found = order[at]
    known = frames[found] == cloud.station
    if not known.any():
        seen = "lists no frame that the points name"
        raise MeshError(path.name, seen, _LISTED, "boat.stations")
    return replace(cloud, stations=places, station=np.where(known, found, -1).astype(np.int32))


def read_stations(path: Path) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Frame numbers (k,) and scanner positions (k, 3) of a list, in the mesh's axes and unit.

    A CSV file with the columns frame, x, y and z. Raises MeshError.
    """
    rows: dict[int, tuple[float, ...]] = {}
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            for number, row in enumerate(csv.reader(file), 1):
                if number == 1:
                    if [word.strip().lower() for word in row] != COLUMNS:
                        raise _bad(path, number, f"should be {','.join(COLUMNS)}")
                    continue
                if not row:
                    continue
                frame, place = _row(path, number, row)
                if frame in rows:
                    raise _bad(path, number, f"frame {frame} is listed twice")
                rows[frame] = place
                if len(rows) > MOST_ROWS:
                    raise _bad(path, number, f"there are more than {MOST_ROWS:,} frames")
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise MeshError(path.name, f"cannot be read ({error})", _LISTED, "boat.stations") from None
    if not rows:
        raise MeshError(path.name, "lists no frames", _LISTED, "boat.stations")
    return np.array(list(rows), dtype=np.int64), np.array(list(rows.values()))


def _row(path: Path, number: int, row: list[str]) -> tuple[int, tuple[float, ...]]:
    try:
        frame, place = int(row[0]), tuple(float(word) for word in row[1:])
    except ValueError:
        raise _bad(path, number, "is not a frame number and three coordinates") from None
    if len(place) != 3 or not np.isfinite(place).all() or frame < 0:
        raise _bad(path, number, "is not a frame number and three coordinates")
    return frame, place


def _bad(path: Path, number: int, what: str) -> MeshError:
    return MeshError(path.name, f"line {number}: {what}", _LISTED, "boat.stations")
