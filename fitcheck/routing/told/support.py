"""Findings on the support of hoses: unsupported spans, missing clips, high points."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from fitcheck.findings.said import length, say
from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.routes import HoseRoute, Span
from fitcheck.routing.lay.along import BARELY
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.told.clips import Clipping
from fitcheck.routing.world.traps import high_point
from fitcheck.units import Metre

COMMON = "common practice, no source"
#: Lengths that differ by less than this count as equal.
SAME_LENGTH: Metre = 0.001


def support_findings(
    outcomes: Sequence[object],
    hoses: Sequence[object],
    clippings: Mapping[str, Clipping],
) -> Iterator[Finding]:
    """Findings on the spans, clips and high points of the routed hoses."""
    routed = [one for one in outcomes if isinstance(one, Routed)]
    laid = {hose.line: hose for hose in hoses if isinstance(hose, HoseRoute)}
    for one in routed:
        yield from _span(one, laid[one.job.line.name])
        yield from _between_planes(one, clippings[one.job.line.name])
        yield from _high_point(one)
    yield from _hanging(routed, laid)
    yield from _kept(routed, laid)
    yield from _on_modules(laid)


def _longest(hose: HoseRoute) -> Span | None:
    return max(hose.unsupported, key=lambda span: span.length, default=None)


def _span(routed: Routed, hose: HoseRoute) -> Iterator[Finding]:
    """A caution where a hose routed along structure exceeds its unsupported span."""
    job, longest = routed.job, _longest(hose)
    if job.way != "along structure" or longest is None or longest.length <= job.span + BARELY:
        return
    yield Finding(
        severity="caution",
        rule="unsupported-span",
        subject=hose.line,
        said=say(
            "unsupported-span.free",
            line=hose.line,
            free=length(longest.length),
            reach=length(job.reach),
            asked=length(job.span),
        ),
        source=COMMON,
        value=longest.length,
        limit=job.span,
        unit="m",
        place=longest.place,
        remedy=Remedy(said=say("unsupported-span.remedy")),
        bars=("order_hoses",),
    )


def _hanging(routed: Sequence[Routed], laid: Mapping[str, HoseRoute]) -> Iterator[Finding]:
    """One note for all shortest hoses with an unsupported span above the usual one; it bars the
    order.
    """
    far = []
    for one in routed:
        longest = _longest(laid[one.job.line.name])
        if one.job.way == "shortest" and longest and longest.length > one.job.span + BARELY:
            far.append((longest.length, one.job.line.name, longest))
    if not far:
        return
    far.sort(key=lambda row: (-row[0], row[1]))
    free = [say("hanging-free.line", line=name, free=length(span)) for span, name, _ in far]
    most, name, span = far[0]
    yield Finding(
        severity="note",
        rule="hanging-free",
        subject=name,
        said=say("hanging-free.free", hoses=free),
        source=COMMON,
        value=most,
        limit=next(one.job.span for one in routed if one.job.line.name == name),
        unit="m",
        place=span.place,
        remedy=Remedy(said=say("hanging-free.remedy")),
        bars=("order_hoses",),
    )


def _kept(routed: Sequence[Routed], laid: Mapping[str, HoseRoute]) -> Iterator[Finding]:
    """One note for all hoses routed along structure that keep the span."""
    lines, spans = [], []
    for one in routed:
        longest = _longest(laid[one.job.line.name])
        free = longest.length if longest else 0.0
        if one.job.way == "along structure" and free <= one.job.span + BARELY:
            line, asked = one.job.line.name, length(one.job.span)
            lines.append(line)
            spans.append(say("span-kept.line", line=line, free=length(free), asked=asked))
    if lines:
        yield Finding(
            severity="note",
            rule="span-kept",
            subject=lines[0],
            said=say("span-kept.kept", hoses=spans),
            source=COMMON,
        )


def _on_modules(laid: Mapping[str, HoseRoute]) -> Iterator[Finding]:
    """One note for all clips on a module, which may be lifted out and may vibrate."""
    carry = {clip.to for hose in laid.values() for clip in hose.clips if clip.kind == "module"}
    if not carry:
        return
    rows = [
        (line, say("clips-on-modules.line", there=there, clips=len(hose.clips), line=line))
        for line, hose in laid.items()
        if (there := sum(clip.kind == "module" for clip in hose.clips))
    ]
    told = [clips for _, clips in rows]
    yield Finding(
        severity="note",
        rule="clips-on-modules",
        subject=rows[0][0],
        said=say("clips-on-modules.clips", modules=sorted(carry), hoses=told),
        source=COMMON,
    )


def _between_planes(routed: Routed, clipping: Clipping) -> Iterator[Finding]:
    """A caution where a high-pressure hose changes its bending plane and cannot be
    clipped there.
    """
    if not clipping.lacking:
        return
    name, count = routed.job.line.name, len(clipping.lacking)
    places = say("clip-between-planes.place")
    if count > 1:
        places = say("clip-between-planes.places", places=count)
    yield Finding(
        severity="caution",
        rule="clip-between-planes",
        subject=name,
        said=say("clip-between-planes.lacking", line=name, places=places),
        source="hydraulic hose practice: clamp at the change of plane",
        value=float(count),
        limit=0.0,
        unit="1",
        place=clipping.lacking[0],
        remedy=Remedy(said=say("clip-between-planes.remedy")),
    )


def _high_point(routed: Routed) -> Iterator[Finding]:
    """A note where a longer route was taken to avoid a high point."""
    shorter, job = routed.shorter, routed.job
    if shorter is None:
        return
    high = high_point(shorter.curve, job.ups, job.hose.bore)
    left = high_point(routed.curve, job.ups, job.hose.bore).rise
    more = routed.curve.length - shorter.curve.length
    # Both were smoothed independently, so the second route may even be slightly shorter.
    led, by = say("way-without-high-point.same"), length(abs(more))
    if more >= SAME_LENGTH:
        led = say("way-without-high-point.longer", by=by)
    elif more <= -SAME_LENGTH:
        led = say("way-without-high-point.shorter", by=by)
    rest = say("way-without-high-point.none")
    if left:
        rest = say("way-without-high-point.left", rise=length(left))
    yield Finding(
        severity="note",
        rule="way-without-high-point",
        subject=job.line.name,
        said=say(
            "way-without-high-point.other-way",
            line=job.line.name,
            rise=length(high.rise),
            led=led,
            rest=rest,
        ),
        source=COMMON,
        value=more,
        limit=None,
        unit="m",
        place=high.place,
    )
