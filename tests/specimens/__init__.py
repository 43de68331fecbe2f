"""Simple meshes, and the smallest boats and scenarios that use them.

Triangles are (n, 3, 3) float64 in metres. Rooms face inward, bodies in them outward. The plain
room spans x -1..1, y -0.75..0.75, z 0..1.2 and its boat frame is the mesh frame: x forward, y to
port, z up, origin on the centreline at the sea surface below the inside point.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box, as_axes, as_point
from fitcheck.geometry.grid import Grid
from fitcheck.model.found.space import FREE, SOLID, Frame, PlacedVolume, Space
from fitcheck.model.given.boat import Boat, Centreline, Conditions, Datum
from fitcheck.model.given.kit import Allowances, Kit, Limits
from fitcheck.model.given.scenario import Layout, Placement, Scenario
from fitcheck.model.uncertainty import COVERAGE, Uncertainty

Triangles = NDArray[np.float64]
Corner = tuple[float, float, float]

LOW: Corner = (-1.0, -0.75, 0.0)
HIGH: Corner = (1.0, 0.75, 1.2)
#: Uncertainty of a space made from formulas, in the form `unsure` takes.
ACCURATE = {"accuracy": 0.0, "scale_uncertainty": 0.0, "height_uncertainty": 0.005}

#: Each face of a box as corners in order, seen from outside counter-clockwise (corner = 4x+2y+z).
_BOX_FACES = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))


def box(low: Corner = LOW, high: Corner = HIGH, *, inward: bool = False) -> Triangles:
    """Twelve triangles of an upright box."""
    ends = np.array([low, high])
    corners = np.array([[ends[x, 0], ends[y, 1], ends[z, 2]] for x, y, z in np.ndindex(2, 2, 2)])
    faces = [(a, b, c) for a, b, c, _ in _BOX_FACES] + [(a, c, d) for a, _, c, d in _BOX_FACES]
    return facing(corners[np.array(faces)], inward)


def facing(triangles: Triangles, flip: bool) -> Triangles:
    """The same triangles, reversed when `flip`."""
    return np.ascontiguousarray(triangles[:, ::-1] if flip else triangles)


def room() -> Triangles:
    """The plain room: 12 triangles."""
    return box(inward=True)


def room_with_box(low: Corner = (0.2, -0.3, 0.0), high: Corner = (0.8, 0.3, 0.5)) -> Triangles:
    """The plain room with a body (an engine) in it: 24 triangles."""
    return join(room(), box(low, high))


def l_room() -> Triangles:
    """The plain room without its forward port quarter (x > 0 and y > 0): an L seen from above."""
    (x0, y0, z0), (x1, y1, z1) = LOW, HIGH
    outline = [(x0, y0), (x1, y0), (x1, 0.0), (0.0, 0.0), (0.0, y1), (x0, y1)]
    return facing(prism(outline, z0, z1), flip=True)


def wedge() -> Triangles:
    """A room with a level floor and a roof that falls from 1.2 m aft to zero forward."""
    (x0, y0, z0), (x1, y1, z1) = LOW, HIGH
    outline = [(x0, z0), (x1, z0), (x0, z1)]
    turned = prism(outline, -y1, -y0)  # (x, z, -y)
    return facing(np.stack([turned[..., 0], -turned[..., 2], turned[..., 1]], axis=-1), flip=True)


def prism(outline: Sequence[tuple[float, float]], bottom: float, top: float) -> Triangles:
    """A closed upright prism over a counter-clockwise outline, a fan from its fourth corner.

    The fan works for any convex outline and for the L whose inner corner is number three.
    """
    count = len(outline)
    pivot = 3 % count
    low = np.array([(x, y, bottom) for x, y in outline])
    high = np.array([(x, y, top) for x, y in outline])
    faces = []
    for i in range(count):
        j = (i + 1) % count
        faces += [(low[i], low[j], high[j]), (low[i], high[j], high[i])]
        if pivot not in (i, j):
            faces += [(high[pivot], high[i], high[j]), (low[pivot], low[j], low[i])]
    return np.array(faces)


def sheet(x: float, low: tuple[float, float], high: tuple[float, float]) -> Triangles:
    """A thin upright sheet across the boat at x, from (y, z) low to (y, z) high: 2 triangles."""
    a, b = (x, low[0], low[1]), (x, high[0], low[1])
    c, d = (x, high[0], high[1]), (x, low[0], high[1])
    return np.array([(a, b, c), (a, c, d)], dtype=np.float64)


def bulkhead(
    x: float = 0.0,
    centre: tuple[float, float] = (0.0, 0.6),
    diameter: float = 0.2,
    low: tuple[float, float] = (LOW[1], LOW[2]),
    high: tuple[float, float] = (HIGH[1], HIGH[2]),
    sides: int = 48,
) -> Triangles:
    """A thin sheet across the boat at x with a round hole; the polygon is outside the circle."""
    corners = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    angles = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    angles = np.append(angles, [np.arctan2(z - centre[1], y - centre[0]) for y, z in corners])
    angles = np.unique(np.mod(angles, 2.0 * np.pi))
    ways = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    radius = diameter / 2.0 / np.cos(np.pi / sides)
    reach = np.full(len(ways), np.inf)
    for axis in range(2):
        with np.errstate(divide="ignore"):
            for edge in (low[axis], high[axis]):
                far = (edge - centre[axis]) / ways[:, axis]
                reach = np.where((far > 0.0) & (far < reach), far, reach)
    inner, outer = ways * radius + np.array(centre), ways * reach[:, None] + np.array(centre)
    after, beyond = np.roll(inner, -1, axis=0), np.roll(outer, -1, axis=0)
    flat = np.concatenate(
        [np.stack([inner, outer, beyond], axis=1), np.stack([inner, beyond, after], axis=1)]
    )
    return np.concatenate([np.full((*flat.shape[:2], 1), x), flat], axis=2)


def sphere(
    radius: float = 0.5,
    centre: Corner = (0.0, 0.0, 0.6),
    *,
    rings: int = 32,
    inward: bool = False,
) -> Triangles:
    """A ball of `rings` x 2 `rings` patches, its vertices on the true sphere."""
    polar = np.linspace(0.0, np.pi, rings + 1)
    round_ = np.linspace(0.0, 2.0 * np.pi, 2 * rings + 1)
    p, r = np.meshgrid(polar, round_, indexing="ij")
    points = np.stack([np.sin(p) * np.cos(r), np.sin(p) * np.sin(r), np.cos(p)], axis=-1)
    return facing(patches(points * radius + np.array(centre)), inward)


def cylinder(
    radius: float = 0.3,
    length: float = 1.0,
    centre: Corner = (0.0, 0.0, 0.6),
    *,
    sides: int = 64,
    inward: bool = False,
) -> Triangles:
    """A closed cylinder along x, its edges on the true cylinder."""
    angles = np.linspace(0.0, 2.0 * np.pi, sides + 1)
    stations = np.array([-length / 2.0, -length / 2.0, length / 2.0, length / 2.0])
    radii = np.array([0.0, radius, radius, 0.0])
    points = np.stack(
        [
            np.repeat(stations[:, None], len(angles), axis=1),
            radii[:, None] * np.cos(angles),
            radii[:, None] * np.sin(angles),
        ],
        axis=-1,
    )
    return facing(patches(points + np.array(centre)), flip=not inward)


def patches(points: NDArray[np.float64]) -> Triangles:
    """A (rows, columns, 3) net of points as triangles, those without area left out."""
    a, b = points[:-1, :-1], points[1:, :-1]
    c, d = points[1:, 1:], points[:-1, 1:]
    both = np.concatenate([np.stack([a, b, c], axis=-2), np.stack([a, c, d], axis=-2)])
    triangles = both.reshape(-1, 3, 3)
    spans = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return np.ascontiguousarray(triangles[np.linalg.norm(spans, axis=1) > 1e-12])


def join(*parts: Triangles) -> Triangles:
    """All triangles in one array."""
    return np.concatenate(parts)


def moved(triangles: Triangles, turn: NDArray[np.float64], shift: Sequence[float]) -> Triangles:
    """turn @ point + shift for every corner."""
    return np.ascontiguousarray(triangles @ np.asarray(turn).T + np.asarray(shift))


def finer(triangles: Triangles, times: int = 1) -> Triangles:
    """Every triangle split into four, `times` over."""
    for _ in range(times):
        a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
        ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
        quarters = ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
        triangles = np.concatenate([np.stack(quarter, axis=1) for quarter in quarters])
    return triangles


# Files.


def write_stl(path: Path, triangles: Triangles) -> Path:
    """A binary STL file."""
    record = np.zeros(len(triangles), dtype=[("floats", "<f4", (12,)), ("tail", "<u2")])
    record["floats"][:, 3:] = np.asarray(triangles).reshape(-1, 9)
    path.write_bytes(bytes(80) + struct.pack("<I", len(triangles)) + record.tobytes())
    return path


def write_ply(path: Path, triangles: Triangles) -> Path:
    """A binary PLY file in float64, corners not shared."""
    count = len(triangles)
    header = (
        "ply\nformat binary_little_endian 1.0\n"
        f"element vertex {3 * count}\nproperty double x\nproperty double y\nproperty double z\n"
        f"element face {count}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    faces = np.zeros(count, dtype=[("n", "u1"), ("corner", "<i4", (3,))])
    faces["n"] = 3
    faces["corner"] = np.arange(3 * count).reshape(-1, 3)
    points = np.ascontiguousarray(triangles, dtype="<f8").tobytes()
    path.write_bytes(header.encode() + points + faces.tobytes())
    return path


# Boats and scenarios.


def conditions(**changes: Any) -> Conditions:
    """Upright boat, two temperatures of ocean water."""
    plain = Conditions(
        heel=(0.0,),
        trim=(0.0,),
        water_temperature_C=(5.0, 30.0),
        salinity=(0.0352,),
        atmosphere=101_325.0,
    )
    return replace(plain, **changes)


def boat(mesh: Path | str, **changes: Any) -> Boat:
    """A boat around one mesh file, its boat frame being the mesh frame."""
    plain = Boat(
        name="specimen",
        mesh=str(mesh),
        origin="cad",
        unit=1.0,
        tape_measures=(),
        scan_accuracy=None,
        up=(0.0, 0.0, 1.0),
        forward=(1.0, 0.0, 0.0),
        waterline=(),
        datum=Datum(point=(0.0, 0.0, 0.0), above_sea=0.0, taken="drawing"),
        centreline=Centreline(point=(0.0, 0.0, 0.0), offset=0.0),
        flotation=None,
        inside=(0.0, 0.0, 0.6),
        viewpoints=(),
        crop=(),
        lids=(),
        keep_outs=(),
        solids=(),
        declared_free=(),
        ports=(),
        holes=(),
        hatch=None,
        conditions=conditions(),
    )
    return replace(plain, **changes)


def limits(**changes: Any) -> Limits:
    """Common-practice limits, none stated by a maker."""
    plain = Limits(
        suction_vacuum_ok=10_000.0,
        suction_vacuum_max=25_000.0,
        npsh_margin=1.0,
        npsh_ratio=1.3,
        inlet_pressure_min=20_000.0,
        product_back_pressure_max=30_000.0,
        brine_back_pressure_max=50_000.0,
        high_pressure_loss_max=0.03,
        given=(),
    )
    return replace(plain, **changes)


def allowances(**changes: Any) -> Allowances:
    """Default allowances, none stated by the user."""
    plain = Allowances(
        hose_clearance=0.010,
        hose_gap=0.005,
        box_gap=0.010,
        straight=0.060,
        end_allowance=0.025,
        slack=0.03,
        rounding=0.010,
        high_pressure_slack=0.04,
        given=(),
    )
    return replace(plain, **changes)


def kit(**changes: Any) -> Kit:
    """A kit with nothing in it."""
    plain = Kit(
        name="specimen kit",
        modules=(),
        lines=(),
        hoses=(),
        feed_pump=None,
        high_pressure_pump=None,
        membrane=None,
        resistances=(),
        limits=limits(),
        allowances=allowances(),
    )
    return replace(plain, **changes)


def layout(*placements: Placement, **changes: Any) -> Layout:
    """A layout of these placements at 20 mm pitch."""
    plain = Layout(name="specimen layout", placements=placements, choices=(), pitch=0.020)
    return replace(plain, **changes)


def scenario(of: Boat, **changes: Any) -> Scenario:
    """A scenario around one boat, with an empty kit and layout unless given."""
    plain = Scenario(
        name="specimen",
        about="invented",
        boat=of,
        kit=kit(),
        layout=layout(),
        boat_file="boat.toml",
        kit_file="kit.toml",
        layout_file="layout.toml",
        inputs=(),
    )
    return replace(plain, **changes)


def upright_box(low: Corner, high: Corner) -> Box:
    """An upright box by two opposite corners."""
    a, b = np.array(low), np.array(high)
    return Box(centre=as_point((a + b) / 2), half=as_point((b - a) / 2), axes=as_axes(np.eye(3)))


def unsure(
    *, accuracy: float = 0.0, scale_uncertainty: float = 0.0, height_uncertainty: float = 0.0
) -> Uncertainty:
    """Uncertainty of a space: accuracy and height at 95 %, scale as a standard uncertainty."""
    return Uncertainty(
        surface=accuracy / COVERAGE, scale=scale_uncertainty, height=height_uncertainty / COVERAGE
    )


def hand_made_space(
    bodies: Sequence[tuple[Corner, Corner]] = (),
    *,
    low: Corner = LOW,
    high: Corner = HIGH,
    pitch: float = 0.020,
    extra: Triangles | None = None,
    keep_outs: Sequence[tuple[Corner, Corner]] = (),
    **changes: Any,
) -> Space:
    """A room with upright bodies, labelled and measured by formulas alone, no survey.

    Cells that touch a wall, a body or nothing inside are SOLID, all others FREE; the distance is
    exact to walls and bodies (and keep-outs). `extra` triangles are drawn but not labelled.
    """
    margin = 3
    sure = {key: changes.pop(key, usual) for key, usual in ACCURATE.items()}
    span = np.array(high) - np.array(low)
    count = np.ceil(span / pitch - 1e-9).astype(int) + 2 * margin
    grid = Grid(
        origin=as_point(np.array(low) - margin * pitch),
        pitch=pitch,
        shape=(int(count[0]), int(count[1]), int(count[2])),
    )
    centres = grid.centre(np.stack(np.indices(grid.shape), axis=-1))
    solids = [upright_box(*body) for body in bodies]
    walls = np.stack([centres - np.array(low), np.array(high) - centres], axis=-1).min((-1, -2))
    parts = [walls] + [part.distance(centres) for part in solids]
    blocked = np.minimum.reduce(parts)
    kept = [PlacedVolume(name="keep out", box=upright_box(*pair), why="") for pair in keep_outs]
    free_of = np.minimum.reduce([blocked] + [volume.box.distance(centres) for volume in kept])
    near_wall = walls < pitch / 2 * (1 + 1e-6)
    touched = np.zeros(grid.shape, dtype=bool)
    for part in solids:
        reach = np.abs(centres - np.array(part.centre)) - np.array(part.half)
        touched |= (reach < pitch / 2 * (1 + 1e-6)).all(axis=-1)
    label = np.where(near_wall | touched, SOLID, FREE).astype(np.uint8)
    meshes = [box(low, high, inward=True)] + [box(*body) for body in bodies]
    plain = Space(
        frame=Frame(
            scale=1.0,
            turn=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
            shift=(0.0, 0.0, 0.0),
        ),
        grid=grid,
        triangles=join(*meshes, *([] if extra is None else [extra])),
        label=label,
        distance=np.maximum(free_of, 0.0).astype(np.float32),
        inside=(0.0, 0.0, 0.6),
        flotation=(0.0, 0.0, 0.0),
        viewpoints=(),
        ports=(),
        holes=(),
        keep_outs=tuple(kept),
        solids=(),
        declared_free=(),
        hatch=(),
        uncertainty=unsure(**sure),
        raw_triangles=sum(len(mesh) for mesh in meshes),
        dropped=(),
        findings=(),
        assumptions=(),
    )
    return replace(plain, **changes)


# Scans.


def half_scanned(patch: float = 0.2) -> Triangles:
    """The plain room with a box 0.2 m off the sole, scanned with gaps.

    The box spans x -0.6..0.2, y -0.3..0.3, z 0.2..0.7; its underside was never scanned, and a
    round patch of radius `patch` is missing from its forward side and a smaller one from its top.
    """
    body = finer(box((-0.6, -0.3, 0.2), (0.2, 0.3, 0.7)), 5)
    middle = body.mean(axis=1)
    under = middle[:, 2] < 0.2 + 1e-9
    fore = middle[:, 0] > 0.2 - 1e-9
    fore &= np.linalg.norm(middle - np.array([0.2, 0.05, 0.45]), axis=1) < patch
    top = middle[:, 2] > 0.7 - 1e-9
    top &= np.linalg.norm(middle - np.array([-0.1, 0.0, 0.7]), axis=1) < 0.6 * patch
    return join(finer(room(), 5), body[~(under | fore | top)])


def mirrored() -> Triangles:
    """The box of `half_scanned` after a glossy corner: open there, lined inside.

    Lines of sight deflected by a mirror clear the inside up to the thickness of the scan, so every
    face has a second one 45 mm behind it that faces the inside.
    """
    low, high = (-0.6, -0.3, 0.2), (0.2, 0.3, 0.7)
    faces = box(low, high)
    lining = box(as_point(np.array(low) + 0.045), as_point(np.array(high) - 0.045), inward=True)
    body = finer(join(faces, lining), 5)
    corner = np.linalg.norm(body.mean(axis=1) - np.array(high), axis=1) < 0.22
    return join(finer(room(), 5), body[~corner])


def viewpoints(count: int, seed: int = 0, apart: float = 0.1) -> tuple[Corner, ...]:
    """Points in the plain room, away from its walls and from the box of `half_scanned`."""
    draw = np.random.default_rng(seed).uniform(
        np.array(LOW) + apart, np.array(HIGH) - apart, (40 * count, 3)
    )
    gap = upright_box((-0.6, -0.3, 0.2), (0.2, 0.3, 0.7)).distance(draw)
    return tuple(as_point(point) for point in draw[gap > apart][:count])
