"""The unit of every number as a type; reading and writing text with units.

Inside fitcheck every number is SI (degrees Celsius is the one exception, in names that end in _C).
`parse` reads what a user writes, `show` formats for people, `write` formats what `parse` reads
back.
"""

from fitcheck.units.annotations import (
    BAR,
    MESH_UNITS,
    Celsius,
    CubicMetre,
    CubicMetrePerSecond,
    Direction,
    Kilogram,
    KilogramPerCubicMetre,
    Metre,
    MetrePerSecond,
    Pascal,
    PascalSecond,
    PerSecond,
    Picked,
    Point,
    Price,
    Radian,
    Ratio,
    Second,
    SquareMetre,
    System,
)
from fitcheck.units.reading import (
    QuantityError,
    example,
    parse,
)
from fitcheck.units.showing import (
    ASCII,
    ascii_spelling,
    in_file,
    mesh_unit_name,
    show,
    show_fixed,
    show_row,
    show_trade,
    write,
)

__all__ = [
    "BAR",
    "MESH_UNITS",
    "Celsius",
    "CubicMetre",
    "CubicMetrePerSecond",
    "Direction",
    "Kilogram",
    "KilogramPerCubicMetre",
    "Metre",
    "MetrePerSecond",
    "Pascal",
    "PascalSecond",
    "PerSecond",
    "Picked",
    "Point",
    "Price",
    "Radian",
    "Ratio",
    "Second",
    "SquareMetre",
    "System",
    "QuantityError",
    "example",
    "parse",
    "ASCII",
    "ascii_spelling",
    "in_file",
    "mesh_unit_name",
    "show",
    "show_fixed",
    "show_row",
    "show_trade",
    "write",
]
