"""Make the two demo meshes: one invented machinery space, drawn and scanned.

    python meshes/make_demo.py            writes demo_cad.stl and demo_scan.ply beside this file
    python meshes/make_demo.py --points   prints the points to pick on both, for the boat files

demo_cad.stl   a clean closed export in millimetres: x forward from the aft bulkhead, y to port of
               the centreline, z up from the sole; normals point into the air
demo_scan.ply  what a phone would bring home: only what a dozen places saw, open at the hatch,
               smooth noise, holes where a surface shone, floating bits, a doubled wall, y up,
               turned, tilted, and 1 % too small

Needs numpy only. Everything is invented; the same seed gives the same bytes.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Faces = NDArray[np.int64]
Mesh = tuple[Points, Faces]

HERE = Path(__file__).resolve().parent
SEED = 20240611

# The boat frame here, as fitcheck has it: x forward from the inside point, y to port of the
# centreline, z up from the sea surface [m].
AFT, BULKHEAD, FORE = -1.00, 1.00, 1.56
WALL = 0.02  # thickness of the bulkhead across
STARBOARD, SOLE, DECK = -0.55, -0.35, 0.85
SKIN = 0.002  # what keeps solids off the shell, so that every part is closed by itself
HATCH = ((-0.20, 0.62), (-0.36, 0.36))
HOLE = (0.46, 0.46, 0.030)  # y, z, radius of the hole in the bulkhead
STATIONS = np.array([AFT, -0.6, -0.2, 0.2, 0.6, BULKHEAD, 1.3, FORE])

# The scan: true length = SCALE * length on the scan.
SCALE = 1.0104
EDGE = 0.054  # longest edge of a scan triangle
NOISE = 0.0042  # smooth part, per axis, rms
GRAIN = 0.0010  # rough part
GRAZING = math.cos(math.radians(80))

VIEWPOINTS = np.array(
    [
        [-0.10, -0.25, 0.76],
        [-0.10, 0.25, 0.76],
        [0.50, -0.25, 0.76],
        [0.50, 0.25, 0.76],
        [0.20, 0.00, 0.70],
        [0.10, 0.15, 0.35],
        [0.45, 0.05, 0.30],
        [0.75, 0.30, 0.60],
        [0.75, -0.20, 0.25],
        [0.30, 0.40, 0.10],
        [0.60, 0.10, 0.00],
        [0.00, 0.50, 0.45],
        [-0.45, 0.00, 0.60],
        [-0.60, 0.35, 0.25],
        [-0.60, -0.40, 0.40],
        [-0.05, -0.05, 0.05],
        [-0.75, 0.60, 0.65],
        [0.15, -0.10, -0.15],
        [1.12, -0.20, 0.55],
        [1.25, 0.25, 0.70],
        [1.15, 0.50, 0.55],
        [1.40, -0.30, 0.30],
    ]
)


# --- shapes -----------------------------------------------------------------------------------


def hull(z: Points | float) -> Points:
    """Half breadth of the hull on the port side at height z, amidships [m]."""
    depth = 1.0 - (np.asarray(z, dtype=np.float64) - SOLE) / (DECK - SOLE)
    return 0.56 + 0.40 * np.sqrt(np.maximum(0.0, 1.0 - np.abs(depth) ** 2.2))


HULL_Z = SOLE + (DECK - SOLE) * (1 - np.cos(np.linspace(0, math.pi / 2, 13)))
HULL_Y = hull(HULL_Z)


def skin(z: Points | float) -> Points:
    """The hull as drawn: straight between the heights of HULL_Z [m]."""
    return np.interp(z, HULL_Z, HULL_Y)


def narrowed(points: Points) -> Points:
    """Draw the port side in towards the ends, as a hull does."""
    fullness = np.interp(points[:, 0], STATIONS, 1 - 0.11 * ((STATIONS + 0.2) / 1.7) ** 2)
    outboard = np.maximum(points[:, 1] - 0.30, 0.0)
    moved = points.copy()
    moved[:, 1] -= outboard * (1 - fullness)
    return moved


def prism(loops: list[Points], stations: Points, axis: int) -> Mesh:
    """Extrude an outline (counter-clockwise, holes clockwise) along an axis; normals outward.

    The outline's two coordinates are the two axes that follow `axis` in the order x, y, z, x.
    """
    flat, cap = triangulate(loops)
    count, last = len(flat), len(stations) - 1
    points = np.empty((count * len(stations), 3))
    for row, station in enumerate(stations):
        layer = points[row * count : (row + 1) * count]
        layer[:, axis] = station
        layer[:, (axis + 1) % 3] = flat[:, 0]
        layer[:, (axis + 2) % 3] = flat[:, 1]
    faces = [cap[:, ::-1], cap + last * count]
    first = 0
    for loop in loops:
        here = first + np.arange(len(loop))
        there = first + np.roll(np.arange(len(loop)), -1)
        for row in range(last):
            low, high = row * count, (row + 1) * count
            faces.append(np.stack([here + low, there + low, there + high], axis=1))
            faces.append(np.stack([here + low, there + high, here + high], axis=1))
        first += len(loop)
    return points, np.concatenate(faces)


def block(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    """A plain box."""
    outline = np.array(
        [[low[1], low[2]], [high[1], low[2]], [high[1], high[2]], [low[1], high[2]]]
    )
    return prism([outline], np.array([low[0], high[0]]), 0)


def circle(centre: tuple[float, float], radius: float, sides: int) -> Points:
    """A counter-clockwise polygon round a circle of that radius (the circle fits inside)."""
    turn = (np.arange(sides) + 0.5) * 2 * math.pi / sides
    reach = radius / math.cos(math.pi / sides)
    return np.asarray(centre) + reach * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def triangulate(loops: list[Points]) -> tuple[Points, Faces]:
    """Cut an outline with holes into triangles by clipping ears."""
    points = np.concatenate(loops)
    ring = list(range(len(loops[0])))
    first = len(loops[0])
    for loop in sorted(loops[1:], key=lambda hole: -float(hole[:, 0].max())):
        first = next(
            start
            for start in np.cumsum([0] + [len(each) for each in loops])[1:-1]
            if np.array_equal(points[start : start + len(loop)], loop)
        )
        ring = _bridged(points, ring, list(range(first, first + len(loop))), loops)
    return points, np.array(_ears(points, ring))


def _bridged(points: Points, ring: list[int], hole: list[int], loops: list[Points]) -> list[int]:
    """The ring with a hole joined to it by the shortest cut that crosses nothing."""
    start = max(range(len(hole)), key=lambda at: points[hole[at], 0])
    hole = hole[start:] + hole[:start]
    inner = points[hole[0]]
    edges = [(each[k - 1], each[k]) for each in loops for k in range(len(each))]
    order = sorted(range(len(ring)), key=lambda at: np.hypot(*(points[ring[at]] - inner)))
    at = next(k for k in order if not any(_cross(inner, points[ring[k]], *e) for e in edges))
    return [*ring[: at + 1], *hole, hole[0], *ring[at:]]


def _area(a: Points, b: Points, c: Points) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _cross(a: Points, b: Points, c: Points, d: Points) -> bool:
    """Whether two segments cross other than at an end."""
    return _area(a, b, c) * _area(a, b, d) < -1e-18 and _area(c, d, a) * _area(c, d, b) < -1e-18


def _ears(points: Points, ring: list[int]) -> list[tuple[int, int, int]]:
    ring, ears = list(ring), []
    while len(ring) > 3:
        size = len(ring)
        at = max(
            (k for k in range(size) if _is_ear(points, ring, k)),
            key=lambda k: _shape(points[[ring[k - 1], ring[k], ring[(k + 1) % size]]]),
        )
        ears.append((ring[at - 1], ring[at], ring[(at + 1) % size]))
        del ring[at]
    return [*ears, (ring[0], ring[1], ring[2])]


def _is_ear(points: Points, ring: list[int], k: int) -> bool:
    a, b, c = (points[ring[k - 1]], points[ring[k]], points[ring[(k + 1) % len(ring)]])
    if _area(a, b, c) <= 1e-12:
        return False
    others = np.array([points[at] for at in ring])
    apart = (np.abs(others[:, None] - np.stack([a, b, c])[None]).max(axis=2) > 1e-12).all(axis=1)
    others = others[apart]
    return not any(min(_area(a, b, p), _area(b, c, p), _area(c, a, p)) > -1e-12 for p in others)


def _shape(corners: Points) -> float:
    """How far a triangle is from a sliver: its area over its longest edge squared."""
    edges = corners - np.roll(corners, 1, axis=0)
    return _area(*corners) / float((edges**2).sum(axis=1).max())


# --- the machinery space ----------------------------------------------------------------------


def shell() -> Mesh:
    """The room itself, normals inward."""
    outline = np.concatenate(
        [[[STARBOARD, SOLE]], np.stack([HULL_Y, HULL_Z], axis=1), [[STARBOARD, DECK]]]
    )
    points, faces = prism([outline], STATIONS, 0)
    return narrowed(points), faces[:, ::-1]


def along_hull(x: tuple[float, float], z: tuple[float, float], depth: float | None) -> Mesh:
    """A piece that follows the hull: `depth` athwart, or reaching in to y = 0.46."""
    heights = np.unique(np.concatenate([z, HULL_Z[(z[0] < HULL_Z) & (z[1] > HULL_Z)]]))
    outer = np.stack([skin(heights) - SKIN, heights], axis=1)
    inner = outer - [depth, 0.0] if depth else np.array([[0.46, z[0]], [0.46, z[1]]])
    within = STATIONS[(x[0] < STATIONS) & (x[1] > STATIONS)]
    stations = np.unique(np.concatenate([x, within]))
    points, faces = prism([np.concatenate([outer, inner[::-1]])], stations, 0)
    return narrowed(points), faces


def bulkhead() -> Mesh:
    """Across the whole room, with the hole and an opening an arm and a phone go through."""
    low, high = SOLE + SKIN, DECK - SKIN
    heights = np.concatenate([[low], HULL_Z[1:-1], [high]])
    outer = np.stack([skin(heights) - SKIN, heights], axis=1)
    edge = STARBOARD + SKIN
    outline = np.concatenate([[[edge, low]], outer, [[edge, high]]])
    opening = np.array([[-0.42, 0.32], [-0.42, 0.74], [-0.06, 0.74], [-0.06, 0.32]])
    hole = circle(HOLE[:2], HOLE[2], 20)[::-1]
    points, faces = prism([outline, hole, opening], np.array([BULKHEAD, BULKHEAD + WALL]), 0)
    # The hole keeps its place: only the outboard edge follows the hull.
    rim = np.hypot(points[:, 1] - HOLE[0], points[:, 2] - HOLE[1]) < 1.1 * HOLE[2]
    return np.where(rim[:, None], points, narrowed(points)), faces


def solids() -> dict[str, Mesh]:
    """Everything that stands in the room, by name; each closed, normals outward."""
    floor, frames = SOLE + SKIN, (-0.50, 0.25, 0.80, 1.30)
    made = {
        "bulkhead": bulkhead(),
        "engine": block((-0.95, -0.24, floor), (-0.25, 0.24, 0.14)),
        "riser": block((-0.80, -0.10, 0.14 + SKIN), (-0.62, 0.08, 0.30)),
        "fuel tank": block((0.60, STARBOARD + SKIN, floor), (0.97, -0.20, 0.02)),
        "product tank": block((1.12, 0.00, floor), (1.50, 0.42, 0.20)),
        "shelf": along_hull((AFT + SKIN, -0.50 - SKIN), (0.40, 0.42), None),
        "seacock": prism([circle((0.72, 0.34), 0.028, 12)], np.array([floor, -0.27]), 2),
        "tank fitting": prism([circle((1.30, 0.22), 0.018, 12)], np.array([0.202, 0.23]), 2),
        "overboard": prism([circle((0.42, 0.06), 0.022, 12)], np.array([0.84, 0.918]), 1),
    }
    for x in frames:
        made[f"frame {x}"] = along_hull((x, x + 0.04), (floor, DECK - SKIN), 0.05)
    bays = ((AFT, -0.50), (-0.46, 0.25), (0.29, 0.80), (0.84, BULKHEAD), (1.02, 1.30))
    for aft, fore in (*bays, (1.34, FORE)):
        for z in (0.02, 0.56):
            part = along_hull((aft + SKIN, fore - SKIN), (z, z + 0.03), 0.04)
            made[f"stringer {aft} {z}"] = part
    return made


def joined(parts: list[Mesh]) -> Mesh:
    """Many meshes as one."""
    firsts = np.cumsum([0] + [len(points) for points, _ in parts])
    faces = [faces + first for (_, faces), first in zip(parts, firsts, strict=False)]
    return np.concatenate([points for points, _ in parts]), np.concatenate(faces)


# --- the scan ---------------------------------------------------------------------------------


def refined(mesh: Mesh, longest: float) -> Mesh:
    """Split every edge longer than that at its middle until none is left."""
    points, faces = mesh
    while True:
        edges = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
        unique, which = np.unique(edges, axis=0, return_inverse=True)
        span = np.linalg.norm(points[unique[:, 0]] - points[unique[:, 1]], axis=1)
        # The longest edges first, so that slivers do not multiply.
        split = span > max(longest, 0.6 * span.max())
        if not split.any():
            return points, faces
        middle = np.full(len(unique), -1)
        middle[split] = len(points) + np.arange(split.sum())
        points = np.concatenate([points, points[unique[split]].mean(axis=1)])
        faces = _split(faces, middle[which.reshape(-1, 3)])


def _split(faces: Faces, middle: Faces) -> Faces:
    """Triangles cut at the middles of their edges; -1 where an edge stays whole."""
    kept = [faces[(middle < 0).all(axis=1)]]
    for turn in range(3):
        (a, b, c) = np.roll(faces, -turn, axis=1).T
        (ab, bc, ca) = np.roll(middle, -turn, axis=1).T
        one = (ab >= 0) & (bc < 0) & (ca < 0)
        kept += [_stack(a, ab, c)[one], _stack(ab, b, c)[one]]
        two = (ab >= 0) & (bc >= 0) & (ca < 0)
        kept += [_stack(ab, b, bc)[two], _stack(a, ab, bc)[two], _stack(a, bc, c)[two]]
        if turn == 0:
            three = (middle >= 0).all(axis=1)
            kept += [_stack(a, ab, ca)[three], _stack(ab, b, bc)[three]]
            kept += [_stack(ca, bc, c)[three], _stack(ab, bc, ca)[three]]
    return np.concatenate(kept)


def _stack(a: Faces, b: Faces, c: Faces) -> Faces:
    return np.stack([a, b, c], axis=1)


def visible(eye: Points, targets: Points, normals: Points, room: Points) -> NDArray[np.bool_]:
    """Which targets the eye sees, steeply enough and past every triangle of the room.

    Parameters: eye (3,), targets and normals (n, 3), room (m, 3, 3).
    """
    ray = targets - eye
    reach = np.linalg.norm(ray, axis=1)
    facing = -(ray * normals).sum(axis=1) > GRAZING * reach
    seen = np.zeros(len(targets), dtype=bool)
    a, b, c = (room[:, k] - eye for k in range(3))
    sides = [np.cross(a, b).T, np.cross(b, c).T, np.cross(c, a).T]
    square = np.cross(b - a, c - a)
    height = (a * square).sum(axis=1)
    for start in range(0, len(targets), 4000):
        some = np.flatnonzero(facing[start : start + 4000]) + start
        turn = np.stack([ray[some] @ side for side in sides])
        inside = (turn > 0).all(axis=0) | (turn < 0).all(axis=0)
        along = ray[some] @ square.T
        share = np.divide(height, along, out=np.full_like(along, np.inf), where=along != 0)
        # A hit within 6 mm of the target is the target's own surface.
        before = (share > 0) & (share < (1 - 0.006 / reach[some])[:, None])
        seen[some] = ~(inside & before).any(axis=1)
    return seen


def waves(points: Points, rng: np.random.Generator) -> Points:
    """A smooth vector field of rms NOISE per axis, wavelengths 0.12 to 0.7 m."""
    field = np.zeros_like(points)
    for _ in range(36):
        way = rng.normal(size=3)
        way *= 2 * math.pi / rng.uniform(0.12, 0.7) / np.linalg.norm(way)
        phase = points @ way + rng.uniform(0, 2 * math.pi)
        field += np.sin(phase)[:, None] * rng.normal(size=3)
    return NOISE * field / math.sqrt(18)


def scanned() -> Mesh:
    """The scan in the boat frame, in true metres."""
    rng = np.random.default_rng(SEED)
    parts = [shell(), *solids().values()]
    room_points, room_faces = joined(parts)
    room = room_points[room_faces]
    points, faces = joined([refined(part, EDGE) for part in parts])
    middle, normal = points[faces].mean(axis=1), _normals(points[faces])
    looks_in = (middle[:, 2] > DECK - 1e-6) & _within(middle[:, :2], HATCH)
    seen = np.zeros(len(faces), dtype=bool)
    for eye in VIEWPOINTS:
        seen |= visible(eye, middle, normal, room)
    shiny = np.zeros(len(faces), dtype=bool)
    for centre, radius in (((-0.55, -0.24, -0.05), 0.06), ((0.30, -0.55, 0.10), 0.05),
                           ((-0.05, 0.93, 0.30), 0.06), ((0.95, -0.20, -0.12), 0.05)):  # fmt: skip
        shiny |= np.linalg.norm(middle - np.asarray(centre), axis=1) < radius
    faces = faces[seen & ~looks_in & ~shiny]
    parts = [(points, faces), _doubled(points, faces), *_floaters(rng)]
    points, faces = _compact(*joined(parts))
    return points + waves(points, rng) + GRAIN * rng.normal(size=points.shape), faces


def _normals(corners: Points) -> Points:
    square = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return square / np.maximum(np.linalg.norm(square, axis=1), 1e-30)[:, None]


def _within(points: Points, span: tuple[tuple[float, float], ...]) -> NDArray[np.bool_]:
    low, high = np.asarray(span).T
    return ((points > low) & (points < high)).all(axis=1)


def _doubled(points: Points, faces: Faces) -> Mesh:
    """A patch of the starboard wall seen twice, the second time 14 mm further out."""
    middle = points[faces].mean(axis=1)
    patch = (np.abs(middle[:, 1] - STARBOARD) < 1e-6) & _within(
        middle[:, [0, 2]], ((-0.25, 0.15), (0.15, 0.45))
    )
    return points - [0.0, 0.014, 0.0], faces[patch]


def _floaters(rng: np.random.Generator) -> list[Mesh]:
    """Small loose bits in the air."""
    bits = []
    for _ in range(22):
        at = rng.uniform([-0.9, -0.5, 0.0], [0.95, 0.75, 0.8])
        corners = at + rng.uniform(-0.012, 0.012, size=(5, 3))
        bits.append((corners, np.array([[0, 1, 2], [0, 2, 3], [1, 3, 4]])))
    return bits


def _compact(points: Points, faces: Faces) -> Mesh:
    """Only the points that a triangle uses."""
    used, where = np.unique(faces, return_inverse=True)
    return points[used], where.reshape(-1, 3)


# --- the two meshes' own axes -----------------------------------------------------------------


def to_cad(points: Points) -> Points:
    """Boat frame [m] -> axes of demo_cad.stl [mm]."""
    return (np.asarray(points) - [AFT, 0.0, SOLE]) * 1000.0


def scan_axes() -> Points:
    """Rows: the boat's x, y, z in the scan's axes (y up, turned 37 deg, tilted about 1.5)."""
    turn, roll, pitch = np.radians([37.0, 1.2, -0.9])
    about_z = np.array(
        [[math.cos(turn), -math.sin(turn), 0], [math.sin(turn), math.cos(turn), 0], [0, 0, 1]]
    )
    about_x = np.array(
        [[1, 0, 0], [0, math.cos(roll), -math.sin(roll)], [0, math.sin(roll), math.cos(roll)]]
    )
    about_y = np.array(
        [[math.cos(pitch), 0, math.sin(pitch)], [0, 1, 0], [-math.sin(pitch), 0, math.cos(pitch)]]
    )
    z_up_to_y_up = np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]])
    return (z_up_to_y_up @ about_y @ about_x @ about_z).T


def to_scan(points: Points) -> Points:
    """Boat frame [m] -> axes of demo_scan.ply [scan's metres]."""
    return (np.asarray(points) / SCALE) @ scan_axes() + [0.413, -0.862, 1.207]


# --- points to pick ---------------------------------------------------------------------------


def picks() -> dict[str, list[tuple[float, float, float]]]:
    """What the boat files need, in the boat frame [m]."""

    def at_hull(x: float, z: float) -> tuple[float, float, float]:
        point = narrowed(np.array([[x, float(skin(z)), z]]))[0]
        return (x, float(point[1]), z)

    (x0, x1), (y0, y1) = HATCH
    return {
        "waterline": [at_hull(x, 0.0) for x in (-0.9, -0.3, 0.1, 0.6)]
        + [(x, STARBOARD, 0.0) for x in (-0.1, 0.2, 0.5)],
        "waterline on the bulkhead": [(BULKHEAD, y, 0.0) for y in (0.1, 0.4)],
        "forward from, to": [(-0.3, STARBOARD, 0.3), (0.95, STARBOARD, 0.3)],
        "centreline on the bulkhead": [(BULKHEAD, 0.0, 0.2)],
        "inside": [(0.00, 0.10, 0.40)],
        "viewpoints": [tuple(eye) for eye in VIEWPOINTS],
        "hatch lid": [(x0 - 0.03, y0 - 0.03, DECK), (x1 + 0.03, y0 - 0.03, DECK),
                      (x1 + 0.03, y1 + 0.03, DECK), (x0 - 0.03, y1 + 0.03, DECK)],
        "hatch": [(x0, y0, DECK), (x1, y0, DECK), (x1, y1, DECK), (x0, y1, DECK)],
        "tape 1": [(AFT, -0.40, 0.40), (BULKHEAD, -0.48, 0.40)],
        "tape 2": [(0.90, STARBOARD, 0.30), at_hull(0.90, 0.30)],
        "tape 3": [(0.40, 0.10, SOLE), (0.40, 0.42, DECK)],
        "engine": [(-0.95, -0.24, SOLE), (-0.25, 0.24, 0.14)],
        "hot air over the engine": [(-0.95, -0.24, 0.14), (-0.25, 0.24, 0.32)],
        "seacock": [(0.72, 0.34, -0.27)],
        "overboard": [(0.06, 0.84, 0.42)],
        "tank": [(1.30, 0.22, 0.23)],
        "hole": [(BULKHEAD + WALL / 2, HOLE[0], HOLE[1])],
        "free before the hole": [(0.88, 0.39, 0.39), (1.00, 0.53, 0.53)],
        "free beyond the hole": [(1.02, 0.39, 0.39), (1.15, 0.53, 0.53)],
    }  # fmt: skip


def print_points() -> None:
    """Every point in both meshes' axes; the scan's with the slip of a hand of about 1.5 mm."""
    rng = np.random.default_rng(SEED + 1)
    for name, points in picks().items():
        true = np.array(points)
        slip = 0.0 if name in ("viewpoints", "inside") else 0.0015
        scan = to_scan(true) + slip * rng.normal(size=true.shape)
        if name.startswith("tape"):
            print(f"# {name}: {np.linalg.norm(true[1] - true[0]):.3f} m")
        else:
            print(f"# {name}")
        for here, mine, drawn in zip(true, scan, to_cad(true), strict=True):
            told = ["picked " + " ".join(f"{v:.3f}" for v in mine)]
            told.append("picked " + " ".join(f"{v:.0f}" for v in drawn))
            print(f'  scan "{told[0]}"   cad "{told[1]}"   boat {np.round(here, 3).tolist()}')


# --- files ------------------------------------------------------------------------------------


def write_stl(path: Path, mesh: Mesh) -> None:
    """Binary STL."""
    corners = mesh[0][mesh[1]]
    rows = np.zeros(
        len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]
    )
    rows["normal"], rows["corners"] = _normals(corners), corners
    head = b"invented machinery space, millimetres".ljust(80)
    path.write_bytes(head + np.uint32(len(rows)).tobytes() + rows.tobytes())


def write_ply(path: Path, mesh: Mesh) -> None:
    """Binary little-endian PLY."""
    points, faces = mesh
    rows = np.empty(len(faces), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    rows["count"], rows["corners"] = 3, faces
    head = (
        "ply\nformat binary_little_endian 1.0\ncomment invented scan of an invented boat\n"
        f"element vertex {len(points)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    path.write_bytes(head.encode() + points.astype("<f4").tobytes() + rows.tobytes())


def main() -> None:
    """Write both meshes, or print the points."""
    if "--points" in sys.argv[1:]:
        print_points()
        return
    points, faces = joined([shell(), *solids().values()])
    write_stl(HERE / "demo_cad.stl", (to_cad(points), faces))
    print(f"demo_cad.stl: {len(faces)} triangles")
    points, faces = scanned()
    write_ply(HERE / "demo_scan.ply", (to_scan(points), faces))
    print(f"demo_scan.ply: {len(faces)} triangles")


if __name__ == "__main__":
    main()
