"""The length of each hose that works for all compared scenarios."""

from __future__ import annotations

from fitcheck.model.finding import Severity
from fitcheck.model.found.comparison import Comparison, HoseStanding
from fitcheck.report.tables import RUN, Row, Table, columns, plain
from fitcheck.report.words.side_by_side import letter


def longest_table(comparison: Comparison) -> Table:
    """For each hose the longest cut length over the scenarios, and which of them needs it.

    No length works for a scenario in which the hose has no route or is of another type: both are
    reported.
    """
    standings: dict[str, list[tuple[str, HoseStanding]]] = {}
    for n, run in comparison.ran:
        for hose in run.hoses:
            standings.setdefault(hose.line, []).append((letter(n), hose))
    return Table(
        caption="The longest cut length of each hose, to order if one length must fit all",
        columns=columns("Line", "Hose", ("Longest cut length", RUN), "Required by", "Exceptions"),
        rows=tuple(_row(line, rows) for line, rows in standings.items()),
    )


def _row(line: str, rows: list[tuple[str, HoseStanding]]) -> Row:
    known = [(hose.ordered, mark) for mark, hose in rows if hose.ordered is not None]
    most = max((length for length, _ in known), default=None)
    by = " ".join(mark for length, mark in known if length == most)
    hoses: dict[str, list[str]] = {}
    for mark, hose in rows:
        hoses.setdefault(plain(hose.hose), []).append(mark)
    lost = [mark for mark, hose in rows if hose.ordered is None]
    but = [f"no route in {' '.join(lost)}"] if lost else []
    if len(hoses) > 1:
        but.append(
            "different hoses: " + ", ".join(f"{h} in {' '.join(m)}" for h, m in hoses.items())
        )
    severity: Severity | None = "fail" if lost else "caution" if but else None
    cells = (line, ", ".join(hoses), most, by or None, "; ".join(but) or None)
    return Row(cells=cells, severity=severity)
