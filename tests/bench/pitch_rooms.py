"""Thirty rooms of known geometry for runs at several pitches: drawn, open and scanned.

Ten are closed drawings, ten are drawings with a side left out that are judged by sight, ten are
scans: noise on every surface, an engine that casts shadows, one of its sides never recorded. Boxes
and hoses are at random distances close to the required ones, where a grid could decide.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests import specimens
from tests.layouts.bay import Bay, Floats, mm, place
from tests.layouts.sound import Shape, bay

COUNT = 10
#: Longest edge of a scan's triangles [m], and one sigma of its noise.
EDGE, NOISE = 0.08, 0.0015


def rooms() -> Iterator[Bay]:
    """All thirty; the same every time."""
    for number in range(COUNT):
        yield _drawn(number)
    for number in range(COUNT):
        yield _open(number)
    for number in range(COUNT):
        yield _scanned(number)


def _rng(kind: int, number: int) -> np.random.Generator:
    return np.random.default_rng([3107, kind, number])


def _shape(rng: np.random.Generator, hull: str) -> Shape:
    length, width, height = rng.uniform((2.7, 1.5, 1.3), (3.2, 2.0, 1.6))
    sole = -float(rng.uniform(0.36, 0.55))
    return Shape(length=length, width=width, height=height, sole=sole, hull=hull)


def _drawn(number: int) -> Bay:
    rng = _rng(0, number)
    shape = _shape(rng, ("plain", "stringer", "tank", "deckbeam")[number % 4])
    made = bay(f"drawn_{number}", shape, number)
    made.triangles = specimens.join(made.triangles, *_bodies(rng, shape))
    _shift(rng, made, shape)
    return made


def _open(number: int) -> Bay:
    rng = _rng(1, number)
    shape = _shape(rng, "plain")
    made = bay(f"open_{number}", shape)
    made.triangles = specimens.join(shape.triangles(), *_bodies(rng, shape))
    # the starboard side is not drawn
    gone = np.isclose(made.triangles[:, :, 1], -shape.wall).all(axis=1)
    made.triangles = made.triangles[~gone]
    made.tables["boat"]["viewpoints"] = _viewpoints(rng, made, shape, int(rng.integers(2, 7)))
    _shift(rng, made, shape)
    return made


def _scanned(number: int) -> Bay:
    rng = _rng(2, number)
    shape = _shape(rng, "plain")
    made = bay(f"scan_{number}", shape)
    engine = specimens.box(*_engine(rng, shape))
    # the side facing the port wall was never recorded
    side = engine[:, :, 1].max()
    engine = engine[~np.isclose(engine[:, :, 1], side).all(axis=1)]
    drawn = specimens.join(shape.triangles(), engine, *_bodies(rng, shape))
    made.triangles = _noisy(rng, _cut(drawn))
    boat = made.tables["boat"]
    boat["origin"] = "scan"
    boat["scan_accuracy"] = mm(float(rng.choice([0.003, 0.005, 0.008])))
    boat["viewpoints"] = _viewpoints(rng, made, shape, int(rng.integers(6, 15)))
    _shift(rng, made, shape)
    return made


def _bodies(rng: np.random.Generator, shape: Shape) -> list[Floats]:
    """A beam beside the row of boxes, and a post the product hose may meet, at close quarters."""
    half, wall, sole = shape.length / 2, shape.wall, shape.sole
    off = wall - 0.30 - float(rng.uniform(0.0, 0.06))
    beam = specimens.box((half - 2.0, off - 0.05, sole), (half - 1.95, off, sole + 0.5))
    x = half - float(rng.uniform(0.1, 0.3))
    y = wall - 0.35 - float(rng.uniform(0.03, 0.09))
    post = specimens.box((x - 0.03, y - 0.06, sole), (x, y, sole + 0.9))
    return [beam, post]


def _engine(rng: np.random.Generator, shape: Shape) -> tuple[specimens.Corner, specimens.Corner]:
    """A block in front of the boxes, so that the space between is seen from few places."""
    aft = float(rng.uniform(-0.5, -0.1))
    port = shape.wall - 0.16 - 0.12 - float(rng.uniform(0.17, 0.30))
    high = float(rng.uniform(0.35, 0.7))
    low = (aft, port - 0.45, shape.sole)
    return low, (aft + 0.7, port, shape.sole + high)


def _viewpoints(rng: np.random.Generator, made: Bay, shape: Shape, count: int) -> list[str]:
    """Viewpoints over the middle of the room."""
    half = np.array([shape.length / 2 - 0.3, shape.wall - 0.35, 0.0])
    low = -half + (0.0, 0.0, shape.sole + 0.85)
    high = half + (0.0, 0.0, shape.sole + shape.height - 0.15)
    return [made.picked(row) for row in rng.uniform(low, high, (count, 3))]


def _shift(rng: np.random.Generator, made: Bay, shape: Shape) -> None:
    """Put the boxes close to one another and to the wall, at about the required distances."""
    half, wall, sole = shape.length / 2, shape.wall, shape.sole
    off = float(rng.uniform(0.005, 0.03))
    apart = float(rng.uniform(0.0, 0.02))
    boxes = made.tables["layout"]["modules"]
    boxes["feed"]["at"] = place(half - 1.05, wall - 0.06 - off, sole)
    boxes["hp"]["at"] = place(half - 1.70, wall - 0.12 - float(rng.uniform(0.005, 0.04)), sole)
    boxes["vessel"]["at"] = place(-half + 1.33 + apart, wall - 0.105, sole + 0.75)
    made.tables["kit"]["allowances"]["hose_clearance"] = mm(float(rng.choice([0.006, 0.010])))
    lines = made.tables["kit"]["lines"]
    if rng.random() < 0.5:
        for line in lines.values():
            line["way"] = "shortest"
    if not made.name.startswith("drawn"):
        # two hoses close to the boxes are enough; five take minutes
        made.tables["kit"]["lines"] = {name: lines[name] for name in ("feedline", "hpl")}


def _cut(triangles: Floats) -> Floats:
    """Triangles cut until no edge is longer than EDGE."""
    done: list[Floats] = []
    left = triangles
    while len(left):
        edges = np.linalg.norm(left - np.roll(left, 1, axis=1), axis=2)
        fine = edges.max(axis=1) <= EDGE
        done.append(left[fine])
        left, edges = left[~fine], edges[~fine]
        if not len(left):
            break
        # halve the longest edge, so that adjacent triangles halve the same one
        row = np.arange(len(left))
        to = edges.argmax(axis=1)
        a, b, c = (left[row, (to + k) % 3] for k in (-1, 0, 1))
        middle = (a + b) / 2
        left = np.concatenate([np.stack([a, middle, c], 1), np.stack([middle, b, c], 1)])
    return np.concatenate(done)


def _noisy(rng: np.random.Generator, triangles: Floats) -> Floats:
    """Every vertex moved slightly, with shared corners kept together."""
    places, which = np.unique(triangles.reshape(-1, 3).round(6), axis=0, return_inverse=True)
    moved = places + rng.normal(0.0, NOISE, places.shape)
    return np.ascontiguousarray(moved[which.reshape(-1)].reshape(-1, 3, 3))
