"""Another mesh compared with the boat's: where a wall protrudes, by how much, which module is
affected.
"""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from fitcheck.cli import BAD_INPUT, FAILED, PASSED, main
from fitcheck.deviation import print_deviation, words, write_deviation
from fitcheck.deviation.compared import meshes, patches
from fitcheck.deviation.compared.carry import carried
from fitcheck.deviation.compared.changes import module_changes
from fitcheck.deviation.compared.meshes import compare_meshes
from fitcheck.deviation.page import deviation_html
from fitcheck.deviation.registration import laid
from fitcheck.model.found.deviation import Deviation, ModuleChange, Other, Pair
from fitcheck.model.given.kit import Module
from fitcheck.model.given.scenario import Placement, Scenario
from fitcheck.model.uncertainty import Verdict
from fitcheck.space import survey, to_boat
from tests import specimens
from tests.specimens.amounts import SYSTEMS, PageText, foreign, uneven_columns
from tests.specimens.result import specimen_result

Array = NDArray[np.float64]

#: The other mesh's axes and unit (millimetres).
TURN = Rotation.from_euler("xyz", [80.0, -20.0, 130.0], degrees=True)
SHIFT = np.array([0.4, -2.0, 1.0])
CORNERS = np.array(
    [
        [-1, -0.75, 0],
        [1, -0.75, 0],
        [1, 0.75, 0],
        [-1, 0.75, 1.2],
        [1, 0.75, 1.2],
        [-1, -0.75, 1.2],
    ]
)
IN = 0.018

BOAT = """
[boat]
name = "Hull 1"
mesh = "here.stl"
origin = "cad"
unit = "m"
up = "+z"
forward = "+x"
datum = { point = "picked 0 0 0", above_sea = "0 mm", taken = "drawing" }
centreline = { point = "picked 0 0 0", offset = "0 mm", side = "port" }
inside = "picked 0 0 0.6"
"""


def there(points: Array) -> Array:
    """Boat frame [m] -> the other mesh [mm]."""
    return np.asarray(1000.0 * TURN.inv().apply((points - SHIFT).reshape(-1, 3))).reshape(
        points.shape
    )


def narrower(room: Array) -> Array:
    """The port wall protrudes by 18 mm between x = -0.4 and 0.4, fading out over 0.1 m."""
    moved = room.copy()
    x, y = moved[..., 0], moved[..., 1]
    share = np.clip((0.5 - np.abs(x)) / 0.1, 0.0, 1.0) * (y > 0.74)
    moved[..., 1] = y - IN * share
    return moved


