"""CAD files: declared units, assemblies, and differences between drawings and scans."""

from __future__ import annotations

import struct
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fitcheck.errors import MeshError
from fitcheck.meshfiles.gate import RawMesh, read_mesh
from fitcheck.model.found.space import FREE, SOLID, Space
from fitcheck.space import survey
from tests import specimens
from tests.specimens import cad
from tests.specimens.cad import dae, mesh_3mf, model_3mf, write_3mf
from tests.specimens.mesh_files import textured_obj

ROOM = specimens.room()
USE = '<instance_geometry url="#room"/>'


def span(mesh: RawMesh) -> tuple[list[float], list[float]]:
    """Lowest and highest corner, rounded."""
    rows = mesh.triangles.reshape(-1, 3)
    return rows.min(axis=0).round(5).tolist(), rows.max(axis=0).round(5).tolist()


def enclosed(mesh: RawMesh) -> float:
    """Volume the triangles enclose, negative when they face inward."""
    first, second, third = np.moveaxis(mesh.triangles, 1, 0)
    return float(np.einsum("ij,ij->", first, np.cross(second, third))) / 6.0


def refused(path: Path, *words: str) -> None:
    """Read a file that must be refused in one line containing the words."""
    with pytest.raises(MeshError) as caught:
        read_mesh(path)
    text = str(caught.value)
    assert "\n" not in text
    for word in (path.name, *words):
        assert word in text, text


def drawn(path: Path, **changes: Any) -> Space:
    """Survey a drawn file at 50 mm."""
    boat = specimens.boat(path, **changes)
    return survey(specimens.scenario(boat, layout=specimens.layout(pitch=0.05)), cell=0.05)


# --- 3MF ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "metre"), [("inch", 0.0254), ("millimeter", 1e-3), ("foot", 0.3048)]
)
def test_a_3mf_declares_its_unit(tmp_path: Path, unit: str, metre: float) -> None:
    model = model_3mf(f'<object id="1">{mesh_3mf(ROOM)}</object>', '<item objectid="1"/>', unit)
    mesh = read_mesh(write_3mf(tmp_path / "a.3mf", model))
    assert mesh.unit == pytest.approx(metre)
    assert span(mesh) == ([-1.0, -0.75, 0.0], [1.0, 0.75, 1.2])
    assert enclosed(mesh) == pytest.approx(-3.6)


def test_a_3mf_composes_objects(tmp_path: Path) -> None:
    """An object of two moved ones, one in another part of the archive, and moved as a whole."""
    other = model_3mf(f'<object id="7">{mesh_3mf(ROOM)}</object>', "")
    resources = (
        f'<object id="1">{mesh_3mf(ROOM)}</object><object id="2"><components>'
        '<component objectid="1" transform="1 0 0 0 1 0 0 0 1 10 0 0"/>'
        '<component p:path="/3D/other.model" objectid="7" transform="0 1 0 -1 0 0 0 0 1 0 0 5"/>'
        "</components></object>"
    )
    item = '<item objectid="2" transform="1 0 0 0 1 0 0 0 1 0 0 100"/>'
    mesh = read_mesh(write_3mf(tmp_path / "a.3mf", model_3mf(resources, item), other=other))
    assert mesh.raw == 24
    first, second = mesh.triangles[:12], mesh.triangles[12:]
    assert first.min(axis=(0, 1)) == pytest.approx([9.0, -0.75, 100.0])
    assert second.min(axis=(0, 1)) == pytest.approx([-0.75, -1.0, 105.0])
    assert second.max(axis=(0, 1)) == pytest.approx([0.75, 1.0, 106.2])


def test_a_recursive_or_exploding_3mf_is_refused(tmp_path: Path) -> None:
    itself = '<object id="1"><components><component objectid="1"/></components></object>'
    item = '<item objectid="1"/>'
    refused(write_3mf(tmp_path / "a.3mf", model_3mf(itself, item)), "uses itself")
    levels = f'<object id="0">{mesh_3mf(ROOM)}</object>' + "".join(
        f'<object id="{level}"><components>'
        + f'<component objectid="{level - 1}"/>' * 10
        + "</components></object>"
        for level in range(1, 30)
    )
    model = model_3mf(levels, '<item objectid="29"/>')
    refused(write_3mf(tmp_path / "b.3mf", model), "more than 200,000 pieces")


