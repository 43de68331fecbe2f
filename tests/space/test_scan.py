"""The preview of an undeclared file: known gaps, loose pieces, double walls, up
directions, rooms.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fitcheck.cli import BAD_INPUT, FAILED, PASSED, main
from fitcheck.report import scan_rows
from fitcheck.scenario import read_scenario
from fitcheck.scenario.keys import set_key
from fitcheck.space import scan, survey
from fitcheck.space.look import preview
from fitcheck.units import MESH_UNITS
from tests import ROOT, specimens
from tests.specimens.amounts import SYSTEMS, amounts, foreign
from tests.specimens.scenario_texts import faults_of

ROOM = specimens.room()


def holed(side: float = 0.3) -> specimens.Triangles:
    """The room in fine triangles with a square hole of that side in the middle of its roof."""
    fine = specimens.finer(ROOM, 5)
    middle = fine.mean(axis=1)
    out = (np.abs(middle[:, :2]) < side / 2.0).all(axis=1) & (middle[:, 2] > 1.19)
    return fine[~out]


def turned(triangles: specimens.Triangles, degrees: float) -> specimens.Triangles:
    """Rotated about the y axis."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return triangles @ np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]]).T


def test_a_closed_room(tmp_path: Path) -> None:
    look = scan(specimens.write_stl(tmp_path / "a.stl", ROOM))
    assert (look.triangles, look.bodies, look.open_edges, look.gaps) == (12, 1, 0, ())
    assert look.extents == pytest.approx((2.0, 1.5, 1.2))
    assert look.unit is None
    assert look.bits is None
    assert look.doubled is None
    assert look.preview is not None
    assert look.preview.closed
    # The roomiest place is at half height, as far from the walls as possible.
    assert look.preview.inside[2] == pytest.approx(0.6, abs=0.05)
    assert {up.axis for up in look.ups} == {"x", "y", "z"}
    assert look.ups[0].axis == "z"
    assert look.ups[0].level == pytest.approx(6.0 / (2 * (3.0 + 2.4 + 1.8)))


def test_a_hole_is_measured_and_located(tmp_path: Path) -> None:
    look = scan(specimens.write_stl(tmp_path / "a.stl", holed()), 1.0)
    assert len(look.gaps) == 1
    gap = look.gaps[0]
    assert gap.place == pytest.approx((0.0, 0.0, 1.2), abs=0.03)
    assert gap.width == pytest.approx(0.3, abs=0.1)
    assert gap.rim > 3.5 * gap.width
    assert look.preview is not None
    assert not look.preview.closed
    assert look.preview.opening is not None
    assert look.preview.opening.place == pytest.approx((0.0, 0.0, 1.2), abs=0.08)
    assert look.preview.opening.width == pytest.approx(gap.width, abs=0.08)


@pytest.mark.parametrize("metre", [0.0254])
def test_the_unit_of_a_mesh_changes_only_its_numbers(tmp_path: Path, metre: float) -> None:
    plain = scan(specimens.write_stl(tmp_path / "a.stl", holed()), 1.0)
    other = scan(specimens.write_stl(tmp_path / "b.stl", holed() / metre), metre)
    assert other.gaps[0].width * metre == pytest.approx(plain.gaps[0].width, rel=1e-3)
    assert plain.preview is not None
    assert other.preview is not None
    assert np.array(other.preview.inside) * metre == pytest.approx(
        np.array(plain.preview.inside), abs=0.03
    )
    assert other.preview.free == pytest.approx(plain.preview.free, rel=0.02)


@pytest.mark.usefixtures("coarse")
@pytest.mark.parametrize("lean", [3.0, 12.0])
def test_the_tilt_of_a_room_is_reported(tmp_path: Path, lean: float) -> None:
    look = scan(specimens.write_stl(tmp_path / "a.stl", turned(ROOM, lean)), 1.0)
    up = next(up for up in look.ups if up.axis == "z")
    assert np.degrees(up.lean) == pytest.approx(lean, abs=0.2)


def test_a_double_wall_and_its_share(tmp_path: Path) -> None:
    wall = specimens.sheet(0.98, (-0.75, 0.0), (0.75, 1.2))
    facing_in = wall if np.cross(*np.diff(wall[0], axis=0))[0] < 0.0 else wall[:, ::-1]
    doubled = specimens.join(ROOM, facing_in)
    look = scan(specimens.write_stl(tmp_path / "a.stl", doubled), 1.0)
    assert look.doubled is not None
    assert look.doubled.apart == pytest.approx(0.02, abs=0.003)
    assert look.doubled.share == pytest.approx(1.8 / (14.4 + 1.8), abs=0.02)
    assert look.doubled.place[0] == pytest.approx(0.98, abs=0.01)
    # Back to back, like the two faces of a board, they are not a double wall.
    board = specimens.join(ROOM, facing_in[:, ::-1])
    assert scan(specimens.write_stl(tmp_path / "b.stl", board), 1.0).doubled is None


def test_loose_pieces_are_counted(tmp_path: Path) -> None:
    bits = [specimens.box((x, 0.0, 0.5), (x + 0.03, 0.02, 0.51)) for x in (-0.5, 0.0, 0.5)]
    look = scan(specimens.write_stl(tmp_path / "a.stl", specimens.join(ROOM, *bits)), 1.0)
    assert look.bits is not None
    assert look.bits.count == 3
    assert look.bits.largest == pytest.approx(0.03, abs=1e-5)
    assert look.bodies == 1


@pytest.fixture
def coarse(monkeypatch: pytest.MonkeyPatch) -> None:
    """The output of a command does not depend on the resolution of the preview."""
    monkeypatch.setattr(preview, "ALONG", 40)


