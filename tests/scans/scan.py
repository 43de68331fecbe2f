"""One scan with its truth: mesh, poses, tape measurements, waterline marks, true geometry."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from fitcheck.model.found.space import Frame
from fitcheck.model.given.boat import Boat, Centreline, Datum, Lid, TapeMeasure
from fitcheck.units import Picked
from tests import specimens
from tests.scans.convex import Floats
from tests.scans.fusion import fuse
from tests.scans.seeds import check_seed
from tests.scans.sensor import FARTHEST, HALF, TALL, WIDE, Picture, pixel_ways, take, walk
from tests.scans.severity import SEVERITIES, Severity
from tests.scans.shapes import Bay, draw_bay

#: Results of Truth.label; ABROAD is the cabin above the deck.
AIR, BODY, OUTSIDE, ABROAD = 0, 1, 2, 3
#: One sigma of a tape measurement and of a waterline mark's height.
TAPE, MARK = 0.002, 0.003


@dataclass(frozen=True, eq=False)
class Truth:
    """The true geometry, in the bay's own axes [m]."""

    bay: Bay

    @property
    def triangles(self) -> Floats:
        """(n, 3, 3) of every solid and of the cavity's walls, normals into the air.

        Solids extend out of the cavity, but from a point in the air the nearest triangle is still
        the nearest surface.
        """
        parts = [self.bay.world.cavity.triangles[:, ::-1]]
        return np.concatenate(parts + [solid.triangles for solid in self.bay.world.solids])

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Two corners between which the compartment lies."""
        return self.bay.low, self.bay.high

    @property
    def lids(self) -> Floats:
        """(2, 3, 3) that close the hatch on the deck's top."""
        x0, y0, x1, y1 = self.bay.hatch
        a, b, c, d = ((x, y, self.bay.over) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1)))
        return np.array([(a, b, c), (a, c, d)])

    def parts(self, points: Floats) -> tuple[Floats, Floats]:
        """How deep (n, 3) points lie in a solid and out of the cavity; negative where not."""
        return self.bay.world.depth(points)[:2]

    def own(self, points: Floats) -> NDArray[np.bool_]:
        """Which of (n, 3) points lie within the bay's bounds, under its deck."""
        inside = ((points > self.bay.low) & (points < self.bay.high)).all(axis=1)
        return np.asarray(inside & (points[:, 2] < self.bay.under))

    def beyond_lids(self, points: Floats) -> Floats:
        """How far (n, 3) points lie above the deck's top."""
        return np.asarray(points[:, 2] - self.bay.over)

    def label(self, points: Floats) -> NDArray[np.uint8]:
        """AIR, BODY, OUTSIDE or ABROAD for (n, 3) points."""
        rows = np.asarray(points, dtype=np.float64)
        solid, beyond, _ = self.bay.world.depth(rows)
        label = np.where(rows[:, 2] > self.bay.under, ABROAD, AIR)
        label[solid >= 0.0] = BODY
        label[beyond >= 0.0] = OUTSIDE
        return label.astype(np.uint8)

    def depth(self, points: Floats) -> Floats:
        """Depth of (n, 3) points in a solid or out of the cavity; negative in the air.

        Never above the true depth, and in the air never below minus the true distance.
        """
        solid, beyond, _ = self.bay.world.depth(np.asarray(points, dtype=np.float64))
        return np.maximum(solid, beyond)

    def name(self, points: Floats) -> list[str]:
        """What each of (n, 3) points is in, "" for the air."""
        solid, beyond, which = self.bay.world.depth(np.asarray(points, dtype=np.float64))
        names = [self.bay.world.solids[w].name for w in which]
        return [
            "outside" if out >= 0.0 else name if deep >= 0.0 else ""
            for out, deep, name in zip(beyond, solid, names, strict=True)
        ]


