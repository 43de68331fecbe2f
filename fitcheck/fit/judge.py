"""One module in its place: measured, then judged."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fitcheck.fit.measure import (
    NAMES,
    NOTHING,
    Meeting,
    apart_at_least,
    depth_in_body,
    depth_in_cells,
    depths_in_mesh,
    downward,
    filled_in_box,
    gap_before,
    gap_to_unseen,
    gaps_before,
    lies_against,
    nearer,
    permitted,
    smallest_gap,
    swallowed,
    unseen_in_box,
)
from fitcheck.fit.surroundings import (
    COMPARTMENT,
    INSIDE,
    OUTSIDE,
    PLAY,
    UNSEEN_SPACE,
    Bodies,
    Body,
    Surroundings,
    bodies,
)
from fitcheck.geometry.box import FACES, Box, as_point, drawn_in, grown, placed_box
from fitcheck.geometry.boxgap import boxes_gap, gap_to_triangles
from fitcheck.geometry.overlap import TOUCH, boxes_depth
from fitcheck.model.fit import FitVerdict, ModuleFit, ServiceFit
from fitcheck.model.kit import Face, Module
from fitcheck.units import Metre, Point, Radian


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A module, where its base centre stands, how it is turned, and the box it takes up."""

    module: Module
    at: Point
    rotate: tuple[Radian, Radian, Radian]

    @property
    def box(self) -> Box:
        """The box it takes up."""
        return placed_box(self.module.size, self.at, self.rotate)

    def services(self) -> tuple[Box, ...]:
        """The service spaces it asks for, in the order of its list."""
        return tuple(grown(self.box, need.face, need.depth) for need in self.module.service)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What is wrong with a module's place: a rule, and what it meets there."""

    rule: str
    meeting: Meeting


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """One module, measured and judged. `mounted` are the faces it stands on or is screwed by."""

    fit: ModuleFit
    mounted: tuple[Face, ...]
    faults: tuple[Fault, ...]
    short: tuple[ServiceFit, ...]
    doubtful: tuple[ServiceFit, ...]

    @property
    def fails(self) -> bool:
        """Whether anything here is a fail rather than a caution."""
        return self.fit.verdict in ("clash", "unseen") or bool(self.short)


def judge(
    standing: Standing, others: tuple[Standing, ...], around: Surroundings, box_gap: Metre
) -> Judgement:
    """Measure one module among the others and judge its place.

    others  : the other modules, the module itself left out
    box_gap : room asked between a module and anything it is not fixed to [m]
    """
    box = standing.box
    neighbours = tuple(Body(name=o.module.name, kind="module", box=o.box) for o in others)
    obstacles = bodies(around.fixed + neighbours)
    structure = bodies(tuple(body for body in around.fixed if body.kind == "solid"))
    depths, faults = _run_into(box, obstacles, around)
    ahead = {f: gap_before(box, f, around, obstacles, _drawn(NAMES, around)) for f in NAMES}
    mounted = _mounted(standing, ahead, depths, around, structure)
    inset = _drawn(mounted, around)
    faces = {
        f: nearer(gap_before(box, f, around, obstacles, inset), depths.get(f, NOTHING))
        for f in NAMES
    }
    near = _near(box, mounted, depths, obstacles, around, box_gap)
    faults += tuple(fault for fault in near if fault.meeting.meets not in _met(faults))
    nearest = smallest_gap(box, around, obstacles)
    for fault in faults:
        nearest = nearer(nearest, fault.meeting) if fault.rule != "tight" else nearest
    service = _service(standing, faces, around)
    short, doubtful = _shortfalls(box, service, around, obstacles, inset)
    told = {(row.face, row.kind): row for row in doubtful}
    service = tuple(told.get((row.face, row.kind), row) for row in service)
    fit = ModuleFit(
        name=standing.module.name,
        verdict=_verdict(faults),
        box=box,
        mass=standing.module.mass,
        smallest_gap=nearest.gap,
        meets=around.name_of(nearest.meets, nearest.place),
        uncertainty=nearest.uncertainty(around),
        faces=tuple(meeting.on(face, around) for face, meeting in faces.items()),
        service=service,
    )
    return Judgement(fit=fit, mounted=mounted, faults=faults, short=short, doubtful=doubtful)


