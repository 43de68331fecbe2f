"""Cells that measured rays passed, and a scan surveyed by the rays of its file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from fitcheck.errors import MeshError
from fitcheck.geometry.grid import Grid
from fitcheck.meshfiles.gate import read_mesh
from fitcheck.model.found.space import FREE, Space
from fitcheck.space import survey
from fitcheck.space.cells.rays import Rays, passed_by
from fitcheck.space.cells.sight import Scene, build_scene
from tests import specimens
from tests.specimens.mesh_files import sampled, write_cloud

Points = specimens.Triangles
ROOM = specimens.room()  # 2.0 x 1.5 x 1.2 m
GRID = Grid(origin=(-1.5, -1.0, -0.25), pitch=0.05, shape=(60, 40, 34))
PLACES = ((-0.6, -0.4, 0.9), (0.7, 0.4, 0.9), (-0.5, 0.5, 0.4), (0.5, -0.5, 0.3))


def scene_of(triangles: Points) -> Scene:
    nothing = np.zeros(GRID.shape, dtype=np.bool_)
    return build_scene(GRID, triangles, nothing, nothing)


def rays_to(points: Points, *places: tuple[float, float, float]) -> Rays:
    """Rays from every place to every point."""
    return Rays(
        stations=np.array(places),
        points=np.tile(points, (len(places), 1)),
        frame=np.repeat(np.arange(len(places), dtype=np.int32), len(points)),
    )


def cells(low: specimens.Corner, high: specimens.Corner) -> NDArray[np.int64]:
    every = np.argwhere(np.ones(GRID.shape, dtype=np.bool_))
    centre = GRID.centre(every)
    return every[((centre > np.array(low)) & (centre < np.array(high))).all(axis=1)]


AIR = cells((-0.85, -0.6, 0.15), (0.85, 0.6, 1.05))


@pytest.mark.parametrize("frames", [1, 2, 4])
def test_every_frame_with_points_all_round_passes_the_air_before_them(frames: int) -> None:
    rays = rays_to(sampled(ROOM, 0.006), *PLACES[:frames])
    times = passed_by(scene_of(ROOM), AIR, rays, frames)
    assert (times == frames).mean() > 0.98
    assert not passed_by(scene_of(ROOM), AIR, rays, frames + 1).any()


def test_directions_without_a_point_prove_nothing() -> None:
    points = sampled(ROOM, 0.006)
    rays = rays_to(points[points[:, 0] > -0.2], PLACES[1], PLACES[3])
    aft = cells((-0.9, -0.65, 0.1), (-0.4, 0.65, 1.1))
    assert not passed_by(scene_of(ROOM), aft, rays, 2).any()
    assert (passed_by(scene_of(ROOM), AIR[AIR[:, 0] > 40], rays, 2) == 2).mean() > 0.9


def test_rays_end_at_surfaces_other_frames_measured() -> None:
    # A board across the room, from which no ray came back: it was measured from elsewhere.
    board = specimens.sheet(0.0, (-0.75, 0.0), (0.75, 1.2))
    rays = rays_to(sampled(ROOM, 0.006), PLACES[1], PLACES[3])
    aft = cells((-0.85, -0.6, 0.15), (-0.1, 0.6, 1.05))
    assert (passed_by(scene_of(ROOM), aft, rays, 2) == 2).mean() > 0.98
    assert not passed_by(scene_of(specimens.join(ROOM, board)), aft, rays, 2).any()


@pytest.mark.parametrize("dust", [0.0, 0.1])
def test_what_shows_in_a_glossy_wall_is_not_passed_where_dust_returns_a_part(dust: float) -> None:
    # A patch of the wall aft mirrors: its points are as far behind it as the wall forward is
    # before it, and the mesh has a hole there.
    points = sampled(ROOM, 0.006)
    on_patch = (points[:, 0] < -0.99) & (np.abs(points[:, 1]) < 0.4) & (points[:, 2] < 0.9)
    mirrored = on_patch & (np.random.default_rng(5).random(len(points)) >= dust)
    fine = specimens.finer(ROOM, 6)
    middle = fine.mean(axis=1)
    patch = (middle[:, 0] < -0.99) & (np.abs(middle[:, 1]) < 0.4) & (middle[:, 2] < 0.9)
    stations = np.array(PLACES)
    rays = rays_to(points, *PLACES)
    on = np.tile(mirrored, len(PLACES))
    away = rays.points - stations[rays.frame]
    rays.points[on] += away[on] * (0.5 / np.linalg.norm(away[on], axis=1))[:, None]
    beyond = cells((-1.3, -0.3, 0.2), (-1.1, 0.3, 0.7))
    times = passed_by(scene_of(fine[~patch]), beyond, rays, 2)
    # Without any return from the patch itself nothing tells the mirror image from a room.
    assert (times >= 2).mean() < 0.02 if dust else (times >= 2).mean() > 0.5


def framed_cloud(folder: Path, frames: int = 4) -> tuple[Path, Path]:
    """A PLY of the room seen from some places, and the list of these places."""
    points = [sampled(ROOM, 0.01, seed=k) for k in range(frames)]
    numbers = np.repeat(10 + 5 * np.arange(frames), [len(row) for row in points])
    cloud = write_cloud(folder / "cloud.ply", np.concatenate(points), frame=numbers)
    rows = [f"{10 + 5 * k},{x},{y},{z}" for k, (x, y, z) in enumerate(PLACES[:frames])]
    # Frames in any order, and one without points.
    listed = folder / "frames.csv"
    listed.write_text("\n".join(["frame,x,y,z", "900,0,0,0.5", *rows[::-1]]) + "\n")
    return cloud, listed


def surveyed(mesh: Path, **changes: Any) -> Space:
    usual = {"origin": "scan", "viewpoints": ()}
    boat = specimens.boat(mesh, **(usual | changes))
    return survey(specimens.scenario(boat, layout=specimens.layout(pitch=0.04)), cell=0.04)


def test_numbered_points_and_a_list_of_stations_need_no_viewpoints(tmp_path: Path) -> None:
    cloud, listed = framed_cloud(tmp_path)
    space = surveyed(cloud, stations=str(listed))
    assert 0.75 * 3.6 < space.free_volume < 3.6
    assert len(space.viewpoints) == 5
    assert not any(row.rule == "no-viewpoint" for row in space.findings)


def test_rays_beside_a_mesh_prove_what_they_passed(tmp_path: Path) -> None:
    mesh = specimens.write_stl(tmp_path / "room.stl", specimens.finer(ROOM, 4))
    cloud, listed = framed_cloud(tmp_path)
    space = surveyed(mesh, rays=str(cloud), stations=str(listed))
    assert 0.75 * 3.6 < space.free_volume < 3.6


def test_rays_of_a_single_frame_prove_nothing(tmp_path: Path) -> None:
    mesh = specimens.write_stl(tmp_path / "room.stl", specimens.finer(ROOM, 4))
    cloud, listed = framed_cloud(tmp_path, frames=1)
    eyes = specimens.viewpoints(12)
    alone = surveyed(mesh, viewpoints=eyes)
    both = surveyed(mesh, viewpoints=eyes, rays=str(cloud), stations=str(listed))
    assert ((both.label == FREE) == (alone.label == FREE)).all()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "lists no frames"),
        ("x,y,z\n1,2,3\n", "line 1: should be frame,x,y,z"),
        ("frame,x,y,z\n10,0,0,oak\n", "line 2: is not a frame number"),
        ("frame,x,y,z\n10,0,0\n", "line 2: is not a frame number"),
        ("frame,x,y,z\n10,0,0,nan\n", "line 2: is not a frame number"),
        ("frame,x,y,z\n10,0,0,1\n10,0,0,2\n", "line 3: frame 10 is listed twice"),
        ("frame,x,y,z\n11,0,0,1\n", "lists no frame that the points name"),
    ],
)
def test_a_wrong_list_of_stations_is_one_fault(text: str, says: str, tmp_path: Path) -> None:
    cloud, listed = framed_cloud(tmp_path)
    listed.write_text(text)
    with pytest.raises(MeshError, match=says) as raised:
        surveyed(cloud, stations=str(listed))
    assert raised.value.key == "boat.stations"


def test_points_without_frames_give_no_rays(tmp_path: Path) -> None:
    plain = write_cloud(tmp_path / "plain.ply", sampled(ROOM, 0.03))
    _, listed = framed_cloud(tmp_path)
    with pytest.raises(MeshError, match="its points have no frame numbers"):
        surveyed(plain, stations=str(listed))
    mesh = specimens.write_stl(tmp_path / "room.stl", ROOM)
    with pytest.raises(MeshError, match="does not tell where any of its points was measured"):
        surveyed(mesh, rays=str(plain))
    with pytest.raises(MeshError, match="has faces; rays are points"):
        surveyed(mesh, rays=str(mesh))


def test_a_station_outside_the_crop_is_no_fault(tmp_path: Path) -> None:
    # The forward half alone; two of the four positions are aft of it.
    cloud, listed = framed_cloud(tmp_path)
    forward = ((0.05, -0.9, -0.1), (1.1, 0.9, 1.3))
    space = surveyed(cloud, stations=str(listed), crop=forward, inside=(0.5, 0.0, 0.6))
    assert 0.75 * 1.6 < space.free_volume < 1.8


def test_rays_out_of_a_wide_opening_prove_nothing_beyond_it(tmp_path: Path) -> None:
    # The forward end is open, and 1 m beyond it stands a wall that all frames measured.
    walls = ROOM[~(ROOM[:, :, 0] == 1.0).all(axis=1)]
    beyond = specimens.sheet(2.0, (-0.75, 0.0), (0.75, 1.2))
    fine = specimens.finer(specimens.join(walls, beyond), 4)
    points = [sampled(fine, 0.01, seed=k) for k in range(4)]
    numbers = np.repeat(np.arange(4), [len(row) for row in points])
    cloud = write_cloud(tmp_path / "cloud.ply", np.concatenate(points), frame=numbers)
    rows = [f"{k},{x},{y},{z}" for k, (x, y, z) in enumerate(PLACES)]
    listed = tmp_path / "frames.csv"
    listed.write_text("\n".join(["frame,x,y,z", *rows]) + "\n")
    mesh = specimens.write_stl(tmp_path / "room.stl", fine)
    space = surveyed(mesh, rays=str(cloud), stations=str(listed))
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    x = (centres - np.array(space.frame.shift))[..., 0]
    assert (space.label[(x > -0.8) & (x < 0.2)] == FREE).any()
    assert not (space.label[(x > 1.5) & (x < 1.9)] == FREE).any()


@pytest.mark.parametrize("wrong", ["moved", "in millimetres", "other axes"])
def test_rays_that_are_not_of_the_mesh_are_refused(wrong: str, tmp_path: Path) -> None:
    mesh = specimens.write_stl(tmp_path / "room.stl", specimens.finer(ROOM, 4))
    points = [sampled(ROOM, 0.01, seed=k) for k in range(4)]
    numbers = np.repeat(np.arange(4), [len(row) for row in points])
    change = {
        "moved": lambda row: row + 0.3,
        "in millimetres": lambda row: 1000.0 * row,
        "other axes": lambda row: row[:, [2, 0, 1]],
    }[wrong]
    cloud = write_cloud(tmp_path / "cloud.ply", change(np.concatenate(points)), frame=numbers)
    listed = tmp_path / "frames.csv"
    rows = [f"{k},{x},{y},{z}" for k, (x, y, z) in enumerate(change(np.array(PLACES)))]
    listed.write_text("\n".join(["frame,x,y,z", *rows]) + "\n")
    with pytest.raises(MeshError, match="of its points are on the mesh") as raised:
        surveyed(mesh, rays=str(cloud), stations=str(listed))
    assert raised.value.key == "boat.rays"


@pytest.mark.parametrize("most", [10_000, 1_000])
def test_a_large_cloud_keeps_points_of_every_frame_and_place(
    most: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fitcheck.meshfiles.formats.ply.MOST_KEPT", most)
    monkeypatch.setattr("fitcheck.meshfiles.formats.ply.CHUNK", 7_000)
    monkeypatch.setattr("fitcheck.meshfiles.foreign.MOST_KEPT", most)
    points = sampled(ROOM, 0.02)
    numbers = np.arange(len(points)) % 3
    mesh = read_mesh(write_cloud(tmp_path / "cloud.ply", points, frame=numbers))
    assert len(mesh.points) <= most < len(points)
    for frame in range(3):
        own, kept = points[numbers == frame], mesh.points[mesh.station == frame]
        assert cKDTree(own).query(kept)[0].max() < 1e-6  # points of that frame, unchanged
        assert cKDTree(kept).query(own)[0].max() < 0.35  # and from everywhere


def test_a_frame_number_that_is_not_whole_is_refused(tmp_path: Path) -> None:
    points = sampled(ROOM, 0.1)
    path = write_cloud(tmp_path / "cloud.ply", points, frame=np.full(len(points), -1))
    with pytest.raises(MeshError, match="is not a whole number from 0"):
        read_mesh(path)


def wall(x: float, apart: float) -> Points:
    """A lattice of points on the plane x."""
    y, z = np.meshgrid(np.arange(-0.6, 0.6, apart), np.arange(0.0, 1.2, apart), indexing="ij")
    return np.stack([np.full(y.size, x), y.ravel(), z.ravel()], axis=1)


@pytest.mark.parametrize(("against", "passes"), [(0, 2), (1, 1), (2, 0), (3, 0)])
def test_a_frame_that_met_something_before_a_cell_speaks_against_one_that_passed(
    against: int, passes: int
) -> None:
    # Two frames measured the wall at x = 0.9, the others one at x = 0, which the mesh lacks.
    places = np.array([(-0.8, 0.01 * k, 0.6) for k in range(2 + against)])
    parts = [wall(0.9, 0.02)] * 2 + [wall(0.0, 0.02)] * against
    rays = Rays(
        stations=places[::-1],
        points=np.concatenate(parts),
        frame=np.repeat(np.arange(2 + against)[::-1], [len(row) for row in parts]).astype("i4"),
    )
    between = cells((0.3, -0.1, 0.5), (0.6, 0.1, 0.7))
    assert set(passed_by(scene_of(ROOM), between, rays, 2).tolist()) == {passes}


def test_rays_close_beside_each_other_must_all_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    # Every third point in either direction is on a glossy wall at x = 0, the rest show in it.
    far = wall(0.9, 0.02)
    station = np.array((-0.8, 0.0, 0.6))
    dust = np.zeros((60, 60), dtype=np.bool_)
    dust[::3, ::3] = True
    near = station + (far - station) * (0.8 / 1.7)
    points = np.where(dust.ravel()[:, None], near, far)
    rays = rays_to(points, tuple(station))
    between = cells((0.3, -0.1, 0.5), (0.6, 0.1, 0.7))
    assert not passed_by(scene_of(ROOM), between, rays, 1).any()
    monkeypatch.setattr("fitcheck.space.cells.rays.minimum_filter", lambda far, *_, **__: far)
    assert passed_by(scene_of(ROOM), between, rays, 1).any()
