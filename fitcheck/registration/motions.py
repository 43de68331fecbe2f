"""Ways the other mesh could move without its surfaces noticing, in words."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.model.found.deviation import FreeMotion

Array = NDArray[np.float64]

#: Share of the surface that must resist a motion; a tube's resists its slide with none.
LEAST_HELD = 0.02
_TURN, _SHIFT, _GROWTH = slice(0, 3), slice(3, 6), slice(6, 7)
_AXES = ("forward", "to port", "up")


def free_motions(normal: Array, *, keep_scale: bool) -> tuple[FreeMotion, ...]:
    """The motions that less than `LEAST_HELD` of the surface resists, most free first.

    Parameters: normal, (7, 7) normal matrix per unit of weight. What is left of the block of each
    kind of motion once the others may help has small eigenvalues along the free ways (N. Gelfand,
    L. Ikemoto, S. Rusinkiewicz, M. Levoy, "Geometrically stable sampling for the ICP algorithm",
    3DIM 2003, look at the eigenvectors of the whole matrix, where turns and shifts mix).
    """
    used = np.arange(6 if keep_scale else 7)
    found = []
    blocks = [("sliding", _SHIFT), ("turning", _TURN)]
    blocks += [] if keep_scale else [("growing", _GROWTH)]
    for kind, block in blocks:
        values, ways = np.linalg.eigh(_left(normal, used, np.arange(7)[block]))
        for value, way in zip(values, ways.T, strict=True):
            if value < LEAST_HELD:
                words = "growing" if kind == "growing" else f"{kind} {_along(kind, way)}"
                found.append(FreeMotion(words=words, held=max(0.0, float(value))))
    return tuple(sorted(found, key=lambda motion: motion.held))


def _left(normal: Array, used: NDArray[np.int64], own: NDArray[np.int64]) -> Array:
    """The block of its own unknowns once the rest have taken what they can."""
    rest = np.setdiff1d(used, own)
    across = normal[np.ix_(own, rest)]
    inverse = np.linalg.pinv(normal[np.ix_(rest, rest)], rcond=1e-3, hermitian=True)
    return np.asarray(normal[np.ix_(own, own)] - across @ inverse @ across.T)


def _along(kind: str, way: Array) -> str:
    return f"{'along' if kind == 'sliding' else 'about'} {way_words(way)}"


def way_words(way: Array) -> str:
    """A direction in words where it nearly is one, and in numbers: "up (0.05 0.00 1.00)"."""
    axis = int(np.abs(way).argmax())
    way = way * np.sign(way[axis])
    numbers = " ".join(f"{value:.2f}".replace("-0.00", "0.00") for value in way)
    nearly = "" if abs(way[axis]) > 0.985 else "nearly " if abs(way[axis]) > 0.9 else None
    named = "" if nearly is None else f"{nearly}{_AXES[axis]} "
    return f"{named}({numbers})"
