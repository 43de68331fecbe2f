"""The keys of [kit] and [layout]: what each means, an example, what is taken when left out."""

from __future__ import annotations

from typing import Literal

from fitcheck.model.given.kit import Duty, Face, Stands, Way
from fitcheck.scenario.schema.quantities import PortText, Text
from fitcheck.scenario.schema.ranges import (
    BendRadius,
    Bore,
    Clearance,
    CoilDiameter,
    Contents,
    CurvePair,
    EndAllowance,
    Exponent,
    FeedLoss,
    FeedPressure,
    Flow,
    Leg,
    Loss,
    LossCoefficient,
    LossShare,
    Mass,
    MembranePressure,
    NpshPair,
    NpshRatio,
    OnModuleAt,
    OutsideDiameter,
    Pitch,
    PressureRating,
    Price,
    PrimingLift,
    Reach,
    Recovery,
    ReliefPressure,
    Roughness,
    Rounding,
    Service,
    SoldLength,
    SomeFlow,
    Span,
    Spare,
    Speed,
    StraightEnd,
    SuctionHead,
    ThreePlaces,
    ThreeSizes,
    ThreeTurns,
    Tolerance,
    Turns,
    Vacuum,
    Volumes,
    Wrench,
)
from fitcheck.scenario.schema.table import Table, key

_CURVE = '[["0 L/min", "14 m"], ["10 L/min", "13.5 m"], ["20 L/min", "12 m"]]'
_REQUIRED = '[["0 L/min", "0.6 m"], ["20 L/min", "1.2 m"]]'


class FacesTable(Table):
    """access or withdrawal: how deep the space on each face is."""

    front: Service | None = key("on +x", '"80 mm"', default=None)
    back: Service | None = key("on -x", '"80 mm"', default=None)
    left: Service | None = key("on +y", '"80 mm"', default=None)
    right: Service | None = key("on -y", '"80 mm"', default=None)
    top: Service | None = key("on +z", '"80 mm"', default=None)
    base: Service | None = key("on -z", '"80 mm"', default=None)


class ModulePortTable(Table):
    """[kit.modules.NAME.ports.NAME]: a connection of a module, in the module's own frame."""

    at: OnModuleAt = key(
        "where the hose begins, from the centre of the base", '["110 mm", "0 mm", "60 mm"]'
    )
    direction: Face = key("the face a hose leaves from", '"front"')
    connection: Text = key("what the hose goes onto", '"hose tail 13 mm"')
    thread: str = key("the thread of that fitting", '"1/2 in BSP"', default="")
    joins: str = key("another port of the module that shares its water", '"inlet"', default="")
    fittings: list[Text] = key(
        "how a hose may be connected: fittings of the kit, or straight (directly to the port)",
        '["straight", "elbow_13"]',
        default=[],
    )
    turns: list[Face] = key(
        "directions an elbow on it may point to (default: all, in steps of 45 deg)",
        '["top"]',
        default=[],
    )


class FittingTable(Table):
    """[kit.fittings.NAME]: a part between a port and a hose, with the diameter of the hose."""

    kind: Literal["straight", "elbow"] = key("straight, or an elbow of 90 deg", '"elbow"')
    connection: str = key("what the hose goes onto", '"hose tail 13 mm"', default="")
    leg: Leg = key("from the port's face along its axis, to the corner or end", '"35 mm"')
    out: Leg | None = key(
        "from the corner of an elbow to where the hose begins", '"30 mm"', default=None
    )
    loss: LossCoefficient = key("its loss coefficient, on the hose's bore", "0.9")
    wrench: Wrench = key("clear width around the leg for a wrench", '"60 mm"', default="0 mm")


class ModuleTable(Table):
    """[kit.modules.NAME]: a box of the kit."""

    size: ThreeSizes = key("length, width, height", '["220 mm", "120 mm", "140 mm"]')
    mass: Mass = key("full of water", '"3.4 kg"')
    stands: Stands = key("required orientation: upright, horizontal or any", '"upright"')
    access: FacesTable = key(
        "space for hand access, which hoses may cross", '{ front = "80 mm" }', default=FacesTable()
    )
    withdrawal: FacesTable = key(
        "space to withdraw a part; hoses keep out of it",
        '{ base = "120 mm" }',
        default=FacesTable(),
    )
    fixed_by: list[Face] = key(
        "faces it may be fixed by; default: its base, and its back if it is upright "
        "(common practice, no source)",
        '["base", "back"]',
        default=[],
    )
    holds: Contents = key("water inside it", '"0.8 L"', default="0 L")
    ports: dict[str, ModulePortTable] = key(
        "its connections", "[kit.modules.feed_pump.ports.inlet]", default={}
    )


