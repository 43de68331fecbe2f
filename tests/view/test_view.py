"""The picture and the window: scene contents, sea level, meaning of a click."""

from __future__ import annotations

import importlib
import math
import os
import subprocess
import sys
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
import pyvista as pv
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.model.found.fit import FitVerdict
from fitcheck.model.found.look import DUTY_LOOKS
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.found.space import FREE, SOLID, UNSEEN
from fitcheck.model.result import Result
from fitcheck.view import picture, probe, show
from fitcheck.view.desk.heel import heights, sea_level, sea_normal
from fitcheck.view.desk.readout import heel_words, lifts, readout
from fitcheck.view.drawn.cameras import VIEW_ANGLE, Field, fitted, fitted_square
from fitcheck.view.drawn.captions import build_tags
from fitcheck.view.drawn.key import dashes
from fitcheck.view.drawn.scene import Scene, build_scene
from fitcheck.view.drawn.shapes import drawn, tube
from fitcheck.view.drawn.skin import scan_skin, sea_sheet, unseen_skin
from fitcheck.view.drawn.tags import spread
from fitcheck.view.pictures.probe import Renderer, find_renderer, start_probe, use
from tests.specimens.result import made_result, made_space

SIDES = 16
KIT = made_result().scenario.kit


@pytest.fixture(scope="module")
def result() -> Result:
    return made_result()


@pytest.fixture(scope="module")
def scene(result: Result) -> Scene:
    return build_scene(result)


# --- the scene --------------------------------------------------------------------------------


def test_every_module_and_line_can_be_picked(scene: Scene) -> None:
    modules = {f"module:{module.name}" for module in KIT.modules}
    assert set(scene.items) == modules | {f"hose:{line.name}" for line in KIT.lines}


def test_part_names_are_unique(scene: Scene) -> None:
    names = [part.name for part in scene.parts]
    assert len(names) == len(set(names))


def test_hoses_are_numbered_in_the_kits_order(scene: Scene, result: Result) -> None:
    assert [row.line for row in scene.rows] == [line.name for line in result.scenario.kit.lines]
    assert [row.number for row in scene.rows] == [1, 2, 3, 4, 5, 6, 7]


def test_tubes_have_the_hoses_outside_diameter(scene: Scene, result: Result) -> None:
    for hose in result.routes.hoses:
        if not isinstance(hose, HoseRoute):
            continue
        mesh = scene.part(f"hose:{hose.line}").mesh
        rings = np.asarray(mesh.points, dtype=np.float64).reshape(-1, SIDES, 3)
        centres = rings.mean(axis=1)
        radius = np.linalg.norm(rings - centres[:, None], axis=2)
        assert radius == pytest.approx(hose.outside_diameter / 2, rel=1e-5)
        away = np.linalg.norm(centres[:, None] - hose.path, axis=2).min(axis=1)
        assert away.max() < 0.0025  # paths are sampled every 4 mm


def test_boxes_are_drawn_at_their_positions(scene: Scene, result: Result) -> None:
    for module in result.fit.modules:
        corners = module.box.corners()
        bounds = np.reshape(scene.part(f"module:{module.name}").mesh.bounds, (3, 2)).T
        assert bounds == pytest.approx(np.array([corners.min(axis=0), corners.max(axis=0)]))


def test_every_port_has_an_arrow_pointing_out(scene: Scene, result: Result) -> None:
    ports = sum(len(module.ports) for module in KIT.modules) + len(result.space.ports)
    assert sum(part.group == "ports" for part in scene.parts) == ports
    arrow = np.asarray(scene.part("port:boat.seacock").mesh.points)
    assert arrow[:, 2].min() == pytest.approx(-0.40, abs=1e-6)
    assert arrow[:, 2].max() > -0.40 + 0.02


def test_a_line_without_a_route_is_a_broken_line_with_a_cross(
    scene: Scene, result: Result
) -> None:
    line = scene.part("hose:product").mesh
    assert line.split_bodies().n_blocks >= 5
    mark = scene.part("stuck:product")
    middle = result.routes.hose("product").nearest_approach  # type: ignore[union-attr]
    assert np.asarray(mark.mesh.points).mean(axis=0) == pytest.approx(np.array(middle), abs=1e-3)
    texts = [tag.text for tag in build_tags(result, "metric")]
    assert "X 7: no route, 12 mm too narrow" in texts
    assert [row.routed for row in scene.rows] == [True] * 6 + [False]


