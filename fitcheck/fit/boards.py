"""Boards to be built: what supports each one, and what it would collide with."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.fit.measured.against import SAMPLES, gaps_to
from fitcheck.fit.measured.measure import depths_in_mesh, unseen_in_box
from fitcheck.fit.measured.surroundings import PACKING, PLAY, Body, Surroundings
from fitcheck.geometry.box import FACES, Box, as_point, drawn_in, surface
from fitcheck.geometry.boxgap import boxes_gap
from fitcheck.geometry.distance import TriangleIndex
from fitcheck.geometry.overlap import few
from fitcheck.model.contact import CALLED, Contact
from fitcheck.model.found.fit import BoardFit
from fitcheck.model.found.space import FREE
from fitcheck.model.given.kit import Face
from fitcheck.units import Metre, Ratio

Floats = NDArray[np.float64]

#: Faces of a board, whose thickness is its third axis.
EDGES: tuple[Face, ...] = ("front", "back", "left", "right")
BROAD: tuple[Face, ...] = ("top", "base")
#: Share of its shorter side along which a board must be supported [1]; common practice, no source.
HELD_SHARE: Ratio = 0.5
#: Maximum overhang of a corner from the supported part of the board [m]; common practice, no
#: source.
OVERHANG: Metre = 0.4
#: Share of a board that may have no seen air on either side [1]: allows for rims and corners.
AIRLESS: Ratio = 0.1


@dataclass(frozen=True, eq=False, kw_only=True)
class Carrier:
    """Something that may support a board: its name and its triangles."""

    name: str
    index: TriangleIndex


def check_boards(around: Surroundings) -> tuple[BoardFit, ...]:
    """Judge every board to be built, in the order of the file.

    A board is supported where an edge or a broad face is within reach of the mesh, of something
    declared, or of another supported board. An edge may enter what it meets by the board's
    thickness: it is scribed and bevelled there.
    """
    boards = tuple(body for body in around.fixed if body.kind == "board")
    holding = holders(around, ())
    fits: dict[str, BoardFit] = {}
    waiting = list(boards)
    while waiting:
        judged = {body.name: held(body, holding, around) for body in waiting}
        fits |= judged
        carried = [body for body in waiting if carries(judged[body.name])]
        if not carried:
            break
        holding += [_carrier(board) for board in carried]
        waiting = [body for body in waiting if body not in carried]
    return tuple(fits[body.name] for body in boards)


def holders(around: Surroundings, carried: Collection[str]) -> list[Carrier]:
    """What may support one more board: the existing structure, and boards that are supported."""
    there = Carrier(name=CALLED["mesh"], index=around.there)
    return [there, *(_carrier(b) for b in around.fixed if b.kind == "board" and b.name in carried)]


def _carrier(board: Body) -> Carrier:
    return Carrier(name=board.name, index=few(surface(board.box)))


def carries(fit: BoardFit) -> bool:
    """Whether a board is supported along enough of a side and its overhang is not too large."""
    return fit.line >= HELD_SHARE * fit.side and fit.reach <= OVERHANG


def held(body: Body, holding: Sequence[Carrier], around: Surroundings) -> BoardFit:
    """Where a board touches its supports, and what it collides with."""
    box, spots, by, line = body.box, [], [], 0.0
    for carrier in holding:
        found = [_touched(box, face, carrier.index, around) for face in (*EDGES, *BROAD)]
        longest = max(along for _, along in found)
        if longest > 0.0:
            by.append(carrier.name)
            line = max(line, longest)
            spots += [points for points, _ in found]
    where = np.concatenate(spots) if spots else np.zeros((0, 2))
    return BoardFit(
        name=body.name,
        held_by=tuple(by),
        line=line,
        side=2 * min(box.half[:2]),
        reach=_reach(box, where),
        runs_into=_runs_into(body, around),
    )


def _touched(
    box: Box, face: Face, index: TriangleIndex, around: Surroundings
) -> tuple[Floats, Metre]:
    """Points (n, 2) in the board's plane where a face is supported, and the length they cover."""
    scribed = 2 * box.half[2] if face in EDGES else 0.0
    behind = max(around.noise, scribed)
    gaps, _ = gaps_to(index, box, face, behind=behind, before=around.reach)
    touched = np.isfinite(gaps).reshape(SAMPLES, SAMPLES)
    axis, sign = FACES[face]
    sides = [side for side in range(3) if side != axis]
    runs = [touched.any(axis=1), touched.any(axis=0)]
    steps = (2.0 * np.arange(SAMPLES) + 1.0) / SAMPLES - 1.0
    along = [
        float(run.mean()) * 2 * box.half[side]
        for run, side in zip(runs, sides, strict=True)
        if side != 2
    ]
    points = np.zeros((int(touched.sum()), 3))
    points[:, axis] = sign * box.half[axis]
    for side, step in zip(sides, np.nonzero(touched), strict=True):
        points[:, side] = steps[step] * box.half[side]
    return points[:, :2], max(along)


