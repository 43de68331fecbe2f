"""OBJ and PLY: what the file promises, judged before the loader opens it.

The loader answers a truncated file with an empty scene or a few faces and no word of warning.
"""

from __future__ import annotations

import contextlib
import io
import logging
import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.space.polygons import cut_polygons
from fitcheck.space.reading import MAX_POINTS, REEXPORT, Reading, refuse_count

_OBJ_CORNER = re.compile(rb"(?:^|[\r\n])[ \t]*v[ \t]+\S")


def read_obj(path: Path, name: str) -> Reading:
    """Read an OBJ; materials and textures are left alone. Raises MeshError."""
    text = path.read_bytes()
    if b"\0" in text:
        raise MeshError(name, "is not text, so no OBJ", "check what kind of file it is")
    corners = sum(1 for _ in _OBJ_CORNER.finditer(text))
    if corners == 0:
        raise MeshError(name, "is text but has no vertex lines, so no OBJ", REEXPORT)
    if not text.endswith((b"\n", b"\r")):
        raise MeshError(name, "its last line has no end (cut short?)", REEXPORT)
    triangles = _obj_triangles(text, name)
    if len(triangles) == 0:
        seen = f"has {corners:,} points and no faces (a point cloud, or cut short?)"
        raise MeshError(name, seen, "export a mesh, or the cloud as PLY, LAS or E57")
    return Reading(triangles=triangles, promised=len(triangles))


def _obj_triangles(text: bytes, name: str) -> NDArray[np.float64]:
    """Faces of an OBJ; numbers from 1, or below 0 counted back from the face's own line."""
    joined = re.sub(rb"\\(\r\n|\n|\r)", b" ", text)
    points: list[list[float]] = []
    ring: list[int] = []
    sizes: list[int] = []
    for line in joined.splitlines():
        words = line.partition(b"#")[0].split()
        if not words or words[0] not in (b"v", b"f"):
            continue
        try:
            if words[0] == b"v":
                x, y, z = words[1:4]
                points.append([float(x), float(y), float(z)])
                continue
            numbers = [int(word.partition(b"/")[0]) for word in words[1:]]
        except ValueError:
            shown = line[:60].decode("latin-1")
            raise MeshError(name, f"line not understood: {shown!r}", REEXPORT) from None
        if len(numbers) < 3 or 0 in numbers:
            shown = line[:60].decode("latin-1")
            raise MeshError(name, f"a face without three corners: {shown!r}", REEXPORT)
        ring += [at - 1 if at > 0 else len(points) + at for at in numbers]
        sizes.append(len(numbers))
    if not sizes:
        return np.empty((0, 3, 3))
    refuse_count(len(ring) - 2 * len(sizes), name)
    return _cut(np.array(points), ring, sizes, name)


def _cut(
    points: NDArray[np.float64], ring: list[int], sizes: list[int], name: str
) -> NDArray[np.float64]:
    try:
        index = cut_polygons(points, np.array(ring, dtype=np.int64), np.array(sizes, dtype=int))
    except (ValueError, OverflowError) as error:
        raise MeshError(name, str(error), REEXPORT) from None
    return np.asarray(points[index], dtype=np.float64)


# --- PLY ----------------------------------------------------------------------------------------

_KINDS = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
    **dict.fromkeys(("int64",), "i8"),
    **dict.fromkeys(("uint64",), "u8"),
}
MAX_HEAD = 65_536


@dataclass(slots=True)
class _Element:
    """One element of a PLY header: name, count, properties and lists as (name, kind or kinds).

    order : all of them as they follow in a row, with whether each is a list
    """

    name: str
    count: int
    properties: list[tuple[str, str]]
    lists: list[tuple[str, str, str]]
    order: list[tuple[str, bool]]

    def corners(self, row: list[bytes]) -> list[int]:
        """The corner numbers in a text row of a face. Raises ValueError where the row is wrong."""
        found: list[int] = []
        at = 0
        for key, listed in self.order:
            size = int(row[at]) if listed and at < len(row) else 0
            if size < 0 or at + size >= len(row):
                raise ValueError
            if listed and key.startswith("vertex_ind"):
                found = [int(word) for word in row[at + 1 : at + 1 + size]]
            at += 1 + size
        if at != len(row) or len(found) < 3:
            raise ValueError
        return found

    def least(self) -> int:
        """The fewest bytes it can take (every face a triangle)."""
        each = sum(np.dtype(kind).itemsize for _, kind in self.properties)
        for name, size, kind in self.lists:
            items = 3 if self.name == "face" and "ind" in name else 0
            each += np.dtype(size).itemsize + items * np.dtype(kind).itemsize
        return self.count * each


