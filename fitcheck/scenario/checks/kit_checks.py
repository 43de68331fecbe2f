"""Consistency checks between keys of [kit]."""

from __future__ import annotations

import math
import re

from fitcheck.geometry.box import FACES
from fitcheck.model.given.kit import WATER
from fitcheck.scenario.checks.fitting_checks import check_fitting, check_offer
from fitcheck.scenario.schema.lines import Path
from fitcheck.scenario.schema.words import did_you_mean, listed
from fitcheck.scenario.tree import Tree
from fitcheck.units import Metre, amount

#: A port this far from its module's box was measured from the wrong place.
FARTHEST_PORT: Metre = 0.25
#: Ports closer than this are at the same place.
SAME_PLACE: Metre = 0.002
#: Ports may be measured this far into the box.
PLAY: Metre = 0.001

_NAME = re.compile(r"[A-Za-z0-9_-]+")


def check_kit(tree: Tree) -> None:
    """Note every contradiction inside [kit]."""
    _check_names(tree)
    for module in tree.tables("kit", "modules"):
        for port in tree.tables("kit", "modules", module, "ports"):
            _check_joins(tree, module, port)
            check_offer(tree, ("kit", "modules", module, "ports", port))
        _check_on_box(tree, module)
        _check_apart(tree, module)
        _check_mass(tree, ("kit", "modules", module))
    for fitting in tree.tables("kit", "fittings"):
        check_fitting(tree, fitting)
    for hose in tree.tables("kit", "hoses"):
        _check_hose(tree, ("kit", "hoses", hose))
        _check_sold(tree, ("kit", "hoses", hose, "sold"))
        _check_suction_length(tree, ("kit", "hoses", hose, "suction_length"))
    _check_parts(tree)
    _check_curves(tree)
    _check_order(tree, ("kit", "high_pressure_pump"), "pressure", "relief")
    _check_switch(tree)
    _check_order(tree, ("kit", "limits"), "suction_vacuum_ok", "suction_vacuum_max")


def _check_names(tree: Tree) -> None:
    """Names are used in key paths and in port names, where dots and spaces would be ambiguous."""
    homes: list[Path] = [
        ("kit", "modules"),
        ("kit", "lines"),
        ("kit", "hoses"),
        ("kit", "fittings"),
        ("kit", "resistances"),
        ("kit", "consumers"),
    ]
    homes += [("boat", "ports"), ("boat", "holes")]
    homes += [("kit", "modules", module, "ports") for module in tree.tables("kit", "modules")]
    for home in homes:
        for name in tree.tables(*home):
            if not _NAME.fullmatch(name):
                usable = re.sub(r"[^A-Za-z0-9_-]+", "_", name)
                tree.misplaced(usable, {})
                tree.fault(
                    (*home, name),
                    f"'{name}' is not a usable name",
                    f"use letters, digits, _ and - only, such as {usable}",
                )
    if "boat" in tree.tables("kit", "modules"):
        said = "a module cannot be called 'boat', which means the boat's own ports"
        tree.fault(("kit", "modules", "boat"), said, "choose another name")


def _check_mass(tree: Tree, module: Path) -> None:
    """The mass is that of a module full of water, so the water alone must weigh less."""
    mass = tree.quantity("mass", *module, "mass")
    holds = tree.quantity("volume", *module, "holds")
    if mass is not None and holds is not None and WATER * holds >= mass:
        tree.fault(
            (*module, "mass"),
            f"{amount(mass, 'kg')} is not above that of the water it holds: {amount(holds, 'm3')} "
            f"weigh {amount(WATER * holds, 'kg')}",
            "write the mass of the module full of water, or correct holds",
        )


# --- ports ------------------------------------------------------------------------------------


def _check_on_box(tree: Tree, module: str) -> None:
    """Ports are on their module's box; where several are not, its size is the likely cause."""
    own: Path = ("kit", "modules", module)
    size = [tree.quantity("length", *own, "size", n) for n in range(3)]
    off = {
        port: said
        for port in tree.tables(*own, "ports")
        if (said := _off_box(tree, (*own, "ports", port), size))
    }
    if len(off) > 1:
        box = " x ".join(amount(edge, "m") for edge in size if edge is not None)
        tree.fault(
            (*own, "size"),
            f"the ports {listed(off)} are not on the faces of a box of {box}",
            "write length, width and height in this order, or correct `at` of these ports, "
            "measured from the centre of the module's base",
        )
    else:
        for port, said in off.items():
            remedy = (
                "measure from the centre of the module's base (x length, y width, z height) to "
                "where the hose begins, on or outside the face it leaves from"
            )
            tree.fault((*own, "ports", port, "at"), said, remedy)


