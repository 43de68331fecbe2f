"""The shipped demo, scan and drawing: routes, verdicts, and what is cached."""

from __future__ import annotations

import copy
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from fitcheck.cli import PASSED, main
from fitcheck.kept import inputs_of, kept_result, kept_space
from fitcheck.opened import explained, opened
from fitcheck.opened import packed as pack_of
from fitcheck.pipeline import explain, run
from tests import ROOT
from tests.route_checker import Json, check
from tests.specimens.amounts import strange_amounts
from tests.specimens.done import Done, read_done, written
from tests.specimens.equal import same
from tests.specimens.shown import FOLDER, PICTURES, SHOWN, digest

DRAWN = ROOT / "scenarios" / "demo_cad.toml"
FILES = {
    "report.html",
    "result.json",
    "modules.csv",
    "hoses.csv",
    "clips.csv",
    "order.csv",
    "compartment.ply",
    "scene.glb",
    "result.zip",
}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Done:
    """The files written by `fitcheck demo`."""
    out = tmp_path_factory.mktemp("demo")
    assert main(["demo", "--out", str(out)]) == PASSED
    assert {file.name for file in out.iterdir()} >= FILES
    return read_done(out)


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cache folder of the run of the drawing."""
    return tmp_path_factory.mktemp("kept")


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory, cache: Path) -> Done:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITCHECK_CACHE", str(cache))
        return written(run(DRAWN), tmp_path_factory.mktemp("drawn"))


def test_demo_routes_every_hose(demo: Done) -> None:
    assert len(demo.data["hoses"]) >= 8
    duties = [hose["duty"] for hose in demo.data["hoses"]]
    assert duties.count("high pressure") == 2
    assert {"bypass", "product", "brine", "suction", "feed"} <= set(duties)
    assert demo.hose("product_to_tank")["holes"][0]["name"] == "bulkhead_hole"
    demo.every_hose_is_routed_and_right()


def test_the_demo_verdict_is_a_caution(demo: Done) -> None:
    assert demo.data["verdict"] == "caution"
    cautions = [row["rule"] for row in demo.data["findings"] if row["severity"] == "caution"]
    assert "suction-vacuum" in cautions


def test_the_demo_allows_cutting_and_ordering(demo: Done) -> None:
    assert demo.result.cut_joinery.reasons == ()
    assert demo.result.order_hoses.reasons == ()
    assert all(board.held_by for board in demo.result.fit.boards)


def test_the_scan_agrees_with_the_drawing(demo: Done, drawn: Done) -> None:
    drawn.every_hose_is_routed_and_right()
    drawn.every_not_yet_has_a_remedy()
    assert demo.result.space.frame.scale == pytest.approx(1.0104, rel=0.004)
    for scanned, true in zip(demo.result.space.ports, drawn.result.space.ports, strict=True):
        assert scanned.at == pytest.approx(true.at, abs=0.010)
    assert demo.result.space.free_volume < drawn.result.space.free_volume


def test_the_cache_of_a_run_equals_its_result(
    drawn: Done, cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FITCHECK_CACHE", str(cache))
    result, inputs = drawn.result, inputs_of(DRAWN)
    assert inputs == result.scenario.inputs
    assert same(kept_result(inputs), result)
    again = kept_space(result.scenario)
    assert again is not None
    space = replace(result.space, findings=())
    assert same(replace(again, findings=()), space)  # a later step adds unscanned space near boxes
    by_hand = explain(result)
    assert strange_amounts(result, by_hand) == []
    for row in {one.names[0]: one for one in by_hand}:
        shown = explained(DRAWN, row)
        assert shown
        assert all(any(same(one, other) for other in by_hand) for one in shown)
    pack = tmp_path / "drawn.zip"
    pack.write_bytes(pack_of(drawn.ply.parent))
    assert same(opened(pack), result)


def test_every_text_of_the_demo_is_in_the_units_asked_for(demo: Done) -> None:
    assert strange_amounts(demo.result, explain(demo.result)) == []


def test_every_route_of_the_demo_is_rejected_once_damaged(demo: Done) -> None:
    for hose in demo.data["hoses"]:
        for spoil in (_turned_round, _tighter, _kinked, _shortened):
            spoilt = copy.deepcopy(hose)
            spoil(spoilt)
            alone = demo.data | {"hoses": [hose]}
            assert check(alone, demo.ply) == []
            assert check(alone | {"hoses": [spoilt]}, demo.ply) != []


def _turned_round(hose: Json) -> None:
    hose["start"], hose["end"] = hose["end"], hose["start"]


def _tighter(hose: Json) -> None:
    for bend in hose["bends"]:
        bend["radius"] *= 0.99


def _kinked(hose: Json) -> None:
    hose["legs"][-1]["start"][2] += 1e-5


def _shortened(hose: Json) -> None:
    hose["length"] = 0.99 * hose["bound"]


@pytest.mark.parametrize("name", PICTURES)
def test_pictures_in_the_readme_match_the_demo(demo: Done, name: str) -> None:
    """If out of date: `python -m tests.bench.readme` draws them again."""
    with Image.open(FOLDER / name) as picture:
        assert picture.info[SHOWN] == digest(demo.result)
