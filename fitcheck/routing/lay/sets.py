"""Route all hoses together: each alone first, then those that conflict in turn.

A hose that meets no other keeps its own shortest route. Hoses that meet are relaxed together.
Where some find no room, they are routed one after the other around those already placed, in
several orders. If no order places them all, the hoses in their way are removed and join the group.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import networkx as nx
import numpy as np

from fitcheck.findings.said import Said, quantity, say
from fitcheck.model.finding import Tell
from fitcheck.model.progress import part
from fitcheck.routing.lay.jostle import jostled
from fitcheck.routing.lay.line import Blocked, Routed
from fitcheck.routing.lay.lying import can_move
from fitcheck.routing.lay.port_fittings import route_fitted
from fitcheck.routing.lay.recall import EVERYWHERE, Reach, Recall, rows_of
from fitcheck.routing.world.obstacles import Obstacles, Tube, stubs_beside, tube
from fitcheck.routing.world.ports import Job
from fitcheck.routing.world.traps import LONGER
from fitcheck.routing.world.verify import least_between, least_gap

#: Give up after this many orders in a row that lose hoses and lose no fewer than the best.
TIRED = 4
#: How often hoses in the way are removed and re-routed.
ROUNDS = 3

Outcome = Routed | Blocked


@dataclass(eq=False)
class _Table:
    """The hoses placed so far, by position in the list of jobs."""

    obstacles: Obstacles
    jobs: tuple[Job, ...]
    recall: Recall
    alone: dict[int, Outcome] = field(default_factory=dict)
    laid: dict[int, Outcome] = field(default_factory=dict)

    def tubes(self, number: int, laid: dict[int, Outcome]) -> list[Tube]:
        """Straight ends of all other hoses, and the other hoses already placed."""
        job = self.jobs[number]
        others = [
            tube(other.curve, other.job)
            for key, other in laid.items()
            if key != number and isinstance(other, Routed)
        ]
        return stubs_beside(job, self.jobs) + others

    def route(self, number: int, laid: dict[int, Outcome]) -> Outcome:
        """Route one hose around those already placed; its own shortest route if that is free."""
        alone = self.alone.get(number)
        if isinstance(alone, Routed) and not self.meets(alone, laid, number):
            return alone
        return self.find("laid", number, self.tubes(number, laid))

    def find(self, kind: str, number: int, tubes: list[Tube]) -> Outcome:
        """Route one hose among some tubes; cached if nothing near it has changed."""
        job = self.jobs[number]
        return self.recall.ask(
            kind,
            job,
            rows_of(self.obstacles, job, tubes),
            lambda: route_fitted(self.obstacles, job, tubes),
            _reach,
        )

    def meets(self, routed: Routed, laid: dict[int, Outcome], number: int) -> list[int]:
        """Placed hoses that come closer to a routed one than the required gap."""
        return [
            key
            for key, other in laid.items()
            if key != number and isinstance(other, Routed) and _too_near(routed, other)
        ]


def _reach(outcome: Outcome) -> Reach:
    """The region in which a change could alter the outcome.

    Routes without a high point and routes along structure may be longer than the shortest.
    """
    if isinstance(outcome, Blocked):
        return EVERYWHERE
    job = outcome.job
    fitted = sum(end.fitting.length for end in job.ends if end.fitting)
    length = outcome.curve.length + fitted
    if job.way == "along structure":
        return Reach(length=2.0 * length, room=job.reach + job.half)
    return Reach(length=LONGER * length if job.ups else length, room=job.need)


def _too_near(one: Routed, two: Routed) -> bool:
    asked = one.job.half + two.job.half + max(one.job.gap, two.job.gap)
    if least_gap(one.curve, two.curve, asked) < asked:
        return True
    rows = [np.vstack([end.body for end in routed.job.ends]) for routed in (one, two)]
    near = least_between(rows[0], two.curve.pieces, asked)
    near = min(near, least_between(rows[1], one.curve.pieces, asked))
    return min(near, least_between(rows[0], rows[1], asked)) < asked


def route_all(
    obstacles: Obstacles, jobs: tuple[Job, ...], tell: Tell, recall: Recall | None = None
) -> list[Outcome]:
    """Route every hose, in the order of the jobs, with every gap between hoses kept.

    recall : cache of an earlier run in the same space
    """
    table = _Table(obstacles, jobs, recall or Recall())
    for number, job in enumerate(jobs):
        part(tell, "hoses routed", number, len(jobs))
        alone = table.find("alone", number, stubs_beside(job, jobs))
        table.alone[number] = alone
        tell(say("step.hose", line=job.line.name, told=_told(alone)))
    table.laid = dict(table.alone)
    for group in _meeting(table):
        names = ", ".join(jobs[number].line.name for number in group)
        tell(f"re-routing the hoses that conflict: {names}")
        _settle(table, group, tell)
    return [_with_alone(table, number) for number in range(len(jobs))]


def route_lost(
    obstacles: Obstacles,
    jobs: tuple[Job, ...],
    outcomes: Sequence[Outcome],
    tell: Tell,
    recall: Recall,
) -> list[Outcome]:
    """Route the hoses that found no route among other obstacles, around those that did."""
    table = _Table(obstacles, jobs, recall)
    table.laid = dict(enumerate(outcomes))
    for number, outcome in enumerate(outcomes):
        if isinstance(outcome, Blocked):
            found = table.route(number, table.laid)
            if isinstance(found, Routed):
                table.laid[number] = found
            tell(f"{outcome.job.line.name} in weakly scanned space: {_told(found)}")
    return [table.laid[number] for number in range(len(jobs))]


def _with_alone(table: _Table, number: int) -> Outcome:
    """The outcome of a hose; one that found no route also gets its route without the
    other hoses.
    """
    outcome, alone = table.laid[number], table.alone[number]
    if isinstance(outcome, Blocked) and isinstance(alone, Routed):
        return replace(outcome, alone=alone)
    return outcome


def _told(outcome: Outcome) -> Said:
    if isinstance(outcome, Blocked):
        return outcome.said or say("step.no-route")
    length = quantity(outcome.curve.length, "tape")
    return say("step.routed", length=length, bends=len(outcome.curve.angle))


def _meeting(table: _Table) -> list[list[int]]:
    """Groups of hoses whose own routes come too close to one another."""
    graph = nx.Graph()
    for number, outcome in table.alone.items():
        if isinstance(outcome, Routed):
            before = {key: table.alone[key] for key in range(number)}
            graph.add_edges_from((number, key) for key in table.meets(outcome, before, number))
    return [sorted(group) for group in nx.connected_components(graph)]


def _settle(table: _Table, group: list[int], tell: Tell) -> None:
    """Place a group around all others; if that fails, remove the hoses in the way and retry."""
    for _ in range(ROUNDS):
        outside = {key: value for key, value in table.laid.items() if key not in group}
        best = _together(table, group, outside)
        if _score(best)[0]:
            best = min(best, _best_order(table, group, outside, tell), key=_score)
        lost = [number for number in group if isinstance(best[number], Blocked)]
        table.laid.update(best)
        if not lost:
            return
        grown = sorted(set(group) | {key for number in lost for key in _in_way(table, number)})
        if grown == group:
            return
        group = grown


def _score(outcomes: dict[int, Outcome]) -> tuple[int, float]:
    """Number of hoses without a route, then total length."""
    lost = sum(isinstance(outcome, Blocked) for outcome in outcomes.values())
    return lost, sum(o.curve.length for o in outcomes.values() if isinstance(o, Routed))


def _together(table: _Table, group: list[int], outside: dict[int, Outcome]) -> dict[int, Outcome]:
    """Relax a group; place the hoses that may not move before it, and the failed ones after it."""
    alone = {number: table.alone[number] for number in group}
    moving = {n: one for n, one in alone.items() if isinstance(one, Routed) and can_move(one)}
    laid = dict(outside)
    for number in group:
        if number not in moving:
            laid[number] = table.route(number, laid)
    fixed = {n: one for n, one in laid.items() if isinstance(one, Routed)}
    laid.update(jostled(table.obstacles, table.jobs, moving, fixed))
    for number in group:
        if number not in laid:
            laid[number] = table.route(number, laid)
    return {number: laid[number] for number in group}


def _in_way(table: _Table, number: int) -> list[int]:
    alone = table.alone[number]
    return table.meets(alone, table.laid, number) if isinstance(alone, Routed) else []


def _best_order(
    table: _Table, group: list[int], outside: dict[int, Outcome], tell: Tell
) -> dict[int, Outcome]:
    """Place a group in several orders; keep the one with the most hoses, then the least length."""
    best: dict[int, Outcome] = {}
    score = (len(group) + 1, np.inf)
    short = sorted(group, key=lambda number: (_alone_length(table, number), number))
    waiting = [short, short[::-1]]
    seen: set[tuple[int, ...]] = set()
    tired = 0
    most = 2 + 2 * len(group)
    while waiting and tired < TIRED and len(seen) < most:
        part(tell, f"orders tried of {len(group)} hoses, at most", len(seen), most)
        order = waiting.pop(0)
        if tuple(order) in seen:
            continue
        seen.add(tuple(order))
        trial = _in_turn(table, order, outside, max(1, score[0]))
        lost = [number for number in order if isinstance(trial.get(number), Blocked)]
        tired = tired + 1 if lost and len(lost) >= score[0] else 0
        if len(trial) < len(order):
            waiting.append(lost + [number for number in order if number not in lost])
            continue
        length = sum(v.curve.length for v in trial.values() if isinstance(v, Routed))
        if (len(lost), length) < score:
            score, best = (len(lost), length), trial
        if not lost:
            break
        waiting.append(lost + [number for number in order if number not in lost])
    return best


def _in_turn(
    table: _Table, order: Sequence[int], outside: dict[int, Outcome], most: int
) -> dict[int, Outcome]:
    """Place hoses one after the other; stop once `most` have found no route."""
    laid = dict(outside)
    lost, done = 0, []
    for number in order:
        laid[number] = table.route(number, laid)
        done.append(number)
        lost += isinstance(laid[number], Blocked)
        if lost == most:
            break
    return {number: laid[number] for number in done}


def _alone_length(table: _Table, number: int) -> float:
    alone = table.alone[number]
    return alone.curve.length if isinstance(alone, Routed) else np.inf