def _off_box(tree: Tree, port: Path, size: list[Metre | None]) -> str:
    """What is wrong with a port's position on a box of that size, "" if nothing."""
    at = [tree.quantity("length", *port, "at", n) for n in range(3)]
    word = tree.text(*port, "direction") or ""
    edges = [edge for edge in size if edge is not None]
    point = [value for value in at if value is not None]
    if word not in FACES or len(edges) < 3 or len(point) < 3:
        return ""
    half = (edges[0] / 2, edges[1] / 2, edges[2] / 2)
    middle = (point[0], point[1], point[2] - half[2])
    outside = max(abs(p) - h for p, h in zip(middle, half, strict=True))
    if outside > FARTHEST_PORT:
        return f"is {amount(outside, 'm')} outside the module's box"
    if _runs_into(middle, FACES[word], half):
        return f"a hose that leaves here by the {word} runs through the module's own box"
    return ""


def _check_apart(tree: Tree, module: str) -> None:
    """Two hoses cannot leave from the same place."""
    home: Path = ("kit", "modules", module, "ports")
    seen: dict[tuple[Metre, ...], str] = {}
    for port in tree.tables(*home):
        place = tuple(tree.quantity("length", *home, port, "at", n) for n in range(3))
        at = tuple(value for value in place if value is not None)
        if len(at) < len(place):
            continue
        near = next((key for key in seen if math.dist(key, at) < SAME_PLACE), None)
        if near is None:
            seen[at] = port
        elif not _joined(tree, home, port, seen[near]):
            tree.fault(
                (*home, port, "at"),
                f"is also the position of the port '{seen[near]}'",
                "measure both from the centre of the module's base, or let one join the other",
            )


def _joined(tree: Tree, home: Path, one: str, two: str) -> bool:
    """Whether one of two ports joins the other."""
    pairs = ((one, two), (two, one))
    return any(tree.text(*home, port, "joins") == other for port, other in pairs)


def _runs_into(
    point: tuple[Metre, Metre, Metre], face: tuple[int, int], half: tuple[Metre, Metre, Metre]
) -> bool:
    """Whether a ray from a point, along an axis, meets the box less a small tolerance."""
    axis, sign = face
    beside = any(abs(point[n]) > half[n] - PLAY for n in range(3) if n != axis)
    return not beside and sign * point[axis] < half[axis] - PLAY


def _check_joins(tree: Tree, module: str, port: str) -> None:
    key: Path = ("kit", "modules", module, "ports", port, "joins")
    joined = tree.text(*key)
    if not joined:
        return
    others = [name for name in tree.tables(*key[:4]) if name != port]
    if joined == port:
        tree.fault(key, "a port cannot join itself", "name another port of this module")
    elif joined not in others:
        said = f"there is no port '{joined}' on module '{module}'"
        hint = did_you_mean(joined, others, "its other ports are")
        tree.leads_nowhere(key, f"port of {module}", joined, said, hint)
    else:
        further = tree.text(*key[:4], joined, "joins")
        if further:
            said = f"'{joined}' itself joins '{further}'"
            tree.fault(key, said, "let all of them join the same port, which joins none")


# --- hoses ------------------------------------------------------------------------------------


def _check_hose(tree: Tree, hose: Path) -> None:
    bore = tree.quantity("length", *hose, "bore")
    outside = tree.quantity("length", *hose, "outside_diameter")
    radius = tree.quantity("length", *hose, "bend_radius")
    if bore is not None and outside is not None and bore >= outside:
        tree.fault(
            (*hose, "bore"),
            f"{amount(bore, 'm')} is not below the outside diameter of {amount(outside, 'm')}",
            "write the inside diameter as bore and the diameter over the cover as "
            "outside_diameter",
        )
    tail = tree.quantity("length", *hose, "tail_bore")
    if bore is not None and tail is not None and tail > bore:
        tree.fault(
            (*hose, "tail_bore"),
            f"{amount(tail, 'm')} is above the bore of the hose, {amount(bore, 'm')}",
            "leave it out if the tails are no narrower than the hose",
        )
    if radius is None or outside is None or tree.text(*hose, "bend_radius_at") != "centre":
        return
    if radius < outside / 2:
        tree.fault(
            (*hose, "bend_radius"),
            f"{amount(radius, 'm')} on the centre line is less than half the outside diameter",
            'write bend_radius_at = "inside" if the maker measures inside the bend',
        )


