"""The commands and their command-line options."""

from __future__ import annotations

import argparse
import difflib
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NoReturn

from fitcheck import __version__
from fitcheck.units import MESH_UNITS

Action = Callable[[argparse.Namespace], int]

EXIT_STATUS = """\
exit status: 0 nothing fails (cautions may remain), 1 something fails, 2 bad input,
3 the calculation did not converge, 4 a fault of the program itself"""


class _Parser(argparse.ArgumentParser):
    """Names the command or option that a mistyped one probably meant."""

    def error(self, message: str) -> NoReturn:
        hint = self._hint(message)
        super().error(f"{message}; {hint}" if hint else message)

    def _hint(self, message: str) -> str:
        found = re.search(r"(?:invalid choice:|unrecognized arguments:) '?([^\s']+)", message)
        if found is None:
            return ""
        word = found[1]
        if word.endswith(".toml"):
            alone = message.startswith("argument")
            return f"write fitcheck check {word}" if alone else "several go to fitcheck compare"
        known = [*self._option_string_actions]
        for action in self._actions:
            known += map(str, action.choices or ())
            if isinstance(action, argparse._SubParsersAction):
                known += [
                    name for one in action.choices.values() for name in one._option_string_actions
                ]
        close = difflib.get_close_matches(word, known, n=1)
        return f"did you mean {close[0]}?" if close else ""


def parser(actions: Mapping[str, Action]) -> argparse.ArgumentParser:
    """Every command with its options; actions : the function of each, by its name."""
    whole = _Parser(
        prog="fitcheck",
        description="Place a modular seawater watermaker in a scanned boat, route its hoses, "
        "check that its pump is fed, and list what to order.",
        epilog=EXIT_STATUS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action="version", version=f"fitcheck {__version__}")
    commands = whole.add_subparsers(metavar="COMMAND", required=True)

    check = _command(commands, "check", actions, "check a scenario and write the report")
    _scenario_argument(check)
    _out_option(check)
    _units_option(check)
    _printed_options(check)

    demo = _command(commands, "demo", actions, "check the built-in example (invented)")
    _out_option(demo)
    _units_option(demo)
    _printed_options(demo)

    compare = _command(commands, "compare", actions, "compare several scenarios side by side")
    compare.add_argument(
        "scenarios", metavar="SCENARIO", type=Path, nargs="+", help="two or more scenario files"
    )
    _out_option(compare, "fitcheck-out/compare")
    _units_option(compare)

    deviation = _command(
        commands, "deviation", actions, "compare another mesh with the boat's mesh"
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
        help="description of the other mesh, with four or more points picked on both (TOML)",
    )
    deviation.add_argument(
        "--limit", metavar="LENGTH", help='report deviations larger than this, e.g. "10 mm"'
    )
    _out_option(deviation, "fitcheck-out/ and the mesh's name")
    _units_option(deviation)

    view = _command(commands, "view", actions, "check a scenario and show it in a window")
    _scenario_argument(view)
    view.add_argument(
        "--picture", metavar="FILE", type=Path, help="write a PNG instead of opening a window"
    )
    _units_option(view)

    explain = _command(
        commands, "explain", actions, "print how a number was calculated, step by step"
    )
    _scenario_argument(explain)
    explain.add_argument("name", metavar="NAME", help="a line, a pump, a module, or scale")
    explain.add_argument(
        "number", metavar="NUMBER", nargs="?", default="", help="one of its numbers (default: all)"
    )
    explain.add_argument(
        "--state",
        metavar="STATE",
        default="",
        help="name of the state in which a line's loss is explained (default: the worst)",
    )
    _units_option(explain)

    envelope = _command(
        commands,
        "envelope",
        actions,
        "print the allowed suction length and lift of a kit, without a boat",
    )
    envelope.add_argument(
        "kit", metavar="KIT", type=Path, help="kit file, or a scenario that uses one (TOML)"
    )
    _out_option(envelope, "fitcheck-out/ and the file's name")
    _units_option(envelope)

    scan = _command(
        commands, "scan", actions, "print what a mesh file contains and what is missing to use it"
    )
    scan.add_argument("mesh", metavar="MESH", type=Path, help="mesh or point cloud file")
    scan.add_argument("--unit", choices=tuple(MESH_UNITS), help="unit of the file, if you know it")
    scan.add_argument(
        "--write",
        metavar="FILE",
        type=Path,
        help="write a commented scenario to fill in (never overwrites a file)",
    )
    scan.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        help="folder for the picture (default: fitcheck-out/ and the mesh's name)",
    )
    _units_option(scan)

    apply = _command(commands, "apply", actions, "write a remedy of a result into new input files")
    apply.add_argument(
        "result",
        metavar="RESULT",
        type=Path,
        help="result folder or pack",
    )
    apply.add_argument(
        "number",
        metavar="N",
        type=int,
        nargs="?",
        help="number of the remedy (default: list them)",
    )
    _units_option(apply)

    pack = _command(commands, "pack", actions, "put inputs, mesh and result into one file")
    pack.add_argument(
        "place", metavar="RESULT", type=Path, help="folder that check wrote, or a scenario file"
    )
    pack.add_argument(
        "--out", metavar="FILE", type=Path, help="the pack (default: fitcheck-out/NAME.zip)"
    )

    files = _command(
        commands, "files", actions, "check that the files of a folder are one complete set"
    )
    files.add_argument("folders", metavar="DIR", type=Path, nargs="+", help="folder to check")

    rules = _command(commands, "rules", actions, "explain the rules of the findings")
    rules.add_argument("rule", metavar="RULE", nargs="?", help="one rule in full (default: all)")
    return whole


def _command(
    commands: argparse._SubParsersAction[_Parser],
    name: str,
    actions: Mapping[str, Action],
    summary: str,
) -> argparse.ArgumentParser:
    command = commands.add_parser(
        name,
        help=summary,
        description=summary[0].upper() + summary[1:] + ".",
        epilog=EXIT_STATUS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.set_defaults(command=actions[name])
    return command


def _scenario_argument(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "scenario", metavar="SCENARIO", type=Path, help="scenario file, result folder or pack"
    )


def _out_option(
    command: argparse.ArgumentParser, default: str = "fitcheck-out/ and the scenario's name"
) -> None:
    command.add_argument(
        "--out", metavar="DIR", type=Path, help=f"folder for the files (default: {default})"
    )


def _printed_options(command: argparse.ArgumentParser) -> None:
    """Options for how much of the result is printed; the first screen by default."""
    printed = command.add_mutually_exclusive_group()
    choices = (
        ("all", "print every finding and table, not only the first screen"),
        ("brief", "print two lines: whether to cut joinery, whether to order hoses"),
        ("json", "print result.json without its list of files, and nothing else"),
    )
    for name, words in choices:
        printed.add_argument(
            f"--{name}", dest="printed", action="store_const", const=name, help=words
        )
    command.add_argument(
        "--decimal",
        choices=("point", "comma"),
        default="point",
        help="decimal sign in the CSV files; with comma, semicolons separate the cells",
    )


def _units_option(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--units", choices=("metric", "imperial"), default="metric", help="units of every amount"
    )
