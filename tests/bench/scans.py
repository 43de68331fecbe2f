"""The acceptance run over simulated scans: what is called free, compared with the truth.

    python -m tests.bench.scans FILE              30 held-out bays at three severities
    python -m tests.bench.scans FILE --tuning N   N tuning bays of every shape instead
    python -m tests.bench.scans FILE --simulator second   the same of the other simulator's scans
    python -m tests.bench.scans FILE --rays       the measured rays of the scans in their files too
    python -m tests.bench.scans FILE --table      the table of what FILE holds
    python -m tests.bench.scans --rooms MESH...   captured closed rooms with holes punched in them

One line of JSON is added to FILE per scan; a run that was stopped goes on where it was. FILE holds
scans of one simulator.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from fitcheck.errors import FitcheckError, MeshError
from fitcheck.meshfiles.gate import read_mesh
from fitcheck.space import survey
from tests import specimens
from tests.scans import SEVERITIES, second, seeds
from tests.scans import scan as first
from tests.scans.accepted import Taken, accepted_boxes, accepted_hoses, taken_line
from tests.scans.account import account
from tests.scans.boxes import KnownBox, boxes_line, known_boxes
from tests.scans.rooms import punch, room_account
from tests.specimens.mesh_files import write_cloud

PITCH = 0.020
#: Boxes to accept, places tried for them, hoses to route; harsh scans leave room for few.
WANTED = {"light": (6, 100, 3), "middle": (6, 100, 3), "harsh": (12, 500, 6)}
#: Boxes of each kind whose true gap is known before they are judged.
KNOWN = 30
#: Of each simulator: its shapes, its tuning and held-out seeds, what makes a scan.
SIMULATORS: dict[str, tuple[tuple[str, ...], Any, Any, Any]] = {
    "first": (seeds.SHAPES, seeds.tuning_seed, seeds.held_out_seeds, first.make_scan),
    "second": (second.FAMILIES, second.tuning_seed, second.held_out_seeds, second.make_scan),
}

Row = dict[str, Any]


def jobs(simulator: str, tuning: int) -> Iterator[tuple[str, int, str]]:
    """Shape, seed and severity of every scan of a run."""
    shapes, tuning_seed, held_out_seeds, _ = SIMULATORS[simulator]
    for number in range(tuning or 10):
        for shape in shapes:
            for severity in SEVERITIES:
                if tuning:
                    yield shape, tuning_seed(number), severity
                else:
                    yield shape, held_out_seeds(shape, acceptance=True)[number], severity


def run_one(
    simulator: str, shape: str, seed: int, severity: str, *, held_out: bool, rays: bool
) -> Row:
    """Scan, survey, count, judge known boxes, place others, lay hoses."""
    began = time.process_time()
    scan = SIMULATORS[simulator][3](shape, seed, severity, acceptance=held_out)
    scanned = time.process_time()
    row: Row = {"simulator": simulator, "shape": shape, "seed": seed, "severity": severity}
    with tempfile.TemporaryDirectory() as folder:
        try:
            space, row["level"] = _survey(scan, Path(folder) / "scan.ply", rays=rays)
        except FitcheckError as refusal:
            return row | {"refused": str(refusal)}
    surveyed = time.process_time()
    row |= dataclasses.asdict(account(scan, space))
    row["as_seen"] = dataclasses.asdict(account(scan, space.as_seen or space))
    counted = time.process_time()
    known = known_boxes(scan, space, KNOWN, np.random.default_rng([seed, 1]))
    row["known"] = [dataclasses.asdict(box) for box in known]
    judged = time.process_time()
    rng = np.random.default_rng(seed)
    wanted, tries, laid = WANTED[severity]
    boxes, _, _ = accepted_boxes(scan, space, wanted, tries, rng)
    boxed = time.process_time()
    # Hoses run between small boxes, which leave room for them.
    _, ends, _ = accepted_boxes(scan, space, 12, 2 * tries, rng, 0.13)
    hoses = accepted_hoses(scan, space, ends, laid, rng)
    ended = time.process_time()
    row["taken"] = [dataclasses.asdict(taken) for taken in (*boxes, *hoses)]
    row["accuracy"] = space.accuracy
    row["seconds"] = {
        "scan": scanned - began,
        "survey": surveyed - scanned,
        "account": counted - surveyed,
        "known boxes": judged - counted,
        "boxes": boxed - judged,
        "hoses": ended - boxed,
    }
    return row


def room(path: Path, seed: int) -> str:
    """One captured room with holes punched: what is called free, what is taken for clear."""
    triangles = np.asarray(read_mesh(path).triangles, dtype=np.float64)
    punched = punch(triangles, seed)
    with tempfile.TemporaryDirectory() as folder:
        boat = punched.boat(Path(folder) / "room.ply")
        space = survey(specimens.scenario(boat, layout=specimens.layout(pitch=PITCH)))
    counted = room_account(punched, space)
    rng = np.random.default_rng(seed)
    boxes, _, _ = accepted_boxes(punched, space, 10, 200, rng)
    _, ends, _ = accepted_boxes(punched, space, 12, 200, rng, 0.13)
    hoses = accepted_hoses(punched, space, ends, 5, rng)
    least = [min((t.true for t in some), default=np.nan) for some in (boxes, hoses)]
    return (
        f"{path.name} seed {seed}: air {counted.air:.0f} L, called free behind a surface "
        f"{counted.outside:.2f} L, missed {100 * counted.missed:.1f} %, seen from no viewpoint "
        f"{100 * counted.unseen:.1f} %; taken {len(boxes)} boxes, least true gap "
        f"{1e3 * least[0]:.0f} mm, and {len(hoses)} hoses, {1e3 * least[1]:.0f} mm"
    )


def _survey(scan: Any, path: Path, *, rays: bool = False) -> tuple[Any, str]:
    """The space by the waterline, or by the phone's own up axis where that is refused."""
    layout = specimens.layout(pitch=PITCH)
    framed = _framed(scan, path.parent) if rays else {}
    boat = scan.boat(path, **framed)
    if not boat.waterline:
        return survey(specimens.scenario(boat, layout=layout)), "datum"
    try:
        return survey(specimens.scenario(boat, layout=layout)), "waterline"
    except MeshError:
        boat = scan.boat(path, waterline=(), datum=scan.datum(), **framed)
        return survey(specimens.scenario(boat, layout=layout)), "datum"


