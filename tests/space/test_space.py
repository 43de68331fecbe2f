"""The space stage: what is called free was seen to be free, and no distance is above the truth."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fitcheck.errors import MeshError, ScenarioError
from fitcheck.geometry.box import rotation
from fitcheck.geometry.distance import distances, index_triangles
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Space
from fitcheck.model.given.boat import (
    Bearing,
    Boat,
    BoatPort,
    Centreline,
    Datum,
    Hole,
    Lid,
    TapeMeasure,
    Volume,
)
from fitcheck.space import survey
from tests import ROOT, specimens

PITCH = 0.03
MESHES = ROOT / "meshes"

Surveyed = Callable[..., Space]


@pytest.fixture
def surveyed(tmp_path: Path) -> Surveyed:
    """Survey triangles: write them to a file, build the boat round it, run the stage."""

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


#: The bare rooms here have neither a tape nor a stated trim; `test_proven.py` is about those.
UNPROVEN = ("scale-unproven", "up-unproven", "sea-unproven")


def rules(space: Space, severity: str = "") -> list[str]:
    """Rules of a survey's findings, of one severity if asked, those of bare rooms left out."""
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


def test_a_point_picked_in_a_body_is_remarked(surveyed: Surveyed) -> None:
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
def test_a_leak_is_placed_and_measured(surveyed: Surveyed, diameter: float) -> None:
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


