"""How many orders of a crowd are tried: abandoned when no better, and finally given up."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from fitcheck.model.finding import silent
from fitcheck.routing.lay import sets
from fitcheck.routing.lay.line import Blocked, Routed
from fitcheck.routing.lay.sets import TIRED, Outcome, _best_order, _in_turn, _Table


class _Rule:
    """A table whose hoses find a route by a rule on those already placed; counts the queries."""

    def __init__(self, count: int, hindered: Mapping[int, set[int]]) -> None:
        self.alone = {n: _way(float(n)) for n in range(count)}
        self.hindered = hindered
        self.asked: list[int] = []

    def route(self, number: int, laid: dict[int, Outcome]) -> Outcome:
        self.asked.append(number)
        before = {key for key, other in laid.items() if isinstance(other, Routed)}
        if before & self.hindered.get(number, set()):
            return Blocked(job=None, place=np.zeros(3), missing=0.0)  # type: ignore[arg-type]
        return self.alone[number]


def _way(length: float) -> Routed:
    curve = SimpleNamespace(length=length)
    return Routed(job=None, curve=curve, direct=False, holes=())  # type: ignore[arg-type]


def _table(rule: _Rule) -> _Table:
    return cast(_Table, rule)


def test_an_order_is_abandoned_once_it_loses_as_many_as_the_best() -> None:
    rule = _Rule(5, {1: {0}, 2: {0}})
    done = _in_turn(_table(rule), [0, 1, 2, 3, 4], {}, most=1)
    assert rule.asked == [0, 1]
    assert isinstance(done[1], Blocked)
    assert sorted(done) == [0, 1]


def test_a_failed_hose_goes_first_next_time() -> None:
    """Hose 1 has no route once 0 is placed, in either order of lengths, unless it goes first."""
    rule = _Rule(6, {1: {0, 5}})
    best = _best_order(_table(rule), list(range(6)), {}, silent)
    assert sorted(best) == list(range(6))
    assert all(isinstance(one, Routed) for one in best.values())


def test_orders_that_gain_nothing_are_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Any hose blocks any other, so every order loses the second one."""
    count = 9
    rule = _Rule(count, {n: set(range(count)) - {n} for n in range(count)})
    orders: list[int] = []
    before = sets._in_turn

    def counted(*given: object) -> dict[int, Outcome]:
        orders.append(1)
        return before(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(sets, "_in_turn", counted)
    best = _best_order(_table(rule), list(range(count)), {}, silent)
    assert sum(isinstance(one, Routed) for one in best.values()) == 1
    assert len(best) == count
    assert len(orders) == 1 + TIRED
