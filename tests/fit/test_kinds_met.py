"""Contacts are identified by kind: no name and no wording changes a verdict."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitcheck.fit import check_fit
from fitcheck.model.contact import CALLED
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.space import LooseBit, PlacedVolume, Space
from tests.specimens import hand_made_space, upright_box
from tests.specimens.fit import module, needs, plan, scanned, unseen_where

SIZE = (0.3, 0.2, 0.25)


def judged(space: Space, name: str = "other") -> Fit:
    """A pump 15 mm off the wall and fixed to the sole, unseen space in front of it, a block beside
    it.
    """
    pump = module("pump", SIZE, service=needs("back", 0.3))
    layout = plan(
        (pump, (0.835, 0.1, 0.0)), (module(name, (0.1, 0.1, 0.1)), (0.5, 0.1, 0.0)), scan=True
    )
    return check_fit(layout, scanned(space, 0.02))


def verdicts(fit: Fit) -> list[object]:
    """All decisions, without their wording."""
    rows: list[object] = [(row.rule, row.severity, row.bars, row.value) for row in fit.findings]
    rows += [(row.verdict, [one.verdict for one in row.service]) for row in fit.modules]
    return rows


@pytest.mark.parametrize("called", ["unscanned space", "other", "", "the edge of the scan"])
def test_wording_does_not_affect_the_verdict(called: str, monkeypatch: pytest.MonkeyPatch) -> None:
    space = unseen_where(hand_made_space(), (0.6, -0.8, 0.3), (1.0, 0.8, 1.0))
    before = verdicts(judged(space))
    monkeypatch.setitem(CALLED, "mesh", called)
    assert verdicts(judged(space)) == before


@pytest.mark.parametrize("name", ["hull or joinery", "unscanned space", "inside of a solid"])
def test_a_module_may_share_a_name_with_anything_else(name: str) -> None:
    space = hand_made_space()
    assert verdicts(judged(space, name)) == verdicts(judged(space))


def test_every_kind_within_reach_has_its_own_contact() -> None:
    space = unseen_where(hand_made_space(), (0.6, -0.8, 0.3), (1.0, 0.8, 1.0))
    pump = judged(space).module("pump")
    assert {row.kind for row in pump.contacts} == {"mesh", "module", "unseen"}
    assert pump.smallest_gap == min(row.gap for row in pump.contacts)
    (room,) = pump.service
    assert {"mesh", "module"} <= {row.kind for row in room.contacts}
    assert all(row.asked == room.wanted for row in room.contacts)


def test_a_loose_piece_supports_nothing() -> None:
    """The same block of mesh under the box, once as part of the room, once as a loose piece."""
    block = ((-0.2, -0.1, 0.2), (0.2, 0.1, 0.3))
    whole = hand_made_space([block])
    bit = LooseBit(centre=(0.0, 0.0, 0.25), radius=0.25)
    loose = replace(whole, bits=(bit,))
    stood = plan((module("pump", SIZE), (0.0, 0.0, 0.3)), scan=True)
    found = [
        {row.rule for row in check_fit(stood, scanned(space)).findings} for space in (whole, loose)
    ]
    assert "not-carried" not in found[0]
    assert "not-carried" in found[1]


@pytest.mark.parametrize(("state", "unsure"), [("planned", False), ("existing", True)])
def test_a_planned_board_has_the_uncertainty_of_the_box_on_it(state: str, unsure: bool) -> None:
    """Only an existing board was picked on the scan."""
    box = upright_box((-0.2, -0.2, 0.182), (0.2, 0.2, 0.2))
    board = PlacedVolume(name="shelf", box=box, why="a board", board=state)  # type: ignore[arg-type]
    space = scanned(replace(hand_made_space(), solids=(board,)))
    stood = plan((module("pump", SIZE), (0.0, 0.0, 0.2)), scan=True)
    pump = check_fit(stood, space).module("pump")
    assert pump.meets == "shelf"
    assert (pump.uncertainty > 0.0) is unsure
