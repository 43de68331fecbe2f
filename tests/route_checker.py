"""Check every routed hose of a result.json against compartment.ply and the boxes, independently.

Shares no code with the program: own curve, own distances. Legs and bends are sampled as points
every millimetre; distances to triangles come from projection onto the plane and the three edges of
small triangles, found by a tree of their centres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.spatial import cKDTree

Points = NDArray[np.float64]
Json = dict[str, Any]

STEP = 1e-3  # spacing of the points along a hose [m]
SMALL = 0.06  # longest edge of the triangles used for distances [m]
HOLE_REACH = 0.08  # how far on either side of a hole's plane its exemption extends [m]
KINK = 1e-6  # [rad]
JOINT = 1e-7  # tolerance where pieces meet [m]
NEAR = 1e-5  # rounding tolerance of a clearance [m]


def check(result: Json, ply: Path) -> list[str]:
    """Every fault of the routed hoses of a result; empty if valid.

    result : contents of result.json; ply : the compartment in the boat frame [m]
    """
    triangles = np.asarray(trimesh.load(ply, process=False).triangles, dtype=np.float64)
    return check_among(result, triangles)


def check_among(result: Json, triangles: Points) -> list[str]:
    """The same with the compartment as triangles (n, 3, 3) in the boat frame [m]."""
    hoses = [hose for hose in result["hoses"] if hose["routed"]]
    runs = {hose["line"]: Run.of(hose) for hose in hoses if not _broken(hose)}
    faults = []
    for hose in hoses:
        found = _broken(hose) or [
            *_curve(hose, runs[hose["line"]]),
            *_room(hose, runs[hose["line"]], triangles, result),
        ]
        faults += [f"{hose['line']}: {text}" for text in found]
    return faults + _apart(hoses, runs, result["allowances"]["hose_gap"])


@dataclass(frozen=True, eq=False)
class Run:
    """A sampled hose: points (n, 3) along it and the distance s (n,) of each from its start."""

    points: Points
    s: Points

    @property
    def length(self) -> float:
        return float(self.s[-1])

    @classmethod
    def of(cls, hose: Json) -> Run:
        """Sample legs and bends at STEP or less."""
        points, s, gone = [], [], 0.0
        for piece in _pieces(hose):
            count = max(2, math.ceil(piece.length / STEP) + 1)
            along = np.linspace(0.0, piece.length, count)
            points.append(piece.at(along))
            s.append(gone + along)
            gone += piece.length
        return cls(points=np.concatenate(points), s=np.concatenate(s))


# --- the curve itself -------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Straight:
    """A leg."""

    start: Points
    end: Points

    @property
    def length(self) -> float:
        return float(np.linalg.norm(self.end - self.start))

    @property
    def ways(self) -> tuple[Points, Points] | None:
        """Direction of travel at both ends; None for a zero-length leg."""
        if self.length < 1e-9:
            return None
        way = (self.end - self.start) / self.length
        return way, way

    def at(self, s: Points) -> Points:
        share = s / self.length if self.length else 0 * s
        return self.start + share[:, None] * (self.end - self.start)

    def nearest(self, points: Points) -> tuple[Points, Points]:
        """Distance of each point, and its position along the leg."""
        way = (self.end - self.start) / max(self.length, 1e-30)
        along = np.clip((points - self.start) @ way, 0.0, self.length)
        return np.linalg.norm(points - self.start - along[:, None] * way, axis=1), along


@dataclass(frozen=True, eq=False)
class Arc:
    """A bend, sampled by rotating its start about its normal."""

    centre: Points
    normal: Points
    start: Points
    angle: float

    @property
    def radius(self) -> float:
        return float(np.linalg.norm(self.start - self.centre))

    @property
    def length(self) -> float:
        return self.radius * self.angle

    @property
    def ways(self) -> tuple[Points, Points]:
        last = self.at(np.array([self.length]))[0]
        return tuple(_unit(np.cross(self.normal, p - self.centre)) for p in (self.start, last))

    def at(self, s: Points) -> Points:
        turn = (s / self.radius)[:, None]
        spoke = self.start - self.centre
        return (
            self.centre
            + spoke * np.cos(turn)
            + np.cross(self.normal, spoke) * np.sin(turn)
            + self.normal * (self.normal @ spoke) * (1 - np.cos(turn))
        )

    def nearest(self, points: Points) -> tuple[Points, Points]:
        spoke = self.start - self.centre
        off = points - self.centre
        turn = np.arctan2(off @ np.cross(self.normal, spoke), off @ spoke)
        over = np.where(turn < 0, turn + 2 * math.pi, turn)
        # points on the far side of the circle are nearest to the start
        back = math.pi + self.angle / 2
        turn = np.where(over > back, 0.0, np.minimum(over, self.angle))
        along = turn * self.radius
        return np.linalg.norm(points - self.at(along), axis=1), along


def _unit(vector: Points) -> Points:
    return vector / np.linalg.norm(vector)


def _between(a: Points, b: Points) -> float:
    return math.atan2(float(np.linalg.norm(np.cross(a, b))), float(a @ b))


def _pieces(hose: Json) -> list[Straight | Arc]:
    """Leg, bend, leg ... leg."""
    pieces: list[Straight | Arc] = []
    for number, leg in enumerate(hose["legs"]):
        pieces.append(Straight(np.array(leg["start"]), np.array(leg["end"])))
        if number < len(hose["bends"]):
            bend = hose["bends"][number]
            normal, start = np.array(bend["normal"]), np.array(bend["start"])
            pieces.append(Arc(np.array(bend["centre"]), normal, start, bend["angle"]))
    return pieces


def _broken(hose: Json) -> list[str]:
    """Faults that make any measurement impossible."""
    if len(hose["legs"]) != len(hose["bends"]) + 1:
        return [f"{len(hose['legs'])} legs do not alternate with {len(hose['bends'])} bends"]
    if any(
        bend["radius"] <= 0 or not 0 < bend["angle"] < math.pi + 1e-9 for bend in hose["bends"]
    ):
        return ["a bend has no radius or an angle outside (0, pi)"]
    return []


def _curve(hose: Json, run: Run) -> list[str]:
    pieces = _pieces(hose)
    return [
        *_bends(hose),
        *_joints(hose, pieces),
        *_ends(hose, pieces),
        *_lengths(hose, pieces, run),
        *_path(hose, pieces),
    ]


def _bends(hose: Json) -> list[str]:
    faults = []
    for number, bend in enumerate(hose["bends"]):
        centre, normal = np.array(bend["centre"]), np.array(bend["normal"])
        start, end = np.array(bend["start"]), np.array(bend["end"])
        if bend["radius"] < hose["required_bend_radius"] - 1e-9:
            faults.append(f"bend {number} has radius {bend['radius']:.6f} m")
        wrong = {
            "normal is not a unit vector": abs(float(np.linalg.norm(normal)) - 1),
            "start is off its circle": abs(float(np.linalg.norm(start - centre)) - bend["radius"]),
            "end is off its circle": abs(float(np.linalg.norm(end - centre)) - bend["radius"]),
            "start is off its plane": abs(float((start - centre) @ normal)),
            "angle does not lead to its end": float(
                np.linalg.norm(
                    Arc(centre, normal, start, bend["angle"]).at(
                        np.array([np.linalg.norm(start - centre) * bend["angle"]])
                    )[0]
                    - end
                )
            ),
        }
        faults += [
            f"bend {number}: {what} by {off:.3g}" for what, off in wrong.items() if off > JOINT
        ]
    achieved = min((bend["radius"] for bend in hose["bends"]), default=None)
    claimed = hose["smallest_bend_radius"]
    if (claimed is None) != (achieved is None) or (achieved and abs(claimed - achieved) > 1e-9):
        faults.append(f"smallest bend radius is told as {claimed}, is {achieved}")
    return faults


def _joints(hose: Json, pieces: list[Straight | Arc]) -> list[str]:
    faults = []
    last = np.array(hose["start"])
    for number, piece in enumerate(pieces):
        gap = float(np.linalg.norm(piece.start - last))
        if gap > JOINT:
            faults.append(f"piece {number} starts {gap:.3g} m from where the one before it ends")
        last = piece.end if isinstance(piece, Straight) else piece.at(np.array([piece.length]))[0]
    turning = [piece for piece in pieces if piece.ways is not None]
    for number, (one, two) in enumerate(zip(turning[:-1], turning[1:], strict=True)):
        kink = _between(one.ways[1], two.ways[0])
        if kink > KINK:
            faults.append(f"a kink of {kink:.3g} rad after piece {number}")
    return faults


def _ends(hose: Json, pieces: list[Straight | Arc]) -> list[str]:
    faults = []
    first, last = pieces[0], pieces[-1]
    for name, told, is_ in (("start", hose["start"], first.start), ("end", hose["end"], last.end)):
        off = float(np.linalg.norm(np.array(told) - is_))
        if off > JOINT:
            faults.append(f"{name} is {off:.3g} m from its port")
    for name, piece, end in (("start", first, 0), ("end", last, 1)):
        if piece.length < hose["straight"] - 1e-9:
            faults.append(f"straight length at the {name} is {piece.length:.6f} m")
        if piece.ways is None:
            faults.append(f"no direction at the {name}")
            continue
        off = _between(piece.ways[end], np.array(hose[f"{name}_direction"]))
        if off > KINK:
            faults.append(f"{name} direction is off by {off:.3g} rad")
    return faults


def _lengths(hose: Json, pieces: list[Straight | Arc], run: Run) -> list[str]:
    faults = []
    length = sum(piece.length for piece in pieces)
    if abs(length - hose["length"]) > 1e-6:
        faults.append(f"length is told as {hose['length']:.6f} m, is {length:.6f} m")
    if length < hose["bound"] - 1e-9:
        faults.append(f"length {length:.6f} m is below its bound {hose['bound']:.6f} m")
    if abs(run.length - length) > 1e-9:
        faults.append("laid out with another length")
    return faults


def _path(hose: Json, pieces: list[Straight | Arc]) -> list[str]:
    path = np.array(hose["path"], dtype=np.float64)
    off = np.full((len(pieces), len(path)), np.inf)
    where = np.zeros((len(pieces), len(path)))
    gone = 0.0
    for number, piece in enumerate(pieces):
        off[number], along = piece.nearest(path)
        where[number] = gone + along
        gone += piece.length
    faults = []
    nearest = off.argmin(axis=0)
    worst = float(off.min(axis=0).max())
    if worst > 1e-6:
        faults.append(f"path leaves the curve by {worst:.3g} m")
    s = where[nearest, np.arange(len(path))]
    step = np.diff(s)
    if len(path) < 2 or step.min() < -1e-6 or step.max() > 0.005 + 1e-6:
        faults.append("path does not run along the curve in steps of at most 5 mm")
    if s[0] > 1e-6 or s[-1] < gone - 1e-6:
        faults.append("path does not reach from end to end")
    return faults


# --- room round it ----------------------------------------------------------------------------


def _room(hose: Json, run: Run, triangles: Points, result: Json) -> list[str]:
    """Clearance to triangles, boxes and withdrawal spaces, except where exempt."""
    half, need = hose["outside_diameter"] / 2, hose["required_clearance"]
    own = {"start": hose["from"].split(".")[0], "end": hose["to"].split(".")[0]}
    tail = {
        "start": run.s <= hose["straight"] + 1e-9,
        "end": run.s >= run.length - hose["straight"] - 1e-9,
    }
    free_of_mesh = _in_holes(hose, run)
    for end, owner in own.items():
        if owner == "boat":
            free_of_mesh |= tail[end]
    faults = _holes_passed(hose, run)
    closest = to_triangles(run.points[~free_of_mesh], triangles, half + need + 0.03) - half
    clear = closest.min(initial=math.inf)
    if clear < need - NEAR:
        at = run.points[~free_of_mesh][closest.argmin()]
        faults.append(f"{clear * 1e3:.2f} mm from a triangle at {at.round(3).tolist()}")
    for module in result["modules"]:
        exempt = np.zeros(len(run.s), dtype=bool)
        for end, owner in own.items():
            if owner == module["name"]:
                exempt |= tail[end]
        gap = to_box(run.points[~exempt], np.array(module["corners"])).min(initial=math.inf) - half
        clear = min(clear, gap)
        if gap < need - NEAR:
            faults.append(f"{gap * 1e3:.2f} mm from {module['name']}")
        faults += _withdrawals(hose, run, tail, module)
    if hose["clearance"] > clear + 1e-4:
        faults.append(f"clearance is told as {hose['clearance']:.5f} m, is {clear:.5f} m")
    return faults


def _withdrawals(hose: Json, run: Run, tail: dict[str, Any], module: Json) -> list[str]:
    """Withdrawn parts must not meet a hose, unless it ends in that space."""
    faults = []
    for room in module["service"]:
        if room["kind"] != "withdrawal":
            continue
        away = to_box(run.points, np.array(room["corners"]))
        if any((away[tail[end]] < 0).any() for end in tail):
            continue
        gap = away.min() - hose["outside_diameter"] / 2
        if gap < -NEAR:
            faults.append(
                f"runs {-gap * 1e3:.2f} mm into the withdrawal space of {module['name']}"
            )
    return faults


def _in_holes(hose: Json, run: Run) -> NDArray[np.bool_]:
    """Mask of points exempt from triangles because they are on the axis of a declared hole."""
    free = np.zeros(len(run.s), dtype=bool)
    for hole in hose["holes"]:
        if hole["diameter"] >= hose["outside_diameter"]:
            aside, along = _about(hole, run.points)
            free |= (aside < 1e-6) & (np.abs(along) <= HOLE_REACH + 1e-6)
    return free


def _holes_passed(hose: Json, run: Run) -> list[str]:
    faults = []
    for hole in hose["holes"]:
        aside, along = _about(hole, run.points)
        crossing = np.flatnonzero(along[:-1] * along[1:] <= 0)
        if not len(crossing) or aside[crossing].min() > 1e-6:
            faults.append(f"does not pass {hole['name']} on its axis")
    return faults


def _about(hole: Json, points: Points) -> tuple[Points, Points]:
    """Distance from the hole's axis, and along it."""
    off, axis = points - np.array(hole["centre"]), _unit(np.array(hole["direction"]))
    along = off @ axis
    return np.linalg.norm(off - along[:, None] * axis, axis=1), along


