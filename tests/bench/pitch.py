"""Whether a coarser grid is ever more optimistic than a finer one.

    python -m tests.bench.pitch run FILE [NAME ...] [--pitches 30,20,15,10]
    python -m tests.bench.pitch table FILE [--only NAME ...]

`run` checks the shipped scenarios and the rooms of pitch_rooms at every pitch, one line of JSON
added to FILE for each; a run that was stopped goes on where it was. `table` lists every "yes",
"fits", "clear" or "proven" of a coarser pitch that a finer one denies, and how many there are of
each at every pitch.
"""

from __future__ import annotations

import argparse
import itertools
import json
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from fitcheck.errors import FitcheckError
from fitcheck.fit import check_fit
from fitcheck.hydraulics import solve_water
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.found.space import UNSEEN, Space
from fitcheck.model.result import Result
from fitcheck.order import make_order
from fitcheck.report.words.words import bound_words
from fitcheck.routing import Recall, allow_wander, route_hoses
from fitcheck.scenario import read_scenario
from fitcheck.space import survey
from tests import ROOT
from tests.bench.pitch_rooms import rooms

Record = dict[str, Any]
PITCHES = (30, 20, 15, 10)
SHIPPED = ("demo", "demo_cad", "demo_low_pump", "fails", "captured_room")
#: Lengths this close are equal [m].
SAME = 1e-4


def main(arguments: list[str]) -> int:
    """Run or tabulate."""
    parser = argparse.ArgumentParser(prog="pitch")
    parser.add_argument("what", choices=("run", "table"))
    parser.add_argument("file", type=Path)
    parser.add_argument("names", nargs="*")
    parser.add_argument("--pitches", default=",".join(map(str, PITCHES)))
    told = parser.parse_args(arguments)
    records = _read(told.file)
    if told.names:
        records = [row for row in records if row["name"] in told.names]
    if told.what == "table":
        print(table(records))
        return 0
    with tempfile.TemporaryDirectory() as folder:
        for name, file in _scenarios(Path(folder), told.names):
            for pitch in sorted(map(int, told.pitches.split(",")), reverse=True):
                if any(row["name"] == name and row["pitch"] == pitch for row in records):
                    continue
                coarser = [r for r in records if r["name"] == name and r["pitch"] > pitch]
                records.append(_run(name, file, pitch, coarser))
                with told.file.open("a") as out:
                    out.write(json.dumps(records[-1]) + "\n")
                print(_line(records[-1]), flush=True)
    return 0


def _read(file: Path) -> list[Record]:
    return [json.loads(line) for line in file.read_text().splitlines()] if file.exists() else []


def _scenarios(folder: Path, names: list[str]) -> Iterator[tuple[str, Path]]:
    for made in rooms():
        if not names or made.name in names:
            yield made.name, made.write(folder / made.name)
    for name in SHIPPED:
        if not names or name in names:
            yield name, ROOT / "scenarios" / f"{name}.toml"


def _run(name: str, file: Path, pitch: int, coarser: list[Record]) -> Record:
    """One scenario at one pitch, with the coarser pitches' hoses measured in its unseen space."""
    began = time.perf_counter()
    scenario = read_scenario(file)
    scenario = replace(scenario, layout=replace(scenario.layout, pitch=pitch / 1000.0))
    row: Record = {"name": name, "pitch": pitch}
    try:
        space = survey(scenario)
        fit, recall = check_fit(scenario, space), Recall()
        # mounting tolerance is sampled again for every curve and takes minutes
        routes = route_hoses(scenario, space, fit, recall=recall)
        if name in SHIPPED:
            routes = allow_wander(scenario, space, fit, recall)
        water = solve_water(scenario, space, routes)
        order = make_order(scenario, space, routes, water)
        result = Result(
            scenario=scenario, space=space, fit=fit, routes=routes, hydraulics=water, order=order
        )
    except FitcheckError as error:
        return row | {"refused": str(error)}
    row |= _told(result)
    row["again"] = {
        str(other["pitch"]): {
            hose["line"]: _to_unseen(space, hose)
            for hose in other.get("hoses", [])
            if hose["path"]
        }
        for other in coarser
    }
    return row | {"seconds": round(time.perf_counter() - began, 1)}


