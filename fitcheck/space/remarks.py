"""What there is to say about a compartment: findings and assumptions of the space stage."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box, as_point
from fitcheck.geometry.distance import distances, index_triangles
from fitcheck.geometry.grid import Grid
from fitcheck.model.finding import Assumption, Finding, Remedy, Severity
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Space
from fitcheck.model.given.boat import Boat
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.uncertainty import COVERAGE
from fitcheck.space.cells.labels import Labelling, Matter, grown_by_one
from fitcheck.space.cells.openings import Opening
from fitcheck.space.compartment import Compartment
from fitcheck.space.look.bits import BIT
from fitcheck.space.shown import Waver
from fitcheck.units import Metre, Point, Ratio

PRACTICE = "common practice, no source"
#: A third of a cramped compartment may hide; beyond that the scan is worth taking again.
UNSEEN_REMARKED: Ratio = 1 / 3
#: A connection picked farther than this from any surface is picked wrongly.
PICKED_OFF: Metre = 0.050
#: A tail or valve may carry a connection this far off the surface it sits on; beyond that nothing
#: holds it; common practice, no source.
STEM: Metre = 0.150


def on_mesh(compartment: Compartment, labelling: Labelling, bits: int) -> tuple[Finding, ...]:
    """Triangles dropped, loose bits."""
    found = [
        _note("dropped-triangles", "mesh", f"Dropped {words} from the mesh.")
        for words in compartment.dropped
    ]
    if bits:
        text = f"{bits:,} loose bits smaller than {BIT * 1000:.0f} mm hang in the mesh; "
        text += "they count as solid."
        remedy = "If they are no brackets but noise, delete them and export the mesh again."
        found.append(_note("loose-bits", "mesh", text, value=float(bits), remedy=remedy))
    if labelling.eyes and labelling.facing == 0.0:
        found.append(
            Finding(
                severity="caution",
                rule="facing",
                subject="mesh",
                said="The triangles do not agree which side of a surface is out, so a line of "
                "sight through a hole in the scan cannot be told from a good one.",
                source=PRACTICE,
                remedy=Remedy(said="Let a mesh program make the normals consistent."),
            )
        )
    return tuple(found)


def on_pocket(labelling: Labelling, matter: Matter, inside: Point) -> tuple[Finding, ...]:
    """A fill that holds less than another closed pocket may have begun in the wrong one."""
    held = int((labelling.label == FREE).sum())
    if labelling.trapped <= held:
        return ()
    litre = 1000.0 * matter.grid.pitch**3
    return (
        Finding(
            severity="caution",
            rule="inside-pocket",
            subject="boat.inside",
            said=f"The inside point lies in a closed space of {held * litre:,.0f} L while the "
            f"mesh holds a larger one of {labelling.trapped * litre:,.0f} L: is it in a body?",
            source=PRACTICE,
            place=inside,
            remedy=Remedy(said="Pick boat.inside again, in the open middle of the compartment."),
        ),
    )


def on_leak(opening: Opening | None, *, judged_by_sight: bool) -> tuple[Finding, ...]:
    """A drawn compartment that is not closed."""
    if opening is None:
        return ()
    text = f"The drawn compartment is open: a gap about {_mm(opening.width)} wide at "
    text += f"{_at(opening.place)}. "
    text += "It is judged by what the viewpoints " if judged_by_sight else "Only what the inside "
    text += "see." if judged_by_sight else "point sees is called free."
    return (
        Finding(
            severity="caution" if judged_by_sight else "fail",
            rule="leak",
            subject="mesh",
            said=text,
            source="the mesh",
            value=opening.width,
            limit=0.0,
            unit="m",
            place=opening.place,
            remedy=Remedy(said="Put a lid over the gap (boat.lids), or close it in the drawing."),
        ),
    )


def on_sight(
    labelling: Labelling, boat: Boat, blind: NDArray[np.float64], given: int, inside: Point
) -> tuple[Finding, ...]:
    """Viewpoints in a wall, none at all of those given, the widest opening of a scan."""
    found = []
    for eye in blind:
        found.append(
            Finding(
                severity="note",
                rule="viewpoint-in-solid",
                subject="boat.viewpoints",
                said=f"The viewpoint at {_at(as_point(eye))} lies in a surface or a solid and is "
                "not used.",
                source="the boat file",
                place=as_point(eye),
                remedy=Remedy(said="Pick it again where the scanner really was."),
            )
        )
    if len(blind) == given and boat.origin == "scan":
        found.append(
            Finding(
                severity="caution",
                rule="no-viewpoint",
                subject="boat.viewpoints",
                said="No usable viewpoint is given; only what the inside point sees is called "
                "free.",
                source=PRACTICE,
                place=inside,
                remedy=Remedy(said="Pick a dozen points where the scanner was held."),
            )
        )
    if labelling.opening is not None and boat.origin == "scan":
        found.append(_scan_opening(labelling.opening))
    return tuple(found)


def on_space(space: Space, matter: Matter) -> tuple[Finding, ...]:
    """Share never seen, free space that runs to the edge of what was read."""
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
                said=f"{100 * share:.0f} % of the compartment ({1000 * unseen:,.0f} L) was not "
                "seen well enough to be called free; boxes and hoses keep out of it.",
                source=PRACTICE,
                value=share,
                limit=UNSEEN_REMARKED,
                remedy=Remedy(
                    said="Scan the hidden corners, add the viewpoints they were seen from, or "
                    "declare a part free (boat.declared_free) after looking at it."
                ),
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
                said=f"Free space runs to the edge of the mesh or its crop near {_at(middle)}; "
                "nothing beyond is known.",
                source="the mesh",
                place=middle,
                remedy=Remedy(said="Put a lid there (boat.lids), or widen boat.crop."),
            )
        )
    return tuple(found)


def on_ports(space: Space, scenario: Scenario) -> tuple[Finding, ...]:
    """Boat ports far from every surface, or without free space in front."""
    straight = scenario.kit.allowances.straight
    reach = max(straight, 3.0 * space.grid.pitch) + space.accuracy
    away = _to_surface(space, [port.at for port in space.ports])
    found = []
    for port, off in zip(space.ports, away, strict=True):
        subject = f"boat.{port.name}"
        if off > PICKED_OFF + space.accuracy:
            text = f"The port {port.name} at {_at(port.at)} is {_mm(off)} from the nearest "
            text += "surface of the mesh."
            found.append(_off_surface("port-off-surface", subject, text, off, space, port.at))
        ahead = _labels(space, port.at, port.direction, reach)
        if not (ahead == FREE).any():
            what = "was not seen" if (ahead != SOLID).any() else "is solid"
            found.append(
                Finding(
                    severity="fail",
                    rule="port-blocked",
                    subject=subject,
                    said=f"The port {port.name} at {_at(port.at)} opens into a wall: the "
                    f"{_mm(reach)} in front of it {what}.",
                    source="the boat file",
                    value=0.0,
                    limit=reach,
                    unit="m",
                    place=port.at,
                    remedy=Remedy(said=f"Pick boat.ports.{port.name}.at again, or turn it round."),
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
            text = f"The hole {hole.name} at {_at(hole.centre)} is {_mm(off)} from the nearest "
            text += "surface of the mesh."
            found.append(_off_surface("hole-off-surface", subject, text, off, space, hole.centre))
        reach = 0.080 + 2.0 * space.grid.pitch + space.accuracy
        back = as_point(-np.array(hole.direction))
        for way in (hole.direction, back):
            if not (_labels(space, hole.centre, way, reach) == FREE).any():
                side = "forward" if way[0] > 0.5 else "aft" if way[0] < -0.5 else "one"
                found.append(
                    Finding(
                        severity="caution",
                        rule="hole-blocked",
                        subject=subject,
                        said=f"Nothing within {_mm(reach)} of the hole {hole.name} on its {side} "
                        "side is free.",
                        source="the boat file",
                        value=0.0,
                        limit=reach,
                        unit="m",
                        place=hole.centre,
                        remedy=Remedy(said="Check its place, or scan the other side."),
                    )
                )
    return tuple(found)


def assumptions(
    boat: Boat, space: Space, labelling: Labelling, turned: int, waver: Waver | None
) -> tuple[Assumption, ...]:
    """What was taken for granted, beside what the frame took."""
    taken = [_sureness(space)]
    if boat.scan_accuracy is None:
        scan = boat.origin == "scan"
        shows = f"; its smooth faces alone waver by +-{_mm(waver.value)}" if waver else ""
        taken.append(
            Assumption(
                said="the scan is accurate" if scan else "the boat is built as drawn",
                taken=_mm(space.accuracy),
                source=f"boat.scan_accuracy is not given ({PRACTICE}){shows}",
                can_flip=True,
            )
        )
    if boat.flotation is None:
        tips = any((*boat.conditions.heel, *boat.conditions.trim))
        taken.append(
            Assumption(
                said="the boat heels about a point on the centreline below the inside point",
                taken="at sea level",
                source="boat.flotation is not given",
                can_flip=tips,
            )
        )
    if labelling.eyes:
        taken.append(
            Assumption(
                said="the scanner really looked from the viewpoints given",
                taken=f"{labelling.eyes} viewpoints, {labelling.needed} of which saw each free "
                "cell",
                source="boat.viewpoints; lines of sight no scanner recorded",
                can_flip=True,
            )
        )
    for volume in boat.declared_free:
        taken.append(
            Assumption(
                said=f"{volume.name} is free though not seen",
                taken=f"{1000 * turned * space.grid.pitch**3:,.0f} L in all declared volumes",
                source=f"boat.declared_free: {volume.why or 'no reason given'}",
                can_flip=True,
            )
        )
    for solid in (one for one in space.solids if one.board is None):
        size = 2.0 * np.array(solid.box.half)
        taken.append(
            Assumption(
                said=f"{solid.name} is solid, whatever the mesh shows",
                taken=f"{1000 * size.prod():,.0f} L",
                source=f"boat.solids: {solid.why or 'no reason given'}",
                can_flip=False,
            )
        )
    return tuple(taken)


def _sureness(space: Space) -> Assumption:
    """What everything in the boat frame is known to, once for all."""
    sure = space.uncertainty
    tilt = max(sure.roll, sure.trim)
    metre = sure.of_gap((1.0, 0.0, 0.0))
    return Assumption(
        said="how sure the boat frame is",
        taken=f"+-{_mm(sure.of_surface())} for a surface, "
        f"+-{100 * COVERAGE * sure.scale:.1f} % of lengths, "
        f"+-{_mm(space.height_uncertainty)} for the sea's level, "
        f"+-{np.degrees(COVERAGE * tilt):.1f} deg for level; together +-{_mm(metre)} for a gap "
        "1 m from the origin",
        source="scan accuracy, tape measures and waterline of the boat file, at 95 % "
        "(JCGM 100:2008); every gap, length and height counts with it",
        can_flip=False,
    )


def _scan_opening(opening: Opening) -> Finding:
    text = f"The scan is open: the widest gap is about {_mm(opening.width)} across at "
    text += f"{_at(opening.place)}. Nothing beyond it is called free unless it was seen."
    return Finding(
        severity="note",
        rule="leak",
        subject="scan",
        said=text,
        source="the mesh",
        value=opening.width,
        unit="m",
        place=opening.place,
        remedy=Remedy(said="Put a lid over it (boat.lids) if it is a hatch."),
    )


def _off_surface(
    rule: str, subject: str, text: str, off: Metre, space: Space, at: Point
) -> Finding:
    return Finding(
        severity="caution",
        rule=rule,
        subject=subject,
        said=text,
        source=PRACTICE,
        value=off,
        limit=PICKED_OFF + space.accuracy,
        unit="m",
        place=at,
        remedy=Remedy(said="Pick its place again, on the surface it sits on."),
        bars=("cut_joinery", "order_hoses") if off > STEM + space.accuracy else (),
    )


def _note(
    rule: str, subject: str, text: str, *, value: Ratio | None = None, remedy: str = ""
) -> Finding:
    severity: Severity = "note"
    return Finding(
        severity=severity,
        rule=rule,
        subject=subject,
        said=text,
        source="the mesh",
        value=value,
        remedy=Remedy(said=remedy) if remedy else None,
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


def _at(place: Point) -> str:
    return "({:.2f}, {:.2f}, {:.2f}) m".format(*place)


def _mm(length: Metre) -> str:
    return f"{1000.0 * length:.0f} mm"
