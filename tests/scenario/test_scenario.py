"""Scenario files: what is read, and that every fault is reported on its line and in
plain words.
"""

from __future__ import annotations

import hashlib
import math
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.errors import Fault, ScenarioError
from fitcheck.model.given.boat import Bearing
from fitcheck.model.given.scenario import Scenario
from fitcheck.scenario import read_scenario
from fitcheck.scenario.schema.lines import find_places
from tests.specimens.apply_changes import apply_changes
from tests.specimens.scenario_texts import BOAT, KIT, LAYOUT, MAIN, TEXTS, faults_of, write_files


@pytest.fixture
def small(tmp_path: Path) -> Scenario:
    return read_scenario(write_files(tmp_path))


# --- what is read -----------------------------------------------------------------------------


def test_quantities_are_converted_to_si(small: Scenario) -> None:
    pump = small.kit.module("feed_pump")
    assert pump.size == (0.22, 0.12, 0.14)
    assert pump.mass == pytest.approx(7.5 * 0.45359237)
    assert small.boat.tape_measures[0].length == pytest.approx(39.375 * 0.0254)
    assert small.boat.conditions.heel == pytest.approx((-math.pi / 9, 0, math.pi / 9))
    assert small.boat.conditions.water_temperature_C == pytest.approx((5.0, 30.0))
    assert small.kit.line("suction").valve_flow == pytest.approx(0.5 / 3600)
    assert small.kit.hose("soft_13").pressure_rating == pytest.approx(60 * 6894.757, rel=1e-6)
    assert small.layout.placement("feed_pump").at == pytest.approx((-1.2, 0.3, 0.1016))
    assert small.layout.placement("feed_pump").rotate == pytest.approx((0, 0, math.pi / 2))


def test_bend_radius_inside_becomes_centre_line(small: Scenario) -> None:
    assert small.kit.hose("soft_13").min_bend_radius == pytest.approx(0.070 + 0.019 / 2)
    assert small.kit.hose("suction_19").min_bend_radius == pytest.approx(0.120)


def test_directions_and_sides(small: Scenario) -> None:
    assert small.boat.up == (0, 1, 0)
    assert small.boat.forward == (0, 0, -1)
    assert small.boat.centreline is not None
    assert small.boat.centreline.offset == pytest.approx(-0.35)  # starboard
    seacock, tank = small.boat.ports
    assert seacock.bearing == Bearing(frame="boat", vector=(0, 0, 1))
    assert tank.bearing.frame == "mesh"
    assert tank.bearing.vector == pytest.approx((0, 0.6, 0.8))
    assert small.kit.module("feed_pump").ports[2].direction == (0, 1, 0)


def test_defaults_are_distinguished_from_given_values(small: Scenario) -> None:
    assert small.kit.limits.given == ("npsh_ratio",)
    assert small.kit.limits.npsh_margin == 1.0
    assert small.kit.allowances.given == ("hose_clearance", "straight")
    assert small.kit.allowances.box_gap == pytest.approx(0.010)
    assert small.boat.conditions.given == ("heel", "water_temperature")
    assert small.boat.conditions.trim == (0.0,)


def test_layout_may_choose_another_hose(small: Scenario) -> None:
    assert small.hose_of(small.kit.line("delivery")).name == "suction_19"
    assert small.hose_of(small.kit.line("suction")).name == "suction_19"


def test_every_file_is_named_with_its_digest(small: Scenario, tmp_path: Path) -> None:
    names = [Path(item.path).name for item in small.inputs]
    assert names == ["main.toml", "boat.toml", "kit.toml", "layout.toml", "box.stl"]
    for item in small.inputs:
        content = (tmp_path / Path(item.path).name).read_bytes()
        assert item.sha256 == hashlib.sha256(content).hexdigest()
    assert Path(small.layout_file) == tmp_path / "layout.toml"


def test_files_are_named_from_the_current_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "scenarios").mkdir()
    write_files(tmp_path / "scenarios")
    monkeypatch.chdir(tmp_path)
    scenario = read_scenario(Path("scenarios") / "main.toml")
    assert scenario.layout_file == str(Path("scenarios") / "layout.toml")
    assert scenario.boat.mesh == str(Path("scenarios") / "box.stl")
    monkeypatch.chdir(tmp_path / "scenarios")
    assert read_scenario(Path("main.toml")).layout_file == "layout.toml"


