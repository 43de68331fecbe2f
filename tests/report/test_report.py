"""The report: complete, nothing from a file is interpreted, nothing half written."""

from __future__ import annotations

import csv
import io
import json
import math
import os
import re
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from rich.console import Console

from fitcheck.errors import FitcheckError
from fitcheck.findings.catalogue import CATALOGUE
from fitcheck.findings.said import as_written
from fitcheck.model.cautions import CAUTIONS
from fitcheck.model.finding import Finding, Severity
from fitcheck.model.found.look import DUTY_LOOKS
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.given.kit import DUTIES
from fitcheck.model.result import Result
from fitcheck.report import print_summary, write_all
from fitcheck.report.numbers import ROUTED, hose_sheet, hose_table, order_sheet
from fitcheck.report.results.data import as_data, as_json
from fitcheck.report.scene.bodies import scene_glb, thinned, welded
from fitcheck.report.scene.gltf import linear
from fitcheck.report.scene.tube import centre_line, tube
from fitcheck.report.tables import as_csv, plain
from fitcheck.report.words.words import bound_words
from fitcheck.units import System
from tests.specimens import sphere
from tests.specimens.result import LINES, MODULES, placed, renamed_result, routed, specimen_result

PNG = b"\x89PNG\r\n\x1a\n" + bytes(16)
NAMES = {
    "report.html",
    "result.json",
    "modules.csv",
    "hoses.csv",
    "clips.csv",
    "order.csv",
    "compartment.ply",
    "result.zip",
    "scene.glb",
}


@pytest.fixture(scope="module")
def result() -> Result:
    return specimen_result()


