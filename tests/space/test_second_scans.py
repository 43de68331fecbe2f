"""The second simulator of scans: its truth is exact, its errors are the ones it names."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from fitcheck.model.found.space import UNSEEN, Space
from tests import specimens
from tests.scans.account import SKIN, account
from tests.scans.boxes import ASKED, SPARE, KnownBox, boxes_line, known_boxes
from tests.scans.second import FAMILIES, Scan, held_out_seeds, make_scan, tuning_seed
from tests.scans.second.families import Bay, draw_bay
from tests.scans.second.level import LEVELS, LIGHT, check_seed
from tests.scans.second.phone import HALF, Pose, Sheen, drifted, measure, pixel_ways, take
from tests.scans.second.scan import Truth
from tests.scans.second.solids import block, prism, tube, volume, walled
from tests.scans.second.world import world

#: A room 2 m long, 0.9 m wide and 1.2 m high about its middle, and a box in it.
ROOM = ((-1.0, -0.45, -0.6), (1.0, 0.45, 0.6))
BOX = ((0.3, -0.5, -0.7), (0.7, -0.1, -0.2))
#: The phone in the middle of the room, looking forward.
FORWARD = Pose(np.zeros(3), np.array([[0.0, -1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]))
#: Nothing goes wrong but what a test turns on.
CLEAN = replace(LIGHT, base=0.0, far=0.0, ripple=0.0, mixed=0.0, grazing=1e-9, dark=0.0)


@pytest.fixture(scope="module")
def berth() -> Scan:
    return make_scan("under berth", tuning_seed(1), "harsh")


def _room(*bodies: object) -> Bay:
    bay = draw_bay("l shape", tuning_seed(0))
    return replace(bay, world=world(block("room", *ROOM), bodies))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def plain(berth: Scan) -> tuple[Scan, Space]:
    """The plain room under a thin deck with a box on its sole, walked through without errors."""
    (x0, y0, _), (x1, y1, z1) = low, high = specimens.LOW, specimens.HIGH
    body = ((0.2, -0.3, 0.0), (0.8, 0.3, 0.5))
    thin = 1e-4
    hatch = [(-0.5, 0.5), (-0.5, 0.5)]
    deck = walled("deck", 2, (z1, z1 + thin), hatch, [(x0 - 0.1, x1 + 0.1), (y0 - 0.1, y1 + 0.1)])
    corners = [(x, y, z1 + thin) for x, y in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))]
    bay = replace(
        berth.truth.bay,
        world=world(
            block("room", low, (x1, y1, z1 + 1.0)),
            [block("box", (0.2, -0.3, -0.1), body[1]), *deck],
        ),
        opening=np.array(corners),
        inner=z1,
        outer=z1 + thin,
        low=np.array(low),
        high=np.array(high),
    )
    images, _ = take(bay, CLEAN, np.random.default_rng(0))
    space = specimens.hand_made_space([body], pitch=0.04)
    ways = {"turn": np.eye(3), "shift": np.zeros(3), "scale": 1.0}
    return replace(berth, truth=Truth(bay), images=images, **ways), space


def _no_sheen(bodies: int) -> Sheen:
    return Sheen(lost=np.zeros(bodies + 1), centre=np.zeros((0, 3)), radius=np.zeros(0))


def test_the_truth_of_a_box_is_the_one_of_formulas() -> None:
    low, high = np.array(ROOM)
    place = world(block("room", *ROOM), [block("box", *BOX)])
    points = np.random.default_rng(0).uniform(1.3 * low, 1.3 * high, (4000, 3))
    within = ((points > low) & (points < high)).all(axis=1)
    boxed = ((points > BOX[0]) & (points < BOX[1])).all(axis=1)
    assert np.array_equal(place.air(points), within & ~boxed)
    air = points[within & ~boxed]
    walls = np.minimum(air - low, high - air).min(axis=1)
    body = np.linalg.norm(np.maximum(0.0, np.maximum(BOX[0] - air, air - BOX[1])), axis=1)
    told = place.distance(air)
    assert (told >= np.minimum(walls, body) - 1e-9).all()
    assert (told <= np.minimum(walls, body) + 0.010).all()
    ways = np.random.default_rng(1).normal(0.0, 1.0, (2000, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    reach, met = place.trace(np.zeros(3), ways)
    wall = np.where(ways > 0.0, high / ways, low / ways).min(axis=1)
    ends = np.sort(np.stack([np.array(BOX[0]) / ways, np.array(BOX[1]) / ways]), axis=0)
    enter, leave = ends[0].max(axis=1), ends[1].min(axis=1)
    hit = (enter < np.minimum(leave, wall)) & (enter > 0.0)
    assert reach == pytest.approx(np.where(hit, enter, wall))
    assert np.array_equal(place.owner[met] == 0, hit)


def test_volumes_of_bodies() -> None:
    outline = [(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]
    assert volume(prism("l", outline, 1, 0.0, 0.5).triangles) == pytest.approx(1.5)
    round_ = tube("pipe", [(0, 0, 0), (1, 0, 0), (1, 2, 0)], 0.1, 64)
    assert volume(round_.triangles) == pytest.approx(3.0 * np.pi * 0.01, rel=0.01)


@pytest.mark.parametrize("family", FAMILIES)
def test_rays_and_inside_tell_the_same(family: str) -> None:
    bay = draw_bay(family, tuning_seed(5))
    rng = np.random.default_rng(5)
    ways = rng.normal(0.0, 1.0, (3000, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    reach, _ = bay.world.trace(np.array(bay.inside), ways)
    assert (reach > 0.05).all()
    assert np.isfinite(reach).all()
    share = rng.uniform(0.0, 1.0, (3000, 1))
    assert bay.world.air(bay.inside + share * (reach[:, None] - 1e-6) * ways).all()
    assert not bay.world.air(bay.inside + (reach[:, None] + 1e-6) * ways).any()
    assert all(volume(body.triangles) > 0.0 for body in (bay.world.cavity, *bay.world.bodies))


def test_noise_is_what_is_said_and_grows_with_range_and_incidence() -> None:
    level = replace(CLEAN, base=0.002, far=0.004)
    image, exact = measure(_room(), FORWARD, _no_sheen(0), level, np.random.default_rng(0))
    middle = np.abs(pixel_ways()[..., 2]) > 0.97
    hits = exact[..., None] * pixel_ways()
    front = middle & (hits[..., 2] > 0.999)
    off = (image - exact)[front] * np.abs(pixel_ways()[..., 2])[front]
    assert off.std() == pytest.approx(0.002 + 0.004 * exact[front].mean() ** 2, rel=0.1)
    assert abs(off.mean()) < 0.001
    lossy = replace(CLEAN, grazing=0.6)
    image, exact = measure(_room(), FORWARD, _no_sheen(0), lossy, np.random.default_rng(0))
    side = np.abs((exact[..., None] * pixel_ways())[..., 0]) > 0.4499
    assert np.isnan(image[side]).mean() > 0.1
    assert np.isfinite(image[front]).all()


def test_a_mirror_image_is_the_room_on_the_other_side_of_the_patch() -> None:
    bay = _room(block("box", *BOX))
    patch = Sheen(np.zeros(2), np.array([[1.0, 0.2, 0.1]]), np.array([0.2]))
    image, exact = measure(bay, FORWARD, patch, CLEAN, np.random.default_rng(0))
    ways = pixel_ways() @ FORWARD.turn
    hits = exact[..., None] * ways
    shiny = (np.linalg.norm(hits - patch.centre[0], axis=-1) < 0.2) & np.isfinite(image)
    behind = shiny & (image > exact + 0.05)
    assert behind.sum() > 0.7 * shiny.sum() > 50
    images = (image[..., None] * ways)[behind]
    assert (images[:, 0] > 1.0).all()
    folded = images * [-1.0, 1.0, 1.0] + [2.0, 0.0, 0.0]
    assert bay.world.distance(folded).max() < 0.012
    assert np.array_equal(image[~shiny & np.isfinite(image)], exact[~shiny & np.isfinite(image)])


def test_edges_read_between_front_and_back() -> None:
    bay = _room(block("box", *BOX))
    level = replace(CLEAN, mixed=1.0)
    image, exact = measure(bay, FORWARD, _no_sheen(1), level, np.random.default_rng(0))
    moved = np.abs(image - exact) > 0.03
    assert 20 < moved.sum() < 0.1 * image.size
    points = (image[..., None] * (pixel_ways() @ FORWARD.turn))[moved]
    assert (bay.world.distance(points) > 0.02).mean() > 0.5


def test_the_loop_stays_open_by_the_drift() -> None:
    level = LEVELS["harsh"]
    poses = [FORWARD] * 70
    off = []
    for seed in range(20):
        believed, _ = drifted(poses, level, np.random.default_rng(seed))
        eyes = np.array([pose.eye for pose in believed])
        off.append(np.linalg.norm(eyes[-5:].mean(axis=0) - eyes[:5].mean(axis=0)))
    assert level.drift * 0.7 < np.median(off) < level.drift * 1.5


def test_going_over_it_again_lays_a_second_coat(berth: Scan) -> None:
    middles = berth.mesh_to_truth(berth.triangles.mean(axis=1))
    again, once = middles[-berth.second_coat :], middles[: -berth.second_coat]
    gaps, _ = cKDTree(once).query(again)
    assert len(again) > 300
    assert (gaps < 0.08).mean() > 0.8
    assert berth.error < 1.5 * berth.severity.stated


def test_the_same_seed_gives_the_same_scan(berth: Scan) -> None:
    other = make_scan("under berth", tuning_seed(1), "harsh")
    assert np.array_equal(other.triangles, berth.triangles)
    assert other.picked == berth.picked


def test_rays_end_on_what_is_there_and_pass_what_they_pass(berth: Scan) -> None:
    stations, points, frame = berth.rays()
    assert len(stations) == berth.severity.frames == frame.max() + 1
    true = berth.mesh_to_truth(points)
    assert np.median(berth.truth.bay.world.distance(true)) < 0.02
    # Seen from its station every point lies in the phone's view.
    image = berth.images[30]
    ways = true[frame == 30] - berth.mesh_to_truth(stations[30])
    local = ways @ image.believed.turn.T
    assert (np.abs(local[:, :2] / local[:, 2:]) < HALF).all()
    held = np.isfinite(image.range)
    least = np.fmin(image.range, image.exact)[held]
    way = (pixel_ways() @ image.pose.turn)[held]
    seen, passed = berth.times_seen(image.pose.eye + 0.98 * least[:, None] * way)
    assert (passed >= 1).all()
    assert (seen >= passed).all()
    _, beyond = berth.times_seen(image.pose.eye + 1.001 * image.exact[held][:, None] * way)
    assert (beyond < passed).mean() > 0.95


def test_held_out_seeds_are_for_the_acceptance_run_alone() -> None:
    kept = [s for family in FAMILIES for s in held_out_seeds(family, acceptance=True)]
    assert len(set(kept)) == 10 * len(FAMILIES)
    for seed in kept:
        with pytest.raises(PermissionError):
            check_seed(seed, acceptance=False)
    with pytest.raises(PermissionError):
        held_out_seeds("ribbed")


def test_litres_are_those_of_formulas(plain: tuple[Scan, Space]) -> None:
    scan, space = plain
    none = account(scan, replace(space, label=np.full(space.grid.shape, UNSEEN, np.uint8)))
    assert (none.in_solids, none.outside, none.beyond_lids) == (0.0, 0.0, 0.0)
    assert (none.missed, none.given_up_once, none.given_up_twice) == (1.0, 1.0, 1.0)
    every = account(scan, replace(space, label=np.zeros(space.grid.shape, np.uint8)))
    assert (every.missed, every.given_up_once, every.given_up_twice) == (0.0, 0.0, 0.0)
    # Cells of 40 mm: a face may lie half a cell off.
    off = max(SKIN, scan.severity.stated)
    assert every.in_solids == pytest.approx(1e3 * (0.6 - 2 * off) ** 2 * (0.5 - off), rel=0.2)
    room, box = 1e3 * 2.0 * 1.5 * 1.2, 1e3 * 0.6 * 0.6 * 0.5
    assert 0.85 * (room - box) < every.air < room - box
    # The grid goes on 60 mm round the room.
    assert every.outside > 0.0
    assert every.beyond_lids > 0.0


def test_known_boxes_stand_as_the_truth_has_it(plain: tuple[Scan, Space]) -> None:
    scan, space = plain
    boxes = known_boxes(scan, space, 12, np.random.default_rng(0))
    roomy = [box for box in boxes if box.kind == "roomy"]
    near = [box for box in boxes if box.kind == "near" and box.said != "mounted"]
    assert len(roomy) == 12
    assert all(box.said == "fits" and box.true >= ASKED + SPARE for box in roomy)
    assert len(near) > 6
    for box in near:
        assert abs(box.true - ASKED) <= SPARE
        if abs(box.true - ASKED) > 0.001:
            assert (box.said == "fits") == (box.true > ASKED)
        if box.true < -0.001:
            assert box.said == "clash"


def test_known_boxes_are_wrong_when_they_meet_the_truth() -> None:
    def box(said: str, true: float) -> KnownBox:
        return KnownBox(kind="near", said=said, true=true)

    line = boxes_line(
        "light", "near", [box("fits", -0.001), box("fits", 0.005), box("fits", 0.02),
                          box("clash", 0.012), box("clash", -0.01), box("tight", 0.0)]
    )  # fmt: skip
    assert "6 boxes: fit    3, touch    0, uncertain    1" in line
    assert "meet the truth 1, have less than asked 2; of clash have what is asked 1" in line
