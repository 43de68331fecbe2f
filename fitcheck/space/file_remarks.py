"""What the mesh file itself gives occasion to say: its unit, how it was read, how dense it is."""

from __future__ import annotations

from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.given.boat import Boat
from fitcheck.space.compartment import Compartment, Provenance
from fitcheck.units import Metre, Ratio, show

#: Two units that differ by less are the same one, rounded.
SAME_UNIT: Ratio = 0.001
#: One unit of a mesh, in words.
NAMED: dict[Metre, str] = {1.0: "m", 0.01: "cm", 0.001: "mm", 0.0254: "in", 0.3048: "ft"}


def unit_name(unit: Metre) -> str:
    """A unit by its name, or as a length."""
    return next((word for metre, word in NAMED.items() if _same(metre, unit)), f"{unit:.6g} m")


def on_file(boat: Boat, compartment: Compartment, pitch: Metre) -> tuple[Finding, ...]:
    """How the file was read, what unit it declares, how far its points lie apart."""
    told = compartment.provenance
    found = [_note("file", f"Of the mesh file: {words}.") for words in told.said]
    found += [_doubt(words) for words in told.doubts]
    if told.unit is not None:
        found += _on_unit(boat, told, told.unit)
    if told.points:
        found.append(_on_cloud(told, pitch))
    return tuple(found)


def _on_unit(boat: Boat, told: Provenance, unit: Metre) -> list[Finding]:
    named = unit_name(unit)
    if told.taken:
        return [_note("file-unit", f"The unit was taken from the mesh file, which says {named}.")]
    if boat.unit is None or _same(boat.unit, unit):
        return []
    text = f"boat.unit says {unit_name(boat.unit)}, the mesh file {named}; boat.unit is used."
    remedy = Remedy(said="Check one length on board; leave boat.unit out if the file is right.")
    return [
        Finding(
            severity="caution",
            rule="file-unit",
            subject="boat.unit",
            said=text,
            source="the mesh file",
            value=boat.unit / unit,
            limit=1.0,
            remedy=remedy,
        )
    ]


def _on_cloud(told: Provenance, pitch: Metre) -> Finding:
    """Points were made into squares; where these are wider than a cell, walls are guessed."""
    half, most = told.reach
    text = f"The file holds {told.points:,} points and no faces; each stands for a square "
    text += f"{show(2 * half, 'length')} wide, and one in twenty for more than "
    text += f"{show(2 * most, 'length')}, so that the gaps between them close."
    if told.stations:
        text += f" It also says where the scanner stood: {told.stations} viewpoints."
    sparse = 2.0 * most > 2.0 * pitch
    return Finding(
        severity="caution" if sparse else "note",
        rule="points",
        subject="scan",
        said=text,
        source="the mesh file",
        value=2.0 * most,
        limit=2.0 * pitch,
        unit="m",
        remedy=Remedy(said="Export more of the points, or scan from nearer.") if sparse else None,
    )


def _note(rule: str, text: str) -> Finding:
    return Finding(severity="note", rule=rule, subject="mesh", said=text, source="the mesh file")


def _doubt(words: str) -> Finding:
    return Finding(
        severity="caution",
        rule="file-whole",
        subject="mesh",
        said=f"The mesh file may not be whole: {words}.",
        source="the mesh file",
        remedy=Remedy(
            said="Compare it with what was exported, or export it again as binary PLY or GLB."
        ),
    )


def _same(one: Metre, other: Metre) -> bool:
    return abs(one / other - 1.0) < SAME_UNIT
