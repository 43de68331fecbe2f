"""Box overlap, distance and face gaps: known answers, another library as oracle, invariants."""

from __future__ import annotations

import math

import fcl
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.geometry.box import (
    FACES,
    Box,
    as_axes,
    as_point,
    drawn_in,
    grown,
    opposite,
    outward,
    placed_box,
    rotation,
    surface,
)
from fitcheck.geometry.boxgap import boxes_gap, gap_to_triangles
from fitcheck.geometry.distance import TriangleIndex, index_triangles
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.overlap import (
    BIN,
    ONE_BIN,
    TOUCH,
    boxes_depth,
    boxes_hit_boxes,
    boxes_hit_cells,
    boxes_hit_triangles,
    cells_in_box,
    triangles_near,
)
from fitcheck.geometry.prism import (
    covered,
    pieces_inside,
    prism_cells_gap,
    prism_edge_gap,
    prism_gap,
)
from tests.specimens import bulkhead, finer, moved, room, sheet, sphere, upright_box

# The room spans x -1..1, y -0.75..0.75, z 0..1.2.
IN_ROOM = upright_box((-0.5, -0.45, 0.5), (-0.1, 0.05, 0.9))
#: Room's walls minus the box's sides, by hand.
IN_ROOM_GAPS = {"front": 1.1, "back": 0.5, "left": 0.7, "right": 0.3, "top": 0.3, "base": 0.5}


def box_hits_triangles(index: TriangleIndex, box: Box) -> bool:
    return bool(boxes_hit_triangles(index, box, np.array([box.centre]))[0])


def boxes_overlap(a: Box, b: Box) -> bool:
    return boxes_depth(a, b) > TOUCH


def random_box(rng: np.random.Generator, spread: float = 1.0) -> tuple[np.ndarray, Box]:
    size = rng.uniform(0.03, 0.4, 3)
    at = as_point(rng.uniform(-spread, spread, 3))
    return size, placed_box(as_point(size), at, as_point(rng.uniform(-math.pi, math.pi, 3)))


def fcl_box(size: np.ndarray, box: Box) -> fcl.CollisionObject:
    return fcl.CollisionObject(
        fcl.Box(*size), fcl.Transform(np.array(box.axes).T, np.array(box.centre))
    )


def fcl_mesh(triangles: np.ndarray) -> fcl.CollisionObject:
    model = fcl.BVHModel()
    model.beginModel(3 * len(triangles), len(triangles))
    model.addSubModel(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3))
    model.endModel()
    return fcl.CollisionObject(model, fcl.Transform())


# --- known answers ----------------------------------------------------------------------------


@pytest.mark.parametrize("times", [0, 2])
@pytest.mark.parametrize("face", sorted(FACES))
def test_face_gaps_in_a_room(face: str, times: int) -> None:
    index = index_triangles(finer(room(), times), BIN)
    gap, place, _ = prism_gap(index, IN_ROOM, face, 5.0)
    assert gap == pytest.approx(IN_ROOM_GAPS[face], abs=1e-9)
    axis, sign = FACES[face]
    wall = (1.0, -1.0, 0.75, -0.75, 1.2, 0.0)[2 * axis + (sign < 0)]
    assert place[axis] == pytest.approx(wall, abs=1e-9)


def test_smallest_gap_in_a_room_is_the_smallest_face_gap() -> None:
    gap, _ = gap_to_triangles(index_triangles(room(), BIN), IN_ROOM)
    assert gap == pytest.approx(0.3, abs=1e-12)


def test_nothing_in_front_of_a_face_gives_no_gap() -> None:
    index = index_triangles(sheet(1.0, (-1.0, -1.0), (1.0, 1.0)), BIN)
    assert prism_gap(index, upright_box((0, 0, 0), (0.1, 0.1, 0.1)), "back", 9.0)[0] == math.inf
    none = index_triangles(np.zeros((0, 3, 3)), BIN)
    assert gap_to_triangles(none, IN_ROOM) == (math.inf, None)
    assert not box_hits_triangles(none, IN_ROOM)


def test_penetration_depth_in_known_cases() -> None:
    """A box 50 mm into the forward wall and 2 mm into the sole: each face has its own depth."""
    box = upright_box((0.75, -0.2, -0.002), (1.05, 0.2, 0.3))
    depth, axis, points = pieces_inside(index_triangles(finer(room(), 3), BIN), box)
    forward = axis == 0
    assert depth[forward, 0].max() == pytest.approx(0.05, abs=2e-9)
    assert depth[axis == 2, 5].max() == pytest.approx(0.002, abs=2e-9)
    assert points[forward, 0][:, 0] == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize(
    ("shift", "hits"), [(-1e-6, True), (0.0, False), (5e-10, False), (1e-6, False)]
)
def test_touching_does_not_count_as_overlap(shift: float, hits: bool) -> None:
    """A box on the sole, its front against the wall."""
    box = upright_box((0.7, -0.2, shift), (1.0, 0.2, 0.3 + shift))
    assert box_hits_triangles(index_triangles(room(), BIN), box) is hits
    under = upright_box((0.0, -0.5, -0.4), (1.0, 0.5, 0.0))
    assert boxes_overlap(box, under) is hits


