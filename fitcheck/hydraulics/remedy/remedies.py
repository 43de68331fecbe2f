"""Tested remedies for a fail or a caution, the cheapest first.

Closing a valve costs nothing; then other hoses, the whole suction side in one bore before single
lines; a hose and the valve; a larger strainer; a lower pump if its box fits there; a shorter run
that is not below the proven bound. Each was solved again. Where the whole job can be repeated, the
first remedy is also re-routed.

Fails on one side are treated together first, so that one change resolves all of them; where none
does, each gets a remedy of its own, whatever else still fails.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.remedy.applied import applied
from fitcheck.hydraulics.remedy.hose_changes import hose_remedies
from fitcheck.hydraulics.remedy.other_changes import (
    Stands,
    hose_and_valve,
    larger_strainer,
    lowered,
    shortened,
    valve_remedies,
)
from fitcheck.hydraulics.remedy.out_of_reach import out_of_reach
from fitcheck.hydraulics.remedy.trials import Goal, Key, all_states, in_hand, judge, key_of
from fitcheck.hydraulics.rules.judging import Table, Verdict, names
from fitcheck.hydraulics.rules.limits import feed_lines
from fitcheck.model.finding import Finding, Remedy, Severity, Tell, silent
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.progress import part

#: Routes and solves a changed scenario again; None where that adds a fail outside the water side.
Again = Callable[[Scenario], Hydraulics | None]

#: How many remedies are tested with the whole job, which takes as long as routing does.
_MOST_RUNS: dict[Severity, int] = {"fail": 2, "caution": 1, "note": 0}
#: Cautions that no change of the piping resolves.
_NO_REMEDY = ("not-known",)
#: Rules on one hose, which no other line resolves.
_OF_ONE_HOSE = ("suction-wall", "pressure-rating", "high-pressure-loss")


def with_remedies(
    table: Table,
    verdicts: Sequence[Verdict],
    others: Sequence[Finding] = (),
    again: Again | None = None,
    stands: Stands | None = None,
    tell: Tell = silent,
) -> list[Finding]:
    """The findings of the verdicts, with a remedy for every fail and caution.

    others : all other findings of the water side, whose fails no remedy here causes
    stands : the largest drop of a module up to a given one at which its box still fits
    """
    fails = any(verdict.finding.severity == "fail" for verdict in verdicts)
    now = frozenset(
        key_of(row)
        for row in (*(verdict.finding for verdict in verdicts), *others)
        if row.severity == "fail"
    )
    near = now | _near_fails(table)
    known: dict[Goal, list[Remedy]] = {}

    def ways(goal: Goal) -> list[Remedy]:
        if goal not in known:
            # Where something fails, the whole job is repeated for that alone.
            trial = None if fails and goal.severity != "fail" else again
            solved = list(_ways(table, goal, stands))
            known[goal] = _proven(table, goal, solved, trial)
            if trial is not None and goal.severity == "fail" and not _changes(solved):
                known[goal] = [*_barely(table, goal, trial), *known[goal]]
        return known[goal]

    findings: list[Finding] = []
    for verdict in verdicts:
        part(tell, "findings with their remedies tried", len(findings), len(verdicts))
        if not _mendable(table.plant, verdict):
            findings.append(verdict.finding)
            continue
        alike = [row for row in verdicts if _alike(table.plant, verdict, row)]
        lines = _group_of(table.plant, verdict)
        goal = _goal(table, lines, alike, now, near)
        found = ways(goal)
        if len(alike) > 1 and not _changes(found):
            own = verdict.lines if verdict.finding.rule in _OF_ONE_HOSE else lines
            goal = _goal(table, own, [verdict], now, near)
            found = ways(goal)
        if not _changes(found):
            found = [out_of_reach(table, goal), *found]
        findings.append(_remedied(verdict.finding, found))
    return findings


def _changes(ways: list[Remedy]) -> bool:
    return any(row.changes for row in ways)


def _remedied(finding: Finding, ways: list[Remedy]) -> Finding:
    """The cheapest first; a remedy given by the rule itself comes last."""
    own = () if finding.remedy is None else (finding.remedy,)
    return replace(finding, remedy=ways[0], alternatives=(*ways[1:], *own))


# --- related findings ---------------------------------------------------------------------


def _mendable(plant: Plant, verdict: Verdict) -> bool:
    finding = verdict.finding
    lines = _group_of(plant, verdict)
    return finding.severity != "note" and bool(lines) and finding.rule not in _NO_REMEDY


def _alike(plant: Plant, verdict: Verdict, other: Verdict) -> bool:
    """Whether one change could resolve both: same severity, same side of the plant."""
    same = other.finding.severity == verdict.finding.severity
    return (
        same and _mendable(plant, other) and _group_of(plant, other) == _group_of(plant, verdict)
    )


def _goal(
    table: Table,
    lines: tuple[str, ...],
    verdicts: Sequence[Verdict],
    now: frozenset[Key],
    near: frozenset[Key],
) -> Goal:
    told = {name for row in verdicts for name in row.states[:2]}
    states = tuple(state for state in all_states(table) if state.name in told)
    wanted = frozenset(key_of(row.finding) for row in verdicts)
    worst = states or all_states(table)[:1]
    short = {op.state.name for op in (table.safe or table).operations if op.trouble}
    if any(rule in ("largest-flow", "bypass-too-open") for rule, _ in wanted):
        short = set()
    return Goal(
        lines=lines,
        severity=verdicts[0].finding.severity,
        wanted=wanted,
        worst=worst,
        older=now - wanted,
        near=near - wanted,
        short=frozenset(short - {state.name for state in worst}),
    )


def _near_fails(table: Table) -> frozenset[Key]:
    """What already fails by the stricter limits a trial is judged by."""
    judged = replace(table.safe or table, limits=in_hand(table.limits), safe=None)
    return frozenset(
        key_of(row.finding) for row in judge(judged) if row.finding.severity == "fail"
    )


def _group_of(plant: Plant, verdict: Verdict) -> tuple[str, ...]:
    """All lines before the high-pressure pump form one group; otherwise the verdict's
    own lines.
    """
    feed = names(feed_lines(plant))
    if verdict.finding.rule == "bypass-too-open" or set(verdict.lines) & set(feed):
        return feed
    return verdict.lines


# --- ways -------------------------------------------------------------------------------------


def _ways(table: Table, goal: Goal, stands: Stands | None) -> Iterator[Remedy]:
    """Every kind of change in order of cost."""
    before = list(valve_remedies(table, goal))
    before += hose_remedies(table, goal)
    if not before:
        before += list(hose_and_valve(table, goal))[:2]
    yield from before
    if stands is not None:
        yield from lowered(table, goal, stands)
    yield from larger_strainer(table, goal)
    yield from shortened(table, goal)


def _proven(table: Table, goal: Goal, ways: list[Remedy], again: Again | None) -> list[Remedy]:
    """The first remedy that works when the whole job is repeated is put first and says so."""
    if again is None:
        return ways
    for way in [row for row in ways if row.changes][: _MOST_RUNS[goal.severity]]:
        rest = [row for row in ways if row is not way]
        if _holds(goal, again(applied(table.plant.scenario, way.changes))):
            return [replace(way, proven="run again"), *rest]
        ways = rest
    return ways


def _barely(table: Table, goal: Goal, again: Again) -> list[Remedy]:
    """Hoses that are just sufficient without margin, where the repeated job proves it."""
    tight = replace(goal, spare=False)
    ways = hose_remedies(table, tight, most=1)
    return [way for way in _proven(table, tight, ways, again) if way.proven == "run again"]


def _holds(goal: Goal, after: Hydraulics | None) -> bool:
    """Whether the goal is reached and nothing fails that did not before."""
    return after is not None and not any(goal.missed_by(row) for row in after.findings)
