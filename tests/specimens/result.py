"""Two whole results as data, every number invented; no stage has calculated any of it.

bay_result.json is a bay with nine lines, one without a route, and a filter bowl that cannot drop;
room_result.json a small room with five modules and seven lines, one without a route. Both are in
the format of `fitcheck.kept.codec`, without fields that have the model's defaults, and are edited
by hand. Arrays are added here.
"""

from __future__ import annotations

import json
import math
import zipfile
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box
from fitcheck.kept.codec import unpacked
from fitcheck.model.found.fit import FitVerdict
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Space
from fitcheck.model.result import Result
from tests import specimens

Floats = NDArray[np.float64]
LOW, HIGH = (-1.0, -0.75, -0.4), (1.0, 0.75, 0.8)
ENGINE = ((0.30, -0.35, -0.40), (0.95, 0.25, 0.10))


@cache
def specimen_result() -> Result:
    """The bay, verdict fail."""
    label = np.full((14, 12, 7), FREE, dtype=np.uint8)
    label[:, 0], label[0] = SOLID, UNSEEN
    return _read("bay_result.json", bay(), label, np.zeros(label.shape, dtype=np.float32))


def routed(name: str) -> HoseRoute:
    """A hose of the bay."""
    (found,) = (hose for hose in specimen_result().routes.hoses if hose.line == name)
    assert isinstance(found, HoseRoute)
    return found


def placed(name: str) -> Box:
    """The box of a module of the bay."""
    return specimen_result().fit.module(name).box


def renamed_result(old: str, new: str) -> Result:
    """The bay with a module or line renamed everywhere."""
    changed = _renamed(specimen_result(), old, new)
    assert isinstance(changed, Result)
    return changed


def _renamed(item: object, old: str, new: str) -> object:
    if isinstance(item, str):
        return item.replace(old, new)
    if isinstance(item, tuple):
        return tuple(_renamed(part, old, new) for part in item)
    if hasattr(item, "__dataclass_fields__"):
        fields = item.__dataclass_fields__
        return replace(item, **{key: _renamed(getattr(item, key), old, new) for key in fields})
    return item


def made_result(*, verdicts: dict[str, FitVerdict] | None = None) -> Result:
    """The small room; `verdicts` overrides how modules fit."""
    result = _small_room()
    rows = result.fit.modules
    given = {row.name: row.verdict for row in rows} | (verdicts or {})
    modules = tuple(replace(row, verdict=given[row.name]) for row in rows)
    return replace(result, fit=replace(result.fit, modules=modules))


def made_space() -> Space:
    """The small room with an engine in it; the cells behind the engine are unseen."""
    return _small_room().space


@cache
def _small_room() -> Result:
    space = specimens.hand_made_space((ENGINE,), low=LOW, high=HIGH, pitch=0.05)
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    shadow = (np.array([0.3, 0.25, -0.4]) < centres) & (centres < np.array([1.0, 0.5, 0.0]))
    label = np.where(shadow.all(axis=-1) & (space.label == FREE), UNSEEN, space.label)
    outside = ((centres < np.array(LOW)) | (centres > np.array(HIGH))).any(axis=-1)
    label = np.where(outside & (label != SOLID), UNSEEN, label).astype(np.uint8)
    return _read("room_result.json", space.triangles, label, space.distance)


def _read(name: str, triangles: Floats, label: NDArray[Any], distance: NDArray[Any]) -> Result:
    """A result read by the program's own reader, with arrays added."""
    text = Path(__file__).with_name(name).read_bytes()
    arrays = {"triangles": triangles, "label": label, "distance": distance}
    for hose in json.loads(text)["routes"]["hoses"]:
        if "path" in hose:
            arrays[hose["line"]] = _along(hose["legs"], hose["bends"])
    whole = BytesIO()
    with zipfile.ZipFile(whole, "w") as archive:
        archive.writestr("data.json", text)
        for key, array in arrays.items():
            with archive.open(key, "w") as entry:
                np.lib.format.write_array(entry, array, allow_pickle=False)
    result: Result = unpacked(whole.getvalue())
    return result


def _along(legs: list[dict[str, Any]], bends: list[dict[str, Any]]) -> Floats:
    """Points of legs and bends at most 5 mm apart."""
    pieces = []
    for index, leg in enumerate(legs):
        count = max(2, math.ceil(math.dist(leg["start"], leg["end"]) / 0.004))
        pieces.append(np.linspace(leg["start"], leg["end"], count))
        if index < len(bends):
            pieces.append(_arc(bends[index]))
    return np.concatenate(pieces)


def _arc(bend: dict[str, Any]) -> Floats:
    count = max(3, math.ceil(bend["radius"] * bend["angle"] / 0.004))
    angles = np.linspace(0.0, bend["angle"], count)[1:-1, None]
    arm = np.subtract(bend["start"], bend["centre"])
    return bend["centre"] + np.cos(angles) * arm + np.sin(angles) * np.cross(bend["normal"], arm)


def bay(stations: int = 48, heights: int = 24) -> NDArray[np.float64]:
    """Hull sides with a little noise, a flat bottom and two bulkheads: (n, 3, 3) [m]."""
    noise = np.random.default_rng(7)
    x = np.linspace(-1.7, 1.7, stations)
    girth = np.linspace(-1.0, 1.0, 2 * heights)
    height = 0.75 * np.abs(girth) ** 2.2 * 1.5 - 0.38
    breadth = np.sign(girth) * 1.3 * np.sin(np.pi / 2 * np.abs(girth) ** 0.6)
    taper = 1.0 - 0.04 * (x + 0.4) ** 2
    points = np.stack(
        [
            np.repeat(x[:, None], len(girth), axis=1),
            taper[:, None] * breadth,
            np.repeat(height[None], stations, axis=0),
        ],
        axis=-1,
    )
    points += noise.normal(scale=0.004, size=points.shape)
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
    sides = np.concatenate([np.stack([a, b, c], axis=-2), np.stack([a, c, d], axis=-2)])
    ends = [_bulkhead(points[station]) for station in (0, -1)]
    return np.concatenate([sides.reshape(-1, 3, 3), *ends])


def _bulkhead(outline: NDArray[np.float64]) -> NDArray[np.float64]:
    half = len(outline) // 2
    starboard, port = outline[:half][::-1], outline[half:]
    a, b, c, d = starboard[:-1], starboard[1:], port[1:], port[:-1]
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])


LINES = tuple(line.name for line in specimen_result().scenario.kit.lines)
MODULES = tuple(module.name for module in specimen_result().scenario.kit.modules)
