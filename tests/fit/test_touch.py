"""A module that fits by what was seen, in space the scan does not prove, has to be touched."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitcheck.fit import check_fit
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.space import FREE, UNSEEN, Known, Space
from tests.specimens import hand_made_space
from tests.specimens.fit import module, needs, plan, rules, scanned, unseen_where

#: A block of the room forward of the pump, 50 mm from it.
LOW, HIGH = (0.20, -0.8, 0.0), (1.0, 0.8, 1.0)


def glimpsed_where(space: Space, low: tuple[float, ...], high: tuple[float, ...]) -> Space:
    """The space with the free cells of a block seen, but not proven."""
    known = Known(label=space.label, distance=space.distance, searched=None)
    return replace(unseen_where(space, low, high), glimpsed=known)


def judged(space: Space, forward: float, **changes: object) -> Fit:
    """A pump that is 0.30 m long, its middle so far forward."""
    return check_fit(plan((module("pump", **changes), (forward, 0.0, 0.0))), space)


@pytest.mark.parametrize(
    ("forward", "verdict"),
    [(0.0, "fits"), (0.045, "touch"), (0.2, "touch"), (0.99, "clash")],
)
def test_a_module_near_or_in_glimpsed_space_has_to_be_touched(
    forward: float, verdict: str
) -> None:
    fit = judged(glimpsed_where(hand_made_space(), LOW, HIGH), forward)
    assert fit.module("pump").verdict == verdict
    assert (("caution", "touch") in rules(fit, "pump")) == (verdict == "touch")


def test_a_touch_bars_both_steps_and_names_the_place() -> None:
    fit = judged(glimpsed_where(hand_made_space(), LOW, HIGH), 0.2)
    (row,) = [row for row in fit.findings if row.rule == "touch"]
    assert row.bars == ("cut_joinery", "order_hoses")
    assert row.place is not None
    assert LOW[0] - 1e-9 <= row.place[0] <= HIGH[0]
    met = next(met for met in fit.module("pump").contacts if met.kind == "glimpsed")
    assert met.meets == "weakly scanned space"


def test_unseen_space_stays_unseen_beside_glimpsed_space() -> None:
    space = glimpsed_where(unseen_where(hand_made_space(), LOW, HIGH), (-1.0, -0.8, 0.9), HIGH)
    assert judged(space, 0.2).module("pump").verdict == "unseen"


def test_a_service_clearance_in_glimpsed_space_has_to_be_touched() -> None:
    space = glimpsed_where(hand_made_space(), LOW, HIGH)
    fit = judged(space, 0.0, service=needs("front", 0.2))
    assert fit.module("pump").verdict == "touch"
    assert not [row for row in fit.findings if row.rule == "service-clearance"]


@pytest.mark.parametrize("forward", [0.0, 0.045, 0.1, 0.3, 0.6])
def test_glimpsed_space_never_makes_a_module_fit_that_did_not(forward: float) -> None:
    space = scanned(glimpsed_where(hand_made_space(), LOW, HIGH))
    with_it, without = judged(space, forward), judged(replace(space, glimpsed=None), forward)
    fits = with_it.module("pump").verdict == "fits"
    assert fits == (without.module("pump").verdict == "fits")


def test_the_space_as_seen_frees_glimpsed_cells_alone() -> None:
    space = glimpsed_where(hand_made_space([((-0.5, -0.5, 0.0), (-0.3, -0.3, 0.2))]), LOW, HIGH)
    assert space.as_seen is not None
    changed = space.label != space.as_seen.label
    assert changed.any()
    assert set(space.label[changed]) == {UNSEEN}
    assert set(space.as_seen.label[changed]) == {FREE}
