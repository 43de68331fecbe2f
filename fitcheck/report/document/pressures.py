"""Tables of the water side: pumps, losses and outlets."""

from __future__ import annotations

from fitcheck.model.found.hydraulics import LineLoss, LineSummary
from fitcheck.model.result import Result
from fitcheck.report.tables import (
    FLOW,
    HEAD,
    PRESSURE,
    RUN,
    SPEED,
    VACUUM,
    Row,
    Table,
    columns,
)


def pump_table(result: Result) -> Table:
    """Every pump in every state."""
    return Table(
        caption="Pumps in every state",
        columns=columns(
            "Pump",
            "State",
            ("Flow", FLOW),
            ("Vacuum at inlet", VACUUM),
            ("NPSH available", HEAD),
            ("NPSH required", HEAD),
            ("Through the bypass", FLOW),
            ("Pump head", HEAD),
            ("Inlet pressure", PRESSURE),
        ),
        rows=tuple(
            Row(
                cells=(
                    pump.pump,
                    pump.state,
                    pump.flow,
                    pump.suction_vacuum,
                    pump.npsh_available,
                    pump.npsh_required,
                    pump.bypass_flow,
                    pump.head,
                    pump.inlet_pressure,
                ),
                node=f"module:{pump.pump}",
            )
            for pump in result.hydraulics.pumps
        ),
    )


def loss_table(result: Result) -> Table:
    """Where the pressure goes, line by line, in each line's worst state."""
    summaries = {(row.line, row.state): row for row in result.hydraulics.summaries}
    return Table(
        caption="Where the pressure goes",
        columns=columns(
            "Line",
            "Worst state",
            ("Flow", FLOW),
            ("Velocity", SPEED),
            ("Friction", PRESSURE),
            ("Bends", PRESSURE),
            ("Fittings", PRESSURE),
            ("Height", PRESSURE),
            ("Lift at worst heel", RUN),
        ),
        rows=tuple(
            _loss_row(loss, summaries[loss.line, loss.state])
            for loss in result.hydraulics.lines
            if (loss.line, loss.state) in summaries
        ),
    )


def _loss_row(loss: LineLoss, summary: LineSummary) -> Row:
    cells = (
        loss.line,
        loss.state,
        loss.flow,
        loss.velocity,
        loss.friction_loss,
        loss.bend_loss,
        loss.fitting_loss,
        loss.static,
        summary.worst_lift,
    )
    return Row(cells=cells, node=f"hose:{loss.line}")


def back_pressure_table(result: Result) -> Table:
    """Brine and product outlets, running and stopped."""
    return Table(
        caption="Back pressure of the outlets",
        columns=columns(
            "Outlet",
            ("Running", PRESSURE),
            "Worst state",
            ("Stopped", PRESSURE),
            "Worst state when stopped",
            ("Limit", PRESSURE),
        ),
        rows=tuple(
            Row(
                cells=(
                    outlet.outlet,
                    outlet.running,
                    outlet.running_state,
                    outlet.stopped,
                    outlet.stopped_state,
                    outlet.limit,
                ),
                severity="fail" if max(outlet.running, outlet.stopped) > outlet.limit else None,
            )
            for outlet in result.hydraulics.back_pressures
        ),
    )
