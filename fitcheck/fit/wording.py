"""Convert the judgements of the fit to findings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from fitcheck.findings.said import Quantity, Said, quantities, quantity, say
from fitcheck.fit.measured.judge import SERVICE, Fault, Judgement, lacks
from fitcheck.model.contact import Contact, Kind
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.fit import ServiceFit
from fitcheck.model.given.kit import Face
from fitcheck.model.uncertainty import rounded
from fitcheck.units import Metre, Point

PRACTICE = "common practice, no source"
KIT = "the kit's own figure"
#: Name of a face in a sentence.
BEFORE: dict[Face, Said] = {
    "front": say("before.front"),
    "back": say("before.back"),
    "left": say("before.left"),
    "right": say("before.right"),
    "top": say("before.top"),
    "base": say("before.base"),
}
#: Directions of the boat frame: the word in the files, and for people.
WAYS: dict[str, Said] = {
    "forward": say("way.forward"),
    "aft": say("way.aft"),
    "port": say("way.port"),
    "starboard": say("way.starboard"),
    "up": say("way.up"),
    "down": say("way.down"),
}


def length(value: Metre) -> Quantity:
    """A length for people; never minus zero."""
    return quantity(value if abs(value) > 5e-5 else 0.0, "length")


def spot(place: Point | None) -> Said | None:
    """A place in the boat frame, to the millimetre."""
    return None if place is None else say("fit.at", place=quantities(place, "exact place"))


def thing(met: Contact) -> Said | str:
    """The thing met, with an article unless it is a name."""
    if met.kind == "bit":
        return say("fit.a-bit", bit=met.meets)
    return met.meets


#: A rule, the kind of thing met, and the names of the two.
Told = tuple[str, Kind, frozenset[str]]


def findings_of(
    judged: Judgement,
    box_gap: Metre,
    told: set[Told],
    cure: Callable[[str, Contact], Remedy | None],
    settles: Callable[[str, str], Remedy | None],
) -> list[Finding]:
    """The findings on one module.

    told : clashes and closeness already reported for a pair, from either module; added to
    cure : gives the remedy for a module and what it meets
    settles : gives the move of the module itself that leaves no doubt by a rule
    """
    name = judged.fit.name
    found = []
    for fault in judged.faults:
        once = (fault.rule, fault.met.kind, frozenset({name, fault.met.subject}))
        if once in told:
            continue
        told.add(once)
        doubt = fault.rule in ("tight", "sunk")
        remedy = settles(name, fault.rule) if doubt else cure(name, fault.met)
        found.append(_of_fault(name, fault, box_gap, remedy))
    found += [_of_short(name, r, "fail", cure(name, r.contacts[0])) for r in judged.short]
    found += [_of_short(name, row, "caution", settles(name, SERVICE)) for row in judged.doubtful]
    if judged.touch is not None:
        found.append(_of_touch(name, judged.touch))
    sides = [face for face in judged.mounted if face != "base"]
    if sides:
        found.append(_of_mounting(name, sides, judged))
    return found


def _of_fault(name: str, fault: Fault, box_gap: Metre, remedy: Remedy | None) -> Finding:
    met, depth, at = fault.met, length(-fault.met.gap), spot(fault.met.place)
    if fault.rule == "outside":
        said = say("outside.beyond", name=name, depth=depth, at=at)
        return _fail("outside", name, met, said, "the mesh's own extent", remedy)
    if fault.rule == "unseen":
        said = say("unseen.reaches", name=name, depth=depth, at=at)
        return _fail("unseen", name, met, said, "the mesh and its viewpoints", remedy)
    if fault.rule == "clash":
        said = say("clash.overlap", name=name, what=thing(met), depth=depth, at=at)
        if met.kind == "inside":
            said = say("clash.inside", name=name, at=at)
        return _fail("clash", name, met, said, PRACTICE, remedy)
    if fault.rule == "sunk":
        return _sunk(name, met, remedy)
    return _tight(name, fault, box_gap, remedy)


def _fail(
    rule: str, name: str, met: Contact, said: Said, source: str, remedy: Remedy | None
) -> Finding:
    return Finding(
        severity="fail",
        rule=rule,
        subject=name,
        said=said,
        source=source,
        value=met.gap,
        limit=0.0,
        unit="m",
        place=met.place,
        remedy=remedy,
    )


def _sunk(name: str, met: Contact, remedy: Remedy | None) -> Finding:
    deep = length(-met.gap)
    return Finding(
        severity="caution",
        rule="sunk",
        subject=name,
        said=say("sunk.drawn", name=name, depth=deep, what=thing(met), at=spot(met.place)),
        source="the roughness of the surface itself; thin packing, common practice, no source",
        value=met.gap,
        limit=0.0,
        unit="m",
        place=met.place,
        bars=("cut_joinery", "order_hoses"),
        remedy=remedy or Remedy(said=say("sunk.remedy", name=name, depth=deep)),
    )


def _of_touch(name: str, met: Contact) -> Finding:
    """It fits if the space is as seen: a hand on board settles it, or another scan."""
    at = spot(met.place)
    said = say("touch.gap", name=name, gap=length(met.gap), at=at)
    if met.gap < 0.0:
        said = say("touch.reaches", name=name, depth=length(-met.gap), at=at)
    return Finding(
        severity="caution",
        rule="touch",
        subject=name,
        said=said,
        source="the mesh and its viewpoints",
        value=met.gap,
        limit=met.asked + met.uncertainty,
        unit="m",
        place=met.place,
        bars=("cut_joinery", "order_hoses"),
        remedy=Remedy(said=say("touch.remedy", at=at)),
    )


def _tight(name: str, fault: Fault, box_gap: Metre, remedy: Remedy | None) -> Finding:
    met = fault.met
    unsure, what, at = met.uncertainty, thing(met), spot(met.place)
    within = say("fit.within", within=length(rounded(unsure))) if unsure > 0.0 else None
    if met.gap < 0.0:
        depth = length(-met.gap)
        text = say("tight.overlap", name=name, what=what, depth=depth, within=within, at=at)
    else:
        gap, asked = length(met.gap), length(box_gap)
        text = say("tight.gap", name=name, gap=gap, within=within, what=what, at=at, asked=asked)
    move = say(
        "tight.remedy-or-measure" if unsure > 0.0 else "tight.remedy",
        name=name,
        by=length(box_gap + unsure - met.gap),
        what=what,
    )
    return Finding(
        severity="caution",
        rule="tight",
        subject=name,
        said=text,
        source="the kit's allowances and the uncertainty of the boat frame (95 %)",
        value=met.gap,
        limit=box_gap + unsure,
        unit="m",
        place=met.place,
        bars=("cut_joinery",) if fault.bars else (),
        remedy=remedy or Remedy(said=move),
    )


def _of_short(
    name: str, row: ServiceFit, severity: Literal["fail", "caution"], remedy: Remedy | None
) -> Finding:
    text = say(
        "service-clearance.short",
        part=_need(row),
        name=name,
        wanted=length(row.wanted),
        before=BEFORE[row.face],
        there=_clear(row),
        what=thing(row.contacts[0]),
        at=spot(row.place),
    )
    if severity == "caution":
        text = say("service-clearance.tight", short=text)
        remedy = remedy or _measured(name, row)
    return Finding(
        severity=severity,
        rule=SERVICE,
        subject=name,
        said=text,
        source=KIT,
        value=row.available,
        limit=row.wanted,
        unit="m",
        place=row.place,
        bars=("cut_joinery",) if lacks(row) else (),
        remedy=remedy,
    )


def _need(row: ServiceFit) -> Said:
    if row.kind != "withdrawal":
        return say("service-clearance.hands")
    return say("service-clearance.drop" if row.face == "base" else "service-clearance.part")


def _clear(row: ServiceFit) -> Said:
    if row.available < 5e-4:
        return say("service-clearance.nothing")
    clear, unsure = length(row.available), row.uncertainty
    if unsure > 0.0:
        return say("service-clearance.about", clear=clear, within=length(rounded(unsure)))
    return say("service-clearance.some", clear=clear)


def in_doubt(judged: Judgement, box_gap: Metre) -> list[Said]:
    """What is uncertain where a module has no fail."""
    rows = [_doubt(fault, box_gap) for fault in judged.faults]
    for row in judged.doubtful:
        met, before, asked = row.contacts[0], BEFORE[row.face], length(row.wanted)
        gap, within = length(met.gap), length(rounded(met.uncertainty))
        what = thing(met)
        rows.append(
            say("doubt.service", gap=gap, within=within, before=before, what=what, asked=asked)
        )
    return rows or [say("doubt.neighbours")]


def _doubt(fault: Fault, box_gap: Metre) -> Said:
    met, what = fault.met, thing(fault.met)
    if fault.rule == "sunk":
        return say("doubt.sunk", depth=length(-met.gap), what=what)
    gap, within = length(met.gap), length(rounded(met.uncertainty))
    return say("doubt.gap", gap=gap, within=within, what=what, asked=length(box_gap))


def _measured(name: str, row: ServiceFit) -> Remedy:
    """The measurement that settles whether a service clearance is short."""
    return Remedy(
        said=say(
            "service-clearance.remedy",
            wanted=length(row.wanted),
            before=BEFORE[row.face],
            name=name,
            by=length(row.wanted + row.uncertainty - row.available),
            what=thing(row.contacts[0]),
        )
    )


def _of_mounting(name: str, sides: Sequence[Face], judged: Judgement) -> Finding:
    gaps = {row.face: row for row in judged.fit.faces}
    against = thing(gaps[sides[0]].contacts[0])
    faces = [say("mounted.face", face=face, gap=length(gaps[face].gap)) for face in sides]
    return Finding(
        severity="note",
        rule="mounted",
        subject=name,
        said=say("mounted.against", name=name, what=against, faces=faces),
        source=PRACTICE,
    )
