"""What to move so that a failing module is clear; every move is judged before it is reported."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Said, quantity, say
from fitcheck.fit.carrying import NOT_CARRIED
from fitcheck.fit.handling import leans
from fitcheck.fit.measured.judge import FIXED_TO, Judgement, judge
from fitcheck.fit.measured.measure import downward
from fitcheck.fit.measured.surroundings import Surroundings
from fitcheck.fit.offered.search import REACH, Place, Quest, nearest_place, port_blocks
from fitcheck.fit.wording import WAYS, in_doubt, length
from fitcheck.model.contact import Contact
from fitcheck.model.finding import Change, Remedy
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.placed import PlacedModule
from fitcheck.units import Metre, Point, write

#: Rotations about the upright axis tried when no shift helps.
QUARTERS = (math.pi / 2, -math.pi / 2, math.pi)
#: A move this short is accepted without checking whether moving the neighbour is shorter [m].
SHORT: Metre = 0.05


class Mender:
    """Finds remedies for one module after another, each taking earlier moves into account."""

    def __init__(
        self, scenario: Scenario, standings: tuple[PlacedModule, ...], around: Surroundings
    ) -> None:
        self._scenario, self._around = scenario, around
        self._gap = scenario.kit.allowances.box_gap
        self._now = {row.module.name: row for row in standings}
        self._before: list[PlacedModule] = []
        self._told: dict[str, Remedy] = {}
        self._said: dict[str, Remedy] = {}
        self._places: dict[str, Place | None] = {}

    def mend(self, name: str, first: Judgement) -> None:
        """Look for a move that helps a failing module."""
        self._said[name] = self._remedy(name, first)

    def _remedy(self, name: str, first: Judgement) -> Remedy:
        now = self._judge(self._now[name], self._others(name, ghosts=False))
        if not now.fails and not leans(self._now[name].module, self._now[name].box):
            return self._told.get(name) or self._solved_by(first)
        best = self._nearest(name, now, carried=True)
        if best is None or best.judged.barring:
            # A place that needs a board is better than an uncertain one, or none at all.
            best = _better(best, self._nearest(name, now, carried=False))
        if best is None:
            self._places[name] = None
            return Remedy(said=_no_place(name, now))
        return self._tell(best, now)

    def _nearest(self, name: str, now: Judgement, *, carried: bool) -> Place | None:
        """The shorter of moving the module and moving what it meets."""
        best = self._move(name, name, carried)
        if best is None or best.judged.barring or best.cost > SHORT:
            for other in _neighbours(now):
                best = _better(best, self._move(other, name, carried))
        return best

    def cure(self, name: str, met: Contact | None = None) -> Remedy | None:
        """The remedy for a module and what it meets: move the one, else the other."""
        other = met.subject if met is not None and met.kind == "module" else ""
        return self._told.get(name) or self._told.get(other) or self._said.get(name)

    def settles(self, name: str, rule: str) -> Remedy | None:
        """The remedy for the module itself, if it leaves no doubt by this rule.

        A module that is moved elsewhere, or has no place at all, needs no board in its old place.
        """
        if name not in self._places:
            return None
        place = self._places[name]
        if rule != NOT_CARRIED:
            done = place is not None and rule not in place.judged.barring
            return self._told[name] if done else None
        if place is None:
            return self._said[name]
        return self._told[name] if place.carried else replace(self._told[name], changes=())

    def _solved_by(self, first: Judgement) -> Remedy:
        """The move reported for a neighbour, if that is what makes this module clear."""
        for other in _neighbours(first):
            if other in self._told:
                return self._told[other]
        return next(iter(self._told.values()))

    def _judge(self, standing: PlacedModule, others: tuple[PlacedModule, ...]) -> Judgement:
        return judge(standing, others, self._around, self._gap)

    def _others(self, name: str, *, ghosts: bool = True) -> tuple[PlacedModule, ...]:
        """All other modules; with `ghosts` also at the former positions of those moved."""
        old = [row for row in self._before if row.module.name != name] if ghosts else []
        return (*(row for key, row in self._now.items() if key != name), *old)

    def _move(self, mover: str, failing: str, carried: bool) -> Place | None:
        """The nearest place for `mover` with which `failing` has no fail."""
        if mover in self._told:
            return None
        start = self._now[mover]
        tilted = leans(start.module, start.box)
        turned = replace(start, rotate=(0.0, 0.0, start.rotate[2])) if tilted else start
        others = self._others(mover)

        found = self._search(turned, others, failing, carried)
        if mover != failing or (found is not None and not found.judged.barring):
            return found
        for turn in QUARTERS:
            roll, pitch, yaw = turned.rotate
            quarter = replace(turned, rotate=(roll, pitch, _wrapped(yaw + turn)))
            found = _better(found, self._search(quarter, others, failing, carried))
        if carried and found is None:
            found = self._below(_upright(start) if tilted else start, others, failing)
        return found

    def _below(
        self, start: PlacedModule, others: tuple[PlacedModule, ...], failing: str
    ) -> Place | None:
        """The nearest place to the one straight below, on top of what is there."""
        faces = self._judge(start, others).fit.faces
        (below,) = (row for row in faces if row.face == downward(start.box))
        gap = next((met.gap for met in below.contacts if met.kind in FIXED_TO), 0.0)
        if gap <= REACH:
            return None
        x, y, z = start.at
        lower = replace(start, at=(x, y, round(z - gap, 4)))
        place = self._search(lower, others, failing, carried=True)
        return None if place is None else replace(place, cost=place.cost + gap)

    def _search(
        self, start: PlacedModule, others: tuple[PlacedModule, ...], failing: str, carried: bool
    ) -> Place | None:
        now = self._judge(start, others)
        quest = Quest(
            standing=start,
            others=others,
            ports=port_blocks(self._scenario, start),
            theirs=tuple(
                row
                for other in self._now.values()
                if other.module.name != start.module.name
                for row in port_blocks(self._scenario, other)
            ),
            mounted=now.mounted,
            around=self._around,
            box_gap=self._gap,
            carried=carried,
        )
        mover = start.module.name

        def accept(standing: PlacedModule, _: Judgement) -> bool:
            return mover == failing or not self._beside(failing, standing).fails

        def sure(standing: PlacedModule, _: Judgement) -> bool:
            return all(
                not self._beside(name, standing).barring - self._barring(name, failing)
                for name in self._now
                if name != mover
            )

        return nearest_place(quest, accept, sure)

    def _beside(self, name: str, moved: PlacedModule) -> Judgement:
        """A module with one of the others moved."""
        others = self._others(name, ghosts=False)
        rest = [row for row in others if row.module.name != moved.module.name]
        return self._judge(self._now[name], (*rest, moved))

    def _barring(self, name: str, failing: str) -> frozenset[str]:
        """What bars a module in its current position; for the one to be helped nothing may."""
        if name == failing:
            return frozenset()
        return self._judge(self._now[name], self._others(name, ghosts=False)).barring

    def _tell(self, place: Place, now: Judgement) -> Remedy:
        name, failing = place.standing.module.name, now.fit.name
        after = place.judged if name == failing else self._beside(failing, place.standing)
        old = self._now[name]
        self._before.append(old)
        self._now[name], self._places[name] = place.standing, place
        # A key is written only if it solves the problem.
        stays = now.barring & after.barring
        changes = () if stays else self._changes(old, place.standing)
        remedy = Remedy(said=_moved(old, place, self._gap), changes=changes)
        self._told[name] = remedy
        return remedy

    def _changes(self, old: PlacedModule, new: PlacedModule) -> tuple[Change, ...]:
        file, key = self._scenario.layout_file, f"layout.modules.{new.module.name}"
        at = Change(file=file, key=f"{key}.at", value=_written(new.at), kind="length")
        if new.rotate == old.rotate:
            return (at,)
        turned = tuple(write(a + 0.0, "angle", "deg") for a in new.rotate)
        return (at, Change(file=file, key=f"{key}.rotate", value=turned, kind="angle"))


def _upright(start: PlacedModule) -> PlacedModule:
    """The module turned level about the middle of its box."""
    x, y, z = start.box.centre
    at = (round(x, 4), round(y, 4), round(z - start.module.size[2] / 2, 4))
    return replace(start, at=at, rotate=(0.0, 0.0, start.rotate[2]))


def _wrapped(angle: float) -> float:
    """The same angle within (-pi, pi], to a millionth of a degree."""
    degrees = round(math.degrees(angle), 6)
    return math.radians(degrees - 360.0 * math.ceil((degrees - 180.0) / 360.0))


def _neighbours(judged: Judgement) -> tuple[str, ...]:
    """Modules named in the fails."""
    met = [fault.met for fault in judged.faults if fault.rule == "clash"]
    met += [row.contacts[0] for row in judged.short]
    return tuple(dict.fromkeys(one.subject for one in met if one.kind == "module"))


def _written(at: Point) -> tuple[str, ...]:
    return tuple(write(v + 0.0, "length", "m") for v in at)


def _moved(old: PlacedModule, place: Place, gap: Metre) -> Said:
    name, new = old.module.name, place.standing
    move, moved = _shifted(name, np.array(new.at) - np.array(old.at))
    turned = checked = shut = board = None
    if new.rotate != old.rotate:
        turned = say(
            "place.moved-and-turned" if moved else "place.turned",
            angles=[quantity(angle, "angle") for angle in new.rotate],
        )
    if place.sure:
        checked = say("place.checked")
    else:
        checked = say("place.in-doubt", doubts=in_doubt(place.judged, gap))
    if place.shut:
        shut = say("place.shut", ports=place.shut)
    if not place.carried:
        board = say("place.needs-board")
    return say(
        "place.there",
        move=move,
        turned=turned,
        at=[quantity(one, "file length") for one in new.at],
        checked=checked,
        shut=shut,
        board=board,
    )


def _shifted(name: str, shift: NDArray[np.float64]) -> tuple[Said, bool]:
    """How a module is moved, and whether it is moved at all rather than only rotated."""
    ways = (("aft", "forward"), ("starboard", "port"), ("down", "up"))
    shifts = [
        say("place.shift", by=length(abs(by)), way=WAYS[pair[by > 0]])
        for by, pair in zip(shift.tolist(), ways, strict=True)
        if abs(by) > 5e-5
    ]
    if len(shifts) == 1 and shift[2] > 5e-5:
        return say("place.raise", name=name, by=length(shift[2])), True
    if shifts:
        return say("place.move", name=name, shifts=shifts), True
    return say("place.turn", name=name), False


def _better(one: Place | None, other: Place | None) -> Place | None:
    """The place of lower rank; the first of equal ones."""
    rows = [row for row in (one, other) if row is not None]
    return min(rows, key=lambda place: place.rank, default=None)


def _no_place(name: str, judged: Judgement) -> Said:
    dark = any(fault.met.kind == "unseen" for fault in judged.faults)
    unseen = say("place.unseen") if dark else None
    return say("place.none", name=name, reach=length(REACH), unseen=unseen)
