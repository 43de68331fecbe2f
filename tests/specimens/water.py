"""A small invented plant, its boat and its routes, built directly: heights and lengths by hand.

Nine hoses: seacock, strainer, feed pump with a bypass around it, prefilters, high-pressure pump,
vessel, panel, overboard and tank. Routes are drawn straight from port to port; their stated length
and bends are what counts for the water.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from fitcheck.findings.said import as_written
from fitcheck.model.found.routes import Bend, HoseRoute, Leg, Routes, Unrouted
from fitcheck.model.found.space import PlacedPort, Space
from fitcheck.model.given.boat import Bearing, BoatPort
from fitcheck.model.given.kit import (
    CurvePoint,
    Duty,
    FeedPump,
    HighPressurePump,
    Hose,
    Kit,
    Line,
    Membrane,
    Module,
    Port,
    PortRef,
    Resistance,
    Sold,
)
from fitcheck.model.given.scenario import LineChoice, Placement, Scenario
from tests.specimens import boat, conditions, hand_made_space, kit, layout, scenario

LITRE_PER_MINUTE = 1.0 / 60_000.0
CUBIC_METRE_PER_HOUR = 1.0 / 3_600.0
OCEAN = 0.03516504

#: Height of every port's owner above the sea [m].
HEIGHTS = {
    "boat.seacock": -0.40,
    "boat.overboard": 0.35,
    "boat.tank": 0.80,
    "strainer": -0.05,
    "feed_pump": -0.10,
    "prefilters": 0.10,
    "hp_pump": 0.25,
    "vessel": 0.45,
    "panel": 0.40,
}
#: line -> from, to, duty, hose
LINES: dict[str, tuple[str, str, Duty, str]] = {
    "sea_to_strainer": ("boat.seacock", "strainer.inlet", "suction", "suction_19"),
    "strainer_to_pump": ("strainer.outlet", "feed_pump.inlet", "suction", "suction_19"),
    "pump_to_filters": ("feed_pump.outlet", "prefilters.inlet", "feed", "feed_12"),
    "bypass": ("feed_pump.bypass_tap", "feed_pump.bypass_return", "bypass", "bypass_9"),
    "filters_to_hp": ("prefilters.outlet", "hp_pump.inlet", "feed", "feed_12"),
    "hp_to_vessel": ("hp_pump.outlet", "vessel.feed", "high pressure", "hp_8"),
    "vessel_to_panel": ("vessel.brine", "panel.brine_in", "high pressure", "hp_8"),
    "overboard": ("panel.brine_out", "boat.overboard", "brine", "feed_12"),
    "product": ("vessel.product", "boat.tank", "product", "product_6"),
}
#: line -> length [m], bends [deg], sum of loss coefficients without its open ends, flow of its
#: valve at 1 bar [m3/h]
RUNS: dict[str, tuple[float, tuple[int, ...], float, float | None]] = {
    "sea_to_strainer": (0.90, (90,), 0.5, None),
    "strainer_to_pump": (1.10, (90, 45), 0.6, None),
    "pump_to_filters": (1.65, (90,) * 3, 1.5, None),
    "bypass": (0.60, (90,) * 2, 3.0, 0.5),
    "filters_to_hp": (1.40, (90,) * 2, 1.5, None),
    "hp_to_vessel": (1.80, (90,) * 3, 2.5, None),
    "vessel_to_panel": (1.20, (90,) * 2, 2.5, None),
    "overboard": (2.40, (90,) * 3, 1.5, None),
    "product": (4.50, (90,) * 5, 2.0, None),
}

#: hose -> bore, outside diameter, radius on the centre line [mm], rating [bar]
HOSES = {
    "suction_19": (19.05, 27.0, 120.0, 5.0),
    "feed_12": (12.7, 19.0, 80.0, 10.0),
    "bypass_9": (9.5, 15.0, 60.0, 10.0),
    "hp_8": (7.9, 15.0, 123.0, 210.0),
    "product_6": (6.0, 8.0, 40.0, 10.0),
}
PUMP_CURVE = ((0, 14.0), (10, 13.5), (20, 12.0), (30, 9.5), (40, 6.0), (50, 1.5))
NPSH_REQUIRED = ((0, 0.6), (10, 0.8), (20, 1.0), (30, 1.4), (40, 2.0))


def a_hose(name: str, **changes: Any) -> Hose:
    """A hose by its row in HOSES; low pressure by the metre, high pressure as assemblies."""
    bore, outside, radius, rating = HOSES.get(name, HOSES["feed_12"])
    plain = Hose(
        name=name,
        bore=bore / 1000,
        outside_diameter=outside / 1000,
        min_bend_radius=radius / 1000,
        bend_radius_at="centre",
        pressure_rating=rating * 1e5,
        wall="reinforced",
        roughness=1.5e-6,
        bore_tolerance=0.0,
        sold=Sold(by="assembly" if rating > 100 else "metre", lengths=(), prices=()),
    )
    return replace(plain, **changes)


def a_line(name: str, **changes: Any) -> Line:
    """A line by its rows in LINES and RUNS."""
    start, end, duty, hose = LINES[name]
    _, _, fittings, valve = RUNS[name]
    plain = Line(
        name=name,
        start=PortRef(**dict(zip(("owner", "port"), start.split("."), strict=True))),
        end=PortRef(**dict(zip(("owner", "port"), end.split("."), strict=True))),
        duty=duty,
        hose=hose,
        fittings=fittings,
        valve_flow=None if valve is None else valve * CUBIC_METRE_PER_HOUR,
        straight=None,
    )
    return replace(plain, **changes)


def curve(rows: Sequence[tuple[float, float]]) -> tuple[CurvePoint, ...]:
    """Rows of litres per minute and metres."""
    return tuple(CurvePoint(flow=flow * LITRE_PER_MINUTE, head=head) for flow, head in rows)


def a_port(name: str, joins: str = "", thread: str = "1/2 in BSP") -> Port:
    """A port at the module's own origin."""
    return Port(
        name=name,
        at=(0.0, 0.0, 0.0),
        direction=(1.0, 0.0, 0.0),
        connection="hose tail 13 mm",
        thread=thread,
        joins=joins,
    )


