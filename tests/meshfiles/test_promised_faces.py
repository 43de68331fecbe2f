"""Faces of text files: complete, and each covering its own area."""

import struct
from pathlib import Path

import numpy as np
import pytest

from fitcheck.errors import MeshError
from fitcheck.meshfiles.formats.ply import read_ply
from fitcheck.meshfiles.formats.polygons import cut_polygons
from fitcheck.meshfiles.gate import read_mesh
from fitcheck.space import survey
from tests import specimens

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
def test_a_concave_face_covers_exactly_its_area(
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
    path.write_bytes(_obj(f"{faces}p 1 2 3 4 5 6\n").replace("\n", end).encode())
    assert read_mesh(path).raw == 1


@pytest.mark.parametrize("faces", ["f 0 1 2\n", "f 1 2 7\n", "f -7 1 2\n", "f 1 2 3\nf 1 2\n"])
def test_a_face_with_missing_corners_is_refused(tmp_path: Path, faces: str) -> None:
    path = tmp_path / "wrong.obj"
    path.write_text(_obj(faces))
    with pytest.raises(MeshError):
        read_mesh(path)


@pytest.mark.parametrize("row", ["3 0 1 -1", "3 0 1 6", "4 0 1 2", "3 0 1 2 3"])
def test_a_ply_row_that_differs_from_the_header_is_refused(tmp_path: Path, row: str) -> None:
    path = tmp_path / "wrong.ply"
    path.write_text(_ply("3 0 1 2", row))
    with pytest.raises(MeshError):
        read_mesh(path)


def test_a_text_ply_cut_anywhere_is_refused(tmp_path: Path) -> None:
    whole = _ply("3 0 1 2", "3 0 2 3", "3 0 3 5")
    path = tmp_path / "cut.ply"
    for size in range(len(whole) - 1):
        path.write_text(whole[:size])
        with pytest.raises(MeshError):
            read_mesh(path)
    path.write_text(whole)
    assert (read_mesh(path).raw, read_mesh(path).doubts) == (3, ())
    # All rows are present, but the last number may be truncated.
    path.write_text(whole[:-1])
    assert read_mesh(path).raw == 3
    assert "no end" in read_mesh(path).doubts[0]


def test_a_truncated_obj_is_refused_or_doubted(tmp_path: Path) -> None:
    whole = _obj("f 1 2 3\nf 1 3 4\nf 1 4 5\nf 1 5 6\n")
    path = tmp_path / "cut.obj"
    for size in range(whole.index("f 1 2"), len(whole)):
        path.write_text(whole[:size])
        try:
            mesh = read_mesh(path)
        except MeshError:
            continue
        assert mesh.doubts, whole[:size]
    path.write_text(whole)
    assert (read_mesh(path).raw, read_mesh(path).doubts) == (4, ())
    for line in ("f 1 2 3\n", "f 1 2 3\nf 1 3 4\n"):
        path.write_text(whole[: whole.index("f 1 2")] + line)
        with pytest.raises(MeshError, match="belong to no face"):
            read_mesh(path)
    path.write_text(whole + "l 1 2\np 6\n# end")
    assert read_mesh(path).raw == 4


def test_unknown_lines_in_an_obj_are_a_caution(tmp_path: Path) -> None:
    path = tmp_path / "odd.obj"
    path.write_text(_obj("o room\ng\nusemtl paint\nvt 0 0\nf 1 2 3\nl 4 5 6\n"))
    assert read_mesh(path).doubts == ()
    path.write_text(_obj("f 1 2 3\nf\x81 1 4 5\nl 4 5 6\n"))
    assert "1 of its lines are not OBJ" in read_mesh(path).doubts[0]


@pytest.mark.parametrize(
    "late", ["p 4 5 6\nf 1 2 3\nv 9 9 9\nf 1 2 7\n", "surf 0 1 0 1 1 2 3 4\nf 1 2 3\n"]
)
def test_dangling_references_are_refused(tmp_path: Path, late: str) -> None:
    """A face may only use the corners above it, so two swapped lines are detected."""
    path = tmp_path / "late.obj"
    path.write_text(_obj(late))
    if late.startswith("p"):
        assert read_mesh(path).raw == 2
        path.write_text(_obj("p 4 5 6\nf 1 2 7\nv 9 9 9\nf 1 2 3\n"))
    with pytest.raises(MeshError):
        read_mesh(path)


def test_faces_under_another_name_are_not_a_point_cloud(tmp_path: Path) -> None:
    path = tmp_path / "facm.ply"
    path.write_text(_ply("3 0 1 2").replace("element face", "element facm"))
    with pytest.raises(MeshError, match="lists but no faces"):
        read_mesh(path)


def test_unused_points_are_a_caution_of_the_survey(tmp_path: Path) -> None:
    room = specimens.room()
    points = "".join("v {} {} {}\n".format(*corner) for corner in room.reshape(-1, 3))
    faces = "".join(f"f {3 * n + 1} {3 * n + 2} {3 * n + 3}\n" for n in range(len(room)))
    path = tmp_path / "room.obj"
    path.write_text(f"{points}v 0 0 0.5\n{faces}")
    scenario = specimens.scenario(specimens.boat(path), layout=specimens.layout(pitch=0.1))
    (found,) = [found for found in survey(scenario).findings if found.rule == "file-whole"]
    assert found.severity == "caution"
    assert "1 of its 37 points belong to no face" in found.text


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_binary_ply_of_faces_of_many_sizes(tmp_path: Path, order: str, end: str) -> None:
    """An L, concave, and a triangle next to it, with a texture list that is long or empty."""
    kind = {"<": "little", ">": "big"}[order]
    head = (
        f"ply\nformat\tbinary_{kind}_endian 1.0\nelement vertex 6\nproperty float x\n"
        "property float y\nproperty float z\nproperty uchar red\nelement face 2\n"
        "property list uchar float texcoord\nproperty list uchar int vertex_indices\n"
        "property uchar flags\nend_header\n"
    ).replace("\n", end)
    rows = [[float(word) for word in point.split()] for point in L_SHAPE.split(",")]
    body = b"".join(struct.pack(f"{order}3fB", *row, 10) for row in rows)
    body += struct.pack(f"{order}BfB6iB", 1, 0.5, 6, 3, 4, 5, 0, 1, 2, 7)
    body += struct.pack(f"{order}BB3iB", 0, 3, 0, 1, 2, 7)
    path = tmp_path / "mixed.ply"
    path.write_bytes(head.encode() + body)
    assert _area(path) == pytest.approx(3.0 + 1.0)
    for wrong in (body[:-1], body + b"\0", body[:-4] + struct.pack(f"{order}i", -1)[1:] + b"\x07"):
        path.write_bytes(head.encode() + wrong)
        with pytest.raises(MeshError):
            read_mesh(path)


def test_a_ply_of_strips_is_refused_by_name(tmp_path: Path) -> None:
    path = tmp_path / "strips.ply"
    text = _ply("3 0 1 2").replace("element face", "element tristrips")
    path.write_text(text)
    with pytest.raises(MeshError, match="tristrips"):
        read_mesh(path)


@pytest.mark.parametrize(("corners", "seed"), [(50, 1), (50, 2), (5000, 3)])
def test_a_face_of_thousands_of_corners(corners: int, seed: int) -> None:
    """A ragged star; its area by the shoelace formula, every triangle turning the same way."""
    draw = np.random.default_rng(seed)
    angle, far = np.sort(draw.uniform(0.0, 2 * np.pi, corners)), draw.uniform(0.1, 1.0, corners)
    points = np.stack([far * np.cos(angle), far * np.sin(angle), 0.0 * angle], axis=1)
    index = cut_polygons(points, np.arange(corners), np.array([corners]))
    assert len(index) == corners - 2
    corner = points[index]
    each = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])[:, 2] / 2
    x, y = points[:, 0], points[:, 1]
    whole = float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
    assert each.min() >= 0.0
    assert each.sum() == pytest.approx(whole, rel=1e-9)


