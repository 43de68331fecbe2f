"""The fit: verdicts in simple scenes, and remedies that work."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitcheck.geometry.box import as_point, rotation
from fitcheck.model.found.space import SOLID, UNSEEN, PlacedVolume, Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.space.look.bits import loose_bits
from fitcheck.units import parse
from tests.specimens import (
    allowances,
    box,
    hand_made_space,
    sheet,
    upright_box,
)
from tests.specimens.fit import (
    ENGINE,
    changed,
    fails,
    gaps,
    module,
    needs,
    noisy_room,
    plan,
    rules,
    scanned,
    unseen_where,
)
from tests.specimens.mended import mended_fit

# --- verdicts ---------------------------------------------------------------------------------


def test_a_box_on_the_sole_fits_and_its_gaps_are_the_walls() -> None:
    fit = mended_fit(plan((module("pump"), (0.0, 0.1, 0.0))), hand_made_space())
    row = fit.module("pump")
    assert row.verdict == "fits"
    assert row.smallest_gap == pytest.approx(0.0, abs=1e-8)
    known = {"front": 0.85, "back": 0.85, "left": 0.55, "right": 0.75, "top": 0.95, "base": 0.0}
    assert {face: gap for face, (gap, _) in gaps(fit, "pump").items()} == pytest.approx(
        known, abs=1e-6
    )
    assert {meets for _, meets in gaps(fit, "pump").values()} == {"hull or joinery"}
    assert not fails(fit)


@pytest.mark.parametrize(
    ("shift", "verdict"),
    [(0.05, "fits"), (0.0101, "fits"), (0.005, "tight"), (0.001, "fits"), (-0.02, "clash")],
)
def test_standing_off_a_wall(shift: float, verdict: str) -> None:
    """Clear, clear, too near, screwed to it, in it: 10 mm is required, the mesh is a drawing."""
    pump = module("pump", fixed_by=("front",))
    fit = mended_fit(plan((pump, (0.85 - shift, 0.0, 0.0))), hand_made_space())
    assert fit.module("pump").verdict == verdict
    assert gaps(fit, "pump")["front"][0] == pytest.approx(shift, abs=1e-6)
    assert (("note", "mounted") in rules(fit, "pump")) is (shift == 0.001)


def test_a_face_it_is_not_fixed_by_has_a_gap_even_near_the_wall() -> None:
    fit = mended_fit(plan((module("pump"), (0.849, 0.0, 0.0))), hand_made_space())
    assert fit.module("pump").verdict == "tight"
    assert ("note", "mounted") not in rules(fit, "pump")


def test_too_small_a_gap_is_reported_with_its_size() -> None:
    fit = mended_fit(plan((module("pump"), (0.845, 0.0, 0.0))), hand_made_space())
    finding = next(row for row in fit.findings if row.rule == "tight")
    assert finding.value == pytest.approx(0.005)
    assert finding.limit == pytest.approx(0.010)
    assert "5 mm" in finding.text


def test_a_gap_near_a_corner_is_measured_diagonally() -> None:
    """A post 6 mm away in x and in y, in front of no face: 8.5 mm, less than 10."""
    post = ((0.156, 0.106, 0.0), (0.256, 0.206, 0.5))
    fit = mended_fit(plan((module("pump"), (0.0, 0.0, 0.0))), hand_made_space([post]))
    assert fit.module("pump").verdict == "tight"
    finding = next(row for row in fit.findings if row.rule == "tight")
    assert finding.value == pytest.approx(0.006 * math.sqrt(2.0), abs=1e-9)


def test_clash_with_the_mesh_has_depth_and_place() -> None:
    fit = mended_fit(plan((module("pump"), (0.09, 0.0, 0.0))), hand_made_space([ENGINE]))
    (finding,) = [row for row in fails(fit) if row.rule == "clash"]
    assert fit.module("pump").verdict == "clash"
    assert finding.value == pytest.approx(-0.04, abs=1e-6)
    assert fit.module("pump").smallest_gap == pytest.approx(-0.04, abs=1e-6)
    assert finding.place is not None
    assert finding.place[0] == pytest.approx(0.2, abs=1e-6)


def test_clash_between_modules_names_both_once() -> None:
    pair = plan((module("pump"), (0.0, 0.0, 0.0)), (module("vessel"), (0.25, 0.0, 0.0)))
    fit = mended_fit(pair, hand_made_space())
    (finding,) = fails(fit)
    assert "pump" in finding.text
    assert "vessel" in finding.text
    assert finding.value == pytest.approx(-0.05)
    assert {row.verdict for row in fit.modules} == {"clash"}


def test_modules_nearer_than_the_gap_are_tight() -> None:
    pair = plan((module("pump"), (0.0, 0.0, 0.0)), (module("vessel"), (0.306, 0.0, 0.0)))
    fit = mended_fit(pair, hand_made_space())
    assert {row.verdict for row in fit.modules} == {"tight"}
    assert fit.module("pump").meets == "hull or joinery"
    assert gaps(fit, "pump")["front"] == (pytest.approx(0.006), "vessel")
    wide = replace(pair, kit=replace(pair.kit, allowances=allowances(box_gap=0.005)))
    assert {row.verdict for row in mended_fit(wide, hand_made_space()).modules} == {"fits"}


def test_keep_out_and_declared_solid() -> None:
    space = hand_made_space(keep_outs=[((0.2, -0.3, 0.0), (0.5, 0.3, 0.5))])
    tank = PlacedVolume(name="tank", box=upright_box((-0.5, -0.3, 0.0), (-0.2, 0.3, 0.5)), why="")
    space = replace(space, solids=(tank,))
    fit = mended_fit(plan((module("pump"), (0.06, 0.0, 0.0))), space)
    assert gaps(fit, "pump")["front"] == (pytest.approx(-0.01), "keep out")
    (finding,) = fails(fit)
    assert finding.rule == "clash"
    touching = mended_fit(plan((module("pump"), (0.05, 0.0, 0.0))), space)
    assert touching.module("pump").verdict == "fits"
    fit = mended_fit(plan((module("pump"), (-0.06, 0.0, 0.0))), space)
    assert gaps(fit, "pump")["back"] == (pytest.approx(-0.01), "tank")
    assert fit.module("pump").verdict == "clash"


def test_a_box_inside_a_solid_is_rejected_without_touching_a_triangle() -> None:
    small = module("pump", (0.1, 0.1, 0.1))
    fit = mended_fit(plan((small, (0.5, 0.0, 0.2))), hand_made_space([ENGINE]))
    assert fit.module("pump").verdict == "clash"
    assert fit.module("pump").smallest_gap < 0.0
    assert "solid" in fails(fit)[0].text


@pytest.mark.parametrize("side", [0.03, 0.1, 0.3])
def test_a_box_in_unseen_space_only_is_rejected(side: float) -> None:
    """Inside an engine of which only the skin is labelled: unseen, however small the box."""
    space = hand_made_space([ENGINE])
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    depth = upright_box(*ENGINE).distance(centres)
    label = np.where(depth < -space.grid.pitch / 2, UNSEEN, space.label).astype(np.uint8)
    label[centres[..., 2] < 0.0] = SOLID
    space = replace(space, label=label)
    fit = mended_fit(plan((module("pump", (side,) * 3), (0.5, 0.0, 0.25 - side / 2))), space)
    assert fit.module("pump").verdict == "unseen"
    assert fails(fit)[0].rule == "unseen"


def test_unseen_space_bars_a_box() -> None:
    """Cells are 20 mm; those of x 0.30 and more are unseen, the box reaches to 0.35."""
    space = unseen_where(hand_made_space(), (0.30, -1.0, 0.1), (0.9, 1.0, 1.0))
    fit = mended_fit(plan((module("pump"), (0.2, 0.0, 0.0))), space)
    assert fit.module("pump").verdict == "unseen"
    (finding,) = fails(fit)
    assert finding.rule == "unseen"
    assert finding.value == pytest.approx(-0.05, abs=1e-6)
    assert gaps(fit, "pump")["front"][0] == pytest.approx(0.0, abs=1e-6)
    clear = mended_fit(plan((module("pump"), (0.1, 0.0, 0.0))), space)
    assert clear.module("pump").verdict == "fits"
    assert gaps(clear, "pump")["front"] == (pytest.approx(0.05, abs=1e-6), "unscanned space")
    near = mended_fit(plan((module("pump"), (0.145, 0.0, 0.0))), space)
    assert near.module("pump").verdict == "tight"


def test_outside_the_boat() -> None:
    fit = mended_fit(plan((module("pump"), (3.0, 0.0, 0.2))), hand_made_space())
    assert fit.module("pump").verdict == "clash"
    (finding,) = fails(fit)
    assert finding.rule == "outside"
    assert "outside the boat" in finding.text
    half_out = mended_fit(plan((module("pump"), (1.0, 0.0, 0.2))), hand_made_space())
    assert ("fail", "outside") in rules(half_out, "pump")


# --- a scan's noise ---------------------------------------------------------------------------


def test_a_box_on_a_scanned_sole_is_supported_and_not_unseen() -> None:
    pump = module("pump", service=needs("front", 0.3))
    fit = mended_fit(plan((pump, (0.0, 0.0, 0.0)), scan=True), noisy_room())
    row = fit.module("pump")
    assert row.verdict == "fits"
    assert abs(gaps(fit, "pump")["base"][0]) <= 0.008 + 1e-9
    assert gaps(fit, "pump")["front"][0] == pytest.approx(0.85, abs=0.009)
    assert not fails(fit)


def test_a_box_against_a_scanned_wall_is_screwed_to_it() -> None:
    pump = module("pump", fixed_by=("front",))
    fit = mended_fit(plan((pump, (0.845, 0.0, 0.0)), scan=True), noisy_room())
    assert fit.module("pump").verdict == "fits"
    assert ("note", "mounted") in rules(fit, "pump")


def test_into_a_scanned_wall_beyond_its_accuracy_is_a_clash() -> None:
    fit = mended_fit(plan((module("pump"), (0.89, 0.0, 0.0)), scan=True), noisy_room())
    assert fit.module("pump").verdict == "clash"


def test_an_obstacle_within_accuracy_is_tight_and_says_so() -> None:
    """A small bracket reaches 12 mm into the box; the scan's uncertainty is 20 mm."""
    bracket = sheet(0.138, (-0.02, 0.1), (0.02, 0.14))
    space = scanned(hand_made_space(extra=bracket))
    fit = mended_fit(plan((module("pump"), (0.0, 0.0, 0.0)), scan=True), space)
    assert fit.module("pump").verdict == "tight"
    finding = next(row for row in fit.findings if row.rule == "tight")
    assert finding.value == pytest.approx(-0.012, abs=1e-6)
    assert "within the uncertainty of the mesh" in finding.text
    drawn = mended_fit(plan((module("pump"), (0.0, 0.0, 0.0))), space)
    assert drawn.module("pump").verdict == "clash"


