"""The gate every mesh file passes: checked by its reader and again by its numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.findings.said import Said
from fitcheck.meshfiles.kinds import read_file
from fitcheck.meshfiles.reading import REEXPORT, REPAIR, Reading
from fitcheck.units import Metre

#: Up to FEW places more than FAR times as far out as the size of the rest are not a wall.
FAR, FEW = 20.0, 3
#: Corners that are sorted to find them.
SAMPLE = 300_000
#: Triangles processed together, to limit memory.
CHUNK = 250_000


@dataclass(frozen=True, eq=False, kw_only=True)
class RawMesh:
    """Triangles as in the file, (n, 3, 3) in the mesh's own axes and unit, or points.

    raw counts triangles, or points, before useless ones were dropped; `dropped` describes those.
    unit, up, said, doubts, points, normals, stations, station are those of Reading.
    """

    triangles: NDArray[np.float64]
    raw: int
    dropped: tuple[str, ...]
    unit: Metre | None
    up: str
    said: tuple[str | Said, ...]
    doubts: tuple[str, ...]
    points: NDArray[np.float64]
    normals: NDArray[np.float64]
    stations: NDArray[np.float64]
    station: NDArray[np.int32]

    @property
    def is_cloud(self) -> bool:
        """Points without faces."""
        return len(self.points) > 0


def read_mesh(path: Path) -> RawMesh:
    """Read a mesh or point cloud, or raise MeshError with the problem and the remedy."""
    reading = read_file(path, path.name)
    cloud = len(reading.triangles) == 0
    _check_count(reading, path.name)
    _check_numbers(reading, path.name)
    kept = reading.triangles
    dropped: tuple[str, ...] = ()
    if not cloud:
        kept, dropped = _without_slivers(reading.triangles)
        if len(kept) == 0:
            raise MeshError(path.name, "none of its triangles has an area", REEXPORT)
    return RawMesh(
        triangles=kept,
        raw=len(reading.points) if cloud else len(reading.triangles),
        dropped=dropped,
        unit=reading.unit,
        up=reading.up,
        said=reading.said,
        doubts=reading.doubts,
        points=reading.points if cloud else np.empty((0, 3)),
        normals=reading.normals,
        stations=reading.stations,
        station=reading.station,
    )


def _check_count(reading: Reading, name: str) -> None:
    found = len(reading.triangles)
    if found == 0 and len(reading.points) == 0:
        raise MeshError(name, "no triangles could be read from it", REEXPORT)
    if reading.promised is not None and reading.promised != found:
        seen = f"declares {reading.promised:,} triangles, {found:,} could be read"
        raise MeshError(name, seen, REEXPORT)


def _check_numbers(reading: Reading, name: str) -> None:
    what = "triangles have a corner that is" if len(reading.triangles) else "points are"
    each = reading.triangles if len(reading.triangles) else reading.points[:, None]
    bad = sum(int((~np.isfinite(part)).any(axis=(1, 2)).sum()) for part in _parts(each))
    if bad:
        raise MeshError(name, f"{bad:,} of {len(each):,} {what} no number", REPAIR)
    points = each.reshape(-1, 3)
    low, high = points.min(axis=0), points.max(axis=0)
    extent, far = float((high - low).max()), float(max(abs(low).max(), abs(high).max()))
    if not far <= 1e30:
        raise MeshError(name, f"has coordinates as large as {far:.1e}", REEXPORT)
    grain = float(np.spacing(np.float32(far))) if reading.short else float(np.spacing(far))
    if extent == 0.0 or grain > 1e-3 * extent:
        seen = f"its coordinates are about {far:.3g} from the origin, where the file's numbers "
        seen += f"are {grain:.2g} apart, and the whole mesh is {extent:.3g} long"
        raise MeshError(name, seen, "export it again near the origin")
    _refuse_outlier(points, low, high, name)


def _refuse_outlier(
    points: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64], name: str
) -> None:
    """Refuse a few corners far outside all others, in a file of any size."""
    first, last = _body(points[:: max(1, len(points) // SAMPLE)])
    span = FAR * float((last - first).max())
    if not ((first - low > span) | (high - last > span)).any():
        return
    odd = np.zeros(len(points), dtype=np.bool_)
    for column, least, most in zip(points.T, first, last, strict=True):
        for far in (column < least, column > most):
            if 0 < len(np.unique(points[far], axis=0)) <= FEW:
                odd |= far
    if not odd.any():
        return
    low, high = points[~odd].min(axis=0), points[~odd].max(axis=0)
    length = float((high - low).max())
    beyond = np.maximum(low - points[odd], points[odd] - high).max(axis=1)
    if beyond.max() > FAR * length:
        where = " ".join(f"{value:.4g}" for value in points[odd][int(beyond.argmax())])
        seen = f"a corner is at {where} while almost all others are within {length:.3g}"
        raise MeshError(name, seen, "delete that corner and export the mesh again")


def _body(points: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest and highest corner of what is left between the widest gaps of the outer quarters."""
    rows = np.sort(points, axis=0)
    quarter = len(rows) // 4
    steps = np.diff(rows, axis=0)
    lower = steps[:quarter].argmax(axis=0) + 1 if quarter else np.zeros(3, dtype=int)
    upper = len(steps) - 1 - steps[::-1][:quarter].argmax(axis=0) if quarter else len(rows) - 1
    axes = np.arange(3)
    return rows[lower, axes], rows[upper, axes]


def _without_slivers(
    triangles: NDArray[np.float64],
) -> tuple[NDArray[np.float64], tuple[str, ...]]:
    """Drop triangles without area: they bound nothing, and their edges belong to others."""
    flat = np.concatenate([_flat(part) for part in _parts(triangles)])
    count = int(flat.sum())
    if count == 0:
        return triangles, ()
    return triangles[~flat], (f"{count:,} triangles without area",)


def _flat(triangles: NDArray[np.float64]) -> NDArray[np.bool_]:
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    doubled = np.linalg.norm(np.cross(first, second), axis=1)
    longest = np.maximum(np.linalg.norm(first, axis=1), np.linalg.norm(second, axis=1))
    result: NDArray[np.bool_] = doubled <= 1e-12 * longest**2
    return result


def _parts(rows: NDArray[np.float64]) -> Iterator[NDArray[np.float64]]:
    return (rows[start : start + CHUNK] for start in range(0, len(rows), CHUNK))
