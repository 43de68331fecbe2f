"""Tables of the water side: pumps, losses and outlets."""

from __future__ import annotations

from fitcheck.model.found.hydraulics import LineLoss, LineSummary
from fitcheck.model.result import Result
from fitcheck.report.tables import (
    FLOW,
    HEAD,
    HEIGHT,
    PRESSURE,
    SPEED,
    VACUUM,
    Row,
    Table,
    columns,
)
from fitcheck.report.words.words import state_words
from fitcheck.units import System


def pump_table(result: Result, system: System) -> Table:
    """Every pump in every state."""
    return Table(
        caption="Pumps in every state",
        columns=columns(
            "Pump",
            "State",
            ("Flow", FLOW),
            ("Suction vacuum", VACUUM),
            ("NPSH available", HEAD),
            ("NPSH required", HEAD),
            ("Bypass flow", FLOW),
            ("Pump head", HEAD),
            ("Inlet pressure", PRESSURE),
        ),
        rows=tuple(
            Row(
                cells=(
                    pump.pump,
                    state_words(result, pump.state, system),
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


def loss_table(result: Result, system: System) -> Table:
    """Pressure losses, line by line, in each line's worst state."""
    summaries = {(row.line, row.state): row for row in result.hydraulics.summaries}
    return Table(
        caption="Pressure losses",
        columns=columns(
            "Line",
            "Worst state",
            ("Flow", FLOW),
            ("Velocity", SPEED),
            ("Friction", PRESSURE),
            ("Bends", PRESSURE),
            ("Fittings", PRESSURE),
            ("Height", PRESSURE),
            ("Lift at worst heel", HEIGHT),
        ),
        rows=tuple(
            _loss_row(
                loss, summaries[loss.line, loss.state], state_words(result, loss.state, system)
            )
            for loss in result.hydraulics.lines
            if (loss.line, loss.state) in summaries
        ),
    )


def _loss_row(loss: LineLoss, summary: LineSummary, state: str) -> Row:
    cells = (
        loss.line,
        state,
        loss.flow,
        loss.velocity,
        loss.friction_loss,
        loss.bend_loss,
        loss.fitting_loss,
        loss.static,
        summary.worst_lift,
    )
    return Row(cells=cells, node=f"hose:{loss.line}")


def back_pressure_table(result: Result, system: System) -> Table:
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
                    state_words(result, outlet.running_state, system),
                    outlet.stopped,
                    state_words(result, outlet.stopped_state, system),
                    outlet.limit,
                ),
                severity="fail" if max(outlet.running, outlet.stopped) > outlet.limit else None,
            )
            for outlet in result.hydraulics.back_pressures
        ),
    )
