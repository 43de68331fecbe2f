"""Other planners on the same obstacles with the same clearance, each in a process of its own.

dijkstra3d, scikit-fmm, scikit-image and networkx find ways of points through a grid: they take no
account of bend radius and port directions, so their ways are no hoses and being shorter means
nothing. OMPL plans in spaces of bounded turning radius (Vana, Vana-Owen; in Owen the pitch may
jump and the ports have none); the frame is turned so that both port directions lie level in it.
Three seeds, 8 s of processor time each, RRT* or RRT-Connect again and again with shortcuts. States
are checked every 4 mm with the router's exact distance, behind a table of cells clear or blocked
for sure. What it finds counts as a hose when points every millimetre keep the clearance and the
radius, measured over 10 mm, is at least 97 % of what is asked.

Optional packages: `pip install fitcheck[bench]`. What is not installed is told so.
"""

from __future__ import annotations

import importlib
import importlib.util
import json
import math
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from fitcheck.routing.world.field import World, exact
from tests.bench.records import Record
from tests.planted.curve import Points
from tests.planted.problem import Ready, ready
from tests.planted.problems import single

BOTH = "bend radius, port directions"
SECONDS = 8.0
RUNS = 3
#: Spacing of the states checked, and their extra clearance [m].
CHECKED_EVERY, SPARE = 0.004, 0.0002
STEEPEST = math.radians(75)


@dataclass(frozen=True)
class Method:
    """A planner: its package, what it ignores, number of runs."""

    name: str
    package: str
    ignores: str
    runs: int
    hose: bool = False


METHODS = (
    Method("dijkstra3d field", "dijkstra3d", BOTH, 1),
    Method("scikit-fmm, order 2", "skfmm", BOTH, 1),
    Method("scikit-image MCP_Geometric", "skimage", BOTH, 1),
    Method("networkx A*, 30 mm cells", "networkx", BOTH, 1),
    Method("OMPL R3 Informed RRT*", "ompl", BOTH, 1),
    Method("OMPL Owen RRT*", "ompl", "radius in pitch, pitch of ports", RUNS),
    Method("OMPL Vana RRT*", "ompl", "nothing", RUNS, hose=True),
    Method("OMPL Vana RRT-Connect", "ompl", "nothing", RUNS, hose=True),
    Method("OMPL Vana-Owen RRT-Connect", "ompl", "nothing", RUNS, hose=True),
)


def measure_peer(method: Method, seed: int) -> Record:
    """One method on one planted hose: the shortest of its runs."""
    record: Record = {
        "kind": "peer",
        "seed": seed,
        "method": method.name,
        "ignores": method.ignores,
        "hose": method.hose,
        "solved": False,
        "time": 0.0,
    }
    if importlib.util.find_spec(method.package) is None:
        return {**record, "ignores": "not installed"}
    runs = [_child(method, seed, run) for run in range(method.runs)]
    done = [run for run in runs if run["solved"]]
    best = min(done, key=lambda run: run["length"], default=runs[0])
    record |= {key: best[key] for key in ("solved", "length", "time", "memory") if key in best}
    return {**record, "runs": runs}


def _child(method: Method, seed: int, run: int) -> Record:
    asked = [sys.executable, "-m", "tests.bench.peers", method.name, str(seed), str(run)]
    done = subprocess.run(asked, capture_output=True, text=True, timeout=600, check=False)
    lines = [line for line in done.stdout.splitlines() if line.startswith("{")]
    if not lines:
        return {"solved": False, "time": 0.0, "fault": done.stderr.strip()[-200:]}
    return dict(json.loads(lines[-1]))


# --- the grid ---------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Field:
    """Exact distance at cell centres, the cells that are clear, and those of both tips."""

    made: Ready
    pitch: float
    away: NDArray[np.float32]
    free: NDArray[np.bool_]
    start: tuple[int, int, int]
    end: tuple[int, int, int]

    @property
    def fixed(self) -> float:
        """Straight ends [m]."""
        job = self.made.jobs[0]
        return float(job.start.lead + job.end.lead)


