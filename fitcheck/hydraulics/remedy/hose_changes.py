"""Other hoses as a remedy: the fewest lines, then the smallest bores, that reach the goal."""

from __future__ import annotations

import itertools
from collections.abc import Generator, Iterator, Mapping
from dataclasses import dataclass

from fitcheck.findings.said import Said, length, quantity, say
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import first_inlet
from fitcheck.hydraulics.remedy.trials import Goal, all_states, reaches, reaches_in, tabulate
from fitcheck.hydraulics.rules.hose_limits import highest_pressure, is_high_pressure
from fitcheck.hydraulics.rules.judging import (
    Table,
    names,
    npsh,
    suction_lines,
    suction_vacuum,
)
from fitcheck.hydraulics.rules.limits import feed_lines
from fitcheck.hydraulics.rules.outlets import back_pressures, outlets
from fitcheck.model.finding import Change, Remedy
from fitcheck.model.given.kit import Hose, Line
from fitcheck.units import Metre, Ratio, show

_MOST_CHANGES = 3
#: Rules that depend on the whole suction side.
_SUCTION_RULES = {"suction-vacuum", "npsh-margin", "largest-flow"}


@dataclass(frozen=True, eq=False, kw_only=True)
class Trial:
    """Hoses to change, and those lines afterwards on the side that is judged."""

    hoses: Mapping[str, Hose]
    table: Table


def hose_remedies(table: Table, goal: Goal, most: int = 2) -> list[Remedy]:
    """Up to `most` sets of other hoses that reach the goal, least effort first."""
    found: list[Trial] = []
    sides = _whole_side(table, goal)
    for hoses in itertools.chain(sides, _selections(table, goal)):
        if any(set(hoses) >= set(trial.hoses) for trial in found):
            continue
        changed = table.plant.changed(hoses, goal.stretch)
        if reaches(table, changed, goal):
            after = tabulate(changed, all_states(table), table.limits)
            found.append(Trial(hoses=hoses, table=after.safe or after))
            if len(found) == most:
                break
            sides.close()  # a still wider side is not a different remedy
    return [_as_remedy(table, trial) for trial in found]


def widest_changes(table: Table, goal: Goal) -> Iterator[dict[str, Hose]]:
    """One line at a time with its widest hose, then all of them together."""
    every: dict[str, Hose] = {}
    for line in table.plant.scenario.kit.lines:
        if line.name in goal.lines and line.name in table.plant.runs:
            wider = _better(table, line, goal)
            if wider:
                every[line.name] = _strongest(line, wider)
                yield {line.name: every[line.name]}
    if len(every) > 1:
        yield every


def _whole_side(table: Table, goal: Goal) -> Generator[dict[str, Hose]]:
    """The whole suction side in one hose, no narrower than any it has, narrowest first."""
    plant, side = table.plant, suction_lines(table.plant)
    if len(side) < 2 or not goal.rules & _SUCTION_RULES:
        return
    if any(line.name not in plant.runs or line.name not in goal.lines for line in side):
        return
    better = {line.name: _better(table, line, goal) for line in side}
    for hose in sorted(plant.scenario.kit.hoses, key=lambda hose: hose.bore):
        other = [line.name for line in side if plant.runs[line.name].hose.name != hose.name]
        if other and all(hose in better[name] for name in other):
            yield dict.fromkeys(other, hose)


def _selections(table: Table, goal: Goal) -> Iterator[dict[str, Hose]]:
    """Hoses to try: few lines before many, least effort first.

    For a set of lines, each gets the smallest sufficient hose with the others as wide as possible,
    one line after the other. Lines whose widest hoses together fail are skipped: no narrower hose
    loses less.
    """
    lines = [line for line in table.plant.scenario.kit.lines if line.name in goal.lines]
    every = {
        line.name: _better(table, line, goal) for line in lines if line.name in table.plant.runs
    }
    choices = {name: hoses for name, hoses in every.items() if hoses}
    for count in range(1, _MOST_CHANGES + 1):
        tried = []
        for some in itertools.combinations(choices, count):
            least = _least(table, goal, {name: choices[name] for name in some})
            if least is not None:
                tried.append(least)
        yield from sorted(tried, key=lambda hoses: _effort(table.plant, hoses))


def _least(table: Table, goal: Goal, choices: Mapping[str, list[Hose]]) -> dict[str, Hose] | None:
    """The smallest sufficient hose for each of some lines, None where even the widest fail."""
    plant = table.plant
    hoses = {name: _strongest(plant.runs[name].line, rows) for name, rows in choices.items()}
    if not reaches_in(table, plant.changed(hoses, goal.stretch), goal, goal.worst):
        return None
    for name, rows in choices.items():
        for hose in sorted(rows, key=lambda hose: _effort(plant, {name: hose})):
            tried = {**hoses, name: hose}
            if reaches(table, plant.changed(tried, goal.stretch), goal):
                hoses = tried
                break
    return hoses


