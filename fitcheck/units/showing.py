"""Numbers as text with units: for people, and in a form that `parse` reads back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from fitcheck.units.annotations import MESH_UNITS, Metre, Ratio, System
from fitcheck.units.kinds import INCH, KINDS, ZEROS
from fitcheck.units.styles import (
    FIGURES,
    FILED,
    FILES,
    IMPERIAL,
    KIND_OF_UNIT,
    METRIC,
    PARSED_AS,
    ROWS,
    SIDES,
    SIGNS,
)

#: Tolerance for showing a bore as a fraction of an inch.
_TRADE = 0.01
#: Before a unit: metric in that unit, as a file has it.
_AS = "as "


def show(value: float, kind: str, system: System = "metric") -> str:
    """A quantity for people, with its unit: "19 mm", "2.44 m", "0.25 bar"; "6 ft 2 in", "60 psi".

    kind : as for `parse`, or "vacuum" (imperial: inHg), "small flow" (L/h), "run" (length of a
           hose, in metres or feet however short), "way" (the same, always to the centimetre),
           "gap" (whole millimetres however large), "bore" (imperial: fractions of an
           inch), "heel" and "trim" (with their side), "sea temperature", "salinity",
           "valve flow" (m³/h), "sliver" (tenths of them), "tape" (metres to
           the millimetre), "rough length", "room" (whole litres), "nook" (tenths of them), "tilt"
           (always tenths of a degree), "share" (whole percent), "spread" (tenths of it), "rough
           fraction", "patch" (whole square centimetres), "file length" and "file size" (in quotes,
           as for `in_file`), "as bar" (metric in bar), or the SI unit itself as in `Finding.unit`
           ("m", "Pa", "m3/s", "rad", "kg", "degC"); "1", "factor" and "scale" print
           a pure number with three, four, five digits.
    """
    if math.isnan(value):
        return "unknown"
    if kind in FILES:
        return f'"{in_file(value, FILES[kind], system)}"'
    if kind.startswith(_AS):
        return _as_written(value, kind.removeprefix(_AS), system)
    if kind in FIGURES:
        return _figure(value, *FIGURES[kind])
    if kind in SIDES:
        return f"{_shown(abs(value), kind, system)} {SIDES[kind][value < 0]}"
    if kind == "bore" and (named := show_trade(value, system)):
        return named
    return _shown(value, kind, system)


def _as_written(value: float, unit: str, system: System) -> str:
    kind = next(name for name, one in KINDS.items() if unit in one.units)
    return write(value, kind, unit) if system == "metric" else _shown(value, kind, system)


def show_fixed(value: float, kind: str, unit: str, decimals: int) -> str:
    """A quantity in this unit with so many decimals, trailing zeros kept, as in a column.

    unit : one of the kind's, or "ft in" for feet and inches with so many decimals of an inch
    """
    if math.isnan(value):
        return "unknown"
    if unit == "ft in":
        return _feet_and_inches(value, decimals, trim=False)
    return _with_unit(f"{_in_unit(value, kind, unit):z,.{decimals}f}", unit)


def show_trade(bore: Metre, system: System) -> str:
    """A bore by the fraction of an inch it is sold by, "" for metric and where there is none."""
    fraction = "" if system == "metric" else _inch_fraction(bore)
    return f"{fraction} in" if fraction else ""


def _shown(value: float, kind: str, system: System) -> str:
    kind = KIND_OF_UNIT.get(kind, kind)
    styles = (METRIC if system == "metric" else IMPERIAL)[kind]
    style = next((style for style in styles if abs(value) >= style.above), styles[-1])
    if style.unit == "ft in":
        return _feet_and_inches(value, style.decimals, trim=style.digits > 0)
    amount = _in_unit(value, PARSED_AS.get(kind, kind), style.unit)
    figure = (
        _figure(amount, style.digits, style.decimals)
        if style.digits
        else f"{amount:{',' * style.comma}.{style.decimals}f}"
    )
    return _with_unit(figure, style.unit)


def _with_unit(figure: str, unit: str) -> str:
    sign = SIGNS.get(unit, unit)
    return figure + sign if sign == "°" else f"{figure} {sign}"


def _inch_fraction(value: float) -> str:
    """A bore in sixteenths of an inch, in quarters from one inch on, "" if more than 1 % off."""
    inches = value / float(INCH)
    parts = 16 if inches < 1 - _TRADE else 4
    whole, rest = divmod(round(inches * parts), parts)
    if abs((whole + rest / parts) / inches - 1) > _TRADE:
        return ""
    fraction = str(Fraction(rest, parts)) if rest else ""
    return f"{whole or ''} {fraction}".strip()


#: Signs that a terminal or a keyboard may lack, with their ASCII spelling.
ASCII = {
    "±": "+-",
    "°C": "degC",
    "°F": "degF",
    "°": " deg",
    "²": "2",
    "³": "3",
    "µ": "u",
    "–": "-",
    "≤": "<=",
    "≥": ">=",
}


def ascii_spelling(text: str) -> str:
    """The same with the signs of `ASCII` spelled out."""
    for sign, spelled in ASCII.items():
        text = text.replace(sign, spelled)
    return text


def show_row(values: Sequence[float], kind: str, system: System = "metric") -> str:
    """Lengths with one unit: "(0.52, -0.10, 0.31) m", "120 x 80 x 60 mm", "+3, -2 mm".

    kind : place, exact place (to the millimetre), span, size or offsets
    """
    row = ROWS[kind]
    form, unit = row.metric if system == "metric" else row.imperial
    figures = row.joint.join(f"{_in_unit(value, 'length', unit):{form}}" for value in values)
    return f"{row.frame.format(figures)} {unit}"


def write(value: float, kind: str, unit: str = "") -> str:
    """A quantity in a form that `parse` reads back, to ten digits, in `unit` or the SI unit of its
    kind.
    """
    unit = unit or next(iter(KINDS[kind].units))
    return f"{_in_unit(value, kind, unit):.10g} {unit}"


def in_file(value: float, kind: str, system: System) -> str:
    """A quantity as a file takes it, to ten digits.

    kind : length (in metres), size (in millimetres), pressure, flow, angle
    """
    return write(value, PARSED_AS.get(kind, kind), FILED[kind][system == "imperial"])


def mesh_unit_name(unit: Metre, within: Ratio = 1e-3) -> str:
    """Name of a unit of `MESH_UNITS`, also if rounded in the fourth digit; "" for others."""
    return next((name for name, one in MESH_UNITS.items() if abs(one / unit - 1.0) < within), "")


def _in_unit(value: float, kind: str, unit: str) -> float:
    return value / float(KINDS[kind].units[unit]) + float(ZEROS.get(unit, 0))


def _figure(value: float, digits: int, decimals: int) -> str:
    """A number in plain notation with so many significant digits, without trailing zeros."""
    if value == 0 or math.isinf(value):
        return f"{value:g}".replace("-0", "0")
    places = min(max(digits - 1 - math.floor(math.log10(abs(value))), 0), decimals)
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _feet_and_inches(value: float, decimals: int, *, trim: bool) -> str:
    """trim : without trailing zeros."""
    inches = round(abs(value) / float(INCH), decimals)
    sign = "-" if value < 0 and inches else ""
    feet, rest = divmod(inches, 12)
    figure = _figure(rest, 3, decimals) if trim else f"{rest:.{decimals}f}"
    return f"{sign}{feet:.0f} ft {figure} in" if feet else f"{sign}{figure} in"
