"""Several scenarios side by side: of each run only what is laid beside the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.findings.said import Said
from fitcheck.model.finding import Finding
from fitcheck.model.found.fit import FitVerdict, ServiceFit
from fitcheck.model.given.kit import Duty, Kit
from fitcheck.model.result import Hold
from fitcheck.units import CubicMetre, Metre, Pascal, Price

#: Why a run did not come to an end: its files could not be used, its numbers did not converge, the
#: program or its process failed, or it has not begun.
Stopped = Literal["", "read", "converged", "fault", "killed", "waiting"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleStanding:
    """How one module stands; `short` is the service space that is not all there.

    The true gap lies within +- `uncertainty` of it 19 times of 20; so does a hose's length.
    """

    name: str
    verdict: FitVerdict
    gap: Metre
    meets: str
    short: tuple[ServiceFit, ...]
    uncertainty: Metre = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseStanding:
    """One hose: routed length and what is ordered for it, None where no way was found.

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
    """What one run found."""

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
        """The module with the tightest gap."""
        return min(self.modules, key=lambda module: module.gap, default=None)

    @property
    def ready(self) -> bool:
        """Whether joinery may be cut and hoses may be ordered."""
        return self.cut_joinery.safe and self.order_hoses.safe


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One scenario of several: what it came to, or why it came to nothing.

    picture : PNG, or None; folder : where its own files are, "" where there are none
    trace   : of a fault of the program; why : of one that ran, why its files could not be written
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
    """The candidates in the order they were named."""

    candidates: tuple[Candidate, ...]

    @property
    def ran(self) -> tuple[tuple[int, Ran], ...]:
        """Those that came to an end, with their place in the order."""
        return tuple((n, one.ran) for n, one in enumerate(self.candidates) if one.ran is not None)
