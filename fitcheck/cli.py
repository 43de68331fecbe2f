"""The commands: what to run, what to print, which exit status.

Only the standard library is imported here; each command imports what it needs when it runs, so
that help and a mistyped option answer at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from fitcheck.arguments import parser
from fitcheck.ending import (
    BAD_INPUT,
    FAILED,
    INTERRUPTED,
    NOT_CONVERGED,
    OWN_FAULT,
    PASSED,
    Stopped,
    complain,
    ended,
    keep_trace,
    spoken,
)
from fitcheck.errors import FitcheckError
from fitcheck.progress import Progress
from fitcheck.units import MESH_UNITS, faults_in
from fitcheck.writing import refuse_device, write_one

if TYPE_CHECKING:
    from fitcheck.model.found.comparison import Comparison
    from fitcheck.model.result import Result
    from fitcheck.units import System


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return the exit status."""

    def command() -> int:
        options = parser(_COMMANDS).parse_args(arguments)
        with faults_in(getattr(options, "units", "metric")):
            return int(options.command(options))

    return ended(command)


# --- commands ---------------------------------------------------------------------------------


def _check(options: argparse.Namespace) -> int:
    from fitcheck.opened import scenario_of

    return _check_file(scenario_of(options.scenario), options)


def _demo(options: argparse.Namespace) -> int:
    print("The demo is an invented boat with an invented kit.", file=sys.stderr)
    return _check_file(_built_in("demo.toml"), options)


def _check_file(scenario: Path, options: argparse.Namespace) -> int:
    from fitcheck.pipeline import run
    from fitcheck.report import write_all, write_undrawn
    from fitcheck.view import picture_or_why, start_probe

    units: System = options.units
    folder = options.out or Path("fitcheck-out") / scenario.stem
    _refuse_file_in_the_way(folder)
    start_probe()
    tell = Progress(options.units)
    result = run(scenario, tell)
    files = write_undrawn(result, folder, units, options.decimal)
    spoken(lambda: _print_result(result, files, options))
    # All output is written; what follows may fail, or even end the process.
    picture, missing = picture_or_why(result, units, tell)
    files = write_all(result, folder, picture, units, missing, tell, options.decimal)
    tell(f"{len(files)} files in {folder}")
    return FAILED if result.verdict == "fail" else PASSED


def _print_result(result: Result, files: Sequence[Path], options: argparse.Namespace) -> None:
    from fitcheck.report import as_json, brief, first_screen, print_summary

    if options.printed == "all":
        print_summary(result, files, options.units)
    elif options.printed == "json":
        print(as_json(result), end="")
    elif options.printed == "brief":
        print(brief(result, options.units))
    else:
        print(f"\n{first_screen(result, files, options.units)}")


def _compare(options: argparse.Namespace) -> int:
    """Every scenario is saved as soon as it is done: in its files, and in the table so far."""
    from fitcheck.compare.scenarios import compare_scenarios
    from fitcheck.report import write_comparison

    if len(options.scenarios) < 2:
        raise FitcheckError("compare: name two scenario files or more")
    folder = options.out or Path("fitcheck-out") / "compare"
    _refuse_file_in_the_way(folder)
    tell = Progress(options.units)
    so_far: list[Comparison] = []

    def keep(found: Comparison) -> None:
        so_far[:] = [found]
        try:
            write_comparison(found, folder, options.units)
        except FitcheckError as error:
            tell(str(error))

    try:
        found = compare_scenarios(options.scenarios, folder, options.units, tell, keep)
    except KeyboardInterrupt as stop:
        for found in so_far:
            _print_compared(found, folder, options.units)
        said = f"stopped; what was done is above and in {folder}" if so_far else "stopped"
        raise Stopped(said, getattr(stop, "status", INTERRUPTED)) from None
    return _print_compared(found, folder, options.units)


def _print_compared(found: Comparison, folder: Path, units: System) -> int:
    """Print the table and why some are not in it; returns the worst status of any of them."""
    from fitcheck.report import print_comparison, write_comparison

    files: tuple[Path, ...] = ()
    unwritten = ""
    try:
        files = write_comparison(found, folder, units)
    except FitcheckError as error:
        unwritten = str(error)
    spoken(lambda: print_comparison(found, files, units))
    for one in found.candidates:
        if one.why:
            kept = f"; {keep_trace(one.trace)}" if one.trace else ""
            complain(f"\n{one.file}:\n{one.why}{kept}", PASSED)
    if unwritten:
        return complain(unwritten, BAD_INPUT)
    stopped = {one.stopped for one in found.candidates}
    if stopped & {"fault", "killed"}:
        return OWN_FAULT
    if "read" in stopped or any(one.why and one.ran for one in found.candidates):
        return BAD_INPUT
    if "converged" in stopped:
        return NOT_CONVERGED
    return FAILED if any(ran.verdict == "fail" for _, ran in found.ran) else PASSED


