"""Hand-written mesh files: text STL, OBJ, glTF, and point clouds in PLY."""

from __future__ import annotations

import json
import struct
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.specimens import Triangles, room

Points = Triangles
ROOM = room()


def write_text_stl(path: Path, triangles: Triangles) -> Path:
    facets = [
        "facet normal 0 0 0\nouter loop\n"
        + "".join("vertex {:.9g} {:.9g} {:.9g}\n".format(*corner) for corner in triangle)
        + "endloop\nendfacet\n"
        for triangle in triangles
    ]
    path.write_text("solid room\n" + "".join(facets) + "endsolid room\n")
    return path


def write_obj(path: Path, triangles: Triangles) -> Path:
    rows = ["v {:.9g} {:.9g} {:.9g}".format(*corner) for corner in triangles.reshape(-1, 3)]
    rows += [f"f {3 * i + 1} {3 * i + 2} {3 * i + 3}" for i in range(len(triangles))]
    path.write_text("# a room\n" + "\n".join(rows) + "\n")
    return path


def tree_of(triangles: Triangles) -> tuple[dict[str, Any], bytes]:
    points = np.ascontiguousarray(triangles.reshape(-1, 3), dtype="<f4")
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "accessors": [
            {
                "bufferView": 0,
                "componentType": 5126,
                "count": len(points),
                "type": "VEC3",
                "min": points.min(axis=0).tolist(),
                "max": points.max(axis=0).tolist(),
            }
        ],
        "bufferViews": [{"buffer": 0, "byteLength": points.nbytes}],
        "buffers": [{"byteLength": points.nbytes}],
    }
    return tree, points.tobytes()


def write_glb(path: Path, tree: dict[str, Any], data: bytes) -> Path:
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    parts = struct.pack("<II", len(text), 0x4E4F534A) + text
    parts += struct.pack("<II", len(data), 0x004E4942) + data
    path.write_bytes(b"glTF" + struct.pack("<II", 2, 12 + len(parts)) + parts)
    return path


def textured_obj() -> tuple[str, str]:
    """An OBJ that names a material file, and that file."""
    rows = ["v {:.9g} {:.9g} {:.9g}".format(*corner) for corner in ROOM.reshape(-1, 3)]
    rows += ["vt 0 0"]
    rows += [f"f {3 * i + 1}/1 {3 * i + 2}/1 {3 * i + 3}/1" for i in range(len(ROOM))]
    head = "mtllib ../../../room.mtl\nusemtl paint\n"
    return head + "\n".join(rows) + "\n", "newmtl paint\nmap_Kd /dev/zero\n"


def sampled(triangles: Points, apart: float, noise: float = 0.0, seed: int = 1) -> Points:
    """Random points on triangles, about `apart` apart."""
    draw = np.random.default_rng(seed)
    a, b = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    normal = np.cross(a, b)
    area = np.linalg.norm(normal, axis=1) / 2.0
    of = draw.choice(len(triangles), int(area.sum() / apart**2), p=area / area.sum())
    u, v = draw.random((2, len(of)))
    u, v = np.where(u + v > 1.0, 1.0 - u, u), np.where(u + v > 1.0, 1.0 - v, v)
    on = triangles[of, 0] + u[:, None] * a[of] + v[:, None] * b[of]
    off = draw.normal(0.0, noise, len(of)) if noise else np.zeros(len(of))
    return on + off[:, None] * (normal / (2.0 * area)[:, None])[of]


def write_cloud(
    path: Path,
    points: Points,
    *,
    text: bool = False,
    big: bool = False,
    frame: NDArray[np.int64] | None = None,
) -> Path:
    """A PLY of points only, with a colour to skip; frame : number of the frame of each."""
    form = "ascii" if text else f"binary_{'big' if big else 'little'}_endian"
    order = ">" if big else "<"
    kinds = {"x": "float", "y": "float", "z": "float", "red": "uchar"}
    kinds |= {} if frame is None else {"frame": "int"}
    forms = {"float": order + "f4", "uchar": "u1", "int": order + "i4"}
    rows = np.zeros(len(points), dtype=[(key, forms[kind]) for key, kind in kinds.items()])
    rows["x"], rows["y"], rows["z"] = np.asarray(points).T
    if frame is not None:
        rows["frame"] = frame
    head = f"ply\nformat {form} 1.0\nelement vertex {len(points)}\n"
    head += "".join(f"property {kind} {key}\n" for key, kind in kinds.items())
    body = "".join(" ".join(f"{value:.6g}" for value in row) + "\n" for row in rows.tolist())
    path.write_bytes(f"{head}end_header\n".encode() + (body.encode() if text else rows.tobytes()))
    return path
