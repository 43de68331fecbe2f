"""A captured room with holes punched in it; the truth is the room without them.

The mesh is closed, so its air is known; a hole is what a scan would miss.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numba import njit
from numpy.typing import NDArray

from fitcheck.geometry.distance import distances, index_triangles
from fitcheck.model.found.space import FREE, Frame, Space
from fitcheck.model.given.boat import Boat, Datum
from tests import specimens
from tests.scans.account import SKIN, Account, given_up
from tests.scans.convex import Floats

#: Holes of a room and the radius of each [m].
HOLES, RADIUS = 6, 0.25
#: Viewpoints, and their distance from everything [m].
EYES, APART = 12, 0.3
#: Sample of air cells for which views are counted.
SAMPLE = 1500
#: Largest measured distance [m].
FARTHEST = 10.0


@dataclass(frozen=True, eq=False)
class RoomTruth:
    """A closed mesh, triangles (n, 3, 3) [m]; `side` is the winding number of its air."""

    triangles: Floats
    side: int

    def air(self, points: Floats) -> NDArray[np.bool_]:
        """Which of (n, 3) points are air."""
        wound = np.zeros(len(points), dtype=np.int64)
        _wind(np.ascontiguousarray(points), np.ascontiguousarray(self.triangles), wound)
        return wound == self.side

    def depth(self, points: Floats) -> Floats:
        """Depth of (n, 3) points behind the surface; negative in the air."""
        off = distances(points, index_triangles(self.triangles, 0.1), FARTHEST)
        return np.where(self.air(points), -off, off)


@dataclass(frozen=True, eq=False)
class PunchedRoom:
    """The room as scanned, y up, and its truth."""

    scanned: Floats
    truth: RoomTruth
    inside: Floats
    viewpoints: Floats

    def boat(self, path: Path) -> Boat:
        """The boat file, the punched mesh written to path (.ply)."""
        specimens.write_ply(path, self.scanned)
        low = self.truth.triangles.min(axis=(0, 1))
        point = (float(self.inside[0]), float(low[1]) + 0.05, float(self.inside[2]))
        return specimens.boat(
            path,
            origin="scan",
            up=(0.0, 1.0, 0.0),
            forward=(0.0, 0.0, 1.0),
            inside=specimens.as_point(self.inside),
            datum=Datum(point=point, above_sea=0.0, taken="invented"),
            centreline=None,
            viewpoints=tuple(specimens.as_point(p) for p in self.viewpoints),
        )

    def boat_to_truth(self, frame: Frame, points: Floats) -> Floats:
        """(..., 3) points in the boat frame -> the mesh's axes [m]."""
        moved = np.asarray(points) - np.array(frame.shift)
        result: Floats = moved @ np.array(frame.turn) / frame.scale
        return result

    def ways_to_truth(self, frame: Frame, ways: Floats) -> Floats:
        """(..., 3) directions in the boat frame -> the mesh's axes; lengths are unchanged."""
        result: Floats = np.asarray(ways) @ np.array(frame.turn)
        return result


def punch(triangles: Floats, seed: int) -> PunchedRoom:
    """Draw holes and viewpoints in a closed room of (n, 3, 3) triangles [m]."""
    rng = np.random.default_rng(seed)
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    size = np.linalg.norm(
        np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]), axis=1
    )
    truth = _truth(triangles, rng)
    standing = rng.uniform(low, high, (4000, 3))
    standing = standing[truth.depth(standing) < -APART]
    eyes = [standing[0]]
    for _ in range(EYES - 1):
        gaps = np.min([np.linalg.norm(standing - eye, axis=1) for eye in eyes], axis=0)
        eyes.append(standing[gaps.argmax()])
    fine = _halved(triangles, 0.05)
    middle = fine.mean(axis=1)
    gone = np.zeros(len(fine), dtype=bool)
    for at in rng.choice(len(triangles), HOLES, p=size / size.sum()):
        centre = rng.dirichlet((1.0, 1.0, 1.0)) @ triangles[at]
        gone |= np.linalg.norm(middle - centre, axis=1) < RADIUS
    return PunchedRoom(
        scanned=fine[~gone], truth=truth, inside=standing[0], viewpoints=np.array(eyes)
    )


