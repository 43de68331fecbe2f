"""Service clearance: a certain neighbour does not hide an uncertain wall, nor the reverse."""

from __future__ import annotations

import pytest

from fitcheck.fit import check_fit
from tests.specimens import hand_made_space
from tests.specimens.fit import module, needs, plan, scanned

SIZE = (0.3, 0.2, 0.25)


@pytest.mark.parametrize(
    ("wall", "other", "severity"),
    [(0.306, 0.303, "caution"), (0.290, 0.295, "fail"), (0.345, 0.303, None)],
)
def test_every_kind_in_front_of_a_face_counts(
    wall: float, other: float, severity: str | None
) -> None:
    x = 1.0 - wall - SIZE[0] / 2
    pump = module("pump", SIZE, service=needs("front", 0.3))
    block = module("other", (0.1, 0.05, 0.05))
    beside = (block, (x + SIZE[0] / 2 + other + 0.05, 0.1, 0.3))
    layout = plan((pump, (x, 0.1, 0.2)), beside, scan=True)
    fit = check_fit(layout, scanned(hand_made_space(), 0.039))
    found = [row.severity for row in fit.findings if row.rule == "service-clearance"]
    assert found == ([severity] if severity else [])
    assert (fit.module("pump").service[0].verdict == "clear") is (severity is None)
