"""A remedy applied: new files next to the user's, comments kept, originals unchanged."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from pathlib import Path

import pytest

from fitcheck.cli import main
from fitcheck.errors import FitcheckError
from fitcheck.findings.said import as_written, length, quantity, say
from fitcheck.kept.inputs import digest
from fitcheck.model.finding import Change, Remedy
from fitcheck.report.results.applicable import applicable
from fitcheck.report.results.said import remedy_data
from fitcheck.scenario import read_scenario, save_applied
from tests import ROOT

SCENARIOS = ROOT / "scenarios"


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """The demo's scenario files in their own folder, with the meshes next to it."""
    folder = tmp_path / "scenarios"
    shutil.copytree(SCENARIOS, folder)
    (tmp_path / "meshes").symlink_to(SCENARIOS.parent / "meshes")
    return folder / "demo.toml"


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


LARGER = [("demo_layout.toml", "layout.lines.sea_to_strainer.hose", "suction_19")]


def test_the_users_files_are_unchanged(demo: Path) -> None:
    before = contents(demo.parent)
    written = save_applied(demo, LARGER)
    after = contents(demo.parent)
    assert {name: after[name] for name in before} == before
    assert written.name == "demo_applied.toml"
    assert set(after) - set(before) == {"demo_applied.toml", "demo_layout_applied.toml"}


def test_the_new_scenario_differs_only_by_the_change(demo: Path) -> None:
    old, new = (read_scenario(file) for file in (demo, save_applied(demo, LARGER)))
    hoses = [{one.line: one.hose for one in each.layout.choices} for each in (old, new)]
    assert hoses[1] == hoses[0] | {"sea_to_strainer": "suction_19"}
    assert (old.layout.placements, old.boat, old.kit) == (
        new.layout.placements,
        new.boat,
        new.kit,
    )


def test_comments_are_kept(demo: Path) -> None:
    save_applied(demo, LARGER)
    old = (demo.parent / "demo_layout.toml").read_text().splitlines()
    new = (demo.parent / "demo_layout_applied.toml").read_text().splitlines()
    assert [line for line in old if line not in new] == []


def test_a_second_remedy_gets_new_file_names(demo: Path) -> None:
    first, second = save_applied(demo, LARGER), save_applied(demo, LARGER)
    assert (first.name, second.name) == ("demo_applied.toml", "demo_applied2.toml")
    assert first.read_text() != second.read_text()  # each uses its own layout


def test_a_key_of_the_scenario_file_itself(tmp_path: Path) -> None:
    one = tmp_path / "one.toml"
    one.write_text("# mine\n[kit]\nname = 'a' # here\n")
    written = save_applied(one, [("one.toml", "kit.name", "b")])
    assert written.read_text() == '# mine\n[kit]\nname = "b" # here\n'


def test_a_file_outside_the_scenario_is_refused(demo: Path) -> None:
    before = contents(demo.parent)
    with pytest.raises(FitcheckError, match=r"other\.toml: is no file of"):
        save_applied(demo, [("other.toml", "kit.name", "b")])
    assert contents(demo.parent) == before


# --- the command ------------------------------------------------------------------------------


def written_result(scenario: Path, *remedies: Remedy) -> Path:
    """A result.json with the data `apply` reads."""
    files = [scenario, *(scenario.parent / f"demo_{part}.toml" for part in ("kit", "layout"))]
    data = {
        "inputs": [
            {"file": str(file), "sha256": hashlib.sha256(file.read_bytes()).hexdigest()}
            for file in files
        ],
        "remedies": [remedy_data(remedy) for remedy in remedies],
    }
    file = scenario.parent.parent / "result.json"
    file.write_text(json.dumps(data))
    return file


REMEDY = Remedy(
    said=as_written("Give it a larger bore."),
    changes=tuple(Change(file=f, key=k, value=v) for f, k, v in LARGER),
)