@pytest.mark.parametrize("blank", [" ", "\t", "  "])
@pytest.mark.parametrize("end", ["\n", "\r", "\r\n", " "])
def test_text_stl_with_any_white_space(tmp_path: Path, blank: str, end: str) -> None:
    facet = "facet normal 0 0 1\nouter loop\n" + "vertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\n"
    facet += "endloop\nendfacet\n"
    text = f"solid a facet\n{facet}endsolid a facet\nsolid b\n{facet}endsolid\n" + "\n" * 2000
    path = tmp_path / "legal.stl"
    path.write_bytes(text.replace(" ", blank).replace("\n", end).encode())
    assert read_mesh(path).raw == 2
    path.write_text(text.replace("vertex 0 0 0", "1vertex 0 0 0", 1))
    with pytest.raises(MeshError):
        read_mesh(path)
    path.write_text(text.replace(facet, "facet normal 0 0 1\nouter\x01\x021 0 0\nfacet\n", 1))
    with pytest.raises(MeshError):
        read_mesh(path)
    first = text.index("endsolid a") + len("endsolid")
    for size in (*range(first), *range(text.index("solid b") + 1, text.rindex("endsolid") + 8)):
        path.write_text(text[:size])
        with pytest.raises(MeshError):
            read_mesh(path)


def test_faces_of_a_text_ply_may_carry_colours_and_texture(tmp_path: Path) -> None:
    path = tmp_path / "coloured.ply"
    path.write_text(
        "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
        "property float z\nelement face 2\nproperty uchar red\n"
        "property list uchar int vertex_indices\nproperty list uchar float texcoord\nend_header\n"
        "0 0 0\n1 0 0\n1 1 0\n0 1 0\n255 3 0 1 2 2 0.5 0.5\n0 3 0 2 3 0\n"
    )
    assert len(read_ply(path, path.name).triangles) == 2
