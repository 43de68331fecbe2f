"""What part of a mesh would count as seen, tried from suggested places rather than known ones.

The inside point and the scanner positions have not been declared yet. The roomiest place with
walls on most sides is suggested as the inside point, and places spread through what can be seen
from there as viewpoints. Such places may look where no scanner did, so nothing here is ever used
to accept a box or a hose: it shows holes and hidden corners, and gives starting values.
"""

from __future__ import annotations

import edt
import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_axes, as_point
from fitcheck.geometry.grid import Grid
from fitcheck.geometry.raster import touched_cells
from fitcheck.model.found.scan import Gap, Numbers, Preview
from fitcheck.model.found.space import FREE, UNSEEN, Frame, Space
from fitcheck.model.uncertainty import Uncertainty
from fitcheck.space.cells.labels import (
    Cell,
    Evidence,
    Labelling,
    Matter,
    label_closed,
    label_seen,
    within,
)
from fitcheck.space.cells.sight import build_scene
from fitcheck.units import Metre

#: Cells along the longest side, and the smallest cell.
ALONG, FINEST = 80, 0.010
MARGIN = 3
#: Viewpoints suggested, the inside point among them.
EYES = 12
#: At the inside point, this many of the six axis directions meet a wall.
WALLED = 5


def preview(
    triangles: NDArray[np.float64], stations: NDArray[np.float64], scale: Metre
) -> Preview | None:
    """Label a coarse grid from suggested places; None when there is no free room anywhere.

    triangles : (n, 3, 3), stations : (k, 3), both already multiplied by `scale`; the places in the
    result are divided by it again.
    """
    matter = _matter(triangles, stations)
    room, start = _roomiest(matter)
    if start is None:
        return None
    inside = matter.grid.centre(np.array(start))
    scene = build_scene(matter.grid, triangles, matter.block, matter.lid)
    closed = label_closed(matter, scene, start)
    if len(stations):
        index = matter.grid.index(stations)
        open_eyes = stations[~matter.solid[tuple(index.T)]]
        eyes = np.concatenate([inside[None], open_eyes])
    else:
        first = label_seen(matter, scene, start, Evidence(eyes=inside[None], scan=False))
        eyes = _spread(matter.grid, first.label, room, inside)
    seen = label_seen(matter, scene, start, Evidence(eyes=eyes, scan=False))
    found = closed if closed is not None and len(stations) == 0 else seen
    return _told(matter, found, triangles, eyes, scale, bool(len(stations)))


def _told(
    matter: Matter,
    found: Labelling,
    triangles: NDArray[np.float64],
    eyes: NDArray[np.float64],
    scale: Metre,
    stations: bool,
) -> Preview:
    grid = matter.grid
    hidden = (found.label == UNSEEN) & within(found.label)
    opening = None
    if found.opening is not None:
        place = np.array(found.opening.place) / scale
        opening = Gap(width=found.opening.width / scale, rim=0.0, place=as_point(place))
    listed: tuple[Numbers, ...] = tuple(as_point(eye / scale) for eye in eyes)
    return Preview(
        space=_space(matter, found, triangles, listed[0], scale),
        inside=listed[0],
        eyes=listed,
        stations=stations,
        closed=found.needed == 0,
        opening=opening,
        free=float((found.label == FREE).sum()) * grid.pitch**3,
        unseen=float(hidden.sum()) * grid.pitch**3 if found.needed else 0.0,
    )


def _matter(triangles: NDArray[np.float64], stations: NDArray[np.float64]) -> Matter:
    points = np.concatenate([triangles.min(axis=1), triangles.max(axis=1), stations])
    low, high = points.min(axis=0), points.max(axis=0)
    pitch = max(float((high - low).max()) / ALONG, FINEST)
    origin = low - (MARGIN + 0.5) * pitch
    count = np.floor((high - origin) / pitch).astype(np.int64) + 1 + MARGIN
    grid = Grid(
        origin=as_point(origin),
        pitch=pitch,
        shape=(int(count[0]), int(count[1]), int(count[2])),
    )
    allowed = np.zeros(grid.shape, dtype=np.bool_)
    allowed[1:-1, 1:-1, 1:-1] = True
    empty = np.zeros(grid.shape, dtype=np.bool_)
    return Matter(
        grid=grid,
        surface=touched_cells(triangles, grid),
        lid=empty,
        block=empty,
        allowed=allowed,
    )


def _roomiest(matter: Matter) -> tuple[NDArray[np.float32], Cell | None]:
    """Clearance of every cell, and the cell with most clearance among those with walls on most
    sides.
    """
    clear = ~matter.solid
    room = edt.edt(clear.astype(np.uint8), black_border=False, parallel=2)
    sides = np.zeros(clear.shape, dtype=np.uint8)
    for axis in range(3):
        sides += np.logical_or.accumulate(matter.solid, axis=axis)
        back = np.flip(np.logical_or.accumulate(np.flip(matter.solid, axis), axis=axis), axis)
        sides += back
    for walled in (WALLED, WALLED - 1):
        held = np.where(clear & matter.allowed & (sides >= walled), room, 0.0)
        at = int(held.argmax())
        if held.ravel()[at] >= 2.0:
            index = np.unravel_index(at, clear.shape)
            return room, (int(index[0]), int(index[1]), int(index[2]))
    return room, None


def _spread(
    grid: Grid,
    label: NDArray[np.uint8],
    room: NDArray[np.float32],
    inside: NDArray[np.float64],
) -> NDArray[np.float64]:
    """The inside point and others far apart, in the open part of what it sees."""
    roomy = (label == FREE) & (room >= max(2.0, 0.25 * float(room[label == FREE].max(initial=0))))
    places = grid.centre(np.argwhere(roomy)[::3])
    eyes = [inside]
    away = np.linalg.norm(places - inside, axis=1)
    while len(eyes) < EYES and len(places) and away.max() > 4.0 * grid.pitch:
        eyes.append(places[int(away.argmax())])
        away = np.minimum(away, np.linalg.norm(places - eyes[-1], axis=1))
    return np.array(eyes)


def _space(
    matter: Matter,
    found: Labelling,
    triangles: NDArray[np.float64],
    inside: Numbers,
    scale: Metre,
) -> Space:
    """The labels as a Space without a boat, for the picture."""
    turn = as_axes(np.eye(3))
    at = as_point(scale * np.array(inside))
    return Space(
        frame=Frame(scale=scale, turn=turn, shift=(0.0, 0.0, 0.0)),
        grid=matter.grid,
        triangles=triangles,
        label=found.label,
        distance=np.zeros(matter.grid.shape, dtype=np.float32),
        inside=at,
        flotation=at,
        viewpoints=(),
        ports=(),
        holes=(),
        keep_outs=(),
        solids=(),
        declared_free=(),
        hatch=(),
        uncertainty=Uncertainty(),
        raw_triangles=len(triangles),
        dropped=(),
        findings=(),
        assumptions=(),
    )
