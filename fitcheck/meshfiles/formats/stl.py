"""STL, binary and text: declared and actual counts, and the corners."""

from __future__ import annotations

import re
import struct
from pathlib import Path

import numpy as np

from fitcheck.errors import MeshError
from fitcheck.meshfiles.reading import REEXPORT, Reading, decimals, refuse_count

_RECORD = np.dtype([("normal", "<f4", (3,)), ("corner", "<f4", (3, 3)), ("tail", "<u2")])
_CORNER = rb"\s+vertex\s+(\S+)\s+(\S+)\s+(\S+)"
_FACET = re.compile(
    rb"\bfacet\s+normal\s+\S+\s+\S+\s+\S+\s+outer\s+loop"
    + 3 * _CORNER
    + rb"\s+endloop\s+endfacet\b",
    re.IGNORECASE,
)
#: The remainder of a complete text STL without its facets: solids, each with its end.
_SHELLS = re.compile(rb"(?>\s*solid\b[^\r\n]*\s+endsolid\b[^\r\n]*)+\s*", re.IGNORECASE)
_PIECE = re.compile(rb"\b(?:vertex|endloop|endfacet)\b", re.IGNORECASE)


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
    seen = f"the header declares {count:,} triangles, the file contains {(size - 84) / 50:,.1f}"
    raise MeshError(name, f"{seen} (cut short or damaged)", REEXPORT)


def _binary(path: Path, count: int, name: str) -> Reading:
    refuse_count(count, name)
    rows = np.memmap(path, dtype=_RECORD, mode="r", offset=84, shape=(count,))
    triangles = np.asarray(rows["corner"], dtype=np.float64)
    return Reading(triangles=triangles, promised=count, short=True)


def _text(text: bytes, name: str) -> Reading:
    """Facets of a text STL, refused if anything remains that is not a facet."""
    left = _FACET.sub(b" ", text)
    facets = sum(1 for _ in _FACET.finditer(text))
    if _PIECE.search(left) or not _SHELLS.fullmatch(left):
        seen = f"{facets:,} facets are complete, something else is not (cut short?)"
        raise MeshError(name, seen, REEXPORT)
    refuse_count(facets, name)
    words = (word for facet in _FACET.finditer(text) for word in facet.groups())
    return Reading(triangles=decimals(words, name).reshape(-1, 3, 3), promised=facets)
