"""Several scenarios in one table: differences, best values, failed runs."""

from __future__ import annotations

import csv
import io
import json
import multiprocessing
import os
import re
import signal
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from fitcheck import compare
from fitcheck.cli import (
    BAD_INPUT,
    FAILED,
    INTERRUPTED,
    NOT_CONVERGED,
    OWN_FAULT,
    PASSED,
    main,
)
from fitcheck.compare.condensed import condensed
from fitcheck.compare.one import settle
from fitcheck.compare.scenarios import compare_scenarios
from fitcheck.errors import ConvergenceError, FitcheckError, MeshError
from fitcheck.model.found.comparison import Candidate, Comparison, Ran
from fitcheck.model.result import Result
from fitcheck.report import print_comparison, write_comparison
from fitcheck.report.document.compare_page import compare_html
from fitcheck.report.files import set_state
from fitcheck.report.words.longest import longest_table
from fitcheck.report.words.side_by_side import Entry, Line, letter, side_by_side
from tests import ROOT
from tests.specimens.result import renamed_result, specimen_result

COMPARED = {"compare.html", "compare.csv", "compare.json"}


@pytest.fixture(scope="module", name="result")
def _result() -> Result:
    return specimen_result()


def candidate(name: str, ran: Ran) -> Candidate:
    """One that ran."""
    return Candidate(file=f"{name}.toml", name=name, ran=ran, stopped="", why="", picture=None)


def lost(why: str) -> Candidate:
    """One that could not be read."""
    return Candidate(
        file="lost.toml", name="lost", ran=None, stopped="read", why=why, picture=None
    )


def shorter(ran: Ran) -> Ran:
    """The same with its first routed hose half as long, and 50 mbar more vacuum."""
    first = next(n for n, hose in enumerate(ran.hoses) if hose.length is not None)
    hose = ran.hoses[first]
    hoses = list(ran.hoses)
    hoses[first] = replace(hose, length=(hose.length or 0.0) / 2)
    vacuum = 5000.0 + (ran.vacuum_clean or 0.0)
    return replace(ran, hoses=tuple(hoses), vacuum_clean=vacuum)


def line_of(comparison: Comparison, label: str) -> Line:
    """The row of that label."""
    side = side_by_side(comparison, "metric")
    return next(line for line in (*side.differing, *side.same) if line.label == label)


def test_condensed_values_equal_the_result(result: Result) -> None:
    ran = condensed(result)
    assert ran.verdict == result.verdict
    assert len(ran.fails) == sum(row.severity == "fail" for row in result.findings)
    assert {m.name: m.gap for m in ran.modules} == {
        m.name: m.smallest_gap for m in result.fit.modules
    }
    lengths = {hose.line: hose.length for hose in ran.hoses}
    for hose in result.routes.hoses:
        assert lengths[hose.line] == getattr(hose, "length", None)
    worst = max(
        pump.suction_vacuum for pump in result.hydraulics.pumps if pump.suction_vacuum is not None
    )
    assert max(ran.vacuum_clean or 0.0, ran.vacuum_fouled or 0.0) == worst


def test_gaps_and_lengths_have_an_uncertainty(result: Result) -> None:
    ran = condensed(result)
    assert {m.name: m.uncertainty for m in ran.modules} == {
        m.name: m.uncertainty for m in result.fit.modules
    }
    sure = replace(ran, modules=tuple(replace(m, uncertainty=0.0) for m in ran.modules))
    unsure = replace(ran, modules=tuple(replace(m, uncertainty=0.0123) for m in ran.modules))
    both = Comparison(candidates=(candidate("sure", sure), candidate("unsure", unsure)))
    entries = line_of(both, ran.modules[0].name.replace("_", " ")).entries
    assert [" ± 13 mm" in entry.text for entry in entries if entry] == [False, True]


def test_identical_runs_have_no_differences(result: Result) -> None:
    ran = condensed(result)
    side = side_by_side(
        Comparison(candidates=(candidate("a", ran), candidate("b", ran))), "metric"
    )
    assert side.differing == ()
    assert side.remarks == ()
    assert all(line.best == () for line in side.same)