def test_a_blocked_service_clearance_is_marked_and_described(scene: Scene, result: Result) -> None:
    marked = {part.name for part in scene.parts if part.name.startswith("short:")}
    assert marked == {"short:prefilters:base"}
    texts = [tag.text for tag in build_tags(result, "imperial")]
    assert "X withdrawal base: 2.76 in of 4.72 in" in texts


@pytest.mark.parametrize(
    ("verdict", "said"),
    [
        ("clash", "X vessel: does not fit"),
        ("tight", "! vessel: fits, but tight"),
        ("unseen", "X vessel: in unscanned space"),
    ],
)
def test_a_verdict_is_words_and_shape_not_colour_alone(verdict: FitVerdict, said: str) -> None:
    odd = made_result(verdicts={"vessel": verdict})
    assert said in [tag.text for tag in build_tags(odd, "metric")]
    assert "verdict:vessel" in {part.name for part in build_scene(odd).parts}


def test_a_module_that_fits_has_no_mark(scene: Scene) -> None:
    assert not [part for part in scene.parts if part.name.startswith("verdict:")]


# --- line styles ------------------------------------------------------------------------------


def test_dashes_are_in_widths_of_the_line() -> None:
    at = np.array([0.0, 0.119, 0.121, 0.159, 0.161, 0.281])
    # dash 6 widths of 20 mm drawn, 2 left out: 120 mm drawn, 40 mm not, again from 160 mm
    assert drawn(at, (6.0, 2.0), 0.020).tolist() == [True, True, False, False, True, False]
    assert drawn(at, (), 0.020).all()


def test_dashes_of_the_key_end_with_the_sample() -> None:
    assert dashes((6.0, 2.0), 20.0) == [(0.0, 6.0), (8.0, 14.0), (16.0, 20.0)]
    assert dashes((), 20.0) == [(0.0, 20.0)]


def test_every_duty_has_its_own_line_style() -> None:
    styles = [look.dash for look in DUTY_LOOKS.values()]
    assert len(styles) == len(set(styles))


def test_a_tube_has_no_twist_or_pinch_in_a_bend() -> None:
    turn = np.linspace(0, np.pi / 2, 60)
    path = 0.1 * np.column_stack([np.cos(turn), np.sin(turn), np.zeros(60)])
    rings = np.asarray(tube(path, 0.02).points, dtype=np.float64).reshape(-1, SIDES, 3)
    spokes = rings - path[:, None]
    tangent = np.column_stack([-np.sin(turn), np.cos(turn), np.zeros(60)])
    assert np.abs(np.einsum("rsx,rx->rs", spokes, tangent)).max() < 1e-3 * 0.01 + 3e-4
    assert np.linalg.norm(spokes, axis=2) == pytest.approx(0.01, rel=1e-5)
    # carried without twist: in a plane bend the part square to the plane stays as it was
    assert np.ptp(spokes[:, :, 2], axis=0).max() < 1e-6


# --- surfaces ---------------------------------------------------------------------------------


@pytest.mark.parametrize("flip", [False, True])
def test_the_scan_faces_the_free_side_for_any_winding(flip: bool) -> None:
    space = made_space()
    if flip:
        space = replace(space, triangles=space.triangles[:, ::-1].copy())
    skin = scan_skin(space)
    corners = np.asarray(skin.points)[np.asarray(skin.faces).reshape(-1, 4)[:, 1:]]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    middle = corners.mean(axis=1)
    on_wall = (np.abs(np.abs(middle) - [1.0, 0.75, 9.0]) < 1e-6).any(axis=1)
    on_wall |= (np.abs(middle[:, 2] + 0.4) < 1e-6) | (np.abs(middle[:, 2] - 0.8) < 1e-6)
    inward = np.einsum("nx,nx->n", normal, np.array([0.0, 0.0, 0.2]) - middle) > 0
    assert on_wall.sum() >= 12
    assert inward[on_wall & (middle[:, 2] > -0.39)].all()