def test_a_wall_beside_the_prism_is_not_in_front_of_it() -> None:
    """A box flush with the sole and the port wall faces forward past both."""
    box = upright_box((-0.5, 0.55, 0.0), (-0.2, 0.75, 0.2))
    assert prism_gap(index_triangles(room(), BIN), box, "front", 5.0)[0] == pytest.approx(1.2)


def test_gap_through_a_hole() -> None:
    """In front of a face smaller than the hole is the far wall; in front of a larger one, the
    sheet.
    """
    index = index_triangles(np.concatenate([room(), bulkhead()]), BIN)
    small = upright_box((-0.5, -0.06, 0.54), (-0.3, 0.06, 0.66))
    large = upright_box((-0.5, -0.11, 0.54), (-0.3, 0.11, 0.66))
    assert prism_gap(index, small, "front", 5.0)[0] == pytest.approx(1.3, abs=1e-9)
    assert prism_gap(index, large, "front", 5.0)[0] == pytest.approx(0.3, abs=1e-9)


def test_gap_to_a_ball_lies_on_the_line_of_centres() -> None:
    """Ball of radius 0.2 whose centre is 0.5 off a corner along (1, 1, 1): 0.3 to its facets."""
    corner = np.array([0.1, 0.1, 0.1])
    centre = as_point(corner + 0.5 / math.sqrt(3.0))
    index = index_triangles(sphere(0.2, centre, rings=64), BIN)
    gap, _ = gap_to_triangles(index, upright_box((-0.1, -0.1, -0.1), (0.1, 0.1, 0.1)))
    assert 0.3 <= gap <= 0.3 + 0.2 * (1 - math.cos(math.pi / 64))


@pytest.mark.parametrize(
    ("shift", "gap"),
    [
        ((0.5, 0.0, 0.0), 0.3),
        ((0.5, 0.6, 0.0), 0.5),
        ((0.4, 0.4, 0.3), math.sqrt(0.2**2 + 0.2**2 + 0.1**2)),
        ((0.2, 0.0, 0.0), 0.0),
        ((0.15, 0.05, 0.0), -0.05),
    ],
)
def test_box_distances_in_known_cases(shift: tuple[float, float, float], gap: float) -> None:
    half = 0.1
    a = upright_box((-half,) * 3, (half,) * 3)
    b = Box(centre=shift, half=(half,) * 3, axes=a.axes)
    assert boxes_gap(a, b)[0] == pytest.approx(gap, abs=1e-12)
    assert boxes_gap(b, a)[0] == pytest.approx(gap, abs=1e-12)


def test_rotated_box_distances_in_known_cases() -> None:
    """A cube on edge points its edge at the other: 0.5 - 0.1 - 0.1 sqrt 2."""
    a = upright_box((-0.1,) * 3, (0.1,) * 3)
    turned = as_axes(rotation((0.0, 0.0, math.pi / 4)).T)
    b = Box(centre=(0.5, 0.0, 0.0), half=(0.1,) * 3, axes=turned)
    assert boxes_gap(a, b)[0] == pytest.approx(0.4 - 0.1 * math.sqrt(2.0), abs=1e-12)


def test_covered_share() -> None:
    """Half of a face has a sheet 5 mm in front of it, the other half nothing."""
    box = upright_box((0.0, -0.1, 0.0), (0.2, 0.1, 0.2))
    index = index_triangles(sheet(0.205, (-0.5, -0.5), (0.0, 0.5)), BIN)
    assert covered(index, box, "front", 0.0, 0.01) == pytest.approx(0.5, abs=1e-6)
    assert covered(index, box, "front", 0.0, 0.004) == 0.0
    assert covered(index, box, "back", 0.0, 0.01) == 0.0


