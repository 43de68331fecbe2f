"""Mesh, scan and compartment."""

from __future__ import annotations

SENTENCES = {
    "dropped-triangles": "Dropped {dropped} from the mesh.",
    "loose-bits": "{count} loose bits smaller than {size} hang in the mesh; they count as solid.",
    "loose-bits.remedy": "If they are no brackets but noise, delete them and export the mesh "
    "again.",
    "facing": "The triangles do not agree which side of a surface is out, so a line of sight "
    "through a hole in the scan cannot be told from a good one.",
    "facing.remedy": "Let a mesh program make the normals consistent.",
    "inside-pocket": "The inside point lies in a closed space of {held} while the mesh holds a "
    "larger one of {larger}: is it in a body?",
    "inside-pocket.remedy": "Pick boat.inside again, in the open middle of the compartment.",
    "leak.by-sight": "The drawn compartment is open: a gap about {width} wide at {at}. It is "
    "judged by what the viewpoints see.",
    "leak.from-inside": "The drawn compartment is open: a gap about {width} wide at {at}. Only "
    "what the inside point sees is called free.",
    "leak.remedy": "Put a lid over the gap (boat.lids), or close it in the drawing.",
    "leak.scan": "The scan is open: the widest gap is about {width} across at {at}. Nothing "
    "beyond it is called free unless it was seen.",
    "leak.scan-remedy": "Put a lid over it (boat.lids) if it is a hatch.",
    "viewpoint-in-solid": "The viewpoint at {at} lies in a surface or a solid and is not used.",
    "viewpoint-in-solid.remedy": "Pick it again where the scanner really was.",
    "no-viewpoint": "No usable viewpoint is given; only what the inside point sees is called "
    "free.",
    "no-viewpoint.remedy": "Pick a dozen points where the scanner was held.",
    "unseen-share": "{share} of the compartment ({unseen}) was not seen well enough to be called "
    "free; boxes and hoses keep out of it.",
    "unseen-share.remedy": "Scan the hidden corners, add the viewpoints they were seen from, or "
    "declare a part free (boat.declared_free) after looking at it.",
    "open-edge": "Free space runs to the edge of the mesh or its crop near {at}; nothing beyond "
    "is known.",
    "open-edge.remedy": "Put a lid there (boat.lids), or widen boat.crop.",
    "port-off-surface": "The port {port} at {at} is {off} from the nearest surface of the mesh.",
    "hole-off-surface": "The hole {hole} at {at} is {off} from the nearest surface of the mesh.",
    "off-surface.remedy": "Pick its place again, on the surface it sits on.",
    "port-blocked.unseen": "The port {port} at {at} opens into a wall: the {reach} in front of "
    "it was not seen.",
    "port-blocked.solid": "The port {port} at {at} opens into a wall: the {reach} in front of it "
    "is solid.",
    "port-blocked.remedy": "Pick boat.ports.{port}.at again, or turn it round.",
    "hole-blocked.forward": "Nothing within {reach} of the hole {hole} on its forward side is "
    "free.",
    "hole-blocked.aft": "Nothing within {reach} of the hole {hole} on its aft side is free.",
    "hole-blocked.one": "Nothing within {reach} of the hole {hole} on its one side is free.",
    "hole-blocked.remedy": "Check its place, or scan the other side.",
    "board-to-build": "To build: {board}, {length} x {width}, {thick} thick, its middle at {at}.",
    "file": "Of the mesh file: {told}.",
    "file-unit.taken": "The unit was taken from the mesh file, which says {unit}.",
    "file-unit": "boat.unit says {unit}, the mesh file {other}; boat.unit is used.",
    "file-unit.remedy": "Check one length on board; leave boat.unit out if the file is right.",
    "file-whole": "The mesh file may not be whole: {doubt}.",
    "file-whole.remedy": "Compare it with what was exported, or export it again as binary PLY or "
    "GLB.",
    "points": "The file holds {points} points and no faces; each stands for a square {half} "
    "wide, and one in twenty for more than {most}, so that the gaps between them close.",
    "points.stations": "{squares} It also says where the scanner stood: {stations} viewpoints.",
    "points.remedy": "Export more of the points, or scan from nearer.",
    "accuracy-doubted.stated": "The scan cannot be right to +-{taken} as the boat file says: "
    "{shows}",
    "accuracy-doubted.taken": "The scan cannot be right to +-{taken} as was taken: {shows}",
    "accuracy-doubted.shows": "of {faces} smooth faces looked at, half waver by +-{waver} or "
    "more. That is used, and it is the least: what bends the whole scan does not show in it.",
    "accuracy-doubted.remedy": "Write {least} or more: compare places of the scan with a tape on "
    "board.",
    "unseen-near": "{unseen} within {reach} of {name} were never seen. The largest piece, "
    "{size}, lies round {at}, {near} from it. {view}",
    "unseen-near.no-place": "No place with room for a scanner shows much of it.",
    "unseen-near.seen": "A viewpoint at {place} would show {share} of it.",
    "unseen-near.if-room": "A viewpoint at {place} would show {share} of it, if there is room: "
    "it was not seen itself.",
    "unseen-near.feel": "Look or feel there, then declare it free (boat.declared_free) or solid "
    "(boat.solids).",
    "unseen-near.scan": "Scan it from {place} and from a hand beside it and add both to "
    "boat.viewpoints, or look there and declare it free (boat.declared_free) or solid "
    "(boat.solids).",
    "assumed.frame": "how sure the boat frame is",
    "assumed.frame-taken": "+-{surface} for a surface, +-{scale} of lengths, +-{sea} for the "
    "sea's level, +-{tilt} for level; together +-{gap} for a gap {far} from the origin",
    "assumed.scan-accuracy": "the scan is accurate",
    "assumed.drawing-accuracy": "the boat is built as drawn",
    "assumed.accuracy-taken": "{accuracy}",
    "assumed.flotation": "the boat heels about a point on the centreline below the inside point",
    "assumed.flotation-taken": "at sea level",
    "assumed.looked-from": "the scanner really looked from the viewpoints given",
    "assumed.looked-from-taken": "{eyes} viewpoints, {needed} of which saw each free cell",
    "assumed.declared-free": "{volume} is free though not seen",
    "assumed.declared-free-taken": "{room} in all declared volumes",
    "assumed.solid": "{solid} is solid, whatever the mesh shows",
    "assumed.solid-taken": "{room}",
}
