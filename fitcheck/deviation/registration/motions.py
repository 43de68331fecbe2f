"""Motions of the other mesh that its surfaces would not reveal."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Said, say
from fitcheck.model.found.deviation import FreeMotion

Array = NDArray[np.float64]

#: Share of the surface that must resist a motion; a tube's surface does not resist sliding at all.
LEAST_HELD = 0.02
_TURN, _SHIFT, _GROWTH = slice(0, 3), slice(3, 6), slice(6, 7)
_AXES = (say("way.forward"), say("way.port"), say("way.up"))


def free_motions(normal: Array, *, keep_scale: bool) -> tuple[FreeMotion, ...]:
    """The motions that less than `LEAST_HELD` of the surface resists, most free first.

    Parameters: normal, (7, 7) normal matrix per unit of weight. What is left of the block of each
    kind of motion once the others may help has small eigenvalues along the free directions (N.
    Gelfand, L. Ikemoto, S. Rusinkiewicz, M. Levoy, "Geometrically stable sampling for the ICP
    algorithm", 3DIM 2003, use the eigenvectors of the whole matrix, where rotations and shifts
    mix).
    """
    used = np.arange(6 if keep_scale else 7)
    found = []
    blocks = [("sliding", _SHIFT), ("turning", _TURN)]
    blocks += [] if keep_scale else [("growing", _GROWTH)]
    for kind, block in blocks:
        values, ways = np.linalg.eigh(_left(normal, used, np.arange(7)[block]))
        for value, way in zip(values, ways.T, strict=True):
            if value < LEAST_HELD:
                found.append(FreeMotion(said=_said(kind, way), held=max(0.0, float(value))))
    return tuple(sorted(found, key=lambda motion: motion.held))


def _left(normal: Array, used: NDArray[np.int64], own: NDArray[np.int64]) -> Array:
    """The block of its own unknowns after the others have been eliminated."""
    rest = np.setdiff1d(used, own)
    across = normal[np.ix_(own, rest)]
    inverse = np.linalg.pinv(normal[np.ix_(rest, rest)], rcond=1e-3, hermitian=True)
    return np.asarray(normal[np.ix_(own, own)] - across @ inverse @ across.T)


def _said(kind: str, way: Array) -> Said:
    if kind == "growing":
        return say("motion.growing")
    return say("motion.sliding" if kind == "sliding" else "motion.turning", way=way_said(way))


def way_said(way: Array) -> Said:
    """A direction in words if it is close to one, and in numbers: "up (0.05 0.00 1.00)"."""
    axis = int(np.abs(way).argmax())
    way = way * np.sign(way[axis])
    numbers = " ".join(f"{value:z.2f}" for value in way)
    if abs(way[axis]) <= 0.9:
        return say("motion.askew", numbers=numbers)
    nearly = abs(way[axis]) <= 0.985
    return say("motion.nearly" if nearly else "motion.along", way=_AXES[axis], numbers=numbers)
