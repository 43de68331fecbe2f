"""The trade's length rule for the suction side, computed beside the numbers, never instead.

Common practice, no source: a half-inch inlet line should total about 10 ft on the suction side,
15 ft at most; beyond that take three-quarter inch. The rule does not say whether the half inch is
the bore or the outside diameter, and knows neither flow nor lift nor fittings, so both readings
are judged and it is said why they agree with the computed vacuum or not.
"""

from __future__ import annotations

from fitcheck.findings.said import Said, length, quantity, say
from fitcheck.hydraulics.network.plant import Run
from fitcheck.hydraulics.network.solve import Operation, first_inlet
from fitcheck.hydraulics.physics.losses import hose_loss
from fitcheck.hydraulics.rules.judging import COMMON_PRACTICE, Table, suction_lines, suction_vacuum
from fitcheck.model.finding import Finding
from fitcheck.model.found.hydraulics import Reach, RuleOfThumb
from fitcheck.units import Metre, Pascal

FOOT: Metre = 0.3048
GOOD: Metre = 10.0 * FOOT
MOST: Metre = 15.0 * FOOT
#: Sizes that pass for half an inch and for three quarters: metric neighbours included.
HALF_INCH: tuple[Metre, Metre] = (0.0115, 0.0140)
THREE_QUARTER_INCH: Metre = 0.0180
#: Bores (3/8, 1/2, 5/8, 3/4 in) and flows [L/min] of the table, a smooth plastic wall.
REACH_BORES: tuple[Metre, ...] = (0.009525, 0.0127, 0.015875, 0.01905)
REACH_FLOWS = (6, 8, 10, 12, 15, 20)
REACH_ROUGHNESS: Metre = 1.5e-6


def read_rule(size: Metre, whole: Metre) -> tuple[bool, Said]:
    """Whether the rule allows a suction side of that size and total length [m], and its words.

    Sizes between half and three-quarter inch are taken as half an inch, which errs on the safe
    side; smaller ones are too small for the rule at any length.
    """
    if size >= THREE_QUARTER_INCH:
        return True, say("rule-of-thumb.no-limit")
    if size < HALF_INCH[0]:
        return False, say("rule-of-thumb.too-small")
    said = say("rule-of-thumb.too-long")
    if whole <= GOOD:
        said = say("rule-of-thumb.good")
    elif whole <= MOST:
        said = say("rule-of-thumb.at-most")
    if size > HALF_INCH[1]:
        said = say("rule-of-thumb.between", answer=said)
    return whole <= MOST, said


def rules_of_thumb(table: Table) -> tuple[RuleOfThumb, ...]:
    """The rule in both readings for the suction side as routed; nothing where it is not."""
    plant = table.plant
    lines = suction_lines(plant)
    if not lines or any(line.name not in plant.runs for line in lines):
        return ()
    runs = [plant.runs[line.name] for line in lines]
    computed = _computed(table)
    if computed is None:
        return ()
    vacuum, operation = computed
    thin = min(runs, key=lambda run: run.hose.bore)
    whole = sum(run.whole for run in runs)
    holds = vacuum is not None and vacuum <= table.limits.suction_vacuum_max
    because = _because(table, whole, thin, vacuum, operation)
    rows = []
    for read_as, size in (
        (say("rule-of-thumb.bore"), thin.hose.bore),
        (say("rule-of-thumb.outside"), thin.hose.outside_diameter),
    ):
        allowed, said = read_rule(size, whole)
        rows.append(
            RuleOfThumb(
                read_as=read_as,
                size=size,
                length=whole,
                good=GOOD,
                most=MOST,
                said=said,
                agrees=allowed == holds,
                because=because,
            )
        )
    return tuple(rows)


