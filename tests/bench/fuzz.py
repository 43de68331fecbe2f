"""Thousands of damaged meshes and scenarios: no traceback, crash, timeout or memory exhaustion.

Usage: python -m tests.bench.fuzz [--meshes 10000] [--scenarios 5000] [--whole 200] [--seed 1]
[--file fuzz.jsonl] [--again]. Every input is read in a child process of its own, forked from one
that has imported everything, with a limit on address space and processor time. Of those that can
be read, `--whole` are checked to the end with their report. One record a line, so that a run can
be stopped and resumed; `--again` repeats failed inputs.

Failures are a signal, a traceback, an exit status other than 0, 1 or 2, a refusal of more than one
line per fault or without the file and a remedy, and files written despite a refusal. What is read
is compared with the good file: `same`, `moved` (as many triangles, others), `fewer` and `more`,
each `named` where the file's reading says so and `silent` where it does not.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import resource
import signal
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

import fitcheck.view
from fitcheck import cli
from fitcheck.errors import FitcheckError, MeshError, ScenarioError
from fitcheck.meshfiles.gate import RawMesh, read_mesh
from fitcheck.scenario import read_scenario
from tests.bench import spoilt_meshes, spoilt_scenarios
from tests.specimens.scenario_texts import KIT, LAYOUT

#: Address space beyond what the parent has, processor time and time of one child [bytes, s, s].
MEMORY, SECONDS, PATIENCE = 4_000_000_000, 60, 900
Record = dict[str, Any]
Try = Callable[[Path], Record]


# --- one input ----------------------------------------------------------------------------------


def tried(files: dict[str, bytes], act: Try) -> Record:
    """One input in a child process: result, time and memory.

    files : by name, the first one is the input; extra files written are reported
    """
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        for name, data in files.items():
            (Path(folder) / name).write_bytes(data)
        read_end, write_end = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read_end)
            _in_child(Path(folder) / next(iter(files)), write_end, act)
        os.close(write_end)
        with os.fdopen(read_end, "rb") as pipe:
            answer = pipe.read()
        _, status, used = os.wait4(child, 0)
        left = sorted({item.name for item in Path(folder).iterdir()} - set(files))
    record: Record = json.loads(answer) if answer else {"came": "crash", "said": ""}
    record["signal"] = os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
    record["seconds"] = round(used.ru_utime + used.ru_stime, 2)
    record["megabytes"] = round(used.ru_maxrss / 1000)
    if record["signal"]:
        record["wrong"] = f"signal {record['signal']}"
    elif record["came"] == "refused" and left:
        record["wrong"] = f"left {left}"
    return record


def _in_child(path: Path, write_end: int, act: Try) -> None:
    """Act with limits, report the result, and exit without cleanup."""
    with Path("/proc/self/statm").open() as file:
        now = int(file.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (now + MEMORY, now + MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    signal.alarm(PATIENCE)
    os.chdir(path.parent)
    quiet = io.StringIO()
    try:
        with contextlib.redirect_stdout(quiet), contextlib.redirect_stderr(quiet):
            record = act(path)
    except FitcheckError as error:
        record = {"came": "refused", "said": str(error)[:600], "wrong": _unclear(error, path)}
    except BaseException as error:
        where = traceback.extract_tb(error.__traceback__)[-1]
        record = {
            "came": "traceback",
            "said": traceback.format_exc()[-1500:],
            "wrong": f"{type(error).__name__} in {Path(where.filename).name}:{where.lineno}",
        }
    os.write(write_end, json.dumps(record).encode())
    os._exit(0)


def _unclear(error: FitcheckError, path: Path) -> str:
    """What a refusal lacks, "" if it has the problem, the place and the remedy."""
    if isinstance(error, MeshError):
        whole = error.file.startswith(path.name) and error.seen and error.remedy
        return "" if whole and "\n" not in str(error) else f"unclear: {error}"[:200]
    if isinstance(error, ScenarioError):
        bad = [fault for fault in error.faults if not (fault.text and fault.remedy and fault.key)]
        long = len(str(error)) > 100_000
        return (
            f"unclear: {bad[0]}"[:200] if bad else "more than 100,000 characters" if long else ""
        )
    return ""


# --- meshes -------------------------------------------------------------------------------------


def _keys(mesh: RawMesh) -> Counter[bytes]:
    """Triangles or points, rounded, whichever corner comes first."""
    if mesh.is_cloud:
        return Counter(row.tobytes() for row in np.round(mesh.points, 4) + 0.0)
    rows = np.round(mesh.triangles * (mesh.unit or 1.0), 4) + 0.0
    turned = (np.roll(rows, -step, axis=1).reshape(-1, 9) for step in range(3))
    return Counter(min(row.tobytes() for row in rows) for rows in zip(*turned, strict=True))


def reading(wanted: Counter[bytes]) -> Try:
    """Read a mesh and report how it differs from the good one."""

    def act(path: Path) -> Record:
        mesh = read_mesh(path)
        found = _keys(mesh)
        kept, given = (found & wanted).total(), wanted.total()
        total = found.total()
        kind = "fewer" if total < given else "more" if total > given else "moved"
        named = bool(mesh.doubts or mesh.dropped)
        name = "same" if found == wanted else f"{kind}, {'named' if named else 'silent'}"
        return {"came": name, "said": f"{kept} of {given} kept, {total} found", "wrong": ""}

    return act


def mesh_inputs(
    count: int, seed: int, folder: Path
) -> Iterator[tuple[str, str, Callable[[], Record]]]:
    """Id, name and trial of every mesh input."""
    good = spoilt_meshes.originals(folder)
    wanted = {}
    for name, data in good.items():
        (folder / name).write_bytes(data)
        wanted[name] = _keys(read_mesh(folder / name))
    none: Counter[bytes] = Counter()
    for number in range(count):
        name, data = spoilt_meshes.spoilt(good, number, seed)
        act = reading(wanted[name])
        yield f"mesh-{seed}-{number}", name, lambda n=name, d=data, a=act: tried({n: d}, a)  # type: ignore[misc]
    for number, (name, data) in enumerate(spoilt_meshes.made_up(good, folder) if count else ()):
        yield f"made-{number}", name, lambda n=name, d=data: tried({n: d}, reading(none))  # type: ignore[misc]


# --- scenarios ----------------------------------------------------------------------------------


def _trees(folder: Path) -> list[spoilt_scenarios.Tree]:
    spoilt_meshes.specimens.write_stl(folder / "room.stl", spoilt_meshes.ROOM)
    demo = spoilt_scenarios.SCENARIOS.parent / "meshes" / "demo_cad.stl"
    return [
        spoilt_scenarios.whole_demo(str(demo)),
        spoilt_scenarios.in_the_room(str(folder / "room.stl"), KIT, LAYOUT),
    ]


def read_only(path: Path) -> Record:
    """Read a scenario."""
    read_scenario(path)
    return {"came": "read", "said": "", "wrong": ""}


def checked(path: Path) -> Record:
    """Check a scenario to the end, with its report and without a rendered picture."""
    fitcheck.view.start_probe = lambda: None
    cli._picture = lambda *_: None
    out = path.parent / "out"
    said = io.StringIO()
    with contextlib.redirect_stderr(said):
        status = cli.main(["check", str(path), "--out", str(out)])
    last = said.getvalue().strip()[-600:]
    came = {0: "passed", 1: "failed", 2: "refused", 3: "not converged"}.get(status, "own fault")
    wrong = f"exit status {status}: {last}" if status not in (0, 1, 2, 3) else ""
    if status in (0, 1) and not (out / "result.json").is_file():
        wrong = "no result"
    return {"came": came, "said": last[-200:], "wrong": wrong}


def scenario_inputs(
    count: int, seed: int, folder: Path
) -> Iterator[tuple[str, str, Callable[[], Record]]]:
    """Id, damage and trial of every scenario input."""
    trees = _trees(folder)
    for number in range(count):
        tree, done = spoilt_scenarios.spoilt(trees, number, seed)
        data = spoilt_scenarios.written(tree).encode("utf-8", "surrogatepass")
        yield f"scenario-{seed}-{number}", done, lambda d=data: tried({"s.toml": d}, read_only)  # type: ignore[misc]


def whole_inputs(
    count: int, seed: int, folder: Path, records: dict[str, Record]
) -> Iterator[tuple[str, str, Callable[[], Record]]]:
    """Id, damage and trial of readable inputs, half meshes and half scenarios."""
    good = spoilt_meshes.originals(folder)
    trees = _trees(folder)
    for kind in ("mesh", "scenario"):
        known = (r for r in records.values() if r["id"].startswith(f"{kind}-{seed}-"))
        fit = [r for r in known if r["came"] not in ("refused", "traceback", "crash")]
        for record in fit[:: max(1, len(fit) // max(1, count // 2))][: count // 2]:
            number = int(record["id"].rpartition("-")[2])
            if kind == "mesh":
                name, data = spoilt_meshes.spoilt(good, number, seed)
                tree = spoilt_scenarios.in_the_room(name, KIT, LAYOUT)
                files = {"s.toml": spoilt_scenarios.written(tree).encode(), name: data}
            else:
                tree, _ = spoilt_scenarios.spoilt(trees, number, seed)
                files = {"s.toml": spoilt_scenarios.written(tree).encode("utf-8", "surrogatepass")}
            yield f"whole-{record['id']}", record["name"], lambda f=files: tried(f, checked)  # type: ignore[misc]


# --- all of them --------------------------------------------------------------------------------


def main() -> int:
    """Try what the file does not contain yet, and print a summary."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.fuzz")
    for kind, most in (("meshes", 10_000), ("scenarios", 5_000), ("whole", 200)):
        parser.add_argument(f"--{kind}", type=int, default=most)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--file", type=Path, default=Path("fuzz.jsonl"))
    parser.add_argument("--again", action="store_true", help="try once more what was wrong")
    given = parser.parse_args()
    if given.whole:
        _warm_up()
    records: dict[str, Record] = {}
    if given.file.exists():
        lines = given.file.read_text("utf-8").splitlines()
        records = {record["id"]: record for record in map(json.loads, lines)}
    with tempfile.TemporaryDirectory(prefix="fuzz-good-") as name, given.file.open("a") as out:
        folder = Path(name)
        for inputs in (
            lambda: mesh_inputs(given.meshes, given.seed, folder),
            lambda: scenario_inputs(given.scenarios, given.seed, folder),
            lambda: whole_inputs(given.whole, given.seed, folder, records),
        ):
            for key, done, act in inputs():
                if key in records and not (given.again and records[key]["wrong"]):
                    continue
                record = {"id": key, "name": done, **act()}
                records[key] = record
                out.write(json.dumps(record) + "\n")
                out.flush()
                if record["wrong"]:
                    print(f"{key} {done}: {record['wrong']}", flush=True)
    return _told(list(records.values()))