def _reach(box: Box, spots: Floats) -> Metre:
    """Distance in its plane from the supported part of a board to its farthest corner [m]."""
    if len(spots) == 0:
        return math.inf
    corners = np.array([[1, 1], [1, -1], [-1, 1], [-1, -1]]) * np.array(box.half[:2])
    apart = np.linalg.norm(corners[:, None] - spots[None], axis=-1).min(axis=1)
    # A point represents the whole sampling step around it.
    return float(max(apart.max() - float(np.linalg.norm(box.half[:2])) / SAMPLES, 0.0))


# --- what it runs into ------------------------------------------------------------------------


def _runs_into(body: Body, around: Surroundings) -> tuple[Contact, ...]:
    box = body.box
    thick = 2 * box.half[2]
    found = [
        met
        for face, met in depths_in_mesh(box, around).items()
        if -met.gap > (thick + around.noise if face in EDGES else around.noise + PACKING)
    ]
    for other in around.fixed:
        if other.name != body.name:
            gap, place = boxes_gap(box, other.box)
            if -gap > _allowed(thick, other, around):
                found.append(around.contact(other.kind, gap, place, other.name))
    found += _airless(box, around)
    return tuple(found)


def _allowed(thick: Metre, other: Body, around: Surroundings) -> Metre:
    """How far a board may enter a declared thing: boards are jointed, solids scribed to."""
    if other.kind == "keep-out":
        return PLAY
    return max(thick, around.noise) + PLAY if other.kind == "solid" else thick + PLAY


def _airless(box: Box, around: Surroundings) -> list[Contact]:
    """The part of a board that has no seen air on either side: it lies behind a surface."""
    grid = around.space.grid
    margin = 2 * box.half[2] + around.noise + grid.pitch
    inner = drawn_in(box, dict.fromkeys(EDGES, margin))
    if min(inner.half[:2]) <= PLAY:
        inner = drawn_in(
            box, {face: min(margin, 0.8 * box.half[FACES[face][0]]) for face in EDGES}
        )
    counts = [max(2, math.ceil(2 * half / grid.pitch)) for half in inner.half[:2]]
    u, v = (np.linspace(-half, half, n) for half, n in zip(inner.half[:2], counts, strict=True))
    flat = np.stack(np.meshgrid(u, v, indexing="ij"), axis=-1).reshape(-1, 2)
    # Beyond the cells filled by the board itself or by the surface it is fixed to.
    off = box.half[2] + around.noise + 1.5 * grid.pitch
    air = np.zeros(len(flat), dtype=np.bool_)
    for side in (-off, off):
        points = inner.world(np.column_stack([flat, np.full(len(flat), side)]))
        cells = grid.index(points)
        there = ((cells >= 0) & (cells < np.array(grid.shape))).all(axis=1)
        air[there] |= around.space.label[tuple(cells[there].T)] == FREE
    if (~air).mean() <= AIRLESS:
        return []
    place = as_point(inner.world(np.append(flat[~air].mean(axis=0), 0.0)))
    unseen = len(unseen_in_box(inner, around)) > 0
    deep = -2 * min(box.half[:2]) * float((~air).mean())
    return [around.contact("unseen" if unseen else "inside", deep, place)]
