"""Starting polylines for the refinement, from the lattice in both directions and a pulled string.

None of them need keep the clearance: with less of it the lattice finds routes through narrow
places that its headings would miss, and the refinement restores all of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from fitcheck.routing.search.approach import Grain, approaches
from fitcheck.routing.search.lattice import lattice_seeds
from fitcheck.routing.search.refine import Task
from fitcheck.routing.world.clear import leg_clear
from fitcheck.routing.world.field import World
from fitcheck.routing.world.goal import DETOUR, UNKNOWN, UNREACHED, descend, goal_field
from fitcheck.units import Metre, Ratio

Points = NDArray[np.float64]

#: Clearance given up in the lattice, in order of trial, and the maximum as a share of it [m].
GIVEN_UP = (0.014, 0.0)
MOST_GIVEN_UP = 0.5
#: Search efforts, in sequence until something is found: how far from the shortest cell path cells
#: are considered [m], and how many states the lattice may open.
EFFORTS = ((0.06, 1_500), (0.25, 2_500), (1.0, 3_000))
#: Number of these for Patience.BRIEF.
BRIEF_EFFORTS = 2
#: Maximum states opened once such an effort has found something.
FEWER_STATES = 3_000
#: A seed may be this much longer than the best curve so far: found in the same goal field, which
#: overestimates, and found before [m/m].
WANTED, WANTED_YET = 1.01, 1.12
#: Goal fields extend this much further, because they overestimate [m/m].
MARCHED = 1.1
#: And this many bend radii, to allow for a bend.
SWING = 0.75
#: A path is thinned to points no further off than this many cells (Douglas and Peucker 1973).
THINNED = (2.0, 4.0)
#: Poses a port is approached from; how far from the shortest path to one cells are considered [m].
APPROACHES, APPROACH_SPARE = 10, 0.4
#: First at the usual resolution, then finer.
GRAINS = (
    Grain(size=1.0, tree=12_000, states=3_000),
    Grain(size=0.5, tree=40_000, states=12_000),
)


class Patience(IntEnum):
    """How long to search for a route when none is found at first.

    BRIEF: cells are barred on purpose; LONG: another route is known, or other hoses are there that
    might be moved; LONGEST: there is a route or there is none.
    """

    BRIEF = 0
    LONG = 1
    LONGEST = 2


@dataclass(frozen=True, eq=False, kw_only=True)
class Pose:
    """A point and a direction of travel, (3,) each."""

    at: Points
    way: Points

    def back(self) -> Pose:
        """The same place in the other direction."""
        return Pose(at=self.at, way=-self.way)


@dataclass(eq=False, kw_only=True)
class Sources:
    """Goal fields towards both ends of a stretch, computed on first use.

    spare: how far from the shortest path cells are considered [m]; most: the shortest length so
    far
    """

    task: Task
    start: Pose
    end: Pose
    spare: Metre
    most: Callable[[], Metre]

    @cached_property
    def forth(self) -> NDArray[np.float32]:
        """Distance to the end."""
        return self._field(self.end.at, self.start.at, UNKNOWN)

    @cached_property
    def back(self) -> NDArray[np.float32]:
        """Distance to the start, where the distance to the end is known."""
        return self._field(self.start.at, self.end.at, self.forth)

    def _field(
        self, goal: Points, start: Points, other: NDArray[np.float32]
    ) -> NDArray[np.float32]:
        spare = self.spare + SWING * self.task.radius
        most = min(MARCHED * self.most(), 1e3) + 2 * float(self.task.world.pitch[0])
        return goal_field(self.task.world, goal, start, self.task.need, spare, other, most)

    @property
    def through(self) -> Metre:
        """Length of the cell path from the start to the end."""
        cell = np.floor((self.start.at - self.task.world.origin) / self.task.world.pitch[0])
        i, j, k = (int(n) for n in cell)
        return float(self.forth[i, j, k])

    @property
    def open(self) -> bool:
        """Whether passable cells connect the start to the end at all."""
        return self.through < UNREACHED

    @property
    def covered(self) -> Metre:
        """Cell paths up to this length are in both fields."""
        return DETOUR * self.through + self.spare + SWING * self.task.radius

    def approached(self, turned: bool, grain: Grain) -> Iterator[list[Points]]:
        """Seeds that reach the end through a pose in the open; turned: that leave the start that
        way.
        """
        task, far = self.task, self.start.back() if turned else self.end
        given = (task.radius, task.need - min(GIVEN_UP[0], MOST_GIVEN_UP * task.need))
        towards = self.forth if turned else self.back
        for pose in approaches(task.world, towards, far.at, -far.way, *given, APPROACHES, grain):
            near = self.end.back() if turned else self.start
            most = WANTED * self.most() - pose.length
            spare = APPROACH_SPARE + SWING * task.radius
            field = goal_field(task.world, pose.at, near.at, task.need, spare)
            ends = (near.at, near.way, pose.at, -pose.way)
            found = lattice_seeds(task.world, field, ends, *given, grain.states, most, grain.size)
            whole = [np.vstack([seed[:-1], pose.corners[::-1]]) for seed in found]
            yield [seed[::-1].copy() for seed in whole] if turned else whole

    def lattice(self, given_up: Metre, turned: bool, states: int, most: Metre) -> list[Points]:
        """Seeds of one lattice search; turned: searched from the end."""
        start, end = (self.end.back(), self.start.back()) if turned else (self.start, self.end)
        field = self.back if turned else self.forth
        task = self.task
        need = task.need - min(given_up, MOST_GIVEN_UP * task.need)
        ends = (start.at, start.way, end.at, end.way)
        found = lattice_seeds(task.world, field, ends, task.radius, need, states, most)
        return [seed[::-1].copy() for seed in found] if turned else found

    def string(self) -> list[Points]:
        """The path down the goal field, pulled straight or thinned, with corners on the ports'
        axes.
        """
        task = self.task
        path = descend(task.world, self.forth, self.start.at, self.end.at)
        if path is None:
            return []
        pitch = float(task.world.pitch[0])
        rows = [(_pulled(task.world, path, task.need), 0.6)]
        rows += [(thinned(path, cells * pitch), 0.8) for cells in THINNED]
        return [self._led(row[1:-1], lead) for row, lead in rows]

    def _led(self, inner: Points, lead: Ratio) -> Points:
        """Corners with one before and one after them on the ports' axes, so many bend
        radii out.
        """
        first = self.start.at + lead * self.task.radius * self.start.way
        last = self.end.at - lead * self.task.radius * self.end.way
        return np.vstack([self.start.at, first, inner, last, self.end.at])


def seed_rounds(
    sources: Sources, states: int, rivals: bool
) -> Iterator[Callable[[], list[Points]]]:
    """Sources of seeds in the order they are tried.

    states: maximum opened at first; rivals: a curve is known, only shorter ones are wanted.
    """
    yield sources.string
    known = sources.most()
    for given_up in GIVEN_UP[:1] if rivals else GIVEN_UP:
        for turned in (False, True):
            yield partial(_searched, sources, given_up, turned, states, known)


def _searched(
    sources: Sources, given_up: Metre, turned: bool, states: int, known: Metre
) -> list[Points]:
    most = sources.most()
    if most < known:
        return sources.lattice(given_up, turned, min(states, FEWER_STATES), WANTED * most)
    return sources.lattice(given_up, turned, states, WANTED_YET * most)


def _pulled(world: World, path: Points, need: Metre) -> Points:
    """Remove points of a path wherever the straight between their neighbours is clear."""
    need = max(0.5 * need, need - 0.5 * float(world.pitch[0]))
    kept = [path[0]]
    at = 0
    while at < len(path) - 1:
        far = len(path) - 1
        while far > at + 1 and not leg_clear(world, path[at], path[far], need):
            far = at + max(1, (far - at) * 3 // 4)
        kept.append(path[far])
        at = far
    return np.array(kept)


def thinned(path: Points, off: Metre) -> Points:
    """Thin a path; no removed point is further than `off` from the rest."""
    kept, waiting = {0, len(path) - 1}, [(0, len(path) - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        step = path[last] - path[first]
        share = (path[first + 1 : last] - path[first]) @ step / max(float(step @ step), 1e-12)
        foot = path[first] + np.clip(share, 0.0, 1.0)[:, None] * step
        away = np.linalg.norm(path[first + 1 : last] - foot, axis=1)
        worst = int(away.argmax())
        if away[worst] > off:
            at = first + 1 + worst
            kept.add(at)
            waiting += [(first, at), (at, last)]
    return path[sorted(kept)]
