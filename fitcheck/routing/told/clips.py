"""Clip positions of a routed hose: as few as keep the spacing, evenly spread, near a surface.

Common practice, no source: every 0.4 m where it is level, every 0.8 m where it is upright, a
high-pressure hose every 0.4 m; within 150 mm of each end. A high-pressure hose moves under
pressure: it is not clipped in a bend, but it is clipped between two bends in different planes
(hydraulic hose practice: bend in one plane, clamp at the change of plane).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_point
from fitcheck.geometry.curve import Curve
from fitcheck.model.contact import by_a_hose
from fitcheck.model.found.routes import Clip
from fitcheck.routing.world.ports import Job
from fitcheck.routing.world.structure import Structure, looked_at
from fitcheck.units import Metre, Point, Radian, Ratio

Numbers = NDArray[np.float64]

#: Spacing where a hose is level and where it is upright [m].
LEVEL, UPRIGHT = 0.4, 0.8
#: A hose steeper than this is upright [rad].
STEEP: Radian = math.radians(45.0)
#: Maximum distance from each end to the nearest clip [m].
FROM_END = 0.15
#: Half the width of a clip: the room it needs on a straight [m].
HALF_CLIP = 0.01
#: Two bends whose planes differ by more than this are in different planes [rad].
OTHER_PLANE: Radian = math.radians(10.0)

_TOO_FAR, _NO_CLIP_BETWEEN, _PER_CLIP, _IN_BEND, _UNEVEN = 50.0, 1e4, 1.0, 0.2, 0.05


@dataclass(frozen=True, eq=False, kw_only=True)
class Clipping:
    """The clips of one hose, and the plane changes where a clip is needed but has no place."""

    clips: tuple[Clip, ...]
    lacking: tuple[Point, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class _Sites:
    """Places where a clip can sit, in order; `gone` is the integral of length over spacing up to
    each.

    s, gone, bend (inside one), foot : (n,) and (n, 3)
    """

    s: Numbers
    gone: Numbers
    bend: NDArray[np.bool_]
    point: Numbers
    foot: Numbers
    which: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Between:
    """The straight between two bends in different planes, as distances along the hose."""

    first: Metre
    last: Metre
    place: Point


def clip_hose(job: Job, curve: Curve, structure: Structure) -> Clipping:
    """Clips along a hose within its line's reach of a surface."""
    pressed = job.line.duty == "high pressure"
    sites = _sites(job, curve, structure, pressed)
    between = _changes_of_plane(curve) if pressed else []
    chosen = _chosen(sites, _gone(job, curve)[1][-1], curve.length, between)
    clips = tuple(_clip(job, structure, sites, row) for row in chosen)
    places = sites.s[chosen]
    lacking = tuple(
        one.place
        for one in between
        if not ((places >= one.first - 1e-9) & (places <= one.last + 1e-9)).any()
    )
    return Clipping(clips=clips, lacking=lacking)


def spacing(job: Job, steepness: Numbers) -> Numbers:
    """Maximum spacing of clips where a hose rises at these angles (n,) [rad], (n,) [m]."""
    most = np.where(steepness > STEEP, UPRIGHT, LEVEL)
    if job.line.duty == "high pressure":
        most = np.minimum(most, LEVEL)
    return np.minimum(most, job.span) if job.way == "along structure" else most


def _gone(job: Job, curve: Curve) -> tuple[Numbers, Numbers]:
    """Places along a hose, and the integral of length over spacing up to each."""
    s, points = looked_at(curve)
    step = np.diff(points, axis=0)
    rise = np.arcsin(np.clip(np.abs(step[:, 2]) / np.linalg.norm(step, axis=1), 0.0, 1.0))
    return s, np.concatenate([[0.0], np.cumsum(np.diff(s) / spacing(job, rise))])


def _sites(job: Job, curve: Curve, structure: Structure, pressed: bool) -> _Sites:
    """Every place on a hose within reach of a surface; under high pressure on straights only."""
    s, points = looked_at(curve)
    _, gone = _gone(job, curve)
    limit = job.reach + job.half
    distance, foot, which = structure.nearest(points, limit + 1e-9)
    bend, narrow = _bends_at(curve, s)
    kept = (
        (distance <= limit) & (which >= 0) & ~(bend | narrow if pressed else np.zeros_like(bend))
    )
    kept &= (s > HALF_CLIP) & (s < curve.length - HALF_CLIP)
    return _Sites(
        s=s[kept],
        gone=gone[kept],
        bend=bend[kept],
        point=points[kept],
        foot=foot[kept],
        which=which[kept],
    )