@njit(cache=True)
def _measured(world, cutoff):  # type: ignore[no-untyped-def]
    n0, n1, n2 = world.label.shape
    h = world.pitch[0]
    out = np.zeros((n0, n1, n2), np.float32)
    for i in range(n0):
        for j in range(n1):
            for k in range(n2):
                x = world.origin[0] + (i + 0.5) * h
                y = world.origin[1] + (j + 0.5) * h
                z = world.origin[2] + (k + 0.5) * h
                out[i, j, k] = exact(world, x, y, z, cutoff)
    return out


def _field(made: Ready) -> Field:
    job, grid = made.jobs[0], made.space.grid
    world: World = made.obstacles.world(job, ())
    away = _measured(world, job.need + 2 * grid.pitch)
    free = away >= job.need
    cells = np.argwhere(free)
    tips = []
    for end in job.ends:
        near = np.linalg.norm(grid.centre(cells) - end.tip, axis=1).argmin()
        i, j, k = (int(n) for n in cells[near])
        tips.append((i, j, k))
    return Field(made, grid.pitch, away, free, tips[0], tips[1])


# --- ways of points ---------------------------------------------------------------------------


def _dijkstra3d(field: Field) -> float:
    import dijkstra3d

    away = dijkstra3d.euclidean_distance_field(
        field.free.astype(np.uint8), field.start, anisotropy=(field.pitch,) * 3
    )
    return float(away[field.end])


def _skfmm(field: Field) -> float:
    import skfmm

    front = np.ones(field.free.shape)
    front[field.start] = -1.0
    away = skfmm.distance(np.ma.MaskedArray(front, ~field.free), dx=field.pitch, order=2)
    value = away[field.end]
    return math.inf if np.ma.is_masked(value) else float(value) + field.pitch / 2


def _skimage(field: Field) -> float:
    from skimage.graph import MCP_Geometric

    costs = np.where(field.free, field.pitch, -1.0)
    away, _ = MCP_Geometric(costs).find_costs([field.start])
    return float(away[field.end])


def _networkx(field: Field) -> float:
    import networkx as nx

    free = field.free
    graph = nx.Graph()
    number = np.cumsum(free.ravel()).reshape(free.shape) - 1
    shifts = [s for s in np.ndindex(3, 3, 3) if s > (1, 1, 1)]
    for shift in np.array(shifts) - 1:
        pairs_of = list(zip(shift, free.shape, strict=True))
        here = tuple(slice(max(0, -s), n - max(0, s)) for s, n in pairs_of)
        there = tuple(slice(max(0, s), n + min(0, s)) for s, n in pairs_of)
        both = free[here] & free[there]
        size = field.pitch * float(np.linalg.norm(shift))
        pairs = zip(number[here][both].tolist(), number[there][both].tolist(), strict=True)
        graph.add_weighted_edges_from((a, b, size) for a, b in pairs)
    places = np.argwhere(free) * field.pitch

    def left(a: int, b: int) -> float:
        return math.dist(places[a], places[b])

    ends = int(number[field.start]), int(number[field.end])
    try:
        return float(nx.astar_path_length(graph, *ends, heuristic=left, weight="weight"))
    except (nx.NetworkXNoPath, nx.NodeNotFound):
        return math.inf


# --- sampled plans ----------------------------------------------------------------------------


def _level_frame(one: Points, two: Points) -> Points:
    """Rows of a frame in which both directions are level."""
    up = np.cross(one, two)
    if np.linalg.norm(up) < 1e-6:
        up = np.cross(one, [0.0, 0.0, 1.0] if abs(one[2]) < 0.9 else [1.0, 0.0, 0.0])
    up /= np.linalg.norm(up)
    return np.array([one, np.cross(up, one), up])