@pytest.fixture(scope="module")
def folder(result: Result, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("out")
    write_all(result, folder, PNG, "metric")
    return folder


def printed(result: Result, units: System = "metric", width: int = 80) -> str:
    text = io.StringIO()
    print_summary(result, [Path("out/report.html")], units, Console(file=text, width=width))
    return text.getvalue()


def joined(text: str) -> str:
    """Text with line breaks and runs of spaces replaced by one space."""
    return re.sub(r"\s+", " ", text)


# --- terminal ---------------------------------------------------------------------------------


def test_the_worst_finding_comes_first(result: Result) -> None:
    words = [line.split()[0] for line in printed(result).splitlines() if line[:1].isupper()]
    found = [word for word in words if word in ("FAIL", "CAUTION", "NOTE")]
    assert found == ["FAIL", "FAIL", "CAUTION", "CAUTION", "NOTE"]


@pytest.mark.parametrize("width", [80, 100, 160])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_every_line_fits_the_terminal(result: Result, units: System, width: int) -> None:
    assert max(len(line) for line in printed(result, units, width).splitlines()) <= width


@pytest.mark.parametrize("width", [80, 160])
def test_every_hose_and_module_is_printed(result: Result, width: int) -> None:
    text = printed(result, width=width)
    for name in (*LINES, *MODULES):
        assert re.search(rf"(?<!\S){name}(?!\S)", text), name


def test_the_answers_are_printed(result: Result) -> None:
    text = joined(printed(result))
    assert "Safe to cut joinery: not yet: The bowl of prefilters" in text
    assert "Safe to order hoses: not yet: " in text
    assert "Suction: caution: no suction vacuum" in text
    assert "recommended up to 0.1 bar, limit 0.25 bar with a clean strainer" in text
    assert "strainer fouled suction vacuum 0.143 bar" in text
    assert 'layout.modules.prefilters.at = ["0.350 m", "-0.620 m", "-0.040 m"]' in text
    assert "0.35 m forward, 0.62 m to starboard, 0.17 m below the sea" in text


def test_every_caution_is_printed_in_full(result: Result) -> None:
    text = joined(printed(result))
    for caution in CAUTIONS:
        assert joined(caution.said.text()) in text


def test_no_information_is_lost_without_colour(
    result: Result, monkeypatch: pytest.MonkeyPatch
) -> None:
    def shown() -> str:
        text = io.StringIO()
        console = Console(file=text, width=80, force_terminal=True, color_system="standard")
        print_summary(result, [], "metric", console)
        return text.getvalue()

    monkeypatch.delenv("NO_COLOR", raising=False)
    coloured = shown()
    monkeypatch.setenv("NO_COLOR", "1")
    plain_text = shown()
    colours = re.compile(r"\x1b\[[0-9;]*3[0-7][0-9;]*m")
    assert colours.search(coloured)
    assert not colours.search(plain_text)
    escapes = re.compile(r"\x1b\[[0-9;]*m")
    assert escapes.sub("", coloured) == escapes.sub("", plain_text)


def test_a_pipe_gets_no_escape_sequences(result: Result) -> None:
    assert "\x1b" not in printed(result)


def test_names_from_files_cannot_send_escape_codes(result: Result) -> None:
    hostile = renamed_result("prefilters", "\x1b[2J[red]bad[/red]")
    text = printed(hostile)
    assert "\x1b" not in text
    assert "[red]bad[/red]" in text


def test_imperial_has_no_metric_amounts_in_its_tables(result: Result) -> None:
    text = printed(result, "imperial", 160)
    tables = text[text.index("\nHoses") : text.index("\nWhat to order")]
    assert re.search(r"\d ft [\d.]+ in", tables)
    assert "psi" in tables
    said = joined(tables).replace("radius 40 mm", "").replace("of 15 mm", "")
    assert not re.search(r"\d (m|mm|bar|kg)\b", said)


# --- words ------------------------------------------------------------------------------------


def test_the_bound_in_words() -> None:
    hose = routed("pump_to_filters")
    assert bound_words(replace(hose, bound_kind="direct")) == "proven shortest"
    assert bound_words(replace(hose, bound=hose.length)) == "proven shortest"
    near = replace(hose, length=1.0, bound=0.9999, bound_kind="certificate")
    assert bound_words(near) == "shortest possible to within 0.1 %"
    assert bound_words(replace(near, bound=0.8)) == "shortest possible to within 25.0 %"


def test_the_bound_is_never_overstated_in_words() -> None:
    hose = routed("pump_to_filters")
    for bound in np.linspace(0.5, 1.0, 997):
        words = bound_words(
            replace(hose, length=1.0, bound=float(bound), bound_kind="certificate")
        )
        told = re.search(r"within ([\d.]+) %", words)
        assert 1.0 / bound - 1.0 <= (float(told[1]) / 100 if told else 0.0) + 1e-9


def test_a_route_along_structure_is_compared_with_the_shortest() -> None:
    led = replace(routed("pump_to_filters"), way="along structure", length=1.0, bound=0.8)
    assert bound_words(led) == (
        "along structure; at most 25.0 % longer than the shortest free route"
    )
    assert bound_words(replace(led, bound=1.0)) == "proven shortest"


@pytest.mark.parametrize("severity", ["fail", "caution"])
def test_a_hose_with_a_finding_is_not_called_ok(result: Result, severity: Severity) -> None:
    """For any fail or caution of the water side; a note changes nothing."""
    bare = replace(result, routes=replace(result.routes, findings=()))
    summary = result.hydraulics.summary("pump_to_filters")
    assert summary is not None
    said = Finding(
        severity=severity,
        rule="longer-than-sold",
        subject="pump_to_filters",
        said=as_written(""),
        source="",
    )

    def verdict(finding: Finding) -> str:
        routes = replace(bare.routes, findings=(finding,))
        table = hose_table(replace(bare, routes=routes))
        (row,) = [row for row in table.rows if row.cells[1] == "pump_to_filters"]
        return table.texts(row, "metric")[-1]

    water = f"hydraulics: {summary.verdict}"
    assert verdict(replace(said, severity="note")) == water
    title = CATALOGUE["longer-than-sold"].title
    told = re.escape(f"{severity}: {title} (finding ") + r"\d\); " + re.escape(water)
    assert re.fullmatch(told, verdict(said))


def test_a_missing_route_is_shown_in_the_hose_table(result: Result) -> None:
    table = hose_table(result)
    row = next(row for row in table.rows if row.cells[1] == "product_to_tank")
    assert row.severity == "fail"
    assert re.match(r"fail: no route \(finding \d+\); \w", table.texts(row, "metric")[-1])


def test_cautions_are_right_in_their_numbers() -> None:
    # Orifice flow Cd A sqrt(2 g h), Cd 0.6 of a sharp-edged hole (from memory); jet sqrt(2 p/rho).
    speed = math.sqrt(2 * 9.80665 * 0.5)
    small, large = (0.6 * math.pi / 4 * bore**2 * speed * 60_000 for bore in (0.0127, 0.019))
    assert (round(small), round(large)) == (14, 32)
    assert round(math.sqrt(2 * 55e5 / 1025)) == 104
    text = " ".join(caution.said.text() for caution in CAUTIONS)
    for said in ("about 14 L/min", "about 32 L/min", "about 104 m/s"):
        assert said in text
    text = " ".join(caution.said.text("imperial") for caution in CAUTIONS)
    for said in ("1.6 ft under water", "1/2 in", "about 3.7 US gal/min", "about 8.5 US gal/min"):
        assert said in text


@pytest.mark.parametrize("word", ["maker", "local codes", "licensed"])
def test_cautions_defer(word: str) -> None:
    assert word in CAUTIONS[0].said.text()


def test_every_duty_has_its_own_colour_and_its_own_line() -> None:
    assert set(DUTY_LOOKS) == set(DUTIES)
    looks = DUTY_LOOKS.values()
    assert len({look.colour for look in looks}) == len({look.dash for look in looks}) == 6
    assert len({look.style for look in looks}) == 6


# --- result.json ------------------------------------------------------------------------------

KEYS = {
    "": "version verdict holds findings assumptions space modules hoses hydraulics order inputs",
    "findings": "severity rule subject value limit unit text source remedy place",
    "assumptions": "what value said taken source can_flip",
    "modules": "name verdict smallest_gap meets corners",
    "hoses": "line routed length bound bound_kind smallest_bend_radius required_bend_radius "
    "clearance required_clearance outside_diameter uncertainty cut_length start start_direction "
    "end end_direction legs bends path",
    "order": "item quantity unit length for_lines",
    "inputs": "file sha256",
}


@pytest.mark.parametrize("part", KEYS)
def test_result_json_has_its_keys(folder: Path, part: str) -> None:
    data = json.loads((folder / "result.json").read_text())
    for item in data[part] if part else [data]:
        assert set(KEYS[part].split()) <= set(item)


def test_result_json_matches_the_printed_result(folder: Path, result: Result) -> None:
    data = json.loads((folder / "result.json").read_text())
    listed = {row["file"] for row in data.pop("files")}
    assert listed == NAMES - {"result.json"}
    assert data == json.loads(as_json(result))


def test_result_json_matches_the_result(folder: Path, result: Result) -> None:
    data = json.loads((folder / "result.json").read_text())
    assert data["verdict"] == "fail"
    assert data["holds"]["cut_joinery"] == {
        "safe": False,
        "because": result.cut_joinery.because,
        "reasons": [
            {"rule": row.rule, "subject": row.subject, "text": row.text}
            for row in result.cut_joinery.reasons
        ],
    }
    assert data["findings"][0]["remedy"]["changes"][0] == {
        "file": "layout.toml",
        "key": "layout.modules.prefilters.at",
        "value": ["0.350 m", "-0.620 m", "-0.040 m"],
        "kind": "",
    }
    assert data["findings"][-1]["remedy"] is None
    assert data["space"] == data["space"] | {
        "triangles": len(result.space.triangles),
        "pitch": 0.25,
        "free_volume": result.space.free_volume,
        "unseen_volume": result.space.unseen_volume,
    }
    assert [row["can_flip"] for row in data["assumptions"]] == [True, False, False]


def test_numbers_are_restored_exactly(folder: Path, result: Result) -> None:
    data = json.loads((folder / "result.json").read_text())
    for hose, told in zip(result.routes.hoses, data["hoses"], strict=True):
        assert told["line"] == hose.line
        if isinstance(hose, HoseRoute):
            assert np.array_equal(told["path"], hose.path)
            assert told["length"] == hose.length
            assert told["bends"][0]["normal"] == list(hose.bends[0].normal)
            assert told["cut_length"] == result.order.cut(hose.line).cut_length
    pumps, lines = data["hydraulics"]["pumps"], data["hydraulics"]["lines"]
    assert pumps[1]["suction_vacuum"] == 14_300.0
    assert set(lines[0]) >= {item.name for item in fields(result.hydraulics.lines[0])}


def test_a_hose_without_a_route_has_the_same_keys_and_no_numbers(folder: Path) -> None:
    hoses = json.loads((folder / "result.json").read_text())["hoses"]
    lost = next(hose for hose in hoses if not hose["routed"])
    assert set(hoses[0]) <= set(lost)
    assert lost["nearest_approach"] == [-1.1, 0.6, 0.5]
    for key in ("length", "bound", "bound_kind", "smallest_bend_radius", "clearance"):
        assert lost[key] is None
    assert lost["path"] == lost["legs"] == lost["bends"] == []


def test_non_finite_numbers_become_null(result: Result) -> None:
    module = replace(result.fit.modules[0], contacts=())
    fit = replace(result.fit, modules=(module, *result.fit.modules[1:]))
    data = json.loads(as_json(replace(result, fit=fit)))
    assert data["modules"][0]["smallest_gap"] is None


def test_corners_are_those_of_the_box(result: Result) -> None:
    told = {item["name"]: item["corners"] for item in as_data(result)["modules"]}
    assert np.allclose(told["vessel"], placed("vessel").corners())


# --- CSV --------------------------------------------------------------------------------------


def test_hoses_csv_has_numbers_with_units_in_headings(folder: Path, result: Result) -> None:
    rows = list(csv.DictReader(io.StringIO((folder / "hoses.csv").read_text("utf-8"))))
    assert [row["Line"] for row in rows] == list(LINES)
    first = result.routes.hoses[0]
    assert isinstance(first, HoseRoute)
    assert float(rows[0][f"{ROUTED} [m]"]) == pytest.approx(first.length, rel=1e-5)
    assert float(rows[0]["Bore [mm]"]) == 19.0
    assert float(rows[0]["Loss [bar]"]) == 0.033
    assert rows[-1][f"{ROUTED} [m]"] == ""


def test_csv_in_feet_is_the_same_length(result: Result) -> None:
    text = as_csv(hose_sheet(result), "imperial")
    rows = list(csv.DictReader(io.StringIO(text)))
    first = result.routes.hoses[0]
    assert isinstance(first, HoseRoute)
    # 1 ft = 0.3048 m exactly (international foot).
    assert float(rows[0][f"{ROUTED} [ft]"]) * 0.3048 == pytest.approx(first.length, rel=1e-5)


def test_decimal_commas_use_semicolon_separators(result: Result) -> None:
    point, comma = (
        list(
            csv.reader(io.StringIO(as_csv(hose_sheet(result), "metric", decimal)), delimiter=mark)
        )
        for decimal, mark in (("point", ","), ("comma", ";"))
    )
    texts = {at for at, column in enumerate(hose_sheet(result).columns) if not column.measure}
    for one, other in zip(point[1:], comma[1:], strict=True):
        for at, (cell, same) in enumerate(zip(one, other, strict=True)):
            assert same == (cell if at in texts else cell.replace(".", ","))
    assert any("," in cell for cell in comma[1])


def test_order_csv_adds_up(result: Result) -> None:
    rows = list(csv.DictReader(io.StringIO(as_csv(order_sheet(result), "metric"))))
    assert [row["Pieces"] for row in rows] == ["1", "1", "1", "6"]
    assert float(rows[0]["Length [m]"]) == 1.4
    assert rows[1]["Price"] == "25.00"


def test_no_cell_is_a_spreadsheet_formula() -> None:
    hostile = renamed_result("bypass_10", "=1+1")
    rows = list(csv.DictReader(io.StringIO(as_csv(hose_sheet(hostile), "metric"))))
    assert rows[3]["Hose"] == "'=1+1"


# --- exports ----------------------------------------------------------------------------------


def test_compartment_is_restored_bit_for_bit(folder: Path, result: Result) -> None:
    mesh = trimesh.load(folder / "compartment.ply", process=False)
    assert np.array_equal(mesh.vertices[mesh.faces], result.space.triangles)


def boat_frame(vertices: np.ndarray) -> np.ndarray:
    """glTF's y up back to the boat's z up: a quarter turn about x, written independently."""
    return np.stack([vertices[:, 0], -vertices[:, 2], vertices[:, 1]], axis=1)


def test_scene_has_all_names_in_the_boat_frame(folder: Path, result: Result) -> None:
    scene = trimesh.load(folder / "scene.glb", process=False)
    nodes = set(scene.graph.nodes_geometry)
    hoses = {f"hose:{line}" for line in LINES if line != "product_to_tank"}
    assert {"scan", "unrouted:product_to_tank", *hoses} <= nodes
    for name in MODULES:
        transform, geometry = scene.graph[f"module:{name}"]
        assert np.allclose(transform, np.eye(4))
        found = boat_frame(np.asarray(scene.geometry[geometry].vertices))
        corners = placed(name).corners()
        assert np.allclose(found.min(0), corners.min(0), atol=1e-6)
        assert np.allclose(found.max(0), corners.max(0), atol=1e-6)


def test_hose_in_the_scene_follows_its_path(folder: Path, result: Result) -> None:
    scene = trimesh.load(folder / "scene.glb", process=False)
    hose = routed("pump_to_filters")
    mesh = scene.geometry[scene.graph["hose:pump_to_filters"][1]]
    found = boat_frame(np.asarray(mesh.vertices))
    away = np.linalg.norm(found[:, None] - hose.path[None], axis=2).min(axis=1)
    assert np.allclose(away, hose.outside_diameter / 2, atol=0.001)


def test_colours_in_the_scene_are_linear() -> None:
    # IEC 61966-2-1: mid grey 188 of 255 is half the light; 0 and 255 are fixed points.
    assert linear("#00BCFF") == pytest.approx((0.0, 0.5029, 1.0), abs=1e-4)


def test_scan_of_any_size_is_thinned_in_place() -> None:
    vertices, faces = welded(sphere(0.5, (0.0, 0.0, 0.6), rings=96))
    coarse, kept = thinned(vertices, faces, 3000)
    assert 1000 < len(kept) <= 3000
    radii = np.linalg.norm(coarse - [0.0, 0.0, 0.6], axis=1)
    assert radii.min() > 0.49
    assert radii.max() <= 0.5 + 1e-9
    same, untouched = thinned(vertices, faces, len(faces))
    assert same is vertices
    assert untouched is faces


def test_a_scan_is_turned_to_face_the_inside(result: Result) -> None:
    turned = replace(
        result, space=replace(result.space, triangles=result.space.triangles[:, ::-1])
    )
    one, other = (
        trimesh.load(io.BytesIO(scene_glb(item)), file_type="glb", process=False).geometry["scan"]
        for item in (result, turned)
    )
    assert sorted(map(tuple, one.face_normals.round(4))) == sorted(
        map(tuple, other.face_normals.round(4))
    )


def test_a_tube_is_round_and_closed_along_its_length() -> None:
    hose = routed("pump_to_filters")
    shape = tube(centre_line(hose.legs, hose.bends), 0.02)
    mesh = trimesh.Trimesh(shape.vertices, shape.faces, process=False)
    # A swept circle of radius r over length L has the side 2 pi r L (Pappus and Guldin).
    assert mesh.area == pytest.approx(2 * math.pi * 0.01 * hose.length, rel=0.03)
    assert np.allclose(np.linalg.norm(shape.normals, axis=1), 1.0)
    facing = np.einsum("nk,nk->n", mesh.face_normals, shape.normals[shape.faces[:, 0]])
    assert facing.min() > 0.5


@pytest.mark.parametrize("dash", [(0.05, 0.02), (0.01, 0.015), (0.05, 0.01, 0.01, 0.01)])
def test_bands_divide_the_length_as_requested(dash: tuple[float, ...]) -> None:
    line = np.array([[0.0, 0.0, 0.0], [0.35, 0.0, 0.0], [0.7, 0.0, 0.0]])
    shape = tube(line, 0.02, dash)
    mesh = trimesh.Trimesh(shape.vertices, shape.faces, process=False)
    gap = shape.gap[shape.faces[:, 0]]
    wanted = sum(dash[1::2]) / sum(dash)
    assert mesh.area_faces[gap].sum() / mesh.area == pytest.approx(wanted, abs=0.02)


def test_a_clean_result_says_so(result: Result, tmp_path: Path) -> None:
    clean = replace(
        result,
        space=replace(result.space, findings=()),
        fit=replace(result.fit, findings=()),
        routes=replace(result.routes, findings=(), hoses=result.routes.hoses[:-1]),
        hydraulics=replace(result.hydraulics, findings=()),
    )
    write_all(clean, tmp_path, None, "metric")
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    steps = re.findall(r"<strong>(Cut joinery|Order hoses)</strong> <span>Yes: ", text)
    assert steps == ["Cut joinery", "Order hoses"]
    assert "Nothing fails, and there are no cautions" in text
    assert "Safe to order hoses: yes, because every hose is routed" in joined(printed(clean))


# --- writing ----------------------------------------------------------------------------------


def test_exactly_the_listed_files_are_written(folder: Path, result: Result) -> None:
    assert {path.name for path in folder.iterdir()} == NAMES


def test_the_same_result_gives_the_same_bytes(
    folder: Path, result: Result, tmp_path: Path
) -> None:
    write_all(specimen_result(), tmp_path, PNG, "metric")
    for name in NAMES:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()


@pytest.mark.parametrize("broken", ["result.json", "scene.glb"])
def test_a_failed_write_leaves_the_earlier_result(
    result: Result, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    write_all(result, tmp_path, None, "metric")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def full(path: Path, content: bytes) -> None:
        if broken in path.name:
            path.write_bytes(content[: len(content) // 2])
            raise OSError(28, "No space left on device")
        path.write_bytes(content)

    monkeypatch.setattr("fitcheck.report.files.write_through", full)
    with pytest.raises(FitcheckError, match="No space left"):
        write_all(renamed_result("prefilters", "other"), tmp_path, None, "metric")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_failure_while_making_a_file_leaves_the_earlier_result(
    result: Result, tmp_path: Path
) -> None:
    write_all(result, tmp_path, None, "metric")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    stray = Finding(
        severity="fail",
        rule="x",
        subject="x",
        said=as_written("x"),
        source="",
        value=1.0,
        unit="?",
    )
    bad = replace(result, fit=replace(result.fit, findings=(stray,)))
    with pytest.raises(KeyError):
        write_all(bad, tmp_path, None, "metric")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


@pytest.mark.skipif(os.name == "nt", reason="folder permissions differ")
def test_a_folder_in_place_of_a_file_is_one_clear_line(result: Result, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(FitcheckError, match="out: cannot be written"):
        write_all(result, tmp_path / "out", None, "metric")
    assert (tmp_path / "out").read_text() == "a file"


def test_control_characters_are_removed() -> None:
    assert plain("a\x1b[2J\u202eb\nc") == "a\ufffd[2J\ufffdb\ufffdc"
