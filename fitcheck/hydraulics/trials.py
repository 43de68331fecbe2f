"""Trying a changed plant: what must no longer be found, and whether it is not.

A change is solved anew in all states, on the unfavourable side, with changed hoses 10 % longer
than they are now and 10 % of each limit kept in hand, since a changed hose is routed again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fitcheck.hydraulics.bands import unfavourable
from fitcheck.hydraulics.hose_limits import hose_verdicts
from fitcheck.hydraulics.judging import Table, Verdict, names
from fitcheck.hydraulics.limits import feed_lines, pump_verdicts
from fitcheck.hydraulics.outlets import back_pressures, outlet_verdicts
from fitcheck.hydraulics.plant import Plant
from fitcheck.hydraulics.solve import operate, operate_at
from fitcheck.model.finding import Severity
from fitcheck.model.hydraulics import State
from fitcheck.model.kit import Limits
from fitcheck.units import Ratio

#: Length added to a changed line and share of each limit kept in hand.
STRETCH: Ratio = 1.10
IN_HAND: Ratio = 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """What a remedy must do: no fail on these lines, and for a caution none of its rules either.

    lines : those that are judged together
    worst : states the verdicts were found in; most trials already fail there
    older : rule and subject of fails outside the goal, which no way needs to put right
    """

    lines: tuple[str, ...]
    severity: Severity
    rules: frozenset[str]
    worst: tuple[State, ...]
    older: frozenset[tuple[str, str]] = frozenset()


def tabulate(plant: Plant, states: Sequence[State], limits: Limits) -> Table:
    """Solve a plant in these states, as expected and on the unfavourable side."""
    expected = tuple(operate(plant, state) for state in states)
    worse = unfavourable(plant)
    safe = Table(
        plant=worse,
        operations=tuple(operate(worse, state) for state in states),
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
    """The same in some states: the flow is had, and nothing the goal names is found."""
    operations = []
    worse = unfavourable(plant)
    feeds = bool(set(goal.lines) & set(names(feed_lines(plant))))
    for state in states:
        operations.append(operate_at(worse, state, plant.feed_flow))
        if operations[-1].trouble and feeds:
            return False
    found = judge(Table(plant=worse, operations=tuple(operations), limits=in_hand(table.limits)))
    return not any(_misses(verdict, goal) for verdict in found)


def _misses(verdict: Verdict, goal: Goal) -> bool:
    finding = verdict.finding
    if not set(verdict.lines) & set(goal.lines) and finding.subject not in goal.lines:
        return False
    if finding.severity == "fail":
        return True
    return goal.severity == finding.severity == "caution" and finding.rule in goal.rules


def in_hand(limits: Limits) -> Limits:
    """The limits with a tenth kept in hand."""
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
