"""What a hose can be clipped to: the mesh without its lids, the module boxes, declared solids."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from fitcheck.geometry.box import as_point
from fitcheck.geometry.curve import Curve
from fitcheck.geometry.distance import (
    TriangleIndex,
    index_triangles,
    nearest_triangle,
    point_box,
)
from fitcheck.kernels import kernel
from fitcheck.model.contact import Kind
from fitcheck.model.found.routes import Span
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.routing.world.field import World
from fitcheck.units import Metre

Points = NDArray[np.float64]

#: Spacing of the points along a hose at which reach is checked [m].
LOOK_STEP = 0.005
#: Edge of the bins triangles are sorted into when lids are left out, in cells.
BIN_CELLS = 2.0
#: Cells this close to a surface are measured exactly, others by their steps to these, in cells.
NEAR = 1.5
#: Triangle corners this close to a lid's belong to the lid [m].
SAME = 1e-6


@dataclass(frozen=True, eq=False, kw_only=True)
class Structure:
    """Surfaces that carry clips: triangles, and boxes (n, 15) with their kinds and `names`.

    known : distance of cells to them, computed on first use
    """

    triangles: TriangleIndex
    boxes: NDArray[np.float64]
    kinds: tuple[Kind, ...]
    names: tuple[str, ...]
    known: list[NDArray[np.float32]] = field(default_factory=list)

    def nearest(self, points: Points, cutoff: Metre) -> tuple[Points, Points, NDArray[np.int64]]:
        """Distance, nearest point and surface number of (n, 3) points [m].

        Surface number: 0 the mesh, 1 .. the boxes, -1 where nothing is within the cutoff.
        """
        points = np.ascontiguousarray(points, dtype=np.float64)
        distance, foot = np.full(len(points), cutoff), points.copy()
        which = np.full(len(points), -1, dtype=np.int64)
        _nearest(points, self.triangles, self.boxes, distance, foot, which)
        return distance, foot, which

    def named(self, which: int) -> tuple[Kind, str]:
        """Kind and name of a surface."""
        return ("mesh", "") if which == 0 else (self.kinds[which - 1], self.names[which - 1])

    def apart(self, world: World) -> NDArray[np.float32]:
        """Distance of free cells' centres from structure, accurate to about half a cell [m]."""
        if not self.known:
            pitch = float(world.pitch[0])
            beyond = np.ones(world.label.shape, dtype=np.bool_)
            _beyond(world, self.triangles, self.boxes, NEAR * pitch, beyond)
            steps = distance_transform_edt(beyond)
            self.known.append((pitch * (steps + NEAR - 0.5)).astype(np.float32))
        return self.known[0]

    def unsupported(self, curve: Curve, limit: Metre) -> tuple[Span, ...]:
        """Stretches of a curve whose centre line is further than `limit` from every surface."""
        s, points = looked_at(curve)
        free = np.append(self.nearest(points, limit + 1e-9)[0] > limit, False)
        spans, first = [], -1
        for number, hangs in enumerate(free):
            if hangs and first < 0:
                first = number
            elif not hangs and first >= 0:
                low, high = s[max(0, first - 1)], s[min(number, len(s) - 1)]
                middle = points[(first + number - 1) // 2]
                spans.append(Span(start=float(low), end=float(high), place=as_point(middle)))
                first = -1
        return tuple(spans)


def looked_at(curve: Curve) -> tuple[Points, Points]:
    """Distances along a curve (n,) and the points there (n, 3), LOOK_STEP apart or less [m]."""
    s = [0.0]
    for row in curve.pieces:
        steps = max(1, math.ceil(row[10] / LOOK_STEP - 1e-9))
        s += list(s[-1] + row[10] * np.arange(1, steps + 1) / steps)
    return np.array(s), curve.sample(LOOK_STEP)


def structure_of(
    scenario: Scenario,
    space: Space,
    triangles: TriangleIndex,
    boxes: NDArray[np.float64],
    kinds: tuple[Kind, ...],
    names: tuple[str, ...],
    before: Structure | None = None,
) -> Structure:
    """The surfaces of a compartment that carry clips.

    Parameters: triangles, index of all of the space; boxes (n, 15) with kinds and names. Keep-outs
    are air and carry nothing. before: the
    structure of the same space with its modules elsewhere.
    """
    rows = [row for row, kind in enumerate(kinds) if kind != "keep-out"]
    return Structure(
        triangles=before.triangles if before else _carrying(scenario, space, triangles),
        boxes=boxes[rows],
        kinds=tuple(kinds[row] for row in rows),
        names=tuple(names[row] for row in rows),
    )


def _carrying(scenario: Scenario, space: Space, triangles: TriangleIndex) -> TriangleIndex:
    kept = _without_lids(scenario, space)
    if kept.all():
        return triangles
    return index_triangles(space.triangles[kept], BIN_CELLS * space.grid.pitch)


def _without_lids(scenario: Scenario, space: Space) -> NDArray[np.bool_]:
    """Mask of the triangles that are not part of a lid; a lid closes an opening of the scan."""
    kept = np.ones(len(space.triangles), dtype=bool)
    turn, shift = np.array(space.frame.turn), np.array(space.frame.shift)
    for lid in scenario.boat.lids:
        ring = space.frame.scale * (np.array(lid.corners) @ turn.T) + shift
        marks = np.vstack([ring, ring.mean(axis=0)])
        away = np.linalg.norm(space.triangles[:, :, None] - marks, axis=-1).min(axis=-1)
        kept &= away.max(axis=1) > SAME
    return kept


@kernel
def _toward(a, b, p, out):  # type: ignore[no-untyped-def]
    """Point of segment ab nearest to p, into out; returns its squared distance [m2].

    a, b, p, out (3,) [m].
    """
    size = along = 0.0
    for m in range(3):
        size += (b[m] - a[m]) ** 2
        along += (b[m] - a[m]) * (p[m] - a[m])
    share = min(1.0, max(0.0, along / size)) if size > 0.0 else 0.0
    total = 0.0
    for m in range(3):
        out[m] = a[m] + share * (b[m] - a[m])
        total += (p[m] - out[m]) ** 2
    return total


@kernel
def _foot_on_triangle(corner, t, p, distance, out):  # type: ignore[no-untyped-def]
    """Point of a triangle at a known distance: on its plane, else on an edge.

    corner (n, 3, 3) [m], of which row t; p (3,), distance [m]; writes out (3,) [m].
    """
    a, b, c = corner[t, 0], corner[t, 1], corner[t, 2]
    normal = np.cross(b - a, c - a)
    size = math.sqrt((normal**2).sum())
    if size > 0.0:
        height = ((p - a) * normal).sum() / size
        if abs(abs(height) - distance) < 1e-9:
            out[:] = p - (height / size) * normal
            return
    trial = np.empty(3)
    best = _toward(a, b, p, out)
    for e in range(2):
        value = _toward(b, c, p, trial) if e == 0 else _toward(c, a, p, trial)
        if value < best:
            best = value
            out[:] = trial


@kernel
def _foot_on_box(boxes, b, p, out):  # type: ignore[no-untyped-def]
    """Point of box b, of boxes (n, 15), nearest to p (3,), into out (3,), all [m]."""
    out[:] = boxes[b, :3]
    for a in range(3):
        axis = boxes[b, 6 + 3 * a : 9 + 3 * a]
        along = ((p - boxes[b, :3]) * axis).sum()
        half = boxes[b, 3 + a]
        out += min(half, max(-half, along)) * axis


@kernel
def _nearest(points, triangles, boxes, distance, foot, which):  # type: ignore[no-untyped-def]
    """Find the nearest structure to points (n, 3); boxes (m, 15), all [m].

    distance (n,): cutoffs, overwritten; foot (n, 3), which (n,): 0 the mesh, 1 .. the boxes; both
    are written only where something is within the cutoff.
    """
    for n in range(points.shape[0]):
        x, y, z = points[n, 0], points[n, 1], points[n, 2]
        best, found, box = distance[n], -1, -1
        for b in range(boxes.shape[0]):
            d = point_box(x, y, z, boxes, b)
            if d < best:
                best, box = d, b
        best, found = nearest_triangle(x, y, z, triangles, best)
        distance[n] = best
        if found >= 0:
            which[n] = 0
            _foot_on_triangle(triangles.corner, found, points[n], best, foot[n])
        elif box >= 0:
            which[n] = box + 1
            _foot_on_box(boxes, box, points[n], foot[n])


@kernel
def _beyond(world, triangles, boxes, limit, cells):  # type: ignore[no-untyped-def]
    """Mark the cells (nx, ny, nz), bool, whose centre is further than `limit` from structure.

    boxes (m, 15), limit [m].
    """
    h = world.pitch[0]
    for i in range(cells.shape[0]):
        for j in range(cells.shape[1]):
            for k in range(cells.shape[2]):
                x = world.origin[0] + (i + 0.5) * h
                y = world.origin[1] + (j + 0.5) * h
                z = world.origin[2] + (k + 0.5) * h
                far = True
                for b in range(boxes.shape[0]):
                    far = far and point_box(x, y, z, boxes, b) > limit
                if far and world.reach[i, j, k] <= limit:
                    far = nearest_triangle(x, y, z, triangles, limit)[1] < 0
                cells[i, j, k] = far