def test_a_3mf_with_unsupported_requirements_is_refused(tmp_path: Path) -> None:
    model = model_3mf(f'<object id="1">{mesh_3mf(ROOM)}</object>', '<item objectid="1"/>')
    base = "http://schemas.microsoft.com/3dmanufacturing"
    for space, word in (
        (f"{base}/beamlattice/2017/02", "beamlattice"),
        (f"{base}/production/1", ""),
    ):
        named = f'<model requiredextensions="b" xmlns:b="{space}" '
        path = write_3mf(tmp_path / "a.3mf", model.replace("<model ", named))
        if word:
            refused(path, word, "plain mesh")
        else:
            assert read_mesh(path).raw == 12
    refused(write_3mf(tmp_path / "a.3mf", model.replace("millimeter", "parsec")), "parsec")
    refused(write_3mf(tmp_path / "a.3mf", model, other=model), "more than one build list")


def test_archives_are_checked_before_unpacking(tmp_path: Path) -> None:
    bomb = model_3mf(" " * 60_000_000, "")
    refused(write_3mf(tmp_path / "a.3mf", bomb), "would expand to")
    entities = '<?xml version="1.0"?><!DOCTYPE model [<!ENTITY a "aaaa">]><model>&a;</model>'
    refused(write_3mf(tmp_path / "b.3mf", entities), "entities")
    (tmp_path / "c.3mf").write_bytes((write_3mf(tmp_path / "d.3mf", "<a/>")).read_bytes()[:-30])
    refused(tmp_path / "c.3mf", "damaged")


# --- DAE ----------------------------------------------------------------------------------------


def test_a_dae_declares_unit_and_up_and_places_its_nodes(tmp_path: Path) -> None:
    path = tmp_path / "a.dae"
    nodes = (
        f"<node><translate>5 0 0</translate><rotate>0 0 1 90</rotate>{USE}"
        f"<node><scale>2 1 1</scale>{USE}</node></node>"
        '<node><matrix>1 0 0 0 0 1 0 0 0 0 1 50 0 0 0 1</matrix><instance_node url="#n"/></node>'
    )
    library = f'<library_nodes><node id="n">{USE}</node></library_nodes>'
    path.write_text(dae(ROOM, nodes, library=library))
    mesh = read_mesh(path)
    assert mesh.unit == pytest.approx(0.01)
    assert mesh.up == "+z"
    parts = {tuple(part.max(axis=(0, 1)).round(6)) for part in np.split(mesh.triangles, 3)}
    assert parts == {(5.75, 1.0, 1.2), (5.75, 2.0, 1.2), (1.0, 0.75, 51.2)}
    assert enclosed(mesh) == pytest.approx(-4 * 3.6)


def test_polygons_of_a_dae_become_fans(tmp_path: Path) -> None:
    text = dae(ROOM, f"<node>{USE}</node>")
    start, end = text.index("<triangles"), text.index("</triangles>") + len("</triangles>")
    group = (
        '<polylist count="2"><input semantic="VERTEX" source="#v" offset="0"/>'
        "<vcount>4 3</vcount><p>0 1 3 2 4 5 6</p></polylist>"
        '<polygons count="1"><input semantic="VERTEX" source="#v" offset="0"/>'
        "<p>0 1 5 4 2</p></polygons>"
    )
    (tmp_path / "a.dae").write_text(text[:start] + group + text[end:])
    assert read_mesh(tmp_path / "a.dae").raw == 2 + 1 + 3


def test_damaged_dae(tmp_path: Path) -> None:
    path = tmp_path / "a.dae"
    text = dae(ROOM, f"<node>{USE}</node>")
    for old, new, word in [
        ("</COLLADA>", "", "cut short"),
        ('count="24"', 'count="2400"', "contains 24"),
        ('url="#room"', 'url="#hall"', "hall"),
        ('meter="0.01"', 'meter="nan"', "unit"),
        (" 0</p>", " 0 7</p>", "cut short"),
        ('semantic="POSITION"', 'semantic="POSITIOM"', "format"),
        ('meter="0.01"', 'meter="1e9"', "unit"),
        ('meter="0.01"', 'meter="1_0"', "1_0"),
        ("Z_UP", "W_UP", "W_UP"),
        ('<triangles count="12"', '<triangles count="11"', "contains 12"),
    ]:
        assert old in text
        path.write_text(text.replace(old, new))
        refused(path, word)


