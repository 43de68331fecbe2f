"""The space stage: free cells were seen to be free, and no distance is overestimated."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fitcheck.errors import ScenarioError
from fitcheck.geometry.box import rotation
from fitcheck.geometry.distance import distances, index_triangles
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Space
from fitcheck.model.given.boat import (
    Datum,
    Lid,
    Volume,
)
from fitcheck.space import survey
from tests import ROOT, specimens

PITCH = 0.03
MESHES = ROOT / "meshes"

Surveyed = Callable[..., Space]


@pytest.fixture
def surveyed(tmp_path: Path) -> Surveyed:
    """Survey triangles: write them to a file, build the boat around it, run the stage."""

    def run(triangles: specimens.Triangles, *, pitch: float = PITCH, **changes: Any) -> Space:
        path = specimens.write_ply(tmp_path / "mesh.ply", triangles)
        boat = specimens.boat(path, **changes)
        layout = specimens.layout(pitch=pitch)
        return survey(specimens.scenario(boat, layout=layout), cell=pitch)

    return run


def label_at(space: Space, *point: float) -> int:
    """Label at a point of the room, wherever the boat frame has its origin."""
    here = np.array(point) + np.array(space.frame.shift)
    return int(space.label[tuple(space.grid.index(here))])


#: The bare rooms here have neither a tape nor a stated trim; `test_proven.py` covers those.
UNPROVEN = ("scale-unproven", "up-unproven", "sea-unproven")


def rules(space: Space, severity: str = "") -> list[str]:
    """Rules of a survey's findings, optionally of one severity, without those of bare rooms."""
    return [
        row.rule
        for row in space.findings
        if severity in ("", row.severity) and row.rule not in UNPROVEN
    ]


def scan(**changes: Any) -> dict[str, Any]:
    """Changes that make a boat a scanned one."""
    return {"origin": "scan", "viewpoints": specimens.viewpoints(12), **changes}


# --- drawn compartments -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "inside", "volume", "area"),
    [
        (specimens.room(), (0.0, 0.0, 0.6), 3.6, 14.4),
        (specimens.room_with_box(), (-0.5, 0.0, 0.6), 3.6 - 0.18, 15.6),
        (specimens.l_room(), (-0.5, 0.0, 0.6), 2.7, 12.6),
        (specimens.wedge(), (-0.5, 0.0, 0.4), 1.8, 9.9),
        (specimens.sphere(inward=True), (0.0, 0.0, 0.6), 4 / 3 * np.pi * 0.125, np.pi),
        (specimens.cylinder(inward=True), (0.0, 0.0, 0.6), np.pi * 0.09, 2.45),
    ],
    ids=["room", "engine", "L", "wedge", "sphere", "cylinder"],
)
def test_free_volume_of_closed_shapes(
    surveyed: Surveyed,
    shape: specimens.Triangles,
    inside: tuple[float, float, float],
    volume: float,
    area: float,
) -> None:
    space = surveyed(shape, inside=inside, pitch=0.02)
    # Cells the surface touches are not free: about one pitch thick, up to 1.8 on slopes.
    assert volume - 1.8 * 0.02 * area < space.free_volume < volume
    assert space.unseen_volume == pytest.approx(0.0, abs=1e-9)
    assert rules(space, "fail") == []


def test_inside_of_a_body_is_solid_and_outside_unseen(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room_with_box(), inside=(-0.5, 0.0, 0.6))
    assert label_at(space, 0.5, 0.0, 0.25) == SOLID
    assert label_at(space, 0.0, 0.0, 0.6) == FREE
    assert label_at(space, 1.07, 0.0, 0.6) == UNSEEN


def test_a_point_picked_in_a_body_is_reported(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room_with_box(), inside=(0.5, 0.0, 0.25))
    assert "inside-pocket" in rules(space, "caution")


@pytest.mark.parametrize(
    "inside", [(-1.0, 0.0, 0.6), (5.0, 0.0, 0.6)], ids=["in a wall", "far out"]
)
def test_a_point_picked_in_a_wall_is_one_fault(
    surveyed: Surveyed, inside: tuple[float, float, float]
) -> None:
    with pytest.raises(ScenarioError) as raised:
        surveyed(specimens.room(), inside=inside)
    (fault,) = raised.value.faults
    assert fault.key == "boat.inside"
    assert "(0.00, 0.00, 0.60) m" in fault.text


