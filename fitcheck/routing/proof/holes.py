"""A line that may pass one of several holes: its bound, and which hole was taken."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np

from fitcheck.model.finding import Finding
from fitcheck.model.found.routes import BoundKind
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.port_fittings import NOT_CHOSEN
from fitcheck.routing.lay.sets import Outcome
from fitcheck.routing.proof.proof import Proof, prove_line
from fitcheck.routing.search.bound import unobstructed_bound
from fitcheck.routing.world.obstacles import Obstacles
from fitcheck.routing.world.ports import Job
from fitcheck.units import Metre


def prove_all(obstacles: Obstacles, routed: Routed) -> Proof:
    """The bound of a routed line over all holes it may pass."""
    least = prove_line(obstacles, routed)
    for rival in routed.rivals:
        free = bound_through(rival.job)
        if free >= least.bound:
            continue
        unobstructed: BoundKind = "unobstructed"
        proof = Proof(bound=free, kind=unobstructed)
        if isinstance(rival, Routed):
            proof = prove_line(obstacles, rival)
        if proof.bound < least.bound:
            least = proof
    return least


def bound_through(job: Job) -> Metre:
    """Length no hose undercuts that passes the middle of each hole square to it.

    Obstacles left out; either way through each hole.
    """
    tips = [end.at + end.straight * end.way for end in job.ends]
    least = np.inf
    for senses in product((1.0, -1.0), repeat=len(job.holes)):
        stops = [(tips[0], job.start.way)]
        for hole, sense in zip(job.holes, senses, strict=True):
            axis = np.array(hole.direction)
            stops.append((np.array(hole.centre), sense * axis / np.linalg.norm(axis)))
        stops.append((tips[1], -job.end.way))
        pairs = zip(stops[:-1], stops[1:], strict=True)
        parts = [unobstructed_bound(p, d, q, e, job.radius) for (p, d), (q, e) in pairs]
        least = min(least, sum(parts))
    return float(job.start.straight + least + job.end.straight)


def hole_findings(outcomes: Sequence[Outcome]) -> Iterator[Finding]:
    """Which of several holes a line passes, and what the others would have come to."""
    for routed in outcomes:
        if not isinstance(routed, Routed):
            continue
        others = [words for rival in routed.rivals if (words := _other(routed, rival))]
        if not others:
            continue
        line, length = routed.job.line.name, routed.curve.length
        text = f"{line} passes {_names(routed.job)}: {length:.2f} m; {'; '.join(others)}."
        yield Finding(
            severity="note",
            rule="hole-chosen",
            subject=line,
            said=text,
            source="the shortest of the holes named",
            value=length,
            unit="m",
        )


def _other(routed: Routed, rival: Outcome) -> str:
    """What became of another hole; nothing where it is the same hole by another fitting."""
    if rival.job.holes == routed.job.holes:
        return ""
    if isinstance(rival, Routed):
        return f"by {_names(rival.job)} {rival.curve.length:.2f} m"
    if rival.reason == NOT_CHOSEN:
        return ""
    return f"by {_names(rival.job)} no way: {rival.reason or 'none found'}"


def _names(job: Job) -> str:
    return " and ".join(hole.name for hole in job.holes)
