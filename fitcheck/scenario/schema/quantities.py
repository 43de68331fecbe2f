"""The value types of a scenario file, as pydantic fields that read text with units.

Each field converts what the user wrote to SI and rejects the rest with a sentence of our own.
"""

from __future__ import annotations

import math
import re
from contextlib import suppress
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, GetCoreSchemaHandler, InstanceOf
from pydantic_core import CoreSchema, PydanticCustomError
from pydantic_core.core_schema import no_info_before_validator_function

from fitcheck import units
from fitcheck.model.given.boat import Spot
from fitcheck.model.given.kit import PortRef
from fitcheck.scenario.schema.words import either
from fitcheck.units import Direction, Picked

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


def refusal(text: str, remedy: str = "") -> PydanticCustomError:
    """An error with our own sentence and what to write instead (default: the key's example)."""
    return PydanticCustomError("refused", "{text}", {"text": text, "remedy": remedy})


# --- quantities -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Quantity:
    """The allowed values of a key: a kind of `units`, "" for a plain number, and its plausible
    range.

    least, most : as a user would write them; why : the reason, for the fault and the guide
    """

    kind: str
    least: str
    most: str
    why: str

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return no_info_before_validator_function(self.read, handler(source))

    def read(self, written: Any) -> Any:
        """The SI value of what was written, rejected outside the range."""
        value = written
        if self.kind:
            value = self._quantity(written)
        elif not isinstance(written, int | float) or not math.isfinite(written):
            return written  # the schema reports what it should be
        low, high = self._value(self.least), self._value(self.most)
        if not low <= value <= high:
            least, most = self._end(self.least), self._end(self.most)
            side, end = ("below", least) if value < low else ("above", most)
            shown = f"'{written}'" if self.kind else f"{written:g}"
            meant = self._plausible(units.with_units(written, self.kind)) if self.kind else ()
            remedy = f"write {least} to {most} ({self.why})"
            remedy = f'did you mean "{meant[0]}"? {remedy}' if meant else remedy
            raise refusal(f"{shown} is {side} {end}, which is not plausible", remedy)
        return value

    def _quantity(self, written: Any) -> float:
        """The SI value of text with a unit; for a number without, the fault names likely units."""
        bare = isinstance(written, int | float) and not isinstance(written, bool)
        if not bare and not isinstance(written, str):
            remedy = f'write e.g. "{units.example(self.kind)}"'
            raise refusal("is not a quantity in quotes", remedy)
        try:
            return units.parse(f"{written}", self.kind)
        except units.QuantityError as error:
            text = error.text.replace("'", "") if bare else error.text
            choices = self._plausible(error.choices) or error.choices
            remedy = units.choice_of(self.kind, choices) if choices else error.remedy
            raise refusal(text, remedy) from None

    def _plausible(self, choices: tuple[str, ...]) -> tuple[str, ...]:
        low, high = self._value(self.least), self._value(self.most)
        found = []
        for one in choices:
            with suppress(units.QuantityError):
                found += [one] if low <= self._value(one) <= high else []
        return tuple(found)

    def _end(self, text: str) -> str:
        """An end of the range as it is written here, or in the units asked for."""
        unit = text.partition(" ")[2]
        return units.amount(self._value(text), f"as {unit}") if self.kind else text

    def _value(self, text: str) -> float:
        return units.parse(text, self.kind) if self.kind else float(text)


def _three(written: Any) -> Any:
    if not isinstance(written, list):
        raise refusal("is not a list of three")
    if len(written) != 3:
        given = f"{len(written)} given" if written else "none given"
        raise refusal(f"three are wanted, {given}")
    return tuple(written)


def _pair(written: Any) -> Any:
    if not isinstance(written, list) or len(written) != 2:
        raise refusal("is not a pair of flow and head", 'write e.g. ["10 L/min", "13.5 m"]')
    return tuple(written)


three, pair = BeforeValidator(_three), BeforeValidator(_pair)

# --- points and directions --------------------------------------------------------------------


def picked(written: Any) -> Picked:
    """A point written "picked x y z"; the numbers are the mesh's own."""
    example = 'write e.g. "picked 1.204 0.330 0.910"'
    if not isinstance(written, str):
        raise refusal("is not a picked point in quotes", example)
    found = _PICKED.fullmatch(written.strip())
    if found is None:
        if len(words := written.split()) == 3 and all(map(_NUMBER.fullmatch, words)):
            example = f'write "picked {" ".join(words)}"'
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
        axis = written.strip(" +-").lower() if isinstance(written, str) else ""
        if axis in ("x", "y", "z"):
            example = f'write "+{axis}" or "-{axis}"'
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


#: A position in the boat frame, along each axis.
PLACE = Quantity("length", "-100 m", "100 m", "more than the length of a large yacht")


def _spot(written: Any) -> Any:
    """A point picked on the mesh, or three lengths in the boat frame."""
    if isinstance(written, list):
        lengths = _three(written)
        x, y, z = (PLACE.read(one) for one in lengths)
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