def test_a_dae_whose_ids_are_shared_between_kinds(tmp_path: Path) -> None:
    path = tmp_path / "a.dae"
    path.write_text(dae(ROOM, f'<node id="room">{USE}</node>').replace('id="v"', 'id="room"')
                    .replace('"#v"', '"#room"'))  # fmt: skip
    assert read_mesh(path).raw == 12


@pytest.mark.parametrize(
    ("node", "word"),
    [
        ('<instance_controller url="#bones"/>', "controller bones"),
        ('<instance_controller url="#"/>', "controller"),
        (f"<lookat>0 0 1 0 0 0 0 1 0</lookat>{USE}", "lookat"),
        (f"<skew>45 0 1 0 1 0 0</skew>{USE}", "skew"),
        ('<instance_node url="#nobody"/>', "nobody"),
        (f"<matrix>1 0 0 0 0 1 0 0 0 0 1 0 0 0 1 1</matrix>{USE}", "placement"),
    ],
)
def test_unsupported_transforms_of_a_dae_are_refused_by_name(
    tmp_path: Path, node: str, word: str
) -> None:
    path = tmp_path / "a.dae"
    path.write_text(dae(ROOM, f"<node>{USE}</node><node>{node}</node>"))
    refused(path, word)


def test_strips_fans_and_holes_of_a_dae(tmp_path: Path) -> None:
    text = dae(ROOM, f"<node>{USE}</node>")
    start, end = text.index("<triangles"), text.index("</triangles>") + len("</triangles>")
    path = tmp_path / "a.dae"
    own = '<input semantic="VERTEX" source="#v" offset="0"/>'
    for kind, count in (("tristrips", 3 + 1), ("trifans", 3 + 1)):
        group = f'<{kind} count="2">{own}<p>0 1 2 3 7</p><p>4 5 6</p></{kind}>'
        path.write_text(text[:start] + group + text[end:])
        assert read_mesh(path).raw == count
        path.write_text(text[:start] + group.replace("7", "8") + text[end:])
        refused(path, "missing corner")
    group = f'<polygons count="1">{own}<ph><p>0 1 5 4</p><h>2 3 6</h></ph></polygons>'
    path.write_text(text[:start] + group + text[end:])
    refused(path, "holes")


# --- STEP ---------------------------------------------------------------------------------------


def test_step_assembly_in_its_own_unit(tmp_path: Path) -> None:
    pytest.importorskip("cascadio")
    path = tmp_path / "a.step"
    places = [((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)), ((1000.0, 0.0, 0.0), (0.0, 1.0, 0.0))]
    path.write_text(cad.step((0.0, 0.0, 0.0), (200.0, 100.0, 50.0), places))
    mesh = read_mesh(path)
    assert mesh.unit == pytest.approx(0.001)
    assert mesh.raw == 24
    assert enclosed(mesh) == pytest.approx(2e6)
    halves = sorted(tuple(part.max(axis=(0, 1)).round(3)) for part in np.split(mesh.triangles, 2))
    assert halves == [(200.0, 100.0, 50.0), (1000.0, 200.0, 50.0)]


def test_step_in_metres_and_a_sheet(tmp_path: Path) -> None:
    pytest.importorskip("cascadio")
    path = tmp_path / "a.stp"
    path.write_text(cad.step((0.0, 0.0, 0.0), (2.0, 1.0, 0.5), unit="m", sheet=True))
    mesh = read_mesh(path)
    assert mesh.unit == 1.0
    assert mesh.raw == 2
    assert span(mesh) == ([0.0, 0.0, 0.0], [2.0, 1.0, 0.0])


def test_a_closed_step_meshed_open_is_a_caution(tmp_path: Path) -> None:
    """One face is of an unknown kind: its reader silently leaves it out."""
    pytest.importorskip("cascadio")
    path = tmp_path / "a.step"
    whole = cad.step((0.0, 0.0, 0.0), (200.0, 100.0, 50.0))
    path.write_text(whole)
    assert read_mesh(path).doubts == ()
    path.write_text(whole.replace("ADVANCED_FACE", "ADVANCED_FACT", 1))
    mesh = read_mesh(path)
    assert mesh.raw < 12
    assert "open" in mesh.doubts[0]
    path.write_text(whole.replace(".MILLI.", ".MALLI."))
    with pytest.raises(MeshError):
        read_mesh(path)


