"""Supports of a box, and existing or planned boards."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitcheck.errors import MeshError
from fitcheck.geometry.box import as_axes, as_point, rotation
from fitcheck.model.finding import Finding
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.space import FREE, SOLID, Frame, PlacedVolume, Space
from fitcheck.model.given.boat import Bearing, Board, Spot
from fitcheck.space.boards import on_boards, place_boards, with_boards
from tests.specimens import (
    box,
    hand_made_space,
    upright_box,
)
from tests.specimens.fit import FRAME, INSIDE, one_pump
from tests.specimens.mended import mended_fit

RING = ((0.0, 0.0, 0.5), (0.4, 0.0, 0.5), (0.4, 0.3, 0.5), (0.0, 0.3, 0.5))


def board(*corners: tuple[float, float, float], **changes: Any) -> Board:
    spots = tuple(Spot(frame="boat", at=at) for at in corners or RING)
    plain = Board(name="shelf", corners=spots, thickness=0.018, state="planned")
    return replace(plain, **changes)


def with_solid(space: Space, *volumes: PlacedVolume) -> Space:
    return replace(space, solids=volumes)


def unheld(fit: Fit) -> list[Finding]:
    return [row for row in fit.findings if row.rule == "not-carried"]


def test_the_sole_supports_a_box_on_it() -> None:
    fit = mended_fit(one_pump((0.0, 0.1, 0.0)), hand_made_space())
    assert [(row.face, row.by) for row in fit.module("pump").carried_by] == [
        ("base", "hull or joinery")
    ]
    assert fit.module("pump").carried_by[0].share == pytest.approx(1.0)
    assert unheld(fit) == []


@pytest.mark.parametrize("gap", [0.016, 0.250, 0.600])
def test_an_unsupported_box_bars_cutting_and_names_possible_supports(gap: float) -> None:
    (finding,) = unheld(mended_fit(one_pump((0.0, 0.1, gap)), hand_made_space()))
    assert finding.bars == ("cut_joinery", "order_hoses")
    assert finding.value == pytest.approx(gap, abs=1e-6)
    assert "below it" in finding.text
    assert finding.remedy is not None
    assert 'at = ["0 m", "0.1 m", "0 m"]' in finding.remedy.text


def test_a_box_is_only_pushed_against_real_supports() -> None:
    """A post under one corner is the nearest surface; on it the box would tip over."""
    space = hand_made_space([((0.10, 0.58, 0.0), (0.14, 0.62, 0.3))])
    (finding,) = unheld(mended_fit(one_pump((0.0, 0.55, 0.4)), space))
    assert finding.remedy is not None
    assert finding.remedy.text.startswith("Add a board below it")


@pytest.mark.parametrize("gap", [0.010, 0.030])
def test_a_board_suggested_for_a_narrow_gap_fills_it(gap: float) -> None:
    (finding,) = unheld(mended_fit(one_pump((0.0, 0.1, gap)), hand_made_space()))
    assert finding.remedy is not None
    assert f'thickness = "{1000 * gap:.0f} mm"' in finding.remedy.text


def test_no_unsupported_board_is_suggested() -> None:
    """In the middle of the room, 0.75 m from any wall and too high for packing."""
    small = one_pump((0.0, 0.0, 0.7), size=(0.1, 0.1, 0.1))
    (finding,) = unheld(mended_fit(small, hand_made_space()))
    assert finding.remedy is not None
    assert "a board" not in finding.remedy.text
    assert 'at = ["0 m", "0 m", "0 m"]' in finding.remedy.text


def test_only_a_permitted_face_counts_as_support() -> None:
    # The back is against the after wall at x = -1, half a metre up.
    at = (-0.85, 0.1, 0.5)
    assert len(unheld(mended_fit(one_pump(at), hand_made_space()))) == 1
    fit = mended_fit(one_pump(at, ("base", "back")), hand_made_space())
    assert [row.face for row in fit.module("pump").carried_by] == ["back"]


@pytest.mark.parametrize(
    ("low", "high", "carried"),
    [
        (-0.16, 0.16, True),
        (0.0, 0.16, True),  # one half
        (0.05, 0.16, False),  # a third, all on one side
        (0.14, 0.16, False),
    ],
)
def test_a_pedestal_must_be_large_enough(low: float, high: float, carried: bool) -> None:
    space = hand_made_space([((low, -0.2, 0.0), (high, 0.2, 0.3))])
    fit = mended_fit(one_pump((0.0, 0.0, 0.3)), space)
    assert (unheld(fit) == []) == carried


def test_two_bearers_support_a_box_across_them() -> None:
    bearers = [((x, -0.2, 0.0), (x + 0.04, 0.2, 0.3)) for x in (-0.15, 0.11)]
    fit = mended_fit(one_pump((0.0, 0.0, 0.3)), hand_made_space(bearers))
    assert fit.module("pump").carried_by[0].share < 0.5
    assert unheld(fit) == []


def test_overlapping_contact_area_counts_once() -> None:
    third = box((0.05, -0.2, 0.298), (0.16, 0.2, 0.3))
    space = hand_made_space(extra=np.concatenate([third, third, third]))
    assert len(unheld(mended_fit(one_pump((0.0, 0.0, 0.3)), space))) == 1


def test_a_lid_supports_nothing() -> None:
    # The last triangles are a thin slab directly under the box.
    floor = box((-0.5, -0.5, 0.299), (0.5, 0.5, 0.3))
    space = hand_made_space(extra=floor)
    assert unheld(mended_fit(one_pump((0.0, 0.0, 0.3)), space)) == []
    lids = replace(space, lid_triangles=len(floor))
    assert len(unheld(mended_fit(one_pump((0.0, 0.0, 0.3)), lids))) == 1


def test_the_board_a_finding_suggests_supports_the_box() -> None:
    at = (0.05, 0.03, 0.313)
    ring = tuple((0.05 + x, 0.03 + y, 0.313) for x, y in _signs(0.15, 0.1))
    down = Bearing(frame="boat", vector=(0.0, 0.0, -1.0))
    made = place_boards(FRAME, [board(*ring, grows=down)], INSIDE)
    space = hand_made_space()
    space = replace(space, label=with_boards(space.label, space.grid, made), solids=made)
    fit = mended_fit(one_pump(at), space)
    assert fit.module("pump").verdict == "fits"
    assert [(row.face, row.by) for row in fit.module("pump").carried_by] == [("base", "shelf")]
    (note,) = on_boards(space)
    assert "300 mm x 200 mm, 18 mm thick" in note.text


def test_a_box_in_a_board_clashes() -> None:
    made = place_boards(FRAME, [board()], INSIDE)
    space = with_solid(hand_made_space(), *made)
    fit = mended_fit(one_pump((0.2, 0.15, 0.4)), space)
    assert fit.module("pump").verdict == "clash"


def _signs(x: float, y: float) -> list[tuple[float, float]]:
    return [(-x, -y), (x, -y), (x, y), (-x, y)]


# --- boards -----------------------------------------------------------------------------------


@pytest.mark.parametrize("order", [RING, RING[::-1]])
def test_thickness_extends_away_from_the_inside_point(order: Any) -> None:
    (shelf,) = place_boards(FRAME, [board(*order)], INSIDE)
    heights = shelf.box.corners()[:, 2]
    assert (heights.min(), heights.max()) == pytest.approx((0.5, 0.518))
    (above,) = place_boards(FRAME, [board(*order)], (0.0, 0.0, 0.9))
    assert above.box.corners()[:, 2].min() == pytest.approx(0.482)


def test_grows_overrides_the_direction_of_thickness() -> None:
    down = Bearing(frame="boat", vector=(0.0, 0.0, -1.0))
    (shelf,) = place_boards(FRAME, [board(grows=down)], INSIDE)
    assert shelf.box.corners()[:, 2].max() == pytest.approx(0.5)
    sideways = Bearing(frame="boat", vector=(1.0, 0.0, 0.0))
    with pytest.raises(MeshError, match="runs along the board"):
        place_boards(FRAME, [board(grows=sideways)], INSIDE)


def test_picked_corners_are_converted_to_the_boat_frame() -> None:
    turn = rotation((0.0, 0.0, 0.5))
    frame = Frame(scale=0.001, turn=as_axes(turn), shift=(0.1, 0.2, 0.3))
    back = [as_point(1000.0 * turn.T @ (np.array(c) - np.array(frame.shift))) for c in RING]
    spots = tuple(Spot(frame="mesh", at=at) for at in back)
    (picked,) = place_boards(frame, [board(corners=spots)], INSIDE)
    (written,) = place_boards(FRAME, [board()], INSIDE)
    assert picked.box.corners() == pytest.approx(written.box.corners())


@pytest.mark.parametrize(
    "ring",
    [
        (RING[0], RING[1], RING[3], RING[2]),  # crossed
        (*RING[:3], (0.1, 0.3, 0.5)),  # tapered
        (*RING[:3], (0.0, 0.3, 0.6)),  # not flat
    ],
)
def test_corners_that_are_not_a_rectangle_are_refused(ring: Any) -> None:
    with pytest.raises(MeshError, match="not a rectangle"):
        place_boards(FRAME, [board(*ring)], INSIDE)


def test_the_grid_contains_the_board() -> None:
    space = hand_made_space()
    made = place_boards(FRAME, [board()], INSIDE)
    label = with_boards(space.label, space.grid, made)
    changed = np.argwhere(label != space.label)
    assert set(label[tuple(changed.T)]) == {SOLID}
    assert set(space.label[tuple(changed.T)]) == {FREE}
    away = made[0].box.distance(space.grid.centre(changed))
    assert away.max() <= np.sqrt(3) / 2 * space.grid.pitch + 1e-9
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    inside = upright_box((0.0, 0.0, 0.5), (0.4, 0.3, 0.518)).distance(centres) <= 0.0
    assert (label[inside] == SOLID).all()
