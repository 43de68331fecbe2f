"""A state is solved identically alone and with others, for any circuit, heel and valves."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.hydraulics.network.plant import Plant, build_plant
from fitcheck.hydraulics.network.solve import Operation, operate
from fitcheck.model.found.routes import Routes
from fitcheck.model.given.kit import Kit
from fitcheck.model.given.scenario import Scenario
from tests.specimens.networks import drawn
from tests.specimens.water import (
    a_route,
    plant_space,
    with_line,
)

HEELS = tuple(math.radians(angle) for angle in (-20.0, 0.0, 20.0))


def with_valve(kit: Kit, kind: str) -> Kit:
    """The first return around the pump with a pressure-operated valve, or unchanged."""
    return with_line(kit, "bypass", opens_at=60_000.0) if kind == "relief" else kit


def levelled(of: Scenario, across: float) -> Scenario:
    """All modules at one height, all but the strainer to one side.

    Heeled to either side, the pump is then as far above the strainer as below it.
    """
    placements = tuple(
        replace(row, at=(0.0, 0.0 if row.module == "strainer" else across, -0.2))
        for row in of.layout.placements
    )
    return replace(of, layout=replace(of.layout, placements=placements))


def random_plant(seed: int, kind: str, across: float) -> Scenario:
    """A random plant with chosen valves, its modules to one side, heeled to both."""
    of = levelled(drawn(seed).scenario, across)
    conditions = replace(of.boat.conditions, heel=HEELS)
    boat = replace(of.boat, conditions=conditions)
    return replace(of, kit=with_valve(of.kit, kind), boat=boat)


def laid(of: Scenario) -> Plant:
    """The plant with 1.5 m of hose on every line, with nothing solved yet."""
    hoses = tuple(a_route(of, line, 1.5, ()) for line in of.kit.lines)
    return build_plant(of, plant_space(of), Routes(hoses=hoses, findings=(), assumptions=()))


def assert_alike(alone: Operation, among: Operation) -> None:
    """Flows and pressures to a millionth; the same trouble."""
    assert alone.trouble == among.trouble
    assert alone.flows.keys() == among.flows.keys()
    assert alone.pressures.keys() == among.pressures.keys()
    assert alone.feed_flow == pytest.approx(among.feed_flow, rel=1e-6)
    for name, flow in alone.flows.items():
        assert flow == pytest.approx(among.flows[name], rel=1e-6, abs=1e-11)
    for node, pressure in alone.pressures.items():
        assert pressure == pytest.approx(among.pressures[node], rel=1e-6, abs=0.01)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(min_value=0, max_value=10_000),
    kind=st.sampled_from(["plain", "relief"]),
    across=st.floats(min_value=-1.5, max_value=1.5),
)
def test_a_state_gives_the_same_result_alone_and_with_others(
    seed: int, kind: str, across: float
) -> None:
    of = random_plant(seed, kind, across)
    together = laid(of)
    for state in together.states:
        assert_alike(operate(laid(of), state), operate(together, state))