@pytest.mark.parametrize("diameter", [0.2, 0.3])
def test_a_leak_is_located_and_measured(surveyed: Surveyed, diameter: float) -> None:
    # The forward wall is a sheet with a round hole.
    walls = specimens.room()
    forward = (walls[:, :, 0] == 1.0).all(axis=1)
    hole = specimens.bulkhead(x=1.0, centre=(0.1, 0.7), diameter=diameter)
    space = surveyed(specimens.join(walls[~forward], hole), pitch=0.02)
    leak = next(row for row in space.findings if row.rule == "leak")
    assert leak.severity == "fail"
    assert leak.place == pytest.approx((1.0, 0.1, 0.7), abs=0.04)
    # Marked cells narrow the hole by up to a pitch on either side.
    assert diameter - 2.01 * 0.02 <= leak.value <= diameter + 0.02
    assert label_at(space, 1.05, 0.1, 0.7) == UNSEEN


def test_a_lid_closes_a_leak(surveyed: Surveyed) -> None:
    open_ = specimens.room()[(specimens.room()[:, :, 2] < 1.2).any(axis=1)]
    lid = Lid(
        name="hatch",
        corners=((-1.0, -0.75, 1.2), (1.0, -0.75, 1.2), (1.0, 0.75, 1.2), (-1.0, 0.75, 1.2)),
    )
    assert "leak" in rules(surveyed(open_), "fail")
    space = surveyed(open_, lids=(lid,))
    assert rules(space) == []
    whole = surveyed(specimens.room())
    assert (space.label == whole.label).all()
    assert len(space.triangles) == len(open_) + 4


def test_a_crop_keeps_only_its_inside(surveyed: Surveyed) -> None:
    walls = specimens.join(specimens.room(), specimens.sheet(0.2, (-0.75, 0.0), (0.75, 1.2)))
    space = surveyed(
        walls, inside=(-0.5, 0.0, 0.6), crop=((-1.05, -0.8, -0.05), (0.25, 0.8, 1.25))
    )
    assert space.grid.shape[0] * PITCH < 1.6
    assert rules(space, "fail") == []
    assert space.free_volume == pytest.approx(1.2 * 1.5 * 1.2, rel=0.12)


def test_a_crop_through_the_open_is_a_leak(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), crop=((-2.0, -2.0, -2.0), (0.5, 2.0, 2.0)))
    assert "leak" in rules(space, "fail")
    centres = space.grid.centre(np.argwhere(space.label == FREE))
    assert centres[:, 0].max() < 0.5


# --- distance -----------------------------------------------------------------------------------


def exact(space: Space, points: specimens.Triangles) -> specimens.Triangles:
    """Distance to the nearest triangle or unseen cube by brute force."""
    to_triangles = distances(points, index_triangles(space.triangles, 0.1), 5.0)
    cubes = space.grid.centre(np.argwhere(space.label == UNSEEN))
    if len(cubes) == 0:
        return to_triangles
    gaps = np.array(
        [
            np.linalg.norm(
                np.maximum(np.abs(cubes - point) - space.grid.pitch / 2, 0.0), axis=1
            ).min()
            for point in points
        ]
    )
    return np.minimum(to_triangles, gaps)


def check_distance(space: Space, seed: int = 0) -> None:
    """Never above the truth, exact near triangles, never far below."""
    free = np.argwhere(space.label == FREE)
    chosen = free[np.random.default_rng(seed).permutation(len(free))[:400]]
    truth = exact(space, space.grid.centre(chosen))
    told = space.distance[tuple(chosen.T)]
    assert (told <= truth + 1e-9).all()
    assert (truth - told).max() <= 1.75 * space.grid.pitch
    assert (space.distance[space.label != FREE] == 0.0).all()


@pytest.mark.parametrize(
    "shape",
    [
        specimens.room_with_box(),
        specimens.join(specimens.room(), specimens.bulkhead(x=0.4)),
        specimens.join(specimens.room(), specimens.sheet(0.31, (-0.5, 0.2), (0.5, 1.0))),
        specimens.sphere(inward=True),
    ],
    ids=["engine", "bulkhead", "sheet", "sphere"],
)
def test_distance_of_drawn_shapes(surveyed: Surveyed, shape: specimens.Triangles) -> None:
    check_distance(surveyed(shape, inside=(-0.2, 0.0, 0.6)))


