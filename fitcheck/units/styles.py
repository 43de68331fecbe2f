"""How each kind of quantity is shown: unit and digits, metric and imperial."""

from __future__ import annotations

from dataclasses import dataclass

from fitcheck.units.kinds import INCH


@dataclass(frozen=True, slots=True)
class Style:
    """From this size on (SI): the unit, significant digits and maximum decimals.

    No digits: a fixed number of decimals; comma: thousands separator.
    """

    above: float
    unit: str
    digits: int
    decimals: int
    comma: bool = False


METRIC: dict[str, tuple[Style, ...]] = {
    "length": (Style(1.0, "m", 5, 2), Style(0.0, "mm", 3, 4)),
    "run": (Style(0.0, "m", 5, 2),),
    "way": (Style(0.0, "m", 0, 2),),
    "gap": (Style(0.0, "mm", 0, 0),),
    "sliver": (Style(0.0, "mm", 0, 1),),
    "tape": (Style(0.0, "m", 0, 3),),
    "mesh unit": (Style(0.0, "mm", 5, 5),),
    "rough length": (Style(0.0, "mm", 2, 4),),
    "head": (Style(0.0, "m", 5, 2),),
    "pressure": (Style(1000.0, "bar", 3, 3), Style(0.0, "Pa", 3, 1)),
    "vacuum": (Style(0.0, "bar", 3, 3),),
    "flow": (Style(0.0, "L/min", 3, 3),),
    "small flow": (Style(0.0, "L/h", 3, 1),),
    "rough flow": (Style(0.0, "L/min", 2, 1),),
    "volume": (Style(0.0, "L", 3, 2),),
    "room": (Style(0.0, "L", 0, 0, comma=True),),
    "nook": (Style(0.0, "L", 0, 1),),
    "valve flow": (Style(0.0, "m3/h", 3, 3),),
    "bore": (Style(1.0, "m", 5, 2), Style(0.0, "mm", 3, 4)),
    "angle": (Style(0.0, "deg", 3, 1),),
    "heel": (Style(0.0, "deg", 4, 3),),
    "trim": (Style(0.0, "deg", 4, 3),),
    "sea temperature": (Style(0.0, "°C", 4, 3),),
    "salinity": (Style(0.0, "g/kg", 4, 3),),
    "tilt": (Style(0.0, "deg", 0, 1),),
    "area": (Style(1.0, "m2", 3, 2), Style(0.0, "cm2", 3, 0)),
    "patch": (Style(0.0, "cm2", 0, 0),),
    "mass": (Style(0.0, "kg", 3, 2),),
    "temperature": (Style(0.0, "°C", 3, 1),),
    "mass fraction": (Style(0.0, "g/kg", 3, 1),),
    "fraction": (Style(0.0, "%", 3, 1),),
    "share": (Style(0.0, "%", 0, 0),),
    "spread": (Style(0.0, "%", 0, 1),),
    "rough fraction": (Style(0.0, "%", 2, 6),),
    "speed": (Style(0.0, "m/s", 3, 2),),
    "rotation": (Style(0.0, "rpm", 4, 0),),
    "density": (Style(0.0, "kg/m3", 5, 1),),
    "viscosity": (Style(0.0, "mPa s", 3, 3),),
}
IMPERIAL: dict[str, tuple[Style, ...]] = METRIC | {
    "length": (Style(36 * float(INCH), "ft in", 3, 1), Style(0.0, "in", 3, 5)),
    "run": (Style(0.0, "ft in", 3, 1),),
    "way": (Style(0.0, "ft in", 0, 1),),
    "bore": (Style(0.0, "in", 3, 5),),
    "gap": (Style(0.0, "in", 0, 2),),
    "sliver": (Style(0.0, "in", 0, 3),),
    "tape": (Style(0.0, "ft in", 0, 2),),
    "mesh unit": (Style(0.0, "in", 5, 5),),
    "rough length": (Style(0.0, "in", 2, 4),),
    "head": (Style(0.0, "ft", 4, 1),),
    "pressure": (Style(0.0, "psi", 3, 3),),
    "vacuum": (Style(0.0, "inHg", 3, 2),),
    "flow": (Style(0.0, "gal/min", 3, 3),),
    "small flow": (Style(0.0, "gal/h", 3, 1),),
    "rough flow": (Style(0.0, "gal/min", 2, 1),),
    "valve flow": (Style(0.0, "gal/min", 3, 3),),
    "sea temperature": (Style(0.0, "°F", 4, 2),),
    "volume": (Style(0.0, "gal", 3, 2),),
    "room": (Style(0.0, "gal", 0, 0, comma=True),),
    "nook": (Style(0.0, "gal", 0, 2),),
    "area": (Style(0.0, "in2", 3, 1),),
    "patch": (Style(0.0, "in2", 0, 1),),
    "mass": (Style(0.0, "lb", 3, 1),),
    "temperature": (Style(0.0, "°F", 3, 1),),
    "speed": (Style(0.0, "ft/s", 3, 2),),
    "density": (Style(0.0, "lb/ft3", 4, 2),),
    "viscosity": (Style(0.0, "lb/(ft s)", 3, 6),),
}
KIND_OF_UNIT = {
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
    "Pa s": "viscosity",
}
PARSED_AS = {
    **dict.fromkeys(
        ("run", "way", "bore", "gap", "sliver", "tape", "mesh unit", "rough length"), "length"
    ),
    **dict.fromkeys(("share", "spread", "rough fraction"), "fraction"),
    **dict.fromkeys(("room", "nook"), "volume"),
    "vacuum": "pressure",
    **dict.fromkeys(("small flow", "rough flow", "valve flow"), "flow"),
    **dict.fromkeys(("tilt", "heel", "trim"), "angle"),
    "sea temperature": "temperature",
    "salinity": "mass fraction",
    "patch": "area",
    "size": "length",
}
#: Units by their sign for people; files spell them in ASCII.
SIGNS = {
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
#: Units of what is to be written in a file, metric and imperial, by kind.
FILED = {
    "length": ("m", "in"),
    "size": ("mm", "in"),
    "pressure": ("Pa", "psi"),
    "flow": ("m3/h", "gal/min"),
    "angle": ("deg", "deg"),
}
#: Kinds of `show` that are written so, in quotes.
FILES = {"file length": "length", "file size": "size"}
#: Names of an angle's positive and negative side.
SIDES = {"heel": ("to starboard", "to port"), "trim": ("bow down", "bow up")}
#: Pure numbers: significant digits and maximum decimals.
FIGURES = {"1": (3, 3), "factor": (4, 9), "scale": (5, 9)}


@dataclass(frozen=True, slots=True)
class Row:
    """Lengths with one unit: a common frame, separator, digits and unit of each system."""

    frame: str
    joint: str
    metric: tuple[str, str]
    imperial: tuple[str, str]


ROWS = {
    "place": Row("({})", ", ", (".2f", "m"), (".2f", "ft")),
    "exact place": Row("({})", ", ", ("z.3f", "m"), ("z.3f", "ft")),
    "span": Row("{}", " to ", (".2f", "m"), (".2f", "ft")),
    "size": Row("{}", " x ", (".0f", "mm"), (".1f", "in")),
    "offsets": Row("{}", ", ", ("+.0f", "mm"), ("+.2f", "in")),
}