def test_distance_of_a_scan_keeps_off_what_was_not_seen(surveyed: Surveyed) -> None:
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
def test_distance_is_never_above_the_truth(
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
        monkeypatch.setattr(
            "fitcheck.space.cells.labels.among_backs",
            lambda _s, cells, _f: np.zeros(len(cells), bool),
        )
    if guard != "agreement":
        monkeypatch.setattr(
            "fitcheck.space.cells.labels.agreed",
            lambda _s, cells, _e, _f: np.ones(len(cells), bool),
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
    # Over the open corner: every one of them sees into the body, and fronts only.
    eyes = tuple(
        (0.2 + x, 0.3 + y, 0.7 + z)
        for x in (0.1, 0.25)
        for y in (0.1, 0.25)
        for z in (0.15, 0.25, 0.35)
    )
    known = scan(viewpoints=eyes, inside=(0.6, 0.5, 0.9))
    # The lining of a real one is joined to the faces: there is no hole to span.
    monkeypatch.setattr(sys.modules[survey.__module__], "spans", lambda _surface: [])
    space = surveyed(specimens.mirrored(), **known)
    assert (space.label[in_body(space, 0.09)] != FREE).all()
    assert label_at(space, 0.6, 0.3, 0.5) == FREE
    monkeypatch.setattr("fitcheck.space.cells.agreement.BACKED", 0.0)
    assert (surveyed(specimens.mirrored(), **known).label[in_body(space, 0.09)] == FREE).any()


def test_a_declared_solid_closes_a_half_scanned_body(surveyed: Surveyed) -> None:
    known = Volume(name="engine", corners=((-0.6, -0.3, 0.2), (0.2, 0.3, 0.7)), why="")
    space = surveyed(specimens.half_scanned(), inside=(0.6, 0.0, 0.9), solids=(known,), **scan())
    assert (space.label[in_body(space)] == SOLID).all()


def test_nothing_is_free_behind_what_no_viewpoint_saw(surveyed: Surveyed) -> None:
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


def test_a_fill_would_run_out_where_sight_does_not(surveyed: Surveyed) -> None:
    walls = specimens.room()
    open_ = walls[(walls[:, :, 2] < 1.2).any(axis=1)]
    space = surveyed(open_, inside=(0.0, 0.0, 0.6), **scan())
    leak = next(row for row in space.findings if row.rule == "leak")
    assert leak.severity == "note"
    # The ball that leaves starts half way up a room 1.2 m high.
    assert leak.value == pytest.approx(1.2, abs=0.05)
    centres = space.grid.centre(np.argwhere(space.label == FREE))
    # The rim of the walls lies in the middle of a layer of cells.
    assert centres.max(axis=0)[2] <= 1.2 + 1e-9
    assert (np.abs(centres[:, 0]) < 1.0).all()


def test_viewpoints_above_a_lid_look_in(surveyed: Surveyed) -> None:
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


def test_a_scan_without_agreeing_winding_is_remarked(surveyed: Surveyed) -> None:
    shape = specimens.finer(specimens.room(), 4)
    shape[::2] = shape[::2, ::-1]
    space = surveyed(shape, **scan())
    assert "facing" in rules(space, "caution")
    assert space.free_volume > 2.5


def test_a_viewpoint_in_a_wall_is_told_and_not_used(surveyed: Surveyed) -> None:
    eyes = specimens.viewpoints(12)
    space = surveyed(specimens.room(), origin="scan", viewpoints=(*eyes, (-1.0, 0.0, 0.6)))
    again = surveyed(specimens.room(), origin="scan", viewpoints=eyes)
    assert rules(space, "note").count("viewpoint-in-solid") == 1
    assert space.free_volume == pytest.approx(again.free_volume, rel=1e-3)


def test_a_scan_without_viewpoints_says_so(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), origin="scan")
    assert "no-viewpoint" in rules(space, "caution")
    assert space.free_volume > 2.5


def test_declared_free_turns_unseen_cells_only(surveyed: Surveyed) -> None:
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


def test_loose_bits_are_kept_and_told(surveyed: Surveyed) -> None:
    bit = specimens.box((0.4, 0.2, 0.6), (0.44, 0.24, 0.64))
    space = surveyed(specimens.join(specimens.room(), bit))
    assert "loose-bits" in rules(space, "note")
    assert label_at(space, 0.4, 0.22, 0.62) == SOLID


# --- frame --------------------------------------------------------------------------------------


def turned_boat(
    boat: Boat, turn: specimens.Triangles, shift: specimens.Triangles, unit: float
) -> Boat:
    """The same boat on a mesh that was turned, moved and written in another unit."""

    def point(p: tuple[float, float, float]) -> tuple[float, float, float]:
        x, y, z = (turn @ np.array(p) + shift) / unit
        return (float(x), float(y), float(z))

    def way(v: tuple[float, float, float]) -> tuple[float, float, float]:
        x, y, z = turn @ np.array(v)
        return (float(x), float(y), float(z))

    assert boat.up is not None
    assert boat.datum is not None
    assert boat.centreline is not None
    return replace(
        boat,
        unit=unit,
        up=way(boat.up),
        forward=way(boat.forward),
        datum=replace(boat.datum, point=point(boat.datum.point)),
        centreline=replace(boat.centreline, point=point(boat.centreline.point)),
        inside=point(boat.inside),
        viewpoints=tuple(point(eye) for eye in boat.viewpoints),
        ports=tuple(
            replace(port, at=point(port.at), bearing=Bearing(frame="mesh", vector=way((0, 0, 1))))
            for port in boat.ports
        ),
    )


PORT = BoatPort(
    name="seacock",
    role="seacock",
    at=(0.5, 0.4, 0.0),
    bearing=Bearing(frame="boat", vector=(0.0, 0.0, 1.0)),
    connection="hose tail 19 mm",
    thread="3/4 in BSP",
)


@settings(max_examples=8, deadline=None)
@given(
    angles=st.tuples(*[st.floats(-3.0, 3.0)] * 3),
    shift=st.tuples(*[st.floats(-5.0, 5.0)] * 3),
    unit=st.sampled_from([1.0, 0.001, 0.0254]),
)
def test_moving_the_mesh_changes_nothing(
    tmp_path_factory: pytest.TempPathFactory,
    angles: tuple[float, float, float],
    shift: tuple[float, float, float],
    unit: float,
) -> None:
    folder = tmp_path_factory.mktemp("moved")
    # Off the lattice, so that rounding does not decide which cell a wall lies in.
    shape = specimens.room_with_box((0.207, -0.303, 0.0), (0.811, 0.309, 0.503))
    turn = rotation(angles)
    inside = (-0.513, 0.021, 0.617)
    plain = specimens.boat(
        specimens.write_ply(folder / "a.ply", shape), ports=(PORT,), inside=inside
    )
    moved_path = specimens.write_ply(folder / "b.ply", specimens.moved(shape, turn, shift) / unit)
    moved = replace(turned_boat(plain, turn, np.array(shift), unit), mesh=str(moved_path))
    layout = specimens.layout(pitch=0.0371)
    first = survey(specimens.scenario(plain, layout=layout), cell=layout.pitch)
    second = survey(specimens.scenario(moved, layout=layout), cell=layout.pitch)
    assert np.allclose(first.triangles, second.triangles, atol=1e-6)
    assert first.grid.shape == second.grid.shape
    assert np.mean(first.label != second.label) < 1e-3
    assert second.ports[0].at == pytest.approx(first.ports[0].at, abs=1e-6)
    assert second.ports[0].direction == pytest.approx((0.0, 0.0, 1.0), abs=1e-9)


def test_signs_of_the_boat_frame(surveyed: Surveyed) -> None:
    # A mesh with y up whose bow points to -z: +x is then starboard.
    turn = np.array([[0.0, -1.0, 0.0], [0.0, 0.0, 1.0], [-1.0, 0.0, 0.0]])
    space = surveyed(
        specimens.moved(specimens.room(), turn, (0.0, 0.0, 0.0)),
        up=(0.0, 1.0, 0.0),
        forward=(0.0, 0.0, -1.0),
        inside=(0.2, 0.5, -0.3),
        datum=Datum(point=(0.0, 0.1, 0.0), above_sea=0.35, taken="hose"),
        centreline=Centreline(point=(0.75, 0.0, 0.0), offset=-0.45),
        ports=(
            replace(PORT, at=(0.75, 0.5, -0.3), bearing=Bearing(frame="mesh", vector=(-1, 0, 0))),
        ),
    )
    # x forward from the inside point; y to port: the starboard wall is 0.45 m to starboard.
    assert space.inside == pytest.approx((0.0, 0.1, 0.75))
    port = space.port("seacock")
    assert port.at == pytest.approx((0.0, -0.45, 0.75))
    assert port.direction == pytest.approx((0.0, 1.0, 0.0))
    turns = np.array(space.frame.turn)
    assert np.linalg.det(turns) == pytest.approx(1.0)


def test_forward_is_laid_into_the_level_plane(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), forward=(1.0, 0.0, 0.3))
    assert np.array(space.frame.turn) == pytest.approx(np.eye(3))
    with pytest.raises(MeshError, match="points up or down"):
        surveyed(specimens.room(), forward=(0.1, 0.0, 1.0))


