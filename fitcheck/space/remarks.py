"""Findings and assumptions of the space stage about a compartment."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Quantity, Said, length, quantity, say, where
from fitcheck.geometry.box import Box, as_point
from fitcheck.geometry.distance import distances, index_triangles
from fitcheck.geometry.grid import Grid
from fitcheck.model.finding import Assumption, Finding, Remedy
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Space
from fitcheck.model.given.boat import Boat
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.space.cells.labels import SEVERAL, Labelling, Matter, grown_by_one
from fitcheck.space.cells.openings import Opening
from fitcheck.space.compartment import Compartment
from fitcheck.space.look.bits import BIT
from fitcheck.space.shown import Waver
from fitcheck.units import Metre, Point, Ratio

PRACTICE = "common practice, no source"
#: A third of a cramped compartment may be hidden; beyond that a new scan is worthwhile.
UNSEEN_REMARKED: Ratio = 1 / 3
#: A connection picked further than this from any surface was picked wrongly.
PICKED_OFF: Metre = 0.050
#: A tail or valve may carry a connection this far from its surface; beyond that it is unsupported;
#: common practice, no source.
STEM: Metre = 0.150
#: Distance from the origin at which the accuracy of a gap is quoted.
FAR: Metre = 1.0


def on_mesh(compartment: Compartment, labelling: Labelling, bits: int) -> tuple[Finding, ...]:
    """Dropped triangles, loose pieces."""
    found = [
        _note("dropped-triangles", say("dropped-triangles", dropped=words))
        for words in compartment.dropped
    ]
    if bits:
        said = say("loose-bits", count=bits, size=length(BIT))
        remedy = Remedy(said=say("loose-bits.remedy"))
        found.append(_note("loose-bits", said, value=float(bits), remedy=remedy))
    if labelling.eyes and labelling.facing == 0.0:
        found.append(
            Finding(
                severity="caution",
                rule="facing",
                subject="mesh",
                said=say("facing"),
                source=PRACTICE,
                remedy=Remedy(said=say("facing.remedy")),
            )
        )
    return tuple(found)


def on_pocket(labelling: Labelling, matter: Matter, inside: Point) -> tuple[Finding, ...]:
    """A fill that is smaller than another closed pocket may have started in the wrong one."""
    held = int((labelling.label == FREE).sum())
    if labelling.trapped <= held:
        return ()
    cell = matter.grid.pitch**3
    return (
        Finding(
            severity="caution",
            rule="inside-pocket",
            subject="boat.inside",
            said=say(
                "inside-pocket",
                held=quantity(held * cell, "room"),
                larger=quantity(labelling.trapped * cell, "room"),
            ),
            source=PRACTICE,
            place=inside,
            remedy=Remedy(said=say("inside-pocket.remedy")),
        ),
    )


def on_leak(opening: Opening | None, *, judged_by_sight: bool) -> tuple[Finding, ...]:
    """A drawn compartment that is not closed."""
    if opening is None:
        return ()
    return (
        Finding(
            severity="caution" if judged_by_sight else "fail",
            rule="leak",
            subject="mesh",
            said=say(
                "leak.by-sight" if judged_by_sight else "leak.from-inside",
                width=_gap(opening.width),
                at=where(opening.place),
            ),
            source="the mesh",
            value=opening.width,
            limit=0.0,
            unit="m",
            place=opening.place,
            remedy=Remedy(said=say("leak.remedy")),
        ),
    )


def on_sight(
    labelling: Labelling, boat: Boat, blind: NDArray[np.float64], given: int, inside: Point
) -> tuple[Finding, ...]:
    """Viewpoints inside a wall, no usable viewpoint at all, the widest opening of a scan."""
    found = []
    for eye in blind:
        found.append(
            Finding(
                severity="note",
                rule="viewpoint-in-solid",
                subject="boat.viewpoints",
                said=say("viewpoint-in-solid", at=where(eye)),
                source="the boat file",
                place=as_point(eye),
                remedy=Remedy(said=say("viewpoint-in-solid.remedy")),
            )
        )
    if len(blind) == given and not labelling.frames and boat.origin == "scan":
        found.append(
            Finding(
                severity="caution",
                rule="no-viewpoint",
                subject="boat.viewpoints",
                said=say("no-viewpoint"),
                source=PRACTICE,
                place=inside,
                remedy=Remedy(said=say("no-viewpoint.remedy")),
            )
        )
    if labelling.opening is not None and boat.origin == "scan":
        found.append(_scan_opening(labelling.opening))
    return tuple(found)


def on_space(space: Space, matter: Matter) -> tuple[Finding, ...]:
    """Unscanned share, free space that extends to the edge of the crop."""
    found = []
    free, unseen = space.free_volume, space.unseen_volume
    if unseen > 0.0 and free > 0.0:
        share = unseen / (free + unseen)
        wide = share > UNSEEN_REMARKED
        found.append(
            Finding(
                severity="caution" if wide else "note",
                rule="unseen-share",
                subject="scan",
                said=say(
                    "unseen-share",
                    share=quantity(share, "share"),
                    unseen=quantity(unseen, "room"),
                ),
                source=PRACTICE,
                value=share,
                limit=UNSEEN_REMARKED,
                remedy=Remedy(said=say("unseen-share.remedy")),
            )
        )
    loose = (space.label == FREE) & grown_by_one(~matter.allowed & ~matter.solid)
    if loose.any():
        middle = as_point(space.grid.centre(np.argwhere(loose)).mean(axis=0))
        found.append(
            Finding(
                severity="caution",
                rule="open-edge",
                subject="scan",
                said=say("open-edge", at=where(middle)),
                source="the mesh",
                place=middle,
                remedy=Remedy(said=say("open-edge.remedy")),
            )
        )
    return tuple(found)


def on_ports(space: Space, scenario: Scenario) -> tuple[Finding, ...]:
    """Boat ports far from every surface, or without free space in front of them."""
    straight = scenario.kit.allowances.straight
    reach = max(straight, 3.0 * space.grid.pitch) + space.accuracy
    away = _to_surface(space, [port.at for port in space.ports])
    found = []
    for port, off in zip(space.ports, away, strict=True):
        subject = f"boat.{port.name}"
        if off > PICKED_OFF + space.accuracy:
            said = say("port-off-surface", port=port.name, at=where(port.at), off=_gap(off))
            found.append(_off_surface("port-off-surface", subject, said, off, space, port.at))
        ahead = _labels(space, port.at, port.direction, reach)
        if not (ahead == FREE).any():
            unseen = bool((ahead != SOLID).any())
            found.append(
                Finding(
                    severity="fail",
                    rule="port-blocked",
                    subject=subject,
                    said=say(
                        "port-blocked.unseen" if unseen else "port-blocked.solid",
                        port=port.name,
                        at=where(port.at),
                        reach=_gap(reach),
                    ),
                    source="the boat file",
                    value=0.0,
                    limit=reach,
                    unit="m",
                    place=port.at,
                    remedy=Remedy(said=say("port-blocked.remedy", port=port.name)),
                )
            )
    return tuple(found)


def on_holes(space: Space) -> tuple[Finding, ...]:
    """Holes far from any bulkhead, or with one side unseen."""
    away = _to_surface(space, [hole.centre for hole in space.holes])
    found = []
    for hole, off in zip(space.holes, away, strict=True):
        subject = f"boat.{hole.name}"
        if off > hole.diameter / 2.0 + PICKED_OFF + space.accuracy:
            said = say("hole-off-surface", hole=hole.name, at=where(hole.centre), off=_gap(off))
            found.append(_off_surface("hole-off-surface", subject, said, off, space, hole.centre))
        reach = 0.080 + 2.0 * space.grid.pitch + space.accuracy
        back = as_point(-np.array(hole.direction))
        for way in (hole.direction, back):
            if not (_labels(space, hole.centre, way, reach) == FREE).any():
                found.append(
                    Finding(
                        severity="caution",
                        rule="hole-blocked",
                        subject=subject,
                        said=say(
                            "hole-blocked.forward"
                            if way[0] > 0.5
                            else "hole-blocked.aft"
                            if way[0] < -0.5
                            else "hole-blocked.one",
                            reach=_gap(reach),
                            hole=hole.name,
                        ),
                        source="the boat file",
                        value=0.0,
                        limit=reach,
                        unit="m",
                        place=hole.centre,
                        remedy=Remedy(said=say("hole-blocked.remedy")),
                    )
                )
    return tuple(found)


def assumptions(
    boat: Boat, space: Space, labelling: Labelling, turned: int, waver: Waver | None
) -> tuple[Assumption, ...]:
    """The assumptions made, besides those of the frame."""
    taken = [_sureness(space)]
    if boat.scan_accuracy is None:
        scan = boat.origin == "scan"
        rough = say("assumed.accuracy-rough", waver=_gap(waver.value)) if waver else None
        taken.append(
            Assumption(
                said=say("assumed.scan-accuracy" if scan else "assumed.drawing-accuracy"),
                taken=say("assumed.accuracy-taken", accuracy=_gap(space.accuracy), rough=rough),
                source=f"boat.scan_accuracy is not given ({PRACTICE})",
                can_flip=True,
            )
        )
    if boat.flotation is None:
        tips = any((*boat.conditions.heel, *boat.conditions.trim))
        taken.append(
            Assumption(
                said=say("assumed.flotation"),
                taken=say("assumed.flotation-taken"),
                source="boat.flotation is not given",
                can_flip=tips,
            )
        )
    if labelling.eyes:
        taken.append(
            Assumption(
                said=say("assumed.looked-from"),
                taken=say(
                    "assumed.looked-from-taken", eyes=labelling.eyes, needed=labelling.needed
                ),
                source="boat.viewpoints; the scanner did not record lines of sight",
                can_flip=True,
            )
        )
    if labelling.frames:
        taken.append(
            Assumption(
                said=say("assumed.rays"),
                taken=say("assumed.rays-taken", frames=labelling.frames, needed=SEVERAL),
                source="boat.rays" if boat.rays else "boat.mesh",
                can_flip=True,
            )
        )
    for volume in boat.declared_free:
        taken.append(
            Assumption(
                said=say("assumed.declared-free", volume=volume.name),
                taken=say(
                    "assumed.declared-free-taken",
                    room=quantity(turned * space.grid.pitch**3, "room"),
                ),
                source=f"boat.declared_free: {volume.why or 'no reason given'}",
                can_flip=True,
            )
        )
    for solid in (one for one in space.solids if one.board is None):
        size = 2.0 * np.array(solid.box.half)
        taken.append(
            Assumption(
                said=say("assumed.solid", solid=solid.name),
                taken=say("assumed.solid-taken", room=quantity(size.prod(), "room")),
                source=f"boat.solids: {solid.why or 'no reason given'}",
                can_flip=False,
            )
        )
    return tuple(taken)


def _sureness(space: Space) -> Assumption:
    """The uncertainty of everything in the boat frame, stated once."""
    sure = space.uncertainty
    tilt = max(sure.roll, sure.trim)
    return Assumption(
        said=say("assumed.frame"),
        taken=say(
            "assumed.frame-taken",
            surface=_gap(sure.of_surface()),
            scale=quantity(COVERAGE * sure.scale, "spread"),
            sea=_gap(space.height_uncertainty),
            tilt=quantity(COVERAGE * tilt, "tilt"),
            gap=_gap(sure.of_gap((FAR, 0.0, 0.0))),
            far=length(FAR),
        ),
        source="scan accuracy, tape measures and waterline of the boat file, at 95 % "
        "(JCGM 100:2008); every gap, length and height includes it",
        can_flip=False,
    )


def _scan_opening(opening: Opening) -> Finding:
    return Finding(
        severity="note",
        rule="leak",
        subject="scan",
        said=say("leak.scan", width=_gap(opening.width), at=where(opening.place)),
        source="the mesh",
        value=opening.width,
        unit="m",
        place=opening.place,
        remedy=Remedy(said=say("leak.scan-remedy")),
    )


def _off_surface(
    rule: str, subject: str, said: Said, off: Metre, space: Space, at: Point
) -> Finding:
    return Finding(
        severity="caution",
        rule=rule,
        subject=subject,
        said=said,
        source=PRACTICE,
        value=off,
        limit=PICKED_OFF + space.accuracy,
        unit="m",
        place=at,
        remedy=Remedy(said=say("off-surface.remedy")),
        bars=("cut_joinery", "order_hoses") if off > STEM + space.accuracy else (),
    )


def _note(
    rule: str, said: Said, *, value: Ratio | None = None, remedy: Remedy | None = None
) -> Finding:
    return Finding(
        severity="note",
        rule=rule,
        subject="mesh",
        said=said,
        source="the mesh",
        value=value,
        remedy=remedy,
    )


def _to_surface(space: Space, points: list[Point]) -> list[Metre]:
    """Distance of each point to the nearest triangle, or to a declared solid or board."""
    if not points:
        return []
    index = index_triangles(space.triangles, 4.0 * space.grid.pitch)
    away = [float(gap) for gap in distances(np.array(points), index, 10.0)]
    return [
        min([gap, *(_to_box(volume.box, point) for volume in space.solids)])
        for point, gap in zip(points, away, strict=True)
    ]


def _to_box(box: Box, point: Point) -> Metre:
    """Distance of a point to a box, 0 within."""
    local = np.array(box.axes) @ (np.array(point) - np.array(box.centre))
    return float(np.linalg.norm(np.maximum(np.abs(local) - np.array(box.half), 0.0)))


def _labels(space: Space, at: Point, way: Point, reach: Metre) -> NDArray[np.uint8]:
    """Labels along a short straight line, UNSEEN beyond the grid."""
    grid: Grid = space.grid
    steps = np.arange(0.0, reach + 0.5 * grid.pitch, 0.5 * grid.pitch)
    index = grid.index(np.array(at) + steps[:, None] * np.array(way))
    held = grid.holds(index)
    result = np.full(len(steps), UNSEEN, dtype=np.uint8)
    result[held] = space.label[tuple(index[held].T)]
    return result


def _gap(value: Metre) -> Quantity:
    return quantity(value, "gap")
