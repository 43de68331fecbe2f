"""What would put a failing line right: the fewest, smallest changes that pass, tried before told.

Every remedy is solved anew in all states with the changed lines 10 % longer and 10 % of each limit
kept in hand, since a changed hose is routed again.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from fitcheck.hydraulics.bands import unfavourable
from fitcheck.hydraulics.hose_limits import highest_pressure, hose_verdicts, is_high_pressure
from fitcheck.hydraulics.judging import (
    Table,
    Verdict,
    names,
    npsh,
    suction_lines,
    suction_vacuum,
)
from fitcheck.hydraulics.limits import feed_lines, pump_verdicts
from fitcheck.hydraulics.outlets import back_pressures, outlet_verdicts, outlets
from fitcheck.hydraulics.plant import Plant
from fitcheck.hydraulics.solve import operate, operate_at
from fitcheck.model.finding import Change, Finding, Remedy
from fitcheck.model.hydraulics import State
from fitcheck.model.scenario import Hose, Limits, Line
from fitcheck.units import CubicMetrePerSecond, Ratio, show, write

#: Length added to a changed line and share of each limit kept in hand.
STRETCH: Ratio = 1.10
IN_HAND: Ratio = 0.90
_MOST_CHANGES = 3
_MOST_TRIALS = 600
_VALVE_STEPS = 14


@dataclass(frozen=True, eq=False, kw_only=True)
class Trial:
    """Hoses to change and what is said of those lines afterwards."""

    hoses: Mapping[str, Hose]
    table: Table


def judge(table: Table) -> list[Verdict]:
    """All verdicts on pumps, hoses and outlets, on the unfavourable side where there is one."""
    table = table.safe or table
    return [
        *pump_verdicts(table),
        *hose_verdicts(table),
        *outlet_verdicts(table, back_pressures(table)),
    ]


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


def with_remedies(table: Table, verdicts: Sequence[Verdict]) -> list[Finding]:
    """The findings of the verdicts, every failing one with what puts its lines right."""
    remedies = {
        group: _remedy(table, group, failing) for group, failing in _groups(table, verdicts)
    }
    return [
        replace(verdict.finding, remedy=remedies.get(_group_of(table.plant, verdict)))
        if verdict.finding.severity == "fail"
        else verdict.finding
        for verdict in verdicts
    ]


# --- which lines hang together ----------------------------------------------------------------


def _groups(
    table: Table, verdicts: Sequence[Verdict]
) -> Iterator[tuple[tuple[str, ...], list[Verdict]]]:
    """Fails gathered by the lines that must be judged together."""
    failing = [verdict for verdict in verdicts if verdict.finding.severity == "fail"]
    groups = dict.fromkeys(_group_of(table.plant, verdict) for verdict in failing)
    for group in groups:
        if group:
            yield group, [row for row in failing if _group_of(table.plant, row) == group]


def _group_of(plant: Plant, verdict: Verdict) -> tuple[str, ...]:
    """All lines before the high-pressure pump are one group; otherwise the verdict's own lines."""
    feed = names(feed_lines(plant))
    if verdict.finding.rule == "bypass-too-open" or set(verdict.lines) & set(feed):
        return feed
    return verdict.lines


# --- trying -----------------------------------------------------------------------------------


def _remedy(table: Table, group: tuple[str, ...], failing: list[Verdict]) -> Remedy:
    found = _fewest_hoses(table, group, failing)
    if found is not None:
        return _as_remedy(table, found)
    valve = _closed_valve(table, group)
    if valve is not None:
        return valve
    return _out_of_reach(table, group, failing)


def _fewest_hoses(table: Table, group: tuple[str, ...], failing: list[Verdict]) -> Trial | None:
    """The fewest lines, then the smallest hoses, that leave no fail in the group."""
    worst = _states_of(table, failing)
    for hoses in itertools.islice(_selections(table, group, worst), _MOST_TRIALS):
        if _passes(table, hoses, group, worst) and _passes(table, hoses, group, _all(table)):
            changed = table.plant.changed(hoses, STRETCH)
            return Trial(hoses=hoses, table=tabulate(changed, _all(table), table.limits))
    return None


def _all(table: Table) -> list[State]:
    return [operation.state for operation in table.operations]


def _states_of(table: Table, failing: list[Verdict]) -> list[State]:
    """States the fails were found in: most trials already fail there."""
    told = {name for verdict in failing for name in verdict.states[:2]}
    return [state for state in _all(table) if state.name in told] or _all(table)[:1]


