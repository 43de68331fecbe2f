"""Several scenarios side by side: the part of each run that is compared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.findings.said import Said
from fitcheck.model.finding import Finding
from fitcheck.model.found.fit import FitVerdict, ServiceFit
from fitcheck.model.given.kit import Duty, Kit
from fitcheck.model.result import Hold
from fitcheck.units import CubicMetre, Metre, Pascal, Price

#: Why a run did not finish: its files could not be used, its numbers did not converge, the program
#: or its process failed, or it has not begun.
Stopped = Literal["", "read", "converged", "fault", "killed", "waiting"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleStanding:
    """The fit of one module; `short` is the service clearance that is not fully available.

    The uncertainties of its gap and of a hose's length are at 95 %.
    """

    name: str
    verdict: FitVerdict
    gap: Metre
    meets: str
    short: tuple[ServiceFit, ...]
    uncertainty: Metre = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseStanding:
    """One hose: routed length and what is ordered for it, None without a route.

    ordered : the assembly's length, or the tube cut on board
    """

    line: str
    duty: Duty
    hose: str
    length: Metre | None
    ordered: Metre | None
    reason: str
    uncertainty: Metre = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """The results of one run."""

    boat: str
    layout: str
    kit: Kit
    verdict: Literal["pass", "caution", "fail"]
    cut_joinery: Hold
    order_hoses: Hold
    fails: tuple[Finding, ...]
    cautions: int
    modules: tuple[ModuleStanding, ...]
    hoses: tuple[HoseStanding, ...]
    vacuum_clean: Pascal | None
    vacuum_clean_state: Said
    vacuum_fouled: Pascal | None
    vacuum_fouled_state: Said
    npsh_spare: Metre | None
    price: Price | None
    free_volume: CubicMetre
    unseen_volume: CubicMetre

    @property
    def worst(self) -> ModuleStanding | None:
        """The module with the smallest margin."""
        return min(self.modules, key=lambda module: module.gap, default=None)

    @property
    def ready(self) -> bool:
        """Whether joinery may be cut and hoses may be ordered."""
        return self.cut_joinery.safe and self.order_hoses.safe


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One of several scenarios: its result, or why there is none.

    picture : PNG, or None; folder : where its own files are, "" if there are none
    trace : of a fault of the program; why : for one that ran, why its files could not be written
    """

    file: str
    name: str
    ran: Ran | None
    stopped: Stopped
    why: str
    picture: bytes | None
    folder: str = ""
    trace: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """The candidates in the order they were given."""

    candidates: tuple[Candidate, ...]

    @property
    def ran(self) -> tuple[tuple[int, Ran], ...]:
        """Those that finished, with their index in the order."""
        return tuple((n, one.ran) for n, one in enumerate(self.candidates) if one.ran is not None)
