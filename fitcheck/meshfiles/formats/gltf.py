"""glTF and GLB: a tree of nodes that places meshes, metres and y up by the standard.

After "glTF 2.0 Specification" of the Khronos Group (ISO/IEC 12113:2022): only corners and
triangles are read, no texture is opened.
"""

from __future__ import annotations

import base64
import binascii
import json
import re
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.meshfiles.reading import REEXPORT, Reading, moved, refuse_count

#: Extensions that do not change the shape, or only how corners are stored (small integers).
_HARMLESS = re.compile(
    r"^(KHR_materials_\w+|KHR_texture_\w+|KHR_lights_\w+|EXT_texture_\w+|KHR_xmp\w*"
    r"|KHR_mesh_quantization|KHR_animation_pointer)$"
)
#: Extensions of a node that place or hide its contents.
_PLACING = ("EXT_mesh_gpu_instancing", "KHR_node_visibility")
_TYPES = {5120: "i1", 5121: "u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_COUNTING, _FLOATS = (5121, 5123, 5125), (5126,)
_WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}
MAX_VISITS, MAX_DEPTH = 100_000, 200

Tree = dict[str, Any]
#: A mesh by its number, the weights of its morph targets, and its matrix.
Use = tuple[int, tuple[float, ...], NDArray[np.float64]]
Index = NDArray[np.int64]


def read_glb(path: Path, name: str) -> Reading:
    """Read a binary glTF. Raises MeshError."""
    data = path.read_bytes()
    if data[:4] != b"glTF" or len(data) < 20:
        raise MeshError(name, "does not start with a GLB header", REEXPORT)
    version, length, chunk = struct.unpack("<III", data[4:16])
    if version != 2:
        raise MeshError(name, f"is GLB version {version}; only version 2 is supported", REEXPORT)
    if length != len(data) or 20 + chunk > len(data):
        seen = f"the header declares {length:,} bytes, the file has {len(data):,} (cut short?)"
        raise MeshError(name, seen, REEXPORT)
    return _read(data[20 : 20 + chunk], memoryview(data)[28 + chunk :], path, name)


def read_gltf(path: Path, name: str) -> Reading:
    """Read a glTF in JSON with its data in separate files or embedded. Raises MeshError."""
    return _read(path.read_bytes(), memoryview(b""), path, name)


def _read(text: bytes, embedded: memoryview, path: Path, name: str) -> Reading:
    try:
        tree = json.loads(text)
    except (ValueError, RecursionError):
        raise MeshError(name, "its JSON part cannot be read", REEXPORT) from None
    if not isinstance(tree, dict) or not isinstance(tree.get("asset"), dict):
        raise MeshError(name, "its JSON part is not glTF", REEXPORT)
    version = str(tree["asset"].get("version"))
    if not version.startswith("2."):
        raise MeshError(
            name, f"is glTF version {version[:20]}; only version 2 is supported", REEXPORT
        )
    _refuse_strange(tree, name)
    buffers = [_buffer(item, embedded, path, name) for item in tree.get("buffers", ())]
    sizes = [_size(tree, mesh, name) for mesh in tree.get("meshes", ())]
    uses = list(_uses(tree, name))
    total = sum(sizes[mesh] for mesh, _, _ in uses)
    refuse_count(total, name)
    return _baked(tree, buffers, uses, total)


def _refuse_strange(tree: Tree, name: str) -> None:
    needs = [str(item)[:60] for item in tree.get("extensionsRequired", ())]
    strange = [item for item in needs if not _HARMLESS.match(item)]
    if strange:
        seen = f"needs the glTF extension {', '.join(strange[:4])}, which is not supported"
        raise MeshError(name, seen, "export it again without compression")


def _baked(tree: Tree, buffers: list[memoryview], uses: list[Use], total: int) -> Reading:
    """Every instance of every mesh in its place."""
    meshes: dict[tuple[int, tuple[float, ...]], NDArray[np.float64]] = {}
    triangles = np.empty((total, 3, 3))
    done = 0
    for mesh, weights, matrix in uses:
        if (mesh, weights) not in meshes:
            meshes[mesh, weights] = _triangles(tree, buffers, tree["meshes"][mesh], weights)
        part = meshes[mesh, weights]
        triangles[done : done + len(part)] = moved(part, matrix)
        done += len(part)
    return Reading(
        triangles=triangles,
        promised=total,
        short=True,
        unit=1.0,
        up="+y",
        doubts=_doubts(tree, buffers, {mesh for mesh, _, _ in uses}),
    )


def _doubts(tree: Tree, buffers: list[memoryview], meshes: set[int]) -> tuple[str, ...]:
    """Corners outside the declared bounds of their accessor."""
    places = {part["attributes"]["POSITION"] for at in meshes
              for part in tree["meshes"][at]["primitives"]}  # fmt: skip
    beyond = 0
    for place in places:
        told = tree["accessors"][place]
        if "min" in told and "max" in told and not told.get("normalized"):
            points = _values(tree, buffers, place, "VEC3")
            low, high = np.array(told["min"]), np.array(told["max"])
            room = 1e-4 * float(np.abs(high - low).max())
            beyond += int(((points < low - room) | (points > high + room)).any(axis=1).sum())
    return (f"{beyond:,} of its corners lie outside the bounds it states",) if beyond else ()


