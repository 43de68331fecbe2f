"""A module's gap by hand: nearest thing, distance, parts of its uncertainty."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fitcheck.fit import check_fit, explain_gaps
from fitcheck.model.contact import CALLED
from fitcheck.model.found.explanation import Explanation
from fitcheck.model.uncertainty import Uncertainty
from tests.specimens import hand_made_space
from tests.specimens.explained import typed_in
from tests.specimens.fit import module, needs, plan

#: A pump of 300 x 200 x 250 mm, not rotated, in a room, 40 mm from its front wall at x = 1 m.
SURE = Uncertainty(surface=0.004, scale=0.006, roll=0.002, trim=0.001, pick=0.008, cell=0.02)


def told() -> dict[str, Explanation]:
    space = replace(hand_made_space(), uncertainty=SURE)
    pump = replace(module("pump"), service=needs("front", 0.02))
    fit = check_fit(plan((pump, (0.81, 0.0, 0.3))), space)
    return {row.number: row for row in explain_gaps(space, fit) if row.names == ("pump",)}


def test_a_gap_by_hand() -> None:
    """1 m - 0.81 m - half of 0.3 m, 1.96 times the root of lever and surface, without a pick."""
    found = told()["gap"].steps
    gap = next(row for row in found if row.what == f"gap to {CALLED['mesh']}")
    assert gap.value == pytest.approx(1.0 - 0.81 - 0.15, abs=1e-9)
    unsure = next(
        row for row in found if row.what.startswith(f"uncertainty of the gap to {CALLED['mesh']}")
    )
    place = [float(text) for text in gap.source.split("(")[1].split(")")[0].split(",")]
    by_hand = 1.96 * math.hypot(0.006 * math.hypot(*place), 0.004)
    assert place[0] == pytest.approx(1.0)
    assert unsure.value == pytest.approx(by_hand, rel=1e-6)
    for row in found:
        if row.numbers:
            assert typed_in(row) == pytest.approx(row.value, abs=1e-6), row.what


def test_a_service_clearance_by_hand() -> None:
    found = told()["access-front"].steps
    last = found[-1]
    assert found[0].value == pytest.approx(0.04, abs=1e-9)
    unsure = next(row for row in found if row.what.startswith("uncertainty"))
    assert last.value == pytest.approx(0.04 - unsure.value - 0.02, abs=1e-9)
    assert typed_in(last) == pytest.approx(last.value, abs=1e-6)