def _met(faults: tuple[Fault, ...]) -> set[str]:
    return {fault.meeting.meets for fault in faults}


def _verdict(faults: tuple[Fault, ...]) -> FitVerdict:
    rules = {fault.rule for fault in faults}
    if rules & {"clash", "outside"}:
        return "clash"
    if "unseen" in rules:
        return "unseen"
    return "tight" if "tight" in rules else "fits"


def _drawn(faces: tuple[Face, ...], around: Surroundings) -> dict[str, Metre]:
    return dict.fromkeys(faces, around.noise)


# --- running into things ----------------------------------------------------------------------


def _run_into(
    box: Box, obstacles: Bodies, around: Surroundings
) -> tuple[dict[Face, Meeting], tuple[Fault, ...]]:
    """Depths per face of everything the box runs into, and what of it is more than allowed."""
    depths: dict[Face, Meeting] = dict(depths_in_mesh(box, around))
    faults = [
        Fault(rule="clash", meeting=meeting)
        for meeting in sorted(depths.values(), key=lambda m: m.gap)
        if -meeting.gap > around.noise
    ][:1]
    for body in obstacles.each:
        found = depth_in_body(box, body)
        if found is None:
            continue
        face, meeting = found
        depths[face] = nearer(depths.get(face, NOTHING), meeting)
        if boxes_depth(box, body.box) > (around.noise if body.kind == "solid" else PLAY):
            faults.append(Fault(rule="clash", meeting=meeting))
    faults += _outside(box, around) or _in_the_dark(box, around, bool(faults))
    return depths, tuple(faults)


def _outside(box: Box, around: Surroundings) -> list[Fault]:
    corners = box.corners()
    over = np.maximum(around.low - corners, corners - around.high).max(axis=1)
    worst = int(over.argmax())
    if over[worst] <= PLAY:
        return []
    place = as_point(corners[worst])
    return [
        Fault(rule="outside", meeting=Meeting(gap=-float(over[worst]), meets=OUTSIDE, place=place))
    ]


def _in_the_dark(box: Box, around: Surroundings, clashes: bool) -> list[Fault]:
    """What the labels know and the triangles do not: unseen space, the inside of a solid."""
    inner = drawn_in(box, dict.fromkeys(FACES, PLAY))
    filled = filled_in_box(inner, around)
    faults = []
    if len(filled) and not clashes:
        deepest = filled[int(box.distance(filled).argmin())]
        gap = float(box.distance(deepest))
        meeting = Meeting(gap=gap, meets=INSIDE, place=as_point(deepest))
        faults.append(Fault(rule="clash", meeting=meeting))
    cells = unseen_in_box(inner, around)
    if len(cells):
        faults.append(Fault(rule="unseen", meeting=depth_in_cells(box, cells, around)))
    elif not faults and swallowed(inner, around):
        gap = -2 * min(box.half)
        meeting = Meeting(gap=gap, meets=UNSEEN_SPACE, place=box.centre)
        faults.append(Fault(rule="unseen", meeting=meeting))
    return faults


# --- standing near things ---------------------------------------------------------------------


def _mounted(
    standing: Standing,
    ahead: dict[Face, Meeting],
    depths: dict[Face, Meeting],
    around: Surroundings,
    structure: Bodies,
) -> tuple[Face, ...]:
    """Faces it stands on, or may be fixed by and that lie against the mesh or a declared solid.

    Any other face that comes near a surface has a gap like any gap.
    """
    box = standing.box
    fixed = {COMPARTMENT} | {body.name for body in structure.each}
    stands = {"base", downward(box)}
    found = []
    for face in NAMES:
        if face not in stands and face not in permitted(standing.module, box):
            continue
        met = nearer(ahead[face], depths.get(face, NOTHING))
        touches = met.meets in fixed and -around.noise <= met.gap <= around.contact
        if touches and (face in stands or lies_against(box, face, around, structure)):
            found.append(face)
    return tuple(found)


