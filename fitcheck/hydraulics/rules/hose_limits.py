"""Verdicts on the hoses: wall, pressure rating, share of the working pressure, velocity.

Limits are common practice unless the kit says otherwise: a soft wall withstands 0.05 bar of
vacuum; one high-pressure hose should lose at most 1 % of the working pressure, limit 3 %; 1.5 m/s
on the suction side, 6 m/s at high pressure.
"""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.findings.said import Said, quantity, say
from fitcheck.hydraulics.network.plant import Plant
from fitcheck.hydraulics.network.solve import Operation
from fitcheck.hydraulics.physics.losses import GRAVITY
from fitcheck.hydraulics.rules.judging import (
    COMMON_PRACTICE,
    Table,
    Verdict,
    lowest_pressure,
    names,
    suction_lines,
)
from fitcheck.model.finding import Finding, Severity
from fitcheck.model.given.kit import Line
from fitcheck.units import MetrePerSecond, Pascal, Ratio

SOFT_WALL_VACUUM: Pascal = 5_000.0
FINE_SHARE: Ratio = 0.01
SUCTION_SPEED: tuple[MetrePerSecond, MetrePerSecond] = (1.0, 1.5)
HIGH_PRESSURE_SPEED: MetrePerSecond = 6.0


def hose_verdicts(table: Table) -> list[Verdict]:
    """All verdicts on single hoses, in the kit's order of lines."""
    return [
        verdict
        for line in table.plant.scenario.kit.lines
        if line.name in table.plant.runs
        for rule in (_wall, _rating, _share, _speed, _transition)
        for verdict in rule(table, line)
    ]


def is_high_pressure(plant: Plant, line: Line) -> bool:
    """Whether the hose carries the working pressure, by its duty or its place in the circuit."""
    high = plant.circuit.high_side
    return line.duty == "high pressure" or (str(line.start) in high and str(line.end) in high)


def highest_pressure(table: Table, line: Line) -> Pascal:
    """The highest gauge pressure in a line [Pa].

    High pressure: the relief setting. After the feed pump: the pump at shut-off plus the sea's
    depth over the lower end. Elsewhere: the running pressure, or the depth.
    """
    plant = table.plant
    kit = plant.scenario.kit
    if kit.high_pressure_pump is not None and is_high_pressure(plant, line):
        return kit.high_pressure_pump.relief
    ends = (str(line.start), str(line.end))
    density = max(op.waters[plant.circuit.waters[ends[1]]].density for op in table.operations)
    lowest = min(op.heights[end] for op in table.operations for end in ends)
    depth = density * GRAVITY * max(0.0, -lowest)
    sucks = line.name in names(suction_lines(plant))
    if plant.pump is not None and not sucks and set(ends) <= plant.circuit.feed_side:
        return density * GRAVITY * plant.pump.shut_off_head + depth
    standing = [op.pressures[end] for op in table.running for end in ends if end in op.pressures]
    return max([depth, *standing])


def _wall(table: Table, line: Line) -> Iterator[Verdict]:
    if table.plant.runs[line.name].hose.wall != "soft":
        return
    sucks = line.name in names(suction_lines(table.plant))
    if not sucks and line.duty != "bypass":
        return
    lowest = [
        (pressure, op)
        for op in table.running
        if (pressure := lowest_pressure(table, line.name, op)) is not None
    ]
    if not lowest:
        return
    pressure, op = min(lowest, key=lambda row: row[0])
    if pressure >= -SOFT_WALL_VACUUM:
        return
    yield _verdict(
        "fail" if sucks else "caution",
        "suction-wall",
        line,
        op,
        said=say(
            "suction-wall.suction" if sucks else "suction-wall.bypass",
            line=line.name,
            vacuum=quantity(-pressure, "vacuum"),
            state=op.state.said,
            limit=quantity(SOFT_WALL_VACUUM, "vacuum"),
        ),
        source=COMMON_PRACTICE,
        value=-pressure,
        limit=SOFT_WALL_VACUUM,
        unit="Pa",
        brief=say("suction-wall.brief"),
    )


