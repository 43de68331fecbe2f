"""Faults of the files in the units asked for; what the user wrote, and examples, as they are."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from fitcheck import units
from fitcheck.cli import BAD_INPUT, main
from fitcheck.hydraulics.physics.seawater import density
from fitcheck.units import System, faults_in
from tests.scenario.test_scenario import SPOILS, Spoil, spoilt_text
from tests.specimens.amounts import SYSTEMS, amounts
from tests.specimens.scenario_texts import KIT, faults_of, write_files

ROOT = Path(units.__file__).parents[1]
OTHER: dict[System, System] = {"metric": "imperial", "imperial": "metric"}
#: Where a fault is raised; no result holds words from there.
FAULTS = {
    "deviation/registration/faults.py",
    "hydraulics/physics/pumps.py",
    "hydraulics/physics/seawater.py",
    "scenario/checks/kit_checks.py",
    "scenario/checks/line_checks.py",
    "space/blame.py",
    "space/compartment.py",
    "space/datum/level.py",
    "space/datum/scale.py",
}
#: Where an amount is only compared, or is the same in all units.
NOT_PRINTED = {
    "hydraulics/remedy/hose_changes.py",
    "hydraulics/rules/judging.py",
    "units/asked.py",
    "view/desk/readout.py",
}


def unquoted(text: str) -> str:
    """Without what the user wrote and what to write, both in quotes, and lists of units."""
    return re.sub(r"\"[^\"]*\"|'[^']*'", "", text)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("spoil", SPOILS, ids=str)
def test_no_fault_names_an_amount_in_other_units(
    spoil: Spoil, system: System, tmp_path: Path
) -> None:
    with faults_in(system):
        faults = faults_of(write_files(tmp_path, **{spoil.file: spoilt_text(spoil)}))
    assert faults
    for fault in faults:
        assert amounts(unquoted(f"{fault.text}; {fault.remedy}"), OTHER[system]) == []


@pytest.mark.parametrize(
    ("system", "told"),
    [
        (
            "metric",
            "'19 m' is above 200 mm, which is not plausible; did you mean \"19 mm\"? write "
            "1 mm to 200 mm",
        ),
        (
            "imperial",
            "'19 m' is above 7.87 in, which is not plausible; did you mean \"19 mm\"? "
            "write 0.0394 in to 7.87 in",
        ),
    ],
)
def test_a_command_tells_its_faults_in_its_units(
    system: System, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_files(tmp_path, kit=KIT.replace('bore = "3/4 in"', 'bore = "19 m"', 1))
    assert main(["check", str(path), "--units", system, "--out", str(tmp_path)]) == BAD_INPUT
    assert told in capsys.readouterr().err


def test_afterwards_faults_are_metric_again() -> None:
    with faults_in("imperial"), pytest.raises(Exception, match="122 °F is outside 28.4 °F to 113"):
        density(0.035, 50.0)
    with pytest.raises(Exception, match="50 °C is outside -2 °C to 45 °C"):
        density(0.035, 50.0)


def calls(name: str) -> dict[str, list[ast.Call]]:
    """Every call of a function of `units`, by file."""
    found: dict[str, list[ast.Call]] = {}
    for file in sorted(ROOT.rglob("*.py")):
        tree = ast.parse(file.read_text("utf-8"))
        imported = any(
            isinstance(node, ast.ImportFrom)
            and node.module in ("fitcheck.units", "fitcheck.units.showing")
            and name in {one.name for one in node.names}
            for node in tree.body
        )
        rows = [
            node
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == name and imported
        ]
        if rows:
            found[file.relative_to(ROOT).as_posix()] = rows
    return found


def test_only_faults_are_put_in_words_before_they_are_printed() -> None:
    assert set(calls("amount")) == FAULTS
    early = {
        file
        for name in ("show", "show_row")
        for file, rows in calls(name).items()
        if any(len(row.args) + len(row.keywords) < 3 for row in rows)
    }
    assert early <= NOT_PRINTED