def test_apply_lists_and_writes(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    result = written_result(demo, REMEDY)
    assert main(["apply", str(result.parent)]) == 0
    assert capsys.readouterr().out == "1  Give it a larger bore.\n"
    assert main(["apply", str(result), "1"]) == 0
    assert "demo_applied.toml: written" in capsys.readouterr().out
    assert (demo.parent / "demo_applied.toml").exists()


def test_a_remedy_is_listed_and_written_in_the_units_asked_for(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    at = (0.508, -0.0762, 0.0)
    moved = Remedy(
        said=say(
            "place.there",
            move=say("place.raise", name="strainer", by=length(0.0254)),
            turned=None,
            at=[quantity(one, "file length") for one in at],
            checked=say("place.checked"),
            shut=None,
            board=None,
        ),
        changes=(
            Change(
                file="demo_layout.toml",
                key="layout.modules.strainer.at",
                value=tuple(f"{one} m" for one in at),
                kind="length",
            ),
        ),
    )
    result = written_result(demo, moved)
    told = {}
    for units in ("metric", "imperial"):
        assert main(["apply", str(result), "--units", units]) == 0
        told[units] = capsys.readouterr().out
        assert main(["apply", str(result), "1", "--units", units]) == 0
    assert 'by 25.4 mm: at = ["0.508 m", "-0.0762 m", "0 m"]' in told["metric"]
    assert 'by 1 in: at = ["20 in", "-3 in", "0 in"]' in told["imperial"]
    metric, imperial = (demo.with_stem(f"demo_applied{n}") for n in ("", "2"))
    assert read_scenario(metric).layout.placement("strainer").at == pytest.approx(at, abs=1e-12)
    assert read_scenario(imperial).layout.placement("strainer").at == pytest.approx(at, abs=1e-12)
    assert '["20 in", "-3 in", "0 in"]' in (demo.parent / "demo_layout_applied2.toml").read_text()


def test_a_remedy_of_an_older_result_is_listed_as_it_was_said(demo: Path) -> None:
    result = written_result(demo, REMEDY)
    data = json.loads(result.read_text())
    data["remedies"][0]["said"] = {"sentence": "no-such-sentence"}
    for one in data["remedies"][0]["changes"]:
        del one["kind"]
    result.write_text(json.dumps(data))
    (remedy,) = applicable(result).remedies
    assert remedy.text == REMEDY.text
    assert remedy.changes == REMEDY.changes


@pytest.mark.parametrize("number", ["0", "2"])
def test_an_unknown_remedy_number_is_bad_input(
    demo: Path, number: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["apply", str(written_result(demo, REMEDY)), number]) == 2
    assert "it holds 1 to 1" in capsys.readouterr().err


def test_a_file_changed_since_is_refused(demo: Path) -> None:
    result = written_result(demo, REMEDY)
    layout = demo.parent / "demo_layout.toml"
    layout.write_text(layout.read_text() + "\n# a thought\n")
    with pytest.raises(FitcheckError, match=r"changed since it was written.*demo_layout\.toml"):
        applicable(result)


def test_a_result_opened_from_another_folder_names_the_folder_to_run_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "boat.toml").write_text("x = 1\n")
    out = tmp_path / "out"
    out.mkdir()
    inputs = [{"file": "boat.toml", "sha256": digest(tmp_path / "boat.toml")}]
    (out / "result.json").write_text(json.dumps({"inputs": inputs, "remedies": []}))
    monkeypatch.chdir(out)
    with pytest.raises(FitcheckError, match=re.escape(f"run this in {tmp_path}")):
        applicable(Path())
    monkeypatch.chdir(tmp_path)
    assert applicable(Path("out")).scenario == Path("boat.toml")


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"inputs": [], "remedies": []}', "[" * 100000])
def test_a_file_that_is_not_a_result_is_bad_input(tmp_path: Path, text: str) -> None:
    file = tmp_path / "result.json"
    file.write_text(text)
    with pytest.raises(FitcheckError):
        applicable(file)
