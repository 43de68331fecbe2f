"""A result opened where it was written, and from a pack on another machine."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fitcheck import pipeline
from fitcheck.cli import BAD_INPUT, PASSED, main
from fitcheck.errors import FitcheckError
from fitcheck.findings.said import as_written
from fitcheck.kept import cache, inputs_of, packs
from fitcheck.kept.packs import is_pack, packed_whole, unpack
from fitcheck.kept.written import WHOLE, read_written
from fitcheck.model.finding import Change, Remedy
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.result import Result
from fitcheck.opened import Trial, opened, packed, scenario_of
from fitcheck.report.write import write_all
from fitcheck.scenario import read_scenario
from tests import ROOT
from tests.layouts import sound
from tests.specimens.equal import same
from tests.specimens.result import specimen_result

DATE = "2026-01-31"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A scenario file with its mesh."""
    return next(sound()).write(tmp_path / "here")


@pytest.fixture
def result(file: Path) -> Result:
    """A result with that file as its input."""
    made = specimen_result()
    inputs = inputs_of(file)
    assert inputs is not None
    remedy = Remedy(
        said=as_written("thinner"),
        changes=(Change(file=str(file), key="layout.pitch", value="20 mm"),),
    )
    finding = replace(made.fit.findings[0] if made.fit.findings else made.findings[0])
    fit = replace(made.fit, findings=(replace(finding, remedy=remedy),))
    scenario = replace(made.scenario, inputs=inputs)
    return replace(made, scenario=scenario, fit=fit, date=DATE)


@pytest.fixture
def written(result: Result, tmp_path: Path) -> Path:
    """The folder of its files."""
    write_all(result, tmp_path / "out", b"a picture", "metric")
    return tmp_path / "out"


@pytest.fixture
def pack(written: Path, file: Path, tmp_path: Path) -> Path:
    """A pack of it, alone on another machine."""
    content = packed(written)
    shutil.rmtree(written)
    shutil.rmtree(file.parent)
    path = tmp_path / "there" / "bay.zip"
    path.parent.mkdir()
    path.write_bytes(content)
    return path


@pytest.fixture(autouse=True)
def _works_nothing_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("worked out")

    monkeypatch.setattr(pipeline, "_checked", never)
    monkeypatch.setattr(pipeline, "survey", never)


# --- where it was written ---------------------------------------------------------------------


def test_a_folder_restores_the_whole_result(written: Path, result: Result) -> None:
    for place in (written, written / "result.json"):
        told: list[str] = []
        assert same(opened(place, told.append), result)
        assert told == [f"The result of {DATE} is opened"]


def test_a_folder_is_opened_without_its_inputs(written: Path, file: Path, result: Result) -> None:
    file.unlink()
    told: list[str] = []
    assert same(opened(written, told.append), result)
    assert str(file) in told[0]


