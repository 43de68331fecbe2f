"""A module in space seen, though not beyond doubt: it fits if a hand there agrees."""

from __future__ import annotations

from dataclasses import replace

from fitcheck.fit.measured.judge import Judgement, judge
from fitcheck.fit.measured.measure import of_each_kind
from fitcheck.fit.measured.surroundings import Surroundings
from fitcheck.model.contact import Contact, worst
from fitcheck.model.placed import PlacedModule
from fitcheck.units import Metre


def judge_as_seen(
    strict: Judgement,
    standing: PlacedModule,
    others: tuple[PlacedModule, ...],
    seen: Surroundings | None,
    box_gap: Metre,
) -> Judgement:
    """The judgement that counts glimpsed space as air, with what it rests on; else the strict one.

    seen : the compartment in which glimpsed cells are free, None where there are none
    """
    before = _dark(strict)
    if seen is None or not before or strict.fit.verdict == "clash":
        return strict
    found = judge(standing, others, seen, box_gap)
    left = {_row(met) for met in _dark(found)}
    rests_on = tuple(replace(met, kind="glimpsed") for met in before if _row(met) not in left)
    if not rests_on:
        return strict
    fit = found.fit
    deciding = worst(rests_on)
    assert deciding is not None
    return replace(
        found,
        touch=deciding,
        fit=replace(
            fit,
            verdict="touch" if fit.verdict == "fits" else fit.verdict,
            contacts=of_each_kind([*fit.contacts, *rests_on]),
            decided_by=(*fit.decided_by, deciding),
        ),
    )


def _dark(judged: Judgement) -> list[Contact]:
    """What the module comes too close to that was not seen: around it, and before its faces."""
    met = [fault.met for fault in judged.faults]
    met += [row for room in (*judged.short, *judged.doubtful) for row in room.contacts[:1]]
    return [row for row in met if row.kind == "unseen"]


def _row(met: Contact) -> tuple[Metre, Metre]:
    return round(met.gap, 6), round(met.asked, 6)
