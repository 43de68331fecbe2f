"""Chart of the envelope for the page: suction length over lift, one curve per bore.

Curves differ by dash and by a label at their end as well as by colour (Okabe and Ito 2008).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

from fitcheck.model.found.hydraulics import Envelope, EnvelopeCurve
from fitcheck.report.margins import height_words
from fitcheck.units import System, show

_WIDTH, _HEIGHT = 640, 380
_LEFT, _RIGHT, _TOP, _BOTTOM = 62, 146, 18, 52
#: A curve must be within this share of the width from the left for text to fit to its right.
_ROOM = 0.55
_COLOURS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#e69f00", "#000000")
_DASHES = ("", "9 4", "3 3", "12 4 3 4", "6 2 2 2 2 2", "1 4", "16 4")
_FOOT = 0.3048


class _Axes:
    """Converts metres to positions in the drawing."""

    def __init__(self, envelope: Envelope, system: System) -> None:
        drawn = [
            value for curve in envelope.curves for value in curve.longest if value is not None
        ]
        own = envelope.own_length or 0.0
        heights = [*envelope.lifts, envelope.own_lift or 0.0]
        self.unit = 1.0 if system == "metric" else _FOOT
        self.name = "m" if system == "metric" else "ft"
        self.longest = min(max([1.0, *drawn, 1.2 * own]), max(15.0, 3.0 * own))
        self.low, self.high = min(heights), max(heights)

    def x(self, length: float) -> float:
        share = length / self.longest
        return _LEFT + share * (_WIDTH - _LEFT - _RIGHT)

    def y(self, lift: float) -> float:
        share = (lift - self.low) / (self.high - self.low)
        return _HEIGHT - _BOTTOM - share * (_HEIGHT - _TOP - _BOTTOM)


def envelope_svg(
    envelope: Envelope, system: System, shaded: str = "", *, alone: bool = False
) -> str:
    """An SVG with a title and a description for screen readers.

    shaded : the hose whose region is shaded and described in words
    alone : whether it is a file of its own rather than part of a page
    """
    axes = _Axes(envelope, system)
    file = 'xmlns="http://www.w3.org/2000/svg" font-family="sans-serif" ' if alone else ""
    own = next((curve for curve in envelope.curves if curve.hose == shaded), None)
    parts = [
        f'<svg class="chart" role="img" {file}viewBox="0 0 {_WIDTH} {_HEIGHT}" '
        'aria-labelledby="envelope-title envelope-said" font-size="12">',
        '<title id="envelope-title">Maximum suction length against lift, by bore</title>',
        f'<desc id="envelope-said">{escape(_said(envelope, system))}</desc>',
        f'<rect width="{_WIDTH}" height="{_HEIGHT}" fill="#fff"/>',
        f'<clipPath id="envelope-inside"><rect x="{_LEFT}" y="{_TOP}" '
        f'width="{_WIDTH - _LEFT - _RIGHT}" height="{_HEIGHT - _TOP - _BOTTOM}"/></clipPath>',
        *([] if own is None else _inside(_region(axes, envelope, own))),
        *_frame(axes),
        *_inside(
            part
            for n, curve in enumerate(envelope.curves)
            for part in _curve(axes, envelope, curve, n)
        ),
        *(
            part
            for n, curve in enumerate(envelope.curves)
            if _points(envelope.lifts, curve.longest)
            for part in _label(curve, n, system)
        ),
        *([] if own is None else _told(axes, envelope, own, system)),
        *_own(axes, envelope),
        "</svg>",
    ]
    return "\n".join(parts)


def _inside(parts: Iterator[str]) -> list[str]:
    """Parts clipped to the frame."""
    return ['<g clip-path="url(#envelope-inside)">', *parts, "</g>"]


def _said(envelope: Envelope, system: System) -> str:
    what = "To the left of a curve some bypass setting feeds the plant; to the right none does."
    if envelope.own_length is None or envelope.own_lift is None:
        return what
    return (
        f"{what} This layout has {show(envelope.own_length, 'run', system)} of suction hose, and "
        f"its pump is {height_words(envelope.own_lift, system)}."
    )


def _region(axes: _Axes, envelope: Envelope, curve: EnvelopeCurve) -> Iterator[str]:
    """The region to the left of one curve, shaded."""
    points = _points(envelope.lifts, curve.longest)
    if not points:
        return
    low, high = points[0][1], points[-1][1]
    corners = [(0.0, low), *points, (0.0, high)]
    path = " ".join(f"{axes.x(x):.1f},{axes.y(y):.1f}" for x, y in corners)
    yield f'<polygon points="{path}" fill="#eef3f7"/>'


def _told(axes: _Axes, envelope: Envelope, curve: EnvelopeCurve, system: System) -> Iterator[str]:
    """Text on both sides of the shaded region's edge."""
    points = _points(envelope.lifts, curve.longest)
    if not points:
        return
    bore = escape(show(curve.bore, "bore", system))
    foot, right = _HEIGHT - _BOTTOM, _WIDTH - _RIGHT
    room = [lift for length, lift in points if length <= _ROOM * axes.longest]
    clear = room[0] if room else points[-1][1]
    style = 'font-style="italic" stroke="#fff" stroke-width="3" paint-order="stroke"'
    yield f'<text x="{_LEFT + 10}" y="{foot - 26}" {style}>{bore} bore: some setting</text>'
    yield f'<text x="{_LEFT + 10}" y="{foot - 11}" {style}>of the bypass feeds the plant</text>'
    yield (
        f'<text x="{right - 8}" y="{axes.y(clear) + 4:.1f}" text-anchor="end" {style}>'
        f"{bore} bore: no setting does</text>"
    )