def test_distance_in_a_scan_includes_unseen_cells(surveyed: Surveyed) -> None:
    space = surveyed(specimens.half_scanned(), inside=(0.6, 0.0, 0.9), **scan())
    assert (space.label == UNSEEN).any()
    check_distance(space)


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    turn=st.tuples(*[st.floats(-3.0, 3.0)] * 3),
    low=st.tuples(st.floats(-0.9, 0.0), st.floats(-0.7, 0.0), st.floats(0.0, 0.3)),
    size=st.floats(0.05, 0.4),
)
def test_distance_never_overestimates(
    surveyed: Surveyed,
    turn: tuple[float, float, float],
    low: tuple[float, float, float],
    size: float,
) -> None:
    body = specimens.box(low, tuple(value + size for value in low))
    shape = specimens.moved(
        specimens.join(specimens.room(), body), rotation(turn), (0.3, -0.2, 0.1)
    )
    inside = rotation(turn) @ np.array([0.7, 0.6, 1.0]) + np.array([0.3, -0.2, 0.1])
    check_distance(surveyed(shape, pitch=0.05, inside=tuple(inside)))


def test_between_parallel_plates(surveyed: Surveyed) -> None:
    space = surveyed(specimens.box((-1.0, -0.75, 0.55), (1.0, 0.75, 0.75), inward=True))
    points = np.array([[0.0, 0.0, z] for z in (0.6, 0.64, 0.67)])
    index = space.grid.index(points)
    heights = space.grid.centre(index)[:, 2]
    wanted = np.minimum(heights - 0.55, 0.75 - heights)
    assert space.distance[tuple(index.T)] == pytest.approx(wanted, abs=1e-6)


def test_keep_outs_and_solids_lower_the_distance(surveyed: Surveyed) -> None:
    hot = Volume(name="hot", corners=((0.5, -0.2, 0.2), (0.8, 0.2, 0.5)), why="exhaust")
    known = Volume(name="tank", corners=((-0.8, -0.2, 0.2), (-0.5, 0.2, 0.5)), why="")
    space = surveyed(specimens.room(), keep_outs=(hot,), solids=(known,))
    assert label_at(space, 0.65, 0.0, 0.35) == FREE
    assert label_at(space, -0.65, 0.0, 0.35) == SOLID
    for x, face in ((0.3, 0.5), (-0.3, -0.5)):
        index = space.grid.index(np.array([x, 0.0, 0.35]))
        centre = space.grid.centre(index)
        gap = min(abs(centre[0] - face), centre[2], 1.2 - centre[2])
        assert space.distance[tuple(index)] == pytest.approx(gap, abs=1e-5)
    inside = space.grid.index(np.array([0.65, 0.0, 0.35]))
    assert space.distance[tuple(inside)] == 0.0


# --- scans --------------------------------------------------------------------------------------


def in_body(space: Space, margin: float = 0.04) -> specimens.Triangles:
    """Cells deep in the box of the half-scanned room."""
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    body = specimens.upright_box((-0.6, -0.3, 0.2), (0.2, 0.3, 0.7))
    return body.distance(centres - np.array(space.frame.shift)) < -margin


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("eyes", [5, 14])
def test_the_inside_of_a_half_scanned_body_is_not_free(
    surveyed: Surveyed, seed: int, eyes: int
) -> None:
    space = surveyed(
        specimens.half_scanned(0.12 + 0.04 * seed),
        inside=(0.6, 0.0, 0.9),
        **scan(viewpoints=specimens.viewpoints(eyes, seed)),
    )
    assert (space.label[in_body(space)] != FREE).all()
    if eyes == 14:
        air = 3.6 - 0.24
        assert 0.85 * air < space.free_volume < air


@pytest.mark.parametrize("guard", ["none", "backs", "spans", "agreement"])
def test_each_guard_alone_keeps_lines_of_sight_out_of_a_body(
    surveyed: Surveyed, monkeypatch: pytest.MonkeyPatch, guard: str
) -> None:
    if guard != "backs":
        monkeypatch.setattr("fitcheck.space.cells.labels.BACK_SHARE", 2.0)
    if guard != "agreement":
        monkeypatch.setattr(
            "fitcheck.space.cells.labels.agreed",
            lambda _s, cells, *_, **__: np.ones(len(cells), bool),
        )
    if guard != "spans":
        monkeypatch.setattr(sys.modules[survey.__module__], "spans", lambda _surface: [])
    space = surveyed(
        specimens.half_scanned(0.2),
        inside=(0.6, 0.0, 0.9),
        **scan(viewpoints=specimens.viewpoints(14, 1)),
    )
    assert (space.label[in_body(space)] == FREE).any() == (guard == "none")