def test_differences_are_shown_with_the_best_of_each_row(result: Result) -> None:
    ran = condensed(result)
    both = Comparison(candidates=(candidate("long", ran), candidate("short", shorter(ran))))
    side = side_by_side(both, "metric")
    first = next(hose.line for hose in ran.hoses if hose.length is not None)
    assert {line.label for line in side.differing} >= {
        f"{first}, length",
        "Suction vacuum, strainer clean",
    }
    assert line_of(both, f"{first}, length").best == (1,)
    assert line_of(both, "Suction vacuum, strainer clean").best == (0,)
    assert {line.label for line in side.same}.isdisjoint(line.label for line in side.differing)


def test_larger_gaps_are_better_and_no_route_is_never_best() -> None:
    wide, tight = Entry(text="40 mm", value=0.040), Entry(text="3 mm", value=0.003)
    gaps = Line(group="Fit", label="gap", entries=(tight, wide, wide), better="more")
    assert gaps.best == (1, 2)
    none, some = Entry(text="no way found", severity="fail"), Entry(text="1.2 m", value=1.2)
    assert Line(group="Hoses", label="h", entries=(none, some), better="less").best == ()
    assert Line(group="Hoses", label="h", entries=(None, some, some)).best == ()


def test_a_tie_has_no_best() -> None:
    """Nor is there one if values agree to the three digits shown; two of three may share it."""
    one, same, more = (Entry(text=t, value=v) for t, v in (("a", 2.0), ("b", 2.001), ("c", 2.1)))
    assert Line(group="Hoses", label="h", entries=(one, same), better="less").best == ()
    assert Line(group="Hoses", label="h", entries=(one, same, more), better="less").best == (0, 1)


def test_a_fail_is_never_best() -> None:
    good, bad = Entry(text="a", value=0.0), Entry(text="b", value=0.037, severity="fail")
    worse = Entry(text="c", value=0.02, severity="fail")
    assert Line(group="Fit", label="m", entries=(good, bad), better="more").best == (0,)
    assert Line(group="Fit", label="m", entries=(worse, bad), better="more").best == (1,)


def test_the_common_length_is_the_longest_of_each_hose(result: Result) -> None:
    ran = condensed(result)
    first = ran.hoses[0]
    assert first.ordered is not None
    long = replace(first, ordered=first.ordered + 0.25)
    other = replace(ran.hoses[1], hose="another")
    changed = replace(ran, hoses=(long, other, *ran.hoses[2:]))
    both = Comparison(candidates=(candidate("one", ran), candidate("two", changed)))
    rows = {str(row.cells[0]): row for row in longest_table(both).rows}
    assert list(rows) == [hose.line for hose in ran.hoses]
    for hose in ran.hoses:
        wanted = long.ordered if hose is first else hose.ordered
        _, _, length, by, but = rows[hose.line].cells
        assert length == wanted
        assert by == ("B" if hose is first else None if hose.ordered is None else "A B")
        assert (hose.ordered is None) == ("no route in A B" in str(but))
    assert rows[other.line].severity == "caution"
    assert "another in B" in str(rows[other.line].cells[4])
    assert page_rows(compare_html(both, "metric"), "longest") == len(ran.hoses)


def page_rows(page: str, section: str) -> int:
    """Rows of the table in a section."""
    inside = page[page.index(f'<section id="{section}"') :].split("</section>")[0]
    return inside.count('<th scope="row"')


def test_letters_continue_after_z() -> None:
    assert [letter(n) for n in (0, 25, 26, 51, 52)] == ["A", "Z", "AA", "AZ", "BA"]


def test_a_different_kit_is_noted(result: Result) -> None:
    ran = condensed(result)
    other = replace(ran, kit=replace(ran.kit, name="another"))
    both = Comparison(candidates=(candidate("a", ran), candidate("b", other)))
    assert "B has a different kit from A" in side_by_side(both, "metric").remarks[0]


# --- running ----------------------------------------------------------------------------------


