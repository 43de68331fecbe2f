"""The picture and the window where drawing works: pixels, clicks, switches, sliders."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import pyvista as pv

from fitcheck.errors import FitcheckError
from fitcheck.model.found.look import DUTY_LOOKS, MODULE_COLOUR
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.result import Result
from fitcheck.view import picture, probe
from fitcheck.view.desk.heel import heights
from fitcheck.view.drawn.shapes import rgb
from fitcheck.view.pictures.probe import Renderer, use
from tests.specimens.result import made_result

if TYPE_CHECKING:
    from fitcheck.view.desk.desk import Desk


@pytest.fixture(scope="module")
def result() -> Result:
    return made_result()


@pytest.fixture(scope="module")
def drawing() -> Renderer:
    found = probe()
    if not found.works:
        pytest.skip(found.advice)
    return found


@pytest.fixture(scope="module")
def desk(drawing: Renderer, result: Result) -> Iterator[Desk]:
    from fitcheck.view.desk.desk import Desk

    use(drawing)
    made = Desk(result, None, "metric", off_screen=True, size=(900, 560))
    made.plotter.show(auto_close=False, interactive=False)
    yield made
    made.plotter.close()


def pixels_of(png: bytes, file: Path) -> np.ndarray:
    """The rows of a picture from the top down."""
    file.write_bytes(png)
    image = pv.read(file)
    wide, high, _ = image.dimensions
    return np.asarray(image.active_scalars).reshape(high, wide, 3)[::-1]


@pytest.mark.usefixtures("drawing")
def test_a_picture_shows_modules_and_hoses_on_a_light_ground(
    result: Result, tmp_path: Path
) -> None:
    png = picture(result, size=(800, 500), preset="plan")
    assert png is not None
    seen = pixels_of(png, tmp_path / "seen.png")
    assert seen.shape == (500, 800, 3)
    assert len(np.unique(seen.reshape(-1, 3), axis=0)) > 200
    for colour, least in ((MODULE_COLOUR, 2_000), (DUTY_LOOKS["brine"].colour, 300)):
        assert near_hue(seen, colour).sum() > least
    assert (seen == 255).all(axis=2).mean() > 0.2


def near_hue(seen: np.ndarray, colour: str) -> np.ndarray:
    """Pixels of a colour's hue that are at least half as bright."""
    ink = rgb(colour) / 255.0
    light = seen / 255.0
    length = np.maximum(np.linalg.norm(light, axis=2), 1e-6)
    away = np.linalg.norm(light / length[..., None] - ink / np.linalg.norm(ink), axis=2)
    return (away < 0.012 + 0.06 * (ink.min() < 0.1)) & (length > 0.5 * np.linalg.norm(ink))


def seen_at(desk: Desk, point: tuple[float, float, float] | np.ndarray) -> tuple[int, int]:
    """The pixel that shows a point."""
    from fitcheck.view.drawn.overlay import project

    x, y = project(desk.plotter.renderer, np.asarray(point)[None])[0]
    return round(float(x)), round(float(y))


def test_a_click_finds_the_hose_or_box_under_it(desk: Desk, result: Result) -> None:
    desk.switch("tags", False)
    try:
        for name in ("pump_to_filters", "filters_to_hp", "brine"):
            hose = result.routes.hose(name)
            assert isinstance(hose, HoseRoute)
            hits = [
                desk.item_at(*seen_at(desk, hose.path[i])) for i in range(0, len(hose.path), 8)
            ]
            assert hits.count(f"hose:{name}") > len(hits) / 2
        top = result.fit.module("vessel").box.world(np.array([0.0, 0.0, 0.065]))
        assert desk.item_at(*seen_at(desk, top)) == "module:vessel"
        assert desk.item_at(20, 550) == ""
    finally:
        desk.switch("tags", True)


def test_a_click_on_a_tag_selects_its_item(desk: Desk) -> None:
    desk.look_from("perspective")
    found = {
        desk.tags.at(actor.GetPosition()[0] + 4, actor.GetPosition()[1] + 4)
        for actor in desk.tags._texts
        if actor.GetVisibility()
    }
    assert {"hose:product", "module:vessel", "hose:sea_to_strainer"} <= found


def test_picking_fades_the_others_and_deselecting_restores(desk: Desk) -> None:
    desk.pick("hose:brine")
    opacity = {name: actor.prop.opacity for name, actor in desk.canvas.actors.items()}
    assert opacity["hose:brine"] == 1.0
    assert opacity["hose:pump_to_filters"] < 0.3
    assert opacity["module:vessel"] < 0.3
    desk.pick("")
    assert desk.canvas.actors["module:vessel"].prop.opacity == 1.0


def test_switches_hide_and_show_a_group(desk: Desk) -> None:
    actor = desk.canvas.actors["module:vessel"]
    desk.switch("modules", False)
    assert not actor.GetVisibility()
    assert desk.canvas.actors["hose:brine"].GetVisibility()
    desk.switch("modules", True)
    assert actor.GetVisibility()
    assert not desk.canvas.actors["unseen"].GetVisibility()


def test_the_heel_slider_turns_the_sea(desk: Desk, result: Result) -> None:
    desk.set_heel(math.radians(15))
    sea = np.asarray(desk.canvas.actors["sea"].mapper.dataset.points)
    level = heights(sea, result.space.flotation, math.radians(15))
    assert level == pytest.approx(0.0, abs=1e-6)
    desk.set_heel(0.0)
    assert np.ptp(np.asarray(desk.canvas.actors["sea"].mapper.dataset.points)[:, 2]) < 1e-6


def test_a_section_cuts_everything_but_the_ground_marks(desk: Desk) -> None:
    desk.next_cut()
    try:
        planes = {
            name: actor.mapper.GetClippingPlanes().GetNumberOfItems()
            for name, actor in desk.canvas.actors.items()
            if actor.mapper.GetClippingPlanes()
        }
        assert planes["scan"] == planes["module:vessel"] == 1
        assert planes.get("bar:dark", 0) == 0
        axis, place = desk.cut_place()
        assert (axis, place) == (0, pytest.approx(0.0))
        desk.set_cut_share(0.75)
        assert desk.cut_place()[1] == pytest.approx(0.5)
    finally:
        while desk.cut != "none":
            desk.next_cut()
    assert desk.canvas.actors["scan"].mapper.GetClippingPlanes().GetNumberOfItems() == 0


def test_units_switch_in_tags_and_lifts(desk: Desk) -> None:
    desk.switch_units()
    try:
        assert any(" in of " in tag.text for tag in desk.tags._tags)
    finally:
        desk.switch_units()
    assert not any(" in of " in tag.text for tag in desk.tags._tags)


def test_a_new_check_draws_the_new_result(desk: Desk, result: Result) -> None:
    desk.recompute = lambda: made_result(verdicts={"vessel": "clash"})
    desk.check_again()
    assert "verdict:vessel" in desk.canvas.actors
    desk.recompute = lambda: result
    desk.check_again()
    assert "verdict:vessel" not in desk.canvas.actors


def test_a_fault_while_checking_again_is_reported_and_the_drawing_stays(desk: Desk) -> None:
    def fault() -> Result:
        raise FitcheckError("kit.toml:3: no unit")

    before = set(desk.canvas.actors)
    desk.recompute = fault
    desk.check_again()
    assert desk.status == "X not checked: kit.toml:3: no unit"
    assert set(desk.canvas.actors) == before