def test_a_body_lined_by_a_mirror_is_not_free(
    surveyed: Surveyed, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Over the open corner: every one of them sees into the body, and only fronts.
    eyes = tuple(
        (0.2 + x, 0.3 + y, 0.7 + z)
        for x in (0.1, 0.25)
        for y in (0.1, 0.25)
        for z in (0.15, 0.25, 0.35)
    )
    known = scan(viewpoints=eyes, inside=(0.6, 0.5, 0.9))
    # In reality the lining is connected to the faces, so there is no hole to span.
    monkeypatch.setattr(sys.modules[survey.__module__], "spans", lambda _surface: [])
    space = surveyed(specimens.mirrored(), **known)
    assert (space.label[in_body(space, 0.09)] != FREE).all()
    assert label_at(space, 0.6, 0.3, 0.5) == FREE
    monkeypatch.setattr("fitcheck.space.cells.looks.BACKED", 0.0)
    assert (surveyed(specimens.mirrored(), **known).label[in_body(space, 0.09)] == FREE).any()


def test_a_declared_solid_closes_a_half_scanned_body(surveyed: Surveyed) -> None:
    known = Volume(name="engine", corners=((-0.6, -0.3, 0.2), (0.2, 0.3, 0.7)), why="")
    space = surveyed(specimens.half_scanned(), inside=(0.6, 0.0, 0.9), solids=(known,), **scan())
    assert (space.label[in_body(space)] == SOLID).all()


def test_nothing_is_free_behind_unseen_space(surveyed: Surveyed) -> None:
    walls = specimens.join(specimens.room(), specimens.sheet(0.0, (-0.75, 0.0), (0.75, 0.8)))
    low = tuple((x, y, 0.4) for x in (0.3, 0.6, 0.9) for y in (-0.5, 0.0, 0.5))
    space = surveyed(walls, origin="scan", viewpoints=low, inside=(0.5, 0.0, 0.4))
    assert label_at(space, 0.5, 0.3, 0.5) == FREE
    # Behind the sheet and below the line over its edge.
    assert label_at(space, -0.3, 0.0, 0.3) == UNSEEN
    note = next(row for row in space.findings if row.rule == "unseen-share")
    assert note.value == pytest.approx(
        space.unseen_volume / (space.unseen_volume + space.free_volume)
    )
    assert 0.8 < space.unseen_volume < 1.8


def test_sight_does_not_leak_where_a_fill_does(surveyed: Surveyed) -> None:
    walls = specimens.room()
    open_ = walls[(walls[:, :, 2] < 1.2).any(axis=1)]
    space = surveyed(open_, inside=(0.0, 0.0, 0.6), **scan())
    leak = next(row for row in space.findings if row.rule == "leak")
    assert leak.severity == "note"
    # The ball that leaves starts at half height in a room 1.2 m high.
    assert leak.value == pytest.approx(1.2, abs=0.05)
    centres = space.grid.centre(np.argwhere(space.label == FREE))
    # The rim of the walls is in the middle of a layer of cells.
    assert centres.max(axis=0)[2] <= 1.2 + 1e-9
    assert (np.abs(centres[:, 0]) < 1.0).all()


def test_viewpoints_above_a_lid_see_in(surveyed: Surveyed) -> None:
    walls = specimens.room()
    open_ = walls[(walls[:, :, 2] < 1.2).any(axis=1)]
    lid = Lid(
        name="hatch",
        corners=((-1.0, -0.75, 1.2), (1.0, -0.75, 1.2), (1.0, 0.75, 1.2), (-1.0, 0.75, 1.2)),
    )
    above = tuple((x, y, 1.4) for x in (-0.4, 0.0, 0.4) for y in (-0.3, 0.3))
    space = surveyed(open_, origin="scan", viewpoints=above, lids=(lid,))
    assert space.free_volume > 2.9
    assert label_at(space, 0.0, 0.0, 1.3) == UNSEEN
    assert "leak" not in rules(space)


def test_the_winding_of_a_scan_does_not_matter(surveyed: Surveyed) -> None:
    shape = specimens.half_scanned()
    inward = surveyed(shape, inside=(0.6, 0.0, 0.9), **scan())
    outward = surveyed(shape[:, ::-1], inside=(0.6, 0.0, 0.9), **scan())
    assert (inward.label == outward.label).all()
    # Both come out facing the viewer.
    assert np.allclose(inward.triangles, outward.triangles)


def test_a_scan_with_inconsistent_winding_is_reported(surveyed: Surveyed) -> None:
    shape = specimens.finer(specimens.room(), 4)
    shape[::2] = shape[::2, ::-1]
    space = surveyed(shape, **scan())
    assert "facing" in rules(space, "caution")
    assert space.free_volume == 0.0
    assert space.as_seen is not None
    assert space.as_seen.free_volume > 2.5


def test_a_viewpoint_in_a_wall_is_reported_and_not_used(surveyed: Surveyed) -> None:
    eyes = specimens.viewpoints(12)
    space = surveyed(specimens.room(), origin="scan", viewpoints=(*eyes, (-1.0, 0.0, 0.6)))
    again = surveyed(specimens.room(), origin="scan", viewpoints=eyes)
    assert rules(space, "note").count("viewpoint-in-solid") == 1
    assert space.free_volume == pytest.approx(again.free_volume, rel=1e-3)


def test_a_scan_without_viewpoints_says_so(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), origin="scan")
    assert "no-viewpoint" in rules(space, "caution")
    assert space.free_volume == 0.0
    assert space.as_seen is not None
    assert space.as_seen.free_volume > 2.5


