"""Results are cached, restored equal, and used only while nothing has changed."""

from __future__ import annotations

import dataclasses
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck import pipeline
from fitcheck.compare.condensed import condensed
from fitcheck.compare.one import Job, opened_whole
from fitcheck.errors import FitcheckError
from fitcheck.findings.said import as_written, quantity
from fitcheck.kept import (
    PICTURE,
    cache,
    inputs_of,
    keep_result,
    keep_space,
    kept_files,
    kept_result,
    kept_space,
    spaces,
)
from fitcheck.kept.cache import keep, kept, key_of
from fitcheck.kept.codec import packed, unpacked
from fitcheck.model.contact import Contact
from fitcheck.model.found.explanation import Explanation
from fitcheck.model.found.hydraulics import State
from fitcheck.model.given.boat import Boat
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.result import Result
from fitcheck.opened import Trial, explained, opened
from fitcheck.report.files import replace_all
from fitcheck.report.results.data import as_json
from fitcheck.report.write import write_all
from fitcheck.scenario import read_scenario
from tests.layouts import sound
from tests.specimens.equal import same
from tests.specimens.result import specimen_result
from tests.specimens.scenario_texts import BOAT, write_files

STATE = State(name="", heel=0.0, trim=0.0, temperature_C=20.0, salinity=0.035, dirty=False)
ROWS = tuple(
    Explanation(
        names=(line, "panel"), number=number, said="", state=replace(STATE, name=name), steps=()
    )
    for line, number, name in (
        ("feed", "loss", "heeled"),
        ("feed", "loss", "upright"),
        ("brine", "loss", "upright"),
        ("brine", "back-pressure", "upright"),
    )
)
KINDS = ("mesh", "module", "hose", "board")


def test_rays_and_stations_are_inputs_a_space_depends_on(tmp_path: Path) -> None:
    rays = 'mesh = "box.stl"\nrays = "rays.ply"\nstations = "frames.csv"'
    path = write_files(tmp_path, boat=BOAT.replace('mesh = "box.stl"', rays))
    found = set()
    for name in ("rays.ply", "frames.csv", "rays.ply"):
        (tmp_path / "frames.csv").touch()
        with (tmp_path / name).open("a") as file:
            file.write("more")
        scenario = read_scenario(path)
        assert inputs_of(path) == scenario.inputs
        assert [Path(one.path).name for one in scenario.inputs[-3:]] == [
            "box.stl", "rays.ply", "frames.csv",
        ]  # fmt: skip
        found.add(spaces._key(scenario))
    assert len(found) == 3


def test_a_result_survives_a_round_trip() -> None:
    result = specimen_result()
    again = unpacked(packed(result))
    assert same(again, result)
    assert as_json(again) == as_json(result)
    assert not again.space.label.flags.writeable


@given(
    gap=st.floats(allow_nan=True, allow_infinity=True),
    subject=st.text(),
    kind=st.sampled_from(KINDS),
    place=st.none() | st.tuples(*[st.floats(allow_nan=False)] * 3),
)
def test_every_number_and_text_survives_a_round_trip(gap, subject, kind, place) -> None:  # type: ignore[no-untyped-def]
    met = Contact(kind=kind, subject=subject, gap=gap, uncertainty=0.0, place=place)
    assert same(unpacked(packed(met)), met)


@pytest.mark.parametrize("value", [object(), {1, 2}, Path("x"), b"x"])
def test_non_plain_data_is_refused(value: object) -> None:
    met = Contact(kind="mesh", subject="", gap=0.0, uncertainty=0.0, place=value)  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="no plain data"):
        packed(met)


@pytest.mark.parametrize("cut", [0, 1, 100, -1])
def test_corrupt_bytes_give_nothing(cut: int) -> None:
    content = packed(specimen_result())
    with pytest.raises(ValueError, match="no kept result"):
        unpacked(content[:cut])


def test_a_numpy_number_is_restored_as_a_plain_one() -> None:
    met = Contact(kind="mesh", subject="", gap=np.float64(0.5), uncertainty=np.bool_(True))
    again = unpacked(packed(met))
    assert (type(again.gap), again.gap) == (float, 0.5)
    assert (type(again.uncertainty), again.uncertainty) == (bool, True)


def test_a_cache_failure_loses_no_answer(folder: Path) -> None:
    result = specimen_result()
    odd = replace(result, order=object())  # type: ignore[arg-type]
    keep_result(odd)
    assert kept_result(odd.scenario.inputs) is None


