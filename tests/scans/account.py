"""What a surveyed scan calls free, held against the truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.found.space import FREE, Space
from tests.scans.convex import Floats
from tests.scans.scan import AIR, Scan
from tests.scans.sensor import FARTHEST, HALF, TALL, WIDE, Picture

#: Cells nearer than this to a true surface are left to the judgement of boxes and hoses [m].
SKIN = 0.030
#: Cells of air that stand for all when their views are counted.
SAMPLE = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Litres and shares of one scan.

    in_solids, outside : called free deeper in a solid, or farther out of the hull, than SKIN or
    the stated accuracy; air : true air of the bay farther than SKIN from every surface
    missed, unseen, unmeasured : shares of it not called free, in no picture's view, and before no
    picture's measured range
    """

    in_solids: float
    outside: float
    air: float
    missed: float
    unseen: float
    unmeasured: float


def account(scan: Scan, space: Space) -> Account:
    """Count the cells of a surveyed scan against its truth."""
    litre = 1000.0 * space.grid.pitch**3
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1).reshape(-1, 3))
    points = scan.boat_to_truth(space.frame, centres)
    free = (space.label == FREE).ravel()
    bay = scan.truth.bay
    within = ((points > bay.low) & (points < bay.high)).all(axis=1) & (points[:, 2] < bay.under)
    points, free = points[free | within], free[free | within]
    margin = max(SKIN, scan.severity.stated)
    solid, beyond, _ = scan.truth.bay.world.depth(points)
    air = (scan.truth.label(points) == AIR) & (np.maximum(solid, beyond) < -SKIN)
    some = np.flatnonzero(air)[:: max(1, int(air.sum()) // SAMPLE)]
    seen, measured = seen_and_measured(scan.pictures, points[some])
    count = max(1, int(air.sum()))
    return Account(
        in_solids=litre * float((free & (solid > margin) & (beyond <= 0.0)).sum()),
        outside=litre * float((free & (beyond > margin)).sum()),
        air=litre * count,
        missed=1.0 - float((free & air).sum()) / count,
        unseen=1.0 - float(seen.mean()),
        unmeasured=1.0 - float(measured.mean()),
    )


def seen_and_measured(
    pictures: list[Picture], points: Floats
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Points (n, 3) in some picture's true view, and before some picture's measured range."""
    seen, measured = np.zeros(len(points), dtype=bool), np.zeros(len(points), dtype=bool)
    for picture in pictures:
        local = (points - picture.pose.eye) @ picture.pose.turn.T
        far = np.linalg.norm(local, axis=1)
        ahead = np.maximum(local[:, 2], 1e-9)
        across, up = local[:, 0] / ahead / HALF[0], local[:, 1] / ahead / HALF[1]
        inside = np.flatnonzero(
            (local[:, 2] > 0.0) & (np.abs(across) < 1.0) & (np.abs(up) < 1.0) & (far < FARTHEST)
        )
        row = ((1.0 - up[inside]) * 0.5 * TALL).astype(int)
        column = ((across[inside] + 1.0) * 0.5 * WIDE).astype(int)
        before = far[inside] < picture.true_range[row, column]
        seen[inside[before]] = True
        measured[inside[before & (far[inside] < picture.range[row, column])]] = True
    return seen, measured
