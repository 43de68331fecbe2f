"""The verdict on a finished curve: exact distance to everything, between the samples too.

Independent of the field used by the search: triangles, unseen cubes, boxes and other hoses are
measured again. Steps along the curve are bounded by field.chord_floor, so that nothing closer than
the reported clearance less 10 micrometres can hide between two samples.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.geometry.curve import Curve, on_piece
from fitcheck.geometry.distance import (
    index_triangles,
    nearest_triangle,
    point_box,
    point_piece,
)
from fitcheck.kernels import kernel
from fitcheck.model.contact import Contact, Kind, by_a_hose
from fitcheck.routing.world.clear import chord_floor
from fitcheck.routing.world.field import NO_DARK, World, outside, to_unseen
from fitcheck.routing.world.obstacles import Obstacles, Tube, tube_rows
from fitcheck.routing.world.ports import End, Job
from fitcheck.units import Metre, Point

#: Distances beyond this are reported as this [m].
FARTHEST = 0.3
#: What may be missed between two samples [m].
HIDDEN = 1e-5
TRIANGLE, UNSEEN, EDGE, BOX, TUBE, HOT = 1, 2, 3, 4, 5, 6


@dataclass(frozen=True, eq=False, kw_only=True)
class Nearest:
    """The smallest surface clearance of a kind, what it is to, and where on the centre line."""

    clearance: Metre
    to: str
    place: NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Verdict:
    """Surface clearances of one curve: to solid things, withdrawal spaces, other hoses.

    The last is the margin over the required gap between hoses.
    """

    solid: Nearest
    space: Nearest
    hose: Nearest
    wanted: Metre

    @property
    def kept(self) -> bool:
        """Whether every clearance is kept (to a tenth of a micrometre)."""
        spare = 1e-7
        solid = self.solid.clearance >= self.wanted - spare
        return solid and min(self.space.clearance, self.hose.clearance) >= -spare


@kernel
def _solid(world, x, y, z, cutoff, skip_mesh, skip_box):  # type: ignore[no-untyped-def]
    """(distance [m], kind, which) of the nearest solid thing below `cutoff`, else (cutoff, 0, -1).

    x, y, z, cutoff [m]; skip_mesh: leave out triangles, unseen cells and the grid's edge;
    skip_box: a row of boxes left out, -1 for none.
    """
    best, kind, which = cutoff, 0, -1
    for b in range(world.boxes.shape[0]):
        if b != skip_box:
            d = point_box(x, y, z, world.boxes, b)
            if d < best:
                best, kind, which = d, BOX, b
    for b in range(world.hot.shape[0]):
        d = max(0.0, point_box(x, y, z, world.hot, b) - world.hot[b, 15])
        if d < best:
            best, kind, which = d, HOT, b
    if not skip_mesh:
        d = outside(world, x, y, z)
        if d < best:
            best, kind, which = d, EDGE, 0
        if best > 0.0:
            d = to_unseen(world, x, y, z, best)
            if d < best:
                best, kind, which = d, UNSEEN, 0
        if best > 0.0:
            d, t = nearest_triangle(x, y, z, world.triangles, best)
            if t >= 0:
                best, kind, which = d, TRIANGLE, t
    return best, kind, which


@kernel
def _single(world, mode, x, y, z, cutoff, skip_mesh):  # type: ignore[no-untyped-def]
    """One kind of the surroundings only: 3 triangles, 4 unseen cells, 5 the grid's edge.

    x, y, z, cutoff [m]; returns (distance [m], kind, which) as _solid does.
    """
    if skip_mesh:
        return cutoff, 0, -1
    if mode == 3:
        d, t = nearest_triangle(x, y, z, world.triangles, max(cutoff, 1e-9))
        return (d, TRIANGLE, t) if t >= 0 and d < cutoff else (cutoff, 0, -1)
    if mode == 4:
        d = to_unseen(world, x, y, z, max(cutoff, 1e-9))
        return (d, UNSEEN, 0) if d < cutoff else (cutoff, 0, -1)
    d = outside(world, x, y, z)
    return (d, EDGE, 0) if d < cutoff else (cutoff, 0, -1)


@kernel
def _rows(rows, x, y, z, cutoff, tubes):  # type: ignore[no-untyped-def]
    """(distance [m], kind, which) of the nearest of rows below `cutoff`, else (cutoff, 0, -1).

    rows: tubes (n, 12), less their extra requirement, or boxes (n, >= 15); x, y, z, cutoff [m].
    """
    best, kind, which = cutoff, 0, -1
    for b in range(rows.shape[0]):
        d = point_piece(x, y, z, rows, b) - rows[b, 11] if tubes else point_box(x, y, z, rows, b)
        if d < best:
            best, kind, which = d, TUBE if tubes else BOX, b
    return best, kind, which


@kernel
def _at(row, s):  # type: ignore[no-untyped-def]
    """Point x, y, z [m] at s [m] along a piece, row (>= 11,) as in point_piece."""
    a, b = s, 0.0
    if row[9] > 0.0:
        a, b = row[9] * math.sin(s / row[9]), row[9] * (1.0 - math.cos(s / row[9]))
    return (
        row[0] + a * row[3] + b * row[6],
        row[1] + a * row[4] + b * row[7],
        row[2] + a * row[5] + b * row[8],
    )


@kernel
def _distance(world, rows, mode, x, y, z, cutoff, skip_mesh, skip_box):  # type: ignore[no-untyped-def]
    """(distance [m], kind, which) of the nearest thing of a mode below `cutoff`.

    rows, mode, skip_mesh, skip_box as in least_on; x, y, z, cutoff [m].
    """
    if mode > 2:
        return _single(world, mode, x, y, z, cutoff, skip_mesh)
    if mode == 0:
        return _solid(world, x, y, z, cutoff, skip_mesh, skip_box)
    return _rows(rows, x, y, z, cutoff, mode == 2)


@kernel
def least_on(world, rows, mode, row, first, last, skip_mesh, skip_box, best):  # type: ignore[no-untyped-def]
    """Smallest distance along part of a piece where it is below `best`, proven to HIDDEN.

    mode: 0 solid things, 1 boxes in rows, 2 tubes in rows, 3 triangles, 4 unseen cells, 5 the
    grid's edge. row (>= 11,), a piece; first, last, along it, best [m]; rows as in _rows. Returns
    (distance [m], s [m], kind, which).
    """
    at, kind, which = first, 0, -1
    steps = int((last - first) / 0.02) + 1
    for m in range(steps + 1):
        s = first + (last - first) * m / steps
        x, y, z = _at(row, s)
        d, k, w = _distance(world, rows, mode, x, y, z, best, skip_mesh, skip_box)
        if k > 0 and d < best:
            best, at, kind, which = d, s, k, w
    s = first
    x, y, z = _at(row, s)
    here = _distance(world, rows, mode, x, y, z, best + 0.1, skip_mesh, skip_box)[0]
    while s < last - 1e-12:
        step = min(last - s, max(4e-4, 1.9 * math.sqrt(max(0.0, here * here - best * best))))
        if row[9] > 0.0:
            step = min(step, 0.5 * row[9])
        while True:
            x, y, z = _at(row, s + step)
            there, k, w = _distance(world, rows, mode, x, y, z, best + 0.1, skip_mesh, skip_box)
            bulge, chord = 0.0, step
            if row[9] > 0.0:
                bulge = row[9] * (1.0 - math.cos(0.5 * step / row[9]))
                chord = 2.0 * row[9] * math.sin(0.5 * step / row[9])
            floor = min(best, there) - HIDDEN + bulge
            if step <= 4e-4 or floor <= 0.0 or chord_floor(here, there, chord) >= floor * floor:
                break
            step = max(4e-4, 0.5 * step)
        s += step
        here = there
        if k > 0 and there < best:
            best, at, kind, which = there, s, k, w
    return best, at, kind, which


_NOWHERE = World(
    triangles=index_triangles(np.zeros((0, 3, 3)), 1.0),
    label=np.zeros((1, 1, 1), dtype=np.uint8),
    dark=NO_DARK,
    reach=np.zeros((1, 1, 1), dtype=np.float32),
    origin=np.zeros(3),
    pitch=np.ones(1),
    boxes=np.zeros((0, 15)),
    extra=np.zeros((0, 16)),
    tubes=np.zeros((0, 12)),
    still=np.zeros((1, 1, 1), dtype=np.float32),
    node=np.zeros((1, 1, 1), dtype=np.float32),
    room=np.zeros((1, 1, 1), dtype=np.float32),
    spot=np.zeros((1, 1, 1), dtype=np.uint8),
)
# read-only as in a space: kernels are compiled again for writable arrays
_NOWHERE.label.setflags(write=False)
_NOWHERE.reach.setflags(write=False)


@dataclass(frozen=True, slots=True)
class _Part:
    """A stretch of one piece with the same exclusions."""

    piece: int
    first: Metre
    last: Metre
    mesh: bool
    box: int


def _parts(
    obstacles: Obstacles, job: Job, curve: Curve, holes: Sequence[tuple[Metre, Metre]]
) -> list[_Part]:
    total = curve.length
    own = [obstacles.own_box(end) for end in job.ends]
    boat = [end.owner == "boat" for end in job.ends]
    near, far = job.start.straight, total - job.end.straight
    cuts = sorted({near, far, *(s for span in holes for s in span)})
    parts = []
    done = 0.0
    for number, row in enumerate(curve.pieces):
        ends = [done, *(cut for cut in cuts if done < cut < done + row[10]), done + row[10]]
        for first, last in zip(ends, ends[1:], strict=False):
            middle = (first + last) / 2
            box = own[0] if middle < near else own[1] if middle > far else -1
            mesh = (middle < near and boat[0]) or (middle > far and boat[1])
            mesh = mesh or any(a < middle < b for a, b in holes)
            parts.append(_Part(number, first - done, last - done, mesh, box))
        done += row[10]
    return parts


def verify(
    obstacles: Obstacles,
    job: Job,
    curve: Curve,
    others: Sequence[Tube],
    holes: Sequence[tuple[Metre, Metre]] = (),
) -> Verdict:
    """Measure a whole hose, port face to port face, against everything around it.

    Parameters: others, all other hoses; holes, stretches of the curve inside a declared hole, as
    distances along it [m].
    """
    found = _least(obstacles, job, curve.pieces, _parts(obstacles, job, curve, holes), others)
    return Verdict(solid=found[0], space=found[1], hose=found[2], wanted=job.clearance)


def contacts_of(
    obstacles: Obstacles,
    job: Job,
    curve: Curve,
    others: Sequence[Tube],
    holes: Sequence[tuple[Metre, Metre]],
    uncertainty: Callable[[Kind], Metre],
) -> tuple[Contact, ...]:
    """The nearest thing of every kind within reach of a whole hose, each measured separately.

    Parameters: uncertainty, of a gap to a thing of a kind [m]; the others as for `verify`.
    """
    parts = _parts(obstacles, job, curve, holes)
    world = obstacles.world(job, ())
    own = {part.box for part in parts}
    alone: tuple[tuple[int, Kind], ...] = ((3, "mesh"), (4, "unseen"), (5, "edge"))
    found: list[tuple[Kind, str, Metre, Point] | None] = [
        _contact(world, np.zeros((0, 15)), mode, curve, parts, kind) for mode, kind in alone
    ]
    for kind in get_args(Kind):
        rows = [row for row, of in enumerate(obstacles.kinds) if of == kind]
        # a hose's own box is exempt along its straight end only
        for group in ([r for r in rows if r not in own], *([r] for r in rows if r in own)):
            if group:
                told = [part for part in parts if part.box not in group]
                names = [obstacles.names[row] for row in group]
                found.append(_contact(world, obstacles.boxes[group], 1, curve, told, kind, names))
    for row, name in enumerate(obstacles.hot_names):
        kept, rows_hot = float(obstacles.hot[row, 15]), obstacles.hot[row : row + 1, :15]
        hot = _contact(world, rows_hot, 1, curve, parts, "hot", [name], FARTHEST + kept)
        if hot is not None:
            found.append((*hot[:2], max(0.0, hot[2] - kept), hot[3]))
    owners = [other.job.line.name for other in others for _ in other.pieces]
    tubes = _true_tubes(job, others)
    laid = _contact(world, tubes, 2, curve, parts, "hose", owners)
    if laid is not None:
        found.append((*laid[:2], laid[2] + job.gap, laid[3]))
    return tuple(
        Contact(
            kind=kind,
            subject=subject,
            gap=gap if kind == "hose" else gap - job.half,
            uncertainty=uncertainty(kind),
            place=place,
        )
        for kind, subject, gap, place in (row for row in found if row is not None)
    )


def _contact(
    world: World,
    rows: NDArray[np.float64],
    mode: int,
    curve: Curve,
    parts: list[_Part],
    kind: Kind,
    names: Sequence[str] = (),
    farthest: Metre = FARTHEST,
) -> tuple[Kind, str, Metre, Point] | None:
    """Kind, name, distance from the centre line and place of the nearest of some things."""
    best, number, place = farthest, -1, None
    for part in parts:
        row = curve.pieces[part.piece]
        value, s, hit, which = least_on(
            world, rows, mode, row, part.first, part.last, part.mesh, -1, best
        )
        if hit and value < best:
            best, number = float(value), int(which)
            place = as_point(on_piece(row, np.array([s]))[0])
    if place is None:
        return None
    return kind, names[number] if names else "", best, place


def nearest_to(
    obstacles: Obstacles,
    job: Job,
    row: NDArray[np.float64],
    end: End,
    others: Sequence[Tube],
) -> list[Nearest]:
    """The same three clearances for the straight length of one end."""
    part = _Part(0, 0.0, row[10], end.owner == "boat", obstacles.own_box(end))
    return _least(obstacles, job, row[None], [part], others)


def _least(
    obstacles: Obstacles,
    job: Job,
    pieces: NDArray[np.float64],
    parts: list[_Part],
    others: Sequence[Tube],
) -> list[Nearest]:
    """Smallest clearance over all parts to solid things, withdrawal spaces, other hoses."""
    kept = obstacles.kept_spaces(job)
    rows = (np.zeros((0, 15)), obstacles.spaces[kept], _true_tubes(job, others))
    world = obstacles.world(job, ())
    found = []
    for mode in range(3):
        best, place, kind, which = FARTHEST, pieces[0, :3], 0, -1
        for part in parts:
            row = pieces[part.piece]
            value, s, k, w = least_on(
                world, rows[mode], mode, row, part.first, part.last, part.mesh, part.box, best
            )
            if k and value < best:
                best, kind, which = float(value), k, w
                place = on_piece(row, np.array([s]))[0]
        name = _name(obstacles, mode, kind, which, kept, others)
        less = 0.0 if mode == 2 else job.half
        found.append(Nearest(clearance=best - less, to=name, place=place))
    return found


def _true_tubes(job: Job, others: Sequence[Tube]) -> NDArray[np.float64]:
    """Tube rows whose last column is the whole required centre distance."""
    rows = tube_rows(job, others)
    asked = [
        np.full(len(other.pieces), job.half + other.job.half + max(job.gap, other.job.gap))
        for other in others
    ]
    if asked:
        rows[:, 11] = np.concatenate(asked)
    return rows


def _name(
    obstacles: Obstacles,
    mode: int,
    kind: int,
    which: int,
    kept: NDArray[np.int64],
    others: Sequence[Tube],
) -> str:
    if kind == 0:
        return "nothing near"
    if mode == 1:
        return f"the withdrawal space of {obstacles.space_owners[int(kept[which])]}"
    if mode == 2:
        owners = [other.job.line.name for other in others for _ in other.pieces]
        return by_a_hose("hose", owners[which])
    if kind == BOX:
        return by_a_hose(obstacles.kinds[which], obstacles.names[which])
    if kind == HOT:
        return f"the distance required from {obstacles.hot_names[which]}"
    alone: dict[int, Kind] = {TRIANGLE: "mesh", UNSEEN: "unseen", EDGE: "edge"}
    return by_a_hose(alone[kind])


def least_between(one: NDArray[np.float64], two: NDArray[np.float64], cutoff: Metre) -> Metre:
    """Smallest distance between two sets of pieces (n, 11) where it is below `cutoff`, else
    `cutoff`.
    """
    rows = np.hstack([two, np.zeros((len(two), 1))])
    best = cutoff
    for row in one:
        best = float(least_on(_NOWHERE, rows, 2, row, 0.0, row[10], False, -1, best)[0])
    return best


def least_gap(one: Curve, two: Curve, cutoff: Metre) -> Metre:
    """Smallest distance between two centre lines where it is below `cutoff`, else `cutoff`."""
    low, high = one.legs.min(axis=(0, 1)), one.legs.max(axis=(0, 1))
    reach = cutoff + 2 * max(one.radius, two.radius)
    other_low, other_high = two.legs.min(axis=(0, 1)), two.legs.max(axis=(0, 1))
    if (low - reach > other_high).any() or (high + reach < other_low).any():
        return cutoff
    return least_between(one.pieces, two.pieces, cutoff)
