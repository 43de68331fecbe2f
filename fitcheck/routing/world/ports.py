"""Where a hose starts and ends: port face, direction, straight length, owner."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.found.space import PlacedHole, Space
from fitcheck.model.given.kit import Fitting, Hose, Line, PortRef, Way
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.placed import Pose
from fitcheck.routing.world.traps import ways_up
from fitcheck.units import Direction, Metre

#: Room beyond the clearance at the end of a straight length [m].
BARELY = 2e-4


@dataclass(frozen=True, eq=False, kw_only=True)
class End:
    """A port of one hose: `way` points out of it; `owner` is a module name or "boat".

    at, way, tip : (3,) [m]; straight, the required length; lead, where the search begins: slightly
    more where the straight length only just clears its own module; fitting, body: the fitting
    used, and its legs (n, 11) as Curve.pieces
    """

    name: str
    owner: str
    at: NDArray[np.float64]
    way: NDArray[np.float64]
    straight: Metre
    lead: Metre
    fitting: Fitting | None = None
    body: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 11)))

    @property
    def tip(self) -> NDArray[np.float64]:
        """The first point where the hose may bend."""
        return self.at + self.lead * self.way


@dataclass(frozen=True, eq=False, kw_only=True)
class Job:
    """One hose to route: both ends, the holes to pass, and the clearance it needs.

    need : centre line to anything solid [m]
    others : holes that may be passed instead of `holes`
    offers : where the hose may begin at either end instead, with the fittings of the ports
    ups : up directions of a suction line in every heel and trim, none for another line
    """

    line: Line
    hose: Hose
    start: End
    end: End
    holes: tuple[PlacedHole, ...]
    need: Metre
    clearance: Metre
    gap: Metre
    others: tuple[tuple[PlacedHole, ...], ...] = ()
    offers: tuple[tuple[End, ...], tuple[End, ...]] = ((), ())
    ups: tuple[Direction, ...] = ()
    way: Way = "shortest"
    reach: Metre = 0.060
    span: Metre = 0.400

    @property
    def radius(self) -> Metre:
        """Bend radius on the centre line."""
        return self.hose.min_bend_radius

    @property
    def half(self) -> Metre:
        """Half the outside diameter."""
        return self.hose.outside_diameter / 2

    @property
    def ends(self) -> tuple[End, End]:
        """Start and end."""
        return (self.start, self.end)

    def beside(self, other: Job) -> Metre:
        """Centre distance another hose requires beyond `need`; negative where less."""
        return other.half + max(self.gap, other.gap) - self.clearance


def place_end(ports: Mapping[str, Pose], ref: PortRef, straight: Metre, need: Metre) -> End:
    """Where a hose begins at one of the placed ports."""
    at, way = (np.array(row) for row in ports[str(ref)])
    way = way / np.linalg.norm(way)
    lead = max(straight, need + BARELY)
    return End(name=str(ref), owner=ref.owner, at=at, way=way, straight=straight, lead=lead)


def make_jobs(scenario: Scenario, space: Space) -> tuple[Job, ...]:
    """One job per line, in the kit's order."""
    allowances = scenario.kit.allowances
    ports = scenario.placed.ports(space.ports)
    jobs = []
    for line in scenario.kit.lines:
        hose, straight = scenario.hose_of(line), scenario.straight_of(line)
        choice = scenario.layout.choice(line.name)
        need = hose.outside_diameter / 2 + allowances.hose_clearance
        passed = [tuple(map(space.hole, names)) for names in product(*choice.candidates)]
        job = Job(
            line=line,
            hose=hose,
            start=place_end(ports, line.start, straight, need),
            end=place_end(ports, line.end, straight, need),
            holes=passed[0],
            others=tuple(passed[1:]),
            need=need,
            clearance=allowances.hose_clearance,
            gap=allowances.hose_gap,
            ups=ways_up(scenario.boat.conditions) if line.duty == "suction" else (),
            way=choice.way or line.way,
            reach=line.reach,
            span=line.span,
        )
        jobs.append(job)
    return tuple(jobs)


def with_hose(scenario: Scenario, job: Job, hose: Hose) -> Job:
    """The same line with another hose."""
    need = hose.outside_diameter / 2 + job.clearance
    start, end = (replace(end, lead=max(end.straight, need + BARELY)) for end in job.ends)
    return replace(job, hose=hose, need=need, start=start, end=end)