def test_cells_counted_by_eye() -> None:
    grid = Grid(origin=(0.0, 0.0, 0.0), pitch=0.1, shape=(10, 10, 10))
    label = np.zeros(grid.shape, dtype=np.uint8)
    label[5:, :, :] = 2
    on_the_lattice = upright_box((0.3, 0.2, 0.2), (0.6, 0.4, 0.4))
    assert len(cells_in_box(label, grid, on_the_lattice, 2)) == 4
    assert len(cells_in_box(label, grid, on_the_lattice, 0)) == 8
    clear = upright_box((0.1, 0.2, 0.2), (0.2, 0.4, 0.4))
    assert prism_cells_gap(label == 2, grid, clear, "front", 2.0)[0] == pytest.approx(0.3)
    assert prism_cells_gap(label == 2, grid, clear, "back", 2.0)[0] == math.inf
    moves = np.array([clear.centre, on_the_lattice.centre])
    assert boxes_hit_cells(label == 2, grid, clear, moves).tolist() == [False, False]
    assert boxes_hit_cells(label == 2, grid, on_the_lattice, moves).tolist() == [False, True]


def test_edge_of_the_grid() -> None:
    low, high = np.zeros(3), np.ones(3)
    box = upright_box((0.2, 0.3, 0.4), (0.5, 0.6, 0.7))
    gaps = {face: prism_edge_gap(low, high, box, face)[0] for face in FACES}
    assert gaps == pytest.approx(
        {"front": 0.5, "back": 0.2, "left": 0.4, "right": 0.3, "top": 0.3, "base": 0.4}
    )


def test_box_surface_is_closed_and_faces_outward() -> None:
    _, box = random_box(np.random.default_rng(5))
    triangles = surface(box)
    volume = np.einsum("ni,ni->", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2])) / 6
    assert volume == pytest.approx(8 * np.prod(box.half))
    for face in FACES:
        block = grown(box, face, 0.2)
        away = np.array(block.centre) - box.centre
        assert away @ outward(box, face) == pytest.approx(
            0.1 + box.half[FACES[face][0]], abs=1e-12
        )
        assert opposite(opposite(face)) == face
        back = drawn_in(grown(box, face, 0.2), {face: 0.2 - 1e-3})
        assert boxes_gap(back, box)[0] == pytest.approx(0.0, abs=1e-9)


# --- another library as oracle ----------------------------------------------------------------


def test_overlap_agrees_with_fcl_on_2000_poses() -> None:
    rng = np.random.default_rng(1)
    pieces = rng.uniform(-1, 1, (1500, 1, 3)) + rng.normal(0, 0.05, (1500, 3, 3))
    index, mesh = index_triangles(pieces, BIN), fcl_mesh(pieces)
    hits = 0
    for _ in range(2000):
        size, box = random_box(rng)
        theirs = fcl.collide(mesh, fcl_box(size, box)) > 0
        assert box_hits_triangles(index, box) is theirs
        hits += theirs
    assert 400 < hits < 1900


def test_distance_agrees_with_fcl() -> None:
    rng = np.random.default_rng(2)
    pieces = rng.uniform(-1, 1, (80, 1, 3)) + rng.normal(0, 0.1, (80, 3, 3))
    index, mesh = index_triangles(pieces, BIN), fcl_mesh(pieces)
    apart = 0
    for _ in range(400):
        size, box = random_box(rng)
        gap, place = gap_to_triangles(index, box)
        if box_hits_triangles(index, box):
            assert gap == 0.0
            continue
        apart += 1
        assert gap == pytest.approx(fcl.distance(mesh, fcl_box(size, box)), abs=1e-8)
        assert box.distance(np.array(place)) == pytest.approx(gap, abs=1e-9)
    assert apart > 100


def test_boxes_agree_with_fcl_on_2000_pairs() -> None:
    rng = np.random.default_rng(3)
    apart = 0
    for _ in range(2000):
        (size_a, a), (size_b, b) = random_box(rng, 0.3), random_box(rng, 0.3)
        theirs = fcl_box(size_a, a), fcl_box(size_b, b)
        gap, place = boxes_gap(a, b)
        assert boxes_overlap(a, b) is (fcl.collide(*theirs) > 0)
        assert (gap < 0.0) is boxes_overlap(a, b)
        if gap < 0.0:
            continue
        apart += 1
        # As meshes: the solver for two box shapes stops up to 0.1 mm above the distance.
        exact = fcl.distance(fcl_mesh(surface(a)), fcl_mesh(surface(b)))
        assert gap == pytest.approx(exact, abs=1e-9)
        assert b.distance(np.array(place)) == pytest.approx(0.0, abs=1e-9)
        assert a.distance(np.array(place)) == pytest.approx(gap, abs=1e-9)
    assert apart > 300


