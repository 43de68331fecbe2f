"""Measure one box: gap of every face, smallest gap in any direction, depth of collisions."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import cast

import numpy as np
from numpy.typing import NDArray

from fitcheck.fit.measured.surroundings import (
    Bodies,
    Body,
    Surroundings,
)
from fitcheck.geometry.box import FACES, Box, as_point, drawn_in, surface
from fitcheck.geometry.boxgap import boxes_gap, gap_to_triangles
from fitcheck.geometry.distance import index_triangles
from fitcheck.geometry.overlap import (
    BIN,
    TOUCH,
    boxes_depth,
    boxes_hit_triangles,
    cells_in_box,
    few,
)
from fitcheck.geometry.prism import (
    covered,
    pieces_inside,
    prism_cells_gap,
    prism_edge_gap,
    prism_gap,
)
from fitcheck.model.contact import Contact, Kind, nearest
from fitcheck.model.found.space import FREE, SOLID
from fitcheck.model.given.kit import Face, Module
from fitcheck.units import Metre

NAMES = cast(tuple[Face, ...], tuple(FACES))
#: Axes of a box that is not rotated.
LEVEL = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
#: Unseen space this close is reported even if something else is closer [m].
TOLD: Metre = 0.1
#: Minimum share of a face that must be against a surface to count as screwed to it [1].
MOUNTED_SHARE = 0.5


# --- how deep a box runs into things ----------------------------------------------------------


def depths_in_mesh(box: Box, around: Surroundings) -> dict[Face, Contact]:
    """Per face, how far the mesh reaches behind it, as negative gaps; only penetrated faces.

    A piece of the mesh inside the box belongs to the nearer of the two faces along its triangle's
    normal. Faces are taken shallowest first: what a step back from one face clears no longer
    counts against the others.
    """
    depth, axis, points = pieces_inside(around.index, box)
    found: dict[Face, Contact] = {}
    while len(depth):
        rows = np.arange(len(depth))
        face = 2 * axis + (depth[rows, 2 * axis + 1] < depth[rows, 2 * axis])
        own = depth[rows, face]
        deepest = {f: float(own[face == f].max()) for f in np.unique(face)}
        least = min(deepest, key=lambda f: deepest[f])
        row = int(np.where(face == least, own, -1.0).argmax())
        place = as_point(points[row, least])
        found[NAMES[least]] = around.contact("mesh", -deepest[least], place)
        keep = depth[:, least] > deepest[least] + TOUCH
        depth, axis, points = depth[keep], axis[keep], points[keep]
    return found


def depth_in_body(box: Box, body: Body, around: Surroundings) -> tuple[Face, Contact] | None:
    """The face with the shortest step back that clears a body, and the length of that step."""
    if boxes_depth(box, body.box) <= TOUCH:
        return None
    points = _shared_points(box, body.box)
    local = box.local(points)
    behind = {
        name: float(box.half[a] - (sign * local[:, a]).min()) for name, (a, sign) in FACES.items()
    }
    face = min(NAMES, key=lambda name: behind[name])
    axis, sign = FACES[face]
    place = as_point(points[int((sign * local[:, axis]).argmin())])
    return face, around.contact(body.kind, -behind[face], place, body.name)


def _shared_points(a: Box, b: Box) -> NDArray[np.float64]:
    """Points that include every extreme of the block two boxes share."""
    ours = pieces_inside(few(surface(b)), a)[2]
    theirs = pieces_inside(few(surface(a)), b)[2]
    corners = b.corners()
    inside = corners[a.distance(corners) <= 0.0]
    own = a.corners()
    return np.concatenate(
        [ours.reshape(-1, 3), theirs.reshape(-1, 3), inside, own[b.distance(own) <= 0.0]]
    )


def unseen_in_box(box: Box, around: Surroundings) -> NDArray[np.int64]:
    """(m, 3) unseen cells, beyond the surfaces' noise, that the box overlaps."""
    return cells_in_box(around.unseen, around.space.grid, box)


def depth_in_cells(box: Box, cells: NDArray[np.int64], around: Surroundings) -> Contact:
    """How far the box must step back, square to one of its faces, to leave the cells it overlaps.

    Calculated over the corners of the cells, so a rotated box gets at most a cell too much.
    """
    grid = around.space.grid
    corners = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)]) - 0.5
    points = grid.centre(cells)[:, None, :] + grid.pitch * corners
    local = np.clip(box.local(points.reshape(-1, 3)), -np.array(box.half), box.half)
    behind = [(box.half[a] - (sign * local[:, a]).min(), a, sign) for a, sign in FACES.values()]
    depth, axis, sign = min(behind)
    place = as_point(box.world(local[int((sign * local[:, axis]).argmin())]))
    return around.contact("unseen", -float(depth), place)


def swallowed(box: Box, around: Surroundings) -> bool:
    """Whether the box overlaps no free cell at all: it is inside something, or nowhere seen."""
    return len(cells_in_box(around.space.label, around.space.grid, box, FREE)) == 0


