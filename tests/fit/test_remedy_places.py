"""Remedies: a box is only moved where it is supported, and a change may not add a fail."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from fitcheck import pipeline
from fitcheck.findings.said import as_written
from fitcheck.fit import check_fit, stands_lower
from fitcheck.model.finding import Finding
from fitcheck.model.found.fit import Fit
from fitcheck.model.given.kit import Module
from fitcheck.model.given.scenario import Placement, Scenario
from fitcheck.scenario import read_scenario
from fitcheck.space import survey
from fitcheck.units import parse
from tests.layouts import dangers
from tests.specimens import boat, hand_made_space, kit, layout, scenario
from tests.specimens.fit import ENGINE, changed, fails, module, needs, plan, scanned
from tests.specimens.mended import mended_fit

MOST = 2.0


def pump_at(height: float, *others: tuple[str, float]) -> Scenario:
    """A pump fixed by its base or back, its base at a height above the sole, and others."""
    plain = Module(
        name="pump",
        size=(0.3, 0.2, 0.25),
        mass=5.0,
        stands="upright",
        ports=(),
        service=(),
        fixed_by=("base",),
        fixing_given=True,
    )
    rows = (("pump", height), *others)
    places = [Placement(module=name, at=(0.0, 0.1, z), rotate=(0.0,) * 3) for name, z in rows]
    modules = tuple(replace(plain, name=name) for name, _ in rows)
    return scenario(boat("room.ply"), kit=kit(modules=modules), layout=layout(*places))


def test_a_lowered_box_is_put_on_the_sole_below_it() -> None:
    stands = stands_lower(pump_at(0.30), hand_made_space())
    assert stands("pump", 0.05, MOST) == pytest.approx(0.30)


def test_a_box_is_not_put_through_the_sole() -> None:
    stands = stands_lower(pump_at(0.30), hand_made_space())
    assert stands("pump", 0.40, MOST) is None
    assert stands_lower(pump_at(0.0), hand_made_space())("pump", 0.05, MOST) is None


def test_a_box_is_put_neither_into_another_nor_on_it() -> None:
    """Another module on the sole below: it supports nothing."""
    stands = stands_lower(pump_at(0.45, ("filter", 0.0)), hand_made_space())
    assert stands("pump", 0.05, MOST) is None
    assert stands("pump", 0.40, MOST) is None


def test_a_box_sunk_into_the_sole_is_raised_just_onto_it() -> None:
    """Anywhere above the sole it would be clear too, but unsupported."""
    asked = pump_at(-0.017)
    (remedy,) = {
        row.remedy
        for row in mended_fit(asked, hand_made_space()).findings
        if row.remedy and row.severity == "fail"
    }
    assert remedy is not None
    ((x, y, z),) = [change.value for change in remedy.changes]
    assert parse(z, "length") == pytest.approx(0.0, abs=1e-9)
    there = Placement(
        module="pump", at=(parse(x, "length"), parse(y, "length"), 0.0), rotate=(0.0,) * 3
    )
    after = mended_fit(replace(asked, layout=layout(there)), hand_made_space())
    assert after.module("pump").carried_by
    assert "a board" not in remedy.text


@pytest.mark.parametrize(
    "name",
    [
        "pump_sunk_into_the_sole",
        # a rotation about it is 50 mm away, uncertain and unsupported
        "vessel_ends_in_the_bulkhead",
        "pumps_in_one_another",
        "pump_on_its_side",
        "pump_upside_down_under_the_deck",
        "no_port_side_in_the_drawing",
    ],
)
def test_moving_a_whole_layout_adds_no_finding(tmp_path: Path, name: str) -> None:
    danger = next(row for row in dangers() if row.bay.name == name)
    scene = read_scenario(danger.bay.write(tmp_path))
    space = survey(scene)
    rows = barred(mended_fit(scene, space))
    moves = {row.remedy.changes: row.remedy for row in rows if row.remedy and row.remedy.changes}
    assert moves
    for remedy in moves.values():
        left = {key(row) for row in barred(check_fit(changed(scene, remedy), space))}
        assert left <= {key(row) for row in rows}
        assert not left & {key(row) for row in rows if row.remedy == remedy}
        assert "It fits there" in remedy.text
        assert "a board" not in remedy.text


def test_a_move_of_the_obstacle_comes_last(tmp_path: Path) -> None:
    """No longer on its side, the pump is where it was intended, with its ports free."""
    danger = next(row for row in dangers() if row.bay.name == "pump_on_its_side")
    scene = read_scenario(danger.bay.write(tmp_path))
    remedy = fails(mended_fit(scene, survey(scene)))[0].remedy
    assert remedy is not None
    assert changed(scene, remedy).layout.placements[1].at == pytest.approx((-0.2, 0.74, -0.4))


@pytest.mark.parametrize("seed", range(10))
def test_a_move_resolves_what_it_claims(seed: int) -> None:
    """Random boxes in a scanned room; the place fits certainly, or its uncertainty is stated."""
    rng = np.random.default_rng(1000 + seed)
    space = scanned(hand_made_space([ENGINE]), float(rng.choice([0.003, 0.012])))
    pairs = []
    for number in range(3):
        box = module(
            f"m{number}",
            rng.uniform(0.12, 0.4, 3),
            service=needs(rng.choice(["front", "left"]), float(rng.uniform(0.05, 0.3))),
            fixed_by=("base", "back") if number else ("base",),
            fixing_given=True,
        )
        at = rng.uniform((-0.95, -0.7, -0.03), (0.95, 0.7, 0.3))
        pairs.append((box, at, (0.0, 0.0, float(rng.choice([0.0, 90.0, 180.0])))))
    scene = plan(*pairs, scan=True)
    rows = barred(mended_fit(scene, space))
    assert rows
    for found in rows:
        assert found.remedy is not None
        if not found.remedy.changes:
            continue
        mover = found.remedy.changes[0].key.split(".")[2]
        after = check_fit(changed(scene, found.remedy), space)
        left = {key(row) for row in barred(after)}
        assert key(found) not in left
        fit = after.module(mover)
        assert ("it needs a board" in found.remedy.text) == (not fit.carried_by)
        if "It fits there" in found.remedy.text:
            assert fit.verdict == "fits"
            assert all(row.verdict == "clear" for row in fit.service)
            assert {name for _, name in left} <= {row.subject for row in rows}
        else:
            assert "Measure before cutting" in found.remedy.text


def barred(fit: Fit) -> list[Finding]:
    return [row for row in fit.findings if row.severity == "fail" or row.bars]


def key(found: Finding) -> tuple[str, str]:
    return found.rule, found.subject


def test_an_uncertain_place_says_what_is_uncertain() -> None:
    """A shaft hardly wider than the box: nowhere in it is the required gap certain."""
    walls = [((x, -0.75, 0.0), (x + 0.05, 0.75, 1.2)) for x in (-0.225, 0.175)]
    space = scanned(hand_made_space(walls), 0.030)
    box = module("pump", (0.30, 1.44, 0.25), fixed_by=("base",), fixing_given=True)
    scene = plan((box, (0.0, 0.0, -0.06)), scan=True)
    remedy = fails(mended_fit(scene, space))[0].remedy
    assert remedy is not None
    assert "The fit there is uncertain. Measure before cutting: " in remedy.text
    assert re.search(r"gap to hull or joinery .* ± .*, 10 mm required", remedy.text)


def test_a_box_that_must_move_gets_a_move_and_no_board() -> None:
    """A sunk box is not supported either, and is close to what is below the sole."""
    found = [row for row in mended_fit(pump_at(-0.017), hand_made_space()).findings if row.bars]
    assert {row.rule for row in found} >= {"not-carried"}
    for row in found:
        assert row.remedy is not None
        assert row.remedy.changes, row.text
        assert "a board" not in row.remedy.text


def test_a_box_under_the_deck_goes_down_to_the_sole() -> None:
    """Upside down and higher than a box is normally moved; only the sole supports it."""
    asked = pump_at(1.2)
    turned = Placement(module="pump", at=(0.0, 0.1, 1.2), rotate=(math.pi, 0.0, 0.0))
    (found,) = fails(mended_fit(replace(asked, layout=layout(turned)), hand_made_space()))
    assert found.remedy is not None
    at = [parse(text, "length") for text in found.remedy.changes[0].value]
    assert at == pytest.approx([0.0, 0.1, 0.0])
    assert "a board" not in found.remedy.text


def test_a_box_that_overlaps_another_is_still_supported_by_the_sole() -> None:
    rows = ((module(name), (x, 0.1, 0.001)) for name, x in (("pump", 0.0), ("filter", 0.25)))
    fit = check_fit(plan(*rows), hand_made_space())
    assert {row.rule for row in fit.findings if row.severity != "note"} == {"clash"}


def row(severity: str, rule: str, subject: str, *bars: str) -> Finding:
    return Finding(
        severity=severity,  # type: ignore[arg-type]
        rule=rule,
        subject=subject,
        said=as_written(""),
        source="",
        bars=bars,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize(
    ("before", "after", "worse"),
    [
        ([], [], False),
        ([], [row("fail", "no-route", "a")], True),
        ([row("fail", "no-route", "a")], [row("fail", "no-route", "a")], False),
        ([row("fail", "no-route", "a")], [row("fail", "no-route", "b")], True),
        ([], [row("caution", "tight", "a")], False),
        ([], [row("note", "hanging-free", "a", "order_hoses")], True),
        (
            [row("note", "hanging-free", "a", "order_hoses")],
            [row("note", "hanging-free", "b", "order_hoses")],
            False,
        ),
    ],
)
def test_only_new_findings_make_a_trial_worse(
    before: list[Finding], after: list[Finding], worse: bool
) -> None:
    assert pipeline._worse(before, after) == worse


@pytest.mark.parametrize("stage", ["check_fit", "route_hoses", "make_order"])
@pytest.mark.parametrize("new", [False, True])
def test_a_trial_checks_boxes_hoses_and_order(
    monkeypatch: pytest.MonkeyPatch, stage: str, new: bool
) -> None:
    """One hose failed before and after the change; `stage` adds another fail."""
    lost = row("fail", "no-route", "a")
    before, after = pump_at(0.0), pump_at(0.1)

    def findings(name: str, of: Scenario) -> SimpleNamespace:
        more = [row("fail", "too-long", "b")] if new and name == stage and of is after else []
        return SimpleNamespace(findings=(lost, *more))

    for name in ("check_fit", "route_hoses", "make_order"):
        monkeypatch.setattr(pipeline, name, lambda of, *_, name=name, **__: findings(name, of))
    monkeypatch.setattr(pipeline, "solve_water", lambda *_, **__: "solved")
    rest = [findings(name, before) for name in ("check_fit", "route_hoses")]
    again = pipeline.trial(before, hand_made_space(), *rest)  # type: ignore[arg-type]
    assert again(after) == (None if new else "solved")  # type: ignore[comparison-overlap]
