"""Raster, distance field and box tests against independent truths; time and memory of a survey.

python -m tests.bench.space raster      cells missed, ties included, against exact clipping
python -m tests.bench.space large       time and memory at 300 thousand and 3 million triangles
python -m tests.bench.space distance    the distance field against trimesh on 200,000 points
python -m tests.bench.space boxes       box tests a second, and 2,000 poses against python-fcl
"""

from __future__ import annotations

import argparse
import functools
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from fitcheck.geometry.box import Box, as_axes, as_point
from fitcheck.geometry.distance import index_triangles
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.overlap import BIN, boxes_hit_triangles
from fitcheck.geometry.raster import touched_cells
from fitcheck.model.found.space import FREE
from fitcheck.space import survey
from tests import specimens
from tests.scans import Scan, make_scan, tuning_seed

Floats = NDArray[np.float64]
Corner = tuple[Fraction, Fraction, Fraction]

#: Subdivision of a cell for the corners of the exact cases: every fourth tie is on a face.
PARTS = 4


def clipped(corners: list[Corner], low: tuple[int, int, int]) -> bool:
    """Whether a triangle shares a point with the closed unit cube at `low`, in rationals.

    Cuts the triangle with the six planes one by one; what is left is what both share.
    """
    rest = corners
    for axis in range(3):
        for sign, wall in ((1, low[axis]), (-1, low[axis] + 1)):
            over = [sign * (corner[axis] - wall) for corner in rest]
            kept: list[Corner] = []
            for n, (here, off) in enumerate(zip(rest, over, strict=True)):
                before, was = rest[n - 1], over[n - 1]
                if (off > 0 > was) or (off < 0 < was):
                    part = was / (was - off)
                    x, y, z = (a + part * (b - a) for a, b in zip(before, here, strict=True))
                    kept.append((x, y, z))
                if off >= 0:
                    kept.append(here)
            rest = kept
            if not rest:
                return False
    return True


