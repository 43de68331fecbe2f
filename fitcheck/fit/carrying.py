"""What carries a box: a face it may be fixed by, against mesh, solid or board with enough area."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from fitcheck.fit.against import surface_behind
from fitcheck.fit.joinery import Joinery, said_way
from fitcheck.fit.judge import FIXED_TO, Standing
from fitcheck.fit.measure import MOUNTED_SHARE, downward, permitted
from fitcheck.fit.surroundings import STRUCTURE, Surroundings
from fitcheck.fit.wording import BEFORE, length, spot, thing
from fitcheck.geometry.box import FACES, Box, outward
from fitcheck.geometry.overlap import TOUCH
from fitcheck.model.contact import CALLED
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.fit import Carried, FaceGap, ModuleFit
from fitcheck.model.kit import Face
from fitcheck.units import Ratio

Floats = NDArray[np.float64]

#: Share of the face a box stands on that must be held, where what holds it surrounds its middle
#: [1]; common practice, no source.
STOOD_SHARE: Ratio = 0.2
#: How far inside what holds it the middle of that face must lie, for the shorter side [1].
INSIDE: Ratio = 0.1


def carried_by(standing: Standing, around: Surroundings) -> tuple[Carried, ...]:
    """The faces that carry a module where it stands; none: nothing holds it.

    A face carries if half of it lies against a surface. The face that looks down also does with a
    fifth of it, where what it stands on surrounds its middle.
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
    """Whether the middle of the face lies well inside the outline of the points."""
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


def not_carried(standing: Standing, fit: ModuleFit, joinery: Joinery) -> Finding:
    """The finding on a box that nothing carries: what could, how far off, what would do."""
    module, box, around = standing.module, standing.box, joinery.around
    faces = permitted(module, box)
    rows = [row for row in fit.faces if row.face in faces and math.isfinite(row.gap)]
    fixable = [row for row in rows if row.contacts[0].kind in FIXED_TO]
    best = min(fixable, key=lambda row: abs(row.gap)) if fixable else None
    shares = {
        face: float(np.isfinite(surface_behind(box, face, around)[0]).mean()) for face in faces
    }
    return Finding(
        severity="caution",
        rule="not-carried",
        subject=module.name,
        text=f"Nothing carries {module.name}: {_nearest(best, shares, around)}. It may be fixed "
        f"by its {' or '.join(faces)}.",
        source="the kit's fixed_by" if module.fixing_given else "common practice, no source",
        value=None if best is None else best.gap,
        limit=None if best is None else around.reach,
        unit="m",
        place=None if best is None else best.place,
        remedy=Remedy(text=_what_would_do(standing, best, faces, joinery)),
        bars=("cut_joinery", "order_hoses"),  # its hoses move with it
    )


def _nearest(best: FaceGap | None, shares: dict[Face, Ratio], around: Surroundings) -> str:
    if best is None:
        return "no surface lies square to a face it may be fixed by"
    if best.gap <= around.reach:
        share = 100.0 * shares[best.face]
        return f"only {share:.0f} % of its {best.face} lies against {thing(best.contacts[0])}"
    return (
        f"the nearest surface that could, {thing(best.contacts[0])}, is {length(best.gap)} "
        f"{BEFORE[best.face]} it{spot(best.place)}"
    )


def _what_would_do(
    standing: Standing, best: FaceGap | None, faces: tuple[Face, ...], joinery: Joinery
) -> str:
    box, name = standing.box, standing.module.name
    down = downward(box)
    face = down if down in faces else (best.face if best is not None else faces[0])
    board = f"Put a board {BEFORE[face]} it: {joinery.before(name, box, face)}"
    if best is None or best.gap <= joinery.around.reach:
        return board
    way = said_way(outward(box, best.face))
    at = np.array(standing.at) + best.gap * np.array(outward(box, best.face))
    place = ", ".join(f'"{round(1000 * value) + 0} mm"' for value in at)
    return f"Move it {length(best.gap)} {way} (layout.modules.{name}.at = [{place}]). Or: {board}"
