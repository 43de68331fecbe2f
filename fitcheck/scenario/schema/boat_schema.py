"""The keys of [boat]: what each means, an example, and what is taken when it is left out."""

from __future__ import annotations

from typing import Literal

from fitcheck.model.given.boat import Datum
from fitcheck.scenario.schema.quantities import (
    AnyDirection,
    AnySpot,
    MeshDirection,
    PickedPoint,
    Text,
)
from fitcheck.scenario.schema.ranges import (
    Accuracy,
    Atmosphere,
    BelowPort,
    Felt,
    Heel,
    HeightAboveSea,
    HoleWidth,
    KeepOff,
    OffCentre,
    Salinity,
    TapeError,
    TapeLength,
    Thickness,
    ThreePlaces,
    WaterTemperature,
)
from fitcheck.scenario.schema.table import Table, key

_POINT = '"picked 1.204 0.330 0.910"'
_TWO = '["picked 1.2 0.3 0.9", "picked 1.4 0.3 0.9"]'
_THREE = '["picked 1.2 0.3 0.9", "picked 1.4 0.3 0.9", "picked 1.4 0.3 0.5"]'
_SIX = (
    '["picked -0.800 -0.878 1.082", "picked -0.332 -0.865 0.715", "picked 0.386 -0.841 0.191", '
    '"picked 0.661 -0.868 1.700", "picked 1.135 -0.853 1.344", "picked 1.144 -0.834 0.533"]'
)


class TapeTable(Table):
    """[[boat.tape]]: a length measured on board."""

    start: PickedPoint = key("one end", _POINT, alias="from")
    end: PickedPoint = key("the other end", _POINT, alias="to")
    length: TapeLength = key("as measured on board", '"1.850 m"')
    within: TapeError = key(
        "uncertainty of the reading, at 95 % (common practice, no source)",
        '"2 mm"',
        default="3 mm",
    )


class DatumTable(Table):
    """[boat.datum]: a point whose height above the sea was measured."""

    point: PickedPoint = key("a point that is easy to find on board and on the mesh", _POINT)
    above_sea: HeightAboveSea = key("its height above the sea, negative below it", '"120 mm"')
    taken: Text = key("how it was measured", '"clear hose on the seacock, boat at rest"')

    def datum(self) -> Datum:
        """The same for the other stages."""
        return Datum(point=self.point, above_sea=self.above_sea, taken=self.taken)


class CentrelineTable(Table):
    """[boat.centreline]: a point and its distance to one side of the centreline."""

    point: PickedPoint = key("a point of known distance from the centreline", _POINT)
    offset: OffCentre = key("that distance", '"0.35 m"')
    side: Literal["port", "starboard"] = key("the side of the boat it is on", '"port"')


class LidTable(Table):
    """[[boat.lids]]: a plane that closes an opening of the scan."""

    name: Text = key("what findings call it", '"hatch"')
    corners: list[PickedPoint] = key("three or more, in order round it", _THREE, min_length=3)


class VolumeTable(Table):
    """[[boat.keep_outs]], [[boat.solids]], [[boat.declared_free]]: a box along the boat's axes."""

    name: Text = key("what findings call it", '"engine"')
    corners: list[PickedPoint] = key(
        "two or more points; the box is the smallest that contains them", _TWO, min_length=2
    )
    why: str = key("the reason", '"hot"', default="")
    distance: KeepOff = key(
        "distance from hoses in addition to their clearance; for keep_outs and solids",
        '"100 mm"',
        default="0 mm",
    )


class BoardTable(Table):
    """[[boat.boards]]: a rectangular board, solid and a surface to fix modules and hoses to."""

    name: Text = key("what findings call it", '"shelf"')
    corners: list[AnySpot] = key(
        "four, in order round one face: picked on the mesh, or points in the boat frame",
        '[["0.2 m", "0.4 m", "0.1 m"], ["0.7 m", "0.4 m", "0.1 m"], '
        '["0.7 m", "0.7 m", "0.1 m"], ["0.2 m", "0.7 m", "0.1 m"]]',
        min_length=4,
        max_length=4,
    )
    thickness: Thickness = key("thickness of the board", '"18 mm"')
    state: Literal["existing", "planned"] = key(
        "existing, or planned: still to be built", '"planned"'
    )
    grows: AnyDirection | None = key(
        "direction of the thickness from that face (default: away from the inside point)",
        '"down"',
        default=None,
    )


class CheckedTable(Table):
    """[[boat.checked]]: weakly scanned space that was touched on board and found free."""

    of: Text = key("the module or line it was checked for", '"hp_pump"')
    at: AnySpot = key(
        "the place, as the report gives it: picked on the mesh, or a point in the boat frame",
        '["0.420 m", "0.100 m", "-0.210 m"]',
    )
    gap: Felt = key(
        "measured there: from the module to the nearest thing, or clear all round a point on the "
        "line",
        '"35 mm"',
    )
    position: ThreePlaces | None = key(
        "of a module: its layout.modules.NAME.at when it was checked; the check lapses once the "
        "module moves",
        '["0.50 m", "0.40 m", "-0.21 m"]',
        default=None,
    )


class BoatPortTable(Table):
    """[boat.ports.NAME]: a fixed connection of the boat."""

    role: Literal["seacock", "overboard", "tank", "other"] = key("what it is", '"seacock"')
    at: PickedPoint = key("where the hose begins", _POINT)
    direction: AnyDirection = key("direction in which a hose leaves it", '"up"')
    connection: Text = key("what the hose goes onto", '"hose tail 19 mm"')
    thread: str = key("the thread of that fitting", '"3/4 in BSP"', default="")
    opening_below: BelowPort = key(
        "depth of the opening in the hull below `at`", '"150 mm"', default="0 mm"
    )


