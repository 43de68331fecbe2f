"""glTF: whatever moves corners is read as in the standard, or refused by name."""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fitcheck.errors import MeshError
from fitcheck.meshfiles.gate import RawMesh, read_mesh
from tests import specimens
from tests.specimens.mesh_files import tree_of, write_glb

ROOM = specimens.room()
Tree = dict[str, Any]
Change = Callable[[Tree], object]


def read(folder: Path, change: Change, more: bytes = b"") -> RawMesh:
    """A GLB of the room with a modified tree, and more bytes in a second buffer view."""
    tree, data = tree_of(ROOM)
    tree = copy.deepcopy(tree)
    if more:
        view = {"buffer": 0, "byteOffset": len(data), "byteLength": len(more)}
        tree["bufferViews"].append(view)
        tree["buffers"][0]["byteLength"] += len(more)
    change(tree)
    return read_mesh(write_glb(folder / "room.glb", tree, data + more))


def _morphed(tree: Tree, weights: Tree) -> None:
    tree["accessors"].append({"bufferView": 1, "componentType": 5126, "count": 36, "type": "VEC3"})
    tree["meshes"][0]["primitives"][0]["targets"] = [{"NORMAL": 1}, {"POSITION": 1}]
    tree["meshes"][0] |= weights.get("mesh", {})
    tree["nodes"][0] |= weights.get("node", {})


@pytest.mark.parametrize(
    ("weights", "share"),
    [
        ({}, 0.0),
        ({"mesh": {"weights": [1.0, 0.5]}}, 0.5),
        ({"mesh": {"weights": [0.0, 0.5]}, "node": {"weights": [0.0, 0.25]}}, 0.25),
    ],
)
def test_morph_targets_by_their_weights(tmp_path: Path, weights: Tree, share: float) -> None:
    """The target lifts every corner by 1 m; the node's weights take precedence over the mesh's."""
    lift = np.zeros((36, 3), dtype="<f4")
    lift[:, 2] = 1.0
    mesh = read(tmp_path, lambda tree: _morphed(tree, weights), lift.tobytes())
    assert mesh.triangles == pytest.approx(ROOM + [0.0, 0.0, share], abs=1e-6)


def test_a_wrong_number_of_weights_is_refused(tmp_path: Path) -> None:
    with pytest.raises(MeshError):
        read(tmp_path, lambda tree: _morphed(tree, {"mesh": {"weights": [1.0]}}), bytes(432))


@pytest.mark.parametrize(
    ("change", "word"),
    [
        (lambda tree: tree["nodes"][0].update(skin=0), "skin"),
        (
            lambda tree: tree["nodes"][0].update(extensions={"EXT_mesh_gpu_instancing": {}}),
            "EXT_mesh_gpu_instancing",
        ),
        (
            lambda tree: tree["nodes"][0].update(
                extensions={"KHR_node_visibility": {"visible": False}}
            ),
            "KHR_node_visibility",
        ),
        (lambda tree: tree.update(extensionsRequired=["EXT_strange"]), "EXT_strange"),
        (lambda tree: tree["asset"].update(version="1.0"), "version 1.0"),
        (lambda tree: tree["nodes"][0].update(rotation=[0.0, 0.0, 0.0, 7.0]), "quaternion"),
        (lambda tree: tree["nodes"][0].update(matrix=[1.0] * 16), "placement"),
        (lambda tree: tree["accessors"][0].update(componentType=5125), "type 5125"),
    ],
)
def test_unsupported_features_are_refused_by_name(
    tmp_path: Path, change: Change, word: str
) -> None:
    with pytest.raises(MeshError, match=word):
        read(tmp_path, change)


def test_an_optional_extension_is_ignored(tmp_path: Path) -> None:
    assert read(tmp_path, lambda tree: tree.update(extensionsUsed=["EXT_strange"])).raw == 12


@pytest.mark.parametrize("stored", ["<i2", "i1"])
def test_quantized_corners(tmp_path: Path, stored: str) -> None:
    """Normalized integers, which the node scales to the room's size."""
    most = np.iinfo(stored).max
    rows = np.zeros((36, 4), dtype=stored)
    rows[:, :3] = np.round(ROOM.reshape(-1, 3) / 2.0 * most)
    kind = {"<i2": 5122, "i1": 5120}[stored]

    def change(tree: Tree) -> None:
        tree["extensionsRequired"] = tree["extensionsUsed"] = ["KHR_mesh_quantization"]
        tree["accessors"][0] |= {"bufferView": 1, "componentType": kind, "normalized": True}
        tree["bufferViews"][1]["byteStride"] = rows.itemsize * 4
        tree["nodes"][0]["scale"] = [2.0, 2.0, 2.0]

    mesh = read(tmp_path, change, rows.tobytes())
    assert mesh.triangles == pytest.approx(ROOM, abs=2.0 / most)
    assert mesh.doubts == ()


@pytest.mark.parametrize("kind", [5126, 5122])
def test_corner_numbers_must_be_whole(tmp_path: Path, kind: int) -> None:
    def change(tree: Tree) -> None:
        tree["accessors"].append(
            {"bufferView": 1, "componentType": kind, "count": 36, "type": "SCALAR"}
        )
        tree["meshes"][0]["primitives"][0]["indices"] = 1

    with pytest.raises(MeshError, match=str(kind)):
        read(tmp_path, change, np.arange(36, dtype="<u4").tobytes())


@pytest.mark.parametrize("count", [35, 34])
def test_incomplete_triangles_are_refused(tmp_path: Path, count: int) -> None:
    with pytest.raises(MeshError):
        read(tmp_path, lambda tree: tree["accessors"][0].update(count=count))


def test_corners_outside_the_declared_bounds_are_a_caution(tmp_path: Path) -> None:
    assert read(tmp_path, lambda tree: None).doubts == ()
    mesh = read(tmp_path, lambda tree: tree["accessors"][0].update(max=[1.0, 0.75, 1.1]))
    (doubt,) = mesh.doubts
    assert doubt == "18 of its corners lie outside the bounds it states"


def test_without_a_scene_a_child_node_is_used_once(tmp_path: Path) -> None:
    def change(tree: Tree) -> None:
        tree["nodes"] = [{"mesh": 0}, {"children": [0], "translation": [0.0, 0.0, 5.0]}]
        del tree["scenes"], tree["scene"]

    mesh = read(tmp_path, change)
    assert mesh.triangles == pytest.approx(ROOM + [0.0, 0.0, 5.0], abs=1e-5)
