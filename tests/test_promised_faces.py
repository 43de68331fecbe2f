"""Faces of text files: all that were promised, and each as its corners say."""

from pathlib import Path

import numpy as np
import pytest

from fitcheck.errors import MeshError
from fitcheck.space.gate import read_mesh
from fitcheck.space.obj_ply import read_ply

#: An L of 3 square units; its fourth corner turns inward.
L_SHAPE = "0 0 0, 2 0 0, 2 1 0, 1 1 0, 1 2 0, 0 2 0"


def _area(path: Path) -> float:
    corner = read_mesh(path).triangles
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    return float(np.linalg.norm(normal, axis=1).sum() / 2)


def _obj(faces: str, points: str = L_SHAPE) -> str:
    return "".join(f"v {point.strip()}\n" for point in points.split(",")) + faces


def _ply(*rows: str) -> str:
    head = "ply\nformat ascii 1.0\nelement vertex 6\nproperty float x\nproperty float y\n"
    head += f"property float z\nelement face {len(rows)}\n"
    head += "property list uchar int vertex_indices\nend_header\n"
    points = "".join(point.strip() + "\n" for point in L_SHAPE.split(","))
    return head + points + "".join(row + "\n" for row in rows)


@pytest.mark.parametrize("turn", range(6))
@pytest.mark.parametrize("flip", [1, -1])
@pytest.mark.parametrize("axes", ["xyz", "yzx", "zxy"])
def test_a_concave_face_covers_its_own_area(
    tmp_path: Path, turn: int, flip: int, axes: str
) -> None:
    rows = [point.split() for point in L_SHAPE.split(",")]
    points = ", ".join(" ".join(row["xyz".index(axis)] for axis in axes) for row in rows)
    order = [(turn + at) % 6 + 1 for at in range(6)][::flip]
    path = tmp_path / "l.obj"
    path.write_text(_obj("f " + " ".join(map(str, order)) + "\n", points))
    assert _area(path) == pytest.approx(3.0)
    text = tmp_path / "l.ply"
    text.write_text(_ply("6 " + " ".join(str(at - 1) for at in order)))
    assert _area(text) == pytest.approx(3.0)


@pytest.mark.parametrize(
    "faces",
    ["f 1/1 2//3 4\n", "\tf 1 2 3 # behind a face\n", "f -6 -5 -4\n", "f 1 2 \\\n3\n"],
)
@pytest.mark.parametrize("end", ["\n", "\r", "\r\n"])
def test_legal_faces_are_read(tmp_path: Path, faces: str, end: str) -> None:
    path = tmp_path / "legal.obj"
    path.write_bytes(_obj(faces).replace("\n", end).encode())
    assert read_mesh(path).raw == 1


@pytest.mark.parametrize("faces", ["f 0 1 2\n", "f 1 2 7\n", "f -7 1 2\n", "f 1 2 3\nf 1 2\n"])
def test_a_face_of_corners_that_are_not_there_is_refused(tmp_path: Path, faces: str) -> None:
    path = tmp_path / "wrong.obj"
    path.write_text(_obj(faces))
    with pytest.raises(MeshError):
        read_mesh(path)


@pytest.mark.parametrize("row", ["3 0 1 -1", "3 0 1 6", "4 0 1 2", "3 0 1 2 3"])
def test_a_ply_row_that_is_not_as_promised_is_refused(tmp_path: Path, row: str) -> None:
    path = tmp_path / "wrong.ply"
    path.write_text(_ply("3 0 1 2", row))
    with pytest.raises(MeshError):
        read_mesh(path)


def test_a_text_ply_cut_anywhere_is_refused(tmp_path: Path) -> None:
    whole = _ply("3 0 1 2", "3 0 2 3", "3 0 3 5")
    path = tmp_path / "cut.ply"
    for size in range(len(whole)):
        path.write_text(whole[:size])
        with pytest.raises(MeshError):
            read_mesh(path)
    path.write_text(whole)
    assert read_mesh(path).raw == 3


def test_faces_of_a_text_ply_may_carry_colours_and_texture(tmp_path: Path) -> None:
    path = tmp_path / "coloured.ply"
    path.write_text(
        "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
        "property float z\nelement face 2\nproperty uchar red\n"
        "property list uchar int vertex_indices\nproperty list uchar float texcoord\nend_header\n"
        "0 0 0\n1 0 0\n1 1 0\n0 1 0\n255 3 0 1 2 2 0.5 0.5\n0 3 0 2 3 0\n"
    )
    assert len(read_ply(path, path.name).triangles) == 2