def _apart(hoses: list[Json], runs: dict[str, Run], gap: float) -> list[str]:
    """Hoses closer to one another than their outer radii and the gap."""
    faults = []
    for number, one in enumerate(hoses):
        for two in hoses[:number]:
            if one["line"] not in runs or two["line"] not in runs:
                continue
            need = (one["outside_diameter"] + two["outside_diameter"]) / 2 + gap
            between = between_runs(runs[one["line"]], runs[two["line"]], need)
            if between < need - NEAR:
                faults.append(
                    f"{one['line']} and {two['line']}: centres {between * 1e3:.2f} mm apart, "
                    f"{need * 1e3:.2f} asked"
                )
    return faults


# --- distances --------------------------------------------------------------------------------


def to_triangles(points: Points, triangles: Points, reach: float) -> Points:
    """Distance of each point to the nearest triangle, infinite beyond reach."""
    away = np.full(len(points), math.inf)
    if not len(points):
        return away
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    near = ((triangles.max(axis=1) > low) & (triangles.min(axis=1) < high)).all(axis=1)
    small = _cut(triangles[near], low, high)
    if not len(small):
        return away
    tree = cKDTree(small.mean(axis=1))
    for number, some in enumerate(tree.query_ball_point(points, reach + SMALL)):
        if some:
            away[number] = _nearest(points[number], small[some])
    return np.where(away <= reach, away, math.inf)


