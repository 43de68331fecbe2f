"""A failed drawing loses no answer: files, verdict and exit status are still produced."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from fitcheck.cli import FAILED, main
from fitcheck.report.document.page import page_html
from fitcheck.view.drawn.skin import scan_skin
from fitcheck.view.pictures.probe import Renderer
from tests.specimens.result import specimen_result

DRAWN = {"report.html", "scene.glb"}
UNDRAWN = {
    "result.json",
    "modules.csv",
    "hoses.csv",
    "clips.csv",
    "order.csv",
    "compartment.ply",
    "result.zip",
}


def _refuse(*_: object, **__: object) -> None:
    raise ValueError("Empty meshes\ncannot be plotted")


@pytest.fixture(autouse=True)
def _ready(monkeypatch: pytest.MonkeyPatch) -> None:
    works = Renderer(works=True, kind="", drawn_by="", advice="")
    monkeypatch.setattr("fitcheck.pipeline.run", lambda *_: specimen_result())
    monkeypatch.setattr("fitcheck.view.start_probe", lambda: None)
    monkeypatch.setattr("fitcheck.view.pictures.guarded.probe", lambda: works)
    monkeypatch.setattr("fitcheck.view.pictures.guarded.picture", lambda *_, **__: b"png")


@pytest.mark.parametrize(
    ("drawing", "what"),
    [
        ("fitcheck.view.pictures.guarded.picture", "picture"),
        ("fitcheck.report.write.scene_glb", "scene"),
        ("fitcheck.report.document.page.three_js", ""),
    ],
)
def test_any_drawing_may_fail(
    drawing: str,
    what: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(drawing, _refuse)
    assert main(["check", "any.toml", "--out", str(tmp_path)]) == FAILED
    out, err = capsys.readouterr()
    wanted = UNDRAWN | DRAWN - ({"scene.glb"} if what == "scene" else set())
    assert {file.name for file in tmp_path.iterdir()} == wanted
    assert "Cut joinery" in out
    page = (tmp_path / "report.html").read_text()
    assert "not drawn yet" not in page
    if what:
        assert f"o {what}: drawing it failed (ValueError: Empty meshes cannot be" in page
    if what in ("picture", "scene"):
        assert sum("drawing it failed" in line for line in err.splitlines()) == 1


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="not told here")
def test_under_a_memory_limit_nothing_fatal_is_drawn() -> None:
    code = (
        "import resource\n"
        "from fitcheck.view.pictures.guarded import address_space_left\n"
        "assert address_space_left() is None\n"
        "resource.setrlimit(resource.RLIMIT_AS, (2 * 10**9, 2 * 10**9))\n"
        "before = address_space_left()\n"
        "assert 0 < before < 2 * 10**9\n"
        "kept = bytearray(5 * 10**8)\n"
        "assert before - address_space_left() >= 5 * 10**8\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr


def test_a_picture_skipped_for_lack_of_memory_is_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("fitcheck.view.pictures.guarded.address_space_left", lambda: 4 * 10**8)
    monkeypatch.setattr("fitcheck.view.pictures.guarded.picture", _refuse)
    assert main(["check", "any.toml", "--out", str(tmp_path)]) == FAILED
    assert "leaves 0.4 GB; raise it" in capsys.readouterr().err
    assert "leaves 0.4 GB; raise it" in (tmp_path / "report.html").read_text()


def test_the_chart_may_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    result = specimen_result()
    around = SimpleNamespace(curves=(), own_bore=0.016)
    monkeypatch.setattr("fitcheck.report.document.page.envelope_svg", _refuse)
    for words in ("longest_words", "bypass_words"):
        monkeypatch.setattr(f"fitcheck.report.document.page.margins.{words}", lambda *_: "")
    water: Any = replace(result.hydraulics, envelope=cast(Any, around))
    page = page_html(replace(result, hydraulics=water), None, None, "metric")
    assert "No chart: drawing it failed (ValueError: Empty meshes cannot be plotted)" in page


def test_everything_is_written_and_printed_before_drawing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    seen: list[set[str]] = []

    def draw(*_: object, **__: object) -> None:
        seen.append({file.name for file in tmp_path.iterdir()})
        assert "Cut joinery" in capsys.readouterr().out
        # A crash no exception can report: the process ends here.
        raise KeyboardInterrupt

    main(["check", "any.toml", "--out", str(tmp_path)])
    assert (tmp_path / "scene.glb").exists()
    capsys.readouterr()
    monkeypatch.setattr("fitcheck.view.pictures.guarded.picture", draw)
    main(["check", "any.toml", "--out", str(tmp_path)])
    assert seen == [UNDRAWN | {"report.html"}]
    assert "not drawn yet" in (tmp_path / "report.html").read_text()


def test_slivers_are_removed_from_the_skin() -> None:
    space = specimen_result().space
    triangles = space.triangles
    sliver = triangles[:1].copy()
    sliver[0, 1] = sliver[0, 0] + [2e-7, 0.0, 0.0]
    with_sliver = replace(space, triangles=np.concatenate([triangles, sliver]))
    skin = scan_skin(with_sliver, most=len(triangles) // 2)
    assert 0 < skin.n_cells <= len(triangles)
    assert scan_skin(replace(space, triangles=np.repeat(sliver, 3, axis=0))).n_cells == 0
