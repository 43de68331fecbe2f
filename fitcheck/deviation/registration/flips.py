"""Whether the other mesh would fit as well, or better, in another orientation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.deviation.registration.refine import refine
from fitcheck.deviation.registration.surface import Surface
from fitcheck.findings.said import Said, say
from fitcheck.geometry.box import as_axes, as_point, rotation
from fitcheck.model.found.deviation import Similarity
from fitcheck.units import Metre, Ratio

Array = NDArray[np.float64]

_HALF = np.pi
#: Orientations tried: a rotation about the boat's axes, and its name.
TURNS = (
    (say("turn.upright"), (0.0, 0.0, _HALF)),
    (say("turn.fore-and-aft"), (_HALF, 0.0, 0.0)),
    (say("turn.athwartships"), (0.0, _HALF, 0.0)),
    (say("turn.to-port"), (0.0, 0.0, _HALF / 2)),
    (say("turn.to-starboard"), (0.0, 0.0, -_HALF / 2)),
)
ROUNDS = 15
MOST_PLACES = 1600


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """Another orientation, and the share of the other mesh that then meets this one."""

    said: Said
    share: Ratio


def other_ways_round(
    here: Surface, there: Surface, fit: Similarity, *, keep_scale: bool, near: Metre
) -> tuple[Ratio, tuple[Flip, ...]]:
    """The share that meets as aligned, and for every other orientation after its own refinement.

    `near` is how close a place must be to count as meeting [m].
    """
    step = max(1, len(there.places) // MOST_PLACES)
    few = there.moved(there.places[::step], there.normals[::step])
    found = []
    for said, turns in TURNS:
        start = _turned(fit, few, rotation(turns))
        widest = max(0.15, 4.0 * near)
        lies = refine(
            here, few, start, None, keep_scale=keep_scale, widest=widest, rounds=ROUNDS
        ).similarity
        share = meeting(here, few, lies, near) if _plausible(lies, fit) else 0.0
        found.append(Flip(said=said, share=share))
    return meeting(here, few, fit, near), tuple(found)


def meeting(here: Surface, there: Surface, fit: Similarity, near: Metre) -> Ratio:
    """Share of the places there that are close to a surface here facing the same way."""
    distance, which = here.tree.query(fit.carry(there.places), distance_upper_bound=10.0 * near)
    which = np.minimum(which, len(here.places) - 1)
    planes = here.normals[which]
    off = np.einsum("ni,ni->n", fit.carry(there.places) - here.places[which], planes)
    alike = np.einsum("ni,ni->n", there.normals @ np.array(fit.turn).T, planes)
    meets = np.isfinite(distance) & (np.abs(off) < near) & (np.abs(alike) > 0.5)
    return float(meets.mean())


def _turned(fit: Similarity, there: Surface, turn: Array) -> Similarity:
    """Rotated in place: the middle of its bounds stays where it is."""
    places = fit.carry(there.places)
    middle = (places.min(axis=0) + places.max(axis=0)) / 2.0
    spun = (places - middle) @ turn.T + middle
    again = (spun.min(axis=0) + spun.max(axis=0)) / 2.0
    shift = turn @ (np.array(fit.shift) - middle) + middle + (middle - again)
    return Similarity(
        scale=fit.scale, turn=as_axes(turn @ np.array(fit.turn)), shift=as_point(shift)
    )


def _plausible(found: Similarity, fit: Similarity) -> bool:
    """Not shrunk onto a patch."""
    return 0.9 < found.scale / fit.scale < 1.1