def _cut(triangles: Points, low: Points, high: Points) -> Points:
    """Halve triangles at their longest edge until all are small, dropping those outside."""
    done = []
    while len(triangles):
        meets = ((triangles.max(axis=1) > low) & (triangles.min(axis=1) < high)).all(axis=1)
        triangles = triangles[meets]
        edges = np.linalg.norm(triangles - np.roll(triangles, -1, axis=1), axis=2)
        long = edges.max(axis=1) > SMALL
        done.append(triangles[~long])
        first = edges[long].argmax(axis=1)
        turned = np.take_along_axis(
            triangles[long], ((first[:, None] + np.arange(3)) % 3)[:, :, None], axis=1
        )
        a, b, c = turned[:, 0], turned[:, 1], turned[:, 2]
        middle = (a + b) / 2
        triangles = np.concatenate([np.stack([a, middle, c], 1), np.stack([middle, b, c], 1)])
    return np.concatenate(done) if done else np.empty((0, 3, 3))


def _nearest(point: Points, triangles: Points) -> float:
    """Distance of one point to the nearest of some triangles."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1)
    flat = size > 1e-14
    normal = normal / np.where(flat, size, 1.0)[:, None]
    height = ((point - a) * normal).sum(axis=1)
    foot = point - height[:, None] * normal
    inside, edge = flat.copy(), np.full(len(a), math.inf)
    for p, q in ((a, b), (b, c), (c, a)):
        inside &= (np.cross(q - p, foot - p) * normal).sum(axis=1) >= 0
        edge = np.minimum(edge, _to_segment(point, p, q))
    return float(np.where(inside, np.abs(height), edge).min())


def _to_segment(point: Points, p: Points, q: Points) -> Points:
    way = q - p
    square = np.maximum((way**2).sum(axis=1), 1e-30)
    share = np.clip(((point - p) * way).sum(axis=1) / square, 0.0, 1.0)
    return np.linalg.norm(point - p - share[:, None] * way, axis=1)


def to_box(points: Points, corners: Points) -> Points:
    """Distance of points to a box given by its eight corners, negative inside."""
    centre, first = corners.mean(axis=0), corners[0]
    edges = np.stack([corners[4] - first, corners[2] - first, corners[1] - first])
    sizes = np.linalg.norm(edges, axis=1)
    beyond = np.abs((points - centre) @ (edges / sizes[:, None]).T) - sizes / 2
    outside = np.sqrt((np.maximum(beyond, 0.0) ** 2).sum(axis=1))
    return outside + np.minimum(beyond.max(axis=1), 0.0)


def between_runs(one: Run, two: Run, reach: float) -> float:
    """Smallest distance of two sampled hoses where it is below reach, else infinite."""
    pairs = cKDTree(one.points).query_ball_tree(cKDTree(two.points), reach + 2 * STEP)
    a = np.repeat(np.arange(len(pairs)), [len(pair) for pair in pairs])
    if not len(a):
        return math.inf
    b = np.concatenate([np.array(pair, dtype=np.int64) for pair in pairs if pair])
    best = math.inf
    for shift in (-1, 0):  # the pieces of the second hose before and after each point
        p = two.points[np.clip(b + shift, 0, len(two.points) - 1)]
        q = two.points[np.clip(b + shift + 1, 0, len(two.points) - 1)]
        way = q - p
        square = np.maximum((way**2).sum(axis=1), 1e-30)
        share = np.clip(((one.points[a] - p) * way).sum(axis=1) / square, 0.0, 1.0)
        off = np.linalg.norm(one.points[a] - p - share[:, None] * way, axis=1)
        best = min(best, float(off.min()))
    return best
