"""Several hoses: gaps kept, crossings, rows of ports, conflicts, reproducibility."""

from __future__ import annotations

import numpy as np
import pytest

from fitcheck.model.finding import silent
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.routing.lay import line as lay_line
from fitcheck.routing.lay import sets
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.sets import route_all
from tests import specimens
from tests.planted.problem import ready
from tests.planted.problems import crowd
from tests.specimens.routing import (
    OUTSIDE,
    asked,
    check_curve,
    line,
    meshed,
    port,
    quick_bound,  # noqa: F401
    routed,
)


def least_between(one: HoseRoute, two: HoseRoute) -> float:
    return float(np.linalg.norm(one.path[:, None] - two.path[None], axis=2).min())


def test_crossing_hoses_keep_the_gap() -> None:
    ports = (
        port("a", (-0.7, 0.0, 0.5), (1, 0, 0)),
        port("b", (0.7, 0.0, 0.5), (-1, 0, 0)),
        port("c", (0.0, -0.6, 0.5), (0, 1, 0)),
        port("d", (0.0, 0.6, 0.5), (0, -1, 0)),
    )
    lines = [line("one", "boat.a", "boat.b"), line("two", "boat.c", "boat.d")]
    routes = routed(asked(lines), meshed(specimens.room(), ports=ports))
    one, two = routes.hoses
    assert isinstance(one, HoseRoute)
    assert isinstance(two, HoseRoute)
    check_curve(one)
    check_curve(two)
    # samples 5 mm apart overestimate by at most 0.2 mm here
    assert least_between(one, two) >= OUTSIDE + 0.005 - 1e-9
    assert least_between(one, two) <= OUTSIDE + 0.005 + 0.001
    # one may be straight, the other only needs to step aside slightly
    assert min(one.length, two.length) <= 1.4 + 1e-9
    assert max(one.length, two.length) <= 1.41


def test_a_row_of_ports_is_routed_without_touching() -> None:
    """Six hoses 40 mm apart that must change places."""
    ports, lines = [], []
    for number in range(6):
        y, to = -0.1 + 0.04 * number, 0.1 - 0.04 * number
        ports += [
            port(f"a{number}", (-0.8, y, 0.5), (1, 0, 0)),
            port(f"b{number}", (0.8, to, 0.5), (-1, 0, 0)),
        ]
        lines.append(line(f"line {number}", f"boat.a{number}", f"boat.b{number}"))
    routes = routed(asked(lines), meshed(specimens.room(), ports=tuple(ports), pitch=0.03))
    found = [hose for hose in routes.hoses if isinstance(hose, HoseRoute)]
    assert len(found) == 6
    for number, one in enumerate(found):
        check_curve(one)
        for two in found[:number]:
            assert least_between(one, two) >= OUTSIDE + 0.005 - 1e-9


def test_conflicting_hoses_are_named_with_the_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """A window with room for one hose, and two that must pass it.

    The search for the second one, which takes minutes, is replaced: no route.
    """
    alone: dict[str, int] = {}
    search = lay_line._laid

    def searched(obstacles, world, start, end, job, tubes, most):  # type: ignore[no-untyped-def]
        if len(tubes) > alone.setdefault(job.line.name, len(tubes)):
            return None
        return search(obstacles, world, start, end, job, tubes, most)

    monkeypatch.setattr(lay_line, "_laid", searched)
    monkeypatch.setattr(sets, "jostled", lambda *_: {})
    half = 0.024
    wall = specimens.join(
        specimens.sheet(0.0, (-0.75, 0.0), (0.75, 0.6 - half)),
        specimens.sheet(0.0, (-0.75, 0.6 + half), (0.75, 1.2)),
        specimens.sheet(0.0, (-0.75, 0.6 - half), (-half, 0.6 + half)),
        specimens.sheet(0.0, (half, 0.6 - half), (0.75, 0.6 + half)),
    )
    ports = (
        port("a", (-0.6, -0.1, 0.6), (1, 0, 0)),
        port("b", (0.6, -0.1, 0.6), (-1, 0, 0)),
        port("c", (-0.6, 0.1, 0.6), (1, 0, 0)),
        port("d", (0.6, 0.1, 0.6), (-1, 0, 0)),
    )
    lines = [line("one", "boat.a", "boat.b"), line("two", "boat.c", "boat.d")]
    routes = routed(asked(lines), meshed(specimens.join(specimens.room(), wall), ports=ports))
    laid = [found for found in routes.hoses if isinstance(found, HoseRoute)]
    lost = [found for found in routes.hoses if isinstance(found, Unrouted)]
    assert len(laid) == len(lost) == 1
    assert f"it conflicts with {laid[0].line}" in lost[0].reason
    # where both would have to be at once: in the window
    assert lost[0].nearest_approach == pytest.approx((0.0, 0.0, 0.6), abs=0.08)


def test_a_crowd_is_reproducible() -> None:
    """Nine planted hoses routed twice from scratch: identical to the last digit."""
    made = ready(crowd(10338))
    first, again = (route_all(made.obstacles, made.jobs, silent) for _ in range(2))
    assert all(isinstance(one, Routed) for one in first)
    for one, two in zip(first, again, strict=True):
        assert isinstance(one, Routed)
        assert isinstance(two, Routed)
        assert np.array_equal(one.corners, two.corners)


def test_no_hose_runs_through_the_straight_end_of_another() -> None:
    ports = (
        port("a", (-0.6, 0.0, 0.5), (1, 0, 0)),
        port("b", (0.6, 0.0, 0.5), (-1, 0, 0)),
        port("c", (0.0, 0.03, 0.45), (0, 0, 1)),
        port("d", (0.5, 0.5, 0.5), (-1, 0, 0)),
    )
    lines = [line("long", "boat.a", "boat.b"), line("other", "boat.c", "boat.d")]
    routes = routed(asked(lines), meshed(specimens.room(), ports=ports))
    long, other = routes.hoses
    assert isinstance(long, HoseRoute)
    assert isinstance(other, HoseRoute)
    assert least_between(long, other) >= OUTSIDE + 0.005 - 1e-9