def _rating(table: Table, line: Line) -> Iterator[Verdict]:
    hose = table.plant.runs[line.name].hose
    need = highest_pressure(table, line)
    if hose.pressure_rating >= need:
        return
    rating, seen = quantity(hose.pressure_rating, "pressure"), quantity(need, "pressure")
    if is_high_pressure(table.plant, line):
        why = say("pressure-rating.relief", need=seen)
    elif table.plant.pump is not None and line.duty in ("feed", "bypass"):
        why = say("pressure-rating.shut-off", need=seen)
    else:
        why = say("pressure-rating.seen", need=seen)
    yield _verdict(
        "fail",
        "pressure-rating",
        line,
        None,
        said=say("pressure-rating", line=line.name, rating=rating, why=why),
        source="the highest pressure the line may see",
        value=hose.pressure_rating,
        limit=need,
        unit="Pa",
        brief=say("pressure-rating.brief", rating=rating, need=seen),
    )


def _share(table: Table, line: Line) -> Iterator[Verdict]:
    pump = table.plant.scenario.kit.high_pressure_pump
    if pump is None or not is_high_pressure(table.plant, line):
        return
    lost = [(op.losses[line.name].at_most, op) for op in table.running if line.name in op.losses]
    if not lost:
        return
    loss, op = max(lost, key=lambda row: row[0])
    share, most = loss / pump.pressure, table.limits.high_pressure_loss_max
    if share <= min(FINE_SHARE, most):
        return
    given = "high_pressure_loss_max" in table.limits.given
    severity: Severity = "note" if share <= most else "fail"
    limit = most if share > most else FINE_SHARE
    yield _verdict(
        severity,
        "high-pressure-loss",
        line,
        op,
        said=say(
            "high-pressure-loss.most" if severity == "fail" else "high-pressure-loss.fine",
            line=line.name,
            loss=quantity(loss, "pressure"),
            share=quantity(share, "fraction"),
            state=op.state.said,
            limit=quantity(limit, "fraction"),
        ),
        source="the kit's limits" if given else COMMON_PRACTICE,
        value=share,
        limit=limit,
        unit="1",
        brief=say("high-pressure-loss.brief", share=quantity(share, "fraction")),
    )


def _speed(table: Table, line: Line) -> Iterator[Verdict]:
    sucks = line.name in names(suction_lines(table.plant))
    if not sucks and not is_high_pressure(table.plant, line):
        return
    fine, most = SUCTION_SPEED if sucks else (HIGH_PRESSURE_SPEED, HIGH_PRESSURE_SPEED)
    fast = [(op.losses[line.name].velocity, op) for op in table.running if line.name in op.losses]
    speed, op = max(fast, key=lambda row: row[0], default=(0.0, None))
    if speed <= fine or op is None:
        return
    shown, limit = quantity(speed, "speed"), quantity(most, "speed")
    said = say("velocity.limit", line=line.name, speed=shown, most=limit)
    if fine < most:
        recommended = quantity(fine, "speed")
        said = say(
            "velocity.recommended", line=line.name, speed=shown, fine=recommended, most=limit
        )
    yield _verdict(
        "caution" if speed > most else "note",
        "velocity",
        line,
        op,
        said=said,
        source=COMMON_PRACTICE,
        value=speed,
        limit=most if speed > most else fine,
        unit="m/s",
        brief=say(
            "velocity.brief" if speed > most else "velocity.fine-brief",
            speed=shown,
            limit=limit if speed > most else quantity(fine, "speed"),
        ),
    )


def _transition(table: Table, line: Line) -> Iterator[Verdict]:
    """Note where a flow may be laminar or turbulent: it is judged on the higher loss."""
    rows = [
        (op.losses[line.name].at_most, op)
        for op in table.running
        if line.name in op.losses and op.losses[line.name].transition
    ]
    if not rows:
        return
    most, op = max(rows, key=lambda row: row[0])
    loss = op.losses[line.name]
    yield _verdict(
        "note",
        "transition-flow",
        line,
        op,
        said=say(
            "transition-flow",
            line=line.name,
            reynolds=quantity(loss.reynolds, "1"),
            state=op.state.said,
            expected=quantity(loss.total, "pressure"),
            judged=quantity(most, "pressure"),
        ),
        source="laminar 64/Re and turbulent Colebrook friction as bounds",
        value=loss.reynolds,
        limit=None,
        unit="1",
        brief=say("transition-flow.brief"),
    )


def _verdict(
    severity: Severity,
    rule: str,
    line: Line,
    operation: Operation | None,
    *,
    said: Said,
    source: str,
    value: float,
    limit: float | None,
    unit: str,
    brief: Said,
) -> Verdict:
    return Verdict(
        finding=Finding(
            severity=severity,
            rule=rule,
            subject=line.name,
            said=said,
            source=source,
            value=value,
            limit=limit,
            unit=unit,
        ),
        lines=(line.name,),
        states=() if operation is None else (operation.state.name,),
        brief=brief,
    )
