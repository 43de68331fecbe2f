"""The nearest place where a module is clear: a lattice of shifts, filtered, then judged exactly.

The filter only drops places that the exact judgement fails or doubts; the rest are judged in the
order of the distance moved plus the penalties at the new place.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fitcheck.fit.carrying import carried_by
from fitcheck.fit.measured.judge import Judgement, judge
from fitcheck.fit.measured.measure import permitted
from fitcheck.fit.measured.surroundings import PLAY, STRUCTURE, Surroundings
from fitcheck.geometry.box import FACES, Box, as_axes, as_point, drawn_in, grown, outward
from fitcheck.geometry.overlap import boxes_hit_boxes, boxes_hit_cells, boxes_hit_triangles
from fitcheck.kernels import kernel
from fitcheck.model.given.kit import Face
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.placed import PlacedModule
from fitcheck.units import Metre, Point

#: Maximum move, its step, and the distance beyond which double steps are used [m].
REACH, STEP, FINE = 0.5, 0.010, 0.2
#: A module closer than this to a possible support is pushed against it: lattice steps apart [m].
AGAINST = 2 * STEP
#: Penalty for each loss at the new place, in metres moved.
LOSES_BASE, LOSES_SIDE, LOSES_PORT = 0.15, 0.05, 0.25
#: Free length required in front of a port beyond the hose's straight end [m].
BEFORE_PORT = 0.05
#: Maximum places with and without enough clearance that are judged exactly; shifts filtered at a
#: time.
MOST_JUDGED, CHUNK = 40, 4096

Floats = NDArray[np.float64]
Rows = list[tuple[float, Point]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place that passes, its judgement, and its cost (metres moved plus penalties).

    sure : whether it passes with the full uncertainty of the mesh
    carried : whether something the module may be fixed to is against it there
    shut : ports in front of which a hose may then have no room to turn
    """

    standing: PlacedModule
    judged: Judgement
    cost: Metre
    sure: bool = True
    carried: bool = True
    shut: tuple[str, ...] = ()

    @property
    def rank(self) -> tuple[int, Metre]:
        """Lower is better: a missing board can be built, a doubt only measured."""
        barred = bool(self.judged.barring)
        if self.carried and not barred:
            return (0 if self.sure else 1), self.cost
        return 2 + 2 * barred + (not self.carried), self.cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Quest:
    """One module to be placed elsewhere.

    others : the other modules in their positions
    ports : blocks in front of its ports, by name, that a hose needs free, at its current position
    theirs : the same for the ports of others, which it must keep clear of
    mounted : faces it is fixed by now
    carried : whether only supported places count
    """

    standing: PlacedModule
    others: tuple[PlacedModule, ...]
    ports: tuple[tuple[str, Box], ...]
    theirs: tuple[tuple[str, Box], ...]
    mounted: tuple[Face, ...]
    around: Surroundings
    box_gap: Metre
    carried: bool = True


Test = Callable[[PlacedModule, Judgement], bool]


def nearest_place(quest: Quest, accept: Test, sure: Test) -> Place | None:
    """The cheapest place within reach that passes and is sure, else one that passes; None if none.

    accept : whether a place without a fail is acceptable
    sure : whether it is also acceptable with the full uncertainty of the mesh
    """
    waiting: Rows = []
    cramped: Rows = []
    seen: set[Point] = set()
    doubtful: list[Place] = []
    left = MOST_JUDGED
    for roomy, rest, floor in _survivors(quest):
        cramped = heapq.nsmallest(MOST_JUDGED, [*cramped, *rest])
        for row in roomy:
            heapq.heappush(waiting, row)
        while waiting and waiting[0][0] <= floor and left:
            left -= 1
            place = _tried(quest, *heapq.heappop(waiting), seen, accept, sure)
            if place is not None and place.sure:
                return place
            doubtful += [place] if place is not None else []
        if not left:
            break
    for row in cramped:
        if any(not place.judged.barring for place in doubtful):
            break
        place = _tried(quest, *row, seen, accept, sure)
        if place is not None and place.sure:
            return place
        doubtful += [place] if place is not None else []
    return min(doubtful, key=lambda place: place.rank, default=None)


