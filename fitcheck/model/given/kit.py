"""The user's description of the kit, in SI: modules, lines, hoses, fittings, the water side.

Points are in a module's frame: origin at the centre of the base; x length, y width, z height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from fitcheck.units import (
    CubicMetre,
    CubicMetrePerSecond,
    Direction,
    Kilogram,
    KilogramPerCubicMetre,
    Metre,
    Pascal,
    PerSecond,
    Point,
    Price,
    Ratio,
)

Duty = Literal["suction", "feed", "bypass", "high pressure", "brine", "product"]
DUTIES: tuple[Duty, ...] = ("suction", "feed", "bypass", "high pressure", "brine", "product")
Way = Literal["shortest", "along structure"]
Stands = Literal["upright", "horizontal", "any"]
Face = Literal["front", "back", "left", "right", "top", "base"]

#: Seawater of 35 g/kg at 15 degC to three digits (from memory); fresh water is 3 percent lighter.
WATER: KilogramPerCubicMetre = 1025.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """A connection of a module, in the module frame; `direction` points outward.

    `joins` names another port of the same module that shares its water (a tee on it), or "".
    `fittings` names the fittings a hose may use on it, "straight" for the bare port; empty: only
    that. `turns` are the directions an elbow on it may point, module frame; empty: all around, 45
    deg apart.
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
    """A part between a port and a hose, as thick as the hose.

    `leg` runs from the port's face along its axis, `out` from an elbow's corner to where the hose
    begins (0 for a straight one); `wrench` is the clear width a wrench needs around the leg;
    `loss` its loss coefficient on the hose bore.
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
        """Length of the water path through it."""
        return self.leg + self.out


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceClearance:
    """Space kept free at one face: "access" for hands, "withdrawal" for a part that comes out.

    Solids and boxes must stay out of both; hoses must also stay out of withdrawal space.
    """

    face: Face
    depth: Metre
    kind: Literal["access", "withdrawal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Module:
    """A box of the kit; size is length, width, height; `holds` is the water inside it.

    `fixed_by` are the faces it may be fixed by; `fixing_given` whether the user stated them.
    """

    name: str
    size: Point
    mass: Kilogram
    stands: Stands
    ports: tuple[Port, ...]
    service: tuple[ServiceClearance, ...]
    holds: CubicMetre = 0.0
    fixed_by: tuple[Face, ...] = ("base",)
    fixing_given: bool = False


def usual_faces(stands: Stands) -> tuple[Face, ...]:
    """Faces a module may be fixed by when nothing is stated (common practice, no source)."""
    return ("base", "back") if stands == "upright" else ("base",)


@dataclass(frozen=True, slots=True, kw_only=True)
class PortRef:
    """A port by its owner ("boat" or a module name) and its own name."""

    owner: str
    port: str

    def __str__(self) -> str:
        return f"{self.owner}.{self.port}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """Spare hose wound in a coil, in addition to the routed length; `diameter` is of the centre
    line.
    """

    turns: Ratio
    diameter: Metre

    @property
    def length(self) -> Metre:
        """Length of hose in it."""
        return self.turns * math.pi * self.diameter


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A port-to-port run. Water flows from `start` to `end`.

    `fittings` is the sum of loss coefficients on the hose bore without bends; `valve_flow` is the
    flow a valve in the line passes at 1 bar (its Kv), None without a valve. `opens_at` makes it a
    relief or regulating valve, shut below that pressure difference. A hose routed along structure
    stays within `reach` of a surface where possible, and is unsupported for no more than `span`.
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
class SuctionLength:
    """Maximum total length of hose of one bore in a suction side, with the source."""

    recommended: Metre
    most: Metre
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Hose:
    """A hose type. `min_bend_radius` is on the centre line, however the maker measures it.

    `bore_tolerance` is the tolerance of `bore`, as a share of it. `tail_bore` is that of the tails
    or fittings at both ends, None if they are no narrower. `suction_length` is None if there is no
    limit.
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
    suction_length: SuctionLength | None = None


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

    speed : of its crank, None if not given
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

    `dirty` is added at the change point (filters) or when fouled (strainer), at `at_flow`. `kind`
    says which of the two it is; with "" its place decides: a strainer on the suction side of a
    feed pump, a filter elsewhere.
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
    """Fresh water that replaces the salt water: where it enters, its flow, and how much of it.

    `volumes` counts how often the water in the plant is replaced.
    """

    at: PortRef
    flow: CubicMetrePerSecond
    volumes: Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Consumer:
    """A device that draws water through the plant's own hoses: from which port, how much."""

    name: str
    at: PortRef
    flow: CubicMetrePerSecond


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits of the kit; `given` names those the maker stated; the rest are common practice."""

    suction_vacuum_ok: Pascal
    suction_vacuum_max: Pascal
    npsh_margin: Metre
    npsh_ratio: Ratio
    inlet_pressure_min: Pascal
    product_back_pressure_max: Pascal
    brine_back_pressure_max: Pascal
    high_pressure_loss_max: Ratio
    given: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowances:
    """Clearances and extra lengths; `given` names those the user stated.

    `mounting` is the displacement of modules along each axis for which ordered lengths must still
    reach.
    """

    hose_clearance: Metre
    hose_gap: Metre
    box_gap: Metre
    straight: Metre
    end_allowance: Metre
    slack: Ratio
    rounding: Metre
    high_pressure_slack: Ratio
    given: tuple[str, ...]
    mounting: Metre = 0.020


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """Everything that is delivered, without positions."""

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
    consumers: tuple[Consumer, ...] = ()

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