def _passes(
    table: Table, hoses: Mapping[str, Hose], group: tuple[str, ...], states: Sequence[State]
) -> bool:
    return _holds(table, table.plant.changed(hoses, STRETCH), group, states)


def _holds(table: Table, plant: Plant, group: tuple[str, ...], states: Sequence[State]) -> bool:
    """Whether a changed plant has its flow in these states and nothing in the group fails."""
    operations = []
    plant = unfavourable(plant)
    for state in states:
        operations.append(operate_at(plant, state, plant.feed_flow))
        if operations[-1].trouble and _is_feed(plant, group):
            return False
    limits = _in_hand(table.limits)
    return _clean(Table(plant=plant, operations=tuple(operations), limits=limits), group)


def _is_feed(plant: Plant, group: tuple[str, ...]) -> bool:
    return bool(set(group) & set(names(feed_lines(plant))))


def _clean(table: Table, group: tuple[str, ...]) -> bool:
    """Whether no verdict that touches the group fails."""
    return not any(
        verdict.finding.severity == "fail"
        and (set(verdict.lines) & set(group) or verdict.finding.subject in group)
        for verdict in judge(table)
    )


def _in_hand(limits: Limits) -> Limits:
    """The limits with a tenth kept in hand."""
    return replace(
        limits,
        suction_vacuum_max=limits.suction_vacuum_max * IN_HAND,
        inlet_pressure_min=limits.inlet_pressure_min / IN_HAND,
        product_back_pressure_max=limits.product_back_pressure_max * IN_HAND,
        brine_back_pressure_max=limits.brine_back_pressure_max * IN_HAND,
        high_pressure_loss_max=limits.high_pressure_loss_max * IN_HAND,
    )


def _selections(
    table: Table, group: tuple[str, ...], worst: Sequence[State]
) -> Iterator[dict[str, Hose]]:
    """Hoses to try: few lines before many, hoses that bend as tightly first, small bores first.

    Lines for which even their widest hoses together fail are not tried further: no narrower hose
    loses less.
    """
    lines = [line for line in table.plant.scenario.kit.lines if line.name in group]
    every = {line.name: _better(table, line) for line in lines if line.name in table.plant.runs}
    choices = {name: hoses for name, hoses in every.items() if hoses}
    for count in range(1, _MOST_CHANGES + 1):
        tried: list[dict[str, Hose]] = []
        for some in itertools.combinations(choices, count):
            widest = {name: max(choices[name], key=lambda hose: hose.bore) for name in some}
            if _passes(table, widest, group, worst):
                product = itertools.product(*(choices[name] for name in some))
                tried += [dict(zip(some, hoses, strict=True)) for hoses in product]
        yield from sorted(tried, key=lambda hoses: _effort(table.plant, hoses))


def _effort(plant: Plant, hoses: Mapping[str, Hose]) -> tuple[int, Ratio, Ratio]:
    """How many must bend more widely, then bores, then prices."""
    wider = sum(
        hose.min_bend_radius > plant.runs[line].hose.min_bend_radius
        for line, hose in hoses.items()
    )
    prices = sum(min(hose.sold.prices, default=0.0) for hose in hoses.values())
    return wider, sum(hose.bore for hose in hoses.values()), prices


def _better(table: Table, line: Line) -> list[Hose]:
    """Hoses of the kit that suit the line's duty and are no narrower than what it has."""
    present = table.plant.runs[line.name].hose
    need = highest_pressure(table, line)
    sucks = line.name in names(suction_lines(table.plant))
    made_up = is_high_pressure(table.plant, line)
    return [
        hose
        for hose in table.plant.scenario.kit.hoses
        if hose.name != present.name
        and hose.bore >= present.bore
        and hose.pressure_rating >= need
        and (hose.wall == "reinforced" or not sucks)
        and (hose.sold.by == "assembly") == (present.sold.by == "assembly" or made_up)
    ]


def _as_remedy(table: Table, trial: Trial) -> Remedy:
    plant = table.plant
    words = []
    for line, hose in trial.hoses.items():
        present = plant.runs[line].hose
        words.append(
            f"Give {line} {hose.name}, {show(hose.bore, 'length')} bore{_bends(present, hose)}."
        )
    return Remedy(
        text=" ".join([*words, *_effects(trial), "The hose is then routed anew."]),
        changes=tuple(
            Change(
                file=plant.scenario.layout_file,
                key=f"layout.lines.{line}.hose",
                value=hose.name,
            )
            for line, hose in trial.hoses.items()
        ),
    )


