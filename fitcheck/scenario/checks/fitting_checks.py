"""Checks of the kit's fittings and of the ports that use them."""

from __future__ import annotations

from fitcheck.geometry.box import FACES
from fitcheck.scenario.schema.lines import Path
from fitcheck.scenario.schema.words import did_you_mean
from fitcheck.scenario.tree import Tree

#: Name of a bare port, without a fitting.
PLAIN = "straight"


def check_fitting(tree: Tree, name: str) -> None:
    """An elbow has two legs, a straight fitting one; no fitting may have the name of the bare
    port.
    """
    own: Path = ("kit", "fittings", name)
    kind = tree.text(*own, "kind")
    if kind == "elbow" and not tree.has(*own, "out"):
        tree.fault((*own, "out"), "is missing; an elbow needs it", 'write e.g. out = "30 mm"')
    elif kind == "straight" and tree.has(*own, "out"):
        tree.fault((*own, "out"), "does not apply to a straight fitting", "leave it out")
    if name == PLAIN:
        said = f"a fitting cannot be called '{PLAIN}', which means directly to the port"
        tree.fault(own, said, "choose another name")


def check_offer(tree: Tree, port: Path) -> None:
    """Fittings offered at a port exist in the kit; its elbows turn square to its axis."""
    known = list(tree.tables("kit", "fittings"))
    names = [tree.text(*port, "fittings", n) for n in range(len(tree.items(*port, "fittings")))]
    for number, name in enumerate(names):
        if name is not None and name not in (PLAIN, *known):
            said = f"there is no fitting '{name}' in the kit"
            hint = did_you_mean(name, [PLAIN, *known], "there are")
            tree.leads_nowhere((*port, "fittings", number), "fitting", name, said, hint)
    turns = [tree.text(*port, "turns", n) for n in range(len(tree.items(*port, "turns")))]
    out = FACES.get(tree.text(*port, "direction") or "")
    for number, turn in enumerate(turns):
        if out and turn in FACES and FACES[turn][0] == out[0]:
            said = f"'{turn}' is not at right angles to the direction of the port"
            tree.fault(
                (*port, "turns", number), said, "name faces an elbow of 90 deg can point to"
            )
    elbows = [n for n in names if n and tree.text("kit", "fittings", n, "kind") == "elbow"]
    if turns and not elbows:
        tree.fault((*port, "turns"), "does not apply without an elbow", "leave it out")