def test_one_file_may_contain_everything(tmp_path: Path, small: Scenario) -> None:
    head = MAIN.replace('uses = ["boat.toml", "kit.toml", "layout.toml"]\n', "")
    path = tmp_path / "whole.toml"
    path.write_text("\n".join([head, BOAT, KIT, LAYOUT]))
    whole = read_scenario(path)
    assert (whole.boat, whole.kit, whole.layout) == (small.boat, small.kit, small.layout)
    assert {whole.boat_file, whole.kit_file, whole.layout_file} == {str(path)}


def test_line_ends_and_byte_order_mark_do_not_matter(tmp_path: Path, small: Scenario) -> None:
    path = write_files(tmp_path)
    for name, text in TEXTS.items():
        crlf = text.replace("\n", "\r\n").encode("utf-8-sig")
        (tmp_path / name).write_bytes(crlf)
    assert read_scenario(path).kit == small.kit


def test_a_soft_suction_hose_is_not_a_file_fault(tmp_path: Path) -> None:
    spoilt = KIT.replace('hose = "suction_19"', 'hose = "soft_13"')
    assert faults_of(write_files(tmp_path, kit=spoilt)) == ()


def test_a_waterline_replaces_up_and_datum(tmp_path: Path) -> None:
    spots = ", ".join(f'"picked {n} 0 {n * n}"' for n in range(6))
    spoilt = re.sub(r"datum = .*", f"waterline = [{spots}]", BOAT).replace('up = "+y"\n', "")
    scenario = read_scenario(write_files(tmp_path, boat=spoilt))
    assert len(scenario.boat.waterline) == 6
    assert scenario.boat.up is None
    assert scenario.boat.datum is None


def test_a_datum_may_be_given_with_a_waterline(tmp_path: Path) -> None:
    spots = ", ".join(f'"picked {n} 0 {n * n}"' for n in range(6))
    scenario = read_scenario(
        write_files(
            tmp_path, boat=f"{BOAT}".replace('unit = "m"', f'unit = "m"\nwaterline = [{spots}]')
        )
    )
    assert scenario.boat.datum
    assert len(scenario.boat.waterline) == 6


def test_two_tape_measurements_replace_the_unit(tmp_path: Path) -> None:
    tape = '[[boat.tape]]\nfrom = "picked 0 0 0"\nto = "picked 0 1 0"\nlength = "1 m"\n'
    scenario = read_scenario(write_files(tmp_path, boat=BOAT.replace('unit = "m"\n', "") + tape))
    assert scenario.boat.unit is None
    assert len(scenario.boat.tape_measures) == 2


# --- one fault at a time ----------------------------------------------------------------------


@dataclass(frozen=True)
class Spoil:
    """One piece of text replaced in one file, and the expected message.

    The fault is on the first line that contains `at` (by default the last line written).
    """

    file: str
    old: str
    new: str
    key: str
    says: str
    remedy: str
    at: str = ""

    def __str__(self) -> str:
        return f"{self.key}: {self.says}"


SPOILS = [
    Spoil(**row)
    for name in ("spoilt_scenarios.toml", "typical_mistakes.toml")
    for row in tomllib.loads((Path(__file__).parent / name).read_text("utf-8"))["spoil"]
]


def spoilt_text(spoil: Spoil) -> str:
    """The file's text with the replacement made."""
    text = TEXTS[f"{spoil.file}.toml"]
    assert text.count(spoil.old) >= 1
    return text.replace(spoil.old, spoil.new, 1)


def wanted_line(spoil: Spoil, text: str) -> int:
    """The line, from 1, on which the fault must be reported."""
    if spoil.at:
        return text[: text.index(spoil.at)].count("\n") + 1
    end = text.index(spoil.new) + len(spoil.new.rstrip("\n"))
    return text[:end].count("\n") + 1


@pytest.mark.parametrize("spoil", SPOILS, ids=str)
def test_a_fault_is_reported_once_on_its_line(spoil: Spoil, tmp_path: Path) -> None:
    text = spoilt_text(spoil)
    faults = faults_of(write_files(tmp_path, **{spoil.file: text}))
    assert len(faults) == 1, "\n".join(map(str, faults))
    assert faults[0].file == str(tmp_path / f"{spoil.file}.toml")
    assert faults[0].key == spoil.key
    assert spoil.says in faults[0].text
    assert spoil.remedy in faults[0].remedy
    assert faults[0].line == wanted_line(spoil, text)


# --- many faults, and files that are not scenarios --------------------------------------------


