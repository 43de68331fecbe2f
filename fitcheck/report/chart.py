"""The envelope as a drawing in the page: suction length over lift, one curve for every bore.

Curves differ by dash and by a label at their end as well as by colour (Okabe and Ito 2008).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

from fitcheck.model.hydraulics import Envelope, EnvelopeCurve
from fitcheck.units import System, show

_WIDTH, _HEIGHT = 640, 380
_LEFT, _RIGHT, _TOP, _BOTTOM = 62, 118, 18, 52
_COLOURS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#e69f00", "#000000")
_DASHES = ("", "9 4", "3 3", "12 4 3 4", "6 2 2 2 2 2", "1 4", "16 4")
_FOOT = 0.3048


class _Axes:
    """Metres to places in the drawing."""

    def __init__(self, envelope: Envelope, system: System) -> None:
        drawn = [
            value for curve in envelope.curves for value in curve.longest if value is not None
        ]
        self.unit = 1.0 if system == "metric" else _FOOT
        self.name = "m" if system == "metric" else "ft"
        self.longest = max([*drawn, 1.2 * envelope.own_length])
        self.longest = min(self.longest, max(12.0, 3.0 * envelope.own_length))
        self.low = min(envelope.lifts[0], envelope.own_lift)
        self.high = max(envelope.lifts[-1], envelope.own_lift)

    def x(self, length: float) -> float:
        share = min(length, self.longest) / self.longest
        return _LEFT + share * (_WIDTH - _LEFT - _RIGHT)

    def y(self, lift: float) -> float:
        share = (lift - self.low) / (self.high - self.low)
        return _HEIGHT - _BOTTOM - share * (_HEIGHT - _TOP - _BOTTOM)


def envelope_svg(envelope: Envelope, system: System) -> str:
    """An inline SVG with a title and a description for those who do not see it."""
    axes = _Axes(envelope, system)
    parts = [
        f'<svg class="chart" role="img" viewBox="0 0 {_WIDTH} {_HEIGHT}" '
        'aria-labelledby="envelope-title envelope-said" font-size="12">',
        '<title id="envelope-title">Longest suction run over lift, by bore</title>',
        f'<desc id="envelope-said">{escape(_said(envelope, system))}</desc>',
        *_frame(axes),
        *(
            part
            for n, curve in enumerate(envelope.curves)
            for part in _curve(axes, envelope, curve, n, system)
        ),
        *_own(axes, envelope),
        "</svg>",
    ]
    return "\n".join(parts)


def _said(envelope: Envelope, system: System) -> str:
    here = (
        f"This layout has {show(envelope.own_length, 'run', system)} of suction hose and its pump "
        f"{show(envelope.own_lift, 'run', system)} above the sea."
    )
    return f"Left of a curve some bypass setting feeds the plant. {here}"


def _ticks(low: float, high: float, unit: float, about: int) -> list[float]:
    """Round numbers of a unit between two metres."""
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


def _curve(
    axes: _Axes, envelope: Envelope, curve: EnvelopeCurve, number: int, system: System
) -> Iterator[str]:
    colour, dash = _COLOURS[number % len(_COLOURS)], _DASHES[number % len(_DASHES)]
    points = _points(envelope.lifts, curve.longest)
    if not points:
        return
    path = " ".join(f"{axes.x(x):.1f},{axes.y(y):.1f}" for x, y in points)
    yield (
        f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="2.5" '
        f'stroke-dasharray="{dash}"/>'
    )
    # Labels stand at the right end, one below the other, with a piece of their line.
    y = _TOP + 16 + 22 * number
    x = _WIDTH - _RIGHT + 8
    yield (
        f'<line x1="{x}" y1="{y - 4}" x2="{x + 28}" y2="{y - 4}" stroke="{colour}" '
        f'stroke-width="2.5" stroke-dasharray="{dash}"/>'
    )
    yield f'<text x="{x + 33}" y="{y}">{escape(show(curve.bore, "length", system))} bore</text>'


def _points(lifts: Sequence[float], longest: Sequence[float | None]) -> list[tuple[float, float]]:
    """Down to no length: the curve is drawn to the lift at which nothing works any more."""
    known = [(x, y) for x, y in zip(longest, lifts, strict=True) if x is not None]
    if len(known) >= 2 and len(known) < len(lifts):
        (x1, y1), (x2, y2) = known[-2:]
        if x1 > x2:
            known.append((0.0, y2 + (y2 - y1) * x2 / (x1 - x2)))
    return known


def _own(axes: _Axes, envelope: Envelope) -> Iterator[str]:
    x, y = axes.x(envelope.own_length), axes.y(envelope.own_lift)
    place = f'cx="{x:.1f}" cy="{y:.1f}"'
    yield f'<circle {place} r="6" fill="#fff" stroke="#1b2227" stroke-width="2.5"/>'
    yield f'<circle {place} r="2" fill="#1b2227"/>'
    yield f'<text x="{x + 10:.1f}" y="{y - 8:.1f}" font-weight="bold">this layout</text>'
