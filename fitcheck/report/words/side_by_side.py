"""Several runs as one table: which rows differ, and which candidate is best in each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from fitcheck.findings.said import Said
from fitcheck.model.finding import Severity
from fitcheck.model.found.comparison import Comparison, HoseStanding, ModuleStanding, Ran
from fitcheck.model.found.look import verdict_words
from fitcheck.model.uncertainty import rounded
from fitcheck.report.tables import (
    HEAD,
    NOTHING,
    ROOM,
    RUN,
    SIZE,
    UNSURE,
    VACUUM,
    Measure,
    plain,
)
from fitcheck.report.words.words import service_words, standing_words, yes_or_not_yet
from fitcheck.units import Metre, System

#: Which is better: less of it, more of it, or neither.
Better = Literal["less", "more", ""]
#: What is added up over all hoses.
Total = Literal["length", "ordered"]
_TOTALS: tuple[Total, ...] = ("length", "ordered")
GROUPS = ("Verdict", "Fit", "Suction", "Hoses", "Order", "Space")
BEST = "best"


_WORSE: tuple[Severity | None, ...] = (None, "note", "caution", "fail")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One cell: text for people, its number (SI) or None, and its severity."""

    text: str
    value: float | None = None
    severity: Severity | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One row over all candidates that ran, None where one has no such thing.

    of : the hose that rows of one hose have in common
    """

    group: str
    label: str
    of: str = ""
    entries: tuple[Entry | None, ...]
    measure: Measure | None = None
    better: Better = ""

    @property
    def differs(self) -> bool:
        """Whether its cells read differently."""
        return len({entry.text if entry else NOTHING for entry in self.entries}) > 1

    @property
    def best(self) -> tuple[int, ...]:
        """Indices of the best entries, empty where none is better than another.

        Numbers are shown to three digits; closer values are a tie. The best is one of those with
        the lowest severity: a wide gap does not make up for a module that cannot be serviced.
        """
        worst = [_WORSE.index(entry.severity) if entry else len(_WORSE) for entry in self.entries]
        values = [
            _rank(entry, self.better) if severity == min(worst) else None
            for entry, severity in zip(self.entries, worst, strict=True)
        ]
        known = [value for value in values if value is not None]
        if not self.better or not self.differs or not known:
            return ()
        limit = min(known) + 1e-3 * max(1e-3, abs(min(known)))
        best = tuple(n for n, v in enumerate(values) if v is not None and v <= limit)
        rivals = sum(_rank(entry, self.better) is not None for entry in self.entries)
        return best if len(best) < rivals else ()

    @property
    def apart(self) -> float:
        """Spread of the numbers as a share of the largest, 1 for words that differ."""
        values = [entry.value for entry in self.entries if entry and entry.value is not None]
        if len(values) < len(self.entries):
            return 1.0
        most = max(abs(value) for value in values)
        return (max(values) - min(values)) / most if most > 0.0 else 0.0


def _rank(entry: Entry | None, better: Better) -> float | None:
    if entry is None or entry.value is None or math.isnan(entry.value):
        return None
    return -entry.value if better == "more" else entry.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A table of candidates: their letters and names, rows that differ, rows that are the same."""

    letters: tuple[str, ...]
    names: tuple[str, ...]
    differing: tuple[Line, ...]
    same: tuple[Line, ...]
    remarks: tuple[str, ...]


def letter(number: int) -> str:
    """A, B, .. Z, AA, AB: the letter of a candidate in the table."""
    first, last = divmod(number, 26)
    return (letter(first - 1) if first else "") + chr(ord("A") + last)


def side_by_side(comparison: Comparison, system: System) -> Side:
    """All rows of those that ran, differences first, largest spread first within a group."""
    ran = comparison.ran
    found = [run for _, run in ran]
    lines = _lines(found, system) if found else []
    differing = _widest_apart_first([line for line in lines if line.differs])
    return Side(
        letters=tuple(letter(n) for n, _ in ran),
        names=tuple(plain(comparison.candidates[n].name) for n, _ in ran),
        differing=tuple(differing),
        same=tuple(line for line in lines if not line.differs),
        remarks=_remarks(ran),
    )