def test_all_faults_of_all_files_are_collected(tmp_path: Path) -> None:
    boat = BOAT.replace('unit = "m"', 'unit = "yd"').replace("picked 0.9 0.1 0.1", "0.9 0.1 0.1")
    kit = KIT.replace('mass = "7.5 lb"', 'mass = "7.5"').replace('"19 mm"', '"19"')
    kit = kit.replace('to = "boat.tank"', 'to = "boat.tnk"')
    layout = LAYOUT.replace("[layout.modules.feed_pump]", "[layout.modules.pump]")
    faults = faults_of(write_files(tmp_path, boat=boat, kit=kit, layout=layout))
    assert [(Path(fault.file).name, fault.key) for fault in faults] == [
        ("boat.toml", "boat.unit"),
        ("boat.toml", "boat.ports.tank.at"),
        ("kit.toml", "kit.modules.feed_pump.mass"),
        ("kit.toml", "kit.lines.delivery.to"),
        ("kit.toml", "kit.hoses.soft_13.outside_diameter"),
        ("layout.toml", "layout.modules.pump"),
    ]
    assert "'feed_pump', which has no place yet" in faults[5].remedy


def test_a_module_without_a_place_is_named_with_its_lines(tmp_path: Path) -> None:
    start, end = LAYOUT.index("[layout.modules"), LAYOUT.index("[layout.lines")
    fault = one(faults_of(write_files(tmp_path, layout=LAYOUT[:start] + LAYOUT[end:])))
    assert fault.key == "layout.modules.feed_pump"
    assert "lines suction, delivery lead to it" in fault.text


def test_the_message_has_one_line_per_fault(tmp_path: Path) -> None:
    kit = KIT.replace('mass = "7.5 lb"', 'mass = "7.5"').replace('"19 mm"', '"19"')
    with pytest.raises(ScenarioError) as caught:
        read_scenario(write_files(tmp_path, kit=kit))
    assert str(caught.value).count("\n") == len(caught.value.faults) - 1
    assert re.match(r".*kit\.toml:6: kit\.modules\.feed_pump\.mass: ", str(caught.value))


def test_short_straight_of_many_lines_is_one_fault(tmp_path: Path) -> None:
    kit = KIT.replace('straight = "60 mm"', 'straight = "21.4 mm"')
    fault = one(faults_of(write_files(tmp_path, kit=kit)))
    assert fault.key == "kit.allowances.straight"
    assert "and 1 more" in fault.text
    enough = KIT.replace('straight = "60 mm"', 'straight = "21.5 mm"')
    assert faults_of(write_files(tmp_path, kit=enough)) == ()


def one(faults: tuple[Fault, ...]) -> Fault:
    """The only fault."""
    assert len(faults) == 1, faults
    return faults[0]


def test_a_missing_file(tmp_path: Path) -> None:
    write_files(tmp_path)
    fault = one(faults_of(tmp_path / "mian.toml"))
    assert "there is no file" in fault.text
    assert fault.remedy == f"did you mean '{tmp_path / 'main.toml'}'?"
    assert "is a folder" in one(faults_of(tmp_path)).text


def test_a_missing_used_file_is_reported_where_it_is_used(tmp_path: Path) -> None:
    main = MAIN.replace('uses = ["boat.toml", ', 'uses = [\n  "boat.toml",\n  "kat.toml", ')
    main = main.replace('"kit.toml", ', "")
    fault = one(faults_of(write_files(tmp_path, main=main)))
    assert (Path(fault.file).name, fault.line, fault.key) == ("main.toml", 5, "uses, item 2")
    assert fault.remedy == "did you mean 'kit.toml'?"


@pytest.mark.parametrize("text", ["", "\n\n", "  \n"])
def test_an_empty_file(text: str, tmp_path: Path) -> None:
    fault = one(faults_of(write_files(tmp_path, kit=text)))
    assert (Path(fault.file).name, fault.line) == ("kit.toml", 1)
    assert "empty" in fault.text


def test_a_file_that_is_not_text(tmp_path: Path) -> None:
    path = write_files(tmp_path)
    (tmp_path / "kit.toml").write_bytes(b'[kit]\nname = "caf\xe9"\n')
    fault = one(faults_of(path))
    assert (fault.line, "UTF-8" in fault.text) == (2, True)


