"""Kill what writes sets of files at random moments: python -m tests.bench.kill_writer OUT ...

kills OUT [200]    a prepared result written over and over by the real writer, killed within it
runs OUT [20]      the whole check of the drawn demo, killed anywhere from start to end
pairs OUT [20]     two writers at once in one folder

Prints a line a trial and keeps it in OUT/NAME.txt: a second call goes on where the first ended.
After every trial the folder must hold one whole set; what a reader sees before that is counted.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from fitcheck.report.files import replace_all, set_state
from tests import ROOT
from tests.specimens.file_sets import a_set, forked, is_one_set, kill_once

SCENARIO = ROOT / "scenarios" / "demo_cad.toml"


def in_turn(folder: Path, first: int) -> tuple[bool, bool]:
    """Two writers of 20 sets each at once: whether both ended well, and whether one set stands."""
    children = [
        forked(lambda at=at: [replace_all(folder, a_set(at + 2 * n)) for n in range(20)])  # type: ignore[misc]
        for at in (first, first + 101)
    ]
    ended = [os.waitpid(child, 0)[1] == 0 for child in children]
    return all(ended), set_state(folder) == "whole" and is_one_set(folder)


def kill_run(folder: Path, number: int, wait: float) -> tuple[bool, bool]:
    """Kill a whole check; whether moves were left over, and whether a set stands, whole."""
    command = [sys.executable, "-m", "fitcheck", "check", str(SCENARIO), "--out", str(folder)]
    quiet = subprocess.DEVNULL
    with subprocess.Popen(
        command, stdout=quiet, stderr=quiet, cwd=ROOT, start_new_session=True
    ) as child:
        try:
            child.wait(wait)
        except subprocess.TimeoutExpired:
            os.killpg(child.pid, signal.SIGKILL)
    left = (folder / ".fitcheck-ready").exists()
    return left, set_state(folder) == "whole"


def trials(what: str, out: Path, count: int) -> None:
    """Those not yet in the file, each told as it ends; then the sum of all."""
    out.mkdir(parents=True, exist_ok=True)
    folder, log = out / f"{what}-set", out / f"{what}.txt"
    done = log.read_text().splitlines() if log.exists() else []
    longest = 0.0
    if what == "runs":
        before = time.perf_counter()
        kill_run(folder, 0, 3600.0)
        longest = 1.1 * (time.perf_counter() - before)
    elif not folder.exists():
        replace_all(folder, a_set(0))
    for number in range(len(done), count):
        wait = random.Random(number).random()
        if what == "runs":
            first, whole = kill_run(folder, number, wait * longest)
        elif what == "kills":
            first, whole = kill_once(folder, 1000 * (number + 1), 0.2 * wait)
        else:
            first, whole = in_turn(folder, 1000 * (number + 1))
        done.append(f"{number} {wait:.4f} {first} {'whole' if whole else 'MIXED'}")
        with log.open("a") as file:
            file.write(done[-1] + "\n")
        print(done[-1], flush=True)
    mixed = sum(row.endswith("MIXED") for row in done)
    first = sum(" True " in row for row in done)
    told = "both ended well" if what == "pairs" else "moves left over"
    print(f"{what}: {len(done)} trials, {told} {first}, mixed {mixed}")


if __name__ == "__main__":
    default = 200 if sys.argv[1] == "kills" else 20
    trials(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else default)
