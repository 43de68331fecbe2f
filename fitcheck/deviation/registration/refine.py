"""Trimmed point-to-plane refinement of a similarity, with its pairs weighted by their accuracy.

Least squares of the distances of places on the other mesh from the planes of the nearest places
here (Y. Chen and G. Medioni, "Object modelling by registration of multiple range images", Image
and Vision Computing 10 (1992) 145-155), with a scale change among the unknowns; places beyond a
shrinking distance are dropped, and outliers are weighted down (biweight).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitcheck.deviation.registration.doubt import CLUSTER, Evidence, clusters, covariance
from fitcheck.deviation.registration.surface import Surface
from fitcheck.geometry.box import as_axes, as_point
from fitcheck.model.found.deviation import Similarity
from fitcheck.units import Metre, Ratio

Array = NDArray[np.float64]

MOST_ROUNDS = 60
#: Above this two places are assumed to be on the same surface [cosine].
FACING = 0.6
#: No surface is known better than this, whatever the residuals.
FLOOR: Metre = 0.0003


@dataclass(frozen=True, eq=False, kw_only=True)
class Held:
    """The picked pairs in the refinement: partners, and the spread of one coordinate."""

    here: Array
    there: Array
    spread: Metre


@dataclass(frozen=True, eq=False, kw_only=True)
class Refined:
    """The resulting similarity.

    normal : (7, 7) normal matrix of the surfaces alone, per unit of weight, with lengths as
    unknowns
    covariance : (7, 7) of rotation, shift and scale change as in `Registration` [m2]
    """

    similarity: Similarity
    middle: Array
    reach: Metre
    normal: Array
    covariance: Array
    noise: Metre
    covered: Ratio
    settled: bool


def refine(
    here: Surface,
    there: Surface,
    start: Similarity,
    held: Held | None,
    *,
    keep_scale: bool,
    widest: Metre,
    bent: Metre = 0.0,
    rounds: int = MOST_ROUNDS,
) -> Refined:
    """The similarity that aligns the places there with the surface here, from `start`.

    `there` is in the other mesh's own axes and unit; `widest` is the initial maximum distance of
    the two; `bent` the possible bending of the meshes. Without `held` the surfaces alone decide.
    """
    fit, reach, settled = start, widest, False
    for _ in range(rounds):
        step = _Step(here, there, fit, reach, held, keep_scale=keep_scale)
        change = step.solve()
        fit = _applied(fit, change, step)
        narrower = max(0.8 * reach, 4.0 * step.noise, 0.004)
        settled = bool(np.abs(change).max() < 1e-5) and narrower >= 0.99 * reach
        if settled:
            break
        reach = min(reach, narrower)
    last = _Step(here, there, fit, reach, held, keep_scale=keep_scale)
    return Refined(
        similarity=fit,
        middle=last.middle,
        reach=last.arm,
        normal=last.normal(),
        covariance=covariance(last.evidence(bent)),
        noise=last.noise,
        covered=float((last.weight > 0.0).mean()),
        settled=settled,
    )


class _Step:
    """One linearisation: matching places, their distances, the equations."""

    def __init__(
        self,
        here: Surface,
        there: Surface,
        fit: Similarity,
        reach: Metre,
        held: Held | None,
        *,
        keep_scale: bool,
    ) -> None:
        places = fit.carry(there.places)
        ways = there.normals @ np.array(fit.turn).T
        distance, near = here.tree.query(places, distance_upper_bound=3.0 * reach + 0.05)
        near = np.minimum(near, len(here.places) - 1)
        planes = here.normals[near]
        off = np.einsum("ni,ni->n", here.places[near] - places, planes)
        meets = np.isfinite(distance) & (np.abs(off) < reach)
        meets &= _alike(np.einsum("ni,ni->n", ways, planes), meets)
        self.unknowns = 6 if keep_scale else 7
        self.middle = places[meets].mean(axis=0) if meets.any() else places.mean(axis=0)
        arms = places - self.middle
        self.arm = float(np.sqrt((arms[meets] ** 2).sum(axis=1).mean())) if meets.any() else 1.0
        self.noise = max(FLOOR, _scatter(off[meets]))
        self.weight = np.where(meets, _biweight(off / (4.685 * self.noise)), 0.0)
        self.rows = np.column_stack(
            [np.cross(arms, planes) / self.arm, planes, _dot(arms, planes) / self.arm]
        )
        self.off, self.places, self.planes, self.held = off, places, planes, held
        self.pair_rows, self.pair_off = _pair_equations(held, fit, self.middle, self.arm)

    def solve(self) -> Array:
        """The least-squares step, (7,) lengths."""
        used = slice(0, self.unknowns)
        scale = self._surface_worth()
        matrix = scale * self._gram()[used, used]
        right = scale * (self.rows * self.weight[:, None]).T[used] @ self.off
        if self.held is not None:
            worth = 1.0 / self.held.spread**2
            matrix = matrix + worth * (self.pair_rows.T @ self.pair_rows)[used, used]
            right = right + worth * self.pair_rows.T[used] @ self.pair_off
        step = np.zeros(7)
        step[used] = np.linalg.lstsq(matrix, right, rcond=1e-9)[0]
        return step

    def normal(self) -> Array:
        """The normal matrix of the surfaces alone, per unit of weight."""
        return np.asarray(self._gram() / max(float(self.weight.sum()), 1e-12))

    def evidence(self, bent: Metre) -> Evidence:
        """The data from which the covariance is calculated."""
        used = self.weight > 0.0
        return Evidence(
            rows=self.rows[used],
            planes=self.planes[used],
            weight=self.weight[used],
            off=self.off[used],
            places=self.places[used],
            worth=self._surface_worth(),
            pair_rows=self.pair_rows,
            pair_spread=1.0 if self.held is None else self.held.spread,
            unknowns=self.unknowns,
            bent=bent,
        )

    def _gram(self) -> Array:
        return np.asarray((self.rows * self.weight[:, None]).T @ self.rows)

    def _surface_worth(self) -> float:
        """Worth of a unit of weight, as if every cluster were one measurement."""
        total = float(self.weight.sum())
        if total <= 0.0:
            return 0.0
        return clusters(self.places[self.weight > 0.0], CLUSTER)[0] / total / self.noise**2


def _dot(a: Array, b: Array) -> Array:
    return np.asarray(np.einsum("ni,ni->n", a, b))


def _alike(cosine: Array, meets: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Whether two surfaces face the same way; either way where the windings do not agree."""
    near = cosine[meets & (np.abs(cosine) > FACING)]
    turned = float(np.sign(near).mean()) if len(near) else 0.0
    if abs(turned) <= 0.6:
        return np.asarray(np.abs(cosine) > FACING)
    return np.asarray(np.sign(turned) * cosine > FACING)


