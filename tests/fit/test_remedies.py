"""Remedies of the fit work, and the search keeps every place that passes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitcheck.fit.measured.judge import judge
from fitcheck.fit.measured.surroundings import barring_cells, surround
from fitcheck.fit.offered.search import Quest, clear_moves
from fitcheck.geometry.box import as_point
from fitcheck.model.found.space import FREE, UNSEEN
from fitcheck.model.given.kit import Hose, Line, Port, PortRef, Sold
from fitcheck.model.placed import PlacedModule
from fitcheck.units import parse
from tests.specimens import (
    hand_made_space,
    upright_box,
)
from tests.specimens.fit import (
    ENGINE,
    changed,
    fails,
    module,
    needs,
    noisy_room,
    plan,
    unseen_where,
)
from tests.specimens.mended import mended_fit

# --- remedies ---------------------------------------------------------------------------------


def test_one_move_separates_two_modules_that_block_each_other() -> None:
    pair = plan((module("pump"), (0.0, 0.0, 0.0)), (module("vessel"), (0.25, 0.0, 0.0)))
    fit = mended_fit(pair, hand_made_space())
    (finding,) = fails(fit)
    assert len(finding.remedy.changes) == 1
    after = mended_fit(changed(pair, finding.remedy), hand_made_space())
    assert [row.verdict for row in after.modules] == ["fits", "fits"]


def test_a_slide_along_the_sole_is_preferred_to_lifting() -> None:
    scene = plan((module("pump"), (0.12, 0.0, 0.0)))
    (finding,) = fails(mended_fit(scene, hand_made_space([ENGINE])))
    (change,) = finding.remedy.changes
    x, _, z = (parse(text, "length") for text in change.value)
    assert z == 0.0
    assert x == pytest.approx(0.04)


def test_no_place_is_reported_without_changes() -> None:
    """A box longer than the room is wide, placed across it: neither a shift nor a quarter turn
    helps.
    """
    scene = plan((module("vessel", (2.4, 0.2, 0.2)), (0.0, 0.0, 0.3)))
    fit = mended_fit(scene, hand_made_space())
    for finding in fails(fit):
        assert finding.remedy.changes == ()
        assert "No clear position" in finding.remedy.text


def test_a_quarter_turn_when_no_shift_helps() -> None:
    scene = plan((module("vessel", (1.8, 0.2, 0.2)), (0.0, 0.0, 0.3), (0, 0, 90)))
    fit = mended_fit(scene, hand_made_space())
    remedy = fails(fit)[0].remedy
    assert {change.key.rsplit(".", 1)[1] for change in remedy.changes} == {"at", "rotate"}
    assert not fails(mended_fit(changed(scene, remedy), hand_made_space()))


def test_a_place_that_keeps_the_ports_free_is_preferred() -> None:
    """Away from the engine: 50 mm to starboard leaves the port 100 of its 110 mm to the wall.

    80 mm aft leaves all of it, and 40 mm to port the 184 mm in which its hose turns.
    """
    port = Port(
        name="inlet",
        at=(0.0, -0.1, 0.1),
        direction=(0.0, -1.0, 0.0),
        connection="hose tail 19 mm",
        thread="",
        joins="",
    )
    hose = Hose(
        name="h",
        bore=0.019,
        outside_diameter=0.027,
        min_bend_radius=0.1,
        bend_radius_at="centre",
        pressure_rating=5e5,
        wall="reinforced",
        roughness=1.5e-6,
        sold=Sold(by="metre", lengths=(), prices=()),
    )
    line = Line(
        name="suction",
        start=PortRef(owner="boat", port="seacock"),
        end=PortRef(owner="pump", port="inlet"),
        duty="suction",
        hose="h",
        fittings=0.0,
        valve_flow=None,
        straight=None,
    )
    space = hand_made_space([((0.08, -0.44, 0.0), (0.6, 0.3, 0.5))])
    pump = module("pump", ports=(port,))
    at = (0.0, -0.50, 0.0)
    blind = plan((replace(pump, ports=()), at))
    seeing = plan((pump, at), lines=(line,), hoses=(hose,))
    moves = []
    for scene in (blind, seeing):
        remedy = fails(mended_fit(scene, space))[0].remedy
        after = changed(scene, remedy)
        assert not fails(mended_fit(after, space))
        moves.append(after.layout.placements[0].at)
    assert moves[0] == pytest.approx((0.0, -0.55, 0.0))
    assert moves[1] == pytest.approx((-0.08, -0.46, 0.0))


@pytest.mark.parametrize("seed", range(8))
def test_every_reported_remedy_works(seed: int) -> None:
    """Random layouts: each remedy alone makes its subject pass and harms no other module."""
    rng = np.random.default_rng(seed)
    pairs = []
    for number in range(4):
        service = needs(rng.choice(["front", "top", "left"]), float(rng.uniform(0.05, 0.25)))
        size = rng.uniform(0.12, 0.4, 3)
        at = rng.uniform((-0.8, -0.55, 0.0), (0.8, 0.55, 0.4))
        turn = (0.0, 0.0, float(rng.choice([0.0, 90.0, 33.0])))
        pairs.append((module(f"m{number}", size, service=service), at, turn))
    scene, space = plan(*pairs), hand_made_space([ENGINE])
    before = mended_fit(scene, space)
    failing = {row.subject for row in fails(before)}
    told = 0
    for finding in fails(before):
        assert finding.remedy is not None
        if not finding.remedy.changes:
            continue
        told += 1
        after = mended_fit(changed(scene, finding.remedy), space)
        now = {row.subject for row in fails(after)}
        mover = finding.remedy.changes[0].key.split(".")[2]
        assert mover not in now
        assert now <= failing
        if mover != finding.subject:
            assert finding.text not in {row.text for row in fails(after)}
    assert told > 0
    everything = scene
    for finding in fails(before):
        everything = changed(everything, finding.remedy)
    if all(row.remedy.changes for row in fails(before)):
        assert not fails(mended_fit(everything, space))


@pytest.mark.parametrize("scan", [False, True])
def test_the_filter_keeps_every_place_that_passes_judgement(scan: bool) -> None:
    space = noisy_room() if scan else hand_made_space([ENGINE])
    space = unseen_where(space, (-0.9, -0.6, 0.3), (-0.5, 0.0, 1.0))
    around = surround(space, scan=scan)
    vessel = PlacedModule(module=module("vessel"), at=(0.0, 0.55, 0.0), rotate=(0.0, 0.0, 0.0))
    rng = np.random.default_rng(11)
    passed = 0
    for turn in (0.0, 0.4):
        pump = module("pump", service=needs("front", 0.15) + needs("top", 0.2))
        start = PlacedModule(module=pump, at=(0.0, 0.0, 0.0), rotate=(0.0, 0.0, turn))
        quest = Quest(
            standing=start,
            others=(vessel,),
            ports=(),
            theirs=(),
            mounted=(),
            around=around,
            box_gap=0.01,
        )
        moves = rng.uniform((-0.9, -0.7, 0.0), (0.9, 0.7, 0.5), (80, 3))
        moves[::2, 2] = 0.0
        kept = clear_moves(quest, moves)
        for move, keep in zip(moves, kept, strict=True):
            judged = judge(replace(start, at=as_point(move)), (vessel,), around, 0.01)
            passes = not judged.fails and not judged.doubtful
            passed += passes
            assert keep or not passes
    assert passed > 20


def test_unseen_cells_at_a_surface_count_as_noise() -> None:
    """Behind a wall the first layers of unseen cells do not bar a box, all further ones do."""
    space = noisy_room()
    barring = barring_cells(space)
    centres = space.grid.centre(np.argwhere(barring))
    room_box = upright_box((-1.0, -0.75, 0.0), (1.0, 0.75, 1.2))
    assert room_box.distance(centres).min() > space.accuracy
    unseen = unseen_where(space, (-0.3, -0.3, 0.3), (0.3, 0.3, 0.9))
    inner = barring_cells(unseen)[(unseen.label == UNSEEN) & (space.label == FREE)]
    assert inner.all()
