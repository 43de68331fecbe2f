"""Planted curves: legs and bends, each bend with its own radius.

Independent of the program's curve, so that a fault there is not hidden here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


class DoesNotFitError(ValueError):
    """The bends leave no room for a leg, or a bend has no radius left."""


@dataclass(frozen=True, eq=False)
class Planted:
    """Corner points (n, 3) and the radius of the bend at each inner corner (n - 2,) [m]."""

    corners: Points
    radii: Points

    def __post_init__(self) -> None:
        if (self.radii <= 0).any() or (self.rests < 0).any():
            raise DoesNotFitError

    @property
    def ways(self) -> Points:
        """(n - 1, 3) direction of every leg."""
        step = np.diff(self.corners, axis=0)
        return np.asarray(step / np.linalg.norm(step, axis=1)[:, None])

    @property
    def angles(self) -> Points:
        """(n - 2,) angle of every bend [rad]."""
        ways = self.ways
        sine = np.linalg.norm(np.cross(ways[:-1], ways[1:]), axis=1)
        return np.asarray(np.arctan2(sine, (ways[:-1] * ways[1:]).sum(axis=1)))

    @property
    def rests(self) -> Points:
        """(n - 1,) length of every leg left by the bends [m]."""
        tangent = self.radii * np.tan(self.angles / 2)
        length = np.linalg.norm(np.diff(self.corners, axis=0), axis=1)
        return np.asarray(length - np.append(0.0, tangent) - np.append(tangent, 0.0))

    @property
    def length(self) -> float:
        """Length of legs and bends [m]."""
        return float(self.rests.sum() + (self.radii * self.angles).sum())

    def legs(self) -> Points:
        """(n - 1, 2, 3) start and end of every leg."""
        tangent = self.radii * np.tan(self.angles / 2)
        first = self.corners[:-1] + np.append(0.0, tangent)[:, None] * self.ways
        last = self.corners[1:] - np.append(tangent, 0.0)[:, None] * self.ways
        return np.stack([first, last], axis=1)

    def bends(self) -> list[dict[str, Any]]:
        """Every bend as centre, normal, radius, angle, start, end."""
        ways, legs = self.ways, self.legs()
        found = []
        for n, (radius, angle) in enumerate(zip(self.radii, self.angles, strict=True)):
            normal = np.cross(ways[n], ways[n + 1])
            normal = normal / np.linalg.norm(normal)
            start = legs[n, 1]
            found.append(
                {
                    "centre": start + radius * np.cross(normal, ways[n]),
                    "normal": normal,
                    "radius": float(radius),
                    "angle": float(angle),
                    "start": start,
                    "end": legs[n + 1, 0],
                }
            )
        return found

    def sample(self, step: float) -> tuple[Points, Points]:
        """Points (m, 3) at most `step` apart along the curve, and the position of each along it
        (m,).
        """
        points, along, gone = [], [], 0.0
        bends = self.bends()
        for n, (first, last) in enumerate(self.legs()):
            size = float(np.linalg.norm(last - first))
            s = np.linspace(0.0, size, max(2, math.ceil(size / step) + 1))
            points.append(first + (s / max(size, 1e-300))[:, None] * (last - first))
            along.append(gone + s)
            gone += size
            if n < len(bends):
                bend = bends[n]
                size = bend["radius"] * bend["angle"]
                s = np.linspace(0.0, size, max(2, math.ceil(size / step) + 1))
                turn = (s / bend["radius"])[:, None]
                spoke = bend["start"] - bend["centre"]
                aside = np.cross(bend["normal"], spoke)
                points.append(bend["centre"] + np.cos(turn) * spoke + np.sin(turn) * aside)
                along.append(gone + s)
                gone += size
        return np.concatenate(points), np.concatenate(along)

    def beside(self, aside: float, up: float) -> Planted:
        """The curve at a fixed offset from this one, in a frame that does not twist."""
        ways = self.ways
        first = np.cross(ways[0], [0.0, 0.0, 1.0] if abs(ways[0, 2]) < 0.9 else [1.0, 0.0, 0.0])
        first /= np.linalg.norm(first)
        off = aside * first + up * np.cross(first, ways[0])
        corners, radii = [self.corners[0] + off], []
        for n, radius in enumerate(self.radii):
            u, v = ways[n], ways[n + 1]
            normal = np.cross(u, v)
            normal /= np.linalg.norm(normal)
            inward, after = np.cross(normal, u), np.cross(normal, v)
            toward, out = float(off @ inward), float(off @ normal)
            mitre = (inward + after) / (1.0 + inward @ after)
            corners.append(self.corners[n + 1] + out * normal + toward * mitre)
            radii.append(radius - toward)
            off = toward * after + out * normal
        corners.append(self.corners[-1] + off)
        return Planted(np.array(corners), np.array(radii))


@dataclass(frozen=True, eq=False)
class Ports:
    """A hose of which only the ends are known: points (2, 3) [m], directions of travel (2, 3)."""

    corners: Points
    ways: Points
    radii: Points = field(default_factory=lambda: np.zeros(0))
    length: float = 0.0


@dataclass(frozen=True)
class Wish:
    """Requirements on a planted curve: lengths [m], possible numbers of bends.

    low, high : corners of the box that contains all corner points
    """

    radius: float
    lead: float
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    bends: tuple[int, ...] = (2, 3, 4, 5)
    spare: float = 0.005
    square: float = 0.6
    keep: float = 0.05
    stretch: float = 0.15


def random_curve(
    rng: np.random.Generator,
    wish: Wish,
    start: Points | None = None,
    way: Points | None = None,
    tries: int = 400,
) -> Planted | None:
    """A random curve inside the box, optionally from a given start and direction."""
    for _ in range(tries):
        curve = _attempt(rng, wish, start, way)
        if curve is not None and not _meets_itself(curve, wish):
            return curve
    return None


def random_way(rng: np.random.Generator, square: float) -> Points:
    """A direction along an axis, or tilted from one by up to 25 degrees."""
    way = np.zeros(3)
    way[rng.integers(3)] = rng.choice([-1.0, 1.0])
    if rng.random() > square:
        way += np.tan(np.radians(25.0)) * rng.uniform(-1, 1, 3) / math.sqrt(2)
        way /= np.linalg.norm(way)
    return way


def _attempt(
    rng: np.random.Generator, wish: Wish, start: Points | None, way: Points | None
) -> Planted | None:
    low, high = np.array(wish.low), np.array(wish.high)
    here = rng.uniform(low, high) if start is None else start
    way = random_way(rng, wish.square) if way is None else way
    corners, taken = [here], wish.lead
    count = int(rng.choice(wish.bends))
    for _ in range(count):
        for _ in range(20):
            new = random_way(rng, wish.square)
            angle = math.acos(float(np.clip(way @ new, -1, 1)))
            if math.radians(20) < angle < math.radians(118):
                break
        else:
            return None
        tangent = wish.radius * math.tan(angle / 2)
        leg = taken + tangent + wish.spare + rng.exponential(wish.stretch)
        here = here + leg * way
        if (here < low).any() or (here > high).any():
            return None
        corners.append(here)
        way, taken = new, tangent
    here = here + (taken + wish.lead + wish.spare + rng.exponential(wish.stretch)) * way
    if (here < low).any() or (here > high).any():
        return None
    corners.append(here)
    try:
        return Planted(np.array(corners), np.full(count, wish.radius))
    except DoesNotFitError:
        return None


def _meets_itself(curve: Planted, wish: Wish) -> bool:
    """Whether places far apart along the curve are close in space."""
    points, along = curve.sample(0.01)
    away = np.linalg.norm(points[:, None] - points[None], axis=2)
    apart = np.abs(along[:, None] - along[None])
    return bool((away[apart > 3.5 * wish.keep + math.pi * wish.radius] < wish.keep).any())
