"""A phone carried through a bay: its poses and its depth images."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter
from scipy.spatial.transform import Rotation

from tests.scans.convex import Floats, World
from tests.scans.severity import Severity
from tests.scans.shapes import Bay

WIDE, TALL = 120, 90
#: Half the field of view as tangents: 66 by 52 degrees.
HALF = (0.65, 0.4875)
NEAREST, FARTHEST = 0.12, 3.5


@dataclass(frozen=True, eq=False)
class Pose:
    """Where the phone was: `turn` has right, up and forward as rows."""

    eye: Floats
    turn: Floats


@dataclass(frozen=True, eq=False)
class Picture:
    """One depth image: true pose, the pose the phone believes, range per pixel (nan: none).

    true_range : what an errorless phone would have measured.
    """

    pose: Pose
    believed: Pose
    range: Floats
    true_range: Floats


def pixel_ways() -> Floats:
    """Unit ways of all pixels in the phone's own axes, (TALL, WIDE, 3)."""
    across = (np.arange(WIDE) + 0.5) / WIDE * 2.0 - 1.0
    down = 1.0 - (np.arange(TALL) + 0.5) / TALL * 2.0
    ways = np.empty((TALL, WIDE, 3))
    ways[..., 0] = across * HALF[0]
    ways[..., 1] = down[:, None] * HALF[1]
    ways[..., 2] = 1.0
    ways /= np.linalg.norm(ways, axis=-1, keepdims=True)
    return ways


def walk(bay: Bay, severity: Severity, rng: np.random.Generator) -> list[Pose]:
    """A path over the hatch and into the bay, looking around; it keeps clear of every surface."""
    stands = _stands(bay, severity, rng)
    aims = rng.uniform(bay.low, [bay.high[0], bay.high[1], bay.under], (len(stands), 3))
    steps = np.linspace(0.0, len(stands) - 1.0, severity.frames)
    poses = []
    for step in steps:
        at = min(int(step), len(stands) - 2)
        share = step - at
        eye = (1 - share) * stands[at] + share * stands[at + 1] + rng.normal(0, 0.02, 3)
        aim = (1 - share) * aims[at] + share * aims[at + 1] + rng.normal(0, 0.25, 3)
        if _room(bay, eye[None])[0] > 0.04:
            poses.append(Pose(eye, _looking(aim - eye, rng)))
    return poses


def take(
    bay: Bay, poses: list[Pose], severity: Severity, rng: np.random.Generator
) -> list[Picture]:
    """The depth images of a walk, with all the errors of that severity."""
    glossy = _patches(bay, poses, severity, rng)
    drifts = _drift(len(poses), severity, rng)
    pictures = []
    for pose, (shift, turn) in zip(poses, drifts, strict=True):
        believed = Pose(pose.eye + shift, pose.turn @ Rotation.from_rotvec(turn).as_matrix())
        measured, exact = _picture(bay.world, pose, glossy, severity, rng)
        pictures.append(Picture(pose, believed, measured, exact))
    return pictures


def _stands(bay: Bay, severity: Severity, rng: np.random.Generator) -> Floats:
    """Waypoints: some over the hatch, most inside, as far in as the severity reaches."""
    x0, y0, x1, y1 = bay.hatch
    over = rng.uniform((x0, y0, bay.over + 0.1), (x1, y1, bay.over + 0.4), (4, 3))
    draw = rng.uniform(bay.low, [bay.high[0], bay.high[1], bay.under], (4000, 3))
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    span = np.abs(draw[:, :2] - middle).max(axis=1) / max(bay.high[0] - x0, x1 - bay.low[0])
    fit = (_room(bay, draw) > 0.09) & (span < severity.reach)
    inside = draw[fit][: 4 + int(10 * severity.reach)]
    order = np.argsort(inside[:, 0])
    return np.concatenate([over[:2], inside[order], over[2:]])