@pytest.fixture(name="runs")
def _runs(monkeypatch: pytest.MonkeyPatch, result: Result) -> None:
    """Scenario files by name: good, odd (does not converge), hole (bad mesh), torn (a fault of the
    program), ends (stopped by hand); others are read. All in this process.
    """
    real = compare.one.opened

    def run(file: Path, tell: object) -> Result:
        if file.stem == "odd":
            raise ConvergenceError("the flows", "1 Pa left")
        if file.stem == "hole":
            raise MeshError("hole.stl", "has no triangles", "export it again")
        if file.stem == "torn":
            raise ValueError("shapes do not match")
        if file.stem == "ends":
            raise KeyboardInterrupt
        return result if file.stem == "good" else real(file)

    monkeypatch.setattr(compare.one, "opened", run)
    monkeypatch.setattr(compare.one, "picture_or_why", lambda *_: (None, ()))
    monkeypatch.setattr(compare.scenarios, "Worker", Here)


class Here:
    """Runs jobs in this process."""

    do = staticmethod(settle)

    def close(self) -> None:
        """Nothing to end."""


def test_a_failed_run_does_not_stop_the_others(runs: None, tmp_path: Path) -> None:
    files = [Path(name) for name in ("odd.toml", "hole.toml", "nowhere.toml", "good.toml")]
    told: list[str] = []
    found = compare_scenarios(files, tmp_path, tell=told.append)
    assert [one.stopped for one in found.candidates] == ["converged", "read", "read", ""]
    assert "has no triangles" in found.candidates[1].why
    assert [n for n, _ in found.ran] == [3]
    assert told == [f"{n} of 4: {file}" for n, file in enumerate(files, 1)]


def test_duplicate_names_are_made_unique(runs: None, tmp_path: Path) -> None:
    files = [Path("good.toml"), Path("there/good.toml"), Path("odd.toml")]
    found = compare_scenarios(files, tmp_path)
    names = [one.name for one in found.candidates]
    assert names[0].endswith("(good)")
    assert names[2] == "odd"


@pytest.mark.parametrize(
    ("names", "status"),
    [
        (("good", "good"), FAILED),
        (("good", "odd"), NOT_CONVERGED),
        (("odd", "good", "nowhere"), BAD_INPUT),
        (("torn", "good", "nowhere"), OWN_FAULT),
    ],
)
def test_exit_status_is_the_worst_of_all_runs(
    runs: None,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    names: tuple[str, ...],
    status: int,
) -> None:
    monkeypatch.chdir(tmp_path)
    files = [f"{name}.toml" for name in names]
    assert main(["compare", *files, "--out", str(tmp_path / "out")]) == status
    out, err = capsys.readouterr()
    assert "What differs" in out
    if "nowhere" in names:
        assert "nowhere.toml:1: (the whole file): there is no file" in err
    sets = {f"{letter(n)}-good" for n, name in enumerate(names) if name == "good"}
    assert {file.name for file in (tmp_path / "out").iterdir()} == COMPARED | sets
    assert all(set_state(tmp_path / "out" / name) == "whole" for name in sets)
    traces = list(tmp_path.glob("fitcheck-out/fitcheck-fault-*.txt"))
    assert len(traces) == names.count("torn")
    assert all("shapes do not match" in one.read_text() and one.name in err for one in traces)


