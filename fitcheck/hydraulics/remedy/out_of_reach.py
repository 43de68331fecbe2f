"""The remedy where no tested change of the kit is enough."""

from __future__ import annotations

from dataclasses import replace

from fitcheck.findings.said import length, quantity, say
from fitcheck.hydraulics.remedy.trials import STRETCH, Goal, reaches
from fitcheck.hydraulics.rules.hose_limits import highest_pressure
from fitcheck.hydraulics.rules.judging import Table, names
from fitcheck.hydraulics.rules.limits import feed_lines
from fitcheck.model.finding import Remedy

_FACTORS = (1.25, 1.5, 1.75, 2.0, 2.5, 3.0)


def out_of_reach(table: Table, goal: Goal) -> Remedy:
    """What another hose would need, or what else must change."""
    if goal.rules <= {"pressure-rating", "suction-wall"}:
        return _another_hose(table, goal)
    plant = table.plant
    lines = [
        name
        for name in goal.lines
        if name in plant.runs and plant.runs[name].line.duty != "bypass"
    ]
    for factor in _FACTORS:
        hoses = {
            name: replace(
                hose,
                bore=hose.bore * factor,
                tail_bore=None if hose.tail_bore is None else hose.tail_bore * factor,
            )
            for name in lines
            for hose in (plant.runs[name].hose,)
        }
        if reaches(table, plant.changed(hoses, STRETCH), goal):
            bore = length(max(hose.bore for hose in hoses.values()))
            times = quantity(factor, "factor")
            return Remedy(said=say("no-hose.bore", times=times, lines=lines, bore=bore))
    if set(goal.lines) & set(names(feed_lines(plant))):
        return Remedy(said=say("no-hose.suction"))
    return Remedy(said=say("no-hose.lift"))


def _another_hose(table: Table, goal: Goal) -> Remedy:
    """The rating and the wall that a hose for these lines must have."""
    plant, judged = table.plant, table.safe or table
    wants = []
    for rule, line in sorted(goal.wanted):
        if rule == "pressure-rating":
            need = quantity(highest_pressure(judged, plant.runs[line].line), "pressure")
            wants.append(say("no-hose.rated", need=need, line=line))
        else:
            wants.append(say("no-hose.reinforced", line=line))
    return Remedy(said=say("no-hose.add", wants=wants))
