"""Close holes in a scanned surface for lines of sight.

A hole in a scan is where nothing was recorded: a shadow, a glossy patch, a face that was never in
view. Lines of sight through it prove nothing, and what shows behind a glossy patch may be its
mirror image. So every hole above a minimum size is spanned with triangles from its rim to its
middle: they end lines of sight and do not prove that anything in front of them is free.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.meshfiles.topology import welded
from fitcheck.units import Metre

#: Longer holes are not spanned: hatches, the end of the scan [m].
WIDEST: Metre = 0.8
#: Rims with fewer edges are noise of the mesh.
FEWEST = 5


def spans(surface: NDArray[np.float64], widest: Metre = WIDEST) -> list[NDArray[np.float64]]:
    """(n, 3, 3) triangles [m] -> for every hole in them up to `widest`, a fan over its rim.

    A rim is a closed loop of edges with one triangle (or three); the outer edge of a loose patch
    of surface is not a hole.
    """
    corners = welded(surface)
    keep = (corners != np.roll(corners, 1, axis=1)).all(axis=1)
    surface, corners = surface[keep], corners[keep]
    start, end, face = _open_edges(corners)
    points = np.empty((int(corners.max()) + 1, 3))
    points[corners.reshape(-1)] = surface.reshape(-1, 3)
    normal = np.cross(surface[:, 1] - surface[:, 0], surface[:, 2] - surface[:, 0])
    fans = []
    for loop in _loops(start, end):
        rim = points[start[loop]]
        if len(loop) < FEWEST or float(np.ptp(rim, axis=0).max()) > widest:
            continue
        # The surface's edges run counter-clockwise around it, and so clockwise around its holes.
        area = np.cross(rim, np.roll(rim, -1, axis=0)).sum(axis=0)
        if area @ normal[face[loop]].sum(axis=0) < 0.0:
            middle = np.broadcast_to(rim.mean(axis=0), rim.shape)
            fans.append(np.stack([np.roll(rim, -1, axis=0), rim, middle], axis=1))
    return fans


def _open_edges(
    corners: NDArray[np.int64],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Edges with one more triangle on one side than on the other: two corners, triangle."""
    start, end = corners.ravel(), np.roll(corners, -1, axis=1).ravel()
    low, high = np.minimum(start, end), np.maximum(start, end)
    _, where, count = np.unique(
        low * (corners.max() + 1) + high, return_inverse=True, return_counts=True
    )
    forward = np.where(start < end, 1, -1)
    balance = np.rint(np.bincount(where, weights=forward)).astype(np.int64)
    # Of three triangles on an edge two pair off; one of the two that are alike is left.
    odd = (count[where] % 2 == 1) & (balance[where] == forward)
    rows = np.flatnonzero(odd)
    _, first = np.unique(where[rows], return_index=True)
    single = rows[first]
    return start[single], end[single], single // 3


def _loops(start: NDArray[np.int64], end: NDArray[np.int64]) -> list[list[int]]:
    """Closed loops of edges, as edge numbers; a loop that touches itself is split into simple
    ones.
    """
    leaving: dict[int, list[int]] = {}
    for edge, corner in enumerate(start.tolist()):
        leaving.setdefault(corner, []).append(edge)
    ends = end.tolist()
    loops: list[list[int]] = []
    for first in start.tolist():
        run: list[int] = []
        passed = {first: 0}
        here = first
        while leaving.get(here):
            edge = leaving[here].pop()
            run.append(edge)
            here = ends[edge]
            if here in passed:
                since = passed[here]
                loops.append(run[since:])
                for cut in run[since:]:
                    passed.pop(ends[cut], None)
                run = run[:since]
                passed[here] = since
            else:
                passed[here] = len(run)
    return loops