def filled_in_box(box: Box, around: Surroundings) -> NDArray[np.float64]:
    """(m, 3) centres inside the box of solid cells no triangle touches: the inside of a solid."""
    grid = around.space.grid
    cells = cells_in_box(around.space.label, grid, box, SOLID)
    centres = grid.centre(cells)
    centres = centres[box.distance(centres) < 0.0]
    reach = 0.55 * grid.pitch
    # Solids and boards are judged by their own boxes; their cells extend beyond them.
    for body in around.fixed:
        centres = centres[body.box.distance(centres) > math.sqrt(3) * grid.pitch]
    cube = Box(centre=(0.0, 0.0, 0.0), half=(reach, reach, reach), axes=LEVEL)
    return centres[~boxes_hit_triangles(around.index, cube, centres)]


# --- gaps -------------------------------------------------------------------------------------


def gaps_before(
    box: Box, face: Face, around: Surroundings, others: Bodies, inset: dict[str, Metre]
) -> list[Contact]:
    """The first thing of every kind in front of a face, square to it over its full area, nearest
    first.

    inset : how far the prism's sides are drawn in at other faces [m]; a box on a scanned sole
    would otherwise meet the sole's bumps in front of every side
    """
    sides = {name: depth for name, depth in inset.items() if FACES[name][0] != FACES[face][0]}
    slim = drawn_in(box, sides)
    most = around.span
    gap, place, number = prism_gap(around.index, slim, face, most)
    found = [around.contact("mesh", gap, place)] if number >= 0 else []
    found.append(around.contact("edge", *prism_edge_gap(around.low, around.high, slim, face)))
    for group in others.by_kind:
        gap, place, number = prism_gap(group.index, slim, face, most)
        if number >= 0:
            body = group.of_triangle(number)
            found.append(around.contact(body.kind, gap, place, body.name))
    unsure = around.uncertainty(box.centre, "unseen")
    most = min(most, max(nearest(found).gap, 0.0) + unsure + TOUCH)
    gap, place = prism_cells_gap(around.unseen, around.space.grid, slim, face, most)
    if math.isfinite(gap):
        found.append(around.contact("unseen", gap, place))
    return sorted(found, key=lambda met: met.gap)


def contacts_round(box: Box, around: Surroundings, others: Bodies) -> list[Contact]:
    """The nearest thing of every kind in any direction, negative where the box overlaps it."""
    found = list(depths_in_mesh(box, around).values())
    if not found:
        gap, place = gap_to_triangles(around.index, box)
        found = [around.contact("mesh", gap, place)] if math.isfinite(gap) else []
    best: dict[Kind, Contact] = {}
    for body in others.each:
        known = best.get(body.kind)
        if known is not None and apart_at_least(box, body.box) >= known.gap:
            continue
        met = around.contact(body.kind, *boxes_gap(box, body.box), body.name)
        best[body.kind] = met if known is None else nearest((known, met))
    found += best.values()
    unsure = around.uncertainty(box.centre, "unseen")
    most = max(min((met.gap for met in found), default=around.span), TOLD) + unsure
    dark = gap_to_unseen(box, around, most)
    return found if dark is None else [*found, dark]


def of_each_kind(contacts: Iterable[Contact]) -> tuple[Contact, ...]:
    """The nearest contact of each kind, nearest first."""
    best: dict[Kind, Contact] = {}
    for met in contacts:
        best[met.kind] = nearest((best.get(met.kind, met), met))
    return tuple(sorted(best.values(), key=lambda met: met.gap))


def apart_at_least(a: Box, b: Box) -> Metre:
    """Gap between the bounding spheres of two boxes, a lower bound on their distance [m]."""
    return math.dist(a.centre, b.centre) - math.hypot(*a.half) - math.hypot(*b.half)


def gap_to_unseen(box: Box, around: Surroundings, most: Metre) -> Contact | None:
    """Nearest unseen cell cube, if closer than `most`; negative where the box overlaps some."""
    inside = unseen_in_box(box, around)
    if len(inside):
        return depth_in_cells(box, inside, around)
    if most <= 0.0:
        return None
    grid = around.space.grid
    near = drawn_in(box, dict.fromkeys(FACES, -min(most, around.span)))
    centres = grid.centre(cells_in_box(around.unseen, grid, near))
    if len(centres) == 0:
        return None
    away = box.distance(centres)
    centres = centres[away <= away.min() + math.sqrt(3) * grid.pitch]
    cube = surface(Box(centre=(0.0, 0.0, 0.0), half=(grid.pitch / 2,) * 3, axes=LEVEL))
    cubes = (centres[:, None, None, :] + cube).reshape(-1, 3, 3)
    gap, place = gap_to_triangles(index_triangles(cubes, BIN), box)
    return around.contact("unseen", gap, place) if gap < most else None


# --- what a module is fixed to ----------------------------------------------------------------


def downward(box: Box) -> Face:
    """The face that looks down most."""
    down = {name: sign * box.axes[axis][2] for name, (axis, sign) in FACES.items()}
    return min(NAMES, key=lambda name: down[name])


def permitted(module: Module, box: Box) -> tuple[Face, ...]:
    """Faces the module may be fixed by in its orientation; one that may be turned freely also
    rests on any.
    """
    free = not module.fixing_given and module.stands == "any"
    allowed = {*module.fixed_by, *((downward(box),) if free else ())}
    return tuple(face for face in NAMES if face in allowed)


def lies_against(box: Box, face: Face, around: Surroundings, structure: Bodies) -> bool:
    """Whether at least half the face is against the mesh or a declared solid."""
    reach = (around.noise, around.reach)
    share = covered(around.index, box, face, *reach)
    return share + covered(structure.index, box, face, *reach) >= MOUNTED_SHARE
