"""A planted problem, and the proof that its hoses fit: radius, clearance, gaps, straight ends."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from fitcheck.geometry.box import Box
from tests.planted import parts
from tests.planted.curve import Planted, Points

Level = Literal["easy", "middle", "hard"]
LEVELS: tuple[Level, ...] = ("easy", "middle", "hard")

LOW, HIGH = np.array([-1.0, -0.75, 0.0]), np.array([1.0, 0.75, 1.2])
#: Spacing of the ports of a manifold [m].
PORT_PITCH = 0.04


@dataclass(frozen=True, eq=False)
class PlantedHose:
    """One hose: its bend radius, half its outside diameter [m], and a feasible curve."""

    name: str
    radius: float
    half: float
    curve: Planted
    owners: tuple[str, str]


@dataclass(frozen=True)
class PlantedHole:
    """A declared hole: no clearance is needed on its axis."""

    centre: tuple[float, float, float]
    direction: tuple[float, float, float]
    diameter: float


@dataclass(frozen=True, eq=False)
class Problem:
    """A bay and hoses known to fit in it together.

    boxes : by name, including those hoses end on; triangles : (n, 3, 3) everything else [m]
    """

    seed: int
    level: Level
    family: str
    hoses: tuple[PlantedHose, ...]
    clearance: float
    gap: float
    straight: float
    boxes: dict[str, Box]
    triangles: Points
    hole: PlantedHole | None = None

    @property
    def length(self) -> float:
        """Planted length of all hoses together [m]."""
        return sum(hose.curve.length for hose in self.hoses)


def slack(problem: Problem) -> float:
    """Smallest margin of any planted hose over what is required, proven between the samples too
    [m].

    Distances to closed sets: along a chord of length s between places of distance a and b the
    squared distance is at least (1 - t) a^2 + t b^2 - s^2 t (1 - t). Radius, straight ends and the
    gap between hoses count too.
    """
    least = math.inf
    samples = [hose.curve.sample(0.0005) for hose in problem.hoses]
    for hose, (points, along) in zip(problem.hoses, samples, strict=True):
        if (hose.curve.radii < hose.radius - 1e-12).any():
            return -math.inf
        lead = max(problem.straight, hose.half + problem.clearance + 2.5e-4)
        if min(hose.curve.rests[0], hose.curve.rests[-1]) < lead:
            return -math.inf
        away = _to_everything(problem, hose, points, along)
        sag = 0.0005**2 / (8 * hose.curve.radii.min())
        least = min(least, _floor(points, away) - sag - hose.half - problem.clearance)
    for n, one in enumerate(problem.hoses):
        for m in range(n):
            two = problem.hoses[m]
            asked = one.half + two.half + problem.gap
            gap = _between(samples[n][0][::4], samples[m][0][::4])
            least = min(least, math.sqrt(max(0.0, gap**2 - 0.002**2 / 2)) - 1e-4 - asked)
    return least


def _to_everything(problem: Problem, hose: PlantedHose, points: Points, along: Points) -> Points:
    """Distance to all triangles and boxes; large where the hose is exempt."""
    far = 0.1
    meshed = parts.gaps_far(points, np.ascontiguousarray(problem.triangles), far)
    if problem.hole is not None:
        off = points - np.array(problem.hole.centre)
        axial = off @ np.array(problem.hole.direction)
        aside = np.linalg.norm(off - axial[:, None] * np.array(problem.hole.direction), axis=1)
        meshed[(aside < 1e-9) & (np.abs(axial) < 0.08)] = far
    tails = {0: along <= problem.straight, 1: along >= along[-1] - problem.straight}
    away = meshed
    for name, box in problem.boxes.items():
        gap = box.distance(points)
        for end, tail in tails.items():
            if hose.owners[end] == name:
                gap = np.where(tail, far, gap)
        away = np.minimum(away, gap)
    return np.asarray(away)


def _floor(points: Points, away: Points) -> float:
    chord = np.linalg.norm(np.diff(points, axis=0), axis=1) + 1e-15
    a, b = away[:-1] ** 2, away[1:] ** 2
    t = np.clip(0.5 * (1 - (b - a) / chord**2), 0, 1)
    squared = (1 - t) * a + t * b - chord**2 * t * (1 - t)
    least = math.sqrt(max(0.0, float(squared.min())))
    return least if away.min() > 0 else float(away.min())


def _between(one: Points, two: Points) -> float:
    return min(
        float(np.linalg.norm(one[n : n + 200, None] - two[None], axis=2).min())
        for n in range(0, len(one), 200)
    )
