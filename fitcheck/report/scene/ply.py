"""compartment.ply: the triangles that were used, bit for bit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.report.scene.bodies import welded

_HEADER = """\
ply
format binary_little_endian 1.0
comment metres; x forward, y to port, z up; z = 0 is the sea surface
element vertex {vertices}
property double x
property double y
property double z
element face {faces}
property list uchar int vertex_indices
end_header
"""


def as_ply(triangles: NDArray[np.float64]) -> bytes:
    """(m, 3, 3) triangles in the boat frame [m] as a binary PLY with doubles."""
    vertices, faces = welded(triangles)
    rows = np.empty(len(faces), dtype=[("count", "u1"), ("corner", "<i4", 3)])
    rows["count"], rows["corner"] = 3, faces
    header = _HEADER.format(vertices=len(vertices), faces=len(faces))
    return header.encode("ascii") + vertices.astype("<f8").tobytes() + rows.tobytes()
