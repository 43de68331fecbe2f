"""A phone in a hand: where it went, where it thinks it went, and its depth images."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates, maximum_filter, minimum_filter
from scipy.spatial.transform import Rotation

from tests.scans.second.families import Bay
from tests.scans.second.level import Level
from tests.scans.second.solids import Floats

WIDE, TALL = 96, 72
#: Half the field of view as tangents: 60 by 45 degrees.
HALF = (0.577, 0.414)
NEAREST, FARTHEST = 0.2, 5.0
#: A step of range between neighbours that counts as an edge [m].
STEP = 0.04
#: Share of the walk that goes over the first part again at its end.
AGAIN = 0.22


@dataclass(frozen=True, eq=False)
class Pose:
    """A place and the phone's right, up and forward as rows."""

    eye: Floats
    turn: Floats


@dataclass(frozen=True, eq=False)
class Image:
    """One depth image (TALL, WIDE), nan where nothing came back.

    pose, believed : where the phone was and where it thinks it was
    range, exact   : what it measured, in its own scale, and what it should have
    again          : whether it belongs to the part of the walk that goes over the first again
    """

    pose: Pose
    believed: Pose
    range: Floats
    exact: Floats
    again: bool

    def points(self) -> Floats:
        """(n, 3) measured points, where the phone thinks they are."""
        held = np.isfinite(self.range)
        ways = (pixel_ways() @ self.believed.turn)[held]
        return self.believed.eye + self.range[held][:, None] * ways


def pixel_ways() -> Floats:
    """Unit ways of all pixels in the phone's own axes, (TALL, WIDE, 3)."""
    across = ((np.arange(WIDE) + 0.5) / WIDE * 2.0 - 1.0) * HALF[0]
    up = (1.0 - (np.arange(TALL) + 0.5) / TALL * 2.0) * HALF[1]
    flat = np.stack([*np.meshgrid(across, up), np.ones((TALL, WIDE))], axis=-1)
    return np.asarray(flat / np.linalg.norm(flat, axis=-1, keepdims=True))


def pixel_of(pose: Pose, points: Floats) -> tuple[NDArray[np.int64], Floats, NDArray[np.int64]]:
    """Which of (n, 3) points lie in view; their ranges, and their pixel in the flat image."""
    local = (points - pose.eye) @ pose.turn.T
    ahead = np.maximum(local[:, 2], 1e-9)
    across, up = local[:, 0] / ahead / HALF[0], local[:, 1] / ahead / HALF[1]
    inside = np.flatnonzero((local[:, 2] > 0.0) & (np.abs(across) < 1.0) & (np.abs(up) < 1.0))
    row = np.minimum(((1.0 - up[inside]) * 0.5 * TALL).astype(np.int64), TALL - 1)
    column = np.minimum(((across[inside] + 1.0) * 0.5 * WIDE).astype(np.int64), WIDE - 1)
    return inside, np.linalg.norm(local[inside], axis=1), row * WIDE + column


# --- the walk ---------------------------------------------------------------------------------


def walk(bay: Bay, level: Level, rng: np.random.Generator) -> list[Pose]:
    """From outside the opening as far in as the arm goes, and back; the end is the start again."""
    stands = _stands(bay, level, rng)
    aims = _aims(bay, stands, level, rng)
    again = max(3, round(AGAIN * len(stands) / (1.0 - AGAIN)))
    stands = np.concatenate([stands, stands[:again] + rng.normal(0.0, 0.03, (again, 3))])
    aims = np.concatenate([aims, aims[:again] + rng.normal(0.0, 0.08, (again, 3))])
    found: list[Pose] = []
    for at in np.linspace(0.0, len(stands) - 1.001, level.frames):
        n, share = int(at), at - int(at)
        share = share * share * (3.0 - 2.0 * share)
        eye = (1 - share) * stands[n] + share * stands[n + 1] + rng.normal(0.0, 0.006, 3)
        if not bay.world.air(eye[None])[0] or bay.world.distance(eye[None])[0] < 0.03:
            eye = stands[n + (share > 0.5)]
        aim = (1 - share) * aims[n] + share * aims[n + 1] + rng.normal(0.0, 0.05, 3)
        found.append(_look(eye, aim, rng))
    return found


