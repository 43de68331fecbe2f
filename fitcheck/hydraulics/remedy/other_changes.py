"""Remedies other than another hose: the bypass valve, the strainer, heights and lengths."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from fitcheck.findings.said import Said, length, quantity, say
from fitcheck.hydraulics.network.halving import largest
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import first_inlet
from fitcheck.hydraulics.remedy.hose_changes import (
    feed_effect,
    hose_change,
    hoses_said,
    widest_changes,
)
from fitcheck.hydraulics.remedy.trials import (
    STRETCH,
    Goal,
    all_states,
    reaches,
    reaches_in,
    tabulate,
)
from fitcheck.hydraulics.rules.judging import Table, names, suction_lines
from fitcheck.model.finding import Change, Remedy
from fitcheck.units import BAR, CubicMetrePerSecond, Metre, Ratio, write

#: How far a module can be lowered, between a minimum and a maximum, with its service clearances;
#: None: not at all.
Stands = Callable[[str, Metre, Metre], Metre | None]

_HALVINGS = 14
_LOWEST_STEP: Metre = 0.005
_MOST_LOWERING: Metre = 2.0
#: Share of the just sufficient strainer loss that is reported.
_ROUNDED_OFF: Ratio = 0.98


# --- the bypass valve -------------------------------------------------------------------------


def valve_remedies(table: Table, goal: Goal) -> Iterator[Remedy]:
    """The widest setting of a bypass valve that reaches the goal, hoses unchanged."""
    for name, valve in _valves(table, goal):
        setting = _widest(table, table.plant, goal, name, valve)
        if setting is not None and setting < valve:
            yield Remedy(
                said=_close(name, setting, valve),
                changes=(_valve_change(table.plant, name, setting),),
                proven="solved",
            )


def hose_and_valve(table: Table, goal: Goal) -> Iterator[Remedy]:
    """Lines with their widest hose, and the bypass valve closed as far as that requires."""
    for name, valve in _valves(table, goal):
        for wider in widest_changes(table, goal):
            hoses = {line: hose for line, hose in wider.items() if line != name}
            changed = table.plant.changed(hoses, STRETCH)
            setting = _widest(table, changed, goal, name, valve)
            if setting is None or setting >= valve:
                continue
            told = [*hoses_said(table.plant, hoses), _close(name, setting, valve)]
            yield Remedy(
                said=say("hose-and-valve", told=told),
                changes=(
                    *hose_change(table.plant, hoses),
                    _valve_change(table.plant, name, setting),
                ),
                proven="solved",
            )


def _valves(table: Table, goal: Goal) -> Iterator[tuple[str, CubicMetrePerSecond]]:
    for name in goal.lines:
        run = table.plant.runs.get(name)
        if run is not None and run.line.duty == "bypass" and run.line.valve_flow is not None:
            yield name, run.line.valve_flow


def _widest(
    table: Table, plant: Plant, goal: Goal, name: str, valve: CubicMetrePerSecond
) -> CubicMetrePerSecond | None:
    """By bisection, rounded down to two figures."""
    if not reaches_in(table, plant.with_valve(name, 0.02 * valve), goal, goal.worst):
        return None
    low = largest(
        lambda setting: reaches(table, plant.with_valve(name, setting), goal),
        0.02 * valve,
        valve,
        _HALVINGS,
    )
    if low is None:
        return None
    rounded = float(f"{low * 3600:.2g}") / 3600
    return rounded if rounded <= low else float(f"{0.95 * low * 3600:.2g}") / 3600


def _close(name: str, setting: CubicMetrePerSecond, valve: CubicMetrePerSecond) -> Said:
    to, now = (quantity(flow, "valve flow") for flow in (setting, valve))
    return say("valve-closed", line=name, to=to, now=now, pressure=quantity(BAR, "pressure"))


def _valve_change(plant: Plant, name: str, setting: CubicMetrePerSecond) -> Change:
    return Change(
        file=plant.scenario.kit_file,
        key=f"kit.lines.{name}.valve",
        value=write(setting, "flow", "m3/h"),
        kind="flow",
    )


# --- heights, strainer, lengths ---------------------------------------------------------------


def lowered(table: Table, goal: Goal, stands: Stands) -> Iterator[Remedy]:
    """The first pump lowered by the least that reaches the goal and where its module fits."""
    plant, inlet = table.plant, first_inlet(table.plant)
    if inlet is None or not set(goal.lines) & set(names(suction_lines(plant))):
        return
    module = inlet.split(".")[0]
    kept = largest(
        lambda left: reaches(table, plant.moved_down(module, _MOST_LOWERING - left), goal),
        0.0,
        _MOST_LOWERING,
        _HALVINGS,
    )
    if kept is None or kept >= _MOST_LOWERING:
        return
    least = _LOWEST_STEP * (1 + int((_MOST_LOWERING - kept) / _LOWEST_STEP))
    down = stands(module, least, _MOST_LOWERING)
    if down is None or not reaches(table, plant.moved_down(module, down), goal):
        return
    x, y, z = plant.scenario.layout.placement(module).at
    at = (write(x, "length", "m"), write(y, "length", "m"), f"{z - down:.6g} m")
    after = tabulate(plant.moved_down(module, down), all_states(table), table.limits)
    effect = feed_effect(after.safe or after)
    yield Remedy(
        said=say("module-lowered", module=module, down=length(down), effect=effect),
        changes=(
            Change(
                file=plant.scenario.layout_file,
                key=f"layout.modules.{module}.at",
                value=at,
                kind="length",
            ),
        ),
        proven="solved",
    )


def larger_strainer(table: Table, goal: Goal) -> Iterator[Remedy]:
    """The highest strainer loss that reaches the goal, if that alone does."""
    plant = table.plant
    if not set(goal.lines) & set(names(suction_lines(plant))):
        return
    for row in plant.scenario.kit.resistances:
        if row.name not in plant.strainers or row.name not in plant.elements_of_resistances:
            continue

        def passes(share: Ratio, name: str = row.name) -> bool:
            return reaches(table, plant.with_resistance(name, share), goal)

        share = largest(passes, 0.05, 1.0, _HALVINGS)
        if share is not None and share < 1.0:
            share *= _ROUNDED_OFF
            yield Remedy(
                said=say(
                    "strainer-larger",
                    strainer=row.name,
                    flow=quantity(row.at_flow, "flow"),
                    clean=quantity(share * row.loss, "pressure"),
                    fouled=quantity(share * (row.loss + row.dirty), "pressure"),
                    clean_now=quantity(row.loss, "pressure"),
                    fouled_now=quantity(row.loss + row.dirty, "pressure"),
                ),
                changes=tuple(
                    Change(
                        file=plant.scenario.kit_file,
                        key=f"kit.resistances.{row.name}.{key}",
                        value=f"{share * loss:.4g} Pa",
                        kind="pressure",
                    )
                    for key, loss in (("loss", row.loss), ("dirty", row.dirty))
                ),
                proven="solved",
            )


def shortened(table: Table, goal: Goal) -> Iterator[Remedy]:
    """The line with the highest loss, cut to the length that reaches the goal and compared with
    its bound.
    """
    plant = table.plant
    lines = [name for name in goal.lines if name in plant.runs]
    heavy = sorted(lines, key=lambda name: -_loss(table, name))
    for name in heavy[:2]:
        run = plant.runs[name]

        def passes(share: Ratio, name: str = name) -> bool:
            return reaches(table, plant.shortened(name, share), goal)

        share = largest(passes, 0.02, 1.0, _HALVINGS)
        if share is None or share >= 1.0:
            continue
        most, bound = share * run.length, run.bound
        if most < bound:
            continue
        yield Remedy(
            said=say(
                "line-shortened",
                line=name,
                most=quantity(most, "run"),
                now=quantity(run.length, "run"),
                bound=quantity(bound, "run"),
            ),
            proven="solved",
        )


def _loss(table: Table, name: str) -> float:
    rows = [op.losses[name].total for op in table.operations if name in op.losses]
    return max(rows, default=0.0)
