"""Suction hoses without a high point where possible, and the shortest route otherwise."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.geometry.curve import bent
from fitcheck.geometry.heel import sea_normal
from fitcheck.model.found.space import Space
from fitcheck.model.given.kit import Duty
from fitcheck.model.given.scenario import Scenario
from fitcheck.routing import stage
from fitcheck.routing.told.support import _high_point
from fitcheck.routing.world.traps import LONGER, high_point, ways_up
from tests import specimens
from tests.specimens.routing import OUTSIDE, asked, unobstructed
from tests.specimens.structure import laid, one_line, with_ports

BORE = 0.6 * OUTSIDE


def rise_of(points: np.ndarray[tuple[int, ...], np.dtype[np.float64]], up: object) -> float:
    """The greatest drop to both sides of any point of a polyline, by brute force."""
    heights = points @ np.asarray(up)
    return max(
        min(heights[n] - heights[: n + 1].min(), heights[n] - heights[n:].min())
        for n in range(len(heights))
    )


def suction(heel: tuple[float, ...] = (0.0,), duty: Duty = "suction") -> Scenario:
    plain = asked([one_line(duty)])
    return replace(plain, boat=replace(plain.boat, conditions=specimens.conditions(heel=heel)))


def over_a_sill(sill: float) -> Space:
    """A body across the room that is lower in the middle than at the port wall.

    The straight route at port height leads over the sill at y = 0; around its starboard end the
    sole is free, so that a hose may stay low.
    """
    body = ((-0.3, -0.35, 0.0), (0.3, 0.75, sill))
    return with_ports(
        specimens.hand_made_space([body], pitch=0.02),
        ((-1.0, -0.1, 0.2), (1.0, 0.0, 0.0)),
        ((1.0, -0.1, 0.2), (-1.0, 0.0, 0.0)),
    )


def test_up_directions_match_the_water_side() -> None:
    heel, trim = (-0.3, 0.0, 0.4), (0.0, 0.1)
    ups = ways_up(specimens.conditions(heel=heel, trim=trim))
    wanted = [sea_normal(h, t) for h in heel for t in trim]
    assert np.allclose(ups, wanted, rtol=0.0, atol=1e-15)


@given(st.floats(0.0, 0.3), st.floats(-0.5, 0.5))
def test_a_hump_is_found_at_its_top(hump: float, heel: float) -> None:
    """A hose that rises by `hump` in the middle of a level run along x."""
    corners = np.array([(0, 0, 0), (0.5, 0, 0), (1.0, 0, hump), (1.5, 0, 0), (2.0, 0, 0.0)])
    curve = bent(corners, 0.05)
    (up,) = ways_up(specimens.conditions(heel=(heel,)))
    found = high_point(curve, [up], BORE)
    exact = rise_of(curve.sample(0.001), up)
    if exact < BORE - 1e-4:
        assert found.rise == 0.0
    elif exact > BORE + 1e-4:
        assert found.rise == pytest.approx(exact, abs=1e-4)
        assert found.place[0] == pytest.approx(1.0, abs=0.01)


def test_a_suction_hose_goes_around_rather_than_over() -> None:
    space = over_a_sill(0.3)
    over, _ = laid(suction(duty="feed"), space)
    low, routes = laid(suction(), space)
    assert rise_of(over.path, (0.0, 0.0, 1.0)) > 5 * BORE
    assert rise_of(low.path, (0.0, 0.0, 1.0)) <= BORE
    assert over.length < low.length <= LONGER * over.length
    assert low.bound <= over.length
    (said,) = [row for row in routes.findings if row.rule == "way-without-high-point"]
    assert said.severity == "note"
    assert said.value == pytest.approx(low.length - over.length)
    assert said.place is not None
    assert said.place[2] > 0.25


def test_every_heel_counts() -> None:
    """Heeled, a hose that sags to one side and comes back has a high point where it is level."""
    heel = (-0.3, 0.0, 0.3)
    hose, _ = laid(suction(heel), over_a_sill(0.3))
    rises = [rise_of(hose.path, up) for up in ways_up(specimens.conditions(heel=heel))]
    assert rises[1] <= BORE
    plain, _ = laid(suction(heel, "feed"), over_a_sill(0.3))
    worst = max(rise_of(plain.path, up) for up in ways_up(specimens.conditions(heel=heel)))
    assert max(rises) < worst


def test_a_rising_hose_is_unchanged() -> None:
    space = with_ports(
        specimens.hand_made_space(pitch=0.02),
        ((-1.0, 0.0, 0.2), (1.0, 0.0, 0.0)),
        ((0.3, 0.2, 1.2), (0.0, 0.0, -1.0)),
    )
    plain, _ = laid(suction(duty="feed"), space)
    hose, routes = laid(suction(), space)
    assert hose.length == plain.length
    assert not any(row.rule == "way-without-high-point" for row in routes.findings)


def test_the_shortest_route_stays_if_all_have_a_high_point(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A wall across the whole room: every route leads over it."""
    monkeypatch.setattr(stage, "prove_all", unobstructed)
    space = with_ports(
        specimens.hand_made_space([((-0.05, -0.75, 0.0), (0.05, 0.75, 0.6))], pitch=0.04),
        ((-1.0, 0.0, 0.2), (1.0, 0.0, 0.0)),
        ((1.0, 0.0, 0.2), (-1.0, 0.0, 0.0)),
    )
    plain, _ = laid(suction(duty="feed"), space)
    hose, _ = laid(suction(), space)
    assert hose.length == plain.length
    assert rise_of(hose.path, (0.0, 0.0, 1.0)) > 0.4 - math.sqrt(2) * 0.1


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (-0.000188, "re-routed with its length unchanged"),
        (0.0, "re-routed with its length unchanged"),
        (0.04, "40 mm longer"),
        (-0.04, "40 mm shorter"),
    ],
)
def test_a_route_without_a_high_point_reports_its_extra_length(more: float, words: str) -> None:
    """Both routes are smoothed independently: the one without may be slightly shorter."""
    hump = np.array([(0, 0, 0), (0.5, 0, 0), (1.0, 0, 0.2), (1.5, 0, 0), (2.0, 0, 0.0)])
    over = bent(hump, 0.05)
    round_it = bent(np.array([(0, 0, 0), (over.length + more, 0, 0)]), 0.05)
    job = SimpleNamespace(
        ups=ways_up(specimens.conditions()),
        hose=SimpleNamespace(bore=BORE),
        line=SimpleNamespace(name="suction"),
    )
    routed = SimpleNamespace(job=job, curve=round_it, shorter=SimpleNamespace(curve=over, job=job))
    (said,) = _high_point(routed)  # type: ignore[arg-type]
    assert words in said.text
    assert "-" not in said.text.replace("re-routed", "")
