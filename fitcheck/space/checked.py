"""Glimpsed space that somebody touched on board: free there, for what was tried there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitcheck.findings.said import Said, quantity, say, where
from fitcheck.geometry.grid import Grid
from fitcheck.model.finding import Assumption, Finding, Remedy
from fitcheck.model.found.space import FREE, Frame
from fitcheck.model.given.boat import Checked
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.placed import PlacedModule
from fitcheck.space.cells.labels import Labelling
from fitcheck.space.datum.place import spot
from fitcheck.units import Metre

#: What one hand feels at a place; common practice, no source [m].
HAND: Metre = 0.20
#: A module this far from where it was checked is elsewhere [m].
SAME_PLACE: Metre = 0.001


def count_checks(
    scenario: Scenario, frame: Frame, grid: Grid, labelling: Labelling
) -> tuple[tuple[Finding, ...], tuple[Assumption, ...]]:
    """Turn glimpsed cells free where the boat file says they were checked by hand.

    Beside a module these are the cells within the measured gap of its box, on a line those within
    the gap of the place; none is farther from the place than a hand reaches. A check of a module
    that has moved since, or of something the kit lacks, counts for nothing and is a finding.
    """
    findings, taken = [], []
    for check in scenario.boat.checked:
        module = _module(scenario, check)
        if lapsed := _lapsed(scenario, check, module):
            findings.append(_lapse(check, frame, lapsed))
            continue
        cells = np.argwhere(labelling.glimpsed)
        turned = cells[_within(grid.centre(cells), check, module, frame)]
        labelling.label[tuple(turned.T)] = FREE
        labelling.glimpsed[tuple(turned.T)] = False
        taken.append(_counted(check, frame, len(turned) * grid.pitch**3))
    return tuple(findings), tuple(taken)


def _module(scenario: Scenario, check: Checked) -> PlacedModule | None:
    placed = scenario.placed.modules
    return next((row for row in placed if row.module.name == check.of), None)


def _lapsed(scenario: Scenario, check: Checked, module: PlacedModule | None) -> Said | None:
    """Why a check does not count, None where it does."""
    if module is None:
        known = any(line.name == check.of for line in scenario.kit.lines)
        return None if known else say("checked.unknown", of=check.of)
    if check.position is None:
        return say("checked.no-position", of=check.of)
    moved = np.linalg.norm(np.array(check.position) - np.array(module.at))
    return say("checked.moved", of=check.of) if moved > SAME_PLACE else None


def _within(
    centres: NDArray[np.float64], check: Checked, module: PlacedModule | None, frame: Frame
) -> NDArray[np.bool_]:
    away = np.linalg.norm(centres - np.array(spot(frame, check.at)), axis=1)
    felt = away if module is None else module.box.distance(centres)
    result: NDArray[np.bool_] = (away <= HAND) & (felt <= check.gap)
    return result


def _lapse(check: Checked, frame: Frame, why: Said) -> Finding:
    return Finding(
        severity="caution",
        rule="check-lapsed",
        subject=check.of,
        said=say("checked.lapsed", of=check.of, at=where(spot(frame, check.at)), why=why),
        source="boat.checked",
        place=spot(frame, check.at),
        remedy=Remedy(said=say("checked.again")),
    )


def _counted(check: Checked, frame: Frame, room: float) -> Assumption:
    return Assumption(
        said=say("assumed.checked", of=check.of, at=where(spot(frame, check.at))),
        taken=say(
            "assumed.checked-taken", gap=quantity(check.gap, "gap"), room=quantity(room, "room")
        ),
        source="boat.checked: touched on board",
        can_flip=True,
    )
