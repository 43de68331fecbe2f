"""Sentences of the report that contain numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Literal

from fitcheck.findings.catalogue import row_of
from fitcheck.findings.said import Said, as_written
from fitcheck.model.finding import SEVERITIES, Finding, Remedy, Severity
from fitcheck.model.found.fit import FitVerdict, ServiceFit
from fitcheck.model.found.hydraulics import PumpState
from fitcheck.model.found.look import FIT_WORDS
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.result import Result
from fitcheck.report.tables import NOTHING, Mark, plain
from fitcheck.units import System, show


def state_words(result: Result, name: str, system: System) -> str:
    """The name of a state in the requested units."""
    return plain(_state_said(result, name).text(system))


def state_said(result: Result, pump: PumpState | None) -> Said:
    """The state of a pump's row, empty without a pump."""
    return _state_said(result, pump.state if pump else "")


def _state_said(result: Result, name: str) -> Said:
    states = result.hydraulics.states
    return next((row.said for row in states if row.name == name), as_written(name))


def worst_of(findings: Iterable[Finding], subject: str) -> Severity | None:
    """The worst severity of the findings on a subject, None without any."""
    return worse(*(finding.severity for finding in findings if finding.subject == subject))


def worse(*severities: Severity | None) -> Severity | None:
    """The worst of several severities, None without any."""
    return next((severity for severity in SEVERITIES if severity in severities), None)


def finding_marks(result: Result, subject: str) -> tuple[Mark, ...]:
    """The fails and cautions on a subject, each with its number in the report.

    For a hose also those on its pump that changing the hose could resolve.
    """
    water = result.hydraulics.summary(subject)
    touched = water.touched_by if water else ()
    return tuple(
        Mark(severity=row.severity, title=row_of(row.rule).title, number=number)
        for number, row in enumerate(result.findings, 1)
        if row.severity != "note"
        and (row.subject == subject or (row.rule, row.subject) in touched)
    )


def hose_number(result: Result, line: str) -> int:
    """The number of a hose everywhere: its position in the kit's list of lines, from 1."""
    return 1 + [hose.line for hose in result.routes.hoses].index(line)


def bound_words(hose: HoseRoute | Unrouted) -> str:
    """How close the length is to the shortest possible, rounded up to a tenth of a per cent."""
    if isinstance(hose, Unrouted):
        return NOTHING
    excess = math.ceil(1000 * (hose.length / hose.bound - 1) - 1e-6) / 10
    if hose.bound_kind == "direct" or excess <= 0:
        return "proven shortest"
    if hose.way == "along structure":
        return f"along structure; at most {excess:.1f} % longer than the shortest free route"
    return f"shortest possible to within {excess:.1f} %"


def standing_words(verdict: FitVerdict, *, served: bool) -> tuple[str, Severity | None]:
    """The fit of a module ("fits, too little service clearance"), and its severity."""
    words, severity = FIT_WORDS[verdict]
    if served or severity == "fail":
        return words, severity
    return f"{words}, too little service clearance", "fail"


def is_short(room: ServiceFit) -> bool:
    """Whether less is clear than required, regardless of the scan's uncertainty."""
    return room.verdict == "does not fit"


def service_words(room: ServiceFit, system: System) -> str:
    """A service clearance that is not fully available."""
    wanted, found = (
        show(max(depth, 0.0), "length", system) for depth in (room.wanted, room.available)
    )
    return f"{room.face}: {found} of {wanted} available, limited by {plain(room.meets)}"


# --- the suction side -------------------------------------------------------------------------


_SUCTION_RULES = ("suction-vacuum", "npsh-margin", "largest-flow")


def worst_suction(result: Result, *, dirty: bool) -> PumpState | None:
    """The state, strainer clean or fouled, with the highest vacuum at the first pump."""
    states = {state.name: state.fouled for state in result.hydraulics.states}
    known = [
        pump
        for pump in result.hydraulics.pumps
        if pump.suction_vacuum is not None and states[pump.state] == dirty
    ]
    return max(known, key=lambda pump: pump.suction_vacuum or 0.0, default=None)


def suction_verdict(result: Result) -> Literal["pass", "caution", "fail"]:
    """The worst finding on the suction side; not calculated counts as a fail."""
    if all(pump.suction_vacuum is None for pump in result.hydraulics.pumps):
        return "fail" if result.scenario.kit.feed_pump else "pass"
    said = worse(
        *(row.severity for row in result.hydraulics.findings if row.rule in _SUCTION_RULES)
    )
    return said if said in ("caution", "fail") else "pass"


