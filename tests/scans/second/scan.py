"""One scan of the second simulator with its truth, and the boat file its owner writes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from fitcheck.model.found.space import Frame
from fitcheck.model.given.boat import Boat, Centreline, Datum, Lid, TapeMeasure
from tests import specimens
from tests.scans.second.families import Bay, draw_bay
from tests.scans.second.level import LEVELS, Level, check_seed
from tests.scans.second.phone import Image, Sheen, pixel_of, take
from tests.scans.second.solids import Floats
from tests.scans.second.volume import fuse

#: One sigma of a tape measure, of a height taken with a hose, of a viewpoint as remembered [m].
TAPE, HEIGHT, REMEMBERED = 0.0015, 0.003, 0.030
#: Beyond this no depth is told [m].
FAR = 0.15
#: How far round the compartment a surface is kept at all [m].
ROUND = 0.5


@dataclass(frozen=True, eq=False)
class Truth:
    """What is really there, in the compartment's own axes [m]."""

    bay: Bay

    @property
    def triangles(self) -> Floats:
        """(n, 3, 3) of the cavity, facing in, and of every body, facing out; some are buried."""
        world = self.bay.world
        walls = (world.owner < 0)[:, None, None]
        return np.where(walls, world.triangles[:, ::-1], world.triangles)

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Two corners between which the compartment lies."""
        return self.bay.low, self.bay.high

    @property
    def lids(self) -> Floats:
        """(2, 3, 3) that close the opening; nothing may stand beyond them."""
        a, b, c, d = self.bay.opening
        return np.array([(a, b, c), (a, c, d)])

    def parts(self, points: Floats) -> tuple[Floats, Floats]:
        """How deep (n, 3) points lie in a body and out of the cavity; minus the room in the air.

        Too far by less than SPACING of `world`, and never told beyond FAR.
        """
        bodies, cavity = self.bay.world.inside(points)
        far = np.minimum(self.bay.world.distance(points, FAR), FAR)
        return np.where(bodies > 0, far, -far), np.where(cavity == 1, -far, far)

    def beyond_lids(self, points: Floats) -> Floats:
        """How far (n, 3) points lie beyond the opening's outer face."""
        return np.asarray(points @ self.bay.normal - self.bay.outer)

    def own(self, points: Floats) -> NDArray[np.bool_]:
        """Which of (n, 3) points lie within the compartment's bounds, before its opening."""
        bay = self.bay
        inside = ((points > bay.low) & (points < bay.high)).all(axis=1)
        return np.asarray(inside & bay.own(points))

    def depth(self, points: Floats) -> Floats:
        """How far (n, 3) points lie in a body or out of the cavity, as `parts` tells it."""
        rows = np.asarray(points, dtype=np.float64)
        return np.maximum(*self.parts(rows))