def _room(bay: Bay, points: Floats) -> Floats:
    """Upper bound on the distance to the nearest surface."""
    solid, beyond, _ = bay.world.depth(points)
    return -np.maximum(solid, beyond)


def _looking(way: Floats, rng: np.random.Generator) -> Floats:
    forward = way / np.linalg.norm(way)
    up = np.array([0.0, 0.0, 1.0]) + rng.normal(0.0, 0.1, 3)
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(right, forward), forward])


def _drift(
    count: int, severity: Severity, rng: np.random.Generator
) -> list[tuple[Floats, Floats]]:
    """Shift and rotation of every believed pose: a random walk, then a jump near the end."""
    wander = np.cumsum(rng.normal(0.0, 1.0, (count, 6)), axis=0) / np.sqrt(count)
    wander -= wander.mean(axis=0)
    shift, turn = severity.drift * wander[:, :3], severity.turn * wander[:, 3:]
    way = rng.normal(0.0, 1.0, 3)
    late = np.arange(count) > 0.72 * count
    shift[late] += severity.jump * way / np.linalg.norm(way)
    return list(zip(shift, turn, strict=True))


def _patches(
    bay: Bay, poses: list[Pose], severity: Severity, rng: np.random.Generator
) -> list[tuple[Floats, float, bool]]:
    """Balls on surfaces within which everything is glossy; true: it mirrors, else it absorbs."""
    found = []
    for number in range(severity.glossy):
        pose = poses[int(rng.integers(len(poses)))]
        way = rng.normal(0.0, 1.0, 3)
        way[2] = -abs(way[2]) * 0.5
        way /= np.linalg.norm(way)
        reach, _, _ = bay.world.cast(pose.eye, way[None])
        radius = severity.patch * rng.uniform(0.5, 1.0)
        found.append((pose.eye + reach[0] * way, float(radius), number % 2 == 0))
    return found


def _picture(
    place: World,
    pose: Pose,
    glossy: list[tuple[Floats, float, bool]],
    severity: Severity,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """Ranges with and without errors, (TALL, WIDE); nan where there is no return."""
    ways = (pixel_ways() @ pose.turn).reshape(-1, 3)
    exact, _, normal = place.cast(pose.eye, ways)
    measured = exact.copy()
    hits = pose.eye + exact[:, None] * ways
    cosine = -(ways * normal).sum(axis=1)
    lost = rng.random(len(exact)) < severity.lost
    lost |= cosine < severity.grazing * rng.uniform(0.5, 1.0, len(exact))
    for centre, radius, mirrors in glossy:
        shiny = np.flatnonzero(np.linalg.norm(hits - centre, axis=1) < radius)
        if mirrors and len(shiny):
            turned = ways[shiny] + 2.0 * cosine[shiny, None] * normal[shiny]
            start = hits[shiny] + 1e-6 * normal[shiny]
            second, _, _ = place.cast(start, turned)
            # A mirror occasionally shows its own dust.
            mirror = rng.random(len(shiny)) < 0.8
            measured[shiny[mirror]] += second[mirror]
        else:
            lost[shiny] |= rng.random(len(shiny)) < 0.95
    lost |= (measured < NEAREST) | (measured > FARTHEST)
    image = np.where(lost, np.nan, measured).reshape(TALL, WIDE)
    image = _smoothed(image, severity.smoothing)
    size = 0.6 + 0.5 * image**2
    slow = gaussian_filter(rng.normal(0.0, 1.0, image.shape), 6.0)
    slow /= slow.std()
    image = image + size * (
        severity.white * rng.normal(0.0, 1.0, image.shape) + severity.slow * slow
    )
    return image, exact.reshape(TALL, WIDE)


def _smoothed(image: Floats, sigma: float) -> Floats:
    """Blurred over valid pixels; pixels without a return stay without."""
    held = np.isfinite(image)
    weight = gaussian_filter(held.astype(np.float64), sigma)
    total = gaussian_filter(np.where(held, image, 0.0), sigma)
    return np.where(held, total / np.maximum(weight, 1e-9), np.nan)