# --- the tree -----------------------------------------------------------------------------------


def _uses(tree: Tree, name: str) -> Iterator[Use]:
    """Every mesh the scene shows; one used a thousand times is yielded that often."""
    nodes = tree.get("nodes", [])
    scenes = tree.get("scenes", [])
    roots = scenes[_place(tree.get("scene", 0))].get("nodes", []) if scenes else _tops(nodes)
    stack = [(_place(root), np.eye(4), 0) for root in roots]
    visits = 0
    while stack:
        at, above, depth = stack.pop()
        visits += 1
        if visits > MAX_VISITS or depth > MAX_DEPTH:
            raise MeshError(name, "its glTF nodes contain each other in a loop", REEXPORT)
        node = nodes[at]
        matrix = above @ _matrix(node)
        moving = next((one for one in _PLACING if one in node.get("extensions", {})), "")
        if moving or "skin" in node:
            seen = f"a node uses {moving or 'a skin'}, which is not supported"
            raise MeshError(name, seen, "apply it where the mesh was made and export it again")
        if "mesh" in node:
            mesh = _place(node["mesh"])
            weights = node.get("weights", tree["meshes"][mesh].get("weights", ()))
            yield mesh, tuple(float(weight) for weight in weights), matrix
        stack += [(_place(child), matrix, depth + 1) for child in node.get("children", ())]


def _tops(nodes: list[Tree]) -> list[int]:
    """Nodes without a parent; all of them if a cycle leaves none."""
    below = {_place(child) for node in nodes for child in node.get("children", ())}
    return [at for at in range(len(nodes)) if at not in below] or list(range(len(nodes)))


def _place(number: Any) -> int:
    """A number that counts from zero."""
    if not isinstance(number, int) or isinstance(number, bool) or number < 0:
        raise ValueError(f"{number!r} instead of a number of at least 0"[:80])
    return number