@dataclass(frozen=True, eq=False)
class Scan:
    """A scan and its truth. Mesh axes and unit: metres that are a little wrong, y up.

    triangles : (n, 3, 3) in the mesh's axes, the last `second_coat` from going over it again
    turn, shift, scale : truth = scale * turn @ mesh + shift, drift and noise apart
    """

    shape: str
    seed: int
    severity: Level
    triangles: Floats
    second_coat: int
    images: list[Image]
    sheen: Sheen
    truth: Truth
    turn: Floats
    shift: Floats
    scale: float
    viewpoints: Floats
    picked: dict[str, Any]

    def mesh_to_truth(self, points: Floats) -> Floats:
        """(..., 3) points of the mesh -> where they are in the compartment's axes [m]."""
        return np.asarray(self.scale * np.asarray(points) @ self.turn.T + self.shift)

    def truth_to_mesh(self, points: Floats) -> Floats:
        """(..., 3) points in the compartment's axes -> mesh axes."""
        return np.asarray((np.asarray(points) - self.shift) @ self.turn / self.scale)

    def boat_to_truth(self, frame: Frame, points: Floats) -> Floats:
        """(..., 3) points in the boat frame the program found -> the compartment's axes [m]."""
        mesh = (np.asarray(points) - np.array(frame.shift)) @ np.array(frame.turn) / frame.scale
        return self.mesh_to_truth(mesh)

    def truth_to_boat(self, frame: Frame, points: Floats) -> Floats:
        """(..., 3) points in the compartment's axes -> the boat frame the program found [m]."""
        mesh = self.truth_to_mesh(points)
        return np.asarray(frame.scale * mesh @ np.array(frame.turn).T + np.array(frame.shift))

    def ways_to_truth(self, frame: Frame, ways: Floats) -> Floats:
        """(..., 3) directions in the boat frame -> the compartment's axes; lengths stay."""
        return np.asarray(np.asarray(ways) @ np.array(frame.turn) @ self.turn.T)

    def rays(self) -> tuple[Floats, Floats, NDArray[np.int64]]:
        """Stations (k, 3), measured points (n, 3), both in mesh axes, and the frame of each point.

        Both where the phone thinks they are, as an app would write them.
        """
        stations = np.array([image.believed.eye for image in self.images])
        points = [image.points() for image in self.images]
        frame = np.repeat(np.arange(len(points)), [len(row) for row in points])
        return self.truth_to_mesh(stations), self.truth_to_mesh(np.concatenate(points)), frame

    def times_seen(self, points: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """In how many images' true view (n, 3) points lie; rays of how many passed them.

        A ray passed what lies before both its true end and what was measured.
        """
        seen, passed = np.zeros((2, len(points)), dtype=np.int64)
        for image in self.images:
            inside, far, pixel = pixel_of(image.pose, points)
            before = far < image.exact.ravel()[pixel]
            seen[inside[before]] += 1
            passed[inside[before & (far < image.range.ravel()[pixel])]] += 1
        return seen, passed

    @cached_property
    def error(self) -> float:
        """How far the mesh lies off the truth, 19 times of 20, mirror images and lumps apart [m].

        What lies off more than a hand's breadth is a mirror image or a lump.
        """
        middle = self.mesh_to_truth(self.triangles.mean(axis=1))
        off = self.truth.bay.world.distance(middle)
        return float(np.quantile(off[off < 0.1], 0.95))

    def boat(self, path: Path, **changes: Any) -> Boat:
        """The boat file of this scan's owner, the mesh written to path (.ply)."""
        specimens.write_ply(path, self.triangles)
        plain: dict[str, Any] = {
            "origin": "scan",
            "unit": 1.0,
            "scan_accuracy": self.severity.stated,
            "viewpoints": tuple(specimens.as_point(p) for p in self.viewpoints),
            **self.picked,
        }
        return specimens.boat(path, **{**plain, **changes})


def make_scan(family: str, seed: int, level: str, *, acceptance: bool = False) -> Scan:
    """Scan the compartment of that family and seed. Held-out seeds only for acceptance."""
    check_seed(seed, acceptance=acceptance)
    severity = LEVELS[level]
    bay = draw_bay(family, seed)
    rng = np.random.default_rng([seed, 78, severity.frames])
    images, sheen = take(bay, severity, rng)
    low, high = bay.low - ROUND, bay.high + ROUND
    coats = fuse(
        images, low, high, _lumps(images, severity, rng), severity.least, severity.keep, rng
    )
    scale = 1.0 + rng.normal(0.0, severity.scale)
    turn, shift = _axes(rng), rng.uniform(-2.0, 2.0, 3)
    triangles = (np.concatenate(coats) - shift) @ turn / scale
    if rng.random() < 0.5:
        triangles = triangles[:, ::-1]
    scan = Scan(
        shape=family,
        seed=seed,
        severity=severity,
        triangles=np.ascontiguousarray(triangles),
        second_coat=len(coats[1]),
        images=images,
        sheen=sheen,
        truth=Truth(bay),
        turn=turn,
        shift=shift,
        scale=scale,
        viewpoints=np.empty((0, 3)),
        picked={},
    )
    chosen = _places(np.array([image.pose.eye for image in images]))
    remembered = chosen + rng.normal(0.0, REMEMBERED, chosen.shape)
    object.__setattr__(scan, "viewpoints", scan.truth_to_mesh(remembered))
    scan.picked.update(_picked(scan, rng))
    return scan


def _axes(rng: np.random.Generator) -> Floats:
    """Truth from mesh: y up, turned at random about it, a little tilted."""
    about = Rotation.from_rotvec([0.0, 0.0, rng.uniform(0.0, 2.0 * np.pi)])
    tilt = Rotation.from_rotvec(rng.normal(0.0, np.radians(0.5), 3))
    upright = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    return np.asarray((tilt * about).as_matrix() @ upright)


def _lumps(
    images: list[Image], level: Level, rng: np.random.Generator
) -> list[tuple[Floats, float]]:
    """Places and radii of noise: on lines of sight, from on the surface to 0.15 m before it."""
    found = []
    for _ in range(level.lumps):
        image = images[int(rng.integers(len(images)))]
        points = image.points()
        if len(points):
            point = points[int(rng.integers(len(points)))]
            way = image.believed.eye - point
            way /= np.linalg.norm(way)
            found.append((point + rng.uniform(0.0, 0.15) * way, float(rng.uniform(0.03, 0.08))))
    return found


def _places(eyes: Floats) -> Floats:
    """Six of the places, far apart."""
    chosen = [0]
    gaps = np.full(len(eyes), np.inf)
    for _ in range(5):
        gaps = np.minimum(gaps, np.linalg.norm(eyes - eyes[chosen[-1]], axis=1))
        chosen.append(int(gaps.argmax()))
    return eyes[sorted(chosen)]


def _picked(scan: Scan, rng: np.random.Generator) -> dict[str, Any]:
    """What the owner picked on the mesh and measured on board; every other owner crops."""
    bay, pick = scan.truth.bay, scan.severity.pick

    def put(points: Any) -> tuple[tuple[float, float, float], ...]:
        mesh = scan.truth_to_mesh(np.asarray(points, dtype=np.float64))
        return tuple(specimens.as_point(p) for p in mesh + rng.normal(0.0, pick, mesh.shape))

    def way(vector: tuple[float, float, float]) -> tuple[float, float, float]:
        tilt = Rotation.from_rotvec(rng.normal(0.0, np.radians(0.3), 3)).as_matrix()
        return specimens.as_point(scan.turn.T @ tilt @ np.array(vector))

    middle = bay.opening.mean(axis=0)
    # A lid is drawn two hands wider than its opening.
    rim = bay.opening + 0.08 * np.sign(np.round(bay.opening - middle, 6))
    low, high = bay.low - 0.05, bay.high + 0.05
    low = np.where(bay.normal < 0, np.minimum(low, -bay.outer - 0.03), low)
    high = np.where(bay.normal > 0, np.maximum(high, bay.outer + 0.03), high)
    corners = [np.where(np.array(n) == 0, low, high) for n in np.ndindex(2, 2, 2)]
    (inside,) = put([bay.inside])
    return {
        "inside": inside,
        "up": way((0.0, 0.0, 1.0)),
        "forward": way((1.0, 0.0, 0.0)),
        "waterline": (),
        "datum": Datum(
            point=inside,
            above_sea=bay.inside[2] - bay.sea + float(rng.normal(0.0, HEIGHT)),
            taken="hose on the seacock",
        ),
        "centreline": Centreline(point=inside, offset=bay.inside[1]),
        "lids": (Lid(name="hatch", corners=put(rim)),),
        "crop": put(corners) if scan.seed % 2 == 0 else (),
        "tape_measures": _tapes(scan, rng),
    }


def _tapes(scan: Scan, rng: np.random.Generator) -> tuple[TapeMeasure, ...]:
    """Four long tape measures, each end a place of the truth and the corner of the mesh by it."""
    corners = scan.triangles.reshape(-1, 3)
    shell = scan.truth.bay.world.shell
    near, which = cKDTree(scan.mesh_to_truth(corners)).query(shell[:: max(1, len(shell) // 6000)])
    ends = shell[:: max(1, len(shell) // 6000)][near < 0.04]
    picked = corners[which[near < 0.04]]
    pairs = rng.integers(len(ends), size=(4000, 2))
    spans = ends[pairs[:, 1]] - ends[pairs[:, 0]]
    lengths = np.linalg.norm(spans, axis=1)
    tapes: list[TapeMeasure] = []
    ways: list[Floats] = []
    for row in np.argsort(-lengths):
        along = spans[row] / lengths[row]
        if any(abs(along @ other) > 0.85 for other in ways):
            continue
        ways.append(along)
        start, end = picked[pairs[row]] + rng.normal(0.0, scan.severity.pick, (2, 3))
        tapes.append(
            TapeMeasure(
                start=specimens.as_point(start),
                end=specimens.as_point(end),
                length=float(lengths[row] + rng.normal(0.0, TAPE)),
            )
        )
        if len(tapes) == 4:
            break
    return tuple(tapes)