def exact_cases(count: int, rng: np.random.Generator) -> Iterator[NDArray[np.int64]]:
    """Triangles (3, 3) with corners in quarters of a cell: in lattice planes, thin, large."""
    for number in range(count):
        reach = int(rng.integers(2, 5 if number % 2 else 9))
        corners = rng.integers(2 * PARTS, (2 + reach) * PARTS, (3, 3))
        if number % 3 == 0:
            # All in one plane of the lattice.
            corners[:, rng.integers(3)] = PARTS * rng.integers(2, 2 + reach)
        if number % 5 == 0:
            # Corners on corners of cells.
            corners = PARTS * (corners // PARTS)
        yield corners


def raster(count: int = 400) -> str:
    """Cells missed and cells too many against clipping in rationals."""
    rng = np.random.default_rng(1)
    asked = missed = many = touching = 0
    # An origin and a pitch that no float holds exactly, as in a boat.
    grid = Grid(origin=(0.1, -0.7, 0.3), pitch=0.01, shape=(13, 13, 13))
    for corners in exact_cases(count, rng):
        placed = np.array(grid.origin) + corners * (grid.pitch / PARTS)
        marked = touched_cells(placed[None], grid)
        exact: list[Corner] = [
            (Fraction(int(x), PARTS), Fraction(int(y), PARTS), Fraction(int(z), PARTS))
            for x, y, z in corners
        ]
        first = corners.min(axis=0) // PARTS - 1
        last = corners.max(axis=0) // PARTS + 1
        span = tuple(slice(a, b + 1) for a, b in zip(first, last, strict=True))
        outside = marked.copy()
        outside[span] = False
        many += int(outside.sum())
        for i, j, k in np.ndindex(*(last - first + 1)):
            cell = (int(first[0] + i), int(first[1] + j), int(first[2] + k))
            truth = clipped(exact, cell)
            asked += 1
            touching += truth
            missed += truth and not marked[cell]
            many += bool(marked[cell]) and not truth
    return (
        f"raster: {count} triangles, {asked:,} cells asked, {touching:,} share a point with one "
        f"(ties included), missed {missed}, marked too many {many}"
    )


def mesh_of(triangles: int) -> Scan:
    """The finest engine space of the tuning seeds, its triangles split in four or thinned."""
    scan = scanned()
    surface = scan.triangles
    while len(surface) < triangles:
        a, b, c = surface[:, 0], surface[:, 1], surface[:, 2]
        ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
        parts = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
        surface = np.concatenate([np.stack(part, axis=1) for part in parts])
    object.__setattr__(scan, "triangles", np.ascontiguousarray(surface[:triangles]))
    return scan


@functools.cache
def scanned() -> Scan:
    """One scan for all that is measured here."""
    return make_scan("engine space", tuning_seed(0), "light")


def large_one(triangles: int, pitch: float) -> str:
    """Time and peak memory of raster and survey of one mesh, in this process."""
    scan = mesh_of(triangles)
    with tempfile.TemporaryDirectory() as folder:
        boat = scan.boat(Path(folder) / "scan.ply")
        scenario = specimens.scenario(boat, layout=specimens.layout(pitch=pitch))
        before = peak()
        start, clock = time.process_time(), time.perf_counter()
        space = survey(scenario)
        used, passed = time.process_time() - start, time.perf_counter() - clock
    touched_cells(space.triangles[:10], space.grid)
    start = time.process_time()
    touched_cells(space.triangles, space.grid)
    rastered = time.process_time() - start
    return (
        f"large: {triangles:9,} triangles, {space.grid.cells / 1e6:5.1f} M cells of "
        f"{1000 * pitch:.0f} mm: raster {rastered:.2f} s, whole survey {used:.1f} s of processor "
        f"time ({passed:.1f} s by the clock), peak {peak():.0f} MB ({before:.0f} before)"
    )


def peak() -> float:
    """Peak memory of this process so far [MB]."""
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1024 if sys.platform != "darwin" else 1024**2)


def large() -> str:
    """Each size in a process of its own, so that memory is its own."""
    lines = []
    for triangles in (300_000, 3_000_000):
        ran = subprocess.run(
            [sys.executable, "-m", "tests.bench.space", "large-one", str(triangles)],
            capture_output=True,
            text=True,
            check=True,
        )
        lines.append(ran.stdout.strip())
    return "\n".join(lines)


def distance(count: int = 200_000) -> str:
    """The field at free cells against trimesh's closest points on all candidate triangles."""
    from trimesh.triangles import closest_point

    scan = scanned()
    with tempfile.TemporaryDirectory() as folder:
        boat = scan.boat(Path(folder) / "scan.ply")
        space = survey(specimens.scenario(boat, layout=specimens.layout(pitch=0.010)))
    rng = np.random.default_rng(2)
    cells = np.argwhere(space.label == FREE)
    cells = cells[rng.choice(len(cells), min(count, len(cells)), replace=False)]
    points = space.grid.centre(cells)
    told = space.distance[tuple(cells.T)].astype(np.float64)
    true = nearest(points, space.triangles, closest_point)
    over = told - true
    near = true < 0.1
    return (
        f"distance: {len(points):,} free cells at 10 mm, {len(space.triangles):,} triangles: "
        f"above the true distance {int((over > 0.0).sum())} (most {1000 * over.max():+.6f} mm); "
        f"deficit within 0.1 m of one, in cells: median {np.median(-over[near]) / 0.01:.3f}, "
        f"99 % {np.quantile(-over[near], 0.99) / 0.01:.2f} (unseen cells count as things there)"
    )


