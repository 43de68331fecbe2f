"""The forward scenario: what only it shows has the effect its comments describe."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitcheck.hydraulics import solve_water
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.given.kit import Kit
from fitcheck.pipeline import run
from tests import ROOT
from tests.specimens.done import Done, written
from tests.specimens.water import with_line

LITRE_PER_MINUTE = 1.0 / 60_000.0
#: Forward face of the bulkhead, from the inside point [m].
BULKHEAD = -0.48


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Done:
    return written(run(ROOT / "scenarios" / "forward.toml"), tmp_path_factory.mktemp("forward"))


def water(done: Done, kit: Kit) -> Hydraulics:
    """The water side again, with another kit on the same hoses."""
    scenario = replace(done.result.scenario, kit=kit)
    return solve_water(scenario, done.result.space, done.result.routes)


def test_the_layout_passes_and_may_be_built(done: Done) -> None:
    assert done.result.verdict == "pass"
    assert done.result.cut_joinery.safe
    assert done.result.order_hoses.safe
    done.every_hose_is_routed_and_right()


def test_nothing_aft_of_the_crop_is_examined(done: Done) -> None:
    grid = done.result.space.grid
    assert BULKHEAD - 0.1 < grid.origin[0] < BULKHEAD
    assert done.result.space.free_volume < 0.98 * 1.4 * 1.3


def test_hoses_keep_clear_of_hot_things(done: Done) -> None:
    (exhaust,) = done.result.space.solids
    kept = done.result.scenario.kit.allowances.hose_clearance + exhaust.distance
    assert exhaust.distance == 0.150
    for hose in done.result.routes.hoses:
        half = done.result.scenario.kit.hose(hose.hose).outside_diameter / 2
        assert exhaust.box.distance(hose.path).min() >= kept + half - 1e-3


def test_the_relief_valve_opens_before_the_switch(done: Done) -> None:
    kit = done.result.scenario.kit
    opens = kit.line("relief").opens_at
    assert opens is not None
    feeds = [row for row in done.result.hydraulics.pumps if row.pump == "feed"]
    assert feeds
    assert all(row.bypass_flow and row.bypass_flow > LITRE_PER_MINUTE for row in feeds)
    assert not any(row.cycles for row in feeds)
    lost = [row for row in done.result.hydraulics.lines if row.line == "relief" and row.flow]
    assert min(row.loss for row in lost) > opens
    shut = water(done, with_line(kit, "relief", opens_at=5e5))
    assert all(row.cycles for row in shut.pumps if row.pump == "feed")


def test_the_deck_wash_affects_the_seacock_and_not_the_pump(done: Done) -> None:
    kit = done.result.scenario.kit
    alone = water(done, replace(kit, consumers=(replace(kit.consumers[0], flow=0.0),)))

    def flows(result: Hydraulics, line: str) -> np.ndarray:
        return np.array([row.flow for row in result.lines if row.line == line])

    both = done.result.hydraulics
    assert flows(both, "to_feed") == pytest.approx(flows(alone, "to_feed"))
    more = flows(both, "suction") - flows(alone, "suction")
    running = flows(both, "suction") > 0.0
    assert running.any()
    assert more[running] == pytest.approx(6.0 * LITRE_PER_MINUTE)


def test_limits_are_those_of_the_maker(done: Done) -> None:
    """Every limit comes from the file, and none is the default."""
    rows = done.result.hydraulics.governing
    judged = {(row.said.key.removeprefix("governing."), row.limit) for row in rows}
    backs = {(f"back-{doing}", limit) for doing in ("running", "stopped") for limit in (2e4, 4e4)}
    pressures = {("vacuum-clean", 3e4), ("inlet-pressure", 3e4), ("pressure-share", 0.02)}
    assert backs | pressures <= judged


def test_the_boat_heels_about_its_flotation_point(done: Done) -> None:
    """Picked 1.4 m aft of the inside point, at sea level."""
    assert done.result.space.flotation == pytest.approx((-1.4, 0.0, 0.0), abs=1e-6)
    up = np.array(done.result.space.frame.turn)[2]
    assert up == pytest.approx((0.0, 0.0, 1.0), abs=1e-9)
