"""Convert validated tables to the frozen model."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from fitcheck.geometry.box import FACES
from fitcheck.model.given import boat as boat_model
from fitcheck.model.given import kit as kit_model
from fitcheck.model.given.kit import usual_faces
from fitcheck.model.given.scenario import Layout, LineChoice, Placement
from fitcheck.scenario.schema import boat_schema as boat
from fitcheck.scenario.schema import kit_schema as kit
from fitcheck.scenario.schema.quantities import Way, unit_vector
from fitcheck.units import MESH_UNITS, Direction, Metre, Picked


def build_boat(table: boat.BoatTable, name: str, files: Mapping[str, str]) -> boat_model.Boat:
    """The boat; `name` is used if the file gives none; files : the paths found, by their key."""
    return boat_model.Boat(
        name=table.name or name,
        mesh=files["mesh"],
        rays=files.get("rays", ""),
        stations=files.get("stations", ""),
        origin=table.origin,
        unit=None if table.unit is None else MESH_UNITS[table.unit],
        tape_measures=tuple(
            boat_model.TapeMeasure(
                start=tape.start, end=tape.end, length=tape.length, within=tape.within
            )
            for tape in table.tape
        ),
        scan_accuracy=table.scan_accuracy,
        up=table.up,
        forward=table.forward,
        waterline=tuple(table.waterline),
        datum=table.datum.datum() if table.datum else None,
        centreline=_centreline(table.centreline),
        flotation=table.flotation,
        inside=table.inside,
        viewpoints=tuple(table.viewpoints),
        crop=tuple(table.crop),
        lids=tuple(
            boat_model.Lid(name=lid.name, corners=tuple(lid.corners)) for lid in table.lids
        ),
        keep_outs=_volumes(table.keep_outs),
        solids=_volumes(table.solids),
        declared_free=_volumes(table.declared_free),
        ports=tuple(_boat_port(name, port) for name, port in table.ports.items()),
        holes=tuple(_hole(name, hole) for name, hole in table.holes.items()),
        hatch=_hatch(table.hatch),
        conditions=_conditions(table.conditions),
        level=tuple(table.level),
        boards=tuple(_board(board) for board in table.boards),
        checked=tuple(
            boat_model.Checked(
                of=row.of,
                at=row.at,
                gap=row.gap,
                position=row.position,
            )
            for row in table.checked
        ),
    )


def _board(table: boat.BoardTable) -> boat_model.Board:
    return boat_model.Board(
        name=table.name,
        corners=tuple(table.corners),
        thickness=table.thickness,
        state=table.state,
        grows=None if table.grows is None else _bearing(table.grows, table.corners[0].at),
    )


def _centreline(table: boat.CentrelineTable | None) -> boat_model.Centreline | None:
    if table is None:
        return None
    sign = 1.0 if table.side == "port" else -1.0
    return boat_model.Centreline(point=table.point, offset=sign * table.offset)


def _volumes(tables: list[boat.VolumeTable]) -> tuple[boat_model.Volume, ...]:
    return tuple(
        boat_model.Volume(
            name=table.name,
            corners=tuple(table.corners),
            why=table.why,
            distance=table.distance,
        )
        for table in tables
    )


def _bearing(way: Way, own: Picked) -> boat_model.Bearing:
    vector = way.vector if way.towards is None else unit_vector(own, way.towards)
    if vector is None:
        raise ValueError("a direction towards its own point")
    return boat_model.Bearing(frame=way.frame, vector=vector)


def _boat_port(name: str, table: boat.BoatPortTable) -> boat_model.BoatPort:
    return boat_model.BoatPort(
        name=name,
        role=table.role,
        at=table.at,
        bearing=_bearing(table.direction, table.at),
        connection=table.connection,
        thread=table.thread,
        opening_below=table.opening_below,
    )


def _hole(name: str, table: boat.HoleTable) -> boat_model.Hole:
    return boat_model.Hole(
        name=name,
        centre=table.centre,
        bearing=_bearing(table.direction, table.centre),
        diameter=table.diameter,
    )


def _hatch(table: boat.HatchTable | None) -> boat_model.Lid | None:
    return boat_model.Lid(name="hatch", corners=tuple(table.corners)) if table else None


def _conditions(table: boat.ConditionsTable) -> boat_model.Conditions:
    return boat_model.Conditions(
        heel=tuple(table.heel),
        trim=tuple(table.trim),
        water_temperature_C=tuple(table.water_temperature),
        salinity=tuple(table.salinity),
        atmosphere=table.atmosphere,
        given=tuple(sorted(table.model_fields_set)),
    )


# --- kit --------------------------------------------------------------------------------------


def build_kit(table: kit.KitTable, name: str) -> kit_model.Kit:
    """The kit; `name` is used if the file gives none."""
    return kit_model.Kit(
        name=table.name or name,
        modules=tuple(_module(name, module) for name, module in table.modules.items()),
        lines=tuple(_line(name, line) for name, line in table.lines.items()),
        hoses=tuple(_hose(name, hose) for name, hose in table.hoses.items()),
        fittings=tuple(_fitting(name, one) for name, one in table.fittings.items()),
        feed_pump=_feed_pump(table.feed_pump),
        high_pressure_pump=_high_pressure_pump(table.high_pressure_pump),
        membrane=_membrane(table.membrane),
        resistances=tuple(_resistance(name, one) for name, one in table.resistances.items()),
        flush=_flush(table.flush),
        consumers=tuple(_consumer(name, one) for name, one in table.consumers.items()),
        limits=_limits(table.limits),
        allowances=_allowances(table.allowances),
    )


def _module(name: str, table: kit.ModuleTable) -> kit_model.Module:
    return kit_model.Module(
        name=name,
        size=table.size,
        mass=table.mass,
        stands=table.stands,
        ports=tuple(_port(port, below) for port, below in table.ports.items()),
        service=(*_service(table.access, "access"), *_service(table.withdrawal, "withdrawal")),
        holds=table.holds,
        fixed_by=tuple(dict.fromkeys(table.fixed_by)) or usual_faces(table.stands),
        fixing_given=bool(table.fixed_by),
    )


def _face_vector(face: kit_model.Face) -> Direction:
    axis, sign = FACES[face]
    x, y, z = (float(sign) if n == axis else 0.0 for n in range(3))
    return (x, y, z)


def _port(name: str, table: kit.ModulePortTable) -> kit_model.Port:
    return kit_model.Port(
        name=name,
        at=table.at,
        direction=_face_vector(table.direction),
        connection=table.connection,
        thread=table.thread,
        joins=table.joins.strip(),
        fittings=tuple(dict.fromkeys(name.strip() for name in table.fittings)),
        turns=tuple(_face_vector(face) for face in dict.fromkeys(table.turns)),
    )


def _fitting(name: str, table: kit.FittingTable) -> kit_model.Fitting:
    return kit_model.Fitting(
        name=name,
        kind=table.kind,
        connection=table.connection,
        leg=table.leg,
        out=table.out or 0.0,
        loss=table.loss,
        wrench=table.wrench,
    )


def _service(
    table: kit.FacesTable, kind: Literal["access", "withdrawal"]
) -> tuple[kit_model.ServiceClearance, ...]:
    depths: dict[kit_model.Face, Metre | None] = {
        "front": table.front,
        "back": table.back,
        "left": table.left,
        "right": table.right,
        "top": table.top,
        "base": table.base,
    }
    return tuple(
        kit_model.ServiceClearance(face=face, depth=depth, kind=kind)
        for face, depth in depths.items()
        if depth is not None
    )


def _line(name: str, table: kit.LineTable) -> kit_model.Line:
    return kit_model.Line(
        name=name,
        start=table.start,
        end=table.end,
        duty=table.duty,
        hose=table.hose,
        fittings=table.fittings,
        valve_flow=table.valve,
        straight=table.straight,
        opens_at=table.opens_at,
        way=table.way,
        reach=table.reach,
        span=table.span,
        coil=_coil(table.coil),
    )


def _coil(table: kit.CoilTable | None) -> kit_model.Coil | None:
    return kit_model.Coil(turns=table.turns, diameter=table.diameter) if table else None


def _hose(name: str, table: kit.HoseTable) -> kit_model.Hose:
    inside = table.bend_radius_at == "inside"
    return kit_model.Hose(
        name=name,
        bore=table.bore,
        outside_diameter=table.outside_diameter,
        min_bend_radius=table.bend_radius + (table.outside_diameter / 2 if inside else 0.0),
        bend_radius_at=table.bend_radius_at,
        pressure_rating=table.pressure_rating,
        wall=table.wall,
        roughness=table.roughness,
        bore_tolerance=table.bore_tolerance,
        tail_bore=table.tail_bore,
        suction_length=None
        if table.suction_length is None
        else kit_model.SuctionLength(**table.suction_length.model_dump()),
        sold=kit_model.Sold(
            by=table.sold.by, lengths=tuple(table.sold.lengths), prices=tuple(table.sold.prices)
        ),
    )


def _curve(points: list[tuple[float, float]]) -> tuple[kit_model.CurvePoint, ...]:
    return tuple(kit_model.CurvePoint(flow=flow, head=head) for flow, head in points)


def _feed_pump(table: kit.FeedPumpTable | None) -> kit_model.FeedPump | None:
    if table is None:
        return None
    return kit_model.FeedPump(
        module=table.module,
        inlet=table.inlet,
        outlet=table.outlet,
        curve=_curve(table.curve),
        npsh_required=_curve(table.npsh_required),
        kind=table.kind,
        cut_out=table.cut_out,
        cut_in=table.cut_in,
        primes_to=table.primes_to,
    )


def _high_pressure_pump(
    table: kit.HighPressurePumpTable | None,
) -> kit_model.HighPressurePump | None:
    return kit_model.HighPressurePump(**table.model_dump()) if table else None


def _membrane(table: kit.MembraneTable | None) -> kit_model.Membrane | None:
    return kit_model.Membrane(**table.model_dump()) if table else None


def _flush(table: kit.FlushTable | None) -> kit_model.Flush | None:
    return kit_model.Flush(at=table.at, flow=table.flow, volumes=table.volumes) if table else None


def _consumer(name: str, table: kit.ConsumerTable) -> kit_model.Consumer:
    return kit_model.Consumer(name=name, at=table.at, flow=table.flow)


def _resistance(name: str, table: kit.ResistanceTable) -> kit_model.Resistance:
    return kit_model.Resistance(name=name, **table.model_dump())


def _limits(table: kit.LimitsTable) -> kit_model.Limits:
    return kit_model.Limits(**table.model_dump(), given=tuple(sorted(table.model_fields_set)))


def _allowances(table: kit.AllowancesTable) -> kit_model.Allowances:
    return kit_model.Allowances(**table.model_dump(), given=tuple(sorted(table.model_fields_set)))


# --- layout -----------------------------------------------------------------------------------


def build_layout(table: kit.LayoutTable, name: str) -> Layout:
    """The layout; `name` is used if the file gives none."""
    return Layout(
        name=table.name or name,
        placements=tuple(
            Placement(module=module, at=place.at, rotate=place.rotate)
            for module, place in table.modules.items()
        ),
        choices=tuple(
            LineChoice(
                line=line,
                holes=tuple(choice.holes),
                hose=choice.hose.strip(),
                way=choice.way,
            )
            for line, choice in table.lines.items()
        ),
        pitch=table.pitch,
    )