def nearest(points: Floats, triangles: Floats, closest_point) -> Floats:  # type: ignore[no-untyped-def]
    """Distance of (n, 3) points to the nearest of all triangles.

    No triangle farther off with its middle than the nearest middle and the largest triangle's
    reach together can be the nearest; large ones are asked by every point.
    """
    middle = triangles.mean(axis=1)
    reach = np.linalg.norm(triangles - middle[:, None], axis=2).max(axis=1)
    small = reach <= max(0.02, float(np.median(reach)))
    tree = cKDTree(middle[small])
    most = float(reach[small].max())
    first, _ = tree.query(points)
    best = np.full(len(points), np.inf)
    chosen = triangles[small]
    for start in range(0, len(points), 2000):
        rows = slice(start, start + 2000)
        lists = tree.query_ball_point(points[rows], first[rows] + most + 1e-9)
        who = np.repeat(np.arange(len(lists)), [len(found) for found in lists])
        which = np.concatenate([np.asarray(found, dtype=np.int64) for found in lists])
        where = points[rows][who]
        off = np.linalg.norm(closest_point(chosen[which], where) - where, axis=1)
        np.minimum.at(best[rows], who, off)
    for triangle in triangles[~small]:
        repeated = np.broadcast_to(triangle, (len(points), 3, 3))
        off = np.linalg.norm(closest_point(repeated, points) - points, axis=1)
        best = np.minimum(best, off)
    return best


def boxes(poses: int = 2000) -> str:
    """Box tests per second on a mesh of 300 thousand triangles, and the same poses by fcl."""
    import fcl

    triangles = mesh_of(300_000).triangles
    start = time.process_time()
    index = index_triangles(triangles, BIN)
    built = time.process_time() - start
    rng = np.random.default_rng(3)
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    placed = [
        Box(
            centre=as_point(rng.uniform(low, high)),
            half=as_point(np.array([0.15, 0.10, 0.0875]) * rng.uniform(0.3, 1.5)),
            axes=as_axes(Rotation.random(random_state=number).as_matrix()),
        )
        for number in range(poses)
    ]
    boxes_hit_triangles(index, placed[0], np.array([placed[0].centre]))
    start = time.process_time()
    ours = [bool(boxes_hit_triangles(index, box, np.array([box.centre]))[0]) for box in placed]
    turned = poses / (time.process_time() - start)
    many = rng.uniform(low, high, (50_000, 3))
    start = time.process_time()
    boxes_hit_triangles(index, placed[0], many)
    moved = len(many) / (time.process_time() - start)
    start = time.process_time()
    model = fcl.BVHModel()
    model.beginModel(3 * len(triangles), len(triangles))
    model.addSubModel(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3))
    model.endModel()
    body = fcl.CollisionObject(model, fcl.Transform())
    other_built = time.process_time() - start
    shapes = [
        fcl.CollisionObject(
            fcl.Box(*(2.0 * half for half in box.half)),
            fcl.Transform(np.array(box.axes).T, np.array(box.centre)),
        )
        for box in placed
    ]
    start = time.process_time()
    theirs = [fcl.collide(shape, body) > 0 for shape in shapes]
    other = poses / (time.process_time() - start)
    unequal = sum(a != b for a, b in zip(ours, theirs, strict=True))
    return (
        f"boxes: {len(triangles):,} triangles, {poses:,} poses turned any way, {sum(ours)} hit: "
        f"{turned:,.0f} tests a second one by one (index {built:.2f} s), {moved:,.0f} a second "
        f"for one box moved; python-fcl {other:,.0f} a second (built in {other_built:.1f} s); "
        f"unequal {unequal}"
    )


def main() -> None:
    """Print the requested measurement."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=("raster", "large", "large-one", "distance", "boxes"))
    parser.add_argument("triangles", nargs="?", type=int, default=300_000)
    given = parser.parse_args()
    runs = {"raster": raster, "large": large, "distance": distance, "boxes": boxes}
    if given.what == "large-one":
        print(large_one(given.triangles, 0.010))
    else:
        print(runs[given.what]())


if __name__ == "__main__":
    main()
