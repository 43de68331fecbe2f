"""Uncertainties: interval coverage, outliers identified, tilt and height from points.

Coverage is counted over many random cases: a stated 95 % interval must contain the truth in at
least 93 % of them, and must not be uselessly wide.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.errors import MeshError
from fitcheck.geometry.box import as_point, rotation
from fitcheck.model.contact import Kind
from fitcheck.model.given.boat import Boat, Datum, TapeMeasure
from fitcheck.model.uncertainty import COVERAGE, Uncertainty, verdict_of
from fitcheck.space import explain_scale
from fitcheck.space.datum.frame import find_frame, to_boat
from fitcheck.space.datum.least_squares import fit, student
from fitcheck.space.datum.level import find_level
from fitcheck.space.datum.picks import PICK
from fitcheck.space.datum.scale import find_scale
from fitcheck.space.shown import waver_of
from fitcheck.space.stage import survey
from fitcheck.units import parse
from tests import specimens
from tests.specimens.explained import typed_in

Floats = Any
TRIALS = 2000
#: Standard deviation of a point picked on a scan with 10 mm accuracy, and of a tape reading.
ON_SURFACE = float(np.hypot(PICK, 0.010 / COVERAGE))
READING = 0.003 / COVERAGE


def scanned(**changes: Any) -> Boat:
    """A scanned boat whose mesh is not read."""
    plain: dict[str, Any] = {"origin": "scan", "unit": 1.0, "scan_accuracy": 0.010}
    return specimens.boat(Path("scan.ply"), **{**plain, **changes})


# --- tape measures ----------------------------------------------------------------------------


def taped(
    rng: np.random.Generator, lengths: Floats, *, worse: float = 1.0, scale: float = 1.0104
) -> tuple[TapeMeasure, ...]:
    """Tape measurements of those true lengths on a scan `scale` too small, with the assumed pick
    error.

    worse : factor by which the picks are worse than assumed
    """
    tapes = []
    for length in lengths:
        way = rng.normal(size=3)
        way /= np.linalg.norm(way)
        start = rng.uniform(-1.0, 1.0, 3)
        ends = np.stack([start, start + length * way])
        ends = (ends + rng.normal(0.0, worse * ON_SURFACE, (2, 3))) / scale
        tapes.append(
            TapeMeasure(
                start=as_point(ends[0]),
                end=as_point(ends[1]),
                length=float(length + rng.normal(0.0, READING)),
            )
        )
    return tuple(tapes)


@pytest.mark.parametrize("lengths", [(2.0,), (2.0, 1.4), (2.0, 1.4, 1.2), (2.0, 1.9, 1.4, 1.2)])
def test_the_scale_is_within_its_stated_uncertainty(lengths: Floats) -> None:
    within, wide = _counted(lengths, 1.0)
    assert within >= 0.93 * TRIALS
    # No more than normal theory with everything known, times the penalty for few values.
    assert wide <= 1.6 * _known(lengths)


def test_picks_twice_as_bad_as_assumed_show_in_six_tapes() -> None:
    within, wide = _counted((2.0, 1.9, 1.4, 1.2, 1.0, 0.8), 2.0)
    assert within >= 0.90 * TRIALS
    assert wide >= 1.8 * _known((2.0, 1.9, 1.4, 1.2, 1.0, 0.8))


def _counted(lengths: Floats, worse: float) -> tuple[int, float]:
    """Number of trials with the scale in its interval, and the interval's median width."""
    rng = np.random.default_rng(len(lengths))
    within, wide = 0, []
    for _ in range(TRIALS):
        found = find_scale(scanned(tape_measures=taped(rng, lengths, worse=worse)))
        wide.append(COVERAGE * found.uncertainty)
        within += abs(found.value / 1.0104 - 1.0) <= wide[-1]
    return within, float(np.median(wide))


def _known(lengths: Floats) -> float:
    """The interval if every standard deviation were known exactly."""
    each = COVERAGE * float(np.hypot(np.sqrt(2) * ON_SURFACE, READING))
    return each / float(np.linalg.norm(lengths))


