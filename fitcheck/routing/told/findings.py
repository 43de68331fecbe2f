"""Findings of the routing stage: radius kept, clearances near the scan's accuracy, no route."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitcheck.findings.said import length, quantity, say, where
from fitcheck.model.contact import by_a_hose, worst
from fitcheck.model.finding import Assumption, Change, Finding, Remedy
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.found.space import Space
from fitcheck.model.given.kit import Hose
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.uncertainty import verdict_of
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.port_fittings import route_fitted
from fitcheck.routing.lay.sets import Outcome
from fitcheck.routing.lengths.assemblies import assembly_findings
from fitcheck.routing.told.mounting import wander_findings
from fitcheck.routing.world.obstacles import Obstacles, stubs_beside, tube
from fitcheck.routing.world.ports import Job, with_hose
from fitcheck.units import Metre

#: A high-pressure hose whose chord exceeds this share of its length runs nearly straight: its
#: bends must provide the slack for 4 % shortening (tables of hydraulic hose practice quoting SAE,
#: +2 / -4 % length under pressure).
NEARLY_STRAIGHT = 1.0 - 0.04
COMMON = "common practice, no source"
#: Gap around a hose where the kit requires none; common practice, no source.
USUAL_GAP: Metre = 0.010


def judge(
    scenario: Scenario,
    space: Space,
    obstacles: Obstacles,
    jobs: Sequence[Job],
    outcomes: Sequence[Outcome],
    hoses: Sequence[HoseRoute | Unrouted],
) -> tuple[tuple[Finding, ...], tuple[Assumption, ...]]:
    """All findings and assumptions of the routing stage."""
    routed = [hose for hose in hoses if isinstance(hose, HoseRoute)]
    findings = [
        _no_route(scenario, obstacles, jobs, outcomes, hose)
        for hose in hoses
        if isinstance(hose, Unrouted)
    ]
    findings += _weakly_scanned(routed)
    findings += _unsure_clearances(scenario, routed)
    findings += _straight_pressure_hoses(scenario, routed)
    findings += assembly_findings(routed)
    findings += wander_findings(routed, scenario.kit.allowances.mounting)
    findings += _radius_kept(routed)
    findings += _no_clearances(scenario)
    return tuple(findings), _assumptions(scenario, routed)


def _no_clearances(scenario: Scenario) -> list[Finding]:
    """A caution for zero allowances: hoses drawn touching chafe."""
    allowances = scenario.kit.allowances
    asked = (
        ("hose_clearance", say("no-clearance.round"), allowances.hose_clearance),
        ("hose_gap", say("no-clearance.between"), allowances.hose_gap),
    )
    return [
        Finding(
            severity="caution",
            rule="no-clearance",
            subject=key,
            said=said,
            source=COMMON,
            value=0.0,
            limit=USUAL_GAP,
            unit="m",
            bars=("order_hoses",),
            remedy=Remedy(
                said=say("no-clearance.remedy", allowance=key, usual=length(USUAL_GAP)),
                changes=(
                    Change(
                        file=scenario.kit_file,
                        key=f"kit.allowances.{key}",
                        value=f"{USUAL_GAP * 1e3:.0f} mm",
                        kind="length",
                    ),
                ),
            ),
        )
        for key, said, value in asked
        if value <= 0.0
    ]


def _no_route(
    scenario: Scenario,
    obstacles: Obstacles,
    jobs: Sequence[Job],
    outcomes: Sequence[Outcome],
    hose: Unrouted,
) -> Finding:
    return Finding(
        severity="fail",
        rule="no-route",
        subject=hose.line,
        said=say("no-route.none", line=hose.line, why=hose.said),
        source="the kit's bend radius and clearances",
        value=hose.missing,
        limit=0.0,
        unit="m",
        place=hose.nearest_approach,
        remedy=_other_hose(scenario, obstacles, jobs, outcomes, hose),
        # A hose without a route may need its boxes moved, and moved boxes need other joinery.
        bars=("cut_joinery", "order_hoses"),
    )


def _other_hose(
    scenario: Scenario,
    obstacles: Obstacles,
    jobs: Sequence[Job],
    outcomes: Sequence[Outcome],
    hose: Unrouted,
) -> Remedy:
    """A hose of the kit that finds a route and is as good in bore, rating and wall;
    else no key.
    """
    number = next(n for n, job in enumerate(jobs) if job.line.name == hose.line)
    job = jobs[number]
    laid = [tube(other.curve, other.job) for other in outcomes if isinstance(other, Routed)]
    for other in sorted(scenario.kit.hoses, key=lambda kind: (kind.bore, kind.min_bend_radius)):
        if not _as_good(other, job.hose):
            continue
        trial = with_hose(scenario, job, other)
        if isinstance(route_fitted(obstacles, trial, stubs_beside(job, jobs) + laid), Routed):
            change = Change(
                file=scenario.layout_file, key=f"layout.lines.{hose.line}.hose", value=other.name
            )
            radius = quantity(other.min_bend_radius, "gap")
            said = say("no-route.other-hose", hose=other.name, radius=radius)
            return Remedy(said=said, changes=(change,))
    return Remedy(said=say("no-route.move"))


def _as_good(other: Hose, hose: Hose) -> bool:
    """Whether a hose may replace another and is easier to route."""
    easier = (
        other.min_bend_radius < hose.min_bend_radius
        or other.outside_diameter < hose.outside_diameter
    )
    wall = other.wall == "reinforced" or hose.wall == "soft"
    strong = other.pressure_rating >= hose.pressure_rating
    return other.name != hose.name and easier and wall and strong and other.bore >= hose.bore


def _weakly_scanned(routed: Sequence[HoseRoute]) -> list[Finding]:
    """One caution for every hose with a route only through what was seen, not beyond doubt."""
    return [
        Finding(
            severity="caution",
            rule="touch",
            subject=hose.line,
            said=say("touch.hose", line=hose.line, at=where(met.place or hose.start)),
            source="the mesh and its viewpoints",
            value=met.gap,
            limit=met.asked + met.uncertainty,
            unit="m",
            place=met.place,
            bars=("order_hoses",),
            remedy=Remedy(said=say("touch.hose-remedy", at=where(met.place or hose.start))),
        )
        for hose in routed
        if (met := hose.weak) is not None
    ]


def _unsure_clearances(scenario: Scenario, routed: Sequence[HoseRoute]) -> list[Finding]:
    """One caution for all hoses whose clearance is uncertain."""
    rows = [(hose, worst(hose.contacts)) for hose in routed]
    near = [
        (hose, met)
        for hose, met in rows
        if met is not None and verdict_of(met.gap, met.uncertainty) != "clear"
    ]
    if not near:
        return []
    least, met = min(near, key=lambda row: row[1].margin)
    ask = math.ceil(max(met.uncertainty for _, met in near) * 1e3 - 1e-6) * 1e-3
    said = say(
        "clearance-accuracy.near",
        near=len(near),
        routed=len(routed),
        hoses=[hose.line for hose, _ in near],
        line=least.line,
        gap=quantity(met.gap, "gap"),
        unsure=quantity(met.uncertainty, "gap"),
        met=by_a_hose(met.kind, met.subject),
    )
    unseen = met.kind == "unseen"
    look = say("clearance-accuracy.scan" if unseen else "clearance-accuracy.measure")
    # with more clearance a hose may find no route at all, so no key is written for it
    remedy = Remedy(said=say("clearance-accuracy.remedy", look=look, ask=quantity(ask, "gap")))
    return [
        Finding(
            severity="caution",
            rule="clearance-accuracy",
            subject=least.line,
            said=said,
            source="uncertainty of the boat frame (95 %)",
            value=met.gap,
            limit=met.uncertainty,
            unit="m",
            place=met.place,
            remedy=remedy,
            bars=("order_hoses",),
        )
    ]


def _straight_pressure_hoses(scenario: Scenario, routed: Sequence[HoseRoute]) -> list[Finding]:
    findings = []
    for hose in routed:
        share = math.dist(hose.start, hose.end) / hose.length
        if scenario.kit.line(hose.line).duty != "high pressure" or share < NEARLY_STRAIGHT:
            continue
        if hose.assembly and hose.assembly.stands:
            continue
        percent = round(100 * share)
        findings.append(
            Finding(
                severity="caution",
                rule="straight-pressure-hose",
                subject=hose.line,
                said=say("straight-pressure-hose.straight", line=hose.line, percent=percent),
                source="hydraulic hose practice: length under pressure +2 % / -4 %",
                value=share,
                limit=NEARLY_STRAIGHT,
                unit="1",
                place=hose.start,
                remedy=Remedy(said=say("straight-pressure-hose.remedy")),
            )
        )
    return findings


def _radius_kept(routed: Sequence[HoseRoute]) -> list[Finding]:
    if not routed:
        return []
    tightest = min(routed, key=_tightness)
    return [
        Finding(
            severity="note",
            rule="bend-radius",
            subject=tightest.line,
            said=say("bend-radius.kept", hoses=len(routed)),
            source="the kit's hoses",
            value=tightest.smallest_bend_radius,
            limit=tightest.required_bend_radius,
            unit="m",
        )
    ]


def _tightness(hose: HoseRoute) -> Metre:
    return (hose.smallest_bend_radius or math.inf) - hose.required_bend_radius


def _assumptions(scenario: Scenario, routed: Sequence[HoseRoute]) -> tuple[Assumption, ...]:
    allowances = scenario.kit.allowances
    asked = (
        ("hose_clearance", say("hoses.clearance"), allowances.hose_clearance),
        ("hose_gap", say("hoses.gap"), allowances.hose_gap),
        ("straight", say("hoses.straight"), allowances.straight),
    )
    if not routed:
        return ()
    return tuple(
        Assumption(
            said=said,
            taken=say("hoses.taken", value=quantity(value, "gap")),
            source=COMMON,
            can_flip=False,
        )
        for key, said, value in asked
        if key not in allowances.given
    )