def test_an_invalid_step_and_a_missing_reader(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.step"
    path.write_text("ISO-10303-21;\nHEADER;\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    (tmp_path / "cascadio.py").write_text("raise ModuleNotFoundError(name='cascadio')\n")
    refused(path, "-m pip install cascadio")
    path.write_text("something")
    refused(path, "STEP")


# --- what drawings are made of ------------------------------------------------------------------


def test_normals_the_wrong_way_do_not_matter_in_a_closed_drawing(tmp_path: Path) -> None:
    turned = ROOM.copy()
    turned[::3] = turned[::3, ::-1]
    space = drawn(specimens.write_stl(tmp_path / "a.stl", turned))
    assert space.free_volume == pytest.approx(3.6, rel=0.12)
    assert space.unseen_volume == 0.0


def test_intersecting_bodies_are_solid(tmp_path: Path) -> None:
    """An engine of two overlapping boxes that also overlap the sole."""
    engine = specimens.box((-0.6, -0.3, -0.2), (0.1, 0.3, 0.45))
    gear = specimens.box((0.0, -0.2, 0.1), (0.6, 0.2, 0.3))
    boat = {"inside": (0.0, 0.0, 0.8)}
    space = drawn(
        specimens.write_stl(tmp_path / "a.stl", specimens.join(ROOM, engine, gear)), **boat
    )
    for point in ((-0.3, 0.0, 0.2), (0.05, 0.0, 0.2), (0.5, 0.0, 0.2)):
        assert space.label[tuple(space.grid.index(np.array(point)))] == SOLID
    assert space.label[tuple(space.grid.index(np.array((0.8, 0.0, 0.2))))] == FREE


def test_a_sheet_without_thickness_divides_the_room(tmp_path: Path) -> None:
    sheet = specimens.sheet(0.3, (-0.75, 0.0), (0.75, 1.2))
    space = drawn(specimens.write_stl(tmp_path / "a.stl", specimens.join(ROOM, sheet)))
    aft, fore = ((-0.5, 0.0, 0.6), (0.7, 0.0, 0.6))
    assert space.label[tuple(space.grid.index(np.array(aft)))] == FREE
    assert space.label[tuple(space.grid.index(np.array(fore)))] != FREE


def test_a_hull_with_thickness_is_free_inside_only(tmp_path: Path) -> None:
    """A closed solid whose inner skin is the room; its outer skin is 100 mm further out."""
    outer = specimens.box((-1.1, -0.85, -0.1), (1.1, 0.85, 1.3))
    space = drawn(specimens.write_stl(tmp_path / "a.stl", specimens.join(ROOM, outer)))
    assert space.free_volume == pytest.approx(3.6, rel=0.12)
    assert space.label[tuple(space.grid.index(np.array((1.05, 0.0, 0.6))))] == SOLID


# --- units that a file declares -----------------------------------------------------------------


def test_a_declared_unit_is_used_and_reported(tmp_path: Path) -> None:
    model = model_3mf(
        f'<object id="1">{mesh_3mf(1000 * ROOM)}</object>', '<item objectid="1"/>', "millimeter"
    )
    path = write_3mf(tmp_path / "a.3mf", model)
    inside = (0.0, 0.0, 600.0)
    space = drawn(path, unit=None, inside=inside)
    assert space.frame.scale == pytest.approx(0.001)
    said = [found for found in space.findings if found.rule == "file-unit"]
    assert [found.severity for found in said] == ["note"]
    assert "mm" in said[0].text
    # The user's unit takes precedence over the file's, and is doubted.
    space = drawn(path, unit=0.002, inside=inside)
    assert space.frame.scale == pytest.approx(0.002)
    said = [found for found in space.findings if found.rule == "file-unit"]
    assert [found.severity for found in said] == ["caution"]


def test_a_file_without_a_unit_is_refused(tmp_path: Path) -> None:
    with pytest.raises(MeshError, match=r"boat\.unit"):
        drawn(specimens.write_stl(tmp_path / "a.stl", ROOM), unit=None)


# --- archives -----------------------------------------------------------------------------------


def test_a_zipped_obj_with_textures(tmp_path: Path) -> None:
    obj, material = textured_obj()
    path = tmp_path / "scan.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("../../export/room.obj", obj)
        archive.writestr("export/room.mtl", material)
        archive.writestr("export/room.jpg", b"\xff\xd8 not really")
        archive.writestr("__MACOSX/export/._room.obj", b"\0")
    mesh = read_mesh(path)
    assert mesh.raw == 12
    assert "room.obj of the archive" in mesh.said[0]
    assert list(tmp_path.iterdir()) == [path]


def test_unusable_archives_are_refused(tmp_path: Path) -> None:
    obj, _ = textured_obj()
    path = tmp_path / "scan.zip"
    for items, words in [
        ({"a.txt": "hello"}, ("no readable mesh",)),
        ({"a.obj": "hello"}, ("a.obj", "no vertex lines")),
        ({"a.usdc": "x"}, ("USD", "PLY, OBJ or GLB")),
    ]:
        with zipfile.ZipFile(path, "w") as archive:
            for name, text in items.items():
                archive.writestr(name, text)
        refused(path, *words)
    inner = path.read_bytes()
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.glb", inner)
    refused(path, "archive inside an archive")
    path.rename(tmp_path / "scan.usdz")
    refused(tmp_path / "scan.usdz", "USD", "choose PLY, OBJ or GLB")


def test_the_entry_with_most_triangles_is_read_and_the_others_named(tmp_path: Path) -> None:
    obj, _ = textured_obj()
    path = tmp_path / "scan.zip"
    few = specimens.write_ply(tmp_path / "few.ply", ROOM[:3]).read_bytes()
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("few.ply", few)
        archive.writestr("part.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
        archive.writestr("room.obj", obj)
        archive.writestr("cut.obj", obj[:500])
        archive.writestr("no.gltf.dae", dae(ROOM, "<node/>").replace("#scene", "#nowhere"))
    mesh = read_mesh(path)
    assert mesh.raw == 12
    assert "room.obj of the archive" in mesh.said[0]
    # Others of its kind may be parts of the same room.
    (doubt,) = mesh.doubts
    for words in ("few.ply (3 triangles)", "part.obj (1 triangles)", "cut.obj (cannot be read)"):
        assert words in doubt
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("few.ply", few)
        archive.writestr("room.obj", obj)
    mesh = read_mesh(path)
    assert (mesh.raw, mesh.doubts) == (12, ())
    assert "few.ply (3 triangles)" in mesh.said[1]


def test_content_takes_precedence_over_the_name(tmp_path: Path) -> None:
    path = specimens.write_ply(tmp_path / "room.stl", ROOM)
    mesh = read_mesh(path)
    assert mesh.raw == 12
    assert "holds PLY" in mesh.said[0]


def test_a_phone_glb_with_small_integers(tmp_path: Path) -> None:
    """Corners stored as 16-bit integers scaled by a node, as KHR_mesh_quantization allows."""
    import json

    points = np.round((ROOM.reshape(-1, 3) + [1.0, 0.75, 0.0]) * 1000).astype("<u2")
    rows = np.zeros((len(points), 4), dtype="<u2")
    rows[:, :3] = points
    data = rows.tobytes()
    tree = {
        "asset": {"version": "2.0"},
        "extensionsRequired": ["KHR_mesh_quantization"],
        "nodes": [{"mesh": 0, "scale": [0.001] * 3, "translation": [-1.0, -0.75, 0.0]}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "accessors": [{"bufferView": 0, "componentType": 5123, "count": 36, "type": "VEC3"}],
        "bufferViews": [{"buffer": 0, "byteLength": len(data), "byteStride": 8}],
        "buffers": [{"byteLength": len(data)}],
        "images": [{"uri": "../../secret.png"}],
    }
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    parts = struct.pack("<II", len(text), 0x4E4F534A) + text
    parts += struct.pack("<II", len(data), 0x004E4942) + data
    path = tmp_path / "a.glb"
    path.write_bytes(b"glTF" + struct.pack("<II", 2, 12 + len(parts)) + parts)
    mesh = read_mesh(path)
    assert span(mesh) == ([-1.0, -0.75, 0.0], [1.0, 0.75, 1.2])
    assert (mesh.unit, mesh.up) == (1.0, "+y")