def read_ply(path: Path, name: str) -> Reading:
    """Read a PLY with faces, or the points of one without. Raises MeshError."""
    with path.open("rb") as file:
        head = file.read(MAX_HEAD)
    if not head.startswith(b"ply"):
        raise MeshError(name, "does not begin with 'ply', so no PLY", REEXPORT)
    end = re.search(rb"^end_header[ \t]*\r?\n", head, re.MULTILINE)
    if end is None:
        raise MeshError(name, "its PLY header has no end (cut short?)", REEXPORT)
    lines = [line.split() for line in head[: end.start()].decode("latin-1").splitlines()]
    elements = _elements(lines, name)
    form = next((line[1] for line in lines if line[:1] == ["format"] and len(line) > 1), "")
    if form not in ("ascii", "binary_little_endian", "binary_big_endian"):
        raise MeshError(name, f"its PLY format is '{form[:40]}', which is none", REEXPORT)
    body = path.stat().st_size - end.end()
    # A number and its blank take two bytes at least.
    wanted = sum(2 * e.count if form == "ascii" else e.least() for e in elements)
    if body < wanted:
        seen = f"the header promises {wanted:,} bytes or more, {body:,} follow (cut short)"
        raise MeshError(name, seen, REEXPORT)
    faces = next((e.count for e in elements if e.name == "face"), 0)
    if not faces:
        return _points(path, end.end(), elements, form, name)
    refuse_count(faces, name)
    if form == "ascii":
        triangles = _text_faces(path.read_bytes()[end.end() :], elements, name)
        return Reading(triangles=triangles, promised=len(triangles))
    short = not any("double" in line or "float64" in line for line in lines)
    return Reading(triangles=_load(path.read_bytes(), "ply", name), short=short)


def _elements(lines: list[list[str]], name: str) -> list[_Element]:
    found: list[_Element] = []
    try:
        for line in lines:
            if line[:1] == ["element"]:
                found.append(_Element(line[1], int(line[2]), [], [], []))
            elif line[:2] == ["property", "list"]:
                found[-1].lists.append((line[4], _KINDS[line[2]], _KINDS[line[3]]))
                found[-1].order.append((line[4], True))
            elif line[:1] == ["property"]:
                found[-1].properties.append((line[2], _KINDS[line[1]]))
                found[-1].order.append((line[2], False))
    except (IndexError, KeyError, ValueError):
        shown = " ".join(line)[:80]
        raise MeshError(name, f"PLY header line not understood: {shown!r}", REEXPORT) from None
    if any(element.count < 0 for element in found):
        raise MeshError(name, "its PLY header has a negative count", REEXPORT)
    return found


def _text_faces(body: bytes, elements: list[_Element], name: str) -> NDArray[np.float64]:
    """Triangles of a text PLY whose rows are as many and as long as its header says."""
    if not body.endswith((b"\n", b"\r")):
        raise MeshError(name, "its last line has no end (cut short?)", REEXPORT)
    rows = [row for line in body.splitlines() if (row := line.split())]
    promised = sum(element.count for element in elements)
    if len(rows) != promised:
        seen = f"the header promises {promised:,} rows, {len(rows):,} follow (cut short?)"
        raise MeshError(name, seen, REEXPORT)
    points = np.empty((0, 3))
    ring: list[int] = []
    sizes: list[int] = []
    start = 0
    for element in elements:
        own = rows[start : start + element.count]
        start += element.count
        keys = [key for key, _ in element.properties]
        try:
            if element.name == "vertex":
                if any(len(row) != len(keys) for row in own):
                    raise ValueError
                columns = [keys.index(key) for key in "xyz"]
                points = np.array([[float(row[at]) for at in columns] for row in own])
            elif element.name == "face":
                for row in own:
                    ring += (corners := element.corners(row))
                    sizes.append(len(corners))
        except ValueError:
            seen = f"a row of its {element.name[:40]} list is not as the header says"
            raise MeshError(name, seen, REEXPORT) from None
    return _cut(points, ring, sizes, name)


