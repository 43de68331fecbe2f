"""The unit of every number, as a type; text with units in and out.

Inside fitcheck every number is SI (degrees Celsius is the one exception, in names that end in _C).
"""

from __future__ import annotations

from typing import Annotated

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
Price = Annotated[float, "currency"]

#: A point or a vector of lengths in a metric frame.
Point = Annotated[tuple[float, float, float], "m"]
#: A unit vector.
Direction = Annotated[tuple[float, float, float], "1"]
#: A point as picked on the mesh, in the mesh's own axes and unit.
Picked = Annotated[tuple[float, float, float], "mesh unit"]