def _checker(field: Field, frame: Points) -> Callable[[Any], bool]:
    """Whether a state keeps the clearance: by the table where conclusive, else exactly."""
    job, grid = field.made.jobs[0], field.made.space.grid
    world = field.made.obstacles.world(job, ())
    need = job.need + SPARE
    reach = 0.8661 * grid.pitch
    sure = np.where(field.away - reach >= need, 1, np.where(field.away + reach < need, 2, 0))
    table = sure.astype(np.uint8).tobytes()
    n0, n1, n2 = grid.shape
    ox, oy, oz = grid.origin
    pitch = grid.pitch
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = frame.tolist()
    _ = exact(world, ox, oy, oz, need)

    def clear(state: Any) -> bool:
        u, v, w = state[0], state[1], state[2]
        x, y, z = u * ax + v * bx + w * cx, u * ay + v * by + w * cy, u * az + v * bz + w * cz
        i, j, k = int((x - ox) // pitch), int((y - oy) // pitch), int((z - oz) // pitch)
        if not (0 <= i < n0 and 0 <= j < n1 and 0 <= k < n2):
            return False
        known = table[(i * n1 + j) * n2 + k]
        if known:
            return known == 1
        return bool(exact(world, x, y, z, need) >= need)

    return clear


def _ompl(name: str, field: Field, run: int) -> Record:
    """Plan for SECONDS; the history of lengths, and the best plan judged."""
    from ompl import util

    util.setLogLevel(util.LOG_ERROR)
    util.RNG.setSeed(run + 1)
    _, kind, planner = name.rsplit(" ", 2) if "R3" not in name else ("OMPL", "R3", "Informed")
    job = field.made.jobs[0]
    frame = _level_frame(job.start.way, -job.end.way)
    setup = _setup({"R3": "", "Vana-Owen": "VanaOwen"}.get(kind, kind), field, frame)
    plans = _again(setup) if planner == "RRT-Connect" else _ever_better(setup, planner)
    history: list[tuple[float, float]] = []
    best = np.zeros((0, 3))
    begun = time.process_time()
    for path in plans:
        length = path.length() + field.fixed
        if not history or length < history[-1][1] - 1e-6:
            points = _points(path) @ frame
            judged = _judged(field, points, kind.startswith("Vana"))
            if judged["solved"] or not history:
                history.append((time.process_time() - begun, length))
                best = points
        if time.process_time() - begun > SECONDS:
            break
    record: Record = {"time": SECONDS, "history": history, "solved": False}
    return {**record, **_judged(field, best, kind.startswith("Vana"))} if history else record


def _setup(kind: str, field: Field, frame: Points) -> Any:
    """Space, bounds, checker, start and goal."""
    from ompl import base, geometric

    job, grid = field.made.jobs[0], field.made.space.grid
    if kind:
        space = getattr(base, f"{kind}StateSpace")(job.radius, STEEPEST)
    else:
        space = base.RealVectorStateSpace(3)
    steps = np.array(list(np.ndindex(2, 2, 2))) * np.array(grid.shape)
    reach = (np.array(grid.origin) + grid.pitch * steps) @ frame.T
    bounds = base.RealVectorBounds(3)
    for axis in range(3):
        bounds.setLow(axis, float(reach[:, axis].min()))
        bounds.setHigh(axis, float(reach[:, axis].max()))
    space.setBounds(bounds)
    setup = geometric.SimpleSetup(space)
    about = setup.getSpaceInformation()
    setup.setStateValidityChecker(_checker(field, frame))
    space.setLongestValidSegmentFraction(CHECKED_EVERY / space.getMaximumExtent())
    if kind:
        about.setMotionValidator(getattr(base, f"{kind}MotionValidator")(about))
    states = []
    for at, way in ((job.start.tip, job.start.way), (job.end.tip, -job.end.way)):
        state, level = space.allocState(), frame @ way
        for axis in range(3):
            state[axis] = float(frame[axis] @ at)
        if kind:
            state.setYaw(math.atan2(level[1], level[0]))
        if hasattr(state, "setPitch"):
            state.setPitch(0.0)
        states.append(state)
    setup.setStartAndGoalStates(*states)
    setup.setOptimizationObjective(base.PathLengthOptimizationObjective(about))
    return setup


def _ever_better(setup: Any, planner: str) -> Iterator[Any]:
    """Plans of a planner that keeps improving."""
    from ompl import geometric

    kind = geometric.InformedRRTstar if planner == "Informed" else geometric.RRTstar
    setup.setPlanner(kind(setup.getSpaceInformation()))
    setup.setup()
    begun = time.process_time()
    while time.process_time() - begun < SECONDS:
        setup.solve(0.25)
        if setup.haveExactSolutionPath():
            yield setup.getSolutionPath()


def _again(setup: Any) -> Iterator[Any]:
    """Repeated plans of RRT-Connect from scratch, each with shortcuts."""
    from ompl import geometric

    planner = geometric.RRTConnect(setup.getSpaceInformation())
    planner.setRange(0.5)
    setup.setPlanner(planner)
    setup.setup()
    begun = time.process_time()
    while (left := SECONDS - (time.process_time() - begun)) > 0.05:
        setup.clear()
        setup.solve(left)
        if setup.haveExactSolutionPath():
            yield setup.getSolutionPath()
            setup.simplifySolution(0.3)
            yield setup.getSolutionPath()


def _points(path: Any) -> Points:
    """(n, 3) points about a millimetre apart in the planner's frame; the path is filled up."""
    path.interpolate(int(1000 * path.length()) + 2)
    count = path.getStateCount()
    return np.array([[path.getState(n)[axis] for axis in range(3)] for n in range(count)])


def _judged(field: Field, points: Points, hose: bool) -> Record:
    """Length of a sampled path, and whether clearance (and radius) are really kept."""
    job = field.made.jobs[0]
    world = field.made.obstacles.world(job, ())
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    points = points[np.append(True, step > 1e-9)]
    least = min(exact(world, *point, 2 * job.need) for point in points)
    radius = _least_radius(points)
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum()) + field.fixed
    kept = least >= job.need - 1e-5 and (not hose or radius >= 0.97 * job.radius)
    return {"solved": bool(kept), "length": length, "least": float(least), "radius": radius}


