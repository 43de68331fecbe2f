"""The kinds of value a scenario file holds, as pydantic fields that read text with units.

Each field turns what the user wrote into SI and refuses the rest with a sentence of our own.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, InstanceOf
from pydantic_core import PydanticCustomError

from fitcheck import units
from fitcheck.model.boat import Spot
from fitcheck.model.kit import PortRef
from fitcheck.scenario.words import either
from fitcheck.units import Direction, Picked, Ratio

#: Marks what a starter scenario leaves to the user.
FILL_IN = "FILL IN"

_PICKED = re.compile(r"picked\s+(.*)", re.DOTALL)
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_BOAT_WORDS: dict[str, Direction] = {
    "forward": (1.0, 0.0, 0.0),
    "aft": (-1.0, 0.0, 0.0),
    "port": (0.0, 1.0, 0.0),
    "starboard": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
}
_MESH_AXES: dict[str, Direction] = {
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
}
#: Units a mesh may be drawn in, in metres.
MESH_UNITS = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 0.3048}


def refusal(text: str, remedy: str) -> PydanticCustomError:
    """An error that carries our own sentence and what to write instead."""
    return PydanticCustomError("refused", "{text}", {"text": text, "remedy": remedy})


# --- quantities -------------------------------------------------------------------------------


def _reader(
    kind: str, *, above: Ratio | None = None, least: Ratio | None = None, most: Ratio | None = None
) -> Callable[[Any], float]:
    """A function that reads a quantity of one kind, within limits given in SI."""

    def read(written: Any) -> float:
        if not isinstance(written, str):
            raise _not_text(written, kind)
        try:
            value = units.parse(written, kind)
        except units.QuantityError as error:
            raise refusal(error.text, error.remedy) from None
        if above is not None and value <= above:
            raise refusal(f"'{written}' is not above {units.show(above, kind)}", "write more")
        if least is not None and value < least:
            raise refusal(f"'{written}' is below {units.show(least, kind)}", "write no less")
        if most is not None and value > most:
            raise refusal(f"'{written}' is above {units.show(most, kind)}", "write no more")
        return value

    return read


def _not_text(written: Any, kind: str) -> PydanticCustomError:
    if isinstance(written, bool) or not isinstance(written, int | float):
        example = units.example(kind)
        return refusal("is not a quantity in quotes", f'write e.g. "{example}"')
    try:
        units.parse(f"{written}", kind)
    except units.QuantityError as error:
        return refusal(error.text.replace("'", ""), error.remedy)
    raise AssertionError("a bare number is never a quantity")


Length = Annotated[float, BeforeValidator(_reader("length"))]
SomeLength = Annotated[float, BeforeValidator(_reader("length", above=0.0))]
NoLessThanNoLength = Annotated[float, BeforeValidator(_reader("length", least=0.0))]
Head = Annotated[float, BeforeValidator(_reader("head", least=0.0))]
Pitch = Annotated[float, BeforeValidator(_reader("length", least=0.002, most=0.1))]
Mass = Annotated[float, BeforeValidator(_reader("mass", above=0.0))]
Pressure = Annotated[float, BeforeValidator(_reader("pressure", least=0.0))]
SomePressure = Annotated[float, BeforeValidator(_reader("pressure", above=0.0))]
Flow = Annotated[float, BeforeValidator(_reader("flow", least=0.0))]
SomeFlow = Annotated[float, BeforeValidator(_reader("flow", above=0.0))]
Angle = Annotated[float, BeforeValidator(_reader("angle"))]
Fraction = Annotated[float, BeforeValidator(_reader("fraction", least=0.0, most=1.0))]
Tolerance = Annotated[float, BeforeValidator(_reader("fraction", least=0.0, most=0.3))]
Recovery = Annotated[float, BeforeValidator(_reader("fraction", above=0.0, most=0.9))]
# Beyond these the boat lies on its side, or the formulas for seawater end.
Heel = Annotated[float, BeforeValidator(_reader("angle", least=-math.pi / 3, most=math.pi / 3))]
Temperature = Annotated[float, BeforeValidator(_reader("temperature", least=-2.0, most=45.0))]
Salinity = Annotated[float, BeforeValidator(_reader("mass fraction", least=0.0, most=0.05))]
Atmosphere = Annotated[float, BeforeValidator(_reader("pressure", least=85e3, most=110e3))]
Volume = Annotated[float, BeforeValidator(_reader("volume", least=0.0))]
Rotation = Annotated[float, BeforeValidator(_reader("rotation", above=0.0))]


def _three(written: Any) -> Any:
    if not isinstance(written, list):
        raise refusal("is not a list of three", 'write e.g. ["220 mm", "120 mm", "140 mm"]')
    if len(written) != 3:
        given = f"{len(written)} given" if written else "none given"
        raise refusal(f"three are wanted, {given}", "write three, with commas between them")
    return tuple(written)


def _pair(written: Any) -> Any:
    if not isinstance(written, list) or len(written) != 2:
        raise refusal("is not a pair of flow and head", 'write e.g. ["10 L/min", "13.5 m"]')
    return tuple(written)


ThreeLengths = Annotated[tuple[Length, Length, Length], BeforeValidator(_three)]
ThreeSizes = Annotated[tuple[SomeLength, SomeLength, SomeLength], BeforeValidator(_three)]
ThreeAngles = Annotated[tuple[Angle, Angle, Angle], BeforeValidator(_three)]
CurvePair = Annotated[tuple[Flow, Head], BeforeValidator(_pair)]

# --- points and directions --------------------------------------------------------------------


def picked(written: Any) -> Picked:
    """A point written "picked x y z"; the numbers are the mesh's own."""
    example = 'write e.g. "picked 1.204 0.330 0.910"'
    if not isinstance(written, str):
        raise refusal("is not a picked point in quotes", example)
    found = _PICKED.fullmatch(written.strip())
    if found is None:
        raise refusal(f"'{written}' is not a picked point", example)
    return _three_numbers(written, found[1], example)


