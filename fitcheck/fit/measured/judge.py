"""One module in its position: measured, then judged."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fitcheck.fit.measured.against import sunk
from fitcheck.fit.measured.measure import (
    NAMES,
    apart_at_least,
    contacts_round,
    depth_in_body,
    depth_in_cells,
    depths_in_mesh,
    downward,
    filled_in_box,
    gap_to_unseen,
    gaps_before,
    lies_against,
    of_each_kind,
    permitted,
    swallowed,
    unseen_in_box,
)
from fitcheck.fit.measured.surroundings import (
    PLAY,
    STRUCTURE,
    Bodies,
    Body,
    Surroundings,
    bodies,
)
from fitcheck.geometry.box import FACES, Box, as_point, drawn_in
from fitcheck.geometry.boxgap import boxes_gap, gap_to_triangles
from fitcheck.geometry.overlap import TOUCH, boxes_depth
from fitcheck.model.contact import Contact, Kind, nearest, worst
from fitcheck.model.found.fit import FaceGap, FitVerdict, ModuleFit, ServiceFit
from fitcheck.model.given.kit import Face, ServiceClearance
from fitcheck.model.placed import PlacedModule
from fitcheck.model.uncertainty import Verdict
from fitcheck.units import Metre

#: The rule of every finding on a service clearance.
SERVICE = "service-clearance"
#: Kinds of thing that a face against them is assumed to be fixed to.
FIXED_TO: tuple[Kind, ...] = ("mesh", *STRUCTURE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A problem with a module's position: a rule, and what it meets there."""

    rule: str
    met: Contact

    @property
    def bars(self) -> bool:
        """Whether nothing may be cut until it is resolved: box and the other thing may overlap."""
        return self.rule != "tight" or self.met.sure < -TOUCH


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """One module, measured and judged.

    mounted : the faces it rests on or is screwed to
    touch : the glimpsed space it needs, nearest what decides; None where it needs none
    """

    fit: ModuleFit
    mounted: tuple[Face, ...]
    faults: tuple[Fault, ...]
    short: tuple[ServiceFit, ...]
    doubtful: tuple[ServiceFit, ...]
    touch: Contact | None = None

    @property
    def fails(self) -> bool:
        """Whether anything here is a fail rather than a caution."""
        return self.fit.verdict in ("clash", "unseen") or bool(self.short)

    @property
    def sure(self) -> bool:
        """Whether every requirement is met even with the full uncertainty of the mesh."""
        return self.fit.verdict == "fits" and not self.short and not self.doubtful

    @property
    def barring(self) -> frozenset[str]:
        """Rules that bar any cutting for it here."""
        rules = {fault.rule for fault in self.faults if fault.bars}
        rules |= {SERVICE for row in (*self.short, *self.doubtful) if lacks(row)}
        rules |= {"touch"} if self.touch else set()
        return frozenset(rules)


def lacks(row: ServiceFit) -> bool:
    """Whether a service clearance is shorter than required, as measured."""
    return row.available < row.wanted - TOUCH


def judge(
    standing: PlacedModule, others: tuple[PlacedModule, ...], around: Surroundings, box_gap: Metre
) -> Judgement:
    """Measure one module among the others and judge its position.

    others : the other modules, without the module itself
    box_gap : required gap between a module and anything it is not fixed to [m]
    """
    box = standing.box
    neighbours = tuple(Body(name=o.module.name, kind="module", box=o.box) for o in others)
    obstacles = bodies(around.fixed + neighbours)
    depths, faults = _run_into(box, obstacles, around)
    everywhere = _drawn(NAMES, around)
    slim = {f: gaps_before(box, f, around, obstacles, everywhere) for f in NAMES}
    mounted = _mounted(standing, slim, depths, around)
    inset = _drawn(mounted, around)
    ahead = {f: gaps_before(box, f, around, obstacles, inset) for f in NAMES}
    faces = tuple(
        FaceGap(face=f, contacts=of_each_kind([*ahead[f], *depths.get(f, [])])) for f in NAMES
    )
    near = _near(box, mounted, depths, obstacles, around, box_gap)
    known = {(fault.met.kind, fault.met.subject) for fault in faults}
    faults += tuple(row for row in near if (row.met.kind, row.met.subject) not in known)
    faults += _sunk(box, mounted, around) if around.scan else ()
    round_it = contacts_round(box, around, obstacles)
    round_it += [fault.met for fault in faults if fault.rule not in ("tight", "sunk")]
    service = _service(standing, faces, slim)
    fit = ModuleFit(
        name=standing.module.name,
        verdict=_verdict(faults),
        box=box,
        mass=standing.module.mass,
        contacts=of_each_kind(round_it),
        decided_by=tuple(fault.met for fault in faults),
        faces=faces,
        service=service,
    )
    short = tuple(row for row in service if row.verdict == "does not fit")
    doubtful = tuple(row for row in service if row.verdict == "tight")
    return Judgement(fit=fit, mounted=mounted, faults=faults, short=short, doubtful=doubtful)


