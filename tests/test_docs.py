"""What the README and the developers' guide say is what the program does."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text()
GUIDE = (ROOT / "DEVELOPERS.md").read_text()


def help_text(*command: str) -> str:
    """What a command prints when asked for help, at 80 columns."""
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


@pytest.mark.parametrize("text", [README, GUIDE], ids=["README", "DEVELOPERS"])
def test_every_file_named_exists(text: str) -> None:
    named = set(re.findall(r"`((?:fitcheck|tests|scenarios|meshes)/[\w./]+)`", text))
    assert {name for name in named if not (ROOT / name).exists()} == set()


def test_pictures_of_the_readme_exist() -> None:
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert pictures
    assert [name for name in pictures if not (ROOT / name).exists()] == []


def test_the_gate_runs_the_readme() -> None:
    gate = (ROOT / ".ci" / "run").read_text()
    for marker in ("demo", "test"):
        assert f"readme_command {marker}" in gate
        assert f"<!-- {marker} -->\n```sh\n" in README
