"""The answer: may joinery be cut, may hoses be ordered, what to do first, what to cut.

Shared by the first screen and the top of the page, each in its own form.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from fitcheck.findings.catalogue import row_of
from fitcheck.model.finding import Change, Finding
from fitcheck.model.found.fit import FitVerdict, ModuleFit
from fitcheck.model.found.look import verdict_words
from fitcheck.model.found.routes import Unrouted
from fitcheck.model.result import Hold, Result
from fitcheck.report.causes import Cause, causes
from fitcheck.report.modules import gap_words
from fitcheck.report.tables import plain
from fitcheck.report.words.words import (
    against_words,
    hose_number,
    is_short,
    place_words,
    shown_as,
    why_no_suction,
    yes_or_not_yet,
)
from fitcheck.units import System, show

#: Nobody reads more than three things to do at once.
MOST_TO_DO = 3
#: Assumptions named; the report has them all.
MOST_FLIPS = 1
#: Before the assumptions.
FLIPS = "not measured and can change the answer:"
#: Why a module is not counted as fitting, by its verdict.
_NOT_FITTING: Mapping[FitVerdict, str] = {
    "touch": "to be checked by hand",
    "tight": "tight",
    "clash": "does not fit",
    "unseen": "in unscanned space",
}
#: The full cautions are on the page and under --all.
SAFETY = (
    "an estimate, not an approval: measure again before cutting. Flooding, high pressure, "
    "electricity, drinking water, lifting: see the report; makers' instructions, local codes "
    "and licensed trades take precedence."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """Something to do: what is wrong, how to resolve it, the remedy to apply or None.

    place : position of the finding among those of the result, from 1
    """

    wrong: str
    right: str
    remedy: int | None
    place: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cuts:
    """The pieces cut from one hose: (number of the line, length in words)."""

    hose: str
    pieces: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What may be done, what must be done first and what to cut, in words.

    verdict : in a word or two
    ready : whether both steps are safe
    steps : (what, whether it is safe, yes or not yet and the single reason)
    left : number of things to do that are not among `deeds`
    lost : number and name of lines without a route
    pump : suction and NPSH, one line each
    """

    verdict: str
    ready: bool
    steps: tuple[tuple[str, bool, str], ...]
    heading: str
    deeds: tuple[Deed, ...]
    left: int
    boxes: str
    cut_note: str
    cuts: tuple[Cuts, ...]
    lost: tuple[str, ...]
    pump: tuple[str, ...]
    flips: str


def answer(result: Result, system: System) -> Answer:
    """The answer of a result."""
    rows = causes(result)
    ready = result.ready
    cut, order = result.cut_joinery, result.order_hoses
    first, others = (_reasons(hold, rows) for hold in (cut, order))
    return Answer(
        verdict=verdict_words(result.verdict, ready=ready),
        ready=ready,
        steps=(
            ("Cut joinery", cut.safe, _hold_words(result, cut, first, [], system)),
            ("Order hoses", order.safe, _hold_words(result, order, others, first, system)),
        ),
        heading="Read first" if ready else "Do first",
        deeds=tuple(_deeds(rows[:MOST_TO_DO], result, system)),
        left=max(len(rows) - MOST_TO_DO, 0),
        boxes=_boxes(result, system),
        cut_note="hose number and length to cut"
        if ready
        else "do not cut before both answers are yes",
        cuts=_cuts(result, system),
        lost=tuple(
            plain(f"{hose_number(result, hose.line)} {hose.line}")
            for hose in result.routes.hoses
            if isinstance(hose, Unrouted)
        ),
        pump=tuple(_pump(result, system)),
        flips=_flips(result, system),
    )


def _reasons(hold: Hold, rows: Sequence[Cause]) -> list[Finding]:
    """The findings that bar a step, without consequences of others."""
    roots = {id(one) for row in rows for one in (row.finding, *row.alike)}
    return [row for row in hold.reasons if id(row) in roots] or list(hold.reasons)


def _hold_words(
    result: Result,
    hold: Hold,
    reasons: list[Finding],
    before: list[Finding],
    system: System,
) -> str:
    """Yes or not yet, and one reason, unless the step before has just given it."""
    said = yes_or_not_yet(hold.safe)
    if not reasons:
        return f"{said}: {plain(hold.said.text(system))}"
    first, *others = reasons
    more = f" (and {len(others)} more)" if others else ""
    if before[:1] == [first]:
        return f"{said}: the same reason{more}"
    return f"{said}: {_title(result, (first,), system)}{more}"


def _deeds(rows: Sequence[Cause], result: Result, system: System) -> Iterator[Deed]:
    """What to do for each cause; a remedy that resolves several is written once."""
    written: dict[tuple[Change, ...], int] = {}
    for number, cause in enumerate(rows, 1):
        deed, remedy = _deed(cause, result, system), cause.finding.remedy
        changes = remedy.changes if remedy else ()
        if changes and (before := written.setdefault(changes, number)) < number:
            deed = replace(deed, right=f"The same remedy as for {before}.", remedy=None)
        yield deed


