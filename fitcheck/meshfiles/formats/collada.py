"""COLLADA (DAE): a tree of nodes with transforms that places meshes, with a unit and an up axis.

After "COLLADA - Digital Asset Schema Release 1.4.1" of the Khronos Group.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.meshfiles.formats.polygons import cut_faces
from fitcheck.meshfiles.formats.xml_tree import Element, numbers, read_tree
from fitcheck.meshfiles.reading import REEXPORT, Reading, decimal, moved, refuse_count

MAX_USES = 200_000
#: No boat is drawn in units outside this range.
SMALLEST, LARGEST = 1e-6, 1000.0
APPLY = "apply it where the mesh was made and export it again"
#: Elements of a mesh that contain faces.
FACES = ("triangles", "polylist", "polygons", "trifans", "tristrips")
UP = {"X_UP": "+x", "Y_UP": "+y", "Z_UP": "+z"}

Matrix = NDArray[np.float64]
Triangles = NDArray[np.float64]
#: Elements by kind and id.
Named = dict[tuple[str, str], Element]


def read_dae(path: Path, name: str) -> Reading:
    """Read the visual scene of a DAE in the file's unit. Raises MeshError."""
    with path.open("rb") as file:
        root = read_tree(iter(lambda: file.read(1 << 20), b""), name)
    if root.tag != "COLLADA":
        raise MeshError(name, f"is XML of another kind ({root.tag[:40]}), not DAE", REEXPORT)
    # A scene and a node may share an id, so the kind is part of the key.
    named = {(e.tag, e.attributes["id"]): e for e in root.walk() if "id" in e.attributes}
    uses = list(_uses(root, named, name))
    meshes: dict[str, Triangles] = {}
    for link, _ in uses:
        if link not in meshes:
            meshes[link] = _mesh(named["geometry", link], named, name)
    total = sum(len(meshes[link]) for link, _ in uses)
    refuse_count(total, name)
    triangles = np.empty((total, 3, 3))
    done = 0
    for link, matrix in uses:
        size = len(meshes[link])
        triangles[done : done + size] = moved(meshes[link], matrix)
        done += size
    unit, up = _asset(root)
    return Reading(triangles=triangles, promised=total, unit=unit, up=up)


def _asset(root: Element) -> tuple[float | None, str]:
    """Metres per unit, and the up axis; the defaults are a metre and y."""
    asset = root.first("asset")
    unit = asset.first("unit") if asset else None
    axis = asset.first("up_axis") if asset else None
    metre = decimal(unit.attributes.get("meter", "1").encode()) if unit else None
    if metre is not None and not SMALLEST <= metre <= LARGEST:
        raise ValueError(f"its unit is {metre} m")
    return metre, UP[axis.text.strip()] if axis else "+y"


# --- the tree -----------------------------------------------------------------------------------


def _uses(root: Element, named: Named, name: str) -> Iterator[tuple[str, Matrix]]:
    """Every geometry that the scene places, with its matrix."""
    scene = root.first("scene")
    link = scene.first("instance_visual_scene") if scene else None
    scenes = [e for e in root.walk() if e.tag == "visual_scene"]
    top = named["visual_scene", _link(link)] if link else scenes[0]
    stack = [(node, np.eye(4), 0) for node in top.all("node")]
    count = 0
    while stack:
        node, above, depth = stack.pop()
        count += 1
        if count > MAX_USES or depth > 100:
            raise MeshError(name, "its nodes contain each other in a loop", REEXPORT)
        matrix = above @ _transform(node, name)
        for child in node.children:
            if child.tag == "instance_geometry":
                yield _link(child), matrix
            elif child.tag == "instance_controller":
                seen = (
                    f"deforms a mesh by the controller {_link(child)[:40]}, which is not supported"
                )
                raise MeshError(name, seen, APPLY)
            elif child.tag == "node":
                stack.append((child, matrix, depth + 1))
            elif child.tag == "instance_node":
                stack.append((named["node", _link(child)], matrix, depth + 1))


def _link(element: Element, key: str = "url") -> str:
    return element.attributes[key].removeprefix("#")


def _transform(node: Element, name: str) -> Matrix:
    matrix = np.eye(4)
    for child in node.children:
        if child.tag in ("matrix", "translate", "rotate", "scale"):
            values = numbers(child.text, name)
            if not np.isfinite(values).all():
                raise ValueError(f"{child.tag} that is not a number")
            matrix = matrix @ _step(child.tag, values)
        elif child.tag in ("lookat", "skew"):
            raise MeshError(name, f"places a node by {child.tag}, which is not supported", APPLY)
    return matrix