class CoilTable(Table):
    """coil: excess hose that is coiled instead of cut off, in addition to the routed length."""

    turns: Turns = key("how many", "2")
    diameter: CoilDiameter = key("of the coil, on the centre line of the hose", '"300 mm"')


class LineTable(Table):
    """[kit.lines.NAME]: a line from port to port, in the direction of flow."""

    start: PortText = key("the port it starts at", '"boat.seacock"', alias="from")
    end: PortText = key("the port it ends at", '"strainer.inlet"', alias="to")
    duty: Duty = key("suction, feed, bypass, high pressure, brine or product", '"suction"')
    hose: Text = key("a hose of the kit", '"suction_19"')
    fittings: LossCoefficient = key(
        "sum of the loss coefficients except bends and open ends, on the hose's bore", "1.0"
    )
    valve: SomeFlow | None = key("flow a valve in it passes at 1 bar", '"0.5 m3/h"', default=None)
    opens_at: FeedPressure | None = key(
        "a relief or regulating valve: closed below this pressure difference (bypass)",
        '"1.2 bar"',
        default=None,
    )
    straight: StraightEnd | None = key(
        "straight length at each end; default: that of the allowances", '"60 mm"', default=None
    )
    way: Way = key(
        "shortest, or along structure: within reach of a surface so that it can be clipped",
        '"along structure"',
        default="shortest",
    )
    reach: Reach = key(
        "how far a clip reaches, from the hose to the surface", '"60 mm"', default="60 mm"
    )
    span: Span = key(
        "maximum unsupported span of a hose along structure (common practice, no source)",
        '"400 mm"',
        default="400 mm",
    )
    coil: CoilTable | None = key(
        "excess hose in a coil", '{ turns = 2, diameter = "300 mm" }', default=None
    )


class SoldTable(Table):
    """sold: how a hose is bought."""

    by: Literal["metre", "roll", "assembly"] = key("metre, roll or assembly", '"metre"')
    lengths: list[SoldLength] = key("of the rolls or assemblies", '["5 m", "10 m"]', default=[])
    prices: list[Price] = key(
        "one for each length; per metre; or for two ends and per metre", "[14, 25]", default=[]
    )


class SuctionLengthTable(Table):
    """suction_length: maximum length of a hose in a suction side, with the source."""

    recommended: SoldLength = key("length without a remark", '"10 ft"')
    most: SoldLength = key("length above which there is a caution", '"15 ft"', alias="max")
    source: Text = key("source of these lengths", '"the pump\'s manual"')


class HoseTable(Table):
    """[kit.hoses.NAME]: a hose that can be bought."""

    bore: Bore = key("true inside diameter, not a nominal size", '"19 mm"')
    outside_diameter: OutsideDiameter = key("over the cover", '"27 mm"')
    bend_radius: BendRadius = key("minimum bend radius", '"120 mm"')
    bend_radius_at: Literal["centre", "inside"] = key(
        "measured to the centre line or inside the bend", '"centre"'
    )
    pressure_rating: PressureRating = key("working pressure", '"5 bar"')
    wall: Literal["reinforced", "soft"] = key("soft does not withstand suction", '"reinforced"')
    roughness: Roughness = key("of the inner wall", '"0.0015 mm"', default="0.0015 mm")
    bore_tolerance: Tolerance = key(
        "how far the true bore may be off; 0 % if measured", '"5 %"', default="5 %"
    )
    tail_bore: Bore | None = key(
        "bore of the tails or fittings at its ends; default: no narrower than the hose",
        '"16 mm"',
        default=None,
    )
    suction_length: SuctionLengthTable | None = key(
        "total length of it that a suction side may have",
        '{ recommended = "10 ft", max = "15 ft", source = "the pump\'s manual" }',
        default=None,
    )
    sold: SoldTable = key(
        "how it is bought", '{ by = "roll", lengths = ["5 m", "10 m"], prices = [14, 25] }'
    )


