"""A board to be built must be supported, or nothing may be cut."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from fitcheck.fit import check_fit
from fitcheck.geometry.box import Box, as_point
from fitcheck.model.finding import Finding
from fitcheck.model.found.fit import BoardFit, Fit
from fitcheck.model.found.space import UNSEEN, PlacedVolume, Space
from fitcheck.model.given.boat import Bearing, Board, Spot
from fitcheck.model.given.kit import Face
from fitcheck.space.boards import place_boards, with_boards
from fitcheck.units import parse
from tests.specimens import Corner, box, hand_made_space, upright_box
from tests.specimens.fit import FRAME, INSIDE, module, one_pump, plan, scanned
from tests.specimens.mended import mended_fit

# The room spans x -1..1, y -0.75..0.75, z 0..1.2; boards here are level unless stated otherwise.
IN_THE_AIR: tuple[Corner, Corner] = ((-0.2, 0.4, 0.5), (0.2, 0.65, 0.518))
ON_THE_WALL: tuple[Corner, Corner] = ((-0.2, 0.45, 0.5), (0.2, 0.75, 0.518))


def shelf(low: Corner, high: Corner, name: str = "shelf", state: str = "planned") -> PlacedVolume:
    """An upright board as placed: its third axis is its thinnest side."""
    plain = upright_box(low, high)
    order = sorted(range(3), key=lambda axis: -plain.half[axis])
    turned = Box(
        centre=plain.centre,
        half=tuple(plain.half[axis] for axis in order),  # type: ignore[arg-type]
        axes=tuple(plain.axes[axis] for axis in order),  # type: ignore[arg-type]
    )
    return PlacedVolume(name=name, box=turned, why="a board", board=state)  # type: ignore[arg-type]


def judged(*boards: PlacedVolume, space: Space | None = None) -> Fit:
    room = space or hand_made_space()
    solids = room.solids + boards
    room = replace(room, label=with_boards(room.label, room.grid, boards), solids=solids)
    return check_fit(one_pump((0.0, -0.3, 0.0)), room)


def of_rule(fit: Fit, rule: str) -> list[Finding]:
    return [row for row in fit.findings if row.rule == rule]


def only(fit: Fit) -> BoardFit:
    (board,) = fit.boards
    return board


def test_a_shelf_along_a_wall_is_supported_over_its_whole_length() -> None:
    fit = judged(shelf(*ON_THE_WALL))
    assert of_rule(fit, "board-not-carried") == of_rule(fit, "board-runs-into") == []
    assert only(fit).held_by == ("hull or joinery",)
    assert only(fit).line == pytest.approx(0.4)
    # Its free corners are 0.3 m off the wall, less the sampling step.
    assert only(fit).reach == pytest.approx(0.3, abs=0.02)


@pytest.mark.parametrize("gap", [0.004, 0.050, 0.100])
def test_a_shelf_off_the_wall_is_unsupported(gap: float) -> None:
    (x0, y0, z0), (x1, y1, z1) = ON_THE_WALL
    fit = judged(shelf((x0, y0 - gap, z0), (x1, y1 - gap, z1)))
    (finding,) = of_rule(fit, "board-not-carried")
    assert finding.bars == ("cut_joinery", "order_hoses")
    assert finding.remedy is not None
    assert "to port" in finding.remedy.text


def test_the_suggested_extension_is_supported() -> None:
    first = shelf(*IN_THE_AIR)
    (finding,) = of_rule(judged(first), "board-not-carried")
    assert finding.remedy is not None
    # 0.75 - 0.65 m to the port side, the nearest of all.
    assert finding.remedy.text.startswith("Extend it 100 mm to port")
    longer = written(finding)
    assert longer.box.corners()[:, 1].max() == pytest.approx(0.75)
    assert of_rule(judged(longer), "board-not-carried") == []


def test_a_board_set_off_a_wall_by_less_than_battens_is_packed_out() -> None:
    upright = shelf((-0.2, 0.70, 0.5), (0.2, 0.718, 0.8))
    (finding,) = of_rule(judged(upright), "board-not-carried")
    assert finding.remedy is not None
    assert finding.remedy.text.startswith("Extend it 32 mm to port")
    assert written(finding).box.half[2] == pytest.approx(0.025)


def written(where: Finding | str) -> PlacedVolume:
    """The board written in a remedy, placed like that of the boat file."""
    if isinstance(where, Finding):
        assert where.remedy is not None
        where = where.remedy.text
    table = where[where.index("{") :]
    row = tomllib.loads(f"board = {table.removesuffix(' (boat.boards).')}")["board"]
    ways = {"up": (0, 0, 1), "down": (0, 0, -1), "port": (0, 1, 0), "starboard": (0, -1, 0)}
    ways |= {"forward": (1, 0, 0), "aft": (-1, 0, 0)}
    corners = tuple(
        Spot(frame="boat", at=as_point(np.array([parse(v, "length") for v in corner])))
        for corner in row["corners"]
    )
    board = Board(
        name=row["name"],
        corners=corners,
        thickness=parse(row["thickness"], "length"),
        grows=Bearing(frame="boat", vector=ways[row["grows"]]),
        state=row["state"],
    )
    (placed,) = place_boards(FRAME, [board], INSIDE)
    return placed


@pytest.mark.parametrize(("width", "is_held"), [(0.10, False), (0.30, True)])
def test_a_post_under_a_corner_is_not_enough(width: float, is_held: bool) -> None:
    low, high = IN_THE_AIR
    post = ((low[0], low[1], 0.0), (low[0] + width, low[1] + 0.1, 0.5))
    fit = judged(shelf(low, high), space=hand_made_space([post]))
    assert (of_rule(fit, "board-not-carried") == []) == is_held


@pytest.mark.parametrize(("wide", "is_held"), [(0.39, True), (0.50, False)])
def test_a_deep_shelf_needs_a_brace(wide: float, is_held: bool) -> None:
    fit = judged(shelf((-0.3, 0.75 - wide, 0.5), (0.3, 0.75, 0.518)))
    found = of_rule(fit, "board-not-carried")
    assert (found == []) == is_held
    assert all("brace" in row.text for row in found)


def test_a_shelf_supported_at_both_ends_may_be_long() -> None:
    walls = [((x, 0.2, 0.0), (x + 0.05, 0.5, 1.0)) for x in (-0.65, 0.60)]
    fit = judged(shelf((-0.6, 0.2, 0.5), (0.6, 0.5, 0.518)), space=hand_made_space(walls))
    assert of_rule(fit, "board-not-carried") == []


def test_a_board_may_rest_on_a_supported_board() -> None:
    upright = shelf((-0.2, 0.5, 0.518), (0.2, 0.518, 0.818), "upright")
    fit = judged(upright, shelf(*ON_THE_WALL))
    assert of_rule(fit, "board-not-carried") == []
    assert {row.name: row.held_by for row in fit.boards} == {
        "upright": ("shelf",),
        "shelf": ("hull or joinery",),
    }


def test_two_unsupported_boards_do_not_support_each_other() -> None:
    upright = shelf((-0.2, 0.5, 0.518), (0.2, 0.518, 0.818), "upright")
    fit = judged(upright, shelf(*IN_THE_AIR))
    assert {row.subject for row in of_rule(fit, "board-not-carried")} == {"upright", "shelf"}


def test_an_existing_board_supports_and_is_not_to_be_built() -> None:
    there = shelf(*IN_THE_AIR, "old shelf", "existing")
    upright = shelf((-0.2, 0.5, 0.518), (0.2, 0.518, 0.818), "upright")
    fit = judged(there, upright)
    assert [row.name for row in fit.boards] == ["upright"]
    assert of_rule(fit, "board-not-carried") == []


def test_a_lid_supports_no_board() -> None:
    lid = box((-0.5, 0.1, 0.518), (0.5, 0.6, 0.54))
    space = hand_made_space(extra=lid)
    assert of_rule(judged(shelf(*IN_THE_AIR), space=space), "board-not-carried") == []
    lids = replace(space, lid_triangles=len(lid))
    assert len(of_rule(judged(shelf(*IN_THE_AIR), space=lids), "board-not-carried")) == 1


# --- boards that are offered ------------------------------------------------------------------


def test_a_board_through_the_wall_is_cut_back_to_it() -> None:
    """One cut resolves both the collision with the wall and the missing support."""
    (x0, y0, z0), (x1, y1, z1) = ON_THE_WALL
    through = judged(shelf((x0, y0, z0), (x1, y1 + 0.2, z1)))
    for rule in ("board-runs-into", "board-not-carried"):
        (finding,) = of_rule(through, rule)
        assert finding.remedy is not None
        assert finding.remedy.text.startswith("Shorten it 200 mm to port")
        cut = written(finding)
        assert cut.name == "shelf"
        after = judged(cut)
        assert of_rule(after, "board-runs-into") == of_rule(after, "board-not-carried") == []


@pytest.mark.parametrize("x", [-0.11, 0.11])
def test_a_board_is_cut_clear_of_a_pipe_but_not_below_a_module(x: float) -> None:
    space = hand_made_space([((-0.02, 0.48, 0.0), (0.02, 0.52, 1.2))])
    board = shelf(*ON_THE_WALL)
    room = replace(space, label=with_boards(space.label, space.grid, [board]), solids=(board,))
    scene = one_pump((x, 0.6, 0.518), size=(0.15, 0.1, 0.2))
    (finding,) = of_rule(check_fit(scene, room), "board-runs-into")
    ends = written(finding).box.corners()[:, 0]
    assert (ends.min(), ends.max()) == pytest.approx((-0.2, -0.02) if x < 0 else (0.02, 0.2))


def test_a_deep_shelf_is_made_narrower() -> None:
    (finding,) = of_rule(judged(shelf((-0.3, 0.25, 0.5), (0.3, 0.75, 0.518))), "board-not-carried")
    assert finding.remedy is not None
    assert re.match(r"Shorten it \d+ mm to starboard", finding.remedy.text)
    assert of_rule(judged(written(finding)), "board-not-carried") == []


@pytest.mark.parametrize("seed", range(8))
def test_the_board_suggested_for_an_unsupported_box_supports_it(seed: int) -> None:
    """Random boxes among posts in a scanned room; each suggested remedy is tried."""
    rng = np.random.default_rng(seed)
    posts = [
        ((x, y, 0.0), (x + 0.15, y + 0.15, float(rng.uniform(0.2, 1.0))))
        for x, y in rng.uniform((-0.9, -0.7), (0.8, 0.55), (3, 2))
    ]
    space = scanned(hand_made_space(posts), float(rng.choice([0.001, 0.008])))
    offered = 0
    for _ in range(4):
        size = as_point(rng.uniform(0.1, 0.35, 3))
        at = as_point(rng.uniform((-0.8, -0.6, 0.02), (0.8, 0.6, 0.8)))
        turn = (0.0, 0.0, float(rng.choice([0.0, 90.0])))
        fixed: tuple[Face, ...] = ("base", "back") if rng.random() < 0.5 else ("base",)
        pump = module("pump", size, fixed_by=fixed, fixing_given=True)
        beside = (module("other", (0.2, 0.2, 0.3)), (0.0, 0.0, 0.0))
        scene = plan((pump, at, turn), beside, scan=True)
        before = check_fit(scene, space)
        for finding in of_rule(before, "not-carried"):
            assert finding.remedy is not None
            if before.module("pump").verdict in ("clash", "unseen"):
                continue
            for way in finding.remedy.text.split(" Or: "):
                now, room = scene, space
                if "{" in way:
                    board = written(way)
                    label = with_boards(space.label, space.grid, [board])
                    room = replace(space, label=label, solids=(board,))
                elif "at = " in way:
                    spot = tomllib.loads(f"at = {way.partition('at = ')[2].removesuffix(').')}")
                    there = as_point(np.array([parse(v, "length") for v in spot["at"]]))
                    first, *rest = scene.layout.placements
                    places = (replace(first, at=there), *rest)
                    now = replace(scene, layout=replace(scene.layout, placements=places))
                else:
                    continue
                offered += 1
                left = {(row.rule, row.subject) for row in barring(mended_fit(now, room))}
                assert ("not-carried", "pump") not in left
                assert left <= {(row.rule, row.subject) for row in barring(before)}
    assert offered


def barring(fit: Fit) -> list[Finding]:
    return [row for row in fit.findings if row.severity == "fail" or row.bars]


# --- what a board runs into -------------------------------------------------------------------


@pytest.mark.parametrize(("beyond", "fine"), [(0.015, True), (0.030, False), (0.250, False)])
def test_an_edge_is_scribed_to_the_hull_and_ends_there(beyond: float, fine: bool) -> None:
    (x0, y0, z0), (x1, y1, z1) = ON_THE_WALL
    fit = judged(shelf((x0, y0, z0), (x1, y1 + beyond, z1)))
    assert (of_rule(fit, "board-runs-into") == []) == fine


def test_a_board_entirely_behind_the_wall_is_rejected() -> None:
    fit = judged(shelf((-0.2, 0.80, 0.4), (0.2, 0.818, 0.7)))
    assert len(of_rule(fit, "board-runs-into")) == 1


def test_a_shelf_under_a_sloping_hull_ends_at_it() -> None:
    # The hull rises outboard at 30 degrees and meets the middle of the shelf.
    low, high = ON_THE_WALL
    slope = np.array([(-1, 0.5, 0.4), (1, 0.5, 0.4), (1, 0.8, 0.57), (-1, 0.8, 0.57)], float)
    hull = np.stack([slope[[0, 1, 2]], slope[[0, 2, 3]]])
    space = hand_made_space(extra=hull)
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    beyond = centres[..., 2] > 0.4 + (centres[..., 1] - 0.5) * 0.17 / 0.3
    label = np.where(beyond & (centres[..., 1] > 0.5), UNSEEN, space.label).astype(np.uint8)
    space = replace(space, label=label)
    (finding,) = of_rule(judged(shelf(low, high), space=space), "board-runs-into")
    assert "unscanned space" in finding.text or "behind a surface" in finding.text


def test_a_pipe_through_a_board_is_detected() -> None:
    pipe = ((-0.02, 0.6, 0.0), (0.02, 0.64, 1.2))
    fit = judged(shelf(*ON_THE_WALL), space=hand_made_space([pipe]))
    (finding,) = of_rule(fit, "board-runs-into")
    assert finding.bars == ("cut_joinery", "order_hoses")


def test_a_board_must_not_enter_a_keep_out() -> None:
    space = hand_made_space(keep_outs=[((-0.1, 0.5, 0.4), (0.1, 0.7, 0.6))])
    (finding,) = of_rule(judged(shelf(*ON_THE_WALL), space=space), "board-runs-into")
    assert "keep out" in finding.text


def test_boards_may_be_jointed_but_not_cross() -> None:
    through = shelf((0.0, 0.46, 0.3), (0.018, 0.74, 0.7), "upright")
    fit = judged(shelf(*ON_THE_WALL), through)
    assert {row.subject for row in of_rule(fit, "board-runs-into")} == {"shelf", "upright"}
    fit = judged(shelf(*ON_THE_WALL), shelf((0.0, 0.46, 0.509), (0.018, 0.74, 0.7), "upright"))
    assert of_rule(fit, "board-runs-into") == []