def _tried(
    quest: Quest, cost: Metre, at: Point, seen: set[Point], accept: Test, sure: Test
) -> Place | None:
    """A place of the lattice judged exactly; None if it does not pass or was tried before."""
    standing = replace(quest.standing, at=at)
    verdict = judge(standing, quest.others, quest.around, quest.box_gap)
    if verdict.fails:
        return None
    held = bool(carried_by(standing, quest.around))
    if quest.carried and not held:
        settled = _settled(quest, standing, verdict)
        if settled is None:
            return None
        standing, verdict = settled
        held = True
    if standing.at in seen or not accept(standing, verdict):
        return None
    seen.add(standing.at)
    move = np.array([standing.at]) - np.array(quest.standing.at)
    return Place(
        standing=standing,
        judged=verdict,
        cost=cost,
        sure=verdict.sure and sure(standing, verdict),
        carried=held,
        shut=tuple(dict.fromkeys(n for n, lost in _ports_lost(quest, move) if lost[0])),
    )


def _settled(
    quest: Quest, standing: PlacedModule, verdict: Judgement
) -> tuple[PlacedModule, Judgement] | None:
    """The module pushed against what is less than a step in front of a face it may be fixed by."""
    box = standing.box
    for row in verdict.fit.faces:
        if row.face not in permitted(standing.module, box) or not 0.0 < row.gap <= AGAINST:
            continue
        moved = np.array(standing.at) + row.gap * np.array(outward(box, row.face))
        there = replace(standing, at=as_point(np.round(moved, 4)))
        judged = judge(there, quest.others, quest.around, quest.box_gap)
        if not judged.fails and carried_by(there, quest.around):
            return there, judged
    return None


# --- the sieve --------------------------------------------------------------------------------


@cache
def _shifts() -> tuple[Floats, Floats]:
    """Lattice shifts within reach, nearest first, and their lengths [m]."""
    count = round(REACH / STEP)
    side = np.arange(-count, count + 1)
    every = np.stack(np.meshgrid(side, side, side, indexing="ij"), axis=-1).reshape(-1, 3)
    square = (every**2).sum(axis=1)
    every, square = every[square <= count**2], square[square <= count**2]
    fine = (square <= (FINE / STEP) ** 2) | (every % 2 == 0).all(axis=1)
    every, square = every[fine], square[fine]
    order = np.argsort(square, kind="stable")
    return every[order] * STEP, np.sqrt(square[order]) * STEP


def _survivors(quest: Quest) -> Iterator[tuple[Rows, Rows, float]]:
    """Chunks of (cost, place) that pass the filter, and the lowest cost of all later chunks.

    Those with the required clearance around them come first, then the cramped ones.
    """
    shifts, lengths = _shifts()
    at = np.array(quest.standing.at)
    for first in range(0, len(shifts), CHUNK):
        part = slice(first, first + CHUNK)
        places = np.round(at + shifts[part], 4)
        moves = places - at
        moved = np.linalg.norm(moves, axis=1)
        keep = clear_moves(quest, moves)
        if quest.carried:
            keep[keep] = _near_carriers(quest, moves[keep])
        places, moves, moved = places[keep], moves[keep], moved[keep]
        cost, cramped = moved + _losses(quest, moves), _cramped(quest, moves)
        last = first + CHUNK >= len(shifts)
        floor = math.inf if last else float(lengths[first + CHUNK])
        yield _rows(cost, places, ~cramped), _rows(cost, places, cramped), floor


def _rows(cost: Floats, places: Floats, which: NDArray[np.bool_]) -> Rows:
    return [
        (c, (x, y, z))
        for c, (x, y, z) in zip(cost[which].tolist(), places[which].tolist(), strict=True)
    ]


def clear_moves(quest: Quest, moves: Floats) -> NDArray[np.bool_]:
    """Which moves certainly put neither the box nor its service clearances into anything."""
    box = quest.standing.box
    modules = [other.box for other in quest.others]
    spaces = [space for other in quest.others for space in other.services]
    volumes = [body.box for body in quest.around.fixed if body.kind == "keep-out"]
    solids = [body.box for body in quest.around.fixed if body.kind in STRUCTURE]
    kept = np.ones(len(moves), dtype=np.bool_)
    for block in (box, *quest.standing.services):
        hard = modules + volumes + (spaces if block is box else [])
        kept[kept] = _clear_block(block, moves[kept], hard, solids, quest.around)
    return kept


