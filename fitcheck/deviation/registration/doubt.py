"""Uncertainty of a refined similarity: scatter, bent meshes, and the pairs' own spread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.units import Metre, Ratio

Array = NDArray[np.float64]

#: Errors of places closer than this are correlated: they count as one.
CLUSTER: Metre = 0.25
#: A bent mesh is modelled as blocks of this size, each shifted independently.
BLOCK: Metre = 1.0
#: Places needed in a block to determine its shift.
ENOUGH = 10


@dataclass(frozen=True, eq=False, kw_only=True)
class Evidence:
    """The last linearisation, for the places that count.

    rows (n, 7), planes (n, 3) unit normals, weight, off (n,), places (n, 3) [m]
    worth : what a unit of weight counts [1/m2]; pair_rows (3 k, 7), pair_spread [m]
    unknowns : 7, or 6 with the scale kept; bent : as in `Picks` [m]
    """

    rows: Array
    planes: Array
    weight: Array
    off: Array
    places: Array
    worth: Ratio
    pair_rows: Array
    pair_spread: Metre
    unknowns: int
    bent: Metre


def covariance(found: Evidence) -> Array:
    """(7, 7) covariance of rotation, shift and scale change [m2]; zero where the scale was kept.

    Adjacent residuals are correlated, so clusters of them are summed between two inverses (K.-Y.
    Liang and S. L. Zeger, "Longitudinal data analysis using generalized linear models", Biometrika
    73 (1986) 13-22). Residuals cannot show a bend the fit has followed: blocks of either mesh may
    shift by its stated uncertainty, or by the observed shift of the blocks.
    """
    used = slice(0, found.unknowns)
    matrix = found.worth * ((found.rows * found.weight[:, None]).T @ found.rows)
    middle = found.worth**2 * (_scattered(found) + _bent(found))
    pairs = found.pair_rows.T @ found.pair_rows / found.pair_spread**2
    inverse = np.linalg.pinv((matrix + pairs)[used, used], rcond=1e-12, hermitian=True)
    result = np.zeros((7, 7))
    result[used, used] = inverse @ (middle + pairs)[used, used] @ inverse
    return result


def clusters(places: Array, size: Metre) -> tuple[int, NDArray[np.int64]]:
    """Number of cubes of that size that (n, 3) places fall into, and the cube of each."""
    cell = np.floor(places / size).astype(np.int64)
    if not len(cell):
        return 0, np.zeros(0, dtype=np.int64)
    low = cell.min(axis=0)
    flat = np.ravel_multi_index((cell - low).T, cell.max(axis=0) - low + 1)
    kinds, member = np.unique(flat, return_inverse=True)
    return len(kinds), member.ravel()


def _scattered(found: Evidence) -> Array:
    count, member = clusters(found.places, CLUSTER)
    sums = np.zeros((count, 7))
    np.add.at(sums, member, found.rows * (found.weight * found.off)[:, None])
    return np.asarray(sums.T @ sums)


def _bent(found: Evidence) -> Array:
    """Every block shifted independently, one standard deviation per coordinate."""
    count, member = clusters(found.places, BLOCK)
    pulls = np.zeros((count, 7, 3))
    each = found.weight[:, None, None] * found.rows[:, :, None] * found.planes[:, None, :]
    np.add.at(pulls, member, each)
    size = max(found.bent, _seen_bend(found, member, count))
    return np.asarray(size**2 * np.einsum("bik,bjk->ij", pulls, pulls))


def _seen_bend(found: Evidence, member: NDArray[np.int64], count: int) -> Metre:
    """Root mean square of the common offset of surfaces of a block that face the same way."""
    if not count:
        return 0.0
    group = 3 * member + np.abs(found.planes).argmax(axis=1)
    number = np.bincount(group, minlength=3 * count)
    total = np.bincount(group, weights=found.off, minlength=3 * count)
    mean = total[number >= ENOUGH] / number[number >= ENOUGH]
    freedom = max(1, len(mean) - found.unknowns)
    return float(np.sqrt((mean**2).sum() / freedom)) if len(mean) else 0.0
