"""How far a module can be lowered: by the requested amount, or onto what is below it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

from fitcheck.fit.carrying import carried_by
from fitcheck.fit.measured.judge import judge
from fitcheck.fit.measured.measure import downward
from fitcheck.fit.measured.surroundings import Surroundings, surround
from fitcheck.fit.wording import findings_of
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.placed import PlacedModule
from fitcheck.units import Metre


def stands_lower(scenario: Scenario, space: Space) -> Callable[[str, Metre, Metre], Metre | None]:
    """A function of a module's name and the minimum and maximum lowering: how far it can go down.

    The module is clear and supported there, and no other module loses clearance. None: at neither
    place.
    """
    standings = {row.module.name: row for row in scenario.placed.modules}
    gap = scenario.kit.allowances.box_gap

    @cache
    def around() -> Surroundings:
        return surround(space, scan=scenario.boat.origin == "scan")

    def wrong(rows: dict[str, PlacedModule]) -> set[tuple[str, str]]:
        """Rule and subject of everything that fails or bars a step."""
        found = set()
        for name, row in rows.items():
            others = tuple(other for key, other in rows.items() if key != name)
            judged = judge(row, others, around(), gap)
            found |= {
                (finding.rule, finding.subject)
                for finding in findings_of(judged, gap, set(), lambda *_: None, lambda *_: None)
                if finding.severity == "fail" or finding.bars
            }
        return found

    def stands(module: str, least: Metre, most: Metre) -> Metre | None:
        start = standings[module]
        now = wrong(standings)
        down: Metre = least
        for _ in range(2):
            x, y, z = start.at
            there = replace(start, at=(x, y, z - down))
            rows = {**standings, module: there}
            fit = judge(
                there, tuple(row for key, row in rows.items() if key != module), around(), gap
            ).fit
            if carried_by(there, around()) and not wrong(rows) - now:
                return down
            below = next(row.gap for row in fit.faces if row.face == downward(there.box))
            if not 0.0 < below <= most - down:
                return None
            down += below
        return None

    return stands
