"""The keys of [other]: another mesh of the compartment, and places picked on both."""

from __future__ import annotations

from typing import Literal

from fitcheck.scenario.schema.boat_schema import TapeTable
from fitcheck.scenario.schema.quantities import PickedPoint, Text
from fitcheck.scenario.schema.ranges import Accuracy
from fitcheck.scenario.schema.table import Table, key

_HERE = '"picked 1204 330 910"'
_THERE = '"picked 0.331 1.204 -0.910"'
_EYES = '["picked 0.3 1.2 -0.9", "picked 0.4 1.1 -0.5"]'


class PairTable(Table):
    """[[other.pairs]]: one point picked on both meshes."""

    name: Text = key("what findings call it", '"bulkhead, lower corner to port"')
    here: PickedPoint = key("on the boat's mesh, in its own axes and unit", _HERE)
    there: PickedPoint = key("the same point on the other mesh", _THERE)


class OtherTable(Table):
    """[other]: another mesh to compare; the mesh itself is named on the command line."""

    name: Text | None = key("its name in the report", '"hull 3"', default=None)
    origin: Literal["scan", "cad"] = key(
        "scan: only what was seen is free; cad: a closed, drawn mesh", '"scan"'
    )
    unit: Literal["m", "mm", "cm", "in", "ft"] | None = key(
        "its unit; its scale is kept if drawings or tapes prove both meshes, else solved",
        '"m"',
        default=None,
    )
    accuracy: Accuracy | None = key(
        "uncertainty of its surface, at 95 %; default: 20 mm for a scan", '"15 mm"', default=None
    )
    viewpoints: list[PickedPoint] = key(
        "where the scanner was held, on the other mesh; default: the boat's",
        _EYES,
        default=[],
    )
    tape: list[TapeTable] = key(
        "tape measurements, on the other mesh", "[[other.tape]]", default=[]
    )
    pairs: list[PairTable] = key("four or more pairs of points", "[[other.pairs]]", default=[])
