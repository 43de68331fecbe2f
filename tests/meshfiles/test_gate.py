"""The gate: every broken file is refused in one line with the problem and the remedy."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from fitcheck.errors import MeshError
from fitcheck.meshfiles.gate import read_mesh
from fitcheck.meshfiles.topology import topology
from tests import specimens
from tests.specimens.mesh_files import tree_of, write_glb, write_obj, write_text_stl

ROOM = specimens.room()


def refused(path: Path, *words: str) -> MeshError:
    """Read a file that must be refused; the message names the file and contains the words."""
    with pytest.raises(MeshError) as caught:
        read_mesh(path)
    text = str(caught.value)
    assert "\n" not in text
    assert path.name in text
    assert caught.value.remedy
    for word in words:
        assert word in text, text
    return caught.value


# --- good files ---------------------------------------------------------------------------------


def write_any(path: Path) -> Path:
    kind = path.name
    if kind == "text.stl":
        return write_text_stl(path, ROOM)
    if kind.endswith(".stl"):
        return specimens.write_stl(path, ROOM)
    if kind.endswith(".obj"):
        return write_obj(path, ROOM)
    if kind.endswith(".ply"):
        return specimens.write_ply(path, ROOM)
    tree, data = tree_of(ROOM)
    if kind.endswith(".glb"):
        return write_glb(path, tree, data)
    tree["buffers"][0]["uri"] = (
        "data:application/octet-stream;base64," + base64.b64encode(data).decode()
    )
    path.write_text(json.dumps(tree))
    return path


@pytest.mark.parametrize(
    "name", ["text.stl", "room.stl", "room.obj", "room.ply", "room.glb", "room.gltf"]
)
def test_every_format_gives_the_same_room(tmp_path: Path, name: str) -> None:
    path = write_any(tmp_path / name)
    mesh = read_mesh(path)
    assert mesh.raw == 12
    assert mesh.dropped == ()
    order = np.lexsort(mesh.triangles.reshape(-1, 9).T)
    wanted = np.lexsort(ROOM.reshape(-1, 9).T)
    assert np.allclose(mesh.triangles[order], ROOM[wanted], atol=1e-6)
    found = topology(mesh.triangles)
    assert (found.bodies, found.open_edges) == (1, 0)


def test_a_binary_stl_may_begin_with_the_word_solid(tmp_path: Path) -> None:
    path = specimens.write_stl(tmp_path / "room.stl", ROOM)
    path.write_bytes(b"solid" + path.read_bytes()[5:])
    assert read_mesh(path).raw == 12


def test_node_transforms_are_applied(tmp_path: Path) -> None:
    tree, data = tree_of(ROOM)
    tree["nodes"][0]["scale"] = [2.0, 2.0, -2.0]
    mesh = read_mesh(write_glb(tmp_path / "room.glb", tree, data))
    assert np.allclose(np.ptp(mesh.triangles.reshape(-1, 3), axis=0), (4.0, 3.0, 2.4))
    # A mirrored node reverses its triangles; the room still faces inward.
    first, second, third = np.moveaxis(mesh.triangles, 1, 0)
    assert np.einsum("ij,ij->", first, np.cross(second, third)) < 0.0


def test_quads_become_two_triangles_each(tmp_path: Path) -> None:
    path = tmp_path / "sheet.obj"
    path.write_text("v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n")
    assert read_mesh(path).raw == 2


def test_triangles_without_area_are_dropped_and_reported(tmp_path: Path) -> None:
    flat = np.zeros((2, 3, 3)) + np.array([[[0.0], [0.5], [1.0]]])
    mesh = read_mesh(specimens.write_ply(tmp_path / "room.ply", specimens.join(ROOM, flat)))
    assert mesh.raw == 14
    assert len(mesh.triangles) == 12
    assert mesh.dropped == ("2 triangles without area",)


def test_bodies_and_open_edges() -> None:
    assert topology(specimens.room_with_box()).bodies == 2
    assert topology(ROOM).open_edges == 0
    # Without one triangle three edges are open.
    assert topology(ROOM[1:]).open_edges == 3
    turned = np.concatenate([ROOM[:1, ::-1], ROOM[1:]])
    assert topology(turned).crossed == 3
    assert topology(ROOM).crossed == 0


# --- broken files -------------------------------------------------------------------------------


def test_truncated_stl(tmp_path: Path) -> None:
    path = specimens.write_stl(tmp_path / "room.stl", ROOM)
    path.write_bytes(path.read_bytes()[:-70])
    refused(path, "declares 12", "contains 10.6", "cut short")


def test_stl_with_more_data_than_declared(tmp_path: Path) -> None:
    path = specimens.write_stl(tmp_path / "room.stl", ROOM)
    path.write_bytes(path.read_bytes() + bytes(50))
    refused(path, "declares 12", "contains 13.0")


def test_truncated_text_stl(tmp_path: Path) -> None:
    path = write_text_stl(tmp_path / "room.stl", ROOM)
    path.write_text(path.read_text()[:-200])
    refused(path, "10 facets are complete", "cut short")


@pytest.mark.parametrize("name", ["a.stl", "a.obj", "a.ply", "a.glb", "a.gltf"])
def test_empty_file(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.touch()
    refused(path, "empty")


@pytest.mark.parametrize("name", ["a.stl", "a.obj", "a.ply", "a.glb", "a.gltf"])
def test_a_text_with_the_wrong_name(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text("Dear yard,\nfind the mesh enclosed.\n" * 10)
    refused(path)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    refused(tmp_path / "missing.ply", "no such file")
    (tmp_path / "folder.ply").mkdir()
    refused(tmp_path / "folder.ply", "is a folder")


@pytest.mark.parametrize(
    ("name", "word"),
    [("a.iges", "CAD program"), ("a.fbx", "mesh program"), ("a.pcd", "point cloud program")],
)
def test_unsupported_formats_get_conversion_advice(tmp_path: Path, name: str, word: str) -> None:
    (tmp_path / name).write_text("something")
    refused(tmp_path / name, word, "STL, OBJ, PLY, GLB")


@pytest.mark.parametrize("value", [np.nan, np.inf])
@pytest.mark.parametrize("name", ["room.stl", "room.ply"])
def test_nan_corners(tmp_path: Path, name: str, value: float) -> None:
    broken = ROOM.copy()
    broken[3, 1, 2] = value
    broken[7, 0, 0] = value
    write = specimens.write_stl if name.endswith("stl") else specimens.write_ply
    refused(write(tmp_path / name, broken), "2 of 12", "no number")


def test_nan_in_an_obj(tmp_path: Path) -> None:
    path = write_obj(tmp_path / "room.obj", ROOM)
    path.write_text(path.read_text().replace("v -1 ", "v nan ", 1))
    refused(path)


def test_obj_index_out_of_range(tmp_path: Path) -> None:
    path = tmp_path / "a.obj"
    path.write_text("v 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 9\n")
    refused(path)


@pytest.mark.parametrize("offset", [1e7, 1e9])
def test_coordinates_far_from_the_origin(tmp_path: Path, offset: float) -> None:
    path = specimens.write_stl(tmp_path / "room.stl", ROOM + offset)
    refused(path, "from the origin", "near the origin")


def test_long_numbers_far_from_the_origin_are_accepted(tmp_path: Path) -> None:
    mesh = read_mesh(specimens.write_ply(tmp_path / "room.ply", ROOM + 1e7))
    assert np.allclose(mesh.triangles - 1e7, ROOM, atol=1e-6)


def test_one_corner_far_out(tmp_path: Path) -> None:
    fine = specimens.finer(ROOM, 4)
    fine[100, 0] = (1e4, 0.0, 0.0)
    refused(specimens.write_ply(tmp_path / "room.ply", fine), "a corner is at", "1e+04")


@pytest.mark.parametrize("finer", [0, 1, 4, 6])
@pytest.mark.parametrize("shared", [False, True])
def test_one_corner_far_out_in_a_file_of_any_size(
    tmp_path: Path, finer: int, shared: bool
) -> None:
    room = specimens.finer(ROOM, finer).copy()
    assert len(read_mesh(specimens.write_ply(tmp_path / "room.ply", room)).triangles) == len(room)
    corner = room[0, 0].copy()
    odd = (room == corner).all(axis=2) if shared else np.zeros(room.shape[:2], dtype=bool)
    odd[0, 0] = True
    room[odd] = (0.0, 1e3, 0.0)
    refused(specimens.write_ply(tmp_path / "room.ply", room), "a corner is at", "1000")
    room[1, 1] = (0.0, 0.0, -1e4)
    refused(specimens.write_ply(tmp_path / "room.ply", room), "a corner is at", "-1e+04")


def test_a_detailed_engine_in_a_plain_hull_is_accepted(tmp_path: Path) -> None:
    """A wedge of six corners, 8 m long, and a box of 0.2 m with thousands of them."""
    engine = specimens.finer(specimens.box((0.0, 0.0, 0.0), (0.2, 0.2, 0.2)), 5)
    aft = [(-2.0, -1.0, 0.0), (-2.0, 1.0, 0.0), (-2.0, 0.0, 1.5)]
    bow = (6.0, 0.0, 0.7)
    hull = np.array([[aft[0], aft[1], aft[2]], *[[bow, aft[k], aft[k - 1]] for k in range(3)]])
    path = specimens.write_ply(tmp_path / "boat.ply", specimens.join(engine, hull))
    assert read_mesh(path).raw == len(engine) + 4


def test_truncated_ply(tmp_path: Path) -> None:
    path = specimens.write_ply(tmp_path / "room.ply", ROOM)
    path.write_bytes(path.read_bytes()[:-20])
    refused(path, "cut short")


def test_ply_header_without_end(tmp_path: Path) -> None:
    path = tmp_path / "room.ply"
    path.write_text("ply\nformat ascii 1.0\nelement vertex 3\n")
    refused(path, "header")


def test_a_short_corner_in_an_obj(tmp_path: Path) -> None:
    path = write_any(tmp_path / "room.obj")
    lines = path.read_text().splitlines()
    row = max(number for number, line in enumerate(lines) if line.startswith("v "))
    path.write_text("\n".join([*lines[:row], "v 0", *lines[row + 1 :], ""]))
    refused(path, "line not understood", "v 0")


def test_unused_points_in_an_obj_mean_a_truncated_file(tmp_path: Path) -> None:
    path = tmp_path / "cloud.obj"
    path.write_text("v 0 0 0\nv 1 1 1\n")
    refused(path, "2 points and no faces", "PLY, LAS or E57")


def test_truncated_glb(tmp_path: Path) -> None:
    path = write_glb(tmp_path / "room.glb", *tree_of(ROOM))
    path.write_bytes(path.read_bytes()[:-40])
    refused(path, "declares", "cut short")


def test_compressed_glb_is_refused_by_name(tmp_path: Path) -> None:
    tree, data = tree_of(ROOM)
    tree["extensionsRequired"] = ["KHR_draco_mesh_compression"]
    path = write_glb(tmp_path / "room.glb", tree, data)
    refused(path, "KHR_draco_mesh_compression", "without compression")


def test_copies_are_counted_before_they_are_created(tmp_path: Path) -> None:
    tree, data = tree_of(specimens.finer(ROOM, 6))
    tree["nodes"] = [{"mesh": 0} for _ in range(2000)]
    tree["scenes"] = [{"nodes": list(range(2000))}]
    path = write_glb(tmp_path / "room.glb", tree, data)
    refused(path, "98,304,000 triangles", "thin the mesh")


def test_a_cyclic_tree(tmp_path: Path) -> None:
    tree, data = tree_of(ROOM)
    tree["nodes"] = [{"mesh": 0, "children": [0]}]
    refused(write_glb(tmp_path / "room.glb", tree, data), "in a loop")


@pytest.mark.parametrize("part", ["bufferViews", "accessors", "meshes"])
def test_glb_with_a_part_missing(tmp_path: Path, part: str) -> None:
    tree, data = tree_of(ROOM)
    tree[part] = []
    refused(write_glb(tmp_path / "room.glb", tree, data))


def test_accessor_without_data(tmp_path: Path) -> None:
    tree, data = tree_of(ROOM)
    del tree["accessors"][0]["bufferView"]
    refused(write_glb(tmp_path / "room.glb", tree, data), "no data")


def test_gltf_reads_only_its_own_folder(tmp_path: Path) -> None:
    tree, data = tree_of(ROOM)
    (tmp_path / "outside.bin").write_bytes(data)
    (tmp_path / "inner").mkdir()
    tree["buffers"][0]["uri"] = "../outside.bin"
    path = tmp_path / "inner" / "room.gltf"
    path.write_text(json.dumps(tree))
    refused(path, "same folder")
    (tmp_path / "inner" / "own.bin").write_bytes(data)
    tree["buffers"][0]["uri"] = "own.bin"
    path.write_text(json.dumps(tree))
    assert read_mesh(path).raw == 12


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    name=st.sampled_from(["room.stl", "text.stl", "room.obj", "room.ply", "room.glb", "a.gltf"]),
    share=st.floats(0.0, 0.999),
    junk=st.binary(max_size=40),
)
@example(name="room.stl", share=0.875, junk=bytes(12) + b"\x00\x00\x81\x7f")  # a signalling NaN
@example(name="room.glb", share=0.75, junk=b"\x00\x00\x81\x7f" * 5)
def test_any_damage_gives_one_clear_line_or_the_same_mesh(
    tmp_path: Path, name: str, share: float, junk: bytes
) -> None:
    path = write_any(tmp_path / name)
    whole = path.read_bytes()
    cut = int(share * len(whole))
    path.write_bytes(whole[:cut] + junk + whole[cut + len(junk) :] if junk else whole[:cut])
    said = ""
    try:
        mesh = read_mesh(path)
    except MeshError as error:
        said = str(error)
    if said:
        assert "\n" not in said
        assert name in said
    else:
        assert np.isfinite(mesh.triangles).all()
        assert 0 < len(mesh.triangles) <= mesh.raw


def test_only_flat_triangles(tmp_path: Path) -> None:
    flat = np.zeros((1, 3, 3)) + np.array([[[0.0], [0.5], [1.0]]])
    refused(specimens.write_ply(tmp_path / "flat.ply", flat), "area")
