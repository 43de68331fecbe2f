"""Boards to be built that are unsupported or collide, and boards that would work."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fitcheck.findings.said import Said, quantity, say
from fitcheck.fit.boards import (
    BROAD,
    EDGES,
    HELD_SHARE,
    OVERHANG,
    Carrier,
    carries,
    held,
    holders,
)
from fitcheck.fit.measured.against import SAMPLES, gaps_to
from fitcheck.fit.measured.measure import MOUNTED_SHARE, permitted
from fitcheck.fit.measured.surroundings import PLAY, Body, Surroundings
from fitcheck.fit.wording import PRACTICE, WAYS, length, spot, thing
from fitcheck.geometry.box import FACES, Box, as_point, drawn_in, grown, opposite, outward, surface
from fitcheck.geometry.overlap import boxes_depth, few
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.fit import BoardFit
from fitcheck.model.given.kit import Face
from fitcheck.model.placed import PlacedModule
from fitcheck.units import Metre, Point, Ratio

#: Thickness of a suggested board [m]; common practice, no source.
THICKNESS: Metre = 0.018
#: How far a board is extended to reach a support [m].
LOOKED: Metre = 0.6
#: How much thicker a board is made, by battens or packing, to reach one [m].
PACKED: Metre = 0.05
#: Directions of the boat frame, as named in the files.
DIRECTIONS = {
    "forward": (1, 0, 0),
    "aft": (-1, 0, 0),
    "port": (0, 1, 0),
    "starboard": (0, -1, 0),
    "up": (0, 0, 1),
    "down": (0, 0, -1),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """A board that would be supported and clear: how far its edge moves out, or in (negative)."""

    box: Box
    face: Face
    by: Metre

    def said(self, name: str) -> Said:
        """What to do, and the board as written in the file."""
        return say(
            "board.longer" if self.by > 0.0 else "board.shorter",
            by=length(abs(self.by)),
            way=WAYS[way_of(outward(self.box, self.face))],
            board=_written(self.box, "base", name),
        )


@dataclass(frozen=True, eq=False, kw_only=True)
class Joinery:
    """The data needed to find where a board would be supported and clear."""

    around: Surroundings
    boards: Sequence[BoardFit]
    standings: Sequence[PlacedModule]
    box_gap: Metre

    @cached_property
    def _holding(self) -> list[Carrier]:
        return holders(self.around, [row.name for row in self.boards if carries(row)])

    def findings(self) -> Iterator[Finding]:
        """One finding for every board that is unsupported or collides with something."""
        boxes = {body.name: body.box for body in self.around.fixed if body.kind == "board"}
        for fit in self.boards:
            if carries(fit) and not fit.runs_into:
                continue
            mended = self.mended(fit.name, boxes[fit.name], fit.reach)
            if fit.runs_into:
                yield _runs_into(fit, mended)
            if not carries(fit):
                yield _hangs(fit, boxes[fit.name], mended)

    def before(self, name: str, box: Box, face: Face, room: Metre) -> Said | None:
        """A board against a face of a module, as written in the file; None if none is supported
        there.

        room : distance in front of the face to the possible support
        """
        thick = THICKNESS if room >= THICKNESS else _whole(room)
        if thick <= PLAY:
            return None
        axis = FACES[face][0]
        slab = grown(box, face, thick)
        sides = [side for side in range(3) if side != axis]
        order = [*sides, axis]
        board = Box(
            centre=slab.centre,
            half=as_point(np.array(slab.half)[order]),
            axes=(slab.axes[order[0]], slab.axes[order[1]], slab.axes[order[2]]),
        )
        side: Face = "base" if FACES[face][1] > 0 else "top"
        name = f"board of {name}"
        if self._will_do(name, board, board):
            return _written(board, side, name)
        mended = self.mended(name, board)
        return None if mended is None else _written(mended.box, side, name)

    def mended(self, name: str, box: Box, reach: Metre = 0.0) -> Mended | None:
        """The smallest change of one face with which a board is supported and clear."""
        tried = [(face, by) for face in (*EDGES, *BROAD) for by in self._to_reach(name, box, face)]
        tried += [(face, -by) for face in EDGES for by in self._back_to(name, box, face, reach)]
        for face, by in sorted(tried, key=lambda row: abs(row[1])):
            board = drawn_in(box, {face: -by})
            if self._will_do(name, board, box):
                return Mended(box=board, face=face, by=by)
        return None

    def _will_do(self, name: str, board: Box, old: Box) -> bool:
        """Whether a board is supported, clear and still supports what it supported as `old`."""
        if any(
            boxes_depth(board, taken) > PLAY
            for standing in self.standings
            for taken in (standing.box, *standing.services)
        ):
            return False
        fit = held(Body(name=name, kind="board", box=board), self._others(name), self.around)
        return carries(fit) and not fit.runs_into and self._still_carries(board, old)

    def _others(self, name: str) -> list[Carrier]:
        """What may support a board: neither itself nor anything it supports."""
        by = {row.name: row.held_by for row in self.boards}
        return [row for row in self._holding if name not in (row.name, *by.get(row.name, ()))]

    def _still_carries(self, board: Box, old: Box) -> bool:
        for standing in self.standings:
            for face in permitted(standing.module, standing.box):
                now, then = (self._share(standing.box, face, one) for one in (board, old))
                if now < min(then, MOUNTED_SHARE):
                    return False
        return True

    def _share(self, box: Box, face: Face, board: Box) -> Ratio:
        reach = {"behind": self.around.noise, "before": self.around.reach}
        gaps, _ = gaps_to(few(surface(board)), box, face, **reach)
        return float(np.isfinite(gaps).mean())

    def _to_reach(self, name: str, box: Box, face: Face) -> list[Metre]:
        """How far a face must move out to meet a surface along enough of it [m]."""
        gaps = np.full(SAMPLES * SAMPLES, np.inf)
        for carrier in self._others(name):
            found, _ = gaps_to(carrier.index, box, face, behind=0.0, before=LOOKED)
            gaps = np.minimum(gaps, found)
        if face in BROAD:
            gap = float(np.quantile(gaps, HELD_SHARE, method="higher"))
            return [_whole(gap)] if gap <= PACKED else []
        # The second side of an edge is the board's thickness.
        along = np.sort(gaps.reshape(SAMPLES, SAMPLES).min(axis=1))
        least = HELD_SHARE * min(box.half[:2]) / box.half[1 - FACES[face][0]]
        gap = float(along[min(math.ceil(least * SAMPLES), SAMPLES - 1)])
        return [_whole(gap)] if math.isfinite(gap) else []

    def _back_to(self, name: str, box: Box, face: Face, reach: Metre) -> list[Metre]:
        """How far an edge must move in to end at what the board collides with, or
        close to it [m].
        """
        wide = 2 * box.half[FACES[face][0]]
        bodies = [few(surface(row.box)) for row in self.around.fixed if row.name != name]
        found = [1.05 * (reach - OVERHANG)] if OVERHANG < reach < math.inf else []
        for index in (self.around.index, *bodies):
            gaps, _ = gaps_to(index, box, face, behind=wide, before=0.0)
            met = -gaps[np.isfinite(gaps)]
            found += [float(met.max()), float(np.median(met))] if len(met) else []
        return [_whole(by) + 0.001 * (by > _whole(by) + PLAY) for by in found if by < wide - PLAY]


def _hangs(fit: BoardFit, box: Box, mended: Mended | None) -> Finding:
    return Finding(
        severity="caution",
        rule="board-not-carried",
        subject=fit.name,
        said=_why(fit),
        source=PRACTICE,
        value=fit.reach if math.isfinite(fit.reach) else None,
        limit=OVERHANG,
        unit="m",
        place=box.centre,
        remedy=Remedy(
            said=say("board-not-carried.remedy") if mended is None else mended.said(fit.name)
        ),
        bars=("cut_joinery", "order_hoses"),
    )


def _whole(gap: Metre) -> Metre:
    """Rounded down to a millimetre unless infinite: the rest is within the packing."""
    return math.floor(1000 * gap + 0.1) / 1000


def _why(fit: BoardFit) -> Said:
    board, by = fit.name, fit.held_by
    if not by:
        return say("board-not-carried.nothing", board=board)
    if fit.reach > OVERHANG:
        reach, most = length(fit.reach), length(OVERHANG)
        return say("board-not-carried.overhang", board=board, reach=reach, by=by, most=most)
    return say("board-not-carried.little", board=board, by=by, line=length(fit.line))


def _runs_into(fit: BoardFit, mended: Mended | None) -> Finding:
    met = min(fit.runs_into, key=lambda contact: contact.gap)
    board, at = fit.name, spot(met.place)
    if met.kind in ("unseen", "inside"):
        unseen = met.kind == "unseen"
        where = say(
            "board-runs-into.unseen" if unseen else "board-runs-into.beyond", board=board, at=at
        )
    else:
        depth, what = length(-met.gap), thing(met)
        where = say("board-runs-into.thing", board=board, depth=depth, what=what, at=at)
    return Finding(
        severity="caution",
        rule="board-runs-into",
        subject=fit.name,
        said=where,
        source="the mesh and the boat file",
        value=met.gap,
        limit=0.0,
        unit="m",
        place=met.place,
        remedy=Remedy(
            said=say("board-runs-into.remedy", board=board)
            if mended is None
            else mended.said(board)
        ),
        bars=("cut_joinery", "order_hoses"),
    )


def _written(board: Box, face: Face, name: str) -> Said:
    """A board as written in the list boat.boards, the corners around one of its broad faces."""
    sign = FACES[face][1]
    ring = []
    for signs in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        local = np.array([*signs, sign]) * np.array(board.half)
        point = as_point(board.world(local))
        at = [quantity(round(one, 4) + 0.0, "file size") for one in point]
        ring.append(say("board.corner", at=at))
    return say(
        "board.filed",
        name=json.dumps(name),
        corners=ring,
        thickness=quantity(round(2 * board.half[2], 3), "file size"),
        way=way_of(outward(board, opposite(face))),
    )


def way_of(direction: Point) -> str:
    """The boat direction closest to a direction."""
    return max(DIRECTIONS, key=lambda word: float(np.dot(DIRECTIONS[word], direction)))