def _verdict(faults: tuple[Fault, ...]) -> FitVerdict:
    rules = {fault.rule for fault in faults}
    if rules & {"clash", "outside"}:
        return "clash"
    if "unseen" in rules:
        return "unseen"
    return "tight" if rules & {"tight", "sunk"} else "fits"


def _gap(met: Contact) -> Metre:
    return met.gap


def _drawn(faces: tuple[Face, ...], around: Surroundings) -> dict[str, Metre]:
    return dict.fromkeys(faces, around.noise)


# --- running into things ----------------------------------------------------------------------


def _run_into(
    box: Box, obstacles: Bodies, around: Surroundings
) -> tuple[dict[Face, list[Contact]], tuple[Fault, ...]]:
    """Depths per face of everything the box collides with, and the collisions above the allowed
    depth.
    """
    depths = {face: [met] for face, met in depths_in_mesh(box, around).items()}
    deepest = min((met for row in depths.values() for met in row), key=_gap, default=None)
    faults = []
    if deepest is not None and -deepest.gap > around.noise:
        faults.append(Fault(rule="clash", met=deepest))
    for body in obstacles.each:
        found = depth_in_body(box, body, around)
        if found is None:
            continue
        face, met = found
        depths.setdefault(face, []).append(met)
        if boxes_depth(box, body.box) > (around.noise if body.kind in STRUCTURE else PLAY):
            faults.append(Fault(rule="clash", met=met))
    faults += _outside(box, around) or _in_the_dark(box, around, bool(faults))
    return depths, tuple(faults)


def _outside(box: Box, around: Surroundings) -> list[Fault]:
    corners = box.corners()
    over = np.maximum(around.low - corners, corners - around.high).max(axis=1)
    most = int(over.argmax())
    if over[most] <= PLAY:
        return []
    place = as_point(corners[most])
    return [Fault(rule="outside", met=around.contact("edge", -float(over[most]), place))]


def _in_the_dark(box: Box, around: Surroundings, clashes: bool) -> list[Fault]:
    """What the labels know and the triangles do not: unseen space, the inside of a solid."""
    inner = drawn_in(box, dict.fromkeys(FACES, PLAY))
    filled = filled_in_box(inner, around)
    faults = []
    if len(filled) and not clashes:
        deepest = filled[int(box.distance(filled).argmin())]
        met = around.contact("inside", float(box.distance(deepest)), as_point(deepest))
        faults.append(Fault(rule="clash", met=met))
    cells = unseen_in_box(inner, around)
    if len(cells):
        faults.append(Fault(rule="unseen", met=depth_in_cells(box, cells, around)))
    elif not faults and swallowed(inner, around):
        met = around.contact("unseen", -2 * min(box.half), box.centre)
        faults.append(Fault(rule="unseen", met=met))
    return faults


# --- standing near things ---------------------------------------------------------------------


def _mounted(
    standing: PlacedModule,
    ahead: dict[Face, list[Contact]],
    depths: dict[Face, list[Contact]],
    around: Surroundings,
) -> tuple[Face, ...]:
    """Faces it rests on, or is fixed by and that are against the mesh or a declared solid.

    Any other face close to a surface has a gap like any other.
    """
    box = standing.box
    structure = bodies(around.fixed).of_kinds(*STRUCTURE)
    stands = {"base", downward(box)}
    found = []
    for face in NAMES:
        if face not in stands and face not in permitted(standing.module, box):
            continue
        met = [row for row in (*ahead[face], *depths.get(face, [])) if row.kind in FIXED_TO]
        touches = bool(met) and -around.noise <= nearest(met).gap <= around.reach
        if touches and (face in stands or lies_against(box, face, around, structure)):
            found.append(face)
    return tuple(found)


