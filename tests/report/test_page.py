"""The page: self-contained, nothing from a file is interpreted, all links have a target."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
import trimesh

from fitcheck.findings.catalogue import CATALOGUE
from fitcheck.findings.said import as_written
from fitcheck.model.cautions import CAUTIONS
from fitcheck.model.found.hydraulics import Governing
from fitcheck.model.result import Result
from fitcheck.report import first_screen, write_all
from fitcheck.report.document.frame.frame import resource
from fitcheck.report.document.page import page_html, three_js
from fitcheck.report.words.answer import answer
from fitcheck.units import System
from tests.report.test_report import PNG
from tests.specimens.result import LINES, MODULES, made_result, renamed_result, specimen_result


@pytest.fixture(scope="module")
def result() -> Result:
    return specimen_result()


@pytest.fixture(scope="module")
def folder(result: Result, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("out")
    write_all(result, folder, PNG, "metric")
    return folder


# --- self-contained


class Page(HTMLParser):
    """Collects elements and their requests."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]

    def shape(self) -> list[str]:
        """All elements in order, without possible line breaks in names."""
        return [tag for tag, _ in self.elements if tag != "wbr"]


@pytest.fixture(scope="module")
def page(folder: Path) -> Page:
    return Page((folder / "report.html").read_text(encoding="utf-8"))


def test_the_page_needs_no_network(page: Page, folder: Path) -> None:
    for tag, attributes in page.elements:
        for name in ("src", "href", "action", "data", "poster", "srcset"):
            value = attributes.get(name) or ""
            assert value.startswith(("data:image/png;base64,", "#")) or not value, (tag, value)
        assert tag not in ("link", "iframe", "object", "embed", "base")
    policy = next(item["content"] for item in page.all("meta") if "http-equiv" in item)
    assert policy is not None
    assert policy.startswith("default-src 'none';")
    assert "connect-src" not in policy
    assert not re.search(r"@import|url\(", resource("page.css"))


def test_the_page_contains_library_scene_and_picture(page: Page, folder: Path) -> None:
    text = (folder / "report.html").read_text(encoding="utf-8")
    assert "THREE.GLTFLoader=GLTFLoader" in three_js()
    assert "MIT" in three_js()[:200]
    assert three_js() in text
    assert [item["alt"] for item in page.all("img")] == [
        "The compartment of Invented ten-metre boat with its modules and hoses"
    ]


def test_rows_and_scene_use_the_same_names(page: Page, folder: Path) -> None:
    scene = trimesh.load(folder / "scene.glb", process=False)
    rows = {item["data-node"] for item in page.all("tr") if "data-node" in item}
    assert rows <= set(scene.graph.nodes_geometry)
    assert {f"module:{name}" for name in MODULES} <= rows
    assert sum("hose:" in str(row) for row in rows) == len(LINES) - 1


def test_tables_have_headings_in_scope(page: Page) -> None:
    scopes = [item.get("scope") for item in page.all("th")]
    assert set(scopes) == {"col", "row"}
    assert len(page.all("caption")) == len(page.all("table"))
    headings = [tag for tag, _ in page.elements if tag in ("h1", "h2", "h3")]
    assert headings.count("h1") == 1
    assert headings[0] == "h1"


def test_the_page_contains_all_results(folder: Path, result: Result) -> None:
    text = (folder / "report.html").read_text(encoding="utf-8").replace("<wbr>", "")
    for finding in result.findings:
        assert finding.text in text
    for row in result.assumptions:
        assert row.what in text
    for file in result.scenario.inputs:
        assert file.sha256 in text
    for caution in CAUTIONS:
        assert caution.said.text().replace("'", "&#x27;") in text


HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(2)>&$name'


@pytest.mark.parametrize("name", ["prefilters", "product_to_tank", "invented example", "kit.toml"])
def test_names_from_files_are_escaped(name: str, tmp_path: Path, page: Page) -> None:
    write_all(renamed_result(name, HOSTILE), tmp_path, PNG, "metric")
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "<script>alert" not in text
    hostile = Page(text)
    assert hostile.shape() == page.shape()
    assert [item for item in hostile.all("img") if "onerror" in item] == []


