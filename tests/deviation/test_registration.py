"""Alignment of meshes: exact where possible, within the stated uncertainty, and
refused by name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from fitcheck.deviation.registration import laid
from fitcheck.deviation.registration.faults import pair_faults
from fitcheck.deviation.registration.laid import Picks, Scale, register
from fitcheck.deviation.registration.pairs import align, least_squares, residuals
from fitcheck.deviation.registration.refine import Held, refine
from fitcheck.deviation.registration.surface import spread_places
from fitcheck.model.found.deviation import Registration, Similarity
from tests import specimens

Array = NDArray[np.float64]
Moved = Callable[[Array], Array]
FREE = Scale(declared=None, uncertainty=0.0, keep=False)
WORTH = 0.0113
CORNERS = np.array(
    [
        [-1, -0.75, 0],
        [1, -0.75, 0],
        [1, 0.75, 0],
        [-1, 0.75, 1.2],
        [1, 0.75, 1.2],
        [0.2, -0.3, 0.5],
    ]
)


@pytest.fixture(autouse=True, scope="module")
def _few_places() -> Iterator[None]:
    """Small rooms need few places."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(laid, "PLACES_HERE", 8000)
        patch.setattr(laid, "PLACES_THERE", 2000)
        yield


def moved_by(seed: int, scale: float = 1.02) -> tuple[Moved, Rotation]:
    """A function from the boat frame to the axes and unit of another mesh."""
    rng = np.random.default_rng(seed)
    turn, shift = Rotation.random(random_state=rng), rng.normal(size=3)
    return (
        lambda points: (
            turn.inv().apply((points - shift).reshape(-1, 3)).reshape(points.shape) / scale
        ),
        turn,
    )


def picks(there: Moved, *, seed: int = 0, error: float = 0.0, points: Array = CORNERS) -> Picks:
    """Pairs at the corners of the room with the engine, picked with an error."""
    rng = np.random.default_rng(seed)
    return Picks(
        names=tuple("abcdefgh"[: len(points)]),
        here=points + rng.normal(scale=error, size=points.shape) if error else points,
        there=there(points + rng.normal(scale=error, size=points.shape) if error else points),
        worth=WORTH,
        bent=0.0,
    )


def faults(found: Picks, declared: float | None = None) -> str:
    """The faults of pairs, in one text."""
    said = pair_faults(
        found.names, found.here, found.there, found.worth, declared, keep_scale=False
    )
    return "\n".join(text for text, _ in said)


def rules(found: Registration, severity: str = "fail") -> set[str]:
    """The rules of findings of one severity."""
    return {row.rule for row in found.findings if row.severity == severity}


def off_at(found: Similarity, there: Moved, points: Array) -> float:
    """Largest distance of some places from their true positions [m]."""
    return float(np.linalg.norm(found.carry(there(points)) - points, axis=1).max())


# --- pairs alone ------------------------------------------------------------------------------


def test_umeyamas_own_example() -> None:
    """The worked example of the paper: patterns in the plane, one mirrored (from memory)."""
    x = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 2.0]])
    y = np.array([[0.0, 0.0], [-1.0, 0.0], [0.0, 2.0]])
    scale, turn, shift = least_squares(y, x)
    assert turn == pytest.approx(np.array([[0.832, 0.555], [-0.555, 0.832]]), abs=5e-4)
    assert shift == pytest.approx(np.array([-0.800, 0.400]), abs=5e-4)
    assert scale == pytest.approx(0.721, abs=5e-4)


@given(st.integers(0, 10_000), st.floats(0.001, 1000.0), st.integers(4, 9))
def test_exact_pairs_recover_the_similarity(seed: int, scale: float, n: int) -> None:
    there, turn = moved_by(seed, scale)
    points = np.random.default_rng(seed + 1).normal(size=(n, 3))
    found = align(points, there(points))
    assert found.scale == pytest.approx(scale, rel=1e-9)
    assert np.array(found.turn) == pytest.approx(turn.as_matrix(), abs=1e-7)
    assert off_at(found, there, points) < 1e-9


@given(st.integers(0, 10_000))
def test_the_rotation_solves_the_orthogonal_procrustes_problem(seed: int) -> None:
    rng = np.random.default_rng(seed)
    here, there = rng.normal(size=(2, 6, 3))
    a, b = here - here.mean(axis=0), there - there.mean(axis=0)
    other, _ = Rotation.align_vectors(a, b)
    assert np.array(align(here, there).turn) == pytest.approx(other.as_matrix(), abs=1e-6)


