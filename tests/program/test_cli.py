"""The commands as a user sees them: exit status, one clear line, nothing half written."""

from __future__ import annotations

import hashlib
import json
import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from fitcheck import space
from fitcheck.cli import BAD_INPUT, FAILED, PASSED, main
from fitcheck.model.found.scan import ScanLook
from fitcheck.space.look import preview
from tests import ROOT
from tests.layouts import sound
from tests.layouts.bay import place
from tests.specimens.apply_changes import apply_changes


@pytest.fixture(autouse=True)
def _coarse(monkeypatch: pytest.MonkeyPatch) -> None:
    """The output of a command does not depend on the resolution of the preview."""
    monkeypatch.setattr(preview, "ALONG", 40)


SCENARIOS = ROOT / "scenarios"


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    """Exit status, standard output, standard error."""
    status = main(arguments)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def stl(triangles: np.ndarray, promised: int | None = None) -> bytes:
    """A binary STL of (n, 3, 3) corners; may declare a wrong count."""
    rows = np.zeros(
        len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("a", "<u2")]
    )
    rows["corners"] = triangles
    count = len(triangles) if promised is None else promised
    return b"mesh".ljust(80) + struct.pack("<I", count) + rows.tobytes()


def room() -> np.ndarray:
    """A closed room of 2 x 1.5 x 1.2 m as triangles."""
    return np.asarray(trimesh.creation.box(extents=(2.0, 1.5, 1.2)).triangles)


def glb(document: dict[str, object], body: bytes = b"") -> bytes:
    """A GLB container of a JSON document and a binary chunk."""
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    body += b"\0" * (-len(body) % 4)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
    chunks += struct.pack("<II", len(body), 0x004E4942) + body
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def draco() -> bytes:
    """A GLB that needs a decoder for its only mesh."""
    primitive = {"attributes": {"POSITION": 0}, "indices": 1, "mode": 4}
    return glb(
        {
            "asset": {"version": "2.0"},
            "extensionsRequired": ["KHR_draco_mesh_compression"],
            "extensionsUsed": ["KHR_draco_mesh_compression"],
            "scene": 0,
            "scenes": [{"nodes": [0]}],
            "nodes": [{"mesh": 0}],
            "meshes": [{"primitives": [primitive]}],
            "accessors": [
                {"componentType": 5126, "count": 3, "type": "VEC3"},
                {"componentType": 5125, "count": 3, "type": "SCALAR"},
            ],
        }
    )


def whole_glb() -> bytes:
    """A good GLB of the room."""
    return bytes(trimesh.Trimesh(**trimesh.triangles.to_kwargs(room())).export(file_type="glb"))


def with_nan() -> np.ndarray:
    """The room with one corner that is not a number."""
    triangles = room().copy()
    triangles[3, 1, 0] = np.nan
    return triangles


BAD_MESHES = {
    "truncated.stl": stl(room())[:-170],
    "empty.stl": b"",
    "text.obj": b"this is a shopping list\nrope, shackles\n",
    "truncated.glb": whole_glb()[:-200],
    "nan.stl": stl(with_nan()),
    "draco.glb": draco(),
}


def scenario_with(folder: Path, changes: list[dict[str, object]]) -> Path:
    """A copy of the demo with keys changed, in its own folder."""
    for file in SCENARIOS.glob("*.toml"):
        text = file.read_text().replace('"../meshes/', f'"{(ROOT / "meshes").as_posix()}/')
        (folder / file.name).write_text(text)
    apply_changes(changes, folder)
    return folder / "demo.toml"


def boat_change(key: str, value: object) -> dict[str, object]:
    """A change to the demo's boat file."""
    return {"file": "demo_boat.toml", "key": key, "value": value}


def earlier_result(folder: Path) -> dict[str, str]:
    """Create files of an earlier run and return their digests."""
    folder.mkdir()
    for name in ("result.json", "report.html"):
        (folder / name).write_text(f"earlier {name}")
    return digests(folder)


def digests(folder: Path) -> dict[str, str]:
    """Digest of every file of a folder."""
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in folder.iterdir()}


