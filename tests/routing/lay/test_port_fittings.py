"""Straight or elbow at a port: shorter route, room for a wrench, bound, order and loss."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fitcheck.hydraulics.network.plant import with_fittings
from fitcheck.model.found.routes import HoseRoute, Routes, Unrouted
from fitcheck.model.given.boat import Bearing, BoatPort
from fitcheck.model.given.kit import Fitting
from fitcheck.model.given.scenario import Scenario
from fitcheck.order.fittings import fitting_items
from fitcheck.routing.lay.line import Routed, route_line
from fitcheck.routing.lay.port_fittings import WORTH, route_fitted, with_offers
from fitcheck.routing.search.direct import direct_curve
from fitcheck.routing.world.ports import make_jobs
from tests import specimens
from tests.specimens.laid import Ground, module_port, with_module
from tests.specimens.routing import (
    CLEARANCE,
    NEED,
    OUTSIDE,
    RADIUS,
    asked,
    line,
    modules_of,
    only,
    port,
)
from tests.specimens.routing import routed as stage
from tests.specimens.scenario_texts import KIT, LAYOUT, faults_of, write_files

X, Y, UP = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
DOWN = (0.0, 0.0, -1.0)
LOW, HIGH = (-0.5, -0.7, 0.5), (-0.3, -0.5, 0.7)
LEAD, LEG, OUT = 0.060, 0.035, 0.030
ELBOW = Fitting(
    name="elbow", kind="elbow", connection="hose tail", leg=LEG, out=OUT, loss=0.9, wrench=0.060
)
TAIL = replace(ELBOW, name="tail", kind="straight", out=0.0, loss=0.1)
BOAT_PORT = BoatPort(
    name="b",
    role="other",
    at=(0.0, 0.0, 0.0),
    bearing=Bearing(frame="boat", vector=Y),
    connection="hose tail",
    thread="",
)
#: Where the hose begins behind an elbow to port.
BEGIN = np.array([-0.3 + LEG, -0.6 + OUT, 0.6])


def pump(
    *offered: str,
    away: float = 0.6,
    forward: float = 0.0,
    turns: tuple[Any, ...] = (),
    fittings: tuple[Fitting, ...] = (ELBOW, TAIL),
    bodies: Any = (),
    more: Any = (),
) -> Ground:
    """A port facing forward; the other one, abeam of its elbow, faces back at it."""
    target = (float(BEGIN[0]) + forward, float(BEGIN[1]) + away, 0.6)
    space = specimens.hand_made_space(
        pitch=0.015,
        ports=(port("b", target, (0.0, -1.0, 0.0)), *(one for pair in more for one in pair[:2])),
        bodies=bodies,
    )
    lines = [line("run", "pump.out", "boat.b")]
    lines += [line(pair[2], f"boat.{pair[0].name}", f"boat.{pair[1].name}") for pair in more]
    scenario = asked(lines)
    kit = replace(scenario.kit, fittings=fittings)
    scenario = replace(scenario, kit=kit, boat=replace(scenario.boat, ports=(BOAT_PORT,)))
    out = module_port("out", (0.1, 0.0, 0.1), X, fittings=offered, turns=turns)
    return with_module(LOW, HIGH, (out,), scenario, space)


def routes_of(where: Ground) -> Routes:
    return stage(where.scenario, where.space, *modules_of(("pump", LOW, HIGH)))


def straight_length(where: Ground) -> float:
    """Port to port without a fitting, by the direct curve."""
    job = make_jobs(where.scenario, where.space)[0]
    curve = direct_curve(job.start.tip, job.start.way, job.end.tip, -job.end.way, RADIUS)
    assert curve is not None
    return curve.length + job.start.lead + job.end.lead


def test_without_an_offer_nothing_changes() -> None:
    bare, offered = only(routes_of(pump())), only(routes_of(pump("straight")))
    for found in (bare, offered):
        assert found.fittings == ("", "")
        assert found.fitting_loss_coefficient == 0.0
        assert found.length == pytest.approx(straight_length(pump()), abs=1e-6)
    assert np.array_equal(bare.path, offered.path)


def test_an_elbow_towards_the_other_end_makes_the_hose_straight() -> None:
    where = pump("straight", "elbow")
    found = only(routes_of(where))
    assert found.fittings == ("elbow", "")
    assert found.length == pytest.approx(0.6, abs=1e-9)
    assert found.bends == ()
    assert found.start == pytest.approx(tuple(BEGIN))
    assert found.start_direction == pytest.approx(Y)
    assert found.bound <= found.length
    assert found.fitting_loss_coefficient == pytest.approx(0.9)


AHEAD = [(0.0, 0.6), (0.0, 1.1), (0.06, 0.6), (0.12, 0.6), (0.2, 0.7), (0.3, 0.8), (0.8, 0.6)]


def elbow_length(where: Ground, forward: float, away: float) -> float:
    """Elbow and hose with the elbow to port, by the direct curve."""
    step = np.array([forward, away - 2 * LEAD, 0.0])
    curve = direct_curve(np.zeros(3), np.array(Y), step, np.array(Y), RADIUS)
    assert curve is not None
    return curve.length + 2 * LEAD + LEG + OUT


@pytest.mark.parametrize(("forward", "away"), AHEAD)
def test_an_elbow_must_save_five_per_cent(forward: float, away: float) -> None:
    where = pump("straight", "elbow", away=away, forward=forward, turns=(Y,))
    found = only(routes_of(where))
    bent, elbow = straight_length(where), elbow_length(where, forward, away)
    chosen = "elbow" if elbow < WORTH * bent else ""
    assert found.fittings[0] == chosen
    assert found.length == pytest.approx(elbow - LEG - OUT if chosen else bent, abs=1e-6)


def test_five_per_cent_decides_for_and_against_the_elbow() -> None:
    ratios = []
    for forward, away in AHEAD:
        where = pump(away=away, forward=forward)
        ratios.append(elbow_length(where, forward, away) / straight_length(where))
    assert any(ratio < WORTH for ratio in ratios)
    assert any(WORTH < ratio < 1.0 for ratio in ratios)
    assert any(ratio > 1.0 for ratio in ratios)


def test_a_straight_fitting_moves_the_port_out() -> None:
    found = only(routes_of(pump("tail")))
    assert found.fittings == ("tail", "")
    assert found.start == pytest.approx((-0.3 + LEG, -0.6, 0.6))
    assert found.fitting_loss_coefficient == pytest.approx(0.1)


def test_an_elbow_turns_only_as_the_port_allows() -> None:
    assert only(routes_of(pump("straight", "elbow", turns=(UP,)))).fittings[0] == ""
    assert only(routes_of(pump("straight", "elbow", turns=(UP, Y)))).fittings[0] == "elbow"
    alone = only(routes_of(pump("elbow", turns=(UP,))))
    assert alone.start_direction == pytest.approx(UP)


def test_a_wrench_needs_room_around_the_leg() -> None:
    # 26 mm above the leg: room for the hose's 22 mm, not for half a wrench of 60 mm
    shelf = ((-0.29, -0.7, 0.626), (-0.27, -0.5, 0.8))
    tight = pump("straight", "elbow", bodies=[shelf], turns=(Y,))
    assert only(routes_of(tight)).fittings[0] == ""
    slim = replace(ELBOW, wrench=0.050)
    room = pump("straight", "elbow", bodies=[shelf], fittings=(slim,), turns=(Y,))
    assert only(routes_of(room)).fittings[0] == "elbow"
    (lost,) = routes_of(pump("elbow", bodies=[shelf], turns=(Y,))).hoses
    assert isinstance(lost, Unrouted)
    assert "wrench" in lost.reason


def test_the_elbow_is_used_if_the_straight_fitting_finds_no_route() -> None:
    # a wall 100 mm off the face leaves no room for a bend of 100 mm radius
    wall = ((-0.2, -0.75, 0.0), (0.0, 0.75, 1.2))
    where = pump("straight", "elbow", bodies=[wall])
    bare, *_ = pump(bodies=[wall]).jobs
    assert not isinstance(route_line(where.obstacles, bare, ()), Routed)
    found = only(routes_of(where))
    assert found.fittings[0] == "elbow"
    assert found.clearance >= CLEARANCE - 1e-6


@pytest.mark.parametrize("away", [0.6, 1.1])
def test_the_bound_holds_for_every_choice(away: float) -> None:
    where = pump("straight", "tail", "elbow", away=away, turns=(DOWN, Y, UP))
    found = only(routes_of(where))
    job = where.jobs[0]
    lengths = []
    for start in job.offers[0]:
        trial = replace(job, start=start, offers=((), ()))
        way = route_line(where.obstacles, trial, ())
        if isinstance(way, Routed):
            lengths.append(way.curve.length)
    assert len(lengths) >= 4
    assert found.bound <= min(lengths) + 1e-9


def test_the_choice_is_the_best_of_all() -> None:
    for away in (0.6, 1.1):
        where = pump("straight", "tail", "elbow", away=away, turns=(Y, UP))
        job = where.jobs[0]
        scores = {}
        for number, start in enumerate(job.offers[0]):
            trial = replace(job, start=start, offers=((), ()))
            way = route_line(where.obstacles, trial, ())
            if isinstance(way, Routed):
                fitting = start.fitting
                whole = way.curve.length + (fitting.length if fitting else 0.0)
                elbow = fitting is not None and fitting.kind == "elbow"
                scores[number] = whole / WORTH if elbow else whole
        chosen = route_fitted(where.obstacles, job, ())
        assert isinstance(chosen, Routed)
        best = min(scores, key=lambda number: (scores[number], number))
        assert chosen.job.start.way == pytest.approx(job.offers[0][best].way)
        assert chosen.job.start.at == pytest.approx(job.offers[0][best].at)


def test_other_hoses_keep_clear_of_the_fitting() -> None:
    # a hose whose straight route runs through the elbow's corner
    at = np.array([-0.3 + LEG, -0.6, 0.6])
    ends = (port("c", at - (0, 0, 0.5), (0, 0, 1)), port("d", at + (0, 0, 0.5), (0, 0, -1)), "by")
    routes = routes_of(pump("elbow", turns=(Y,), more=[ends]))
    run, by = (hose for hose in routes.hoses if isinstance(hose, HoseRoute))
    assert run.fittings[0] == "elbow"
    legs = [at + t * LEG * np.array([-1, 0, 0]) for t in np.linspace(0, 1, 30)]
    legs += [at + t * OUT * np.array(Y) for t in np.linspace(0, 1, 30)]
    near = min(np.linalg.norm(by.path - point, axis=1).min() for point in legs)
    assert near >= OUTSIDE + 0.005 - 1e-3
    assert by.length > 1.0


def test_order_and_loss_follow() -> None:
    where = pump("straight", "elbow")
    found = only(routes_of(where))
    rows = fitting_items(where.scenario, where.space.flotation, [found])
    (row,) = [item for item in rows if item.item.startswith("elbow")]
    assert (row.quantity, row.for_lines) == (1.0, ("run",))
    plain = where.scenario.kit.lines[0]
    assert with_fittings(plain, found).fittings == pytest.approx(plain.fittings + 0.9)
    none = replace(found, fittings=("", ""), fitting_loss_coefficient=0.0)
    assert with_fittings(plain, none) is plain
    rows = fitting_items(where.scenario, where.space.flotation, [none])
    assert not [item for item in rows if item.item.startswith("elbow")]


def test_elbow_directions_rotate_with_the_module() -> None:
    where = pump("elbow")
    place = replace(where.scenario.layout.placements[0], rotate=(0.0, 0.0, np.pi / 2))
    layout = replace(where.scenario.layout, placements=(place,))
    turned: Scenario = replace(where.scenario, layout=layout)
    (job,) = with_offers(turned, make_jobs(turned, where.space))
    ways = np.array([end.way for end in job.offers[0]])
    assert len(ways) == 8
    assert np.abs(ways @ np.array(Y)).max() < 1e-12
    assert np.linalg.norm(ways, axis=1) == pytest.approx(np.ones(8))
    gaps = np.sort((ways @ ways.T).ravel())
    assert gaps[:8] == pytest.approx(-np.ones(8))
    assert NEED > 0


# --- what may be written

FITTINGS = """
[kit.fittings.elbow_13]
kind = "elbow"
connection = "hose tail 13 mm"
leg = "35 mm"
out = "30 mm"
loss = 0.9
wrench = "60 mm"
"""
PORT = 'direction = "front"\n'


def _faults(folder: Path, port: str = "", fitting: str = FITTINGS) -> list[str]:
    kit = KIT.replace(PORT, PORT + port, 1) + fitting
    return [str(fault) for fault in faults_of(write_files(folder, kit=kit, layout=LAYOUT))]


@pytest.mark.parametrize(
    ("port_text", "fitting", "said"),
    [
        ('fittings = ["elbow_12"]\n', FITTINGS, "no fitting 'elbow_12'"),
        ('fittings = ["elbow_13"]\nturns = ["back"]\n', FITTINGS, "not at right angles"),
        (
            'fittings = ["straight"]\nturns = ["top"]\n',
            FITTINGS,
            "does not apply without an elbow",
        ),
        ("", FITTINGS.replace('out = "30 mm"\n', ""), "out: is missing"),
        ("", FITTINGS.replace('"elbow"', '"straight"'), "out: does not apply"),
        ("", FITTINGS.replace("elbow_13", "straight"), "cannot be called 'straight'"),
    ],
)
def test_faults_of_fittings_are_reported(
    tmp_path: Path, port_text: str, fitting: str, said: str
) -> None:
    assert any(said in fault for fault in _faults(tmp_path, port_text, fitting))