def tapes(*, error: float = 0.0, noise: tuple[float, float, float] = (0, 0, 0)) -> Any:
    """Three tape measures in the plain room whose mesh came out `error` too small."""
    picks = [((-1, 0, 0), (1, 0, 0)), ((0, -0.75, 0), (0, 0.75, 0)), ((0, 0, 0), (0, 0, 1.2))]
    lengths = (2.0, 1.5, 1.2)
    return tuple(
        TapeMeasure(start=a, end=b, length=length * (1 + error) + off)
        for (a, b), length, off in zip(picks, lengths, noise, strict=True)
    )


def test_tape_measures_put_the_scale_right(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), tape_measures=tapes(error=0.01))
    assert space.frame.scale == pytest.approx(1.01)
    assert np.ptp(space.triangles[..., 0]) == pytest.approx(2.02)
    assert "scale" in rules(space, "note")
    # On a drawing two picks of 1 mm and a tape within 3 mm (95 %), over the root of the summed
    # squares of 2.02, 1.515 and 1.212 m.
    each = np.sqrt(2 * 0.001**2 + (0.003 / 1.96) ** 2)
    # What is known beforehand counts as four values; with two free ones Student's factor is 2.447.
    each *= np.sqrt(4 / 6) * 2.447 / 1.96
    assert space.scale_uncertainty == pytest.approx(
        each / np.sqrt(2.02**2 + 1.515**2 + 1.212**2), rel=1e-3
    )