def _bends(present: Hose, hose: Hose) -> str:
    if hose.min_bend_radius <= present.min_bend_radius:
        return ""
    return (
        f" (bends no tighter than {show(hose.min_bend_radius, 'length')}, now "
        f"{show(present.min_bend_radius, 'length')}: its way may change)"
    )


def _effects(trial: Trial) -> list[str]:
    """The governing numbers with the change, runs 10 % longer."""
    table, changed = trial.table, set(trial.hoses)
    words = []
    if changed & set(names(feed_lines(table.plant))):
        words.append(_feed_effect(table))
    rows = {row.outlet: row for row in back_pressures(table)}
    for outlet in outlets(table.plant):
        if changed & set(names(outlet.lines)) and outlet.name in rows:
            most = max(rows[outlet.name].running, rows[outlet.name].stopped)
            words.append(f"That leaves a back pressure of {show(most, 'pressure')} at most.")
    pump = table.plant.scenario.kit.high_pressure_pump
    for line in table.plant.scenario.kit.lines:
        if line.name in changed and pump is not None and is_high_pressure(table.plant, line):
            loss = max(op.losses[line.name].at_most for op in table.operations)
            words.append(
                f"It then loses {show(loss / pump.pressure, 'fraction')} of the pressure."
            )
    return [word for word in words if word]


def _feed_effect(table: Table) -> str:
    vacuums = [v for op in table.running if (v := suction_vacuum(table.plant, op)) is not None]
    heads = [h for op in table.running if (h := npsh(table.plant, op)) is not None]
    if not vacuums or not heads:
        return ""
    most, least = max(vacuums), min(heads)
    pressed = f"a vacuum of {show(most, 'vacuum')}" if most > 0 else "no vacuum"
    return f"That leaves {pressed} at most and {show(least, 'head')} of NPSH at least."


# --- when no hose does it ---------------------------------------------------------------------


def _closed_valve(table: Table, group: tuple[str, ...]) -> Remedy | None:
    """The widest setting of a bypass valve at which nothing in the group fails."""
    plant = table.plant
    for name in group:
        if name not in plant.runs or plant.runs[name].line.duty != "bypass":
            continue
        valve = plant.runs[name].line.valve_flow
        if valve is None:
            continue
        setting = _widest(table, group, name, valve)
        if setting is not None:
            return Remedy(
                text=f"Close the valve in {name} until it passes {write(setting, 'flow', 'm3/h')} "
                f"at 1 bar (now {write(valve, 'flow', 'm3/h')}).",
                changes=(
                    Change(
                        file=plant.scenario.kit_file,
                        key=f"kit.lines.{name}.valve",
                        value=write(setting, "flow", "m3/h"),
                    ),
                ),
            )
    return None


def _widest(
    table: Table, group: tuple[str, ...], name: str, valve: CubicMetrePerSecond
) -> CubicMetrePerSecond | None:
    """By halving, rounded down to two figures."""

    def passes(setting: CubicMetrePerSecond) -> bool:
        return _holds(table, table.plant.with_valve(name, setting), group, _all(table))

    low, high = 0.02 * valve, valve
    if not passes(low):
        return None
    for _ in range(_VALVE_STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if passes(middle) else (low, middle)
    rounded = float(f"{low * 3600:.2g}") / 3600
    return rounded if rounded <= low else float(f"{0.95 * low * 3600:.2g}") / 3600


def _out_of_reach(table: Table, group: tuple[str, ...], failing: list[Verdict]) -> Remedy:
    """No hose of the kit does it: say which bore would, as far as any would."""
    lines = [name for name in group if name in table.plant.runs]
    worst = _states_of(table, failing)
    for factor in (1.25, 1.5, 1.75, 2.0, 2.5, 3.0):
        hoses = {
            name: replace(hose, bore=hose.bore * factor, wall="reinforced", pressure_rating=1e9)
            for name in lines
            for hose in (table.plant.runs[name].hose,)
        }
        if _passes(table, hoses, group, worst):
            bores = max(hose.bore for hose in hoses.values())
            return Remedy(
                text="No hose of the kit puts this right. Bores "
                f"{factor:g} times as wide would (up to {show(bores, 'length')}), or shorter runs "
                "and less lift."
            )
    return Remedy(
        text="No hose puts this right, however wide: it is the height. Move the modules nearer to "
        "the sea, or the opening."
    )
