"""What the user wrote: boat, kit and layout, in SI, faults already gone.

Points marked Picked are as picked on the mesh, in the mesh's own axes and unit; every other point
is in a module frame (origin at the centre of the base; x length, y width, z height) or in the boat
frame (x forward, y to port, z up; origin on the centreline at the sea surface below the inside
point), as each field says.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from fitcheck.units import (
    Celsius,
    CubicMetre,
    CubicMetrePerSecond,
    Direction,
    Kilogram,
    Metre,
    Pascal,
    PerSecond,
    Picked,
    Point,
    Price,
    Radian,
    Ratio,
)

Duty = Literal["suction", "feed", "bypass", "high pressure", "brine", "product"]
DUTIES: tuple[Duty, ...] = ("suction", "feed", "bypass", "high pressure", "brine", "product")
Way = Literal["shortest", "along structure"]
Stands = Literal["upright", "horizontal", "any"]
Face = Literal["front", "back", "left", "right", "top", "base"]


# --- boat -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeMeasure:
    """A length taken on board between two picked points, right within `within` (95 %)."""

    start: Picked
    end: Picked
    length: Metre
    within: Metre = 0.003


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """A direction, in the boat frame ("up", "aft" ...) or in the mesh's axes (towards a point)."""

    frame: Literal["boat", "mesh"]
    vector: Direction


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """A picked point whose height above the sea was taken, and how."""

    point: Picked
    above_sea: Metre
    taken: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Centreline:
    """A picked point and its distance from the centreline, positive to port."""

    point: Picked
    offset: Metre