def _computed(table: Table) -> tuple[Pascal | None, Operation] | None:
    """The highest vacuum with clean filters and its state; None where the flow cannot be had."""
    clean = [op for op in table.operations if not op.state.fouled and not op.state.dirty]
    short = [op for op in clean if op.trouble == "vacuum"]
    if short:
        return None, short[0]
    known = [
        (vacuum, op)
        for op in clean
        if op in table.running and (vacuum := suction_vacuum(table.plant, op)) is not None
    ]
    return max(known, key=lambda row: row[0], default=None)


def _because(
    table: Table, whole: Metre, thin: Run, vacuum: Pascal | None, operation: Operation
) -> Said:
    """The computed figures that the rule does not know."""
    inlet = first_inlet(table.plant) or ""
    lines = [operation.losses[line.name] for line in suction_lines(table.plant)]
    most = table.limits.suction_vacuum_max
    flow = quantity(table.plant.feed_flow, "flow")
    found = say("rule-of-thumb.not-sucked", flow=flow)
    if vacuum is not None:
        found = say(
            "rule-of-thumb.computed",
            vacuum=quantity(vacuum, "vacuum"),
            flow=flow,
            straight=quantity(sum(loss.friction for loss in lines), "pressure"),
            bends=quantity(sum(loss.bends + loss.fittings for loss in lines), "pressure"),
            lift=quantity(operation.heights[inlet], "head"),
        )
    reach = straight_reach(thin, operation, most, table.plant.feed_flow)
    return say(
        "rule-of-thumb.because",
        found=found,
        bore=length(thin.hose.bore),
        most=quantity(most, "vacuum"),
        reach=quantity(reach, "run"),
        whole=quantity(whole, "run"),
    )


def straight_reach(run: Run, operation: Operation, budget: Pascal, flow: float) -> Metre:
    """Length of straight hose of this bore that loses `budget` by friction alone [m]."""
    one_metre = hose_loss(
        flow=flow,
        bore=run.hose.bore,
        roughness=run.hose.roughness,
        length=1.0,
        bends=(),
        fittings=0.0,
        valve_flow=None,
        water=operation.waters["feed"],
    )
    return budget / one_metre.friction


def reach_table(table: Table) -> tuple[Reach, ...]:
    """The rule over bore and flow: straight hose in the coldest water, nothing else in the way.

    The rule's length for a bore is what it allows at most, whatever the flow; below half an inch
    it allows none, from three-quarter inch on any.
    """
    if not table.operations:
        return ()
    coldest = min(table.operations, key=lambda op: op.state.temperature_C)
    limits = table.limits
    rows = []
    for bore in REACH_BORES:
        rule = 0.0 if bore < HALF_INCH[0] else MOST if bore < THREE_QUARTER_INCH else None
        for litres in REACH_FLOWS:
            flow = litres / 60_000.0
            loss = hose_loss(
                flow=flow,
                bore=bore,
                roughness=REACH_ROUGHNESS,
                length=1.0,
                bends=(),
                fittings=0.0,
                valve_flow=None,
                water=coldest.waters["feed"],
            ).friction
            most = limits.suction_vacuum_max / loss
            rows.append(
                Reach(
                    bore=bore,
                    flow=flow,
                    fine=limits.suction_vacuum_ok / loss,
                    most=most,
                    rule=rule,
                    agrees=_same(rule, most),
                )
            )
    return tuple(rows)


def _same(rule: Metre | None, most: Metre) -> bool:
    """Any length: ten metres or more do. Otherwise within a quarter of each other."""
    if rule is None:
        return most >= 10.0
    return abs(rule - most) <= 0.25 * max(rule, most)


def rule_findings(rules: tuple[RuleOfThumb, ...], subject: str) -> list[Finding]:
    """A note for every reading that disagrees with the computed number."""
    return [
        Finding(
            severity="note",
            rule="rule-of-thumb",
            subject=subject,
            said=say(
                "rule-of-thumb", reading=rule.read_as, answer=rule.said, because=rule.because
            ),
            source=COMMON_PRACTICE,
            value=rule.length,
            limit=rule.most,
            unit="m",
        )
        for rule in rules
        if not rule.agrees
    ]
