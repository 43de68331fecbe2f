"""Mass of the modules, dry and with the water in them, and its centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitcheck.geometry.box import as_point
from fitcheck.model.given.kit import WATER
from fitcheck.model.result import Result
from fitcheck.units import Kilogram, Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """Modules as one mass, dry and wet, each at its centre of mass in the boat frame.

    The mass of a module is assumed at the middle of its box (common practice, no source).
    """

    name: str
    dry: Kilogram
    dry_centre: Point
    wet: Kilogram
    wet_centre: Point


def weights(result: Result) -> tuple[Weight, ...]:
    """Every module separately, in the order of the layout; the kit gives its mass full
    of water.
    """
    held = {row.where: row.volume for row in result.hydraulics.held}
    return tuple(
        Weight(
            name=module.name,
            dry=module.mass - WATER * held.get(module.name, 0.0),
            dry_centre=module.box.centre,
            wet=module.mass,
            wet_centre=module.box.centre,
        )
        for module in result.fit.modules
    )


def total(rows: Sequence[Weight]) -> Weight:
    """All of them together; at least one."""
    dry, wet = [row.dry for row in rows], [row.wet for row in rows]
    return Weight(
        name="all modules",
        dry=sum(dry),
        dry_centre=as_point(np.average([row.dry_centre for row in rows], axis=0, weights=dry)),
        wet=sum(wet),
        wet_centre=as_point(np.average([row.wet_centre for row in rows], axis=0, weights=wet)),
    )


def without_water(result: Result) -> tuple[str, ...]:
    """Modules whose water volume the kit does not state."""
    said = {row.where for row in result.hydraulics.held}
    return tuple(module.name for module in result.fit.modules if module.name not in said)
