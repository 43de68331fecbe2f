"""The findings to act on: causes first, their consequences counted, those of one rule together."""

from __future__ import annotations

from dataclasses import dataclass

from fitcheck.findings.causes import AT_THE_MODULE, EVERYWHERE, MEASURED, OF_ALL
from fitcheck.findings.rule import SEVERITIES
from fitcheck.model.finding import Finding
from fitcheck.model.result import Result


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """A finding to act on, others of its rule, and the number of findings that follow
    from them.
    """

    finding: Finding
    alike: tuple[Finding, ...] = ()
    consequences: int = 0


def causes(result: Result) -> tuple[Cause, ...]:
    """Findings that are no consequence of others, most urgent first, including notes that bar a
    step.
    """
    rows = [row for row in result.findings if row.severity != "note" or row.bars]
    ends = _module_ends(result)
    followers = {
        id(row): sum(_explains(row, other, ends) for other in rows if other is not row)
        for row in rows
    }
    roots = [
        row
        for row in rows
        if not any(_explains(other, row, ends) for other in rows if other is not row)
    ]
    grouped: dict[tuple[str, str], list[Finding]] = {}
    for row in sorted(roots, key=_urgency):
        grouped.setdefault((row.rule, row.severity), []).append(row)
    return tuple(
        Cause(
            finding=first,
            alike=tuple(others),
            consequences=sum(followers[id(row)] for row in (first, *others)),
        )
        for first, *others in grouped.values()
    )


def _urgency(row: Finding) -> tuple[int, int, int]:
    """Fails first, then what bars a step, then what has a remedy to apply."""
    return (SEVERITIES.index(row.severity), -len(row.bars), row.remedy is None)


def _module_ends(result: Result) -> dict[str, frozenset[str]]:
    """The modules at the ends of each line, and its ports."""
    return {
        line.name: frozenset((line.start.owner, line.end.owner, str(line.start), str(line.end)))
        for line in result.scenario.kit.lines
    }


def _explains(cause: Finding, row: Finding, ends: dict[str, frozenset[str]]) -> bool:
    """Whether one finding is a consequence of another, which must be resolved anyway."""
    if cause.rule in OF_ALL:
        return cause.severity == "fail" and row.rule in MEASURED
    if row.rule in EVERYWHERE.get(cause.rule, ()):
        return cause.severity == "fail" or row.severity != "fail"
    if row.rule in AT_THE_MODULE.get(cause.rule, ()):
        return row.subject == cause.subject or cause.subject in ends.get(row.subject, ())
    return False
