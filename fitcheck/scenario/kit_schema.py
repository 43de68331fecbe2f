"""The keys of [kit] and of [layout], with their defaults."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from fitcheck.model.scenario import Duty, Face, Stands
from fitcheck.scenario.quantities import (
    CurvePair,
    Fraction,
    Head,
    Mass,
    NoLessThanNoLength,
    Pitch,
    PortText,
    Pressure,
    Recovery,
    SomeFlow,
    SomeLength,
    SomePressure,
    Text,
    ThreeAngles,
    ThreeLengths,
    ThreeSizes,
)
from fitcheck.scenario.table import Table, key

NoLessThanNothing = Annotated[float, Field(ge=0.0)]
_CURVE = '[["0 L/min", "14 m"], ["10 L/min", "13.5 m"], ["20 L/min", "12 m"]]'
_REQUIRED = '[["0 L/min", "0.6 m"], ["20 L/min", "1.2 m"]]'


class FacesTable(Table):
    """Depths of service space by face."""

    front: SomeLength | None = key('"80 mm"', default=None)
    back: SomeLength | None = key('"80 mm"', default=None)
    left: SomeLength | None = key('"80 mm"', default=None)
    right: SomeLength | None = key('"80 mm"', default=None)
    top: SomeLength | None = key('"80 mm"', default=None)
    base: SomeLength | None = key('"80 mm"', default=None)


class ModulePortTable(Table):
    """[kit.modules.NAME.ports.NAME]."""

    at: ThreeLengths = key('["110 mm", "0 mm", "60 mm"]')
    direction: Face = key('"front"')
    connection: Text = key('"hose tail 13 mm"')
    thread: str = key('"1/2 in BSP"', default="")
    joins: str = key('"inlet"', default="")


class ModuleTable(Table):
    """[kit.modules.NAME]."""

    size: ThreeSizes = key('["220 mm", "120 mm", "140 mm"]')
    mass: Mass = key('"3.4 kg"')
    stands: Stands = key('"upright"')
    access: FacesTable = key('{ front = "80 mm" }', default=FacesTable())
    withdrawal: FacesTable = key('{ base = "120 mm" }', default=FacesTable())
    ports: dict[str, ModulePortTable] = key("[kit.modules.NAME.ports.inlet]", default={})


class LineTable(Table):
    """[kit.lines.NAME]."""

    start: PortText = key('"boat.seacock"', alias="from")
    end: PortText = key('"strainer.inlet"', alias="to")
    duty: Duty = key('"suction"')
    hose: Text = key('"suction_19"')
    fittings: NoLessThanNothing = key("1.0")
    valve: SomeFlow | None = key('"0.5 m3/h"', default=None)
    straight: SomeLength | None = key('"60 mm"', default=None)


class SoldTable(Table):
    """How a hose is sold."""

    by: Literal["metre", "roll", "assembly"] = key('"metre"')
    lengths: list[SomeLength] = key('["5 m", "10 m"]', default=[])
    prices: list[NoLessThanNothing] = key("[14, 25]", default=[])


class HoseTable(Table):
    """[kit.hoses.NAME]. A smooth wall of 1.5 um is taken when no roughness is given."""

    bore: SomeLength = key('"19 mm"')
    outside_diameter: SomeLength = key('"27 mm"')
    bend_radius: SomeLength = key('"120 mm"')
    bend_radius_at: Literal["centre", "inside"] = key('"centre"')
    pressure_rating: SomePressure = key('"5 bar"')
    wall: Literal["reinforced", "soft"] = key('"reinforced"')
    roughness: NoLessThanNoLength = key('"0.0015 mm"', default=1.5e-6)
    sold: SoldTable = key('{ by = "roll", lengths = ["5 m", "10 m"], prices = [14, 25] }')


class FeedPumpTable(Table):
    """[kit.feed_pump]."""

    module: Text = key('"feed_pump"')
    inlet: Text = key('"inlet"')
    outlet: Text = key('"outlet"')
    curve: list[CurvePair] = key(_CURVE, min_length=3)
    npsh_required: list[CurvePair] = key(_REQUIRED, min_length=2)


class HighPressurePumpTable(Table):
    """[kit.high_pressure_pump]."""

    module: Text = key('"hp_pump"')
    inlet: Text = key('"inlet"')
    outlet: Text = key('"outlet"')
    flow: SomeFlow = key('"9.5 L/min"')
    pressure: SomePressure = key('"55 bar"')
    relief: SomePressure = key('"68 bar"')


class MembraneTable(Table):
    """[kit.membrane]."""

    module: Text = key('"vessel"')
    feed: Text = key('"feed"')
    brine: Text = key('"brine"')
    product: Text = key('"product"')
    recovery: Recovery = key('"10.5 %"')


class ResistanceTable(Table):
    """[kit.resistances.NAME]."""

    module: Text = key('"prefilters"')
    start: Text = key('"inlet"', alias="from")
    end: Text = key('"outlet"', alias="to")
    loss: Pressure = key('"0.10 bar"')
    at_flow: SomeFlow = key('"10 L/min"')
    exponent: float = key("1.3", ge=0.5, le=3.0)
    dirty: Pressure = key('"0.6 bar"', default=0.0)


class LimitsTable(Table):
    """[kit.limits]; the defaults are common practice, no source."""

    suction_vacuum_ok: Pressure = key('"0.10 bar"', default=0.10e5)
    suction_vacuum_max: Pressure = key('"0.25 bar"', default=0.25e5)
    npsh_margin: Head = key('"1 m"', default=1.0)
    npsh_ratio: float = key("1.3", ge=1.0, default=1.3)
    inlet_pressure_min: Pressure = key('"0.2 bar"', default=0.2e5)
    product_back_pressure_max: Pressure = key('"0.3 bar"', default=0.3e5)
    brine_back_pressure_max: Pressure = key('"0.5 bar"', default=0.5e5)
    high_pressure_loss_max: Fraction = key('"3 %"', default=0.03)


class AllowancesTable(Table):
    """[kit.allowances]; the defaults are common practice, no source."""

    hose_clearance: NoLessThanNoLength = key('"10 mm"', default=0.010)
    hose_gap: NoLessThanNoLength = key('"5 mm"', default=0.005)
    box_gap: NoLessThanNoLength = key('"10 mm"', default=0.010)
    straight: SomeLength = key('"60 mm"', default=0.060)
    end_allowance: NoLessThanNoLength = key('"25 mm"', default=0.025)
    slack: Fraction = key('"3 %"', default=0.03)
    rounding: SomeLength = key('"10 mm"', default=0.010)
    high_pressure_slack: Fraction = key('"4 %"', default=0.04)


class KitTable(Table):
    """[kit]."""

    name: Text = key('"my kit"', default="")
    modules: dict[str, ModuleTable] = key("[kit.modules.feed_pump]", min_length=1)
    lines: dict[str, LineTable] = key("[kit.lines.sea_to_pump]", default={})
    hoses: dict[str, HoseTable] = key("[kit.hoses.suction_19]", default={})
    feed_pump: FeedPumpTable | None = key("[kit.feed_pump]", default=None)
    high_pressure_pump: HighPressurePumpTable | None = key(
        "[kit.high_pressure_pump]", default=None
    )
    membrane: MembraneTable | None = key("[kit.membrane]", default=None)
    resistances: dict[str, ResistanceTable] = key("[kit.resistances.prefilters]", default={})
    limits: LimitsTable = key("[kit.limits]", default=LimitsTable())
    allowances: AllowancesTable = key("[kit.allowances]", default=AllowancesTable())


class PlacementTable(Table):
    """[layout.modules.NAME]."""

    at: ThreeLengths = key('["-1.2 m", "0.3 m", "0.1 m"]')
    rotate: ThreeAngles = key('["0 deg", "0 deg", "90 deg"]', default=(0.0, 0.0, 0.0))


class ChoiceTable(Table):
    """[layout.lines.NAME]."""

    holes: list[Text] = key('["bulkhead"]', default=[])
    hose: str = key('"suction_25"', default="")


class LayoutTable(Table):
    """[layout]."""

    name: Text = key('"my layout"', default="")
    pitch: Pitch = key('"15 mm"', default=0.015)
    modules: dict[str, PlacementTable] = key("[layout.modules.feed_pump]", default={})
    lines: dict[str, ChoiceTable] = key("[layout.lines.product]", default={})
