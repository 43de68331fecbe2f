"""Findings of the fit, in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from fitcheck.fit.measured.judge import SERVICE, Fault, Judgement, lacks
from fitcheck.model.contact import Contact, Kind
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.fit import ServiceFit
from fitcheck.model.given.kit import Face
from fitcheck.model.uncertainty import rounded
from fitcheck.units import Metre, Point, show

PRACTICE = "common practice, no source"
KIT = "the kit's own figure"
#: How a face is called in a sentence.
BEFORE: dict[Face, str] = {
    "front": "in front of",
    "back": "behind",
    "left": "on the left of",
    "right": "on the right of",
    "top": "above",
    "base": "below",
}


def length(value: Metre) -> str:
    """A length for people; never minus nought."""
    return show(value if abs(value) > 5e-5 else 0.0, "length")


def spot(place: Point | None) -> str:
    """A place in the boat frame, in metres to the millimetre."""
    if place is None:
        return ""
    x, y, z = (round(v, 3) + 0.0 for v in place)
    return f" at ({x:.3f}, {y:.3f}, {z:.3f}) m"


def thing(met: Contact) -> str:
    """What is met, with its article where it is no name."""
    if met.kind == "bit":
        return f"a {met.meets} of the mesh (a bracket, or noise)"
    return f"the {met.meets}" if met.kind == "mesh" else met.meets


#: A rule, the kind of what is met, and the names of the two.
Said = tuple[str, Kind, frozenset[str]]


def findings_of(
    judged: Judgement,
    box_gap: Metre,
    told: set[Said],
    cure: Callable[[str, Contact], Remedy | None],
    settles: Callable[[str, str], Remedy | None],
) -> list[Finding]:
    """What to say of one module.

    told    : clashes and closeness said already, of a pair of modules from either; added to
    cure    : gives the remedy for a module and what it meets
    settles : gives the move of the module itself that leaves no doubt by a rule
    """
    name = judged.fit.name
    found = []
    for fault in judged.faults:
        said = (fault.rule, fault.met.kind, frozenset({name, fault.met.subject}))
        if said in told:
            continue
        told.add(said)
        doubt = fault.rule in ("tight", "sunk")
        remedy = settles(name, fault.rule) if doubt else cure(name, fault.met)
        found.append(_of_fault(name, fault, box_gap, remedy))
    found += [_of_short(name, r, "fail", cure(name, r.contacts[0])) for r in judged.short]
    found += [_of_short(name, row, "caution", settles(name, SERVICE)) for row in judged.doubtful]
    sides = [face for face in judged.mounted if face != "base"]
    if sides:
        found.append(_of_mounting(name, sides, judged))
    return found


def _of_fault(name: str, fault: Fault, box_gap: Metre, remedy: Remedy | None) -> Finding:
    say = {"clash": _clash, "outside": _outside, "unseen": _unseen, "sunk": _sunk}.get(fault.rule)
    if say is not None:
        return say(name, fault.met, remedy)
    return _tight(name, fault, box_gap, remedy)


def _clash(name: str, met: Contact, remedy: Remedy | None) -> Finding:
    what = thing(met)
    text = f"{name} and {what} overlap by {length(-met.gap)}{spot(met.place)}."
    if met.kind == "inside":
        text = f"{name} stands inside a solid or outside the compartment{spot(met.place)}."
    return Finding(
        severity="fail",
        rule="clash",
        subject=name,
        said=text,
        source=PRACTICE,
        value=met.gap,
        limit=0.0,
        unit="m",
        place=met.place,
        remedy=remedy,
    )


def _outside(name: str, met: Contact, remedy: Remedy | None) -> Finding:
    return Finding(
        severity="fail",
        rule="outside",
        subject=name,
        said=f"{name} stands outside the boat: a corner lies {length(-met.gap)} beyond what was "
        f"measured{spot(met.place)}.",
        source="the mesh's own extent",
        value=met.gap,
        limit=0.0,
        unit="m",
        place=met.place,
        remedy=remedy,
    )


def _unseen(name: str, met: Contact, remedy: Remedy | None) -> Finding:
    return Finding(
        severity="fail",
        rule="unseen",
        subject=name,
        said=f"{name} reaches {length(-met.gap)} into space that was never seen{spot(met.place)}; "
        "anything may be there.",
        source="the mesh and its viewpoints",
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
        said=f"{name} is drawn {deep} into {thing(met)}, which it is fixed to{spot(met.place)}: "
        "it will stand that much further out, and so will its ports.",
        source="the roughness of the surface itself; 3 mm of packing, common practice, no source",
        value=met.gap,
        limit=0.0,
        unit="m",
        place=met.place,
        bars=("cut_joinery", "order_hoses"),
        remedy=remedy or Remedy(said=f"Move {name} {deep} away from the surface there."),
    )


def _tight(name: str, fault: Fault, box_gap: Metre, remedy: Remedy | None) -> Finding:
    met = fault.met
    unsure = met.uncertainty
    within = f", +-{length(rounded(unsure))}" if unsure > 0.0 else ""
    what = thing(met)
    if met.gap < 0.0:
        text = (
            f"{name} and {what} overlap by {length(-met.gap)}{within}"
            f"{spot(met.place)}: tight. The mesh may be wrong by as much; look there before "
            "cutting."
        )
    else:
        text = (
            f"{name} has a gap of {length(met.gap)}{within}, to {what}"
            f"{spot(met.place)}: tight; {length(box_gap)} is asked."
        )
    move = f"Move {name} {length(box_gap + unsure - met.gap)} away from {what}"
    measure = ", or measure the gap on board" if unsure > 0.0 else ""
    return Finding(
        severity="caution",
        rule="tight",
        subject=name,
        said=text,
        source="the kit's allowances and how sure the boat frame is (95 %)",
        value=met.gap,
        limit=box_gap + unsure,
        unit="m",
        place=met.place,
        bars=("cut_joinery",) if fault.bars else (),
        remedy=remedy or Remedy(said=f"{move}{measure}."),
    )


def _of_short(
    name: str, row: ServiceFit, severity: Literal["fail", "caution"], remedy: Remedy | None
) -> Finding:
    part = "For the part that comes out" if row.kind == "withdrawal" else "For hands"
    if row.face == "base" and row.kind == "withdrawal":
        part = "To drop what comes out downward"
    within = f", +-{length(rounded(row.uncertainty))}," if row.uncertainty > 0.0 else ""
    there = "nothing is" if row.available < 5e-4 else f"{length(row.available)}{within} is"
    text = (
        f"{part}, {name} asks {length(row.wanted)} {BEFORE[row.face]} it; {there} clear before it "
        f"meets {thing(row.contacts[0])}{spot(row.place)}."
    )
    if severity == "caution":
        text += " Tight: measure on board."
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


def in_doubt(judged: Judgement, box_gap: Metre) -> str:
    """What is not sure to be as asked where a module stands without a fail."""
    rows = [
        f"it stands {length(-fault.met.gap)} deep in {thing(fault.met)}"
        if fault.rule == "sunk"
        else f"{_within(fault.met)} to {thing(fault.met)} of {length(box_gap)} asked"
        for fault in judged.faults
    ]
    rows += [
        f"{_within(row.contacts[0])} {BEFORE[row.face]} it, to {thing(row.contacts[0])}, "
        f"of {length(row.wanted)} asked"
        for row in judged.doubtful
    ]
    return "; ".join(rows) or "what it leaves clear for its neighbours"


def _within(met: Contact) -> str:
    return f"{length(met.gap)} +-{length(rounded(met.uncertainty))}"


def _measured(name: str, row: ServiceFit) -> Remedy:
    """What settles a service space that may be short for all the mesh tells."""
    more = row.wanted + row.uncertainty - row.available
    return Remedy(
        said=f"Measure on board whether {length(row.wanted)} {BEFORE[row.face]} {name} is clear, "
        f"or move it {length(more)} away from {thing(row.contacts[0])}."
    )


def _of_mounting(name: str, sides: Sequence[Face], judged: Judgement) -> Finding:
    gaps = {row.face: row for row in judged.fit.faces}
    against = thing(gaps[sides[0]].contacts[0])
    parts = ", ".join(f"{face} ({length(gaps[face].gap)})" for face in sides)
    return Finding(
        severity="note",
        rule="mounted",
        subject=name,
        said=f"{name} lies against {against} with: {parts}; taken as screwed to it there, so no "
        "gap is asked.",
        source=PRACTICE,
    )