def test_scale_error_grows_with_the_distance_from_the_origin() -> None:
    """+-3.9 % at 0.9 m is 34 mm, at 0.2 m 7 mm: 10 mm of 25 mm are certain only here."""
    space = hand_made_space(scale_uncertainty=0.02, accuracy=0.0)
    far = ((-0.975, -0.5, 0.0), (-0.875, 0.5, 1.2))
    pump = module("pump")
    fit = mended_fit(plan((pump, (-0.7, 0.0, 0.0)), scan=True), with_body(space, far))
    assert fit.module("pump").verdict == "tight"
    near = ((-0.275, -0.5, 0.0), (-0.175, 0.5, 1.2))
    fit = mended_fit(plan((pump, (0.0, 0.0, 0.0)), scan=True), with_body(space, near))
    assert fit.module("pump").verdict == "fits"


def test_a_loose_piece_is_named_and_still_counts() -> None:
    """20 mm of noise 5 mm ahead: still tight, but the user learns what to look for."""
    speck = box((0.155, -0.01, 0.1), (0.175, 0.01, 0.12))
    space = hand_made_space(extra=speck)
    bits = loose_bits(space.triangles)
    assert len(bits) == 1
    fit = mended_fit(plan((module("pump"), (0.0, 0.0, 0.0))), replace(space, bits=bits))
    assert fit.module("pump").verdict == "tight"
    assert gaps(fit, "pump")["front"] == (pytest.approx(0.005, abs=1e-6), "loose piece")
    (said,) = (finding for finding in fit.findings if finding.rule == "tight")
    assert "gap to a loose piece of the mesh (a bracket, or noise) is 5 mm" in said.text


