"""What would put a fail or a caution right: ways that were tried, the cheapest first.

Closing a valve costs nothing; then other hoses, as few as will do; a hose and the valve; a larger
strainer; the pump lower; a shorter run, with whether any way is that short. Each was solved anew.
Where the whole job can be run again, the first one told is routed again as well.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from fitcheck.hydraulics.applied import applied
from fitcheck.hydraulics.hose_changes import hose_remedies
from fitcheck.hydraulics.judging import Table, Verdict, names
from fitcheck.hydraulics.limits import feed_lines
from fitcheck.hydraulics.other_changes import (
    hose_and_valve,
    larger_strainer,
    lowered,
    out_of_reach,
    shortened,
    valve_remedies,
)
from fitcheck.hydraulics.plant import Plant
from fitcheck.hydraulics.trials import Goal, all_states
from fitcheck.model.finding import Finding, Remedy, Severity
from fitcheck.model.hydraulics import Hydraulics
from fitcheck.model.scenario import Scenario

#: Routes and solves a changed scenario again; None where a box no longer fits or a hose is lost.
Again = Callable[[Scenario], Hydraulics | None]

#: How many ways are tried by the whole job, which takes as long as the routes do.
_MOST_RUNS: dict[Severity, int] = {"fail": 2, "caution": 1, "note": 0}
#: Cautions that no change of the piping mends.
_NO_REMEDY = ("not-known",)


def with_remedies(
    table: Table, verdicts: Sequence[Verdict], again: Again | None = None
) -> list[Finding]:
    """The findings of the verdicts, every fail and caution with what puts its lines right."""
    fails = any(verdict.finding.severity == "fail" for verdict in verdicts)
    remedies: dict[Goal, list[Remedy]] = {}
    findings = []
    for verdict in verdicts:
        goal = _goal(table, verdict, verdicts)
        if goal is None:
            findings.append(verdict.finding)
            continue
        if goal not in remedies:
            # Where something fails, the whole job is run again for that alone.
            trial = None if fails and goal.severity != "fail" else again
            remedies[goal] = _proven(table, goal, list(_ways(table, goal)), trial)
        findings.append(_remedied(verdict.finding, remedies[goal]))
    return findings


def _remedied(finding: Finding, ways: list[Remedy]) -> Finding:
    """The cheapest first; what a rule already says of its own comes last."""
    if not ways:
        return finding
    own = () if finding.remedy is None else (finding.remedy,)
    return replace(finding, remedy=ways[0], alternatives=(*ways[1:], *own))


# --- what hangs together ----------------------------------------------------------------------


def _goal(table: Table, verdict: Verdict, verdicts: Sequence[Verdict]) -> Goal | None:
    """All verdicts of one severity on lines that must be judged together share a goal."""
    severity, rule = verdict.finding.severity, verdict.finding.rule
    lines = _group_of(table.plant, verdict)
    if severity == "note" or not lines or rule in _NO_REMEDY:
        return None
    alike = [
        row
        for row in verdicts
        if row.finding.severity == severity and _group_of(table.plant, row) == lines
    ]
    told = {name for row in alike for name in row.states[:2]}
    states = tuple(state for state in all_states(table) if state.name in told)
    return Goal(
        lines=lines,
        severity=severity,
        rules=frozenset(row.finding.rule for row in alike),
        worst=states or all_states(table)[:1],
        older=frozenset(
            (row.finding.rule, row.finding.subject)
            for row in verdicts
            if row.finding.severity == "fail" and row not in alike
        ),
    )


def _group_of(plant: Plant, verdict: Verdict) -> tuple[str, ...]:
    """All lines before the high-pressure pump are one group; otherwise the verdict's own lines."""
    feed = names(feed_lines(plant))
    if verdict.finding.rule == "bypass-too-open" or set(verdict.lines) & set(feed):
        return feed
    return verdict.lines


# --- ways -------------------------------------------------------------------------------------


def _ways(table: Table, goal: Goal) -> Iterator[Remedy]:
    """Every kind of change in the order of what it costs."""
    before = list(valve_remedies(table, goal))
    before += hose_remedies(table, goal)
    if not before:
        before += list(hose_and_valve(table, goal))[:2]
    yield from before
    rest = [*lowered(table, goal), *larger_strainer(table, goal), *shortened(table, goal)]
    if not before and not any(row.changes for row in rest):
        yield out_of_reach(table, goal)
    yield from rest


def _proven(table: Table, goal: Goal, ways: list[Remedy], again: Again | None) -> list[Remedy]:
    """The first way that holds when the whole job is run again is put first and says so."""
    if again is None:
        return ways
    for way in [row for row in ways if row.changes][: _MOST_RUNS[goal.severity]]:
        rest = [row for row in ways if row is not way]
        if _holds(goal, again(applied(table.plant.scenario, way.changes))):
            return [replace(way, proven="run again"), *rest]
        ways = rest
    return ways


def _holds(goal: Goal, after: Hydraulics | None) -> bool:
    if after is None:
        return False
    wrong = [row for row in after.findings if row.severity in ("fail", goal.severity)]
    return all((row.rule, row.subject) in goal.older for row in wrong if _counts(goal, row))


def _counts(goal: Goal, row: Finding) -> bool:
    return row.severity == "fail" or row.rule in goal.rules
