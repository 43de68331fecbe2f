"""A whole Result by hand: nine lines, one without a way, a filter bowl that cannot drop.

The boat, the kit and every figure are invented; no stage has computed any of it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import as_written, say
from fitcheck.geometry.box import Box, as_point, grown, placed_box
from fitcheck.geometry.grid import Grid
from fitcheck.model.contact import Contact
from fitcheck.model.finding import Assumption, Change, Finding, Remedy
from fitcheck.model.found.fit import FaceGap, Fit, ModuleFit, ServiceFit
from fitcheck.model.found.hydraulics import (
    BackPressure,
    Hydraulics,
    LineLoss,
    LineSummary,
    PumpState,
    RuleOfThumb,
    State,
)
from fitcheck.model.found.order import Cut, Order, OrderItem
from fitcheck.model.found.routes import Bend, HoseRoute, Leg, Routes, Unrouted
from fitcheck.model.found.space import FREE, SOLID, UNSEEN, Frame, PlacedPort, PlacedVolume, Space
from fitcheck.model.given.boat import Boat, Centreline, Conditions, Datum, TapeMeasure
from fitcheck.model.given.kit import (
    Allowances,
    CurvePoint,
    Duty,
    FeedPump,
    HighPressurePump,
    Hose,
    Kit,
    Limits,
    Line,
    Membrane,
    Module,
    Port,
    PortRef,
    ServiceClearance,
    Sold,
)
from fitcheck.model.given.scenario import InputFile, Layout, LineChoice, Placement
from fitcheck.model.given.scenario import Scenario as ScenarioFiles
from fitcheck.model.result import Result
from tests.specimens import unsure

Corner = tuple[float, float, float]
LITRE_PER_MINUTE = 1e-3 / 60
SUCTION_STATE = "20 deg starboard, 5 degC, filters dirty"
STATES = ("upright, 30 degC, filters clean", SUCTION_STATE)

MODULES: dict[str, tuple[Corner, float, Corner]] = {
    "strainer": ((0.11, 0.11, 0.19), 1.2, (-0.95, -0.50, -0.36)),
    "feed_pump": ((0.22, 0.12, 0.14), 3.4, (-0.35, -0.50, -0.36)),
    "prefilters": ((0.30, 0.15, 0.40), 4.5, (0.35, -0.62, -0.10)),
    "hp_pump": ((0.48, 0.24, 0.26), 28.0, (-0.55, 0.30, -0.36)),
    "vessel": ((1.18, 0.21, 0.13), 16.0, (0.05, 0.85, 0.35)),
    "valve_panel": ((0.13, 0.26, 0.30), 4.8, (1.30, 0.10, 0.20)),
}

#: line: (start, end, duty, hose, corners of the run)
LINES: dict[str, tuple[str, str, Duty, str, list[Corner]]] = {
    "sea_to_strainer": (
        "boat.seacock",
        "strainer.inlet",
        "suction",
        "suction_19",
        [
            (-1.35, -0.50, -0.30),
            (-1.35, -0.50, -0.10),
            (-1.15, -0.50, -0.22),
            (-1.005, -0.5, -0.22),
        ],
    ),
    "strainer_to_pump": (
        "strainer.outlet",
        "feed_pump.inlet",
        "suction",
        "suction_19",
        [
            (-0.895, -0.50, -0.22),
            (-0.75, -0.50, -0.22),
            (-0.60, -0.50, -0.29),
            (-0.46, -0.5, -0.29),
        ],
    ),
    "pump_to_filters": (
        "feed_pump.outlet",
        "prefilters.inlet",
        "feed",
        "feed_13",
        [(-0.30, -0.50, -0.22), (-0.30, -0.50, 0.20), (0.00, -0.62, 0.20), (0.20, -0.62, 0.20)],
    ),
    "bypass": (
        "feed_pump.bypass",
        "feed_pump.bypass_return",
        "bypass",
        "bypass_10",
        [(-0.40, -0.50, -0.22), (-0.40, -0.50, 0.0), (-0.40, -0.28, 0.0), (-0.40, -0.28, -0.32)],
    ),
    "filters_to_hp_pump": (
        "prefilters.outlet",
        "hp_pump.inlet",
        "feed",
        "feed_13",
        [(0.50, -0.62, 0.20), (0.72, -0.62, 0.20), (0.72, 0.30, -0.23), (-0.31, 0.30, -0.23)],
    ),
    "hp_pump_to_vessel": (
        "hp_pump.outlet",
        "vessel.feed",
        "high pressure",
        "high_pressure_8",
        [(-0.60, 0.30, -0.10), (-0.60, 0.30, 0.30), (-0.95, 0.85, 0.42), (-0.54, 0.85, 0.42)],
    ),
    "vessel_to_panel": (
        "vessel.brine",
        "valve_panel.inlet",
        "high pressure",
        "high_pressure_8",
        [(0.64, 0.85, 0.42), (0.95, 0.85, 0.42), (0.95, 0.10, 0.35), (1.235, 0.10, 0.35)],
    ),
    "brine_overboard": (
        "valve_panel.brine",
        "boat.outlet",
        "brine",
        "feed_13",
        [(1.30, 0.23, 0.35), (1.30, 0.55, 0.35), (1.30, 0.55, 0.60), (1.30, 1.00, 0.60)],
    ),
    "product_to_tank": (
        "vessel.product",
        "boat.tank",
        "product",
        "product_6",
        [(0.0, 0.745, 0.42), (-1.4, 0.5, 0.6)],
    ),
}

#: hose: bore, outside diameter, bend radius, pressure rating, how sold
HOSES: dict[str, tuple[float, float, float, float, Sold]] = {
    "suction_19": (0.019, 0.027, 0.12, 5e5, Sold(by="metre", lengths=(), prices=(6.5,))),
    "feed_13": (0.0127, 0.019, 0.08, 10e5, Sold(by="roll", lengths=(5.0, 10.0), prices=(14, 25))),
    "bypass_10": (0.0095, 0.015, 0.06, 10e5, Sold(by="roll", lengths=(5.0,), prices=(11.0,))),
    "high_pressure_8": (0.0079, 0.015, 0.12, 210e5, Sold(by="assembly", lengths=(), prices=())),
    "product_6": (0.006, 0.008, 0.04, 10e5, Sold(by="roll", lengths=(10.0,), prices=(9.0,))),
}


def specimen_result() -> Result:
    """The whole specimen, verdict fail."""
    return Result(
        scenario=scenario(),
        space=space(),
        fit=fit(),
        routes=routes(),
        hydraulics=hydraulics(),
        order=order(),
    )


def renamed_result(old: str, new: str) -> Result:
    """The specimen with a module or line called otherwise wherever it is named."""
    changed = _renamed(specimen_result(), old, new)
    assert isinstance(changed, Result)
    return changed


def _renamed(item: object, old: str, new: str) -> object:
    if isinstance(item, str):
        return item.replace(old, new)
    if isinstance(item, tuple):
        return tuple(_renamed(part, old, new) for part in item)
    if hasattr(item, "__dataclass_fields__"):
        fields = item.__dataclass_fields__
        return replace(item, **{key: _renamed(getattr(item, key), old, new) for key in fields})
    return item


# --- what the user wrote ----------------------------------------------------------------------


def scenario() -> ScenarioFiles:
    """Boat, kit and layout."""
    return ScenarioFiles(
        name="Specimen with a bowl that cannot drop",
        about="invented example",
        boat=boat(),
        kit=kit(),
        layout=layout(),
        boat_file="boat.toml",
        kit_file="kit.toml",
        layout_file="layout.toml",
        inputs=tuple(
            InputFile(path=path, sha256=f"{index:x}" * 64)
            for index, path in enumerate(("boat.toml", "kit.toml", "layout.toml", "scan.ply"), 1)
        ),
    )


def boat() -> Boat:
    """A compartment aft, scanned."""
    return Boat(
        name="Invented ten-metre boat",
        mesh="scan.ply",
        origin="scan",
        unit=None,
        tape_measures=(
            TapeMeasure(start=(0.0, 0.0, 0.0), end=(0.0, 0.0, 1.9), length=1.9),
            TapeMeasure(start=(0.0, 0.0, 0.0), end=(1.2, 0.0, 0.0), length=1.21),
        ),
        scan_accuracy=None,
        up=(0.0, 1.0, 0.0),
        forward=(0.0, 0.0, -1.0),
        waterline=(),
        datum=Datum(point=(0.0, 0.0, 0.0), above_sea=0.12, taken="clear hose on the seacock"),
        centreline=Centreline(point=(0.0, 0.0, 0.0), offset=0.35),
        flotation=None,
        inside=(0.0, 0.3, 0.0),
        viewpoints=((0.0, 0.5, 0.0), (0.4, 0.5, 0.0)),
        crop=(),
        lids=(),
        keep_outs=(),
        solids=(),
        declared_free=(),
        ports=(),
        holes=(),
        hatch=None,
        conditions=Conditions(
            heel=(0.0, math.radians(20)),
            trim=(0.0,),
            water_temperature_C=(5.0, 30.0),
            salinity=(0.0352,),
            atmosphere=101_300.0,
        ),
    )


def kit() -> Kit:
    """Six modules, nine lines, five hoses."""
    pump_curve = tuple(
        CurvePoint(flow=flow * LITRE_PER_MINUTE, head=head) for flow, head in ((0, 14), (30, 9.5))
    )
    return Kit(
        name="Invented kit, 60 L/h",
        modules=tuple(module(name) for name in MODULES),
        lines=tuple(line(name) for name in LINES),
        hoses=tuple(hose(name) for name in HOSES),
        feed_pump=FeedPump(
            module="feed_pump",
            inlet="inlet",
            outlet="outlet",
            curve=pump_curve,
            npsh_required=pump_curve,
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
            module="vessel", feed="feed", brine="brine", product="product", recovery=0.105
        ),
        resistances=(),
        limits=Limits(
            suction_vacuum_ok=1e4,
            suction_vacuum_max=2.5e4,
            npsh_margin=1.0,
            npsh_ratio=1.3,
            inlet_pressure_min=2e4,
            product_back_pressure_max=3e4,
            brine_back_pressure_max=5e4,
            high_pressure_loss_max=0.03,
            given=(),
        ),
        allowances=Allowances(
            hose_clearance=0.01,
            hose_gap=0.005,
            box_gap=0.01,
            straight=0.06,
            end_allowance=0.025,
            slack=0.03,
            rounding=0.01,
            high_pressure_slack=0.04,
            given=("slack",),
        ),
    )


def module(name: str) -> Module:
    """One module; the filters need room below for the bowl."""
    size, mass, _ = MODULES[name]
    service = (
        (ServiceClearance(face="base", depth=0.12, kind="withdrawal"),)
        if name == "prefilters"
        else (ServiceClearance(face="front", depth=0.05, kind="access"),)
    )
    inlet = Port(
        name="inlet",
        at=(-size[0] / 2, 0.0, size[2] / 2),
        direction=(-1.0, 0.0, 0.0),
        connection="hose tail 13 mm",
        thread="1/2 in BSP",
        joins="",
    )
    return Module(
        name=name, size=size, mass=mass, stands="upright", ports=(inlet,), service=service
    )


def line(name: str) -> Line:
    """One line."""
    start, end, duty, hose_name, _ = LINES[name]
    return Line(
        name=name,
        start=PortRef(owner=start.split(".")[0], port=start.split(".")[1]),
        end=PortRef(owner=end.split(".")[0], port=end.split(".")[1]),
        duty=duty,
        hose=hose_name,
        fittings=1.0,
        valve_flow=None,
        straight=None,
    )


def hose(name: str) -> Hose:
    """One hose type."""
    bore, outside_diameter, radius, rating, sold = HOSES[name]
    return Hose(
        name=name,
        bore=bore,
        outside_diameter=outside_diameter,
        min_bend_radius=radius,
        bend_radius_at="centre",
        pressure_rating=rating,
        wall="reinforced",
        roughness=1.5e-6,
        sold=sold,
    )


def layout() -> Layout:
    """Every module unturned."""
    return Layout(
        name="first try",
        placements=tuple(
            Placement(module=name, at=at, rotate=(0.0, 0.0, 0.0))
            for name, (_, _, at) in MODULES.items()
        ),
        choices=(LineChoice(line="product_to_tank", holes=("bulkhead_hole",), hose=""),),
        pitch=0.015,
    )


# --- space ------------------------------------------------------------------------------------


def space() -> Space:
    """A bay of a hull, open above, with the ends closed."""
    grid = Grid(origin=(-1.75, -1.4, -0.6), pitch=0.25, shape=(14, 12, 7))
    label = np.full(grid.shape, FREE, dtype=np.uint8)
    label[:, 0], label[0] = SOLID, UNSEEN
    return Space(
        frame=Frame(
            scale=1.008,
            turn=((0.0, 0.0, -1.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
            shift=(0.0, 0.0, 0.12),
        ),
        grid=grid,
        triangles=bay(),
        label=label,
        distance=np.zeros(grid.shape, dtype=np.float32),
        inside=(0.0, 0.0, 0.3),
        flotation=(0.0, 0.0, 0.0),
        viewpoints=((0.0, 0.0, 0.5), (0.4, 0.0, 0.5)),
        ports=(
            PlacedPort(
                name="seacock",
                role="seacock",
                at=(-1.35, -0.5, -0.3),
                direction=(0.0, 0.0, 1.0),
                connection="hose tail 19 mm",
                thread="3/4 in BSP",
            ),
        ),
        holes=(),
        keep_outs=(
            PlacedVolume(
                name="engine",
                box=placed_box((0.7, 0.5, 0.6), (0.55, 0.05, -0.36), (0.0, 0.0, 0.0)),
                why="hot",
            ),
        ),
        solids=(),
        declared_free=(),
        hatch=(),
        uncertainty=unsure(accuracy=0.02, scale_uncertainty=0.004, height_uncertainty=0.02),
        raw_triangles=412_345,
        dropped=("213 floating bits",),
        findings=(
            Finding(
                severity="note",
                rule="unseen-space",
                subject="aft end",
                said=as_written(
                    "0.9 m3 was never seen by the scanner and is closed to boxes and hoses."
                ),
                source="the scan",
                value=0.9,
                unit="m3",
            ),
        ),
        assumptions=(
            Assumption(
                said=as_written("scan accuracy"),
                taken=as_written("20 mm"),
                source="common practice, no source",
                can_flip=True,
            ),
            Assumption(
                said=as_written("the boat heels about"),
                taken=as_written("the centreline at the inside point"),
                source="no flotation point given",
                can_flip=False,
            ),
        ),
    )


def bay(stations: int = 48, heights: int = 24) -> NDArray[np.float64]:
    """Hull sides with a little noise, a flat bottom and two bulkheads: (n, 3, 3) [m]."""
    noise = np.random.default_rng(7)
    x = np.linspace(-1.7, 1.7, stations)
    girth = np.linspace(-1.0, 1.0, 2 * heights)
    height = 0.75 * np.abs(girth) ** 2.2 * 1.5 - 0.38
    breadth = np.sign(girth) * 1.3 * np.sin(np.pi / 2 * np.abs(girth) ** 0.6)
    taper = 1.0 - 0.04 * (x + 0.4) ** 2
    points = np.stack(
        [
            np.repeat(x[:, None], len(girth), axis=1),
            taper[:, None] * breadth,
            np.repeat(height[None], stations, axis=0),
        ],
        axis=-1,
    )
    points += noise.normal(scale=0.004, size=points.shape)
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
    sides = np.concatenate([np.stack([a, b, c], axis=-2), np.stack([a, c, d], axis=-2)])
    ends = [_bulkhead(points[station]) for station in (0, -1)]
    return np.concatenate([sides.reshape(-1, 3, 3), *ends])


def _bulkhead(outline: NDArray[np.float64]) -> NDArray[np.float64]:
    half = len(outline) // 2
    starboard, port = outline[:half][::-1], outline[half:]
    a, b, c, d = starboard[:-1], starboard[1:], port[1:], port[:-1]
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])


# --- fit --------------------------------------------------------------------------------------


def placed(name: str) -> Box:
    """The box of a module where it stands."""
    size, _, at = MODULES[name]
    return placed_box(size, at, (0.0, 0.0, 0.0))


def fit() -> Fit:
    """Everything fits but the bowl of the prefilters; the vessel is tight."""
    return Fit(
        modules=tuple(module_fit(name) for name in MODULES),
        findings=(
            Finding(
                severity="fail",
                rule="service-clearance",
                subject="prefilters",
                said=as_written(
                    "The bowl of prefilters needs 120 mm below; it meets the scan after 70 mm."
                ),
                source="kit.toml",
                value=0.07,
                limit=0.12,
                unit="m",
                place=(0.35, -0.62, -0.17),
                remedy=Remedy(
                    said=as_written("Raise prefilters by 60 mm."),
                    changes=(
                        Change(
                            file="layout.toml",
                            key="layout.modules.prefilters.at",
                            value=("0.350 m", "-0.620 m", "-0.040 m"),
                        ),
                    ),
                ),
            ),
            Finding(
                severity="caution",
                rule="gap",
                subject="vessel",
                said=as_written(
                    "The vessel stands 14 mm from the scan; the scan is good to 20 mm."
                ),
                source="common practice, no source",
                value=0.014,
                limit=0.03,
                unit="m",
                place=(0.05, 0.96, 0.4),
            ),
        ),
        assumptions=(),
    )


def met(subject: str, gap: float) -> Contact:
    """A contact that is known exactly."""
    return Contact(kind="solid", subject=subject, gap=gap, uncertainty=0.0)


def module_fit(name: str) -> ModuleFit:
    """One module in its place."""
    box = placed(name)
    gap = {"vessel": 0.014, "prefilters": 0.06}.get(name, 0.085)
    bowl = name == "prefilters"
    return ModuleFit(
        name=name,
        verdict="tight" if name == "vessel" else "fits",
        box=box,
        mass=MODULES[name][1],
        contacts=(met("scan", gap),),
        faces=(FaceGap(face="left", contacts=(met("scan", gap),)),),
        service=(
            ServiceFit(
                face="base" if bowl else "front",
                kind="withdrawal" if bowl else "access",
                wanted=0.12 if bowl else 0.05,
                contacts=(met("scan", 0.07) if bowl else met("", 0.05),),
                verdict="does not fit" if bowl else "clear",
                box=grown(box, "base" if bowl else "front", 0.12 if bowl else 0.05),
            ),
        ),
    )


# --- routes -----------------------------------------------------------------------------------


def routes() -> Routes:
    """Eight hoses on their corners, and one that found no way."""
    product = LINES["product_to_tank"][4]
    lost = Unrouted(
        line="product_to_tank",
        hose="product_6",
        said=as_written("No way of bend radius 40 mm was found at a cell size of 15 mm."),
        nearest_approach=(-1.1, 0.6, 0.5),
        missing=0.31,
        bound=math.dist(*product),
        required_bend_radius=0.04,
        required_clearance=0.01,
        outside_diameter=0.008,
        start=product[0],
        start_direction=(0.0, -1.0, 0.0),
        end=product[1],
        end_direction=(-1.0, 0.0, 0.0),
    )
    found = tuple(routed(name) for name in LINES if name != "product_to_tank")
    return Routes(
        hoses=(*found, lost),
        findings=(
            Finding(
                severity="fail",
                rule="no-route",
                subject="product_to_tank",
                said=as_written(
                    "No way was found for product_to_tank; the nearest try ends 310 mm short."
                ),
                source="the scan",
                value=0.31,
                limit=0.0,
                unit="m",
                place=(-1.1, 0.6, 0.5),
                remedy=Remedy(said=as_written("Declare a hole in the aft bulkhead for it.")),
            ),
        ),
        assumptions=(),
    )


def routed(name: str) -> HoseRoute:
    """A hose along the corners of its line."""
    hose_name, corners = LINES[name][3], LINES[name][4]
    _, outside_diameter, radius, _, _ = HOSES[hose_name]
    legs, bends = legs_and_bends(corners, radius / 2 if name == "strainer_to_pump" else radius)
    path = points_along(legs, bends)
    length = sum(math.dist(leg.start, leg.end) for leg in legs)
    length += sum(bend.radius * bend.angle for bend in bends)
    direct = name == "sea_to_strainer"
    return HoseRoute(
        line=name,
        hose=hose_name,
        length=length,
        bound=length if direct else 0.968 * length,
        bound_kind="direct" if direct else "unobstructed",
        smallest_bend_radius=min(bend.radius for bend in bends),
        required_bend_radius=radius,
        clearance=0.013,
        clearance_to="scan",
        required_clearance=0.01,
        outside_diameter=outside_diameter,
        uncertainty=0.02,
        start=corners[0],
        start_direction=_direction(corners[0], corners[1]),
        end=corners[-1],
        end_direction=_direction(corners[-2], corners[-1]),
        straight=0.06,
        holes=(),
        legs=legs,
        bends=bends,
        path=path,
    )


def legs_and_bends(
    corners: list[Corner], radius: float
) -> tuple[tuple[Leg, ...], tuple[Bend, ...]]:
    """A polyline with every inner corner rounded, the radius eased where a leg is too short."""
    points = [np.array(corner) for corner in corners]
    ways = [(b - a) / np.linalg.norm(b - a) for a, b in zip(points, points[1:], strict=False)]
    bends = []
    for index in range(1, len(points) - 1):
        before, after = ways[index - 1], ways[index]
        angle = math.acos(float(np.clip(before @ after, -1.0, 1.0)))
        room = 0.49 * min(math.dist(points[index], points[index + way]) for way in (-1, 1))
        tangent = min(radius * math.tan(angle / 2), room)
        normal = np.cross(before, after) / np.linalg.norm(np.cross(before, after))
        turn = tangent / math.tan(angle / 2)
        start = points[index] - tangent * before
        bends.append(
            Bend(
                centre=as_point(start + turn * np.cross(normal, before)),
                normal=as_point(normal),
                radius=turn,
                angle=angle,
                start=as_point(start),
                end=as_point(points[index] + tangent * after),
            )
        )
    starts = [corners[0], *(bend.end for bend in bends)]
    ends = [*(bend.start for bend in bends), corners[-1]]
    return tuple(Leg(start=a, end=b) for a, b in zip(starts, ends, strict=True)), tuple(bends)


def points_along(legs: tuple[Leg, ...], bends: tuple[Bend, ...]) -> NDArray[np.float64]:
    """Points at most 5 mm apart."""
    pieces = []
    for index, leg in enumerate(legs):
        count = max(2, math.ceil(math.dist(leg.start, leg.end) / 0.004))
        pieces.append(np.linspace(leg.start, leg.end, count))
        if index < len(bends):
            pieces.append(_arc(bends[index]))
    return np.concatenate(pieces)


def _arc(bend: Bend) -> NDArray[np.float64]:
    count = max(3, math.ceil(bend.radius * bend.angle / 0.004))
    angles = np.linspace(0.0, bend.angle, count)[1:-1, None]
    arm = np.subtract(bend.start, bend.centre)
    return bend.centre + np.cos(angles) * arm + np.sin(angles) * np.cross(bend.normal, arm)


def _direction(start: Corner, end: Corner) -> Corner:
    way = np.subtract(end, start)
    return as_point(way / np.linalg.norm(way))


# --- water ------------------------------------------------------------------------------------


def hydraulics() -> Hydraulics:
    """Two states; the feed pump is fed with little to spare."""
    return Hydraulics(
        states=(
            State(
                name=STATES[0],
                heel=0.0,
                trim=0.0,
                temperature_C=30.0,
                salinity=0.0352,
                dirty=False,
            ),
            State(
                name=STATES[1],
                heel=math.radians(20),
                trim=0.0,
                temperature_C=5.0,
                salinity=0.0352,
                dirty=True,
                fouled=True,
            ),
        ),
        lines=tuple(loss(name, state) for name in LINES for state in STATES),
        pumps=(
            pump_state(STATES[0], vacuum=-1_200.0, available=9.6, inlet=98_000.0),
            pump_state(STATES[1], vacuum=14_300.0, available=7.9, inlet=35_000.0),
            replace(
                pump_state(STATES[1], vacuum=0.0, available=0.0, inlet=35_000.0),
                pump="hp_pump",
                suction_vacuum=None,
                npsh_available=None,
                npsh_required=None,
                bypass_flow=None,
                head=None,
            ),
        ),
        summaries=tuple(summary(name) for name in LINES if name != "product_to_tank"),
        rules=(
            RuleOfThumb(
                read_as=say("rule-of-thumb.bore"),
                size=0.0127,
                length=1.34,
                good=3.048,
                most=4.572,
                said=say("rule-of-thumb.good"),
                agrees=True,
                because=as_written("Both find the suction side short enough."),
            ),
            RuleOfThumb(
                read_as=say("rule-of-thumb.outside"),
                size=0.0127,
                length=1.34,
                good=3.048,
                most=4.572,
                said=as_written("use three-quarter inch"),
                agrees=False,
                because=as_written(
                    "A tube of that outside diameter has a bore of 9.5 mm and loses four times as "
                    "much."
                ),
            ),
        ),
        back_pressures=(
            BackPressure(
                outlet="brine_overboard",
                running=11_800.0,
                running_state=STATES[1],
                stopped=6_000.0,
                stopped_state=STATES[1],
                limit=50_000.0,
            ),
        ),
        findings=(
            Finding(
                severity="caution",
                rule="suction-vacuum",
                subject="feed_pump",
                said=as_written(
                    "The feed pump draws a vacuum of 0.143 bar at 20 deg starboard; above 0.10 "
                    "bar it is worth shortening the suction hose."
                ),
                source="common practice, no source",
                value=14_300.0,
                limit=10_000.0,
                unit="Pa",
                remedy=Remedy(
                    said=as_written("Use a larger suction hose."),
                    changes=(
                        Change(
                            file="layout.toml",
                            key="layout.lines.sea_to_strainer.hose",
                            value="suction_25",
                        ),
                    ),
                ),
            ),
        ),
        assumptions=(
            Assumption(
                said=as_written("atmosphere"),
                taken=as_written("1013 hPa"),
                source="standard atmosphere",
                can_flip=False,
            ),
        ),
    )


def loss(name: str, state: str) -> LineLoss:
    """Round numbers of one line in one state."""
    return LineLoss(
        line=name,
        state=state,
        flow=9.5 * LITRE_PER_MINUTE,
        velocity=0.558,
        reynolds=9_800.0,
        friction_factor=0.031,
        friction_loss=310.0,
        bend_loss=45.0,
        fitting_loss=160.0,
        static=-250.0,
    )


def pump_state(state: str, *, vacuum: float, available: float, inlet: float) -> PumpState:
    """The feed pump in one state."""
    return PumpState(
        pump="feed_pump",
        state=state,
        flow=18.2 * LITRE_PER_MINUTE,
        suction_vacuum=vacuum,
        npsh_available=available,
        npsh_required=1.0,
        bypass_flow=8.7 * LITRE_PER_MINUTE,
        head=12.3,
        inlet_pressure=inlet,
    )


def summary(name: str) -> LineSummary:
    """The row of one line."""
    corners = LINES[name][4]
    rise = corners[-1][2] - corners[0][2]
    return LineSummary(
        line=name,
        state=SUCTION_STATE,
        flow=9.5 * LITRE_PER_MINUTE,
        velocity=1.25,
        loss=3_300.0 if LINES[name][2] != "high pressure" else 46_000.0,
        lift=rise,
        worst_lift=rise + 0.11,
        severity=None,
        said=as_written("ok, a third of what it may lose"),
    )


# --- order ------------------------------------------------------------------------------------


def order() -> Order:
    """What the eight routed hoses need."""
    found = [hose for hose in routes().hoses if isinstance(hose, HoseRoute)]
    return Order(
        cuts=tuple(
            Cut(
                line=hose.line,
                hose=hose.hose,
                routed_length=hose.length,
                cut_length=math.ceil((1.03 * hose.length + 0.05) * 100) / 100,
                said=as_written("3 % slack, 25 mm at each end, rounded up to 10 mm"),
            )
            for hose in found
        ),
        items=(
            OrderItem(
                said=as_written("suction_19, bore 19 mm, by the metre"),
                quantity=1.4,
                unit="m",
                length=None,
                for_lines=("sea_to_strainer", "strainer_to_pump"),
                price=9.1,
            ),
            OrderItem(
                said=as_written("feed_13, bore 12.7 mm, roll"),
                quantity=1.0,
                unit="piece",
                length=10.0,
                for_lines=("pump_to_filters", "filters_to_hp_pump", "brine_overboard"),
                remark=as_written("leaves 4.9 m"),
                price=25.0,
            ),
            OrderItem(
                said=as_written("high_pressure_8 assembly, 3/8 in ends"),
                quantity=1.0,
                unit="piece",
                length=1.45,
                for_lines=("hp_pump_to_vessel",),
                remark=as_written(
                    "must not run straight: it shortens by up to 4 % under pressure"
                ),
                price=None,
            ),
            OrderItem(
                said=as_written("hose tail 13 mm to 1/2 in BSP"),
                quantity=6.0,
                unit="piece",
                length=None,
                for_lines=("pump_to_filters", "filters_to_hp_pump", "brine_overboard"),
                price=None,
            ),
        ),
        findings=(),
        assumptions=(),
    )
