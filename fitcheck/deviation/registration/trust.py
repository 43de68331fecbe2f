"""Evidence against a registration, as findings; a small residual alone proves nothing."""

from __future__ import annotations

import numpy as np

from fitcheck.deviation.registration.flips import Flip
from fitcheck.deviation.registration.refine import Refined
from fitcheck.findings.said import Said, quantity, say
from fitcheck.model.finding import Finding, Remedy, Severity
from fitcheck.model.found.deviation import Registration
from fitcheck.units import Metre, Ratio

PRACTICE = "common practice, no source"
#: Share of the other mesh that must meet this one: below these values it is unusable, and
#: doubtful.
LEAST_MET, FEW_MET = 0.30, 0.50
#: Surfaces with more scatter than this are not the same surfaces.
WORST_SCATTER: Metre = 0.030
#: A flip this much better is the right orientation; one nearly as good cannot be distinguished.
BETTER, AS_GOOD = 0.03, 0.05
#: Scale: the difference that is always accepted, and the number of standard deviations allowed
#: between found and declared.
SAME_SCALE: Ratio = 0.002
DEVIATIONS = 3.0


def near(noise: Metre) -> Metre:
    """Distance within which another surface counts as close to this one [m]."""
    return max(0.03, 4.0 * noise)


def on_registration(found: Registration, worth: Metre, *, settled: bool) -> tuple[Finding, ...]:
    """Everything except the other orientations."""
    said = [] if settled else [_unsettled()]
    said += _on_overlap(found)
    said += _on_scatter(found)
    said += _on_free(found)
    said += _on_pairs(found, worth)
    said += _on_scale(found)
    return tuple(said)


def on_flips(lies: Ratio, flips: tuple[Flip, ...]) -> tuple[Finding, ...]:
    """Findings on the other orientations."""
    best = max(flips, key=lambda flip: flip.share)
    if best.share <= lies - AS_GOOD:
        return ()
    better = best.share > lies + BETTER
    text = say(
        "way-round.better" if better else "way-round.as-good",
        turn=best.said,
        turned=quantity(best.share, "share"),
        lies=quantity(lies, "share"),
    )
    severity: Severity = "fail" if better else "caution"
    return (_said(severity, "way-round", text, say("way-round.remedy"), best.share, lies),)


def _unsettled() -> Finding:
    return _said("fail", "settling", say("settling.moving"), say("settling.remedy"))


def _on_overlap(found: Registration) -> list[Finding]:
    share = max(found.covered, found.covers)
    if share >= FEW_MET:
        return []
    there, here = quantity(found.covered, "share"), quantity(found.covers, "share")
    text = say("overlap.little", there=there, here=here)
    severity: Severity = "fail" if share < LEAST_MET else "caution"
    limit = LEAST_MET if share < LEAST_MET else FEW_MET
    return [_said(severity, "overlap", text, say("overlap.remedy"), share, limit)]


def _on_scatter(found: Registration) -> list[Finding]:
    if found.noise <= WORST_SCATTER:
        return []
    text = say("scatter.wide", scatter=quantity(found.noise, "gap"))
    remedy = say("scatter.remedy")
    return [_said("fail", "scatter", text, remedy, found.noise, WORST_SCATTER, "m")]


def _on_free(found: Registration) -> list[Finding]:
    rows = []
    for motion in found.free:
        held = quantity(motion.held, "spread")
        text = say("free-motion.free", motion=motion.said, held=held)
        remedy = say("free-motion.remedy")
        rows.append(_said("fail", "free-motion", text, remedy, motion.held, 0.02))
    return rows


def _on_pairs(found: Registration, worth: Metre) -> list[Finding]:
    """Pairs that the aligned surfaces contradict."""
    own = found.uncertainty(np.array([pair.place for pair in found.pairs])) / 2.0
    allowed = DEVIATIONS * np.hypot(np.sqrt(3.0) * worth, own)
    rows = list(zip(found.pairs, allowed, strict=True))
    far = [(pair, most) for pair, most in rows if pair.off > most]
    if not far:
        return []
    worst, most = max(far, key=lambda row: float(row[0].off))
    named = [say("pair.off", pair=pair.name, off=quantity(pair.off, "gap")) for pair, _ in far]
    if len(far) * 2 >= len(rows):
        text, remedy = say("slid-away.off", pairs=named), say("slid-away.remedy")
        return [_said("fail", "slid-away", text, remedy, worst.off, most, "m")]
    text, remedy = say("stray-pair.off", pairs=named), say("stray-pair.remedy")
    return [_said("caution", "stray-pair", text, remedy, worst.off, most, "m")]


def _on_scale(found: Registration) -> list[Finding]:
    """A solved scale compared with the declared one."""
    if found.scale_kept or found.declared_scale is None:
        return []
    off = found.similarity.scale / found.declared_scale - 1.0
    own = float(np.sqrt(found.covariance[6, 6])) / found.reach
    allowed = SAME_SCALE + DEVIATIONS * float(np.hypot(own, found.scale_uncertainty))
    if abs(off) <= allowed:
        return []
    trusted = quantity(found.scale_uncertainty, "spread")
    text = say("scale-disagreement.solved", other=_other(off), trusted=trusted)
    return [_of_scale("fail", text, abs(off), allowed)]


def on_kept_scale(found: Registration, loose: Refined) -> tuple[Finding, ...]:
    """The scale the surfaces would give, compared with the one that was kept."""
    off = loose.similarity.scale / found.similarity.scale - 1.0
    own = float(np.sqrt(loose.covariance[6, 6])) / loose.reach
    allowed = SAME_SCALE + DEVIATIONS * float(np.hypot(own, found.scale_uncertainty))
    if abs(off) <= allowed:
        return ()
    text = say(
        "scale-disagreement.kept",
        other=_other(off),
        loose=quantity(loose.noise, "sliver"),
        kept=quantity(found.noise, "sliver"),
    )
    severity: Severity = "fail" if loose.noise < 0.7 * found.noise else "caution"
    return (_of_scale(severity, text, abs(off), allowed),)


def _other(off: Ratio) -> Said:
    by = quantity(abs(off), "spread")
    return say("scale-disagreement.larger" if off > 0 else "scale-disagreement.smaller", by=by)


def _of_scale(severity: Severity, text: Said, off: Ratio, allowed: Ratio) -> Finding:
    remedy = say("scale-disagreement.remedy")
    return _said(severity, "scale-disagreement", text, remedy, off, allowed)


def _said(
    severity: Severity,
    rule: str,
    text: Said,
    remedy: Said,
    value: Ratio | None = None,
    limit: Ratio | None = None,
    unit: str = "1",
) -> Finding:
    return Finding(
        severity=severity,
        rule=rule,
        subject="registration",
        said=text,
        source=PRACTICE,
        value=value,
        limit=limit,
        unit=unit,
        remedy=Remedy(said=remedy),
    )
