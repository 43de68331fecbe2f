"""Read a user's text with a unit as a number."""

from __future__ import annotations

import difflib
import re
from fractions import Fraction

from fitcheck.units.kinds import INCH, KINDS, ZEROS, Kind


class QuantityError(ValueError):
    """A text that is not a quantity: the problem, and what to write instead.

    choices : the same number with likely units, likeliest first
    """

    def __init__(self, text: str, remedy: str, choices: tuple[str, ...] = ()) -> None:
        self.text, self.remedy, self.choices = text, remedy, choices
        super().__init__(f"{text}; {remedy}")


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
    asked = KINDS[kind]
    plain = text.translate(_PLAIN).strip()
    both = _FEET_AND_INCHES.fullmatch(plain)
    if both:
        _of_kind("ft", kind, text)
        amount = _number(both["feet"], text) * 12 + _number(both["inches"], text)
        return _finite(_signed(both["sign"], amount) * INCH, text)
    one = _ONE.fullmatch(plain)
    if one is None:
        raise _not_a_number(text, plain, asked)
    amount = _signed(one["sign"], _number(one["number"], text))
    if not one["unit"]:
        choices = with_units(text, kind)
        raise QuantityError(f"'{text}' has no unit", choice_of(kind, choices), choices)
    symbol = _of_kind(re.sub(r"\s+", " ", one["unit"]), kind, text)
    value = (amount - ZEROS.get(symbol, 0)) * asked.units[symbol]
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
    """The symbol of that kind meant by `unit`; refuses units of other kinds by name."""
    asked = KINDS[kind]
    symbol = asked.symbol(unit)
    if symbol is not None:
        return symbol
    known = ", ".join(asked.suggest)
    for other in KINDS.values():
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


def with_units(text: str, kind: str) -> tuple[str, ...]:
    """The number of a text with each unit of a kind that it may have meant, likeliest first."""
    number = re.match(rf"[+-]?\s*{_NUMBER}", text.translate(_PLAIN).strip())
    if number is None:
        return ()
    if kind == "fraction" and abs(_number(number[0], text)) < 1:
        return (f"{float(100 * _number(number[0], text)):g} %",)
    return tuple(f"{number[0]} {unit}" for unit in KINDS[kind].suggest)


def choice_of(kind: str, choices: tuple[str, ...]) -> str:
    """What to write, with two of the choices."""
    shown = " or ".join(f'"{one}"' for one in choices[:2])
    return f"write {KINDS[kind].noun}, e.g. {shown}"


def example(kind: str) -> str:
    """An example of a quantity of that kind."""
    return f"12 {KINDS[kind].suggest[0]}"


def _not_a_number(text: str, plain: str, asked: Kind) -> QuantityError:
    example = f'"12 {asked.suggest[0]}"'
    if re.search(r"\d,\d", plain):
        point = re.sub(r"(\d),(?=\d)", r"\1.", plain)
        without = re.sub(r"(\d),(?=\d)", r"\1", plain)
        thousands = re.search(r"\b[1-9]\d{0,2}(,\d{3})+\b", plain)
        remedy = f'write "{point}"'
        if thousands:
            remedy += f' (decimal point) or "{without}", whichever is meant'
        return QuantityError(f"'{text}' has a comma in the number", remedy)
    if re.match(r"[+-]?(nan|inf)", plain, re.IGNORECASE):
        return QuantityError(f"'{text}' is not a finite number", f"write e.g. {example}")
    if not plain:
        return QuantityError("is empty", f"write {asked.noun}, e.g. {example}")
    return QuantityError(
        f"'{text}' is not a number and a unit", f"write {asked.noun}, e.g. {example}"
    )