def _step(kind: str, values: NDArray[np.float64]) -> Matrix:
    if kind == "matrix":
        matrix = values.reshape(4, 4)
        if not np.allclose(matrix[3], (0.0, 0.0, 0.0, 1.0)):
            raise ValueError("the matrix of a node is not a valid placement")
        return matrix
    step = np.eye(4)
    if kind == "translate":
        step[:3, 3] = values.reshape(3)
    elif kind == "scale":
        step[:3, :3] = np.diag(values.reshape(3))
    else:
        axis = values[:3] / np.linalg.norm(values[:3])
        angle = math.radians(float(values[3:].item()))
        x, y, z = axis
        cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
        step[:3, :3] += math.sin(angle) * cross + (1 - math.cos(angle)) * (cross @ cross)
    return step


# --- meshes -------------------------------------------------------------------------------------


def _mesh(geometry: Element, named: Named, name: str) -> Triangles:
    parts = [np.empty((0, 3, 3))]
    for mesh in geometry.children:
        if mesh.tag == "convex_mesh":
            raise MeshError(name, "contains a convex_mesh, which is not supported", APPLY)
        for group in mesh.children if mesh.tag == "mesh" else ():
            if group.tag in FACES:
                parts.append(_faces(group, named, name))
    return np.concatenate(parts)


def _faces(group: Element, named: Named, name: str) -> Triangles:
    """Triangles of one group of faces; their number must match the declared one."""
    inputs = list(group.all("input"))
    stride = 1 + max(int(e.attributes["offset"]) for e in inputs)
    if not 0 < stride <= 64:
        raise ValueError(f"{stride} numbers for each corner")
    vertex = next(e for e in inputs if e.attributes["semantic"] == "VERTEX")
    vertices = named["vertices", _link(vertex, "source")]
    position = next(e for e in vertices.all("input") if e.attributes["semantic"] == "POSITION")
    points = _source(named["source", _link(position, "source")], name)
    at = int(vertex.attributes["offset"])
    if group.first("ph"):
        raise MeshError(name, "has polygons with holes, which are not supported", APPLY)
    rings = [np.empty(0, dtype=np.int64)]
    for p in group.all("p"):
        flat = numbers(p.text, name, int)
        if len(flat) % stride:
            raise MeshError(name, "a list of corners is cut short", REEXPORT)
        rings.append(flat.reshape(-1, stride)[:, at].astype(np.int64))
    ring = np.concatenate(rings)
    if group.tag in ("tristrips", "trifans"):
        sizes = np.array([len(one) for one in rings[1:]], dtype=np.int64)
        index = np.concatenate([_STRIPS[group.tag](one) for one in rings])
        if len(ring) and (ring.min() < 0 or ring.max() >= len(points)):
            raise MeshError(name, "a triangle refers to a missing corner", REEXPORT)
        triangles = points[index]
    else:
        if group.tag == "triangles":
            sizes = np.full(len(ring) // 3, 3)
        elif group.tag == "polygons":
            sizes = np.array([len(one) for one in rings[1:]], dtype=np.int64)
        else:
            sizes = np.asarray(numbers(_text(group, "vcount"), name, int), dtype=np.int64)
        triangles = cut_faces(points, ring, sizes, name)
    promised = int(group.attributes["count"])
    if promised != len(sizes):
        seen = f"a group that declares {promised:,} faces contains {len(sizes):,} (cut short?)"
        raise MeshError(name, seen, REEXPORT)
    return triangles


def _text(group: Element, tag: str) -> str:
    element = group.first(tag)
    return element.text if element else ""


def _source(source: Element, name: str) -> NDArray[np.float64]:
    """Points of a source: its floats in strides, the first three of each."""
    floats = source.first("float_array")
    accessor = next((e for e in source.walk() if e.tag == "accessor"), None)
    if floats is None:
        raise KeyError("float_array")
    told = accessor.attributes if accessor else {}
    stride, offset = int(told.get("stride", "3")), int(told.get("offset", "0"))
    values = numbers(floats.text, name)
    promised = int(floats.attributes["count"])
    if promised != len(values):
        seen = f"a list that declares {promised:,} numbers contains {len(values):,} (cut short?)"
        raise MeshError(name, seen, REEXPORT)
    axes = (
        [e.attributes.get("name", "").upper() for e in accessor.all("param")] if accessor else []
    )
    if stride < 3 or offset or len(values) % stride or (axes and axes[:3] != ["X", "Y", "Z"]):
        raise ValueError(f"corners of {stride} numbers {' '.join(axes)[:40]}")
    return np.asarray(values.reshape(-1, stride)[:, :3], dtype=np.float64)


def _fan(ring: NDArray[np.int64]) -> NDArray[np.int64]:
    first = np.broadcast_to(ring[:1], ring[2:].shape)
    return np.stack([first, ring[1:-1], ring[2:]], axis=1)


def _strip(ring: NDArray[np.int64]) -> NDArray[np.int64]:
    """A strip of triangles, every second one reversed."""
    faces = np.stack([ring[:-2], ring[1:-1], ring[2:]], axis=1)
    faces[1::2] = faces[1::2, ::-1]
    return faces


_STRIPS = {"tristrips": _strip, "trifans": _fan}
