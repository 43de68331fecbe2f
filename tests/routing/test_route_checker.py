"""The route checker accepts valid routes and rejects every kind of wrong one."""

from __future__ import annotations

import copy
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from tests.route_checker import Json, check, to_box, to_triangles

RADIUS, OUTSIDE = 0.1, 0.02
#: Half a metre of wall, seen from y < 0, its face at y = 0.
WALL = [[-1, 0, -1], [2, 0, -1], [2, 0, 2], [-1, 0, 2]]


def _hose(line: str, corners: list[list[float]], radius: float = RADIUS) -> Json:
    """A hose around right-angled corners, in the form of result.json."""
    points = np.array(corners, dtype=float)
    ways = np.diff(points, axis=0) / np.linalg.norm(np.diff(points, axis=0), axis=1)[:, None]
    legs, bends, path, last = [], [], [points[0]], points[0]
    for k in range(1, len(points) - 1):
        one, two = ways[k - 1], ways[k]
        start, end = points[k] - radius * one, points[k] + radius * two
        centre, normal = start + radius * two, np.cross(one, two)
        legs.append({"start": last.tolist(), "end": start.tolist()})
        path += list(last + np.linspace(0, 1, 400)[1:, None] * (start - last))
        turn = np.linspace(0, math.pi / 2, 60)[1:, None]
        path += list(centre - radius * np.cos(turn) * two + radius * np.sin(turn) * one)
        bends.append(
            {
                "centre": centre.tolist(),
                "normal": normal.tolist(),
                "radius": radius,
                "angle": math.pi / 2,
                "start": start.tolist(),
                "end": end.tolist(),
            }
        )
        last = end
    legs.append({"start": last.tolist(), "end": points[-1].tolist()})
    path += list(last + np.linspace(0, 1, 400)[1:, None] * (points[-1] - last))
    straight = sum(math.dist(leg["start"], leg["end"]) for leg in legs)
    length = straight + len(bends) * radius * math.pi / 2
    return {
        "line": line,
        "from": "boat.one",
        "to": "boat.two",
        "routed": True,
        "length": length,
        "bound": math.dist(corners[0], corners[-1]),
        "smallest_bend_radius": radius if bends else None,
        "required_bend_radius": RADIUS,
        "clearance": 0.01,
        "required_clearance": 0.01,
        "outside_diameter": OUTSIDE,
        "straight": 0.05,
        "start": corners[0],
        "end": corners[-1],
        "start_direction": ways[0].tolist(),
        "end_direction": ways[-1].tolist(),
        "holes": [],
        "legs": legs,
        "bends": bends,
        "path": np.array(path).tolist(),
    }


def _result() -> Json:
    """Two hoses 20 mm from the wall, axis to face, 25 mm apart, and a box under them."""
    one = _hose("one", [[0, -0.02, 0.2], [0.6, -0.02, 0.2], [0.6, -0.02, 0.9], [1, -0.02, 0.9]])
    two = _hose("two", [[0, -0.045, 0.2], [0.7, -0.045, 0.2], [0.7, -0.5, 0.2]])
    corners = [[x, y, z] for x in (0.2, 0.5) for y in (-0.3, -0.1) for z in (0.05, 0.18)]
    pump: Json = {"name": "pump", "corners": corners, "service": []}
    return {"hoses": [one, two], "modules": [pump], "allowances": {"hose_gap": 0.005}}


@pytest.fixture
def wall(tmp_path: Path) -> Path:
    """One wall of two triangles."""
    path = tmp_path / "compartment.ply"
    trimesh.Trimesh(WALL, [[0, 1, 2], [0, 2, 3]], process=False).export(path)
    return path


def test_valid_routes_pass(wall: Path) -> None:
    assert check(_result(), wall) == []


def _moved(hose: Json, by: list[float]) -> None:
    """Shift a whole hose, its ports too."""
    for item in (*hose["legs"], *hose["bends"], hose):
        for key in ("start", "end", "centre"):
            if key in item:
                item[key] = (np.array(item[key]) + by).tolist()
    hose["path"] = (np.array(hose["path"]) + by).tolist()