def test_tape_measures_prove_an_unknown_unit(surveyed: Surveyed) -> None:
    scaled = tuple(replace(tape, length=tape.length * 0.0254) for tape in tapes())
    space = surveyed(
        specimens.room() / 0.0254,
        unit=None,
        tape_measures=tuple(
            replace(
                tape,
                start=tuple(np.array(tape.start) / 0.0254),
                end=tuple(np.array(tape.end) / 0.0254),
                length=length.length / 0.0254,
            )
            for tape, length in zip(tapes(), scaled, strict=True)
        ),
        inside=(0.0, 0.0, 0.6 / 0.0254),
    )
    assert space.frame.scale == pytest.approx(0.0254)
    assert np.ptp(space.triangles[..., 0]) == pytest.approx(2.0)


@pytest.mark.parametrize("given_", [(), tapes()[:1]])
def test_a_unit_is_never_guessed(surveyed: Surveyed, given_: Any) -> None:
    with pytest.raises(MeshError, match="unit"):
        surveyed(specimens.room(), unit=None, tape_measures=given_)


def test_tapes_that_disagree_are_told(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), tape_measures=tapes(noise=(0.0, 0.1, 0.0)))
    told = next(row for row in space.findings if row.rule == "tape-disagreement")
    assert "number 2" in told.text
    assert space.scale_uncertainty > 0.015


def test_a_unit_the_tapes_contradict_fails(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), unit=0.5, tape_measures=tapes())
    assert "scale" in rules(space, "fail")
    assert space.frame.scale == pytest.approx(1.0)


def test_a_scan_nobody_measured_is_one_per_cent_unsure(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), **scan())
    assert 1.96 * space.scale_uncertainty == pytest.approx(0.02)
    assert space.accuracy == pytest.approx(0.020)
    assert {row.what for row in space.assumptions if row.can_flip} >= {
        "the scan's scale is right to 2 %",
        "the scan is accurate",
    }
    assert surveyed(specimens.room()).scale_uncertainty == 0.0


WATERLINE = [(-0.9, -0.75), (0.0, -0.75), (0.9, -0.75), (-0.9, 0.75), (0.0, 0.75), (0.9, 0.75)]


@pytest.mark.parametrize("tilt", [0.0, 0.05, 0.12])
def test_the_waterline_levels_the_boat(surveyed: Surveyed, tilt: float) -> None:
    sea = 0.4
    turn = rotation((tilt, 0.0, 0.0))
    marks = tuple(tuple(turn @ np.array([x, y, sea])) for x, y in WATERLINE)
    space = surveyed(
        specimens.moved(specimens.room(), turn, (0.0, 0.0, 0.0)),
        waterline=marks,
        datum=None,
        inside=tuple(turn @ np.array([0.0, 0.0, 0.6])),
    )
    assert np.ptp(space.triangles[..., 2]) == pytest.approx(1.2, abs=1e-6)
    assert space.triangles[..., 2].min() == pytest.approx(-sea, abs=1e-6)
    assert ("waterline-tilt" in rules(space)) is (tilt > 0.01)
    assert ("waterline-tilt" in rules(space, "caution")) is (tilt > 0.1)
    barred = [row.bars for row in space.findings if row.rule == "waterline-tilt" and row.bars]
    assert bool(barred) is (tilt > 0.1)


def test_waterline_without_up_takes_the_mesh_as_upright(surveyed: Surveyed) -> None:
    marks = tuple((x, y, 0.4) for x, y in WATERLINE)
    space = surveyed(specimens.room(), waterline=marks, datum=None, up=None)
    assert space.frame.turn[2] == pytest.approx((0.0, 0.0, 1.0))
    assert "the mesh is not upside down" in {row.what for row in space.assumptions if row.can_flip}


def test_a_waterline_along_one_side_is_refused(surveyed: Surveyed) -> None:
    marks = tuple((x, 0.75, 0.4 + 0.001 * x * x) for x in np.linspace(-0.9, 0.9, 8))
    with pytest.raises(MeshError, match="near one line"):
        surveyed(specimens.room(), waterline=marks, origin="scan")