def _least_radius(points: Points) -> float:
    """Smallest radius of circles through three points 5 mm apart along the way."""
    along = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1)))
    at = np.arange(0.0, along[-1], 0.001)
    even = np.stack([np.interp(at, along, points[:, axis]) for axis in range(3)], axis=1)
    a, b, c = even[:-10], even[5:-5], even[10:]
    if len(a) == 0:
        return math.inf
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    sides = [np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))]
    return float((sides[0] * sides[1] * sides[2] / np.maximum(2 * area, 1e-12)).min())


# --- one run ----------------------------------------------------------------------------------

WAYS: dict[str, Callable[[Field], float]] = {
    "dijkstra3d field": _dijkstra3d,
    "scikit-fmm, order 2": _skfmm,
    "scikit-image MCP_Geometric": _skimage,
    "networkx A*, 30 mm cells": _networkx,
}


def _memory(forget: bool = False) -> float:
    """Peak memory of this process [MB], since the last reset where the system supports that."""
    status, forgetting = Path("/proc/self/status"), Path("/proc/self/clear_refs")
    if forget and forgetting.exists():
        forgetting.write_text("5")
    if not status.exists():
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    return int(line.split()[1]) / 1024


def main(name: str, seed: int, run: int) -> None:
    """One run of one method, as a line of JSON."""
    problem = single(seed)
    field = _field(ready(problem, 0.03) if name.startswith("networkx") else ready(problem))
    before = _memory(forget=True)
    if name.startswith("OMPL"):
        record = _ompl(name, field, run)
    else:
        importlib.import_module(next(m.package for m in METHODS if m.name == name))
        begun = time.process_time()
        length = WAYS[name](field)
        record = {"time": time.process_time() - begun, "solved": math.isfinite(length)}
        if record["solved"]:
            record["length"] = length + field.fixed
    record["memory"] = _memory() - before
    print(json.dumps(record), flush=True)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
