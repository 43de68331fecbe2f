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
from fitcheck.space.polygons import cut_polygons
from fitcheck.space.reading import REEXPORT, Reading, moved, refuse_count
from fitcheck.space.xml_tree import Element, numbers, read_tree

MAX_USES = 200_000
#: Elements of a mesh that hold faces.
FACES = ("triangles", "polylist", "polygons", "trifans", "tristrips")
UP = {"X_UP": "+x", "Y_UP": "+y", "Z_UP": "+z"}

Matrix = NDArray[np.float64]
Triangles = NDArray[np.float64]


def read_dae(path: Path, name: str) -> Reading:
    """Read the visual scene of a DAE in the file's unit. Raises MeshError."""
    with path.open("rb") as file:
        root = read_tree(iter(lambda: file.read(1 << 20), b""), name)
    if root.tag != "COLLADA":
        raise MeshError(name, f"is XML of another kind ({root.tag[:40]}), no DAE", REEXPORT)
    try:
        return _read(root, name)
    except (KeyError, IndexError, ValueError, TypeError, OverflowError, StopIteration) as error:
        seen = f"its tree does not hold together ({type(error).__name__}: {error})"
        raise MeshError(name, " ".join(seen.split())[:200], REEXPORT) from None


def _read(root: Element, name: str) -> Reading:
    named = {e.attributes["id"]: e for e in root.walk() if "id" in e.attributes}
    uses = list(_uses(root, named, name))
    meshes: dict[str, Triangles] = {}
    for link, _ in uses:
        if link not in meshes:
            meshes[link] = _mesh(named[link], named, name)
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
    """Metres per unit, and the axis that is up; what is left out is a metre and y."""
    asset = root.first("asset")
    unit = asset.first("unit") if asset else None
    axis = asset.first("up_axis") if asset else None
    metre = float(unit.attributes.get("meter", "1")) if unit else None
    if metre is not None and not (math.isfinite(metre) and metre > 0.0):
        raise ValueError(f"unit of {metre} m")
    return metre, UP.get(axis.text.strip(), "") if axis else "+y"


# --- the tree -----------------------------------------------------------------------------------


def _uses(root: Element, named: dict[str, Element], name: str) -> Iterator[tuple[str, Matrix]]:
    """Every geometry the scene places, with its matrix."""
    scene = root.first("scene")
    link = scene.first("instance_visual_scene") if scene else None
    scenes = [e for e in root.walk() if e.tag == "visual_scene"]
    # Scene and node may share an id in files of some exporters, so the kind decides too.
    wanted = [e for e in scenes if link is None or e.attributes.get("id") == _link(link)]
    top = wanted[0] if wanted else named[_link(link)] if link else scenes[0]
    stack = [(node, np.eye(4), 0) for node in top.all("node")]
    count = 0
    while stack:
        node, above, depth = stack.pop()
        count += 1
        if count > MAX_USES or depth > 100:
            raise MeshError(name, "its tree of nodes has no end", REEXPORT)
        matrix = above @ _transform(node)
        for child in node.children:
            if child.tag == "instance_geometry":
                yield _link(child), matrix
            elif child.tag == "instance_controller":
                yield _skinned(named[_link(child)]), matrix
            elif child.tag == "node":
                stack.append((child, matrix, depth + 1))
            elif child.tag == "instance_node":
                stack.append((named[_link(child)], matrix, depth + 1))


def _link(element: Element) -> str:
    return element.attributes["url"].removeprefix("#")


def _skinned(controller: Element) -> str:
    """The geometry a skin or morph is drawn over."""
    source = next(e.attributes["source"] for e in controller.walk() if e.tag in ("skin", "morph"))
    return source.removeprefix("#")


def _transform(node: Element) -> Matrix:
    matrix = np.eye(4)
    for child in node.children:
        if child.tag in ("matrix", "translate", "rotate", "scale"):
            values = [float(word) for word in child.text.split()]
            if not np.isfinite(values).all():
                raise ValueError(f"{child.tag} that is no number")
            matrix = matrix @ _step(child.tag, np.array(values))
        elif child.tag in ("lookat", "skew"):
            raise ValueError(f"a node is placed by '{child.tag}'")
    return matrix


def _step(kind: str, values: NDArray[np.float64]) -> Matrix:
    if kind == "matrix":
        return values.reshape(4, 4)
    step = np.eye(4)
    if kind == "translate":
        step[:3, 3] = values
    elif kind == "scale":
        step[:3, :3] = np.diag(values)
    else:
        axis = values[:3] / np.linalg.norm(values[:3])
        angle = math.radians(float(values[3]))
        x, y, z = axis
        cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
        step[:3, :3] += math.sin(angle) * cross + (1 - math.cos(angle)) * (cross @ cross)
    return step


