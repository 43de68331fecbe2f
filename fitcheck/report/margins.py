"""Governing quantities of the water side, water held, settings and lengths."""

from __future__ import annotations

from fitcheck.model.finding import Severity
from fitcheck.model.result import Result
from fitcheck.report.tables import (
    FLOW,
    FRACTION,
    HEAD,
    HEIGHT,
    JUDGED,
    PRESSURE,
    SPEED,
    VACUUM,
    VOLUME,
    Row,
    Table,
    columns,
    unprinted,
)
from fitcheck.report.words.words import state_words
from fitcheck.units import BAR, System, show

#: What a quantity is measured in, by the kind it is shown as.
MEASURES = {
    "vacuum": VACUUM,
    "head": HEAD,
    "Pa": PRESSURE,
    "m3/s": FLOW,
    "fraction": FRACTION,
    "m/s": SPEED,
    "run": HEIGHT,
}
_SEVERITY: dict[str, Severity] = {"fails": "fail", "caution": "caution"}


def governing_table(result: Result, system: System) -> Table:
    """Every quantity in its governing state, with its band and its limit."""
    rows = []
    for row in result.hydraulics.governing:
        measure = MEASURES[row.shown_as]
        low, high = sorted((row.best, row.worst))
        first, last = measure.figure(low, system), measure.show(high, system)
        cells = (
            row.said.text(system),
            row.subject,
            measure.show(row.value, system),
            f"{first} to {last}" if last.split()[0] != first else None,
            None if row.limit is None else measure.show(row.limit, system),
            "ok" if row.verdict == "fine" else row.verdict,
            state_words(result, row.state, system),
        )
        rows.append(Row(cells=cells, severity=_SEVERITY.get(row.verdict)))
    return Table(
        caption="Worst cases",
        columns=columns(
            "Quantity",
            "Of",
            "Expected",
            "Range",
            "Limit",
            JUDGED,
            *unprinted(*columns("State")),
        ),
        rows=tuple(rows),
    )


def held_table(result: Result) -> Table:
    """The water in every hose and module."""
    return Table(
        caption="Water content",
        columns=columns("Where", ("Volume", VOLUME)),
        rows=tuple(Row(cells=(row.where, row.volume)) for row in result.hydraulics.held),
    )


def bypass_words(result: Result, system: System) -> str:
    """The range of bypass settings for which the pumps are fed, or ""."""
    bypass = result.hydraulics.bypass
    if bypass is None:
        return ""
    present = show(bypass.present, "flow", system)
    bar = show(BAR, "pressure", system)
    now = f"now it passes {present} at {bar}"
    if bypass.widest is None:
        return f"the pumps cannot be fed at any setting of {bypass.line}, even closed; {now}"
    widest = show(bypass.widest, "flow", system)
    return f"{bypass.line} may be set to pass from zero (closed) to {widest} at {bar}; {now}"


def longest_words(result: Result, system: System) -> str:
    """The longest suction run of every bore at this layout's lift, or ""."""
    around = result.hydraulics.envelope
    if around is None or around.own_lift is None:
        return ""
    parts = []
    for curve in around.curves:
        pairs = [
            (lift, longest)
            for lift, longest in zip(around.lifts, curve.longest, strict=True)
            if longest is not None
        ]
        reach = _between(pairs, around.own_lift)
        told = "none" if reach is None else show(reach, "run", system)
        told += " or more" if reach == max(curve.longest, key=lambda x: x or 0.0) else ""
        parts.append(f"{show(curve.bore, 'bore', system)} bore {told}")
    at = height_words(around.own_lift, system)
    return f"maximum suction length with the pump {at}: {', '.join(parts)}"


def height_words(height: float, system: System) -> str:
    """A height above or below the sea, with its direction."""
    side = "above" if height >= 0.0 else "below"
    return f"{show(abs(height), 'run', system)} {side} the sea"


def _between(pairs: list[tuple[float, float]], lift: float) -> float | None:
    """Linear interpolation between adjacent lifts; None beyond the last."""
    for (low, first), (high, second) in zip(pairs, pairs[1:], strict=False):
        if low <= lift <= high:
            return first + (second - first) * (lift - low) / (high - low)
    return None
