"""What one box meets: gap of every face, smallest gap in any direction, how deep it runs in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from fitcheck.fit.surroundings import (
    COMPARTMENT,
    OUTSIDE,
    UNSEEN_SPACE,
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
from fitcheck.model.fit import FaceGap
from fitcheck.model.kit import Face, Module
from fitcheck.model.space import FREE, SOLID
from fitcheck.units import Metre, Point

NAMES = cast(tuple[Face, ...], tuple(FACES))
#: Axes of a box that is not turned.
LEVEL = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
#: Least share of a face that must lie against a surface for it to count as screwed to it [1].
MOUNTED_SHARE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """The nearest thing: how far, its name, and where."""

    gap: Metre
    meets: str
    place: Point | None

    def on(self, face: Face, around: Surroundings) -> FaceGap:
        """The same, as the gap of one face."""
        return FaceGap(
            face=face,
            gap=self.gap,
            meets=around.name_of(self.meets, self.place),
            place=self.place,
            uncertainty=self.uncertainty(around),
        )

    def uncertainty(self, around: Surroundings) -> Metre:
        """How far the gap may be wrong."""
        return around.uncertainty(self.place or (0.0, 0.0, 0.0), self.meets)


NOTHING = Meeting(gap=math.inf, meets="", place=None)


def nearer(a: Meeting, b: Meeting) -> Meeting:
    """The meeting with the smaller gap, the first of two equal ones."""
    return b if b.gap < a.gap else a


# --- how deep a box runs into things ----------------------------------------------------------


def depths_in_mesh(box: Box, around: Surroundings) -> dict[Face, Meeting]:
    """Per face, how far the mesh reaches behind it, as negative gaps; only faces penetrated.

    A piece of the mesh inside the box belongs to the face that its triangle looks at, the nearer
    of two. Faces are taken from the shallowest on: what a step back from one face clears is no
    longer counted against the others.
    """
    depth, axis, points = pieces_inside(around.index, box)
    return _depths(depth, axis, points, COMPARTMENT)


def _depths(
    depth: NDArray[np.float64],
    axis: NDArray[np.int64],
    points: NDArray[np.float64],
    meets: str,
) -> dict[Face, Meeting]:
    found: dict[Face, Meeting] = {}
    while len(depth):
        rows = np.arange(len(depth))
        face = 2 * axis + (depth[rows, 2 * axis + 1] < depth[rows, 2 * axis])
        own = depth[rows, face]
        deepest = {f: float(own[face == f].max()) for f in np.unique(face)}
        least = min(deepest, key=lambda f: deepest[f])
        row = int(np.where(face == least, own, -1.0).argmax())
        place = as_point(points[row, least])
        found[NAMES[least]] = Meeting(gap=-deepest[least], meets=meets, place=place)
        keep = depth[:, least] > deepest[least] + TOUCH
        depth, axis, points = depth[keep], axis[keep], points[keep]
    return found


def depth_in_body(box: Box, body: Body) -> tuple[Face, Meeting] | None:
    """The face from which a body is cleared by the shortest step back, and how far that is."""
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
    return face, Meeting(gap=-behind[face], meets=body.name, place=place)


def _shared_points(a: Box, b: Box) -> NDArray[np.float64]:
    """Points that hold every extreme of the block two boxes share."""
    ours = pieces_inside(few(surface(b)), a)[2]
    theirs = pieces_inside(few(surface(a)), b)[2]
    corners = b.corners()
    inside = corners[a.distance(corners) <= 0.0]
    own = a.corners()
    return np.concatenate(
        [ours.reshape(-1, 3), theirs.reshape(-1, 3), inside, own[b.distance(own) <= 0.0]]
    )


def unseen_in_box(box: Box, around: Surroundings) -> NDArray[np.int64]:
    """(m, 3) cells never seen, beyond the surfaces' noise, that the box overlaps."""
    return cells_in_box(around.unseen, around.space.grid, box)


def depth_in_cells(box: Box, cells: NDArray[np.int64], around: Surroundings) -> Meeting:
    """How far the box must step back, square to one of its faces, to leave the cells it overlaps.

    Taken over the corners of the cells, so a turned box gets at most a cell too much.
    """
    grid = around.space.grid
    corners = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)]) - 0.5
    points = grid.centre(cells)[:, None, :] + grid.pitch * corners
    local = np.clip(box.local(points.reshape(-1, 3)), -np.array(box.half), box.half)
    behind = [(box.half[a] - (sign * local[:, a]).min(), a, sign) for a, sign in FACES.values()]
    depth, axis, sign = min(behind)
    place = as_point(box.world(local[int((sign * local[:, axis]).argmin())]))
    return Meeting(gap=-float(depth), meets=UNSEEN_SPACE, place=place)


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
    # Solids and boards are judged by their own boxes; their cells reach beyond them.
    for body in around.fixed:
        centres = centres[body.box.distance(centres) > math.sqrt(3) * grid.pitch]
    cube = Box(centre=(0.0, 0.0, 0.0), half=(reach, reach, reach), axes=LEVEL)
    return centres[~boxes_hit_triangles(around.index, cube, centres)]