def _three_numbers(written: str, text: str, example: str) -> Picked:
    words = [word.removesuffix(",") for word in text.split()]
    if any("," in word for word in words):
        raise refusal(f"'{written}' has a comma in a number", f"use decimal points: {example}")
    if len(words) != 3 or not all(_NUMBER.fullmatch(word) for word in words):
        raise refusal(f"'{written}' does not hold three plain numbers", example)
    x, y, z = (float(word) for word in words)
    if not all(math.isfinite(value) for value in (x, y, z)):
        raise refusal(f"'{written}' holds a number that is too large", example)
    return (x, y, z)


def unit_vector(start: Picked, end: Picked) -> Direction | None:
    """Unit vector from one point to another, None when they are the same."""
    x, y, z = (b - a for a, b in zip(start, end, strict=True))
    length = math.hypot(x, y, z)
    return (x / length, y / length, z / length) if length > 0 else None


def mesh_direction(written: Any) -> Direction:
    """A mesh axis, or the direction from one picked point to another."""
    example = 'write a mesh axis such as "+y", or { from = "picked ..", to = "picked .." }'
    if isinstance(written, str) and written.strip() in _MESH_AXES:
        return _MESH_AXES[written.strip()]
    if not isinstance(written, dict):
        raise refusal(f"{_quoted(written)} is not a direction in the mesh", example)
    if set(written) != {"from", "to"}:
        raise refusal("a direction by two points has the keys from and to", example)
    direction = unit_vector(picked(written["from"]), picked(written["to"]))
    if direction is None:
        raise refusal("both points are the same", "pick two points well apart")
    return direction


@dataclass(frozen=True, slots=True)
class Way:
    """A direction as written: a vector in boat or mesh axes, or towards another picked point."""

    frame: Literal["boat", "mesh"]
    vector: Direction
    towards: Picked | None = None


def _way(written: Any) -> Way:
    words = either(_BOAT_WORDS)
    example = f'write {words}, a mesh axis such as "+x", or "towards x y z" (a picked point)'
    text = written.strip() if isinstance(written, str) else ""
    if text in _BOAT_WORDS:
        return Way("boat", _BOAT_WORDS[text])
    if text in _MESH_AXES:
        return Way("mesh", _MESH_AXES[text])
    if text.startswith("towards "):
        point = text.removeprefix("towards ").strip().removeprefix("picked ")
        return Way("mesh", (0.0, 0.0, 0.0), _three_numbers(text, point, example))
    raise refusal(f"{_quoted(written)} is not a direction", example)


def _quoted(written: Any) -> str:
    return f"'{written}'" if isinstance(written, str) else "this"


def _spot(written: Any) -> Any:
    """A point picked on the mesh, or three lengths in the boat frame."""
    if isinstance(written, list):
        lengths = _three(written)
        read = _reader("length")
        x, y, z = (read(one) for one in lengths)
        return Spot(frame="boat", at=(x, y, z))
    return Spot(frame="mesh", at=picked(written))


AnySpot = Annotated[InstanceOf[Spot], BeforeValidator(_spot)]
PickedPoint = Annotated[tuple[float, float, float], BeforeValidator(picked)]
MeshDirection = Annotated[tuple[float, float, float], BeforeValidator(mesh_direction)]
AnyDirection = Annotated[InstanceOf[Way], BeforeValidator(_way)]

# --- words ------------------------------------------------------------------------------------


def _some_text(text: str) -> str:
    if not text.strip() or text.startswith(FILL_IN):
        raise refusal("is empty", "write a word or two")
    return text.strip()


def _port_ref(written: Any) -> PortRef:
    text = written if isinstance(written, str) else ""
    owner, _, port = text.partition(".")
    if not owner or not port or "." in port:
        raise refusal(
            f"{_quoted(written)} is not a port",
            'write module and port, e.g. "feed_pump.inlet", or "boat.seacock"',
        )
    return PortRef(owner=owner, port=port)


Text = Annotated[str, AfterValidator(_some_text)]
PortText = Annotated[InstanceOf[PortRef], BeforeValidator(_port_ref)]