def room_account(room: PunchedRoom, space: Space) -> Account:
    """Count the cells of a surveyed room against its truth; all errors count as `outside`."""
    litre = 1000.0 * space.grid.pitch**3
    index = np.stack(np.indices(space.grid.shape), axis=-1).reshape(-1, 3)
    points = room.boat_to_truth(space.frame, space.grid.centre(index))
    free = (space.label == FREE).ravel()
    air = room.truth.air(points)
    far = np.zeros(len(points), dtype=bool)
    ask = np.flatnonzero(free | air)
    table = index_triangles(room.truth.triangles, 0.1)
    far[ask] = distances(points[ask], table, 2 * SKIN) > SKIN
    count = int((air & far).sum())
    some = np.flatnonzero(air & far)[:: max(1, count // SAMPLE)]
    seen = np.zeros(len(some), dtype=np.int64)
    for eye in room.viewpoints:
        seen += sees(eye, points[some], room.truth.triangles)
    unseen = 1.0 - float((seen > 0).mean())
    return Account(
        in_solids=0.0,
        outside=litre * float((free & ~air & far).sum()),
        beyond_lids=0.0,
        air=litre * count,
        missed=1.0 - float((free & air & far).sum()) / count,
        unseen=unseen,
        unmeasured=unseen,
        given_up_once=given_up(free[some], seen >= 1),
        given_up_twice=given_up(free[some], seen >= 2),
    )


def sees(eye: Floats, points: Floats, triangles: Floats) -> NDArray[np.bool_]:
    """Which of (n, 3) points no triangle hides from the eye."""
    clear = np.ones(len(points), dtype=np.bool_)
    _hide(np.asarray(eye), np.ascontiguousarray(points), np.ascontiguousarray(triangles), clear)
    return clear


def _truth(triangles: Floats, rng: np.random.Generator) -> RoomTruth:
    """Most of the volume in the middle of a room is its air."""
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    points = rng.uniform(low + 0.25 * (high - low), high - 0.25 * (high - low), (500, 3))
    wound = np.zeros(len(points), dtype=np.int64)
    _wind(points, np.ascontiguousarray(triangles), wound)
    values, counts = np.unique(wound[wound != 0], return_counts=True)
    return RoomTruth(triangles, int(values[counts.argmax()]))


def _halved(triangles: Floats, longest: float) -> Floats:
    """The same surface with every triangle split in four until its sides are short."""
    done = []
    while len(triangles):
        sides = np.linalg.norm(triangles - np.roll(triangles, 1, axis=1), axis=2).max(axis=1)
        done.append(triangles[sides <= longest])
        a, b, c = (triangles[sides > longest][:, n] for n in range(3))
        ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
        parts = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
        triangles = np.concatenate([np.stack(part, axis=1) for part in parts])
    return np.concatenate(done)


@njit(cache=True)
def _wind(points, triangles, wound):  # type: ignore[no-untyped-def]
    """Winding number of the surface around each point: signed crossings of a vertical line."""
    for row in range(points.shape[0]):
        # Off every edge of the mesh; those are on round numbers if anywhere.
        x, y, z = points[row, 0] + 1.2345e-7, points[row, 1], points[row, 2] + 2.3456e-7
        for t in range(triangles.shape[0]):
            ax, ay, az = triangles[t, 0, 0] - x, triangles[t, 0, 1] - y, triangles[t, 0, 2] - z
            bx, by, bz = triangles[t, 1, 0] - x, triangles[t, 1, 1] - y, triangles[t, 1, 2] - z
            cx, cy, cz = triangles[t, 2, 0] - x, triangles[t, 2, 1] - y, triangles[t, 2, 2] - z
            if (ay < 0 and by < 0 and cy < 0) or (ax < 0 and bx < 0 and cx < 0):
                continue
            u, v, w = bz * cx - bx * cz, cz * ax - cx * az, az * bx - ax * bz
            if (u > 0 and v > 0 and w > 0) or (u < 0 and v < 0 and w < 0):
                height = (u * ay + v * by + w * cy) / (u + v + w)
                if height > 0:
                    wound[row] += 1 if u > 0 else -1


@njit(cache=True)
def _hide(eye, points, triangles, clear):  # type: ignore[no-untyped-def]
    for row in range(points.shape[0]):
        d = points[row] - eye
        for t in range(triangles.shape[0]):
            a, b, c = triangles[t, 0] - eye, triangles[t, 1] - eye, triangles[t, 2] - eye
            u = d @ np.cross(b, c)
            v = d @ np.cross(c, a)
            w = d @ np.cross(a, b)
            if (u > 0 and v > 0 and w > 0) or (u < 0 and v < 0 and w < 0):
                normal = np.cross(b - a, c - a)
                part = (normal @ a) / (normal @ d)
                if 0 < part < 1:
                    clear[row] = False
                    break
