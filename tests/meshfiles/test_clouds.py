"""Point clouds: points become solid cells, the gaps between them are closed, scanners become
viewpoints.
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fitcheck.errors import MeshError
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells
from fitcheck.meshfiles.gate import read_mesh
from fitcheck.meshfiles.splats import make_splats
from fitcheck.model.found.space import FREE, Space
from fitcheck.space import survey
from fitcheck.space.cells.openings import connected, touches_rim
from tests import specimens
from tests.specimens.mesh_files import sampled, write_cloud

ROOM = specimens.room()
NONE = np.empty((0, 3))
Points = specimens.Triangles


def write_e57(path: Path, scans: list[tuple[Points, tuple[float, float, float]]]) -> Path:
    """An E57 of scans, each with its scanner position, points in the scanner's own frame."""
    pye57 = pytest.importorskip("pye57")
    file = pye57.E57(str(path), mode="w")
    for points, at in scans:
        rows = {f"cartesian{axis}": points[:, k] - at[k] for k, axis in enumerate("XYZ")}
        turn = np.array([1.0, 0.0, 0.0, 0.0])
        file.write_scan_raw(rows, translation=np.array(at), rotation=turn)
    file.close()
    return path


def surveyed(path: Path, **changes: Any) -> Space:
    """Survey a scan at 40 mm with twelve viewpoints."""
    usual = {"origin": "scan", "viewpoints": specimens.viewpoints(12)}
    boat = specimens.boat(path, **(usual | changes))
    return survey(specimens.scenario(boat, layout=specimens.layout(pitch=0.04)), cell=0.04)


@pytest.mark.parametrize("kind", [{}, {"big": True}, {"text": True}])
def test_points_of_a_ply(tmp_path: Path, kind: dict[str, bool]) -> None:
    points = sampled(ROOM, 0.1)
    mesh = read_mesh(write_cloud(tmp_path / "a.ply", points, **kind))
    assert mesh.is_cloud
    assert np.allclose(mesh.points, points, atol=2e-6)
    assert mesh.raw == len(points)


def test_truncated_or_invalid_points(tmp_path: Path) -> None:
    path = write_cloud(tmp_path / "a.ply", sampled(ROOM, 0.1))
    path.write_bytes(path.read_bytes()[:-20])
    with pytest.raises(MeshError, match="cut short"):
        read_mesh(path)
    broken = sampled(ROOM, 0.1)
    broken[5] = np.nan
    with pytest.raises(MeshError, match="1 of .* points are no number"):
        read_mesh(write_cloud(path, broken))


@pytest.mark.parametrize("apart", [0.012, 0.018])
@pytest.mark.parametrize("noise", [0.0, 0.004])
def test_gaps_between_points_are_closed(apart: float, noise: float) -> None:
    """A fill at the search pitch does not leak between random points."""
    points = sampled(ROOM, apart, noise)
    squares = make_splats(points, NONE, NONE).triangles
    grid = Grid(origin=(-1.2, -0.95, -0.2), pitch=0.02, shape=(120, 95, 80))
    clear = ~touched_cells(squares, grid)
    start = tuple(int(i) for i in grid.index(np.array((0.0, 0.0, 0.6))))
    inside = connected(clear, (start[0], start[1], start[2]))
    assert not touches_rim(inside)
    # Squares are no further from the points than their width.
    assert inside.sum() * grid.pitch**3 > 3.6 * (1.0 - 0.25)


def test_squares_contain_their_points_and_face_the_scanner() -> None:
    points = sampled(ROOM, 0.02)
    eye = np.array((0.3, 0.2, 0.7))
    squares = make_splats(points, NONE, np.broadcast_to(eye, points.shape))
    first, second, third = np.moveaxis(squares.triangles[::2], 1, 0)
    middle = (first + third) / 2.0
    # Thinning keeps points where they are: each middle is one of them.
    kept = {tuple(row) for row in points.round(9)}
    assert {tuple(row) for row in middle.round(9)} <= kept
    normal = np.cross(second - first, third - first)
    assert (np.einsum("ij,ij->i", normal, eye - middle) > 0.0).mean() > 0.99