def test_a_missing_picture_is_reported(result: Result, tmp_path: Path) -> None:
    write_all(result, tmp_path, None, "imperial")
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "No picture" in text
    assert "<img" not in text.replace(three_js(), "")
    assert "0.143 bar" in text  # the finding's own words
    assert "4.22 inHg" in text


# --- links


def rows_of(text: str) -> dict[str, str]:
    """Rows of tables and findings by their id, each with its contents."""
    found = re.findall(r'<(tr|li)[^>]* id="([^"]+)"(.*?)</\1>', text, re.DOTALL)
    return {name: inside for _, name, inside in found}


@pytest.mark.parametrize("made", [specimen_result, made_result])
def test_every_link_has_a_target_and_every_section_is_listed(made: object) -> None:
    page = Page(page_html(made(), PNG, None, "metric"))  # type: ignore[operator]
    names = [item["id"] for _, item in page.elements if "id" in item]
    assert len(names) == len(set(names))
    ways = [str(item["href"])[1:] for item in page.all("a")]
    assert set(ways) <= set(names)
    sections = [item["id"] for item in page.all("section")]
    assert [way for way in ways if way in sections][-len(sections) :] == sections
    assert len(sections) >= 7


def test_every_finding_on_a_row_is_linked(result: Result, folder: Path) -> None:
    rows = rows_of((folder / "report.html").read_text(encoding="utf-8"))
    reached = 0
    for kind, names in (("hose", LINES), ("module", MODULES)):
        for at, name in enumerate(names, 1):
            ways = re.findall(r'href="#finding-(\d+)"', rows[f"{kind}-{at}"])
            wanted = [
                number
                for number, row in enumerate(result.findings, 1)
                if row.subject == name and row.severity != "note"
            ]
            assert list(map(int, ways)) == wanted
            reached += len(wanted)
    assert reached == sum(row.severity != "note" for row in result.findings)


def test_a_finding_is_found_under_its_number(result: Result, folder: Path) -> None:
    rows = rows_of((folder / "report.html").read_text(encoding="utf-8"))
    for number, finding in enumerate(result.findings, 1):
        assert finding.text in rows[f"finding-{number}"]


@pytest.mark.parametrize("system", ["metric", "imperial"])
def test_the_page_opens_with_the_first_screen(result: Result, system: System) -> None:
    """Every word of the first screen except its file name is above the table of contents."""

    def words(text: str) -> set[str]:
        return set(re.findall(r"[\w.]+", text.lower()))

    vacuum = Governing(
        said=as_written("suction vacuum, strainer clean"),
        subject="feed_pump",
        state="upright",
        value=11_000.0,
        worst=12_300.0,
        best=9_000.0,
        limit=25_000.0,
        unit="Pa",
        shown_as="vacuum",
        verdict="caution",
    )
    margin = replace(
        vacuum, said=as_written("NPSH margin"), worst=6.64, limit=0.0, shown_as="head"
    )
    water = replace(result.hydraulics, governing=(vacuum, margin))
    result = replace(result, hydraulics=water)
    page = page_html(result, None, None, system)
    top = page[page.index("<header>") : page.index("<nav")]
    told = answer(result, system)
    said = first_screen(result, [], system)
    files = words("boat.toml kit.toml layout.toml in the report")
    assert words(said) - files <= words(re.sub(r"<[^>]+>", " ", top))
    for row in told.cuts:
        for number, length in row.pieces:
            assert f'href="#hose-{number}"><b>{number}</b> {length}<' in top


def test_a_command_on_the_page_applies_its_remedy(result: Result) -> None:
    page = page_html(result, None, None, "metric")
    rows = re.findall(r'<li><p><a href="#finding-(\d+)">(.*?)</li>', page, re.DOTALL)
    commands = 0
    for number, inside in rows:
        remedy = result.findings[int(number) - 1].remedy
        command = re.search(r"fitcheck apply FOLDER (\d+)", inside)
        if command:
            assert result.remedies[int(command[1]) - 1] == remedy
            commands += 1
    assert commands == 2
    assert CATALOGUE[result.findings[0].rule].title in rows[0][1]