def _deviation(options: argparse.Namespace) -> int:
    from fitcheck.deviation import compare_meshes, print_deviation, write_deviation
    from fitcheck.opened import scenario_of
    from fitcheck.units import QuantityError, parse
    from fitcheck.view import deviation_picture, start_probe, tried

    try:
        limit = None if options.limit is None else parse(options.limit, "length")
    except QuantityError as error:
        raise FitcheckError(f"--limit: {error}") from error
    folder = options.out or Path("fitcheck-out") / options.mesh.stem
    _refuse_file_in_the_way(folder)
    start_probe()
    tell = Progress(options.units)
    found = compare_meshes(scenario_of(options.scenario), options.mesh, options.pairs, limit, tell)
    files = write_deviation(found, folder, None, options.units)
    spoken(lambda: print_deviation(found, files, options.units))
    picture, _ = tried(lambda: deviation_picture(found, units=options.units), tell)
    if picture is not None:
        write_deviation(found, folder, picture, options.units)
    return FAILED if found.verdict == "fail" else PASSED


def _refuse_file_in_the_way(folder: Path) -> None:
    """Before anything is calculated, refuse a folder that cannot be written."""
    refuse_device(folder)
    if folder.exists() and not folder.is_dir():
        raise FitcheckError(f"{folder}: is a file; give --out a folder")
    there = next((one for one in (folder, *folder.absolute().parents) if one.exists()), folder)
    if not there.is_dir():
        raise FitcheckError(f"{folder}: {there} is a file; give --out another folder")
    if not os.access(there, os.W_OK):
        raise FitcheckError(
            f"{folder}: cannot be written (no permission); give --out another folder"
        )


def _refuse_to_replace(file: Path) -> None:
    """Refuse an existing file: it may be somebody's work."""
    refuse_device(file)
    _refuse_file_in_the_way(file.parent)
    if os.path.lexists(file):
        raise FitcheckError(f"{file}: exists; choose another name or move it away")


def _view(options: argparse.Namespace) -> int:
    if options.picture is not None:
        return _view_picture(options.scenario, options.picture, options.units)
    from fitcheck.opened import Trial
    from fitcheck.view import no_display, show, start_probe, why_no_window

    if reason := no_display():
        return complain(reason, BAD_INPUT)
    start_probe()
    trial = Trial(options.scenario, Progress(options.units))  # opened while the probe still draws
    if reason := why_no_window():
        return complain(reason, BAD_INPUT)
    show(trial.result, trial.reread, options.units, trial)
    return FAILED if trial.result.verdict == "fail" else PASSED


def _view_picture(scenario: Path, file: Path, units: System) -> int:
    from fitcheck.opened import opened, opened_drawn
    from fitcheck.view import picture_or_why, probe

    refuse_device(file)
    _refuse_file_in_the_way(file.parent)
    tell = Progress()
    picture: bytes | None
    if kept := opened_drawn(scenario, units):
        result, picture = kept
    elif reason := probe().advice:
        return complain(reason, BAD_INPUT)
    else:
        result = opened(scenario, tell)
        picture, _ = picture_or_why(result, units, tell)
    if picture is None:
        return BAD_INPUT
    write_one(file, picture)
    print(file)
    return FAILED if result.verdict == "fail" else PASSED


def _explain(options: argparse.Namespace) -> int:
    from fitcheck.opened import explained
    from fitcheck.report import print_explanations

    tell = Progress(options.units)
    found = explained(options.scenario, options.name, options.number, options.state, tell)
    spoken(lambda: print_explanations(found, options.units))
    return PASSED


def _envelope(options: argparse.Namespace) -> int:
    from fitcheck.hydraulics import standing
    from fitcheck.report import print_standing, write_standing
    from fitcheck.scenario import read_kit

    folder = options.out or Path("fitcheck-out") / options.kit.stem
    _refuse_file_in_the_way(folder)
    found = standing(read_kit(options.kit))
    files = write_standing(found, folder, options.units)
    spoken(lambda: print_standing(found, files, options.units))
    return PASSED