class FeedPumpTable(Table):
    """[kit.feed_pump]: the pump that feeds the high-pressure pump."""

    module: Text = key("the module it is", '"feed_pump"')
    inlet: Text = key("a port of that module", '"inlet"')
    outlet: Text = key("a port of that module", '"outlet"')
    curve: list[CurvePair] = key("head against flow, three points or more", _CURVE, min_length=3)
    npsh_required: list[NpshPair] = key(
        "required NPSH against flow, two points or more", _REQUIRED, min_length=2
    )
    kind: Literal["centrifugal", "diaphragm"] = key(
        "centrifugal, or diaphragm with a pressure switch", '"diaphragm"', default="centrifugal"
    )
    cut_out: FeedPressure | None = key(
        "where its pressure switch stops it (diaphragm)", '"2.8 bar"', default=None
    )
    cut_in: FeedPressure | None = key(
        "where its pressure switch starts it again (diaphragm)", '"1.7 bar"', default=None
    )
    primes_to: PrimingLift | None = key(
        "priming lift; 0 m if it does not prime",
        '"1.5 m"',
        default=None,
    )


class HighPressurePumpTable(Table):
    """[kit.high_pressure_pump]: the pump that makes the membrane pressure."""

    module: Text = key("the module it is", '"hp_pump"')
    inlet: Text = key("a port of that module", '"inlet"')
    outlet: Text = key("a port of that module", '"outlet"')
    flow: SomeFlow = key("its flow, at any pressure", '"9.5 L/min"')
    pressure: MembranePressure = key("working pressure", '"55 bar"')
    relief: ReliefPressure = key("where its relief valve opens", '"68 bar"')
    speed: Speed | None = key("speed of its crank", '"1450 rpm"', default=None)
    plungers: Literal[2, 3, 5, 7, 9] | None = key(
        "how many plungers or pistons", "3", default=None
    )


class MembraneTable(Table):
    """[kit.membrane]: where the feed separates into brine and product."""

    module: Text = key("the module it is", '"vessel"')
    feed: Text = key("a port of that module", '"feed"')
    brine: Text = key("a port of that module", '"brine"')
    product: Text = key("a port of that module", '"product"')
    recovery: Recovery = key("product flow as a share of feed flow", '"10.5 %"')


class ResistanceTable(Table):
    """[kit.resistances.NAME]: pressure loss of a module."""

    module: Text = key("the module", '"prefilters"')
    start: Text = key("a port of that module", '"inlet"', alias="from")
    end: Text = key("a port of that module", '"outlet"', alias="to")
    loss: Loss = key("from port to port", '"0.10 bar"')
    at_flow: SomeFlow = key("the flow at which it has that loss", '"10 L/min"')
    exponent: Exponent = key("how loss grows with flow", "1.3")
    dirty: Loss = key("loss added when a change is due", '"0.6 bar"', default="0 bar")
    kind: Literal["filter", "strainer", ""] = key(
        "filter or strainer; default: strainer before the feed pump, filter elsewhere",
        '"strainer"',
        default="",
    )


class FlushTable(Table):
    """[kit.flush]: fresh water that replaces the salt water before the plant is left unused."""

    at: PortText = key("the port where it enters", '"feed_pump.inlet"')
    flow: SomeFlow = key("flow of the fresh water", '"6 L/min"')
    volumes: Volumes = key("how many times the water in the plant is replaced", "3", default=3.0)


class ConsumerTable(Table):
    """[kit.consumers.NAME]: what else draws water through the plant's hoses while it runs."""

    at: PortText = key("the port it is drawn from", '"engine.raw_water"')
    flow: Flow = key("maximum flow; 0 L/min if it never runs with the plant", '"40 L/min"')


class LimitsTable(Table):
    """[kit.limits]: what the maker allows; when left out, common practice, no source."""

    suction_vacuum_ok: Vacuum = key(
        "recommended maximum vacuum at the feed pump", '"0.10 bar"', default="0.10 bar"
    )
    suction_vacuum_max: Vacuum = key(
        "maximum vacuum at the feed pump", '"0.25 bar"', default="0.25 bar"
    )
    npsh_margin: SuctionHead = key(
        "recommended available NPSH less required NPSH", '"1 m"', default="1 m"
    )
    npsh_ratio: NpshRatio = key(
        "recommended available NPSH divided by required NPSH", "1.3", default=1.3
    )
    inlet_pressure_min: FeedLoss = key(
        "minimum at the high-pressure pump", '"0.2 bar"', default="0.2 bar"
    )
    product_back_pressure_max: FeedLoss = key(
        "maximum at the membrane", '"0.3 bar"', default="0.3 bar"
    )
    brine_back_pressure_max: FeedLoss = key(
        "maximum after the pressure valve: a fail above if given; else a caution and a fail above "
        "high_pressure_loss_max of the working pressure",
        '"0.5 bar"',
        default="0.5 bar",
    )
    high_pressure_loss_max: LossShare = key(
        "maximum loss of each hose, as a share of working pressure", '"3 %"', default="3 %"
    )