def test_a_large_scan_is_thinned() -> None:
    ball = pv.Icosphere(radius=0.5, nsub=4)
    corners = np.asarray(ball.points, dtype=np.float64)[ball.faces.reshape(-1, 4)[:, 1:]]
    space = replace(made_space(), triangles=corners)
    assert 200 < scan_skin(space, most=1_000).n_cells <= 1_050


def test_unseen_space_is_drawn_only_where_it_meets_free_space() -> None:
    space = made_space()
    unseen, free = space.label == UNSEEN, space.label == FREE
    faces = 0
    for axis in range(3):
        a, b = np.moveaxis(unseen, axis, 0), np.moveaxis(free, axis, 0)
        faces += int((a[1:] & b[:-1]).sum() + (a[:-1] & b[1:]).sum())
    skin = unseen_skin(space)
    assert skin.n_cells == faces > 0
    assert skin.area == pytest.approx(faces * space.grid.pitch**2)
    bounds = np.reshape(skin.bounds, (3, 2))
    assert (bounds[:, 0] > [-1.0, -0.75, -0.41]).all()


def test_no_part_without_unseen_space() -> None:
    seen = made_result()
    label = np.where(seen.space.label == UNSEEN, SOLID, seen.space.label).astype(np.uint8)
    seen = replace(seen, space=replace(seen.space, label=label))
    assert "unseen" not in {part.name for part in build_scene(seen).parts}


# --- the sea ----------------------------------------------------------------------------------

#: Hand calculation, F = 0: h = y sin(heel) + z cos(heel) without trim; with trim by the rotation
#: of the waterplane about y, then x. Heels -25, -15, 0, 15, 25 deg.
HEELS = (-25, -15, 0, 15, 25)
HEIGHTS = [
    ((-1.2, 0.9, -0.10), 0, (-0.471, -0.330, -0.100, 0.136, 0.290)),
    ((-0.6, 0.35, -0.55), 0, (-0.646, -0.622, -0.550, -0.441, -0.351)),
    ((1.5, -1.1, 0.30), 0, (0.737, 0.574, 0.300, 0.005, -0.193)),
    ((-1.2, 0.9, -0.10), -2, (-0.513, -0.371, -0.142, 0.094, 0.248)),
    ((-0.6, 0.35, -0.55), -2, (-0.667, -0.642, -0.571, -0.461, -0.371)),
    ((1.5, -1.1, 0.30), -2, (0.789, 0.626, 0.352, 0.057, -0.141)),
]


@pytest.mark.parametrize(("point", "trim", "expected"), HEIGHTS)
def test_heights_above_the_heeled_sea(
    point: tuple[float, float, float], trim: float, expected: tuple[float, ...]
) -> None:
    found = [
        float(heights(np.array(point), (0.0, 0.0, 0.0), math.radians(heel), math.radians(trim)))
        for heel in HEELS
    ]
    assert found == pytest.approx(expected, abs=6e-4)


angles = st.floats(-0.7, 0.7)
places = st.tuples(st.floats(-3, 3), st.floats(-3, 3), st.floats(-1, 1))


@given(angles, angles, places, st.tuples(st.floats(-3, 3), st.floats(-3, 3)))
def test_points_on_the_sea_have_zero_height(
    heel: float,
    trim: float,
    flotation: tuple[float, float, float],
    across: tuple[float, float],
) -> None:
    level = sea_level(np.array([across]), flotation, heel, trim)
    assert level[0, :2] == pytest.approx(across)
    assert heights(level, flotation, heel, trim) == pytest.approx(0.0, abs=1e-9)
    assert np.linalg.norm(sea_normal(heel, trim)) == pytest.approx(1.0)


def test_the_sea_is_drawn_in_free_space_only() -> None:
    space = made_space()
    sheet = sea_sheet(space, 0.0)
    level = space.grid.index(np.array([0.0, 0.0, 0.0]))[2]
    assert sheet.n_cells == int((space.label[:, :, level] == FREE).sum())
    assert sheet.area == pytest.approx(sheet.n_cells * space.grid.pitch**2)
    heeled = np.asarray(sea_sheet(space, math.radians(20)).points)
    assert heights(heeled, space.flotation, math.radians(20)) == pytest.approx(0.0, abs=1e-6)