def _told(result: Result) -> Record:
    """The results a person may rely on."""
    unsure = _unsure_hoses(result)
    barred = {row.subject for row in result.fit.findings if row.severity != "note"}
    return {
        "verdict": result.verdict,
        "cut": result.cut_joinery.safe,
        "cut_because": [row.rule for row in result.cut_joinery.reasons],
        "order": result.order_hoses.safe,
        "order_because": [row.rule for row in result.order_hoses.reasons],
        "free": result.space.free_volume,
        "unseen": result.space.unseen_volume,
        "boxes": [
            {
                "name": box.name,
                "verdict": box.verdict,
                "clear": box.verdict == "fits" and box.name not in barred,
                "gap": box.smallest_gap,
                "unsure": box.uncertainty,
                "meets": box.meets,
                "service": [
                    {
                        "face": s.face,
                        "verdict": s.verdict,
                        "available": s.available,
                        "unsure": s.uncertainty,
                        "meets": s.meets,
                    }
                    for s in box.service
                ],
            }
            for box in result.fit.modules
        ],
        "hoses": [
            {
                "line": hose.line,
                "routed": isinstance(hose, HoseRoute),
                "clear": isinstance(hose, HoseRoute) and hose.line not in unsure,
                "bound": hose.bound,
                **(_route(hose) if isinstance(hose, HoseRoute) else {"path": []}),
            }
            for hose in result.routes.hoses
        ],
    }


def _route(hose: HoseRoute) -> Record:
    return {
        "length": hose.length,
        "kind": hose.bound_kind,
        "proven": bound_words(hose) == "proven shortest",
        "way": hose.way,
        "half": hose.outside_diameter / 2,
        "asked": hose.required_clearance,
        "straight": hose.straight,
        "contacts": [[c.kind, c.subject, c.gap, c.uncertainty] for c in hose.contacts],
        "path": np.round(hose.path, 5).tolist(),
    }


def _unsure_hoses(result: Result) -> set[str]:
    """Lines with a caution or fail from the routing, including shared ones."""
    found = set()
    for row in result.routes.findings:
        if row.severity == "note":
            continue
        found.add(row.subject)
    for hose in result.routes.hoses:
        if isinstance(hose, HoseRoute) and any(c.sure < -1e-9 for c in hose.contacts):
            found.add(hose.line)
    return found


def _to_unseen(space: Space, hose: Record) -> float:
    """Gap from a hose routed at a coarser pitch to unseen cells, at most 0.3 m [m].

    The straight ends are left out: those at the boat's ports are exempt.
    """
    path: NDArray[np.float64] = np.array(hose["path"])
    along = np.concatenate([[0.0], np.linalg.norm(np.diff(path, axis=0), axis=1).cumsum()])
    spare = hose["straight"]
    path = path[(along > spare) & (along < along[-1] - spare)]
    grid = space.grid
    first = np.clip(grid.index(path.min(axis=0) - 0.3), 0, grid.shape)
    last = np.clip(grid.index(path.max(axis=0) + 0.3) + 1, 0, grid.shape)
    part = space.label[tuple(slice(a, b) for a, b in zip(first, last, strict=True))] == UNSEEN
    centres = grid.centre(np.argwhere(part) + first)
    if not len(centres):
        return 0.3
    near = cKDTree(centres).query_ball_point(path, 0.3 + grid.pitch)
    best = 0.3
    for point, rows in zip(path, near, strict=True):
        if rows:
            off = np.maximum(np.abs(centres[rows] - point) - grid.pitch / 2, 0.0)
            best = min(best, float(np.sqrt((off**2).sum(axis=1)).min()))
    return best - hose["half"]


def _line(row: Record) -> str:
    if "refused" in row:
        return f"{row['name']} {row['pitch']} mm: refused"
    boxes = sum(box["clear"] for box in row["boxes"])
    hoses = sum(hose["clear"] for hose in row["hoses"])
    return (
        f"{row['name']} {row['pitch']} mm: cut {row['cut']}, order {row['order']}, {boxes} of "
        f"{len(row['boxes'])} boxes clear, {hoses} of {len(row['hoses'])} hoses, "
        f"{row['seconds']} s"
    )


# --- contradictions ---------------------------------------------------------------------------