def _widest_apart_first(lines: list[Line]) -> list[Line]:
    """Group by group, largest spread first within a group, with the rows of one hose together."""
    apart: dict[tuple[str, str], float] = {}
    for line in lines:
        key = (line.group, line.of or line.label)
        apart[key] = max(apart.get(key, 0.0), line.apart)

    def order(line: Line) -> tuple[int, float]:
        spread = 0.0 if line.group == "Verdict" else -apart[line.group, line.of or line.label]
        return GROUPS.index(line.group), spread

    return sorted(lines, key=order)


def _remarks(ran: tuple[tuple[int, Ran], ...]) -> tuple[str, ...]:
    if not ran:
        return ()
    first, own = ran[0]
    strange = [letter(n) for n, run in ran if run.kit != own.kit]
    if not strange:
        return ()
    verb = "has" if len(strange) == 1 else "have"
    told = f"{', '.join(strange)} {verb} a different kit from {letter(first)}: "
    return (told + "rows with the same name may not be comparable.",)


# --- rows -------------------------------------------------------------------------------------


def _lines(found: list[Ran], system: System) -> list[Line]:
    lines = [*_verdict_lines(found), *_fit_lines(found, system), *_suction_lines(found, system)]
    return [
        *lines,
        *_hose_lines(found, system),
        *_order_lines(found),
        *_space_lines(found, system),
    ]


def _verdict_lines(found: list[Ran]) -> list[Line]:
    verdict = tuple(_verdict(run) for run in found)
    cut = tuple(_hold(run.cut_joinery.safe) for run in found)
    order = tuple(_hold(run.order_hoses.safe) for run in found)
    fails = tuple(
        Entry(
            text=str(len(run.fails)), value=len(run.fails), severity="fail" if run.fails else None
        )
        for run in found
    )
    cautions = tuple(Entry(text=str(run.cautions), value=run.cautions) for run in found)
    rows = (
        ("Verdict", verdict),
        ("Safe to cut joinery", cut),
        ("Safe to order hoses", order),
        ("Findings that fail", fails),
        ("Cautions", cautions),
    )
    return [Line(group="Verdict", label=a, entries=b, better="less") for a, b in rows]


def _verdict(run: Ran) -> Entry:
    """The word of the first screen; not ready is worse than cautions and better than a fail."""
    worth = {"pass": 0.0, "caution": 1.0, "fail": 3.0}[run.verdict]
    severity: Severity | None = None if run.verdict == "pass" else run.verdict
    if not run.ready and severity != "fail":
        worth, severity = 2.0, "caution"
    words = verdict_words(run.verdict, ready=run.ready)
    return Entry(text=words, value=worth, severity=severity)


def _hold(safe: bool) -> Entry:
    return Entry(
        text=yes_or_not_yet(safe), value=0.0 if safe else 1.0, severity=None if safe else "fail"
    )


def _fit_lines(found: list[Ran], system: System) -> list[Line]:
    worst = tuple(_gap(run.worst, system, named=True) if run.worst else None for run in found)
    lines = [
        Line(group="Fit", label="Tightest gap", entries=worst, measure=SIZE, better="more"),
    ]
    names = dict.fromkeys(module.name for run in found for module in run.modules)
    for name in names:
        own = [next((m for m in run.modules if m.name == name), None) for run in found]
        entries = tuple(_gap(module, system, named=False) if module else None for module in own)
        lines.append(
            Line(group="Fit", label=plain(name), entries=entries, measure=SIZE, better="more")
        )
    return lines


def _gap(module: ModuleStanding, system: System, *, named: bool) -> Entry:
    words, severity = standing_words(module.verdict, served=not module.short)
    gap = "nothing near"
    if math.isfinite(module.gap):
        gap = SIZE.show(module.gap, system) + _unsure(module.uncertainty, system)
    to = f" to {plain(module.meets)}" if module.meets and math.isfinite(module.gap) else ""
    if named:
        return Entry(text=f"{gap}, {plain(module.name)}{to}", value=module.gap, severity=severity)
    short = "; ".join(service_words(room, system) for room in module.short)
    text = f"{words}: {gap}{to}" + (f"; {short}" if short else "")
    return Entry(text=text, value=module.gap, severity=severity)