@given(st.integers(0, 10_000))
def test_no_similarity_nearby_fits_the_pairs_better(seed: int) -> None:
    rng = np.random.default_rng(seed)
    here, there = rng.normal(size=(2, 6, 3))
    best = align(here, there)
    least = float((residuals(best, here, there) ** 2).sum())
    turn = Rotation.from_rotvec(rng.normal(scale=0.01, size=3)).as_matrix() @ np.array(best.turn)
    for scale in (0.99, 1.0, 1.01):
        other = Similarity(
            scale=best.scale * scale,
            turn=tuple(map(tuple, turn)),  # type: ignore[arg-type]
            shift=tuple(np.array(best.shift) + rng.normal(scale=0.01, size=3)),
        )
        assert float((residuals(other, here, there) ** 2).sum()) >= least - 1e-12


def test_good_pairs_are_not_refused() -> None:
    there, _ = moved_by(3)
    for seed in range(40):
        assert faults(picks(there, seed=seed, error=0.008)) == ""


def test_three_pairs_are_too_few() -> None:
    there, _ = moved_by(3)
    assert "4 or more" in faults(picks(there, points=CORNERS[:3]))


def test_collinear_pairs_are_refused() -> None:
    there, _ = moved_by(3)
    line = np.array([[x, 0.001 * x**2, 0.0] for x in (-1.0, 0.0, 0.5, 1.0)])
    said = faults(picks(there, points=line))
    assert "near one line, forward (1.00 0.00 0.00)" in said


def test_a_wrong_pair_is_named() -> None:
    there, _ = moved_by(3)
    found = picks(there, error=0.004)
    found.there[2] += 0.4
    assert faults(found).startswith("pair 'c' is ")


def test_swapped_pairs_are_named() -> None:
    there, _ = moved_by(3)
    found = picks(there)
    found.there[[1, 4]] = found.there[[4, 1]]
    assert "pairs 'b' and 'e'" in faults(found)
    assert "exchanged" in faults(found)


def test_a_mirror_image_is_detected() -> None:
    there, _ = moved_by(3)
    assert "mirror image" in faults(picks(lambda p: there(p * [1.0, -1.0, 1.0])))


def test_a_wrong_unit_is_detected() -> None:
    there, _ = moved_by(3, scale=0.0254)
    said = faults(picks(there), declared=0.001)
    assert "25.4 mm" in said
    assert "1 mm" in said
    assert faults(picks(there), declared=0.0255) == ""


def test_pairs_that_contradict_a_kept_scale_are_detected() -> None:
    there, _ = moved_by(3, scale=1.03)
    given = picks(there, error=0.002)
    worth = 0.004
    ((said, remedy),) = pair_faults(
        given.names, given.here, given.there, worth, 1.0, keep_scale=True
    )
    assert "3.0 % larger than its scale says" in said
    assert "without other.unit" in remedy
    assert not pair_faults(given.names, given.here, given.there, worth, 1.0, keep_scale=False)


# --- surfaces ---------------------------------------------------------------------------------


ROOM = specimens.finer(specimens.room_with_box(), 3)


@pytest.mark.parametrize("scale", [1.0, 1.02, 0.001])
def test_a_copy_is_aligned_exactly(scale: float) -> None:
    there, _ = moved_by(5, scale)
    found = register(ROOM, there(ROOM), picks(there, error=0.008), FREE)
    assert found.trusted
    assert found.similarity.scale == pytest.approx(scale, rel=2e-5)
    assert off_at(found.similarity, there, CORNERS) < 5e-5
    assert off_at(found.start, there, CORNERS) > 4e-3


def test_noise_is_within_the_stated_uncertainty() -> None:
    there, _ = moved_by(6)
    rng = np.random.default_rng(0)
    corner, back = np.unique(ROOM.reshape(-1, 3), axis=0, return_inverse=True)
    within = []
    for seed in range(4):
        rough = (corner + rng.normal(scale=0.005, size=corner.shape))[back.ravel()]
        other = there(rough.reshape(-1, 3, 3))
        found = register(ROOM, other, picks(there, seed=seed, error=0.008), FREE)
        assert found.trusted
        off = np.linalg.norm(found.similarity.carry(there(CORNERS)) - CORNERS, axis=1)
        within += list(off <= found.uncertainty(CORNERS))
        assert off.max() < 0.003
    assert np.mean(within) >= 0.9


def test_moved_parts_do_not_shift_the_alignment() -> None:
    """The engine shifted by 60 mm: the walls stay in place."""
    there, _ = moved_by(7)
    engine = specimens.box((0.26, -0.3, 0.0), (0.86, 0.3, 0.5))
    other = specimens.finer(specimens.join(specimens.room(), engine), 3)
    found = register(ROOM, there(other), picks(there, error=0.004), FREE)
    assert off_at(found.similarity, there, CORNERS) < 1e-3


def test_half_the_room_is_enough_to_align() -> None:
    there, _ = moved_by(8)
    half = ROOM[ROOM.mean(axis=1)[:, 0] > 0.0]
    points = np.array(
        [[1, -0.75, 0], [1, 0.75, 0], [1, 0.75, 1.2], [0.2, -0.3, 0.5], [0.2, 0.3, 0]]
    )
    found = register(ROOM, there(half), picks(there, error=0.004, points=points), FREE)
    assert found.trusted
    assert off_at(found.similarity, there, points) < 2e-4
    assert found.covered > 0.9 > 0.7 > found.covers


