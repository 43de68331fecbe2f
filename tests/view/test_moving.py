"""Boxes moved in the window, the layout saved, and the checks that follow a move."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fitcheck.errors import FitcheckError
from fitcheck.model.given.scenario import Placement
from fitcheck.model.result import Result
from fitcheck.pipeline import with_placement
from fitcheck.scenario import read_scenario, save_moved
from fitcheck.view import probe
from fitcheck.view.pictures.probe import use
from tests import ROOT
from tests.specimens.result import made_result

if TYPE_CHECKING:
    from fitcheck.view.desk.desk import Desk

SCENARIOS = ROOT / "scenarios"


# --- the file ---------------------------------------------------------------------------------


def shifted(placement: Placement, x: float, y: float, z: float) -> Placement:
    at = (placement.at[0] + x, placement.at[1] + y, placement.at[2] + z)
    return replace(placement, at=at)


@pytest.mark.parametrize("name", ["demo.toml", "one_file.toml"])
def test_a_moved_layout_is_saved_and_read_back(tmp_path: Path, name: str) -> None:
    shutil.copytree(SCENARIOS, tmp_path / "scenarios")
    (tmp_path / "meshes").symlink_to(SCENARIOS.parent / "meshes")
    file = tmp_path / "scenarios" / name
    if name == "one_file.toml":
        parts = ("demo_boat.toml", "demo_kit.toml", "demo_layout.toml")
        text = "\n".join((SCENARIOS / part).read_text("utf-8") for part in parts)
        file.write_text(f'name = "One"\n{text}', "utf-8")
    before = {path: path.read_bytes() for path in file.parent.iterdir()}
    scenario = read_scenario(file)
    moved = with_placement(scenario, shifted(scenario.layout.placement("vessel"), 0.0123, 0, -0.1))
    saved = [save_moved(file, moved) for _ in range(2)]
    assert [path.stem for path in saved] == [f"{file.stem}_moved", f"{file.stem}_moved2"]
    assert {path: path.read_bytes() for path in before} == before
    for path in saved:
        again = read_scenario(path)
        assert np.allclose(
            [row.at for row in again.layout.placements],
            [row.at for row in moved.layout.placements],
            atol=5.1e-5,
        )
        assert again.kit == moved.kit
    layout = (file.parent / Path(read_scenario(saved[0]).layout_file).name).read_text("utf-8")
    assert "# turned round: its ports face forward" in layout


# --- the window -------------------------------------------------------------------------------


class Shelf:
    """A mover that only records."""

    def __init__(self, result: Result, file: Path) -> None:
        self.result, self.file = result, file
        self.moves: list[Placement] = []
        self.settled = 0

    def move(self, placement: Placement) -> Result:
        self.moves.append(placement)
        scenario = with_placement(self.result.scenario, placement)
        self.result = replace(self.result, scenario=scenario)
        return self.result

    def settle(self) -> Result:
        self.settled += 1
        return self.result

    def save(self) -> Path:
        return self.file


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    drawing = probe()
    if not drawing.works:
        pytest.skip(drawing.advice)
    from fitcheck.view.desk.desk import Desk

    use(drawing)
    result = made_result()
    shelf = Shelf(result, tmp_path / "kept.toml")
    made = Desk(result, lambda: result, "metric", shelf, off_screen=True, size=(900, 560))
    made.plotter.show(auto_close=False, interactive=False)
    yield made
    made.plotter.close()


def shelf_of(desk: Desk) -> Shelf:
    assert isinstance(desk.moving.mover, Shelf)
    return desk.moving.mover


def test_arrow_keys_move_the_picked_box_relative_to_the_view(desk: Desk) -> None:
    shelf = shelf_of(desk)
    desk.moving.press("Right")
    assert not shelf.moves
    assert "Click a module first" in desk.status
    first = np.array(desk.result.scenario.layout.placement("vessel").at)
    desk.pick("module:vessel")
    desk.look_from("plan")  # bow to the right, port upwards
    for key, shift in (
        ("Right", (0.01, 0, 0)),
        ("Left", (-0.01, 0, 0)),
        ("Up", (0, 0.01, 0)),
        ("Down", (0, -0.01, 0)),
        ("Prior", (0, 0, 0.01)),
        ("Next", (0, 0, -0.01)),
    ):
        before = np.array(desk.result.scenario.layout.placement("vessel").at)
        desk.moving.press(key)
        assert np.array(shelf.moves[-1].at) - before == pytest.approx(shift, abs=1e-12)
    assert np.array(shelf.moves[-1].at) == pytest.approx(first)
    desk.look_from("elevation")  # from starboard: bow to the right, port away
    desk.moving.press("Right")
    desk.moving.press("Up")
    assert np.array(shelf.moves[-1].at) - first == pytest.approx((0.01, 0.01, 0), abs=1e-12)


def test_moves_are_listed_until_saved_or_discarded(desk: Desk) -> None:
    desk.pick("module:vessel")
    desk.look_from("plan")
    assert desk.moving.told() == []
    desk.moving.press("Right")
    desk.moving.press("Right")
    told = desk.moving.told()
    assert told[0] == "Moved: vessel, 20 mm forward"
    assert "not saved yet" in told[1]
    desk.check_again()  # warned first
    assert "F5 again" in desk.status
    assert desk.moving.unsaved
    desk.moving.save()
    assert not desk.moving.unsaved
    assert desk.status.startswith("Saved: ")
    assert len(desk.moving.told()) == 1
    desk.check_again()
    assert desk.moving.told() == []


def test_an_unsaved_move_is_saved_when_the_window_closes(desk: Desk) -> None:
    assert desk.moving.closed() == ""
    desk.pick("module:vessel")
    desk.moving.nudge(np.array([0.0, 0.0, 0.01]))
    assert desk.moving.unsaved
    assert desk.moving.closed().startswith("Saved: ")
    assert len(shelf_of(desk).moves) == 1


def test_a_fault_while_saving_is_reported(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def full() -> Path:
        raise FitcheckError("disk: no room")

    monkeypatch.setattr(shelf_of(desk), "save", full)
    desk.pick("module:vessel")
    desk.moving.press("Up")
    desk.moving.save()
    assert desk.status == "X not saved: disk: no room"
    assert desk.moving.unsaved
