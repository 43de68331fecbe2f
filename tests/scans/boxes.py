"""Boxes whose true gap is known before they are judged: roomy ones, and ones near the limit."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from fitcheck.fit.measured.glimpsed import judge_as_seen
from fitcheck.fit.measured.judge import judge
from fitcheck.fit.measured.surroundings import surround
from fitcheck.geometry.box import Box, as_axes, as_point
from fitcheck.model.found.space import Space
from fitcheck.model.given.kit import Module
from fitcheck.model.placed import PlacedModule
from tests.scans.accepted import Judge
from tests.scans.account import Walked
from tests.scans.convex import Floats

#: Room asked round every box, and what a roomy box has to spare or one near the limit at most [m].
ASKED, SPARE = 0.010, 0.030
#: Longest side of a box [m].
MOST = 0.40


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownBox:
    """A box, its true gap and what the program said of it [m].

    kind : "roomy" (SPARE more than asked, in air that rays of two pictures passed) or "near" (the
           true gap within SPARE of what is asked)
    said : the verdict of the fit stage, "mounted" where it took the box for fixed to something
    """

    kind: Literal["roomy", "near"]
    said: str
    true: float


def known_boxes(
    scan: Walked, space: Space, wanted: int, rng: np.random.Generator
) -> list[KnownBox]:
    """Up to `wanted` boxes of each kind at random places, each judged by the fit stage alone."""
    around = surround(space, scan=True)
    seen = surround(space.as_seen, scan=True) if space.as_seen else None
    check = Judge(scan.truth, scan.truth.lids)
    found: list[KnownBox] = []
    for centre in _seen_places(scan, 40 * wanted, rng):
        standing = _stand(scan, space, centre, rng)
        if standing is None:
            continue
        box = _true(scan, space, standing)
        gap = check.box(box)
        if gap < 0.0:
            continue
        kinds = Counter(row.kind for row in found)
        stands: list[tuple[Literal["roomy", "near"], PlacedModule, float]] = []
        if gap >= ASKED + SPARE and kinds["roomy"] < wanted and _well_seen(scan, box):
            stands.append(("roomy", standing, gap))
        if kinds["near"] < wanted:
            moved = _to_limit(scan, space, standing, check, rng)
            stands += [] if moved is None else [("near", *moved)]
        for kind, one, true in stands:
            verdict = judge_as_seen(judge(one, (), around, ASKED), one, (), seen, ASKED)
            said = "mounted" if verdict.mounted else verdict.fit.verdict
            found.append(KnownBox(kind=kind, said=said, true=true))
        if min(kinds["roomy"], kinds["near"]) >= wanted:
            break
    return found


def _seen_places(scan: Walked, count: int, rng: np.random.Generator) -> Floats:
    """Places in the bay's air that rays of two pictures passed, in the truth's axes."""
    draw = rng.uniform(*scan.truth.bounds, (20 * count, 3))
    draw = draw[scan.truth.own(draw)]
    draw = draw[scan.truth.depth(draw) < -0.05]
    return draw[scan.times_seen(draw)[1] >= 2][:count]


def _stand(
    scan: Walked, space: Space, centre: Floats, rng: np.random.Generator
) -> PlacedModule | None:
    """A box of random size about a place, upright in the boat, half of them turned."""
    size = 0.08 + (MOST - 0.08) * rng.random(3) ** 1.5
    turn = rng.uniform(-math.pi, math.pi) if rng.random() < 0.5 else 0.0
    at = scan.truth_to_boat(space.frame, centre) - [0.0, 0.0, size[2] / 2]
    module = Module(
        name=f"box {rng.integers(10**9)}",
        size=as_point(size),
        mass=5.0,
        stands="any",
        ports=(),
        service=(),
    )
    standing = PlacedModule(module=module, at=as_point(at), rotate=(0.0, 0.0, turn))
    ends = scan.boat_to_truth(space.frame, standing.box.corners())
    return standing if scan.truth.own(ends).all() else None


def _true(scan: Walked, space: Space, standing: PlacedModule) -> Box:
    """Where a box really comes to stand."""
    box = standing.box
    return Box(
        centre=as_point(scan.boat_to_truth(space.frame, np.array(box.centre))),
        half=box.half,
        axes=as_axes(scan.ways_to_truth(space.frame, np.array(box.axes))),
    )


def _well_seen(scan: Walked, box: Box) -> bool:
    """Whether rays of two pictures passed all of a box and of the room asked round it."""
    grid = np.stack(np.meshgrid(*[np.linspace(-1, 1, 6)] * 3), axis=-1).reshape(-1, 3)
    points = box.world(grid * (np.array(box.half) + ASKED))
    return bool((scan.times_seen(points)[1] >= 2).all())


def _to_limit(
    scan: Walked, space: Space, standing: PlacedModule, check: Judge, rng: np.random.Generator
) -> tuple[PlacedModule, float] | None:
    """The box moved some way until its true gap is near what is asked, and that gap."""
    way = rng.normal(0.0, 1.0, 3)
    way /= np.linalg.norm(way)
    aim = ASKED + rng.uniform(-SPARE, SPARE)
    moved, gap = standing, math.inf
    for _ in range(25):
        gap = check.distance(_true(scan, space, moved))
        if gap <= max(aim, 0.0) + 0.002:
            break
        moved = replace(moved, at=as_point(np.array(moved.at) + (gap - max(aim, 0.0)) * way))
    else:
        return None
    if aim < 0.0:
        moved = replace(moved, at=as_point(np.array(moved.at) + (0.002 - aim) * way))
    true = check.box(_true(scan, space, moved))
    return (moved, true) if abs(true - ASKED) <= SPARE else None


def boxes_line(severity: str, kind: str, boxes: list[KnownBox]) -> str:
    """One row: what was said of the boxes of a kind, and how often that was wrong."""
    said = Counter(box.said for box in boxes)
    fits = [box.true for box in boxes if box.said == "fits"]
    clash = [box.true for box in boxes if box.said == "clash"]
    return (
        f"{severity:8}{kind:6}{len(boxes):5d} boxes: fit {said['fits']:4d}, touch "
        f"{said['touch']:4d}, uncertain {said['tight']:4d}, unseen {said['unseen']:4d}, "
        f"clash {said['clash']:4d}, mounted {said['mounted']:3d}; of fit meet the truth "
        f"{sum(g < 0.0 for g in fits)}, have less than asked {sum(g < ASKED for g in fits)}; "
        f"of clash have what is asked {sum(g >= ASKED for g in clash)}"
    )