def contradictions(coarse: Record, fine: Record) -> Iterator[tuple[str, str]]:
    """Class and words of everything the finer pitch contradicts."""
    for step in ("cut", "order"):
        if coarse[step] and not fine[step]:
            yield step, f"denied by {fine[step + '_because']}"
    for a, b in zip(coarse["boxes"], fine["boxes"], strict=True):
        yield from _boxes(a, b)
    for a, b in zip(coarse["hoses"], fine["hoses"], strict=True):
        for kind, words in _hoses(a, b):
            yield kind, f"{a['line']}: {words}"
        again = fine["again"].get(str(coarse["pitch"]), {}).get(a["line"])
        told = [gap - sure for kind, _, gap, sure in a.get("contacts", []) if kind == "unseen"]
        if again is not None and a["clear"] and again < -1e-4:
            yield "same hose", f"{a['line']}: lies {-1e3 * again:.0f} mm in unseen space"
        if again is not None and again < min(told, default=0.3 - a["half"]) - 1e-3:
            least = 1e3 * min(told, default=0.3 - a["half"])
            yield "same hose gap", f"{a['line']}: {least:.0f} surely, {1e3 * again:.0f} mm"


def _boxes(a: Record, b: Record) -> Iterator[tuple[str, str]]:
    name = a["name"]
    order = ("fits", "tight", "unseen", "clash")
    if order.index(a["verdict"]) < order.index(b["verdict"]):
        words = f"{name}: {a['verdict']} then {b['verdict']}, {b['meets']} {1e3 * b['gap']:.0f} mm"
        yield "box", words
    elif a["clear"] and not b["clear"]:
        yield "box caution", f"{name}: cautioned"
    if a["gap"] - a["unsure"] > b["gap"] + 1e-5:
        yield (
            "box gap",
            (
                f"{name}: {1e3 * a['gap']:.1f} +- {1e3 * a['unsure']:.1f} to {a['meets']}, "
                f"{1e3 * b['gap']:.1f} to {b['meets']}"
            ),
        )
    for s, t in zip(a["service"], b["service"], strict=True):
        if s["verdict"] == "clear" and t["verdict"] != "clear":
            yield "service", f"{name} {s['face']}: {1e3 * t['available']:.0f} mm to {t['meets']}"


def _hoses(a: Record, b: Record) -> Iterator[tuple[str, str]]:
    if a["routed"] and not b["routed"]:
        yield "hose lost", "no way at the finer pitch"
    elif a["clear"] and not b["clear"]:
        met = min(b["contacts"], key=lambda c: c[2] - c[3], default=None)
        yield "hose caution", f"cautioned, {met}"
    if not b["routed"]:
        return
    if a["bound"] > b["length"] + SAME:
        yield (
            "bound",
            f"{a['kind'] if a['routed'] else 'none'} {a['bound']:.4f} above {b['length']:.4f} m",
        )
    if a["routed"] and b["bound"] > a["length"] + SAME:
        yield "bound", f"finer {b['kind']} {b['bound']:.4f} above {a['length']:.4f} m"
    if a["routed"] and a["proven"] and b["proven"] and abs(a["length"] - b["length"]) > SAME:
        yield "proven twice", f"{a['length']:.4f} and {b['length']:.4f} m"


def table(records: list[Record]) -> str:
    """Contradictions by pair of pitches and class, each by name, and the totals."""
    lines = []
    by = {(row["name"], row["pitch"]): row for row in records if "refused" not in row}
    pitches = sorted({pitch for _, pitch in by}, reverse=True)
    names = dict.fromkeys(name for name, _ in by)
    for coarse, fine in itertools.combinations(pitches, 2):
        both = [name for name in names if (name, coarse) in by and (name, fine) in by]
        found: Counter[str] = Counter()
        told = []
        for name in both:
            for kind, words in contradictions(by[name, coarse], by[name, fine]):
                found[kind] += 1
                told.append(f"    {kind}: {name}: {words}")
        counts = ", ".join(f"{kind} {count}" for kind, count in sorted(found.items()))
        lines += [f"{coarse} over {fine} mm, {len(both)} scenarios: {counts or 'none'}", *told]
    lines.append(
        "pitch  scenarios  cut  order  boxes fit  of  hoses clear  of  proven  gap median"
    )
    for pitch in pitches:
        rows = [row for (_, of), row in by.items() if of == pitch]
        boxes = [box for row in rows for box in row["boxes"]]
        hoses = [hose for row in rows for hose in row["hoses"]]
        over = [h["length"] / h["bound"] - 1 for h in hoses if h["routed"] and h["bound"]]
        lines.append(
            f"{pitch:5d}{len(rows):11d}{sum(r['cut'] for r in rows):5d}"
            f"{sum(r['order'] for r in rows):7d}{sum(b['verdict'] == 'fits' for b in boxes):11d}"
            f"{len(boxes):4d}{sum(h['clear'] for h in hoses):13d}{len(hoses):4d}"
            f"{sum(h.get('proven', False) for h in hoses):8d}{100 * np.median(over or [0]):11.1f}%"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
