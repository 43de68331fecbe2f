"""The starter scenario: valid, explicit about what is left to fill in, and complete once it is."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.model.found.scan import ScanLook
from fitcheck.scenario import read_scenario, starter
from fitcheck.scenario.keys import set_key
from tests.specimens.scenario_texts import faults_of

#: The preview of a mesh of 2 by 1 by 1.5, without a room in it.
LOOK = ScanLook(
    file="bay.ply",
    triangles=12,
    points=0,
    bodies=1,
    open_edges=3,
    crossed=0,
    extents=(2.0, 1.0, 1.5),
    bounds=((-0.5, 0.25, 0.0), (1.5, 1.25, 1.5)),
    unit=None,
    unit_from="",
    declared=None,
    scale=1.5,
    said=(),
    ups=(),
    gaps=(),
    bits=None,
    doubled=None,
    preview=None,
)


FILLED = {
    "boat.unit": "m",
    "boat.up": "+z",
    "boat.forward": "+x",
    "boat.inside": "picked 0.5 0.75 0.75",
    "boat.viewpoints": ["picked 0.4 0.75 0.75", "picked 0.6 0.75 0.75"],
    "boat.datum.point": "picked 0 1 1",
    "boat.datum.above_sea": "120 mm",
    "boat.datum.taken": "clear hose on the seacock, boat at rest",
    "boat.centreline.point": "picked 0 1 1",
    "boat.centreline.offset": "0.35 m",
    "boat.centreline.side": "port",
    "boat.ports.seacock.at": "picked 0 0.5 0.1",
    "boat.ports.overboard.at": "picked 0 0.3 1",
    "boat.ports.overboard.direction": "starboard",
    "boat.ports.tank.at": "picked 1 0.5 0.1",
    "boat.ports.tank.direction": "up",
}


def written(tmp_path: Path) -> Path:
    """A starter for a mesh next to it."""
    (tmp_path / "bay.ply").write_bytes(b"only its digest is taken here")
    path = tmp_path / "mine.toml"
    path.write_text(starter(tmp_path / "bay.ply", LOOK), "utf-8")
    return path


def test_faults_are_exactly_what_is_left_to_fill_in(tmp_path: Path) -> None:
    path = written(tmp_path)
    lines = path.read_text("utf-8").splitlines()
    marked = {
        number
        for number, line in enumerate(lines, start=1)
        if "FILL IN" in line and not line.startswith("#")
    }
    faults = faults_of(path)
    assert sorted(fault.line for fault in faults) == sorted(marked)
    assert all(fault.text == "is still to be filled in" for fault in faults)
    assert all("FILL IN" not in fault.remedy and len(fault.remedy) > 5 for fault in faults)


def test_a_filled_in_starter_is_a_complete_scenario(tmp_path: Path) -> None:
    path = written(tmp_path)
    text = path.read_text("utf-8")
    for key, value in FILLED.items():
        text = set_key(text, tuple(key.split(".")), value)
    for number in range(2):
        text = text.replace('"FILL IN: one end"', f'"picked {number} 0 0"', 1)
        text = text.replace('"FILL IN: the other end"', f'"picked {number} 1 0"', 1)
    text = text.replace('"FILL IN: as measured on board, such as 1.850 m"', '"1 m"')
    path.write_text(text, "utf-8")
    scenario = read_scenario(path)
    assert 6 <= len(scenario.kit.modules) <= 8
    assert {line.duty for line in scenario.kit.lines} == {
        "suction",
        "feed",
        "bypass",
        "high pressure",
        "brine",
        "product",
    }
    assert {place.module for place in scenario.layout.placements} == {
        module.name for module in scenario.kit.modules
    }
    assert scenario.kit.feed_pump
    assert scenario.kit.high_pressure_pump
    assert scenario.kit.membrane


def test_the_starter_names_the_mesh(tmp_path: Path) -> None:
    text = written(tmp_path).read_text("utf-8")
    assert "x -0.500 and 1.500" in text
    assert "picked 0.500 0.750 0.750" in text
    assert "@" not in text


def test_every_table_is_under_a_comment(tmp_path: Path) -> None:
    """Each kind of table is explained before its first one."""
    lines = written(tmp_path).read_text("utf-8").splitlines()
    seen: set[tuple[str, ...]] = set()
    for number, line in enumerate(lines):
        if not line.startswith("["):
            continue
        kind = tuple(line.strip("[]").split("#")[0].split("."))[:2]
        if kind not in seen:
            above = "\n".join(lines[max(0, number - 8) : number])
            assert "#" in above, line
        seen.add(kind)


@given(st.text(min_size=1).filter(lambda text: "\x00" not in text))
def test_any_mesh_name_gives_valid_toml(name: str) -> None:
    data = tomllib.loads(starter(f"/{name}", LOOK))
    assert Path(data["boat"]["mesh"]) == Path(f"/{name}")


@pytest.mark.parametrize(
    ("mesh", "folder", "wanted"),
    [
        ("meshes/bay.ply", ".", "meshes/bay.ply"),
        ("meshes/bay.ply", "scenarios", "../meshes/bay.ply"),
        ("/boats/bay.ply", "scenarios", "/boats/bay.ply"),
    ],
)
def test_the_mesh_is_found_from_where_the_file_will_be(
    mesh: str, folder: str, wanted: str
) -> None:
    assert tomllib.loads(starter(Path(mesh), LOOK, folder=folder))["boat"]["mesh"] == wanted
