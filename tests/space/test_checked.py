"""What was touched on board counts at that place, for that module, while it stands there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitcheck.geometry.grid import Grid
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Frame
from fitcheck.model.given.boat import Checked, Spot
from fitcheck.space.cells.labels import Labelling
from fitcheck.space.checked import HAND, count_checks
from tests.specimens.fit import FRAME, module, plan

GRID = Grid(origin=(-1.0, -1.0, 0.0), pitch=0.05, shape=(40, 40, 20))
AT = (0.0, 0.0, 0.0)


def labelled() -> Labelling:
    """Everything is glimpsed but one half, which was never seen, and a solid floor."""
    glimpsed = np.zeros(GRID.shape, dtype=np.bool_)
    glimpsed[:, 10:, 1:] = True
    label = np.full(GRID.shape, UNSEEN, dtype=np.uint8)
    label[:, :, 0] = SOLID
    return Labelling(
        label=label,
        glimpsed=glimpsed,
        opening=None,
        facing=1.0,
        trapped=0,
        eyes=6,
        needed=2,
    )


def counted(*checks: Checked, frame: Frame = FRAME) -> tuple[Labelling, list[str], int]:
    """Labels afterwards, rules of the findings, number of assumptions."""
    scene = plan((module("pump"), AT))
    scene = replace(scene, boat=replace(scene.boat, checked=checks))
    found = labelled()
    findings, taken = count_checks(scene, frame, GRID, found)
    return found, [row.rule for row in findings], len(taken)


def check(**changes: Any) -> Checked:
    whole = {"of": "pump", "at": (0.15, 0.0, 0.1), "gap": 0.06, "position": AT} | changes
    at = Spot(frame="boat", at=whole.pop("at"))
    return Checked(at=at, **whole)


def test_cells_within_the_gap_and_a_hand_of_the_place_turn_free() -> None:
    found, rules, taken = counted(check())
    assert (rules, taken) == ([], 1)
    centres = GRID.centre(np.argwhere(found.label == FREE))
    box = plan((module("pump"), AT)).placed.module("pump").box
    assert len(centres)
    assert box.distance(centres).max() <= 0.06
    assert np.linalg.norm(centres - np.array([0.15, 0.0, 0.1]), axis=1).max() <= HAND
    assert not found.glimpsed[found.label == FREE].any()


def test_space_that_was_never_seen_is_not_freed_by_a_hand() -> None:
    found, *_ = counted(check(at=(0.0, -0.6, 0.1), gap=0.9))
    before = labelled()
    assert not ((found.label == FREE) & ~before.glimpsed).any()


@pytest.mark.parametrize(
    "changes",
    [{"position": (0.0, 0.002, 0.0)}, {"position": None}, {"of": "no such thing"}],
)
def test_a_check_of_something_that_moved_or_is_not_there_lapses(changes: dict[str, Any]) -> None:
    found, rules, taken = counted(check(**changes))
    assert (rules, taken) == (["check-lapsed"], 0)
    assert not (found.label == FREE).any()