class HoleTable(Table):
    """[boat.holes.NAME]: a hole in a bulkhead that a hose may pass."""

    centre: PickedPoint = key("its middle", _POINT)
    direction: AnyDirection = key(
        "perpendicular to the bulkhead, in either direction", '"forward"'
    )
    diameter: HoleWidth = key("clear width", '"60 mm"')


class HatchTable(Table):
    """[boat.hatch]: the access opening for the modules."""

    corners: list[PickedPoint] = key("three or more, in order round it", _THREE, min_length=3)


class ConditionsTable(Table):
    """[boat.conditions]: attitudes and water in which the boat is checked, in every combination.

    What is taken when a key is left out is common practice, no source.
    """

    heel: list[Heel] = key(
        "positive starboard down",
        '["-20 deg", "0 deg", "20 deg"]',
        min_length=1,
        default=["0 deg"],
    )
    trim: list[Heel] = key("positive bow down", '["0 deg"]', min_length=1, default=["0 deg"])
    water_temperature: list[WaterTemperature] = key(
        "of the sea", '["5 degC", "30 degC"]', min_length=1, default=["5 degC", "30 degC"]
    )
    salinity: list[Salinity] = key(
        "of the sea", '["35.2 g/kg"]', min_length=1, default=["35.2 g/kg"]
    )
    atmosphere: Atmosphere = key(
        "lowest air pressure; NPSH and the largest flow depend on it",
        '"1013 hPa"',
        default="1013 hPa",
    )


class BoatTable(Table):
    """[boat]: the mesh of a compartment, how to read it, and what is fixed in it."""

    name: Text | None = key("the boat's name in the report", '"my boat"', default=None)
    mesh: Text = key("path of the mesh file from this file", '"../meshes/bay.ply"')
    origin: Literal["scan", "cad"] = key(
        "scan: only what was seen is free; cad: a closed, drawn mesh", '"scan"'
    )
    unit: Literal["m", "mm", "cm", "in", "ft"] | None = key(
        "the mesh's unit; may be left out with two tape measurements, or if the file gives it",
        '"m"',
        default=None,
    )
    scan_accuracy: Accuracy | None = key(
        "uncertainty of a surface, at 95 %; for a drawing, how far the boat may differ from it; "
        "default: 20 mm for a scan, none for a drawing",
        '"15 mm"',
        default=None,
    )
    up: MeshDirection | None = key(
        "mesh axis that points up; may be left out with a waterline or level",
        '"+z"',
        default=None,
    )
    forward: MeshDirection = key(
        "mesh axis that points to the bow, or from one point to another", '"+x"'
    )
    level: list[PickedPoint] = key(
        "three or more points at one height, boat at rest: a laser line, a clear hose; needs a "
        "datum",
        _THREE,
        default=[],
    )
    waterline: list[PickedPoint] = key("six or more points of the sea surface", _SIX, default=[])
    datum: DatumTable | None = key(
        "a point of known height above the sea; instead of a waterline",
        f'{{ point = {_POINT}, above_sea = "120 mm", taken = "clear hose on the seacock" }}',
        default=None,
    )
    centreline: CentrelineTable | None = key(
        "a point of known distance from the centreline; required for heel",
        f'{{ point = {_POINT}, offset = "0.35 m", side = "port" }}',
        default=None,
    )
    flotation: PickedPoint | None = key("the point the boat heels about", _POINT, default=None)
    inside: PickedPoint = key("a point in the free air of the compartment", _POINT)
    viewpoints: list[PickedPoint] = key(
        "where the scanner was held; two or more for a scan", _TWO, default=[]
    )
    rays: str | None = key(
        "measured points (E57, PLY), each with the frame that measured it",
        '"frames.ply"',
        default=None,
    )
    stations: str | None = key(
        "for points in PLY: where the scanner was for each frame (CSV: frame, x, y, z)",
        '"frames.csv"',
        default=None,
    )
    crop: list[PickedPoint] = key(
        "everything outside the box that contains these points is cut away", _TWO, default=[]
    )
    tape: list[TapeTable] = key("tape measurements", "[[boat.tape]]", default=[])
    lids: list[LidTable] = key("lids over openings", "[[boat.lids]]", default=[])
    keep_outs: list[VolumeTable] = key(
        "free space to keep clear", "[[boat.keep_outs]]", default=[]
    )
    solids: list[VolumeTable] = key(
        "machinery that was not scanned all round", "[[boat.solids]]", default=[]
    )
    boards: list[BoardTable] = key(
        "boards, existing or to be built", "[[boat.boards]]", default=[]
    )
    declared_free: list[VolumeTable] = key(
        "unscanned space that is known to be free", "[[boat.declared_free]]", default=[]
    )
    checked: list[CheckedTable] = key(
        "weakly scanned space that was touched on board", "[[boat.checked]]", default=[]
    )
    ports: dict[str, BoatPortTable] = key("fixed connections", "[boat.ports.seacock]", default={})
    holes: dict[str, HoleTable] = key("holes in bulkheads", "[boat.holes.bulkhead]", default={})
    hatch: HatchTable | None = key("the access opening", "[boat.hatch]", default=None)
    conditions: ConditionsTable = key(
        "heel, trim and water", "[boat.conditions]", default=ConditionsTable()
    )