def _sunk(box: Box, mounted: tuple[Face, ...], around: Surroundings) -> tuple[Fault, ...]:
    """Faces drawn into the surface they are fixed to; only the deepest."""
    found = [met for face in mounted if (met := sunk(box, face, around)) is not None]
    return (Fault(rule="sunk", met=nearest(found)),) if found else ()


def _near(
    box: Box,
    mounted: tuple[Face, ...],
    depths: dict[Face, list[Contact]],
    obstacles: Bodies,
    around: Surroundings,
    box_gap: Metre,
) -> tuple[Fault, ...]:
    """Everything closer than allowed, except at mounting faces.

    Mounting faces are drawn in until what they are fixed to is excluded; the exact distance to the
    rest, in any direction, is then compared with the required gap and its uncertainty.
    """
    most = box_gap + max(around.uncertainty(as_point(corner)) for corner in box.corners())
    inner = drawn_in(box, dict.fromkeys(mounted, around.noise + most))
    found: list[Contact] = []
    gap, place = gap_to_triangles(around.index, inner, most)
    if place is not None and gap < box_gap + around.uncertainty(place) - TOUCH:
        free = [met.gap for f, row in depths.items() if f not in mounted for met in row]
        gap = gap if gap > 0.0 else min([0.0, *free])
        found.append(replace(around.contact("mesh", gap, place), asked=box_gap))
    for body in obstacles.each:
        asked = 0.0 if body.kind == "keep-out" else box_gap
        off = around.noise + asked + around.uncertainty(box.centre, body.kind)
        far: dict[str, Metre] = dict.fromkeys(mounted, max(around.noise + most, PLAY + off))
        whole = drawn_in(box, far) if body.kind in STRUCTURE else box
        if apart_at_least(whole, body.box) >= asked + most + around.space.uncertainty.pick:
            continue
        met = around.contact(body.kind, *boxes_gap(whole, body.box), body.name)
        # a keep-out has exactly the size its owner gave it
        unsure = 0.0 if body.kind == "keep-out" else met.uncertainty
        if met.gap < asked + unsure - TOUCH:
            found.append(replace(met, uncertainty=unsure, asked=asked))
    unseen = box_gap + around.uncertainty(box.centre, "unseen")
    dark = gap_to_unseen(inner, around, unseen - TOUCH)
    if dark is not None:
        found.append(replace(dark, asked=box_gap))
    found.sort(key=lambda met: met.margin)
    return tuple(Fault(rule="tight", met=met) for met in found)


# --- service clearances -----------------------------------------------------------------------


def _service(
    standing: PlacedModule, faces: tuple[FaceGap, ...], slim: dict[Face, list[Contact]]
) -> tuple[ServiceFit, ...]:
    """What is in front of each face with a service clearance, and whether enough is surely clear.

    slim : what is in front of each face with the sides of every face drawn in by the mesh's noise:
    it is short only if it is short of these too
    """
    before = {row.face: row.contacts for row in faces}
    return tuple(
        _served(need, space, before[need.face], slim[need.face])
        for need, space in zip(standing.module.service, standing.services, strict=True)
    )


def _served(
    need: ServiceClearance, space: Box, met: tuple[Contact, ...], slim: list[Contact]
) -> ServiceFit:
    deciding = worst(met)
    verdict: Verdict = "clear"
    if deciding is not None and deciding.sure < need.depth - PLAY:
        verdict = "tight"
        least = min(slim, key=lambda one: one.gap + one.uncertainty)
        if least.gap + least.uncertainty < need.depth - PLAY:
            deciding, verdict = met[0], "does not fit"
    rest = [one for one in met if one is not deciding]
    contacts = () if deciding is None else (deciding, *rest)
    return ServiceFit(
        face=need.face,
        kind=need.kind,
        wanted=need.depth,
        contacts=tuple(replace(one, asked=need.depth) for one in contacts),
        verdict=verdict,
        box=space,
    )
