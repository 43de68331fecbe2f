"""Kill a process that writes sets of files at random moments: python -m tests.bench.kill_writer.

After every kill the folder must hold one whole set; what a reader sees before that is counted.
"""

from __future__ import annotations

import json
import random
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from fitcheck.report.files import _listed, replace_all, set_state

ROOT = Path(__file__).resolve().parent.parent.parent


def a_set(mark: int) -> dict[str, bytes]:
    """Six files that all say the same number; every other set lacks the scene."""
    names = ["report.html", "hoses.csv", "order.csv", "compartment.ply", "scene.glb"]
    contents = {name: str(mark).encode() * 20_000 for name in names[: 5 - mark % 2]}
    return contents | {"result.json": json.dumps({"mark": mark}, indent=1).encode() + b"\n"}


def write_for_ever(folder: Path, first: int) -> None:
    """Write one set after the other until somebody kills this process."""
    print("ready", flush=True)
    while True:
        replace_all(folder, a_set(first))
        first += 1


def is_one_set(folder: Path) -> bool:
    """Whether all files of the folder say the number of its manifest, and none is too many."""
    mark = json.loads((folder / "result.json").read_text())["mark"]
    wanted = a_set(mark)
    there = {path.name for path in folder.iterdir() if path.name != ".fitcheck-new"}
    same = all(
        (folder / name).read_bytes() == content
        for name, content in wanted.items()
        if name != "result.json" and name in there
    )
    return there == set(wanted) and same


def kill_once(folder: Path, first: int, wait: float) -> tuple[bool, bool]:
    """Kill a writer after a while; whether moves were left over, and whether one set stands."""
    code = f"import sys; from pathlib import Path; from {__name__} import write_for_ever; "
    code = code.replace("__main__", "tests.bench.kill_writer")
    code += f"write_for_ever(Path(sys.argv[1]), {first})"
    command = [sys.executable, "-c", code, str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=ROOT) as child:
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(wait)
        child.kill()
    left = (folder / ".fitcheck-ready").exists()
    return left, set_state(folder) == "whole" and is_one_set(folder)


def main() -> None:
    """200 moments in one folder."""
    random.seed(13)
    left = mixed = 0
    with TemporaryDirectory() as name:
        folder = Path(name)
        replace_all(folder, a_set(0))
        for number in range(int(sys.argv[1]) if len(sys.argv) > 1 else 200):
            moves, whole = kill_once(folder, 1000 * number, random.uniform(0.0, 0.02))
            left += moves
            mixed += not whole
        listed = len(_listed(folder / "result.json"))
    print(f"killed {number + 1} times; moves left over {left}; mixed {mixed}; {listed} listed")


if __name__ == "__main__":
    main()
