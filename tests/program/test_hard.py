"""The hard scenario: every way of routing a hose occurs in it, and all of it is valid."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from fitcheck.model.found.routes import HoseRoute
from fitcheck.model.result import Result
from fitcheck.pipeline import run
from fitcheck.report import write_all
from fitcheck.routing.lay import jostle, sets
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.world.obstacles import Obstacles
from fitcheck.routing.world.ports import Job
from tests import ROOT
from tests.route_checker import check

#: Hoses that cross the slot in the bulkhead, and its position [m].
CROWD = {"to_filters", "to_vessel", "brine", "product"}
BULKHEAD, SLOT_Y, SLOT_Z = 0.31, 0.050, (0.02, 0.10)
#: The aft end of the duct in line with the tank's pipe, and the pipe's end [m].
DUCT_END, PIPE_END = -0.95, -0.78


@dataclass(frozen=True, eq=False)
class Done:
    """One run, its folder, and its relaxed crowds: which hoses moved, which were routed."""

    result: Result
    folder: Path
    crowds: list[tuple[set[str], set[str]]]

    def hose(self, line: str) -> HoseRoute:
        found = self.result.routes.hose(line)
        assert isinstance(found, HoseRoute), line
        return found


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Done:
    crowds = []

    def watched(
        obstacles: Obstacles,
        jobs: Sequence[Job],
        moving: Mapping[int, Routed],
        fixed: Mapping[int, Routed],
    ) -> dict[int, Routed]:
        laid = jostle.jostled(obstacles, jobs, moving, fixed)
        crowds.append(tuple({jobs[key].line.name for key in keys} for keys in (moving, laid)))
        return laid

    folder = tmp_path_factory.mktemp("hard")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sets, "jostled", watched)
        result = run(ROOT / "scenarios" / "hard.toml")
    write_all(result, folder, None, "metric")
    return Done(result=result, folder=folder, crowds=crowds)


def test_every_hose_is_routed_and_valid(done: Done) -> None:
    data = json.loads((done.folder / "result.json").read_text("utf-8"))
    assert [hose["line"] for hose in data["hoses"] if not hose["routed"]] == []
    assert check(data, done.folder / "compartment.ply") == []


def test_four_hoses_give_way_to_one_another_in_the_slot(done: Done) -> None:
    assert done.crowds[0] == (CROWD, CROWD)
    for line in CROWD:
        path = done.hose(line).path
        at = int(np.abs(path[:, 0] - BULKHEAD).argmin())
        assert abs(path[at, 1]) < SLOT_Y
        assert SLOT_Z[0] < path[at, 2] < SLOT_Z[1]


def test_the_hose_to_the_tank_leaves_the_duct_to_turn(done: Done) -> None:
    product = done.hose("product")
    assert product.end[0] == pytest.approx(PIPE_END)
    assert product.end_direction == pytest.approx((1.0, 0.0, 0.0))  # it arrives going forward
    assert product.path[:, 0].min() < DUCT_END


def test_the_elbow_is_used_and_the_span_kept(done: Done) -> None:
    hose = done.hose("to_pump")
    assert hose.fittings == ("", "elbow_13")
    assert hose.way == "along structure"
    span = done.result.scenario.kit.line("to_pump").span
    assert hose.unsupported
    assert max(stretch.length for stretch in hose.unsupported) <= span + 1e-3
    assert hose.clips


def test_the_stock_length_is_bowed_and_the_spare_coiled(done: Done) -> None:
    assembly = done.hose("to_vessel").assembly
    assert assembly is not None
    assert assembly.stock
    assert assembly.stands
    assert assembly.length > done.hose("to_vessel").length + 0.1
    cut = done.result.order.cut("product")
    assert cut is not None
    assert cut.cut_length > done.hose("product").length + math.pi * 0.3


def test_the_mesh_matches_its_script(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "meshes"))
    import make_hard  # type: ignore[import-not-found]

    monkeypatch.setattr(make_hard, "HERE", tmp_path)
    make_hard.main()
    shipped = (ROOT / "meshes" / "hard.stl").read_bytes()
    assert (tmp_path / "hard.stl").read_bytes() == shipped
    for name in ("make_hard", "make_demo"):
        sys.modules.pop(name, None)
