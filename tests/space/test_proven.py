"""The basis of a "yes": a proven scale, and marks of which the wrong ones are identified."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fitcheck.scenario import read_scenario
from fitcheck.space.datum.least_squares import fit
from fitcheck.space.datum.level_remarks import unproven_findings
from fitcheck.space.datum.scale import find_scale
from tests.layouts.sound import Shape, bay

SHAPE = Shape(length=3.0, width=1.8, height=1.5, sole=-0.4, hull="plain")


def test_two_wrong_marks_of_twelve_are_named_and_removed() -> None:
    rng = np.random.default_rng(5)
    places = rng.uniform(-1.0, 1.0, (12, 2))
    design = np.column_stack([np.ones(12), places])
    heights = rng.normal(0.0, 0.003, 12)
    heights[[3, 8]] += 0.15
    found = fit(design, heights, np.full(12, 0.005))
    assert set(found.outliers) == {3, 8}
    assert np.flatnonzero(~found.kept).tolist() == [3, 8]
    assert abs(found.values[1:]).max() < 0.01


@pytest.mark.parametrize(
    ("lengths", "barred"),
    [((), True), ((3.0,), False), ((3.0, 3.0), False), ((3.0, 3.3), True), ((3.3, 3.3), True)],
)
def test_a_drawing_scale_is_proven_by_an_agreeing_tape(
    tmp_path: Path, lengths: tuple[float, ...], barred: bool
) -> None:
    boat = read_scenario(bay("one", SHAPE).write(tmp_path)).boat
    tapes = tuple(replace(boat.tape_measures[0], length=length) for length in lengths)
    findings = find_scale(replace(boat, tape_measures=tapes)).findings
    assert any("cut_joinery" in row.bars for row in findings) == barred


def test_a_drawing_needs_its_trim_stated_to_float_as_drawn(tmp_path: Path) -> None:
    boat = read_scenario(bay("one", SHAPE).write(tmp_path)).boat
    assert unproven_findings(boat) == ()
    unsaid = replace(boat, conditions=replace(boat.conditions, given=()))
    assert [row.rule for row in unproven_findings(unsaid)] == ["up-unproven"]
    assert [row.rule for row in unproven_findings(replace(boat, datum=None))] == ["sea-unproven"]