def test_declared_free_changes_unseen_cells_only(surveyed: Surveyed) -> None:
    shape = specimens.half_scanned()
    box = Volume(name="behind", corners=((-0.65, -0.35, 0.15), (0.25, 0.35, 0.75)), why="felt")
    plain = surveyed(shape, inside=(0.6, 0.0, 0.9), **scan())
    space = surveyed(shape, inside=(0.6, 0.0, 0.9), declared_free=(box,), **scan())
    changed = plain.label != space.label
    assert changed.any()
    assert (plain.label[changed] == UNSEEN).all()
    assert (space.label[changed] == FREE).all()
    said = [row for row in space.assumptions if row.what.startswith("behind")]
    assert [row.can_flip for row in said] == [True]
    check_distance(space)


def test_loose_pieces_are_kept_and_reported(surveyed: Surveyed) -> None:
    bit = specimens.box((0.4, 0.2, 0.6), (0.44, 0.24, 0.64))
    space = surveyed(specimens.join(specimens.room(), bit))
    assert "loose-bits" in rules(space, "note")
    assert label_at(space, 0.4, 0.22, 0.62) == SOLID


# --- real and demo meshes -----------------------------------------------------------------------


def test_captured_room() -> None:
    boat = specimens.boat(
        MESHES / "captured_room.ply",
        origin="scan",
        up=(0.0, 1.0, 0.0),
        forward=(0.0, 0.0, 1.0),
        inside=(0.0, 1.5, 0.0),
        datum=Datum(point=(0.0, 0.045, 0.5), above_sea=0.0, taken="invented"),
        centreline=None,
        viewpoints=tuple(
            (x, y, z) for x in (-0.6, 0.5) for y in (1.2, 1.9) for z in (-0.4, 0.4, 0.9)
        ),
    )
    space = survey(specimens.scenario(boat, layout=specimens.layout(pitch=0.04)), cell=0.04)
    assert space.raw_triangles == 3822
    assert rules(space, "fail") == []
    # The closed mesh holds 16.48 m3.
    assert 14.5 < space.free_volume < 16.4
    centres = space.grid.centre(np.argwhere(space.label == FREE))
    assert centres[:, 2].min() > -0.1
    assert centres[:, 2].max() < 2.9


def test_a_hand_made_space_and_a_survey_agree(surveyed: Surveyed) -> None:
    body = ((0.2, -0.3, 0.0), (0.8, 0.3, 0.5))
    made = specimens.hand_made_space([body], pitch=0.02)
    space = surveyed(specimens.room_with_box(*body), inside=(0.0, 0.0, 0.6), pitch=0.02)
    points = made.grid.centre(np.argwhere(made.label == FREE)[::97])
    theirs = made.distance[tuple(made.grid.index(points).T)]
    index = space.grid.index(points)
    ours = space.distance[tuple(index.T)]
    # The grids are offset by half a cell, so the distances may be too.
    assert np.abs(ours - theirs).max() < 2.0 * 0.02
