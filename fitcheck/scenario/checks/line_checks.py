"""Check lines and layout against everything they name, and straight lengths."""

from __future__ import annotations

from fitcheck.scenario.checks.duty_checks import check_duty, duties_of_ends
from fitcheck.scenario.schema.kit_schema import AllowancesTable
from fitcheck.scenario.schema.lines import Path
from fitcheck.scenario.schema.words import did_you_mean, listed, near
from fitcheck.scenario.tree import Tree
from fitcheck.units import Metre, amount


def check_lines(tree: Tree) -> None:
    """Note every unknown name in the kit's lines, and every port used twice."""
    taken: dict[str, Path] = {}
    ends = duties_of_ends(tree)
    short: dict[Path, list[tuple[Metre, str, str]]] = {}
    for line in tree.tables("kit", "lines"):
        own: Path = ("kit", "lines", line)
        same = tree.text(*own, "from") == tree.text(*own, "to") is not None
        _check_port(tree, (*own, "from"), taken)
        if same:
            tree.fault((*own, "to"), "is also the port the line starts at", "name the other end")
        else:
            _check_port(tree, (*own, "to"), taken)
        _check_name(tree, (*own, "hose"), list(tree.tables("kit", "hoses")), "hose")
        _measure_straight(tree, line, short)
        _check_valve(tree, own)
        check_duty(tree, own, ends)
        _check_coil(tree, own, line)
    for name in tree.tables("kit", "consumers"):
        _check_port(tree, ("kit", "consumers", name, "at"), {})
    if tree.has("kit", "flush"):
        _check_port(tree, ("kit", "flush", "at"), {})
    for key, lines in short.items():
        _note_short(tree, key, lines)


def _check_valve(tree: Tree, line: Path) -> None:
    """Only a bypass valve may open by pressure."""
    if tree.has(*line, "opens_at") and tree.text(*line, "duty") != "bypass":
        said = f"does not apply to a line of duty '{tree.text(*line, 'duty')}'"
        tree.fault((*line, "opens_at"), said, 'leave it out, or write duty = "bypass"')


def _check_coil(tree: Tree, table: Path, line: str) -> None:
    """Only hose cut on board may be coiled; the excess of an assembly goes into a bow."""
    if not tree.has(*table, "coil"):
        return
    hose = tree.text("layout", "lines", line, "hose") or tree.text("kit", "lines", line, "hose")
    made_up = tree.text("kit", "hoses", hose or "", "sold", "by") == "assembly"
    if made_up or tree.text("kit", "lines", line, "duty") == "high pressure":
        said = f"'{line}' is a made-up assembly, whose excess is taken up in a bend"
        tree.fault((*table, "coil"), said, "leave the coil out")


def _check_name(tree: Tree, key: Path, known: list[str], what: str) -> bool:
    """Whether the name at a key is one of the known ones; notes a fault if not."""
    name = tree.text(*key)
    if name is None or name in known:
        return name is not None
    said = f"there is no {what} '{name}'"
    tree.leads_nowhere(key, what, name, said, did_you_mean(name, known, f"the {what}s are"))
    return False


def _check_port(tree: Tree, key: Path, taken: dict[str, Path]) -> None:
    written = tree.text(*key) or ""
    owner, _, port = written.partition(".")
    if not owner or not port or "." in port or (owner == "boat" and not tree.has("boat")):
        return
    modules = list(tree.tables("kit", "modules"))
    if owner != "boat" and owner not in modules:
        said = f"there is no module '{owner}' in the kit"
        hint = did_you_mean(owner, modules, "the modules are")
        if near(owner, ["boat", *modules]) == "boat":
            hint = "did you mean 'boat'?"
        tree.leads_nowhere(key, "module", owner, said, hint)
        return
    home = ("boat", "ports") if owner == "boat" else ("kit", "modules", owner, "ports")
    known = list(tree.tables(*home))
    if port not in known:
        has = "the boat has" if owner == "boat" else f"module '{owner}' has"
        said = f"'{written}': {has} no port '{port}'"
        hint = did_you_mean(port, known, "its ports are")
        tree.leads_nowhere(key, f"port of {owner}", port, said, hint)
    elif written in taken:
        other = taken[written]
        said = f"'{written}' is already used by line '{other[2]}' (line {tree.line(other)})"
        tree.fault(key, said, "give each line ports of its own, or add a port that joins this one")
    taken.setdefault(written, key)


# --- straight length --------------------------------------------------------------------------


def _measure_straight(
    tree: Tree, line: str, short: dict[Path, list[tuple[Metre, str, str]]]
) -> None:
    """The straight at each end must carry the hose clear of the face it is fixed to.

    short : by the key that is too short: the least it has to be, the line, why
    """
    key, straight = _straight(tree, line)
    hose = tree.text("layout", "lines", line, "hose") or tree.text("kit", "lines", line, "hose")
    outside = tree.quantity("length", "kit", "hoses", hose or "", "outside_diameter")
    clearance = _allowance(tree, "hose_clearance")
    if straight is None or outside is None or clearance is None:
        return
    least = outside / 2 + clearance
    if straight < least - 1e-9:
        why = (
            f"{amount(straight, 'm')} straight at each end is too short: hose '{hose}' "
            f"({amount(outside, 'm')} outside) with a clearance of {amount(clearance, 'm')} needs "
            f"{amount(least, 'm')}"
        )
        short.setdefault(key, []).append((least, line, why))