def test_finished_results_survive_an_interrupted_run(
    runs: None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = [f"{name}.toml" for name in ("good", "odd", "ends", "good")]
    assert main(["compare", *files, "--out", str(tmp_path)]) == INTERRUPTED
    out, err = capsys.readouterr()
    assert "could not be run" in out
    assert out.count("not run yet") == 2
    assert "what was done is above and in" in err
    assert {file.name for file in tmp_path.iterdir()} == COMPARED | {"A-good"}
    for folder, manifest in ((tmp_path, "compare.json"), (tmp_path / "A-good", "result.json")):
        assert set_state(folder, manifest) == "whole"
    data = json.loads((tmp_path / "compare.json").read_text())
    assert [one["stopped"] for one in data["candidates"]] == ["", "converged"] + 2 * ["waiting"]


def test_a_full_disk_loses_files_but_no_column(
    runs: None,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def full(*_: object) -> None:
        raise FitcheckError("out: cannot be written: No space left on device")

    monkeypatch.setattr(compare.one, "write_undrawn", full)
    monkeypatch.setattr("fitcheck.report.write_comparison", full)
    assert main(["compare", "good.toml", "good.toml", "--out", str(tmp_path)]) == BAD_INPUT
    out, err = capsys.readouterr()
    assert "The same in all 2" in out
    assert "No space left" in err


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal here")
def test_a_killed_process_loses_one_column(tmp_path: Path) -> None:
    """Killed as soon as it has read its mesh; the next scenario gets another process."""

    def tell(step: str) -> None:
        if step.startswith("Read"):
            (child,) = multiprocessing.active_children()
            os.kill(child.pid or 0, signal.SIGKILL)

    files = [ROOT / "scenarios" / "demo_cad.toml", Path("nowhere.toml")]
    found = compare_scenarios(files, tmp_path, tell=tell)
    assert [one.stopped for one in found.candidates] == ["killed", "read"]
    assert "SIGKILL" in found.candidates[0].why
    assert multiprocessing.active_children() == []


def test_comparing_one_scenario_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", "only.toml"]) == BAD_INPUT
    assert "two scenario files or more" in capsys.readouterr().err
    assert PASSED == 0


# --- files ------------------------------------------------------------------------------------


@pytest.fixture(scope="module", name="three")
def _three(result: Result) -> Comparison:
    ran = condensed(result)
    return Comparison(
        candidates=(
            candidate("long", ran),
            lost("a.toml:3: kit: <bad> & worse\nb.toml:1: boat: bad"),
            candidate("=short", shorter(ran)),
        )
    )


def test_the_comparison_page_is_complete_and_needs_no_network(
    three: Comparison, tmp_path: Path
) -> None:
    files = write_comparison(three, tmp_path, "metric")
    page = files[0].read_text()
    assert "src=" not in re.sub(r'src="data:', "", page)
    assert not re.search(r'href="[^#]', page)
    assert "&lt;bad&gt; &amp; worse" in page
    assert "<bad>" not in page
    assert len(longest_table(three).rows) == page_rows(page, "longest")
    beside = page[page.index('<section id="differs"') : page.index('<section id="longest"')]
    assert beside.count("<td") == 2 * page_rows(page, "differs")
    side = side_by_side(three, "metric")
    assert page.count('class="tag"') == sum(len(line.best) for line in side.differing)


def test_csv_and_json_agree(three: Comparison, tmp_path: Path) -> None:
    write_comparison(three, tmp_path, "metric")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "compare.csv").read_text())))
    data = json.loads((tmp_path / "compare.json").read_text())
    assert data["candidates"][1]["why"] == [
        "a.toml:3: kit: <bad> & worse",
        "b.toml:1: boat: bad",
    ]
    assert data["candidates"][1]["ran"] is None
    in_json = {row["row"]: row for row in data["rows"]}
    for row in rows:
        if row["Unit"] == "m" and row["C =short"]:
            value = in_json[row["Row"]]["values"]["C"]
            if isinstance(value, float):
                assert float(row["C =short"]) == pytest.approx(value, rel=1e-5)
            assert row["Best"].split() == in_json[row["Row"]]["best"]
    assert all(
        row["B lost"] == "" for row in rows if row["Row"] not in ("File", "Could not be run")
    )


@pytest.mark.parametrize("width", [200, 80, 40])
def test_numbers_are_not_cut_at_any_width(three: Comparison, width: int) -> None:
    out = io.StringIO()
    console = Console(file=out, width=width, no_color=True, highlight=False)
    print_comparison(three, (), "metric", console)
    text = out.getvalue()
    assert all(len(row) <= width for row in text.splitlines())
    squeezed = re.sub(r"\s", "", text)
    for line in side_by_side(three, "metric").differing:
        for entry in line.entries:
            if entry and entry.value is not None and "," not in entry.text and width != 80:
                assert re.sub(r"\s", "", entry.text) in squeezed
    assert "could not be run" in re.sub(r"\s+", " ", text)


def test_file_text_cannot_send_escape_codes(result: Result) -> None:
    ran = condensed(renamed_result("feed_pump", "feed\x1b[31m_pump"))
    both = Comparison(candidates=(candidate("a\x1b[2J", ran), candidate("b", shorter(ran))))
    out = io.StringIO()
    print_comparison(both, (), "metric", Console(file=out, width=100, no_color=True))
    assert "\x1b" not in out.getvalue()
