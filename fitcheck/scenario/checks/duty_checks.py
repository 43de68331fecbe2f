"""Duties of lines against the ports at their ends."""

from __future__ import annotations

from fitcheck.model.given.kit import DUTIES
from fitcheck.scenario.schema.lines import Path
from fitcheck.scenario.schema.words import either
from fitcheck.scenario.tree import Tree

#: What a line that starts ("from") or ends ("to") at a port of a device can be.
_DEVICES: tuple[tuple[str, str, str, str, tuple[str, ...]], ...] = (
    ("feed_pump", "feed pump", "to", "inlet", ("suction", "bypass")),
    ("feed_pump", "feed pump", "from", "outlet", ("feed", "bypass")),
    ("high_pressure_pump", "high-pressure pump", "to", "inlet", ("feed", "suction")),
    ("high_pressure_pump", "high-pressure pump", "from", "outlet", ("high pressure",)),
    ("membrane", "membrane", "to", "feed", ("high pressure",)),
    ("membrane", "membrane", "from", "brine", ("brine", "high pressure")),
    ("membrane", "membrane", "from", "product", ("product",)),
)
#: The same for the boat's own ports, by their role.
_BOAT: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "seacock": ("from", "a seacock", ("suction",)),
    "tank": ("to", "a tank", ("product", "feed")),
}

#: What is at an end and the duties it allows, by "from" or "to" and the port.
Ends = dict[tuple[str, str], tuple[str, tuple[str, ...]]]


def duties_of_ends(tree: Tree) -> Ends:
    """What the devices and the boat's ports say of the lines that start or end there."""
    found: Ends = {}
    for part, noun, end, key, duties in _DEVICES:
        module, port = tree.text("kit", part, "module"), tree.text("kit", part, key)
        if module and port:
            found[end, f"{module}.{port}"] = (f"the {key} of the {noun}", duties)
    for name in tree.tables("boat", "ports"):
        role = tree.text("boat", "ports", name, "role")
        if role in _BOAT:
            end, what, duties = _BOAT[role]
            found[end, f"boat.{name}"] = (what, duties)
    return found


def check_duty(tree: Tree, line: Path, ends: Ends) -> None:
    """A line has a duty that the ports at its ends allow."""
    duty = tree.text(*line, "duty")
    for end, leads in (("from", "starts at"), ("to", "ends at")):
        what, duties = ends.get((end, tree.text(*line, end) or ""), ("", DUTIES))
        if duty in DUTIES and duty not in duties:
            said = f"'{duty}' cannot be the duty of a line that {leads} {what}"
            remedy = f"write duty = {either(duties)}, or correct {end}"
            tree.fault((*line, "duty"), said, remedy)
            return
