"""Lines of sight through bodies that were never in view do not confirm that they are air."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from fitcheck.geometry.grid import Grid
from fitcheck.space.cells.agreement import agreed
from fitcheck.space.cells.looks import look_around
from fitcheck.space.cells.sight import Scene, build_scene, seen_by
from tests import specimens

GRID = Grid(origin=(-1.3, -1.0, -0.3), pitch=0.05, shape=(88, 40, 36))
#: Six viewpoints in the near room, low enough that the wall hides the floor of the far one.
NEAR = tuple((x, y, 0.5) for x in (-0.5, 0.3) for y in (-0.5, 0.0, 0.5))
#: Four in the far room, which look down on its floor.
FAR = ((1.6, 0.5, 0.8), (2.2, 0.5, 0.8), (1.6, 0.4, 0.7), (2.2, 0.4, 0.7))


def two_rooms() -> specimens.Triangles:
    """A room and, over a wall 0.9 m high, another whose top, end and port side are not scanned."""
    hull = specimens.box((-1.0, -0.75, 0.0), (2.8, 0.75, 1.2), inward=True)
    wall = specimens.box((1.0, -0.75, 0.0), (1.1, 0.75, 0.9))
    whole = specimens.finer(specimens.join(hull, wall), 5)
    x, y, z = whole.mean(axis=1).T
    lost = (z > 1.2 - 1e-9) | (y > 0.75 - 1e-9) | (x > 2.8 - 1e-9)
    return whole[~(lost & (x > 1.1))]


def scene_of(triangles: specimens.Triangles) -> Scene:
    nothing = np.zeros(GRID.shape, dtype=np.bool_)
    return build_scene(GRID, triangles, nothing, nothing)


def cells(scene: Scene, low: specimens.Corner, high: specimens.Corner) -> NDArray[np.int64]:
    """Cells without a surface whose centre lies between two corners."""
    every = np.argwhere(scene.sight > 0)
    centre = GRID.centre(every)
    return every[((centre > np.array(low)) & (centre < np.array(high))).all(axis=1)]


def borne_out(scene: Scene, asked: NDArray[np.int64], eyes: tuple[specimens.Corner, ...]) -> float:
    """Share of the given cells that are agreed on, together with the air of the near room."""
    usual = cells(scene, (-0.9, -0.7, 0.1), (0.9, 0.7, 1.1))
    good = np.concatenate([usual, asked])
    return float(confirmed(scene, good, np.array(eyes))[len(usual) :].mean())


def confirmed(
    scene: Scene, good: NDArray[np.int64], eyes: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Which cells the lines around them confirm, seen from the eyes or not."""
    seen = seen_by(scene, good, eyes, 1.0, 2)
    return agreed(GRID, good, seen, look_around(scene, 1.0), eyes=len(eyes))


def test_fewer_viewpoints_require_more_fronts(monkeypatch: pytest.MonkeyPatch) -> None:
    # From the floor of the far room little more than half of all directions end on something, as
    # from inside a machine that was never in view.
    scene = scene_of(two_rooms())
    asked = cells(scene, (2.0, 0.0, 0.2), (2.3, 0.2, 0.4))
    assert borne_out(scene, asked, NEAR + FAR) == 1.0
    assert borne_out(scene, asked, NEAR + FAR[:2]) == 0.0
    monkeypatch.setattr("fitcheck.space.cells.agreement.MANY", 1)
    assert borne_out(scene, asked, NEAR + FAR[:2]) == 1.0


def test_the_inside_of_a_body_scanned_on_top_is_not_free(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # A box 0.4 m wide and 0.5 m high, with only one of its six faces scanned.
    hull = specimens.finer(specimens.box((-1.0, -0.75, 0.0), (1.0, 0.75, 1.2), inward=True), 5)
    body = specimens.finer(specimens.box((-0.2, -0.2, 0.0), (0.2, 0.2, 0.5)), 4)
    scene = scene_of(specimens.join(hull, body[body.mean(axis=1)[:, 2] > 0.5 - 1e-9]))
    asked = cells(scene, (-0.1, -0.1, 0.26), (0.1, 0.1, 0.34))
    eyes = np.array([(x, y, 0.3) for x in (-0.7, 0.7) for y in (-0.5, 0.0, 0.5)])
    air = cells(scene, (0.45, -0.6, 0.1), (0.9, 0.6, 1.1))
    good = np.concatenate([air, asked])
    told = confirmed(scene, good, eyes)
    assert told[: len(air)].all()
    assert not told[len(air) :].any()
    monkeypatch.setattr("fitcheck.space.cells.looks.CLOSE", 0.0)
    assert confirmed(scene, good, eyes).all()