# --- meshes -------------------------------------------------------------------------------------


def _mesh(geometry: Element, named: dict[str, Element], name: str) -> Triangles:
    parts = [np.empty((0, 3, 3))]
    for mesh in geometry.all("mesh"):
        for group in mesh.children:
            if group.tag in FACES:
                points, index = _corners(group, named, name)
                if len(index) and (index.min() < 0 or index.max() >= len(points)):
                    seen = "a triangle asks for a corner that is not there"
                    raise MeshError(name, seen, REEXPORT)
                parts.append(points[index])
    return np.concatenate(parts)


def _corners(
    group: Element, named: dict[str, Element], name: str
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Points, and which three of them make each triangle (n, 3)."""
    inputs = list(group.all("input"))
    stride = 1 + max(int(e.attributes["offset"]) for e in inputs)
    if not 0 < stride <= 64:
        raise ValueError(f"{stride} numbers for each corner")
    vertex = next(e for e in inputs if e.attributes["semantic"] == "VERTEX")
    vertices = named[vertex.attributes["source"].removeprefix("#")]
    position = next(e for e in vertices.all("input") if e.attributes["semantic"] == "POSITION")
    points = _source(named[position.attributes["source"].removeprefix("#")], name)
    at = int(vertex.attributes["offset"])
    rings = []
    for p in group.all("p"):
        flat = numbers(p.text, name, int)
        if len(flat) % stride:
            raise MeshError(name, "a list of corners breaks off", REEXPORT)
        rings.append(flat.reshape(-1, stride)[:, at].astype(np.int64))
    if group.tag == "polylist":
        sizes = numbers(_text(group, "vcount"), name, int).astype(np.int64)
        return points, cut_polygons(points, np.concatenate(rings).astype(np.int64), sizes)
    if group.tag == "polygons":
        sizes = np.array([len(ring) for ring in rings], dtype=np.int64)
        flat = np.concatenate(rings) if rings else np.empty(0, dtype=np.int64)
        return points, cut_polygons(points, flat.astype(np.int64), sizes)
    if group.tag == "trifans":
        sizes = np.array([len(ring) for ring in rings], dtype=np.int64)
        return points, _fans(np.concatenate(rings) if rings else np.empty(0, int), sizes, name)
    if group.tag == "tristrips":
        return points, np.concatenate([_strip(ring) for ring in rings])
    flat = np.concatenate(rings) if rings else np.empty(0, dtype=np.int64)
    if len(flat) % 3:
        raise MeshError(name, "a list of triangles breaks off", REEXPORT)
    return points, np.asarray(flat.reshape(-1, 3), dtype=np.int64)


def _text(group: Element, tag: str) -> str:
    element = group.first(tag)
    return element.text if element else ""


def _source(source: Element, name: str) -> NDArray[np.float64]:
    """Points of a source: its floats in strides, the first three of each."""
    floats = source.first("float_array")
    accessor = next((e for e in source.walk() if e.tag == "accessor"), None)
    if floats is None:
        raise KeyError("float_array")
    stride = int(accessor.attributes.get("stride", "1")) if accessor else 3
    values = numbers(floats.text, name)
    promised = int(floats.attributes["count"])
    if promised != len(values):
        seen = f"a list of {promised:,} numbers holds {len(values):,} (cut short?)"
        raise MeshError(name, seen, REEXPORT)
    if stride < 3 or len(values) % stride:
        raise ValueError(f"corners of {stride} numbers")
    return np.asarray(values.reshape(-1, stride)[:, :3], dtype=np.float64)


def _fans(ring: NDArray[np.int64], sizes: NDArray[np.int64], name: str) -> NDArray[np.int64]:
    """Polygons one after the other as fans of triangles."""
    if (sizes < 0).any() or int(sizes.sum()) != len(ring):
        raise MeshError(name, "its polygons do not add up to their corners", REEXPORT)
    each = np.maximum(sizes - 2, 0)
    first = np.repeat(np.cumsum(sizes) - sizes, each)
    step = np.arange(int(each.sum())) - np.repeat(np.cumsum(each) - each, each)
    return np.stack([ring[first], ring[first + step + 1], ring[first + step + 2]], axis=1)


def _strip(ring: NDArray[np.int64]) -> NDArray[np.int64]:
    """A strip of triangles, every second one turned round."""
    faces = np.stack([ring[:-2], ring[1:-1], ring[2:]], axis=1)
    faces[1::2] = faces[1::2, ::-1]
    return faces
