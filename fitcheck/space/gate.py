"""The gate every mesh file passes: judged before the loader and again after it."""

from __future__ import annotations

import contextlib
import io
import logging
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.space.formats import REEXPORT, Promise, read_promise
from fitcheck.space.topology import Topology, topology
from fitcheck.units import Point, Ratio


@dataclass(frozen=True, eq=False, kw_only=True)
class RawMesh:
    """Triangles as the file has them, (n, 3, 3) in the mesh's own axes and unit.

    raw counts them before those without area were dropped; `dropped` says so in words.
    """

    triangles: NDArray[np.float64]
    raw: int
    dropped: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeshFacts:
    """What can be told of a mesh file without knowing its unit; lengths in its own unit.

    bounds : lowest and highest corner of the box round it, in its own axes
    """

    triangles: int
    extents: tuple[Ratio, Ratio, Ratio]
    bounds: tuple[tuple[Ratio, Ratio, Ratio], tuple[Ratio, Ratio, Ratio]]
    bodies: int
    open_edges: int


def describe(mesh_path: Path | str) -> MeshFacts:
    """Facts of a mesh file that help to write a scenario for it. Raises MeshError."""
    mesh = read_mesh(Path(mesh_path))
    low, high = mesh.triangles.min(axis=(0, 1)), mesh.triangles.max(axis=(0, 1))
    found: Topology = topology(mesh.triangles)
    return MeshFacts(
        triangles=len(mesh.triangles),
        extents=_triple(high - low),
        bounds=(_triple(low), _triple(high)),
        bodies=found.bodies,
        open_edges=found.open_edges,
    )


def read_mesh(path: Path) -> RawMesh:
    """Read STL, OBJ, PLY, GLB or glTF, or raise MeshError with what was seen and what to do."""
    promise = read_promise(path)
    triangles = _load(path)
    _check_count(triangles, promise, path.name)
    _check_numbers(triangles, promise, path.name)
    kept, dropped = _without_slivers(triangles)
    if len(kept) == 0:
        raise MeshError(path.name, "none of its triangles has an area", REEXPORT)
    return RawMesh(triangles=kept, raw=len(triangles), dropped=dropped)


def _load(path: Path) -> NDArray[np.float64]:
    """All triangles of a file with the transforms of its tree applied."""
    # A reader of foreign files may fail in any way there is; the user gets one line.
    try:
        with _silence():
            scene = trimesh.load_scene(path, process=False)
            parts = [_placed(scene, node) for node in scene.graph.nodes_geometry]
    except Exception as error:
        seen = f"cannot be read ({type(error).__name__}: {_one_line(error)})"
        raise MeshError(path.name, seen, REEXPORT) from error
    parts = [part for part in parts if len(part)]
    if not parts:
        raise MeshError(path.name, "no triangles could be read from it", REEXPORT)
    return np.ascontiguousarray(np.concatenate(parts), dtype=np.float64)


def _placed(scene: trimesh.Scene, node: str) -> NDArray[np.float64]:
    transform, name = scene.graph[node]
    part = scene.geometry[name]
    if not isinstance(part, trimesh.Trimesh):
        return np.empty((0, 3, 3))
    points = np.asarray(part.vertices, dtype=np.float64)
    moved = points @ np.asarray(transform)[:3, :3].T + np.asarray(transform)[:3, 3]
    triangles: NDArray[np.float64] = moved[np.asarray(part.faces)]
    return triangles[:, ::-1] if np.linalg.det(transform[:3, :3]) < 0.0 else triangles


@contextlib.contextmanager
def _silence() -> Iterator[None]:
    """Keep the loader from talking: warnings, log lines and prints."""
    level = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):
            warnings.simplefilter("ignore")
            yield
    finally:
        logging.disable(level)


def _one_line(error: Exception) -> str:
    text = " ".join(str(error).split())
    return text if len(text) <= 120 else text[:117] + "..."


def _check_count(triangles: NDArray[np.float64], promise: Promise, name: str) -> None:
    if promise.triangles is not None and promise.triangles != len(triangles):
        seen = f"promises {promise.triangles:,} triangles, {len(triangles):,} could be read"
        raise MeshError(name, seen, REEXPORT)


def _check_numbers(triangles: NDArray[np.float64], promise: Promise, name: str) -> None:
    bad = int((~np.isfinite(triangles)).any(axis=(1, 2)).sum())
    if bad:
        seen = f"{bad:,} of {len(triangles):,} triangles have a corner that is no number"
        raise MeshError(name, seen, "repair the mesh where it was made and export it again")
    points = triangles.reshape(-1, 3)
    low, high = points.min(axis=0), points.max(axis=0)
    extent, far = float((high - low).max()), float(np.abs(points).max())
    if far > 1e30:
        raise MeshError(name, f"has coordinates as large as {far:.1e}", REEXPORT)
    grain = float(np.spacing(np.float32(far))) if promise.short else float(np.spacing(far))
    if extent == 0.0 or grain > 1e-3 * extent:
        seen = f"its coordinates lie about {far:.3g} from the origin, where the file's numbers "
        seen += f"are {grain:.2g} apart, and all of it is {extent:.3g} long"
        raise MeshError(name, seen, "export it again near the origin")
    _refuse_outlier(points, name)


def _refuse_outlier(points: NDArray[np.float64], name: str) -> None:
    """A corner twenty times farther out than almost all the others is a mistake, not a wall."""
    if len(points) < 3000:
        return
    low, high = np.quantile(points, [0.0005, 0.9995], axis=0)
    span = float((high - low).max())
    excess = np.maximum(low - points, points - high).max(axis=1)
    worst = int(excess.argmax())
    if excess[worst] > 20.0 * span:
        where = " ".join(f"{value:.4g}" for value in points[worst])
        seen = f"a corner lies at {where} while 99.9 % of them lie within {span:.3g}"
        raise MeshError(name, seen, "delete that corner and export the mesh again")


def _without_slivers(
    triangles: NDArray[np.float64],
) -> tuple[NDArray[np.float64], tuple[str, ...]]:
    """Drop triangles without area: they bound nothing, and their edges belong to others."""
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    doubled = np.linalg.norm(np.cross(first, second), axis=1)
    longest = np.maximum(np.linalg.norm(first, axis=1), np.linalg.norm(second, axis=1))
    flat = doubled <= 1e-12 * longest**2
    count = int(flat.sum())
    if count == 0:
        return triangles, ()
    return triangles[~flat], (f"{count:,} triangles without area",)


def _triple(values: NDArray[np.float64]) -> Point:
    x, y, z = (float(value) for value in values)
    return (x, y, z)