def a_module(name: str, *ports: Port) -> Module:
    """A module whose size does not matter to the water."""
    return Module(name=name, size=(0.2, 0.2, 0.2), mass=1.0, stands="any", ports=ports, service=())


def plant_kit(**changes: Any) -> Kit:
    """The whole kit."""
    filters_at = 9.5 * LITRE_PER_MINUTE
    plain = kit(
        modules=(
            a_module("strainer", a_port("inlet"), a_port("outlet")),
            a_module(
                "feed_pump",
                a_port("inlet"),
                a_port("outlet"),
                a_port("bypass_tap", joins="outlet"),
                a_port("bypass_return", joins="inlet"),
            ),
            a_module("prefilters", a_port("inlet"), a_port("outlet")),
            a_module("hp_pump", a_port("inlet"), a_port("outlet")),
            a_module("vessel", a_port("feed"), a_port("brine"), a_port("product")),
            a_module("panel", a_port("brine_in"), a_port("brine_out")),
        ),
        lines=tuple(a_line(name) for name in LINES),
        hoses=tuple(a_hose(name) for name in HOSES),
        feed_pump=FeedPump(
            module="feed_pump",
            inlet="inlet",
            outlet="outlet",
            curve=curve(PUMP_CURVE),
            npsh_required=curve(NPSH_REQUIRED),
        ),
        high_pressure_pump=HighPressurePump(
            module="hp_pump",
            inlet="inlet",
            outlet="outlet",
            flow=9.5 * LITRE_PER_MINUTE,
            pressure=55e5,
            relief=68e5,
        ),
        membrane=Membrane(
            module="vessel", feed="feed", brine="brine", product="product", recovery=1.0 / 9.5
        ),
        resistances=(
            Resistance(
                name="strainer",
                module="strainer",
                start="inlet",
                end="outlet",
                loss=1_000.0,
                at_flow=10.0 * LITRE_PER_MINUTE,
                exponent=1.8,
                dirty=9_000.0,
            ),
            Resistance(
                name="prefilters",
                module="prefilters",
                start="inlet",
                end="outlet",
                loss=10_000.0 * 0.95**1.3,
                at_flow=filters_at,
                exponent=1.3,
                dirty=60_000.0,
            ),
        ),
    )
    return replace(plain, **changes)


def plant_scenario(of: Kit | None = None, **water: Any) -> Scenario:
    """The kit in its boat, modules at their heights; `water` goes to the conditions."""
    of = plant_kit() if of is None else of
    states = {"water_temperature_C": (5.0, 25.0), "salinity": (OCEAN,)} | water
    ports = tuple(
        BoatPort(
            name=name,
            role=role,
            at=(0.0, 0.0, HEIGHTS[f"boat.{name}"]),
            bearing=Bearing(frame="boat", vector=(0.0, 0.0, 1.0)),
            connection="hose tail 19 mm",
            thread="3/4 in BSP",
        )
        for name, role in (("seacock", "seacock"), ("overboard", "overboard"), ("tank", "tank"))
    )
    placements = tuple(
        Placement(module=module.name, at=(0.0, 0.0, HEIGHTS[module.name]), rotate=(0.0, 0.0, 0.0))
        for module in of.modules
    )
    return scenario(
        boat("mesh.ply", ports=ports, conditions=conditions(**states)),
        kit=of,
        layout=layout(*placements),
    )


