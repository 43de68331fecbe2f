"""What to say where no change of the kit that was tried does it."""

from __future__ import annotations

from dataclasses import replace

from fitcheck.hydraulics.remedy.trials import STRETCH, Goal, reaches
from fitcheck.hydraulics.rules.hose_limits import highest_pressure
from fitcheck.hydraulics.rules.judging import Table, listed, names
from fitcheck.hydraulics.rules.limits import feed_lines
from fitcheck.model.finding import Remedy
from fitcheck.units import show

_FACTORS = (1.25, 1.5, 1.75, 2.0, 2.5, 3.0)


def out_of_reach(table: Table, goal: Goal) -> Remedy:
    """What another hose would have to be, or what else must change."""
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
            bores = max(hose.bore for hose in hoses.values())
            return Remedy(
                said=f"A bore {factor:g} times as wide in {listed(lines)} would put this right "
                f"(up to {show(bores, 'length')})."
            )
    if set(goal.lines) & set(names(feed_lines(plant))):
        return Remedy(
            said="No hose puts this right, however wide: it is the height, or the dirt the "
            "filters may hold, or the pump. Move the modules nearer to the sea, or the opening; "
            "change filters sooner; or take a stronger pump."
        )
    return Remedy(
        said="No hose puts this right, however wide: it is the height the water is lifted to. "
        "Move what it leaves or what it runs to so that it rises less."
    )


def _another_hose(table: Table, goal: Goal) -> Remedy:
    """The rating and the wall that a hose for these lines must have."""
    plant, judged = table.plant, table.safe or table
    wants = []
    for rule, line in sorted(goal.wanted):
        if rule == "pressure-rating":
            need = highest_pressure(judged, plant.runs[line].line)
            wants.append(f"rated for at least {show(need, 'pressure')} for {line}")
        else:
            wants.append(f'with wall = "reinforced" for {line}')
    return Remedy(said=f"Add a hose {listed(wants)} to the kit; none of its hoses will do.")
