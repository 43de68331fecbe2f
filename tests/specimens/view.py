"""A whole result made by hand: a small room, five modules, six hoses and one without a way."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import as_written
from fitcheck.geometry.box import FACES, as_point, grown, placed_box, rotation
from fitcheck.model.contact import Contact
from fitcheck.model.finding import Finding
from fitcheck.model.found.fit import FaceGap, Fit, FitVerdict, ModuleFit, ServiceFit
from fitcheck.model.found.hydraulics import Hydraulics, LineSummary, PumpState, State
from fitcheck.model.found.order import Cut, Order
from fitcheck.model.found.routes import HoseRoute, Leg, Routes, Unrouted
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, PlacedPort, Space
from fitcheck.model.given.kit import (
    Duty,
    Face,
    Hose,
    Line,
    Module,
    Port,
    PortRef,
    ServiceClearance,
    Sold,
)
from fitcheck.model.given.scenario import Placement, Scenario
from fitcheck.model.result import Result
from tests import specimens
from tests.specimens.result import legs_and_bends, points_along

Vector = NDArray[np.float64]
Corner = tuple[float, float, float]
LOW, HIGH = (-1.0, -0.75, -0.4), (1.0, 0.75, 0.8)
ENGINE = ((0.30, -0.35, -0.40), (0.95, 0.25, 0.10))


def module(
    name: str, size: Corner, ports: dict[str, tuple[Corner, Face]], service: dict[Face, float]
) -> Module:
    """A module with ports by place and face, and access clearances by face."""
    return Module(
        name=name,
        size=size,
        mass=4.0,
        stands="upright",
        ports=tuple(
            Port(
                name=port,
                at=at,
                direction=facing(face),
                connection="hose tail",
                thread="1/2 in BSP",
                joins="",
            )
            for port, (at, face) in ports.items()
        ),
        service=tuple(
            ServiceClearance(face=face, depth=depth, kind="access")
            for face, depth in service.items()
        ),
    )


def facing(face: Face) -> Corner:
    """The outward direction of a face."""
    axis, sign = FACES[face]
    direction = [0.0, 0.0, 0.0]
    direction[axis] = float(sign)
    return (direction[0], direction[1], direction[2])


MODULES = (
    module(
        "strainer",
        (0.11, 0.11, 0.19),
        {"inlet": ((-0.055, 0.0, 0.12), "back"), "outlet": ((0.055, 0.0, 0.12), "front")},
        {"top": 0.15},
    ),
    module(
        "feed_pump",
        (0.22, 0.12, 0.14),
        {"inlet": ((-0.11, 0.0, 0.07), "back"), "outlet": ((0.06, 0.0, 0.14), "top")},
        {"right": 0.08},
    ),
    module(
        "prefilters",
        (0.30, 0.15, 0.40),
        {"inlet": ((-0.10, 0.0, 0.40), "top"), "outlet": ((0.10, 0.0, 0.40), "top")},
        {"base": 0.12},
    ),
    module(
        "hp_pump",
        (0.40, 0.24, 0.26),
        {"inlet": ((0.20, 0.0, 0.08), "front"), "outlet": ((0.20, 0.0, 0.20), "front")},
        {"right": 0.15},
    ),
    module(
        "vessel",
        (1.18, 0.21, 0.13),
        {
            "feed": ((-0.59, 0.0, 0.065), "back"),
            "brine": ((0.59, -0.05, 0.065), "front"),
            "product": ((0.59, 0.05, 0.065), "front"),
        },
        {"right": 0.30},
    ),
)

PLACES = {
    "strainer": ((-0.70, 0.35, -0.30), (0.0, 0.0, 0.0)),
    "feed_pump": ((-0.20, 0.35, -0.24), (0.0, 0.0, 0.0)),
    "prefilters": ((0.15, 0.62, 0.02), (0.0, 0.0, 0.0)),
    "hp_pump": ((-0.70, -0.58, -0.38), (0.0, 0.0, 0.0)),
    "vessel": ((0.00, -0.60, 0.30), (0.0, 0.0, 0.0)),
}

HOSES = {
    "suction_19": (0.019, 0.027, 0.10),
    "feed_13": (0.0127, 0.019, 0.08),
    "pressure_8": (0.0079, 0.015, 0.08),
    "brine_13": (0.0127, 0.019, 0.08),
    "product_6": (0.006, 0.008, 0.04),
}

#: name: from, to, duty, hose, corners between the two ports
LINES: dict[str, tuple[str, str, Duty, str, tuple[Corner, ...]]] = {
    "sea_to_strainer": (
        "boat.seacock",
        "strainer.inlet",
        "suction",
        "suction_19",
        ((-0.90, 0.05, -0.18), (-0.90, 0.35, -0.18)),
    ),
    "strainer_to_pump": ("strainer.outlet", "feed_pump.inlet", "suction", "suction_19", ()),
    "pump_to_filters": (
        "feed_pump.outlet",
        "prefilters.inlet",
        "feed",
        "feed_13",
        ((-0.14, 0.35, 0.60), (0.05, 0.62, 0.60)),
    ),
    "filters_to_hp": (
        "prefilters.outlet",
        "hp_pump.inlet",
        "feed",
        "feed_13",
        ((0.25, 0.62, 0.68), (0.25, -0.40, 0.68), (0.05, -0.40, 0.00), (0.05, -0.58, -0.30)),
    ),
    "hp_to_vessel": (
        "hp_pump.outlet",
        "vessel.feed",
        "high pressure",
        "pressure_8",
        ((-0.35, -0.58, -0.18), (-0.35, -0.40, 0.15), (-0.80, -0.40, 0.15), (-0.80, -0.60, 0.365)),
    ),
    "brine": (
        "vessel.brine",
        "boat.overboard",
        "brine",
        "brine_13",
        ((0.80, -0.65, 0.365), (0.80, -0.65, 0.55), (0.80, -0.25, 0.55)),
    ),
    "product": ("vessel.product", "boat.tank", "product", "product_6", ()),
}

BOAT_PORTS = (
    PlacedPort(
        name="seacock",
        role="seacock",
        at=(-0.90, 0.05, -0.40),
        direction=(0.0, 0.0, 1.0),
        connection="hose tail 19 mm",
        thread="3/4 in BSP",
    ),
    PlacedPort(
        name="overboard",
        role="overboard",
        at=(1.0, -0.25, 0.55),
        direction=(-1.0, 0.0, 0.0),
        connection="hose tail 13 mm",
        thread="1/2 in BSP",
    ),
    PlacedPort(
        name="tank",
        role="tank",
        at=(1.0, 0.40, 0.50),
        direction=(-1.0, 0.0, 0.0),
        connection="push-in 8 mm",
        thread="1/4 in BSP",
    ),
)


def made_result(*, verdicts: dict[str, FitVerdict] | None = None) -> Result:
    """The whole result; `verdicts` overrides how modules fit. The product line finds no way."""
    scenario = made_scenario()
    fit = made_fit(scenario, verdicts or {})
    routes = made_routes(scenario)
    return Result(
        scenario=scenario,
        space=made_space(),
        fit=fit,
        routes=routes,
        hydraulics=made_hydraulics(routes),
        order=made_order(routes),
    )


def made_scenario() -> Scenario:
    """Kit and layout of this file in the specimens' boat."""
    lines = tuple(
        Line(
            name=name,
            start=reference(start),
            end=reference(end),
            duty=duty,
            hose=hose,
            fittings=1.0,
            valve_flow=None,
            straight=None,
        )
        for name, (start, end, duty, hose, _) in LINES.items()
    )
    placements = [
        Placement(module=name, at=at, rotate=turn) for name, (at, turn) in PLACES.items()
    ]
    return specimens.scenario(
        specimens.boat("room.stl"),
        name="small room",
        kit=specimens.kit(modules=MODULES, lines=lines, hoses=tuple(hose(name) for name in HOSES)),
        layout=specimens.layout(*placements),
    )