@pytest.mark.parametrize("bad", range(4))
@pytest.mark.parametrize("off", [0.10, -0.10])
def test_one_bad_tape_of_four_is_identified_and_dropped(bad: int, off: float) -> None:
    """Read 100 mm wrong, as happens at the tape's first mark."""
    rng = np.random.default_rng(bad)
    found = 0
    for _ in range(40):
        tapes = list(taped(rng, (2.0, 1.7, 1.4, 1.2)))
        tapes[bad] = replace(tapes[bad], length=tapes[bad].length + off)
        scale = find_scale(scanned(tape_measures=tuple(tapes)))
        named = [row for row in scale.findings if row.rule == "tape-disagreement"]
        told = named[0].text if len(named) == 1 else ""
        if f"number {bad + 1} " in told and "than the others" in told:
            assert ("longer" in told) is (off > 0.0)
            assert scale.value == pytest.approx(1.0104, rel=0.03)
            found += 1
    assert found >= 36


def test_the_value_without_the_outlier_is_reported() -> None:
    """Three tapes agree on 1, the fourth is 10 % long: 1 without it, more with it."""
    tapes = tuple(
        TapeMeasure(start=(0.0, 0.0, 0.0), end=(length, 0.0, 0.0), length=length * more)
        for length, more in ((2.0, 1.0), (1.5, 1.0), (1.2, 1.0), (1.0, 1.1))
    )
    found = find_scale(scanned(tape_measures=tapes))
    told = next(row for row in found.findings if row.rule == "tape-disagreement")
    with_it = (4.0 + 2.25 + 1.44 + 1.1) / (4.0 + 2.25 + 1.44 + 1.0)
    assert f"Without it the scale is 1, with it {with_it:.5g}" in told.text
    assert told.value == pytest.approx(0.1)
    assert found.value == pytest.approx(1.0)


def test_one_bad_tape_of_three_is_named_but_kept() -> None:
    tapes = tuple(
        TapeMeasure(start=(0.0, 0.0, 0.0), end=(length, 0.0, 0.0), length=length * more)
        for length, more in ((2.0, 1.0), (1.5, 1.0), (1.2, 1.15))
    )
    found = find_scale(scanned(tape_measures=tapes))
    assert "number 3" in next(r.text for r in found.findings if r.rule == "tape-disagreement")
    assert found.value > 1.01
    assert abs(found.value - 1.0) <= COVERAGE * found.uncertainty * found.value


