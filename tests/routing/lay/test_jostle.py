"""A crowd that is routed thin and relaxed: all of it routed, gaps kept, checked independently.

A larger one, of which five in seven find room if settled at full weight at once, is crowd 10319 of
python -m tests.bench.routing --singles 0 --sets 1 --first 319.
"""

from __future__ import annotations

import numpy as np
import pytest

from fitcheck.routing.lay import lying
from fitcheck.routing.lay.jostle import _jostle, jostled
from fitcheck.routing.lay.lying import Lying, crowd_of, inner, with_corners
from fitcheck.routing.lay.sets import _too_near
from fitcheck.routing.search.refine import Shape
from tests import specimens
from tests.specimens.laid import ground
from tests.specimens.routing import asked, line, meshed, port


def test_a_crowd_is_relaxed_until_all_hoses_have_clearance() -> None:
    """Six hoses 40 mm apart that must change places; alone all of them meet in the middle."""
    ports, lines = [], []
    for number in range(6):
        y = 0.04 * number - 0.1
        ports += [
            port(f"a{number}", (-0.8, y, 0.5), (1, 0, 0)),
            port(f"b{number}", (0.8, -y, 0.5), (-1, 0, 0)),
        ]
        lines.append(line(f"line {number}", f"boat.a{number}", f"boat.b{number}"))
    space = meshed(specimens.room(), ports=tuple(ports), pitch=0.03)
    where = ground(asked(lines), space)
    alone = {number: where.route(number) for number in range(6)}
    pairs = [(a, b) for a in alone for b in alone if a < b]
    assert all(_too_near(alone[a], alone[b]) for a, b in pairs)
    laid = jostled(where.obstacles, where.jobs, alone, {})
    assert sorted(laid) == sorted(alone)
    assert not any(_too_near(laid[a], laid[b]) for a, b in pairs)
    assert [fault for one in laid.values() for fault in where.faults(one)] == []


@pytest.mark.parametrize("left", [2, 3])
def test_a_hose_with_merged_corners_can_be_settled_again(
    monkeypatch: pytest.MonkeyPatch, left: int
) -> None:
    """Settling needs a corner on the axis of each port, so four is the minimum."""
    ports = (port("a", (-0.8, 0.0, 0.5), (1, 0, 0)), port("b", (0.8, 0.0, 0.5), (-1, 0, 0)))
    space = meshed(specimens.room(), ports=ports, pitch=0.03)
    where = ground(asked([line("line", "boat.a", "boat.b")]), space)
    alone = where.route(0)
    crowd = crowd_of(where.obstacles, where.jobs, {0: alone}, {})
    ends = inner(alone)[[0, -1]]
    crowd.lying[0] = Lying(alone, with_corners(ends))
    fewer = Shape(corners=np.linspace(*ends, left), length=1.0)
    with monkeypatch.context() as once:
        once.setattr(lying, "pushed", lambda *_: (fewer, False))
        crowd.push(0)
    assert len(crowd.lying[0].corners) >= 4
    crowd.push(0)
    assert crowd.lying[0].clear


def test_two_crossing_hoses_both_give_way() -> None:
    """At full weight at once the first moves aside alone and the second stays in place."""
    ports, lines = [], []
    for number, y in enumerate((-0.3, 0.3)):
        ports += [
            port(f"a{number}", (-0.8, y, 0.5), (1, 0, 0)),
            port(f"b{number}", (0.8, -y, 0.5), (-1, 0, 0)),
        ]
        lines.append(line(f"line {number}", f"boat.a{number}", f"boat.b{number}"))
    space = meshed(specimens.room(), ports=tuple(ports), pitch=0.03)
    where = ground(asked(lines), space)
    alone = {number: where.route(number) for number in range(2)}
    crowd = crowd_of(where.obstacles, where.jobs, alone, {})
    before = {number: with_corners(inner(one)) for number, one in alone.items()}
    crowd.lying = {number: Lying(one, before[number].copy()) for number, one in alone.items()}
    _jostle(crowd, pull=1.0)
    assert sorted(crowd.lying) == [0, 1]
    assert crowd.clear
    for number, one in crowd.lying.items():
        assert np.abs(one.corners - before[number]).max() > 0.003
