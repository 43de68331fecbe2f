"""Sentences are formatted correctly, and each of them is used somewhere."""

from __future__ import annotations

import ast
import pkgutil
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest

from fitcheck.findings import said, sentences
from fitcheck.findings.said import Blank, as_written, length, quantity, say, where
from fitcheck.findings.sentences import SENTENCES

ROOT = Path(said.__file__).parents[1]
BLANK = re.compile(r"\{(\w+)(?::([^}]*))?\}")


@pytest.mark.parametrize(
    ("template", "blanks", "text"),
    [
        ("{a} is in {b}", {"a": "pump", "b": "hull"}, "pump is in hull"),
        ("{gap} short", {"gap": length(0.0125)}, "12.5 mm short"),
        ("at {at}", {"at": where((1.0, -0.5, 0.0))}, "at (1.00, -0.50, 0.00) m"),
        ("{all}", {"all": ["a", "b", "c"]}, "a, b, c"),
        ("{all:and}", {"all": ["a", "b", "c"]}, "a, b and c"),
        ("{all:or}", {"all": ["a", "b"]}, "a or b"),
        ("{all: }", {"all": ["One.", "Two."]}, "One. Two."),
        ("{all:;}", {"all": ["a", "b"]}, "a; b"),
        ("{all: or }", {"all": ["a", "b", "c"]}, "a or b or c"),
        ("{all:and}", {"all": ["a"]}, "a"),
        ("{n} {n:hose|hoses}", {"n": 1}, "1 hose"),
        ("{n} {n:hose|hoses}", {"n": 1200}, "1,200 hoses"),
        ("{all:and} {all:hangs|hang}", {"all": ["a", "b"]}, "a and b hang"),
        ("{what:^} is shut", {"what": "the seacock"}, "The seacock is shut"),
        ("it is{why}", {"why": None}, "it is"),
        ("{clause} and so on", {"clause": say("as-written", text="one")}, "one and so on"),
    ],
)
def test_blanks_are_filled(
    template: str, blanks: dict[str, Blank], text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(said, "SENTENCES", {**SENTENCES, "row": template})
    assert say("row", **blanks).text() == text


def test_requested_units_are_used(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(said, "SENTENCES", {"row": "{bore}, {rows}"})
    row = say("row", bore=length(0.0254), rows=[quantity(6894.757, "pressure")])
    assert row.text("imperial") == "1 in, 1 psi"
    assert row.text("metric") == "25.4 mm, 0.069 bar"


def test_a_formatted_sentence_does_not_change() -> None:
    assert as_written("{odd} braces: 5 %").text() == "{odd} braces: 5 %"


def test_no_key_is_in_two_chapters() -> None:
    names = [
        row.name for row in pkgutil.iter_modules(sentences.__path__, f"{sentences.__name__}.")
    ]
    keys = [key for name in names for key in import_module(name).SENTENCES]
    assert sorted([*keys, "as-written"]) == sorted(SENTENCES)


def calls() -> Iterator[tuple[str, ast.Call]]:
    """Every call in the program that uses a sentence."""
    for file in sorted(ROOT.rglob("*.py")):
        tree = ast.parse(file.read_text())
        if not any(
            isinstance(node, ast.ImportFrom) and node.module == said.__name__ for node in tree.body
        ):
            continue
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say":
                yield f"{file.relative_to(ROOT)}:{node.lineno}", node


def keys_of(key: ast.expr, at: str) -> list[str]:
    """The possible keys of a call: a literal, or one of two."""
    if isinstance(key, ast.IfExp):
        return keys_of(key.body, at) + keys_of(key.orelse, at)
    assert isinstance(key, ast.Constant), f"{at}: the key is not written here"
    return [str(key.value)]


def test_every_call_fills_all_blanks_of_its_sentence() -> None:
    said_here = set()
    for at, node in calls():
        for key in keys_of(node.args[0], at):
            assert key in SENTENCES, f"{at}: no sentence {key}"
            blanks = {found[1] for found in BLANK.finditer(SENTENCES[key])}
            given = {row.arg for row in node.keywords}
            assert given == blanks, f"{at}: {key} has the blanks {sorted(blanks)}"
            said_here.add(key)
    assert said_here == set(SENTENCES) - {"as-written"}


def test_no_sentence_spells_a_unit() -> None:
    """A quantity is a blank, shown in the requested units; text in quotes is for a file."""
    spelled = re.compile(r"(?<!F)\d ?(mm|cm|m|bar|kPa|L|L/min|m/s|kg|psi|in|ft)\b|\+-|\bdeg")
    told = {key: re.sub(r'"[^"]*"', "", text) for key, text in SENTENCES.items()}
    assert [key for key, text in told.items() if spelled.search(text)] == []