def test_a_sea_below_the_compartment_draws_nothing() -> None:
    space = replace(made_space(), flotation=(0.0, 0.0, -3.0))
    assert sea_sheet(space, 0.0).n_cells == 0


def test_lifts_move_with_the_heel(result: Result) -> None:
    assert lifts(result, 0.0, "metric")["sea_to_strainer"] == "+220 mm"
    # the strainer's inlet is 0.30 m nearer to port: 0.30 sin 20 + 0.22 cos 20 = 0.3093 m
    assert lifts(result, math.radians(20), "metric")["sea_to_strainer"] == "+309 mm"
    assert lifts(result, math.radians(-20), "imperial")["sea_to_strainer"] == "+4.1 in"


def test_heels_are_named_by_side() -> None:
    assert heel_words(math.radians(20)) == "20° to starboard"
    assert heel_words(math.radians(-7.5)) == "7.5° to port"
    assert heel_words(0.0) == "upright"


# --- text of a click --------------------------------------------------------------------------


def test_a_hose_is_shown_with_its_numbers(result: Result) -> None:
    told = "\n".join(readout(result, "hose:pump_to_filters", "metric"))
    for part in ("3  pump to filters", "1.14 m", "2 bends", "radius 80 mm", "21 mm", "9.5 L/min"):
        assert part in told
    assert "0.048 bar" in told
    assert "verdict: ok" in told


def test_a_hose_without_a_route_says_so_first(result: Result) -> None:
    told = readout(result, "hose:product", "metric")
    assert told[3] == "X NO ROUTE FOUND: no way at this resolution"


def test_a_module_is_shown_with_gaps_service_and_findings(result: Result) -> None:
    told = "\n".join(readout(result, "module:prefilters", "metric"))
    for part in ("prefilters", "fits", "300 mm x 150 mm x 400 mm", "30 mm to hull"):
        assert part in told
    assert "X withdrawal base: 70 mm of 120 mm, locker shelf" in told
    assert "The bowl of the prefilters drops 70 mm" in told


# --- cameras and tags -------------------------------------------------------------------------

points_strategy = st.lists(places, min_size=2, max_size=12)


def flat(points: np.ndarray, camera: object, aspect: float) -> np.ndarray:
    """Screen positions of points for a camera, in -1..1, calculated from its definition."""
    eye, target = np.array(camera.eye), np.array(camera.target)  # type: ignore[attr-defined]
    back = (eye - target) / np.linalg.norm(eye - target)
    up = np.array(camera.up)  # type: ignore[attr-defined]
    right = np.cross(up, back)
    away = (eye - points) @ back
    scale = camera.scale  # type: ignore[attr-defined]
    half = away * math.tan(VIEW_ANGLE / 2) if scale is None else np.full(len(points), scale)
    across = (points - eye) @ right / half / aspect
    return np.column_stack([across, (points - eye) @ up / half])


@settings(max_examples=50)
@given(points_strategy, st.floats(0, 6.28), st.floats(0.1, 1.2), st.booleans())
def test_cameras_hold_all_points(
    points: list[tuple[float, float, float]], turn: float, rise: float, square: bool
) -> None:
    spots = np.array(points)
    way = (
        math.cos(rise) * math.cos(turn),
        math.cos(rise) * math.sin(turn),
        math.sin(rise),
    )
    field = Field(left=-0.8, right=0.5, low=-0.9, high=0.7, aspect=1.6)
    fit = fitted_square if square else fitted
    seen = flat(spots, fit(spots, way, (0.0, 0.0, 1.0), field), field.aspect)
    assert seen[:, 0].min() >= field.left - 1e-6
    assert seen[:, 0].max() <= field.right + 1e-6
    assert seen[:, 1].min() >= field.low - 1e-6
    assert seen[:, 1].max() <= field.high + 1e-6


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_tags_do_not_overlap_and_stay_in_the_frame(seed: int) -> None:
    random = np.random.default_rng(seed)
    anchors = [random.uniform([100, 100], [900, 700], (3, 2)) for _ in range(14)]
    sizes = [(float(random.uniform(20, 120)), 22.0) for _ in anchors]
    placed = spread(anchors, sizes, (0.0, 0.0, 1000.0, 800.0))
    for i, one in enumerate(placed):
        low, high = np.array(one.corner), np.array(one.corner) + one.size
        assert (low >= 0).all()
        assert (high <= [1000, 800]).all()
        assert any(np.allclose(one.anchor, anchor) for anchor in anchors[i])
        for other in placed[:i]:
            shared = np.minimum(high, np.array(other.corner) + other.size) - np.maximum(
                low, other.corner
            )
            assert (shared <= 0).any()


