"""Re-routing with the cache of an earlier run: only what a change comes near, same answer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitcheck.model.found.fit import ModuleFit
from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.routing import Recall, allow_wander, route_hoses
from fitcheck.routing.lay import sets
from tests.specimens import hand_made_space
from tests.specimens.routing import asked, fit_of, line, modules_of, port

#: Two hoses along the room, one on each side: a metre between them.
PORTS = (
    port("a", (-0.8, -0.6, 0.6), (1, 0, 0)),
    port("b", (0.8, -0.6, 0.6), (-1, 0, 0)),
    port("c", (-0.8, 0.6, 0.6), (1, 0, 0)),
    port("d", (0.8, 0.6, 0.6), (-1, 0, 0)),
)


@pytest.fixture(scope="module")
def space() -> Space:
    return hand_made_space(pitch=0.03, ports=PORTS)


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return asked([line("right", "boat.a", "boat.b"), line("left", "boat.c", "boat.d")])


def box_at(x: float, y: float, z: float) -> ModuleFit:
    """A cube of 0.2 m around a place."""
    low, high = (x - 0.1, y - 0.1, z - 0.1), (x + 0.1, y + 0.1, z + 0.1)
    return modules_of(("box", low, high))[0]


def figures(routes: Routes) -> list[tuple[str, float, float, float]]:
    """The visible results of every hose."""
    return [
        (hose.line, hose.length, hose.bound, hose.clearance)
        for hose in routes.hoses
        if isinstance(hose, HoseRoute)
    ]


class Counted:
    """The router, recording the lines it was called for."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.lines: list[str] = []
        whole = sets.route_fitted

        def counted(obstacles, job, tubes):  # type: ignore[no-untyped-def]
            self.lines.append(job.line.name)
            return whole(obstacles, job, tubes)

        patch.setattr(sets, "route_fitted", counted)


def test_only_hoses_near_a_moved_box_are_re_routed(
    scenario: Scenario, space: Space, monkeypatch: pytest.MonkeyPatch
) -> None:
    counted, recall = Counted(monkeypatch), Recall()
    for box, disturbed in (
        (box_at(0.0, 0.0, 0.2), ["right", "left"]),  # the first time
        (box_at(0.0, 0.0, 0.2), []),  # nothing moved
        (box_at(0.05, 0.0, 1.0), []),  # clear of both, before and after
        (box_at(0.0, -0.6, 0.6), ["right"]),  # into the route of one
        (box_at(0.0, 0.6, 0.6), ["right", "left"]),  # out of it, into the other's
    ):
        counted.lines.clear()
        route_hoses(scenario, space, fit_of(box), recall=recall)
        assert counted.lines == disturbed


def test_cached_results_equal_fresh_ones(scenario: Scenario, space: Space) -> None:
    recall, chance = Recall(), np.random.default_rng(3)
    for _ in range(8):
        box = box_at(*chance.uniform((-0.4, -0.6, 0.2), (0.4, 0.6, 1.0)))
        again = allow_wander(scenario, space, fit_of(box), recall=recall)
        assert figures(again) == figures(allow_wander(scenario, space, fit_of(box)))
        assert len(again.hoses) == 2


def test_the_cache_is_not_used_for_another_hose_or_space(
    scenario: Scenario, space: Space, monkeypatch: pytest.MonkeyPatch
) -> None:
    counted, recall = Counted(monkeypatch), Recall()
    fit = fit_of(box_at(0.0, 0.0, 0.2))
    route_hoses(scenario, space, fit, recall=recall)
    counted.lines.clear()
    (hose,) = scenario.kit.hoses
    stiffer = replace(hose, min_bend_radius=2 * hose.min_bend_radius)
    kit = replace(scenario.kit, hoses=(stiffer,))
    route_hoses(replace(scenario, kit=kit), space, fit, recall=recall)
    assert counted.lines == ["right", "left"]
    counted.lines.clear()
    fuller = hand_made_space([((-0.1, -0.7, 0.0), (0.1, -0.5, 0.7))], pitch=0.03, ports=PORTS)
    found = route_hoses(replace(scenario, kit=kit), fuller, fit, recall=recall)
    assert counted.lines == ["right", "left"]
    assert figures(found)[0][1] > 1.6


def test_a_neighbour_that_comes_near_counts_as_a_change() -> None:
    """Two hoses that share a port keep their gap when the other moves towards the first."""
    ports = (
        *PORTS,
        port("e", (-0.8, -0.6, 0.65), (1, 0, 0)),
        port("f", (0.8, 0.0, 0.65), (-1, 0, 0)),
    )
    room = hand_made_space(pitch=0.03, ports=ports)
    recall = Recall()
    for end in ("boat.f", "boat.d"):
        both = asked([line("right", "boat.a", "boat.b"), line("other", "boat.e", end)])
        again = allow_wander(both, room, fit_of(), recall=recall)
        assert figures(again) == figures(allow_wander(both, room, fit_of()))


def test_a_temporarily_blocked_hose_leaves_the_other_unchanged(
    scenario: Scenario, space: Space
) -> None:
    recall, routed = Recall(), []
    for x in (0.0, 0.7, 0.0):  # in the second place the box stands on a port
        fit = fit_of(box_at(x, 0.6, 0.6))
        again = allow_wander(scenario, space, fit, recall=recall)
        assert figures(again) == figures(allow_wander(scenario, space, fit))
        routed.append(len(figures(again)))
    assert routed == [2, 1, 2]