def _note_short(tree: Tree, key: Path, lines: list[tuple[Metre, str, str]]) -> None:
    """One straight that is too short for so many lines, by the one that needs most."""
    least, line, why = max(lines)
    more = f" and {len(lines) - 1} more" if len(lines) > 1 else ""
    wanted = amount(least, "file size")
    remedy = f"write straight = {wanted} or more, or correct the hose or the clearance"
    tree.fault(key, f"{why} (line '{line}'{more})", remedy)


def _straight(tree: Tree, line: str) -> tuple[Path, Metre | None]:
    """Where the straight length of a line is, or could be, written, and its value."""
    own: Path = ("kit", "lines", line, "straight")
    if tree.has(*own):
        return own, tree.quantity("length", *own)
    return ("kit", "allowances", "straight"), _allowance(tree, "straight")


def _allowance(tree: Tree, name: str) -> Metre | None:
    if tree.has("kit", "allowances", name):
        return tree.quantity("length", "kit", "allowances", name)
    default: Metre = getattr(AllowancesTable(), name)
    return default


# --- layout -----------------------------------------------------------------------------------


def check_layout(tree: Tree) -> None:
    """Note every module without a position and every unknown name in [layout]."""
    modules = list(tree.tables("kit", "modules"))
    lines = list(tree.tables("kit", "lines"))
    if tree.has("kit"):
        _check_modules(tree, modules, lines)
        for name in tree.tables("layout", "lines"):
            if name not in lines:
                said = f"there is no line '{name}' in the kit"
                hint = did_you_mean(name, lines, "the lines are")
                tree.leads_nowhere(("layout", "lines", name), "line", name, said, hint)
    for line in tree.tables("layout", "lines"):
        hose: Path = ("layout", "lines", line, "hose")
        if tree.text(*hose) and tree.has("kit"):
            _check_name(tree, hose, list(tree.tables("kit", "hoses")), "hose")
        if tree.has("boat"):
            _check_holes(tree, line)


def _check_modules(tree: Tree, modules: list[str], lines: list[str]) -> None:
    """Every module has a place, and every place its module; one name mistaken is one fault."""
    placed = list(tree.tables("layout", "modules"))
    unplaced = [name for name in modules if name not in placed]
    strangers = [name for name in placed if name not in modules]
    for name in strangers:
        meant = near(name, unplaced)
        if len(unplaced) == len(strangers) == 1:
            meant = unplaced[0]
        hint = did_you_mean(name, modules, "the modules are")
        if meant is not None:
            unplaced.remove(meant)
            hint = f"did you mean '{meant}', which has no place yet?"
        said = f"there is no module '{name}' in the kit"
        tree.leads_nowhere(("layout", "modules", name), "module", name, said, hint)
    # While one module is there in part, its name is in doubt, and so is that of its place.
    if not any(tree.is_misplaced(name) for name in modules):
        for name in unplaced:
            if not tree.is_misplaced(name):
                _note_unplaced(tree, name, lines)


def _note_unplaced(tree: Tree, module: str, lines: list[str]) -> None:
    ends = {
        line: [tree.text("kit", "lines", line, end) or "" for end in ("from", "to")]
        for line in lines
    }
    tied = [line for line, both in ends.items() if any(e.split(".")[0] == module for e in both)]
    needed = f", and {_lines(tied)} to it" if tied else ""
    tree.fault(
        ("layout", "modules", module),
        f"module '{module}' of the kit has no place in this layout{needed}",
        f'write a table [layout.modules.{module}] with e.g. at = ["-1.2 m", "0.3 m", "0.1 m"]',
    )


def _lines(names: list[str]) -> str:
    one = len(names) == 1
    return f"line{'' if one else 's'} {listed(names)} {'leads' if one else 'lead'}"


def _check_holes(tree: Tree, line: str) -> None:
    key: Path = ("layout", "lines", line, "holes")
    known = list(tree.tables("boat", "holes"))
    seen: set[str] = set()
    for number in range(len(tree.items(*key))):
        own: set[str] = set()
        for name in (part.strip() for part in (tree.text(*key, number) or "").split(" or ")):
            _check_hole(tree, (*key, number), name, known, seen | own)
            own.add(name)
        _check_width(tree, (*key, number), line, own & set(known))
        seen |= own


def _check_width(tree: Tree, key: Path, line: str, holes: set[str]) -> None:
    """At least one of the holes a line may pass is wider than its hose."""
    hose = tree.text("layout", "lines", line, "hose") or tree.text("kit", "lines", line, "hose")
    outside = tree.quantity("length", "kit", "hoses", hose or "", "outside_diameter")
    widths = [tree.quantity("length", "boat", "holes", name, "diameter") for name in sorted(holes)]
    found = [width for width in widths if width is not None]
    if outside is None or not found or len(found) < len(widths) or max(found) > outside:
        return
    said = (
        f"hose '{hose}' of line '{line}' is {amount(outside, 'm')} outside, which does not pass "
        f"hole {' or '.join(sorted(holes))} of {amount(max(found), 'm')}"
    )
    tree.fault(key, said, "correct the diameter of the hole, or name a wider hole")


def _check_hole(tree: Tree, key: Path, name: str, known: list[str], seen: set[str]) -> None:
    if name and name not in known:
        said = f"there is no hole '{name}'"
        tree.leads_nowhere(key, "hole", name, said, did_you_mean(name, known, "the holes are"))
    elif name in seen:
        tree.fault(key, f"hole '{name}' is already named", "name each hole once")
