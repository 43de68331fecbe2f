"""The modules as tables: position, mass, fit."""

from __future__ import annotations

from fitcheck.model.contact import Contact
from fitcheck.model.finding import Severity
from fitcheck.model.found.fit import ModuleFit, ServiceFit
from fitcheck.model.given.kit import WATER
from fitcheck.model.result import Result
from fitcheck.model.uncertainty import rounded
from fitcheck.report.tables import (
    ANGLE,
    JUDGED,
    MASS,
    SIZE,
    TAPE,
    UNSURE,
    VERDICT,
    Cell,
    Row,
    Table,
    columns,
    plain,
    unprinted,
    wide,
)
from fitcheck.report.weights import Weight, total, weights, without_water
from fitcheck.report.words.words import (
    finding_marks,
    is_short,
    service_words,
    standing_words,
    worse,
    worst_of,
)
from fitcheck.units import Point, System, show, show_row


def gap_words(met: Contact, system: System) -> str:
    """A gap, its uncertainty, and what it is to."""
    gap, unsure = (show(value, "gap", system) for value in (met.gap, met.uncertainty))
    return plain(f"{gap} \u00b1 {unsure} to {met.meets}")


# --- where they are and what they weigh -------------------------------------------------------


def module_table(result: Result, system: System) -> Table:
    """Position, rotation, size, mass and fit of each module."""
    every = weights(result)
    placed = zip(result.fit.modules, every, strict=True)
    return Table(
        caption="Position (middle of the base, boat frame) and mass of the modules",
        columns=columns(
            "Module",
            ("Forward", TAPE),
            ("To port", TAPE),
            ("Above the sea", TAPE),
            "Roll, pitch, yaw",
            *wide(*columns("Length x width x height")),
            ("Mass dry", MASS),
            ("Mass wet", MASS),
            *unprinted(VERDICT, *columns("Tightest gap")),
        ),
        rows=(
            *(_module_row(result, module, weight, system) for module, weight in placed),
            *(_total_row(*row) for row in _totals(every)),
        ),
    )


def _module_row(result: Result, module: ModuleFit, weight: Weight, system: System) -> Row:
    turn = (ANGLE.figure(angle, system) for angle in _turn(result, module))
    met = module.tightest
    return Row(
        cells=(
            module.name,
            *base_centre(module),
            f"{', '.join(turn)}°",
            show_row(box_size(module), "size", system),
            weight.dry,
            weight.wet,
            _standing(module)[0],
            gap_words(met, system) if met else "nothing near",
        ),
        node=f"module:{module.name}",
        severity=_severity(result, module),
        marks=finding_marks(result, module.name),
    )


def _totals(every: tuple[Weight, ...]) -> list[tuple[str, Point, float | None, float | None]]:
    """The name of a total, its centre of mass, the mass dry or wet."""
    if not every:
        return []
    whole = total(every)
    return [
        ("all modules dry, centre of mass", whole.dry_centre, whole.dry, None),
        ("all modules wet, centre of mass", whole.wet_centre, None, whole.wet),
    ]


def weight_words(result: Result, system: System) -> str:
    """What the masses include and what they do not."""
    dry = without_water(result)
    none = f" The kit gives no water for {plain(', '.join(dry))}." if dry else ""
    density = show(WATER, "density", system)
    return (
        "Mass wet is the mass in the kit file, full of water; mass dry is that less the water the "
        f"module holds according to the kit, at {density}. The mass of a module is assumed at the "
        "middle of its box (common practice, no source). Hoses, their water, fittings and joinery "
        f"are not counted.{none}"
    )


def _total_row(name: str, centre: Point, dry: float | None, wet: float | None) -> Row:
    return Row(cells=(name, *centre, None, None, dry, wet, None, None))