def test_a_cloud_is_surveyed_like_the_mesh_it_came_from(tmp_path: Path) -> None:
    shape = specimens.room_with_box()
    mesh = surveyed(specimens.write_ply(tmp_path / "mesh.ply", shape))
    cloud = surveyed(write_cloud(tmp_path / "cloud.ply", sampled(shape, 0.012)))
    free, known = cloud.label == FREE, mesh.label == FREE
    assert cloud.grid.pitch == mesh.grid.pitch
    assert cloud.free_volume > 0.8 * mesh.free_volume
    # Free in the cloud but not in the mesh: only a thin rim of sight lines.
    at = cloud.grid.centre(np.argwhere(free))
    index = mesh.grid.index(at)
    assert (~known[tuple(index.T)]).mean() < 0.01
    inside_box = (np.abs(at - [0.5, 0.0, 0.25]) < [0.28, 0.28, 0.23]).all(axis=1)
    assert not inside_box.any()
    assert any(found.rule == "points" for found in cloud.findings)
    assert not any(found.rule == "loose-bits" for found in cloud.findings)


def test_distance_to_a_cloud_is_never_above_that_to_its_points(tmp_path: Path) -> None:
    points = sampled(ROOM, 0.015)
    space = surveyed(write_cloud(tmp_path / "cloud.ply", points))
    cells = np.argwhere(space.label == FREE)[::97]
    at = space.grid.centre(cells)
    truth = np.minimum(np.array((1.0, 0.75, 1.2)) - at, at - np.array((-1.0, -0.75, 0.0)))
    assert (space.distance[tuple(cells.T)] <= truth.min(axis=1) + 1e-5).all()


def test_scanner_positions_of_an_e57_are_viewpoints(tmp_path: Path) -> None:
    places = [(-0.6, -0.4, 0.9), (0.7, 0.4, 0.9), (-0.5, 0.5, 0.4), (0.5, -0.5, 0.3)]
    scans = [(sampled(ROOM, 0.01, seed=k), at) for k, at in enumerate(places)]
    path = write_e57(tmp_path / "a.e57", scans)
    mesh = read_mesh(path)
    assert mesh.unit == 1.0
    assert np.allclose(mesh.stations, places)
    assert set(mesh.station) == {0, 1, 2, 3}
    # Points were written in the scanner's frame and are read in the file's.
    assert np.allclose(mesh.points.max(axis=0), (1.0, 0.75, 1.2), atol=1e-3)
    space = surveyed(path, unit=None, viewpoints=())
    assert len(space.viewpoints) == 4
    assert space.free_volume > 2.5
    assert not any(found.rule == "no-viewpoint" for found in space.findings)


@pytest.mark.parametrize("kind", ["las", "laz"])
def test_las_and_laz_far_from_the_origin(tmp_path: Path, kind: str) -> None:
    laspy = pytest.importorskip("laspy")
    offset = np.array((500_000.0, 5_800_000.0, 0.0))
    points = sampled(ROOM, 0.03) + offset
    header = laspy.LasHeader(point_format=3, version="1.2")
    header.offsets, header.scales = points.min(axis=0), np.full(3, 0.0005)
    data = laspy.LasData(header)
    data.x, data.y, data.z = points.T
    data.write(tmp_path / f"a.{kind}")
    mesh = read_mesh(tmp_path / f"a.{kind}")
    assert mesh.unit is None
    assert mesh.doubts == ()
    assert np.allclose(mesh.points.max(axis=0) - offset, (1.0, 0.75, 1.2), atol=2e-3)
    if kind == "las":  # the first of its scales, at byte 131, made ten times as large
        whole = bytearray((tmp_path / "a.las").read_bytes())
        whole[131:139] = struct.pack("<d", 0.005)
        (tmp_path / "a.las").write_bytes(whole)
        assert "outside the bounds it states" in read_mesh(tmp_path / "a.las").doubts[0]
        (tmp_path / "a.las").write_bytes(whole[:-200])
        with pytest.raises(MeshError):
            read_mesh(tmp_path / "a.las")


@pytest.mark.parametrize(
    ("name", "start", "needed"),
    [("a.las", b"LASF", "laspy[lazrs]"), ("a.e57", b"ASTM-E57", "pye57")],
)
def test_a_missing_reader_is_one_line_with_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, start: bytes, needed: str
) -> None:
    (tmp_path / name).write_bytes(start + bytes(100))
    library = needed.partition("[")[0]
    (tmp_path / f"{library}.py").write_text(f"raise ModuleNotFoundError(name={library!r})\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(MeshError) as caught:
        read_mesh(tmp_path / name)
    assert "\n" not in str(caught.value)
    assert "-m pip install" in caught.value.remedy
    assert needed in caught.value.remedy


def test_invalid_clouds_are_refused(tmp_path: Path) -> None:
    for name, start in (("a.las", b"LASF"), ("a.e57", b"ASTM-E57")):
        (tmp_path / name).write_bytes(start + bytes(400))
        with pytest.raises(MeshError) as caught:
            read_mesh(tmp_path / name)
        assert "\n" not in str(caught.value)
        assert name in str(caught.value)