# --- the folder -------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FITCHECK_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"


def test_cached_content_is_found_under_its_key_only(folder: Path) -> None:
    keep(key_of("a", ["x", "y"]), b"1")
    assert kept(key_of("a", ["x", "y"])) == b"1"
    for other in (("a", ["xy"]), ("a", ["x"]), ("b", ["x", "y"]), ("a", ["y", "x"])):
        assert kept(key_of(*other)) is None


def test_the_least_recently_used_is_evicted_first(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cache, "LIMIT", 25)
    for number, name in enumerate("abc"):
        keep(name, b"0123456789")
        if number < 2:
            past = 1_000_000 + number
            os.utime(folder / name, (past, past))
    assert {path.name for path in folder.iterdir()} == {"b", "c"}


def test_another_library_version_invalidates_the_cache(monkeypatch: pytest.MonkeyPatch) -> None:
    before = cache.key_of("result", ("part",))
    monkeypatch.setattr(cache, "version", lambda name: "0" if name == "fluids" else version(name))
    cache._program.cache_clear()
    try:
        assert cache.key_of("result", ("part",)) != before
    finally:
        cache._program.cache_clear()


def test_cache_off_stores_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FITCHECK_CACHE", "off")
    monkeypatch.chdir(tmp_path)
    keep("a", b"1")
    assert kept("a") is None
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["file", "file/below"])
def test_an_unwritable_cache_only_costs_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    (tmp_path / "file").write_text("mine")
    monkeypatch.setenv("FITCHECK_CACHE", str(tmp_path / name))
    keep("a", b"1")
    assert kept("a") is None
    assert (tmp_path / "file").read_text() == "mine"


