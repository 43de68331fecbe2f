"""The similarity that maps picked points to their partners, and the accuracy of the picks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import as_axes, as_point
from fitcheck.model.found.deviation import Similarity
from fitcheck.units import Metre, Ratio

Array = NDArray[np.float64]


def align(here: Array, there: Array, scale: Ratio | None = None) -> Similarity:
    """The least squares similarity with here = scale * turn @ there + shift.

    Parameters: here, there (n, 3), n >= 3 and not collinear; scale, kept when given.
    """
    found, turn, shift = least_squares(here, there, scale)
    return Similarity(scale=found, turn=as_axes(turn), shift=as_point(shift))


def least_squares(
    here: Array, there: Array, scale: Ratio | None = None
) -> tuple[Ratio, Array, Array]:
    """Scale, rotation (m, m) and shift (m,) of the best similarity in a space of any dimension m.

    Source: S. Umeyama, "Least-squares estimation of transformation parameters between two point
    patterns", IEEE Trans. Pattern Analysis and Machine Intelligence 13 (1991) 376-380, eqs 40-43.
    """
    middle, other = here.mean(axis=0), there.mean(axis=0)
    a, b = here - middle, there - other
    left, spans, right = np.linalg.svd(a.T @ b)
    mirror = np.ones(len(spans))
    mirror[-1] = np.sign(np.linalg.det(left) * np.linalg.det(right))
    turn = left @ np.diag(mirror) @ right
    if scale is None:
        scale = float(spans @ mirror / (b**2).sum())
    return scale, turn, middle - scale * turn @ other


def mirrored_residual(here: Array, there: Array) -> Metre:
    """Root mean square residual per pair of the best similarity that mirrors [m]."""
    flip = np.array([1.0, 1.0, -1.0])
    return rms(residuals(align(here, there * flip), here, there * flip))


def residuals(fit: Similarity, here: Array, there: Array) -> Array:
    """(n, 3) here minus carried there [m]."""
    return here - fit.carry(there)


def rms(off: Array) -> Metre:
    """Root mean square length of (n, 3) vectors [m]."""
    return float(np.sqrt((off**2).sum(axis=1).mean())) if len(off) else 0.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Layout:
    """Distribution of the pairs: `axes` (3, 3) rows, `spans` (3,) standard deviation along each.

    The first row is the line they are closest to; the second span is their distance from it.
    """

    middle: Array
    axes: Array
    spans: Array


def layout(here: Array) -> Layout:
    """Principal axes of the picked points."""
    middle = here.mean(axis=0)
    _, spans, axes = np.linalg.svd(here - middle, full_matrices=False)
    return Layout(middle=middle, axes=axes, spans=spans / np.sqrt(len(here)))


def left_out(here: Array, there: Array, scale: Ratio | None) -> Array:
    """(n,) distance of each pair from where all the others put it [m]."""
    off = np.empty(len(here))
    for n in range(len(here)):
        kept = np.arange(len(here)) != n
        fit = align(here[kept], there[kept], scale)
        off[n] = np.linalg.norm(residuals(fit, here[n : n + 1], there[n : n + 1]))
    return off


def without(here: Array, there: Array, scale: Ratio | None) -> Array:
    """(n,) root mean square residual of the other pairs with each left out in turn [m]."""
    left = np.empty(len(here))
    for n in range(len(here)):
        kept = np.arange(len(here)) != n
        fit = align(here[kept], there[kept], scale)
        freedom = max(1, 3 * (len(here) - 1) - (6 if scale is not None else 7))
        left[n] = np.sqrt((residuals(fit, here[kept], there[kept]) ** 2).sum() / freedom)
    return left


def spread(fit: Similarity, here: Array, there: Array, *, free_scale: bool) -> Metre:
    """Standard deviation of one coordinate of a pair, from the residuals [m].

    Corrected for the seven (six) parameters fitted to them.
    """
    freedom = 3 * len(here) - (7 if free_scale else 6)
    return float(np.sqrt((residuals(fit, here, there) ** 2).sum() / max(1, freedom)))