def plant_space(of: Scenario, height_uncertainty: float = 0.0) -> Space:
    """A coarse room around the boat's ports; only the ports and the flotation point matter."""
    ports = tuple(
        PlacedPort(
            name=port.name,
            role=port.role,
            at=port.at,
            direction=(0.0, 0.0, 1.0),
            connection=port.connection,
            thread=port.thread,
        )
        for port in of.boat.ports
    )
    return hand_made_space(pitch=0.25, ports=ports, height_uncertainty=height_uncertainty)


def a_bend(degrees: float, radius: float) -> Bend:
    """A bend of which only angle and radius matter."""
    return Bend(
        centre=(0.0, 0.0, 0.0),
        normal=(0.0, 0.0, 1.0),
        radius=radius,
        angle=math.radians(degrees),
        start=(radius, 0.0, 0.0),
        end=(0.0, radius, 0.0),
    )


def port_position(of: Scenario, ref: PortRef) -> tuple[float, float, float]:
    """Position of a port, with modules not rotated."""
    if ref.owner == "boat":
        return next(port.at for port in of.boat.ports if port.name == ref.port)
    place = of.layout.placement(ref.owner)
    port = next(row for row in of.kit.module(ref.owner).ports if row.name == ref.port)
    x, y, z = (a + b for a, b in zip(place.at, port.at, strict=True))
    return (x, y, z)


def a_route(of: Scenario, line: Line, length: float, bends: Sequence[float]) -> HoseRoute:
    """A route of a stated length and bends; drawn straight."""
    hose = of.hose_of(line)
    start, end = port_position(of, line.start), port_position(of, line.end)
    return HoseRoute(
        line=line.name,
        hose=hose.name,
        length=length,
        bound=length,
        bound_kind="direct",
        smallest_bend_radius=hose.min_bend_radius if bends else None,
        required_bend_radius=hose.min_bend_radius,
        clearance=0.1,
        clearance_to="nothing",
        required_clearance=0.01,
        outside_diameter=hose.outside_diameter,
        uncertainty=0.0,
        start=start,
        start_direction=(1.0, 0.0, 0.0),
        end=end,
        end_direction=(1.0, 0.0, 0.0),
        straight=0.06,
        holes=(),
        legs=(Leg(start=start, end=end),),
        bends=tuple(a_bend(angle, hose.min_bend_radius) for angle in bends),
        path=np.linspace(start, end, 9),
    )


def plant_routes(of: Scenario, lost: Sequence[str] = (), **lengths: float) -> Routes:
    """Routes of all lines; `lost` ones have no route, `lengths` replace the plant's [m]."""
    hoses = []
    for line in of.kit.lines:
        length, bends, _, _ = RUNS[line.name]
        route = a_route(of, line, lengths.get(line.name, length), bends)
        hoses.append(unrouted(route) if line.name in lost else route)
    return Routes(hoses=tuple(hoses), findings=(), assumptions=())


def unrouted(route: HoseRoute) -> Unrouted:
    """The same line without a route."""
    return Unrouted(
        line=route.line,
        hose=route.hose,
        said=as_written("no way found at this resolution"),
        nearest_approach=route.end,
        missing=0.1,
        bound=route.bound,
        required_bend_radius=route.required_bend_radius,
        required_clearance=route.required_clearance,
        outside_diameter=route.outside_diameter,
        start=route.start,
        start_direction=route.start_direction,
        end=route.end,
        end_direction=route.end_direction,
    )


def with_line(of: Kit, name: str, **changes: Any) -> Kit:
    """The kit with one line changed."""
    lines = tuple(replace(line, **changes) if line.name == name else line for line in of.lines)
    return replace(of, lines=lines)


def with_hose(of: Kit, hose: Hose) -> Kit:
    """The kit with a hose type replaced or added."""
    return replace(of, hoses=(*(row for row in of.hoses if row.name != hose.name), hose))


def within(of: Kit, bore_tolerance: float) -> Kit:
    """The kit with a tolerance on bores."""
    hoses = tuple(replace(hose, bore_tolerance=bore_tolerance) for hose in of.hoses)
    return replace(of, hoses=hoses)


def with_choice(of: Scenario, line: str, hose: str) -> Scenario:
    """The scenario with a layout that assigns one line another hose."""
    choice = LineChoice(line=line, holes=(), hose=hose)
    kept = tuple(row for row in of.layout.choices if row.line != line)
    return replace(of, layout=replace(of.layout, choices=(*kept, choice)))