def _stands(bay: Bay, level: Level, rng: np.random.Generator) -> Floats:
    """Where the hand stops, one for every four frames or so."""
    wanted = max(8, int(level.frames * (1.0 - AGAIN)) // 4)
    middle, out = bay.opening.mean(axis=0), bay.normal
    spread = (bay.opening[1] - bay.opening[0], bay.opening[3] - bay.opening[0])
    outside = [
        middle
        + rng.uniform(0.15, 0.45) * out
        + sum(rng.uniform(-0.4, 0.4) * side for side in spread)
        for _ in range(wanted // 3)
    ]
    draw = rng.uniform(bay.low, bay.high, (6000, 3))
    near = np.linalg.norm(draw - middle, axis=1) < level.reach
    draw = draw[near & bay.world.air(draw) & bay.own(draw)]
    draw = draw[bay.world.distance(draw) > 0.08]
    # What the arm reaches from the opening in a straight line, its elbow in the hole.
    ways = draw - (middle - 0.05 * out)
    far = np.linalg.norm(ways, axis=1)
    reach, _ = bay.world.trace(middle - 0.05 * out, ways / far[:, None])
    draw = draw[reach > far][: wanted - len(outside)]
    path = [outside[0]]
    left = [*outside[1 : len(outside) // 2], *draw]
    while left:
        gaps = [np.linalg.norm(place - path[-1]) for place in left]
        path.append(left.pop(int(np.argmin(gaps))))
    return np.array([*path, *outside[len(outside) // 2 :]])


def _aims(bay: Bay, stands: Floats, level: Level, rng: np.random.Generator) -> Floats:
    """What is looked at from each stand: mostly what can be seen and was not looked at yet."""
    shell = bay.world.shell
    shell = shell[bay.own(shell)]
    marks = shell[rng.choice(len(shell), min(900, len(shell)), replace=False)]
    done = np.zeros(len(marks), dtype=bool)
    aims = []
    for eye in stands:
        ways = marks - eye
        far = np.linalg.norm(ways, axis=1)
        ways /= far[:, None]
        reach, _ = bay.world.trace(eye, ways)
        seen = (reach > far - 0.01) & (far > NEAREST)
        fresh = seen & ~done
        pool = np.flatnonzero(fresh if fresh.any() and rng.random() < level.care else seen)
        if len(pool) == 0:
            aims.append(bay.opening.mean(axis=0) - 0.5 * bay.normal)
            continue
        chosen = int(pool[rng.integers(len(pool))])
        done |= seen & (ways @ ways[chosen] > np.cos(np.radians(22.0)))
        aims.append(marks[chosen])
    return np.array(aims)


def _look(eye: Floats, aim: Floats, rng: np.random.Generator) -> Pose:
    forward = aim - eye
    forward /= np.linalg.norm(forward)
    up = np.array([0.0, 0.0, 1.0]) + rng.normal(0.0, 0.12, 3)
    if abs(forward[2]) > 0.95:
        up = np.array([1.0, 0.0, 0.0]) + rng.normal(0.0, 0.12, 3)
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    return Pose(eye, np.stack([right, np.cross(right, forward), forward]))


def drifted(
    poses: list[Pose], level: Level, rng: np.random.Generator
) -> tuple[list[Pose], Floats]:
    """Where the phone thinks it was, and its scale, (k,), on its way through.

    The error grows along the way and is never taken back: the loop stays open.
    """
    count = len(poses)
    share = np.linspace(0.0, 1.0, count)
    phase, turns = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(0.7, 1.6)
    scale = 1.0 + level.rolling * np.sin(phase + 2.0 * np.pi * turns * share)
    eyes = np.array([pose.eye for pose in poses])
    steps = np.diff(eyes, axis=0) * scale[1:, None]
    walked = np.concatenate([eyes[:1], eyes[0] + np.cumsum(steps, axis=0)])
    walked += (eyes - walked).mean(axis=0)
    ways = rng.normal(0.0, 1.0, (2, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    late = share**1.5 - 0.4
    unsteady = gaussian_filter(rng.normal(0.0, 1.0, (count, 6)), (3.0, 0.0))
    unsteady /= unsteady.std(axis=0)
    shift = level.drift * late[:, None] * ways[0] + level.wander * unsteady[:, :3]
    turn = level.swing * (late[:, None] * ways[1] + 0.2 * unsteady[:, 3:])
    believed = [
        Pose(eye + off, pose.turn @ Rotation.from_rotvec(bend).as_matrix().T)
        for pose, eye, off, bend in zip(poses, walked, shift, turn, strict=True)
    ]
    return believed, scale


# --- the depth images -------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Sheen:
    """What surfaces do to light: the share of returns each body loses, balls that mirror."""

    lost: Floats  # per body, the cavity last
    centre: Floats  # (m, 3)
    radius: Floats

    @staticmethod
    def draw(bay: Bay, poses: list[Pose], level: Level, rng: np.random.Generator) -> Sheen:
        """Dark bodies and glossy patches, the patches where somebody looks."""
        lost = np.where(rng.random(len(bay.world.bodies) + 1) < level.dark, level.dark_lost, 0.0)
        lost[-1] = 0.0
        centres = []
        for _ in range(level.glossy):
            pose = poses[int(rng.integers(len(poses)))]
            reach, _ = bay.world.trace(pose.eye, pose.turn[2:])
            centres.append(pose.eye + reach[0] * pose.turn[2])
        return Sheen(
            lost=lost,
            centre=np.array(centres).reshape(-1, 3),
            radius=level.patch * rng.uniform(0.5, 1.0, level.glossy),
        )


def take(bay: Bay, level: Level, rng: np.random.Generator) -> tuple[list[Image], Sheen]:
    """The depth images of one walk, and what was dark or glossy on it."""
    poses = walk(bay, level, rng)
    believed, scale = drifted(poses, level, rng)
    sheen = Sheen.draw(bay, poses, level, rng)
    first_again = (1.0 - AGAIN) * len(poses)
    images = []
    for number, (pose, thought) in enumerate(zip(poses, believed, strict=True)):
        measured, exact = measure(bay, pose, sheen, level, rng)
        images.append(
            Image(pose, thought, measured * scale[number], exact, again=number >= first_again)
        )
    return images, sheen


def measure(
    bay: Bay, pose: Pose, sheen: Sheen, level: Level, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Ranges with and without errors, (TALL, WIDE)."""
    ways = (pixel_ways() @ pose.turn).reshape(-1, 3)
    exact, met = bay.world.trace(pose.eye, ways)
    normal = bay.world.normal[met]
    slope = (ways * normal).sum(axis=1)
    normal = np.where(slope[:, None] > 0.0, -normal, normal)
    cosine = np.abs(slope)
    hits = pose.eye + exact[:, None] * ways
    image = exact.copy()
    for centre, radius in zip(sheen.centre, sheen.radius, strict=True):
        shiny = np.flatnonzero(np.linalg.norm(hits - centre, axis=1) < radius)
        # Dust and fingerprints return some of it all the same.
        shiny = shiny[rng.random(len(shiny)) < 0.9]
        if len(shiny):
            bent = ways[shiny] + 2.0 * cosine[shiny, None] * normal[shiny]
            image[shiny] += bay.world.trace(hits[shiny] + 1e-6 * normal[shiny], bent)[0]
    sigma = (level.base + level.far * image**2) / np.maximum(cosine, 0.2)
    image += sigma * rng.normal(0.0, 1.0, len(image))
    grazing = np.clip(1.0 - cosine / level.grazing, 0.0, 1.0)
    lost = rng.random(len(image)) < 1.0 - (1.0 - grazing) * (
        1.0 - sheen.lost[bay.world.owner[met]]
    )
    lost |= (image < NEAREST) | (image > FARTHEST)
    image[lost] = np.nan
    whole = _mixed(_coarse(image.reshape(TALL, WIDE), level.coarse), level.mixed, rng)
    ripple = gaussian_filter(rng.normal(0.0, 1.0, whole.shape), 7.0)
    whole += level.ripple * whole * ripple / ripple.std()
    whole[~(whole > NEAREST)] = np.nan
    return whole, exact.reshape(TALL, WIDE)


def _coarse(image: Floats, step: int) -> Floats:
    """Measured at every step-th pixel and interpolated between: edges become slopes."""
    if step == 1:
        return image
    off = step // 2
    rows, columns = np.indices(image.shape)
    at = np.stack([(rows - off) / step, (columns - off) / step])
    few = image[off::step, off::step]
    return np.asarray(map_coordinates(few, at, order=1, mode="nearest"))


def _mixed(image: Floats, share: float, rng: np.random.Generator) -> Floats:
    """A share of the pixels at an edge read something between front and back."""
    front = minimum_filter(np.where(np.isnan(image), np.inf, image), 3)
    back = maximum_filter(np.where(np.isnan(image), -np.inf, image), 3)
    edge = np.isfinite(image) & (rng.random(image.shape) < share)
    edge[edge] = back[edge] - front[edge] > STEP
    mixed = image.copy()
    mixed[edge] = front[edge] + rng.random(int(edge.sum())) * (back[edge] - front[edge])
    return mixed
