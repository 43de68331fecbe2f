"""A box drawn into the surface it is fixed to is reported; roughness of that surface is not."""

from __future__ import annotations

import numpy as np
import pytest

from fitcheck.fit import check_fit
from fitcheck.fit.measured.against import surface_behind
from fitcheck.fit.measured.surroundings import surround
from fitcheck.model.finding import Finding
from fitcheck.model.found.space import Space
from fitcheck.model.placed import PlacedModule
from tests.specimens import hand_made_space
from tests.specimens.fit import module, plan, scanned

SIZE = (0.3, 0.2, 0.25)
ACCURACY = 0.020
SKIN = -0.9
PUMP = module("pump", SIZE, fixed_by=("base", "back"), fixing_given=True)


def on_the_wall(space: Space, deep: float, wall: float = -1.0) -> list[Finding]:
    """The pump with its back `deep` inside the wall at x [m], clear of the sole."""
    layout = plan((PUMP, (wall + SIZE[0] / 2 - deep, 0.1, 0.3)), scan=True)
    fit = check_fit(layout, scanned(space, ACCURACY))
    return [row for row in fit.findings if row.rule == "sunk"]


def patch(roughness: float, deep: float, share: float, cells: int = 60) -> Space:
    """A room with a skin 100 mm in front of its aft wall, part of it `deep` proud, with noise [m].

    share : the part of the skin's width that is proud, from one side of the pump's back
    """
    rng = np.random.default_rng(5)
    y, z = np.meshgrid(np.linspace(-0.1, 0.3, cells), np.linspace(0.2, 0.7, cells), indexing="ij")
    x = SKIN + deep * (y < SIZE[1] * share) + rng.normal(0.0, roughness, y.shape)
    at = np.stack([x, y, z], axis=-1)
    a, b, c, d = at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]
    skin = np.stack([np.stack(t, axis=-2) for t in ((a, b, c), (a, c, d))]).reshape(-1, 3, 3)
    return hand_made_space(extra=skin)


@pytest.mark.parametrize(("deep", "told"), [(0.0, False), (0.0025, False), (0.016, True)])
def test_only_overlap_beyond_packing_counts_as_sunk(deep: float, told: bool) -> None:
    found = on_the_wall(hand_made_space(), deep)
    assert [round(-(row.value or 0.0), 4) for row in found] == ([deep] if told else [])
    assert all(set(row.bars) == {"cut_joinery", "order_hoses"} for row in found)
    assert all(row.remedy is not None for row in found)


def test_surface_noise_does_not_count_as_depth() -> None:
    assert on_the_wall(patch(0.004, 0.0, 0.0), 0.0, SKIN) == []


def test_a_batten_under_a_fifth_of_the_face_is_reported() -> None:
    """The pump's back reaches from y = 0 to 0.2 m; the batten is 12 mm proud on a fifth of it."""
    (found,) = on_the_wall(patch(0.0005, 0.012, 0.2), 0.0, SKIN)
    assert found.value == pytest.approx(-0.012, abs=0.0015)
    assert found.place is not None
    assert found.place[1] < 0.05


def test_gaps_behind_a_face_are_those_of_the_planes() -> None:
    around = surround(scanned(hand_made_space(), ACCURACY), scan=True)
    pump = PlacedModule(module=PUMP, at=(-1.0 + SIZE[0] / 2 + 0.002, 0.1, 0.3), rotate=(0, 0, 0))
    gaps, _ = surface_behind(pump.box, "back", around)
    assert gaps == pytest.approx(np.full(len(gaps), 0.002))