@dataclass(frozen=True, eq=False)
class Scan:
    """A scan and its truth. Mesh axes and unit: slightly wrong metres, y up.

    triangles : (n, 3, 3) in the mesh's axes
    viewpoints : a dozen phone positions as remembered by the owner, mesh axes
    eyes : (k, 3) recorded positions, mesh axes, one per picture
    turn, shift, scale : truth = scale * turn @ mesh + shift, without drift and noise
    """

    shape: str
    seed: int
    severity: Severity
    triangles: Floats
    pictures: list[Picture]
    viewpoints: Floats
    eyes: Floats
    tapes: tuple[TapeMeasure, ...]
    waterline: Floats
    sea: float
    truth: Truth
    turn: Floats
    shift: Floats
    scale: float
    picks: Picks

    def mesh_to_truth(self, points: Floats) -> Floats:
        """(..., 3) points of the mesh -> where they are in the bay's axes [m]."""
        return self.scale * np.asarray(points) @ self.turn.T + self.shift

    def truth_to_mesh(self, points: Floats) -> Floats:
        """(..., 3) points in the bay's axes -> mesh axes."""
        return (np.asarray(points) - self.shift) @ self.turn / self.scale

    def boat_to_truth(self, frame: Frame, points: Floats) -> Floats:
        """(..., 3) points in the boat frame the program found -> the bay's axes [m]."""
        mesh = (np.asarray(points) - np.array(frame.shift)) @ np.array(frame.turn) / frame.scale
        return self.mesh_to_truth(mesh)

    def truth_to_boat(self, frame: Frame, points: Floats) -> Floats:
        """(..., 3) points in the bay's axes -> the boat frame the program found [m]."""
        mesh = self.truth_to_mesh(points)
        return np.asarray(frame.scale * mesh @ np.array(frame.turn).T + np.array(frame.shift))

    def rays(self) -> tuple[Floats, Floats, NDArray[np.int64]]:
        """Stations (k, 3), measured points (n, 3), both in mesh axes, and the frame of each point.

        Both where the phone thinks they are, as an app would write them.
        """
        stations, points = [], []
        for picture in self.pictures:
            held = np.isfinite(picture.range)
            ways = (pixel_ways() @ picture.believed.turn)[held]
            stations.append(picture.believed.eye)
            points.append(picture.believed.eye + picture.range[held][:, None] * ways)
        frame = np.repeat(np.arange(len(points)), [len(row) for row in points])
        return (
            self.truth_to_mesh(np.array(stations)),
            self.truth_to_mesh(np.concatenate(points)),
            frame,
        )

    def times_seen(self, points: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """In how many pictures' true view (n, 3) points lie; rays of how many passed them.

        A ray passed what lies before both its true end and what was measured.
        """
        seen, passed = np.zeros((2, len(points)), dtype=np.int64)
        for picture in self.pictures:
            local = (points - picture.pose.eye) @ picture.pose.turn.T
            far = np.linalg.norm(local, axis=1)
            ahead = np.maximum(local[:, 2], 1e-9)
            across, up = local[:, 0] / ahead / HALF[0], local[:, 1] / ahead / HALF[1]
            view = (local[:, 2] > 0.0) & (np.abs(across) < 1.0) & (np.abs(up) < 1.0)
            inside = np.flatnonzero(view & (far < FARTHEST))
            row = ((1.0 - up[inside]) * 0.5 * TALL).astype(int)
            column = ((across[inside] + 1.0) * 0.5 * WIDE).astype(int)
            before = far[inside] < picture.true_range[row, column]
            seen[inside[before]] += 1
            passed[inside[before & (far[inside] < picture.range[row, column])]] += 1
        return seen, passed

    def ways_to_truth(self, frame: Frame, ways: Floats) -> Floats:
        """(..., 3) directions in the boat frame -> the bay's axes; lengths stay."""
        return np.asarray(ways) @ np.array(frame.turn) @ self.turn.T

    def crop(self) -> tuple[Picked, ...]:
        """The bay's own dimensions, slightly wider: its two corners as picked."""
        bay = self.truth.bay
        low, high = bay.low - 0.03, np.array([*bay.high[:2], bay.over]) + 0.03
        # An upright box rotated by the phone's errors still contains the bay.
        corners = [
            [x, y, z]
            for x in (low[0], high[0])
            for y in (low[1], high[1])
            for z in (low[2], high[2])
        ]
        return tuple(specimens.as_point(p) for p in self.picks.free(corners))

    def datum(self) -> Datum:
        """The inside point's height above the sea, taken with a hose."""
        bay = self.truth.bay
        return Datum(
            point=specimens.as_point(self.picks.free([bay.inside])[0]),
            above_sea=bay.inside[2] - self.sea + float(self.picks.rng.normal(0.0, MARK)),
            taken="hose on the seacock",
        )

    def boat(self, path: Path, **changes: Any) -> Boat:
        """The boat file of this scan's owner, the mesh written to path (.ply)."""
        specimens.write_ply(path, self.triangles)
        bay = self.truth.bay
        x0, y0, x1, y1 = bay.hatch
        # A lid is drawn wider than its opening.
        rim = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        grown = [
            (x + 0.06 * np.sign(x - (x0 + x1) / 2), y + 0.06 * np.sign(y - (y0 + y1) / 2))
            for x, y in rim
        ]
        # As picked on the deck's top, where the scan ends.
        lid = self.picks.free([(x, y, bay.over) for x, y in grown])
        plain: dict[str, Any] = {
            "origin": "scan",
            "unit": 1.0,
            "tape_measures": self.tapes,
            "scan_accuracy": self.severity.stated,
            "up": self.picks.way((0.0, 0.0, 1.0)),
            "forward": self.picks.way((1.0, 0.0, 0.0)),
            "waterline": tuple(specimens.as_point(p) for p in self.waterline),
            "datum": None,
            "centreline": Centreline(
                point=specimens.as_point(self.picks.free([bay.inside])[0]), offset=bay.inside[1]
            ),
            "inside": specimens.as_point(self.picks.free([bay.inside])[0]),
            "viewpoints": tuple(specimens.as_point(p) for p in self.viewpoints),
            "crop": self.crop(),
            "lids": (Lid(name="hatch", corners=tuple(specimens.as_point(p) for p in lid)),),
        }
        return specimens.boat(path, **{**plain, **changes})


@dataclass(frozen=True, eq=False)
class Picks:
    """Picks of true places on the mesh: on the surface found there, with an error."""

    tree: cKDTree
    turn: Floats
    shift: Floats
    scale: float
    sigma: float
    rng: np.random.Generator

    def free(self, points: Any) -> Floats:
        """Points in the air, with the error of the hand alone."""
        mesh = (np.asarray(points) - self.shift) @ self.turn / self.scale
        return mesh + self.rng.normal(0.0, self.sigma, mesh.shape)

    def surface(self, points: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        """The mesh's surface nearest to each true point, and whether there is one nearby."""
        mesh = (np.asarray(points) - self.shift) @ self.turn / self.scale
        off, which = self.tree.query(mesh)
        found = np.asarray(self.tree.data)[which] + self.rng.normal(0.0, self.sigma, mesh.shape)
        return found, off < 0.05

    def way(self, way: tuple[float, float, float]) -> tuple[float, float, float]:
        """A direction as the phone measures it, half a degree off."""
        tilt = Rotation.from_rotvec(self.rng.normal(0.0, np.radians(0.4), 3)).as_matrix()
        return specimens.as_point(self.turn.T @ tilt @ np.array(way))


def make_scan(shape: str, seed: int, severity: str, *, acceptance: bool = False) -> Scan:
    """Scan the bay of that shape and seed. Held-out seeds only for the acceptance run."""
    check_seed(seed, acceptance=acceptance)
    level = SEVERITIES[severity]
    bay = draw_bay(shape, seed)
    # The same bay at every severity, with another walk.
    rng = np.random.default_rng([seed, len(shape), level.frames])
    pictures = take(bay, walk(bay, level, rng), level, rng)
    top = np.array([bay.high[0], bay.high[1], bay.over + 0.3])
    surface = fuse(pictures, bay.low - 0.25, top + np.array([0.25, 0.25, 0.0]))
    surface = np.concatenate([surface, _bits(bay, level, rng)])
    scale = 1.0 + rng.normal(0.0, level.scale)
    turn = _phone_axes(rng)
    shift = rng.uniform(-1.0, 1.0, 3)
    triangles = (surface - shift) @ turn / scale
    if rng.random() < 0.5:
        triangles = triangles[:, ::-1]
    triangles = np.ascontiguousarray(triangles)
    picks = Picks(
        tree=cKDTree(triangles.reshape(-1, 3)),
        turn=turn,
        shift=shift,
        scale=scale,
        sigma=level.pick,
        rng=rng,
    )
    eyes = np.array([picture.believed.eye for picture in pictures])
    sea = bay.under * rng.uniform(0.35, 0.6)
    return Scan(
        shape=shape,
        seed=seed,
        severity=level,
        triangles=triangles,
        pictures=pictures,
        viewpoints=_remembered(eyes, turn, shift, scale, rng),
        eyes=(eyes - shift) @ turn / scale,
        tapes=_tapes(pictures, picks, rng),
        waterline=_marks(pictures, picks, bay, sea, rng),
        sea=sea,
        truth=Truth(bay),
        turn=turn,
        shift=shift,
        scale=scale,
        picks=picks,
    )


def _phone_axes(rng: np.random.Generator) -> Floats:
    """Truth from mesh: y up, rotated at random about it, slightly tilted."""
    upright = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    about = Rotation.from_rotvec([0.0, 0.0, rng.uniform(0.0, 2.0 * np.pi)]).as_matrix()
    tilt = Rotation.from_rotvec(rng.normal(0.0, np.radians(0.6), 3)).as_matrix()
    return tilt @ about @ upright


def _remembered(
    eyes: Floats, turn: Floats, shift: Floats, scale: float, rng: np.random.Generator
) -> Floats:
    """A dozen positions spread over the walk, each remembered to a few centimetres."""
    chosen = eyes[np.linspace(0, len(eyes) - 1, 12).round().astype(int)]
    return (chosen + rng.normal(0.0, 0.03, chosen.shape) - shift) @ turn / scale


def _bits(bay: Bay, level: Severity, rng: np.random.Generator) -> Floats:
    """Small bodies that float in the air."""
    made = []
    for _ in range(level.bits):
        centre = rng.uniform(bay.low, [bay.high[0], bay.high[1], bay.over])
        size = rng.uniform(0.006, 0.025, 3)
        made.append(specimens.box(tuple(centre - size), tuple(centre + size)))
    return np.concatenate(made) if made else np.empty((0, 3, 3))


def _seen_points(pictures: list[Picture]) -> Floats:
    """True places seen in the pictures, one pixel in seven."""
    found = []
    for picture in pictures:
        ways = (pixel_ways() @ picture.pose.turn).reshape(-1, 3)
        good = np.abs(picture.range - picture.true_range).ravel() < 0.04
        hits = picture.pose.eye + picture.true_range.reshape(-1, 1) * ways
        found.append(hits[good][::7])
    return np.concatenate(found)


def _tapes(
    pictures: list[Picture], picks: Picks, rng: np.random.Generator
) -> tuple[TapeMeasure, ...]:
    """Four long tape measurements in different directions between scanned surfaces."""
    points = _seen_points(pictures)
    ends = points[rng.integers(len(points), size=(4000, 2))]
    picked, near = picks.surface(ends.reshape(-1, 3))
    usable = near.reshape(-1, 2).all(axis=1)
    ends, picked = ends[usable], picked.reshape(-1, 2, 3)[usable]
    spans = ends[:, 1] - ends[:, 0]
    lengths = np.linalg.norm(spans, axis=1)
    tapes: list[TapeMeasure] = []
    ways: list[Floats] = []
    for row in np.argsort(-lengths):
        way = spans[row] / lengths[row]
        if all(abs(way @ other) < 0.8 for other in ways):
            ways.append(way)
            tapes.append(
                TapeMeasure(
                    start=specimens.as_point(picked[row, 0]),
                    end=specimens.as_point(picked[row, 1]),
                    length=float(lengths[row] + rng.normal(0.0, TAPE)),
                )
            )
        if len(tapes) == 4:
            break
    return tuple(tapes)


def _marks(
    pictures: list[Picture], picks: Picks, bay: Bay, sea: float, rng: np.random.Generator
) -> Floats:
    """A dozen marks at sea level, spread over the bay, picked on the mesh."""
    points = _seen_points(pictures)
    level = points[np.abs(points[:, 2] - sea - rng.normal(0.0, MARK, len(points))) < 0.004]
    if len(level) < 12:
        level = points[np.argsort(np.abs(points[:, 2] - sea))[:40]]
    chosen = [int(rng.integers(len(level)))]
    gaps = np.full(len(level), np.inf)
    for _ in range(11):
        gaps = np.minimum(gaps, np.linalg.norm(level - level[chosen[-1]], axis=1))
        chosen.append(int(gaps.argmax()))
    return picks.surface(level[chosen])[0]