def module_sheet(result: Result) -> Table:
    """modules.csv: the same with one number per cell, and the point each mass is assumed at."""
    every = weights(result)
    rows = [
        Row(
            cells=(
                module.name,
                *base_centre(module),
                *_turn(result, module),
                *box_size(module),
                *weight.dry_centre,
                weight.dry,
                weight.wet,
                _standing(module)[0],
                *_gap_cells(module.tightest),
            ),
            marks=finding_marks(result, module.name),
        )
        for module, weight in zip(result.fit.modules, every, strict=True)
    ]
    for name, centre, dry, wet in _totals(every):
        rows.append(Row(cells=(name, *[None] * 9, *centre, dry, wet, *[None] * 4)))
    return Table(
        caption="Modules",
        columns=columns(
            "Module",
            ("Base forward", TAPE),
            ("Base to port", TAPE),
            ("Base above the sea", TAPE),
            ("Roll", ANGLE),
            ("Pitch", ANGLE),
            ("Yaw", ANGLE),
            ("Length", SIZE),
            ("Width", SIZE),
            ("Height", SIZE),
            ("Mass taken forward", TAPE),
            ("Mass taken to port", TAPE),
            ("Mass taken above the sea", TAPE),
            ("Mass dry", MASS),
            ("Mass wet", MASS),
            VERDICT,
            ("Tightest gap", SIZE),
            ("±", UNSURE),
            "To",
        ),
        rows=tuple(rows),
    )


def _gap_cells(met: Contact | None) -> tuple[Cell, Cell, Cell]:
    return (None, None, None) if met is None else (met.gap, met.uncertainty, met.meets)


def base_centre(module: ModuleFit) -> Point:
    """The middle of the base, boat frame [m]."""
    x, y, z = module.box.centre
    up = module.box.axes[2]
    half = module.box.half[2]
    return (x - half * up[0], y - half * up[1], z - half * up[2])


def box_size(module: ModuleFit) -> Point:
    """Length, width, height [m]."""
    length, width, height = module.box.half
    return (2.0 * length, 2.0 * width, 2.0 * height)


def _turn(result: Result, module: ModuleFit) -> Point:
    return result.scenario.layout.placement(module.name).rotate


# --- fit ------------------------------------------------------------------------------------


def _standing(module: ModuleFit) -> tuple[str, Severity | None]:
    short = any(is_short(room) for room in module.service)
    return standing_words(module.verdict, served=not short)


def _severity(result: Result, module: ModuleFit) -> Severity | None:
    return worse(_standing(module)[1], worst_of(result.fit.findings, module.name))


def fit_table(result: Result, system: System) -> Table:
    """Fit of each module."""
    return Table(
        caption="Tightest gaps and service",
        columns=columns(
            "Module",
            JUDGED,
            ("Tightest gap", SIZE),
            ("±", UNSURE),
            "To",
            "Service",
        ),
        rows=tuple(_fit_row(result, module, system) for module in result.fit.modules),
    )


def _fit_row(result: Result, module: ModuleFit, system: System) -> Row:
    short = [room for room in module.service if is_short(room)]
    service = "; ".join(service_words(room, system) for room in short)
    unsure = any(room.verdict == "tight" for room in module.service)
    asked = "available, but uncertain" if unsure else "available"
    service = service or (asked if module.service else "none required")
    met = module.tightest
    gap = (met.gap, rounded(met.uncertainty), met.meets) if met else (None, None, "nothing near")
    return Row(
        cells=(module.name, _standing(module)[0], *gap, service),
        node=f"module:{module.name}",
        severity=_severity(result, module),
    )


def service_table(result: Result) -> Table:
    """Every required service clearance and how much of it is available."""
    return Table(
        caption="Service clearances",
        columns=columns(
            "Module",
            "Face",
            "For",
            ("Required", SIZE),
            ("Available", SIZE),
            ("±", UNSURE),
            "Limited by",
            JUDGED,
        ),
        rows=tuple(
            _service_row(module, room) for module in result.fit.modules for room in module.service
        ),
    )


def _service_row(module: ModuleFit, room: ServiceFit) -> Row:
    purpose = "hands" if room.kind == "access" else "withdrawal of a part"
    found = (room.wanted, room.available, rounded(room.uncertainty))
    cells = (module.name, room.face, purpose, *found, room.meets, room.verdict)
    severity: dict[str, Severity] = {"does not fit": "fail", "tight": "caution"}
    node = f"module:{module.name}"
    return Row(cells=cells, node=node, severity=severity.get(room.verdict))