def with_body(space: Space, body: tuple[tuple[float, ...], tuple[float, ...]]) -> Space:
    built = hand_made_space([body])
    return replace(space, triangles=built.triangles, label=built.label)


# --- service clearances -----------------------------------------------------------------------


def bowl(height: float) -> tuple[Scenario, Space]:
    """Filters mounted on the aft wall, with bowls that drop 120 mm, over a sole."""
    needed = needs("base", 0.12, "withdrawal")
    filters = module("prefilters", (0.1, 0.2, 0.3), service=needed, fixed_by=("back",))
    return plan((filters, (-0.95, 0.0, height))), hand_made_space()


def test_service_clearance_is_the_face_gap() -> None:
    fit = mended_fit(*bowl(0.062))
    (row,) = fit.module("prefilters").service
    assert row.available == pytest.approx(0.062, abs=1e-6)
    assert row.meets == "hull or joinery"
    (finding,) = fails(fit)
    assert finding.rule == "service-clearance"
    assert finding.value == pytest.approx(0.062, abs=1e-6)
    assert finding.limit == pytest.approx(0.12)
    assert "120 mm" in finding.text
    assert "62 mm" in finding.text
    assert not fails(mended_fit(*bowl(0.12)))


def test_bowl_remedy_raises_along_the_wall() -> None:
    scene, space = bowl(0.062)
    (finding,) = fails(mended_fit(scene, space))
    assert finding.remedy is not None
    (change,) = finding.remedy.changes
    assert change.key == "layout.modules.prefilters.at"
    assert change.value[:2] == ("-0.95 m", "0 m")
    assert parse(change.value[2], "length") == pytest.approx(0.122)
    assert finding.remedy.text.startswith("Raise prefilters by 60 mm")
    after = mended_fit(changed(scene, finding.remedy), space)
    assert not fails(after)
    assert after.module("prefilters").verdict == "fits"


