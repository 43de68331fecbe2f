"""Where to begin: polylines for the refinement, from the lattice both ways and a pulled string.

None of them need keep the clearance: with some of it given up the lattice finds the ways through
narrow places that its headings would miss, and the refinement asks for all of it again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from fitcheck.routing.field import World, leg_clear
from fitcheck.routing.goal import descend, goal_field
from fitcheck.routing.lattice import lattice_seeds
from fitcheck.routing.refine import Task
from fitcheck.units import Metre

Points = NDArray[np.float64]

#: Clearance given up in the lattice, in order of trial, and the most as a share of it [m].
GIVEN_UP = (0.014, 0.008, 0.004, 0.0)
MOST_GIVEN_UP = 0.5
#: States the lattice opens at most, at first and when nothing was found.
STATES, MORE_STATES = 3_000, 30_000
#: Cells that lie this much off the shortest way are looked at, at first and then [m].
SPARE, MORE_SPARE = 0.2, 1.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Pose:
    """A point and a direction of travel, (3,) each."""

    at: Points
    way: Points

    def back(self) -> Pose:
        """The same place run the other way."""
        return Pose(at=self.at, way=-self.way)


@dataclass(eq=False, kw_only=True)
class Sources:
    """Goal fields towards both ends of a stretch, made when first asked for."""

    task: Task
    start: Pose
    end: Pose
    spare: Metre

    @cached_property
    def forth(self) -> NDArray[np.float32]:
        """Distance to the end."""
        return self._field(self.end.at, self.start.at)

    @cached_property
    def back(self) -> NDArray[np.float32]:
        """Distance to the start."""
        return self._field(self.start.at, self.end.at)

    def _field(self, goal: Points, start: Points) -> NDArray[np.float32]:
        none = np.zeros((0, 4))
        spare = self.spare + self.task.radius
        return goal_field(self.task.world, goal, start, self.task.need, none, spare)

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
        """The way down the goal field, pulled straight, with corners on the ports' axes."""
        task = self.task
        path = descend(task.world, self.forth, self.start.at, self.end.at)
        if path is None:
            return []
        pulled = _pulled(task.world, path, task.need)
        lead = self.start.at + 0.6 * task.radius * self.start.way
        tail = self.end.at - 0.6 * task.radius * self.end.way
        return [np.vstack([pulled[:1], lead, pulled[1:-1], tail, pulled[-1:]])]


def bowed(direct: Points) -> list[Points]:
    """The direct curve with one and with two more corners on its straight, to be pushed aside."""
    longest = int(np.linalg.norm(np.diff(direct, axis=0), axis=1).argmax())
    first, last = direct[longest], direct[longest + 1]
    seeds = []
    for count in (1, 2):
        share = (np.arange(1, count + 1) / (count + 1))[:, None]
        extra = first + share * (last - first)
        seeds.append(np.concatenate([direct[: longest + 1], extra, direct[longest + 1 :]]))
    return seeds


def seed_rounds(
    sources: Sources, states: int, most: Callable[[], Metre]
) -> Iterator[Callable[[], list[Points]]]:
    """Sources of seeds in the order they are tried; most: the shortest length so far."""
    yield sources.string
    for given_up in GIVEN_UP:
        for turned in (False, True):
            yield partial(_searched, sources, given_up, turned, states, most)


def _searched(
    sources: Sources, given_up: Metre, turned: bool, states: int, most: Callable[[], Metre]
) -> list[Points]:
    return sources.lattice(given_up, turned, states, 1.01 * most())


def _pulled(world: World, path: Points, need: Metre) -> Points:
    """Take out points of a path wherever the straight between their neighbours is clear."""
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
