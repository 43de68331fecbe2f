"""Remedies: a box goes only where it stands, and a change may bring no new fail."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from fitcheck import pipeline
from fitcheck.fit import check_fit, stands_lower
from fitcheck.model.finding import Finding
from fitcheck.model.kit import Module
from fitcheck.model.scenario import Placement, Scenario
from fitcheck.units import parse
from tests.specimens import boat, hand_made_space, kit, layout, scenario

MOST = 2.0


def pump_at(height: float, *others: tuple[str, float]) -> Scenario:
    """A pump that may stand or hang by its back, its base so high above the sole, and others."""
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


def test_a_box_asked_lower_is_put_on_the_sole_below_it() -> None:
    stands = stands_lower(pump_at(0.30), hand_made_space())
    assert stands("pump", 0.05, MOST) == pytest.approx(0.30)


def test_a_box_is_not_put_through_the_sole() -> None:
    stands = stands_lower(pump_at(0.30), hand_made_space())
    assert stands("pump", 0.40, MOST) is None
    assert stands_lower(pump_at(0.0), hand_made_space())("pump", 0.05, MOST) is None


def test_a_box_is_put_neither_into_another_nor_on_it() -> None:
    """Another module stands on the sole below: it carries nothing."""
    stands = stands_lower(pump_at(0.45, ("filter", 0.0)), hand_made_space())
    assert stands("pump", 0.05, MOST) is None
    assert stands("pump", 0.40, MOST) is None


def test_a_box_sunk_into_the_sole_is_raised_on_to_it_and_no_higher() -> None:
    """Anywhere above the sole it would be clear too, and hang in the air."""
    asked = pump_at(-0.017)
    (remedy,) = {
        row.remedy
        for row in check_fit(asked, hand_made_space()).findings
        if row.remedy and row.severity == "fail"
    }
    assert remedy is not None
    ((x, y, z),) = [change.value for change in remedy.changes]
    assert parse(z, "length") == pytest.approx(0.0, abs=1e-9)
    there = Placement(
        module="pump", at=(parse(x, "length"), parse(y, "length"), 0.0), rotate=(0.0,) * 3
    )
    after = check_fit(replace(asked, layout=layout(there)), hand_made_space())
    assert after.module("pump").carried_by
    assert "board" not in remedy.text


def row(severity: str, rule: str, subject: str, *bars: str) -> Finding:
    return Finding(
        severity=severity,  # type: ignore[arg-type]
        rule=rule,
        subject=subject,
        text="",
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
def test_a_trial_is_worse_by_what_is_new(
    before: list[Finding], after: list[Finding], worse: bool
) -> None:
    assert pipeline._worse(before, after) == worse


@pytest.mark.parametrize("stage", ["check_fit", "route_hoses", "make_order"])
@pytest.mark.parametrize("new", [False, True])
def test_a_trial_looks_at_boxes_hoses_and_order(
    monkeypatch: pytest.MonkeyPatch, stage: str, new: bool
) -> None:
    """One hose was lost before the change as after it; `stage` finds another fail after it."""
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