def test_a_datum_that_contradicts_the_waterline_is_told(surveyed: Surveyed) -> None:
    marks = tuple((x, y, 0.4) for x, y in WATERLINE)
    datum = Datum(point=(0.0, 0.0, 0.0), above_sea=-0.35, taken="hose")
    space = surveyed(specimens.room(), waterline=marks, datum=datum)
    assert "height-disagreement" in rules(space, "caution")
    told = {row.rule: set(row.bars) for row in space.findings}
    assert told["height-disagreement"] == {"cut_joinery", "order_hoses"}


def test_a_missing_centreline_is_an_assumption_that_can_flip(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), centreline=None, inside=(0.0, 0.3, 0.6))
    assert space.inside[1] == pytest.approx(0.0)
    assert [row.can_flip for row in space.assumptions if "centreline runs" in row.what] == [True]


@pytest.mark.parametrize(("unit", "word"), [(1000.0, "2000 m"), (0.001, "0.002 m")])
def test_sizes_no_boat_has(surveyed: Surveyed, unit: float, word: str) -> None:
    with pytest.raises(MeshError, match=word):
        surveyed(specimens.room(), unit=unit)


def test_too_many_cells_name_a_pitch_that_works(surveyed: Surveyed) -> None:
    with pytest.raises(MeshError, match="take a pitch of 4 mm"):
        surveyed(specimens.room(), pitch=0.003, unit=1.1)


# --- ports and holes ----------------------------------------------------------------------------


def test_a_good_port_is_silent(surveyed: Surveyed) -> None:
    assert rules(surveyed(specimens.room(), ports=(PORT,))) == []


def test_a_port_that_opens_into_a_wall_fails(surveyed: Surveyed) -> None:
    down = replace(PORT, bearing=Bearing(frame="boat", vector=(0.0, 0.0, -1.0)))
    space = surveyed(specimens.room(), ports=(replace(down, at=(0.5, 0.4, -0.01)),))
    finding = next(row for row in space.findings if row.rule == "port-blocked")
    assert finding.severity == "fail"
    assert finding.place == pytest.approx((0.5, 0.4, -0.01))


def test_a_port_in_mid_air_is_remarked(surveyed: Surveyed) -> None:
    space = surveyed(specimens.room(), ports=(replace(PORT, at=(0.0, 0.0, 0.5)),))
    finding = next(row for row in space.findings if row.rule == "port-off-surface")
    assert finding.value == pytest.approx(0.5)
    assert finding.bars == ("cut_joinery", "order_hoses")


def test_a_port_on_a_declared_solid_is_no_port_in_mid_air(surveyed: Surveyed) -> None:
    tank = Volume(name="tank", corners=((0.1, 0.1, 0.3), (0.5, 0.5, 0.7)), why="a tank")
    port = replace(PORT, at=(0.1, 0.3, 0.5))
    space = surveyed(specimens.room(), solids=(tank,), ports=(port,))
    assert "port-off-surface" not in {row.rule for row in space.findings}


def test_holes(surveyed: Surveyed) -> None:
    shape = specimens.join(specimens.room(), specimens.bulkhead(diameter=0.2))
    forward = Bearing(frame="boat", vector=(1.0, 0.0, 0.0))
    good = Hole(name="good", centre=(0.0, 0.0, 0.6), bearing=forward, diameter=0.2)
    stray = replace(good, name="stray", centre=(0.5, 0.0, 0.6))
    outer = replace(good, name="outer", centre=(1.0, 0.0, 0.6))
    space = surveyed(shape, inside=(-0.5, 0.0, 0.6), holes=(good, stray, outer))
    told = [(row.rule, row.subject) for row in space.findings if row.rule not in UNPROVEN]
    assert told == [("hole-off-surface", "boat.stray"), ("hole-blocked", "boat.outer")]


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
    # The grids lie half a cell apart, so may the distances.
    assert np.abs(ours - theirs).max() < 2.0 * 0.02
