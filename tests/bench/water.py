"""The water side measured: python -m tests.bench.water [networks] [scenarios] [routed]

Random networks and what is left over in them; planted ones that cannot work and what they are
called; random failing scenarios and whether the first remedy told mends them, with lengths drawn
and, for a few, with the demo routed again; time for all states of the demo.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from fitcheck.fit import check_fit
from fitcheck.hydraulics import solve_water
from fitcheck.hydraulics.network.circuit import OPEN
from fitcheck.hydraulics.network.plant import Plant, Run, build_plant
from fitcheck.hydraulics.network.setting import Setting
from fitcheck.hydraulics.network.solve import Operation, operate_at
from fitcheck.hydraulics.remedy.applied import applied
from fitcheck.hydraulics.remedy.trials import tabulate
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.given.scenario import Scenario
from fitcheck.pipeline import trial
from fitcheck.routing import Recall, route_hoses
from fitcheck.scenario import read_scenario
from fitcheck.space import survey
from tests.specimens.mended import mended_water
from tests.specimens.networks import drawn
from tests.specimens.water import (
    CUBIC_METRE_PER_HOUR,
    a_hose,
    a_route,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_hose,
    with_line,
)

DRAWS = 40  # sets of hoses for every piping
FLOW_LEFT, PRESSURE_LEFT = 1e-12, 0.15  # m3/s and Pa

# --- random networks ----------------------------------------------------------------------------


def redrawn(plant: Plant, chance: random.Random) -> Plant:
    """The same piping with other bores, lengths and fittings."""

    def again(run: Run) -> Run:
        hose = replace(run.hose, bore=chance.uniform(0.010, 0.025))
        return replace(run, hose=hose, length=chance.uniform(0.3, 6.0))

    return replace(plant, runs={name: again(run) for name, run in plant.runs.items()})


def left_over(plant: Plant, operation: Operation) -> tuple[float, float]:
    """Largest flow lost at a port [m3/s] and pressure lost round an element [Pa], counted anew."""
    setting = Setting(plant, operation.state)
    balance: Counter[str] = Counter()
    pressures = {OPEN: 0.0, **operation.pressures}
    worst = 0.0
    for name, element in plant.circuit.elements.items():
        flow = operation.flows[name]
        balance[element.end] += flow
        balance[element.start] -= flow
        fall = pressures[element.start] - pressures[element.end]
        lost = setting.drop(element, flow) + setting.static(element)
        worst = max(worst, abs(fall - lost))
    balance["hp_pump.inlet"] -= plant.feed_flow
    balance.pop(OPEN, None)
    balance.pop("hp_pump.outlet", None)
    return max(abs(rest) for rest in balance.values()), worst


def random_networks(count: int) -> None:
    solved, drawn_in_all, flow, pressure = 0, 0, 0.0, 0.0
    loops: Counter[int] = Counter()
    told: Counter[str] = Counter()
    begun = time.perf_counter()
    seed = 0
    while solved < count:
        chance = random.Random(seed)
        first = drawn(seed).plant
        for _ in range(DRAWS):
            plant = redrawn(first, chance)
            operation = operate_at(plant, plant.states[0], plant.feed_flow)
            drawn_in_all += 1
            if operation.trouble:
                told[operation.trouble] += 1
                continue
            solved += 1
            loops[len(plant.circuit.loops)] += 1
            at_ports, round_elements = left_over(plant, operation)
            flow, pressure = max(flow, at_ports), max(pressure, round_elements)
        seed += 1
    spent = time.perf_counter() - begun
    print(f"random networks: {drawn_in_all} drawn, {solved} feasible and solved, {spent:.0f} s")
    print(f"  named infeasible: {dict(told)}")
    print(f"  by loops: {dict(sorted(loops.items()))}")
    print(f"  left over at most {flow:.1e} m3/s (under {FLOW_LEFT}: {flow < FLOW_LEFT}), ", end="")
    print(f"{pressure:.1e} Pa (under {PRESSURE_LEFT}: {pressure < PRESSURE_LEFT})")


# --- planted ones that cannot work --------------------------------------------------------------


def planted(chance: random.Random) -> Iterator[tuple[str, Plant]]:
    """What must be named, and a plant made so that just this is in the way."""
    kit = plant_kit()
    pump = kit.high_pressure_pump
    assert pump is not None
    high = plant_scenario()
    places = tuple(
        replace(row, at=(0.0, 0.0, chance.uniform(10.5, 14.0))) for row in high.layout.placements
    )
    yield "vacuum", built(replace(high, layout=replace(high.layout, placements=places)))
    flow = chance.uniform(51, 70) / 60_000
    wide = replace(kit, high_pressure_pump=replace(pump, flow=flow))
    wide = replace(wide, hoses=tuple(replace(row, bore=0.05) for row in wide.hoses))
    shut = with_line(wide, "bypass", valve_flow=1e-9)
    yield "run-out", built(plant_scenario(shut))
    filters = tuple(
        replace(row, loss=chance.uniform(1.5e5, 5e5)) if row.name == "prefilters" else row
        for row in kit.resistances
    )
    yield "starved", built(plant_scenario(replace(kit, resistances=filters)))
    open_wide = with_hose(kit, a_hose("wide", bore=chance.uniform(0.035, 0.06)))
    open_wide = with_line(open_wide, "bypass", hose="wide", valve_flow=None, fittings=0.1)
    yield "bypass too open", built(plant_scenario(open_wide))


def built(of: Scenario) -> Plant:
    return build_plant(of, plant_space(of), plant_routes(of))


def planted_networks(each: int) -> None:
    named: Counter[tuple[str, str]] = Counter()
    for seed in range(each):
        for wanted, plant in planted(random.Random(seed)):
            found = operate_at(plant, plant.states[0], plant.feed_flow).trouble
            named[wanted, found] += 1
    right = sum(n for (wanted, found), n in named.items() if wanted == found)
    print(f"planted infeasible networks: {right} of {sum(named.values())} named rightly")
    for (wanted, found), count in sorted(named.items()):
        print(f"  planted {wanted!r}: named {found!r} {count} times")


# --- failing scenarios and their first remedy ---------------------------------------------------


def random_scenario(chance: random.Random) -> tuple[Scenario, Routes]:
    """The specimen plant with other hoses, lengths, dirt, heights and bypass."""
    kit = plant_kit()
    rows = (("s10", 9.5), ("s13", 12.7), ("s16", 15.9), ("s19", 19.05), ("s25", 25.4))
    for name, bore in rows:
        radius = 0.006 * bore
        kit = with_hose(
            kit, a_hose(name, bore=bore / 1e3, min_bend_radius=radius, bore_tolerance=0.05)
        )
    kit = with_hose(kit, a_hose("hp_10", bore=0.0095, pressure_rating=180e5))
    made_up = next(row.sold for row in kit.hoses if row.name == "hp_8")
    kit = with_hose(
        kit, replace(next(row for row in kit.hoses if row.name == "hp_10"), sold=made_up)
    )
    for line in ("sea_to_strainer", "strainer_to_pump"):
        kit = with_line(kit, line, hose=chance.choice(["s10", "s10", "s13", "s16"]))
    for line in ("pump_to_filters", "filters_to_hp"):
        kit = with_line(kit, line, hose=chance.choice(["s10", "s13"]))
    kit = with_line(kit, "product", hose="product_6")
    valve = chance.uniform(0.3, 2.0) * CUBIC_METRE_PER_HOUR
    kit = with_line(kit, "bypass", valve_flow=valve)
    pump = kit.high_pressure_pump
    assert pump is not None
    flow = chance.uniform(7.0, 12.0) / 60_000
    kit = replace(kit, high_pressure_pump=replace(pump, flow=flow))
    heel = math.radians(chance.uniform(5, 25))
    of = plant_scenario(kit, heel=(-heel, 0.0, heel))
    places = tuple(
        replace(row, at=(0.0, chance.uniform(-0.8, 0.8), row.at[2] + chance.uniform(-0.3, 0.35)))
        if row.module in ("feed_pump", "hp_pump")
        else row
        for row in of.layout.placements
    )
    of = replace(of, layout=replace(of.layout, placements=places))
    lengths = {
        line: chance.uniform(0.4, 6.0)
        for line in ("sea_to_strainer", "strainer_to_pump", "pump_to_filters", "filters_to_hp")
    }
    return of, plant_routes(of, product=chance.uniform(2, 12), **lengths)


def routed_again(of: Scenario, before: Routes, chance: random.Random) -> Routes:
    """Changed hoses come out up to a tenth longer."""
    hoses = []
    for route in before.hoses:
        assert isinstance(route, HoseRoute)
        line = of.kit.line(route.line)
        changed = of.hose_of(line).name != route.hose
        length = route.length * (chance.uniform(1.0, 1.1) if changed else 1.0)
        hoses.append(a_route(of, line, length, [math.degrees(b.angle) for b in route.bends]))
    return Routes(hoses=tuple(hoses), findings=(), assumptions=())


def fails(result: Hydraulics) -> set[str]:
    return {row.rule for row in result.findings if row.severity == "fail"}


def remedies(count: int) -> None:
    """First remedies told as sufficient (solved again, with changes), applied and solved again."""
    failing, sufficient, mended, without, seed = 0, 0, 0, 0, 0
    begun = time.perf_counter()
    while failing < count:
        chance = random.Random(seed)
        seed += 1
        of, routes = random_scenario(chance)
        result = mended_water(of, plant_space(of, 0.005), routes)
        if not fails(result):
            continue
        failing += 1
        told = {row.remedy for row in result.findings if row.severity == "fail"}
        if not all(row is not None and row.proven and row.changes for row in told):
            without += 1
            continue
        sufficient += 1
        after = of
        for row in told:
            after = applied(after, row.changes if row is not None else ())
        again = solve_water(after, plant_space(after, 0.005), routed_again(after, routes, chance))
        mended += not fails(again)
        if fails(again):
            print(f"  seed {seed - 1}: {fails(result)} -> {fails(again)}")
    spent = time.perf_counter() - begun
    print(f"failing scenarios: {failing} of {seed} drawn, {spent:.0f} s")
    print(f"  first remedies told as sufficient for {sufficient}, pass when applied: {mended}")
    print(f"  some fail without a remedy that can be applied: {without}")


def spoilt(of: Scenario, chance: random.Random) -> Scenario:
    """The demo with thin suction hoses, a dirty strainer, more flow or a wider bypass."""
    kit = of.kit
    pump = kit.high_pressure_pump
    assert pump is not None
    flow = chance.uniform(1.0, 1.35) * pump.flow
    kit = replace(kit, high_pressure_pump=replace(pump, flow=flow))
    kit = with_line(kit, "bypass", valve_flow=chance.uniform(0.3, 2.5) * CUBIC_METRE_PER_HOUR)
    for line in ("sea_to_strainer", "strainer_to_pump"):
        kit = with_line(kit, line, hose=chance.choice(["suction_10", "suction_13"]))
    dirt = chance.uniform(0.5, 3.0)
    rows = tuple(
        replace(row, loss=dirt * row.loss, dirty=dirt * row.dirty)
        if "strainer" in row.name
        else row
        for row in kit.resistances
    )
    return replace(of, kit=replace(kit, resistances=rows))


def remedies_routed(count: int) -> None:
    """The same by the whole job on the demo: tried with routes, applied, routed, solved."""
    of = read_scenario(Path("scenarios/demo.toml"))
    space = survey(of)
    failing, told, mended, seed = 0, Counter[str](), Counter[str](), 0
    begun = time.perf_counter()
    while failing < count:
        bad = spoilt(of, random.Random(seed))
        seed += 1
        recall = Recall()
        fit = check_fit(bad, space)
        routes = route_hoses(bad, space, fit, recall=recall)
        result = mended_water(bad, space, routes, trial(bad, space, fit, routes, recall))
        if not fails(result):
            continue
        failing += 1
        ways = {row.remedy for row in result.findings if row.severity == "fail"}
        if not all(row is not None and row.proven and row.changes for row in ways):
            told["some fail without one"] += 1
            continue
        proven = {row.proven for row in ways if row is not None}
        kind = proven.pop() if len(proven) == 1 else "mixed"
        told[kind] += 1
        after = bad
        for row in ways:
            after = applied(after, row.changes if row is not None else ())
        fit = check_fit(after, space)
        routes = route_hoses(after, space, fit)
        again = solve_water(after, space, routes)
        mended[kind] += not fails(again)
        if fails(again):
            print(f"  seed {seed - 1}: {kind}: {fails(result)} -> {fails(again)}")
    spent = time.perf_counter() - begun
    print(f"demo spoilt and routed: {failing} failing of {seed} drawn, {spent:.0f} s")
    print(f"  first remedies told: {dict(told)}; pass when applied: {dict(mended)}")


# --- time ---------------------------------------------------------------------------------------


def demo_states() -> None:
    """The demo in five heels, three trims and two temperatures."""
    of = read_scenario(Path("scenarios/demo.toml"))
    angles = tuple(math.radians(angle) for angle in (-25, -12, 0, 12, 25))
    conditions = replace(
        of.boat.conditions,
        heel=angles,
        trim=tuple(math.radians(angle) for angle in (-2, 0, 3)),
    )
    of = replace(of, boat=replace(of.boat, conditions=conditions))
    space = survey(of)
    routes = route_hoses(of, space, check_fit(of, space))
    plant = build_plant(of, space, routes)
    tabulate(plant, plant.states[:1], of.kit.limits)
    for _ in range(3):
        fresh = build_plant(of, space, routes)
        begun = time.perf_counter()
        table = tabulate(fresh, fresh.states, of.kit.limits)
        both = time.perf_counter() - begun
        print(f"demo: {len(table.operations)} states, expected and unfavourable: {both:.2f} s")
    begun = time.perf_counter()
    mended_water(of, space, routes)
    print(f"demo: the whole stage with them {time.perf_counter() - begun:.2f} s")


if __name__ == "__main__":
    numbers = [int(text) for text in sys.argv[1:]]
    random_networks(numbers[0] if numbers else 10_000)
    planted_networks(250)
    remedies(numbers[1] if len(numbers) > 1 else 200)
    remedies_routed(numbers[2] if len(numbers) > 2 else 20)
    demo_states()