def _clear_block(
    block: Box, moves: Floats, hard: list[Box], solids: list[Box], around: Surroundings
) -> NDArray[np.bool_]:
    slim = drawn_in(block, dict.fromkeys(FACES, PLAY))
    slimmer = drawn_in(block, dict.fromkeys(FACES, around.noise))
    centres = np.array(block.centre) + moves
    reach = np.abs(np.array(slim.axes)).T @ np.array(slim.half)
    kept = ((centres - reach >= around.low) & (centres + reach <= around.high)).all(axis=1)
    kept[kept] = ~_holds_blocked(slimmer, centres[kept], around)
    kept[kept] = ~boxes_hit_boxes(slim, centres[kept], tuple(hard))
    kept[kept] = ~boxes_hit_boxes(slimmer, centres[kept], tuple(solids))
    kept[kept] = ~_hit_unseen(slim, centres[kept], around)
    kept[kept] = ~boxes_hit_triangles(around.index, slimmer, centres[kept])
    return kept


def _hit_unseen(box: Box, centres: Floats, around: Surroundings) -> NDArray[np.bool_]:
    """Whether the box, moved to each centre, overlaps an unseen cell that bars."""
    reach = np.abs(np.array(box.axes)).T @ np.array(box.half) + around.space.grid.pitch
    hit = np.zeros(len(centres), dtype=np.bool_)
    frame = np.array(around.space.grid.origin), around.space.grid.pitch
    _holds(around.unseen_table, *frame, centres, reach, hit)
    hit[hit] = boxes_hit_cells(around.unseen, around.space.grid, box, centres[hit])
    return hit


def _holds_blocked(box: Box, centres: Floats, around: Surroundings) -> NDArray[np.bool_]:
    """Whether the upright block inscribed in the box, moved to each centre, contains a blocked
    cell.

    Such a cell is wholly inside the box, and with it the triangle or unseen space it represents.
    """
    turned = np.abs(np.array(box.axes))
    half = np.array(box.half)
    spread = turned.T @ half
    shrink = float((half / (turned @ spread)).min())
    grid = around.space.grid
    hit = np.zeros(len(centres), dtype=np.bool_)
    _holds(around.table, np.array(grid.origin), grid.pitch, centres, shrink * spread, hit)
    return hit


@kernel
def _holds(table, origin, pitch, centres, half, hit):  # type: ignore[no-untyped-def]
    """Set hit (n,) where the upright block, moved to a centre, contains a whole counted cell.

    table (ni + 1, nj + 1, nk + 1): cells counted from the grid's corner up to each lattice point;
    origin (3,), pitch of the grid [m]; centres (n, 3), half (3,) of the block [m].
    """
    first = np.empty(3, dtype=np.int64)
    last = np.empty(3, dtype=np.int64)
    for n in range(len(centres)):
        none = False
        for a in range(3):
            low = (centres[n, a] - half[a] - origin[a]) / pitch
            high = (centres[n, a] + half[a] - origin[a]) / pitch
            first[a] = min(max(int(math.ceil(low - 1e-9)), 0), table.shape[a] - 1)
            last[a] = min(max(int(math.floor(high + 1e-9)), 0), table.shape[a] - 1)
            none = none or last[a] <= first[a]
        if none:
            continue
        i, j, k = first
        x, y, z = last
        held = table[x, y, z] - table[i, y, z] - table[x, j, z] - table[x, y, k]
        held += table[i, j, z] + table[i, y, k] + table[x, j, k] - table[i, j, k]
        hit[n] = held > 0


def _near_carriers(quest: Quest, moves: Floats) -> NDArray[np.bool_]:
    """Which moves bring a face the module may be fixed by to less than a step from a surface."""
    box, around = quest.standing.box, quest.around
    near = np.zeros(len(moves), dtype=np.bool_)
    for face in permitted(quest.standing.module, box):
        # Surfaces that only graze the sides do not support anything.
        slim = drawn_in(box, dict.fromkeys(FACES, around.noise + PLAY))
        strip = grown(slim, face, around.noise + PLAY + AGAINST)
        near[~near] = _meets(strip, moves[~near], quest, modules=False)
    return near