def _deed(cause: Cause, result: Result, system: System) -> Deed:
    """A cause with its number, its limit and one remedy, with the names of those it is for."""
    finding, follow = cause.finding, cause.consequences
    words = f"; {follow} more {'follows' if follow == 1 else 'follow'} from it" if follow else ""
    rows, right = (finding, *cause.alike), _right(finding, system)
    same = [row for row in rows if _right(row, system) == right]
    names = dict.fromkeys(row.subject for row in same)
    whose = "" if len(same) == len(rows) else f"{', '.join(names)}: "
    remedy = finding.remedy
    known = remedy is not None and remedy in result.remedies
    return Deed(
        wrong=_title(result, rows, system) + words,
        right=plain(whose + right),
        remedy=1 + result.remedies.index(remedy) if remedy is not None and known else None,
        place=1 + result.findings.index(finding),
    )


def _right(finding: Finding, system: System) -> str:
    """The remedy of a finding, or else what it says."""
    return (finding.remedy or finding).said.text(system)


def _title(result: Result, rows: Sequence[Finding], system: System) -> str:
    """What it concerns and what it is; the first finding's number and limit, else its place."""
    first = rows[0]
    subjects = ", ".join(_called(result, name) for name in dict.fromkeys(r.subject for r in rows))
    words = f"{subjects}: {row_of(first.rule).title}"
    if first.value is None or not first.limit or first.unit == "1":
        return f"{words} ({place_words(first, system)})" if first.place else words
    kind = shown_as(first)
    found, limit = (show(value, kind, system) for value in (first.value, first.limit))
    return f"{words} {found} ({against_words(first)} {limit})"


def _called(result: Result, subject: str) -> str:
    """A hose with its number, since lengths are listed by it."""
    if any(hose.line == subject for hose in result.routes.hoses):
        return plain(f"hose {hose_number(result, subject)} {subject}")
    return plain(subject)


def _boxes(result: Result, system: System) -> str:
    """Modules that fit with service clearance and support, what the others lack, the tightest."""
    modules = result.fit.modules
    lacking: dict[str, list[str]] = {}
    for module in modules:
        for what in _lacks(module):
            lacking.setdefault(what, []).append(plain(module.name))
    faulty = {name for names in lacking.values() for name in names}
    words = f"{len(modules) - len(faulty)} of {len(modules)} fit"
    if lacking:
        words += " with service clearance and support"
    parts = [words, *(f"{what}: {', '.join(names)}" for what, names in lacking.items())]
    least = min(
        ((met, module) for module in modules if (met := module.tightest)),
        key=lambda row: row[0].margin,
        default=None,
    )
    if least is not None:
        met, module = least
        parts.append(f"tightest: {plain(module.name)}, {gap_words(met, system)}")
    return "; ".join(parts)


def _lacks(module: ModuleFit) -> Iterator[str]:
    """What keeps a module from being counted as fitting."""
    if module.verdict != "fits":
        yield _NOT_FITTING[module.verdict]
    if any(is_short(room) for room in module.service):
        yield "too little service clearance"
    elif any(room.verdict != "clear" for room in module.service):
        yield "service clearance uncertain"
    if not module.carried_by:
        yield "no support"


def _cuts(result: Result, system: System) -> tuple[Cuts, ...]:
    """Cut lengths by hose type, each with its number."""
    by_hose: dict[str, list[tuple[int, str]]] = {}
    for cut in result.order.cuts:
        length = show(cut.cut_length, "way", system)
        by_hose.setdefault(cut.hose, []).append((hose_number(result, cut.line), length))
    return tuple(Cuts(hose=plain(hose), pieces=tuple(rows)) for hose, rows in by_hose.items())


def _pump(result: Result, system: System) -> Iterator[str]:
    """Suction vacuum and NPSH of the feed pump with their limits, in their worst states."""
    rows = [row for row in result.hydraulics.governing if row.shown_as in ("vacuum", "head")]
    if not rows and result.scenario.kit.feed_pump:
        yield why_no_suction(result)
    for row in rows:
        limit = "" if row.limit is None else f" (limit {show(row.limit, row.shown_as, system)})"
        yield f"{row.said.text(system)} {show(row.worst, row.shown_as, system)}{limit}"


def _flips(result: Result, system: System) -> str:
    """Assumptions that could change the verdict."""
    rows = [row for row in result.assumptions if row.can_flip]
    shown = [
        plain(f"{row.said.text(system)}: {row.taken.text(system)}") for row in rows[:MOST_FLIPS]
    ]
    if left := len(rows) - len(shown):
        shown.append(f"{left} more in the report")
    return "; ".join(shown)
