"""The answer on one screen: may joinery be cut, may hoses be ordered, what to do first."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path

from fitcheck.findings.catalogue import CATALOGUE
from fitcheck.model.finding import Finding
from fitcheck.model.found.look import VERDICT_LOOKS
from fitcheck.model.found.routes import Unrouted
from fitcheck.model.result import Hold, Result
from fitcheck.report.causes import Cause, causes
from fitcheck.report.modules import gap_words, tightest
from fitcheck.report.tables import plain
from fitcheck.report.words.words import (
    hose_number,
    why_no_suction,
    yes_or_not_yet,
)
from fitcheck.units import System, show

WIDTH = 80
#: More than three things to do at once are not read.
MOST_TO_DO = 3
#: Assumptions named in full; the report has them all.
MOST_FLIPS = 2
#: The cautions in full are on the page and under --all.
SAFETY = (
    "an estimate, not an approval: measure again before cutting. Read the report's cautions on "
    "flooding, 55 bar, electricity, drinking water and lifting; the makers' instructions, local "
    "codes and licensed trades go first."
)
_LEAD = 15


def first_screen(result: Result, files: Sequence[Path], system: System) -> str:
    """The answer in about twenty lines of 80 columns; `files` as written, the page first."""
    return "\n".join(
        (
            *_headline(result),
            "",
            *_row("Cut joinery", _hold_words(result.cut_joinery, system)),
            *_row("Order hoses", _hold_words(result.order_hoses, system)),
            *_to_do(result, files, system),
            "",
            *_row("Boxes", _boxes(result, system)),
            *_lengths(result, system),
            *_pump(result, system),
            *_flips(result, system),
            *_where(files),
        )
    )


def brief(result: Result, system: System) -> str:
    """Two lines to read aloud."""
    rows = (("Cut joinery", result.cut_joinery), ("Order hoses", result.order_hoses))
    return "\n".join(f"{what}: {_hold_words(hold, system)}." for what, hold in rows)


def _headline(result: Result) -> list[str]:
    word = VERDICT_LOOKS[result.verdict].word
    files = dict.fromkeys(
        Path(name).name
        for name in (
            result.scenario.boat_file,
            result.scenario.kit_file,
            result.scenario.layout_file,
        )
    )
    return _hung("", plain(f"{result.scenario.name}: {word} ({', '.join(files)})"))


def _hold_words(hold: Hold, system: System) -> str:
    """Yes or not yet, and the one reason."""
    said = yes_or_not_yet(hold.safe)
    if not hold.reasons:
        return f"{said}: {plain(hold.said.text(system))}"
    first, *others = hold.reasons
    more = f" (and {len(others)} more)" if others else ""
    return f"{said}: {_title((first,), system)}{more}"


def _to_do(result: Result, files: Sequence[Path], system: System) -> list[str]:
    """The most urgent causes, each with its number, its limit and one remedy."""
    rows = causes(result)
    if not rows:
        return []
    shown = rows[:MOST_TO_DO]
    heading = "Do first" if result.verdict == "fail" else "Read first"
    left = len(rows) - len(shown)
    more = f" ({left} more in the report)" if left else ""
    lines = ["", f"{heading}{more}"]
    for number, cause in enumerate(shown, 1):
        lines += _item(number, cause, result, files, system)
    return lines


def _item(
    number: int, cause: Cause, result: Result, files: Sequence[Path], system: System
) -> list[str]:
    finding = cause.finding
    follow = cause.consequences
    words = f"; {follow} more {'follows' if follow == 1 else 'follow'} from it" if follow else ""
    lines = _hung(f" {number} ", _title((finding, *cause.alike), system) + words)
    remedy = finding.remedy
    if remedy is None:
        return lines + _hung("   ", plain(finding.said.text(system)))
    lines += _hung("   ", plain(remedy.said.text(system)))
    if remedy in result.remedies and files:
        at = result.remedies.index(remedy) + 1
        lines.append(f"   fitcheck apply {files[0].parent} {at}")
    return lines


def _title(rows: Sequence[Finding], system: System) -> str:
    """Whom it concerns and what it is, the first one's number against its limit."""
    first = rows[0]
    subjects = plain(", ".join(dict.fromkeys(row.subject for row in rows)))
    words = f"{subjects}: {CATALOGUE[first.rule].title}"
    if first.value is None or not first.limit or first.unit == "1":
        return words
    found, limit = (show(value, first.unit, system) for value in (first.value, first.limit))
    return f"{words} {found} ({_against(first)} {limit})"


