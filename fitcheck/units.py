"""The unit of every number, as a type; text with units in and out.

Inside fitcheck every number is SI (degrees Celsius is the one exception, in names that end in _C).
`parse` reads what a user writes, `show` prints for people, `write` prints what `parse` reads back.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Literal

Ratio = Annotated[float, "1"]
Metre = Annotated[float, "m"]
SquareMetre = Annotated[float, "m2"]
CubicMetre = Annotated[float, "m3"]
Radian = Annotated[float, "rad"]
Kilogram = Annotated[float, "kg"]
Second = Annotated[float, "s"]
Pascal = Annotated[float, "Pa"]
PascalSecond = Annotated[float, "Pa s"]
KilogramPerCubicMetre = Annotated[float, "kg/m3"]
MetrePerSecond = Annotated[float, "m/s"]
CubicMetrePerSecond = Annotated[float, "m3/s"]
Celsius = Annotated[float, "degC"]
PerSecond = Annotated[float, "1/s"]
Price = Annotated[float, "currency"]

#: A point or a vector of lengths in a metric frame.
Point = Annotated[tuple[float, float, float], "m"]
#: A unit vector.
Direction = Annotated[tuple[float, float, float], "1"]
#: A point as picked on the mesh, in the mesh's own axes and unit.
Picked = Annotated[tuple[float, float, float], "mesh unit"]

#: Units a mesh may be drawn in, in metres.
MESH_UNITS: dict[str, Metre] = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 0.3048}

#: The pressure at which a valve's flow is given.
BAR: Pascal = 1e5

#: Which units people are shown.
System = Literal["metric", "imperial"]


class QuantityError(ValueError):
    """A text that is not a quantity: what is wrong with it, and what to write instead."""

    def __init__(self, text: str, remedy: str) -> None:
        self.text, self.remedy = text, remedy
        super().__init__(f"{text}; {remedy}")


# --- what units there are ---------------------------------------------------------------------

# Exact by definition: inch, pound, US gallon (231 cubic inches), standard gravity, the density of
# mercury in its conventional column. Everything else follows.
_INCH = Fraction("0.0254")
_FOOT = 12 * _INCH
_POUND = Fraction("0.45359237")
_GALLON = 231 * _INCH**3
_GRAVITY = Fraction("9.80665")
_MERCURY = Fraction("13595.1") * _GRAVITY
_MILLI = Fraction(1, 1000)
_LITRE = _MILLI
_PERCENT = Fraction(1, 100)
_DEGREE = Fraction(math.pi) / 180


@dataclass(frozen=True, slots=True)
class _Kind:
    """One kind of quantity: its noun, the SI value of each unit, and units to suggest first."""

    noun: str
    units: dict[str, Fraction]
    suggest: tuple[str, ...]

    def symbol(self, text: str) -> str | None:
        """The unit meant by `text`, None for a stranger."""
        if text in self.units:
            return text
        # Megapascal and millipascal differ by case alone, so "mPa" is not read as "MPa".
        folded = {name.casefold(): name for name in self.units if name != "MPa"}
        return folded.get(text.casefold())


_LENGTHS = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Fraction(1)),
    "mm": _MILLI,
    "cm": _PERCENT,
    "um": _MILLI**2,
    **dict.fromkeys(("in", "inch", "inches", '"'), _INCH),
    **dict.fromkeys(("ft", "foot", "feet", "'"), _FOOT),
}
_PRESSURES = {
    "Pa": Fraction(1),
    "hPa": Fraction(100),
    "kPa": Fraction(1000),
    "MPa": Fraction(10**6),
    "mbar": Fraction(100),
    "bar": Fraction(10**5),
    "psi": _POUND * _GRAVITY / _INCH**2,
    "inHg": _MERCURY * _INCH,
    "mmHg": _MERCURY * _MILLI,
    "atm": Fraction(101325),
}
_VOLUMES = {
    "m3": Fraction(1),
    **dict.fromkeys(("L", "litre", "litres", "liter", "liters"), _LITRE),
    "mL": _LITRE * _MILLI,
    **dict.fromkeys(("gal", "US gal"), _GALLON),
}
_FLOWS = {
    "m3/s": Fraction(1),
    "m3/min": Fraction(1, 60),
    "m3/h": Fraction(1, 3600),
    "L/s": _LITRE,
    **dict.fromkeys(("L/min", "lpm"), _LITRE / 60),
    **dict.fromkeys(("L/h", "lph"), _LITRE / 3600),
    "L/d": _LITRE / 86400,
    **dict.fromkeys(("gal/min", "US gal/min", "gpm"), _GALLON / 60),
    **dict.fromkeys(("gal/h", "US gal/h", "gph"), _GALLON / 3600),
    **dict.fromkeys(("gal/d", "US gal/d", "gpd"), _GALLON / 86400),
}
_ANGLES = {
    "rad": Fraction(1),
    **dict.fromkeys(("deg", "degree", "degrees", "°"), _DEGREE),
}
_AREAS = {
    "m2": Fraction(1),
    "cm2": _PERCENT**2,
    "mm2": _MILLI**2,
    "in2": _INCH**2,
    "ft2": _FOOT**2,
}
_MASSES = {"kg": Fraction(1), "g": _MILLI, "lb": _POUND, "lbs": _POUND, "oz": _POUND / 16}
_TEMPERATURES = {
    **dict.fromkeys(("degC", "°C", "C"), Fraction(1)),
    **dict.fromkeys(("degF", "°F", "F"), Fraction(5, 9)),
    "K": Fraction(1),
}
_SPEEDS = {"m/s": Fraction(1), "ft/s": _FOOT}
_ROTATIONS = {"rpm": Fraction(1, 60), "1/min": Fraction(1, 60), "1/s": Fraction(1)}
_DENSITIES = {"kg/m3": Fraction(1), "lb/ft3": _POUND / _FOOT**3}
_ZEROS = {"degF": Fraction(32), "°F": Fraction(32), "F": Fraction(32), "K": Fraction("273.15")}

_KINDS = {
    "length": _Kind("a length", _LENGTHS, ("mm", "in", "m", "ft", "cm")),
    "head": _Kind("a head of water", _LENGTHS, ("m", "ft")),
    "pressure": _Kind("a pressure", _PRESSURES, ("bar", "psi", "kPa", "hPa", "inHg")),
    "flow": _Kind("a flow", _FLOWS, ("L/min", "gal/min", "L/h", "m3/h", "gal/h")),
    "volume": _Kind("a volume", _VOLUMES, ("L", "gal", "m3")),
    "angle": _Kind("an angle", _ANGLES, ("deg", "rad")),
    "area": _Kind("an area", _AREAS, ("cm2", "in2", "m2")),
    "mass": _Kind("a mass", _MASSES, ("kg", "lb", "g", "oz")),
    "temperature": _Kind("a temperature", _TEMPERATURES, ("degC", "degF")),
    "fraction": _Kind("a fraction", {"%": _PERCENT}, ("%",)),
    "mass fraction": _Kind(
        "a mass fraction", {"kg/kg": Fraction(1), "g/kg": _MILLI, "%": _PERCENT}, ("g/kg", "%")
    ),
    "speed": _Kind("a speed", _SPEEDS, ("m/s", "ft/s")),
    "rotation": _Kind("a speed of rotation", _ROTATIONS, ("rpm", "1/s")),
    "density": _Kind("a density", _DENSITIES, ("kg/m3", "lb/ft3")),
}

# --- reading ----------------------------------------------------------------------------------

_NUMBER = r"(?:\d+(?:\s+|-)\d+/\d+|\d+/\d+|(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)"
_FEET_AND_INCHES = re.compile(
    rf"(?P<sign>[+-]?)\s*(?P<feet>{_NUMBER})\s*(?:ft|foot|feet|')[\s-]*"
    rf"(?P<inches>{_NUMBER})\s*(?:in|inch|inches|\")",
    re.IGNORECASE,
)
_ONE = re.compile(rf"(?P<sign>[+-]?)\s*(?P<number>{_NUMBER})\s*(?P<unit>[^\d\s.,/-].*)?")
_PLAIN = str.maketrans(
    {
        "−": "-",
        "′": "'",
        "″": '"',
        "’": "'",
        "”": '"',
        "µ": "u",
        "μ": "u",
        "²": "2",
        "³": "3",
        "\xa0": " ",
    }
    | {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅜": " 3/8", "⅝": " 5/8", "⅛": " 1/8", "⅞": " 7/8"}
)


def parse(text: str, kind: str) -> float:
    """SI value of a quantity written with its unit ("1 1/2 in", "2.5 gal/min" US, "12 deg").

    kind : length, head, pressure, flow, volume, area, angle, mass, temperature [degC], mass
           fraction, fraction, speed, rotation or density.
    Raises QuantityError (a ValueError) that says what to write.
    """
    asked = _KINDS[kind]
    plain = text.translate(_PLAIN).strip()
    both = _FEET_AND_INCHES.fullmatch(plain)
    if both:
        _of_kind("ft", kind, text)
        amount = _number(both["feet"], text) * 12 + _number(both["inches"], text)
        return _finite(_signed(both["sign"], amount) * _INCH, text)
    one = _ONE.fullmatch(plain)
    if one is None:
        raise _not_a_number(text, plain, asked)
    amount = _signed(one["sign"], _number(one["number"], text))
    if not one["unit"]:
        first, *rest = (f'"{text.strip()} {unit}"' for unit in asked.suggest[:2])
        choice = " or ".join([first, *rest])
        raise QuantityError(f"'{text}' has no unit", f"write {asked.noun}, e.g. {choice}")
    symbol = _of_kind(re.sub(r"\s+", " ", one["unit"]), kind, text)
    value = (amount - _ZEROS.get(symbol, 0)) * asked.units[symbol]
    if kind == "temperature" and value < Fraction("-273.15"):
        raise QuantityError(f"'{text}' is below absolute zero", 'write e.g. "25 degC"')
    return _finite(value, text)


def _signed(sign: str, amount: Fraction) -> Fraction:
    return -amount if sign == "-" else amount


def _number(text: str, whole: str) -> Fraction:
    """A decimal, a fraction or a mixed number, exactly."""
    try:
        return sum((Fraction(part) for part in re.split(r"\s+|(?<=\d)-", text)), Fraction(0))
    except ZeroDivisionError:
        raise QuantityError(f"'{whole}' divides by zero", 'write e.g. "3/8 in"') from None


def _finite(value: Fraction, text: str) -> float:
    try:
        return float(value)
    except OverflowError:
        raise QuantityError(f"'{text}' is too large", "check the number") from None


def _of_kind(unit: str, kind: str, text: str) -> str:
    """The symbol of that kind meant by `unit`; refuses units of other kinds by their name."""
    asked = _KINDS[kind]
    symbol = asked.symbol(unit)
    if symbol is not None:
        return symbol
    known = ", ".join(asked.suggest)
    for other in _KINDS.values():
        if other.symbol(unit) is not None:
            of = other.noun.split(" ", 1)[1]
            raise QuantityError(
                f"'{text}': '{unit}' is a unit of {of}, not of {asked.noun.split(' ', 1)[1]}",
                f"write {asked.noun} in one of {known}",
            )
    near = difflib.get_close_matches(unit, asked.units, n=1, cutoff=0.6)
    hint = f"did you mean '{near[0]}'? " if near else ""
    raise QuantityError(
        f"'{text}': '{unit}' is not a unit known here",
        f"{hint}write {asked.noun} in one of {known}",
    )


def example(kind: str) -> str:
    """A quantity of that kind as one would write it."""
    return f"12 {_KINDS[kind].suggest[0]}"


def _not_a_number(text: str, plain: str, asked: _Kind) -> QuantityError:
    example = f'"12 {asked.suggest[0]}"'
    if re.search(r"\d,\d", plain):
        point = re.sub(r"(\d),(?=\d)", r"\1.", plain)
        without = re.sub(r"(\d),(?=\d)", r"\1", plain)
        return QuantityError(
            f"'{text}' has a comma in the number",
            f'write "{point}" (decimal point) or "{without}", whichever is meant',
        )
    if re.match(r"[+-]?(nan|inf)", plain, re.IGNORECASE):
        return QuantityError(f"'{text}' is not a finite number", f"write e.g. {example}")
    if not plain:
        return QuantityError("is empty", f"write {asked.noun}, e.g. {example}")
    return QuantityError(
        f"'{text}' is not a number and a unit", f"write {asked.noun}, e.g. {example}"
    )


# --- printing ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Style:
    """From this size on (SI): the unit, the digits that count and the decimals at most.

    No digits: always so many decimals; comma: between thousands.
    """

    above: float
    unit: str
    digits: int
    decimals: int
    comma: bool = False


_METRIC: dict[str, tuple[_Style, ...]] = {
    "length": (_Style(1.0, "m", 5, 2), _Style(0.0, "mm", 3, 4)),
    "run": (_Style(0.0, "m", 5, 2),),
    "way": (_Style(0.0, "m", 0, 2),),
    "gap": (_Style(0.0, "mm", 0, 0),),
    "sliver": (_Style(0.0, "mm", 0, 1),),
    "tape": (_Style(0.0, "m", 0, 3),),
    "mesh unit": (_Style(0.0, "mm", 5, 5),),
    "rough length": (_Style(0.0, "mm", 2, 4),),
    "head": (_Style(0.0, "m", 5, 2),),
    "pressure": (_Style(1000.0, "bar", 3, 3), _Style(0.0, "Pa", 3, 1)),
    "vacuum": (_Style(0.0, "bar", 3, 3),),
    "flow": (_Style(0.0, "L/min", 3, 3),),
    "small flow": (_Style(0.0, "L/h", 3, 1),),
    "volume": (_Style(0.0, "L", 3, 2),),
    "room": (_Style(0.0, "L", 0, 0, comma=True),),
    "nook": (_Style(0.0, "L", 0, 1),),
    "valve flow": (_Style(0.0, "m3/h", 3, 3),),
    "bore": (_Style(1.0, "m", 5, 2), _Style(0.0, "mm", 3, 4)),
    "angle": (_Style(0.0, "deg", 3, 1),),
    "heel": (_Style(0.0, "deg", 4, 3),),
    "trim": (_Style(0.0, "deg", 4, 3),),
    "sea temperature": (_Style(0.0, "°C", 4, 3),),
    "salinity": (_Style(0.0, "g/kg", 4, 3),),
    "tilt": (_Style(0.0, "deg", 0, 1),),
    "area": (_Style(1.0, "m2", 3, 2), _Style(0.0, "cm2", 3, 0)),
    "patch": (_Style(0.0, "cm2", 0, 0),),
    "mass": (_Style(0.0, "kg", 3, 2),),
    "temperature": (_Style(0.0, "°C", 3, 1),),
    "mass fraction": (_Style(0.0, "g/kg", 3, 1),),
    "fraction": (_Style(0.0, "%", 3, 1),),
    "share": (_Style(0.0, "%", 0, 0),),
    "spread": (_Style(0.0, "%", 0, 1),),
    "rough fraction": (_Style(0.0, "%", 2, 6),),
    "speed": (_Style(0.0, "m/s", 3, 2),),
    "rotation": (_Style(0.0, "rpm", 4, 0),),
    "density": (_Style(0.0, "kg/m3", 5, 1),),
}
_IMPERIAL: dict[str, tuple[_Style, ...]] = _METRIC | {
    "length": (_Style(36 * float(_INCH), "ft in", 0, 1), _Style(0.0, "in", 3, 5)),
    "run": (_Style(0.0, "ft in", 0, 1),),
    "way": (_Style(0.0, "ft in", 0, 1),),
    "bore": (_Style(0.0, "in", 3, 5),),
    "gap": (_Style(0.0, "in", 0, 2),),
    "sliver": (_Style(0.0, "in", 0, 3),),
    "tape": (_Style(0.0, "ft in", 0, 2),),
    "mesh unit": (_Style(0.0, "in", 5, 5),),
    "rough length": (_Style(0.0, "in", 2, 4),),
    "head": (_Style(0.0, "ft", 4, 1),),
    "pressure": (_Style(0.0, "psi", 3, 3),),
    "vacuum": (_Style(0.0, "inHg", 3, 2),),
    "flow": (_Style(0.0, "gal/min", 3, 3),),
    "small flow": (_Style(0.0, "gal/h", 3, 1),),
    "valve flow": (_Style(0.0, "gal/min", 3, 3),),
    "sea temperature": (_Style(0.0, "°F", 4, 2),),
    "volume": (_Style(0.0, "gal", 3, 2),),
    "room": (_Style(0.0, "gal", 0, 0, comma=True),),
    "nook": (_Style(0.0, "gal", 0, 2),),
    "area": (_Style(0.0, "in2", 3, 1),),
    "patch": (_Style(0.0, "in2", 0, 1),),
    "mass": (_Style(0.0, "lb", 3, 1),),
    "temperature": (_Style(0.0, "°F", 3, 1),),
    "speed": (_Style(0.0, "ft/s", 3, 2),),
    "density": (_Style(0.0, "lb/ft3", 4, 2),),
}
_KIND_OF_UNIT = {
    "m": "length",
    "Pa": "pressure",
    "m3/s": "flow",
    "m3": "volume",
    "m2": "area",
    "rad": "angle",
    "kg": "mass",
    "degC": "temperature",
    "m/s": "speed",
    "kg/m3": "density",
}
_PARSED_AS = {
    **dict.fromkeys(
        ("run", "way", "bore", "gap", "sliver", "tape", "mesh unit", "rough length"), "length"
    ),
    **dict.fromkeys(("share", "spread", "rough fraction"), "fraction"),
    **dict.fromkeys(("room", "nook"), "volume"),
    "vacuum": "pressure",
    **dict.fromkeys(("small flow", "valve flow"), "flow"),
    **dict.fromkeys(("tilt", "heel", "trim"), "angle"),
    "sea temperature": "temperature",
    "salinity": "mass fraction",
    "patch": "area",
}
#: Units by the sign people read; files spell them in ASCII.
_SIGNS = {
    "deg": "°",
    "m2": "m²",
    "cm2": "cm²",
    "in2": "in²",
    "m3/h": "m³/h",
    "kg/m3": "kg/m³",
    "lb/ft3": "lb/ft³",
    "gal": "US gal",
    "gal/min": "US gal/min",
    "gal/h": "US gal/h",
}
#: Which way an angle is, positive and negative.
_SIDES = {"heel": ("to starboard", "to port"), "trim": ("bow down", "bow up")}
#: Pure numbers: the digits that count and the decimals at most.
_FIGURES = {"1": (3, 3), "factor": (4, 9), "scale": (5, 9)}


@dataclass(frozen=True, slots=True)
class _Row:
    """Lengths with one unit: a frame for all, what joins them, figures and unit of each system."""

    frame: str
    joint: str
    metric: tuple[str, str]
    imperial: tuple[str, str]


#: How far off a fraction of an inch a bore may be that is sold by it.
_TRADE = 0.01
_ROWS = {
    "place": _Row("({})", ", ", (".2f", "m"), (".2f", "ft")),
    "exact place": _Row("({})", ", ", ("z.3f", "m"), ("z.3f", "ft")),
    "span": _Row("{}", " to ", (".2f", "m"), (".2f", "ft")),
    "size": _Row("{}", " x ", (".0f", "mm"), (".1f", "in")),
    "offsets": _Row("{}", ", ", ("+.0f", "mm"), ("+.2f", "in")),
}


def show(value: float, kind: str, system: System = "metric") -> str:
    """A quantity for people, with its unit: "19 mm", "2.44 m", "0.25 bar"; "6 ft 2 in", "60 psi".

    kind : as for `parse`, or "vacuum" (imperial: inHg), "small flow" (L/h), "run" (length of a
           hose, in metres or feet however short), "way" (the same, always to the centimetre),
           "gap" (whole millimetres however large), "bore" (imperial: fractions of an
           inch), "heel" and "trim" (with their side), "sea temperature", "salinity",
           "valve flow" (m³/h), "sliver" (tenths of them), "tape" (metres to
           the millimetre), "rough length", "room" (whole litres), "nook" (tenths of them), "tilt"
           (always tenths of a degree), "share" (whole percent), "spread" (tenths of it), "rough
           fraction", "patch" (whole square centimetres), or the SI unit itself as in
           `Finding.unit` ("m", "Pa", "m3/s", "rad", "kg", "degC"); "1", "factor" and "scale" print
           a pure number with three, four, five digits.
    """
    if math.isnan(value):
        return "unknown"
    if kind in _FIGURES:
        return _figure(value, *_FIGURES[kind])
    if kind in _SIDES:
        return f"{_shown(abs(value), kind, system)} {_SIDES[kind][value < 0]}"
    if kind == "bore" and system == "imperial" and (fraction := _inch_fraction(value)):
        return f"{fraction} in"
    return _shown(value, kind, system)


def _shown(value: float, kind: str, system: System) -> str:
    kind = _KIND_OF_UNIT.get(kind, kind)
    styles = (_METRIC if system == "metric" else _IMPERIAL)[kind]
    style = next((style for style in styles if abs(value) >= style.above), styles[-1])
    if style.unit == "ft in":
        return _feet_and_inches(value, style.decimals)
    amount = _in_unit(value, _PARSED_AS.get(kind, kind), style.unit)
    figure = (
        _figure(amount, style.digits, style.decimals)
        if style.digits
        else f"{amount:{',' * style.comma}.{style.decimals}f}"
    )
    unit = _SIGNS.get(style.unit, style.unit)
    return figure + unit if unit == "°" else f"{figure} {unit}"


def _inch_fraction(value: float) -> str:
    """A bore in sixteenths of an inch, in quarters from one inch on, "" if more than 1 % off."""
    inches = value / float(_INCH)
    parts = 16 if inches < 1 - _TRADE else 4
    whole, rest = divmod(round(inches * parts), parts)
    if abs((whole + rest / parts) / inches - 1) > _TRADE:
        return ""
    fraction = str(Fraction(rest, parts)) if rest else ""
    return f"{whole or ''} {fraction}".strip()


#: Signs that a terminal or a keyboard may lack, in ASCII.
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
    row = _ROWS[kind]
    form, unit = row.metric if system == "metric" else row.imperial
    figures = row.joint.join(f"{_in_unit(value, 'length', unit):{form}}" for value in values)
    return f"{row.frame.format(figures)} {unit}"


def write(value: float, kind: str, unit: str = "") -> str:
    """A quantity as `parse` reads it back, to ten digits, in `unit` or the SI unit of its kind."""
    unit = unit or next(iter(_KINDS[kind].units))
    return f"{_in_unit(value, kind, unit):.10g} {unit}"


def mesh_unit_name(unit: Metre) -> str:
    """A unit of `MESH_UNITS` by its name, rounded in the fourth digit or not; "" for others."""
    return next((name for name, one in MESH_UNITS.items() if abs(one / unit - 1.0) < 1e-3), "")


def _in_unit(value: float, kind: str, unit: str) -> float:
    return value / float(_KINDS[kind].units[unit]) + float(_ZEROS.get(unit, 0))


def _figure(value: float, digits: int, decimals: int) -> str:
    """A number in plain notation with so many digits that count, trailing zeros dropped."""
    if value == 0 or math.isinf(value):
        return f"{value:g}".replace("-0", "0")
    places = min(max(digits - 1 - math.floor(math.log10(abs(value))), 0), decimals)
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _feet_and_inches(value: float, decimals: int) -> str:
    inches = round(abs(value) / float(_INCH), decimals)
    sign = "-" if value < 0 else ""
    feet, rest = divmod(inches, 12)
    if not feet:
        return f"{sign}{_figure(rest, 3, decimals)} in"
    return f"{sign}{feet:.0f} ft {_figure(rest, 3, decimals)} in"
