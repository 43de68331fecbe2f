"""The piping as a graph: traced flows, the bypass loop, what carries nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.geometry.heel import heights_above_sea, sea_normal
from fitcheck.hydraulics.network.circuit import OPEN, build_circuit
from fitcheck.hydraulics.network.states import states_of
from fitcheck.model.given.kit import Kit
from tests.specimens import conditions
from tests.specimens.water import LINES, a_line, a_module, a_port, plant_kit, with_line

RECOVERY = 1.0 / 9.5
angles = st.floats(-0.7, 0.7)
lengths = st.floats(-5.0, 5.0)


def test_every_line_carries_its_share_of_the_membrane_flow() -> None:
    share = build_circuit(plant_kit()).share
    for name, (_, _, duty, _) in LINES.items():
        expected = {"bypass": 0.0, "brine": 1 - RECOVERY, "product": RECOVERY}.get(duty, 1.0)
        if name == "vessel_to_panel":
            expected = 1 - RECOVERY
        assert share[name] == pytest.approx(expected), name


def test_the_bypass_is_the_only_loop_despite_its_parallel_edge() -> None:
    circuit = build_circuit(plant_kit())
    assert [loop.chord for loop in circuit.loops] == ["bypass"]
    assert dict(circuit.loops[0].members)["feed pump"] == 1
    nodes = {end for row in circuit.elements.values() for end in (row.start, row.end)}
    assert len(circuit.elements) - len(nodes) + parts(plant_kit()) == 1


def test_the_bypass_closes_the_loop_in_any_order_of_lines() -> None:
    kit = plant_kit()
    first = sorted(kit.lines, key=lambda line: line.name != "bypass")
    circuit = build_circuit(replace(kit, lines=tuple(first)))
    assert [loop.chord for loop in circuit.loops] == ["bypass"]
    assert circuit.share["pump_to_filters"] == pytest.approx(1.0)


def parts(kit: Kit) -> int:
    """Connected parts, counted by graph colouring."""
    rows = build_circuit(kit).elements.values()
    paint = {end: end for row in rows for end in (row.start, row.end)}
    for _ in paint:
        for row in rows:
            paint[row.start] = paint[row.end] = min(paint[row.start], paint[row.end])
    return len(set(paint.values()))


def test_flows_are_conserved_at_every_port() -> None:
    circuit = build_circuit(plant_kit())
    supply = {
        "hp_pump.inlet": -1.0,
        "hp_pump.outlet": 1.0,
        "vessel.feed": -1.0,
        "vessel.brine": 1 - RECOVERY,
        "vessel.product": RECOVERY,
    }
    for node in circuit.waters:
        out = sum(circuit.share[r.name] for r in circuit.elements.values() if r.start == node)
        into = sum(circuit.share[r.name] for r in circuit.elements.values() if r.end == node)
        if node != OPEN:
            assert out - into == pytest.approx(supply.get(node, 0.0), abs=1e-12), node


def test_waters_change_at_the_membrane_only() -> None:
    waters = build_circuit(plant_kit()).waters
    assert waters["boat.seacock"] == waters["vessel.feed"] == "feed"
    assert waters["vessel.brine"] == waters["boat.overboard"] == "brine"
    assert waters["vessel.product"] == waters["boat.tank"] == "product"


def test_sides_of_the_high_pressure_pump() -> None:
    circuit = build_circuit(plant_kit())
    assert [line.name for line in circuit.lines_in(circuit.feed_side)] == list(LINES)[:5]
    assert [line.name for line in circuit.lines_in(circuit.high_side)] == ["hp_to_vessel"]


def test_an_assumed_passage_through_a_panel_is_reported() -> None:
    circuit = build_circuit(plant_kit())
    assert circuit.assumed == ("panel",)
    assert circuit.share["overboard"] == pytest.approx(1 - RECOVERY)


def test_a_line_to_nowhere_is_an_orphan() -> None:
    kit = plant_kit()
    flush = replace(
        a_line("bypass"), name="flush", start=a_line("product").end, end=a_line("bypass").end
    )
    flush = replace(flush, start=replace(flush.start, owner="flush", port="out"))
    flush = replace(flush, end=replace(flush.end, owner="flush_box", port="in"))
    boxes = (a_module("flush", a_port("out")), a_module("flush_box", a_port("in")))
    circuit = build_circuit(
        replace(kit, lines=(*kit.lines, flush), modules=(*kit.modules, *boxes))
    )
    assert circuit.orphans == ("flush",)
    assert circuit.stranded == ()


def test_brine_without_an_outlet_is_stranded() -> None:
    kit = plant_kit()
    kit = replace(kit, lines=tuple(line for line in kit.lines if line.name != "overboard"))
    assert build_circuit(kit).stranded == ("vessel.brine",)


def test_a_loss_across_the_membrane_changes_no_flow() -> None:
    """A resistance from the vessel's feed to its brine port must not short the membrane."""
    kit = plant_kit()
    vessel = replace(kit.resistances[0], name="vessel", module="vessel", start="feed", end="brine")
    with_loss = replace(kit, resistances=(*kit.resistances, vessel))
    assert build_circuit(with_loss).share == build_circuit(kit).share


def test_reversed_line_carries_negative_flow() -> None:
    line = a_line("filters_to_hp")
    kit = with_line(plant_kit(), "filters_to_hp", start=line.end, end=line.start)
    assert build_circuit(kit).share["filters_to_hp"] == pytest.approx(-1.0)


# --- heel -------------------------------------------------------------------------------------


@given(angles, angles)
def test_up_is_a_unit_vector(heel: float, trim: float) -> None:
    assert sum(part**2 for part in sea_normal(heel, trim)) == pytest.approx(1.0)


@given(angles, angles, lengths, lengths, lengths)
def test_opposite_heel_is_the_mirror_image(
    heel: float, trim: float, x: float, y: float, z: float
) -> None:
    port, starboard = np.array([[x, y, z]]), np.array([[x, -y, z]])
    origin = (0.0, 0.0, 0.0)
    assert heights_above_sea(port, origin, heel, trim)[0] == pytest.approx(
        heights_above_sea(starboard, origin, -heel, trim)[0]
    )


@given(angles, angles, lengths, lengths)
def test_the_flotation_point_keeps_its_height(
    heel: float, trim: float, x: float, y: float
) -> None:
    point = np.array([[x, y, 0.0]])
    assert heights_above_sea(point, (x, y, 0.0), heel, trim)[0] == 0.0


def test_states_are_every_combination_with_unique_names() -> None:
    states = states_of(
        conditions(
            heel=(-0.2, 0.0, 0.2),
            trim=(0.0, 0.02),
            water_temperature_C=(5.0, 30.0),
            salinity=(0.0352, 0.040),
        )
    )
    assert len(states) == 3 * 2 * 2 * 2 * 2 * 2
    assert len({state.name for state in states}) == len(states)


def test_dirt_only_counts_if_the_kit_has_filters() -> None:
    assert len(states_of(conditions(), filters=False)) == 2 * 2
    assert len(states_of(conditions(), filters=False, strainer=False)) == 2


def test_a_repeated_state_is_solved_once() -> None:
    assert len(states_of(conditions(heel=(0.0, 0.0), water_temperature_C=(5.0,)))) == 4
