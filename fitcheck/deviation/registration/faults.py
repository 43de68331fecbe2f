"""Faults of picked pairs, found before any surface is compared."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from fitcheck.deviation.registration.motions import way_said
from fitcheck.deviation.registration.pairs import (
    align,
    layout,
    left_out,
    mirrored_residual,
    residuals,
    rms,
    spread,
    without,
)
from fitcheck.model.found.deviation import Similarity
from fitcheck.units import Metre, Radian, Ratio, amount

Array = NDArray[np.float64]

FEWEST = 4
#: Maximum rotation the pairs may leave open about the line they are closest to.
LOOSEST: Radian = np.radians(3.0)
#: Picks this many times worse than expected are mistakes.
TOO_COARSE: Ratio = 3.0
#: Beyond this the unit is wrong rather than the scale.
UNIT_WRONG: Ratio = 0.10


def pair_faults(
    names: tuple[str, ...],
    here: Array,
    there: Array,
    worth: Metre,
    declared: Ratio | None,
    *,
    keep_scale: bool,
) -> list[tuple[str, str]]:
    """(fault, remedy) for pairs that cannot be used, empty if they can.

    Parameters: here (n, 3) [m]; there (n, 3) in the other mesh's unit; worth, the standard
    deviation of one coordinate of a pair [m]; declared, that unit in metres or None.
    """
    if len(here) < FEWEST:
        return [(f"{len(here)} pairs; {FEWEST} or more are required", "pick more pairs")]
    line = _on_a_line(here, worth) or _on_a_line(there * _rough_scale(here, there), worth)
    if line:
        return [line]
    free = align(here, there)
    if declared is not None and not 1.0 / (1.0 + UNIT_WRONG) < free.scale / declared < 1.1:
        return [_wrong_unit(free.scale, declared)]
    kept = declared if keep_scale else None
    fit = free if kept is None else align(here, there, kept)
    found = spread(fit, here, there, free_scale=kept is None)
    if found > TOO_COARSE * worth:
        return [_disagreement(names, here, there, kept, worth, found)]
    far = strays(names, here, there, worth, kept, sure=True)
    return [(text, "pick that pair again on both meshes") for text in far]


def strays(
    names: tuple[str, ...],
    here: Array,
    there: Array,
    worth: Metre,
    scale: Ratio | None,
    *,
    sure: bool,
) -> list[str]:
    """Pairs that contradict the others, in words; `sure`: only those a poor pick
    cannot explain.
    """
    off = left_out(here, there, scale)
    told = []
    for n, name in enumerate(names):
        kept = np.arange(len(here)) != n
        fit = align(here[kept], there[kept], scale)
        gone = residuals(fit, here[n : n + 1], there[n : n + 1])[0]
        expected = worth**2 * (np.eye(3) + _lever(fit, there[kept], there[n], scale))
        square = float(gone @ np.linalg.solve(expected, gone))
        if square > chi2.ppf(1.0 - 1e-5, 3) * (4.0 if sure else 1.0):
            told.append(
                f"pair '{name}' is {amount(off[n], 'gap')} from its position according to the "
                f"other {len(here) - 1} pairs"
            )
    return told


def _lever(fit: Similarity, kept: Array, gone: Array, scale: Ratio | None) -> Array:
    """(3, 3) effect of picks of unit variance on the position of a further one."""
    places = fit.carry(np.vstack([kept, gone]))
    middle = places[:-1].mean(axis=0)
    rows = _jacobian(places - middle)[:, :, : 7 if scale is None else 6]
    many = rows[:-1].reshape(-1, rows.shape[2])
    inverse = np.linalg.pinv(many.T @ many, rcond=1e-12, hermitian=True)
    return np.asarray(rows[-1] @ inverse @ rows[-1].T)


def _jacobian(arm: Array) -> Array:
    rows = np.zeros((len(arm), 3, 7))
    x, y, z = arm.T
    rows[:, 0, 1], rows[:, 0, 2] = z, -y
    rows[:, 1, 0], rows[:, 1, 2] = -z, x
    rows[:, 2, 0], rows[:, 2, 1] = y, -x
    rows[:, :, 3:6] = np.eye(3)
    rows[:, :, 6] = arm
    return rows


def _rough_scale(here: Array, there: Array) -> Ratio:
    size = float(np.linalg.norm(there - there.mean(axis=0)))
    return float(np.linalg.norm(here - here.mean(axis=0))) / size if size > 0.0 else 1.0


def _on_a_line(points: Array, worth: Metre) -> tuple[str, str] | None:
    found = layout(points)
    across = float(found.spans[1]) * np.sqrt(len(points))
    loose = worth / across if across > 0.0 else np.inf
    if loose <= LOOSEST:
        return None
    how = amount(loose, "tilt") if loose < 1.0 else "any angle"
    return (
        f"the pairs are near one line, {way_said(found.axes[0]).text()}, at most "
        f"{amount(_farthest_off(points), 'gap')} from it: the mesh may rotate about it by {how}",
        "pick more pairs well away from that line",
    )


def _farthest_off(points: Array) -> Metre:
    found = layout(points)
    arm = points - found.middle
    off = arm - np.outer(arm @ found.axes[0], found.axes[0])
    return float(np.linalg.norm(off, axis=1).max())


def _wrong_unit(found: Ratio, declared: Ratio) -> tuple[str, str]:
    return (
        f"one unit of the other mesh is {amount(found, 'length')} according to the pairs, but "
        f"{amount(declared, 'length')} according to other.unit or its tape measurements",
        "correct the unit, or the pairs",
    )


def _disagreement(
    names: tuple[str, ...],
    here: Array,
    there: Array,
    scale: Ratio | None,
    worth: Metre,
    found: Metre,
) -> tuple[str, str]:
    """Why the pairs do not agree, as far as it can be determined."""
    fit = align(here, there, scale)
    if mirrored_residual(here, there) < 0.3 * rms(residuals(fit, here, there)):
        return (
            f"the pairs agree only if one mesh is the mirror image of the other "
            f"(as they are, they disagree by {amount(found, 'gap')})",
            "mirror that mesh before you compare it: its port and starboard are exchanged",
        )
    alone = without(here, there, scale)
    one = int(alone.argmin())
    others = np.delete(alone, one)
    if alone[one] < 2.0 * worth and others.min() > TOO_COARSE * worth and len(here) > FEWEST:
        off = left_out(here, there, scale)[one]
        within = amount(alone[one], "gap")
        return (
            f"pair '{names[one]}' is {amount(off, 'gap')} from its position according to the "
            f"other {len(here) - 1} pairs; without it they agree within {within}",
            "pick that pair again on both meshes",
        )
    sized = None if scale is None else _scale_off(here, there, scale, found)
    if sized:
        return sized
    two = _swapped(names, here, there, scale, worth)
    if two:
        return two
    off = np.linalg.norm(residuals(fit, here, there), axis=1)
    listed = ", ".join(
        f"'{name}' {amount(far, 'gap')}" for name, far in zip(names, off, strict=True)
    )
    return (
        f"the pairs disagree by {amount(found, 'gap')} ({listed})",
        "pick them again, or pick more: with five or more the wrong one can be identified",
    )


def _scale_off(here: Array, there: Array, scale: Ratio, found: Metre) -> tuple[str, str] | None:
    """Pairs that agree once the scale is not kept."""
    free = align(here, there)
    left = spread(free, here, there, free_scale=True)
    if left > 0.5 * found:
        return None
    return (
        f"the pairs agree within {amount(left, 'gap')} if the other mesh is "
        f"{100.0 * abs(free.scale / scale - 1.0):.1f} % "
        f"{'larger' if free.scale > scale else 'smaller'} than its scale says, but only "
        f"within {amount(found, 'gap')} as it is",
        "check the unit and tape measurements of both meshes; without other.unit and other.tape "
        "the scale is solved",
    )


def _swapped(
    names: tuple[str, ...], here: Array, there: Array, scale: Ratio | None, worth: Metre
) -> tuple[str, str] | None:
    """Two pairs whose points there were swapped."""
    for a in range(len(here)):
        for b in range(a + 1, len(here)):
            order = np.arange(len(here))
            order[[a, b]] = b, a
            fit = align(here, there[order], scale)
            left = spread(fit, here, there[order], free_scale=scale is None)
            if left < 2.0 * worth:
                return (
                    f"pairs '{names[a]}' and '{names[b]}' agree with the others if their points "
                    f"on the other mesh are exchanged (within {amount(left, 'gap')})",
                    "exchange them",
                )
    return None