# --- a result is opened while nothing has changed ---------------------------------------------


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Counts how often a result is calculated; the calculation itself is replaced."""
    runs: list[str] = []

    def checked(scenario, *_: object) -> Result:  # type: ignore[no-untyped-def]
        runs.append(scenario.name)
        result = specimen_result()
        return replace(result, scenario=replace(result.scenario, inputs=scenario.inputs))

    monkeypatch.setattr(pipeline, "_checked", checked)
    monkeypatch.setattr(pipeline, "explain", lambda *_: ROWS)
    monkeypatch.setattr(pipeline, "survey", lambda *_: specimen_result().space)
    return runs


def test_a_result_is_calculated_once(folder: Path, tmp_path: Path, counted: list[str]) -> None:
    file = next(sound()).write(tmp_path / "bay")
    first, second = opened(file), opened(file)
    assert len(counted) == 1
    assert same(first, second)


@pytest.mark.parametrize("name", ["scenario.toml", "bay.stl"])
def test_a_changed_file_is_recalculated(
    folder: Path, tmp_path: Path, counted: list[str], name: str
) -> None:
    file = next(sound()).write(tmp_path / "bay")
    opened(file)
    with (file.parent / name).open("ab") as end:
        end.write(b"\n")
    opened(file)
    assert len(counted) == 2


def test_a_copy_elsewhere_is_recalculated(
    folder: Path, tmp_path: Path, counted: list[str]
) -> None:
    file = next(sound()).write(tmp_path / "bay")
    opened(file)
    shutil.copytree(file.parent, tmp_path / "other")
    opened(tmp_path / "other" / file.name)
    assert len(counted) == 2  # its remedies name other files


def test_a_corrupt_entry_is_recalculated(folder: Path, tmp_path: Path, counted: list[str]) -> None:
    file = next(sound()).write(tmp_path / "bay")
    opened(file)
    (entry,) = folder.glob("result-*")
    entry.write_bytes(b"nothing")
    opened(file)
    assert len(counted) == 2


def test_check_always_recalculates(folder: Path, tmp_path: Path, counted: list[str]) -> None:
    file = next(sound()).write(tmp_path / "bay")
    pipeline.run(file)
    pipeline.run(file)
    assert len(counted) == 2
    opened(file)
    assert len(counted) == 2


@pytest.mark.parametrize(("state", "row"), [("", 0), ("upright", 1)])
def test_a_calculation_is_opened_in_the_requested_state(
    folder: Path, tmp_path: Path, counted: list[str], state: str, row: int
) -> None:
    file = next(sound()).write(tmp_path / "bay")
    opened(file)
    assert explained(file, "feed", state=state) == (ROWS[row],)
    assert len(counted) == 1


@pytest.mark.parametrize(
    "state", ["heeled, 5 °C", "heeled, 5 degC", "heeled, 41 °F", "heeled, 41 degF"]
)
def test_a_state_is_found_by_any_displayed_spelling(
    folder: Path, tmp_path: Path, counted: list[str], monkeypatch: pytest.MonkeyPatch, state: str
) -> None:
    """In either unit system, and typed on a keyboard without the signs."""
    cold = replace(
        STATE,
        name="heeled, 5 °C",
        said=as_written(("heeled", quantity(5.0, "temperature"))),
    )
    rows = (*ROWS[:2], replace(ROWS[0], state=cold))
    monkeypatch.setattr(pipeline, "explain", lambda *_: rows)
    file = next(sound()).write(tmp_path / "bay")
    opened(file)
    assert explained(file, "feed", state=state) == rows[2:]


def test_a_result_folder_uses_cached_calculations_until_a_file_changes(
    folder: Path, tmp_path: Path, counted: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = next(sound()).write(tmp_path / "bay")
    out = tmp_path / "out"
    write_all(opened(file), out, None, "metric")
    with monkeypatch.context() as still:
        still.setattr("fitcheck.pipeline.explain", None)  # cached rows need no calculation
        assert explained(out, "brine") == ROWS[2:]
    with file.open("a") as end:
        end.write("\n")
    explained(out, "brine")
    assert len(counted) == 2


def test_all_numbers_of_a_name_or_one_can_be_opened(
    folder: Path, tmp_path: Path, counted: list[str]
) -> None:
    file = next(sound()).write(tmp_path / "bay")
    opened(file)
    assert explained(file, "brine") == ROWS[2:]
    assert explained(file, "panel") == (ROWS[0], *ROWS[2:])
    assert explained(file, "brine", "back-pressure") == ROWS[3:]


@pytest.mark.parametrize(
    ("name", "number", "state", "told"),
    [
        ("towline", "", "", "there is: feed, panel, brine"),
        ("brine", "gap", "", "there is: loss, back-pressure"),
        ("feed", "loss", "on the moon", "there is: heeled, upright"),
    ],
)
def test_a_missing_calculation_lists_the_available_ones(
    folder: Path,
    tmp_path: Path,
    counted: list[str],
    name: str,
    number: str,
    state: str,
    told: str,
) -> None:
    file = next(sound()).write(tmp_path / "bay")
    opened(file)
    with pytest.raises(FitcheckError, match=told):
        explained(file, name, number, state)


def test_opening_a_cached_result_loads_no_stage(
    folder: Path, tmp_path: Path, counted: list[str]
) -> None:
    """No kernels, no solver and no drawing library: they take longer than the whole command."""
    file = next(sound()).write(tmp_path / "bay")
    opened(file)
    heavy = ("scipy", "numba", "trimesh", "pyvista", "pydantic", "networkx")
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from fitcheck.compare.one import Job, opened_whole\n"
        "from fitcheck.kept import inputs_of\n"
        "from fitcheck.opened import explained, opened\n"
        f"file = Path({str(file)!r})\n"
        "assert opened(file).scenario.inputs == inputs_of(file)\n"
        "assert explained(file, 'brine')[0].names[0] == 'brine'\n"
        "opened_whole(Job(file=file, folder=file.parent, units='metric'))\n"
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == "[]"


def test_a_multi_file_mesh_is_never_cached(tmp_path: Path) -> None:
    file = next(sound()).write(tmp_path / "bay")
    assert inputs_of(file) == read_scenario(file).inputs
    (tmp_path / "bay" / "bay.gltf").write_text("{}")
    file.write_text(file.read_text().replace("bay.stl", "bay.gltf"))
    assert inputs_of(file) is None


# --- a space is opened while its boat is the same ---------------------------------------------


class Watched:
    """A thing that records which of its attributes are read."""

    def __init__(self, of: object, seen: set[str], above: str = "", into: str = "") -> None:
        self._all = (of, seen, above, into)

    def __getattr__(self, name: str) -> object:
        of, seen, above, into = self._all
        value = getattr(of, name)
        if name in into.split():
            return Watched(value, seen, f"{above}{name}.", into)
        seen.add(above + name)
        return value


def test_a_space_depends_on_what_its_key_names(tmp_path: Path) -> None:
    scenario = read_scenario(next(sound()).write(tmp_path / "bay"))
    seen: set[str] = set()
    watched = Watched(scenario, seen, into="kit layout allowances")
    assert same(pipeline.survey(watched), pipeline.survey(scenario))  # type: ignore[arg-type]
    assert seen == {"boat", "boat_file", "layout.pitch", "kit.allowances.straight"}


@pytest.fixture
def bay(folder: Path) -> Scenario:
    """A scenario whose space is cached."""
    scenario = specimen_result().scenario
    keep_space(scenario, specimen_result().space)
    return scenario


def test_a_space_survives_a_round_trip(bay: Scenario) -> None:
    assert same(kept_space(bay), specimen_result().space)


@pytest.mark.parametrize("name", [field.name for field in dataclasses.fields(Boat)])
def test_a_changed_boat_needs_another_space(bay: Scenario, name: str) -> None:
    other = replace(bay.boat, **{name: "another"})
    assert kept_space(replace(bay, boat=other)) is None


def test_a_space_depends_on_mesh_pitch_and_straight_end(bay: Scenario) -> None:
    *files, mesh = bay.inputs
    kit = replace(bay.kit, allowances=replace(bay.kit.allowances, straight=0.123))
    for other in (
        replace(bay, inputs=(*files, replace(mesh, sha256="another"))),
        replace(bay, layout=replace(bay.layout, pitch=0.0123)),
        replace(bay, kit=kit),
        replace(bay, boat_file="another.toml"),
    ):
        assert kept_space(other) is None


def test_another_kit_or_layout_reuses_the_space(bay: Scenario) -> None:
    *files, mesh = bay.inputs
    for other in (
        replace(bay, inputs=(*(replace(one, sha256="another") for one in files), mesh)),
        replace(bay, layout=replace(bay.layout, placements=())),
        replace(bay, kit=replace(bay.kit, lines=())),
        replace(bay, name="another"),
    ):
        assert kept_space(other) is not None


def test_a_check_labels_cells_once_for_two_layouts(
    folder: Path, tmp_path: Path, counted: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = next(sound()).write(tmp_path / "bay")
    pipeline.run(file)
    monkeypatch.setattr(pipeline, "survey", None)
    file.write_text(file.read_text().replace('about = "invented"', 'about = "changed"'))
    pipeline.run(file)
    assert len(counted) == 2


# --- files as they were written ---------------------------------------------------------------


def test_cached_files_are_restored_unchanged(folder: Path, tmp_path: Path) -> None:
    result = specimen_result()
    before = write_all(result, tmp_path / "before", b"a picture", "metric")
    files = kept_files(result.scenario.inputs, "metric")
    assert files.pop(PICTURE) == b"a picture"
    replace_all(tmp_path / "after", files)
    assert [path.name for path in before] == list(files)
    for path in before:
        assert (tmp_path / "after" / path.name).read_bytes() == path.read_bytes()
    assert kept_files(result.scenario.inputs, "imperial") == {}


def test_files_without_a_picture_are_drawn_again(folder: Path, tmp_path: Path) -> None:
    result = specimen_result()
    write_all(result, tmp_path / "before", None, "metric")
    assert kept_files(result.scenario.inputs, "metric") == {}


def test_compare_uses_the_cache(folder: Path, tmp_path: Path, counted: list[str]) -> None:
    file = next(sound()).write(tmp_path / "bay")
    job = Job(file=file, folder=tmp_path / "out", units="metric")
    assert opened_whole(job) is None
    result = opened(file)
    assert opened_whole(job) is None  # its files have not been written yet
    files = write_all(result, tmp_path / "before", b"a picture", "metric")
    found = opened_whole(job)
    assert found is not None
    assert (found.ran, found.picture, found.why) == (condensed(result), b"a picture", "")
    assert {path.name for path in job.folder.iterdir()} == {path.name for path in files}
    assert opened_whole(replace(job, units="imperial")) is None


# --- a layout that is tried -------------------------------------------------------------------


def test_a_window_uses_the_cache(folder: Path, tmp_path: Path, counted: list[str]) -> None:
    file = next(sound()).write(tmp_path / "bay")
    first = Trial(file).result
    assert same(Trial(file).result, first)
    assert len(counted) == 1
    again = Trial(file)
    again.settle()  # only now is there something to calculate
    assert len(counted) == 2
