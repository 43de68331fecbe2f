"""A crowd that is led thin and jostled: all of it laid, no two too near, checked from outside."""

from __future__ import annotations

from fitcheck.routing.lay.jostle import jostled
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.recall import Recall
from fitcheck.routing.lay.sets import _meeting, _Table, _too_near
from fitcheck.routing.world.obstacles import stubs_beside
from tests.planted.problem import ready, told
from tests.planted.problems import crowd
from tests.route_checker import check_among


def test_a_crowd_is_jostled_until_all_hoses_have_room() -> None:
    """Of nine planted hoses seven meet on their own ways; all find room side by side.

    Settled at full weight at once, five of the seven do.
    """
    made = ready(crowd(10319))
    table = _Table(made.obstacles, made.jobs, Recall())
    for number, job in enumerate(made.jobs):
        table.alone[number] = table.find("alone", number, stubs_beside(job, made.jobs))
    ways = {key: one for key, one in table.alone.items() if isinstance(one, Routed)}
    met = sorted(number for group in _meeting(table) for number in group)
    assert len(met) == 7
    moving = {key: ways[key] for key in met}
    fixed = {key: one for key, one in ways.items() if key not in met}
    laid = jostled(made.obstacles, made.jobs, moving, fixed)
    assert sorted(laid) == met
    all_ways = {**fixed, **laid}
    pairs = [(a, b) for a in all_ways for b in all_ways if a < b]
    assert not any(_too_near(all_ways[a], all_ways[b]) for a, b in pairs)
    routes = [all_ways.get(number) for number in range(len(made.jobs))]
    assert check_among(told(made, routes, [0.0] * len(routes)), made.problem.triangles) == []
