"""OBJ: corners and faces of a text format without counts, so its end is checked closely."""

from __future__ import annotations

import re
from array import array
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.meshfiles.formats.polygons import cut_faces
from fitcheck.meshfiles.reading import REEXPORT, Reading, decimal, refuse_count, whole
from fitcheck.units import Ratio

#: First bytes of lines that use points.
_USES = (b"f", b"fo", b"l", b"p")
#: Lines without flat faces and their corners.
_OTHER = frozenset(
    b"vt vn vp o g s mg usemtl mtllib usemap maplib lod bevel c_interp d_interp shadow_obj "
    b"trace_obj deg bmat step cstype parm curv curv2 trim hole scrv sp end con call csh".split()
)
#: If more than this share of the points have no face, the file was cut short.
MOST_LOOSE: Ratio = 0.05
_WHOLE = "compare its triangles with those of the program that made it, or export it again"


def read_obj(path: Path, name: str) -> Reading:
    """Read an OBJ; materials and textures are ignored. Raises MeshError."""
    text = path.read_bytes()
    if b"\0" in text:
        raise MeshError(name, "is not text, so it is not OBJ", "check what kind of file it is")
    text = re.sub(rb"\\(\r\n|\n|\r)", b" ", text)
    rows = _Rows(name)
    for line in re.finditer(rb"[^\r\n]+", text):
        row = line.group().partition(b"#")[0].split()
        if row and row[0] not in _OTHER:
            rows.take(row)
    points = np.array(rows.points, dtype=np.float64).reshape(-1, 3)
    if len(points) == 0:
        raise MeshError(name, "is text but has no vertex lines, so it is not OBJ", REEXPORT)
    if not rows.sizes:
        seen = f"has {len(points):,} points and no faces (a point cloud, or cut short?)"
        raise MeshError(name, seen, "export a mesh, or the cloud as PLY, LAS or E57")
    ring, sizes = np.array(rows.ring, dtype=np.int64), np.array(rows.sizes, dtype=np.int64)
    refuse_count(len(ring) - 2 * len(sizes), name)
    used = np.zeros(len(points), dtype=np.bool_)
    used[ring] = used[np.array(rows.drawn, dtype=np.int64)] = True
    doubts = _doubts(used, text.endswith((b"\n", b"\r")), name)
    if rows.strange:
        seen = f"{len(rows.strange):,} of its lines are not OBJ, such as {rows.strange[0]}"
        doubts = (*doubts, f"{seen}: {_WHOLE}")
    triangles = cut_faces(points, ring, sizes, name)
    return Reading(triangles=triangles, promised=len(triangles), doubts=doubts)


class _Rows:
    """The contents of the lines read so far: points, corners of faces, corners of
    other elements.
    """

    def __init__(self, name: str) -> None:
        self._name = name
        self.points = array("d")
        self.ring, self.sizes, self.drawn = array("q"), array("q"), array("q")
        self.strange: list[str] = []

    def take(self, row: list[bytes]) -> None:
        """Process one line. Raises MeshError."""
        try:
            if row[0] == b"v":
                # Anything after the third number is a weight or a colour.
                x, y, z = row[1:4]
                self.points.extend((decimal(x), decimal(y), decimal(z)))
            elif row[0] in _USES:
                self._use(row)
            elif row[0] == b"surf":
                seen = "has curved surfaces, which are not supported"
                raise MeshError(self._name, seen, "export a mesh of it")
            else:
                self.strange.append(_shown(row))
        except ValueError:
            raise MeshError(self._name, f"line not understood: {_shown(row)}", REEXPORT) from None

    def _use(self, row: list[bytes]) -> None:
        """Corners of a face, a line or a point: from 1, or negative to count back from
        this line.
        """
        above = len(self.points) // 3
        numbers = [whole(word.partition(b"/")[0]) for word in row[1:]]
        places = [at - 1 if at > 0 else above + at for at in numbers]
        if 0 in numbers or any(not 0 <= at < above for at in places):
            seen = f"a face refers to a corner that is not above it: {_shown(row)}"
            raise MeshError(self._name, seen, REEXPORT)
        if row[0] in (b"l", b"p"):
            self.drawn.extend(places)
            return
        if len(places) < 3:
            raise MeshError(self._name, f"a face without three corners: {_shown(row)}", REEXPORT)
        self.ring.extend(places)
        self.sizes.append(len(places))


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
