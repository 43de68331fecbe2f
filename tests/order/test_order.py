"""What to buy: cut lengths, rolls, assemblies, ends, clamps."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.model.found.order import Order
from fitcheck.model.found.routes import Assembly, HoseRoute
from fitcheck.model.given.cutting import assembly_step, rounded_up
from fitcheck.model.given.kit import Kit, Sold
from fitcheck.order import explain_cuts, make_order
from fitcheck.order.fittings import lowest_height, on_brackets
from fitcheck.order.rolls import Cutting, cut_from_rolls
from tests.specimens import conditions
from tests.specimens.explained import typed_in
from tests.specimens.mended import mended_water
from tests.specimens.water import (
    LINES,
    a_hose,
    plant_kit,
    plant_routes,
    plant_scenario,
    plant_space,
    with_hose,
    with_line,
)

ROLLS = ((5.0, 10.0, 25.0), (14.0, 25.0, 55.0))
SEVEN = (2.85, 1.65, 1.20, 0.95, 0.80, 3.40, 0.70)


def ordered(kit: Kit | None = None, lost: tuple[str, ...] = (), **lengths: float) -> Order:
    """The order for the plant."""
    of = plant_scenario(kit)
    routes = plant_routes(of, lost, **lengths)
    return make_order(of, plant_space(of), routes, mended_water(of, plant_space(of), routes))


def rows(order: Order, start: str) -> list[Any]:
    """Rows whose item begins with this text."""
    return [item for item in order.items if item.item.startswith(start)]


def sold(by: Any, lengths: tuple[float, ...] = (), prices: tuple[float, ...] = ()) -> Sold:
    """How a hose is sold."""
    return Sold(by=by, lengths=lengths, prices=prices)


# --- cut lengths --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "routed", "cut"),
    [
        ("pump_to_filters", 1.650, 1.750),  # + 2 x 25 mm + 3 % = 1.7495
        ("bypass", 0.600, 0.670),  # + 50 mm + 20 mm, more than 3 %
        ("product", 4.500, 4.690),  # 4.685
        ("hp_to_vessel", 1.000, 1.040),  # x 1.04, to 10 mm
        ("hp_to_vessel", 1.201, 1.250),  # 1.24904
        ("hp_to_vessel", 1.203, 1.260),  # 1.25112, now to 20 mm
        ("hp_to_vessel", 2.403, 2.500),  # 2.49912
        ("hp_to_vessel", 2.420, 2.550),  # 2.5168, to 50 mm
    ],
)
def test_cut_length_by_hand(line: str, routed: float, cut: float) -> None:
    found = ordered(**{line: routed}).cut(line)
    assert found is not None
    assert found.cut_length == pytest.approx(cut, abs=1e-9)
    assert found.routed_length == routed
    assert "routed" in found.because


@given(st.floats(0.05, 20.0), st.sampled_from([0.0, 0.005, 0.010, 0.050]))
def test_rounding_up_adds_less_than_a_step(length: float, step: float) -> None:
    found = rounded_up(length, step)
    assert length - 2e-6 <= found < length + max(step, 1e-9)
    if step:
        assert found / step == pytest.approx(round(found / step), abs=1e-6)


@given(st.floats(0.1, 8.0), st.floats(0.1, 8.0))
def test_a_longer_assembly_is_never_ordered_shorter(first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert rounded_up(low, assembly_step(low)) <= rounded_up(high, assembly_step(high))


def test_a_hose_without_a_route_is_left_out_and_named() -> None:
    order = ordered(lost=("product",))
    assert order.cut("product") is None
    assert [row.subject for row in order.findings if row.rule == "not-ordered"] == ["product"]
    assert not any("product" in item.for_lines for item in order.items)


# --- rolls --------------------------------------------------------------------------------------


def holds(cutting: Cutting, pieces: tuple[float, ...], kerf: float) -> bool:
    """Every piece is cut once, and no roll is overfull."""
    once = sorted(i for roll in cutting.rolls for i in roll.pieces) == list(range(len(pieces)))
    fits = all(
        sum(pieces[i] for i in roll.pieces) + kerf * (len(roll.pieces) - 1) <= roll.length + 1e-9
        for roll in cutting.rolls
    )
    return once and fits


def cheapest(pieces: tuple[float, ...], kerf: float) -> float:
    """By trying every way to divide the pieces among rolls."""
    best = np.inf
    for shares in itertools.product(range(len(pieces)), repeat=len(pieces)):
        if any(share > max(shares[:i], default=-1) + 1 for i, share in enumerate(shares)):
            continue
        price = 0.0
        for share in set(shares):
            mine = [pieces[i] + kerf for i, s in enumerate(shares) if s == share]
            need = sum(mine) - kerf
            fits = [p for length, p in zip(*ROLLS, strict=True) if length >= need - 1e-12]
            price += min(fits, default=np.inf)
        best = min(best, price)
    return best


def test_seven_pieces_by_hand() -> None:
    """One of 10 m and one of 5 m: 39; first fit with one roll length costs 42 or more."""
    cutting = cut_from_rolls(SEVEN, *ROLLS, kerf=0.02)
    assert cutting.price == 39.0
    assert [roll.length for roll in cutting.rolls] == [10.0, 5.0]
    assert cutting.proven
    assert holds(cutting, SEVEN, 0.02)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0.3, 4.9), min_size=1, max_size=6))
def test_rolls_are_as_cheap_as_brute_force(lengths: list[float]) -> None:
    pieces = tuple(round(length, 2) for length in lengths)
    cutting = cut_from_rolls(pieces, *ROLLS, kerf=0.01)
    assert holds(cutting, pieces, 0.01)
    assert cutting.price == pytest.approx(cheapest(pieces, 0.01))


def test_many_different_pieces_are_assigned_one_by_one() -> None:
    """25 pieces of 59.54 m need at least two rolls of 25 m and one of 10 m."""
    pieces = tuple(np.round(np.random.default_rng(1).uniform(0.7, 4.0, 25), 2).tolist())
    cutting = cut_from_rolls(pieces, *ROLLS, kerf=0.02)
    assert sum(pieces) == pytest.approx(59.54)
    assert holds(cutting, pieces, 0.02)
    assert cutting.price == 135.0


def test_the_saw_cut_counts() -> None:
    """Two halves of a roll cannot be cut from it."""
    assert len(cut_from_rolls((2.5, 2.5), (5.0,), (10.0,), kerf=0.0).rolls) == 1
    assert len(cut_from_rolls((2.5, 2.5), (5.0,), (10.0,), kerf=0.01).rolls) == 2
    assert len(cut_from_rolls((2.49, 2.5), (5.0,), (10.0,), kerf=0.01).rolls) == 1


def test_rolls_without_prices_are_compared_by_length() -> None:
    cutting = cut_from_rolls((4.0,), (10.0, 5.0), (), kerf=0.01)
    assert [roll.length for roll in cutting.rolls] == [5.0]


def test_a_piece_longer_than_every_roll_fails_and_the_rest_is_ordered() -> None:
    rolled = a_hose("feed_12", sold=sold("roll", (2.0,), (9.0,)))
    order = ordered(with_hose(plant_kit(), rolled))
    failed = [row for row in order.findings if row.severity == "fail"]
    assert [(row.subject, row.rule) for row in failed] == [("overboard", "longer-than-sold")]
    assert (
        "No other route helps: no hose of this bend radius between these ports" in failed[0].text
    )
    assert failed[0].remedy is not None
    assert failed[0].remedy.text.startswith("Move a module")
    row = rows(order, "feed_12")[0]
    assert (row.quantity, row.length, row.price) == (2.0, 2.0, 18.0)
    assert row.for_lines == ("pump_to_filters", "filters_to_hp")
    with pytest.raises(ValueError, match="longer than every roll"):
        cut_from_rolls((3.0,), (2.0,), (9.0,))


def test_a_low_bound_leaves_a_shorter_route_possible() -> None:
    of = plant_scenario(
        with_hose(plant_kit(), a_hose("feed_12", sold=sold("roll", (2.0,), (9.0,))))
    )
    routes = plant_routes(of)
    near = tuple(replace(hose, bound=0.5) for hose in routes.hoses if isinstance(hose, HoseRoute))
    routes = replace(routes, hoses=near)
    order = make_order(of, plant_space(of), routes, mended_water(of, plant_space(of), routes))
    failed = [row for row in order.findings if row.rule == "longer-than-sold"]
    assert [row.subject for row in failed] == ["overboard"]
    assert "A shorter route may exist: the proven minimum for this bend radius" in failed[0].text


# --- rows ---------------------------------------------------------------------------------------


def test_hose_by_the_metre_is_summed_and_priced() -> None:
    """1.75 + 1.50 + 2.53 m and two cuts of 10 mm: 5.8 m."""
    metres = a_hose("feed_12", sold=sold("metre", prices=(4.0,)))
    row = rows(ordered(with_hose(plant_kit(), metres)), "feed_12")[0]
    assert (row.unit, row.length) == ("m", None)
    assert row.quantity == pytest.approx(5.8)
    assert row.price == pytest.approx(23.2)
    assert row.for_lines == ("pump_to_filters", "filters_to_hp", "overboard")


def test_each_high_pressure_hose_is_an_assembly_of_its_own() -> None:
    made = a_hose("hp_8", sold=sold("assembly", prices=(38.0, 21.0)))
    found = rows(ordered(with_hose(plant_kit(), made)), "hp_8")
    assert [(row.quantity, row.unit, row.length) for row in found] == [
        (1.0, "piece", 1.88),
        (1.0, "piece", 1.25),
    ]
    assert found[0].price == pytest.approx(38 + 21 * 1.88)


def test_an_assembly_of_stock_lengths_is_the_next_longer_one() -> None:
    made = a_hose("hp_8", sold=sold("assembly", (1.0, 1.25, 2.5), (50.0, 55.0, 80.0)))
    order = ordered(with_hose(plant_kit(), made))
    assert [(row.length, row.price) for row in rows(order, "hp_8")] == [(2.5, 80.0), (1.25, 55.0)]
    loose = [row for row in order.findings if row.rule == "assembly-too-long"]
    assert [row.subject for row in loose] == ["hp_to_vessel"]
    assert loose[0].value == pytest.approx(0.62)


def test_an_assembly_longer_than_any_sold_fails() -> None:
    made = a_hose("hp_8", sold=sold("assembly", (1.0,), (50.0,)))
    order = ordered(with_hose(plant_kit(), made))
    assert {row.subject for row in order.findings if row.severity == "fail"} == {
        "hp_to_vessel",
        "vessel_to_panel",
    }


def test_every_hose_has_two_ends_with_the_thread_of_its_ports() -> None:
    ends = rows(ordered(), "end for")
    assert sum(row.quantity for row in ends) == 2 * len(LINES)
    seacock = [row for row in ends if "3/4 in BSP" in row.item and "suction_19" in row.item]
    assert [(row.quantity, row.for_lines) for row in seacock] == [(1.0, ("sea_to_strainer",))]


def test_tails_that_can_come_below_the_sea_have_two_clamps() -> None:
    """Pump at -0.10 m, strainer at -0.05 m and seacock at -0.40 m are wet, four tails of 27 mm."""
    wet = rows(ordered(), "clamp for 27 mm")
    assert [row.quantity for row in wet] == [8.0]
    dry = rows(ordered(), "clamp for 8 mm")
    assert [row.quantity for row in dry] == [2.0]


def test_an_end_that_heels_under_water_counts_as_wet() -> None:
    at = (0.0, 1.0, 0.3)
    middle = (0.0, 0.0, 0.0)
    assert lowest_height(at, middle, conditions(heel=(0.0,))) == pytest.approx(0.3)
    assert lowest_height(at, middle, conditions(heel=(0.0, -0.5))) < 0.0


def test_the_boat_turns_about_its_flotation_point() -> None:
    """1 m to port of the flotation point: -1 m * sin(0.5) + 0.3 m * cos(0.5) = -0.216 m."""
    heeled = conditions(heel=(-0.5,))
    at = (0.0, 2.0, 0.3)
    assert lowest_height(at, (0.0, 1.0, 0.0), heeled) == pytest.approx(-0.21615, abs=1e-5)
    assert lowest_height(at, (0.0, 2.0, 0.0), heeled) > 0.0


def test_clamps_are_counted_by_the_flotation_point() -> None:
    """With the flotation point 1 m lower, nothing comes near the sea."""
    of = plant_scenario()
    routes, space = plant_routes(of), plant_space(of)
    deep = replace(space, flotation=(0.0, 0.0, -1.0))
    order = make_order(of, deep, routes, mended_water(of, space, routes))
    assert [row.quantity for row in rows(order, "clamp for 27 mm")] == [4.0]


def test_number_of_clips_on_brackets_by_hand() -> None:
    assert [on_brackets(span) for span in (0.1, 0.4, 0.41, 1.2, 1.3)] == [0, 0, 1, 2, 3]


def test_a_valve_in_a_line_is_ordered() -> None:
    assert [row.item for row in rows(ordered(), "valve")] == [
        "valve that passes 0.5 m³/h at 1 bar"
    ]


def test_a_straight_high_pressure_hose_is_a_caution() -> None:
    of = plant_scenario()
    routes = plant_routes(of)
    hoses = tuple(
        replace(hose, bends=()) if hose.line == "hp_to_vessel" else hose  # type: ignore[call-arg]
        for hose in routes.hoses
    )
    routes = replace(routes, hoses=hoses)
    order = make_order(of, plant_space(of), routes, mended_water(of, plant_space(of), routes))
    straight = [row for row in order.findings if row.rule == "straight-under-pressure"]
    assert [row.subject for row in straight] == ["hp_to_vessel"]
    assert straight[0].value == pytest.approx(0.04 * 1.80)


def test_a_hose_rejected_by_the_water_side_is_marked() -> None:
    kit = with_hose(plant_kit(), a_hose("suction_13"))
    kit = with_line(kit, "sea_to_strainer", hose="suction_13")
    order = ordered(kit, sea_to_strainer=15.0)
    assert rows(order, "suction_13")[0].note.startswith("do not order yet")
    assert not rows(order, "product_6")[0].note.startswith("do not order yet")


# --- how a length is calculated -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "unsure", "spare", "by_hand"),
    [
        ("pump_to_filters", 0.012, 0.0, 1.770),  # 1.65 + 0.012 + 0.05 + 0.0495 = 1.7615
        ("pump_to_filters", 0.012, 0.024, 1.800),  # 1.77 + 0.024 = 1.794
        ("bypass", 0.0, 0.0, 0.670),  # 0.6 + 0.05 + 0.02
        ("hp_to_vessel", 0.010, 0.0, 1.900),  # (1.8 + 0.01) / 0.96 = 1.8854, to 20 mm
    ],
)
def test_a_length_is_explained_step_by_step(
    line: str, unsure: float, spare: float, by_hand: float
) -> None:
    of = plant_scenario()
    sure = replace(plant_space(of).uncertainty, scale=0.0, surface=0.0, pick=0.0)
    whole = 1.80 if line == "hp_to_vessel" else {"bypass": 0.60}.get(line, 1.65)
    share = unsure / 1.96 / whole
    space = replace(plant_space(of), uncertainty=replace(sure, scale=share))
    hoses = []
    for hose in plant_routes(of).hoses:
        assert isinstance(hose, HoseRoute)
        if hose.line != line:
            continue
        made = None
        if line == "hp_to_vessel":
            made = Assembly(
                length=by_hand,
                stock=False,
                laid=True,
                longer=True,
                shorter=True,
                legs=(),
                bends=(),
            )
        hoses.append(replace(hose, uncertainty=unsure, mounting_spare=spare, assembly=made))
    routes = replace(plant_routes(of), hoses=tuple(hoses))
    order = make_order(of, space, routes, mended_water(of, space, routes))
    (told,) = explain_cuts(of, space, routes, order)
    assert told.names == (line,)
    assert told.steps[-1].value == pytest.approx(by_hand, abs=1e-9)
    assert order.cuts[0].cut_length == pytest.approx(by_hand, abs=1e-9)
    for row in told.steps:
        if row.numbers:
            assert typed_in(row) == pytest.approx(row.value, abs=2e-6), row.what