def _suction_lines(found: list[Ran], system: System) -> list[Line]:
    clean = tuple(_vacuum(run.vacuum_clean, run.vacuum_clean_state, run, system) for run in found)
    fouled = tuple(
        _vacuum(run.vacuum_fouled, run.vacuum_fouled_state, run, system) for run in found
    )
    spare = tuple(_amount(run.npsh_spare, HEAD, system) for run in found)
    rows = (
        ("Suction vacuum, strainer clean", clean, VACUUM, "less"),
        ("Suction vacuum, strainer fouled", fouled, VACUUM, "less"),
        ("NPSH margin", spare, HEAD, "more"),
    )
    return [
        Line(group="Suction", label=label, entries=entries, measure=measure, better=better)  # type: ignore[arg-type]
        for label, entries, measure, better in rows
        if any(entries)
    ]


def _vacuum(value: float | None, state: Said, run: Ran, system: System) -> Entry | None:
    if value is None:
        return None
    limits = run.kit.limits
    severity: Severity | None = "fail" if value > limits.suction_vacuum_max else None
    if severity is None and value > limits.suction_vacuum_ok:
        severity = "caution"
    return Entry(
        text=f"{VACUUM.show(value, system)} ({plain(state.text(system))})",
        value=value,
        severity=severity,
    )


def _amount(value: float | None, measure: Measure, system: System) -> Entry | None:
    return None if value is None else Entry(text=measure.show(value, system), value=value)


def _hose_lines(found: list[Ran], system: System) -> list[Line]:
    lines = []
    for name in dict.fromkeys(hose.line for run in found for hose in run.hoses):
        own = [next((hose for hose in run.hoses if hose.line == name), None) for run in found]
        lengths = tuple(_length(hose, system) for hose in own)
        ordered = tuple(_ordered(hose, system) for hose in own)
        lines += [
            _hose_line(plain(name), "length", lengths),
            _hose_line(plain(name), "ordered", ordered),
        ]
    for what in _TOTALS:
        totals = tuple(_total(run, what, system) for run in found)
        lines.append(_hose_line("all hoses", what, totals))
    return lines


def _hose_line(of: str, what: str, entries: tuple[Entry | None, ...]) -> Line:
    return Line(
        group="Hoses",
        label=f"{of}, {what}",
        of=of,
        entries=entries,
        measure=RUN,
        better="less",
    )


def _unsure(uncertainty: Metre, system: System) -> str:
    return f" ± {UNSURE.show(rounded(uncertainty), system)}" if uncertainty > 0.0 else ""


def _length(hose: HoseStanding | None, system: System) -> Entry | None:
    if hose is None:
        return None
    if hose.length is None:
        return Entry(text="no route", severity="fail")
    text = RUN.show(hose.length, system) + _unsure(hose.uncertainty, system)
    return Entry(text=text, value=hose.length)


def _ordered(hose: HoseStanding | None, system: System) -> Entry | None:
    if hose is None or hose.ordered is None:
        return None
    return Entry(
        text=f"{RUN.show(hose.ordered, system)} of {plain(hose.hose)}", value=hose.ordered
    )


def _total(run: Ran, what: Total, system: System) -> Entry | None:
    own = [hose.length if what == "length" else hose.ordered for hose in run.hoses]
    lengths = [length for length in own if length is not None]
    if len(lengths) < len(own):
        return Entry(text=f"{len(own) - len(lengths)} without a route", severity="fail")
    return Entry(text=RUN.show(sum(lengths), system), value=sum(lengths)) if lengths else None


def _order_lines(found: list[Ran]) -> list[Line]:
    price = tuple(
        None if run.price is None else Entry(text=f"{run.price:.2f}", value=run.price)
        for run in found
    )
    if not any(price):
        return []
    return [Line(group="Order", label="Price of the order", entries=price, better="less")]


def _space_lines(found: list[Ran], system: System) -> list[Line]:
    free = tuple(_amount(run.free_volume, ROOM, system) for run in found)
    unseen = tuple(_amount(run.unseen_volume, ROOM, system) for run in found)
    names = {
        "Boat": [run.boat for run in found],
        "Layout": [run.layout for run in found],
        "Kit": [run.kit.name for run in found],
    }
    return [
        Line(group="Space", label="Free", entries=free, measure=ROOM),
        Line(group="Space", label="Unscanned", entries=unseen, measure=ROOM, better="less"),
        *(
            Line(group="Space", label=label, entries=tuple(Entry(text=plain(n)) for n in own))
            for label, own in names.items()
        ),
    ]
