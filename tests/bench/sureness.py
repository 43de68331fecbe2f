"""Whether the stated uncertainty holds the truth: gaps, lengths, hoses and heights over scans.

    python -m tests.bench.sureness tuning N       N tuning bays of every shape and severity
    python -m tests.bench.sureness held-out N     the first N held-out ones; 10 are all of them
    ... --out FILE      a line of JSON for every scan as it is done; those in FILE are not repeated

Every scan goes through the survey as a user's would. Boxes are set out as on board: measured from
the place the frame's origin stands on, levelled with a spirit level, turned to the line picked as
forward. Which boxes count is for the program alone to say: those it neither fails nor calls
unseen, and gives a gap of up to 150 mm. Nothing is left out for what the truth says. Counted are

gap     from a box in the air to the nearest surface of the mesh, in any direction
bit     the same where the program says that it is a loose bit of the mesh, which may be noise,
unseen  or space never seen: no gap but a least one, so that only `safe` means anything
face    square before a face, up to 400 mm, to the mesh
length  between two points picked on surfaces
hose    port to port over arc, straight, arc, from a picked port of the boat to a module's;
        reach is the share that the order length of the same hose reaches
height  of a picked point above the sea
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitcheck.errors import MeshError
from fitcheck.fit.measured.judge import judge
from fitcheck.fit.measured.measure import NAMES
from fitcheck.fit.measured.surroundings import surround
from fitcheck.geometry.box import Box, as_axes, as_point, drawn_in
from fitcheck.geometry.boxgap import gap_to_triangles
from fitcheck.geometry.distance import index_triangles
from fitcheck.geometry.prism import prism_gap
from fitcheck.model.given.boat import Boat
from fitcheck.model.given.kit import Module
from fitcheck.model.placed import PlacedModule
from fitcheck.routing.search.direct import ALL_TRIALS, direct_kernel
from fitcheck.space import survey
from fitcheck.space.datum.frame import to_boat
from tests import specimens
from tests.scans import SEVERITIES, SHAPES, Scan, held_out_seeds, make_scan, tuning_seed

Floats = NDArray[np.float64]
BIN = 0.06
BOXES, POINTS = 60, 40
#: Larger gaps and depths in front of faces are ignored [m].
NEAR, DEEP = 0.15, 0.40
RADIUS = 0.12
#: Kinds for which only the safe side is meaningful.
ONE_SIDED = ("bit", "unseen")

#: kind -> rows of (error, uncertainty); a positive error says more room, or less hose, than true
Rows = dict[str, list[tuple[float, float]]]


class Ground:
    """One scan as the program sees it and its truth."""

    def __init__(self, scan: Scan, boat: Boat) -> None:
        self.space = survey(specimens.scenario(boat))
        self.around = surround(self.space, scan=True)
        self.scan, self.frame, self.sure = scan, self.space.frame, self.space.uncertainty
        self.truth = index_triangles(scan.truth.triangles, BIN)
        self.origin = scan.boat_to_truth(self.frame, np.zeros(3))
        forward = scan.ways_to_truth(self.frame, np.array([1.0, 0.0, 0.0]))
        forward[2] = 0.0
        forward /= np.linalg.norm(forward)
        up = np.array([0.0, 0.0, 1.0])
        self.axes = np.stack([forward, np.cross(up, forward), up])

    def set_out(self, points: Floats) -> Floats:
        """(..., 3) places of the boat frame -> where they are on board, bay's axes."""
        return self.origin + np.asarray(points) @ self.axes

    def on_board(self, box: Box) -> Box:
        """The true position of a box of the boat frame."""
        return Box(
            centre=as_point(self.set_out(np.array(box.centre))),
            half=box.half,
            axes=as_axes(np.array(box.axes) @ self.axes),
        )

    def gap(self, rng: np.random.Generator, rows: Rows) -> bool:
        """One box somewhere; whether the program lets it stand there and gives it a gap."""
        at = self.around.low + rng.random(3) * (self.around.high - self.around.low)
        size = as_point(rng.uniform(0.08, 0.35, 3))
        crate = Module(name="crate", size=size, mass=5.0, stands="any", ports=(), service=())
        stood = PlacedModule(module=crate, at=as_point(at), rotate=(0.0, 0.0, rng.uniform(0, 6.3)))
        if not 0.0 < gap_to_triangles(self.around.index, stood.box)[0] < NEAR:
            return False
        fit = judge(stood, (), self.around, 0.0).fit
        if fit.verdict not in ("fits", "tight"):
            return False
        real = self.on_board(stood.box)
        kind = {"unseen": "unseen", "bit": "bit"}.get(fit.contacts[0].kind, "gap")
        rows[kind].append((fit.smallest_gap - self.true_gap(real), fit.uncertainty))
        for face in fit.faces:
            if face.contacts[0].kind == "mesh" and 0.0 < face.gap < DEEP:
                true, _, _ = prism_gap(self.truth, real, face.face, 2.0)
                rows["face"].append((face.gap - true, face.uncertainty))
        return True

    def true_gap(self, real: Box) -> float:
        """The true gap of a box; how far it must shrink all round, negative, if it has none."""
        if self._clear(real):
            return gap_to_triangles(self.truth, real)[0]
        low, high = 0.0, min(real.half)
        while high - low > 1e-4:
            middle = (low + high) / 2
            free = self._clear(drawn_in(real, dict.fromkeys(NAMES, middle)))
            low, high = (low, middle) if free else (middle, high)
        return -high

    def _clear(self, real: Box) -> bool:
        inside = bool((self.scan.truth.depth(np.array([real.centre])) >= 0.0).any())
        return not inside and gap_to_triangles(self.truth, real)[0] > 0.0

    def picks(self, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Points on scanned surfaces, boat frame as picked and bay's axes as they are."""
        triangles = self.scan.truth.triangles
        spans = triangles[:, 1:] - triangles[:, :1]
        area = np.linalg.norm(np.cross(spans[:, 0], spans[:, 1]), axis=1)
        which = rng.choice(len(triangles), 60 * POINTS, p=area / area.sum())
        share = rng.dirichlet(np.ones(3), len(which))
        true = np.einsum("nc,ncd->nd", share, triangles[which])
        # In sight: on the skin of the air, below the deck.
        skin = np.abs(self.scan.truth.depth(true)) < 1e-6
        true = true[skin & (true[:, 2] < self.scan.truth.bay.under)]
        found, near = self.scan.picks.surface(true)
        return to_boat(self.frame, found[near][:POINTS]), true[near][:POINTS]

    def hose(self, at: Floats, place: Floats, rng: np.random.Generator, rows: Rows) -> None:
        """From a port of the boat to a port of a module set out a good way off."""
        port = at + rng.normal(0.0, 0.5, 3)
        ways = rng.normal(size=(2, 3))
        ways /= np.linalg.norm(ways, axis=1)[:, None]
        here = _direct(port - at, ways)
        there = _direct(self.set_out(port) - place, ways @ self.axes)
        if here <= 0.0:
            return
        # The other way round: more hose needed than said is what hurts.
        error = there - here if there > 0.0 else 1.0
        rows["hose"].append((error, self.sure.of_length(here, picked=1)))


def _direct(span: Floats, ways: Floats) -> float:
    return float(direct_kernel(span, ways[0], ways[1], RADIUS, ALL_TRIALS, np.empty(6)))


def measure(ground: Ground, rng: np.random.Generator, rows: Rows) -> None:
    """All kinds in one scan."""
    wanted = BOXES
    for _ in range(200 * BOXES):
        wanted -= ground.gap(rng, rows)
        if not wanted:
            break
    picked, true = ground.picks(rng)
    for a, b in zip(range(0, len(true) - 1, 2), range(1, len(true), 2), strict=False):
        here = float(np.linalg.norm(picked[a] - picked[b]))
        there = float(np.linalg.norm(true[a] - true[b]))
        rows["length"].append((here - there, ground.sure.of_length(here, picked=2)))
    for at, place in zip(picked, true, strict=True):
        above = float(place[2] - ground.scan.sea)
        unsure = ground.sure.of_height(as_point(at), picked=True)
        rows["height"].append((float(at[2]) - above, unsure))
        ground.hose(at, place, rng, rows)


def scans(which: str, count: int) -> Iterator[tuple[str, int, str]]:
    """Shape, seed and severity of every scan of a run."""
    held = which == "held-out"
    for severity in SEVERITIES:
        for shape in SHAPES:
            seeds = (
                held_out_seeds(shape, acceptance=True)[:count]
                if held
                else tuple(tuning_seed(number) for number in range(count))
            )
            for seed in seeds:
                yield shape, seed, severity


def one_scan(scan: Scan) -> Rows | None:
    """The rows of one scan, None where the survey refuses it."""
    rows: Rows = defaultdict(list)
    with tempfile.TemporaryDirectory() as folder:
        try:
            ground = Ground(scan, scan.boat(Path(folder) / "scan.ply"))
        except MeshError as error:
            print(f"{scan.shape} {scan.seed} {scan.severity.name}: refused: {error}", flush=True)
            return None
        measure(ground, np.random.default_rng(scan.seed), rows)
    return {kind: [(float(e), float(u)) for e, u in pairs] for kind, pairs in rows.items()}


def told(key: tuple[str, int, str], rows: Rows) -> str:
    """One scan in a line: of how many cases of each kind the uncertainty holds the truth."""
    parts = []
    for kind, pairs in rows.items():
        held = sum(abs(error) <= unsure for error, unsure in pairs)
        safe = sum(error <= unsure for error, unsure in pairs)
        parts.append(f"{kind} {safe if kind in ONE_SIDED else held}/{len(pairs)}")
    return f"{key[2]} {key[0]} {key[1]}: " + ", ".join(parts)


def done_before(out: Path | None) -> dict[tuple[str, int, str], Rows | None]:
    """Scans a file already holds; a line cut off by an end in the middle of it is left out."""
    known = {}
    for text in out.read_text().splitlines() if out and out.exists() else []:
        try:
            row = json.loads(text)
        except json.JSONDecodeError:
            continue
        known[row["shape"], row["seed"], row["severity"]] = row["rows"]
    return known


def table(found: dict[str, Rows]) -> None:
    """Per severity and kind: cases, covered, covered on the safe side, width against error."""
    head = ("severity", "kind", "cases", "covered", "safe", "+- median", "error p50", "error p95")
    print("{:>9} {:>7} {:>6} {:>8} {:>7} {:>10} {:>10} {:>10} {:>6}".format(*head, "ratio"))
    for severity, kinds in found.items():
        for kind, rows in kinds.items():
            error, unsure = np.array(rows).T
            within = 100 * (np.abs(error) <= unsure).mean()
            safe = 100 * (error <= unsure).mean()
            off = 1000 * np.quantile(np.abs(error), [0.5, 0.95])
            wide = 1000 * np.median(unsure)
            print(
                f"{severity:>9} {kind:>7} {len(rows):6d} {within:7.1f}% {safe:6.1f}% "
                f"{wide:7.1f} mm {off[0]:7.1f} mm {off[1]:7.1f} mm {wide / off[1]:6.2f}"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("which", choices=("tuning", "held-out"))
    parser.add_argument("count", type=int)
    parser.add_argument("--out", type=Path)
    asked: Any = parser.parse_args()
    found: dict[str, Rows] = {}
    known = done_before(asked.out)
    for key in scans(asked.which, asked.count):
        shape, seed, severity = key
        if key not in known:
            held = asked.which == "held-out"
            known[key] = one_scan(make_scan(shape, seed, severity, acceptance=held))
            if asked.out:
                line = {"shape": shape, "seed": seed, "severity": severity, "rows": known[key]}
                # before the line too: the one before may be cut off
                with asked.out.open("a") as file:
                    file.write("\n" + json.dumps(line) + "\n")
        rows = known[key]
        if rows is None:
            continue
        print(told(key, rows), flush=True)
        kinds = found.setdefault(severity, defaultdict(list))
        for kind, pairs in rows.items():
            kinds[kind] += pairs
    found["all"] = defaultdict(list)
    for severity in SEVERITIES:
        for kind, pairs in found.get(severity, {}).items():
            found["all"][kind] += pairs
    table(found)


if __name__ == "__main__":
    main()
