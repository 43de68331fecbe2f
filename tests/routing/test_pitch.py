"""The pitch is the resolution of the hose search: it does not affect what is known or reported."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.fit import check_fit
from fitcheck.geometry.grid import Grid
from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Space
from fitcheck.model.given.boat import Boat
from fitcheck.model.given.kit import Module
from fitcheck.model.given.scenario import Placement, Scenario
from fitcheck.routing import route_hoses
from fitcheck.routing.world.obstacles import gather
from fitcheck.space import survey
from fitcheck.space.cells.lattice import lattice_of
from tests import specimens
from tests.specimens.routing import asked, fit_of, line, meshed, port, quick_bound  # noqa: F401

COARSE, FINE = 0.030, 0.010
#: An engine, and a small box in its shadow.
ENGINE = ((-0.7, -0.2, 0.0), (-0.3, 0.3, 0.5))
BOX = Module(name="box", size=(0.1, 0.1, 0.1), mass=1.0, stands="any", ports=(), service=())


def scenario(boat: Boat, pitch: float, *at: float) -> Scenario:
    place = Placement(module="box", at=specimens.as_point(np.array(at)), rotate=(0.0, 0.0, 0.0))
    return specimens.scenario(
        boat, kit=specimens.kit(modules=(BOX,)), layout=specimens.layout(place, pitch=pitch)
    )


@pytest.fixture
def open_room(tmp_path: Path) -> Boat:
    """The plain room without its starboard side, an engine in it, seen from two places."""
    walls = specimens.room()
    side = np.isclose(walls[:, :, 1], specimens.LOW[1]).all(axis=1)
    triangles = specimens.join(walls[~side], specimens.box(*ENGINE))
    eyes = ((0.6, -0.3, 0.8), (0.5, 0.1, 0.7))
    return specimens.boat(specimens.write_ply(tmp_path / "m.ply", triangles), viewpoints=eyes)


def test_what_was_seen_does_not_depend_on_the_pitch(open_room: Boat) -> None:
    coarse, fine = (survey(scenario(open_room, pitch, 0.6, 0.4, 0.0)) for pitch in (COARSE, FINE))
    assert (coarse.label == UNSEEN).any()
    assert np.array_equal(coarse.label, fine.label)
    assert coarse.uncertainty == fine.uncertainty
    assert coarse.findings == fine.findings


def test_a_box_has_the_same_verdict_at_every_pitch(open_room: Boat) -> None:
    """Next to the engine's shadow, where the cell size would decide."""
    fits = []
    for pitch in (COARSE, FINE):
        of = scenario(open_room, pitch, -0.5, 0.45, 0.2)
        fits.append(check_fit(of, survey(of)))
    assert fits[0] == fits[1]


def test_a_slit_is_an_opening_at_every_pitch_or_at_none(tmp_path: Path) -> None:
    """Cells of 30 mm close a slit of 24 mm, cells of 10 mm leak through it."""
    walls = specimens.room()
    forward = np.isclose(walls[:, :, 0], specimens.HIGH[0]).all(axis=1)
    parts = [walls[~forward]]
    for low, high in ((-0.75, 0.1), (0.124, 0.75)):
        parts.append(specimens.sheet(1.0, (low, 0.0), (high, 1.2)))
    path = specimens.write_ply(tmp_path / "m.ply", specimens.join(*parts))
    rules = [
        [row.rule for row in survey(scenario(specimens.boat(path), pitch, 0.0, 0.0, 0.0)).findings]
        for pitch in (COARSE, FINE)
    ]
    assert rules[0] == rules[1]


# --- the cells of the search --------------------------------------------------------------------

GRID = Grid(origin=(-0.06, -0.06, -0.06), pitch=0.02, shape=(16, 13, 11))