@pytest.fixture(scope="module", name="folder")
def _folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A boat file, its room, the same room with a narrower wall, and pairs."""
    folder = tmp_path_factory.mktemp("hulls")
    room = specimens.finer(specimens.room_with_box((-0.9, -0.3, 0.0), (-0.4, 0.3, 0.5)), 5)
    specimens.write_stl(folder / "here.stl", room)
    specimens.write_stl(folder / "there.stl", there(narrower(room)))
    (folder / "boat.toml").write_text(BOAT)
    write_pairs(folder / "pairs.toml", CORNERS)
    return folder


def write_pairs(path: Path, points: Array, error: float = 0.0) -> None:
    """A file of pairs."""
    text = '[other]\nname = "Hull 3"\norigin = "cad"\nunit = "mm"\n'
    for n, (here, other) in enumerate(zip(points, there(points), strict=True)):
        other = other + 1000.0 * error * (n == 0)
        numbers = [" ".join(f"{value:.4f}" for value in point) for point in (here, other)]
        text += f'[[other.pairs]]\nname = "corner {n}"\n'
        text += f'here = "picked {numbers[0]}"\nthere = "picked {numbers[1]}"\n'
    path.write_text(text)


@pytest.fixture(autouse=True, scope="module")
def _few_places() -> object:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(laid, "PLACES_HERE", 8000)
        patch.setattr(laid, "PLACES_THERE", 2000)
        patch.setattr(patches, "SPACING", 0.03)
        yield


def found_of(folder: Path) -> Deviation:
    """The deviation of the boat alone."""
    return compare_meshes(folder / "boat.toml", folder / "there.stl", folder / "pairs.toml")


@pytest.fixture(scope="module", name="found")
def _found(folder: Path) -> Deviation:
    return found_of(folder)


def test_the_narrow_place_is_located(found: Deviation) -> None:
    assert found.registration.trusted
    (patch,) = found.patches
    assert patch.worst == pytest.approx(-IN, abs=0.0005)
    assert patch.typical == pytest.approx(-IN, abs=0.001)
    # Over the limit of 10 mm from |x| = 0.444 on, over the whole height.
    assert patch.low == pytest.approx((-0.444, 0.732, 0.0), abs=0.03)
    assert patch.high == pytest.approx((0.444, 0.74, 1.2), abs=0.03)
    assert patch.area == pytest.approx(0.889 * 1.2, rel=0.06)


def test_unchanged_surfaces_deviate_by_less_than_a_millimetre(found: Deviation) -> None:
    x, y, _ = found.places.T
    still = (y < 0.70) | (np.abs(x) > 0.6)
    assert np.abs(found.off[still]).max() < 0.001


def test_swapping_the_meshes_gives_more_room(folder: Path, tmp_path: Path) -> None:
    """The narrow hull as the boat, the wide one as the other: the same place, outwards."""
    room = specimens.finer(specimens.room_with_box((-0.9, -0.3, 0.0), (-0.4, 0.3, 0.5)), 5)
    specimens.write_stl(tmp_path / "here.stl", narrower(room))
    specimens.write_stl(tmp_path / "there.stl", there(room))
    (tmp_path / "boat.toml").write_text(BOAT)
    write_pairs(tmp_path / "pairs.toml", CORNERS)
    (patch,) = found_of(tmp_path).patches
    assert patch.worst == pytest.approx(IN, abs=0.0005)


def test_a_new_object_protrudes_inwards(folder: Path, tmp_path: Path) -> None:
    room = specimens.room_with_box((-0.9, -0.3, 0.0), (-0.4, 0.3, 0.5))
    tank = specimens.box((0.5, -0.74, 0.0), (0.9, -0.4, 0.3))
    specimens.write_stl(
        tmp_path / "there.stl", there(specimens.finer(specimens.join(room, tank), 4))
    )
    found = compare_meshes(folder / "boat.toml", tmp_path / "there.stl", folder / "pairs.toml")
    assert found.patches
    assert all(patch.worst < 0.0 for patch in found.patches)
    low = np.min([patch.low for patch in found.patches], axis=0)
    high = np.max([patch.high for patch in found.patches], axis=0)
    assert low == pytest.approx((0.5, -0.74, 0.0), abs=0.05)
    assert high == pytest.approx((0.9, -0.4, 0.3), abs=0.01)


# --- a layout in both -------------------------------------------------------------------------


def scenario(folder: Path) -> Scenario:
    """One box whose left side is 25 mm off the port wall."""
    box = Module(name="vessel", size=(0.5, 0.2, 0.2), mass=9.0, stands="any", ports=(), service=())
    place = Placement(module="vessel", at=(0.0, 0.625, 0.4), rotate=(0.0, 0.0, 0.0))
    boat = specimens.boat(
        folder / "here.stl", origin="cad", unit=1.0, name="Hull 1", inside=(0.0, 0.0, 0.6)
    )
    kit = specimens.kit(modules=(box,), allowances=specimens.allowances(box_gap=0.010))
    return specimens.scenario(boat, kit=kit, layout=specimens.layout(place, pitch=0.04))


def test_a_module_that_no_longer_fits_is_named_with_its_face(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(meshes, "read_scenario", lambda *_, **__: scenario(folder))
    found = found_of(folder)
    (change,) = found.modules
    assert change.here == "fits"
    face = next(face for face in change.faces if face.face == "left")
    assert face.here == pytest.approx(0.025, abs=1e-4)
    assert face.there == pytest.approx(0.025 - IN, abs=0.001)
    assert face.change == pytest.approx(-IN, abs=0.001)
    assert all(abs(f.change or 0.0) < 0.001 for f in change.faces if f.face != "left")
    said = [row for row in found.findings if row.subject == "vessel"]
    assert said
    assert "its left face has" in said[0].text
    assert "18 mm less" in said[0].text
    assert found.patches[0].beside == ("vessel",)


def other(folder: Path) -> Other:
    """The contents of the pairs file."""
    points = zip(CORNERS, there(CORNERS), strict=True)
    return Other(
        name="Hull 3",
        mesh=str(folder / "there.stl"),
        file="pairs.toml",
        origin="cad",
        unit=0.001,
        accuracy=None,
        viewpoints=(),
        tape_measures=(),
        pairs=tuple(
            Pair(name=str(n), here=tuple(a), there=tuple(b)) for n, (a, b) in enumerate(points)
        ),
        inputs=(),
    )


def test_the_transferred_boat_has_the_same_frame(folder: Path, found: Deviation) -> None:
    """Points picked here and transferred to the other mesh keep their place in the boat frame."""
    before = scenario(folder)
    space = survey(before)
    framed = replace(before, boat=replace(before.boat, rays="a.ply", stations="a.csv"))
    after = carried(framed, space.frame, other(folder), found.registration)
    # Rays measured here say nothing of the other boat.
    assert (after.boat.rays, after.boat.stations) == ("", "")
    again = survey(replace(after, layout=before.layout))
    picked = np.array(after.boat.inside)
    assert to_boat(again.frame, picked) == pytest.approx(
        to_boat(space.frame, np.array(before.boat.inside)), abs=2e-4
    )
    assert again.frame.scale == pytest.approx(0.001, rel=1e-6)
    assert np.array(again.frame.turn) == pytest.approx(TURN.as_matrix(), abs=1e-3)
    assert again.free_volume == pytest.approx(space.free_volume, rel=0.02)


@pytest.mark.parametrize(("verdict", "served"), [("tight", True), ("does not fit", False)])
def test_service_clearance_is_judged_as_in_a_check(verdict: Verdict, served: bool) -> None:
    """Slightly less than required, within the scan's uncertainty, still counts as available."""
    fit = specimen_result().fit
    module = next(module for module in fit.modules if module.service)
    room = module.service[0]
    near = replace(room.contacts[0], gap=room.wanted - 0.005, uncertainty=0.02)
    short = replace(room, contacts=(near,), verdict=verdict)
    fit = replace(fit, modules=(replace(module, service=(short,)),))
    (change,) = module_changes(fit, fit)
    assert change.served_here is served


