"""One mesh aligned to another: the fit, its reliability, and where the two differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Said
from fitcheck.geometry.box import Box
from fitcheck.model.finding import Assumption, Finding
from fitcheck.model.found.fit import FitVerdict
from fitcheck.model.given.boat import TapeMeasure
from fitcheck.model.given.kit import Face
from fitcheck.model.given.scenario import InputFile
from fitcheck.units import Direction, Metre, Picked, Point, Ratio, SquareMetre


@dataclass(frozen=True, slots=True, kw_only=True)
class Similarity:
    """Rotation, scale, translation: there -> here = scale * turn @ there + shift [m]."""

    scale: Ratio
    turn: tuple[Direction, Direction, Direction]
    shift: Point

    def carry(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 3) points there -> here."""
        moved: NDArray[np.float64] = self.scale * (
            np.asarray(points, dtype=np.float64) @ np.array(self.turn).T
        ) + np.array(self.shift)
        return moved

    def back(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 3) points here -> there."""
        moved: NDArray[np.float64] = (
            (np.asarray(points, dtype=np.float64) - np.array(self.shift))
            @ np.array(self.turn)
            / self.scale
        )
        return moved


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One place picked on both meshes, each in its mesh's own axes and unit."""

    name: str
    here: Picked
    there: Picked


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """Another mesh, described like a boat, and places picked on both."""

    name: str
    mesh: str
    file: str
    origin: Literal["scan", "cad"]
    unit: Metre | None
    accuracy: Metre | None
    viewpoints: tuple[Picked, ...]
    tape_measures: tuple[TapeMeasure, ...]
    pairs: tuple[Pair, ...]
    inputs: tuple[InputFile, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PairFit:
    """Distance of a pair from its partner in the final fit, and from where all other
    pairs put it.
    """

    name: str
    place: Point
    off: Metre
    left_out: Metre


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeMotion:
    """A motion of the other mesh that keeps its surfaces on those here.

    held : share of the surface that resists it (1: all of it, squarely)
    """

    said: Said
    held: Ratio

    @property
    def words(self) -> str:
        """How it would move, in words."""
        return self.said.text()


@dataclass(frozen=True, eq=False, kw_only=True)
class Registration:
    """Position of the other mesh in the boat frame, and its uncertainty.

    similarity : from the other mesh's own axes and unit to the boat frame [m]
    covariance : (7, 7) of a small rotation about `middle` times `reach`, a shift, a scale change
    times `reach`, all [m2]; the last row is the declared scale's where that was kept
    noise : scatter of the surfaces about each other where they agree [m]
    covered : share of the other mesh with a surface here close to it; `covers` of the mesh here
    """

    similarity: Similarity
    start: Similarity
    scale_kept: bool
    declared_scale: Ratio | None
    scale_uncertainty: Ratio
    middle: Point
    reach: Metre
    covariance: NDArray[np.float64]
    noise: Metre
    covered: Ratio
    covers: Ratio
    pairs: tuple[PairFit, ...]
    pair_spread: Metre
    free: tuple[FreeMotion, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]

    @property
    def trusted(self) -> bool:
        """Whether nothing was found that makes it unusable."""
        return all(finding.severity != "fail" for finding in self.findings)

    def uncertainty(
        self, places: NDArray[np.float64], ways: NDArray[np.float64] | None = None
    ) -> NDArray[np.float64]:
        """(n,) uncertainty (95 %) of (n, 3) places, along (n, 3) unit directions or in
        total [m].
        """
        arm = (np.asarray(places, dtype=np.float64) - np.array(self.middle)) / self.reach
        steps = np.zeros((len(arm), 3, 7))
        x, y, z = arm.T
        steps[:, 0, 1], steps[:, 0, 2] = z, -y
        steps[:, 1, 0], steps[:, 1, 2] = -z, x
        steps[:, 2, 0], steps[:, 2, 1] = y, -x
        steps[:, :, 3:6] = np.eye(3)
        steps[:, :, 6] = arm
        each = np.einsum("nij,jk,nlk->nil", steps, self.covariance, steps)
        if ways is None:
            spread = np.trace(each, axis1=1, axis2=2)
        else:
            spread = np.einsum("ni,nij,nj->n", ways, each, ways)
        result: NDArray[np.float64] = 2.0 * np.sqrt(np.maximum(spread, 0.0))
        return result


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A place where the two differ by more than the limit, boat frame.

    worst : the deviation of its worst twentieth, inwards (less room) negative [m]
    uncertainty : of the registration there, square to the surface, 95 % [m]
    beside : modules whose boxes are within reach, nearest first
    """

    place: Point
    low: Point
    high: Point
    worst: Metre
    typical: Metre
    area: SquareMetre
    uncertainty: Metre
    beside: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceChange:
    """The gap in front of one face of a module in either mesh; None where nothing is in front of
    it.
    """

    module: str
    face: Face
    here: Metre | None
    there: Metre | None
    meets_here: str
    meets_there: str

    @property
    def change(self) -> Metre | None:
        """How much larger the gap is in the other mesh, negative if smaller."""
        if self.here is None or self.there is None:
            return None
        return self.there - self.here


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleChange:
    """A module at the same place in either mesh; `served` whether its service clearance is
    available.
    """

    name: str
    here: FitVerdict
    there: FitVerdict
    served_here: bool
    served_there: bool
    gap_here: Metre
    gap_there: Metre
    meets_there: str
    faces: tuple[FaceChange, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class Deviation:
    """The other mesh compared with the one here.

    triangles : (n, 3, 3) the other mesh in the boat frame [m]
    places, off : (m, 3), (m,) places on it and their signed distance to the mesh here, inwards
    negative [m]; the distance is `farthest` where nothing is closer
    ways : (m, 3) unit, square to the surface here, towards the free space
    """

    here: str
    there: str
    registration: Registration
    limit: Metre
    farthest: Metre
    triangles: NDArray[np.float64]
    places: NDArray[np.float64]
    off: NDArray[np.float64]
    ways: NDArray[np.float64]
    boxes: tuple[tuple[str, Box], ...]
    patches: tuple[Patch, ...]
    modules: tuple[ModuleChange, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]
    inputs: tuple[InputFile, ...]

    @property
    def verdict(self) -> Literal["pass", "caution", "fail"]:
        """The worst severity found: "fail", "caution" or "pass"."""
        worst = {finding.severity for finding in self.findings}
        return "fail" if "fail" in worst else "caution" if "caution" in worst else "pass"
