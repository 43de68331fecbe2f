"""A line that may pass one of several holes: its bound, and the chosen hole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np

from fitcheck.findings.said import Said, quantity, say
from fitcheck.model.finding import Finding
from fitcheck.model.found.routes import BoundKind
from fitcheck.routing.lay.line import Routed
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
    """Lower bound on the length of a hose that passes the middle of each hole square to it.

    Obstacles are ignored; each hole may be passed in either direction.
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
    """Which of several holes a line passes, and the outcome for the others."""
    for routed in outcomes:
        if not isinstance(routed, Routed):
            continue
        others = [said for rival in routed.rivals if (said := _other(routed, rival))]
        if not others:
            continue
        line, length = routed.job.line.name, routed.curve.length
        said = say(
            "hole-chosen.passes",
            line=line,
            holes=_names(routed.job),
            length=quantity(length, "way"),
            others=others,
        )
        yield Finding(
            severity="note",
            rule="hole-chosen",
            subject=line,
            said=said,
            source="the shortest of the holes named",
            value=length,
            unit="m",
        )


def _other(routed: Routed, rival: Outcome) -> Said | None:
    """The outcome for another hole; empty where it is the same hole with another fitting."""
    holes = _names(rival.job)
    if rival.job.holes == routed.job.holes:
        return None
    if isinstance(rival, Routed):
        length = quantity(rival.curve.length, "way")
        return say("hole-chosen.other", holes=holes, length=length)
    if not rival.tried:
        return None
    why = rival.said or say("hole-chosen.none-found")
    return say("hole-chosen.no-way", holes=holes, why=why)


def _names(job: Job) -> list[str]:
    return [hole.name for hole in job.holes]