# --- what a place would lose ------------------------------------------------------------------


def _losses(quest: Quest, moves: Floats) -> Floats:
    """Penalty in metres for mounting faces, clearance and ports lost at each move."""
    lost = np.zeros(len(moves))
    if len(moves) == 0:
        return lost
    box, around = quest.standing.box, quest.around
    for face in quest.mounted:
        strip = grown(drawn_in(box, {face: around.noise}), face, around.noise + around.reach)
        held = _meets(strip, moves, quest, modules=False)
        lost += np.where(held, 0.0, LOSES_BASE if face == "base" else LOSES_SIDE)
    for _, shut in _ports_lost(quest, moves):
        lost += np.where(shut, LOSES_PORT, 0.0)
    return lost


def _ports_lost(quest: Quest, moves: Floats) -> Iterator[tuple[str, NDArray[np.bool_]]]:
    """Each port, and which moves leave no room in front of it for a hose to turn."""
    box = quest.standing.box
    for name, block in quest.ports:
        yield name, _meets(block, moves, quest, modules=True)
    for name, block in quest.theirs:
        yield name, boxes_hit_boxes(box, np.array(box.centre) + moves, (block,))


def _cramped(quest: Quest, moves: Floats) -> NDArray[np.bool_]:
    """Which moves surely leave less than the required gap around the box, or service clearance.

    Faces it may be fixed by are left out: they are pushed against what is close to them.
    """
    box, around = quest.standing.box, quest.around
    cramped = np.zeros(len(moves), dtype=np.bool_)
    if len(moves) == 0:
        return cramped
    need = quest.box_gap + around.uncertainty(box.centre)
    fixed = {*quest.mounted, *permitted(quest.standing.module, box)}
    by = {face: around.noise + need if face in fixed else -need for face in FACES}
    cramped |= _meets(drawn_in(box, by), moves, quest, modules=True)
    doubt = around.uncertainty(box.centre)
    for service in quest.standing.module.service:
        space = grown(box, service.face, service.depth)
        longer = drawn_in(space, dict.fromkeys(FACES, around.noise) | {service.face: -doubt})
        cramped |= _meets(longer, moves, quest, modules=True)
    return cramped


def _meets(block: Box, moves: Floats, quest: Quest, *, modules: bool) -> NDArray[np.bool_]:
    """Whether a block, moved along, meets the mesh, a solid, or also a module or unseen space."""
    around = quest.around
    centres = np.array(block.centre) + moves
    met = boxes_hit_triangles(around.index, block, centres)
    kinds = (*STRUCTURE, "keep-out") if modules else STRUCTURE
    volumes = [body.box for body in around.fixed if body.kind in kinds]
    others = [other.box for other in quest.others] if modules else []
    met |= boxes_hit_boxes(block, centres, tuple(volumes + others))
    if modules:
        met |= _hit_unseen(block, centres, around)
    return met


def port_blocks(scenario: Scenario, standing: PlacedModule) -> tuple[tuple[str, Box], ...]:
    """Each connected port and the blocks in front of it that its hose needs: to begin, and to
    turn.
    """
    name = standing.module.name
    blocks = []
    for line in scenario.kit.lines:
        hose, room = scenario.hose_of(line), scenario.kit.allowances.hose_clearance
        width, straight = hose.outside_diameter, scenario.straight_of(line)
        around = width / 2 + room
        for end in (line.start, line.end):
            if end.owner != name:
                continue
            at, out = standing.ports[end.port]
            way = np.array(out)
            for side, depth in (
                (width, straight + BEFORE_PORT),
                (2 * around, straight + hose.min_bend_radius + around),
            ):
                blocks.append((str(end), _block(at, way, side, depth)))
    return tuple(blocks)


def _block(at: Point, way: Floats, width: Metre, depth: Metre) -> Box:
    """A block of square section from a point along a unit vector."""
    side = np.eye(3)[int(np.abs(way).argmin())]
    across = np.cross(way, side)
    across /= np.linalg.norm(across)
    axes = as_axes(np.stack([way, across, np.cross(way, across)]))
    centre = as_point(np.array(at) + way * (depth / 2 + PLAY))
    return Box(centre=centre, half=(depth / 2, width / 2, width / 2), axes=axes)