def reference(text: str) -> PortRef:
    """A port by "owner.port"."""
    owner, port = text.split(".")
    return PortRef(owner=owner, port=port)


def hose(name: str) -> Hose:
    """A hose type of this file."""
    bore, outside_diameter, radius = HOSES[name]
    return Hose(
        name=name,
        bore=bore,
        outside_diameter=outside_diameter,
        min_bend_radius=radius,
        bend_radius_at="centre",
        pressure_rating=5e5,
        wall="reinforced",
        roughness=1.5e-6,
        sold=Sold(by="metre", lengths=(), prices=()),
    )


def made_space() -> Space:
    """The room with an engine in it; the cells behind the engine were never seen."""
    space = specimens.hand_made_space((ENGINE,), low=LOW, high=HIGH, pitch=0.05)
    centres = space.grid.centre(np.stack(np.indices(space.grid.shape), axis=-1))
    shadow = (np.array([0.3, 0.25, -0.4]) < centres) & (centres < np.array([1.0, 0.5, 0.0]))
    label = np.where(shadow.all(axis=-1) & (space.label == FREE), UNSEEN, space.label)
    outside = ((centres < np.array(LOW)) | (centres > np.array(HIGH))).any(axis=-1)
    label = np.where(outside & (label != SOLID), UNSEEN, label)
    return replace(space, label=label.astype(np.uint8), ports=BOAT_PORTS)