def _effort(plant: Plant, hoses: Mapping[str, Hose]) -> tuple[int, int, Ratio, Ratio]:
    """Number of hoses that lose bore, number that need a larger bend radius, then bores, then
    prices.
    """
    present = {line: plant.runs[line].hose for line in hoses}
    narrower = sum(
        hose.bore < present[line].bore and plant.runs[line].line.duty != "bypass"
        for line, hose in hoses.items()
    )
    wider = sum(
        hose.min_bend_radius > present[line].min_bend_radius for line, hose in hoses.items()
    )
    prices = sum(min(hose.sold.prices, default=0.0) for hose in hoses.values())
    return narrower, wider, sum(hose.bore for hose in hoses.values()), prices


def _strongest(line: Line, hoses: list[Hose]) -> Hose:
    """The hose that helps the plant most: the widest, or for a bypass the narrowest."""
    return max(hoses, key=lambda hose: -hose.bore if line.duty == "bypass" else hose.bore)


def _better(table: Table, line: Line, goal: Goal) -> list[Hose]:
    """Hoses of the kit that suit the line's duty and are at least as good as the present one.

    If the rating or the wall is the problem, the bore does not matter.
    """
    present = table.plant.runs[line.name].hose
    need = highest_pressure(table.safe or table, line)
    sucks = line.name in names(suction_lines(table.plant))
    made_up = is_high_pressure(table.plant, line)
    any_bore = goal.rules <= {"pressure-rating", "suction-wall"}
    if line.duty == "bypass" and line.valve_flow is not None and not any_bore:
        return []  # its valve does the same at no cost
    sign = -1.0 if line.duty == "bypass" else 1.0
    return [
        hose
        for hose in table.plant.scenario.kit.hoses
        if hose.name != present.name
        and (any_bore or sign * hose.bore >= sign * present.bore)
        and hose.pressure_rating >= need
        and (hose.wall == "reinforced" or not sucks)
        and (hose.sold.by == "assembly") == (present.sold.by == "assembly" or made_up)
    ]


def _as_remedy(table: Table, trial: Trial) -> Remedy:
    told = [*hoses_said(table.plant, trial.hoses), *_effects(trial)]
    return Remedy(
        said=say("other-hose", told=told, hoses=len(trial.hoses)),
        changes=hose_change(table.plant, trial.hoses),
        proven="solved",
    )


def hose_change(plant: Plant, hoses: Mapping[str, Hose]) -> tuple[Change, ...]:
    """The keys to write for other hoses."""
    file = plant.scenario.layout_file
    return tuple(
        Change(file=file, key=f"layout.lines.{line}.hose", value=hose.name)
        for line, hose in hoses.items()
    )


def hoses_said(plant: Plant, hoses: Mapping[str, Hose]) -> list[Said]:
    """Which hose each line gets, and whether it will be re-routed; lines with the same hose
    together.
    """
    alike: dict[tuple[str, Metre], list[str]] = {}
    for line, hose in hoses.items():
        alike.setdefault((hose.name, plant.runs[line].hose.min_bend_radius), []).append(line)
    told = []
    for (_, present), lines in alike.items():
        hose, bends = hoses[lines[0]], None
        if hose.min_bend_radius > present:
            wider, now = length(hose.min_bend_radius), length(present)
            bends = say("other-hose.bends", wider=wider, now=now)
        bore = quantity(hose.bore, "bore")
        told.append(say("other-hose.given", lines=lines, hose=hose.name, bore=bore, bends=bends))
    return told


def _effects(trial: Trial) -> list[Said]:
    """The governing numbers with the change, with runs 10 % longer."""
    table, changed = trial.table, set(trial.hoses)
    told = []
    effect = feed_effect(table) if changed & set(names(feed_lines(table.plant))) else None
    if effect is not None:
        told.append(effect)
    rows = {row.outlet: row for row in back_pressures(table)}
    for outlet in outlets(table.plant):
        if changed & set(names(outlet.lines)) and outlet.name in rows:
            most = max(rows[outlet.name].running, rows[outlet.name].stopped)
            told.append(say("effect.back-pressure", most=quantity(most, "pressure")))
    pump = table.plant.scenario.kit.high_pressure_pump
    for line in table.plant.scenario.kit.lines:
        if line.name in changed and pump is not None and is_high_pressure(table.plant, line):
            loss = max(op.losses[line.name].at_most for op in table.operations)
            share = quantity(loss / pump.pressure, "fraction")
            told.append(say("effect.high-pressure", share=share))
    return told


def feed_effect(table: Table) -> Said | None:
    """The effect on the suction side of a changed plant, as its verdicts count it."""
    inlet = first_inlet(table.plant) or ""
    rows = [
        (op.state.fouled, vacuum + op.band[inlet])
        for op in table.running
        if (vacuum := suction_vacuum(table.plant, op)) is not None
    ]
    heads = [h for op in table.running if (h := npsh(table.plant, op)) is not None]
    if not rows or not heads:
        return None
    clean = max(vacuum for fouled, vacuum in rows if not fouled)
    most, least = max(vacuum for _, vacuum in rows), min(heads)
    told = say("effect.no-vacuum")
    if clean > 0:
        told = say("effect.vacuum", vacuum=quantity(clean, "vacuum"))
    if most > clean and show(most, "vacuum") != show(clean, "vacuum"):
        told = say("effect.fouled", clean=told, fouled=quantity(most, "vacuum"))
    return say("effect.suction", vacuum=told, npsh=quantity(least, "head"))