def _matrix(node: Tree) -> NDArray[np.float64]:
    if "matrix" in node:
        matrix = np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T
    else:
        x, y, z, w = (float(value) for value in node.get("rotation", (0.0, 0.0, 0.0, 1.0)))
        if abs(x * x + y * y + z * z + w * w - 1.0) > 0.01:
            raise ValueError("the rotation of a node is not a unit quaternion")
        turn = np.array(
            [
                [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
                [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
                [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
            ]
        )
        matrix = np.eye(4)
        matrix[:3, :3] = turn * np.array(node.get("scale", (1.0, 1.0, 1.0)), dtype=np.float64)
        matrix[:3, 3] = np.array(node.get("translation", (0.0, 0.0, 0.0)), dtype=np.float64)
    if not np.isfinite(matrix).all():
        raise ValueError("the placement of a node contains something that is not a number")
    if not np.allclose(matrix[3], (0.0, 0.0, 0.0, 1.0)):
        raise ValueError("the matrix of a node is not a valid placement")
    return matrix


# --- meshes -------------------------------------------------------------------------------------


def _size(tree: Tree, mesh: Tree, name: str) -> int:
    """Number of triangles of a mesh, by its header alone."""
    total = 0
    for part in mesh["primitives"]:
        if part.get("mode", 4) not in (4, 5, 6):
            continue
        position = part["attributes"]["POSITION"]
        spot = part.get("indices", position)
        for item in (spot, position):
            accessor = tree["accessors"][_place(item)]
            if "bufferView" not in accessor and "sparse" not in accessor:
                raise MeshError(name, "a mesh has no data behind its accessor", REEXPORT)
        corners = _place(tree["accessors"][spot]["count"])
        total += corners // 3 if part.get("mode", 4) == 4 else max(0, corners - 2)
    return total


def _triangles(
    tree: Tree, buffers: list[memoryview], mesh: Tree, weights: tuple[float, ...]
) -> NDArray[np.float64]:
    parts = [np.empty((0, 3, 3))]
    for part in mesh["primitives"]:
        mode = part.get("mode", 4)
        if mode not in (4, 5, 6):
            continue
        if "KHR_mesh_quantization" not in tree.get("extensionsRequired", ()):
            _refuse_kind(tree, part["attributes"]["POSITION"], _FLOATS)
        points = _values(tree, buffers, part["attributes"]["POSITION"], "VEC3")
        for weight, target in zip(weights, part.get("targets", ()), strict=bool(weights)):
            if "POSITION" in target:
                points = points + weight * _values(tree, buffers, target["POSITION"], "VEC3")
        if "indices" in part:
            _refuse_kind(tree, part["indices"], _COUNTING)
            index = _values(tree, buffers, part["indices"], "SCALAR")[:, 0].astype(np.int64)
        else:
            index = np.arange(len(points))
        faces = _faces(index, mode)
        if len(faces) and faces.max() >= len(points):
            raise ValueError("a triangle refers to a missing corner")
        parts.append(points[faces])
    return np.concatenate(parts)


def _faces(index: Index, mode: int) -> Index:
    if mode == 4:
        return index.reshape(-1, 3)
    if len(index) < 3:
        return np.empty((0, 3), dtype=np.int64)
    if mode == 6:
        first = np.broadcast_to(index[:1], len(index) - 2)
        return np.stack([first, index[1:-1], index[2:]], axis=1)
    faces = np.stack([index[:-2], index[1:-1], index[2:]], axis=1)
    faces[1::2] = faces[1::2, ::-1]
    return faces


def _refuse_kind(tree: Tree, number: int, kinds: tuple[int, ...]) -> None:
    kind = tree["accessors"][_place(number)]["componentType"]
    if kind not in kinds:
        raise ValueError(f"accessor {number} holds numbers of type {kind!r}"[:80])


def _values(tree: Tree, buffers: list[memoryview], number: int, kind: str) -> NDArray[np.float64]:
    """The rows of an accessor, (count, width)."""
    accessor = tree["accessors"][_place(number)]
    if accessor["type"] != kind:
        raise ValueError(f"accessor {number} holds {accessor['type']!r}"[:80])
    count, width = _place(accessor["count"]), _WIDTHS[kind]
    stored = np.dtype(_TYPES[accessor["componentType"]])
    if "bufferView" in accessor:
        rows = _rows(tree, buffers, accessor, stored, count, width)
    elif count > 100_000_000:
        raise ValueError(f"{count} rows")
    else:
        rows = np.zeros((count, width), dtype=stored)
    if "sparse" in accessor:
        rows = _sparse(tree, buffers, accessor["sparse"], rows)
    values = rows.astype(np.float64)
    if accessor.get("normalized") and stored.kind in "iu":
        values = np.maximum(values / np.iinfo(stored).max, -1.0)
    return values


def _sparse(
    tree: Tree, buffers: list[memoryview], sparse: Tree, rows: NDArray[np.generic]
) -> NDArray[np.generic]:
    count = _place(sparse["count"])
    stored = np.dtype(_TYPES[sparse["indices"]["componentType"]])
    if stored.kind != "u":
        raise ValueError("a sparse accessor is not indexed by whole numbers")
    places = _rows(tree, buffers, sparse["indices"], stored, count, 1)[:, 0].astype(np.int64)
    changed = rows.copy()
    changed[places] = _rows(tree, buffers, sparse["values"], rows.dtype, count, rows.shape[1])
    return changed


def _rows(
    tree: Tree,
    buffers: list[memoryview],
    where: Tree,
    stored: np.dtype[Any],
    count: int,
    width: int,
) -> NDArray[np.generic]:
    """Rows of a buffer view as stored; ValueError for a view or a row out of range."""
    view = tree["bufferViews"][_place(where["bufferView"])]
    start, size = _place(view.get("byteOffset", 0)), _place(view["byteLength"])
    held = buffers[_place(view["buffer"])]
    if start + size > len(held):
        raise ValueError("a buffer view reaches beyond its buffer")
    row = stored.itemsize * width
    stride = _place(view.get("byteStride", row)) or row
    skip = _place(where.get("byteOffset", 0))
    if stride < row or (count and skip + (count - 1) * stride + row > size):
        raise ValueError("an accessor reaches beyond its buffer view")
    part = held[start + skip : start + skip + max(0, count - 1) * stride + row * (count > 0)]
    return np.ndarray((count, width), dtype=stored, buffer=part, strides=(stride, stored.itemsize))


def _buffer(buffer: Tree, embedded: memoryview, path: Path, name: str) -> memoryview:
    uri, promised = buffer.get("uri"), _place(buffer["byteLength"])
    if uri is None:
        held = embedded
    elif uri.startswith("data:"):
        try:
            held = memoryview(base64.b64decode(uri.partition(",")[2], validate=True))
        except (binascii.Error, ValueError):
            raise MeshError(name, "its embedded data is damaged", REEXPORT) from None
    else:
        held = memoryview(_beside(uri, path, name).read_bytes())
    if len(held) < promised:
        seen = f"a buffer declares {promised:,} bytes and contains {len(held):,}"
        raise MeshError(name, f"{seen} (cut short)", REEXPORT)
    return held[:promised]


def _beside(uri: str, path: Path, name: str) -> Path:
    """A data file in the same folder; nothing else is opened."""
    shown = "".join(c if c.isprintable() else "?" for c in uri[:60])
    try:
        beside = (path.parent / unquote(uri)).resolve()
        found = path.parent.resolve() in beside.parents and beside.is_file()
    except (OSError, ValueError):
        found = False
    if not found:
        seen = f"its data file {shown} is not in the same folder"
        raise MeshError(name, seen, "put it there, or export GLB, which is a single file")
    if beside.stat().st_size > 1_000_000_000:
        raise MeshError(name, f"its data file {shown} is larger than 1 GB", "thin the mesh")
    return beside