def test_another_module_in_the_service_clearance() -> None:
    pump = module("pump", service=needs("front", 0.2))
    scene = plan((pump, (0.0, 0.0, 0.0)), (module("vessel"), (0.4, 0.0, 0.0)))
    fit = mended_fit(scene, hand_made_space())
    (row,) = fit.module("pump").service
    assert (row.available, row.meets) == (pytest.approx(0.1), "vessel")
    (finding,) = fails(fit)
    after = mended_fit(changed(scene, finding.remedy), hand_made_space())
    assert not fails(after)


def test_unseen_cells_and_keep_outs_limit_a_service_clearance() -> None:
    pump = module("pump", service=needs("front", 0.2) + needs("back", 0.2))
    space = unseen_where(hand_made_space(), (0.30, -1.0, 0.1), (0.9, 1.0, 1.0))
    keep = hand_made_space(keep_outs=[((-0.5, -0.5, 0.0), (-0.25, 0.5, 1.0))]).keep_outs
    fit = mended_fit(plan((pump, (0.0, 0.0, 0.0))), replace(space, keep_outs=keep))
    front, back = fit.module("pump").service
    assert (front.available, front.meets) == (pytest.approx(0.15, abs=1e-6), "unscanned space")
    assert (back.available, back.meets) == (pytest.approx(0.10), "keep out")


def test_a_shortfall_within_the_scans_accuracy_is_a_caution() -> None:
    pump = module("pump", service=needs("front", 0.5))
    wall = sheet(0.15 + 0.485, (-0.7, 0.0), (0.7, 1.2))
    space = hand_made_space(extra=wall)
    fit = mended_fit(plan((pump, (0.0, 0.0, 0.0)), scan=True), scanned(space))
    assert ("caution", "service-clearance") in rules(fit, "pump")
    assert not fails(fit)
    drawn = mended_fit(plan((pump, (0.0, 0.0, 0.0))), space)
    assert ("fail", "service-clearance") in rules(drawn, "pump")


