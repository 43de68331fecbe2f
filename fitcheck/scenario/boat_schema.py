"""The keys of [boat]."""

from __future__ import annotations

from typing import Literal

from fitcheck.model.scenario import Datum
from fitcheck.scenario.quantities import (
    AnyDirection,
    Atmosphere,
    Heel,
    Length,
    MeshDirection,
    NoLessThanNoLength,
    PickedPoint,
    Salinity,
    SomeLength,
    Temperature,
    Text,
)
from fitcheck.scenario.table import Table, key

_POINT = '"picked 1.204 0.330 0.910"'
_POINTS = '["picked 1.2 0.3 0.9", "picked 1.4 0.3 0.9"]'


class TapeTable(Table):
    """[[boat.tape]]: a length measured on board."""

    start: PickedPoint = key(_POINT, alias="from")
    end: PickedPoint = key(_POINT, alias="to")
    length: SomeLength = key('"1.850 m"')


class DatumTable(Table):
    """boat.datum: a point whose height above the sea was taken."""

    point: PickedPoint = key(_POINT)
    above_sea: Length = key('"120 mm"')
    taken: Text = key('"clear hose on the seacock, boat at rest"')

    def datum(self) -> Datum:
        """The same for the other stages."""
        return Datum(point=self.point, above_sea=self.above_sea, taken=self.taken)


class CentrelineTable(Table):
    """boat.centreline: a point and how far it lies to one side of the centreline."""

    point: PickedPoint = key(_POINT)
    offset: NoLessThanNoLength = key('"0.35 m"')
    side: Literal["port", "starboard"] = key('"port"')


class LidTable(Table):
    """[[boat.lids]]: a plane over an opening."""

    name: Text = key('"hatch"')
    corners: list[PickedPoint] = key(_POINTS, min_length=3)


class VolumeTable(Table):
    """[[boat.keep_outs]], [[boat.solids]], [[boat.declared_free]]."""

    name: Text = key('"engine"')
    corners: list[PickedPoint] = key(_POINTS, min_length=2)
    why: str = key('"hot"', default="")


class BoatPortTable(Table):
    """[boat.ports.NAME]: a fixed connection of the boat."""

    role: Literal["seacock", "overboard", "tank", "other"] = key('"seacock"')
    at: PickedPoint = key(_POINT)
    direction: AnyDirection = key('"up"')
    connection: Text = key('"hose tail 19 mm"')
    thread: str = key('"3/4 in BSP"', default="")


class HoleTable(Table):
    """[boat.holes.NAME]: a hole in a bulkhead."""

    centre: PickedPoint = key(_POINT)
    direction: AnyDirection = key('"forward"')
    diameter: SomeLength = key('"60 mm"')


class HatchTable(Table):
    """[boat.hatch]: the way in."""

    corners: list[PickedPoint] = key(_POINTS, min_length=3)


class ConditionsTable(Table):
    """[boat.conditions]: heel, trim and water the boat is judged in.

    The defaults are common practice, no source: cold and warm sea, mean ocean salinity, mean
    atmosphere.
    """

    heel: list[Heel] = key('["-20 deg", "0 deg", "20 deg"]', min_length=1, default=[0.0])
    trim: list[Heel] = key('["0 deg"]', min_length=1, default=[0.0])
    water_temperature: list[Temperature] = key(
        '["5 degC", "30 degC"]', min_length=1, default=[5.0, 30.0]
    )
    salinity: list[Salinity] = key('["35.2 g/kg"]', min_length=1, default=[0.0352])
    atmosphere: Atmosphere = key('"1013 hPa"', default=101_300.0)


class BoatTable(Table):
    """[boat]."""

    name: Text = key('"my boat"', default="")
    mesh: Text = key('"../meshes/bay.ply"')
    origin: Literal["scan", "cad"] = key('"scan"')
    unit: Literal["m", "mm", "cm", "in", "ft"] | None = key('"m"', default=None)
    scan_accuracy: NoLessThanNoLength | None = key('"15 mm"', default=None)
    up: MeshDirection | None = key('"+z"', default=None)
    forward: MeshDirection = key('"+x"')
    waterline: list[PickedPoint] = key(_POINTS, default=[])
    datum: DatumTable | None = key(
        f'{{ point = {_POINT}, above_sea = "120 mm", taken = "clear hose on the seacock" }}',
        default=None,
    )
    centreline: CentrelineTable | None = key(
        f'{{ point = {_POINT}, offset = "0.35 m", side = "port" }}', default=None
    )
    flotation: PickedPoint | None = key(_POINT, default=None)
    inside: PickedPoint = key(_POINT)
    viewpoints: list[PickedPoint] = key(_POINTS, default=[])
    crop: list[PickedPoint] = key(_POINTS, default=[])
    tape: list[TapeTable] = key("[[boat.tape]]", default=[])
    lids: list[LidTable] = key("[[boat.lids]]", default=[])
    keep_outs: list[VolumeTable] = key("[[boat.keep_outs]]", default=[])
    solids: list[VolumeTable] = key("[[boat.solids]]", default=[])
    declared_free: list[VolumeTable] = key("[[boat.declared_free]]", default=[])
    ports: dict[str, BoatPortTable] = key("[boat.ports.seacock]", default={})
    holes: dict[str, HoleTable] = key("[boat.holes.bulkhead]", default={})
    hatch: HatchTable | None = key("[boat.hatch]", default=None)
    conditions: ConditionsTable = key("[boat.conditions]", default=ConditionsTable())
