"""What the water side takes for granted, and whether being wrong there would change its verdict.

Bore and heights are tried: everything is solved and judged again with bores 5 % less and with the
boat's heights off by what the survey leaves open.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from fitcheck.hydraulics.judging import COMMON_PRACTICE, Table, Verdict, listed
from fitcheck.hydraulics.plant import PRODUCT_SALINITY, Plant
from fitcheck.hydraulics.remedies import judge
from fitcheck.hydraulics.solve import operate_at
from fitcheck.model.finding import SEVERITIES, Assumption
from fitcheck.units import Metre, Ratio, show

#: Bores of one nominal size differ by this much (common practice, no source).
BORE_SPREAD: Ratio = 0.05


def assumptions_of(
    table: Table, verdicts: Sequence[Verdict], height_uncertainty: Metre
) -> tuple[Assumption, ...]:
    """Every assumption, each with whether it can change the worst verdict of the water side."""
    found = _worst(verdicts)
    return (
        _bores(table, found),
        _heights(table, found, height_uncertainty),
        *_fixed(table),
    )


def _worst(verdicts: Iterable[Verdict]) -> int:
    """Place of the severest verdict, after all severities if there is none."""
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
    thin = {
        name: replace(run.hose, bore=run.hose.bore * (1.0 - BORE_SPREAD))
        for name, run in table.plant.runs.items()
    }
    return Assumption(
        what="bore of every hose",
        value="as written in the kit, taken as the true inside diameter",
        source=f"the kit; {show(BORE_SPREAD, 'fraction')} less bore is about 28 % more loss",
        can_flip=_again(table, table.plant.changed(thin)) != found,
    )


def _heights(table: Table, found: int, uncertainty: Metre) -> Assumption:
    flips = any(
        _again(table, _raised(table.plant, shift)) != found
        for shift in (uncertainty, -uncertainty)
    )
    return Assumption(
        what="heights above the sea",
        value=f"as surveyed, right within {show(uncertainty, 'length')}",
        source="the survey; the boat turns about its flotation point, its draught unchanged",
        can_flip=flips,
    )


def _raised(plant: Plant, shift: Metre) -> Plant:
    """The whole plant higher, the sea where it was."""
    x, y, z = plant.flotation
    return replace(plant, flotation=(x, y, z - shift))


def _fixed(table: Table) -> Iterator[Assumption]:
    """Assumptions that are told but not tried."""
    kit = table.plant.scenario.kit
    if kit.membrane is not None:
        yield Assumption(
            what="salinity of the product",
            value=show(PRODUCT_SALINITY, "mass fraction"),
            source=COMMON_PRACTICE,
            can_flip=False,
        )
    if table.plant.circuit.assumed:
        yield Assumption(
            what=f"way through {listed(table.plant.circuit.assumed)}",
            value="from the hose in to the hose out without loss",
            source="nothing else given in the kit",
            can_flip=True,
        )
    if not kit.limits.given:
        yield Assumption(
            what="limits of the pumps and the membrane",
            value="common practice",
            source="none given in the kit",
            can_flip=True,
        )
