"""Made-up hoses: which length to order, and whether it can be routed, at rest and
under pressure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial

from fitcheck.findings.said import quantity, say
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.routes import Assembly, HoseRoute, Unrouted
from fitcheck.model.given.cutting import assembly_step, is_assembly, lasting_length, rounded_up
from fitcheck.model.given.kit import Allowances
from fitcheck.model.given.scenario import Scenario
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.recall import EVERYWHERE, Reach, Recall, rows_of
from fitcheck.routing.lay.sets import Outcome
from fitcheck.routing.lengths.stock import MET, laid_at_length
from fitcheck.routing.told.pieces import bends_of, legs_of
from fitcheck.routing.world.obstacles import Obstacles, Tube, stubs_beside, tube
from fitcheck.routing.world.ports import Job
from fitcheck.units import Metre, Ratio

#: Allowed elongation of a high-pressure hose under pressure (tables of hydraulic hose practice
#: quoting SAE, +2 / -4 % length under pressure; the 4 % is an allowance of the kit).
LONGER: Ratio = 0.02
#: Number of stock lengths tried, from the shortest that reaches.
TRIED = 4
SOURCE = "hydraulic hose practice: length under pressure +2 % / -4 %"


def with_assemblies(
    scenario: Scenario,
    obstacles: Obstacles,
    jobs: Sequence[Job],
    outcomes: Sequence[Outcome],
    hoses: Sequence[HoseRoute | Unrouted],
    recall: Recall,
    reaches: Mapping[str, Metre] | None = None,
) -> tuple[HoseRoute | Unrouted, ...]:
    """The hoses in the order of the jobs; assemblies get the length to order and their route.

    A hose routed with excess occupies its new position for those after it.

    reaches : for each line, the distance its hose must still reach when it has shortened [m]
    """
    reaches = reaches or {}
    laid = {n: outcome for n, outcome in enumerate(outcomes) if isinstance(outcome, Routed)}
    lost = [job for n, job in enumerate(jobs) if n not in laid]
    told = list(hoses)
    for number, hose in enumerate(hoses):
        routed = laid.get(number)
        if routed is None or not isinstance(hose, HoseRoute):
            continue
        if not is_assembly(routed.job.line, routed.job.hose):
            continue
        others = [tube(other.curve, other.job) for key, other in laid.items() if key != number]
        tubes = others + stubs_beside(routed.job, [routed.job, *lost])
        assembly, lay = recall.ask(
            "assembly",
            routed.job,
            rows_of(obstacles, routed.job, tubes),
            partial(
                _chosen,
                obstacles,
                routed,
                tubes,
                scenario.kit.allowances,
                hose.uncertainty,
                reaches.get(hose.line, 0.0),
            ),
            partial(_reach, routed.job),
            given=(routed, reaches.get(hose.line, 0.0)),
        )
        told[number] = replace(hose, assembly=assembly)
        laid[number] = lay or routed
    return tuple(told)


def _reach(job: Job, found: tuple[Assembly | None, Routed | None]) -> Reach:
    """The region in which a change could alter the answer; unlimited where the answer was no."""
    assembly = found[0]
    if assembly is None or not assembly.stands:
        return EVERYWHERE
    return Reach(length=assembly.length * (1.0 + LONGER), room=job.need)


def _chosen(
    obstacles: Obstacles,
    routed: Routed,
    tubes: Sequence[Tube],
    allowances: Allowances,
    unsure: Metre,
    reach: Metre,
) -> tuple[Assembly | None, Routed | None]:
    """The shortest stock length that can be routed, else the shortest that reaches; and its route.

    reach : distance the hose must still reach when it has shortened [m]
    """
    line, sold = routed.job.line, routed.job.hose.sold
    stock = sold.lengths if sold.by == "assembly" else ()
    lasting = 1.0 - (allowances.high_pressure_slack if line.duty == "high pressure" else 0.0)
    needed = lasting_length(routed.curve.length, line, allowances, unsure)
    if reach / lasting > needed:
        needed = rounded_up(reach / lasting, assembly_step(reach / lasting))
    if stock:
        least = (routed.curve.length + unsure) * (1.0 + allowances.high_pressure_slack)
        least = max(least, reach / lasting)
        lengths = [length for length in sorted(set(stock)) if length >= least - MET][:TRIED]
    else:
        lengths = [needed]
    found = []
    for length in lengths:
        found.append(_judged(obstacles, routed, tubes, length, bool(stock), allowances))
        if found[-1][0].stands:
            return found[-1]
    return next((one for one in found if one[0].laid), found[0]) if found else (None, None)


def _judged(
    obstacles: Obstacles,
    routed: Routed,
    tubes: Sequence[Tube],
    length: Metre,
    stock: bool,
    allowances: Allowances,
) -> tuple[Assembly, Routed | None]:
    lay = laid_at_length(obstacles, routed, length, tubes)
    longer = shorter = None
    if lay and routed.job.line.duty == "high pressure":
        longer = _lies(obstacles, routed, length * (1.0 + LONGER), tubes)
        shorter = _lies(obstacles, routed, length * (1.0 - allowances.high_pressure_slack), tubes)
    assembly = Assembly(
        length=length,
        stock=stock,
        laid=lay is not None,
        longer=longer,
        shorter=shorter,
        legs=legs_of(lay.curve) if lay else (),
        bends=bends_of(lay.curve) if lay else (),
    )
    return assembly, lay


def _lies(obstacles: Obstacles, routed: Routed, length: Metre, tubes: Sequence[Tube]) -> bool:
    return laid_at_length(obstacles, routed, length, tubes, gentlest=False) is not None


# --- what is said of them ---------------------------------------------------------------------


def assembly_findings(hoses: Iterable[HoseRoute | Unrouted]) -> list[Finding]:
    """Pass or fail for every assembly; all that pass share one note."""
    made_up = [hose for hose in hoses if isinstance(hose, HoseRoute) and hose.assembly]
    good = [hose for hose in made_up if hose.assembly and hose.assembly.stands]
    findings = [_stands(good)] if good else []
    for hose in made_up:
        if hose.assembly and not hose.assembly.laid:
            findings.append(_not_laid(hose, hose.assembly))
        elif hose.assembly and not hose.assembly.stands:
            findings.append(_not_under_pressure(hose, hose.assembly))
    return findings


def _stands(good: list[HoseRoute]) -> Finding:
    rows = [
        say(
            "assembly-laid.line",
            line=hose.line,
            whole=quantity(hose.assembly.length, "run"),
            more=quantity(hose.assembly.length - hose.length, "length"),
        )
        for hose in good
        if hose.assembly
    ]
    pressure = any(hose.assembly and hose.assembly.shorter for hose in good)
    said = say("assembly-laid.under-pressure" if pressure else "assembly-laid.laid", hoses=rows)
    tightest = min(good, key=lambda hose: hose.line)
    return Finding(
        severity="note",
        rule="assembly-laid",
        subject=tightest.line,
        said=said,
        source=SOURCE if pressure else "how the hose is sold, as the kit says",
    )


def _not_laid(hose: HoseRoute, assembly: Assembly) -> Finding:
    excess = assembly.length - hose.length
    sold = say("assembly-not-laid.stock" if assembly.stock else "assembly-not-laid.to-length")
    return Finding(
        severity="caution",
        rule="assembly-not-laid",
        subject=hose.line,
        said=say(
            "assembly-not-laid.none",
            whole=quantity(assembly.length, "run"),
            sold=sold,
            line=hose.line,
            excess=quantity(excess, "length"),
            radius=quantity(hose.required_bend_radius, "length"),
        ),
        source="how the hose is sold, as the kit says",
        value=excess,
        limit=0.0,
        unit="m",
        place=hose.start,
        remedy=Remedy(said=say("assembly-not-laid.remedy")),
    )


def _not_under_pressure(hose: HoseRoute, assembly: Assembly) -> Finding:
    lies = (
        (say("assembly-under-pressure.longer"), assembly.longer),
        (say("assembly-under-pressure.shorter"), assembly.shorter),
    )
    return Finding(
        severity="caution",
        rule="assembly-under-pressure",
        subject=hose.line,
        said=say(
            "assembly-under-pressure.not",
            line=hose.line,
            whole=quantity(assembly.length, "run"),
            when=[which for which, kept in lies if kept is False],
        ),
        source=SOURCE,
        value=assembly.length,
        limit=hose.length,
        unit="m",
        place=hose.start,
        remedy=Remedy(said=say("assembly-under-pressure.remedy")),
    )
