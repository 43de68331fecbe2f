"""The routing stage: build jobs from the scenario, route all hoses, report results and
findings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.model.contact import Contact, Kind
from fitcheck.model.finding import Tell, silent
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.routes import HoseRoute, Routes, Unrouted
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.progress import part
from fitcheck.routing.lay.line import Blocked, Routed, verdict_of
from fitcheck.routing.lay.port_fittings import fitting_name, with_offers
from fitcheck.routing.lay.recall import Reach, Recall, rows_of
from fitcheck.routing.lay.sets import Outcome, route_all, route_lost
from fitcheck.routing.lengths.assemblies import with_assemblies
from fitcheck.routing.lengths.lasting import with_longer_assemblies
from fitcheck.routing.lengths.wander import with_wander
from fitcheck.routing.proof.holes import hole_findings, prove_all
from fitcheck.routing.search.bound import unobstructed_bound
from fitcheck.routing.told.clips import Clipping, clip_hose
from fitcheck.routing.told.findings import judge
from fitcheck.routing.told.pieces import bends_of, legs_of
from fitcheck.routing.told.reasons import explain
from fitcheck.routing.told.support import support_findings
from fitcheck.routing.world.obstacles import Obstacles, Tube, stubs_beside, tube
from fitcheck.routing.world.ports import Job, make_jobs
from fitcheck.routing.world.verify import contacts_of
from fitcheck.units import Metre

#: Longest step of the path stored with a route [m].
PATH_STEP = 0.005


@dataclass(frozen=True, eq=False, kw_only=True)
class _Lay:
    """All lines routed among the same obstacles; jobs, outcomes and hoses in the kit's order.

    recall : the cache of these obstacles
    """

    obstacles: Obstacles
    jobs: tuple[Job, ...]
    outcomes: Sequence[Outcome]
    recall: Recall
    clippings: Mapping[str, Clipping]
    hoses: tuple[HoseRoute | Unrouted, ...]


def route_hoses(
    scenario: Scenario,
    space: Space,
    fit: Fit,
    tell: Tell = silent,
    recall: Recall | None = None,
) -> Routes:
    """Route every line of the kit; a line without a route gives a result with its nearest
    approach.

    recall : cache of earlier runs in the same space: only hoses that a change comes near are
    re-routed, and the answer is the same
    """
    lay = _lay_all(scenario, space, fit, tell, recall or Recall())
    return _routes(scenario, space, lay, lay.hoses)


def allow_wander(
    scenario: Scenario,
    space: Space,
    fit: Fit,
    recall: Recall | None = None,
    tell: Tell = silent,
) -> Routes:
    """Add the mounting tolerance to the routes, and lengthen assemblies that do not reach it.

    recall : the cache used for the routes, so that their hoses are not re-routed
    """
    recall = recall or Recall()
    lay = _lay_all(scenario, space, fit, silent, recall)
    recall = lay.recall
    hoses = with_wander(scenario, lay.obstacles, lay.outcomes, lay.hoses, recall, tell=tell)
    hoses = with_longer_assemblies(scenario, lay.obstacles, lay.jobs, lay.outcomes, hoses, recall)
    tell("mounting tolerances of the modules found")
    return _routes(scenario, space, lay, hoses)


def _lay_all(scenario: Scenario, space: Space, fit: Fit, tell: Tell, recall: Recall) -> _Lay:
    jobs = with_offers(scenario, make_jobs(scenario, space))
    strict = obstacles = recall.obstacles(scenario, space, fit)
    outcomes = route_all(obstacles, jobs, tell, recall)
    weak = frozenset[str]()
    if space.as_seen is not None and any(isinstance(one, Blocked) for one in outcomes):
        # A route among what was surely free stays; the others may pass what was only glimpsed.
        around = recall.as_seen.obstacles(scenario, space.as_seen, fit)
        again = route_lost(around, jobs, outcomes, tell, recall.as_seen)
        weak = frozenset(
            new.job.line.name
            for old, new in zip(outcomes, again, strict=True)
            if isinstance(old, Blocked) and isinstance(new, Routed)
        )
        if weak:
            obstacles, outcomes, recall = around, again, recall.as_seen
    clippings = {
        outcome.job.line.name: clip_hose(outcome.job, outcome.curve, obstacles.structure)
        for outcome in outcomes
        if isinstance(outcome, Routed) and obstacles.structure
    }
    hoses: list[HoseRoute | Unrouted] = []
    for outcome in outcomes:
        part(tell, "hoses measured", len(hoses), len(outcomes))
        if isinstance(outcome, Routed):
            hose = _laid(space, obstacles, outcome, outcomes, jobs, recall, clippings)
            if hose.line in weak:
                hose = replace(hose, weak=_weak(space, strict, outcome, hose))
            hoses.append(hose)
        else:
            hoses.append(_unrouted(obstacles, outcome, outcomes, jobs))
    made = with_assemblies(scenario, obstacles, jobs, outcomes, hoses, recall)
    return _Lay(
        obstacles=obstacles,
        jobs=jobs,
        outcomes=outcomes,
        recall=recall,
        clippings=clippings,
        hoses=made,
    )


def _weak(space: Space, strict: Obstacles, routed: Routed, hose: HoseRoute) -> Contact | None:
    """The place where a hose needs glimpsed space most."""
    found = contacts_of(
        strict,
        routed.job,
        routed.curve,
        (),
        routed.holes,
        lambda kind: clearance_uncertainty(space, hose.path, kind),
    )
    asked = routed.job.clearance
    dark = next((met for met in found if met.kind == "unseen"), None)
    if dark is None or dark.gap - dark.uncertainty >= asked:
        return None
    return replace(dark, kind="glimpsed", asked=asked)


def _routes(
    scenario: Scenario, space: Space, lay: _Lay, hoses: tuple[HoseRoute | Unrouted, ...]
) -> Routes:
    outcomes = lay.outcomes
    findings, assumptions = judge(scenario, space, lay.obstacles, lay.jobs, outcomes, hoses)
    findings += tuple(support_findings(outcomes, hoses, lay.clippings))
    findings += tuple(hole_findings(outcomes))
    return Routes(hoses=hoses, findings=findings, assumptions=assumptions)


def bound_of(job: Job) -> Metre:
    """Lower bound on the length for this bend radius, straight ends included,
    obstacles ignored.
    """
    tips = [end.at + end.straight * end.way for end in job.ends]
    between = unobstructed_bound(tips[0], job.start.way, tips[1], -job.end.way, job.radius)
    return job.start.straight + between + job.end.straight


def uncertainty(space: Space, job: Job, length: Metre) -> Metre:
    """Uncertainty of the computed length (95 %)."""
    picked = sum(end.owner == "boat" for end in job.ends)
    return space.uncertainty.of_length(length, picked)


def clearance_uncertainty(space: Space, path: NDArray[np.float64], kind: Kind) -> Metre:
    """Uncertainty of the clearance to a kind of thing (95 %), anywhere along the path."""
    far = path[int(np.linalg.norm(path, axis=1).argmax())]
    return space.uncertainty.of_gap(as_point(far), kind)


def _laid(
    space: Space,
    obstacles: Obstacles,
    routed: Routed,
    outcomes: Sequence[Outcome],
    jobs: Sequence[Job],
    recall: Recall,
    clippings: Mapping[str, Clipping],
) -> HoseRoute:
    """Build the HoseRoute: measured, bounded and clipped; cached if nothing near it changed."""
    job = routed.job
    others = [tube(o.curve, o.job) for o in outcomes if isinstance(o, Routed) and o is not routed]
    lost = [o.job for o in outcomes if isinstance(o, Blocked)]
    tubes = others + stubs_beside(job, [job, *lost])

    def reach(hose: HoseRoute) -> Reach:
        room = job.half + max(hose.clearance, job.clearance, job.reach)
        return Reach(length=hose.length, room=room)

    return recall.ask(
        "told",
        job,
        rows_of(obstacles, job, tubes),
        lambda: _held(_hose_route(space, obstacles, routed, tubes), routed, obstacles, clippings),
        reach,
        given=(routed,),
    )


def _hose_route(
    space: Space, obstacles: Obstacles, routed: Routed, tubes: Sequence[Tube]
) -> HoseRoute:
    job, curve = routed.job, routed.curve
    verdict = verdict_of(obstacles, routed, tubes)
    gap = verdict.hose.clearance + job.gap
    nearest, to = min((verdict.solid.clearance, verdict.solid.to), (gap, verdict.hose.to))
    proof = prove_all(obstacles, routed)
    path = np.ascontiguousarray(curve.sample(PATH_STEP))
    contacts = contacts_of(
        obstacles,
        job,
        curve,
        tubes,
        routed.holes,
        lambda kind: clearance_uncertainty(space, path, kind),
    )
    near = min(contacts, key=lambda contact: contact.gap, default=None)
    return HoseRoute(
        line=job.line.name,
        hose=job.hose.name,
        length=curve.length,
        bound=proof.bound,
        bound_kind=proof.kind,
        smallest_bend_radius=curve.radius if len(curve.angle) else None,
        required_bend_radius=job.radius,
        clearance=nearest,
        clearance_to=to,
        required_clearance=job.clearance,
        outside_diameter=job.hose.outside_diameter,
        uncertainty=uncertainty(space, job, curve.length),
        clearance_uncertainty=near.uncertainty if near else 0.0,
        contacts=contacts,
        start=as_point(job.start.at),
        start_direction=as_point(job.start.way),
        end=as_point(job.end.at),
        end_direction=as_point(-job.end.way),
        straight=job.start.straight,
        holes=tuple(hole.name for hole in job.holes),
        legs=legs_of(curve),
        bends=bends_of(curve),
        path=path,
        fittings=(fitting_name(job.start), fitting_name(job.end)),
        fitting_loss_coefficient=sum(end.fitting.loss for end in job.ends if end.fitting),
    )


def _held(
    hose: HoseRoute, routed: Routed, obstacles: Obstacles, clippings: Mapping[str, Clipping]
) -> HoseRoute:
    """The route with its clips and its unsupported spans."""
    job, structure = routed.job, obstacles.structure
    assert structure is not None
    return replace(
        hose,
        way=job.way,
        reach=job.reach,
        clips=clippings[hose.line].clips,
        unsupported=structure.unsupported(routed.curve, job.reach + job.half),
    )


def _unrouted(
    obstacles: Obstacles, blocked: Blocked, outcomes: Sequence[Outcome], jobs: Sequence[Job]
) -> Unrouted:
    job = blocked.job
    told = explain(obstacles, blocked, outcomes, jobs)
    return Unrouted(
        line=job.line.name,
        hose=job.hose.name,
        said=told.said,
        nearest_approach=as_point(told.place),
        missing=told.missing,
        bound=bound_of(job),
        required_bend_radius=job.radius,
        required_clearance=job.clearance,
        outside_diameter=job.hose.outside_diameter,
        start=as_point(job.start.at),
        start_direction=as_point(job.start.way),
        end=as_point(job.end.at),
        end_direction=as_point(-job.end.way),
    )
