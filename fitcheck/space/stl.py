"""STL, binary and text: counts promised and counts there, and the corners."""

from __future__ import annotations

import re
import struct
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.space.reading import REEXPORT, REPAIR, Reading, refuse_count

_RECORD = np.dtype([("normal", "<f4", (3,)), ("corner", "<f4", (3, 3)), ("tail", "<u2")])
_VERTEX = re.compile(rb"\bvertex\s+(\S+)\s+(\S+)\s+(\S+)", re.IGNORECASE)


def read_stl(path: Path, name: str) -> Reading:
    """Read an STL; a file that begins with `solid` may still be binary. Raises MeshError."""
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(1024)
    if size >= 84:
        count = struct.unpack("<I", head[80:84])[0]
        if size == 84 + 50 * count:
            return _binary(path, count, name)
    start = head.lstrip().lower()
    if start.startswith(b"solid") and b"\0" not in start:
        return _text(path.read_bytes(), name)
    if size < 84:
        raise MeshError(name, f"{size} bytes are too few for an STL header", REEXPORT)
    seen = f"the header promises {count:,} triangles, the file holds {(size - 84) / 50:,.1f}"
    raise MeshError(name, f"{seen} (cut short or damaged)", REEXPORT)


def _binary(path: Path, count: int, name: str) -> Reading:
    refuse_count(count, name)
    rows = np.memmap(path, dtype=_RECORD, mode="r", offset=84, shape=(count,))
    triangles = np.asarray(rows["corner"], dtype=np.float64)
    return Reading(triangles=triangles, promised=count, short=True)


def _text(text: bytes, name: str) -> Reading:
    lower = text.lower()
    begun, ended = lower.count(b"facet normal"), lower.count(b"endfacet")
    if begun == 0:
        raise MeshError(name, "begins like a text STL but has no facets", REEXPORT)
    corners = sum(1 for _ in _VERTEX.finditer(text))
    if begun != ended or corners != 3 * begun or b"endsolid" not in lower[-1024:]:
        seen = f"{begun:,} facets begin, {ended:,} end, with {corners:,} corners (cut short?)"
        raise MeshError(name, seen, REEXPORT)
    refuse_count(begun, name)
    return Reading(triangles=_corners(text, corners, name), promised=begun)


def _corners(text: bytes, count: int, name: str) -> NDArray[np.float64]:
    values = (float(word) for match in _VERTEX.finditer(text) for word in match.groups())
    try:
        return np.fromiter(values, dtype=np.float64, count=3 * count).reshape(-1, 3, 3)
    except ValueError as error:
        raise MeshError(name, f"a corner is no number ({error})"[:120], REPAIR) from None
