"""The catalogue contains exactly the rules that the code can construct."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import fitcheck
from fitcheck.cli import main
from fitcheck.findings import CATALOGUE, CHAPTERS
from fitcheck.findings.said import as_written
from fitcheck.model.finding import Finding, Remedy
from tests.findings.kept_to_rows import faults
from tests.findings.slugs import Source

BUILT = Source.of(Path(fitcheck.__file__).parent).built()
#: The product is ok up to the very limit at which it fails.
NEVER = {"product-back-pressure": {"caution"}}


def test_every_rule_has_a_row_and_every_row_a_rule() -> None:
    assert set(BUILT) == set(CATALOGUE)
    assert sum(len(rows) for _, rows in CHAPTERS) == len(CATALOGUE)


@pytest.mark.parametrize("rule", sorted(CATALOGUE))
def test_a_row_allows_exactly_what_the_code_constructs(rule: str) -> None:
    row, built = CATALOGUE[rule], BUILT[rule]
    assert set(row.severities) == built.severities - NEVER.get(rule, set()), built.where
    assert set(row.bars) == built.bars, built.where
    assert row.meaning.endswith(".")
    assert bool(row.limit) == bool(row.origins)


def source(text: str) -> dict[str, tuple[set[str], set[str]]]:
    """The properties read from one module."""
    built = Source({"one": text}).built()
    return {rule: (row.severities, row.bars) for rule, row in built.items()}


def test_rule_names_are_resolved_to_constants() -> None:
    text = """
BOTH = ("cut_joinery", "order_hoses")
WATERS = {"a": "a-high", "b": "b-high"}

def checks(bad, key):
    yield _said("fail" if bad else "caution", "first")
    yield _said("note", rule="second", bars=BOTH)
    yield Finding(severity=worst(bad), rule=WATERS[key])
    yield _marks("level")

def _said(severity, rule, bars=()):
    return Finding(severity=severity, rule=rule, bars=bars)

def _marks(key):
    return _said("note", f"{key}-off")

def worst(bad):
    if bad:
        return None
    return "caution"
"""
    both = {"cut_joinery", "order_hoses"}
    assert source(text) == {
        "first": ({"fail", "caution"}, set()),
        "second": ({"note"}, both),
        "a-high": ({"caution"}, set()),
        "b-high": ({"caution"}, set()),
        "level-off": ({"note"}, set()),
    }


@pytest.mark.parametrize(
    "built",
    [
        "Finding(severity='note', rule=row.rule)",
        "Finding(severity='note', rule=rule)",
        "Finding(**row)",
        "Finding('note', 'rule')",
        "replace(finding, severity='fail')",
        "replace(finding, bars=())",
    ],
)
def test_unresolvable_names_are_reported(built: str) -> None:
    with pytest.raises(AssertionError, match="follow|nothing calls"):
        source(f"def said(row, rule, finding):\n    return {built}\n")


def test_a_finding_outside_its_row_is_caught() -> None:
    good = Finding(
        severity="fail",
        rule="clash",
        subject="",
        said=as_written(""),
        source="",
        remedy=Remedy(said=as_written("")),
    )
    assert faults(good) == []
    bad = Finding(
        severity="note", rule="clash", subject="", said=as_written(""), source="", bars=BARS
    )
    assert faults(bad) == ["clash: note", "clash: cut_joinery", "clash: none"]


BARS = ("cut_joinery",)


def test_the_command_prints_all_rules_or_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules"]) == 0
    table = capsys.readouterr().out
    assert all(f"\n{rule} " in table for rule in CATALOGUE)
    assert max(map(len, table.splitlines())) <= 80
    assert main(["rules", "tight"]) == 0
    told = capsys.readouterr().out
    assert "kit.allowances.box_gap" in told
    assert "cutting joinery" in told
    assert main(["rules", "tigth"]) == 2
    assert "tight" in capsys.readouterr().err


def test_the_rules_command_loads_no_heavy_library() -> None:
    code = (
        "import sys\n"
        "from fitcheck.cli import main\n"
        "main(['rules', 'clash'])\n"
        "print([name for name in ('numpy', 'rich', 'pydantic') if name in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip().endswith("[]")