def _scatter(off: Array) -> Metre:
    """Standard deviation from the median of absolute residuals."""
    return float(1.4826 * np.median(np.abs(off))) if len(off) else 0.0


def _biweight(share: Array) -> Array:
    return np.asarray(np.where(np.abs(share) < 1.0, (1.0 - share**2) ** 2, 0.0))


def _pair_equations(
    held: Held | None, fit: Similarity, middle: Array, arm: Metre
) -> tuple[Array, Array]:
    """Three rows for every pair, and the residual of each."""
    if held is None:
        return np.zeros((0, 7)), np.zeros(0)
    places = fit.carry(held.there)
    lever = (places - middle) / arm
    rows = np.zeros((len(places), 3, 7))
    x, y, z = lever.T
    rows[:, 0, 1], rows[:, 0, 2] = z, -y
    rows[:, 1, 0], rows[:, 1, 2] = -z, x
    rows[:, 2, 0], rows[:, 2, 1] = y, -x
    rows[:, :, 3:6] = np.eye(3)
    rows[:, :, 6] = lever
    return rows.reshape(-1, 7), (held.here - places).ravel()


def _applied(fit: Similarity, step: Array, at: _Step) -> Similarity:
    """The similarity after a small rotation about the middle, a shift and a scale change."""
    turn = _rotation(step[:3] / at.arm)
    growth = 1.0 + float(step[6]) / at.arm
    shift = growth * turn @ (np.array(fit.shift) - at.middle) + at.middle + step[3:6]
    return Similarity(
        scale=fit.scale * growth,
        turn=as_axes(turn @ np.array(fit.turn)),
        shift=as_point(shift),
    )


def _rotation(vector: Array) -> Array:
    """Rotation about a vector by its length [rad] (Rodrigues)."""
    angle = float(np.linalg.norm(vector))
    x, y, z = vector
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    if angle < 1e-12:
        return np.asarray(np.eye(3) + cross)
    first, second = np.sin(angle) / angle, (1.0 - np.cos(angle)) / angle**2
    return np.asarray(np.eye(3) + first * cross + second * cross @ cross)
