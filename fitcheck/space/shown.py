"""What a scan itself shows of its accuracy: the roughness of its smooth faces.

A disc of the mesh that faces one direction throughout is a smooth face; a curved one is fitted by
a paraboloid. The residual is noise and misplaced patches. It is a lower bound: anything that bends
the whole mesh, or that the paraboloid follows, cannot be distinguished from the shape of the boat.
On 34 simulated scans the true error (95 %) was 2 to 20 times as large, so this can cast doubt on a
stated accuracy but never confirm one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from fitcheck.findings.said import length, quantity, say
from fitcheck.model.finding import Change, Finding, Remedy
from fitcheck.model.given.boat import Boat
from fitcheck.model.uncertainty import COVERAGE, Uncertainty
from fitcheck.units import Metre

#: Radius of a disc [m], points sampled on one, discs tried, and the number of faces needed for a
#: result.
DISC: Metre = 0.150
ON_DISC, TRIED, FEWEST = 90, 160, 12
MOST_POINTS = 200_000
#: Minimum cosine for a point to face the same way as its disc, and the share of points that must.
SAME_WAY, ALIKE = 0.82, 0.9
#: Share of the disc that must be filled.
FILLED = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Waver:
    """Residual of smooth faces (95 % of points): the median over the `faces` examined."""

    value: Metre
    faces: int


def waver_of(surface: NDArray[np.float64]) -> Waver | None:
    """Waver of (n, 3, 3) triangles of a scan [m]; None where too few smooth faces are found."""
    points, normals, each = _strewn(surface)
    tree = cKDTree(points)
    found = []
    for near in tree.query_ball_point(points[:TRIED], DISC):
        left = _left_over(points[near], normals[near], each)
        found += [] if left is None else [left]
    if len(found) < FEWEST:
        return None
    return Waver(value=COVERAGE * float(np.median(found)), faces=len(found))


def _strewn(
    surface: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Points sampled evenly over triangles, unit normals there, area each represents [m2]."""
    spans = np.cross(surface[:, 1] - surface[:, 0], surface[:, 2] - surface[:, 0])
    twice = np.linalg.norm(spans, axis=1)
    area = float(twice.sum()) / 2.0
    count = int(np.clip(ON_DISC * area / (np.pi * DISC**2), TRIED, MOST_POINTS))
    rng = np.random.default_rng(0)
    of = rng.choice(len(surface), size=count, p=twice / twice.sum())
    share = rng.dirichlet(np.ones(3), count)
    points = np.einsum("nc,ncd->nd", share, surface[of])
    return points, spans[of] / twice[of, None], area / count


def _left_over(
    points: NDArray[np.float64], normals: NDArray[np.float64], each: float
) -> Metre | None:
    """Root mean square residual from a paraboloid, None for a face that is not smooth."""
    facing = normals.sum(axis=0)
    facing /= max(float(np.linalg.norm(facing)), 1e-12)
    along = (points - points.mean(axis=0)) @ facing
    same = (normals @ facing > SAME_WAY) & (np.abs(along) < DISC / 2.0)
    filled = each * float((normals @ facing)[same].sum()) / (np.pi * DISC**2)
    if same.mean() < ALIKE or filled < FILLED:
        return None
    aside = np.linalg.svd(facing[None])[2][1:]
    x, y = ((points[same] - points.mean(axis=0)) @ aside.T / DISC).T
    basis = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
    fitted, *_ = np.linalg.lstsq(basis, along[same], rcond=None)
    off = along[same] - basis @ fitted
    return float(np.sqrt((off @ off) / (len(off) - basis.shape[1])))


def doubted(
    boat: Boat, boat_file: str, sure: Uncertainty, waver: Waver | None
) -> tuple[Uncertainty, tuple[Finding, ...]]:
    """The uncertainty, no better than the scan shows, and a finding if the stated accuracy is."""
    taken = sure.of_surface()
    if waver is None or waver.value <= taken:
        return sure, ()
    least = math.ceil(1e3 * waver.value - 1e-6)
    stated = boat.scan_accuracy is not None
    found = Finding(
        severity="caution",
        rule="accuracy-doubted",
        subject="boat.scan_accuracy",
        said=say(
            "accuracy-doubted.stated" if stated else "accuracy-doubted.taken",
            taken=length(taken),
            shows=say(
                "accuracy-doubted.shows",
                faces=waver.faces,
                waver=quantity(waver.value, "rough length"),
            ),
        ),
        source="what is left of small discs of the surface when a paraboloid is taken off",
        value=taken,
        limit=waver.value,
        unit="m",
        remedy=Remedy(
            said=say("accuracy-doubted.remedy", least=quantity(least / 1e3, "gap")),
            changes=(
                Change(
                    file=boat_file,
                    key="boat.scan_accuracy",
                    value=f"{least} mm",
                    kind="length",
                ),
            ),
        ),
    )
    return replace(sure, surface=waver.value / COVERAGE), (found,)
