"""Boards to be built that do not hold, or run into something, and boards that would hold."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fitcheck.fit.against import SAMPLES, gaps_to
from fitcheck.fit.boards import (
    BROAD,
    EDGES,
    HELD_SHARE,
    OVERHANG,
    Carrier,
    carries,
    held,
)
from fitcheck.fit.judge import Standing
from fitcheck.fit.surroundings import PLAY, Body, Surroundings
from fitcheck.fit.wording import PRACTICE, length, spot, thing
from fitcheck.geometry.box import FACES, Box, as_point, drawn_in, grown, opposite, outward
from fitcheck.geometry.overlap import boxes_depth
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.fit import BoardFit
from fitcheck.model.kit import Face
from fitcheck.units import Metre, Point

#: Thickness of a board that is proposed [m]; common practice, no source.
THICKNESS: Metre = 0.018
#: How far a board is extended to reach something that holds it [m].
LOOKED: Metre = 0.6
#: How much thicker, by battens or packing, a board is made for the same [m].
PACKED: Metre = 0.05
#: Ways of the boat frame, as people say them.
WAYS = {
    "forward": (1, 0, 0),
    "aft": (-1, 0, 0),
    "to port": (0, 1, 0),
    "to starboard": (0, -1, 0),
    "up": (0, 0, 1),
    "down": (0, 0, -1),
}


@dataclass(frozen=True, eq=False, kw_only=True)
class Joinery:
    """What is needed to say where a board would hold, and be in nobody's way."""

    around: Surroundings
    holding: Sequence[Carrier]
    standings: Sequence[Standing]

    def findings(self, fits: Sequence[BoardFit]) -> Iterator[Finding]:
        """One finding for every board that hangs in the air or runs into something."""
        boxes = {body.name: body.box for body in self.around.fixed if body.kind == "board"}
        for fit in fits:
            if fit.runs_into:
                yield _runs_into(fit)
            if not carries(fit):
                yield self._hangs(fit, boxes[fit.name])

    def _hangs(self, fit: BoardFit, box: Box) -> Finding:
        longer = self.extended(fit.name, box)
        remedy = (
            "Extend it to something that carries it, or add a board (boat.boards) that stands on "
            "the boat's structure and meets one of its edges."
            if longer is None
            else f"Extend it {length(longer[1])} {said_way(outward(box, longer[0]))}: "
            + _written(longer[2], "base")
        )
        return Finding(
            severity="caution",
            rule="board-not-carried",
            subject=fit.name,
            text=_why(fit),
            source=PRACTICE,
            value=fit.reach if math.isfinite(fit.reach) else None,
            limit=OVERHANG,
            unit="m",
            place=box.centre,
            remedy=Remedy(text=remedy),
            bars=("cut_joinery", "order_hoses"),
        )

    def before(self, name: str, box: Box, face: Face) -> str:
        """A board against a face of a module, as it would be written in the boat file."""
        axis = FACES[face][0]
        slab = grown(box, face, THICKNESS)
        sides = [side for side in range(3) if side != axis]
        order = [*sides, axis]
        board = Box(
            centre=slab.centre,
            half=as_point(np.array(slab.half)[order]),
            axes=(slab.axes[order[0]], slab.axes[order[1]], slab.axes[order[2]]),
        )
        side: Face = "base" if FACES[face][1] > 0 else "top"
        name = f"board of {name}"
        fit = held(Body(name=name, kind="board", box=board), self.holding, self.around)
        if not carries(fit):
            longer = self.extended(name, board)
            if longer is None:
                return _written(board, side, name) + " Carry it by brackets to the structure."
            board = longer[2]
        return _written(board, side, name)

    def extended(self, name: str, box: Box) -> tuple[Face, Metre, Box] | None:
        """The shortest extension of a board by which it is carried: edge, length, the board."""
        tried: list[tuple[Face, Metre, Box]] = []
        for face in (*EDGES, *BROAD):
            by = self._to_reach(box, face)
            if by is None or (tried and by >= tried[-1][1]):
                continue
            longer = drawn_in(box, {face: -by})
            fit = held(Body(name=name, kind="board", box=longer), self.holding, self.around)
            if carries(fit) and not fit.runs_into and not self._in_the_way(longer):
                tried.append((face, by, longer))
        return tried[-1] if tried else None

    def _to_reach(self, box: Box, face: Face) -> Metre | None:
        """How far an edge must move out to meet a surface along enough of its length [m]."""
        gaps = np.full(SAMPLES * SAMPLES, np.inf)
        for carrier in self.holding:
            found, _ = gaps_to(carrier.index, box, face, behind=0.0, before=LOOKED)
            gaps = np.minimum(gaps, found)
        if face in BROAD:
            gap = float(np.quantile(gaps, HELD_SHARE, method="higher"))
            return _whole(gap) if gap <= PACKED else None
        # The second side of an edge is the board's thickness.
        along = np.sort(gaps.reshape(SAMPLES, SAMPLES).min(axis=1))
        least = HELD_SHARE * min(box.half[:2]) / box.half[1 - FACES[face][0]]
        gap = float(along[min(math.ceil(least * SAMPLES), SAMPLES - 1)])
        return _whole(gap) if math.isfinite(gap) else None

    def _in_the_way(self, board: Box) -> bool:
        return any(
            boxes_depth(board, taken) > PLAY
            for standing in self.standings
            for taken in (standing.box, *standing.services())
        )


