"""Unscanned space near boxes and hoses, and where it could be scanned from."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from fitcheck.findings.said import quantities, quantity, say, where
from fitcheck.geometry.box import as_point
from fitcheck.geometry.grid import Grid
from fitcheck.kernels import kernel
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.fit import Fit
from fitcheck.model.found.routes import HoseRoute, Routes
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Space
from fitcheck.space.cells.labels import within
from fitcheck.space.cells.sight import first_met, room_round
from fitcheck.units import CubicMetre, Metre, Ratio

#: Distance searched around a box or hose [m].
REACH: Metre = 0.10
#: Smaller pieces are not reported [m3].
LEAST: CubicMetre = 0.0002
#: Clearance a scanner needs, and the distance it is held at where there is room [m].
SCANNER: Metre = 0.08
HELD_OFF: Metre = 0.30
#: Scanner positions tried, and cells of a piece checked from each.
PLACES, CELLS = 400, 60
#: A viewpoint that shows less of a piece is not suggested.
WORTHWHILE: Ratio = 0.3

RULE = "unseen-near"


def on_nearby(space: Space, fit: Fit, routes: Routes) -> tuple[Finding, ...]:
    """For every box and hose, the largest unscanned piece within REACH, and where to
    scan it from.
    """
    inner = (space.label == UNSEEN) & within(space.label)
    if not inner.any():
        return ()
    # Unseen cells within the surface's uncertainty are its shadow, not a space of their own.
    doubt = (space.accuracy + space.grid.pitch) / space.grid.pitch
    room = room_round(space.label == SOLID)
    deep = inner & (room > doubt)
    view = _View(space, inner, room)
    found = []
    for name, cells, away in _beside(space, inner, fit, routes):
        piece, near = _largest(cells, away, deep)
        if len(piece) * space.grid.pitch**3 >= LEAST:
            found.append(_told(space, name, len(cells), piece, near, view))
    return tuple(found)


def _beside(
    space: Space, inner: NDArray[np.bool_], fit: Fit, routes: Routes
) -> Iterator[tuple[str, NDArray[np.int64], NDArray[np.float64]]]:
    """Name, unseen cells (n, 3) within REACH and their distances, of every box and hose."""
    for module in fit.modules:
        corners = module.box.corners()
        cells = _cells_between(space.grid, inner, corners.min(axis=0), corners.max(axis=0))
        away = np.maximum(module.box.distance(space.grid.centre(cells)), 0.0)
        yield module.name, cells[away <= REACH], away[away <= REACH]
    for route in routes.hoses:
        if isinstance(route, HoseRoute):
            low, high = route.path.min(axis=0), route.path.max(axis=0)
            cells = _cells_between(space.grid, inner, low, high)
            half = route.outside_diameter / 2.0
            off, _ = cKDTree(route.path).query(space.grid.centre(cells).reshape(-1, 3))
            away = np.maximum(off - half, 0.0)
            yield route.line, cells[away <= REACH], away[away <= REACH]


def _cells_between(
    grid: Grid, inner: NDArray[np.bool_], low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.int64]:
    first = np.clip(grid.index(low - REACH), 0, grid.shape)
    last = np.clip(grid.index(high + REACH) + 1, 0, grid.shape)
    part = inner[tuple(slice(a, b) for a, b in zip(first, last, strict=True))]
    cells: NDArray[np.int64] = np.argwhere(part) + first
    return cells


def _largest(
    cells: NDArray[np.int64], away: NDArray[np.float64], deep: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], Metre]:
    """The largest connected piece that is more than a surface's shadow, and its distance."""
    if len(cells) == 0:
        return cells, 0.0
    low = cells.min(axis=0)
    mask = np.zeros(cells.max(axis=0) - low + 1, dtype=np.bool_)
    mask[tuple((cells - low).T)] = True
    names, count = ndimage.label(mask)
    name = names[tuple((cells - low).T)]
    sizes = np.bincount(name, minlength=count + 1)
    thick = np.bincount(name, deep[tuple(cells.T)], minlength=count + 1) > 0
    chosen = name == int(np.where(thick, sizes, 0).argmax())
    if not thick.any():
        return cells[:0], 0.0
    return cells[chosen], float(away[chosen].min())


class _View:
    """Possible scanner positions, and lines of sight past solid things."""

    def __init__(self, space: Space, inner: NDArray[np.bool_], room: NDArray[np.uint8]) -> None:
        self.grid, self.room = space.grid, room
        clear = room * space.grid.pitch > SCANNER
        #: Seen places first; others are suggested where no seen one shows enough.
        self.places = [_some((space.label == FREE) & clear), _some(inner & clear)]

    def best(self, piece: NDArray[np.int64]) -> tuple[NDArray[np.float64] | None, Ratio, bool]:
        """The place that shows most of a piece (n, 3), the share shown, whether the place was
        seen.
        """
        some = piece[:: max(1, len(piece) // CELLS)]
        for places, seen in zip(self.places, (True, False), strict=True):
            off = np.linalg.norm(places - piece.mean(axis=0), axis=1) * self.grid.pitch
            held = places[off >= HELD_OFF]
            shown = np.zeros(len(held))
            _show(held + 0.5, some + 0.5, self.room, shown)
            if len(held) and shown.max() >= WORTHWHILE * len(some):
                best = int(shown.argmax())
                return self.grid.centre(held[best]), float(shown[best]) / len(some), seen
        return None, 0.0, False


def _some(mask: NDArray[np.bool_]) -> NDArray[np.int64]:
    cells = np.argwhere(mask)
    return cells[:: max(1, len(cells) // PLACES)]


@kernel
def _show(places, cells, room, shown):  # type: ignore[no-untyped-def]
    """Add to shown (n,) the number of cells that no opaque cell hides from each place.

    places (n, 3), cells (m, 3) [cells]; room (ni, nj, nk) from room_round [cells].
    """
    for place in range(places.shape[0]):
        for row in range(cells.shape[0]):
            d = cells[row] - places[place]
            far = np.sqrt((d * d).sum())
            if far == 0.0:
                # zero distance: dividing by it would lead out of the grid
                shown[place] += 1
                continue
            d = d / far
            x, y, z = places[place, 0], places[place, 1], places[place, 2]
            shown[place] += first_met(x, y, z, d[0], d[1], d[2], far, room) == -1


def _told(
    space: Space, name: str, cells: int, piece: NDArray[np.int64], near: Metre, view: _View
) -> Finding:
    cell = space.grid.pitch**3
    size = (np.ptp(piece, axis=0) + 1) * space.grid.pitch
    centres = space.grid.centre(piece)
    middle = centres[np.linalg.norm(centres - centres.mean(axis=0), axis=1).argmin()]
    place, share, seen = view.best(piece)
    shows, remedy = say("unseen-near.no-place"), say("unseen-near.feel")
    if place is not None:
        shows = say(
            "unseen-near.seen" if seen else "unseen-near.if-room",
            place=where(place),
            share=quantity(share, "share"),
        )
        remedy = say("unseen-near.scan", place=where(place))
    return Finding(
        severity="note",
        rule=RULE,
        subject=name,
        said=say(
            "unseen-near",
            unseen=quantity(cells * cell, "nook"),
            reach=quantity(REACH, "gap"),
            name=name,
            size=quantities(size, "size"),
            at=where(middle),
            near=quantity(near, "gap"),
            view=shows,
        ),
        source="the mesh and its viewpoints",
        value=len(piece) * cell,
        unit="m3",
        place=as_point(middle),
        remedy=Remedy(said=remedy),
    )