def test_a_module_without_service_clearance_in_the_other_mesh_fails(
    found: Deviation,
) -> None:
    change = ModuleChange(
        name="vessel",
        here="fits",
        there="tight",
        served_here=True,
        served_there=False,
        gap_here=0.02,
        gap_there=0.01,
        meets_there="",
        faces=(),
    )
    (row,) = words.module_table(replace(found, modules=(change,))).rows
    assert row.cells[1:3] == ("fits", "fits, but tight, too little service clearance")
    assert row.severity == "fail"


# --- the command ------------------------------------------------------------------------------


@pytest.fixture(name="_blind")
def _no_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fitcheck.view.start_probe", lambda: None)
    monkeypatch.setattr("fitcheck.view.deviation_picture", lambda *_, **__: None)


def command(folder: Path, out: Path, *more: str) -> list[str]:
    """Arguments of the command."""
    files = [str(folder / name) for name in ("boat.toml", "there.stl", "pairs.toml")]
    return ["deviation", files[0], files[1], "--pairs", files[2], "--out", str(out), *more]


@pytest.mark.usefixtures("_blind")
def test_the_command_writes_what_it_prints(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(command(folder, tmp_path)) == PASSED
    printed = capsys.readouterr().out
    assert "Hull 3 against Hull 1: less room in 1 area" in printed
    data = json.loads((tmp_path / "deviation.json").read_text())
    assert data["trusted"] is True
    assert data["places"][0]["worst"] == pytest.approx(-IN, abs=0.0005)
    rows = list(csv.DictReader((tmp_path / "places.csv").read_text().splitlines()))
    assert float(rows[0]["Maximum [mm]"]) == pytest.approx(18.0, abs=0.5)
    assert float(rows[0]["Area [cm2]"]) == pytest.approx(10_670, rel=0.06)
    page = (tmp_path / "deviation.html").read_text()
    assert "http://" not in page
    assert "https://" not in page


def test_amounts_are_shown_in_the_requested_units(
    found: Deviation, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for system in SYSTEMS:
        print_deviation(found, (), system)
        printed = capsys.readouterr().out
        page = PageText(deviation_html(found, None, system))
        write_deviation(found, tmp_path, None, system)
        sheets = [file.read_text("utf-8") for file in tmp_path.glob("*.csv")]
        assert len(sheets) == 2
        for text in (printed, page.text, *sheets):
            assert foreign(text, system, ()) == []
        assert [row for table in page.tables for row in uneven_columns(table)] == []
        if system == "imperial":
            assert re.search(r"Protrudes inwards by 0\.7\d* in", printed)


@pytest.mark.usefixtures("_blind")
def test_nothing_is_reported_below_the_limit(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(command(folder, tmp_path, "--limit", "1 in")) == PASSED
    assert "no area has less room" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        ("wrong pair", "pair 'corner 0' is"),
        ("no table", "there is no table [other]"),
        ("three", "has 3 pairs where 4 or more are required"),
        ("limit", "--limit: '10' has no unit"),
        ("mesh", "there is no file"),
    ],
)
@pytest.mark.usefixtures("_blind")
def test_unusable_input_is_reported_and_nothing_written(
    folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    spoil: str,
    said: str,
) -> None:
    arguments = command(folder, tmp_path / "out")
    pairs = tmp_path / "pairs.toml"
    arguments[4] = str(pairs)
    write_pairs(
        pairs, CORNERS[: 3 if spoil == "three" else 6], 0.4 if spoil == "wrong pair" else 0.0
    )
    if spoil == "no table":
        pairs.write_text('name = "x"\n')
    if spoil == "limit":
        arguments += ["--limit", "10"]
    if spoil == "mesh":
        arguments[2] = str(tmp_path / "nothing.stl")
    assert main(arguments) == BAD_INPUT
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
    assert FAILED == 1
