"""Sets of files that identify the run that wrote them, and a writer that is killed."""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

from fitcheck.report.files import replace_all, set_state


def a_set(mark: int) -> dict[str, bytes]:
    """Six files with the same number; every other set lacks the scene."""
    names = ["report.html", "hoses.csv", "order.csv", "compartment.ply", "scene.glb"]
    contents = {name: str(mark).encode() * 20_000 for name in names[: 5 - mark % 2]}
    return contents | {"result.json": json.dumps({"mark": mark}, indent=1).encode() + b"\n"}


def is_one_set(folder: Path) -> bool:
    """Whether all files of the folder have the number of its manifest, and there are no others."""
    mark = json.loads((folder / "result.json").read_text())["mark"]
    wanted = a_set(mark)
    there = {path.name for path in folder.iterdir() if path.name != ".fitcheck-new"}
    same = all(
        (folder / name).read_bytes() == content
        for name, content in wanted.items()
        if name != "result.json" and name in there
    )
    return there == set(wanted) and same


def forked(work: Callable[[], object]) -> int:
    """A child that does the work and ends; nothing is imported again. Returns its pid."""
    child = os.fork()
    if child == 0:
        try:
            work()
        except BaseException as error:
            sys.stderr.write(f"{error!r}\n")
            os._exit(1)
        os._exit(0)
    return child


def write_for_ever(folder: Path, first: int) -> None:
    """Write one set after the other until this process is killed."""
    while True:
        replace_all(folder, a_set(first))
        first += 1


def kill_once(folder: Path, first: int, wait: float) -> tuple[bool, bool]:
    """Kill a writer after a while; whether moves were left to do, and whether one set
    is complete.
    """
    child = forked(lambda: write_for_ever(folder, first))
    time.sleep(wait)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    left = (folder / ".fitcheck-ready").exists()
    return left, set_state(folder) == "whole" and is_one_set(folder)
