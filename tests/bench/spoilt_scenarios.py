"""Good scenarios as trees of values, and ways to damage them."""

from __future__ import annotations

import copy
import random
import re
import tomllib
from collections.abc import Iterator
from typing import Any

from fitcheck.scenario.keys import emit
from tests import ROOT

SCENARIOS = ROOT / "scenarios"
Tree = dict[str, Any]
Keys = tuple[str | int, ...]

#: What people, programs and bad luck put where a quantity, a name or a table belongs.
TEXTS = (
    "", "   ", "x" * 50_000, "é" * 300, "a\x1b[31mred", "a\x00b", "‮abc", "../../etc", "-",
    "<script>1</script>", "=1+1", "nan", "NaN m", "inf mm", "1e999 mm", "-0 mm", "٣ mm", "1,5 m",
    "5 mm mm", "1_000 mm", "0x10 mm", "1/0 in", "-1/2 in", "3/8/2 in", "6 ft -2 in", "1e-400 m",
    "1e308 m", "99999999999999999999 km", "5 furlong", "5 bar", "5 mm", "5 m", "0 mm", "0 bar",
    "-5 mm", "1e6 L/min", "361 deg", "-300 degC", "200 degC", "100 %", "-1 %", "1000 %",
    "picked nan 0 0", "picked 0 0", "picked 0 0 0", "picked 1e308 1e308 1e308", "+w",
    "towards 0 0 0", "boat.seacock", "strainer.inlet", "nothing.there", "feed_pump",
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    True, False, 0, 1, -1, 3.5, float("nan"), float("inf"), 10**30, [], {}, [1], [[[]]], {"a": 1},
    ["5 mm"], ["5 mm"] * 3, ["0 mm"] * 3, ["-5 mm"] * 3, ["1e6 m"] * 3,
)  # fmt: skip
FACTORS = (0.0, -1.0, 1e-9, 1e-3, 0.1, 0.5, 2.0, 10.0, 1e3, 1e6, 1e30)
_QUANTITY = re.compile(r"(-?[\d.]+)( ?[A-Za-z%].*)")


def whole_demo(mesh: str) -> Tree:
    """The demo on a drawing as one tree, in coarse cells, its mesh at that path."""
    tree: Tree = {"name": "demo", "about": "spoilt"}
    for part in ("boat_cad", "kit", "layout"):
        tree |= tomllib.loads((SCENARIOS / f"demo_{part}.toml").read_text("utf-8"))
    tree["boat"]["mesh"] = mesh
    tree["layout"]["pitch"] = "40 mm"
    return tree


def in_the_room(mesh: str, pump: str, layout: str) -> Tree:
    """One pump and two hoses in the room of the specimens, its mesh at that path."""
    boat = {
        "mesh": mesh,
        "origin": "cad",
        "unit": "m",
        "up": "+z",
        "forward": "+x",
        "datum": {"point": "picked 0 0 0", "above_sea": "-200 mm", "taken": "drawing"},
        "centreline": {"point": "picked 0 0 0", "offset": "0 mm", "side": "port"},
        "inside": "picked 0 0 0.9",
        "ports": {
            "seacock": _port("seacock", "picked -0.5 -0.4 0", "up"),
            "tank": _port("tank", "picked -0.5 0.75 0.5", "starboard"),
        },
        "conditions": {"heel": ["0 deg", "15 deg"], "water_temperature": ["15 degC"]},
    }
    tree = {"name": "room", "boat": boat, **tomllib.loads(pump), **tomllib.loads(layout)}
    tree["layout"]["modules"]["feed_pump"]["at"] = ["-0.6 m", "0.2 m", "0.2 m"]
    tree["layout"]["pitch"] = "40 mm"
    tree["layout"]["lines"] = {}
    return tree


def _port(role: str, at: str, direction: str) -> Tree:
    return {"role": role, "at": at, "direction": direction, "connection": "hose tail 19 mm"}


def spoilt(trees: list[Tree], number: int, seed: int) -> tuple[Tree, str]:
    """The damaged tree of that number and the damage, the same every time."""
    draw = random.Random(f"{seed}-{number}")
    tree = copy.deepcopy(draw.choice(trees))
    done = [_spoil(tree, draw) for _ in range(draw.choice((1, 1, 1, 2, 4)))]
    return tree, "; ".join(done)


def _spoil(tree: Tree, draw: random.Random) -> str:
    leaves = list(_leaves(tree))
    keys, value = draw.choice(leaves)
    kind = draw.randrange(8)
    if kind <= 2:  # a quantity made larger, smaller or zero
        found = [(k, v) for k, v in leaves if isinstance(v, str) and _QUANTITY.fullmatch(v)]
        keys, value = draw.choice(found)
        match = _QUANTITY.fullmatch(value)
        assert match is not None
        value = f"{float(match[1]) * draw.choice(FACTORS):.6g}{match[2]}"
        _parent(tree, keys)[keys[-1]] = value
        return f"{_shown(keys)} = {value}"
    parent = _parent(tree, keys)
    if kind == 3:
        del parent[keys[-1]]
        return f"{_shown(keys)} taken out"
    if kind == 4:
        other = draw.choice(TEXTS)
        parent[keys[-1]] = other
        return f"{_shown(keys)} = {other[:30]!r}"
    if kind == 5:
        other = copy.deepcopy(draw.choice(VALUES))
        parent[keys[-1]] = other
        return f"{_shown(keys)} = {other!r}"
    if kind == 6:
        source, other = draw.choice(leaves)
        parent[keys[-1]] = copy.deepcopy(other)
        return f"{_shown(keys)} = what {_shown(source)} is"
    if isinstance(parent, list):
        times = draw.choice((1, 1, 60))
        parent += copy.deepcopy(parent) * times
        return f"{_shown(keys[:-1])} repeated {times + 1} times"
    new = draw.choice((*TEXTS[:10], "a.b", "name", "pitch"))
    parent[new] = parent.pop(keys[-1])
    return f"{_shown(keys)} called {new[:30]!r}"


def _leaves(value: Any, keys: Keys = ()) -> Iterator[tuple[Keys, Any]]:
    pairs = value.items() if isinstance(value, dict) else enumerate(value)
    for key, inner in pairs:
        yield (*keys, key), inner
        if isinstance(inner, dict | list):
            yield from _leaves(inner, (*keys, key))


def _parent(tree: Tree, keys: Keys) -> Any:
    inside: Any = tree
    for key in keys[:-1]:
        inside = inside[key]
    return inside


def _shown(keys: Keys) -> str:
    return ".".join(str(key)[:30] for key in keys)


def written(tree: Tree) -> str:
    """The tree as TOML, each section on one line."""
    return "".join(f"{_key(key)} = {emit(value)}\n" for key, value in tree.items())


def _key(key: str) -> str:
    return emit(str(key))
