"""All modules of a layout, judged one by one, with what to say and what to move."""

from __future__ import annotations

from dataclasses import replace

from fitcheck.findings.said import say
from fitcheck.fit.boards import check_boards
from fitcheck.fit.carrying import NOT_CARRIED, carried_by, not_carried
from fitcheck.fit.handling import (
    hatch_findings,
    lifting_finding,
    standing_finding,
)
from fitcheck.fit.measured.judge import Judgement, judge
from fitcheck.fit.measured.surroundings import Surroundings, surround
from fitcheck.fit.offered.joinery import Joinery
from fitcheck.fit.offered.remedy import Mender
from fitcheck.fit.wording import Told, findings_of, length
from fitcheck.model.finding import Assumption, Change, Finding, Remedy, Tell, silent
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.placed import PlacedModule
from fitcheck.units import Metre, write

#: Between a module and what it is not fixed to; common practice, no source.
USUAL_GAP: Metre = 0.010


def check_fit(scenario: Scenario, space: Space, tell: Tell = silent, *, mend: bool = True) -> Fit:
    """Judge every placed module against the mesh, unseen space, keep-outs and the other modules.

    Gaps are exact to the triangles; a verdict counts what the mesh may be wrong by (its accuracy,
    and its scale's error times the distance from the frame's origin). A module that does not fit
    is a finding whose remedy was judged in the same way before it is told; without `mend` none
    is looked for.
    """
    around = surround(space, scan=scenario.boat.origin == "scan")
    standings = scenario.placed.modules
    gap = scenario.kit.allowances.box_gap
    judged = tuple(
        judge(row, tuple(o for o in standings if o is not row), around, gap) for row in standings
    )
    judged = tuple(
        replace(row, fit=replace(row.fit, carried_by=carried_by(place, around)))
        for place, row in zip(standings, judged, strict=True)
    )
    tell(f"{len(judged)} modules measured")
    mender = Mender(scenario, standings, around)
    if mend:
        _mend(mender, standings, judged, tell)
    boards = check_boards(around)
    joinery = Joinery(around=around, boards=boards, standings=standings, box_gap=gap)
    findings = _findings(standings, judged, mender, joinery, gap, scenario.kit_file)
    findings += joinery.findings()
    findings += hatch_findings(tuple(row.module for row in standings), around)
    return Fit(
        modules=tuple(row.fit for row in judged),
        findings=tuple(findings),
        assumptions=_assumptions(scenario, around, judged),
        boards=boards,
    )


def _mend(
    mender: Mender,
    standings: tuple[PlacedModule, ...],
    judged: tuple[Judgement, ...],
    tell: Tell,
) -> None:
    for standing, verdict in zip(standings, judged, strict=True):
        name = standing.module.name
        leans = standing_finding(standing.module, standing.box, None) is not None
        if verdict.fails or leans:
            tell(f"looking for a place for {name}")
            mender.mend(name, verdict)


def _findings(
    standings: tuple[PlacedModule, ...],
    judged: tuple[Judgement, ...],
    mender: Mender,
    joinery: Joinery,
    gap: float,
    file: str,
) -> list[Finding]:
    told: set[Told] = set()
    found: list[Finding] = []
    for standing, verdict in zip(standings, judged, strict=True):
        module = standing.module
        found += findings_of(verdict, gap, told, mender.cure, mender.settles)
        leaning = standing_finding(module, standing.box, mender.cure(module.name))
        extra = (leaning, lifting_finding(module))
        found += [row for row in extra if row is not None]
        if not verdict.fit.carried_by:
            cure = mender.settles(module.name, NOT_CARRIED)
            found.append(not_carried(standing, verdict.fit, joinery, cure))
    if gap <= 0.0:
        found.append(_no_gap(file))
    return found


def _no_gap(file: str) -> Finding:
    """Boxes set out to touch what they are not fixed to."""
    usual = write(USUAL_GAP, "length", "mm")
    return Finding(
        severity="caution",
        rule="no-clearance",
        subject="box_gap",
        said=say("no-clearance.none"),
        source="common practice, no source",
        value=0.0,
        limit=USUAL_GAP,
        unit="m",
        bars=("cut_joinery", "order_hoses"),
        remedy=Remedy(
            said=say("no-clearance.remedy", allowance="box_gap", usual=length(USUAL_GAP)),
            changes=(Change(file=file, key="kit.allowances.box_gap", value=usual),),
        ),
    )


def _assumptions(
    scenario: Scenario, around: Surroundings, judged: tuple[Judgement, ...]
) -> tuple[Assumption, ...]:
    rows, gap = [], scenario.kit.allowances.box_gap
    if "box_gap" not in scenario.kit.allowances.given:
        rows.append(
            Assumption(
                said=say("assumed.box-gap"),
                taken=say("fit.length", length=length(gap)),
                source="common practice, no source",
                can_flip=False,
            )
        )
    rows += [
        Assumption(
            said=say("assumed.fixed-by", module=module.name),
            taken=say("assumed.faces", faces=module.fixed_by),
            source="common practice, no source; kit.modules.NAME.fixed_by says otherwise",
            can_flip=True,
        )
        for module in scenario.kit.modules
        if not module.fixing_given and any(row.fit.name == module.name for row in judged)
    ]
    if any(row.mounted for row in judged):
        rows.append(
            Assumption(
                said=say("assumed.fixed-to"),
                taken=say("fit.length", length=length(around.reach)),
                source="the mesh's accuracy and 3 mm of packing; common practice, no source",
                can_flip=True,
            )
        )
    return tuple(rows)
