"""Mounting tolerance of modules: exact lengths, increasing with the hose, limited by walls."""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.given.cutting import tube_length
from fitcheck.order.cuts import cut_of
from fitcheck.routing.lay.line import Routed, route_line
from fitcheck.routing.lengths.shaken import Grounds, Laid
from fitcheck.routing.lengths.wander import (
    MOST,
    SPARE_STEP,
    STEP,
    USUAL,
    reach_of,
    wander_of,
)
from fitcheck.routing.search.direct import direct_curve
from fitcheck.routing.told.mounting import wander_findings
from fitcheck.routing.world.obstacles import gather
from tests import specimens
from tests.specimens.laid import Ground, between, module_port, with_module
from tests.specimens.routing import (
    NEED,
    RADIUS,
    asked,
    fit_of,
    line,
    modules_of,
    only,
    port,
)
from tests.specimens.routing import routed as stage

X = (1.0, 0.0, 0.0)
LOW, HIGH = (-0.7, -0.1, 0.5), (-0.5, 0.1, 0.7)
LEAD = 0.060
#: Required centre distance of two hoses of these specimens [m].
CROSSING = 0.029
#: Corners and face centres of a cube of half edge one.
CUBE = [*product((1.0, -1.0), repeat=3), *map(tuple, np.vstack([np.eye(3), -np.eye(3)]))]


def one_module(
    last: tuple[float, float, float] = (0.4, 0.0, 0.6),
    arrives: tuple[float, float, float] = (-1.0, 0.0, 0.0),
    **more: object,
) -> Ground:
    """A module with a port facing forward, and a port of the boat."""
    space = specimens.hand_made_space(pitch=0.015, ports=(port("b", last, arrives),), **more)
    ports = (module_port("out", (0.1, 0.0, 0.1), X),)
    return with_module(LOW, HIGH, ports, asked([line("run", "pump.out", "boat.b")]), space)


def stepped(where: Ground, length: float) -> float:
    """The mounting tolerance of the first hose."""
    found = wander_of(
        Grounds(where.obstacles), Laid(routed=where.route(), length=length), ()
    ).within
    assert found is not None
    return found


def longest(where: Ground, t: float) -> float:
    """The longest direct curve with the module at a corner or face centre of a cube."""
    job = where.jobs[0]
    lengths = []
    for way in CUBE:
        shift = t * np.array(way)
        curve = direct_curve(
            job.start.tip + shift, job.start.way, job.end.tip, -job.end.way, RADIUS
        )
        assert curve is not None
        lengths.append(curve.length + job.start.lead + job.end.lead)
    return max(lengths)


@pytest.mark.parametrize("spare", [0.0, 0.004, 0.012, 0.03, 0.055, 0.2])
@pytest.mark.parametrize(
    ("last", "arrives"),
    [((0.4, 0.0, 0.6), (-1.0, 0.0, 0.0)), ((0.2, 0.4, 0.7), (0.0, -1.0, 0.0))],
)
def test_in_an_empty_room_the_direct_curve_decides(
    spare: float, last: tuple[float, float, float], arrives: tuple[float, float, float]
) -> None:
    where = one_module(last, arrives)
    length = where.route().curve.length + spare
    steps = np.arange(STEP, MOST + STEP / 2, STEP)
    expected = 0.0
    for t in steps:
        if longest(where, t) > length:
            break
        expected = t
    assert stepped(where, length) == pytest.approx(expected, abs=1e-9)


def test_moving_straight_away_lengthens_by_the_displacement() -> None:
    where = one_module()
    length = where.route().curve.length
    assert longest(where, 0.01) >= length + 0.01
    assert stepped(where, length + 0.0099) < 0.01


def behind_a_body() -> Ground:
    body = ((-0.1, -0.75, 0.0), (0.1, 0.3, 1.2))
    return one_module((0.6, -0.2, 0.6), bodies=[body])


def test_a_longer_hose_never_has_less_tolerance() -> None:
    for where in (one_module((0.2, 0.4, 0.7), (0.0, -1.0, 0.0)), behind_a_body()):
        length = where.route().curve.length
        found = [stepped(where, length + spare) for spare in (0.0, 0.01, 0.03)]
        assert found == sorted(found)
        assert found[-1] > 0.0


@functools.cache
def bent_run() -> tuple[Ground, float, float]:
    """A hose around a body, its length and its mounting tolerance."""
    where = behind_a_body()
    length = where.route().curve.length + 0.03
    return where, length, stepped(where, length)


