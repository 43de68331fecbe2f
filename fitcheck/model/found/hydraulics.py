"""Losses, pump states, lifts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitcheck.findings.said import Said, as_written
from fitcheck.model.finding import Assumption, Finding, Severity
from fitcheck.units import (
    CubicMetre,
    CubicMetrePerSecond,
    Metre,
    MetrePerSecond,
    Pascal,
    Point,
    Radian,
    Ratio,
    Second,
    ascii_spelling,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One state of boat and water; `name` is unique and reads "20° to starboard, 5 °C, ...".

    dirty : filters at their change point
    fouled : strainer fouled
    said : the name, in the requested units
    """

    name: str
    heel: Radian
    trim: Radian
    temperature_C: Ratio
    salinity: Ratio
    dirty: bool
    fouled: bool = False
    atmosphere: Pascal = 101_325.0
    doing: Literal["running", "stopped", "flushing"] = "running"
    said: Said = as_written("")

    @property
    def spellings(self) -> frozenset[str]:
        """The name in the units and signs shown to people."""
        shown = {self.name, self.said.text("imperial")}
        return frozenset(shown | {ascii_spelling(name) for name in shown})


@dataclass(frozen=True, slots=True, kw_only=True)
class LineLoss:
    """One line in one state; static is positive when the line's end is higher.

    bend_loss is above the arc's own friction, which friction_loss includes. open_end_loss, of the
    inlet from open water or the outlet into water or air, is included in fitting_loss.
    loss_at_most is what limits are judged on where the flow may be laminar or turbulent, None if
    that was not requested.
    """

    line: str
    state: str
    flow: CubicMetrePerSecond
    velocity: MetrePerSecond
    reynolds: Ratio
    friction_factor: Ratio
    friction_loss: Pascal
    bend_loss: Pascal
    fitting_loss: Pascal
    static: Pascal
    loss_at_most: Pascal | None = None
    open_end_loss: Pascal = 0.0

    @property
    def loss(self) -> Pascal:
        """Everything but the static term."""
        return self.friction_loss + self.bend_loss + self.fitting_loss


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpState:
    """One pump in one state; None where the quantity does not apply to that pump.

    suction_vacuum : static gauge pressure at the inlet, positive below atmosphere, negative when
    flooded; the total pressure there is higher by the velocity head
    inlet_pressure : total gauge pressure at the inlet of the high-pressure pump
    cycles : a pressure switch stops and starts the pump; its flow here is while it runs
    """

    pump: str
    state: str
    flow: CubicMetrePerSecond
    suction_vacuum: Pascal | None
    npsh_available: Metre | None
    npsh_required: Metre | None
    bypass_flow: CubicMetrePerSecond | None
    head: Metre | None
    inlet_pressure: Pascal | None
    cycles: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSummary:
    """One table row: the governing loss, lift and judgement of a line.

    lift : line end above line start, boat upright
    worst_lift : the same in the worst heel and trim
    share : loss over the allowed loss of the line, None where no limit applies
    severity : of the worst finding that concerns the line, None where that is a note or nothing
    said : the same as a sentence
    touched_by : rule and subject of every fail and caution that concerns the line
    """

    line: str
    state: str
    severity: Severity | None
    flow: CubicMetrePerSecond
    velocity: MetrePerSecond
    loss: Pascal
    lift: Metre
    worst_lift: Metre
    said: Said
    touched_by: tuple[tuple[str, str], ...] = ()

    @property
    def verdict(self) -> str:
        """The judgement in words."""
        return self.said.text()


@dataclass(frozen=True, slots=True, kw_only=True)
class BackPressure:
    """Back pressure of a brine or product outlet in its worst state, running or stopped."""

    outlet: str
    running: Pascal
    running_state: str
    stopped: Pascal
    stopped_state: str
    limit: Pascal


