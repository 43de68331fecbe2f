"""A file given that is none or another, and paths that start from the wrong folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitcheck.errors import Fault
from tests.specimens.scenario_texts import BOAT, LAYOUT, MAIN, TEXTS, faults_of, write_files


def one(faults: tuple[Fault, ...]) -> Fault:
    """The only fault."""
    assert len(faults) == 1, faults
    return faults[0]


@pytest.mark.parametrize("codec", ["utf-16", "utf-16-le", "utf-16-be"])
def test_a_file_saved_in_two_bytes_to_a_letter(codec: str, tmp_path: Path) -> None:
    path = write_files(tmp_path)
    (tmp_path / "kit.toml").write_bytes(TEXTS["kit.toml"].encode(codec))
    fault = one(faults_of(path))
    assert Path(fault.file).name == "kit.toml"
    assert "UTF-16" in fault.text
    assert fault.remedy == "save the file as UTF-8"


@pytest.mark.parametrize("name", ["boat.toml", "kit.toml", "layout.toml"])
def test_a_part_given_for_the_scenario_names_the_scenario(name: str, tmp_path: Path) -> None:
    write_files(tmp_path)
    (tmp_path / "broken.toml").write_text("[boat")
    fault = one(faults_of(tmp_path / name))
    assert fault.line == 1
    assert f"[{name.removesuffix('.toml')}]" not in fault.text
    assert fault.remedy == f"give the scenario that uses this file: {tmp_path / 'main.toml'}"


def test_a_file_of_pairs_given_for_the_scenario(tmp_path: Path) -> None:
    path = tmp_path / "pairs.toml"
    path.write_text('[other]\norigin = "scan"\n')
    fault = one(faults_of(path))
    assert "--pairs" in fault.remedy


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("meshes/bay.stl", "../meshes/bay.stl"),  # as seen from the folder above
        ("bay.stl", "../meshes/bay.stl"),
        ("../bay.stl", "../meshes/bay.stl"),
        ("/home/somebody/bay.stl", "../meshes/bay.stl"),
        ("../meshes/BAY.stl", "../meshes/bay.stl"),
    ],
)
def test_a_path_from_the_wrong_folder_is_put_right(
    written: str, meant: str, tmp_path: Path
) -> None:
    for folder in ("scenarios", "meshes"):
        (tmp_path / folder).mkdir()
    (tmp_path / "meshes" / "bay.stl").write_bytes(b"not read here")
    boat = BOAT.replace("box.stl", written)
    fault = one(faults_of(write_files(tmp_path / "scenarios", boat=boat)))
    assert fault.key == "boat.mesh"
    assert fault.remedy == f"did you mean '{meant}'?"


def test_a_scenario_in_a_folder_below_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "scenarios").mkdir()
    (tmp_path / "scenarios" / "bay.toml").write_text(MAIN)
    monkeypatch.chdir(tmp_path)
    assert one(faults_of(Path("bay.toml"))).remedy == "did you mean 'scenarios/bay.toml'?"


def test_a_hole_smaller_than_the_hose_is_one_fault(tmp_path: Path) -> None:
    for size, wrong in (("6 mm", True), ("27 mm", True), ("27.1 mm", False)):
        boat = BOAT.replace('diameter = "60 mm"', f'diameter = "{size}"')
        faults = faults_of(write_files(tmp_path, boat=boat))
        assert bool(faults) == wrong
        if wrong:
            assert one(faults).key == "layout.lines.delivery.holes, item 1"
            assert "27 mm outside" in one(faults).text


def test_one_of_several_holes_is_enough_for_the_hose(tmp_path: Path) -> None:
    small = BOAT[BOAT.index("[boat.holes.bulkhead]") : BOAT.index("[boat.conditions]")]
    boat = BOAT + small.replace("bulkhead", "slit").replace("60 mm", "6 mm")
    layout = LAYOUT.replace('["bulkhead"]', '["slit or bulkhead"]')
    assert faults_of(write_files(tmp_path, boat=boat, layout=layout)) == ()
