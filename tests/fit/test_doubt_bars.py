"""A gap that may be zero bars cutting; one that is certain but small is a caution."""

from __future__ import annotations

import pytest

from fitcheck.fit import check_fit
from fitcheck.routing import route_hoses
from tests.specimens import allowances, hand_made_space
from tests.specimens.fit import module, plan, scanned

ACCURACY = 0.020
SIZE = (0.3, 0.2, 0.25)


@pytest.mark.parametrize(("gap", "barred"), [(0.028, False), (0.015, True)])
def test_a_gap_within_its_uncertainty_bars_cutting(gap: float, barred: bool) -> None:
    """The wall of the room is at x = 1; the box may be fixed by its base only."""
    pump = module("pump", SIZE)
    other = module("other", (0.05, 0.05, 0.05))
    x = 1.0 - gap - SIZE[0] / 2
    layout = plan((pump, (x, 0.1, 0.2)), (other, (-0.5, 0.0, 0.3)), scan=True)
    fit = check_fit(layout, scanned(hand_made_space(), ACCURACY))
    found = [row for row in fit.findings if row.rule == "tight" and row.subject == "pump"]
    assert [row.bars for row in found] == [("cut_joinery",) if barred else ()]
    assert found[0].remedy is not None


def test_zero_allowances_bar_both_steps() -> None:
    layout = plan((module("pump", SIZE), (0.0, 0.0, 0.0)), allowances=allowances(box_gap=0.0))
    fit = check_fit(layout, hand_made_space())
    (found,) = [row for row in fit.findings if row.rule == "no-clearance"]
    assert set(found.bars) == {"cut_joinery", "order_hoses"}


@pytest.mark.parametrize("key", ["hose_clearance", "hose_gap"])
def test_zero_hose_clearance_bars_the_order(key: str) -> None:
    asked = plan((module("pump", SIZE), (0.0, 0.0, 0.0)), allowances=allowances(**{key: 0.0}))
    space = hand_made_space()
    found = route_hoses(asked, space, check_fit(asked, space)).findings
    assert [(row.subject, row.bars) for row in found if row.rule == "no-clearance"] == [
        (key, ("order_hoses",))
    ]
