"""All modules of a layout, judged one by one, with findings and remedies."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fitcheck.findings.said import say
from fitcheck.fit.boards import check_boards
from fitcheck.fit.carrying import NOT_CARRIED, carried_by, not_carried
from fitcheck.fit.handling import (
    hatch_findings,
    leans,
    lifting_finding,
    standing_finding,
)
from fitcheck.fit.measured.glimpsed import judge_as_seen
from fitcheck.fit.measured.judge import Judgement, judge
from fitcheck.fit.measured.surroundings import Surroundings, surround
from fitcheck.fit.offered.joinery import Joinery
from fitcheck.fit.offered.remedy import Mender
from fitcheck.fit.wording import Told, findings_of, length
from fitcheck.model.finding import Assumption, Change, Finding, Remedy, Tell, silent
from fitcheck.model.found.fit import BoardFit, Fit
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.placed import PlacedModule
from fitcheck.model.progress import part
from fitcheck.units import Metre, write

#: Between a module and what it is not fixed to; common practice, no source.
USUAL_GAP: Metre = 0.010


@dataclass(frozen=True, eq=False, kw_only=True)
class _Judged:
    """The compartment, its modules and the judgement of each, in the same order."""

    around: Surroundings
    standings: tuple[PlacedModule, ...]
    each: tuple[Judgement, ...]


def check_fit(scenario: Scenario, space: Space, tell: Tell = silent) -> Fit:
    """Judge every placed module against the mesh, unseen space, keep-outs and the other modules.

    Gaps are exact to the triangles; a verdict includes the uncertainty of the mesh (its accuracy,
    and its scale's error times the distance from the frame's origin).
    """
    judged = _judge_all(scenario, space)
    tell(f"{len(judged.each)} modules measured")
    boards = check_boards(judged.around)
    return Fit(
        modules=tuple(row.fit for row in judged.each),
        findings=_findings(scenario, judged, boards, _mender(scenario, judged)),
        assumptions=_assumptions(scenario, judged.around, judged.each),
        boards=boards,
    )


def mend_fit(scenario: Scenario, space: Space, fit: Fit, tell: Tell = silent) -> Fit:
    """The fit with a place for every failing module, judged first like its own."""
    if all(row.severity != "fail" for row in fit.findings):
        return fit
    judged = _judge_all(scenario, space)
    mender = _mender(scenario, judged)
    for done, (standing, verdict) in enumerate(zip(judged.standings, judged.each, strict=True)):
        part(tell, "modules with a remedy looked for", done, len(judged.each))
        if verdict.fails or leans(standing.module, standing.box):
            tell(f"searching for a position for {standing.module.name}")
            mender.mend(standing.module.name, verdict)
    return replace(fit, findings=_findings(scenario, judged, fit.boards, mender))


def _judge_all(scenario: Scenario, space: Space) -> _Judged:
    around = surround(space, scan=scenario.boat.origin == "scan")
    standings, gap = scenario.placed.modules, scenario.kit.allowances.box_gap
    seen = surround(space.as_seen, scan=True) if space.as_seen else None
    judged = (_judged(row, standings, around, seen, gap) for row in standings)
    each = tuple(
        replace(row, fit=replace(row.fit, carried_by=carried_by(place, around)))
        for place, row in zip(standings, judged, strict=True)
    )
    return _Judged(around=around, standings=standings, each=each)


def _judged(
    one: PlacedModule,
    all_of_them: tuple[PlacedModule, ...],
    around: Surroundings,
    seen: Surroundings | None,
    gap: Metre,
) -> Judgement:
    others = tuple(row for row in all_of_them if row is not one)
    return judge_as_seen(judge(one, others, around, gap), one, others, seen, gap)


def _mender(scenario: Scenario, judged: _Judged) -> Mender:
    return Mender(scenario, judged.standings, judged.around)


def _findings(
    scenario: Scenario, judged: _Judged, boards: tuple[BoardFit, ...], mender: Mender
) -> tuple[Finding, ...]:
    gap, told, around = scenario.kit.allowances.box_gap, set[Told](), judged.around
    joinery = Joinery(around=around, boards=boards, standings=judged.standings, box_gap=gap)
    found: list[Finding] = []
    for standing, verdict in zip(judged.standings, judged.each, strict=True):
        module = standing.module
        found += findings_of(verdict, gap, told, mender.cure, mender.settles)
        leaning = standing_finding(module, standing.box, mender.cure(module.name))
        extra = (leaning, lifting_finding(module))
        found += [row for row in extra if row is not None]
        if not verdict.fit.carried_by:
            cure = mender.settles(module.name, NOT_CARRIED)
            found.append(not_carried(standing, verdict.fit, joinery, cure))
    if gap <= 0.0:
        found.append(_no_gap(scenario.kit_file))
    found += joinery.findings()
    found += hatch_findings(tuple(row.module for row in judged.standings), around)
    return tuple(found)


def _no_gap(file: str) -> Finding:
    """Boxes laid out touching things they are not fixed to."""
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
            changes=(Change(file=file, key="kit.allowances.box_gap", value=usual, kind="length"),),
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
                source="the mesh's accuracy and thin packing; common practice, no source",
                can_flip=True,
            )
        )
    return tuple(rows)
