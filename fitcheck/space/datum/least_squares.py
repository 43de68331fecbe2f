"""Weighted least squares with few values: uncertainty by Student's factor, outliers identified."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, chdtri, stdtr, stdtrit

from fitcheck.model.uncertainty import COVERAGE
from fitcheck.units import Ratio

Floats = NDArray[np.float64]

#: A set of values is doubted when chance alone would scatter it as much in one case of a thousand,
#: and agrees where chance would scatter it more in one case of a hundred.
DOUBTED: Ratio = 0.001
AGREES: Ratio = 0.01
#: How much more leaving out the outlier must help than leaving out any other value: the square of
#: a normal deviate that chance exceeds in one case of a thousand.
TOLD_APART: Ratio = float(chdtri(1, DOUBTED))
#: Prior knowledge of the standard deviations counts as this many values: they are right to about a
#: third (JCGM 100:2008, G.4.2).
KNOWN_BEFORE = 4
#: With this many degrees of freedom the scatter alone determines the uncertainty.
ENOUGH = 3
#: Maximum number of sets tried when several values may be wrong at once.
MOST_SETS = 3000


@dataclass(frozen=True, eq=False, kw_only=True)
class Fitted:
    """The result of a fit.

    values : (p,) estimates; spread: (p, p) their covariance, widened where the values scatter more
    than they should, and by Student's factor
    residual : (n,) estimate less value, outliers included
    outliers : indices of the values that do not agree with the others, worst first
    kept : (n,) bool, the values the estimates are based on
    scatter : root of the mean weighted square, 1 where the values scatter as they should
    """

    values: Floats
    spread: Floats
    residual: Floats
    outliers: tuple[int, ...]
    kept: NDArray[np.bool_]
    scatter: Ratio


def fit(design: Floats, measured: Floats, deviation: Floats) -> Fitted:
    """Least squares of (n,) values by (n, p) coefficients with (n,) known standard deviations.

    Outliers are removed as long as at most a quarter of the values is lost and two more than the
    unknowns remain; a last outlier that must stay is still named.
    """
    count, unknowns = design.shape
    rows, right = design / deviation[:, None], measured / deviation
    kept = np.ones(count, dtype=np.bool_)
    named: list[int] = []
    for _ in range(max(1, count // 4)):
        worst = _worst(rows, right, kept)
        if worst is None:
            break
        named.append(worst)
        if kept.sum() - 1 < unknowns + 2 or len(named) > count // 4:
            break
        kept[worst] = False
    if not named:
        named = list(_together(rows, right))
        kept[named] = False
    values, square = _solved(rows[kept], right[kept])
    free = int(kept.sum()) - unknowns
    spread: Floats = np.linalg.inv(rows[kept].T @ rows[kept]).astype(np.float64)
    scatter = float(np.sqrt(square / free)) if free else 1.0
    return Fitted(
        values=values,
        spread=spread * _widened(square, free),
        residual=design @ values - measured,
        outliers=tuple(named),
        kept=kept,
        scatter=scatter,
    )


def student(free: int) -> Ratio:
    """How much wider a 95 % interval is than a normal one, with so few degrees of freedom.

    JCGM 100:2008, table G.2 over 1.96; 1 with no degrees of freedom, since then nothing scatters.
    """
    return float(stdtrit(free, 0.975)) / COVERAGE if free else 1.0


def _widened(square: Ratio, free: int) -> Ratio:
    """Factor on the variances for the scatter of the values and their small number."""
    whole = KNOWN_BEFORE + free
    widened = max(1.0, (KNOWN_BEFORE + square) / whole * student(whole) ** 2) if free else 1.0
    return max(widened, square / free * student(free) ** 2) if free >= ENOUGH else widened


def _solved(rows: Floats, right: Floats) -> tuple[Floats, Ratio]:
    values: Floats = np.linalg.lstsq(rows, right, rcond=None)[0].astype(np.float64)
    left = rows @ values - right
    return values, float(left @ left)


def _worst(rows: Floats, right: Floats, kept: NDArray[np.bool_]) -> int | None:
    """The one value that explains why the rest do not agree, None if they do or no single value
    does.

    Either the others agree within their known deviations and would not with any other value left
    out, or the value fails the test of deleted residuals, whatever the known deviations.
    """
    number = np.flatnonzero(kept)
    free = len(number) - rows.shape[1]
    if free < 2:
        return None
    _, whole = _solved(rows[kept], right[kept])
    if chdtrc(free, whole) >= DOUBTED:
        return None
    without = np.array([_solved(*_less(rows, right, kept, int(one)))[1] for one in number])
    order = np.argsort(without)
    best, second = without[order[0]], without[order[1]]
    alone = second - best > TOLD_APART
    agree = chdtrc(free - 1, best) >= AGREES
    deleted = np.sqrt((whole - best) * (free - 1) / max(best, 1e-12))
    off = 2.0 * len(number) * stdtr(free - 1, -deleted) < DOUBTED
    return int(number[order[0]]) if alone and (agree or off) else None


def _together(rows: Floats, right: Floats) -> tuple[int, ...]:
    """Two or more values that mask one another, worst first; empty if they cannot be identified.

    Without them the rest agree, and without any other set of the same size the rest agree far
    less.
    """
    count, unknowns = rows.shape
    whole = np.ones(count, dtype=np.bool_)
    if chdtrc(max(count - unknowns, 1), _solved(rows, right)[1]) >= DOUBTED:
        return ()
    for size in range(2, count // 4 + 1):
        if math.comb(count, size) > MOST_SETS:
            break
        tried = []
        for some in combinations(range(count), size):
            kept = whole.copy()
            kept[list(some)] = False
            tried.append((_solved(rows[kept], right[kept])[1], some))
        (best, wrong), (second, _) = sorted(tried)[:2]
        if chdtrc(count - size - unknowns, best) >= AGREES:
            if second - best <= TOLD_APART:
                return ()
            kept = whole.copy()
            kept[list(wrong)] = False
            off = np.abs(rows @ np.linalg.lstsq(rows[kept], right[kept], rcond=None)[0] - right)
            return tuple(sorted(wrong, key=lambda one: -float(off[one])))
    return ()


def _less(rows: Floats, right: Floats, kept: NDArray[np.bool_], one: int) -> tuple[Floats, Floats]:
    rest = kept.copy()
    rest[one] = False
    return rows[rest], right[rest]