def _framed(scan: Any, folder: Path) -> dict[str, str]:
    """The keys of a boat with measured rays, and their files."""
    stations, points, frame = scan.rays()
    cloud = write_cloud(folder / "rays.ply", points, frame=frame)
    listed = folder / "stations.csv"
    rows = [",".join(map(str, (n, *place))) for n, place in enumerate(stations.tolist())]
    listed.write_text("\n".join(["frame,x,y,z", *rows]) + "\n")
    return {"rays": str(cloud), "stations": str(listed)}


def table(rows: list[Row]) -> str:
    """Numbers per severity and shape, what was accepted as clear, scans that got no answer."""
    refused, rows = [r for r in rows if "refused" in r], [r for r in rows if "refused" not in r]
    lines = [
        f"no answer: {r['severity']} {r['shape']} {r['seed']}: {r['refused']}" for r in refused
    ]
    if not rows:
        return "\n".join(lines)
    lines += [
        f"{'':22}{'scans':>6}{'in solids':>11}{'worst':>7}{'outside':>9}{'worst':>7}"
        f"{'lids':>9}{'worst':>7}{'missed':>8}{'unseen':>8}{'more':>7}{'worst':>7}"
        f"{'given up of seen once':>23}{'twice':>7}{'worst':>7}"
    ]
    for severity in SEVERITIES:
        for shape in (*dict.fromkeys(r["shape"] for r in rows), "all"):
            some = [r for r in rows if r["severity"] == severity and shape in (r["shape"], "all")]
            if some:
                lines.append(_line(f"{severity} {shape}", some))
        seen = [r["as_seen"] for r in rows if r["severity"] == severity]
        if seen:
            lines.append(_line(f"{severity}, glimpsed too", seen))
    lines.append("")
    for severity in SEVERITIES:
        for kind in ("roomy", "near"):
            known = [
                KnownBox(**box)
                for r in rows
                if r["severity"] == severity
                for box in r["known"]
                if box["kind"] == kind
            ]
            lines.append(boxes_line(severity, kind, known))
    lines.append("")
    for severity in SEVERITIES:
        for kind in ("box", "hose"):
            taken = [
                Taken(**t)
                for r in rows
                if r["severity"] == severity
                for t in r["taken"]
                if t["kind"] == kind
            ]
            lines.append(taken_line(severity, kind, taken))
    used = {key: sum(r["seconds"][key] for r in rows) for key in rows[0]["seconds"]}
    lines.append("")
    lines.append("processor time: " + ", ".join(f"{k} {v:.0f} s" for k, v in used.items()))
    return "\n".join(lines)


def _line(name: str, rows: list[Row]) -> str:
    solid, out = [r["in_solids"] for r in rows], [r["outside"] for r in rows]
    lids = [r["beyond_lids"] for r in rows]
    more = [100 * (r["missed"] - r["unseen"]) for r in rows]
    once, twice = ([100 * r[f"given_up_{n}"] for r in rows] for n in ("once", "twice"))
    return (
        f"{name:22}{len(rows):6d}{sum(solid):9.2f} L{max(solid):7.2f}{sum(out):7.2f} L"
        f"{max(out):7.2f}{sum(lids):7.2f} L{max(lids):7.2f}"
        f"{100 * np.median([r['missed'] for r in rows]):7.1f}%"
        f"{100 * np.median([r['unseen'] for r in rows]):7.1f}%"
        f"{np.median(more):7.1f}{max(more):7.1f}"
        f"{np.median(once):22.1f}%{np.median(twice):6.1f}%{max(twice):6.1f}%"
    )


def main() -> None:
    """Run what is missing and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file", type=Path, nargs="+")
    parser.add_argument("--rooms", action="store_true", help="the files are closed rooms")
    parser.add_argument("--simulator", choices=tuple(SIMULATORS), default="first")
    parser.add_argument("--tuning", type=int, default=0)
    parser.add_argument("--only", default="", help="one severity")
    parser.add_argument("--rays", action="store_true")
    parser.add_argument("--table", action="store_true")
    given = parser.parse_args()
    if given.rooms:
        for path in given.file:
            for seed in range(3):
                print(room(path, seed), flush=True)
        return
    (kept,) = given.file
    rows = _read(kept)
    known = {(r["shape"], r["seed"], r["severity"]) for r in rows}
    for job in () if given.table else jobs(given.simulator, given.tuning):
        if job in known or (given.only and job[2] != given.only):
            continue
        row = run_one(given.simulator, *job, held_out=not given.tuning, rays=given.rays)
        rows.append(row)
        with kept.open("a") as file:
            file.write(json.dumps(row) + "\n")
    print(table(rows))


def _read(path: Path) -> list[Row]:
    if not path.exists():
        return []
    return [json.loads(text) for text in path.read_text().splitlines() if text.strip()]


if __name__ == "__main__":
    main()
