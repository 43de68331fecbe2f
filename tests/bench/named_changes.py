"""Whether each change that a "not yet" names removes its reason once it is made.

    python -m tests.bench.named_changes FOLDER [dangers | sound | shipped | NAME | FILE.toml ...]

Every reason of every layout must say what would make it a yes; where it names keys to write, they
are written into a copy, which is run again. A line each; a layout that stands in FOLDER/done.jsonl
is not run again, so that a run can be ended at any time and taken up later.
"""

from __future__ import annotations

import json
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from fitcheck.errors import FitcheckError
from fitcheck.model.finding import Change, Finding
from fitcheck.model.result import Result
from fitcheck.pipeline import run
from tests import ROOT
from tests.layouts import dangers, sound
from tests.specimens.apply_changes import apply_changes

#: A reason without a remedy; one that remains; a file refused; a new reason.
_WRONG = ("silent", "stays", "refused", "brings")
_SHIPPED = ("demo", "demo_cad", "demo_low_pump", "fails", "captured_room")
Row = dict[str, Any]


def main(arguments: list[str]) -> int:
    """Try every layout of the named sets that was not tried before."""
    folder, sets = Path(arguments[0]), arguments[1:] or ["shipped", "dangers", "sound"]
    folder.mkdir(parents=True, exist_ok=True)
    done = folder / "done.jsonl"
    rows = [json.loads(line) for line in done.read_text().splitlines()] if done.exists() else []
    known = {row["layout"] for row in rows}
    for name, write in _layouts(sets):
        if name not in known:
            row = _tried(name, write, folder / name)
            rows.append(row)
            with done.open("a") as file:
                file.write(json.dumps(row) + "\n")
            _print(row)
    brought = sum(bool(row["brings"]) for row in rows)
    print(f"{brought} layouts get a reason that was not there")
    wrong = sum(bool(row["silent"] or row["stays"] or row["refused"]) for row in rows)
    print(f"{len(rows)} layouts, {sum(row['tried'] for row in rows)} changes made, {wrong} wrong")
    return wrong > 0


def _layouts(sets: list[str]) -> Iterator[tuple[str, Callable[[Path], Path]]]:
    """Name and writer of every layout: of whole sets, one of a set by its name, files."""
    made = {
        "dangers": {row.bay.name: row.bay.write for row in dangers()},
        "sound": {bay.name: bay.write for bay in sound()},
        "shipped": {name: _copier(ROOT / "scenarios" / f"{name}.toml") for name in _SHIPPED},
    }
    each = {name: write for rows in made.values() for name, write in rows.items()}
    for name in sets:
        if name in made:
            yield from made[name].items()
        elif name in each:
            yield name, each[name]
        else:
            yield Path(name).stem, _copier(Path(name))


def _copier(path: Path) -> Callable[[Path], Path]:
    """Copies a scenario's folder and what stands beside it as meshes."""

    def write(folder: Path) -> Path:
        there = folder / path.parent.name
        there.mkdir(parents=True, exist_ok=True)
        for file in path.parent.iterdir():
            if file.suffix in (".toml", ".stl", ".ply", ".glb"):
                shutil.copy(file, there / file.name)
        meshes = folder / "meshes"
        if not meshes.exists() and (path.parent.parent / "meshes").exists():
            meshes.symlink_to((path.parent.parent / "meshes").resolve())
        return there / path.name

    return write


def _tried(name: str, write: Callable[[Path], Path], folder: Path) -> Row:
    """Run a layout, then again for every set of changes that its reasons name."""
    began = time.perf_counter()
    row: Row = {"layout": name, "reasons": 0, "tried": 0, **{kind: [] for kind in _WRONG}}
    try:
        reasons = _reasons(run(write(folder / "as_it_is")))
    except FitcheckError as error:
        return row | {"refused": [_line(str(error))]}
    row["reasons"] = len(reasons)
    row["silent"] = [_key(one) for one in reasons if one.remedy is None or not one.remedy.text]
    asked: dict[tuple[Change, ...], list[Finding]] = {}
    for one in reasons:
        if one.remedy is not None and one.remedy.changes:
            asked.setdefault(one.remedy.changes, []).append(one)
    for number, (changes, meant) in enumerate(asked.items()):
        row["tried"] += 1
        words = ", ".join(f"{one.key} = {one.value}" for one in changes)
        scenario = write(folder / str(number))
        apply_changes(
            [{"file": c.file, "key": c.key, "value": c.value} for c in changes], scenario.parent
        )
        try:
            left = {_key(one) for one in _reasons(run(scenario))}
        except FitcheckError as error:
            row["refused"].append(f"{words}: {_line(str(error))}")
            continue
        new = sorted(left - {_key(one) for one in reasons})
        row["brings"] += [f"{one} after {words}" for one in new]
        row["stays"] += [f"{_key(one)} after {words}" for one in meant if _key(one) in left]
    return row | {"seconds": round(time.perf_counter() - began)}


def _reasons(result: Result) -> list[Finding]:
    rows = (*result.cut_joinery.reasons, *result.order_hoses.reasons)
    return list({id(one): one for one in rows}.values())


def _key(finding: Finding) -> str:
    return f"{finding.rule} of {finding.subject}"


def _line(text: str) -> str:
    return " ".join(text.split())[:200]


def _print(row: Row) -> None:
    wrong = [f"{kind}: {one}" for kind in _WRONG for one in row[kind]]
    print(
        f"{row['layout']}: {row['reasons']} reasons, {row['tried']} changes made, "
        f"{row.get('seconds', 0)} s" + "".join(f"\n    {one}" for one in wrong),
        flush=True,
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
