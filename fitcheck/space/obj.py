"""OBJ: corners and faces of a text that promises no count, so its end is looked at closely."""

from __future__ import annotations

import re
from itertools import chain
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.space.polygons import cut_faces
from fitcheck.space.reading import REEXPORT, Reading, decimals, refuse_count, whole
from fitcheck.units import Ratio

#: Lines that use points, by what they begin with.
_USES = (b"f", b"fo", b"l", b"p")
#: Lines that hold no flat face and no corner of one.
_OTHER = frozenset(
    b"vt vn vp o g s mg usemtl mtllib usemap maplib lod bevel c_interp d_interp shadow_obj "
    b"trace_obj deg bmat step cstype parm curv curv2 trim hole scrv sp end con call csh".split()
)
#: More points without a face than this share are no oversight but a file cut short.
MOST_LOOSE: Ratio = 0.05
_WHOLE = "compare its triangles with those of the program that made it, or export it again"


def read_obj(path: Path, name: str) -> Reading:
    """Read an OBJ; materials and textures are left alone. Raises MeshError."""
    text = path.read_bytes()
    if b"\0" in text:
        raise MeshError(name, "is not text, so no OBJ", "check what kind of file it is")
    joined = re.sub(rb"\\(\r\n|\n|\r)", b" ", text)
    lines = (line.partition(b"#")[0].split() for line in joined.splitlines())
    rows = [row for row in lines if row and row[0] not in _OTHER]
    curved = next((row for row in rows if row[0] == b"surf"), None)
    if curved is not None:
        raise MeshError(
            name, "has curved surfaces, which are not read here", "export a mesh of it"
        )
    strange = [row for row in rows if row[0] != b"v" and row[0] not in _USES]
    points = _points([row for row in rows if row[0] == b"v"], name)
    if len(points) == 0:
        raise MeshError(name, "is text but has no vertex lines, so no OBJ", REEXPORT)
    used = np.zeros(len(points), dtype=np.bool_)
    ring, sizes = _faces(rows, used, name)
    if not sizes:
        seen = f"has {len(points):,} points and no faces (a point cloud, or cut short?)"
        raise MeshError(name, seen, "export a mesh, or the cloud as PLY, LAS or E57")
    refuse_count(len(ring) - 2 * len(sizes), name)
    triangles = cut_faces(points, ring, sizes, name)
    doubts = _doubts(used, joined.endswith((b"\n", b"\r")), name)
    if strange:
        seen = f"{len(strange):,} of its lines are none of OBJ, such as {_shown(strange[0])}"
        doubts = (*doubts, f"{seen}: {_WHOLE}")
    return Reading(triangles=triangles, promised=len(triangles), doubts=doubts)


def _points(rows: list[list[bytes]], name: str) -> NDArray[np.float64]:
    """Corners; what follows the third number is a weight or a colour."""
    short = next((row for row in rows if not 4 <= len(row) <= 9), None)
    if short is not None:
        raise MeshError(name, f"line not understood: {_shown(short)}", REEXPORT)
    words = chain.from_iterable(row[1:4] for row in rows)
    return decimals(words, name).reshape(-1, 3)


def _faces(
    rows: list[list[bytes]], used: NDArray[np.bool_], name: str
) -> tuple[list[int], list[int]]:
    """Corners of all faces one after the other, and how many each has; marks what is used.

    Numbers count from 1, or below 0 back from the face's own line.
    """
    ring: list[int] = []
    sizes: list[int] = []
    above = 0
    for row in rows:
        if row[0] == b"v":
            above += 1
        if row[0] not in _USES:
            continue
        try:
            numbers = [whole(word.partition(b"/")[0]) for word in row[1:]]
        except ValueError:
            raise MeshError(name, f"line not understood: {_shown(row)}", REEXPORT) from None
        places = [at - 1 if at > 0 else above + at for at in numbers]
        if 0 in numbers or any(not 0 <= at < above for at in places):
            seen = f"a face asks for a corner that is not above it: {_shown(row)}"
            raise MeshError(name, seen, REEXPORT)
        used[places] = True
        if row[0] in (b"l", b"p"):
            continue
        if len(places) < 3:
            raise MeshError(name, f"a face without three corners: {_shown(row)}", REEXPORT)
        ring += places
        sizes.append(len(places))
    return ring, sizes


def _doubts(used: NDArray[np.bool_], ended: bool, name: str) -> tuple[str, ...]:
    """Why faces may be missing at the end; a file whose end shows it is refused.

    Programs write the corners first: a file cut among its faces leaves some unused.
    """
    loose = int((~used).sum())
    seen = f"{loose:,} of its {len(used):,} points belong to no face"
    if loose and not ended:
        raise MeshError(name, f"its last line has no end and {seen} (cut short?)", REEXPORT)
    if loose > MOST_LOOSE * len(used):
        remedy = f"{REEXPORT}; delete loose points first"
        raise MeshError(name, f"{seen} (cut short among its faces?)", remedy)
    found = [] if ended else [f"its last line has no end, so it may be cut short: {_WHOLE}"]
    return (*found, f"{seen}, so faces may be missing: {_WHOLE}") if loose else tuple(found)


def _shown(row: list[bytes]) -> str:
    return repr(b" ".join(row)[:60].decode("latin-1"))
