"""Which cells measured rays passed: from where the scanner stood to the points it measured.

A ray was really measured, while a viewpoint declared by the user looks in every direction, also
where no scanner did. The points of one frame become a map of directions with the nearest point in
each; a cell was passed by that frame if all directions around it hold a point beyond the cell.
Directions without a point prove nothing. A ray does not pass a surface that other frames measured
either, and where some frames measured something on the way, as on a glossy surface that returns a
part of the light, more frames must have passed: what is seen behind it is a mirror image.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter

from fitcheck.kernels import kernel
from fitcheck.model.finding import Tell, silent
from fitcheck.space.cells.sight import Scene, cell_units, counted, first_met, in_parts
from fitcheck.units import Metre, Ratio

#: A map is made coarser by these steps until most of its directions have neighbours on all sides.
STEPS = (1, 2, 3, 4, 6, 8, 12, 16)
MOST = 0.6
#: A point this far before a cell contradicts rays through it; nearer ones may be noise [m].
CLEAR: Metre = 0.040
#: Points this close to a surface may be of it: what a phone's depth is off at most, mirrors and
#: edges apart [m].
ON_SURFACE: Metre = 0.060
#: Maximum number of directions along the edge of one of the six faces of a map.
FINEST = 1024


@dataclass(frozen=True, eq=False, kw_only=True)
class Rays:
    """Measured rays in the boat frame [m].

    stations : (k, 3), where the scanner was for each frame; points : (n, 3) that it measured;
    frame : (n,) the frame of each point
    """

    stations: NDArray[np.float64]
    points: NDArray[np.float64]
    frame: NDArray[np.int32]


@dataclass(frozen=True, eq=False, kw_only=True)
class _Maps:
    """Distance to the nearest point by direction, of all frames [cells].

    stations : (k, 3) [cells]; edge : (k,) directions along the edge of a face; first : (k, 6)
    where a face begins in `far`, -1 for a face without points; far : flat float32, 0 without a
    point
    """

    stations: NDArray[np.float64]
    edge: NDArray[np.int64]
    first: NDArray[np.int64]
    far: NDArray[np.float32]


def share_on_surfaces(scene: Scene, rays: Rays) -> Ratio:
    """Share of the measured points in the grid that are within ON_SURFACE of a surface."""
    index = scene.grid.index(rays.points)
    index = index[scene.grid.holds(index)]
    if len(index) == 0:
        return 0.0
    near = scene.sight[tuple(index.T)] * scene.grid.pitch <= ON_SURFACE
    return float(near.mean())


def passed_by(
    scene: Scene,
    cells: NDArray[np.int64],
    rays: Rays,
    enough: int,
    tell: Tell = silent,
) -> NDArray[np.uint8]:
    """How many more frames measured rays through each of (n, 3) cells than points before it.

    Counting stops at `enough`.
    """
    maps = _maps(scene, rays)
    clear = CLEAR / scene.grid.pitch

    def count(some: NDArray[np.int64]) -> NDArray[np.uint8]:
        times = np.zeros(len(some), dtype=np.uint8)

        def work(rows: slice) -> None:
            _pass(
                some[rows], maps.stations, maps.edge, maps.first, maps.far, scene.sight, clear,
                enough, times[rows],
            )  # fmt: skip

        in_parts(work, len(some), tell, "cells checked for measured rays")
        return times

    return counted(scene, cells, count)


def _maps(scene: Scene, rays: Rays) -> _Maps:
    grid = scene.grid
    stations, points = cell_units(grid, rays.stations), cell_units(grid, rays.points)
    order = np.argsort(rays.frame, kind="stable")
    bounds = np.searchsorted(rays.frame[order], np.arange(len(stations) + 1))
    edges = np.ones(len(stations), dtype=np.int64)
    first = np.full((len(stations), 6), -1, dtype=np.int64)
    kept: list[NDArray[np.float32]] = []
    length = 0
    for number, station in enumerate(stations):
        own = points[order[bounds[number] : bounds[number + 1]]] - station
        edges[number], faces = _map(own)
        for face, far in faces.items():
            first[number, face] = length
            kept.append(far.ravel())
            length += far.size
    far = np.concatenate([np.zeros(0, dtype=np.float32), *kept])
    return _Maps(stations=stations, edge=edges, first=first, far=far)


def _map(ways: NDArray[np.float64]) -> tuple[int, dict[int, NDArray[np.float32]]]:
    """Directions along an edge, and the faces of the map of (n, 3) vectors to points [cells]."""
    away = np.linalg.norm(ways, axis=1)
    ways, away = ways[away > 1.0], away[away > 1.0]
    if len(ways) == 0:
        return 1, {}
    longest = np.abs(ways).argmax(axis=1)
    ahead = np.take_along_axis(ways, longest[:, None], axis=1)[:, 0]
    face = 2 * longest + (ahead > 0.0)
    # The two other components, in the order of the axes.
    across = np.empty((len(ways), 2))
    across[:, 0] = np.where(longest == 0, ways[:, 1], ways[:, 0])
    across[:, 1] = np.where(longest == 2, ways[:, 1], ways[:, 2])
    tangent = across / np.abs(ahead)[:, None]
    # A direction is at least half as wide as a cell at the farthest point.
    finest = int(min(FINEST, max(8, 4.0 * np.quantile(away, 0.99))))
    edge = finest
    faces: dict[int, NDArray[np.float32]] = {}
    for step in STEPS:
        edge = max(2, finest // step)
        at = np.clip(((tangent + 1.0) * 0.5 * edge).astype(np.int64), 0, edge - 1)
        faces = {}
        held = inner = 0
        for number in np.unique(face):
            own = face == number
            flat = np.full(edge * edge, np.inf, dtype=np.float32)
            np.minimum.at(flat, at[own, 0] * edge + at[own, 1], away[own].astype(np.float32))
            far = flat.reshape(edge, edge)
            some = np.isfinite(far)
            held += int(some[1:-1, 1:-1].sum())
            beside = some[:-2, 1:-1] & some[2:, 1:-1] & some[1:-1, :-2] & some[1:-1, 2:]
            inner += int((some[1:-1, 1:-1] & beside).sum())
            far[~some] = 0.0
            faces[int(number)] = far
        if inner >= MOST * held:
            break
    return edge, {number: _nearest_round(far) for number, far in faces.items()}


def _nearest_round(far: NDArray[np.float32]) -> NDArray[np.float32]:
    """The nearest point in each direction and the eight beside it, 0 where there is none.

    A glossy surface returns some of the rays and mirrors the rest, so that a ray that seems to
    pass has others beside it that do not. A direction without a point takes the nearest from
    directions twice as wide.
    """
    some = np.where(far > 0.0, far, np.inf)
    size = len(far) + len(far) % 2
    even = np.full((size, size), np.inf, dtype=np.float32)
    even[: len(far), : len(far)] = some
    wide = even.reshape(size // 2, 2, size // 2, 2).min(axis=(1, 3))
    least = [
        np.where(np.isfinite(one), minimum_filter(one, 3, mode="nearest"), 0.0)
        for one in (some, wide)
    ]
    filling = least[1].repeat(2, axis=0).repeat(2, axis=1)[: len(far), : len(far)]
    return np.where(far > 0.0, least[0], filling).astype(np.float32)


@kernel(nogil=True)
def _pass(cells, stations, edge, first, far, sight, clear, enough, times):  # type: ignore[no-untyped-def]
    """Set times (n,) to how many more frames passed a cell than met something before it.

    At most `enough`. cells (n, 3); stations (k, 3) [cells]; edge (k,), first (k, 6), far (m,) as
    in _Maps; sight as in Scene; clear: how far before a cell a point contradicts it [cells].
    """
    for row in range(cells.shape[0]):
        x, y, z = cells[row, 0] + 0.5, cells[row, 1] + 0.5, cells[row, 2] + 0.5
        # Most cells that no frame passed are dismissed without tracing a line.
        found = 0
        for frame in range(stations.shape[0]):
            least, away = _measured(x, y, z, frame, stations, edge, first, far)
            found += least > away + 0.5
            if found >= enough:
                break
        if found < enough:
            continue
        lead = 0
        for frame in range(stations.shape[0]):
            least, away = _measured(x, y, z, frame, stations, edge, first, far)
            passed = least > away + 0.5
            if not passed and (least == 0.0 or least > away - clear):
                continue
            if away >= 1.0:
                dx, dy, dz = stations[frame, 0] - x, stations[frame, 1] - y, stations[frame, 2] - z
                dx, dy, dz = dx / away, dy / away, dz / away
                if first_met(x, y, z, dx, dy, dz, away, sight) != -1:
                    continue
            lead += 1 if passed else -1
            if lead >= enough:
                break
        times[row] = max(lead, 0)


@kernel(nogil=True)
def _measured(x, y, z, frame, stations, edge, first, far):  # type: ignore[no-untyped-def]
    """Distance to the nearest point a frame measured around the direction of a place, and to it.

    The first is 0 where there are no points all around. x, y, z [cells]; the rest as for _pass.
    """
    dx, dy, dz = x - stations[frame, 0], y - stations[frame, 1], z - stations[frame, 2]
    ax, ay, az = abs(dx), abs(dy), abs(dz)
    if ax >= ay and ax >= az:
        face, size, u, v = (1 if dx > 0.0 else 0), ax, dy, dz
    elif ay >= az:
        face, size, u, v = (3 if dy > 0.0 else 2), ay, dx, dz
    else:
        face, size, u, v = (5 if dz > 0.0 else 4), az, dx, dy
    away = np.sqrt(dx * dx + dy * dy + dz * dz)
    begin = first[frame, face]
    if begin < 0 or size == 0.0:
        return 0.0, away
    wide = edge[frame]
    # The four directions around the place's own; at the edge of a face, those beside it.
    i = min(max(int(np.floor((u / size + 1.0) * 0.5 * wide - 0.5)), 0), wide - 2)
    j = min(max(int(np.floor((v / size + 1.0) * 0.5 * wide - 0.5)), 0), wide - 2)
    near = begin + i * wide + j
    return (
        min(min(far[near], far[near + 1]), min(far[near + wide], far[near + wide + 1])),
        away,
    )