@settings(max_examples=4, deadline=None)
@given(st.tuples(*[st.floats(-1.0, 1.0)] * 3))
def test_any_position_within_the_tolerance_is_reached(share: tuple[float, float, float]) -> None:
    where, length, wander = bent_run()
    assert wander > 0.0
    assert shortest(where, wander * np.array(share)) <= length + 1e-6


def shortest(where: Ground, shift: np.ndarray) -> float:
    """The shortest route found with the module moved and everything searched from scratch."""
    low, high = (tuple(np.array(corner) + shift) for corner in (LOW, HIGH))
    obstacles = gather(where.space, fit_of(*modules_of(("pump", low, high))))
    job = where.jobs[0]
    moved = replace(job, start=replace(job.start, at=job.start.at + shift))
    found = route_line(obstacles, moved, ())
    assert isinstance(found, Routed), found.reason
    return found.curve.length


def test_a_long_hose_reaches_where_a_fresh_search_finds_a_route() -> None:
    body = ((-0.3, -0.3, 0.2), (-0.1, 0.1, 0.9))
    where = one_module((0.3, -0.1, 0.4), (0.0, 1.0, 0.0), bodies=[body])
    length, step = where.route().curve.length + 0.3, 0.015
    assert max(shortest(where, step * np.array(way)) for way in CUBE) <= length
    assert stepped(where, length) >= step


def test_a_wall_near_the_port_limits_the_tolerance_of_any_hose() -> None:
    # the bend begins 62 mm off the face and comes back 8 mm short of the clearance to the wall
    wall = ((-0.5 + LEAD + RADIUS + NEED + 0.008, -0.75, 0.0), (0.5, 0.75, 1.2))
    where = one_module((-0.6, 0.5, 0.6), (0.0, -1.0, 0.0), bodies=[wall])
    length = where.route().curve.length + 0.5
    assert stepped(where, length) == pytest.approx(0.005)


def under_a_hose(*bodies: object) -> tuple[Ground, Routed]:
    """A hose that crosses the straight end of the first, 8 mm higher than necessary."""
    ports = (
        port("b", (0.4, 0.0, 0.6), (-1.0, 0.0, 0.0)),
        port("c", (-0.445, -0.6, 0.6 + CROSSING + 0.008), (0.0, 1.0, 0.0)),
        port("d", (-0.445, 0.6, 0.6 + CROSSING + 0.008), (0.0, -1.0, 0.0)),
    )
    space = specimens.hand_made_space(pitch=0.015, ports=ports, bodies=list(bodies))
    lines = [line("run", "pump.out", "boat.b"), line("over", "boat.c", "boat.d")]
    out = (module_port("out", (0.1, 0.0, 0.1), X),)
    where = with_module(LOW, HIGH, out, asked(lines), space)
    return where, where.route(1)


def below(where: Ground, neighbour: Laid) -> float:
    """The mounting tolerance of the first hose, with ample length, next to another one."""
    one = Laid(routed=where.route(), length=where.route().curve.length + 0.5)
    found = wander_of(Grounds(where.obstacles), one, [neighbour]).within
    assert found is not None
    return found


def test_a_long_enough_neighbour_makes_room() -> None:
    where, over = under_a_hose()
    tight = Laid(routed=over, length=over.curve.length)
    slack = Laid(routed=over, length=over.curve.length + 0.03)
    assert below(where, tight) == pytest.approx(0.005)
    assert below(where, slack) >= USUAL


def test_a_neighbour_without_slack_makes_no_room() -> None:
    top = 0.6 + CROSSING + 0.008 + NEED
    ceiling = ((-0.6, -0.6, top + 0.002), (-0.2, 0.6, 1.2))
    where, over = under_a_hose(ceiling)
    assert below(where, Laid(routed=over, length=over.curve.length + 0.03)) == pytest.approx(0.005)


def test_both_ends_on_one_module_move_together() -> None:
    space = specimens.hand_made_space(pitch=0.015)
    ports = (
        module_port("out", (0.1, -0.08, 0.1), X),
        module_port("back", (0.0, 0.1, 0.1), (0.0, 1.0, 0.0)),
    )
    where = with_module(LOW, HIGH, ports, asked([line("run", "pump.out", "pump.back")]), space)
    assert stepped(where, where.route().curve.length + 1e-6) == pytest.approx(MOST)


