"""Writes a binary glTF 2.0 file: named nodes, one mesh each, y up, linear colours.

Source of the layout: Khronos Group, glTF 2.0 specification, chapters 3.6, 3.7, 3.9 and 4.4.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitcheck import __version__

_FLOAT, _USHORT, _UINT = 5126, 5123, 5125
_ARRAY, _ELEMENTS = 34962, 34963
_TRIANGLES = 4
_MAGIC, _JSON, _BIN = 0x46546C67, 0x4E4F534A, 0x004E4942
#: Boat frame (x forward, y to port, z up) to glTF (y up): (x, y, z) -> (x, z, -y).
TO_GLTF = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])


@dataclass(frozen=True, eq=False, kw_only=True)
class Part:
    """One named thing to draw.

    vertices : (n, 3) float, boat frame [m]; faces : (m, 3) int
    colour : "#RRGGBB" as people write it (sRGB); opacity : 0..1
    tints : (n, 3) linear colours by which the colour is multiplied, or None
    normals : (n, 3) unit vectors, or None for flat facets
    extras : what a viewer may show with it
    """

    name: str
    vertices: NDArray[np.float64]
    faces: NDArray[np.int64]
    colour: str
    opacity: float = 1.0
    tints: NDArray[np.float64] | None = None
    normals: NDArray[np.float64] | None = None
    extras: dict[str, Any] = field(default_factory=dict)


def linear(colour: str) -> tuple[float, float, float]:
    """Linear red, green, blue of an sRGB colour "#RRGGBB" (IEC 61966-2-1 transfer function)."""
    red, green, blue = (_linear(int(colour[i : i + 2], 16) / 255) for i in (1, 3, 5))
    return (red, green, blue)


def _linear(value: float) -> float:
    return value / 12.92 if value <= 0.04045 else float(((value + 0.055) / 1.055) ** 2.4)


def as_glb(parts: Sequence[Part], extras: dict[str, Any]) -> bytes:
    """The bytes of a .glb file with every part as a node of its name."""
    buffer = _Buffer()
    meshes = [_mesh(index, part, buffer) for index, part in enumerate(parts)]
    document = {
        "asset": {"version": "2.0", "generator": f"fitcheck {__version__}"},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(parts))), "extras": extras}],
        "nodes": [
            {"name": part.name, "mesh": index, "extras": part.extras}
            for index, part in enumerate(parts)
        ],
        "meshes": meshes,
        "materials": [_material(part) for part in parts],
        "accessors": buffer.accessors,
        "bufferViews": buffer.views,
        "buffers": [{"byteLength": len(buffer.bytes)}],
    }
    text = json.dumps(document, separators=(",", ":"), allow_nan=False).encode()
    chunks = _chunk(_JSON, text, b" ") + _chunk(_BIN, bytes(buffer.bytes), b"\0")
    return struct.pack("<III", _MAGIC, 2, 12 + len(chunks)) + chunks


def _chunk(kind: int, content: bytes, filler: bytes) -> bytes:
    content += filler * (-len(content) % 4)
    return struct.pack("<II", len(content), kind) + content


class _Buffer:
    """Collects arrays end to end with their views and accessors."""

    def __init__(self) -> None:
        self.bytes = bytearray()
        self.views: list[dict[str, Any]] = []
        self.accessors: list[dict[str, Any]] = []

    def add(self, array: NDArray[Any], component: int, kind: str, target: int) -> int:
        """Append an array; returns the index of its accessor."""
        content = array.tobytes()
        self.views.append(
            {
                "buffer": 0,
                "byteOffset": len(self.bytes),
                "byteLength": len(content),
                "target": target,
            }
        )
        self.bytes += content + b"\0" * (-len(content) % 4)
        self.accessors.append(
            {
                "bufferView": len(self.views) - 1,
                "componentType": component,
                "count": len(array),
                "type": kind,
            }
        )
        return len(self.accessors) - 1

    def vectors(self, vectors: NDArray[np.float64]) -> int:
        """Append (n, 3) numbers unchanged."""
        return self.add(vectors.astype("<f4"), _FLOAT, "VEC3", _ARRAY)

    def points(self, points: NDArray[np.float64]) -> int:
        """Append points with the bounds that positions must declare."""
        exact = points.astype("<f4")
        index = self.add(exact, _FLOAT, "VEC3", _ARRAY)
        self.accessors[index] |= {"min": exact.min(0).tolist(), "max": exact.max(0).tolist()}
        return index

    def indices(self, faces: NDArray[np.int64], vertices: int) -> int:
        """Append corner numbers in the smallest sufficient type."""
        small = vertices < 2**16 - 1
        kind, component = ("<u2", _USHORT) if small else ("<u4", _UINT)
        return self.add(faces.reshape(-1).astype(kind), component, "SCALAR", _ELEMENTS)


def _mesh(index: int, part: Part, buffer: _Buffer) -> dict[str, Any]:
    attributes = {"POSITION": buffer.points(part.vertices @ TO_GLTF.T)}
    if part.normals is not None:
        attributes["NORMAL"] = buffer.vectors(part.normals @ TO_GLTF.T)
    if part.tints is not None:
        attributes["COLOR_0"] = buffer.vectors(part.tints)
    primitive = {
        "attributes": attributes,
        "indices": buffer.indices(part.faces, len(part.vertices)),
        "material": index,
        "mode": _TRIANGLES,
    }
    return {"name": part.name, "primitives": [primitive]}


def _material(part: Part) -> dict[str, Any]:
    material: dict[str, Any] = {
        "name": part.name,
        "doubleSided": True,
        "pbrMetallicRoughness": {
            "baseColorFactor": [*linear(part.colour), part.opacity],
            "metallicFactor": 0.0,
            "roughnessFactor": 0.85,
        },
    }
    if part.opacity < 1.0:
        material["alphaMode"] = "BLEND"
    return material
