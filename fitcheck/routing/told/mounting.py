"""Findings on the mounting tolerance within which the ordered lengths reach."""

from __future__ import annotations

import math
from collections.abc import Iterable

from fitcheck.findings.said import Said, length, quantity, say
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.routes import HoseRoute, Routes, Unrouted
from fitcheck.routing.lengths.wander import USUAL
from fitcheck.units import Metre

_SOURCE = "routes with the modules moved along and across their axes; kit.allowances.mounting"


def wander_findings(hoses: Iterable[HoseRoute | Unrouted], asked: Metre = USUAL) -> list[Finding]:
    """How accurately the modules must be mounted for the ordered lengths to reach, in one finding.

    asked : required mounting tolerance [m]; a length that does not allow it bars the order
    """
    known = [hose for hose in hoses if isinstance(hose, HoseRoute) and hose.wander is not None]
    if not known:
        return []
    tightest = min(known, key=lambda hose: (hose.wander, hose.line))
    least = tightest.wander or 0.0
    short = sorted(
        (hose for hose in known if (hose.wander or 0.0) < asked - 1e-9),
        key=lambda hose: (hose.wander or 0.0, hose.line),
    )
    usual, said, remedy = length(asked), say("mounting.kept", usual=length(asked)), None
    if short:
        said = say("mounting.short", usual=usual, hoses=[_play(hose) for hose in short])
        longer = [_longer(hose) for hose in short]
        remedy = Remedy(said=say("mounting.remedy", hoses=longer, least=length(least)))
    return [
        Finding(
            severity="caution" if short else "note",
            rule="mounting",
            subject=tightest.line,
            said=said,
            source=_SOURCE,
            value=least,
            limit=asked,
            unit="m",
            remedy=remedy,
            bars=("order_hoses",) if short else (),
        )
    ]


def play_unknown(routes: Routes) -> tuple[Finding, ...]:
    """Bar the order until the mounting tolerance has been calculated.

    routes : of a run without mounting tolerance
    """
    unknown = [hose.line for hose in routes.hoses if isinstance(hose, HoseRoute)]
    if not unknown:
        return ()
    return (
        Finding(
            severity="caution",
            rule="mounting",
            subject=unknown[0],
            said=say("mounting.unknown"),
            source=_SOURCE,
            remedy=Remedy(said=say("mounting.look")),
            bars=("order_hoses",),
        ),
    )


def _play(hose: HoseRoute) -> Said:
    if not hose.wander:
        return say("mounting.no-play", line=hose.line)
    return say("mounting.play", line=hose.line, within=length(hose.wander))


def _longer(hose: HoseRoute) -> Said:
    if math.isinf(hose.mounting_spare):
        return say("mounting.no-length", line=hose.line)
    whole = hose.length if hose.assembly is None else hose.assembly.length
    spare = length(hose.mounting_spare)
    return say("mounting.longer", line=hose.line, spare=spare, whole=quantity(whole, "run"))
