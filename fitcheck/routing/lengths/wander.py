"""Mounting tolerance: how far the modules at a hose's ends may be displaced before it is too
short.

The modules are moved along their axes and to the corners of a cube, one at a time, both apart and
both together, in growing steps. Each time a route no longer than the ordered length must be found
that keeps radius and clearance. Directions and steps are samples: nothing is proven between them.
What the other hoses do meanwhile is in `shaken`.
"""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.finding import Tell, silent
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.given.cutting import is_assembly, tube_length
from fitcheck.model.given.kit import Allowances
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.progress import part
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.lay.recall import EVERYWHERE, Reach, Recall, rows_of
from fitcheck.routing.lay.sets import Outcome
from fitcheck.routing.lengths.shaken import Grounds, Laid, Shaken
from fitcheck.routing.world.obstacles import Obstacles
from fitcheck.routing.world.ports import Job
from fitcheck.units import Metre

Points = NDArray[np.float64]

#: Assumed mounting accuracy of a module; steps of the displacements, and the largest [m].
USUAL, STEP, MOST = 0.020, 0.005, 0.060
#: Step by which lengths are increased until they reach [m].
SPARE_STEP = 0.010

_AXES = [sign * row for row in np.eye(3) for sign in (1.0, -1.0)]
_CORNERS = [np.array(corner) for corner in product((1.0, -1.0), repeat=3)]


def with_wander(
    scenario: Scenario,
    obstacles: Obstacles,
    outcomes: Sequence[Outcome],
    hoses: Sequence[HoseRoute | Unrouted],
    recall: Recall,
    lines: Container[str] | None = None,
    tell: Tell = silent,
) -> tuple[HoseRoute | Unrouted, ...]:
    """The hoses with the mounting tolerance of the modules at their ends, in the order of the
    jobs.

    lines : those checked, all by default; the others are unchanged
    """
    grounds = Grounds(obstacles)
    allowances = scenario.kit.allowances
    laid = {
        number: (hose, Laid(routed=outcome, length=reach_of(hose, outcome.job, allowances)))
        for number, (outcome, hose) in enumerate(zip(outcomes, hoses, strict=True))
        if isinstance(outcome, Routed) and isinstance(hose, HoseRoute)
    }
    told = list(hoses)
    for done, (number, (hose, one)) in enumerate(laid.items()):
        part(tell, "hoses with their modules moved", done, len(laid))
        if lines is not None and hose.line not in lines:
            continue
        others = [other for _, other in laid.values() if other is not one]
        play = _recalled(recall, grounds, one, others, allowances.mounting)
        told[number] = replace(hose, wander=play.within, mounting_spare=play.spare)
    return tuple(told)


@dataclass(frozen=True, slots=True, kw_only=True)
class Play:
    """The mounting tolerance of a hose, and the length to add for the required one.

    within : None where no end is on a module
    spare : infinite where no length is enough [m]
    makes_room : other hoses had to be re-routed
    """

    within: Metre | None
    spare: Metre
    makes_room: bool = False


def _recalled(
    recall: Recall, grounds: Grounds, one: Laid, others: Sequence[Laid], asked: Metre
) -> Play:
    """`lasting_wander`, cached if nothing that matters to the moved hose has changed."""
    job = one.routed.job
    # both ends may move to the corner of a cube, and hoses go along with their modules
    most = max(MOST, asked)
    whole = one.length + 4 * math.sqrt(3.0) * most
    near = Reach(length=whole, room=job.need + math.sqrt(3.0) * most)
    return recall.ask(
        "wander",
        job,
        rows_of(grounds.obstacles, job, [other.tube for other in others]),
        lambda: lasting_wander(grounds, one, others, asked),
        lambda play: EVERYWHERE if play.makes_room else near,
        given=(one.routed, one.length, asked, *(other.length for other in others)),
    )


def lasting_wander(grounds: Grounds, one: Laid, others: Sequence[Laid], asked: Metre) -> Play:
    """The mounting tolerance, and the length to add so that every required displacement is
    reached.

    Multiples of SPARE_STEP are tried, up to twice the extra distance between the displaced ends.
    The installer chooses the length of an assembly, so its tolerance is that of the given length.
    """
    first = wander_of(grounds, one, others, asked)
    if first.within is None or first.within >= asked - 1e-9:
        return first
    moved, room = _owners(one.routed), first.makes_room

    def longer(steps: int) -> Laid:
        return replace(one, length=one.length + steps * SPARE_STEP)

    def lasts(steps: int) -> bool:
        nonlocal room
        shaken = Shaken(grounds, longer(steps), others)
        held = all(shaken.holds(asked, shifts) for shifts in _displacements(moved))
        room = room or shaken.makes_room
        return held

    low, high = 0, math.ceil(4 * math.sqrt(3.0) * asked / SPARE_STEP)
    if not lasts(high):
        return replace(first, spare=math.inf, makes_room=room)
    while high - low > 1:
        middle = (low + high) // 2
        if lasts(middle):
            high = middle
        else:
            low = middle
    found, spare = first, high * SPARE_STEP
    if not is_assembly(one.routed.job.line, one.routed.job.hose):
        found = wander_of(grounds, longer(high), others, asked)
    return replace(found, spare=spare, makes_room=room or found.makes_room)


def _owners(routed: Routed) -> list[str]:
    """The modules at the ends of a hose."""
    return list(dict.fromkeys(end.owner for end in routed.job.ends if end.owner != "boat"))


def reach_of(hose: HoseRoute, job: Job, allowances: Allowances) -> Metre:
    """The longest route the hose as ordered can cover, port face to port face.

    A tube loses its end allowances; a high-pressure hose loses what it may shorten by.
    """
    if hose.assembly is None:
        return tube_length(hose.length, allowances) - 2 * allowances.end_allowance
    high = job.line.duty == "high pressure"
    return hose.assembly.length * (1.0 - (allowances.high_pressure_slack if high else 0.0))


def wander_of(grounds: Grounds, one: Laid, others: Sequence[Laid], asked: Metre = USUAL) -> Play:
    """The largest step up to which every displacement tried leaves a short enough route.

    asked : one of the steps [m]
    """
    moved = _owners(one.routed)
    if not moved:
        return Play(within=None, spare=0.0)
    found = 0.0
    shaken = Shaken(grounds, one, others)
    steps = {round(float(step), 9) for step in np.arange(STEP, MOST + STEP / 2, STEP)}
    for step in sorted(steps | ({asked} if asked > 0.0 else set())):
        if not all(shaken.holds(step, shifts) for shifts in _displacements(moved)):
            break
        found = float(step)
    return Play(within=found, spare=0.0, makes_room=shaken.makes_room)


def _displacements(moved: Sequence[str]) -> Iterator[dict[str, Points]]:
    """The directions each module moves in, in half edges of the cube."""
    if len(moved) == 2:
        yield from ({moved[0]: way, moved[1]: -way} for way in _CORNERS)
        yield from ({moved[0]: way, moved[1]: way} for way in _CORNERS)
    for name in moved:
        yield from ({name: way} for way in [*_CORNERS, *_AXES])
