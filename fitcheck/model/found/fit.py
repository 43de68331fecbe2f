"""The fit of each module: gaps, service clearances, verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from fitcheck.geometry.box import Box
from fitcheck.model.contact import Contact, worst
from fitcheck.model.finding import Assumption, Finding
from fitcheck.model.given.kit import Face
from fitcheck.model.uncertainty import Verdict
from fitcheck.units import Kilogram, Metre, Point, Ratio

FitVerdict = Literal["fits", "touch", "tight", "clash", "unseen"]


class _Met:
    """What is in front of a face or close to a box: a contact for every kind, the deciding one
    first.
    """

    __slots__ = ()
    contacts: tuple[Contact, ...]

    @property
    def meets(self) -> str:
        """What decides, for people; "" where nothing is met."""
        return self.contacts[0].meets if self.contacts else ""

    @property
    def place(self) -> Point | None:
        """Where it is met."""
        return self.contacts[0].place if self.contacts else None

    @property
    def uncertainty(self) -> Metre:
        """Uncertainty of the gap (95 %) [m]."""
        return self.contacts[0].uncertainty if self.contacts else 0.0

    @property
    def _gap(self) -> Metre:
        return self.contacts[0].gap if self.contacts else math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceGap(_Met):
    """What is in front of one face, square to it, nearest first."""

    face: Face
    contacts: tuple[Contact, ...]

    @property
    def gap(self) -> Metre:
        """Gap to the nearest thing; negative is a penetration [m]."""
        return self._gap


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceFit(_Met):
    """A required service clearance, and what is in front of the face, the deciding thing first."""

    face: Face
    kind: Literal["access", "withdrawal"]
    wanted: Metre
    contacts: tuple[Contact, ...]
    verdict: Verdict
    box: Box

    @property
    def available(self) -> Metre:
        """Depth available up to what decides [m]."""
        return max(self._gap, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A face a module is fixed by, its support, and the share of the face it covers."""

    face: Face
    by: str
    share: Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleFit(_Met):
    """One module in its position. Its contacts are in any direction, nearest first.

    "fits": every gap is certainly as required; "touch": by what was seen, to be checked by hand;
    "tight": some gap is uncertain, or it cannot be
    decided whether the module fits. `decided_by` are the contacts that prevent "fits".
    """

    name: str
    verdict: FitVerdict
    box: Box
    mass: Kilogram
    faces: tuple[FaceGap, ...]
    service: tuple[ServiceFit, ...]
    contacts: tuple[Contact, ...] = ()
    carried_by: tuple[Carried, ...] = ()
    decided_by: tuple[Contact, ...] = ()

    @property
    def smallest_gap(self) -> Metre:
        """Gap to the nearest thing in any direction, negative when it overlaps [m]."""
        return self._gap

    @property
    def tightest(self) -> Contact | None:
        """The contact with the smallest margin, except to what the module is mounted on."""
        mounts = {row.by for row in self.carried_by}
        return worst(met for met in self.contacts if met.meets not in mounts)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardFit:
    """One board to be built: its supports and its collisions.

    held_by : names of the supports at its edges or faces
    line : length along which it is supported [m]
    side : its shorter side [m]
    reach : distance of its farthest corner from the supported part [m]
    """

    name: str
    held_by: tuple[str, ...]
    line: Metre
    side: Metre
    reach: Metre
    runs_into: tuple[Contact, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """All modules in their positions, and the boards to be built for them."""

    modules: tuple[ModuleFit, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]
    boards: tuple[BoardFit, ...] = ()

    def module(self, name: str) -> ModuleFit:
        """The module of that name."""
        return next(module for module in self.modules if module.name == name)