def _kink(hose: Json) -> None:
    hose["legs"][1]["end"][0] += 1e-4
    hose["bends"][1]["start"][0] += 1e-4


def _kink_in_normal(hose: Json) -> None:
    turn = 2e-6
    normal = np.array(hose["bends"][0]["normal"])
    hose["bends"][0]["normal"] = (normal + turn * np.array([1.0, 0, 0])).tolist()


def _into_wall(hose: Json) -> None:
    hose["straight"] = 0.0
    _moved(hose, [0, 0.011, 0])


def _near_wall(hose: Json) -> None:
    hose["straight"] = 0.0
    _moved(hose, [0, 0.00005, 0])


def _reversed(hose: Json) -> None:
    hose["start"], hose["end"] = hose["end"], hose["start"]


def _reversed_ways(hose: Json) -> None:
    for key in ("start_direction", "end_direction"):
        hose[key] = (-np.array(hose[key])).tolist()


def _gap_between_pieces(hose: Json) -> None:
    hose["legs"][1]["start"][2] += 1e-3


def _path_off(hose: Json) -> None:
    hose["path"][300][1] -= 1e-5


def _path_jumps(hose: Json) -> None:
    del hose["path"][100:110]


def _path_short(hose: Json) -> None:
    del hose["path"][-5:]


def _understated(hose: Json) -> None:
    hose["length"] *= 0.99


def _bound_above(hose: Json) -> None:
    hose["bound"] = hose["length"] + 1e-6


def _radius_told(hose: Json) -> None:
    hose["smallest_bend_radius"] = 0.12


def _radius_asked(hose: Json) -> None:
    hose["required_bend_radius"] = RADIUS + 1e-6


def _clearance_told(hose: Json) -> None:
    hose["clearance"] = 0.012


def _straight_short(hose: Json) -> None:
    hose["straight"] = 0.51


def _bend_missing(hose: Json) -> None:
    del hose["bends"][0]


def _wrong_angle(hose: Json) -> None:
    hose["bends"][0]["angle"] -= 1e-4


def _hole_missed(hose: Json) -> None:
    hole = {"centre": [0.0, 0.0, 0.5], "direction": [0, 1, 0], "diameter": 0.06, "name": "hole"}
    hose["holes"] = [hole]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (_kink, "kink"),
        (_kink_in_normal, "kink"),
        (_into_wall, "from a triangle"),
        (_near_wall, "from a triangle"),
        (_reversed, "from its port"),
        (_reversed_ways, "direction is off"),
        (_gap_between_pieces, "from where the one before it ends"),
        (_path_off, "path leaves the curve"),
        (_path_jumps, "steps of at most 5 mm"),
        (_path_short, "end to end"),
        (_understated, "length is told"),
        (_bound_above, "below its bound"),
        (_radius_told, "smallest bend radius is told"),
        (_radius_asked, "has radius"),
        (_clearance_told, "clearance is told"),
        (_straight_short, "straight length"),
        (_bend_missing, "do not alternate"),
        (_wrong_angle, "angle does not lead"),
        (_hole_missed, "does not pass hole"),
    ],
)
def test_a_damaged_route_is_rejected(wall: Path, spoil: Any, words: str) -> None:
    result = copy.deepcopy(_result())
    spoil(result["hoses"][0])
    faults = check(result, wall)
    assert any(words in fault and fault.startswith("one") for fault in faults), faults


def test_a_radius_one_per_cent_too_small_is_rejected(wall: Path) -> None:
    result = _result()
    corners = [[0, -0.02, 0.2], [0.6, -0.02, 0.2], [0.6, -0.02, 0.9], [1, -0.02, 0.9]]
    result["hoses"][0] = _hose("one", corners, radius=0.99 * RADIUS)
    faults = check(result, wall)
    assert faults
    assert all("has radius 0.099" in fault for fault in faults)


