"""Consistency checks between keys of [boat]."""

from __future__ import annotations

import math

from pydantic_core import PydanticCustomError

from fitcheck.scenario.schema.boat_schema import ConditionsTable
from fitcheck.scenario.schema.lines import Path
from fitcheck.scenario.schema.quantities import mesh_direction, picked
from fitcheck.scenario.tree import Tree
from fitcheck.units import MESH_UNITS, Direction, Picked

#: A plane through fewer points gives no information on how well they were picked.
WATERLINE_POINTS = 6
#: Formats that declare their unit, or may contain a file that does; the space stage asks when
#: there is none.
MAY_DECLARE_UNIT = (".glb", ".gltf", ".3mf", ".step", ".stp", ".dae", ".e57", ".zip")
#: Formats that give the scanner positions.
MAY_HOLD_STATIONS = (".e57", ".zip")
#: Enough for a plane, without information on how well it was picked.
LEVEL_POINTS = 3
#: Every combination is solved, and again for each remedy tried.
MOST_STATES = 200
_STATES = ("heel", "trim", "water_temperature", "salinity")
#: A cell counts as seen when this many viewpoints saw it.
LEAST_VIEWPOINTS = 2


def check_boat(tree: Tree) -> None:
    """Note every contradiction inside [boat]."""
    _check_unit(tree)
    _check_level(tree)
    _check_forward(tree)
    _check_heel(tree)
    _check_states(tree)
    _check_viewpoints(tree)
    _check_stations(tree)
    _check_points(tree)
    _check_names(tree)


def _check_unit(tree: Tree) -> None:
    tapes = len(tree.items("boat", "tape"))
    if not tree.has("boat", "unit") and tapes < 2 and not _ends_in(tree, MAY_DECLARE_UNIT):
        units = ", ".join(f'"{unit}"' for unit in MESH_UNITS)
        tree.fault(
            ("boat", "unit"),
            f"is missing, with {tapes or 'no'} tape measurements given; two would replace it",
            f"write the mesh's unit ({units}) or two tables [[boat.tape]] with lengths measured "
            "on board",
        )


def _ends_in(tree: Tree, kinds: tuple[str, ...]) -> bool:
    return (tree.text("boat", "mesh") or "").lower().endswith(kinds)


def _check_level(tree: Tree) -> None:
    """The sea level comes from a waterline of six points, or from a datum and an up direction, or
    both.
    """
    points = len(tree.items("boat", "waterline"))
    level = len(tree.items("boat", "level"))
    datum = tree.has("boat", "datum")
    up = tree.has("boat", "up") or level > 0
    how = "write waterline with six or more picked points, or datum and level or up"
    if 0 < level < LEVEL_POINTS:
        tree.fault(
            ("boat", "level"),
            f"has {level} points; {LEVEL_POINTS} or more are required",
            "pick more points at one height, spread over length and width",
        )
    if 0 < points < WATERLINE_POINTS:
        tree.fault(
            ("boat", "waterline"),
            f"has {points} points; {WATERLINE_POINTS} or more are required",
            "pick more points of the waterline, spread over length and width",
        )
    elif not points and not datum:
        tree.fault(("boat", "datum"), "the height of the sea is not given", how)
    elif not points and not up:
        tree.fault(("boat", "up"), "is missing; a datum needs it", f'write up = "+z"; or {how}')


def _direction(tree: Tree, key: str) -> Direction | None:
    try:
        return mesh_direction(tree.get("boat", key))
    except PydanticCustomError:
        return None


def _check_forward(tree: Tree) -> None:
    up, forward = _direction(tree, "up"), _direction(tree, "forward")
    if up is None or forward is None:
        return
    cosine = sum(a * b for a, b in zip(up, forward, strict=True))
    if abs(cosine) > math.cos(math.radians(45)):
        tree.fault(
            ("boat", "forward"),
            "points more up or down than ahead, according to boat.up",
            "write the mesh axis that points to the bow",
        )


def _check_heel(tree: Tree) -> None:
    heels = range(len(tree.items("boat", "conditions", "heel")))
    asked = [tree.quantity("angle", "boat", "conditions", "heel", n) for n in heels]
    if any(asked) and not tree.has("boat", "centreline"):
        tree.fault(
            ("boat", "conditions", "heel"),
            "includes heel, but the centreline is not given",
            'write e.g. centreline = { point = "picked ..", offset = "0.35 m", side = "port" } '
            "under [boat]",
        )


