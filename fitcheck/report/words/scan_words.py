"""The preview of a mesh file in plain words, for first-time users."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from fitcheck.findings.said import Said
from fitcheck.model.found.scan import Gap, Numbers, ScanLook, UpOffered
from fitcheck.units import MESH_UNITS, Metre, Ratio, System, mesh_unit_name, show

#: Plausible size of a compartment; a mesh outside it is in other units.
LIKELY: tuple[Metre, Metre] = (0.4, 15.0)
#: Gaps reported one by one.
TOLD = 3


def scan_rows(look: ScanLook, system: System) -> tuple[tuple[str, str], ...]:
    """The results as (heading, sentence), most important first."""
    rows = [("File", _file(look)), ("Size", _size(look, system)), ("Up", _up(look))]
    if not look.points:
        rows += [("Openings", _openings(look, system)), ("Loose pieces", _bits(look, system))]
        if look.doubled is not None:
            rows.append(("Double walls", _doubled(look, system)))
    rows.append(("Scanned", _seen(look, system)))
    rows += [("Note", _note(words, system)) for words in look.said]
    rows.append(("Missing", _missing(look)))
    return tuple(rows)


def usable(look: ScanLook) -> bool:
    """Whether the file can be used once the gaps are filled: there is free space inside."""
    return look.preview is not None and look.preview.free > 0.0


def picked(place: Numbers) -> str:
    """A place as written in the boat file."""
    return "picked " + " ".join(f"{value:.4g}" for value in place)


def _note(said: str | Said, system: System) -> str:
    words = said if isinstance(said, str) else said.text(system)
    return words[0].upper() + words[1:] + "."


def _file(look: ScanLook) -> str:
    if look.points:
        return f"a point cloud of {look.points:,} points, without faces."
    bodies = "one body" if look.bodies == 1 else f"{look.bodies:,} bodies"
    if look.open_edges == 0:
        closed = "closed all round"
    else:
        closed = f"open ({look.open_edges:,} edges with one triangle only)"
    text = f"a mesh of {look.triangles:,} triangles in {bodies}, {closed}."
    if look.crossed:
        text += f" At {look.crossed:,} edges the triangles intersect or face opposite ways."
    return text


def _size(look: ScanLook, system: System) -> str:
    if look.unit is not None:
        who = "given by the file" if look.unit_from == "file" else "given by --unit"
        word = mesh_unit_name(look.unit) or show(look.unit, "mesh unit", system)
        text = f"{_sizes(look.extents, look.unit, system)}; the unit is {word}, {who}."
        if look.unit_from == "user" and look.declared is not None:
            ratio = look.declared / look.unit
            if abs(ratio - 1.0) > 1e-3:
                text += f" The file says {mesh_unit_name(look.declared) or 'otherwise'}: "
                text += "check with one measurement."
        if not LIKELY[0] <= max(look.extents) * look.unit <= LIKELY[1]:
            text += " That is not a usual size for a compartment: is the unit right?"
        return text
    each = "; ".join(
        f"as {word} {_sizes(look.extents, metre, system)}" for word, metre in MESH_UNITS.items()
    )
    return f"the file does not give its unit. The size would be {each}. Set --unit, or measure."


def _up(look: ScanLook) -> str:
    offered = "; then ".join(_one_up(up) for up in look.ups)
    return f"unknown; suggestions, with the share of the surface that is level: {offered}."


def _one_up(up: UpOffered) -> str:
    if up.declared:
        name = f"{up.axis} (up by its format)"
    elif up.axis:
        name = f"+{up.axis} or -{up.axis}"
    else:
        name = "along " + " ".join(f"{value:.2f}" for value in up.direction)
    lean = math.degrees(up.lean)
    leans = f", tilted {lean:.1f}°" if up.axis and lean >= 0.5 else ""
    return f"{name} {100 * up.level:.0f} %{leans}"


def _openings(look: ScanLook, system: System) -> str:
    if not look.gaps:
        return "none." if not look.open_edges else "no wide ones."
    count = len(look.gaps)
    some = "; ".join(_one_gap(gap, look, system) for gap in look.gaps[:TOLD])
    lead = "one rim of open edges" if count == 1 else f"{count} rims of open edges, the widest"
    return f"{lead}: {some}."


def _one_gap(gap: Gap, look: ScanLook, system: System) -> str:
    return f"about {_length(gap.width, look, system)} at {picked(gap.place)}"


def _bits(look: ScanLook, system: System) -> str:
    if look.bits is None:
        return "none."
    text = f"{look.bits.count:,}, the largest {_length(look.bits.largest, look, system)} at "
    text += f"{picked(look.bits.place)}. They are treated as solid: "
    return text + "delete those that are not brackets."


def _doubled(look: ScanLook, system: System) -> str:
    if look.doubled is None:
        return "none."
    text = f"{100 * look.doubled.share:.0f} % of the surface has another surface "
    text += (
        f"{_length(look.doubled.apart, look, system)} behind it that faces the same way, as near "
    )
    text += f"{picked(look.doubled.place)}. Drift of the scanner causes this; so does a "
    return text + "panel in front of a wall."


def _seen(look: ScanLook, system: System) -> str:
    seen = look.preview
    if seen is None:
        return "this file contains no space enclosed by walls; is it a compartment?"
    share = 100 * seen.unseen / max(seen.free + seen.unseen, 1e-12)
    room = ""
    if look.unit is not None:
        room = f" ({show(seen.free, 'room', system)} free)"
    if seen.closed:
        return f"closed: if it is a drawing, everything inside is free{room}."
    if seen.stations:
        lead = f"from the {len(seen.eyes) - 1} scanner positions in the file"
    else:
        lead = f"tried from {len(seen.eyes)} suggested positions (yours are unknown)"
    text = f"{lead}, {share:.0f} % of the inside stays unscanned{room}."
    if seen.opening is not None:
        text += (
            f" The widest opening is about {_length(seen.opening.width, look, system)} across at "
        )
        text += f"{picked(seen.opening.place)}: if it is a hatch, close it with a lid."
    return text


def _missing(look: ScanLook) -> str:
    return ", ".join(_wanted(look)) + "."


def _wanted(look: ScanLook) -> Iterator[str]:
    if look.unit is None:
        yield "the unit or two tape measurements"
    else:
        yield "two tape measurements (the scale of a scan is off by about one per cent)"
    yield "the up direction and the height of the sea, or six waterline marks"
    yield "the forward direction"
    yield "a point inside"
    if look.preview is None or not look.preview.stations:
        yield "the viewpoints of the scanner"
    yield "the distance of one point from the centreline"
    yield "the positions of the seacock, the outlet and the tank"


def _sizes(extents: Sequence[Ratio], unit: Metre, system: System) -> str:
    return " by ".join(show(value * unit, "length", system) for value in extents)


def _length(value: Ratio, look: ScanLook, system: System) -> str:
    """A length of the mesh; without a unit if that is unknown."""
    return (
        f"{value:.3g} of the units of the file"
        if look.unit is None
        else show(value * look.unit, "length", system)
    )