@dataclass(frozen=True, slots=True, kw_only=True)
class Lid:
    """A plane over an opening: three or more picked corners in order round it."""

    name: str
    corners: tuple[Picked, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Volume:
    """A box aligned with the boat's axes that just holds all picked corners (two or more).

    Hoses keep `distance` from it in addition to their clearance (a hot thing).
    """

    name: str
    corners: tuple[Picked, ...]
    why: str
    distance: Metre = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BoatPort:
    """A fixed connection of the boat; `bearing` points out of it, the way a hose leaves.

    `opening_below` is how far the opening in the hull lies below the place where the hose begins.
    """

    name: str
    role: Literal["seacock", "overboard", "tank", "other"]
    at: Picked
    bearing: Bearing
    connection: str
    thread: str
    opening_below: Metre = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A hole in a bulkhead a hose may pass, square to the bulkhead along `bearing`."""

    name: str
    centre: Picked
    bearing: Bearing
    diameter: Metre


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """The states the boat is judged in; every combination counts.

    heel positive starboard down, trim positive bow down; salinity as mass fraction. `given` names
    those the user stated, the rest are common practice.
    """

    heel: tuple[Radian, ...]
    trim: tuple[Radian, ...]
    water_temperature_C: tuple[Celsius, ...]
    salinity: tuple[Ratio, ...]
    atmosphere: Pascal
    given: tuple[str, ...] = ()
    more_atmospheres: tuple[Pascal, ...] = ()

    @property
    def atmospheres(self) -> tuple[Pascal, ...]:
        """Every air pressure the boat is judged in."""
        return (self.atmosphere, *self.more_atmospheres)


@dataclass(frozen=True, slots=True, kw_only=True)
class Boat:
    """A compartment: its mesh, how to read it, and what is fixed in it.

    `scan_accuracy` is how far a surface may lie off, 19 times of 20; of a drawing, how far it may
    be built off it. `level` are points of one height, `plumb` a plumb line, lower end first.
    """

    name: str
    mesh: str
    origin: Literal["scan", "cad"]
    unit: Metre | None
    tape_measures: tuple[TapeMeasure, ...]
    scan_accuracy: Metre | None
    up: Direction | None
    forward: Direction
    waterline: tuple[Picked, ...]
    datum: Datum | None
    centreline: Centreline | None
    flotation: Picked | None
    inside: Picked
    viewpoints: tuple[Picked, ...]
    crop: tuple[Picked, ...]
    lids: tuple[Lid, ...]
    keep_outs: tuple[Volume, ...]
    solids: tuple[Volume, ...]
    declared_free: tuple[Volume, ...]
    ports: tuple[BoatPort, ...]
    holes: tuple[Hole, ...]
    hatch: Lid | None
    conditions: Conditions
    level: tuple[Picked, ...] = ()
    plumb: tuple[Picked, Picked] | None = None


# --- kit --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """A connection of a module, in the module frame; `direction` points outward.

    `joins` names another port of the same module that shares its water (a tee on it), or "".
    `fittings` names what a hose may go on to it by, "straight" the port as it is; none: only that.
    `turns` are the ways an elbow on it may point, module frame; none: all round, 45 deg apart.
    """

    name: str
    at: Point
    direction: Direction
    connection: str
    thread: str
    joins: str
    fittings: tuple[str, ...] = ()
    turns: tuple[Direction, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """A piece between a port and a hose, as thick as the hose.

    `leg` runs from the port's face along its axis, `out` from an elbow's corner to where the hose
    begins (0 for a straight one); `wrench` is the clear width a wrench needs round the leg; `loss`
    its loss coefficient on the hose bore.
    """

    name: str
    kind: Literal["straight", "elbow"]
    connection: str
    leg: Metre
    out: Metre
    loss: Ratio
    wrench: Metre

    @property
    def length(self) -> Metre:
        """The way the water goes through it."""
        return self.leg + self.out


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceClearance:
    """Space kept on one face: "access" for hands, "withdrawal" for a part that comes out.

    Solids and boxes must stay out of both; hoses must also stay out of withdrawal space.
    """

    face: Face
    depth: Metre
    kind: Literal["access", "withdrawal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Module:
    """A box of the kit; size is length, width, height, `holds` the water inside it."""

    name: str
    size: Point
    mass: Kilogram
    stands: Stands
    ports: tuple[Port, ...]
    service: tuple[ServiceClearance, ...]
    holds: CubicMetre = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PortRef:
    """A port by its owner ("boat" or a module name) and its own name."""

    owner: str
    port: str

    def __str__(self) -> str:
        return f"{self.owner}.{self.port}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """Spare hose laid in a coil, beside the routed length; `diameter` is of the centre line."""

    turns: Ratio
    diameter: Metre

    @property
    def length(self) -> Metre:
        """Hose in it."""
        return self.turns * math.pi * self.diameter


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A port-to-port run. Water goes from `start` to `end`.

    `fittings` is the sum of loss coefficients on the hose bore beside bends; `valve_flow` is the
    flow a valve in the line passes at 1 bar (its Kv), None without a valve. `opens_at` makes it a
    relief-type valve, shut below that pressure difference; `holds_pressure` makes it regulate the
    gauge pressure at `start`. A hose led along structure stays within `reach` of a surface where
    that can be done, and hangs free for no more than `span`.
    """

    name: str
    start: PortRef
    end: PortRef
    duty: Duty
    hose: str
    fittings: Ratio
    valve_flow: CubicMetrePerSecond | None
    straight: Metre | None
    opens_at: Pascal | None = None
    holds_pressure: Pascal | None = None
    way: Way = "shortest"
    reach: Metre = 0.060
    span: Metre = 0.400
    coil: Coil | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sold:
    """How a hose is sold: by the metre, in rolls of `lengths`, or as made-up assemblies."""

    by: Literal["metre", "roll", "assembly"]
    lengths: tuple[Metre, ...]
    prices: tuple[Price, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hose:
    """A hose type. `min_bend_radius` is on the centre line, whatever the maker measures.

    `bore_tolerance` is how far the true bore may lie from `bore`, as a share of it. `tail_bore` is
    that of the tails or fittings at both its ends, None where they are no narrower.
    """

    name: str
    bore: Metre
    outside_diameter: Metre
    min_bend_radius: Metre
    bend_radius_at: Literal["centre", "inside"]
    pressure_rating: Pascal
    wall: Literal["reinforced", "soft"]
    roughness: Metre
    sold: Sold
    bore_tolerance: Ratio = 0.05
    tail_bore: Metre | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """One point of a pump curve: head at a flow."""

    flow: CubicMetrePerSecond
    head: Metre


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedPump:
    """The pump that feeds the high-pressure pump.

    A diaphragm pump stops at `cut_out` and starts again at `cut_in`, both across the pump;
    `primes_to` is the height to which the pump can draw water up through air, None if not given.
    """

    module: str
    inlet: str
    outlet: str
    curve: tuple[CurvePoint, ...]
    npsh_required: tuple[CurvePoint, ...]
    kind: Literal["centrifugal", "diaphragm"] = "centrifugal"
    cut_out: Pascal | None = None
    cut_in: Pascal | None = None
    primes_to: Metre | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HighPressurePump:
    """The positive-displacement pump that makes the membrane pressure.

    speed    : turns of its crank, None if not given
    plungers : of a reciprocating pump, None if not given
    """

    module: str
    inlet: str
    outlet: str
    flow: CubicMetrePerSecond
    pressure: Pascal
    relief: Pascal
    speed: PerSecond | None = None
    plungers: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Membrane:
    """Where feed water splits into brine and product; recovery = product / feed."""

    module: str
    feed: str
    brine: str
    product: str
    recovery: Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistance:
    """Loss of a module from one port to another: loss * (Q / at_flow) ** exponent, port to port.

    `dirty` is what is added at the change point (filters) or when fouled (strainer), at `at_flow`.
    `kind` says which of the two it is; "" leaves it to where it lies: a strainer on the suction
    side of a feed pump, a filter elsewhere.
    """

    name: str
    module: str
    start: str
    end: str
    loss: Pascal
    at_flow: CubicMetrePerSecond
    exponent: Ratio
    dirty: Pascal
    kind: Literal["filter", "strainer", ""] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flush:
    """Fresh water that pushes the salt water out: where it enters, its flow, and how much of it.

    `volumes` counts how often the water in the plant is changed.
    """

    at: PortRef
    flow: CubicMetrePerSecond
    volumes: Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits of the kit; `given` names those the maker stated, the rest are common practice.

    inlet_pressure_wanted : no limit: what the bypass is to be set for, None if nobody asks
    """

    suction_vacuum_ok: Pascal
    suction_vacuum_max: Pascal
    npsh_margin: Metre
    npsh_ratio: Ratio
    inlet_pressure_min: Pascal
    product_back_pressure_max: Pascal
    brine_back_pressure_max: Pascal
    high_pressure_loss_max: Ratio
    given: tuple[str, ...]
    inlet_pressure_wanted: Pascal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowances:
    """Room and spare kept everywhere; `given` names those the user stated."""

    hose_clearance: Metre
    hose_gap: Metre
    box_gap: Metre
    straight: Metre
    end_allowance: Metre
    slack: Ratio
    rounding: Metre
    high_pressure_slack: Ratio
    given: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """Everything that is delivered, without a place yet."""

    name: str
    modules: tuple[Module, ...]
    lines: tuple[Line, ...]
    hoses: tuple[Hose, ...]
    feed_pump: FeedPump | None
    high_pressure_pump: HighPressurePump | None
    membrane: Membrane | None
    resistances: tuple[Resistance, ...]
    limits: Limits
    allowances: Allowances
    flush: Flush | None = None
    fittings: tuple[Fitting, ...] = ()

    def module(self, name: str) -> Module:
        """The module of that name."""
        return next(module for module in self.modules if module.name == name)

    def line(self, name: str) -> Line:
        """The line of that name."""
        return next(line for line in self.lines if line.name == name)

    def hose(self, name: str) -> Hose:
        """The hose type of that name."""
        return next(hose for hose in self.hoses if hose.name == name)

    def fitting(self, name: str) -> Fitting:
        """The fitting of that name."""
        return next(fitting for fitting in self.fittings if fitting.name == name)


# --- layout -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where a module's base centre stands, boat frame, and how it is turned (fixed x, y, z)."""

    module: str
    at: Point
    rotate: tuple[Radian, Radian, Radian]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChoice:
    """What a layout says of one line: holes to pass in order, another hose, or "".

    A text in `holes` may name several with " or " between them: one of them is passed. `way`,
    `reach`, `span` and `coil` are None where the kit's line says them.
    """

    line: str
    holes: tuple[str, ...]
    hose: str
    way: Way | None = None
    reach: Metre | None = None
    span: Metre | None = None
    coil: Coil | None = None

    @property
    def candidates(self) -> tuple[tuple[str, ...], ...]:
        """For every hole to pass, the names of those that may be it."""
        return tuple(tuple(name.strip() for name in text.split(" or ")) for text in self.holes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Where everything stands in one boat."""

    name: str
    placements: tuple[Placement, ...]
    choices: tuple[LineChoice, ...]
    pitch: Metre

    def placement(self, module: str) -> Placement:
        """Where that module stands."""
        return next(place for place in self.placements if place.module == module)

    def choice(self, line: str) -> LineChoice:
        """What the layout says of that line (nothing: no holes, the kit's hose)."""
        plain = LineChoice(line=line, holes=(), hose="")
        return next((choice for choice in self.choices if choice.line == line), plain)


# --- the whole --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """A file that was read."""

    path: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """Boat, kit and layout, and which file each came from (for remedies)."""

    name: str
    about: str
    boat: Boat
    kit: Kit
    layout: Layout
    boat_file: str
    kit_file: str
    layout_file: str
    inputs: tuple[InputFile, ...]

    def hose_of(self, line: Line) -> Hose:
        """The hose a line uses: the layout's choice, else the kit's."""
        return self.kit.hose(self.layout.choice(line.name).hose or line.hose)

    def coil_of(self, line: Line) -> Coil | None:
        """The coil in a line: the layout's, else the kit's."""
        return self.layout.choice(line.name).coil or line.coil

    def straight_of(self, line: Line) -> Metre:
        """Straight length kept at each end of a line."""
        return self.kit.allowances.straight if line.straight is None else line.straight
