"""Space of a surveyed scan called free, compared with the truth, for either simulator."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.found.space import FREE, Frame, Space
from tests.scans.convex import Floats

#: Cells closer than this to a true surface are left to the checks of boxes and hoses [m].
SKIN = 0.030
#: Sample of air cells for which views are counted.
SAMPLE = 10_000


class Truth(Protocol):
    """The true geometry, [m] in the truth's own axes."""

    @property
    def triangles(self) -> Floats: ...  # noqa: D102

    @property
    def bounds(self) -> tuple[Floats, Floats]: ...  # noqa: D102

    @property
    def lids(self) -> Floats: ...  # noqa: D102

    def parts(self, points: Floats) -> tuple[Floats, Floats]: ...  # noqa: D102

    def depth(self, points: Floats) -> Floats: ...  # noqa: D102

    def own(self, points: Floats) -> NDArray[np.bool_]: ...  # noqa: D102

    def beyond_lids(self, points: Floats) -> Floats: ...  # noqa: D102


class Stated(Protocol):
    """Severity of a scan."""

    @property
    def stated(self) -> float: ...  # noqa: D102


class Walked(Protocol):
    """A scan made by a walk, with its truth."""

    @property
    def truth(self) -> Truth: ...  # noqa: D102

    @property
    def severity(self) -> Stated: ...  # noqa: D102

    def boat_to_truth(self, frame: Frame, points: Floats) -> Floats: ...  # noqa: D102

    def truth_to_boat(self, frame: Frame, points: Floats) -> Floats: ...  # noqa: D102

    def ways_to_truth(self, frame: Frame, ways: Floats) -> Floats: ...  # noqa: D102

    def times_seen(  # noqa: D102
        self, points: Floats
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]]: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Litres and shares of one scan.

    in_solids, outside, beyond_lids : called free deeper in a solid, further out of the hull or
    beyond the lids, than SKIN or the stated accuracy; air : true air of the bay further than SKIN
    from every surface
    missed, unseen, unmeasured : shares of it not called free, in no picture's view, and within no
    picture's measured range
    given_up_once, given_up_twice : of the air passed by measured rays of one picture, or two, the
    share not called free
    """

    in_solids: float
    outside: float
    beyond_lids: float
    air: float
    missed: float
    unseen: float
    unmeasured: float
    given_up_once: float
    given_up_twice: float


def account(scan: Walked, space: Space) -> Account:
    """Count the cells of a surveyed scan against its truth."""
    litre = 1000.0 * space.grid.pitch**3
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1).reshape(-1, 3))
    points = scan.boat_to_truth(space.frame, centres)
    free = (space.label == FREE).ravel()
    own = scan.truth.own(points)
    points, free, own = points[free | own], free[free | own], own[free | own]
    margin = max(SKIN, scan.severity.stated)
    solid, beyond = scan.truth.parts(points)
    abroad = (np.maximum(solid, beyond) < 0.0) & (scan.truth.beyond_lids(points) > margin)
    air = own & (np.maximum(solid, beyond) < -SKIN)
    some = np.flatnonzero(air)[:: max(1, int(air.sum()) // SAMPLE)]
    seen, passed = scan.times_seen(points[some])
    count = max(1, int(air.sum()))
    return Account(
        in_solids=litre * float((free & (solid > margin) & (beyond <= 0.0)).sum()),
        outside=litre * float((free & (beyond > margin)).sum()),
        beyond_lids=litre * float((free & abroad).sum()),
        air=litre * count,
        missed=1.0 - float((free & air).sum()) / count,
        unseen=1.0 - float((seen > 0).mean()),
        unmeasured=1.0 - float((passed > 0).mean()),
        given_up_once=given_up(free[some], passed >= 1),
        given_up_twice=given_up(free[some], passed >= 2),
    )


def given_up(free: NDArray[np.bool_], passed: NDArray[np.bool_]) -> float:
    """The share of the air passed by rays that is not called free."""
    return float((passed & ~free).sum()) / max(1, int(passed.sum()))
