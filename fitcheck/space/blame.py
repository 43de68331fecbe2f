"""Find the declaration that leaves nothing free: drop each in turn and label the rest again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from fitcheck.errors import Fault, MeshError
from fitcheck.geometry.box import as_point
from fitcheck.geometry.raster import touched_cells
from fitcheck.model.given.boat import Boat
from fitcheck.model.given.scenario import Scenario
from fitcheck.space.cells.labels import Matter
from fitcheck.space.compartment import Compartment, blocked_cells, bring_aboard, fill_grid
from fitcheck.space.datum.place import lid_triangles, upright
from fitcheck.units import CubicMetre, Point, amount, place

#: Without the crop the grid may be too large; cells of this multiple of the edge are good enough.
COARSER = (1, 2, 4, 8)
#: The lists of the boat file that remove air, and the name of one item.
LISTS = {
    "solids": "declared solid",
    "boards": "board",
    "lids": "lid",
    "keep_outs": "keep-out",
}
#: What one item of each list does to an inside point within it.
COVERS = {
    "solids": "covers the inside point",
    "boards": "covers the inside point",
    "lids": "passes through the inside point",
}
CHANGE = {
    "solids": "make it smaller",
    "boards": "check its corners and its thickness",
    "lids": "check its corners",
    "keep_outs": "make it smaller",
}
#: Placeholder for the free volume until it is known.
VOLUME = "(volume)"
PICK = "pick boat.inside again, in the open middle of the compartment"


@dataclass(frozen=True, eq=False, kw_only=True)
class Site:
    """A boat file, its compartment in the boat frame, and the grid made from it."""

    boat: Boat
    compartment: Compartment
    matter: Matter


#: The usable volume for boxes and hoses at a site, 0 where the inside point is not in air.
Free = Callable[[Site], CubicMetre]


def blame(scenario: Scenario, site: Site, where: str, free: Free) -> Fault:
    """The fault of a site where nothing is free.

    where : what the inside point is in ("" for air)
    """
    best: tuple[CubicMetre, str, str, str] = (0.0, "", "", "")
    for changed, key, text, remedy in _without_one(scenario, site, where):
        found = free(changed) if changed is not None else 0.0
        if found > best[0]:
            best = (found, key, text, remedy)
    if not best[1]:
        for changed, key, text, remedy in _without_many(site):
            found = free(changed)
            if found > 0.0:
                best = (found, key, text, remedy)
                break
    at = place(site.compartment.inside)
    if not best[1]:
        told = f"the inside point at {at} is {where or 'in unscanned space'}"
        return _fault(scenario, "boat.inside", f"{told}; no space is free", PICK)
    volume = amount(best[0], "room")
    text = best[2].replace("the inside point", f"the inside point at {at}", 1)
    return _fault(scenario, best[1], text.replace(VOLUME, volume, 1), best[3])


def _fault(scenario: Scenario, key: str, text: str, remedy: str) -> Fault:
    return Fault(
        file=scenario.boat_file,
        line=scenario.line(key),
        key=key,
        text=text,
        remedy=remedy,
    )


def _without_one(
    scenario: Scenario, site: Site, where: str
) -> Iterator[tuple[Site | None, str, str, str]]:
    """The site without one of its declarations: key, the message if that is the cause, the remedy.

    None for those that cannot be tested.
    """
    boat = site.boat
    for kind, word in LISTS.items():
        items = getattr(boat, kind)
        for number, item in enumerate(items):
            rest = items[:number] + items[number + 1 :]
            does = COVERS.get(kind, "") if where else ""
            does = does or "leaves nothing free round the inside point"
            text = f"the {word} '{item.name}' {does}; without it {VOLUME} would be free"
            key = f"boat.{kind}, item {number + 1}"
            changed = _rebuilt(site, _with(boat, kind, rest))
            yield changed, key, text, f"{CHANGE[kind]}, or {PICK}"
    if boat.crop:
        off = _outside_crop(site.compartment)
        does = f"leaves the inside point {amount(off, 'gap')} outside" if off > 0.0 else ""
        does = does or "leaves nothing free round the inside point"
        text = f"the crop {does}; without it {VOLUME} would be free"
        remedy = f"pick points of boat.crop so that their box holds the compartment, or {PICK}"
        yield _uncropped(site, site.matter.grid.pitch), "boat.crop", text, remedy
    if where:
        return
    for eye in site.compartment.eyes:
        text = f"no viewpoint sees the air round the inside point, while {VOLUME} are free round "
        text += f"the viewpoint at {place(as_point(eye))}"
        moved = replace(site.compartment, inside=as_point(eye))
        yield replace(site, compartment=moved), "boat.inside", text, PICK
        break
    text = "too few viewpoints see the air round the inside point; from there "
    text += f"{VOLUME} are seen"
    blind = replace(site.compartment, eyes=np.empty((0, 3)))
    remedy = f"pick the places where the scanner was held again, or {PICK}"
    yield replace(site, compartment=blind), "boat.viewpoints", text, remedy


def _without_many(site: Site) -> Iterator[tuple[Site, str, str, str]]:
    """The site without all items of one list, then without all lists."""
    for kind, word in LISTS.items():
        if len(getattr(site.boat, kind)) > 1:
            text = f"the {word}s together leave nothing free round the inside point; without "
            text += f"them {VOLUME} would be free"
            changed = _rebuilt(site, _with(site.boat, kind, ()))
            yield changed, f"boat.{kind}", text, f"check each of them, or {PICK}"
    there = [f"boat.{kind}" for kind in LISTS if getattr(site.boat, kind)]
    if len(there) > 1:
        text = f"{', '.join(there)} together leave nothing free round the inside point; without "
        text += f"them {VOLUME} would be free"
        bare = replace(site.boat, solids=(), boards=(), lids=(), keep_outs=())
        yield _rebuilt(site, bare), "boat.inside", text, f"check each of them, or {PICK}"


def _with(boat: Boat, kind: str, items: tuple[Any, ...]) -> Boat:
    changes: dict[str, Any] = {kind: items}
    return replace(boat, **changes)


def _rebuilt(site: Site, boat: Boat) -> Site:
    """The site with the lists of another boat file."""
    here, grid = site.compartment, site.matter.grid
    frame = here.bearings.frame
    lids = lid_triangles(frame, boat.lids, here.inside)
    blocks = tuple(upright(frame, solid.corners) for solid in boat.solids)
    matter = replace(site.matter, lid=touched_cells(lids, grid), block=blocked_cells(grid, blocks))
    return Site(boat=boat, compartment=replace(here, lids=lids, blocks=blocks), matter=matter)


def _uncropped(site: Site, pitch: float) -> Site | None:
    """The site with the whole mesh, None where it is too large for a grid."""
    boat = replace(site.boat, crop=())
    name = Path(boat.mesh).name
    try:
        whole = bring_aboard(boat)
    except MeshError:
        return None
    for times in COARSER:
        try:
            matter = fill_grid(whole, times * pitch, name)
        except MeshError:
            continue
        return Site(boat=boat, compartment=whole, matter=matter)
    return None


def _outside_crop(compartment: Compartment) -> float:
    """How far the inside point is outside the crop [m], 0 within."""
    crop = compartment.crop
    if crop is None:
        return 0.0
    away = np.abs(np.array(compartment.inside) - np.array(crop.centre)) - np.array(crop.half)
    return float(np.linalg.norm(np.maximum(away, 0.0)))


def stands_in(point: Point, site: Site) -> str:
    """What a point in the boat frame is in, "" for air."""
    matter = site.matter
    index = matter.grid.index(np.array(point))
    cell = (int(index[0]), int(index[1]), int(index[2]))
    if not matter.grid.holds(index) or not matter.allowed[cell]:
        crop = site.compartment.crop is not None
        return "outside the mesh or its crop" if crop else "outside the mesh"
    if matter.surface[cell]:
        return "in a surface of the mesh"
    if matter.lid[cell] or matter.block[cell]:
        return "in a lid or a declared solid"
    return ""