def _scan(options: argparse.Namespace) -> int:
    from fitcheck.report import scan_rows, usable
    from fitcheck.scenario import starter
    from fitcheck.space import scan
    from fitcheck.view import scan_picture, start_probe, tried

    folder = options.out or Path("fitcheck-out") / options.mesh.stem
    _refuse_file_in_the_way(folder)
    if options.write is not None:
        _refuse_to_replace(options.write)
    start_probe()
    tell = Progress(options.units)
    look = scan(options.mesh, MESH_UNITS.get(options.unit), tell)
    rows = scan_rows(look, options.units)
    text = "".join(_laid(heading, words) for heading, words in rows)
    spoken(lambda: print(f"{options.mesh.name}\n\n{text}"))
    if options.write is None:
        print("Next: add --write FILE to write a scenario with all this, to be filled in")
    else:
        told = tuple(f"{heading}: {words}" for heading, words in rows)
        content = starter(options.mesh, look, told, options.write.parent).encode()
        _refuse_to_replace(options.write)
        write_one(options.write, content)
        print(f"Next: fill in what is marked, then: fitcheck check {options.write}")
    # All output is written; drawing may end the process.
    picture, _ = tried(lambda: scan_picture(look, options.units), tell)
    if picture is not None:
        print(f"Picture: {write_one(folder / 'scan.png', picture)}")
    return PASSED if usable(look) else FAILED


def _apply(options: argparse.Namespace) -> int:
    """Write one remedy; files that have changed since the result was written are refused."""
    from fitcheck.kept.packs import is_pack, unpack
    from fitcheck.opened import scenario_of
    from fitcheck.report import applicable
    from fitcheck.scenario import save_applied

    if pack := is_pack(options.result):
        there = unpack(options.result)
        found = applicable(there.result, there.scenario)
    else:
        found = applicable(options.result)
    if options.number is None:
        for number, remedy in enumerate(found.remedies, 1):
            print(f"{number}  {remedy.said.text(options.units)}")
        return PASSED
    if not 1 <= options.number <= len(found.remedies):
        named = f"1 to {len(found.remedies)}" if found.remedies else "none that names keys"
        raise FitcheckError(f"{options.result}: no remedy {options.number}; it holds {named}")
    changes = found.remedies[options.number - 1].changes
    scenario = scenario_of(options.result, own=True) if pack else found.scenario
    wanted = [(one.file, one.key, one.written(options.units)) for one in changes]
    written = save_applied(scenario, wanted)
    print(f"{written}: written; check it: fitcheck check {written}")
    return PASSED


def _pack(options: argparse.Namespace) -> int:
    """Write a pack; an existing file that is not a pack is kept."""
    from fitcheck.kept.packs import is_pack
    from fitcheck.opened import packed, scenario_of

    file = options.out or Path("fitcheck-out") / f"{scenario_of(options.place).stem}.zip"
    refuse_device(file)
    _refuse_file_in_the_way(file.parent)
    if file.exists() and not is_pack(file):
        raise FitcheckError(f"{file}: is there and is no pack; give --out another name")
    print(write_one(file, packed(options.place, Progress())))
    return PASSED


def _files(options: argparse.Namespace) -> int:
    """Whether every set of files is as one run left it; a folder without any is bad input."""
    from fitcheck.report import file_sets, set_words

    status = PASSED
    for folder in options.folders:
        found = file_sets(folder)
        if not found:
            seen = "holds no set of files" if folder.is_dir() else "there is no such folder"
            status = complain(f"{folder}: {seen}; name the folder that --out named", BAD_INPUT)
        for one in found:
            print(f"{one.manifest}: {set_words(one)}")
            if one.state != "whole" and status == PASSED:
                status = FAILED
    return status


def _rules(options: argparse.Namespace) -> int:
    from fitcheck.findings import rule_told, rules_table

    text = rules_table() if options.rule is None else rule_told(options.rule)
    spoken(lambda: print(text, end=""))
    return PASSED


def _laid(heading: str, words: str) -> str:
    """A heading and its sentence in 80 columns."""
    import textwrap

    lead = f"{heading:<13}"
    return textwrap.fill(words, 80, initial_indent=lead, subsequent_indent=" " * 13) + "\n"


# --- shared by the commands -------------------------------------------------------------------


def _built_in(name: str) -> Path:
    """A scenario that ships with the program, from the wheel or from a checkout."""
    here = Path(__file__).resolve().parent
    folders = (here / "data" / "scenarios", here.parent / "scenarios")
    return next(folder / name for folder in folders if (folder / name).exists())


_COMMANDS = {
    "check": _check,
    "demo": _demo,
    "compare": _compare,
    "deviation": _deviation,
    "view": _view,
    "explain": _explain,
    "envelope": _envelope,
    "scan": _scan,
    "apply": _apply,
    "pack": _pack,
    "files": _files,
    "rules": _rules,
}