def made_fit(scenario: Scenario, verdicts: dict[str, FitVerdict]) -> Fit:
    """Every module where the layout says, one service clearance of each, the filters' short."""
    modules = []
    for item in scenario.kit.modules:
        at, turn = PLACES[item.name]
        box = placed_box(item.size, at, turn)
        shelf = Contact(
            kind="solid",
            subject="locker shelf",
            gap=0.07,
            uncertainty=0.0,
            place=as_point(np.array(at) - [0, 0, 0.07]),
        )
        service = tuple(
            ServiceFit(
                face=want.face,
                kind="withdrawal" if want.face == "base" else "access",
                wanted=want.depth,
                contacts=(shelf,) if item.name == "prefilters" else (),
                verdict="does not fit" if item.name == "prefilters" else "clear",
                box=grown(box, want.face, want.depth),
            )
            for want in item.service
        )
        hull = Contact(kind="solid", subject="hull", gap=0.03, uncertainty=0.0)
        gap = FaceGap(face="left", contacts=(hull,))
        modules.append(
            ModuleFit(
                name=item.name,
                verdict=verdicts.get(item.name, "fits"),
                box=box,
                mass=item.mass,
                contacts=(hull,),
                faces=(gap,),
                service=service,
            )
        )
    finding = Finding(
        severity="fail",
        rule="service-clearance",
        subject="prefilters",
        said=as_written("The bowl of the prefilters drops 70 mm; 120 mm are needed."),
        source="kit",
        value=0.07,
        limit=0.12,
        unit="m",
    )
    return Fit(modules=tuple(modules), findings=(finding,), assumptions=())


def port_of(scenario: Scenario, ref: PortRef) -> tuple[Vector, Vector]:
    """Place and outward direction of a port in the boat frame."""
    if ref.owner == "boat":
        port = next(port for port in BOAT_PORTS if port.name == ref.port)
        return np.array(port.at), np.array(port.direction)
    own = next(port for port in scenario.kit.module(ref.owner).ports if port.name == ref.port)
    at, turn = PLACES[ref.owner]
    return np.array(at) + rotation(turn) @ np.array(own.at), rotation(turn) @ own.direction