@dataclass(frozen=True, slots=True, kw_only=True)
class TurningPoint:
    """A high point that collects air or a low point that keeps water, in its worst attitude.

    where : the line, or the module if the turn is at one
    height : above the sea
    rise : over the higher of the adjacent low points (below the lower of the high ones)
    """

    where: str
    line: str
    kind: Literal["high", "low"]
    at: Point
    height: Metre
    rise: Metre
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterHeld:
    """The water in a hose or a module."""

    where: str
    volume: CubicMetre


@dataclass(frozen=True, slots=True, kw_only=True)
class FlushPlan:
    """What a fresh-water flush takes; `given` is whether the kit describes it.

    held : the water it has to replace once
    lost : lines it runs through that were not routed and so are not counted
    """

    held: CubicMetre
    volumes: Ratio
    volume: CubicMetre
    flow: CubicMetrePerSecond
    time: Second
    given: bool
    lost: tuple[str, ...]


#: `info`: no limit applies; `not judged`: other consumers are not known.
Judgement = Literal["fine", "caution", "fails", "info", "not judged"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Governing:
    """The governing state of one quantity, with the band left by bores, lengths and heights.

    worst : the end of the band the verdict is given on; best : the other end
    limit : None where there is none; shown_as : the kind for `units.show`
    """

    said: Said
    subject: str
    state: str
    value: Ratio
    worst: Ratio
    best: Ratio
    limit: Ratio | None
    unit: str
    shown_as: str
    verdict: Judgement

    @property
    def quantity(self) -> str:
        """What it is, in words."""
        return self.said.text()


@dataclass(frozen=True, slots=True, kw_only=True)
class EnvelopeCurve:
    """One hose for the whole suction side: the longest run over lift, None where there is none.

    longest : nothing fails with the bypass shut; fine : nothing is a caution either
    as_set : nothing fails with the bypass as it is set; empty if not requested
    """

    hose: str
    bore: Metre
    longest: tuple[Metre | None, ...]
    fine: tuple[Metre | None, ...]
    as_set: tuple[Metre | None, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelope:
    """Suction length over lift, curve by curve, and this layout's position in it, if any.

    lifts : of the first pump above the sea at rest
    """

    lifts: tuple[Metre, ...]
    curves: tuple[EnvelopeCurve, ...]
    own_length: Metre | None = None
    own_lift: Metre | None = None
    own_bore: Metre | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Allowed suction length and lift of a kit, before any boat is measured.

    pump : the first pump; hose : the kit's own suction hose
    present : the bypass valve as it is set, flow at 1 bar, None without such a valve
    lengths : of the suction side, for the settings
    lifts : of the pump above the sea, for the settings
    settings : by lift, then length, the widest setting that feeds the pumps with `hose` (0: only
    shut works; None: nothing does); empty without such a valve
    """

    kit: str
    pump: str
    flow: CubicMetrePerSecond
    hose: str
    present: CubicMetrePerSecond | None
    envelope: Envelope
    lengths: tuple[Metre, ...]
    lifts: tuple[Metre, ...]
    settings: tuple[tuple[CubicMetrePerSecond | None, ...], ...]
    assumptions: tuple[Assumption, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BypassRange:
    """Settings of the bypass valve, as flow at 1 bar, that feed the pumps: from shut to `widest`.

    widest : None if not even shut does
    """

    line: str
    present: CubicMetrePerSecond
    widest: CubicMetrePerSecond | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hydraulics:
    """The water side in every requested state."""

    states: tuple[State, ...]
    lines: tuple[LineLoss, ...]
    pumps: tuple[PumpState, ...]
    summaries: tuple[LineSummary, ...]
    back_pressures: tuple[BackPressure, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]
    governing: tuple[Governing, ...] = ()
    turning_points: tuple[TurningPoint, ...] = ()
    held: tuple[WaterHeld, ...] = ()
    flush: FlushPlan | None = None
    envelope: Envelope | None = None
    bypass: BypassRange | None = None

    def summary(self, line: str) -> LineSummary | None:
        """The summary of that line, None if it was not routed."""
        return next((row for row in self.summaries if row.line == line), None)
