"""Findings on how hoses are held: spans out of reach, clips without a place, high points."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from fitcheck.model.finding import Finding, Remedy
from fitcheck.model.found.routes import HoseRoute, Span
from fitcheck.routing.lay.along import BARELY
from fitcheck.routing.lay.line import Routed
from fitcheck.routing.told.clips import Clipping
from fitcheck.routing.world.traps import high_point
from fitcheck.units import Metre, show

COMMON = "common practice, no source"
#: Lengths that differ by less count as the same.
SAME_LENGTH: Metre = 0.001


def support_findings(
    outcomes: Sequence[object],
    hoses: Sequence[object],
    clippings: Mapping[str, Clipping],
) -> Iterator[Finding]:
    """What there is to say of the spans, the clips and the high points of the routed hoses."""
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
    """A caution where a hose along structure hangs free for longer than asked."""
    job, longest = routed.job, _longest(hose)
    if job.way != "along structure" or longest is None or longest.length <= job.span + BARELY:
        return
    yield Finding(
        severity="caution",
        rule="unsupported-span",
        subject=hose.line,
        said=f"The {hose.line} hose is led along structure but hangs free for "
        f"{show(longest.length, 'length')}, out of reach ({show(job.reach, 'length')}) of any "
        f"surface; {show(job.span, 'length')} was asked and no way was found that keeps it.",
        source=COMMON,
        value=longest.length,
        limit=job.span,
        unit="m",
        place=longest.place,
        remedy=Remedy(
            said="Add a board there (boat.boards), or allow a longer reach for its clips."
        ),
        bars=("order_hoses",),
    )


def _hanging(routed: Sequence[Routed], laid: Mapping[str, HoseRoute]) -> Iterator[Finding]:
    """One note for all shortest hoses that hang free for longer than usual; it bars the order."""
    far = []
    for one in routed:
        longest = _longest(laid[one.job.line.name])
        if one.job.way == "shortest" and longest and longest.length > one.job.span + BARELY:
            far.append((longest.length, one.job.line.name, longest))
    if not far:
        return
    far.sort(key=lambda row: (-row[0], row[1]))
    told = ", ".join(f"{name} {show(length, 'length')}" for length, name, _ in far)
    length, name, span = far[0]
    yield Finding(
        severity="note",
        rule="hanging-free",
        subject=name,
        said=f"Led the shortest way, out of a clip's reach of any surface: {told}. "
        'Route them with way = "along structure", or add boards to clip them to.',
        source=COMMON,
        value=length,
        limit=next(one.job.span for one in routed if one.job.line.name == name),
        unit="m",
        place=span.place,
        remedy=Remedy(
            said='Write way = "along structure" for them, or add a board (boat.boards).'
        ),
        bars=("order_hoses",),
    )


def _kept(routed: Sequence[Routed], laid: Mapping[str, HoseRoute]) -> Iterator[Finding]:
    """One note for all hoses along structure that keep the span asked."""
    rows = []
    for one in routed:
        longest = _longest(laid[one.job.line.name])
        free = longest.length if longest else 0.0
        if one.job.way == "along structure" and free <= one.job.span + BARELY:
            asked = show(one.job.span, "length")
            rows.append((one.job.line.name, f"{show(free, 'length')} of {asked} allowed"))
    if rows:
        told = ", ".join(f"{name} {words}" for name, words in rows)
        yield Finding(
            severity="note",
            rule="span-kept",
            subject=rows[0][0],
            said=f"Led along structure, nowhere free for longer than allowed: {told}.",
            source=COMMON,
        )


def _on_modules(laid: Mapping[str, HoseRoute]) -> Iterator[Finding]:
    """One note for all clips that would sit on a module: it is lifted out, and it may shake."""
    carry = {clip.to for hose in laid.values() for clip in hose.clips if clip.kind == "module"}
    if not carry:
        return
    rows = [
        (line, f"{count} of {len(hose.clips)} of {line}")
        for line, hose in laid.items()
        if (count := sum(clip.kind == "module" for clip in hose.clips))
    ]
    told = ", ".join(words for _, words in rows)
    yield Finding(
        severity="note",
        rule="clips-on-modules",
        subject=rows[0][0],
        said=f"Clips that would sit on {', '.join(sorted(carry))}: {told}. Take hull, bulkhead "
        "or joinery where a module is opened, lifted out or stands on soft mounts.",
        source=COMMON,
    )


def _between_planes(routed: Routed, clipping: Clipping) -> Iterator[Finding]:
    """A caution where a high-pressure hose changes the plane it bends in and cannot be clipped."""
    if not clipping.lacking:
        return
    name, count = routed.job.line.name, len(clipping.lacking)
    places = "a place" if count == 1 else f"{count} places"
    yield Finding(
        severity="caution",
        rule="clip-between-planes",
        subject=name,
        said=f"The high-pressure hose {name} goes from a bend in one plane into a bend in another "
        f"at {places} where no clip can sit: nothing is in reach there, or the straight between "
        "the bends is too short. Under pressure it would twist.",
        source="hydraulic hose practice: clamp at the change of plane",
        value=float(count),
        limit=0.0,
        unit="1",
        place=clipping.lacking[0],
        remedy=Remedy(said="Fit a bracket there, or turn a port so that it bends in one plane."),
    )


def _high_point(routed: Routed) -> Iterator[Finding]:
    """A note where a longer way was taken for the sake of a high point."""
    shorter, job = routed.shorter, routed.job
    if shorter is None:
        return
    high = high_point(shorter.curve, job.ups, job.hose.bore)
    left = high_point(routed.curve, job.ups, job.hose.bore).rise
    more = routed.curve.length - shorter.curve.length
    # Both were smoothed by themselves, so the way found second may even be a hair shorter.
    led = (
        "it is led another way, its length unchanged"
        if abs(more) < SAME_LENGTH
        else f"it is led {show(abs(more), 'length')} {'longer' if more > 0 else 'shorter'}"
    )
    rest = f"one of {show(left, 'length')} is left" if left else "this way has none"
    yield Finding(
        severity="note",
        rule="way-without-high-point",
        subject=job.line.name,
        said=f"The shortest way of the suction hose {job.line.name} has a high point of "
        f"{show(high.rise, 'length')} in which air would gather; {led}, and {rest}.",
        source=COMMON,
        value=more,
        limit=None,
        unit="m",
        place=high.place,
    )