# --- gaps -------------------------------------------------------------------------------------


def gap_before(
    box: Box, face: Face, around: Surroundings, others: Bodies, inset: dict[str, Metre]
) -> Meeting:
    """What a face meets first, square to it over its full area.

    inset : how far the prism's sides are drawn in at other faces [m]; a box standing on a scanned
            sole would otherwise meet the sole's bumps in front of every side
    """
    return min(gaps_before(box, face, around, others, inset), key=lambda met: met.gap)


def gaps_before(
    box: Box, face: Face, around: Surroundings, others: Bodies, inset: dict[str, Metre]
) -> list[Meeting]:
    """What a face meets first of every kind, square to it; parameters as for `gap_before`."""
    sides = {name: depth for name, depth in inset.items() if FACES[name][0] != FACES[face][0]}
    slim = drawn_in(box, sides)
    most = around.span
    gap, place = prism_edge_gap(around.low, around.high, slim, face)
    edge = Meeting(gap=gap, meets=OUTSIDE, place=place)
    gap_m, place_m, _ = prism_gap(around.index, slim, face, most)
    found = [Meeting(gap=gap_m, meets=COMPARTMENT, place=place_m), edge]
    for group in others.by_kind:
        gap_b, place_b, number = prism_gap(group.index, slim, face, most)
        if number >= 0:
            name = group.of_triangle(number).name
            found.append(Meeting(gap=gap_b, meets=name, place=place_b))
    unsure = around.uncertainty(box.centre, UNSEEN_SPACE)
    most = min(most, max(min(met.gap for met in found), 0.0) + unsure + TOUCH)
    gap_u, place_u = prism_cells_gap(around.unseen, around.space.grid, slim, face, most)
    return [*found, Meeting(gap=gap_u, meets=UNSEEN_SPACE, place=place_u)]


def smallest_gap(box: Box, around: Surroundings, others: Bodies) -> Meeting:
    """The nearest thing in any direction, negative when the box runs into it."""
    best = NOTHING
    for depth in depths_in_mesh(box, around).values():
        best = nearer(best, depth)
    if best is NOTHING:
        gap, place = gap_to_triangles(around.index, box)
        best = Meeting(gap=gap, meets=COMPARTMENT, place=place)
    for body in others.each:
        if apart_at_least(box, body.box) >= best.gap:
            continue
        gap_b, place_b = boxes_gap(box, body.box)
        best = nearer(best, Meeting(gap=gap_b, meets=body.name, place=place_b))
    return nearer(best, gap_to_unseen(box, around, best.gap))


def apart_at_least(a: Box, b: Box) -> Metre:
    """Gap between the balls round two boxes: their distance is no less [m]."""
    return math.dist(a.centre, b.centre) - math.hypot(*a.half) - math.hypot(*b.half)


def gap_to_unseen(box: Box, around: Surroundings, most: Metre) -> Meeting:
    """Nearest unseen cell cube, if nearer than `most`; negative when the box overlaps some."""
    inside = unseen_in_box(box, around)
    if len(inside):
        return depth_in_cells(box, inside, around)
    if most <= 0.0:
        return NOTHING
    grid = around.space.grid
    near = drawn_in(box, dict.fromkeys(FACES, -min(most, around.span)))
    centres = grid.centre(cells_in_box(around.unseen, grid, near))
    if len(centres) == 0:
        return NOTHING
    away = box.distance(centres)
    centres = centres[away <= away.min() + math.sqrt(3) * grid.pitch]
    cube = surface(Box(centre=(0.0, 0.0, 0.0), half=(grid.pitch / 2,) * 3, axes=LEVEL))
    cubes = (centres[:, None, None, :] + cube).reshape(-1, 3, 3)
    gap, place = gap_to_triangles(index_triangles(cubes, BIN), box)
    return Meeting(gap=gap, meets=UNSEEN_SPACE, place=place)


# --- what a module is fixed to ----------------------------------------------------------------


def downward(box: Box) -> Face:
    """The face that looks down most."""
    down = {name: sign * box.axes[axis][2] for name, (axis, sign) in FACES.items()}
    return min(NAMES, key=lambda name: down[name])


def permitted(module: Module, box: Box) -> tuple[Face, ...]:
    """Faces the module may be fixed by as it stands; one turned at will also stands on any."""
    free = not module.fixing_given and module.stands == "any"
    allowed = {*module.fixed_by, *((downward(box),) if free else ())}
    return tuple(face for face in NAMES if face in allowed)


def lies_against(box: Box, face: Face, around: Surroundings, structure: Bodies) -> bool:
    """Whether at least half the face lies against the mesh or a declared solid."""
    reach = (around.noise, around.contact)
    share = covered(around.index, box, face, *reach)
    return share + covered(structure.index, box, face, *reach) >= MOUNTED_SHARE
