"""The stage: cut list first, then the rows to order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from fitcheck.findings.said import length, quantity, say
from fitcheck.model.finding import Assumption, Finding
from fitcheck.model.found.hydraulics import Hydraulics
from fitcheck.model.found.order import Cut, Order
from fitcheck.model.found.routes import HoseRoute, Routes, Unrouted
from fitcheck.model.found.space import Space
from fitcheck.model.given.cutting import ASSEMBLY_STEPS, LEAST_SLACK, is_assembly
from fitcheck.model.given.scenario import Scenario
from fitcheck.order.cuts import cut_of
from fitcheck.order.fittings import CLIP_SPACING, fitting_items
from fitcheck.order.rolls import KERF
from fitcheck.order.tubing import tubing

COMMON_PRACTICE = "common practice, no source"


def make_order(scenario: Scenario, space: Space, routes: Routes, hydraulics: Hydraulics) -> Order:
    """The cut list and the rows to order for every routed hose.

    A hose without a route is left out and named in a finding; a piece longer than every roll or
    assembly sold fails.
    """
    found = [hose for hose in routes.hoses if isinstance(hose, HoseRoute)]
    cuts = tuple(_cut(scenario, route) for route in found)
    least = {
        route.line: (route.bound, _cut(scenario, _shortest(route)).cut_length) for route in found
    }
    rows, faults = tubing(scenario, cuts, failing_lines(hydraulics), least)
    return Order(
        cuts=cuts,
        items=(*rows, *fitting_items(scenario, space.flotation, found)),
        findings=(*faults, *_left_out(routes), *_straight(scenario, found)),
        assumptions=tuple(_assumptions(scenario, cuts)),
    )


def _cut(scenario: Scenario, route: HoseRoute) -> Cut:
    line = scenario.kit.line(route.line)
    allowances = scenario.kit.allowances
    return cut_of(route, line, scenario.hose_of(line), allowances)


def _shortest(route: HoseRoute) -> HoseRoute:
    """The route as if it had the shortest possible length."""
    return replace(route, length=route.bound, assembly=None)


def failing_lines(hydraulics: Hydraulics) -> frozenset[str]:
    """Lines whose hose the water side rejects: on its own account, or to resolve a fail of its
    side.
    """
    fails = [finding for finding in hydraulics.findings if finding.severity == "fail"]
    changed = {
        change.key.split(".")[2]
        for finding in fails
        if finding.remedy is not None
        for change in finding.remedy.changes
        if change.key.startswith("layout.lines.")
    }
    return frozenset(changed | {finding.subject for finding in fails})


def _left_out(routes: Routes) -> Iterator[Finding]:
    for hose in routes.hoses:
        if isinstance(hose, Unrouted):
            yield Finding(
                severity="caution",
                rule="not-ordered",
                subject=hose.line,
                said=say("not-ordered.no-way", line=hose.line),
                source="the routes",
            )


def _straight(scenario: Scenario, routes: list[HoseRoute]) -> Iterator[Finding]:
    """A high-pressure hose that runs straight pulls on its ends when it shortens."""
    share = scenario.kit.allowances.high_pressure_slack
    for route in routes:
        line = scenario.kit.line(route.line)
        bowed = route.assembly is not None and route.assembly.stands
        if line.duty == "high pressure" and not route.bends and not bowed:
            yield Finding(
                severity="caution",
                rule="straight-under-pressure",
                subject=route.line,
                said=say(
                    "straight-under-pressure.straight",
                    line=route.line,
                    share=quantity(share, "fraction"),
                    shorter=length(share * route.length),
                ),
                source=COMMON_PRACTICE,
                value=share * route.length,
                limit=0.0,
                unit="m",
            )


def _assumptions(scenario: Scenario, cuts: tuple[Cut, ...]) -> Iterator[Assumption]:
    allowances = scenario.kit.allowances
    ends, slack = length(allowances.end_allowance), quantity(allowances.slack, "fraction")
    shortening = quantity(allowances.high_pressure_slack, "fraction")
    asked = (
        ("end_allowance", say("ordered.end-allowance"), say("ordered.taken", value=ends)),
        (
            "slack",
            say("ordered.slack"),
            say("ordered.slack-taken", share=slack, least=length(LEAST_SLACK)),
        ),
        (
            "high_pressure_slack",
            say("ordered.high-pressure-slack"),
            say("ordered.taken", value=shortening),
        ),
    )
    for key, said, taken in asked:
        if key not in allowances.given:
            yield Assumption(
                said=said,
                taken=taken,
                source=COMMON_PRACTICE,
                can_flip=False,
            )
    lines = {cut.line for cut in cuts}
    made_up = [
        line
        for line in scenario.kit.lines
        if line.name in lines and is_assembly(line, scenario.hose_of(line))
    ]
    if made_up:
        steps = [length(step) for _, step in ASSEMBLY_STEPS]
        yield Assumption(
            said=say("ordered.assemblies"),
            taken=say("ordered.assemblies-taken", steps=steps),
            source=COMMON_PRACTICE,
            can_flip=False,
        )
    yield Assumption(
        said=say("ordered.cuts-and-clips"),
        taken=say("ordered.cuts-and-clips-taken", cut=length(KERF), clips=length(CLIP_SPACING)),
        source=COMMON_PRACTICE,
        can_flip=False,
    )