def _ticks(low: float, high: float, unit: float, about: int) -> list[float]:
    """Round numbers of a unit between two metre values."""
    step = (high - low) / unit / about
    size = next(s for s in (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0) if s >= step)
    first = int(low / unit / size) - 1
    marks = [(first + n) * size for n in range(200)]
    return [mark for mark in marks if low - 1e-9 <= mark * unit <= high + 1e-9]


def _frame(axes: _Axes) -> Iterator[str]:
    right, bottom = _WIDTH - _RIGHT, _HEIGHT - _BOTTOM
    for mark in _ticks(axes.low, axes.high, axes.unit, 8):
        y = axes.y(mark * axes.unit)
        yield f'<line x1="{_LEFT}" y1="{y:.1f}" x2="{right}" y2="{y:.1f}" stroke="#d5dadd"/>'
        yield f'<text x="{_LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{mark:g}</text>'
    for mark in _ticks(0.0, axes.longest, axes.unit, 8):
        x = axes.x(mark * axes.unit)
        yield f'<line x1="{x:.1f}" y1="{_TOP}" x2="{x:.1f}" y2="{bottom}" stroke="#d5dadd"/>'
        yield f'<text x="{x:.1f}" y="{bottom + 16}" text-anchor="middle">{mark:g}</text>'
    sea = axes.y(0.0)
    yield f'<line x1="{_LEFT}" y1="{sea:.1f}" x2="{right}" y2="{sea:.1f}" stroke="#1b2227"/>'
    yield f'<text x="{right - 4}" y="{sea - 4:.1f}" text-anchor="end">sea</text>'
    middle = (_LEFT + right) / 2
    yield (
        f'<text x="{middle}" y="{_HEIGHT - 12}" text-anchor="middle">'
        f"length of the suction side [{axes.name}]</text>"
    )
    yield (
        f'<text x="14" y="{(_TOP + bottom) / 2}" text-anchor="middle" '
        f'transform="rotate(-90 14 {(_TOP + bottom) / 2})">'
        f"pump above the sea [{axes.name}]</text>"
    )


def _curve(axes: _Axes, envelope: Envelope, curve: EnvelopeCurve, number: int) -> Iterator[str]:
    """The longest run and, thin and dotted, the one with the present bypass setting."""
    look = _look(number)
    for lengths, style in ((curve.longest, look), (curve.as_set, _as_set(look))):
        points = _points(envelope.lifts, lengths) if lengths else []
        if points:
            path = " ".join(f"{axes.x(x):.1f},{axes.y(y):.1f}" for x, y in points)
            yield f'<polyline points="{path}" fill="none" {style}/>'


def _look(number: int) -> str:
    colour, dash = _COLOURS[number % len(_COLOURS)], _DASHES[number % len(_DASHES)]
    return f'stroke="{colour}" stroke-width="2.5" stroke-dasharray="{dash}"'


def _as_set(look: str) -> str:
    return f'{look.split(" stroke-width")[0]} stroke-width="1" stroke-dasharray="1 3"'


def _label(curve: EnvelopeCurve, number: int, system: System) -> Iterator[str]:
    """Labels at the right, one below the other, each with a sample of its line."""
    y, x = _TOP + 16 + 22 * number, _WIDTH - _RIGHT + 8
    yield f'<line x1="{x}" y1="{y - 4}" x2="{x + 28}" y2="{y - 4}" {_look(number)}/>'
    yield f'<text x="{x + 33}" y="{y}">{escape(show(curve.bore, "bore", system))} bore</text>'


def _points(lifts: Sequence[float], longest: Sequence[float | None]) -> list[tuple[float, float]]:
    """Down to zero length: the curve is drawn to the lift at which nothing works any more."""
    known = [(x, y) for x, y in zip(longest, lifts, strict=True) if x is not None]
    if len(known) >= 2 and len(known) < len(lifts):
        (x1, y1), (x2, y2) = known[-2:]
        if x1 > x2:
            known.append((0.0, y2 + (y2 - y1) * x2 / (x1 - x2)))
    return known


def _own(axes: _Axes, envelope: Envelope) -> Iterator[str]:
    if envelope.own_length is None or envelope.own_lift is None:
        return
    x, y = axes.x(envelope.own_length), axes.y(envelope.own_lift)
    place = f'cx="{x:.1f}" cy="{y:.1f}"'
    yield f'<circle {place} r="6" fill="#fff" stroke="#1b2227" stroke-width="2.5"/>'
    yield f'<circle {place} r="2" fill="#1b2227"/>'
    yield (
        f'<text x="{x + 10:.1f}" y="{y - 8:.1f}" font-weight="bold" stroke="#fff" '
        'stroke-width="3" paint-order="stroke">this layout</text>'
    )