def _check_sold(tree: Tree, sold: Path) -> None:
    by = tree.text(*sold, "by")
    lengths, prices = len(tree.items(*sold, "lengths")), len(tree.items(*sold, "prices"))
    if by == "metre":
        if lengths:
            tree.fault((*sold, "lengths"), "does not apply to hose by the metre", "leave it out")
        if prices > 1:
            tree.fault((*sold, "prices"), f"holds {prices} prices", "write one, for one metre")
    elif by == "assembly" and not lengths and prices > 2:
        said = f"has {prices} prices for hose made up to length"
        tree.fault((*sold, "prices"), said, "write two: for the pair of ends, and per metre")
    elif by == "roll" and not lengths:
        tree.fault((*sold, "lengths"), "is missing", 'write e.g. lengths = ["5 m", "10 m"]')
    elif lengths and prices not in (0, lengths):
        tree.fault(
            (*sold, "prices"),
            f"holds {prices} prices for {lengths} lengths",
            "write one price for each length, or none at all",
        )


# --- pumps and other parts --------------------------------------------------------------------


def _check_parts(tree: Tree) -> None:
    """Pumps, membrane and resistances refer to existing modules and ports."""
    parts: list[tuple[Path, tuple[str, ...]]] = [
        (("kit", "feed_pump"), ("inlet", "outlet")),
        (("kit", "high_pressure_pump"), ("inlet", "outlet")),
        (("kit", "membrane"), ("feed", "brine", "product")),
    ]
    parts += [
        (("kit", "resistances", name), ("from", "to"))
        for name in tree.tables("kit", "resistances")
    ]
    for part, ports in parts:
        _check_part(tree, part, ports)


def _check_part(tree: Tree, part: Path, ports: tuple[str, ...]) -> None:
    module = tree.text(*part, "module")
    modules = list(tree.tables("kit", "modules"))
    if module is None:
        return
    if module not in modules:
        said = f"there is no module '{module}' in the kit"
        hint = did_you_mean(module, modules, "the modules are")
        tree.leads_nowhere((*part, "module"), "module", module, said, hint)
        return
    known = list(tree.tables("kit", "modules", module, "ports"))
    used: dict[str, str] = {}
    for key in ports:
        port = tree.text(*part, key)
        if port is None:
            continue
        if port not in known:
            said = f"there is no port '{port}' on module '{module}'"
            hint = did_you_mean(port, known, "its ports are")
            tree.leads_nowhere((*part, key), f"port of {module}", port, said, hint)
        elif port in used:
            said = f"'{port}' is already its {used[port]}"
            tree.fault((*part, key), said, "name another port of the module")
        used.setdefault(port, key)


def _check_curves(tree: Tree) -> None:
    pump: Path = ("kit", "feed_pump")
    for key in ("curve", "npsh_required"):
        points = range(len(tree.items(*pump, key)))
        flows = [tree.quantity("flow", *pump, key, number, 0) for number in points]
        heads = [tree.quantity("head", *pump, key, number, 1) for number in points]
        for number, (last, flow) in enumerate(zip(flows, flows[1:], strict=False), start=1):
            if last is not None and flow is not None and flow <= last:
                said = f"its flow of {amount(flow, 'm3/s')} is not above that of the point before"
                remedy = "list the points in order of increasing flow, each flow once"
                tree.fault((*pump, key, number), said, remedy)
        if key == "npsh_required":
            continue
        for number, (before, head) in enumerate(zip(heads, heads[1:], strict=False), start=1):
            if before is not None and head is not None and head > before:
                said = f"its head of {amount(head, 'head')} is above that of the point before"
                remedy = "the head of a centrifugal pump falls as flow rises; check this point"
                tree.fault((*pump, key, number), said, remedy)


def _check_switch(tree: Tree) -> None:
    """A diaphragm pump has a pressure switch with two settings; a centrifugal pump has none."""
    pump: Path = ("kit", "feed_pump")
    diaphragm = tree.text(*pump, "kind") == "diaphragm"
    for key, example in (("cut_out", "2.8 bar"), ("cut_in", "1.7 bar")):
        if diaphragm and not tree.has(*pump, key):
            said = "is missing; a diaphragm pump needs it"
            tree.fault((*pump, key), said, f'write e.g. {key} = "{example}"')
        elif not diaphragm and tree.has(*pump, key):
            said = "does not apply to a centrifugal pump"
            tree.fault((*pump, key), said, 'leave it out, or write kind = "diaphragm"')
    _check_order(tree, pump, "cut_in", "cut_out")


def _check_suction_length(tree: Tree, table: Path) -> None:
    below, above = (tree.quantity("length", *table, key) for key in ("recommended", "max"))
    if below is not None and above is not None and below > above:
        said = f"{amount(above, 'm')} is less than recommended, which is {amount(below, 'm')}"
        tree.fault((*table, "max"), said, "write recommended or more")


def _check_order(tree: Tree, table: Path, low: str, high: str) -> None:
    """One pressure of a table must be below another."""
    below, above = (tree.quantity("pressure", *table, key) for key in (low, high))
    if below is not None and above is not None and below >= above:
        said = f"{amount(above, 'Pa')} is not above {low}, which is {amount(below, 'Pa')}"
        tree.fault((*table, high), said, f"write more than {low}")
