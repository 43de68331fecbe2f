"""Mesh, scan and compartment."""

from __future__ import annotations

SENTENCES = {
    "dropped-triangles": "Removed from the mesh: {dropped}.",
    "loose-bits": "The mesh has {count} loose pieces smaller than {size}; they are treated as "
    "solid.",
    "loose-bits.remedy": "If they are noise and not brackets, delete them and export the mesh "
    "again.",
    "facing": "The triangles are not consistently oriented, so a line of sight through a hole in "
    "the scan cannot be distinguished from a valid one.",
    "facing.remedy": "Make the normals consistent in a mesh editor.",
    "inside-pocket": "The inside point is in a closed space of {held}, but the mesh has a larger "
    "one of {larger}: is the point inside a solid?",
    "inside-pocket.remedy": "Pick boat.inside again, in the open middle of the compartment.",
    "leak.by-sight": "The drawn compartment is open: a gap about {width} wide at {at}. Free space "
    "is determined from the viewpoints.",
    "leak.from-inside": "The drawn compartment is open: a gap about {width} wide at {at}. Only "
    "space visible from the inside point is free.",
    "leak.remedy": "Close the gap with a lid (boat.lids) or in the drawing.",
    "leak.scan": "The scan is open: the widest gap is about {width} across at {at}. Nothing "
    "beyond it is free unless it was scanned.",
    "leak.scan-remedy": "If it is a hatch, close it with a lid (boat.lids).",
    "viewpoint-in-solid": "The viewpoint at {at} is inside a surface or a solid and is not used.",
    "viewpoint-in-solid.remedy": "Pick it again where the scanner really was.",
    "no-viewpoint": "No usable viewpoint is given: only space visible from the inside point is "
    "free.",
    "no-viewpoint.remedy": "Pick about a dozen positions of the scanner.",
    "unseen-share": "{share} of the compartment ({unseen}) is unscanned space; modules and hoses "
    "keep out of it.",
    "unseen-share.remedy": "Scan the hidden corners, add the viewpoints they were scanned from, "
    "or inspect a part and declare it free (boat.declared_free).",
    "open-edge": "Free space reaches the edge of the mesh or its crop near {at}; nothing is known "
    "beyond.",
    "open-edge.remedy": "Add a lid there (boat.lids), or enlarge boat.crop.",
    "port-off-surface": "The port {port} at {at} is {off} from the nearest surface of the mesh.",
    "hole-off-surface": "The hole {hole} at {at} is {off} from the nearest surface of the mesh.",
    "off-surface.remedy": "Pick it again on the surface it is mounted on.",
    "port-blocked.unseen": "The port {port} at {at} is blocked: the {reach} in front of it is "
    "unscanned space.",
    "port-blocked.solid": "The port {port} at {at} is blocked: the {reach} in front of it is "
    "solid.",
    "port-blocked.remedy": "Pick boat.ports.{port}.at again, or correct its direction.",
    "hole-blocked.forward": "Nothing is free within {reach} of the hole {hole} on its forward "
    "side.",
    "hole-blocked.aft": "Nothing is free within {reach} of the hole {hole} on its aft side.",
    "hole-blocked.one": "Nothing is free within {reach} of the hole {hole} on one side.",
    "hole-blocked.remedy": "Check its position, or scan the other side.",
    "board-to-build": "To build: {board}, {length} x {width}, {thick} thick, centre at {at}.",
    "file.meshed": "its surfaces were meshed to within {within}",
    "file": "Mesh file: {told}.",
    "file-unit.taken": "The mesh file gives the unit: {unit}.",
    "file-unit": "boat.unit is {unit}, the mesh file says {other}; boat.unit is used.",
    "file-unit.remedy": "Check one length on board. If the file is right, leave boat.unit out.",
    "file-whole": "The mesh file may be incomplete: {doubt}.",
    "file-whole.remedy": "Compare it with the original, or export it again as binary PLY or GLB.",
    "points": "The file has {points} points and no faces. Each point is treated as a square "
    "{half} wide (one in twenty as one wider than {most}) to close the gaps between them.",
    "points.stations": "{squares} It also gives {stations} scanner positions, so that the rays to "
    "the points are known.",
    "points.remedy": "Export more of the points, or scan from closer.",
    "accuracy-doubted.stated": "The scan is not accurate to the stated ± {taken}: {shows}",
    "accuracy-doubted.taken": "The scan is not accurate to the assumed ± {taken}: {shows}",
    "accuracy-doubted.shows": "half of the {faces} smooth faces examined have a roughness of ± "
    "{waver} or more. That value is used. It is a minimum, because it does not include "
    "distortion of the whole scan.",
    "accuracy-doubted.remedy": "Write {least} or more. Compare the scan with a tape measure on "
    "board.",
    "unseen-near": "{unseen} within {reach} of {name} is unscanned space. The largest part, "
    "{size}, is at {at}, {near} away. {view}",
    "unseen-near.no-place": "No position with room for a scanner would show much of it.",
    "unseen-near.seen": "A viewpoint at {place} would show {share} of it.",
    "unseen-near.if-room": "A viewpoint at {place} would show {share} of it, if there is room: "
    "that position is unscanned too.",
    "unseen-near.feel": "Inspect it by eye or by hand, then declare it free (boat.declared_free) "
    "or solid (boat.solids).",
    "unseen-near.scan": "Scan it from {place} and from a position close by and add both to "
    "boat.viewpoints, or inspect it and declare it free (boat.declared_free) or solid "
    "(boat.solids).",
    "assumed.frame": "uncertainty of the boat frame",
    "assumed.frame-taken": "± {surface} for a surface, ± {scale} of lengths, ± {sea} for the sea "
    "level, ± {tilt} for level; together ± {gap} for a gap {far} from the origin",
    "assumed.scan-accuracy": "accuracy of the scan",
    "assumed.drawing-accuracy": "the boat is built as drawn",
    "assumed.accuracy-taken": "{accuracy}{rough}",
    "assumed.accuracy-rough": "; the smooth faces of the scan alone are rough by ± {waver}",
    "assumed.flotation": "the boat heels about a point on the centreline below the inside point",
    "assumed.flotation-taken": "at sea level",
    "assumed.looked-from": "the scanner was at the viewpoints given",
    "assumed.looked-from-taken": "{eyes} viewpoints; each free cell is visible from at least "
    "{needed}",
    "assumed.rays": "the file gives the right scanner position for each point",
    "assumed.rays-taken": "{frames} positions; rays from at least {needed} more of them passed a "
    "proven cell than met something before it",
    "checked.lapsed": "The check of {of} at {at} does not count: {why}.",
    "checked.unknown": "the kit has no module and no line {of}",
    "checked.no-position": "its position for {of} is missing",
    "checked.moved": "{of} has moved since",
    "checked.again": "Check there again, and write gap and position as they are now.",
    "assumed.checked": "{of} was checked by hand at {at}",
    "assumed.checked-taken": "{gap} clear; {room} of weakly scanned space counts as free",
    "assumed.declared-free": "{volume} is free although unscanned",
    "assumed.declared-free-taken": "{room}, all declared volumes together",
    "assumed.solid": "{solid} is solid, whatever the mesh shows",
    "assumed.solid-taken": "{room}",
    # --- steps ---------------------------------------------------------------------------------
    "step.found": "Found {free} free, {unseen} unscanned.",
    "step.long-search": "Hoses will be searched on {cells} cells, which takes minutes; "
    "layout.pitch = {coarser} is faster",
}
