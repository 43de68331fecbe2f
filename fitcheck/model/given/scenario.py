"""The user's input: boat, kit and layout, in SI, after all faults have been excluded.

Placements are in the boat frame (x forward, y to port, z up; origin on the centreline at the sea
surface below the inside point).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from fitcheck.model.given.boat import Boat
from fitcheck.model.given.kit import Hose, Kit, Line, Way
from fitcheck.model.placed import PlacedKit, PlacedModule
from fitcheck.units import (
    Metre,
    Point,
    Radian,
)

# --- layout -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Position of a module's base centre in the boat frame, and its rotation (fixed x, y, z)."""

    module: str
    at: Point
    rotate: tuple[Radian, Radian, Radian]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChoice:
    """What a layout says about one line: holes to pass in order, another hose, or "".

    A text in `holes` may name several separated by " or ": one of them is passed. `way` is None
    where the kit's line decides.
    """

    line: str
    holes: tuple[str, ...]
    hose: str
    way: Way | None = None

    @property
    def candidates(self) -> tuple[tuple[str, ...], ...]:
        """For every hole to pass, the names it may be."""
        return tuple(tuple(name.strip() for name in text.split(" or ")) for text in self.holes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The position of everything in one boat."""

    name: str
    placements: tuple[Placement, ...]
    choices: tuple[LineChoice, ...]
    pitch: Metre

    def placement(self, module: str) -> Placement:
        """The position of that module."""
        return next(place for place in self.placements if place.module == module)

    def choice(self, line: str) -> LineChoice:
        """What the layout says about that line (by default: no holes, the kit's hose)."""
        plain = LineChoice(line=line, holes=(), hose="")
        return next((choice for choice in self.choices if choice.line == line), plain)


# --- the whole --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """A file that was read."""

    path: str
    sha256: str


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """Boat, kit and layout, and which file each came from (for remedies).

    lines : line number of every key of the boat file, by its path in words
    """

    name: str
    about: str
    boat: Boat
    kit: Kit
    layout: Layout
    boat_file: str
    kit_file: str
    layout_file: str
    inputs: tuple[InputFile, ...]
    lines: Mapping[str, int] = field(default_factory=dict, compare=False, repr=False)

    @cached_property
    def placed(self) -> PlacedKit:
        """The kit at the positions of the layout, boat frame."""
        return PlacedKit(
            modules=tuple(
                PlacedModule(module=self.kit.module(row.module), at=row.at, rotate=row.rotate)
                for row in self.layout.placements
            )
        )

    def line(self, key: str) -> int:
        """Line number of a key of the boat file, or of the nearest enclosing table; 1
        if unknown.
        """
        while key not in self.lines and key:
            key = key[: max(key.rfind("."), key.rfind(","), 0)]
        return self.lines.get(key, 1)

    def hose_of(self, line: Line) -> Hose:
        """The hose a line uses: the layout's choice, else the kit's."""
        return self.kit.hose(self.layout.choice(line.name).hose or line.hose)

    def straight_of(self, line: Line) -> Metre:
        """Straight length kept at each end of a line."""
        return self.kit.allowances.straight if line.straight is None else line.straight
