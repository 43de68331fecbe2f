"""In words: how exactly the modules must stand for the ordered lengths to reach."""

from __future__ import annotations

import math
from collections.abc import Iterable

from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.routing.lengths.wander import STEP, USUAL
from fitcheck.units import Metre, show


def wander_findings(hoses: Iterable[HoseRoute | Unrouted], asked: Metre = USUAL) -> list[Finding]:
    """How exactly the modules must stand for the ordered lengths to reach, in one finding.

    asked : how far they may stand off [m]; a length that does not hold then bars the order
    """
    known = [hose for hose in hoses if isinstance(hose, HoseRoute) and hose.wander is not None]
    if not known:
        return []
    tightest = min(known, key=lambda hose: (hose.wander, hose.line))
    least = tightest.wander or 0.0
    usual = show(asked, "length")
    short = sorted(
        (hose for hose in known if (hose.wander or 0.0) < asked - 1e-9),
        key=lambda hose: (hose.wander or 0.0, hose.line),
    )
    text = f"Mount the modules within +-{usual} of their places: every ordered length holds."
    remedy = None
    if short:
        named = ", ".join(_play(hose) for hose in short)
        text = (
            f"With the modules within +-{usual} of their places not every ordered length holds. "
            f"These ask for more: {named}."
        )
        longer = ", ".join(_longer(hose) for hose in short)
        remedy = Remedy(
            text=f"Measure these once the modules stand, or route them another way: {longer}. "
            f"Or mount the modules within +-{show(least, 'length')} of their places and write "
            "that as kit.allowances.mounting."
        )
    return [
        Finding(
            severity="caution" if short else "note",
            rule="mounting",
            subject=tightest.line,
            text=text,
            source="ways sought with the modules moved along and across their axes, in steps of "
            f"{show(STEP, 'length')}; {usual}: kit.allowances.mounting",
            value=least,
            limit=asked,
            unit="m",
            remedy=remedy,
            bars=("order_hoses",) if short else (),
        )
    ]


def _play(hose: HoseRoute) -> str:
    return f"{hose.line} " + (
        f"+-{show(hose.wander, 'length')}" if hose.wander else "no play at all"
    )


def _longer(hose: HoseRoute) -> str:
    if math.isinf(hose.mounting_spare):
        return f"{hose.line}: no length was found that would hold"
    whole = hose.length if hose.assembly is None else hose.assembly.length
    spare = show(hose.mounting_spare, "length")
    return f"{hose.line}: {spare} more than {show(whole, 'run')} would hold"
