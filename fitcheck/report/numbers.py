"""Convert a Result to tables, shared by the terminal, the page and the CSV files."""

from __future__ import annotations

from collections.abc import Sequence

from fitcheck.findings.said import say
from fitcheck.model.finding import Assumption
from fitcheck.model.found.order import OrderItem
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.given.scenario import InputFile
from fitcheck.model.result import Result
from fitcheck.model.uncertainty import rounded
from fitcheck.report.tables import (
    BORE,
    DUTY,
    HEIGHT,
    NUMBER,
    PRESSURE,
    RUN,
    SIZE,
    UNSURE,
    VERDICT,
    Cell,
    Column,
    Row,
    Table,
    columns,
    unprinted,
    wide,
)
from fitcheck.report.words.words import (
    bound_words,
    finding_marks,
    hose_number,
    worse,
    worst_of,
    yes_or_no,
)
from fitcheck.units import System

#: A cut length includes what the routed length does not: mounting tolerance, uncertainty, end
#: allowances.
ROUTED = "Routed (do not cut to this)"

# --- hoses ------------------------------------------------------------------------------------


def hose_table(result: Result) -> Table:
    """The main hose table."""
    return Table(
        caption="Hoses",
        columns=(
            *columns(NUMBER, "Line"),
            *wide(DUTY),
            *columns(("Cut length", RUN)),
            *wide(*columns((ROUTED, RUN), ("±", UNSURE), "Shortest possible")),
            *columns(("Lift", HEIGHT), ("Loss", PRESSURE), VERDICT),
        ),
        rows=tuple(_hose_row(result, hose) for hose in result.routes.hoses),
    )


def _hose_row(result: Result, hose: HoseRoute | Unrouted) -> Row:
    duty = result.scenario.kit.line(hose.line).duty
    head = (str(hose_number(result, hose.line)), hose.line, duty)
    marks = finding_marks(result, hose.line)
    if isinstance(hose, Unrouted):
        lost = (*head, *[None] * 6, hose.said)
        return Row(cells=lost, node=node_of(hose), severity="fail", duty=duty, marks=marks)
    water, cut = result.hydraulics.summary(hose.line), result.order.cut(hose.line)
    cells = (
        *head,
        cut.cut_length if cut else None,
        hose.length,
        rounded(hose.uncertainty),
        bound_words(hose),
        water.lift if water else None,
        water.loss if water else None,
        say("line.water", verdict=water.said) if water else say("line.no-water"),
    )
    said = worse(worst_of(result.findings, hose.line), water.severity if water else None)
    return Row(cells=cells, node=node_of(hose), severity=said, duty=duty, marks=marks)


def node_of(hose: HoseRoute | Unrouted) -> str:
    """Name of a hose in the scene."""
    return f"{'hose' if isinstance(hose, HoseRoute) else 'unrouted'}:{hose.line}"


def run_table(result: Result) -> Table:
    """Start and end of each hose, and its type."""
    return Table(
        caption="Hose connections",
        columns=columns(
            NUMBER,
            "Line",
            "From",
            "To",
            "Hose",
            ("Bore", BORE),
            ("Outside diameter", SIZE),
            "Holes",
            "Route",
            ("Longest unsupported span", RUN),
            "Clips",
        ),
        rows=tuple(_run_row(result, hose) for hose in result.routes.hoses),
    )


def _run_row(result: Result, hose: HoseRoute | Unrouted) -> Row:
    line = result.scenario.kit.line(hose.line)
    choice = result.scenario.layout.choice(hose.line)
    held: tuple[Cell, ...] = (", ".join(choice.holes), choice.way or line.way, None, None)
    if isinstance(hose, HoseRoute):
        free = max((span.length for span in hose.unsupported), default=0.0)
        held = (", ".join(hose.holes), hose.way, free, float(len(hose.clips)))
    cells = (
        str(hose_number(result, hose.line)),
        hose.line,
        str(line.start),
        str(line.end),
        hose.hose,
        result.scenario.kit.hose(hose.hose).bore,
        hose.outside_diameter,
        *held,
    )
    return Row(cells=cells, node=node_of(hose), duty=line.duty)


def clip_table(result: Result) -> Table:
    """Position of every clip: along the hose from either end, in the boat, and its support."""
    routed = [hose for hose in result.routes.hoses if isinstance(hose, HoseRoute)]
    return Table(
        caption="Clips, with distances along the hose from its port faces",
        columns=columns(
            NUMBER,
            "Line",
            "Clip",
            ("From its start", RUN),
            ("From its end", RUN),
            ("Forward", HEIGHT),
            ("To port", HEIGHT),
            ("Up", HEIGHT),
            "Support",
            ("Distance", SIZE),
        ),
        rows=tuple(
            Row(
                cells=(
                    str(hose_number(result, hose.line)),
                    hose.line,
                    f"{number} of {len(hose.clips)}",
                    clip.along,
                    hose.length - clip.along,
                    *clip.point,
                    clip.to,
                    clip.distance,
                ),
                node=node_of(hose),
            )
            for hose in routed
            for number, clip in enumerate(hose.clips, 1)
        ),
    )