def _bends_at(curve: Curve, s: Numbers) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which places lie in a bend, and which are too close to one for a clip."""
    inside, beside = np.zeros(len(s), dtype=bool), np.zeros(len(s), dtype=bool)
    begins = 0.0
    for row in curve.pieces:
        if row[9] > 0.0:
            last = begins + row[10]
            inside |= (s > begins + 1e-9) & (s < last - 1e-9)
            beside |= (s > begins - HALF_CLIP) & (s < last + HALF_CLIP)
        begins += row[10]
    return inside, beside


def _changes_of_plane(curve: Curve) -> list[_Between]:
    """Straights between two bends that do not lie in one plane."""
    found = []
    begins, before, last = 0.0, -1, 0.0
    number = 0
    for row in curve.pieces:
        if row[9] > 0.0:
            if before >= 0:
                cosine = abs(float(curve.normal[before] @ curve.normal[number]))
                if math.acos(min(1.0, cosine)) > OTHER_PLANE:
                    place = as_point((curve.bend_end[before] + curve.bend_start[number]) / 2)
                    found.append(_Between(first=last, last=begins, place=place))
            before, last = number, begins + row[10]
            number += 1
        begins += row[10]
    return found


def _chosen(
    sites: _Sites, total: Ratio, length: Metre, between: list[_Between]
) -> NDArray[np.int64]:
    """Rows of the sites with the lowest cost: clips, too wide gaps, uneven gaps, clips
    in bends.
    """
    count = len(sites.s)
    if count == 0:
        return np.zeros(0, dtype=np.int64)
    own = _PER_CLIP + _IN_BEND * sites.bend
    first = np.maximum(0.0, sites.s - FROM_END)
    cost = own + _gap_cost(sites.gone, first / LEVEL) + _skipped(-1.0, sites.s, between)
    before = np.full(count, -1, dtype=np.int64)
    for row in range(1, count):
        gap = sites.gone[row] - sites.gone[:row]
        way = cost[:row] + own[row] + _gap_cost(gap, gap - 1.0)
        way += _skipped_to(sites.s[:row], float(sites.s[row]), between)
        least = int(np.argmin(way))
        if way[least] < cost[row]:
            cost[row], before[row] = way[least], least
    left = np.maximum(0.0, length - sites.s - FROM_END)
    cost = cost + _gap_cost(total - sites.gone, left / LEVEL)
    cost = cost + _skipped_to(sites.s, math.inf, between)
    rows = [int(np.argmin(cost))]
    while before[rows[-1]] >= 0:
        rows.append(int(before[rows[-1]]))
    return np.array(rows[::-1], dtype=np.int64)


def _gap_cost(gap: Numbers, over: Numbers) -> Numbers:
    """Cost of gaps in units of the spacing; `over` is the excess over the maximum."""
    return np.asarray(_UNEVEN * gap**2 + _TOO_FAR * np.maximum(0.0, over - 1e-9))


def _skipped(last: Metre, here: Numbers, between: list[_Between]) -> Numbers:
    """Cost of straights that need a clip and lie between a clip at `last` and those at `here`."""
    cost = np.zeros(len(here))
    for one in between:
        cost += _NO_CLIP_BETWEEN * ((last < one.first) & (here > one.last))
    return cost


def _skipped_to(last: Numbers, here: Metre, between: list[_Between]) -> Numbers:
    cost = np.zeros(len(last))
    for one in between:
        cost += _NO_CLIP_BETWEEN * ((last < one.first) & (here > one.last))
    return cost


def _clip(job: Job, structure: Structure, sites: _Sites, row: int) -> Clip:
    toward = sites.foot[row] - sites.point[row]
    size = float(np.linalg.norm(toward))
    kind, name = structure.named(int(sites.which[row]))
    return Clip(
        along=float(sites.s[row]),
        point=as_point(sites.point[row]),
        normal=as_point(toward / size),
        kind=kind,
        to=by_a_hose(kind, name),
        distance=size - job.half,
    )
