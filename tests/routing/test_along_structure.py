"""Routes along structure, distances from hot things, and a choice of holes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.found.space import PlacedVolume, Space
from fitcheck.model.given.scenario import LineChoice
from fitcheck.model.uncertainty import Uncertainty
from fitcheck.routing.lay.along import BARELY
from tests import specimens
from tests.specimens.routing import CLEARANCE, OUTSIDE, asked, hole, hose, only, routed
from tests.specimens.structure import along_path, laid, one_line, to_room, with_ports

#: The hose leaves its port square to the wall and turns back to it: a small bend radius helps.
REACH, SPAN, RADIUS = 0.06, 0.4, 0.06


def across_the_room() -> Space:
    """Ports on two perpendicular walls, at half height: the direct route cuts the corner."""
    return with_ports(
        specimens.hand_made_space(pitch=0.025),
        ((-0.9, -0.75, 0.6), (0.0, 1.0, 0.0)),
        ((1.0, 0.65, 0.6), (-1.0, 0.0, 0.0)),
    )


@pytest.fixture(scope="module")
def both() -> tuple[HoseRoute, HoseRoute]:
    space = across_the_room()
    led = one_line(way="along structure", reach=REACH, span=SPAN)
    shortest, _ = laid(asked([one_line()], hoses=[hose(radius=RADIUS)]), space)
    along, _ = laid(asked([led], hoses=[hose(radius=RADIUS)]), space)
    return shortest, along


def test_the_shortest_route_is_unsupported(both: tuple[HoseRoute, HoseRoute]) -> None:
    shortest, _ = both
    assert max(span.length for span in shortest.unsupported) > 1.0


def test_along_structure_keeps_its_span(both: tuple[HoseRoute, HoseRoute]) -> None:
    shortest, along = both
    assert along.way == "along structure"
    assert all(span.length <= SPAN + BARELY for span in along.unsupported)
    assert shortest.length < along.length < 2.0 * shortest.length


def test_every_place_outside_the_reported_spans_is_in_reach(
    both: tuple[HoseRoute, HoseRoute],
) -> None:
    for found in both:
        points, s = along_path(found)
        off = to_room(points) - OUTSIDE / 2
        told = np.zeros(len(s), dtype=bool)
        for span in found.unsupported:
            told |= (s > span.start - 0.006) & (s < span.end + 0.006)
        assert (off[~told] <= REACH + 1e-9).all()
        for span in found.unsupported:
            inner = (s > span.start + 0.011) & (s < span.end - 0.011)
            assert (off[inner] > REACH - 1e-9).all()


def test_the_bound_holds_in_both_modes(both: tuple[HoseRoute, HoseRoute]) -> None:
    shortest, along = both
    for found in both:
        assert found.bound <= shortest.length + 1e-9
    assert along.bound_kind != "direct" or along.length == pytest.approx(along.bound)


@pytest.mark.parametrize("x", [-0.43, -0.55, -0.67])
@pytest.mark.parametrize("pitch", [0.015, 0.02])
def test_a_port_facing_the_wall_is_reached(x: float, pitch: float) -> None:
    """Down beside a wall, along it, and into a port of the next wall, 350 mm off the first."""
    wall = specimens.HIGH[1]
    space = with_ports(
        specimens.hand_made_space(pitch=pitch),
        ((x, wall - 0.15, 0.75), (0.0, 0.0, -1.0)),
        ((1.0, wall - 0.35, 0.45), (-1.0, 0.0, 0.0)),
    )
    led = one_line(way="along structure", reach=REACH, span=SPAN)
    along, routes = laid(asked([led], hoses=[hose(radius=0.05, outside=0.010)]), space)
    assert not any(row.rule == "unsupported-span" for row in routes.findings)
    assert all(span.length <= SPAN + BARELY for span in along.unsupported)


def low_over_the_sole() -> Space:
    """The shortest hose is already along it."""
    at = CLEARANCE + OUTSIDE / 2 + 0.03
    return with_ports(
        specimens.hand_made_space(pitch=0.02),
        ((-1.0, 0.0, at), (1.0, 0.0, 0.0)),
        ((1.0, 0.3, at), (-1.0, 0.0, 0.0)),
    )


def test_a_shortest_route_within_reach_is_unchanged() -> None:
    space = low_over_the_sole()
    shortest, _ = laid(asked([one_line()]), space)
    along, routes = laid(asked([one_line(way="along structure")]), space)
    assert along.length == shortest.length
    assert along.unsupported == ()
    assert not any(row.rule == "unsupported-span" for row in routes.findings)
    (kept,) = [row for row in routes.findings if row.rule == "span-kept"]
    assert "l 0 mm (limit " in kept.text


def test_an_exceeded_span_is_a_caution_with_its_place() -> None:
    """Straight ends far from any wall, no longer route allowed: the ports are 0.6 m up
    and away.
    """
    space = with_ports(
        specimens.hand_made_space(pitch=0.03),
        ((-0.3, 0.0, 0.6), (1.0, 0.0, 0.0)),
        ((0.4, 0.0, 0.6), (-1.0, 0.0, 0.0)),
    )
    led, routes = laid(asked([one_line(way="along structure")]), space)
    (said,) = [row for row in routes.findings if row.rule == "unsupported-span"]
    longest = max(led.unsupported, key=lambda span: span.length)
    assert said.severity == "caution"
    assert said.value == pytest.approx(longest.length)
    assert said.place == longest.place
    assert said.bars == ("order_hoses",)
    assert to_room(np.array([said.place]))[0] > REACH


def test_an_unsupported_shortest_hose_bars_the_order() -> None:
    space = with_ports(
        specimens.hand_made_space(pitch=0.03),
        ((-0.3, 0.0, 0.6), (1.0, 0.0, 0.0)),
        ((0.4, 0.0, 0.6), (-1.0, 0.0, 0.0)),
    )
    led, routes = laid(asked([one_line()]), space)
    (said,) = [row for row in routes.findings if row.rule == "hanging-free"]
    assert said.value == pytest.approx(max(span.length for span in led.unsupported))
    assert said.bars == ("order_hoses",)
    assert said.remedy is not None


def test_a_layout_chooses_the_routing_mode() -> None:
    chosen = LineChoice(line="l", holes=(), hose="", way="along structure")
    scenario = asked([one_line(reach=0.08)], choices=[chosen], hoses=[hose(radius=RADIUS)])
    found = only(routed(scenario, low_over_the_sole()))
    assert (found.way, found.reach) == ("along structure", 0.08)


# --- hot things -------------------------------------------------------------------------------

HOT = ((-0.2, -0.2, 0.3), (0.2, 0.2, 0.9))


@pytest.mark.parametrize("distance", [0.0, 0.25])
def test_hoses_keep_their_distance_from_hot_things(distance: float) -> None:
    box = specimens.upright_box(*HOT)
    hot = PlacedVolume(name="stove", box=box, why="hot", distance=distance)
    space = with_ports(
        replace(specimens.hand_made_space(pitch=0.04, keep_outs=[HOT]), keep_outs=(hot,)),
        ((-1.0, 0.0, 0.6), (1.0, 0.0, 0.0)),
        ((1.0, 0.0, 0.6), (-1.0, 0.0, 0.0)),
    )
    space = replace(space, uncertainty=Uncertainty(pick=0.004))
    found, _ = laid(asked([one_line()]), space)
    # its corners are picked by hand, whatever the extra distance
    assert found.clearance_uncertainty >= 0.004
    nearest = float(box.distance(found.path).min()) - OUTSIDE / 2
    assert nearest >= CLEARANCE + distance - 1e-7
    assert nearest <= CLEARANCE + distance + 2e-3  # taut around it, corners rounded
    assert found.clearance == pytest.approx(nearest - distance, abs=1e-4)
    assert "stove" in found.clearance_to
    assert ("required from" in found.clearance_to) == (distance > 0)
    assert found.bound <= found.length


# --- a choice of holes ------------------------------------------------------------------------


def test_the_hole_with_the_shorter_route_is_chosen() -> None:
    low, high = (-0.75, 0.0), (0.75, 1.2)
    upper = specimens.bulkhead(0.0, (0.45, 0.6), 0.12, low=(0.0, 0.0), high=high)
    lower = specimens.bulkhead(0.0, (-0.3, 0.5), 0.12, low=low, high=(0.0, 1.2))
    space = with_ports(
        specimens.hand_made_space(pitch=0.02, extra=specimens.join(upper, lower)),
        ((-0.9, 0.0, 0.6), (1.0, 0.0, 0.0)),
        ((0.9, 0.0, 0.6), (-1.0, 0.0, 0.0)),
    )
    holes = (
        hole("far", (0.0, 0.45, 0.6), (1.0, 0.0, 0.0), 0.12),
        hole("near", (0.0, -0.3, 0.5), (1.0, 0.0, 0.0), 0.12),
    )
    space = replace(space, holes=holes)

    def laid(text: str) -> Routes:
        choice = LineChoice(line="l", holes=(text,), hose="")
        return routed(asked([one_line()], choices=[choice]), space)

    def through(text: str) -> HoseRoute:
        return only(laid(text))

    alone = {name: through(name) for name in ("far", "near")}
    assert alone["near"].length < alone["far"].length
    for text in ("far or near", "near or far"):
        chosen = through(text)
        assert chosen.holes == ("near",)
        assert chosen.length == alone["near"].length
        assert chosen.bound == min(one.bound for one in alone.values())
        (told,) = [one for one in laid(text).findings if one.rule == "hole-chosen"]
        assert (
            f"passes through near: {chosen.length:.2f} m; through far {alone['far'].length:.2f} m"
            in told.text
        )