# --- standing, hatch, lifting -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("stands", "rotate", "fine"),
    [
        ("upright", (0, 0, 77), True),
        ("upright", (4.9, 0, 0), True),
        ("upright", (5.1, 0, 0), False),
        ("upright", (90, 0, 0), False),
        ("horizontal", (90, 0, 30), True),
        ("horizontal", (0, 4.9, 0), True),
        ("horizontal", (0, 90, 0), False),
        ("any", (33, 90, 12), True),
    ],
)
def test_standing_rule(stands: Any, rotate: tuple[float, ...], fine: bool) -> None:
    scene = plan((module("pump", stands=stands), (0.0, 0.0, 0.5), rotate))
    fit = mended_fit(scene, hand_made_space())
    assert (("fail", "standing") not in rules(fit, "pump")) is fine
    if not fine:
        remedy = next(row.remedy for row in fit.findings if row.rule == "standing")
        assert not fails(mended_fit(changed(scene, remedy), hand_made_space()))


@pytest.mark.parametrize(
    ("height", "passes"), [(0.40, True), (0.202, True), (0.2005, False), (0.19, False)]
)
def test_hatch(height: float, passes: bool) -> None:
    """On end the box is 200 x 240, the hatch 300 by `height`, with an uncertainty of
    about 1 mm.
    """
    hatch = ((0.0, 0.0, 1.2), (0.3, 0.0, 1.2), (0.3, height, 1.2), (0.0, height, 1.2))
    pump = module("pump", (0.3, 0.2, 0.24))
    fit = mended_fit(plan((pump, (0.0, 0.0, 0.0))), hand_made_space(hatch=hatch, accuracy=0.001))
    assert (("caution", "hatch") not in rules(fit, "pump")) is passes
    notes = [row.text for row in fit.findings if row.subject == "boat.hatch"]
    assert len(notes) == 1
    assert "not checked" in notes[0]


def test_hatch_turned_and_too_small() -> None:
    turn = rotation((0.3, 0.2, 0.7))
    flat = np.array([(0.0, 0.0, 0.0), (0.5, 0.0, 0.0), (0.5, 0.19, 0.0), (0.0, 0.19, 0.0)])
    hatch = tuple(as_point(turn @ row) for row in flat)
    fit = mended_fit(plan((module("pump"), (0.0, 0.0, 0.0))), hand_made_space(hatch=hatch))
    finding = next(row for row in fit.findings if row.rule == "hatch" and row.subject == "pump")
    assert finding.severity == "caution"
    assert finding.value == pytest.approx(-0.01)
    assert finding.bars == ("cut_joinery",)
    assert finding.remedy is not None


def test_a_heavy_box_needs_two_persons() -> None:
    scene = plan((module("vessel", mass=15.1), (0.0, 0.0, 0.0)))
    assert ("note", "lifting") in rules(mended_fit(scene, hand_made_space()), "vessel")
    scene = plan((module("vessel", mass=15.0), (0.0, 0.0, 0.0)))
    assert ("note", "lifting") not in rules(mended_fit(scene, hand_made_space()), "vessel")


# --- invariants -------------------------------------------------------------------------------


def test_rotating_everything_by_90_degrees_changes_nothing() -> None:
    """The room, its engine and the modules rotated about the upright axis."""
    turn = rotation((0.0, 0.0, math.pi / 2))
    space = hand_made_space([ENGINE])
    turned = hand_made_space(
        [((-0.3, 0.2, 0.0), (0.3, 0.8, 0.5))], low=(-0.75, -1.0, 0.0), high=(0.75, 1.0, 1.2)
    )
    pump = module("pump", service=needs("front", 0.4))
    places = [(-0.1, 0.1, 0.0), (-0.6, 0.2, 0.3), (0.1, 0.1, 0.0)]
    for at in places:
        here = mended_fit(plan((pump, at, (0, 0, 20))), space).module("pump")
        there = mended_fit(plan((pump, turn @ np.array(at), (0, 0, 110))), turned).module("pump")
        assert here.verdict == there.verdict
        assert here.smallest_gap == pytest.approx(there.smallest_gap, abs=1e-7)
        for one, other in zip(here.faces, there.faces, strict=True):
            assert (one.face, one.meets) == (other.face, other.meets)
            assert one.gap == pytest.approx(other.gap, abs=1e-7)


def test_moving_away_from_a_wall_never_reduces_its_gap() -> None:
    last = -1.0
    for step in range(12):
        fit = mended_fit(plan((module("pump"), (0.9 - 0.02 * step, 0.0, 0.3))), hand_made_space())
        gap = gaps(fit, "pump")["front"][0]
        assert gap > last
        last = gap