class AllowancesTable(Table):
    """[kit.allowances]: clearances, extra lengths; when left out, common practice, no source."""

    hose_clearance: Clearance = key(
        "minimum from a hose to anything solid", '"8 mm"', default="10 mm"
    )
    hose_gap: Clearance = key("minimum from hose to hose", '"5 mm"', default="5 mm")
    box_gap: Clearance = key("minimum from a module to anything", '"10 mm"', default="10 mm")
    straight: StraightEnd = key("straight length at each end", '"60 mm"', default="60 mm")
    end_allowance: EndAllowance = key(
        "at each end, onto the tail or into the fitting", '"25 mm"', default="25 mm"
    )
    slack: Spare = key("extra length", '"3 %"', default="3 %")
    rounding: Rounding = key(
        "cut lengths are rounded up to a multiple of this", '"10 mm"', default="10 mm"
    )
    mounting: Clearance = key(
        "how far modules may be mounted from their positions, along each axis, with ordered "
        "lengths that still fit",
        '"20 mm"',
        default="20 mm",
    )
    high_pressure_slack: Spare = key(
        "extra length of high-pressure hoses, which shorten under pressure", '"4 %"', default="4 %"
    )


class KitTable(Table):
    """[kit]: everything that is delivered, without positions."""

    name: Text | None = key("the kit's name in the report", '"my kit"', default=None)
    modules: dict[str, ModuleTable] = key("its modules", "[kit.modules.feed_pump]", min_length=1)
    lines: dict[str, LineTable] = key("lines of hose", "[kit.lines.sea_to_pump]", default={})
    hoses: dict[str, HoseTable] = key("hoses", "[kit.hoses.suction_19]", default={})
    fittings: dict[str, FittingTable] = key(
        "fittings that ports may use", "[kit.fittings.elbow_13]", default={}
    )
    feed_pump: FeedPumpTable | None = key("the feed pump", "[kit.feed_pump]", default=None)
    high_pressure_pump: HighPressurePumpTable | None = key(
        "the high-pressure pump", "[kit.high_pressure_pump]", default=None
    )
    membrane: MembraneTable | None = key("the membrane", "[kit.membrane]", default=None)
    resistances: dict[str, ResistanceTable] = key(
        "pressure losses of modules", "[kit.resistances.prefilters]", default={}
    )
    consumers: dict[str, ConsumerTable] = key(
        "other consumers of water from its hoses", "[kit.consumers.engine]", default={}
    )
    flush: FlushTable | None = key("fresh-water flush", "[kit.flush]", default=None)
    limits: LimitsTable = key("limits", "[kit.limits]", default=LimitsTable())
    allowances: AllowancesTable = key(
        "clearances and extra lengths", "[kit.allowances]", default=AllowancesTable()
    )


class PlacementTable(Table):
    """[layout.modules.NAME]: the position of a module."""

    at: ThreePlaces = key(
        "position of the centre of its base: forward, to port, up", '["-1.2 m", "0.3 m", "0.1 m"]'
    )
    rotate: ThreeTurns = key(
        "roll, pitch, yaw about the boat's axes x, then y, then z",
        '["0 deg", "0 deg", "90 deg"]',
        default=["0 deg", "0 deg", "0 deg"],
    )


class ChoiceTable(Table):
    """[layout.lines.NAME]: what this layout sets for a line."""

    holes: list[Text] = key(
        'holes it passes, in order; "a or b" leaves the choice to the program',
        '["bulkhead"]',
        default=[],
    )
    hose: str = key("a hose other than the kit's", '"suction_25"', default="")
    way: Way | None = key("route other than the kit's", '"along structure"', default=None)


class LayoutTable(Table):
    """[layout]: the position of everything in one boat."""

    name: Text | None = key("the layout's name in the report", '"my layout"', default=None)
    pitch: Pitch = key("cell size of the route search", '"15 mm"', default="15 mm")
    modules: dict[str, PlacementTable] = key(
        "positions of the modules", "[layout.modules.feed_pump]", default={}
    )
    lines: dict[str, ChoiceTable] = key(
        "choices for single lines", "[layout.lines.product]", default={}
    )
