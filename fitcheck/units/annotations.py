"""The unit of every number as a type."""

from __future__ import annotations

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

#: The reference pressure for a valve's flow.
BAR: Pascal = 1e5

#: Unit system shown to people.
System = Literal["metric", "imperial"]
