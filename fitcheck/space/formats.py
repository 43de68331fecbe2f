"""What a mesh file promises, read before anything is built from it.

Each reader returns how many triangles the file promises, or raises MeshError; none of them makes
a mesh. The loader behind them answers a truncated or compressed file with an empty scene or a
single face and no word of warning.
"""

from __future__ import annotations

import json
import re
import struct
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError

#: More than this is no compartment but a shipyard; it would not fit in memory either.
MAX_BYTES = 1_000_000_000
MAX_TRIANGLES = 20_000_000

REEXPORT = "export it again from the program that made it, as binary PLY or GLB"
KNOWN = "STL, OBJ, PLY, GLB and glTF can be read"
CONVERT = {
    ".3mf": "open it in a mesh program and export PLY or GLB (and mind its unit)",
    ".step": "open it in a CAD program and export a mesh, fine to 1 mm, as STL or PLY",
    ".stp": "open it in a CAD program and export a mesh, fine to 1 mm, as STL or PLY",
    ".iges": "open it in a CAD program and export a mesh, fine to 1 mm, as STL or PLY",
    ".igs": "open it in a CAD program and export a mesh, fine to 1 mm, as STL or PLY",
    ".dxf": "open it in a CAD program and export a mesh, fine to 1 mm, as STL or PLY",
    ".dae": "open it in a mesh program and export PLY or GLB",
    ".fbx": "open it in a mesh program and export PLY or GLB",
    ".usdz": "in the scanning program choose PLY, OBJ or GLB instead",
    ".usd": "open it in a mesh program and export PLY or GLB",
    ".pcd": "this is a point cloud: build a mesh of it and export PLY",
    ".las": "this is a point cloud: build a mesh of it and export PLY",
    ".laz": "this is a point cloud: build a mesh of it and export PLY",
    ".e57": "this is a point cloud: build a mesh of it and export PLY",
    ".xyz": "this is a point cloud: build a mesh of it and export PLY",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """Triangles a file says it holds (None: cannot be told), and whether its numbers are short.

    short : coordinates are 32-bit, so about seven digits are all there is
    """

    triangles: int | None
    short: bool


def read_promise(path: Path) -> Promise:
    """Read the outside of a mesh file: size, kind, counts. Raises MeshError."""
    name = path.name
    if not path.is_file():
        raise MeshError(str(path), "there is no such file", "check the path in boat.mesh")
    size = path.stat().st_size
    if size == 0:
        raise MeshError(name, "the file is empty (0 bytes)", REEXPORT)
    if size > MAX_BYTES:
        seen = f"the file has {size / 1e9:.1f} GB, more than {MAX_BYTES / 1e9:.0f} GB"
        raise MeshError(name, seen, "cut the compartment out of it or thin the mesh")
    kind = path.suffix.lower()
    if kind not in _READERS:
        remedy = CONVERT.get(kind, REEXPORT)
        raise MeshError(name, f"{kind or 'a name without ending'}: only {KNOWN}", remedy)
    promise = _READERS[kind](path, name)
    if promise.triangles == 0:
        raise MeshError(name, "the file has no triangles", REEXPORT)
    if promise.triangles is not None and promise.triangles > MAX_TRIANGLES:
        seen = f"the file comes to {promise.triangles:,} triangles, the most is {MAX_TRIANGLES:,}"
        raise MeshError(name, seen, "cut the compartment out of it or thin the mesh")
    return promise


# --- STL ----------------------------------------------------------------------------------------


def _read_stl(path: Path, name: str) -> Promise:
    data = np.memmap(path, dtype=np.uint8, mode="r")
    if len(data) >= 84:
        count = struct.unpack("<I", data[80:84].tobytes())[0]
        if len(data) == 84 + 50 * count:
            _refuse_bad_floats(_stl_corners(data, count), name)
            return Promise(triangles=count, short=True)
    head = data[:1024].tobytes().lstrip().lower()
    if head.startswith(b"solid") and b"\0" not in head:
        return _read_text_stl(data.tobytes().lower(), name)
    if len(data) < 84:
        raise MeshError(name, f"{len(data)} bytes are too few for an STL header", REEXPORT)
    holds = (len(data) - 84) / 50
    seen = f"the header promises {count:,} triangles, the file holds {holds:,.1f}"
    raise MeshError(name, f"{seen} (cut short or damaged)", REEXPORT)


def _stl_corners(data: NDArray[np.uint8], count: int) -> NDArray[np.float32]:
    record = np.dtype([("normal", "<f4", (3,)), ("corner", "<f4", (3, 3)), ("tail", "<u2")])
    corners: NDArray[np.float32] = np.frombuffer(data, record, count, offset=84)["corner"]
    return corners


def _read_text_stl(text: bytes, name: str) -> Promise:
    begun, ended = text.count(b"facet normal"), text.count(b"endfacet")
    corners = len(re.findall(rb"\bvertex\s", text))
    if begun == 0:
        raise MeshError(name, "begins like a text STL but has no facets", REEXPORT)
    if begun != ended or corners != 3 * begun or b"endsolid" not in text[-1024:]:
        seen = f"{begun:,} facets begin, {ended:,} end, with {corners:,} corners (cut short?)"
        raise MeshError(name, seen, REEXPORT)
    return Promise(triangles=begun, short=False)


# --- OBJ ----------------------------------------------------------------------------------------

_OBJ_CORNER = re.compile(rb"^[ \t]*v[ \t]+\S", re.MULTILINE)
_OBJ_FACE = re.compile(rb"^[ \t]*f[ \t]+\S.*$", re.MULTILINE)


def _read_obj(path: Path, name: str) -> Promise:
    text = path.read_bytes()
    if b"\0" in text[:4096]:
        raise MeshError(name, "is not text, so no OBJ", "check what kind of file it is")
    corners = sum(1 for _ in _OBJ_CORNER.finditer(text))
    if corners == 0:
        raise MeshError(name, "is text but has no vertex lines, so no OBJ", REEXPORT)
    joined = text.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    triangles = sum(max(0, len(face[0].split()) - 3) for face in _OBJ_FACE.finditer(joined))
    if triangles == 0:
        seen = f"has {corners:,} points and no faces: a point cloud"
        raise MeshError(name, seen, "build a mesh of it and export PLY")
    return Promise(triangles=triangles, short=False)


# --- PLY ----------------------------------------------------------------------------------------

_PLY_BYTES = {
    **dict.fromkeys(("char", "uchar", "int8", "uint8"), 1),
    **dict.fromkeys(("short", "ushort", "int16", "uint16"), 2),
    **dict.fromkeys(("int", "uint", "int32", "uint32", "float", "float32"), 4),
    **dict.fromkeys(("double", "float64", "int64", "uint64"), 8),
}


def _read_ply(path: Path, name: str) -> Promise:
    with path.open("rb") as file:
        head = file.read(65_536)
    if not head.startswith(b"ply"):
        raise MeshError(name, "does not begin with 'ply', so no PLY", REEXPORT)
    end = re.search(rb"^end_header\r?\n", head, re.MULTILINE)
    if end is None:
        raise MeshError(name, "its PLY header has no end (cut short?)", REEXPORT)
    lines = [line.split() for line in head[: end.start()].decode("latin-1").splitlines()]
    counts, least = _ply_elements(lines, name)
    if not counts.get("face"):
        points = counts.get("vertex", 0)
        seen = f"has {points:,} points and no faces: a point cloud"
        raise MeshError(name, seen, "build a mesh of it and export PLY")
    text = any(line[:2] == ["format", "ascii"] for line in lines)
    body = path.stat().st_size - end.end()
    # A number and its blank take two bytes at least.
    wanted = sum(2 * counts[key] for key in counts) if text else least
    if body < wanted:
        seen = f"the header promises {wanted:,} bytes or more, {body:,} follow (cut short)"
        raise MeshError(name, seen, REEXPORT)
    return Promise(triangles=None, short=not any("double" in line for line in lines))


def _ply_elements(lines: list[list[str]], name: str) -> tuple[dict[str, int], int]:
    """Count of each element, and the fewest bytes they can take (every face a triangle)."""
    counts: dict[str, int] = {}
    current, least = "", 0
    try:
        for line in lines:
            if line[:1] == ["element"]:
                current = line[1]
                counts[current] = int(line[2])
            elif line[:2] == ["property", "list"]:
                items = 3 if current == "face" and "ind" in line[4] else 0
                least += counts[current] * (_PLY_BYTES[line[2]] + items * _PLY_BYTES[line[3]])
            elif line[:1] == ["property"]:
                least += counts[current] * _PLY_BYTES[line[1]]
    except (IndexError, KeyError, ValueError):
        raise MeshError(name, f"PLY header line not understood: {line}", REEXPORT) from None
    if any(count < 0 for count in counts.values()):
        raise MeshError(name, "its PLY header has a negative count", REEXPORT)
    return counts, least


# --- glTF ---------------------------------------------------------------------------------------

#: Extensions that change neither shape nor how numbers are stored.
_HARMLESS = re.compile(
    r"^(KHR_materials_\w+|KHR_texture_\w+|KHR_lights_\w+|EXT_texture_\w+|KHR_xmp\w*)$"
)


def _read_glb(path: Path, name: str) -> Promise:
    data = path.read_bytes()
    if data[:4] != b"glTF" or len(data) < 20:
        raise MeshError(name, "does not begin like a GLB", REEXPORT)
    version, length, chunk = struct.unpack("<III", data[4:16])
    if version != 2:
        raise MeshError(name, f"is GLB version {version}, only 2 can be read", REEXPORT)
    if length != len(data) or 20 + chunk > len(data):
        seen = f"the header promises {length:,} bytes, the file has {len(data):,} (cut short?)"
        raise MeshError(name, seen, REEXPORT)
    rest = len(data) - 20 - chunk
    return _read_tree(data[20 : 20 + chunk], max(0, rest - 8), path, name)


def _read_gltf(path: Path, name: str) -> Promise:
    return _read_tree(path.read_bytes(), 0, path, name)


def _read_tree(text: bytes, embedded: int, path: Path, name: str) -> Promise:
    """Judge the JSON of a glTF; embedded = bytes of the binary chunk of a GLB."""
    try:
        tree = json.loads(text)
    except ValueError:
        raise MeshError(name, "its JSON part cannot be read", REEXPORT) from None
    if not isinstance(tree, dict):
        raise MeshError(name, "its JSON part is no glTF", REEXPORT)
    needs = [str(item) for item in tree.get("extensionsRequired", ())]
    strange = [item for item in needs if not _HARMLESS.match(item)]
    if strange:
        seen = f"needs the glTF extension {', '.join(strange)}, which is not read here"
        raise MeshError(name, seen, "export it again without compression")
    try:
        _check_buffers(tree, embedded, path, name)
        return Promise(triangles=_count_triangles(tree, name), short=True)
    except (KeyError, IndexError, TypeError, AttributeError, RecursionError) as error:
        seen = f"its glTF tree does not hold together ({type(error).__name__}: {error})"
        raise MeshError(name, seen, REEXPORT) from None


def _check_buffers(tree: dict[str, Any], embedded: int, path: Path, name: str) -> None:
    for buffer in tree.get("buffers", ()):
        uri = buffer.get("uri")
        if uri is None:
            held = embedded
        elif uri.startswith("data:"):
            held = len(uri) * 3 // 4
        else:
            beside = (path.parent / unquote(uri)).resolve()
            if path.parent.resolve() not in beside.parents or not beside.is_file():
                seen = f"its data file {uri} is not in the same folder"
                raise MeshError(name, seen, "put it there, or export GLB, which is one file")
            held = beside.stat().st_size
        if held < buffer["byteLength"]:
            seen = f"a buffer promises {buffer['byteLength']:,} bytes, {held:,} are there"
            raise MeshError(name, f"{seen} (cut short)", REEXPORT)
    for view in tree.get("bufferViews", ()):
        end = view.get("byteOffset", 0) + view["byteLength"]
        if end > tree["buffers"][view["buffer"]]["byteLength"]:
            raise MeshError(name, "a buffer view reaches beyond its buffer", REEXPORT)


def _count_triangles(tree: dict[str, Any], name: str) -> int:
    """Triangles of all nodes of the scene; a mesh used a thousand times counts a thousandfold."""
    accessors = tree.get("accessors", [])

    def of_mesh(mesh: dict[str, Any]) -> int:
        total = 0
        for part in mesh["primitives"]:
            spot = part.get("indices", part["attributes"]["POSITION"])
            for item in (spot, part["attributes"]["POSITION"]):
                if "bufferView" not in accessors[item]:
                    raise MeshError(name, "a mesh has no data behind its accessor", REEXPORT)
            corners = accessors[spot]["count"]
            mode = part.get("mode", 4)
            total += corners // 3 if mode == 4 else max(0, corners - 2) if mode in (5, 6) else 0
        return total

    sizes = [of_mesh(mesh) for mesh in tree.get("meshes", ())]
    nodes = tree.get("nodes", [])
    scenes = tree.get("scenes", [])
    roots = scenes[tree.get("scene", 0)].get("nodes", []) if scenes else range(len(nodes))
    total, visits = 0, 0
    stack = list(roots)
    while stack:
        node = nodes[stack.pop()]
        stack += node.get("children", [])
        visits += 1
        if visits > 1_000_000:
            raise MeshError(name, "its glTF tree has no end", REEXPORT)
        total += sizes[node["mesh"]] if "mesh" in node else 0
    return total


def _refuse_bad_floats(corners: NDArray[np.floating], name: str) -> None:
    bad = int((~np.isfinite(corners)).any(axis=(-1, -2)).sum())
    if bad:
        seen = f"{bad:,} of {len(corners):,} triangles have a corner that is no number"
        raise MeshError(name, seen, "repair the mesh where it was made and export it again")


_READERS: dict[str, Callable[[Path, str], Promise]] = {
    ".stl": _read_stl,
    ".obj": _read_obj,
    ".ply": _read_ply,
    ".glb": _read_glb,
    ".gltf": _read_gltf,
}
