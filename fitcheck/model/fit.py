"""How each module stands: gaps, service clearances, verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.geometry.box import Box
from fitcheck.model.finding import Assumption, Finding
from fitcheck.model.kit import Face
from fitcheck.model.uncertainty import Verdict, verdict_of
from fitcheck.units import Kilogram, Metre, Point, Ratio

FitVerdict = Literal["fits", "tight", "clash", "unseen"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceGap:
    """Gap in front of one face, square to it; negative is a penetration; `meets` names what.

    The true gap lies within +- `uncertainty` of it 19 times of 20, here and below.
    """

    face: Face
    gap: Metre
    meets: str
    place: Point | None
    uncertainty: Metre = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceFit:
    """A service clearance asked, and the depth that is really clear."""

    face: Face
    kind: Literal["access", "withdrawal"]
    wanted: Metre
    available: Metre
    meets: str
    place: Point | None
    box: Box
    uncertainty: Metre = 0.0

    @property
    def verdict(self) -> Verdict:
        """Clear only if as much as is wanted surely is."""
        return verdict_of(self.available - self.wanted, self.uncertainty)


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A face a module is fixed by, what carries it there, and the share of the face it takes."""

    face: Face
    by: str
    share: Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleFit:
    """One module in its place. `smallest_gap` is in any direction, negative when it overlaps.

    "fits": every gap is surely what was asked; "tight": some gap is not surely, or it cannot be
    told whether the module fits.
    """

    name: str
    verdict: FitVerdict
    box: Box
    mass: Kilogram
    smallest_gap: Metre
    meets: str
    faces: tuple[FaceGap, ...]
    service: tuple[ServiceFit, ...]
    uncertainty: Metre = 0.0
    carried_by: tuple[Carried, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """All modules in their places."""

    modules: tuple[ModuleFit, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]

    def module(self, name: str) -> ModuleFit:
        """The module of that name."""
        return next(module for module in self.modules if module.name == name)