@pytest.mark.parametrize("name", BAD_MESHES)
def test_bad_mesh_is_one_clear_line(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_bytes(BAD_MESHES[name])
    scenario = scenario_with(tmp_path, [boat_change("boat.mesh", name)])
    before = earlier_result(tmp_path / "out")
    status, _, err = run(capsys, "check", str(scenario), "--out", str(tmp_path / "out"))
    said = [line for line in err.splitlines() if name in line]
    assert status == BAD_INPUT
    assert len(said) == 1
    assert "Traceback" not in err
    assert digests(tmp_path / "out") == before


def edited(scenario: Path, file: str, old: str, new: str) -> None:
    """Replace one piece of text of one scenario file."""
    path = scenario.with_name(file)
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def test_missing_unit_names_file_line_and_key(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scenario = scenario_with(
        tmp_path, [{"file": "demo_kit.toml", "key": "kit.modules.feed_pump.mass", "value": "3.4"}]
    )
    status, _, err = run(capsys, "check", str(scenario), "--out", str(tmp_path / "out"))
    line = next(line for line in err.splitlines() if "kit.modules.feed_pump.mass" in line)
    number = int(line.split("demo_kit.toml:")[1].split(":")[0])
    assert status == BAD_INPUT
    assert "mass" in (tmp_path / "demo_kit.toml").read_text().splitlines()[number - 1]
    assert not (tmp_path / "out").exists()


def test_an_unknown_key_is_named_with_a_similar_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scenario = scenario_with(tmp_path, [boat_change("boat.viewpoint", ["picked 0 0 0"])])
    status, _, err = run(capsys, "check", str(scenario), "--out", str(tmp_path / "out"))
    assert status == BAD_INPUT
    assert "boat.viewpoint" in err
    assert "viewpoints" in err


def test_all_faults_of_all_files_are_reported_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scenario = scenario_with(
        tmp_path,
        [
            boat_change("boat.inside", "somewhere"),
            {"file": "demo_kit.toml", "key": "kit.modules.feed_pump.mass", "value": "3.4 bar"},
            {"file": "demo_layout.toml", "key": "layout.pitch", "value": "15"},
        ],
    )
    status, _, err = run(capsys, "check", str(scenario), "--out", str(tmp_path / "out"))
    assert status == BAD_INPUT
    for key in ("boat.inside", "kit.modules.feed_pump.mass", "layout.pitch"):
        assert key in err


@pytest.mark.parametrize(("name", "beyond"), [("vessel", 9.0), ("feed", 0.0)])
def test_a_module_outside_the_boat_or_in_a_wall_is_a_result(
    name: str, beyond: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bay = next(sound())
    wall = bay.triangles[..., 1].min() - beyond
    bay.tables["layout"]["modules"][name]["at"] = place(0.0, wall, -0.2)
    scenario = bay.write(tmp_path / "bay")
    status, out, _ = run(capsys, "check", str(scenario), "--out", str(tmp_path / "out"))
    result = json.loads((tmp_path / "out" / "result.json").read_text())
    said = [row for row in result["findings"] if row["subject"] == name]
    assert status == FAILED
    assert any(row["severity"] == "fail" and row["place"] for row in said)
    assert name in out
    assert (tmp_path / "out" / "report.html").exists()


def test_a_starter_scenario_lists_what_to_fill_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mesh, mine = tmp_path / "room.stl", tmp_path / "mine.toml"
    mesh.write_bytes(stl(room()))
    out = ("--out", str(tmp_path / "o"))
    status, _, _ = run(capsys, "scan", str(mesh), "--write", str(mine), *out)
    assert status == PASSED
    status, _, err = run(capsys, "check", str(mine), *out)
    assert status == BAD_INPUT
    assert "mine.toml:" in err
    assert "Traceback" not in err


@pytest.mark.parametrize("dangling", [False, True])
def test_scan_never_overwrites_a_file(
    dangling: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Neither a file nor a dangling link."""
    mesh, mine = tmp_path / "room.stl", tmp_path / "mine.toml"
    mesh.write_bytes(stl(room()))
    if dangling:
        mine.symlink_to(tmp_path / "unplugged" / "mine.toml")
    else:
        mine.write_text("mine")
    before = sorted(tmp_path.iterdir())
    status, out, err = run(
        capsys, "scan", str(mesh), "--write", str(mine), "--out", str(tmp_path / "o")
    )
    assert (status, out) == (BAD_INPUT, "")
    assert "exists" in err
    assert sorted(tmp_path.iterdir()) == before
    assert mine.is_symlink() if dangling else mine.read_text() == "mine"


def test_a_file_created_during_the_scan_is_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    mesh, mine = tmp_path / "room.stl", tmp_path / "mine.toml"
    mesh.write_bytes(stl(room()))

    def slow(*arguments: object) -> ScanLook:
        look = real(*arguments)
        mine.write_text("mine")
        return look

    real = space.scan
    monkeypatch.setattr(space, "scan", slow)
    status, _, err = run(
        capsys, "scan", str(mesh), "--write", str(mine), "--out", str(tmp_path / "o")
    )
    assert status == BAD_INPUT
    assert "exists" in err
    assert mine.read_text() == "mine"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (["chek", "bay.toml"], "did you mean check?"),
        (["bay.toml"], "write fitcheck check bay.toml"),
        (["check", "bay.toml", "--breif"], "did you mean --brief?"),
        (["check", "bay.toml", "other.toml"], "several go to fitcheck compare"),
    ],
)
def test_a_command_mistyped_says_which_was_meant(
    typed: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main(typed)
    assert left.value.code == 2
    assert capsys.readouterr().err.rstrip().endswith(said)