def _against(finding: Finding) -> str:
    """What the number is held against: a caution keeps the limit that would be a fail."""
    rule = CATALOGUE[finding.rule]
    softer = finding.severity == "caution" and "fail" in rule.severities
    return "recommended" if softer and rule.against == "limit" else rule.against


def _boxes(result: Result, system: System) -> str:
    modules = result.fit.modules
    fitting = sum(module.verdict == "fits" for module in modules)
    least = min(
        ((met, module) for module in modules if (met := tightest(module))),
        key=lambda row: row[0].margin,
        default=None,
    )
    words = f"{fitting} of {len(modules)} fit"
    if least is None:
        return words
    met, module = least
    return f"{words}; tightest: {plain(module.name)}, {gap_words(met, system)}"


def _lengths(result: Result, system: System) -> list[str]:
    """Cut lengths by hose to buy, each with its number."""
    if not result.order.cuts:
        return _row("Cut to", "no hose is routed")
    by_hose: dict[str, list[str]] = {}
    for cut in result.order.cuts:
        length = show(cut.cut_length, "way", system)
        by_hose.setdefault(cut.hose, []).append(f"{hose_number(result, cut.line)}: {length}")
    lines = []
    for at, (hose, cuts) in enumerate(by_hose.items()):
        what = "Cut to" if result.order_hoses.safe else "Not yet cut"
        lines += _row("" if at else what, f"{plain(hose)}  {'   '.join(cuts)}")
    lost = [hose for hose in result.routes.hoses if isinstance(hose, Unrouted)]
    if lost:
        numbers = ", ".join(f"{hose_number(result, hose.line)} {hose.line}" for hose in lost)
        lines += _row("", f"no route: {plain(numbers)}")
    return lines


def _pump(result: Result, system: System) -> list[str]:
    """Suction vacuum and NPSH of the feed pump against their limits, in their worst states."""
    rows = [row for row in result.hydraulics.governing if row.shown_as in ("vacuum", "head")]
    if not rows:
        return _row("Pump", why_no_suction(result)) if result.scenario.kit.feed_pump else []
    lines: list[str] = []
    for row in rows:
        limit = "" if row.limit is None else f" (limit {show(row.limit, row.shown_as, system)})"
        found = show(row.worst, row.shown_as, system)
        lines += _row("" if lines else "Pump", f"{row.said.text(system)} {found}{limit}")
    return lines


def _flips(result: Result, system: System) -> list[str]:
    """What was assumed and could turn the verdict."""
    rows = [row for row in result.assumptions if row.can_flip]
    if not rows:
        return []
    shown = [
        plain(f"{row.said.text(system)}: {row.taken.text(system)}") for row in rows[:MOST_FLIPS]
    ]
    if left := len(rows) - len(shown):
        shown.append(f"{left} more in the report")
    return _row("Could flip it", "; ".join(shown))


def _where(files: Sequence[Path]) -> list[str]:
    return [*(_row("Report", str(files[0])) if files else []), *_row("Safety", SAFETY)]


def _row(lead: str, words: str) -> list[str]:
    """A name in the first column and what is said of it in the second."""
    if len(lead) >= _LEAD:
        lead = f"{lead} "
    return _hung(f"{lead:<{_LEAD}}", words)


def _hung(lead: str, words: str) -> list[str]:
    return textwrap.wrap(
        words,
        WIDTH,
        initial_indent=lead,
        subsequent_indent=" " * min(len(lead), _LEAD),
        break_long_words=False,
        break_on_hyphens=False,
    )
