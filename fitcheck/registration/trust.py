"""What speaks against a registration, as findings; a small residual alone speaks for nothing."""

from __future__ import annotations

import numpy as np

from fitcheck.model.finding import Finding, Remedy, Severity
from fitcheck.model.found.deviation import Registration
from fitcheck.registration.flips import Flip
from fitcheck.registration.refine import Refined
from fitcheck.units import Metre, Ratio

PRACTICE = "common practice, no source"
#: Shares of the other mesh that must meet this one: below them worthless, and doubtful.
LEAST_MET, FEW_MET = 0.30, 0.50
#: Surfaces that scatter by more than this are not the same surfaces.
WORST_SCATTER: Metre = 0.030
#: A flip this much better is the right way round; one nearly as good cannot be told from it.
BETTER, AS_GOOD = 0.03, 0.05
#: Scale: what nobody doubts, and how many standard deviations may lie between found and declared.
SAME_SCALE: Ratio = 0.002
DEVIATIONS = 3.0
TURN_THE_PAIRS = "Look at the pairs: are port and starboard, fore and aft as they are named?"


def near(noise: Metre) -> Metre:
    """How near another surface counts as beside this one [m]."""
    return max(0.03, 4.0 * noise)


def on_registration(found: Registration, worth: Metre, *, settled: bool) -> tuple[Finding, ...]:
    """Everything but the other ways round."""
    said = [] if settled else [_unsettled()]
    said += _on_overlap(found)
    said += _on_scatter(found)
    said += _on_free(found)
    said += _on_pairs(found, worth)
    said += _on_scale(found)
    return tuple(said)


def on_flips(lies: Ratio, flips: tuple[Flip, ...]) -> tuple[Finding, ...]:
    """What another way round would give."""
    best = max(flips, key=lambda flip: flip.share)
    if best.share > lies + BETTER:
        text = (
            f"Turned {best.words} the other mesh lies better: {100.0 * best.share:.0f} % of it "
            f"meets this one, {100.0 * lies:.0f} % as the pairs lay it."
        )
        return (_said("fail", "way-round", text, TURN_THE_PAIRS, best.share, lies),)
    if best.share > lies - AS_GOOD:
        text = (
            f"Turned {best.words} the other mesh lies about as well ({100.0 * best.share:.0f} % "
            f"of it meets this one, {100.0 * lies:.0f} % as it lies): only the pairs tell which "
            "way round it is."
        )
        return (_said("caution", "way-round", text, TURN_THE_PAIRS, best.share, lies),)
    return ()


def _unsettled() -> Finding:
    text = "The two surfaces were still moving on one another when the search was ended."
    return _said("fail", "settling", text, "Pick the pairs with more care, or more of them.")


def _on_overlap(found: Registration) -> list[Finding]:
    share = max(found.covered, found.covers)
    if share >= FEW_MET:
        return []
    text = (
        f"Only {100.0 * found.covered:.0f} % of the other mesh has a surface of this one beside "
        f"it, and {100.0 * found.covers:.0f} % of this one a surface of the other."
    )
    severity: Severity = "fail" if share < LEAST_MET else "caution"
    limit = LEAST_MET if share < LEAST_MET else FEW_MET
    remedy = "Compare meshes that hold more of the same compartment, or crop this one with "
    return [_said(severity, "overlap", text, remedy + "boat.crop.", share, limit)]


def _on_scatter(found: Registration) -> list[Finding]:
    if found.noise <= WORST_SCATTER:
        return []
    text = (
        f"Where they should be the same the surfaces scatter by {1000.0 * found.noise:.0f} mm "
        "about one another."
    )
    remedy = "Look whether both meshes are of the same compartment, and at the pairs."
    return [_said("fail", "scatter", text, remedy, found.noise, WORST_SCATTER, "m")]


def _on_free(found: Registration) -> list[Finding]:
    rows = []
    for motion in found.free:
        text = (
            f"The surfaces do not stop the other mesh from {motion.words}: "
            f"{100.0 * motion.held:.1f} % of them stand in its way. There it lies as the pairs "
            "were picked, and what differs along that way is not seen."
        )
        remedy = "Let both meshes hold something that stops it: a bulkhead, a frame, an engine."
        rows.append(_said("fail", "free-motion", text, remedy, motion.held, 0.02))
    return rows


def _on_pairs(found: Registration, worth: Metre) -> list[Finding]:
    """Pairs that the surfaces, once they lie, do not bear out."""
    own = found.uncertainty(np.array([pair.place for pair in found.pairs])) / 2.0
    allowed = DEVIATIONS * np.hypot(np.sqrt(3.0) * worth, own)
    rows = list(zip(found.pairs, allowed, strict=True))
    far = [(pair, most) for pair, most in rows if pair.off > most]
    if not far:
        return []
    worst, most = max(far, key=lambda row: float(row[0].off))
    named = ", ".join(f"'{pair.name}' {1000.0 * pair.off:.0f} mm" for pair, _ in far)
    if len(far) * 2 >= len(rows):
        text = f"The surfaces slid away from the pairs they were laid by: {named} off."
        remedy = "Pick the pairs again; if they are right the compartments are not the same."
        return [_said("fail", "slid-away", text, remedy, worst.off, most, "m")]
    text = f"Once the surfaces lie on one another some pairs do not: {named} off."
    remedy = "Pick those pairs again, or see whether that place has moved."
    return [_said("caution", "stray-pair", text, remedy, worst.off, most, "m")]


def _on_scale(found: Registration) -> list[Finding]:
    """A scale that was solved against the one declared."""
    if found.scale_kept or found.declared_scale is None:
        return []
    off = found.similarity.scale / found.declared_scale - 1.0
    own = float(np.sqrt(found.covariance[6, 6])) / found.reach
    allowed = SAME_SCALE + DEVIATIONS * float(np.hypot(own, found.scale_uncertainty))
    if abs(off) <= allowed:
        return []
    text = (
        f"The other mesh fits best {100.0 * abs(off):.1f} % "
        f"{'larger' if off > 0 else 'smaller'} than its unit says; its scale is trusted to "
        f"{100.0 * found.scale_uncertainty:.1f} %."
    )
    remedy = "Prove the scale of both meshes with tape measures."
    return [_said("fail", "scale-disagreement", text, remedy, abs(off), allowed)]


def on_kept_scale(found: Registration, loose: Refined) -> tuple[Finding, ...]:
    """What the surfaces would make of a scale that was kept."""
    off = loose.similarity.scale / found.similarity.scale - 1.0
    own = float(np.sqrt(loose.covariance[6, 6])) / loose.reach
    allowed = SAME_SCALE + DEVIATIONS * float(np.hypot(own, found.scale_uncertainty))
    if abs(off) <= allowed:
        return ()
    text = (
        f"With its scale left free the other mesh lies {100.0 * abs(off):.1f} % "
        f"{'larger' if off > 0 else 'smaller'} and scatters by {1000.0 * loose.noise:.1f} mm "
        f"instead of {1000.0 * found.noise:.1f} mm: either its scale is not what it is stated to "
        "be, or the whole compartment is of another size."
    )
    severity: Severity = "fail" if loose.noise < 0.7 * found.noise else "caution"
    remedy = "Prove the scale of both meshes with tape measures."
    return (_said(severity, "scale-disagreement", text, remedy, abs(off), allowed),)


def _said(
    severity: Severity,
    rule: str,
    text: str,
    remedy: str,
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