def _whole(gap: Metre) -> Metre:
    """Down to the millimetre: what is left is within the packing."""
    return math.floor(1000 * gap + 1e-6) / 1000


def _why(fit: BoardFit) -> str:
    name, where = fit.name, " and ".join(fit.held_by)
    if not where:
        return f"Nothing carries {name}: no edge or face of it lies against the boat's structure."
    if fit.reach > OVERHANG:
        return (
            f"{name} reaches {length(fit.reach)} from where it is held ({where}); at most "
            f"{length(OVERHANG)} is usual without a brace."
        )
    return f"{name} is held ({where}) along only {length(fit.line)}, under half of its side."


def _runs_into(fit: BoardFit) -> Finding:
    met = min(fit.runs_into, key=lambda contact: contact.gap)
    where = {
        "unseen": f"{fit.name} lies partly in space never seen",
        "inside": f"{fit.name} lies partly beyond a surface, where there is no air on either side",
    }.get(met.kind, f"{fit.name} runs {length(-met.gap)} into {thing(met)}")
    return Finding(
        severity="caution",
        rule="board-runs-into",
        subject=fit.name,
        text=f"{where}{spot(met.place)}.",
        source="the mesh and the boat file",
        value=met.gap,
        limit=0.0,
        unit="m",
        place=met.place,
        remedy=Remedy(text=f"Make it smaller or place it elsewhere (boat.boards '{fit.name}')."),
        bars=("cut_joinery", "order_hoses"),
    )


def _written(board: Box, face: Face, name: str = "") -> str:
    """A board as it would be written, the corners round one of its broad faces."""
    sign = FACES[face][1]
    ring = []
    for signs in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        local = np.array([*signs, sign]) * np.array(board.half)
        point = as_point(board.world(local))
        ring.append("[" + ", ".join(f'"{round(1000 * v, 1) + 0.0:.1f} mm"' for v in point) + "]")
    way = said_way(outward(board, opposite(face))).removeprefix("to ")
    named = f'[[boat.boards]] name = "{name}", ' if name else ""
    thick = f"{1000 * 2 * board.half[2]:.0f} mm"
    return (
        f'{named}corners = [{", ".join(ring)}], thickness = "{thick}", grows = "{way}", '
        'state = "planned".'
    )


def said_way(direction: Point) -> str:
    """The boat's word nearest to a direction."""
    return max(WAYS, key=lambda word: float(np.dot(WAYS[word], direction)))