def made_routes(scenario: Scenario) -> Routes:
    """The hoses along their corners; a line of product that finds no way."""
    hoses = []
    for line in scenario.kit.lines:
        start, leaving = port_of(scenario, line.start)
        end, facing_out = port_of(scenario, line.end)
        if line.duty == "product":
            hoses.append(no_way(line, start, leaving, end, -facing_out))
            continue
        corners = np.array([start, *LINES[line.name][4], end])
        hoses.append(rounded(line, corners, hose(line.hose)))
    return Routes(hoses=tuple(hoses), findings=(), assumptions=())


def no_way(line: Line, start: Vector, leaving: Vector, end: Vector, arriving: Vector) -> Unrouted:
    """A hose without a way, stopped half-way."""
    return Unrouted(
        line=line.name,
        hose=line.hose,
        said=as_written("no way at this resolution"),
        nearest_approach=as_point((start + end) / 2),
        missing=0.012,
        bound=1.2,
        required_bend_radius=0.04,
        required_clearance=0.01,
        outside_diameter=0.008,
        start=as_point(start),
        start_direction=as_point(leaving),
        end=as_point(end),
        end_direction=as_point(arriving),
    )


def rounded(line: Line, corners: Vector, of: Hose) -> HoseRoute:
    """Legs and bends of one radius along a polyline."""
    legs, bends = legs_and_bends([as_point(corner) for corner in corners], of.min_bend_radius)
    length = sum(math.dist(leg.start, leg.end) for leg in legs)
    length += sum(bend.radius * bend.angle for bend in bends)
    return HoseRoute(
        line=line.name,
        hose=of.name,
        length=length,
        bound=0.97 * length,
        bound_kind="certificate",
        smallest_bend_radius=of.min_bend_radius if bends else None,
        required_bend_radius=of.min_bend_radius,
        clearance=0.021,
        clearance_to="hull",
        required_clearance=0.010,
        outside_diameter=of.outside_diameter,
        uncertainty=0.004,
        start=legs[0].start,
        start_direction=direction(legs[0]),
        end=legs[-1].end,
        end_direction=direction(legs[-1]),
        straight=0.05,
        holes=(),
        legs=legs,
        bends=bends,
        path=points_along(legs, bends),
    )


def direction(leg: Leg) -> Corner:
    """Unit vector along a leg."""
    run = np.array(leg.end) - np.array(leg.start)
    return as_point(run / np.linalg.norm(run))


def made_hydraulics(routes: Routes) -> Hydraulics:
    """A summary for each routed line and the feed pump in one state."""
    state = State(
        name="upright, 5 C, clean",
        heel=0.0,
        trim=0.0,
        temperature_C=5.0,
        salinity=0.0352,
        dirty=False,
    )
    summaries = tuple(
        LineSummary(
            line=route.line,
            state=state.name,
            flow=9.5 / 60_000,
            velocity=1.25,
            loss=4_800.0,
            lift=route.end[2] - route.start[2],
            worst_lift=route.end[2] - route.start[2] + 0.1,
            severity=None,
            said=as_written("ok"),
        )
        for route in routes.hoses
        if isinstance(route, HoseRoute)
    )
    pump = PumpState(
        pump="feed_pump",
        state=state.name,
        flow=18.2 / 60_000,
        suction_vacuum=1_200.0,
        npsh_available=9.8,
        npsh_required=0.8,
        bypass_flow=8.7 / 60_000,
        head=12.0,
        inlet_pressure=None,
    )
    return Hydraulics(
        states=(state,),
        lines=(),
        pumps=(pump,),
        summaries=summaries,
        rules=(),
        back_pressures=(),
        findings=(),
        assumptions=(),
    )


def made_order(routes: Routes) -> Order:
    """A cut length for each routed line."""
    cuts = tuple(
        Cut(
            line=route.line,
            hose=route.hose,
            routed_length=route.length,
            cut_length=round(route.length * 1.03 + 0.05, 2),
            said=as_written("route, ends and slack"),
        )
        for route in routes.hoses
        if isinstance(route, HoseRoute)
    )
    return Order(cuts=cuts, items=(), findings=(), assumptions=())