def keep_table(result: Result) -> Table:
    """The required and actual clearances and radii of each hose."""
    return Table(
        caption="Bend radius and clearance",
        columns=columns(
            NUMBER,
            "Line",
            ("Tightest bend", SIZE),
            ("Required bend radius", SIZE),
            ("Clearance", SIZE),
            ("Clearance ±", UNSURE),
            ("Required clearance", SIZE),
            "Nearest to",
            ("Proven minimum length", RUN),
            ("Mounting tolerance", SIZE),
        ),
        rows=tuple(_keep_row(result, hose) for hose in result.routes.hoses),
    )


def _keep_row(result: Result, hose: HoseRoute | Unrouted) -> Row:
    head = (str(hose_number(result, hose.line)), hose.line)
    radius, clearance = hose.required_bend_radius, hose.required_clearance
    if isinstance(hose, Unrouted):
        cells = (*head, None, radius, None, None, clearance, None, hose.bound, None)
        return Row(cells=cells, node=node_of(hose), severity="fail")
    bends = "no bend" if hose.smallest_bend_radius is None else hose.smallest_bend_radius
    unsure = rounded(hose.clearance_uncertainty)
    cleared = (hose.clearance, unsure, clearance, hose.clearance_to)
    found = (*head, bends, radius, *cleared, hose.bound, hose.wander)
    return Row(cells=found, node=node_of(hose))


def hose_sheet(result: Result) -> Table:
    """hoses.csv: everything known of each hose in one row."""
    tables = (hose_table(result), run_table(result), keep_table(result))
    return Table(
        caption="Hoses",
        columns=(
            *tables[0].columns,
            *(column for table in tables[1:] for column in table.columns[2:]),
        ),
        rows=tuple(
            Row(cells=(*said.cells, *run.cells[2:], *kept.cells[2:]), marks=said.marks)
            for said, run, kept in zip(*(table.rows for table in tables), strict=True)
        ),
    )


# --- what to buy ------------------------------------------------------------------------------


def order_table(result: Result, system: System) -> Table:
    """What to order."""
    rows = tuple(
        _order_row(item, (_quantity_words(item, system), item.length), ", ")
        for item in result.order.items
    )
    headings = columns(
        "Item", "Quantity", ("Length each", RUN), "For", *unprinted(*columns("Note", "Price"))
    )
    return Table(caption="What to order", columns=headings, rows=rows)


def order_sheet(result: Result) -> Table:
    """order.csv: the same with bare numbers; a quantity in metres is in the length column."""
    rows = tuple(_order_row(item, _amounts(item), " ") for item in result.order.items)
    headings = columns("Item", "Pieces", ("Length", RUN), "For", "Note", "Price")
    return Table(caption="What to order", columns=headings, rows=rows)


def _order_row(item: OrderItem, amounts: tuple[Cell, Cell], joint: str) -> Row:
    price = None if item.price is None else f"{item.price:.2f}"
    return Row(cells=(item.said, *amounts, joint.join(item.for_lines), item.remark, price))


def _amounts(item: OrderItem) -> tuple[Cell, Cell]:
    return (1.0, item.quantity) if item.unit == "m" else (item.quantity, item.length)


def _quantity_words(item: OrderItem, system: System) -> str:
    if item.unit == "m":
        return RUN.show(item.quantity, system)
    return f"{item.quantity:g} {item.unit}{'' if item.quantity == 1 else 's'}"


def cut_table(result: Result) -> Table:
    """Cut length of each piece, and why."""
    return Table(
        caption="Cut lengths",
        columns=(
            *columns(NUMBER, "Line", "Hose", ("Cut length", RUN), (ROUTED, RUN)),
            Column(heading="Because", marked=True),
        ),
        rows=tuple(
            Row(
                cells=(
                    str(hose_number(result, cut.line)),
                    cut.line,
                    cut.hose,
                    cut.cut_length,
                    cut.routed_length,
                    cut.said,
                ),
                node=f"hose:{cut.line}",
                marks=finding_marks(result, cut.line),
            )
            for cut in result.order.cuts
        ),
    )


# --- what it rests on -------------------------------------------------------------------------


def assumption_table(assumptions: Sequence[Assumption]) -> Table:
    """What was assumed rather than measured; first what could change the verdict."""
    return Table(
        caption="Assumed, not measured",
        columns=columns("Assumption", "Value", "Source", "Can change the verdict"),
        rows=tuple(
            Row(
                cells=(row.said, row.taken, row.source, yes_or_no(row.can_flip)),
                severity="caution" if row.can_flip else None,
            )
            for row in assumptions
        ),
    )


def input_table(inputs: Sequence[InputFile]) -> Table:
    """The files that were read."""
    return Table(
        caption="Files read",
        columns=columns("File", "SHA-256"),
        rows=tuple(Row(cells=(file.path, file.sha256)) for file in inputs),
    )
