"""Two planted mistakes, resolved by the reported remedies; a captured room that passes."""

from __future__ import annotations

from pathlib import Path

from fitcheck.pipeline import explain, run
from tests import ROOT
from tests.specimens.amounts import (
    SYSTEMS,
    compared_texts,
    foreign,
    strange_amounts,
    users_own,
)
from tests.specimens.apply_changes import apply_changes
from tests.specimens.done import written
from tests.specimens.second_boat import write_locker


def test_another_boat_and_its_remedies(tmp_path: Path) -> None:
    """A bowl that cannot drop and a starved suction; all hoses still have a route.

    The shipped one: python -m tests.bench.named_changes FOLDER fails
    """
    scenario = write_locker(tmp_path, planted=True)
    before = written(run(scenario), tmp_path / "before")
    assert {(row["rule"], row["subject"]) for row in before.fails} == {
        ("service-clearance", "prefilters"),
        ("suction-vacuum", "feed_pump"),
    }
    assert all(row["remedy"]["changes"] for row in before.fails)
    assert strange_amounts(before.result, explain(before.result)) == []
    assert not before.data["holds"]["cut_joinery"]["safe"]
    assert not before.data["holds"]["order_hoses"]["safe"]
    before.every_hose_is_routed_and_right()
    for row in before.fails:
        apply_changes(row["remedy"]["changes"], scenario.parent)
    after = written(run(scenario), tmp_path / "after")
    assert after.fails == []
    own = users_own(before.result.scenario)
    for system in SYSTEMS:
        for text in compared_texts(before.result, after.result, system=system):
            assert foreign(text, system, own) == []
    # The hoses of this layout take the shortest route: they are unsupported, one comes near unseen
    # space, one has too little spare length, and some boxes have no board. Its drawing has no tape
    # and no stated trim. Nothing else bars them.
    known = {"hanging-free", "mounting", "clearance-accuracy", "not-carried"}
    reasons = {row.rule for row in after.result.order_hoses.reasons}
    assert reasons <= known | {"scale-unproven", "up-unproven"}
    after.every_hose_is_routed_and_right()


def test_captured_room_routes_every_hose(tmp_path: Path) -> None:
    room = written(run(ROOT / "scenarios" / "captured_room.toml"), tmp_path)
    room.every_hose_is_routed_and_right()
    room.every_not_yet_has_a_remedy()
    roundabout = [hose for hose in room.data["hoses"] if hose["bound_kind"] != "direct"]
    assert len(roundabout) >= 3
    assert room.data["verdict"] != "fail"
