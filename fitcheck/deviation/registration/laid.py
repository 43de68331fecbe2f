"""From picked pairs to a registration, with all the evidence against it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.deviation.registration import trust
from fitcheck.deviation.registration.flips import meeting, other_ways_round
from fitcheck.deviation.registration.motions import free_motions
from fitcheck.deviation.registration.pairs import align, left_out, residuals, spread
from fitcheck.deviation.registration.refine import Held, Refined, refine
from fitcheck.deviation.registration.surface import Surface, spread_places
from fitcheck.findings.said import length, say
from fitcheck.geometry.box import as_point
from fitcheck.model.finding import Assumption, Tell, silent
from fitcheck.model.found.deviation import PairFit, Registration
from fitcheck.units import Metre, Ratio

Array = NDArray[np.float64]

#: Places on the mesh here, which are searched, and on the other, which are moved.
PLACES_HERE, PLACES_THERE = 30_000, 8_000
#: Minimum initial search distance between the surfaces.
WIDEST: Metre = 0.06


@dataclass(frozen=True, eq=False, kw_only=True)
class Picks:
    """Picked pairs: (n, 3) in the boat frame [m] and in the other mesh's own unit.

    worth : standard deviation of one coordinate of a pair [m]
    bent : standard deviation per coordinate of the bending of the meshes over a metre [m]
    """

    names: tuple[str, ...]
    here: Array
    there: Array
    worth: Metre
    bent: Metre


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """The other mesh's unit in metres if known, its uncertainty, and whether it is kept."""

    declared: Ratio | None
    uncertainty: Ratio
    keep: bool


def register(
    here: Array, there: Array, picks: Picks, scale: Scale, tell: Tell = silent
) -> Registration:
    """Align the triangles there (n, 3, 3, own unit) with those here (m, 3, 3) [m], by pairs first.

    The pairs must have passed `pair_faults`. Anything that makes the answer unusable is a finding.
    """
    kept = scale.declared if scale.keep else None
    start = align(picks.here, picks.there, kept)
    surface = spread_places(here, PLACES_HERE)
    other = spread_places(there, PLACES_THERE, seed=1)
    off = spread(start, picks.here, picks.there, free_scale=kept is None)
    held = Held(here=picks.here, there=picks.there, spread=max(picks.worth, off))
    refined = refine(
        surface,
        other,
        start,
        held,
        keep_scale=scale.keep,
        widest=max(WIDEST, 6.0 * held.spread),
        bent=picks.bent,
    )
    tell(say("step.aligned", noise=length(refined.noise)))
    found = _gathered(surface, other, picks, scale, refined, off)
    near = trust.near(found.noise)
    lies, flips = other_ways_round(
        surface, other, found.similarity, keep_scale=scale.keep, near=near
    )
    tell("Other orientations checked.")
    said = trust.on_registration(found, picks.worth, settled=refined.settled)
    if scale.keep:
        loose = refine(
            surface,
            other,
            found.similarity,
            held,
            keep_scale=False,
            widest=trust.near(found.noise),
            bent=picks.bent,
            rounds=25,
        )
        said += trust.on_kept_scale(found, loose)
    said += trust.on_flips(lies, flips)
    return replace(found, findings=said)


def _gathered(
    here: Surface, there: Surface, picks: Picks, scale: Scale, refined: Refined, off: Metre
) -> Registration:
    start = align(picks.here, picks.there, scale.declared if scale.keep else None)
    final = refined.similarity
    covariance = refined.covariance.copy()
    if scale.keep:
        covariance[6, 6] = (scale.uncertainty * refined.reach) ** 2
    near = trust.near(refined.noise)
    back = there.moved(final.carry(there.places), there.normals @ np.array(final.turn).T)
    gone = np.linalg.norm(residuals(final, picks.here, picks.there), axis=1)
    alone = left_out(picks.here, picks.there, scale.declared if scale.keep else None)
    return Registration(
        similarity=final,
        start=start,
        scale_kept=scale.keep,
        declared_scale=scale.declared,
        scale_uncertainty=scale.uncertainty,
        middle=as_point(refined.middle),
        reach=refined.reach,
        covariance=covariance,
        noise=refined.noise,
        covered=meeting(here, there, final, near),
        covers=_meets(back, here, near),
        pairs=tuple(
            PairFit(name=name, place=as_point(place), off=float(far), left_out=float(lone))
            for name, place, far, lone in zip(picks.names, picks.here, gone, alone, strict=True)
        ),
        pair_spread=off,
        free=free_motions(refined.normal, keep_scale=scale.keep),
        findings=(),
        assumptions=_assumptions(scale),
    )


def _meets(there: Surface, here: Surface, near: Metre) -> Ratio:
    """Share of the places here that have one there close to them."""
    distance, which = there.tree.query(here.places, distance_upper_bound=10.0 * near)
    which = np.minimum(which, len(there.places) - 1)
    planes = here.normals
    off = np.einsum("ni,ni->n", there.places[which] - here.places, planes)
    alike = np.einsum("ni,ni->n", there.normals[which], planes)
    meets = np.isfinite(distance) & (np.abs(off) < near) & (np.abs(alike) > 0.5)
    return float(meets.mean())


def _assumptions(scale: Scale) -> tuple[Assumption, ...]:
    if scale.keep:
        return ()
    return (
        Assumption(
            said=say("assumed.places"),
            taken=say("assumed.solved"),
            source="no proven unit of its own; two tape measures in it would prove one",
            can_flip=True,
        ),
    )