@pytest.mark.parametrize(
    ("old", "new", "line", "remedy"),
    [
        ('mass = "7.5 lb"', "mass = 7.5 lb", 6, 'mass = "7.5 lb"'),
        ('bore = "3/4 in"', "bore = 3/4 in # true", 44, 'bore = "3/4 in"'),
        ("exponent = 1.8", "exponent 1.8", 78, "write exponent = 1.8"),
        ('mass = "7.5 lb"', 'mass = "7.5 lb"\nmass = "8 lb"', 7, "keep one"),
        ("[kit.limits]", "[kit.hoses.soft_13]", 80, "keep one"),
        ("[kit.limits]", "[kit.limits", 80, "write [kit.limits]"),
        ('straight = "60 mm"', 'straight = "60 mm', 85, 'write straight = "60 mm"'),
    ],
)
def test_text_that_is_not_toml(old: str, new: str, line: int, remedy: str, tmp_path: Path) -> None:
    fault = one(faults_of(write_files(tmp_path, kit=KIT.replace(old, new, 1))))
    assert (Path(fault.file).name, fault.line) == ("kit.toml", line)
    assert "is not TOML" in fault.text
    assert remedy in fault.remedy


@pytest.mark.parametrize("content", [b"ply\nformat ascii 1.0\n", b"glTF\x02\x00\xff\xfe"])
def test_a_mesh_given_for_a_scenario(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "bay.ply"
    path.write_bytes(content)
    assert "fitcheck scan bay.ply --write bay.toml" in one(faults_of(path)).remedy


def test_a_broken_file_does_not_hide_the_faults_of_the_others(tmp_path: Path) -> None:
    layout = LAYOUT.replace('pitch = "15 mm"', 'pitch = "15"')
    faults = faults_of(write_files(tmp_path, kit="[kit", layout=layout))
    assert [Path(fault.file).name for fault in faults] == ["kit.toml", "layout.toml"]


def test_a_missing_section(tmp_path: Path) -> None:
    fault = one(faults_of(write_files(tmp_path, main=MAIN.replace(', "layout.toml"', ""))))
    assert (Path(fault.file).name, fault.key) == ("main.toml", "layout")
    assert "uses" in fault.remedy


def test_a_section_in_two_files(tmp_path: Path) -> None:
    fault = one(faults_of(write_files(tmp_path, layout=f"[kit.limits]\nnpsh_ratio = 2\n{LAYOUT}")))
    assert (Path(fault.file).name, fault.line, fault.key) == ("layout.toml", 1, "kit")
    assert "already in" in fault.text
    assert "kit.toml" in fault.text


@pytest.mark.parametrize(
    ("new", "key", "says"),
    [
        ('uses = "boat.toml"', "uses", "not a list of file names"),
        ("uses = [1]", "uses", "not a list of file names"),
        ('name = 5\nuses = ["boat.toml", "kit.toml", "layout.toml"]', "name", "not text"),
        ('use = ["boat.toml", "kit.toml", "layout.toml"]', "use", "not a key"),
    ],
)
def test_keys_of_the_scenario_file(new: str, key: str, says: str, tmp_path: Path) -> None:
    main = MAIN.replace('name = "Small"\n', "")
    main = main.replace('uses = ["boat.toml", "kit.toml", "layout.toml"]', new)
    faults = faults_of(write_files(tmp_path, main=main))
    assert any(fault.key == key and says in fault.text for fault in faults)


def test_top_level_keys_belong_in_the_scenario_file(tmp_path: Path) -> None:
    fault = one(faults_of(write_files(tmp_path, kit=f'name = "x"\n{KIT}')))
    assert fault.key == "name"
    assert "belongs in the scenario file" in fault.text


def test_a_file_used_twice(tmp_path: Path) -> None:
    main = MAIN.replace('"layout.toml"', '"layout.toml", "kit.toml"')
    assert "already named" in one(faults_of(write_files(tmp_path, main=main))).text


# --- whatever is written ----------------------------------------------------------------------

WRONG = ("true", "5", "-1.5", "nan", '"x"', '""', "[]", "{}", "[[]]", '["x", 5, {}]')
A_DAY = "1979-05-27"  # no value in a scenario file is a date


def leaves(text: str) -> list[tuple[str | int, ...]]:
    """Key paths whose values are neither headers nor implied."""
    places = find_places(text)
    return [path for path, at in places.items() if at.end > at.start and text[at.start] != "["]


FOREIGN = re.compile(
    r"[Ii]nput should|validation|pydantic|Extra inputs|Field required|cannot be used"
)


@pytest.mark.parametrize("name", TEXTS)
def test_a_wrong_value_is_a_fault_in_its_line(name: str, tmp_path: Path) -> None:
    text = TEXTS[name]
    for number, path in enumerate(leaves(text)):
        place = find_places(text)[path]
        for wrong in (*WRONG[number % 5 :: 5], A_DAY):
            spoilt = text[: place.start] + wrong + text[place.end :]
            faults = faults_of(write_files(tmp_path, **{name.removesuffix(".toml"): spoilt}))
            assert not [fault for fault in faults if FOREIGN.search(str(fault))]
            assert all(fault.remedy for fault in faults)
        assert place.line in {fault.line for fault in faults}, (path, faults)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(sorted(TEXTS)),
    st.lists(
        st.tuples(st.integers(0, 90), st.sampled_from(["", "x", "[x]", "a = 1", "]"])), max_size=4
    ),
)
def test_damaged_lines_are_faults_and_never_a_crash(
    tmp_path_factory: pytest.TempPathFactory, name: str, edits: list[tuple[int, str]]
) -> None:
    lines = TEXTS[name].splitlines()
    for number, new in edits:
        lines[number % len(lines)] = new
    path = write_files(
        tmp_path_factory.mktemp("spoilt"), **{name.removesuffix(".toml"): "\n".join(lines)}
    )
    for fault in faults_of(path):
        assert fault.line >= 1
        assert not FOREIGN.search(str(fault))


