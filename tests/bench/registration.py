"""Error of a registration at unpicked places, compared with its stated uncertainty.

python -m tests.bench.registration rooms  [--seeds N] [--meshes FILE ...]
python -m tests.bench.registration scans  [--seeds N] [--acceptance]

`rooms` cuts, roughens and bends copies of meshes (overlap 100 to 30 %, noise 1 to 10 mm, drift);
`scans` lays simulated phone scans on the bay they were taken of. Six pairs are picked with a
standard deviation of 8 mm a coordinate and mesh; the error is taken at places no pair was picked
at. A case is a failure when it is trusted and off by more than it says.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from fitcheck.deviation.registration.faults import pair_faults
from fitcheck.deviation.registration.laid import Picks, Scale, register
from fitcheck.model.found.deviation import Registration
from fitcheck.space import read_mesh
from tests.scans import SEVERITIES, SHAPES, held_out_seeds, make_scan, tuning_seed

Array = NDArray[np.float64]
PICK, PAIRS, HELD_OUT = 0.008, 6, 40
MESHES = (
    ("demo bay", Path("meshes/demo_cad.stl"), 0.001),
    ("captured room", Path("meshes/captured_room.ply"), 1.0),
)
OVERLAPS, NOISES, DRIFTS = (1.0, 0.7, 0.5, 0.3), (0.001, 0.003, 0.010), (0.0, 0.010)


@dataclass(frozen=True, eq=False)
class Case:
    """Two meshes, places that are the same in both, and the truth.

    here (n, 3, 3) [m]; there (m, 3, 3); held (k, 3) here and held_there: places nobody picks
    """

    name: str
    kind: str
    here: Array
    there: Array
    picked: Array
    picked_there: Array
    held: Array
    held_there: Array
    scale: float
    turn: Array
    bent: float


def room_cases(seeds: int, meshes: list[tuple[str, Path, float]]) -> Iterator[Case]:
    """Copies of meshes: cut, roughened, bent, turned and stretched."""
    for name, path, unit in meshes:
        mesh = fine(read_mesh(path).triangles * unit, 0.10)
        for overlap in OVERLAPS:
            for noise in NOISES:
                for drift in DRIFTS:
                    for seed in range(seeds):
                        yield _room_case(name, mesh, overlap, noise, drift, seed)


def _room_case(
    name: str, mesh: Array, overlap: float, noise: float, drift: float, seed: int
) -> Case:
    rng = np.random.default_rng(
        [seed, round(1e4 * noise), round(1e4 * drift), round(10 * overlap)]
    )
    middle = mesh.mean(axis=1)
    way = Rotation.random(random_state=rng).as_matrix()[0]
    kept = mesh[middle @ way <= np.quantile(middle @ way, overlap)]
    turn = Rotation.random(random_state=rng).as_matrix()
    scale, shift = 1.0 + rng.uniform(-0.02, 0.02), rng.normal(size=3)
    bend = _bend(rng, drift)
    corner, back = np.unique(kept.reshape(-1, 3).round(6), axis=0, return_inverse=True)
    rough = corner + bend(corner) + rng.normal(scale=noise, size=corner.shape)
    there = ((rough[back.ravel()] - shift) @ turn / scale).reshape(-1, 3, 3)
    places = corner[rng.choice(len(corner), PAIRS + HELD_OUT, replace=False)]
    on_there = (places - shift) @ turn / scale
    kind = f"{100 * overlap:.0f} % {1000 * noise:.0f} mm drift {1000 * drift:.0f}"
    return Case(
        name=f"{name} {kind} #{seed}",
        kind=f"overlap {100 * overlap:3.0f} %, noise {1000 * noise:2.0f} mm, drift "
        f"{1000 * drift:2.0f} mm",
        here=mesh,
        there=there,
        picked=places[:PAIRS] + rng.normal(scale=PICK, size=(PAIRS, 3)),
        picked_there=on_there[:PAIRS] + rng.normal(scale=PICK, size=(PAIRS, 3)),
        held=places[PAIRS:],
        held_there=on_there[PAIRS:],
        scale=scale,
        turn=turn,
        bent=drift,
    )


def _bend(rng: np.random.Generator, size: float):  # type: ignore[no-untyped-def]
    """Smooth random bending of `size` (one standard deviation per coordinate) over
    about a metre.
    """
    waves = rng.normal(scale=2.5, size=(8, 3))
    phase, amount = rng.uniform(0, 2 * np.pi, 8), rng.normal(size=(8, 3)) * size / 2.0

    def bend(points: Array) -> Array:
        return np.asarray(np.sin(points @ waves.T + phase) @ amount)

    return bend


def fine(mesh: Array, longest: float) -> Array:
    """Triangles halved across their longest edge until none is longer."""
    while True:
        edge = np.linalg.norm(mesh - np.roll(mesh, -1, axis=1), axis=2)
        long = edge.max(axis=1) > longest
        if not long.any():
            return mesh
        first = edge[long].argmax(axis=1)
        a, b, c = (mesh[long, (first + k) % 3] for k in range(3))
        half = (a + b) / 2.0
        mesh = np.concatenate([mesh[~long], np.stack([a, half, c], 1), np.stack([half, b, c], 1)])


def scan_cases(seeds: int, *, acceptance: bool) -> Iterator[Case]:
    """Simulated phone scans compared with their bay."""
    for shape in SHAPES:
        numbers = (
            held_out_seeds(shape, acceptance=True)
            if acceptance
            else tuple(tuning_seed(n) for n in range(seeds))
        )
        for severity in SEVERITIES:
            for seed in numbers[:seeds]:
                scan = make_scan(shape, seed, severity, acceptance=acceptance)
                rng = np.random.default_rng(seed)
                corner = scan.mesh_to_truth(scan.triangles.reshape(-1, 3))
                near = scan.truth.depth(corner)
                corner = corner[np.abs(near) < 0.02]
                places = corner[rng.choice(len(corner), PAIRS + HELD_OUT, replace=False)]
                there = scan.truth_to_mesh(places)
                yield Case(
                    name=f"{shape} {severity} {seed}",
                    kind=f"{shape}, {severity}",
                    here=np.asarray(scan.truth.triangles),
                    there=np.asarray(scan.triangles),
                    picked=places[:PAIRS] + rng.normal(scale=PICK, size=(PAIRS, 3)),
                    picked_there=there[:PAIRS] + rng.normal(scale=PICK, size=(PAIRS, 3)),
                    held=places[PAIRS:],
                    held_there=there[PAIRS:],
                    scale=scan.scale,
                    turn=scan.turn,
                    bent=scan.severity.stated / 2.0,
                )


@dataclass(frozen=True)
class Outcome:
    """The result of one case; millimetres, degrees, per cent."""

    case: Case
    error: float
    start: float
    turned: float
    scaled: float
    covered: float
    stated: float
    refused: str
    seconds: float


def outcome(case: Case) -> Outcome:
    """Register and compare with the truth."""
    picks = Picks(
        names=tuple(f"p{n}" for n in range(PAIRS)),
        here=case.picked,
        there=case.picked_there,
        worth=PICK * np.sqrt(2.0),
        bent=case.bent,
    )
    began = time.perf_counter()
    faults = pair_faults(picks.names, picks.here, picks.there, picks.worth, None, keep_scale=False)
    if faults:
        return Outcome(case, np.nan, np.nan, np.nan, np.nan, np.nan, np.nan, faults[0][0], 0.0)
    scale = Scale(declared=None, uncertainty=0.0, keep=False)
    found = register(case.here, case.there, picks, scale)
    seconds = time.perf_counter() - began
    off = np.linalg.norm(found.similarity.carry(case.held_there) - case.held, axis=1)
    says = found.uncertainty(case.held)
    start = np.linalg.norm(found.start.carry(case.held_there) - case.held, axis=1)
    fails = [row.rule for row in found.findings if row.severity == "fail"]
    return Outcome(
        case=case,
        error=1000.0 * float(off.max()),
        start=1000.0 * float(start.max()),
        turned=_degrees(found, case.turn),
        scaled=100.0 * (found.similarity.scale / case.scale - 1.0),
        covered=float((off <= says).mean()),
        stated=1000.0 * float(says.max()),
        refused=", ".join(fails),
        seconds=seconds,
    )


def _degrees(found: Registration, turn: Array) -> float:
    left = np.array(found.similarity.turn) @ turn.T
    return float(np.degrees(np.linalg.norm(Rotation.from_matrix(left).as_rotvec())))


def report(rows: list[Outcome]) -> None:
    """A table by kind, then the failures one by one."""
    print(
        f"{'kind':44} {'n':>3} {'refused':>7} {'error med':>9} {'max':>6} {'start med':>9} "
        f"{'deg max':>7} {'scale max':>9} {'within':>7} {'stated':>6} {'s':>5}"
    )
    for kind in dict.fromkeys(row.case.kind for row in rows):
        group = [row for row in rows if row.case.kind == kind]
        kept = [row for row in group if not row.refused]
        print(f"{kind:44} {len(group):3d} {len(group) - len(kept):7d} " + _figures(kept))
    kept = [row for row in rows if not row.refused]
    print(f"{'all':44} {len(rows):3d} {len(rows) - len(kept):7d} " + _figures(kept))
    print("\nrefused:")
    for row in rows:
        if row.refused:
            print(f"  {row.case.name}: {row.refused} (error {row.error:.0f} mm)")
    print("\ntrusted and off by more than stated at its worst place:")
    for row in kept:
        if row.error > row.stated:
            print(f"  {row.case.name}: {row.error:.1f} mm, stated {row.stated:.1f} mm")


def _figures(rows: list[Outcome]) -> str:
    if not rows:
        return "-"
    of = {
        name: np.array([getattr(row, name) for row in rows])
        for name in Outcome.__annotations__
        if name not in ("case", "refused")
    }
    return (
        f"{np.median(of['error']):9.1f} {of['error'].max():6.1f} {np.median(of['start']):9.1f} "
        f"{of['turned'].max():7.2f} {np.abs(of['scaled']).max():8.2f}% "
        f"{100.0 * of['covered'].mean():6.1f}% {np.median(of['stated']):6.1f} "
        f"{np.median(of['seconds']):5.1f}"
    )


def main() -> None:
    """Run one of the two series."""
    parser = argparse.ArgumentParser(description="registration against the truth")
    parser.add_argument("series", choices=("rooms", "scans"))
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--acceptance", action="store_true")
    parser.add_argument("--meshes", nargs="*", default=[], help="further meshes, metres")
    options = parser.parse_args()
    meshes = [*MESHES, *((Path(file).stem, Path(file), 1.0) for file in options.meshes)]
    cases = (
        room_cases(options.seeds, meshes)
        if options.series == "rooms"
        else scan_cases(options.seeds, acceptance=options.acceptance)
    )
    rows = []
    for case in cases:
        rows.append(outcome(case))
        print(f"{case.name}: {rows[-1].error:.1f} mm {rows[-1].refused}", flush=True)
    report(rows)


if __name__ == "__main__":
    main()