def _warm_up() -> None:
    """Check a good scenario here, so that every child has all kernels in memory."""
    with tempfile.TemporaryDirectory(prefix="fuzz-warm-") as name:
        path = Path(name) / "s.toml"
        path.write_text(spoilt_scenarios.written(_trees(Path(name))[0]), "utf-8")
        with contextlib.redirect_stdout(io.StringIO()):
            checked(path)


def _told(records: list[Record]) -> int:
    """Print a table of the results; returns 1 if there was any failure."""
    for kind in ("mesh", "made", "scenario", "whole"):
        own = [r for r in records if r["id"].startswith(f"{kind}-")]
        came = Counter(r["came"] for r in own)
        print(f"{kind}: {len(own):,} inputs; {dict(came.most_common())}")
        if own:
            slow, wide = (max(own, key=lambda r: r[key]) for key in ("seconds", "megabytes"))
            print(f"  most time {slow['seconds']} s, {slow['id']} {slow['name'][:80]}")
            print(f"  most memory {wide['megabytes']} MB, {wide['id']} {wide['name'][:80]}")
    silent = Counter(r["name"] for r in records if r["came"] == "fewer, silent")
    print(f"fewer triangles and silent, by file: {dict(silent.most_common())}")
    wrong = [r for r in records if r["wrong"]]
    print(f"wrong: {len(wrong)}")
    for what, count in Counter(r["wrong"][:100] for r in wrong).most_common(20):
        print(f"  {count} x {what}")
    print(f"processor time {sum(r['seconds'] for r in records) / 60:.1f} min")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