def _points(path: Path, start: int, elements: list[_Element], form: str, name: str) -> Reading:
    """Points and normals of a PLY without faces."""
    if not elements or elements[0].name != "vertex" or elements[0].lists:
        raise MeshError(name, "has no faces and does not begin with its points", REEXPORT)
    vertex = elements[0]
    names = [key for key, _ in vertex.properties]
    if vertex.count == 0 or not {"x", "y", "z"} <= set(names) or len(set(names)) < len(names):
        raise MeshError(name, "has neither faces nor points", REEXPORT)
    if vertex.count > MAX_POINTS:
        seen = f"has {vertex.count:,} points, the most is {MAX_POINTS:,}"
        raise MeshError(name, seen, "cut the compartment out of it or thin the cloud")
    if form == "ascii":
        columns = _ascii_columns(path, start, vertex, name)
    else:
        order = "<" if "little" in form else ">"
        row = np.dtype([(key, order + kind) for key, kind in vertex.properties])
        rows = np.memmap(path, dtype=row, mode="r", offset=start, shape=(vertex.count,))
        columns = {key: rows[key] for key in names}
    points = _stacked(columns, ("x", "y", "z"))
    normals = np.empty((0, 3))
    if {"nx", "ny", "nz"} <= set(names):
        normals = _stacked(columns, ("nx", "ny", "nz"))
    short = all(kind != "f8" for key, kind in vertex.properties if key in ("x", "y", "z"))
    return Reading(points=points, normals=normals, short=short)


def _ascii_columns(
    path: Path, start: int, vertex: _Element, name: str
) -> dict[str, NDArray[np.float64]]:
    wide = len(vertex.properties)
    with path.open("rb") as file:
        file.seek(start)
        words = (float(word) for line in file for word in line.split())
        try:
            flat = np.fromiter(words, np.float64, count=vertex.count * wide)
        except ValueError:
            raise MeshError(name, "breaks off among its points", REEXPORT) from None
    rows = flat.reshape(vertex.count, wide)
    return {key: rows[:, at] for at, (key, _) in enumerate(vertex.properties)}


def _stacked(
    columns: dict[str, NDArray[np.float64]], keys: tuple[str, ...]
) -> NDArray[np.float64]:
    return np.stack([np.asarray(columns[key], dtype=np.float64) for key in keys], axis=1)


# --- the loader ---------------------------------------------------------------------------------


def _load(data: bytes, kind: str, name: str) -> NDArray[np.float64]:
    """All triangles of a file, with no other file opened."""
    # A reader of foreign files may fail in any way there is; the user gets one line.
    try:
        with _silence():
            scene = trimesh.load_scene(io.BytesIO(data), file_type=kind, process=False)
            parts = [_placed(scene, node) for node in scene.graph.nodes_geometry]
    except Exception as error:
        seen = f"cannot be read ({type(error).__name__}: {_one_line(error)})"
        raise MeshError(name, seen, REEXPORT) from error
    parts = [part for part in parts if len(part)]
    if not parts:
        raise MeshError(name, "no triangles could be read from it", REEXPORT)
    if len(parts) == 1:
        return parts[0]
    return np.concatenate(parts)


def _placed(scene: trimesh.Scene, node: str) -> NDArray[np.float64]:
    """Triangles of one node; OBJ and PLY know no transforms."""
    part = scene.geometry[scene.graph[node][1]]
    if not isinstance(part, trimesh.Trimesh):
        return np.empty((0, 3, 3))
    if len(part.faces) and np.asarray(part.faces).min() < 0:
        raise ValueError("a face asks for a corner that is not there")
    triangles = np.asarray(part.vertices, dtype=np.float64)[np.asarray(part.faces)]
    if triangles.shape[1:] != (3, 3):
        raise ValueError("a corner has not three coordinates")
    return triangles


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