def test_good_tapes_are_seldom_suspected() -> None:
    rng = np.random.default_rng(1)
    tapes = [taped(rng, (2.0, 1.7, 1.4, 1.2, 1.0)) for _ in range(TRIALS // 2)]
    told = [
        any(row.severity != "note" for row in find_scale(scanned(tape_measures=rows)).findings)
        for rows in tapes
    ]
    assert sum(told) <= 0.01 * TRIALS


@given(st.integers(0, 10_000), st.integers(3, 9))
def test_order_and_unit_of_values_do_not_matter(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    design = rng.uniform(0.5, 2.0, (count, 1))
    measured = design[:, 0] + rng.normal(0.0, 0.01, count)
    deviation = np.full(count, 0.01)
    here = fit(design, measured, deviation)
    order = rng.permutation(count)
    there = fit(design[order], 1000.0 * measured[order], 1000.0 * deviation)
    assert there.values == pytest.approx(1000.0 * here.values)
    assert there.spread == pytest.approx(1e6 * here.spread)
    assert [int(order[number]) for number in there.outliers] == list(here.outliers)


def test_students_factor_matches_the_table() -> None:
    """JCGM 100:2008, table G.2, 95 %: 12.71, 4.30, 3.18, 2.57, 2.23."""
    for free, printed in ((1, 12.71), (2, 4.30), (3, 3.18), (5, 2.57), (10, 2.23)):
        assert COVERAGE * student(free) == pytest.approx(printed, abs=0.005)


# --- level and waterline ----------------------------------------------------------------------

PLACES = np.array([(x, y) for x in (-0.9, 0.0, 0.9) for y in (-0.7, 0.7)])


def marks(
    rng: np.random.Generator, sea: float = 0.4, *, places: Floats = PLACES, worse: float = 1.0
) -> Floats:
    """Waterline marks picked on a scan."""
    heights = sea + rng.normal(0.0, 0.006 / COVERAGE, len(places))
    points = np.column_stack([places, heights])
    return points + rng.normal(0.0, worse * ON_SURFACE, points.shape)


def rows(points: Floats) -> tuple[Any, ...]:
    return tuple(as_point(point) for point in points)


def test_heights_and_tilts_are_within_their_stated_uncertainty() -> None:
    rng = np.random.default_rng(7)
    places = [(0.0, 0.0, 0.0), (0.8, 0.5, -0.2), (-1.0, 0.6, 0.5)]
    held = np.zeros(len(places) + 2)
    wide = []
    trials = TRIALS // 2
    for _ in range(trials):
        turn = rotation((float(rng.normal(0, 0.02)), float(rng.normal(0, 0.02)), 0.0))
        found = find_frame(
            scanned(
                waterline=rows(marks(rng) @ turn.T),
                up=None,
                datum=None,
                inside=as_point(turn @ np.array([0.0, 0.0, 0.6])),
            )
        )
        sure = found.uncertainty
        true = np.array([(x, y, z + 0.4) for x, y, z in places]) @ turn.T
        above = to_boat(found.frame, true)
        for number, (x, y, z) in enumerate(places):
            held[number] += abs(above[number, 2] - z) <= sure.of_height((x, y, z))
        up = np.array(found.frame.turn) @ turn @ np.array([0.0, 0.0, 1.0])
        held[-2] += abs(up[0]) <= COVERAGE * sure.trim
        held[-1] += abs(up[1]) <= COVERAGE * sure.roll
        wide.append(sure.of_height(places[0]))
    assert (held >= 0.93 * trials).all()
    assert np.median(wide) < 2.5 * ON_SURFACE


@pytest.mark.parametrize("bad", range(6))
def test_one_bad_waterline_point_is_named(bad: int) -> None:
    rng = np.random.default_rng(bad)
    found = 0
    for _ in range(50):
        points = marks(rng, places=np.concatenate([PLACES, 0.6 * PLACES[::2]]))
        points[bad, 2] += 0.15
        level = find_level(scanned(waterline=rows(points), datum=None), 1.0)
        named = [row for row in level.findings if row.rule == "waterline-outlier"]
        found += [f"Point {bad + 1} " in row.text and "above" in row.text for row in named] == [
            True
        ]
    assert found >= 45


def test_two_bad_waterline_points_of_twelve_are_identified_and_dropped() -> None:
    rng = np.random.default_rng(1)
    points = marks(rng, places=np.concatenate([PLACES, 0.6 * PLACES]))
    for bad in (2, 8):
        points[bad, 2] += 0.12
    level = find_level(scanned(waterline=rows(points), datum=None), 1.0)
    named = [row for row in level.findings if row.rule == "waterline-outlier"]
    assert len(named) == 2
    for bad in (2, 8):
        assert any(f"Point {bad + 1} " in row.text and "not used" in row.text for row in named)
    assert all(row.bars == () for row in named)


def test_two_tapes_that_disagree_bar_both_steps() -> None:
    tapes = tuple(
        TapeMeasure(start=(0.0, 0.0, 0.0), end=(length, 0.0, 0.0), length=length * more)
        for length, more in ((2.0, 1.0), (1.5, 1.1))
    )
    told = find_scale(scanned(tape_measures=tapes)).findings
    (found,) = [row for row in told if row.rule == "tape-disagreement"]
    assert found.bars == ("cut_joinery", "order_hoses")


@pytest.mark.parametrize(("more", "bars"), [(1.1, ("cut_joinery", "order_hoses")), (1.0, ())])
def test_one_tape_against_the_unit_bars_both_steps(more: float, bars: tuple[str, ...]) -> None:
    tape = TapeMeasure(start=(0.0, 0.0, 0.0), end=(2.0, 0.0, 0.0), length=2.0 * more)
    told = find_scale(scanned(tape_measures=(tape,), origin="cad", unit=1.0)).findings
    assert tuple(step for row in told for step in row.bars) == bars


def test_up_from_points_of_one_height() -> None:
    """A mesh rolled by 3 deg: by its own axis the floor would slope."""
    turn = rotation((np.radians(3.0), 0.0, 0.0))
    floor = rows(np.column_stack([PLACES, np.zeros(6)]) @ turn.T)
    datum = Datum(point=(0.0, 0.0, 0.0), above_sea=-0.4, taken="hose")
    level = find_level(scanned(datum=datum, up=(0.0, 0.0, 1.0), level=floor), 1.0)
    assert level.up == pytest.approx(turn @ np.array([0.0, 0.0, 1.0]), abs=1e-9)
    assert level.height == pytest.approx(0.4)
    assert not any("up axis" in row.what for row in level.assumptions)


def test_an_axis_proves_nothing_and_has_half_a_degree_uncertainty() -> None:
    level = find_level(scanned(), 1.0)
    assert level.slope(np.array([0.0, 1.0, 0.0])) == pytest.approx(np.radians(0.5))
    assert any(row.can_flip and "up axis" in row.what for row in level.assumptions)
    assert find_level(scanned(origin="cad"), 1.0).slope(np.array([0.0, 1.0, 0.0])) == 0.0


def test_level_points_that_contradict_the_waterline_are_reported() -> None:
    marks = rows(np.column_stack([PLACES, np.full(6, 0.4)]))
    tipped = rows(np.column_stack([PLACES, 0.1 * PLACES[:, 0]]))
    level = find_level(scanned(waterline=marks, level=tipped), 1.0)
    told = {row.rule: set(row.bars) for row in level.findings}
    assert told["level-disagreement"] == {"cut_joinery", "order_hoses"}
    level = find_level(scanned(waterline=marks, level=marks), 1.0)
    assert "level-disagreement" not in {row.rule for row in level.findings}


@pytest.mark.parametrize(
    ("known", "says"),
    [
        ({"level": ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (2.0, 0.01, 0.0))}, "near one line"),
        ({"up": None}, "the vertical is not defined"),
    ],
)
def test_input_that_cannot_define_up_is_refused(known: Any, says: str) -> None:
    with pytest.raises(MeshError, match=says):
        find_level(scanned(**known), 1.0)


# --- the model --------------------------------------------------------------------------------


def test_uncertainties_in_simple_cases() -> None:
    """Sides of right-angled triangles, expanded by 1.96."""
    sure = Uncertainty(surface=0.003, pick=0.004, scale=0.004, height=0.003, trim=0.004)
    assert sure.of_gap((1.0, 0.0, 0.0)) == pytest.approx(1.96 * 0.005)
    assert sure.of_gap((0.0, 0.0, 0.0)) == pytest.approx(sure.of_surface())
    assert sure.of_gap((0.0, 0.0, 0.0), "solid") == pytest.approx(1.96 * 0.005)
    assert sure.of_gap((1.0, 0.0, 0.0), "module") == 0.0
    assert sure.of_gap((1.0, 0.0, 0.0), "board") == 0.0
    assert sure.of_height((1.0, 5.0, 0.0)) == pytest.approx(1.96 * 0.005)
    assert Uncertainty(scale=0.01).of_length(2.0) == pytest.approx(1.96 * 0.02)
    assert Uncertainty(pick=0.005).of_length(2.0, picked=2) == pytest.approx(1.96 * 0.005 * 2**0.5)
    cells = Uncertainty(cell=0.012**0.5).of_gap((0.0, 0.0, 0.0), "unseen")
    assert cells == pytest.approx(1.96 * 0.001**0.5)


@given(
    st.tuples(*[st.floats(0.0, 0.05)] * 7),
    st.tuples(*[st.floats(-3.0, 3.0)] * 3),
    st.floats(0.0, 5.0),
)
def test_less_knowledge_never_reduces_uncertainty(parts: Any, place: Any, length: float) -> None:
    names = ("surface", "pick", "scale", "height", "roll", "trim", "cell")
    known = dict(zip(names, parts, strict=True))
    sure = Uncertainty(**known)
    for name in names:
        less = Uncertainty(**{**known, name: known[name] + 0.01})
        for met in get_args(Kind):
            assert less.of_gap(place, met) >= sure.of_gap(place, met)
        assert less.of_length(length, 1) >= sure.of_length(length, 1)
        assert less.of_height(place, picked=True) >= sure.of_height(place, picked=True)


@given(st.floats(-0.1, 0.1), st.floats(0.0, 0.05), st.floats(0.0, 0.02))
def test_clear_is_only_reported_on_the_safe_side(gap: float, unsure: float, asked: float) -> None:
    verdict = verdict_of(gap, unsure, asked)
    worst, best = gap - unsure, gap + unsure
    if verdict == "clear":
        assert worst >= asked - 1e-9
    if verdict == "does not fit":
        assert best < 0.0
    order = ("does not fit", "tight", "clear")
    assert order.index(verdict_of(gap + 0.01, unsure, asked)) >= order.index(verdict)


# --- what the scan itself shows -------------------------------------------------------------


def wavy(amplitude: float) -> Floats:
    """A room of 2 m with noise square to its walls, one sigma."""
    rng = np.random.default_rng(5)
    room = np.ascontiguousarray(subdivided(specimens.room(), 5))
    corners, which = np.unique(np.round(room.reshape(-1, 3), 6), axis=0, return_inverse=True)
    return (corners + rng.normal(0.0, amplitude, corners.shape))[which.ravel()].reshape(-1, 3, 3)


def subdivided(triangles: Floats, times: int) -> Floats:
    for _ in range(times):
        a, b, c = np.moveaxis(triangles, 1, 0)
        ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
        quarters = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
        triangles = np.concatenate([np.stack(rows, axis=1) for rows in quarters])
    return triangles


@pytest.mark.parametrize("sigma", [0.002, 0.004])
def test_smooth_faces_show_at_most_their_noise(sigma: float) -> None:
    """Points sampled between noisy corners have half to all of the corners' noise."""
    waver = waver_of(wavy(sigma))
    assert waver is not None
    assert 0.4 * COVERAGE * sigma < waver.value < COVERAGE * sigma


def test_a_smooth_sphere_has_no_residual() -> None:
    waver = waver_of(specimens.sphere(1.0, rings=64))
    assert waver is not None
    assert waver.value < 0.001


def test_an_optimistic_accuracy_is_doubted_and_replaced(tmp_path: Path) -> None:
    """+-1 mm stated for walls with 4 mm of noise: doubted, replaced, and accepted after the
    remedy.
    """
    path = tmp_path / "scan.ply"
    specimens.write_ply(path, wavy(0.004))
    said = specimens.scenario(scanned_room(path, scan_accuracy=0.001))
    space = survey(said)
    (doubt,) = (row for row in space.findings if row.rule == "accuracy-doubted")
    assert space.accuracy == pytest.approx(doubt.limit)
    assert 0.003 < space.accuracy < 0.008
    (change,) = doubt.remedy.changes
    assert change.key == "boat.scan_accuracy"
    honest = parse(change.value, "length")
    space = survey(specimens.scenario(scanned_room(path, scan_accuracy=honest)))
    assert all(row.rule != "accuracy-doubted" for row in space.findings)
    assert space.accuracy == pytest.approx(honest)


def scanned_room(path: Path, **changes: Any) -> Boat:
    return specimens.boat(path, origin="scan", unit=1.0, **changes)


def test_the_scale_is_explained_by_arithmetic() -> None:
    """Three tapes along x, 0.2 %, 0.6 % and 0.4 % long, with equal uncertainty."""
    tapes = tuple(
        TapeMeasure(start=(0.0, 0.0, 0.0), end=(length, 0.0, 0.0), length=length * more)
        for length, more in ((2.0, 1.002), (1.5, 1.006), (1.0, 1.004))
    )
    of = scanned(unit=None, scan_accuracy=0.006, tape_measures=tapes)
    told = explain_scale(of)
    steps = {row.what: row for row in told.steps}
    by_hand = (2.0**2 * 1.002 + 1.5**2 * 1.006 + 1.0 * 1.004) / (2.0**2 + 1.5**2 + 1.0)
    assert steps["scale"].value == pytest.approx(by_hand, rel=1e-9)
    surface = math.hypot(0.008, 0.006 / 1.96)
    one = math.hypot(0.003 / 1.96, math.sqrt(2.0) * surface)
    # JCGM 100:2008, G.3 and G.4: two degrees of freedom, four more from prior knowledge; t of 6 is
    # 2.447.
    square = sum(
        ((by_hand - more) * length / one) ** 2
        for length, more in ((2.0, 1.002), (1.5, 1.006), (1.0, 1.004))
    )
    wider = max(1.0, (4.0 + square) / 6.0 * (2.447 / 1.96) ** 2)
    unsure = 1.96 * math.sqrt(wider) * one / math.sqrt(2.0**2 + 1.5**2 + 1.0) / by_hand
    assert told.steps[-1].value == pytest.approx(unsure, rel=1e-3)
    assert find_scale(of).value == pytest.approx(by_hand, rel=1e-9)
    for row in told.steps:
        if row.numbers:
            assert typed_in(row) == pytest.approx(row.value, rel=1e-5), row.what


def test_an_unmeasured_scale_is_reported_as_such() -> None:
    unit, unsure = explain_scale(scanned(unit=0.001)).steps
    assert (unit.value, unit.numbers) == (0.001, "")
    assert unsure.value == pytest.approx(0.02)