def test_a_hose_between_boat_ports_has_no_tolerance() -> None:
    where = between((-0.5, 0.0, 0.6), X, (0.5, 0.0, 0.6), (-1.0, 0.0, 0.0))
    assert (
        wander_of(Grounds(where.obstacles), Laid(routed=where.route(), length=2.0), ()).within
        is None
    )


def test_end_allowances_are_subtracted_from_the_ordered_length() -> None:
    where = one_module()
    found = only(stage(where.scenario, where.space, *modules_of(("pump", LOW, HIGH))))
    # 0.9 m + 50 mm + 3 % = 0.977, cut at 0.98; less both ends 0.93
    assert found.length == pytest.approx(0.9)
    reach = reach_of(found, where.jobs[0], where.scenario.kit.allowances)
    assert reach == pytest.approx(0.93)
    assert found.wander == pytest.approx(stepped(where, 0.93))


def test_the_note_names_modules_that_need_accurate_mounting() -> None:
    where = one_module()
    plain = only(stage(where.scenario, where.space, *modules_of(("pump", LOW, HIGH))))
    routes = [replace(plain, line=name, wander=w) for name, w in (("a", 0.005), ("b", 0.030))]
    (said,) = wander_findings(routes)
    assert (said.subject, said.value, said.limit) == ("a", 0.005, USUAL)
    assert "a ± 5 mm" in said.text
    assert "b ±" not in said.text
    (good,) = wander_findings([_at(plain, 0.02), _at(plain, 0.06)])
    assert "then every ordered length fits" in good.text
    assert wander_findings([_at(plain, None)]) == []


def _at(route: HoseRoute, wander: float | None) -> HoseRoute:
    return replace(route, wander=wander)


# --- lengths that reach


@pytest.mark.parametrize("asked_for", [0.020, 0.050])
def test_tube_is_cut_longer_until_it_reaches(asked_for: float) -> None:
    where = one_module()
    kit = where.scenario.kit
    kit = replace(kit, allowances=replace(kit.allowances, mounting=asked_for))
    scenario = replace(where.scenario, kit=kit)
    routes = stage(scenario, where.space, *modules_of(("pump", LOW, HIGH)))
    found = only(routes)
    reach = reach_of(found, where.jobs[0], scenario.kit.allowances)
    assert found.wander is not None
    assert found.wander >= asked_for
    assert longest(where, asked_for) <= reach + found.mounting_spare
    # no more than needed: one step less does not reach
    if found.mounting_spare:
        assert longest(where, asked_for) > reach + found.mounting_spare - SPARE_STEP
    assert (found.mounting_spare > 0.0) == (asked_for > 0.020)
    cut = cut_of(found, scenario.kit.lines[0], scenario.kit.hoses[0], scenario.kit.allowances)
    plain = tube_length(found.length, scenario.kit.allowances, found.uncertainty)
    assert cut.cut_length == pytest.approx(plain + found.mounting_spare)
    (said,) = [row for row in routes.findings if row.rule == "mounting"]
    assert said.bars == ()


def test_an_assembly_is_ordered_longer_until_it_reaches() -> None:
    where = one_module((0.2, 0.4, 0.7), (0.0, -1.0, 0.0))
    kit = where.scenario.kit
    kit = replace(kit, lines=(line("run", "pump.out", "boat.b", duty="high pressure"),))
    scenario = replace(where.scenario, kit=kit)
    found = only(stage(scenario, where.space, *modules_of(("pump", LOW, HIGH))))
    assert found.assembly is not None
    assert found.assembly.stands
    assert found.wander is not None
    assert found.wander >= USUAL
    assert found.mounting_spare > 0.0
    slack = scenario.kit.allowances.high_pressure_slack
    assert longest(where, USUAL) <= found.assembly.length * (1.0 - slack)


def test_a_length_that_does_not_reach_bars_the_order_with_a_remedy() -> None:
    where = one_module()
    plain = only(stage(where.scenario, where.space, *modules_of(("pump", LOW, HIGH))))
    short = replace(plain, wander=0.005, mounting_spare=0.03)
    (said,) = wander_findings([short])
    assert (said.severity, said.bars) == ("caution", ("order_hoses",))
    assert said.remedy is not None
    assert "30 mm more" in said.remedy.text
    (lost,) = wander_findings([replace(short, mounting_spare=math.inf)])
    assert lost.remedy is not None
    assert "no length fits" in lost.remedy.text
    (closer,) = wander_findings([short], 0.005)
    assert closer.bars == ()
