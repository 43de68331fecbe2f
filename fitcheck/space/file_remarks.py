"""Findings about the mesh file itself: its unit, how it was read, how dense it is."""

from __future__ import annotations

from fitcheck.findings.said import Quantity, Said, length, quantity, say
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.given.boat import Boat
from fitcheck.space.compartment import Compartment, Provenance
from fitcheck.units import Metre, Ratio, mesh_unit_name

#: Units that differ by less than this are the same one, rounded.
SAME_UNIT: Ratio = 0.001


def unit_name(unit: Metre) -> str | Quantity:
    """A unit by its name, or as a length."""
    return mesh_unit_name(unit) or quantity(unit, "mesh unit")


def on_file(boat: Boat, compartment: Compartment, pitch: Metre) -> tuple[Finding, ...]:
    """How the file was read, what unit it declares, the spacing of its points."""
    told = compartment.provenance
    found = [_note("file", say("file", told=words)) for words in told.said]
    found += [_doubt(words) for words in told.doubts]
    if told.unit is not None:
        found += _on_unit(boat, told, told.unit)
    if told.points:
        found.append(_on_cloud(told, pitch))
    return tuple(found)


def _on_unit(boat: Boat, told: Provenance, unit: Metre) -> list[Finding]:
    named = unit_name(unit)
    if told.taken:
        return [_note("file-unit", say("file-unit.taken", unit=named))]
    if boat.unit is None or _same(boat.unit, unit):
        return []
    return [
        Finding(
            severity="caution",
            rule="file-unit",
            subject="boat.unit",
            said=say("file-unit", unit=unit_name(boat.unit), other=named),
            source="the mesh file",
            value=boat.unit / unit,
            limit=1.0,
            remedy=Remedy(said=say("file-unit.remedy")),
        )
    ]


def _on_cloud(told: Provenance, pitch: Metre) -> Finding:
    """Points were turned into squares; where these are wider than a cell, walls are guesses."""
    half, most = (2.0 * reach for reach in told.reach)
    said = say("points", points=told.points, half=length(half), most=length(most))
    if told.stations:
        said = say("points.stations", squares=said, stations=told.stations)
    sparse = most > 2.0 * pitch
    return Finding(
        severity="caution" if sparse else "note",
        rule="points",
        subject="scan",
        said=said,
        source="the mesh file",
        value=most,
        limit=2.0 * pitch,
        unit="m",
        remedy=Remedy(said=say("points.remedy")) if sparse else None,
    )


def _note(rule: str, said: Said) -> Finding:
    return Finding(severity="note", rule=rule, subject="mesh", said=said, source="the mesh file")


def _doubt(words: str) -> Finding:
    return Finding(
        severity="caution",
        rule="file-whole",
        subject="mesh",
        said=say("file-whole", doubt=words),
        source="the mesh file",
        remedy=Remedy(said=say("file-whole.remedy")),
    )


def _same(one: Metre, other: Metre) -> bool:
    return abs(one / other - 1.0) < SAME_UNIT
