"""Assumptions of the water side, and whether being wrong could change its verdict.

Bore and heights are tested: the verdict is given for their unfavourable side, with a remark if it
would be different at their expected values.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from fitcheck.findings.said import length, quantity, say
from fitcheck.hydraulics.network.bands import narrowed, raised
from fitcheck.hydraulics.network.plant import PRODUCT_SALINITY, Plant
from fitcheck.hydraulics.network.solve import operate_at
from fitcheck.hydraulics.remedy.trials import judge
from fitcheck.hydraulics.rules.judging import COMMON_PRACTICE, Table, Verdict
from fitcheck.model.finding import SEVERITIES, Assumption


def assumptions_of(table: Table) -> tuple[Assumption, ...]:
    """Every assumption, each with whether it can change the worst verdict of the water side."""
    found = _worst(judge(replace(table, safe=None)))
    return (
        _bores(table, found),
        _heights(table, found),
        *_fixed(table),
    )


def _worst(verdicts: Iterable[Verdict]) -> int:
    """Index of the severest verdict, after all severities if there is none."""
    places = (SEVERITIES.index(verdict.finding.severity) for verdict in verdicts)
    return min(places, default=len(SEVERITIES))


def _again(table: Table, plant: Plant) -> int:
    """The worst verdict of a changed plant in the same states; no flow is a fail."""
    states = [operation.state for operation in table.operations]
    operations = tuple(operate_at(plant, state, plant.feed_flow) for state in states)
    if any(operation.trouble for operation in operations):
        return SEVERITIES.index("fail")
    return _worst(judge(Table(plant=plant, operations=operations, limits=table.limits)))


def _bores(table: Table, found: int) -> Assumption:
    spread = max((run.hose.bore_tolerance for run in table.plant.runs.values()), default=0.0)
    return Assumption(
        said=say("taken.bores"),
        taken=say("taken.bores-as", within=quantity(spread, "fraction")),
        source="the kit; 5 % less bore is about 28 % more loss",
        can_flip=_again(table, narrowed(table.plant)) != found,
    )


def _heights(table: Table, found: int) -> Assumption:
    uncertainty = table.plant.height_uncertainty
    flips = _again(table, raised(table.plant, uncertainty)) != found
    return Assumption(
        said=say("taken.heights"),
        taken=say("taken.heights-as", within=length(uncertainty)),
        source="the survey; the boat turns about its flotation point, its draught unchanged",
        can_flip=flips,
    )


def _fixed(table: Table) -> Iterator[Assumption]:
    """Assumptions that are reported but not tested."""
    kit = table.plant.scenario.kit
    if kit.membrane is not None:
        yield Assumption(
            said=say("taken.product"),
            taken=say("taken.product-as", salinity=quantity(PRODUCT_SALINITY, "mass fraction")),
            source=COMMON_PRACTICE,
            can_flip=False,
        )
    if table.plant.circuit.assumed:
        yield Assumption(
            said=say("taken.way-through", modules=table.plant.circuit.assumed),
            taken=say("taken.way-through-as"),
            source="the kit gives no other path",
            can_flip=True,
        )
    if not kit.limits.given:
        yield Assumption(
            said=say("taken.limits"),
            taken=say("taken.limits-as"),
            source="none given in the kit",
            can_flip=True,
        )
