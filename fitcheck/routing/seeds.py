"""Where to begin: polylines for the refinement, from the lattice both ways and from a pulled string.

None of them need keep the clearance: with some of it given up the lattice finds the ways through
narrow places that its headings would miss, and the refinement asks for all of it again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitcheck.routing.field import World, leg_clear
from fitcheck.routing.goal import descend, goal_field
from fitcheck.routing.lattice import lattice_seeds
from fitcheck.units import Metre

Points = NDArray[np.float64]

#: Clearance given up in the lattice, in order of trial, and the most as a share of it [m].
GIVEN_UP = (0.004, 0.008, 0.0)
MOST_GIVEN_UP = 0.4
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

    world: World
    start: Pose
    end: Pose
    radius: Metre
    need: Metre
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
        return goal_field(self.world, goal, start, self.need, none, self.spare + self.radius)

    def lattice(self, given_up: Metre, turned: bool, states: int, most: Metre) -> list[Points]:
        """Seeds of one lattice search; turned: searched from the end."""
        start, end = (self.end.back(), self.start.back()) if turned else (self.start, self.end)
        field = self.back if turned else self.forth
        need = self.need - min(given_up, MOST_GIVEN_UP * self.need)
        ends = (start.at, start.way, end.at, end.way)
        found = lattice_seeds(self.world, field, ends, self.radius, need, states, most)
        return [seed[::-1].copy() for seed in found] if turned else found

    def string(self) -> Points | None:
        """The way down the goal field, pulled straight, with corners on the ports' axes."""
        path = descend(self.world, self.forth, self.start.at, self.end.at)
        if path is None:
            return None
        pulled = _pulled(self.world, path, self.need)
        lead = self.start.at + 0.6 * self.radius * self.start.way
        tail = self.end.at - 0.6 * self.radius * self.end.way
        return np.vstack([pulled[:1], lead, pulled[1:-1], tail, pulled[-1:]])


def lattice_rounds(sources: Sources, states: int) -> Iterator[tuple[Metre, bool, int]]:
    """Searches in the order they are tried: clearance given up, from which end, states."""
    for given_up in GIVEN_UP:
        for turned in (False, True):
            yield given_up, turned, states


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