def test_batch_results_equal_single_results() -> None:
    rng = np.random.default_rng(4)
    index = index_triangles(finer(room(), 2), BIN)
    grid = Grid(origin=(-1.1, -0.9, -0.1), pitch=0.05, shape=(44, 36, 28))
    mask = rng.random(grid.shape) < 0.01
    _, box = random_box(rng)
    _, other = random_box(rng, 0.2)
    centres = rng.uniform(-1, 1, (300, 3))
    singles = [Box(centre=as_point(c), half=box.half, axes=box.axes) for c in centres]
    many = boxes_hit_triangles(index, box, centres)
    assert many.tolist() == [box_hits_triangles(index, one) for one in singles]
    many = boxes_hit_boxes(box, centres, (other,))
    assert many.tolist() == [boxes_overlap(one, other) for one in singles]
    many = boxes_hit_cells(mask, grid, box, centres)
    assert many.tolist() == [len(cells_in_box(mask, grid, one)) > 0 for one in singles]


# --- invariants -------------------------------------------------------------------------------

angles = st.tuples(*[st.floats(-3.1, 3.1)] * 3)
shifts = st.tuples(*[st.floats(-2.0, 2.0)] * 3)
sizes = st.tuples(*[st.floats(0.05, 0.6)] * 3)


def moved_box(box: Box, turn: np.ndarray, shift: tuple[float, float, float]) -> Box:
    return Box(
        centre=as_point(turn @ np.array(box.centre) + shift),
        half=box.half,
        axes=as_axes(np.array(box.axes) @ turn.T),
    )


@settings(max_examples=60, deadline=None)
@given(angles, shifts, sizes, st.tuples(*[st.floats(-0.4, 0.4)] * 3), angles)
def test_rigid_motion_changes_nothing(roll, shift, size, at, rotate) -> None:
    turn = rotation(roll)
    triangles = finer(np.concatenate([room(), sphere(0.1, (0.5, 0.2, 0.5), rings=6)]))
    here, there = (
        index_triangles(triangles, BIN),
        index_triangles(moved(triangles, turn, shift), BIN),
    )
    box = placed_box(size, (at[0], at[1], at[2] + 0.5), rotate)
    after = moved_box(box, turn, shift)
    gap = gap_to_triangles(here, box)[0]
    assert gap_to_triangles(there, after)[0] == pytest.approx(gap, abs=1e-8)
    if gap > 1e-8 or box_hits_triangles(here, drawn_in(box, dict.fromkeys(FACES, 1e-6))):
        assert box_hits_triangles(here, box) is box_hits_triangles(there, after)
    for face in FACES:
        before = prism_gap(here, box, face, 9.0)[0]
        assert gap <= before + 1e-8
        # A corner that grazes the prism's side may be in or out by rounding.
        slim = drawn_in(box, dict.fromkeys(FACES, 1e-6))
        fat = drawn_in(box, dict.fromkeys(FACES, -1e-6))
        least = prism_gap(there, moved_box(fat, turn, shift), face, 9.0)[0]
        most = prism_gap(there, moved_box(slim, turn, shift), face, 9.0)[0]
        assert least - 2e-6 <= before <= most + 2e-6 or most == math.inf


@settings(max_examples=60, deadline=None)
@given(sizes, angles, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_moving_away_never_reduces_the_gap(size, rotate, near, farther) -> None:
    wall = index_triangles(sheet(0.0, (-3.0, -3.0), (3.0, 3.0)), BIN)
    first = placed_box(size, (-0.8 - near, 0.0, 0.0), rotate)
    second = placed_box(size, (-0.8 - near - farther, 0.0, 0.0), rotate)
    gaps = [gap_to_triangles(wall, box)[0] for box in (first, second)]
    assert gaps[1] == pytest.approx(gaps[0] + farther, abs=1e-9) or gaps[0] == 0.0


@settings(max_examples=60, deadline=None)
@given(sizes, sizes, angles, angles, shifts)
def test_boxes_gap_is_symmetric_and_depth_separates_them(size_a, size_b, one, two, shift) -> None:
    a, b = placed_box(size_a, (0.0, 0.0, 0.0), one), placed_box(size_b, shift, two)
    assert boxes_gap(a, b)[0] == pytest.approx(boxes_gap(b, a)[0], abs=1e-9)
    assert boxes_depth(a, b) == pytest.approx(boxes_depth(b, a), abs=1e-9) or (
        max(boxes_depth(a, b), boxes_depth(b, a)) <= 0.0
    )


def test_the_bins_return_every_triangle_once() -> None:
    triangles = finer(room(), 2)
    for width in (0.03, 0.3, ONE_BIN):
        index = index_triangles(triangles, width)
        near = triangles_near(index, np.array([-9.0] * 3), np.array([9.0] * 3))
        assert near.tolist() == list(range(len(triangles)))
        assert len(triangles_near(index, np.array([8.0] * 3), np.array([9.0] * 3))) == 0 or (
            width == ONE_BIN
        )
