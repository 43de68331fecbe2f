"""The raster: never a cell too few, never a distant one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from scipy import ndimage

from fitcheck.geometry.box import rotation
from fitcheck.geometry.distance import distances, index_triangles
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells, touched_pairs
from tests import specimens

PITCH = 0.02
GRID = Grid(origin=(-1.06, -0.81, -0.06), pitch=PITCH, shape=(106, 81, 66))
SHAPES = {
    "room": specimens.room(),
    "l_room": specimens.l_room(),
    "wedge": specimens.wedge(),
    "bulkhead": specimens.bulkhead(x=0.003),
    "sphere": specimens.sphere(),
    "cylinder": specimens.cylinder(),
}


def true_distance(triangles: specimens.Triangles, grid: Grid) -> specimens.Triangles:
    centres = grid.centre(np.stack(np.indices(grid.shape), axis=-1)).reshape(-1, 3)
    index = index_triangles(triangles, 0.06)
    return distances(centres, index, 0.1).reshape(grid.shape)


@pytest.mark.parametrize("name", SHAPES)
def test_cells_within_half_a_pitch_are_marked_and_distant_ones_are_not(name: str) -> None:
    marked = touched_cells(SHAPES[name], GRID)
    distance = true_distance(SHAPES[name], GRID)
    assert marked[distance < PITCH / 2].all()
    assert distance[marked].max() <= 0.867 * PITCH


@settings(max_examples=25, deadline=None)
@given(
    triangle=arrays.arrays(np.float64, (1, 3, 3), elements=st.floats(-0.375, 0.375, width=32)),
)
def test_any_triangle(triangle: specimens.Triangles) -> None:
    grid = Grid(origin=(-0.4, -0.4, -0.4), pitch=PITCH, shape=(40, 40, 40))
    spans = np.cross(triangle[0, 1] - triangle[0, 0], triangle[0, 2] - triangle[0, 0])
    if np.linalg.norm(spans) < 1e-6:
        return
    marked = touched_cells(triangle, grid)
    distance = true_distance(triangle, grid)
    assert marked[distance < PITCH / 2 * (1 - 1e-9)].all()
    assert distance[marked].max() <= 0.867 * PITCH


def fill_escapes(marked: np.ndarray) -> bool:
    """Whether a fill from the middle of the grid reaches its corner."""
    names, _ = ndimage.label(~marked)
    return bool(names[tuple(size // 2 for size in marked.shape)] == names[0, 0, 0])


@pytest.mark.parametrize("pitch", [0.05, 0.02, 0.01])
def test_walls_on_lattice_planes_do_not_leak(pitch: float) -> None:
    # Every wall of the box is on a plane between two layers of cells.
    count = tuple(round(size / pitch) + 6 for size in (2.0, 1.0, 1.0))
    grid = Grid(origin=(-3 * pitch, -3 * pitch, -3 * pitch), pitch=pitch, shape=count)
    marked = touched_cells(specimens.box((0.0, 0.0, 0.0), (2.0, 1.0, 1.0)), grid)
    assert not fill_escapes(marked)
    if pitch == 0.02:
        assert marked.sum() == 102 * 52 * 52 - 98 * 48 * 48


@pytest.mark.parametrize("turn", [(0.3, 0.2, 0.1), (0.0, 0.0, np.pi / 4), (0.0, 0.7, 0.0)])
def test_rotated_walls_do_not_leak(turn: tuple[float, float, float]) -> None:
    shape = specimens.moved(specimens.box((-0.4,) * 3, (0.4,) * 3), rotation(turn), (0, 0, 0))
    grid = Grid(origin=(-0.8, -0.8, -0.8), pitch=0.02, shape=(80, 80, 80))
    assert not fill_escapes(touched_cells(shape, grid))


@pytest.mark.parametrize(("diameter", "open_"), [(0.10, True), (0.0, False)])
def test_a_fill_passes_through_a_hole(diameter: float, open_: bool) -> None:
    wall = specimens.bulkhead(centre=(0.0, 0.6), diameter=max(diameter, 1e-6))
    marked = touched_cells(specimens.join(specimens.room(), wall), GRID)
    names, _ = ndimage.label(~marked)
    fore, aft = GRID.index(np.array([[0.5, 0.0, 0.6], [-0.5, 0.0, 0.6]]))
    assert (names[tuple(fore)] == names[tuple(aft)]) is np.bool_(open_)


def test_pairs_name_the_same_cells() -> None:
    shape = specimens.room_with_box()
    cells, faces = touched_pairs(shape, GRID)
    mask = np.zeros(GRID.cells, dtype=bool)
    mask[cells] = True
    assert (mask.reshape(GRID.shape) == touched_cells(shape, GRID)).all()
    alone = touched_cells(shape[5:6], GRID).ravel()
    assert set(cells[faces == 5]) == set(np.flatnonzero(alone))


def test_triangles_outside_the_grid_are_ignored() -> None:
    far = specimens.room() + np.array([1e9, 0.0, 0.0])
    assert touched_cells(far, GRID).sum() == 0
    through = np.array([[[-1e6, 0.0, 0.6], [1e6, 0.0, 0.6], [0.0, 1e-4, 0.6]]])
    assert touched_cells(through, GRID).any()
