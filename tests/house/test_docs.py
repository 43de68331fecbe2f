"""The README, the developers' page and the rooms' READMEs match the repository."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests import ROOT

README = (ROOT / "README.md").read_text()
PACKAGE = ROOT / "fitcheck"
GUIDE = ROOT / "DEVELOPERS.md"
ROOMS = sorted(file.parent for file in PACKAGE.glob("*/__init__.py"))
PAGES = [GUIDE, PACKAGE / "README.md", *(room / "README.md" for room in ROOMS)]


def missing(text: str, folder: Path) -> Iterator[str]:
    """Files, folders, modules and tests named on a page of a folder that do not exist."""
    for span in re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```", "", text, flags=re.S | re.M)):
        for word in span.split():
            path, _, test = word.rstrip(",").partition("::")
            if re.fullmatch(r"tests(\.\w+)+", path):
                path = path.replace(".", "/") + ".py"
            elif path.startswith(".venv/") or not re.search(r"/|\.(py|toml|md)$", path):
                continue
            homes = (folder, PACKAGE, ROOT)
            found = [file for home in homes for file in home.glob(path)]
            if not found or (test and f"def {test}(" not in found[0].read_text()):
                yield word


def help_text(*command: str) -> str:
    """Help text of a command, at 80 columns."""
    code = f"from fitcheck.cli import main; main({[*command, '--help']!r})"
    environment = {"COLUMNS": "80", "PATH": "", "PYTHONPATH": str(ROOT)}
    answer = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment
    )
    return answer.stdout


def commands() -> list[str]:
    """The commands the program offers."""
    return re.findall(r"^    (\w+) ", help_text(), flags=re.MULTILINE)


@pytest.mark.parametrize("command", commands())
def test_every_command_is_in_the_readme(command: str) -> None:
    assert f"fitcheck {command}" in README


@pytest.mark.parametrize("command", commands())
def test_every_option_is_in_the_readme(command: str) -> None:
    options = set(re.findall(r"--[a-z]+", help_text(command))) - {"--help"}
    assert {option for option in options if option not in README} == set()


def test_every_file_named_in_the_readme_exists() -> None:
    named = set(re.findall(r"`((?:fitcheck|tests|scenarios|meshes)/[\w./]+)`", README))
    assert {name for name in named if not (ROOT / name).exists()} == set()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_file_named_exists(page: Path) -> None:
    assert list(missing(page.read_text(), page.parent)) == []


@pytest.mark.parametrize(
    "word",
    ["tests/none.py", "none.py", "none/", "tests.bench.none", "tests/house/test_docs.py::test_"],
)
def test_a_missing_file_is_caught(word: str) -> None:
    assert list(missing(f"see `.venv/bin/python {word} FILE`", PACKAGE)) == [word]


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: room.name)
def test_every_room_readme_lists_its_contents(room: Path) -> None:
    text = (room / "README.md").read_text()
    assert f"`fitcheck/{room.name}/`" in GUIDE.read_text()
    inner = {file.parent.name for file in room.glob("*/__init__.py")}
    assert inner == set(re.findall(r"^- `(\w+)/`: ", text, flags=re.M))
    for words in ("**Takes**", "**Promises**", "**Open first**"):
        assert words in text


def test_the_developers_page_is_one_page() -> None:
    text = GUIDE.read_text()
    assert len(text.splitlines()) <= 120
    assert len(text.encode()) <= 9_000


def test_pictures_of_the_readme_exist() -> None:
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert pictures
    assert [name for name in pictures if not (ROOT / name).exists()] == []


def test_the_gate_runs_the_readme() -> None:
    gate = (ROOT / ".ci" / "run").read_text()
    for marker in ("demo", "test"):
        assert f"readme_command {marker}" in gate
        assert f"<!-- {marker} -->\n```sh\n" in README