def dark_space(seed: int) -> tuple[specimens.Triangles, np.ndarray]:
    """Two random triangles and a tenth of the cells unseen."""
    rng = np.random.default_rng(seed)
    triangles = rng.uniform(0.0, 0.15, (2, 3, 3))
    label = np.where(rng.random(GRID.shape) < 0.1, UNSEEN, FREE).astype(np.uint8)
    return triangles, label


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), pitch=st.sampled_from([0.010, 0.013, 0.015, 0.030]))
def test_distances_at_another_pitch_never_overestimate(seed: int, pitch: float) -> None:
    triangles, label = dark_space(seed)
    lattice = lattice_of(GRID, label, triangles, (), pitch)
    reach = lattice.grid.pitch * np.array(lattice.grid.shape)
    assert (reach <= GRID.pitch * np.array(GRID.shape) + 1e-9).all()
    cells = np.argwhere(np.ones(lattice.grid.shape, dtype=bool))
    centres = lattice.grid.centre(cells)
    dark = GRID.centre(np.argwhere(label == UNSEEN))
    off = np.maximum(np.abs(centres[:, None] - dark[None]) - GRID.pitch / 2, 0.0)
    to_dark = np.sqrt((off**2).sum(axis=2)).min(axis=1)
    told = lattice.label[tuple(cells.T)]
    distance = lattice.distance[tuple(cells.T)]
    assert (distance <= to_dark + 1e-9).all()
    assert (to_dark[told == UNSEEN] <= 1e-9).all()
    # a cell that is neither free nor unseen is measured: free ones share nothing with unseen space
    half = lattice.grid.pitch / 2
    apart = (np.abs(centres[:, None] - dark[None]) - GRID.pitch / 2 - half).max(axis=2).min(axis=1)
    assert (apart[told == FREE] >= -1e-9).all()
    assert (told[to_dark <= -1e-9] != FREE).all()
    assert set(np.unique(told)) <= {FREE, SOLID, UNSEEN}


def gallery(pitch: float) -> Space:
    """A room with a block of unseen space between two ports, searched at a pitch."""
    ports = (port("a", (-0.45, 0.0, 0.3), (1, 0, 0)), port("b", (0.45, 0.03, 0.3), (-1, 0, 0)))
    low, high = (-0.5, -0.3, 0.0), (0.5, 0.3, 0.6)
    room = specimens.box(low, high, inward=True)
    plain = meshed(room, low=low, high=high, pitch=0.02)
    label = plain.label.copy()
    first, last = (
        plain.grid.index(np.array(at)) for at in ((-0.06, -0.25, 0.1), (0.06, 0.05, 0.5))
    )
    label[tuple(slice(a, b) for a, b in zip(first, last, strict=True))] = UNSEEN
    space = meshed(room, low=low, high=high, pitch=0.02, label=label, ports=ports)
    if pitch == space.grid.pitch:
        return space
    return replace(space, searched=lattice_of(space.grid, space.label, room, (), pitch))


def test_a_hose_and_its_bound_are_valid_at_every_pitch(quick_bound: None) -> None:  # noqa: F811
    lines = [line("one", "boat.a", "boat.b")]
    hoses = [
        route_hoses(asked(lines), gallery(pitch), fit_of()).hoses[0] for pitch in (COARSE, FINE)
    ]
    unseen = []
    for hose in hoses:
        assert isinstance(hose, HoseRoute)
        unseen += [row.gap for row in hose.contacts if row.kind == "unseen"]
        assert hose.bound <= min(other.length for other in hoses) + 1e-6
    assert len(unseen) == 2
    assert min(unseen) >= hoses[0].required_clearance - 1e-6
    # equally short at every pitch: all touch the same cells
    assert max(h.length for h in hoses) <= 1.002 * min(h.length for h in hoses)


def test_the_edge_of_the_world_is_the_same_at_every_pitch() -> None:
    worlds = [gather(gallery(pitch), fit_of()) for pitch in (0.03, 0.01)]
    assert worlds[0].dark.pitch == worlds[1].dark.pitch
    assert np.array_equal(worlds[0].dark.label, worlds[1].dark.label)