def test_hoses_too_close_are_rejected(wall: Path) -> None:
    result = _result()
    _moved(result["hoses"][1], [0, 0.0001, 0])
    assert any("one" in fault and "two" in fault for fault in check(result, wall))


def test_a_hose_through_a_box_or_withdrawal_space_is_rejected(wall: Path) -> None:
    result = _result()
    pump = result["modules"][0]
    pump["corners"] = (np.array(pump["corners"]) + [0, 0.05, 0.004]).tolist()
    assert any("from pump" in fault for fault in check(result, wall))
    result = _result()
    room = (np.array(result["modules"][0]["corners"]) + [0, 0.1, 0.1]).tolist()
    result["modules"][0]["service"] = [{"kind": "withdrawal", "corners": room}]
    assert any("withdrawal space of pump" in fault for fault in check(result, wall))
    result["modules"][0]["service"][0]["kind"] = "access"
    assert check(result, wall) == []


def test_own_box_is_exempt_only_along_the_straight_end(wall: Path) -> None:
    result = _result()
    hose, pump = result["hoses"][1], result["modules"][0]
    pump["corners"] = [[x, y, z] for x in (-0.3, 0.0) for y in (-0.1, 0) for z in (0.1, 0.3)]
    assert any("two: " in fault and "from pump" in fault for fault in check(result, wall))
    result["hoses"] = [hose]
    hose["from"] = "pump.outlet"
    assert check(result, wall) == []
    pump["corners"] = (np.array(pump["corners"]) + [0.033, 0, 0]).tolist()
    assert any("from pump" in fault for fault in check(result, wall))


def test_a_declared_hole_is_exempt_on_its_axis_only(tmp_path: Path) -> None:
    """A wall with a square hole of 30 mm: 5 mm of clearance around a hose that needs 10 mm."""
    x, z = np.array([-1, -0.015, 0.015, 1]), np.array([-1, -0.015, 0.015, 1])
    points = np.array([[a, 0, b] for a in x for b in z])
    cells = [(i, j) for i in range(3) for j in range(3) if (i, j) != (1, 1)]
    faces = []
    for i, j in cells:
        a, b, c, d = 4 * i + j, 4 * (i + 1) + j, 4 * (i + 1) + j + 1, 4 * i + j + 1
        faces += [[a, b, c], [a, c, d]]
    path = tmp_path / "compartment.ply"
    trimesh.Trimesh(points, faces, process=False).export(path)
    hose = _hose("one", [[0.4, -0.5, 0], [0, -0.5, 0], [0, 0.4, 0]])
    hose["clearance"] = 0.01
    result = {"hoses": [hose], "modules": [], "allowances": {"hose_gap": 0.005}}
    assert any("from a triangle" in fault for fault in check(result, path))
    hole = {"centre": [0, 0, 0], "direction": [0, -1, 0], "diameter": 0.03, "name": "hole"}
    hose["holes"] = [hole]
    assert check(result, path) == []
    hole["centre"] = [0.0001, 0, 0]
    assert any("on its axis" in fault for fault in check(result, path))
    hole["centre"], hole["diameter"] = [0, 0, 0], 0.019
    assert any("from a triangle" in fault for fault in check(result, path))


def test_distances_in_known_cases() -> None:
    corners = np.array([[x, y, z] for x in (0, 2) for y in (0, 1) for z in (0, 1)], dtype=float)
    points = np.array([[3.0, 0.5, 0.5], [1.0, 0.5, 0.9], [3.0, 2.0, 2.0]])
    assert to_box(points, corners) == pytest.approx([1.0, -0.1, math.sqrt(3)])
    triangle = np.array([[[0, 0, 0], [3, 0, 0], [0, 3, 0]]], dtype=float)
    points = np.array([[0.5, 0.5, 0.25], [-0.3, 0, 0.4], [2, 2, 0], [9, 9, 9]])
    told = to_triangles(points, triangle, 1.0)
    assert told == pytest.approx([0.25, 0.5, math.sqrt(0.5), math.inf])
