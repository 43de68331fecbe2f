"""If nothing is free the run stops with one fault, which names the responsible declaration."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from fitcheck.errors import Fault, ScenarioError
from fitcheck.model.given.boat import Bearing, Board, Lid, Spot, Volume
from fitcheck.space import survey
from tests import specimens

Corner = tuple[float, float, float]
#: A body that contains the inside point, one outside all air, one that contains the whole room.
AROUND = ((-0.3, -0.3, 0.3), (0.3, 0.3, 0.9))
ASIDE = ((0.6, 0.4, 0.1), (0.8, 0.6, 0.3))
WHOLE = ((-2.0, -2.0, -1.0), (2.0, 2.0, 2.0))


def volume(name: str, corners: tuple[Corner, ...]) -> Volume:
    """A declared box."""
    return Volume(name=name, corners=corners, why="invented")


def lid(name: str, x: float) -> Lid:
    """A plane across the whole room."""
    return Lid(name=name, corners=((x, -1.0, -0.2), (x, 1.0, -0.2), (x, 1.0, 1.4), (x, -1.0, 1.4)))


def board(name: str, x: float, thickness: float) -> Board:
    """A board across part of the room, its thickness forward."""
    corners = ((x, -0.2, 0.4), (x, 0.2, 0.4), (x, 0.2, 0.8), (x, -0.2, 0.8))
    spots = tuple(Spot(frame="mesh", at=corner) for corner in corners)
    forward = Bearing(frame="boat", vector=(1.0, 0.0, 0.0))
    return Board(name=name, corners=spots, thickness=thickness, state="planned", grows=forward)


def fault_of(folder: Path, triangles: specimens.Triangles, **changes: Any) -> Fault:
    """The one fault a survey stops with."""
    path = specimens.write_ply(folder / "mesh.ply", triangles)
    boat = specimens.boat(path, **changes)
    with pytest.raises(ScenarioError) as raised:
        survey(specimens.scenario(boat, layout=specimens.layout(pitch=0.05)))
    (fault,) = raised.value.faults
    assert fault.file == "boat.toml"
    return fault


@pytest.mark.parametrize("origin", ["cad", "scan"])
@pytest.mark.parametrize(
    ("key", "named", "changes"),
    [
        (
            "boat.solids, item 2",
            "'engine'",
            {"solids": (volume("locker", ASIDE), volume("engine", AROUND))},
        ),
        ("boat.lids, item 2", "'after'", {"lids": (lid("fore", 0.9), lid("after", 0.0))}),
        ("boat.boards, item 1", "'shelf'", {"boards": (board("shelf", -0.05, 0.1),)}),
        (
            "boat.keep_outs, item 1",
            "'walkway'",
            {"keep_outs": (volume("walkway", WHOLE), volume("exhaust", ASIDE))},
        ),
        ("boat.crop", "400 mm outside", {"crop": ((0.4, -2.0, -1.0), (2.0, 2.0, 2.0))}),
        ("boat.solids", "together", {"solids": (volume("a", AROUND), volume("b", AROUND))}),
        ("boat.inside", "in a surface of the mesh", {"inside": (-1.0, 0.0, 0.6)}),
        (
            "boat.inside",
            "boat.solids, boat.lids together",
            {"solids": (volume("a", AROUND),), "lids": (lid("b", 0.0),)},
        ),
    ],
)
def test_the_responsible_declaration_is_named(
    key: str, named: str, changes: dict[str, Any], origin: str, tmp_path: Path
) -> None:
    seen = {"origin": origin, "viewpoints": specimens.viewpoints(6)}
    fault = fault_of(tmp_path, specimens.room(), **seen, **changes)
    assert (fault.key, named in fault.text) == (key, True)
    assert fault.remedy


def test_an_inside_point_in_a_scanned_body_is_named(tmp_path: Path) -> None:
    engine = specimens.room_with_box((-0.4, -0.4, 0.2), (0.4, 0.4, 1.0))
    eyes = tuple((-0.8, -0.5 + 0.2 * n, 0.6) for n in range(5))
    changes = {"origin": "scan", "viewpoints": eyes, "inside": (0.0, 0.0, 0.6)}
    fault = fault_of(tmp_path, engine, **changes)
    assert fault.key == "boat.inside"
    assert "while" in fault.text


def test_viewpoints_in_another_room_are_named(tmp_path: Path) -> None:
    """Each is in its own cupboard: no place is seen by two of them."""
    cupboards = [
        specimens.box((x, 0.5, 0.2), (x + 0.2, 0.7, 0.4), inward=True) for x in (-0.8, 0.0, 0.6)
    ]
    eyes = tuple((x + 0.1, 0.6, 0.3) for x in (-0.8, 0.0, 0.6))
    changes = {"origin": "scan", "viewpoints": eyes, "inside": (0.0, 0.0, 0.6)}
    fault = fault_of(tmp_path, specimens.join(specimens.room(), *cupboards), **changes)
    assert fault.key == "boat.viewpoints"


def test_the_fault_has_the_line_of_the_list_item(tmp_path: Path) -> None:
    lines = {"boat.solids": 3, "boat.solids, item 2": 9}
    scenario = specimens.scenario(specimens.boat("none.ply"), lines=lines)
    assert scenario.line("boat.solids, item 2") == 9
    assert scenario.line("boat.solids, item 1") == 3
    assert scenario.line("boat.inside") == 1
