"""Supports of a box: permitted faces with enough area against mesh, solid or board."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from fitcheck.findings.said import Said, quantity, say
from fitcheck.fit.measured.against import surface_behind
from fitcheck.fit.measured.judge import FIXED_TO, judge
from fitcheck.fit.measured.measure import MOUNTED_SHARE, apart_at_least, downward, permitted
from fitcheck.fit.measured.surroundings import STRUCTURE, Surroundings
from fitcheck.fit.offered.joinery import LOOKED, Joinery, way_of
from fitcheck.fit.wording import BEFORE, WAYS, length, spot, thing
from fitcheck.geometry.box import FACES, Box, as_point, outward
from fitcheck.geometry.overlap import TOUCH
from fitcheck.model.contact import CALLED
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.fit import Carried, FaceGap, ModuleFit
from fitcheck.model.given.kit import Face
from fitcheck.model.placed import PlacedModule
from fitcheck.units import Ratio

Floats = NDArray[np.float64]

NOT_CARRIED = "not-carried"

#: Share of a module's base that must be supported, where the support surrounds its middle [1];
#: common practice, no source.
STOOD_SHARE: Ratio = 0.2
#: How far inside the supported outline the middle of that face must be, as a share of the shorter
#: side [1].
INSIDE: Ratio = 0.1


def carried_by(standing: PlacedModule, around: Surroundings) -> tuple[Carried, ...]:
    """The faces that support a module in its position; empty if there are none.

    A face counts if half of it is against a surface. The face that looks down also counts with a
    fifth, where the support surrounds its middle.
    """
    box, found = standing.box, []
    for face in permitted(standing.module, box):
        gaps, points = surface_behind(box, face, around)
        held = np.isfinite(gaps)
        share = float(held.mean())
        enough = share >= MOUNTED_SHARE
        if not enough and face == downward(box) and share >= STOOD_SHARE:
            enough = _surrounds(points[held])
        if enough:
            found.append(Carried(face=face, by=_holder(box, face, around), share=share))
    return tuple(found)


def _surrounds(points: Floats) -> bool:
    """Whether the middle of the face is well inside the outline of the points."""
    try:
        outline = ConvexHull(points)
    except QhullError:
        return False
    return bool((outline.equations[:, 2] <= -INSIDE).all())


def _holder(box: Box, face: Face, around: Surroundings) -> str:
    """The declared solid or board nearest a face, else the mesh."""
    axis, sign = FACES[face]
    offset = np.zeros(3)
    offset[axis] = sign * box.half[axis]
    middle = box.world(offset)
    reach = around.reach + TOUCH
    for body in around.fixed:
        if body.kind in STRUCTURE and float(body.box.distance(middle)) <= reach:
            return body.name
    return CALLED["mesh"]


# --- what to say where nothing does -----------------------------------------------------------


def not_carried(
    standing: PlacedModule, fit: ModuleFit, joinery: Joinery, cure: Remedy | None
) -> Finding:
    """The finding on an unsupported box: possible supports, their distance, the remedy.

    cure : the remedy already given because it cannot stay here at all
    """
    module, box, around = standing.module, standing.box, joinery.around
    faces = permitted(module, box)
    rows = [row for row in fit.faces if row.face in faces and math.isfinite(row.gap)]
    fixable = [row for row in rows if row.contacts[0].kind in FIXED_TO]
    fixable.sort(key=lambda row: abs(row.gap))
    best = fixable[0] if fixable else None
    shares = {
        face: float(np.isfinite(surface_behind(box, face, around)[0]).mean()) for face in faces
    }
    return Finding(
        severity="caution",
        rule=NOT_CARRIED,
        subject=module.name,
        said=say(
            "not-carried.nothing",
            name=module.name,
            nearest=_nearest(best, shares, around),
            faces=faces,
        ),
        source="the kit's fixed_by" if module.fixing_given else "common practice, no source",
        value=None if best is None else best.gap,
        limit=None if best is None else around.reach,
        unit="m",
        place=None if best is None else best.place,
        remedy=cure or Remedy(said=_what_would_do(standing, fixable, faces, joinery)),
        bars=("cut_joinery", "order_hoses"),  # its hoses move with it
    )


def _nearest(best: FaceGap | None, shares: dict[Face, Ratio], around: Surroundings) -> Said:
    if best is None:
        return say("not-carried.no-surface")
    face, what = best.face, thing(best.contacts[0])
    if best.gap <= around.reach:
        share = quantity(shares[face], "share")
        return say("not-carried.too-little", share=share, face=face, what=what)
    gap, at = length(best.gap), spot(best.place)
    return say("not-carried.too-far", what=what, gap=gap, before=BEFORE[face], at=at)


def _what_would_do(
    standing: PlacedModule, rows: list[FaceGap], faces: tuple[Face, ...], joinery: Joinery
) -> Said:
    """A move against a possible support, or a board that would support it; each judged first."""
    box, name = standing.box, standing.module.name
    pushed = next((said for row in rows if (said := _pushed(standing, row, joinery))), None)
    ways = [] if pushed is None else [pushed]
    room = {row.face: row.gap for row in rows}
    down = downward(box)
    for face in sorted(faces, key=lambda face: (face != down, room.get(face, math.inf))):
        board = joinery.before(name, box, face, room.get(face, math.inf))
        if board is not None:
            ways.append(say("not-carried.board", before=BEFORE[face], board=board))
            break
    if ways:
        return say("not-carried.ways", ways=ways)
    return say("not-carried.no-way", looked=length(LOOKED), faces=faces)


def _pushed(standing: PlacedModule, row: FaceGap, joinery: Joinery) -> Said | None:
    """The module moved against what is in front of a face, if it fits and is supported there."""
    around, gap = joinery.around, joinery.box_gap
    if row.gap <= around.reach:
        return None
    way = np.array(outward(standing.box, row.face))
    millimetres = np.round(1000 * (np.array(standing.at) + row.gap * way)) + 0.0
    there = replace(standing, at=as_point(millimetres / 1000))
    others = tuple(one for one in joinery.standings if one is not standing)
    judged = judge(there, others, around, gap)
    if judged.fails or judged.barring or not carried_by(there, around):
        return None
    near = gap + 2 * around.uncertainty(there.box.centre)
    for one in others:
        if all(apart_at_least(b, there.box) > near for b in (one.box, *one.services)):
            continue
        rest = tuple(other for other in others if other is not one)
        now, then = (judge(one, (*rest, this), around, gap) for this in (standing, there))
        if then.barring - now.barring:
            return None
    return say(
        "not-carried.push",
        by=length(row.gap),
        way=WAYS[way_of(outward(standing.box, row.face))],
        name=standing.module.name,
        at=[quantity(value / 1000, "file length") for value in millimetres],
    )