def suction_words(result: Result, system: System) -> str:
    """The most important number with its limits, in its worst state."""
    limits = result.scenario.kit.limits
    found = [
        f"{vacuum_words(pump.suction_vacuum, system)} ({state_words(result, pump.state, system)})"
        for dirty in (False, True)
        if (pump := worst_suction(result, dirty=dirty)) and pump.suction_vacuum is not None
    ]
    if not found:
        return f"not calculated: {why_no_suction(result)}"
    judged = {"pass": "ok", "caution": "caution", "fail": "fails"}[suction_verdict(result)]
    good = show(limits.suction_vacuum_ok, "vacuum", system)
    most = show(limits.suction_vacuum_max, "vacuum", system)
    told = f"{judged}: {found[0]}; recommended up to {good}, limit {most} with a clean strainer"
    return "; ".join([told, *(f"strainer fouled {words}" for words in found[1:])])


def vacuum_words(vacuum: float, system: System) -> str:
    """A vacuum, or the pressure where there is none."""
    if vacuum <= 0:
        return f"no suction vacuum ({show(-vacuum, 'pressure', system)} of pressure)"
    return f"suction vacuum {show(vacuum, 'vacuum', system)}"


def npsh_words(result: Result, system: System) -> str:
    """NPSH available and required, where the margin is smallest."""
    known = [
        (state.npsh_available, state.npsh_required, state.state)
        for state in result.hydraulics.pumps
        if state.npsh_available is not None and state.npsh_required is not None
    ]
    if not known:
        return f"not calculated: {why_no_suction(result)}"
    available, required, state = min(known, key=lambda row: row[0] - row[1])
    return (
        f"{show(available, 'head', system)} available, {show(required, 'head', system)} "
        f"required ({state_words(result, state, system)})"
    )


def why_no_suction(result: Result) -> str:
    """Why the suction side could not be calculated."""
    if result.scenario.kit.feed_pump is None:
        return "the kit has no feed pump"
    lost = [hose.line for hose in result.routes.hoses if isinstance(hose, Unrouted)]
    return f"{plain(', '.join(lost))} without a route" if lost else "see the findings"


# --- findings ---------------------------------------------------------------------------------


def place_words(finding: Finding, system: System) -> str:
    """Where a finding is, in words of the boat, or ""."""
    if finding.place is None:
        return ""
    ways = (("forward", "aft"), ("to port", "to starboard"), ("above the sea", "below the sea"))
    return ", ".join(
        f"{show(abs(value), 'run', system)} {way[value < 0]}"
        for value, way in zip(finding.place, ways, strict=True)
    )


def shown_as(finding: Finding) -> str:
    """The kind for `units.show` of a finding's value and limit."""
    return row_of(finding.rule).shown_as or finding.unit


def against_words(finding: Finding) -> str:
    """What the number is compared with: a caution shows the limit above which it fails."""
    rule = row_of(finding.rule)
    softer = finding.severity == "caution" and "fail" in rule.severities
    return "recommended" if softer and rule.against == "limit" else rule.against


def amount_words(finding: Finding, system: System) -> str:
    """Value and limit of a finding in the requested units, or ""."""
    if finding.value is None:
        return ""
    kind = shown_as(finding)
    found = show(finding.value, kind, system)
    if finding.limit is None:
        return found
    return f"{found}, {against_words(finding)} {show(finding.limit, kind, system)}"


def remedy_number(remedy: Remedy, among: Sequence[Remedy]) -> str:
    """The number by which a remedy is applied, with a leading space; "" if it names no key."""
    return f" {among.index(remedy) + 1}" if remedy in among else ""


def proof_words(remedy: Remedy) -> str:
    """How a remedy was tested, or ""."""
    words = {"": "", "solved": " (recalculated)", "run again": " (re-routed and recalculated)"}
    return words[remedy.proven]


def apply_command(folder: str, number: int | str, system: System) -> str:
    """The command that writes a remedy, in the units it is shown in."""
    units = "" if system == "metric" else f" --units {system}"
    return f"fitcheck apply {folder} {number}{units}"


def yes_or_not_yet(safe: bool) -> str:
    """Whether a step is safe, as a word or two."""
    return "yes" if safe else "not yet"


def yes_or_no(safe: bool) -> str:
    """The word."""
    return "yes" if safe else "no"


def toml_value(value: str | tuple[str, ...]) -> str:
    """A change's value as it is written in the file."""
    if isinstance(value, str):
        return f'"{plain(value)}"'
    return "[" + ", ".join(f'"{plain(part)}"' for part in value) + "]"