@pytest.mark.usefixtures("coarse")
def test_the_scan_text_is_short_and_plain(tmp_path: Path) -> None:
    look = scan(specimens.write_stl(tmp_path / "a.stl", holed()))
    rows = scan_rows(look, "metric")
    text = " ".join(words for _, words in rows)
    assert [heading for heading, _ in rows][:3] == ["File", "Size", "Up"]
    assert len(text) < 20 * 67
    for word in ("--unit", "as mm", "suggestions", "waterline marks", "picked"):
        assert word in text
    for system in SYSTEMS:
        for unit in MESH_UNITS.values():
            told = scan_rows(replace(look, unit=unit, unit_from="user"), system)
            for _, words in (*told, *scan_rows(look, system)):
                assert foreign(words, system, ()) == []
            assert sum(bool(amounts(words, system)) for _, words in told) >= 3


def run(tmp_path: Path, *more: str) -> tuple[int, Path]:
    """Scan the holed room from the command line."""
    mesh = specimens.write_stl(tmp_path / "bay.stl", holed())
    out = tmp_path / "out"
    return main(["scan", str(mesh), "--out", str(out), *more]), out


def test_scan_writes_a_boat_file_that_check_can_use(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from fitcheck.view import probe

    mine = tmp_path / "scenarios" / "bay.toml"
    status, out = run(tmp_path, "--unit", "m", "--write", str(mine))
    said = capsys.readouterr()
    assert status == PASSED
    assert "Traceback" not in said.err
    assert f"fitcheck check {mine}" in said.out
    assert (out / "scan.png").exists() == probe().works
    text = mine.read_text()
    data = tomllib.loads(text)
    assert data["boat"]["unit"] == "m"
    assert (mine.parent / data["boat"]["mesh"]).resolve() == (tmp_path / "bay.stl").resolve()
    assert "#   Openings: one rim" in text
    # What is left is exactly the marked gaps.
    assert {fault.text for fault in faults_of(mine)} == {"is still to be filled in"}
    offered = re.findall(r'^#   "(picked [^"]+)"', text, re.MULTILINE)
    filled = {
        "boat.up": "+z",
        "boat.forward": "+x",
        "boat.inside": offered[0],
        "boat.viewpoints": offered,
        "boat.datum.point": "picked 0 0 0",
        "boat.datum.above_sea": "0 mm",
        "boat.datum.taken": "clear hose",
        "boat.centreline.point": "picked 0 0 0",
        "boat.centreline.offset": "0 mm",
        "boat.centreline.side": "port",
        "boat.ports.seacock.at": "picked 0 0.5 0.02",
        "boat.ports.overboard.at": "picked 0 0.73 1",
        "boat.ports.overboard.direction": "starboard",
        "boat.ports.tank.at": "picked 0.5 0.5 0.02",
        "boat.ports.tank.direction": "up",
    }
    for key, value in filled.items():
        text = set_key(text, tuple(key.split(".")), value)
    ends = [("0 -0.75 0", "0 0.75 0", "1.5 m"), ("-1 0 0", "1 0 0", "2 m")]
    for start, end, length in ends:
        text = text.replace('"FILL IN: one end"', f'"picked {start}"', 1)
        text = text.replace('"FILL IN: the other end"', f'"picked {end}"', 1)
        text = text.replace('"FILL IN: as measured on board, such as 1.850 m"', f'"{length}"', 1)
    text = text.replace('pitch = "15 mm"', 'pitch = "40 mm"')
    mine.write_text(text)
    space = survey(read_scenario(mine))
    assert 2.0 < space.free_volume < 3.6


@pytest.mark.usefixtures("coarse")
def test_only_the_picture_is_written_by_default(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out = run(tmp_path)
    assert status == PASSED
    assert "--write" in capsys.readouterr().out
    written = {path.name for path in tmp_path.rglob("*") if path.is_file()}
    assert written - {"scan.png"} == {"bay.stl"}


@pytest.mark.usefixtures("coarse")
def test_a_file_without_a_room_fails(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = specimens.write_stl(
        tmp_path / "sheet.stl", specimens.sheet(0.0, (0.0, 0.0), (2.0, 1.0))
    )
    assert main(["scan", str(sheet), "--out", str(tmp_path / "out")]) == FAILED
    assert "no space enclosed" in capsys.readouterr().out


@pytest.mark.usefixtures("coarse")
def test_without_graphics_a_message_is_printed_and_the_run_continues(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    import fitcheck.view as view

    nothing = view.Renderer(
        works=False, kind="", drawn_by="", software=False, advice="install a GL library"
    )
    monkeypatch.setattr("fitcheck.view.pictures.guarded.probe", lambda: nothing)
    mine = tmp_path / "bay.toml"
    status, out = run(tmp_path, "--write", str(mine))
    assert status == PASSED
    assert "no picture: install a GL library" in capsys.readouterr().err
    assert not out.exists()
    assert mine.exists()


def test_a_bad_file_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad, out = tmp_path / "bay.glb", tmp_path / "out"
    bad.write_bytes(b"glTF" + bytes(40))
    assert main(["scan", str(bad), "--write", str(out / "a.toml"), "--out", str(out)]) == BAD_INPUT
    assert [line for line in capsys.readouterr().err.splitlines() if "bay.glb:" in line]
    assert not out.exists()


def test_the_demo_scan_suggests_its_true_up(capsys: pytest.CaptureFixture[str]) -> None:
    """The demo's mesh is tilted by about 1.5 degrees; its y is up and its hatch about
    600 mm wide.
    """
    look = scan(ROOT / "meshes" / "demo_scan.ply", 1.0)
    assert look.ups[0].axis == "y"
    assert look.preview is not None
    assert look.preview.opening is not None
    assert 0.4 < look.preview.opening.width < 0.9