def test_a_folder_with_changed_inputs_is_recalculated(
    written: Path, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file.write_text(file.read_text() + "# changed\n")
    ran: list[Path] = []
    told: list[str] = []
    monkeypatch.setattr(pipeline, "run", lambda file, _: ran.append(file))
    opened(written, told.append)
    assert ran == [file]
    assert str(file) in told[0]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name here")
def test_a_pipe_is_not_a_result(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "result.json")
    for place in (tmp_path, tmp_path / "result.json"):
        with pytest.raises(FitcheckError, match="no plain file"):
            opened(place)


def test_a_folder_of_scenarios_names_them(tmp_path: Path) -> None:
    with pytest.raises(FitcheckError, match="name a scenario file, or a folder that check wrote"):
        opened(tmp_path)
    (tmp_path / "bay.toml").write_text("[boat]")
    with pytest.raises(FitcheckError, match=r"name a scenario file in it \(bay\.toml\)"):
        opened(tmp_path)


def _lost(folder: Path) -> None:
    (folder / WHOLE).unlink()


def _edited(folder: Path) -> None:
    (folder / WHOLE).write_bytes((folder / WHOLE).read_bytes() + b"x")


def _older(folder: Path) -> None:
    data = json.loads((folder / "result.json").read_text())
    del data["format"]
    (folder / "result.json").write_text(json.dumps(data))


@pytest.mark.parametrize("spoil", [_lost, _edited, _older])
def test_an_unusable_result_is_recalculated(
    written: Path, spoil: Callable[[Path], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    spoil(written)
    ran: list[Path] = []
    monkeypatch.setattr(pipeline, "run", lambda file, _: ran.append(file))
    opened(written)
    assert ran == [scenario_of(written)]


def test_the_page_shows_hash_and_date(written: Path) -> None:
    seal = hashlib.sha256((written / WHOLE).read_bytes()).hexdigest()
    page = (written / "report.html").read_text()
    assert f"Calculated on {DATE}. SHA-256 of result.zip: {seal}" in page
    assert read_written(written).listed[WHOLE] == seal


def test_the_version_independent_part_matches_the_result(written: Path, result: Result) -> None:
    found = read_written(written)
    assert found.inputs == result.scenario.inputs
    assert [(one.name, one.verdict) for one in found.modules] == [
        (one.name, one.verdict) for one in result.fit.modules
    ]
    for one, module in zip(found.modules, result.fit.modules, strict=True):
        assert one.corners == tuple(map(tuple, module.box.corners().tolist()))
    assert [(one.line, len(one.path), one.cut_length) for one in found.hoses] == [
        (
            one.line,
            len(one.path) if isinstance(one, HoseRoute) else 0,
            getattr(result.order.cut(one.line), "cut_length", None),
        )
        for one in result.routes.hoses
    ]
    assert [(one.item, one.quantity, one.note) for one in found.order] == [
        (one.item, one.quantity, one.note) for one in result.order.items
    ]
    assert found.hoses
    assert found.order


OLDER: dict[str, Any] = {
    "version": "0.0.1",
    "verdict": "caution",
    "inputs": [{"file": "bay.toml", "sha256": "00"}],
    "modules": [{"name": "pump", "verdict": "fits", "corners": [[0, 0, 0], [1, 2, 3]]}],
    "hoses": [
        {"line": "feed", "hose": "hose_19", "length": 1.5, "path": [[0, 0, 0], [1, 0, 0]]},
        {"line": "brine", "hose": "hose_13", "length": None, "path": []},
    ],
    "order": [
        {
            "item": "hose_19",
            "quantity": 2.0,
            "unit": "m",
            "length": None,
            "for_lines": ["feed"],
            "note": "",
        }
    ],
}


@pytest.mark.parametrize("part", ["modules", "hoses", "order"])
@pytest.mark.parametrize("odd", [{}, None, 7, {"name": "pump", "corners": "none"}])
def test_an_unreadable_row_does_not_affect_others(tmp_path: Path, part: str, odd: Any) -> None:
    (tmp_path / "result.json").write_text(json.dumps(OLDER | {part: [odd, *OLDER[part]]}))
    found = read_written(tmp_path)
    for name in ("modules", "hoses", "order"):
        assert len(getattr(found, name)) == len(OLDER[name])


def test_the_layout_of_an_older_version_can_be_read(tmp_path: Path) -> None:
    (tmp_path / "result.json").write_text(json.dumps(OLDER))
    found = read_written(tmp_path)
    assert (found.format, found.date, found.whole()) == (1, "", None)
    assert [(one.path, one.sha256) for one in found.inputs] == [("bay.toml", "00")]
    (module,) = found.modules
    assert (module.name, module.verdict) == ("pump", "fits")
    assert module.corners == ((0.0, 0.0, 0.0), (1.0, 2.0, 3.0))
    assert [(one.line, one.length, len(one.path)) for one in found.hoses] == [
        ("feed", 1.5, 2),
        ("brine", None, 0),
    ]
    assert [(one.item, one.quantity, one.for_lines) for one in found.order] == [
        ("hose_19", 2.0, ("feed",))
    ]


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"inputs": 1}', "[" * 100_000])
def test_a_file_that_is_not_a_result_is_reported(tmp_path: Path, text: str) -> None:
    (tmp_path / "result.json").write_text(text)
    with pytest.raises(FitcheckError, match="result"):
        read_written(tmp_path)


# --- a pack -----------------------------------------------------------------------------------


def test_a_pack_is_opened_on_another_machine(pack: Path, result: Result) -> None:
    told: list[str] = []
    assert same(opened(pack, told.append), result)
    assert told == [f"The result in {pack} is opened, dated {DATE}"]


def test_a_result_of_other_inputs_in_a_pack_is_not_opened(
    written: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = tmp_path / "whole.zip"
    whole.write_bytes(packed(written))
    with zipfile.ZipFile(whole) as archive:
        contents = {name: archive.read(name) for name in archive.namelist()}
    listing = json.loads(contents.pop("pack.json"))
    contents[listing["scenario"]] += b"# changed\n"
    rows = [{"file": n, "sha256": hashlib.sha256(c).hexdigest()} for n, c in contents.items()]
    mixed = tmp_path / "mixed.zip"
    with zipfile.ZipFile(mixed, "w") as archive:
        archive.writestr("pack.json", json.dumps(listing | {"files": rows}))
        for name, content in contents.items():
            archive.writestr(name, content)
    ran: list[Path] = []
    monkeypatch.setattr(pipeline, "run", lambda file, _: ran.append(file))
    opened(mixed)
    assert [file.name for file in ran] == [scenario_of(mixed).name]


def test_the_unpacked_scenario_is_identical(file: Path, written: Path, tmp_path: Path) -> None:
    before = read_scenario(file)
    path = tmp_path / "bay.zip"
    path.write_bytes(packed(written))
    after = read_scenario(scenario_of(path))
    assert [one.sha256 for one in after.inputs] == [one.sha256 for one in before.inputs]
    assert replace(after.boat, mesh="") == replace(before.boat, mesh="")
    assert (after.kit, after.layout) == (before.kit, before.layout)


def test_files_keep_their_relative_positions(tmp_path: Path) -> None:
    root = ROOT
    inputs = inputs_of(root / "scenarios" / "demo.toml")
    assert inputs is not None
    pack = tmp_path / "demo.zip"
    pack.write_bytes(packed_whole(inputs, {}))
    with zipfile.ZipFile(pack) as archive:
        names = set(archive.namelist())
    assert {"inputs/scenarios/demo.toml", "inputs/meshes/demo_scan.ply"} < names
    there = unpack(pack, tmp_path / "demo")
    again = inputs_of(there.scenario)
    assert again is not None
    assert [one.sha256 for one in again] == [one.sha256 for one in inputs]


def test_a_remedy_of_a_pack_is_written_next_to_it(
    pack: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = pack.read_bytes()
    assert main(["apply", str(pack), "1"]) == PASSED
    new = pack.parent / "bay" / "inputs" / "scenario_applied.toml"
    assert str(new) in capsys.readouterr().out
    assert read_scenario(new).layout.pitch == 0.02
    assert pack.read_bytes() == before


def test_a_box_moved_in_a_pack_is_saved_next_to_it(pack: Path, result: Result) -> None:
    trial = Trial(pack)
    assert same(trial.result, result)
    tryout = trial._trying()
    tryout.result = replace(result, scenario=read_scenario(tryout.file))
    saved = trial.save()
    assert saved == pack.parent / "bay" / "inputs" / "scenario_moved.toml"
    assert read_scenario(saved).layout.placements == tryout.result.scenario.layout.placements


def test_a_moved_box_cannot_be_saved_without_its_scenario(written: Path, file: Path) -> None:
    file.unlink()
    trial = Trial(written)
    with pytest.raises(FitcheckError, match=file.name):
        trial.save()


def test_pack_writes_one_file(
    written: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "mine.zip"
    assert main(["pack", str(written), "--out", str(out)]) == PASSED
    assert is_pack(out)
    out.write_text("mine")
    assert main(["pack", str(written), "--out", str(out)]) == BAD_INPUT
    assert out.read_text() == "mine"


def test_a_changed_input_is_not_packed(written: Path, file: Path) -> None:
    with file.open("a") as end:
        end.write("\n")
    with pytest.raises(FitcheckError, match="has changed since"):
        packed(written)


def test_a_mixture_of_files_is_not_packed(written: Path) -> None:
    (written / "hoses.csv").write_text("mine")
    with pytest.raises(FitcheckError, match="not one complete set"):
        packed(written)


def test_a_file_with_absolute_paths_is_not_packed(file: Path) -> None:
    mesh = file.parent / "bay.stl"
    file.write_text(file.read_text().replace('"bay.stl"', json.dumps(str(mesh))))
    inputs = inputs_of(file)
    assert inputs is not None
    with pytest.raises(FitcheckError, match="write its path"):
        packed_whole(inputs, {})


# --- packs of strangers -----------------------------------------------------------------------

FINE = {"inputs/a.toml": b'[boat]\nmesh = "a.stl"\n', "inputs/a.stl": b"solid"}


def stranger(path: Path, contents: dict[str, bytes], **changed: object) -> Path:
    """A hand-made pack."""
    listing: dict[str, object] = {
        "kind": "fitcheck pack",
        "format": 1,
        "scenario": next(iter(contents)),
        "files": [
            {"file": name, "sha256": hashlib.sha256(content).hexdigest()}
            for name, content in contents.items()
        ],
    }
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("pack.json", json.dumps(listing | changed))
        for name, content in contents.items():
            archive.writestr(name, content)
    return path


def refused(pack: Path, tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "inside" / "there"
    folder.parent.mkdir(parents=True)
    before = {path for path in tmp_path.rglob("*") if path.is_file()}
    with pytest.raises(FitcheckError):
        unpack(pack, folder)
    assert {path for path in tmp_path.rglob("*") if path.is_file()} == before


def test_a_hand_made_pack_is_opened(tmp_path: Path) -> None:
    found = unpack(stranger(tmp_path / "x.zip", FINE), tmp_path / "there")
    assert found.scenario.read_bytes() == FINE["inputs/a.toml"]


@pytest.mark.parametrize(
    "name",
    [
        "../a.toml",
        "inputs/../../a.toml",
        "/fitcheck-a.toml",
        "inputs\\..\\a.toml",
        "C:a.toml",
        "inputs/nul.toml",
        "inputs//a.toml",
        "elsewhere/a.toml",
        ".",
    ],
)
def test_nothing_is_written_outside_the_folder(tmp_path: Path, name: str) -> None:
    refused(stranger(tmp_path / "x.zip", {**FINE, name: b"x"}), tmp_path)


@pytest.mark.parametrize(
    "changed",
    [
        {"format": 99},
        {"kind": "something else"},
        {"scenario": "inputs/none.toml"},
        {"files": [{"file": "inputs/a.toml", "sha256": "00"}]},
        {"files": 3},
        {"files": [{"file": f"inputs/{n}", "sha256": ""} for n in range(packs.MOST_FILES + 1)]},
    ],
)
def test_an_invalid_listing_is_refused(tmp_path: Path, changed: dict[str, object]) -> None:
    refused(stranger(tmp_path / "x.zip", FINE, **changed), tmp_path)


def test_a_pack_that_unpacks_to_too_much_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(packs, "MOST_BYTES", 2_000)
    refused(stranger(tmp_path / "x.zip", {**FINE, "inputs/b": b"0" * 2_000}), tmp_path)


def test_a_scenario_may_use_only_files_of_its_pack(tmp_path: Path) -> None:
    secret = tmp_path / "secret.stl"
    secret.write_text("solid")
    text = f"[boat]\nmesh = {json.dumps(str(secret))}\n".encode()
    pack = stranger(tmp_path / "x.zip", {"inputs/a.toml": text})
    with pytest.raises(FitcheckError, match="not in it"):
        unpack(pack, tmp_path / "there")


def test_an_existing_folder_is_kept(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "mine").write_text("mine")
    with pytest.raises(FitcheckError, match="is there already"):
        unpack(stranger(tmp_path / "x.zip", FINE), tmp_path / "there")
    assert (tmp_path / "there" / "mine").read_text() == "mine"


def test_unpacked_packs_count_towards_the_cache_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FITCHECK_CACHE", str(tmp_path / "kept"))
    first = unpack(stranger(tmp_path / "x.zip", FINE)).scenario
    assert unpack(tmp_path / "x.zip").scenario == first
    monkeypatch.setattr(cache, "LIMIT", 5)
    cache.shelf("another")
    assert not first.exists()
    assert unpack(tmp_path / "x.zip").scenario == first