def test_a_tag_stays_if_nothing_moves() -> None:
    anchors = [np.array([[300.0, 300.0]]), np.array([[320.0, 300.0]])]
    sizes = [(60.0, 20.0), (60.0, 20.0)]
    frame = (0.0, 0.0, 800.0, 600.0)
    first = spread(anchors, sizes, frame)
    offsets = {
        i: (tag.corner[0] - tag.anchor[0], tag.corner[1] - tag.anchor[1])
        for i, tag in enumerate(first)
    }
    again = spread(anchors, sizes, frame, offsets)
    assert [tag.corner for tag in again] == [pytest.approx(tag.corner) for tag in first]


# --- probing ----------------------------------------------------------------------------------


def trial(condition: str) -> tuple[str, ...]:
    """A command that draws if the condition on the requested kind holds, else is killed by a
    signal.
    """
    return (
        sys.executable,
        "-c",
        "import os\n"
        "kind = os.environ.get('VTK_DEFAULT_OPENGL_WINDOW', '')\n"
        f"if {condition}:\n    print('drawn by', kind or 'vtkSomeRenderWindow')\n"
        "else:\n    os.kill(os.getpid(), 11)\n",
    )


@pytest.fixture
def no_wish(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("VTK_DEFAULT_OPENGL_WINDOW", raising=False)


@pytest.mark.usefixtures("no_wish")
def test_the_first_working_window_class_is_used() -> None:
    found = find_renderer(trial("kind == 'vtkOSOpenGLRenderWindow'"))
    assert found.works
    assert found.kind == "vtkOSOpenGLRenderWindow"
    assert not found.on_screen
    plain = find_renderer(trial("not kind"))
    assert (plain.works, plain.kind, plain.on_screen) == (True, "", True)


@pytest.mark.usefixtures("no_wish")
def test_if_none_works_the_package_to_install_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    found = find_renderer(trial("False"))
    assert not found.works
    assert "apt-get install libegl1 libgl1-mesa-dri" in found.advice
    assert found.advice.count("SIGSEGV") == 3


def test_a_requested_class_that_crashes_is_dropped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VTK_DEFAULT_OPENGL_WINDOW", "vtkOSOpenGLRenderWindow")
    found = find_renderer(trial("kind != 'vtkOSOpenGLRenderWindow'"))
    assert (found.works, found.kind) == (True, "")
    use(found)
    assert "VTK_DEFAULT_OPENGL_WINDOW" not in os.environ


def test_probing_is_done_once(monkeypatch: pytest.MonkeyPatch) -> None:
    module = importlib.import_module("fitcheck.view.pictures.probe")
    asked: list[object] = []
    monkeypatch.setattr(module, "find_renderer", lambda trial: asked.append(trial))
    monkeypatch.setattr(module, "_asked", lru_cache(module._asked.__wrapped__))
    start_probe()
    assert probe() is probe()
    assert len(asked) == 1


def test_a_missing_interpreter_is_handled() -> None:
    assert not find_renderer(("/nowhere/python",)).works


def test_no_picture_if_nothing_can_draw(result: Result, monkeypatch: pytest.MonkeyPatch) -> None:
    nothing = Renderer(works=False, kind="", drawn_by="", advice="install it")
    module = importlib.import_module("fitcheck.view.pictures.picture")
    monkeypatch.setattr(module, "probe", lambda: nothing)
    assert picture(result) is None


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="displays are named on Linux")
def test_without_a_display_the_window_says_so(
    result: Result, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    assert show(result) == 2
    assert capsys.readouterr().err.startswith("no display")


def test_nothing_is_loaded_before_a_trial_drawing_succeeded() -> None:
    code = (
        "import sys\n"
        "import fitcheck.view\n"
        "print([name for name in ('pyvista', 'vtkmodules') if name in sys.modules])"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == "[]"
