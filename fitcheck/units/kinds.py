"""The kinds of quantities, and the SI value of every unit of each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

# Exact by definition: inch, pound, US gallon (231 cubic inches), standard gravity, the density of
# mercury in its conventional column. Everything else follows.
INCH = Fraction("0.0254")
_FOOT = 12 * INCH
_POUND = Fraction("0.45359237")
_GALLON = 231 * INCH**3
_GRAVITY = Fraction("9.80665")
_MERCURY = Fraction("13595.1") * _GRAVITY
_MILLI = Fraction(1, 1000)
_LITRE = _MILLI
_PERCENT = Fraction(1, 100)
_DEGREE = Fraction(math.pi) / 180


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity: its noun, the SI value of each unit, and units to suggest first."""

    noun: str
    units: dict[str, Fraction]
    suggest: tuple[str, ...]

    def symbol(self, text: str) -> str | None:
        """The unit meant by `text`, None if unknown."""
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
    **dict.fromkeys(("in", "inch", "inches", '"'), INCH),
    **dict.fromkeys(("ft", "foot", "feet", "'"), _FOOT),
}
_PRESSURES = {
    "Pa": Fraction(1),
    "hPa": Fraction(100),
    "kPa": Fraction(1000),
    "MPa": Fraction(10**6),
    "mbar": Fraction(100),
    "bar": Fraction(10**5),
    "psi": _POUND * _GRAVITY / INCH**2,
    "inHg": _MERCURY * INCH,
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
    "in2": INCH**2,
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
_VISCOSITIES = {"Pa s": Fraction(1), "mPa s": _MILLI, "lb/(ft s)": _POUND / _FOOT}
_DENSITIES = {"kg/m3": Fraction(1), "lb/ft3": _POUND / _FOOT**3}
ZEROS = {"degF": Fraction(32), "°F": Fraction(32), "F": Fraction(32), "K": Fraction("273.15")}

KINDS = {
    "length": Kind("a length", _LENGTHS, ("mm", "in", "m", "ft", "cm")),
    "head": Kind("a head of water", _LENGTHS, ("m", "ft")),
    "pressure": Kind("a pressure", _PRESSURES, ("bar", "psi", "kPa", "hPa", "inHg")),
    "flow": Kind("a flow", _FLOWS, ("L/min", "gal/min", "L/h", "m3/h", "gal/h")),
    "volume": Kind("a volume", _VOLUMES, ("L", "gal", "m3")),
    "angle": Kind("an angle", _ANGLES, ("deg", "rad")),
    "area": Kind("an area", _AREAS, ("cm2", "in2", "m2")),
    "mass": Kind("a mass", _MASSES, ("kg", "lb", "g", "oz")),
    "temperature": Kind("a temperature", _TEMPERATURES, ("degC", "degF")),
    "fraction": Kind("a fraction", {"%": _PERCENT}, ("%",)),
    "mass fraction": Kind(
        "a mass fraction", {"kg/kg": Fraction(1), "g/kg": _MILLI, "%": _PERCENT}, ("g/kg", "%")
    ),
    "speed": Kind("a speed", _SPEEDS, ("m/s", "ft/s")),
    "rotation": Kind("a speed of rotation", _ROTATIONS, ("rpm", "1/s")),
    "viscosity": Kind("a viscosity", _VISCOSITIES, ("mPa s", "lb/(ft s)")),
    "density": Kind("a density", _DENSITIES, ("kg/m3", "lb/ft3")),
}