def open_tube() -> Array:
    """A cylinder along x without its ends."""
    whole = specimens.cylinder(inward=True)
    square = np.cross(whole[:, 1] - whole[:, 0], whole[:, 2] - whole[:, 0])
    return whole[np.abs(square[:, 0]) < 0.5 * np.linalg.norm(square, axis=1)]


def two_walls() -> Array:
    """Two walls that face one another across the boat."""
    room = specimens.finer(specimens.room(), 2)
    return room[np.abs(np.abs(room.mean(axis=1)[:, 1]) - 0.75) < 1e-9]


TUBE_POINTS = np.array([[-0.5, 0.3, 0.6], [0.5, 0, 0.9], [0.5, -0.3, 0.6], [0.1, 0, 0.3]])
WALL_POINTS = np.array([[-1, 0.75, 0], [1, 0.75, 1.2], [1, -0.75, 0], [-0.5, -0.75, 1.0]])


@pytest.mark.parametrize(
    ("mesh", "points", "free"),
    [
        (open_tube(), TUBE_POINTS, {"sliding along forward", "rotation about forward"}),
        (
            two_walls(),
            WALL_POINTS,
            {"sliding along forward", "sliding along up", "rotation about to port"},
        ),
    ],
    ids=["tube", "two walls"],
)
def test_free_motions_are_named_and_decided_by_the_pairs(
    mesh: Array, points: Array, free: set[str]
) -> None:
    there, _ = moved_by(9)
    given = picks(there, error=0.004, points=points)
    found = register(mesh, there(mesh), given, FREE)
    assert {motion.words.split(" (")[0] for motion in found.free} == free
    assert rules(found) == {"free-motion"}
    assert not found.trusted
    # Along the free direction the error is no larger than that of the picks.
    assert off_at(found.similarity, there, points) < 0.015


def test_a_closed_room_has_no_free_motion() -> None:
    there, _ = moved_by(9)
    assert register(ROOM, there(ROOM), picks(there), FREE).free == ()


def test_pairs_picked_in_the_wrong_orientation_are_refused() -> None:
    """Every pair at the opposite end of a room that is nearly symmetrical."""
    there, _ = moved_by(10)
    given = picks(lambda p: there(p * [-1.0, -1.0, 1.0]), points=CORNERS[:5])
    found = register(ROOM, there(ROOM), given, FREE)
    assert "way-round" in rules(found)
    assert "180° about the vertical axis" in " ".join(row.text for row in found.findings)


def test_a_symmetrical_room_is_only_doubted() -> None:
    there, _ = moved_by(10)
    room = specimens.finer(specimens.room(), 3)
    found = register(room, there(room), picks(there, points=CORNERS[:5]), FREE)
    assert found.trusted
    assert "way-round" in rules(found, "caution")


def test_another_compartment_is_refused() -> None:
    """Pairs that agree, and surfaces that are unrelated."""
    there, _ = moved_by(11)
    other = specimens.finer(specimens.sphere(0.35, (0.5, 0.0, 0.7), rings=12), 1)
    found = register(ROOM, there(other), picks(there), FREE)
    assert not found.trusted


def test_a_contradictory_scale_is_refused_whether_kept_or_solved() -> None:
    there, _ = moved_by(12, scale=1.02)
    declared = Scale(declared=1.0, uncertainty=0.001, keep=False)
    found = register(ROOM, there(ROOM), picks(there, error=0.002), declared)
    assert "scale-disagreement" in rules(found)
    kept = Scale(declared=1.0, uncertainty=0.001, keep=True)
    assert "scale-disagreement" in rules(register(ROOM, there(ROOM), picks(there), kept))


def test_a_kept_scale_is_unchanged() -> None:
    there, _ = moved_by(12, scale=0.001)
    kept = Scale(declared=0.001, uncertainty=0.002, keep=True)
    found = register(ROOM, there(ROOM), picks(there, error=0.004), kept)
    assert found.similarity.scale == 0.001
    assert found.trusted
    far = np.array([[3.0, 0.0, 0.6]])
    assert found.uncertainty(far)[0] > 2 * 0.002 * 2.5


def test_surfaces_alone_converge_from_nearby() -> None:
    there, _ = moved_by(13, scale=1.0)
    here, other = spread_places(ROOM, 6000), spread_places(there(ROOM), 1500, seed=1)
    start = align(CORNERS + [[0.01, -0.01, 0.005]], there(CORNERS))
    held: Held | None = None
    found = refine(here, other, start, held, keep_scale=False, widest=0.06)
    assert found.settled
    assert off_at(found.similarity, there, CORNERS) < 5e-5