# --- the line finder --------------------------------------------------------------------------

TOML = """\
# a comment = 1
name = "a # b"
uses = [ # one
  "x", 'y',

  \"\"\"long
text ] \"\"\",
]
a.b . c = 5
"q.r" = { x = 1, y = [1, {z = 2}], "k k".j = "s" } # done
[boat]
day = 1979-05-27 07:32:00 # d
[[boat.tape]]
from = "1"
[boat.tape.sub]
k = 1
[[ boat . tape ]]
from = \"\"\"a"b\"\"\\\"\"\" c\"\"\"\"\"
[[boat.tape.inner]]
u = []
[[boat.tape.inner]]
u = +inf
[ kit . "odd name" ]
"""


def test_line_finder_on_the_corners_of_toml() -> None:
    lines = {path: place.line for path, place in find_places(TOML).items()}
    wanted = {
        ("name",): 2,
        ("uses", 0): 4,
        ("uses", 1): 4,
        ("uses", 2): 6,
        ("a", "b", "c"): 9,
        ("q.r", "y", 1, "z"): 10,
        ("q.r", "k k", "j"): 10,
        ("boat", "day"): 12,
        ("boat", "tape", 0, "from"): 14,
        ("boat", "tape", 0, "sub", "k"): 16,
        ("boat", "tape", 1, "from"): 18,
        ("boat", "tape", 1, "inner", 0, "u"): 20,
        ("boat", "tape", 1, "inner", 1, "u"): 22,
        ("kit", "odd name"): 23,
    }
    assert {path: lines.get(path) for path in wanted} == wanted


def paths_of(value: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every key path of parsed TOML."""
    if isinstance(value, dict):
        below = list(value.items())
    else:
        below = list(enumerate(value)) if isinstance(value, list) else []
    found = [] if path == () else [path]
    return found + [deep for key, item in below for deep in paths_of(item, (*path, key))]


@pytest.mark.parametrize("text", [TOML, *TEXTS.values()])
def test_line_finder_finds_what_the_reader_finds(text: str) -> None:
    data = tomllib.loads(text)
    places = find_places(text)
    assert {path for path in paths_of(data) if path not in places} <= {("boat", "tape")}
    for path, place in places.items():
        if place.end > place.start and text[place.start] != "[":
            value: object = data
            for step in path:
                value = value[step]  # type: ignore[index]
            assert tomllib.loads(f"v = {text[place.start : place.end]}")["v"] == value


def test_remedies_can_be_applied(tmp_path: Path) -> None:
    path = write_files(tmp_path)
    changes: list[dict[str, object]] = [
        {"file": "layout.toml", "key": "layout.lines.suction.hose", "value": "soft_13"},
        {"file": "layout.toml", "key": "layout.lines.delivery.hose", "value": "soft_13"},
        {
            "file": str(Path("elsewhere") / "layout.toml"),
            "key": "layout.modules.feed_pump.at",
            "value": ("0.100 m", "0.200 m", "0.300 m"),
        },
        {"file": "kit.toml", "key": "kit.allowances.slack", "value": "5 %"},
        {"file": "boat.toml", "key": "boat.centreline.offset", "value": "1 m"},
    ]
    apply_changes(changes, tmp_path)
    scenario = read_scenario(path)
    assert {scenario.hose_of(line).name for line in scenario.kit.lines} == {"soft_13"}
    assert scenario.layout.placement("feed_pump").at == (0.1, 0.2, 0.3)
    assert scenario.layout.choice("delivery").holes == ("bulkhead",)
    assert scenario.kit.allowances.slack == pytest.approx(0.05)
    assert scenario.boat.centreline is not None
    assert scenario.boat.centreline.offset == -1.0