def _near(
    box: Box,
    mounted: tuple[Face, ...],
    depths: dict[Face, Meeting],
    obstacles: Bodies,
    around: Surroundings,
    box_gap: Metre,
) -> tuple[Fault, ...]:
    """Whatever comes nearer than it may, mounting faces apart.

    Mounting faces are drawn in until what they are fixed to is out of the question; the exact
    distance of what is left, in any direction, is then compared with the room asked and what that
    distance may be wrong by.
    """
    most = box_gap + max(around.uncertainty(as_point(corner)) for corner in box.corners())
    inner = drawn_in(box, dict.fromkeys(mounted, around.noise + most))
    found: list[tuple[Metre, Meeting]] = []
    gap, place = gap_to_triangles(around.index, inner, most)
    if place is not None and gap < box_gap + around.uncertainty(place) - TOUCH:
        free = [m.gap for face, m in depths.items() if face not in mounted]
        gap = gap if gap > 0.0 else min([0.0, *free])
        met = Meeting(gap=gap, meets=COMPARTMENT, place=place)
        found.append((gap - met.uncertainty(around) - box_gap, met))
    for body in obstacles.each:
        asked = 0.0 if body.kind == "keep-out" else box_gap
        off = around.noise + asked + around.uncertainty(box.centre, body.name)
        far: dict[str, Metre] = dict.fromkeys(mounted, max(around.noise + most, PLAY + off))
        whole = drawn_in(box, far) if body.kind == "solid" else box
        if apart_at_least(whole, body.box) >= asked + most + around.space.uncertainty.pick:
            continue
        gap, place = boxes_gap(whole, body.box)
        met = Meeting(gap=gap, meets=body.name, place=place)
        unsure = 0.0 if body.kind == "keep-out" else met.uncertainty(around)
        if gap < asked + unsure - TOUCH:
            found.append((gap - unsure - asked, met))
    unseen = box_gap + around.uncertainty(box.centre, UNSEEN_SPACE)
    near = min((met.gap for _, met in found), default=unseen - TOUCH)
    dark = gap_to_unseen(inner, around, min(near, unseen - TOUCH))
    if dark is not NOTHING:
        found.append((dark.gap - unseen, dark))
    found.sort(key=lambda row: row[0])
    return tuple(Fault(rule="tight", meeting=met) for _, met in found)


# --- service clearances -----------------------------------------------------------------------


def _service(
    standing: Standing, faces: dict[Face, Meeting], around: Surroundings
) -> tuple[ServiceFit, ...]:
    """Depth before each face that asks for it: the face's own gap, none if something is in it."""
    return tuple(
        ServiceFit(
            face=need.face,
            kind=need.kind,
            wanted=need.depth,
            available=max(faces[need.face].gap, 0.0),
            meets=around.name_of(faces[need.face].meets, faces[need.face].place),
            place=faces[need.face].place,
            box=space,
            uncertainty=faces[need.face].uncertainty(around),
        )
        for need, space in zip(standing.module.service, standing.services(), strict=True)
    )


def _shortfalls(
    box: Box,
    service: tuple[ServiceFit, ...],
    around: Surroundings,
    obstacles: Bodies,
    inset: dict[str, Metre],
) -> tuple[tuple[ServiceFit, ...], tuple[ServiceFit, ...]]:
    """Service clearances short whatever the mesh is wrong by, and those not surely whole."""
    short: list[ServiceFit] = []
    doubtful: list[ServiceFit] = []
    for row in service:
        if row.available - row.uncertainty >= row.wanted - PLAY:
            unsure = _unsure(row, gaps_before(box, row.face, around, obstacles, inset), around)
            doubtful += [] if unsure is None else [unsure]
            continue
        slim = gaps_before(box, row.face, around, obstacles, _drawn(NAMES, around))
        most = min(met.gap + met.uncertainty(around) for met in slim)
        (doubtful if most >= row.wanted - PLAY else short).append(row)
    return tuple(short), tuple(doubtful)


def _unsure(row: ServiceFit, met: list[Meeting], around: Surroundings) -> ServiceFit | None:
    """The row as the least sure contact has it, where that may be nearer than is wanted."""
    worst = min(met, key=lambda one: one.gap - one.uncertainty(around))
    if worst.gap - worst.uncertainty(around) >= row.wanted - PLAY:
        return None
    return replace(
        row,
        available=max(worst.gap, 0.0),
        meets=around.name_of(worst.meets, worst.place),
        place=worst.place,
        uncertainty=worst.uncertainty(around),
    )
