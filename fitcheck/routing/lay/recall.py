"""Cache of routing results between runs in the same space.

A hose depends only on what comes near its route. All curves no longer than L between two places
lie where the distances to both add up to at most L, so a box or hose that changed outside that
region, expanded by the hose's clearance, does not affect the shortest route inside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.distance import point_box
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.routing.world.obstacles import Ground, Obstacles, Tube, gather, ground_of
from fitcheck.routing.world.ports import Job
from fitcheck.routing.world.structure import Structure, structure_of
from fitcheck.units import Metre

T = TypeVar("T")
Row = tuple[str, bytes]

#: Kinds of row: a box (15 numbers), or a piece of a hose (11) with its extra clearance.
_BOX, _PIECE = "box", "piece"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """The region a result depends on: routes up to `length`, things within `room` of them [m]."""

    length: Metre
    room: Metre


EVERYWHERE = Reach(length=math.inf, room=0.0)


@dataclass(eq=False, slots=True)
class _Kept:
    """A cached result, its key, and everything that was present when it was computed."""

    value: Any
    asked: tuple[Any, ...]
    rows: frozenset[Row]
    reach: Reach


class Recall:
    """Results by kind and line, each with what it depends on; indices of the space."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], _Kept] = {}
        self._space: Space | None = None
        self._ground: Ground | None = None
        self._structure: Structure | None = None
        self._as_seen: Recall | None = None

    @property
    def as_seen(self) -> Recall:
        """The cache for the same boat with glimpsed cells free."""
        self._as_seen = self._as_seen or Recall()
        return self._as_seen

    def obstacles(self, scenario: Scenario, space: Space, fit: Fit) -> Obstacles:
        """The obstacles of the space; the index is rebuilt only for another space."""
        if space is not self._space:
            self._kept.clear()
            self._space, self._ground, self._structure = space, ground_of(space), None
        found = gather(space, fit, self._ground)
        self._structure = structure_of(
            scenario,
            space,
            found.triangles,
            found.boxes,
            found.kinds,
            found.names,
            self._structure,
        )
        return replace(found, structure=self._structure)

    def ask(
        self,
        kind: str,
        job: Job,
        among: frozenset[Row],
        find: Callable[[], T],
        reach: Callable[[T], Reach],
        given: Sequence[Any] = (),
    ) -> T:
        """Return the cached result if nothing within its reach has changed, else compute it.

        given : what else the result depends on: objects by identity, numbers by value
        """
        place = (kind, job.line.name)
        asked = (_signature(job), *given)
        kept = self._kept.get(place)
        if kept is not None and _same(kept.asked, asked):
            changed = kept.rows ^ among
            if not any(_touches(row, job, kept.reach) for row in changed):
                kept.rows = among
                return kept.value
        value = find()
        self._kept[place] = _Kept(value, asked, among, reach(value))
        return value


def rows_of(obstacles: Obstacles, job: Job, tubes: Iterable[Tube]) -> frozenset[Row]:
    """Everything that may obstruct a hose and can change from run to run."""
    rows: list[Row] = [(_BOX, row.tobytes()) for row in obstacles.boxes]
    rows += [(_BOX, row.tobytes()) for row in obstacles.spaces]
    for tube in tubes:
        asks = np.float64(job.beside(tube.job)).tobytes()
        rows += [(_PIECE, row.tobytes() + asks) for row in tube.pieces]
    return frozenset(rows)


def _same(one: tuple[Any, ...], two: tuple[Any, ...]) -> bool:
    if len(one) != len(two) or one[0] != two[0]:
        return False
    pairs = zip(one[1:], two[1:], strict=True)
    return all(a is b or (isinstance(a, float) and a == b) for a, b in pairs)


def _touches(row: Row, job: Job, reach: Reach) -> bool:
    """Whether a thing comes within `room` of any route of `length` between the ports."""
    kind, content = row
    # kernels do not accept read-only rows
    numbers = np.frombuffer(content, dtype=np.float64).copy()
    ends = [_port(end.at, end.body) for end in job.ends]
    if kind == _BOX:
        away = [float(point_box(*end, numbers[None], 0)) for end in ends]
        margin = 0.0
    else:
        # a piece of length s lies within s of its start
        away = [max(0.0, float(np.linalg.norm(end - numbers[:3])) - numbers[10]) for end in ends]
        margin = float(numbers[11])
    return sum(away) <= reach.length + 2 * (reach.room + margin)


def _port(at: NDArray[np.float64], body: NDArray[np.float64]) -> NDArray[np.float64]:
    """The port's face, or the start of its fitting if there is one."""
    return body[0, :3] if len(body) else at


def _signature(value: Any) -> Any:
    """A job's content in a form that compares by value."""
    if isinstance(value, np.ndarray):
        return (value.shape, value.tobytes())
    if is_dataclass(value) and not isinstance(value, type):
        return tuple(_signature(getattr(value, field.name)) for field in fields(value))
    if isinstance(value, tuple):
        return tuple(_signature(item) for item in value)
    return value
