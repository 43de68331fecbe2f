"""Lengthen assemblies until they reach within the mounting tolerance of their modules."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.given.scenario import Scenario
from fitcheck.routing.lay.recall import Recall
from fitcheck.routing.lay.sets import Outcome
from fitcheck.routing.lengths.assemblies import with_assemblies
from fitcheck.routing.lengths.wander import reach_of, with_wander
from fitcheck.routing.world.obstacles import Obstacles
from fitcheck.routing.world.ports import Job
from fitcheck.units import Metre

Hoses = tuple[HoseRoute | Unrouted, ...]


def with_longer_assemblies(
    scenario: Scenario,
    obstacles: Obstacles,
    jobs: Sequence[Job],
    outcomes: Sequence[Outcome],
    hoses: Hoses,
    recall: Recall,
) -> Hoses:
    """The hoses, with assemblies lengthened where they do not reach as they are.

    An assembly is unchanged where no longer one can be routed; its shortfall is then reported.
    """
    allowances = scenario.kit.allowances
    asked: dict[str, Metre] = {}
    for job, hose in zip(jobs, hoses, strict=True):
        if not isinstance(hose, HoseRoute) or hose.assembly is None:
            continue
        if hose.assembly.stands and 0.0 < hose.mounting_spare < math.inf:
            asked[hose.line] = reach_of(hose, job, allowances) + hose.mounting_spare
    while asked:
        longer = with_assemblies(scenario, obstacles, jobs, outcomes, hoses, recall, asked)
        lost = _worse(hoses, longer)
        if not lost:
            again = _again(hoses, longer)
            return _told(hoses, with_wander(scenario, obstacles, outcomes, longer, recall, again))
        # If none of the lengthened assemblies is the one that failed, all are reset.
        dropped = lost & asked.keys() or asked.keys()
        asked = {line: reach for line, reach in asked.items() if line not in dropped}
    return hoses


def _again(before: Hoses, after: Hoses) -> set[str]:
    """Lines whose tolerance may have shrunk: those of another length, all if one is shorter.

    A hose beside a longer one has at least the clearance it had.
    """
    old, new = _lengths(before), _lengths(after)
    if any(length < old[line] for line, length in new.items()):
        return {hose.line for hose in after}
    return {line for line, length in new.items() if length > old[line]}


def _lengths(hoses: Hoses) -> dict[str, Metre]:
    """Length of every assembly."""
    made = [hose for hose in hoses if isinstance(hose, HoseRoute)]
    return {hose.line: hose.assembly.length for hose in made if hose.assembly}


def _worse(before: Hoses, after: Hoses) -> set[str]:
    """Lines whose assembly could be routed before and cannot be now."""
    return {
        new.line
        for old, new in zip(before, after, strict=True)
        if isinstance(old, HoseRoute)
        and isinstance(new, HoseRoute)
        and old.assembly
        and old.assembly.stands
        and not (new.assembly and new.assembly.stands)
    }


def _told(before: Hoses, after: Hoses) -> Hoses:
    """The longer assemblies; for each length that now reaches, the amount added is
    stored with it.
    """
    return tuple(
        replace(new, mounting_spare=old.mounting_spare)
        if isinstance(old, HoseRoute)
        and isinstance(new, HoseRoute)
        and new.assembly is not None
        and new.mounting_spare == 0.0
        else new
        for old, new in zip(before, after, strict=True)
    )
