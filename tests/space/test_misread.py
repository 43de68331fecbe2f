"""One wrong key of the boat frame is named as the cause, and nothing that follows from it."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitcheck.errors import MeshError
from fitcheck.model.finding import Finding
from fitcheck.pipeline import run
from fitcheck.scenario import read_scenario
from fitcheck.space import on_frame, survey
from tests import ROOT

HARD = (ROOT / "scenarios" / "hard.toml").read_text("utf-8")


def written(folder: Path, *edits: tuple[str, str]) -> Path:
    """The shipped scenario on a drawing, with pieces of its text replaced."""
    text = HARD.replace("../meshes/hard.stl", str(ROOT / "meshes" / "hard.stl"))
    for old, new in edits:
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    path = folder / "hard.toml"
    path.write_text(text)
    return path


def doubted(folder: Path, *edits: tuple[str, str]) -> tuple[Finding, ...]:
    """What is reported of the frame."""
    scenario = read_scenario(written(folder, *edits))
    return on_frame(scenario, survey(scenario))


@pytest.mark.parametrize(
    ("old", "new", "key", "value"),
    [
        ('up = "+z"', 'up = "-z"', "boat.up", "+z"),
        ('forward = "+x"', 'forward = "-x"', "boat.forward", "+x"),
        ('forward = "+x"', 'forward = "+y"', "boat.forward", "+x"),
        ('above_sea = "-500 mm"', 'above_sea = "500 mm"', "boat.datum.above_sea", "-0.5 m"),
        ('side = "port"', 'side = "starboard"', "boat.centreline.side", "port"),
    ],
)
def test_the_wrong_key_is_named_with_its_right_value(
    old: str, new: str, key: str, value: str, tmp_path: Path
) -> None:
    (row,) = doubted(tmp_path, (old, new))
    assert (row.rule, row.severity, row.subject) == ("frame-doubted", "fail", key)
    assert row.remedy is not None
    (change,) = row.remedy.changes
    assert (change.key, change.value) == (key, value)
    assert {"cut_joinery", "order_hoses"} <= set(row.bars)


def test_a_right_frame_is_not_doubted(tmp_path: Path) -> None:
    assert doubted(tmp_path) == ()


def test_one_misplaced_module_does_not_put_the_frame_in_doubt(tmp_path: Path) -> None:
    assert doubted(tmp_path, ('at = ["0.800 m", "0.450 m"', 'at = ["8.00 m", "0.450 m"')) == ()


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        (
            "inside =",
            'crop = ["picked 9000 9000 9000", "picked 9600 9600 9600"]\ninside =',
            "crop",
        ),
        ('length = "1.400 m"', 'length = "14.00 m"', "tape, item 2"),
        (
            'forward = "+x"',
            'forward = "+x"\nviewpoints = ["picked 1e4 0 0"]',
            "viewpoints, item 1",
        ),
    ],
)
def test_a_boat_that_cannot_be_surveyed_names_file_line_and_key(
    old: str, new: str, key: str, tmp_path: Path
) -> None:
    path = written(tmp_path, (old, new))
    with pytest.raises(MeshError) as caught:
        run(path)
    place, _, rest = str(caught.value).partition(f": boat.{key}: ")
    assert place.startswith(f"{path}:")
    number = int(place.rpartition(":")[2])
    assert key.split(",")[0] in path.read_text().splitlines()[number - 1]
    assert "; " in rest