def _check_states(tree: Tree) -> None:
    """No state may occur twice, or the results could not be distinguished."""
    kinds = {"heel": "angle", "trim": "angle", "water_temperature": "temperature"}
    for key, kind in (kinds | {"salinity": "mass fraction"}).items():
        path: Path = ("boat", "conditions", key)
        seen: set[float] = set()
        for number in range(len(tree.items(*path))):
            value = tree.quantity(kind, *path, number)
            if value is not None and round(value, 9) in seen:
                tree.fault((*path, number), "is already in the list", "name each value once")
            seen |= set() if value is None else {round(value, 9)}
    usual = ConditionsTable()
    lists = {key: tree.items("boat", "conditions", key) or getattr(usual, key) for key in _STATES}
    counts = {key: len(items) for key, items in lists.items()}
    number = math.prod(counts.values())
    if number > MOST_STATES:
        listed = ", ".join(f"{count} of {key}" for key, count in counts.items() if count > 1)
        tree.fault(
            ("boat", "conditions"),
            f"gives {number:,} states of boat and water ({listed}); the maximum is {MOST_STATES}",
            "leave out values between the lowest and the highest, which decide",
        )


def _check_viewpoints(tree: Tree) -> None:
    if not isinstance(tree.get("boat", "viewpoints") or [], list):
        return
    given = len(tree.items("boat", "viewpoints"))
    if (
        _ends_in(tree, MAY_HOLD_STATIONS)
        or tree.has("boat", "rays")
        or tree.has("boat", "stations")
    ):
        return
    if tree.text("boat", "origin") == "scan" and given < LEAST_VIEWPOINTS:
        tree.fault(
            ("boat", "viewpoints"),
            f"{given or 'no'} viewpoints for a scan; at least {LEAST_VIEWPOINTS} are required "
            "(space is free only if two of them see it)",
            "pick the points where the scanner was held",
        )


def _check_stations(tree: Tree) -> None:
    """A list of scanner positions belongs to points with frame numbers, in PLY."""
    file = "rays" if tree.has("boat", "rays") else "mesh"
    text = tree.text("boat", file)
    if tree.has("boat", "stations") and text and not text.lower().endswith(".ply"):
        tree.fault(
            ("boat", "stations"),
            f"boat.{file} is no PLY file, and only its points can be numbered by frame",
            "leave it out, or name points in PLY",
        )


def _point(tree: Tree, path: Path) -> Picked | None:
    try:
        return picked(tree.get(*path))
    except PydanticCustomError:
        return None


def _check_points(tree: Tree) -> None:
    """Points that must differ are different."""
    again = "pick it again"
    for number in range(len(tree.items("boat", "tape"))):
        ends = [_point(tree, ("boat", "tape", number, end)) for end in ("from", "to")]
        if ends[0] is not None and ends[0] == ends[1]:
            tree.fault(("boat", "tape", number, "to"), "is the same point as from", again)
    for kind in ("lids", "keep_outs", "solids", "declared_free"):
        for number in range(len(tree.items("boat", kind))):
            _check_distinct(tree, ("boat", kind, number, "corners"))
    for path in (
        ("boat", "hatch", "corners"),
        ("boat", "crop"),
        ("boat", "waterline"),
        ("boat", "level"),
    ):
        _check_distinct(tree, path)
    if len(tree.items("boat", "crop")) == 1:
        tree.fault(("boat", "crop"), "has one point; two or more are required", "pick more")
    for kind, at in (("ports", "at"), ("holes", "centre")):
        for name in tree.tables("boat", kind):
            _check_towards(tree, ("boat", kind, name), at)


def _check_distinct(tree: Tree, path: Path) -> None:
    seen: dict[Picked, int] = {}
    for number in range(len(tree.items(*path))):
        point = _point(tree, (*path, number))
        if point is None:
            continue
        if point in seen:
            same = f"is the same point as item {seen[point] + 1}"
            tree.fault((*path, number), same, "pick it again or leave it out")
        seen.setdefault(point, number)


def _check_towards(tree: Tree, path: Path, at: str) -> None:
    direction = tree.text(*path, "direction")
    own = _point(tree, (*path, at))
    if direction is None or not direction.startswith("towards ") or own is None:
        return
    target = "picked " + direction.removeprefix("towards ").strip().removeprefix("picked ")
    try:
        same = picked(target) == own
    except PydanticCustomError:
        return
    if same:
        said = f"points towards its own {at}"
        tree.fault((*path, "direction"), said, "pick a point further along the hose")


def _check_names(tree: Tree) -> None:
    """Names of lids and volumes are used in findings, so they must be unique."""
    places: dict[str, Path] = {}
    for kind in ("lids", "keep_outs", "solids", "boards", "declared_free"):
        for number in range(len(tree.items("boat", kind))):
            path: Path = ("boat", kind, number, "name")
            name = tree.text(*path)
            if name is None:
                continue
            if name in places:
                said = f"'{name}' is already used in line {tree.line(places[name])}"
                tree.fault(path, said, "choose another name")
            places.setdefault(name, path)
