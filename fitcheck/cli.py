"""The commands: what to run, what to print, which exit status.

Only the standard library is imported here; each command imports what it needs when it runs, so
that help and a mistyped option answer at once.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from fitcheck import __version__
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
from fitcheck.writing import refuse_device, write_one

if TYPE_CHECKING:
    from fitcheck.model.found.comparison import Comparison
    from fitcheck.model.found.scan import ScanLook
    from fitcheck.units import System

SCAN_UNITS = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 0.3048}

EXIT_STATUS = """\
exit status: 0 nothing fails (cautions may remain), 1 something fails, 2 the input cannot be used,
3 the numbers did not converge, 4 a fault of the program itself"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return the exit status."""

    def command() -> int:
        options = _parser().parse_args(arguments)
        return int(options.command(options))

    return ended(command)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="fitcheck",
        description="Place a modular seawater watermaker in a scanned boat, route its hoses, "
        "check that its pump is fed, and say what to order.",
        epilog=EXIT_STATUS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"fitcheck {__version__}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)

    check = _command(commands, "check", _check, "check a scenario and write the report")
    _scenario_argument(check)
    _out_option(check)
    _units_option(check)

    demo = _command(commands, "demo", _demo, "check the built-in invented example")
    _out_option(demo)
    _units_option(demo)

    compare = _command(commands, "compare", _compare, "lay several scenarios side by side")
    compare.add_argument(
        "scenarios", metavar="SCENARIO", type=Path, nargs="+", help="two scenario files or more"
    )
    _out_option(compare, "fitcheck-out/compare")
    _units_option(compare)

    deviation = _command(
        commands, "deviation", _deviation, "lay another mesh on a boat's and say where it differs"
    )
    deviation.add_argument(
        "scenario", metavar="SCENARIO", type=Path, help="scenario file, or a boat file alone"
    )
    deviation.add_argument("mesh", metavar="MESH", type=Path, help="the other mesh file")
    deviation.add_argument(
        "--pairs",
        metavar="FILE",
        type=Path,
        required=True,
        help="what is known of it, and four or more places picked on both (TOML)",
    )
    deviation.add_argument(
        "--limit", metavar="LENGTH", help='deviations beyond it are told, e.g. "10 mm"'
    )
    _out_option(deviation, "fitcheck-out/ and the mesh's name")
    _units_option(deviation)

    view = _command(commands, "view", _view, "check a scenario and look at it in a window")
    _scenario_argument(view)
    view.add_argument(
        "--picture", metavar="FILE", type=Path, help="write a PNG instead of opening a window"
    )
    _units_option(view)

    explain = _command(
        commands, "explain", _explain, "print the calculation of one line step by step"
    )
    _scenario_argument(explain)
    explain.add_argument("line", metavar="LINE", help="a line of the kit")
    explain.add_argument(
        "--state", metavar="STATE", default="", help="a state by its name; else the worst"
    )
    _units_option(explain)

    envelope = _command(
        commands,
        "envelope",
        _envelope,
        "say how far and how high a kit may stand, before any boat is measured",
    )
    envelope.add_argument(
        "kit", metavar="KIT", type=Path, help="kit file, or a scenario that uses one (TOML)"
    )
    _out_option(envelope, "fitcheck-out/ and the file's name")
    _units_option(envelope)

    new = _command(commands, "new", _new, "print a commented starter scenario for a mesh")
    new.add_argument("mesh", metavar="MESH", type=Path, help="mesh file of the compartment")
    new.add_argument("--out", metavar="FILE", type=Path, help="write it there, never over a file")

    scan = _command(
        commands, "scan", _scan, "say what a mesh file holds and what is missing to use it"
    )
    scan.add_argument("mesh", metavar="MESH", type=Path, help="mesh or point cloud file")
    _out_option(scan, "fitcheck-out/ and the mesh's name")
    scan.add_argument("--unit", choices=tuple(SCAN_UNITS), help="unit of the file, if you know it")

    apply = _command(
        commands, "apply", _apply, "write a remedy of a result into new files beside yours"
    )
    apply.add_argument(
        "result", metavar="RESULT", type=Path, help="folder that check wrote, or its result.json"
    )
    apply.add_argument(
        "number", metavar="N", type=int, nargs="?", help="number of the remedy; none: list them"
    )

    files = _command(
        commands, "files", _files, "say whether the files of a folder are one whole set"
    )
    files.add_argument("folders", metavar="DIR", type=Path, nargs="+", help="folder to look into")

    rules = _command(commands, "rules", _rules, "say what each rule of a finding means")
    rules.add_argument("rule", metavar="RULE", nargs="?", help="one rule in full; none: all")
    return parser


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    action: Callable[[argparse.Namespace], int],
    summary: str,
) -> argparse.ArgumentParser:
    command = commands.add_parser(
        name,
        help=summary,
        description=summary[0].upper() + summary[1:] + ".",
        epilog=EXIT_STATUS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.set_defaults(command=action)
    return command


def _scenario_argument(command: argparse.ArgumentParser) -> None:
    command.add_argument("scenario", metavar="SCENARIO", type=Path, help="scenario file (TOML)")


def _out_option(
    command: argparse.ArgumentParser, default: str = "fitcheck-out/ and the scenario's name"
) -> None:
    command.add_argument(
        "--out", metavar="DIR", type=Path, help=f"folder for the files (default: {default})"
    )


def _units_option(command: argparse.ArgumentParser) -> None:
    command.add_argument("--units", choices=("metric", "imperial"), default="metric")


# --- commands ---------------------------------------------------------------------------------


def _check(options: argparse.Namespace) -> int:
    return _check_file(options.scenario, options.out, options.units)


def _demo(options: argparse.Namespace) -> int:
    print("The demo is an invented boat with an invented kit.", file=sys.stderr)
    return _check_file(_built_in("demo.toml"), options.out, options.units)


def _check_file(scenario: Path, out: Path | None, units: System) -> int:
    from fitcheck.pipeline import run
    from fitcheck.report import print_summary, write_all, write_undrawn
    from fitcheck.view import picture_or_why, start_probe

    folder = out or Path("fitcheck-out") / scenario.stem
    _refuse_file_in_the_way(folder)
    start_probe()
    tell = Progress()
    result = run(scenario, tell)
    files = write_undrawn(result, folder, units)
    spoken(lambda: print_summary(result, files, units))
    # All is said and written; what follows may fail, even take the process with it.
    picture, missing = picture_or_why(result, units, tell)
    files = write_all(result, folder, picture, units, missing, tell)
    tell(f"{len(files)} files in {folder}")
    return FAILED if result.verdict == "fail" else PASSED


def _compare(options: argparse.Namespace) -> int:
    """Every scenario is kept as soon as it is done: in its files, and in the table so far."""
    from fitcheck.compare.scenarios import compare_scenarios
    from fitcheck.report import write_comparison

    if len(options.scenarios) < 2:
        raise FitcheckError("compare: name two scenario files or more")
    folder = options.out or Path("fitcheck-out") / "compare"
    _refuse_file_in_the_way(folder)
    tell = Progress()
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
    """Print the table and why some are not in it; the worst that happened to any of them."""
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
    from fitcheck.compare.meshes import compare_meshes
    from fitcheck.report import print_deviation, write_deviation
    from fitcheck.units import QuantityError, parse
    from fitcheck.view import deviation_picture, start_probe, tried

    try:
        limit = None if options.limit is None else parse(options.limit, "length")
    except QuantityError as error:
        raise FitcheckError(f"--limit: {error}") from error
    folder = options.out or Path("fitcheck-out") / options.mesh.stem
    _refuse_file_in_the_way(folder)
    start_probe()
    tell = Progress()
    found = compare_meshes(options.scenario, options.mesh, options.pairs, limit, tell)
    files = write_deviation(found, folder, None, options.units)
    spoken(lambda: print_deviation(found, files, options.units))
    picture, _ = tried(lambda: deviation_picture(found, units=options.units), tell)
    if picture is not None:
        write_deviation(found, folder, picture, options.units)
    return FAILED if found.verdict == "fail" else PASSED


def _refuse_file_in_the_way(folder: Path) -> None:
    """Refuse, before anything is computed, a folder that cannot be written."""
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


def _view(options: argparse.Namespace) -> int:
    if options.picture is not None:
        return _view_picture(options.scenario, options.picture, options.units)
    from fitcheck.opened import Trial
    from fitcheck.view import show, why_no_window

    if reason := why_no_window():
        return complain(reason, BAD_INPUT)
    trial = Trial(options.scenario, Progress())
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
    from fitcheck.report import print_explanation

    found = explained(options.scenario, options.line, options.state, Progress())
    spoken(lambda: print_explanation(found, options.units))
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


def _new(options: argparse.Namespace) -> int:
    from fitcheck.scenario import starter
    from fitcheck.space import describe

    folder = options.out.parent if options.out else Path()
    text = starter(options.mesh, describe(options.mesh), folder)
    if options.out is None:
        print(text, end="")
        return PASSED
    if options.out.exists():
        raise FitcheckError(f"{options.out}: exists; choose another name or move it away")
    write_one(options.out, text.encode())
    print(f"{options.out}: fill in what is marked, then: fitcheck check {options.out}")
    return PASSED


def _scan(options: argparse.Namespace) -> int:
    from fitcheck.report import scan_rows, usable, write_scan
    from fitcheck.space import scan
    from fitcheck.view import start_probe

    folder = options.out or Path("fitcheck-out") / options.mesh.stem
    _refuse_file_in_the_way(folder)
    start_probe()
    tell = Progress()
    look = scan(options.mesh, SCAN_UNITS.get(options.unit), tell)
    rows = scan_rows(look)
    text = "".join(_laid(heading, words) for heading, words in rows)
    files = [_boat_file(folder, options.mesh, look, rows)]
    said = write_scan(folder, options.mesh.name, text, rows, None)
    spoken(lambda: print(f"{options.mesh.name}\n\n{text}"))
    # All is said and written; drawing may take the process with it.
    if (drawn := _scan_picture(look, tell)) is not None:
        said = write_scan(folder, options.mesh.name, text, rows, drawn)
    files += said
    print("Files: " + ", ".join(str(file) for file in files))
    print(f"Next: fill in what is marked, then: fitcheck check {files[0]}")
    return PASSED if usable(look) else FAILED


def _apply(options: argparse.Namespace) -> int:
    """Write one remedy; files that have changed since the result was written are refused."""
    from fitcheck.report import applicable
    from fitcheck.scenario import save_applied

    found = applicable(options.result)
    if options.number is None:
        for number, remedy in enumerate(found.remedies, 1):
            print(f"{number}  {remedy.text}")
        return PASSED
    if not 1 <= options.number <= len(found.remedies):
        named = f"1 to {len(found.remedies)}" if found.remedies else "none that names keys"
        raise FitcheckError(f"{options.result}: no remedy {options.number}; it holds {named}")
    changes = found.remedies[options.number - 1].changes
    written = save_applied(found.scenario, [(one.file, one.key, one.value) for one in changes])
    print(f"{written}: written; check it: fitcheck check {written}")
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


def _boat_file(
    folder: Path, mesh: Path, look: ScanLook, rows: tuple[tuple[str, str], ...]
) -> Path:
    """Write a scenario to begin with; one that is there is somebody's work and stays."""
    from fitcheck.report import unit_word
    from fitcheck.scenario import Offered, starter

    seen = look.preview
    unit = "" if look.unit is None else unit_word(look.unit)
    offered = Offered(
        findings=tuple(f"{heading}: {words}" for heading, words in rows),
        unit=unit,
        unit_from="the file itself says so" if look.unit_from == "file" else "as told to scan",
        inside=None if seen is None else seen.inside,
        eyes=() if seen is None else seen.eyes,
        stations=seen is not None and seen.stations,
    )
    path, number = folder / f"{mesh.stem}.toml", 2
    while path.exists():
        path, number = folder / f"{mesh.stem}-{number}.toml", number + 1
    return write_one(path, starter(mesh, look, folder, offered).encode())


def _laid(heading: str, words: str) -> str:
    """A heading and its sentence in 80 columns."""
    import textwrap

    lead = f"{heading:<13}"
    return textwrap.fill(words, 80, initial_indent=lead, subsequent_indent=" " * 13) + "\n"


def _scan_picture(look: ScanLook, tell: Progress) -> bytes | None:
    """A picture of a scan, or None with the reason told."""
    from fitcheck.view import scan_picture, tried

    drawn, _ = tried(lambda: scan_picture(look), tell)
    if drawn is not None:
        tell("Drew the picture.")
    return drawn


# --- what the commands share ------------------------------------------------------------------


class Progress:
    """Prints each step with the time since the last one, to standard error."""

    def __init__(self) -> None:
        self._last = time.perf_counter()
        if not _compiled():
            self("compiling as it goes, first run only: about three minutes")

    def __call__(self, step: str) -> None:
        now = time.perf_counter()
        complain(f"{now - self._last:6.2f} s  {step}", PASSED)
        self._last = now


def _compiled() -> bool:
    """Whether an earlier run has left its compiled kernels beside the source."""
    return any(Path(__file__).resolve().parent.rglob("__pycache__/*.nbi"))


def _built_in(name: str) -> Path:
    """A scenario that ships with the program, from the wheel or from a checkout."""
    here = Path(__file__).resolve().parent
    folders = (here / "data" / "scenarios", here.parent / "scenarios")
    return next(folder / name for folder in folders if (folder / name).exists())
