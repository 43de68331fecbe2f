"""3MF: a zip archive with triangles in XML, objects composed of others, and a unit.

After the "3D Manufacturing Format Core Specification" of the 3MF Consortium and, for objects in
another part of the archive, its "Production Extension".
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from zipfile import ZipFile

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.meshfiles.archive import open_archive, parts_of
from fitcheck.meshfiles.formats.xml_tree import Attributes, stream
from fitcheck.meshfiles.reading import REEXPORT, Reading, decimal, moved, refuse_count, whole
from fitcheck.units import Metre

UNITS: dict[str, Metre] = {
    "micron": 1e-6,
    "millimeter": 1e-3,
    "centimeter": 1e-2,
    "inch": 0.0254,
    "foot": 0.3048,
    "meter": 1.0,
}
#: An object: the archive's part and the number in it.
Key = tuple[str, str]
Use = tuple[Key, NDArray[np.float64]]
MAX_USES = 200_000
#: Extensions that move no triangle, or are read here, by a part of their address.
HARMLESS = ("/production/", "/material/")


class _Part:
    """One model part: corners and triangles of each object, and which object uses which."""

    def __init__(self, path: str, name: str) -> None:
        self.path, self.name = path, name
        self.unit = ""
        self.corners: dict[Key, array[float]] = {}
        self.faces: dict[Key, array[int]] = {}
        self.uses: dict[Key, list[Use]] = {}
        self.items: list[Use] = []
        self._at: Key = (path, "")

    def start(self, tag: str, attributes: Attributes) -> None:
        if tag == "vertex":
            corners = self.corners[self._at]
            corners.extend(decimal(attributes[axis].encode()) for axis in "xyz")
        elif tag == "triangle":
            faces = self.faces[self._at]
            faces.extend(whole(attributes[corner].encode()) for corner in ("v1", "v2", "v3"))
        elif tag == "object":
            self._at = (self.path, attributes["id"])
            if self._at in self.faces:
                raise MeshError(self.name, f"has two objects {attributes['id']}", REEXPORT)
            self.corners[self._at], self.faces[self._at] = array("d"), array("q")
            self.uses[self._at] = []
        elif tag == "component":
            self.uses[self._at].append(self._use(attributes))
        elif tag == "item":
            self.items.append(self._use(attributes))
        elif tag == "model":
            self.unit = attributes.get("unit", "millimeter")
            self._refuse_strange(attributes)

    def _refuse_strange(self, attributes: Attributes) -> None:
        spaces = {key.partition(":")[2]: value for key, value in attributes.items()}
        for needed in attributes.get("requiredextensions", "").split():
            space = spaces.get(needed, needed)
            if not any(word in space for word in HARMLESS):
                seen = f"needs the 3MF extension {space[:80]}, which is not supported"
                raise MeshError(self.name, seen, "export it again as a plain mesh")

    def _use(self, attributes: Attributes) -> Use:
        other = [value for key, value in attributes.items() if key.rpartition(":")[2] == "path"]
        part = other[0].lstrip("/") if other else self.path
        return (part, attributes["objectid"]), _matrix(attributes.get("transform", ""))


def read_3mf(path: Path, name: str) -> Reading:
    """Read the objects used by the build items of a 3MF, in the file's unit. Raises MeshError."""
    with open_archive(path, name) as archive:
        parts = [_read_part(archive, item, name) for item in _models(archive, name)]
    corners: dict[Key, array[float]] = {}
    faces: dict[Key, array[int]] = {}
    uses: dict[Key, list[Use]] = {}
    for part in parts:
        corners |= part.corners
        faces |= part.faces
        uses |= part.uses
    items = [item for part in parts for item in part.items]
    sizes = {key: len(face) // 3 for key, face in faces.items()}
    total = _count(items, uses, sizes, name)
    refuse_count(total, name)
    main, *others = [part for part in parts if part.items]
    if others:
        raise MeshError(name, "has more than one build list", REEXPORT)
    if main.unit not in UNITS:
        raise MeshError(name, f"its unit is '{main.unit}', which is not a 3MF unit", REEXPORT)
    meshes = {key: _mesh(corners[key], faces[key], name) for key in faces}
    triangles = np.empty((total, 3, 3))
    done = 0
    for key, matrix in _placed(items, uses):
        mesh = meshes[key]
        triangles[done : done + len(mesh)] = moved(mesh, matrix)
        done += len(mesh)
    return Reading(triangles=triangles, promised=total, unit=UNITS[main.unit])


def _models(archive: ZipFile, name: str) -> list[str]:
    models = [item for item in archive.namelist() if item.lower().endswith(".model")]
    if not models:
        raise MeshError(name, "is an archive without a 3MF model in it", REEXPORT)
    return models


def _read_part(archive: ZipFile, item: str, name: str) -> _Part:
    part = _Part(item.lstrip("/"), name)
    with closing(parts_of(archive, item, name)) as pieces:
        stream(pieces, name, part.start, lambda _: None)
    return part


def _matrix(text: str) -> NDArray[np.float64]:
    """Twelve numbers, row vectors times matrix in 3MF, as a 4 x 4 for column vectors."""
    matrix = np.eye(4)
    if text:
        values = [decimal(word.encode()) for word in text.split()]
        if len(values) != 12 or not np.isfinite(values).all():
            raise ValueError(f"transform {text[:40]!r}")
        matrix[:3] = np.array(values).reshape(4, 3).T
    return matrix


def _mesh(corners: array[float], faces: array[int], name: str) -> NDArray[np.float64]:
    points = np.frombuffer(corners, dtype=np.float64).reshape(-1, 3)
    index = np.frombuffer(faces, dtype=np.int64).reshape(-1, 3)
    if len(index) and (index.min() < 0 or index.max() >= len(points)):
        raise MeshError(name, "a triangle refers to a missing corner", REEXPORT)
    return points[index]


def _count(items: list[Use], uses: dict[Key, list[Use]], sizes: dict[Key, int], name: str) -> int:
    """Number of triangles of all items, counting every use, without creating any of them."""
    totals: dict[Key, int] = {}

    def total(key: Key, depth: int) -> int:
        if key not in sizes or depth > 64:
            seen = "uses a missing object" if key not in sizes else "uses itself"
            raise MeshError(name, seen, REEXPORT)
        if key not in totals:
            inner = sum(total(other, depth + 1) for other, _ in uses[key])
            totals[key] = sizes[key] + inner
        return totals[key]

    result = sum(total(key, 0) for key, _ in items)
    pieces = sum(1 for _ in zip(range(MAX_USES + 1), _placed(items, uses), strict=False))
    if pieces > MAX_USES:
        raise MeshError(name, f"combines more than {MAX_USES:,} pieces", REEXPORT)
    return result


def _placed(items: list[Use], uses: dict[Key, list[Use]]) -> Iterator[Use]:
    """Every object in its place; the tree is already known to be finite."""
    stack = list(reversed(items))
    while stack:
        key, matrix = stack.pop()
        yield key, matrix
        stack += [(other, matrix @ inner) for other, inner in reversed(uses[key])]
