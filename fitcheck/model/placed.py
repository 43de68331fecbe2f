"""The kit at its layout's positions: boxes, service clearances and ports in the boat frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitcheck.geometry.box import Box, as_point, grown, placed_box, rotation
from fitcheck.model.found.space import PlacedPort
from fitcheck.model.given.kit import Module, PortRef
from fitcheck.units import Direction, Point, Radian

#: Where a hose meets a port, and the direction out of it.
Pose = tuple[Point, Direction]


@dataclass(frozen=True, kw_only=True)
class PlacedModule:
    """A module, the position of its base centre, its rotation, and the space it takes there."""

    module: Module
    at: Point
    rotate: tuple[Radian, Radian, Radian]

    @cached_property
    def turn(self) -> NDArray[np.float64]:
        """(3, 3) from the module frame to the boat frame: columns are the module's axes."""
        return rotation(self.rotate)

    @cached_property
    def box(self) -> Box:
        """The box it occupies."""
        return placed_box(self.module.size, self.at, self.rotate)

    @cached_property
    def services(self) -> tuple[Box, ...]:
        """The required service clearances, in the order of its list."""
        return tuple(grown(self.box, need.face, need.depth) for need in self.module.service)

    @cached_property
    def ports(self) -> dict[str, Pose]:
        """Its ports by their own names."""
        return {
            port.name: (
                as_point(np.array(self.at) + self.turn @ np.array(port.at)),
                as_point(self.turn @ np.array(port.direction)),
            )
            for port in self.module.ports
        }


@dataclass(frozen=True, kw_only=True)
class PlacedKit:
    """All placed modules, in the order of the layout."""

    modules: tuple[PlacedModule, ...]

    def module(self, name: str) -> PlacedModule:
        """The module of that name."""
        return next(row for row in self.modules if row.module.name == name)

    def ports(self, boat: Sequence[PlacedPort]) -> dict[str, Pose]:
        """Every port by "owner.port", including those of the boat."""
        fixed = {f"boat.{port.name}": (port.at, port.direction) for port in boat}
        return fixed | {
            str(PortRef(owner=row.module.name, port=name)): pose
            for row in self.modules
            for name, pose in row.ports.items()
        }
