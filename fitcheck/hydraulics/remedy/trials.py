"""Test a changed plant: what must disappear, and whether it does.

A change is solved in all states, on the unfavourable side, with changed hoses 10 % longer than now
and a margin of 10 % to each limit, because a changed hose is re-routed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fitcheck.hydraulics.network.bands import unfavourable
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import operate, operate_at
from fitcheck.hydraulics.rules.hose_limits import hose_verdicts
from fitcheck.hydraulics.rules.judging import Table, Verdict
from fitcheck.hydraulics.rules.limits import pump_verdicts
from fitcheck.hydraulics.rules.outlets import back_pressures, outlet_verdicts
from fitcheck.model.finding import Finding, Severity, Tell, silent
from fitcheck.model.found.hydraulics import State
from fitcheck.model.given.kit import Limits
from fitcheck.model.progress import part
from fitcheck.units import Ratio

#: Factor on the length of a changed line, and margin kept to each limit.
STRETCH: Ratio = 1.10
IN_HAND: Ratio = 0.90


#: A finding's rule and subject.
Key = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """What a remedy must do: resolve certain findings without adding a fail.

    lines : those whose hoses may be changed
    wanted : findings to resolve, all of one severity
    worst : states they were found in; most trials already fail there
    older : present fails that a remedy need not resolve
    near : the same by limits with the 10 % margin, which trials are judged by
    short : names of states that lack their flow now and may continue to
    spare : whether the 10 % margin on limits and lengths is kept
    """

    lines: tuple[str, ...]
    severity: Severity
    wanted: frozenset[Key]
    worst: tuple[State, ...]
    older: frozenset[Key] = frozenset()
    near: frozenset[Key] = frozenset()
    short: frozenset[str] = frozenset()
    spare: bool = True

    @property
    def stretch(self) -> Ratio:
        """Length factor of a changed line."""
        return STRETCH if self.spare else 1.0

    @property
    def rules(self) -> frozenset[str]:
        """The rules of the findings to resolve."""
        return frozenset(rule for rule, _ in self.wanted)

    def missed_by(self, finding: Finding) -> bool:
        """Whether a finding after a change means that the goal was missed."""
        key = key_of(finding)
        if finding.severity == "fail":
            return key not in self.older
        return finding.severity == self.severity and key in self.wanted


def key_of(finding: Finding) -> Key:
    """Identifies a finding before and after a change."""
    return finding.rule, finding.subject


def tabulate(plant: Plant, states: Sequence[State], limits: Limits, tell: Tell = silent) -> Table:
    """Solve a plant in these states, as expected and on the unfavourable side."""
    worse, solved = unfavourable(plant), []
    for number, state in enumerate(states):
        part(tell, "states solved", number, len(states))
        solved.append((operate(plant, state), operate(worse, state)))
    expected = tuple(row for row, _ in solved)
    safe = Table(
        plant=worse,
        operations=tuple(row for _, row in solved),
        limits=limits,
        expected={operation.state.name: operation for operation in expected},
    )
    return Table(plant=plant, operations=expected, limits=limits, safe=safe)


def judge(table: Table) -> list[Verdict]:
    """All verdicts on pumps, hoses and outlets, on the unfavourable side where there is one."""
    table = table.safe or table
    return [
        *pump_verdicts(table),
        *hose_verdicts(table),
        *outlet_verdicts(table, back_pressures(table)),
    ]


def all_states(table: Table) -> tuple[State, ...]:
    """Every running state."""
    return tuple(operation.state for operation in table.operations)


def reaches(table: Table, plant: Plant, goal: Goal) -> bool:
    """Whether a changed plant reaches the goal in every state."""
    return reaches_in(table, plant, goal, goal.worst) and reaches_in(
        table, plant, goal, all_states(table)
    )


def reaches_in(table: Table, plant: Plant, goal: Goal, states: Sequence[State]) -> bool:
    """The same in some states: flow delivered, findings resolved, no new fails."""
    operations = []
    worse = unfavourable(plant)
    for state in states:
        operation = operate_at(worse, state, plant.feed_flow)
        if not operation.trouble:
            operations.append(operation)
        elif state.name not in goal.short:
            return False
    limits = in_hand(table.limits) if goal.spare else table.limits
    solved = Table(plant=worse, operations=tuple(operations), limits=limits)
    strict = replace(goal, older=goal.near) if goal.spare else goal
    found = [verdict.finding for verdict in judge(solved)]
    if any(strict.missed_by(finding) for finding in found):
        return False
    if all(key_of(row) in goal.older for row in found if row.severity == "fail"):
        return True
    # Some are close to their limit, now and with the change: they must not cross it.
    after = judge(replace(solved, limits=table.limits))
    return not any(goal.missed_by(verdict.finding) for verdict in after)


def in_hand(limits: Limits) -> Limits:
    """The limits with a margin of 10 %."""
    return replace(
        limits,
        suction_vacuum_ok=limits.suction_vacuum_ok * IN_HAND,
        suction_vacuum_max=limits.suction_vacuum_max * IN_HAND,
        npsh_margin=limits.npsh_margin / IN_HAND,
        inlet_pressure_min=limits.inlet_pressure_min / IN_HAND,
        product_back_pressure_max=limits.product_back_pressure_max * IN_HAND,
        brine_back_pressure_max=limits.brine_back_pressure_max * IN_HAND,
        high_pressure_loss_max=limits.high_pressure_loss_max * IN_HAND,
    )
