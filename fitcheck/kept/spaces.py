"""A space under the key of all it depends on: another kit or layout does not label cells again."""

from __future__ import annotations

from contextlib import suppress

from fitcheck.kept.cache import keep, kept, key_of
from fitcheck.kept.codec import packed, unpacked
from fitcheck.kept.inputs import are_whole
from fitcheck.model.found.space import Space
from fitcheck.model.given.scenario import Scenario


def keep_space(scenario: Scenario, space: Space) -> None:
    """Cache the space of a scenario for later runs."""
    with suppress(TypeError, ValueError):
        keep(_key(scenario), packed(space))


def kept_space(scenario: Scenario) -> Space | None:
    """The cached space of a scenario, None if there is none for exactly this boat."""
    content = kept(_key(scenario)) if are_whole(scenario.inputs) else None
    if content is not None:
        with suppress(ValueError):
            space: Space = unpacked(content)
            return space
    return None


def _key(scenario: Scenario) -> str:
    """The inputs of `survey`; its result is valid for any kit and layout with the same ones."""
    boat = scenario.boat
    named = (boat.mesh, boat.rays, boat.stations)
    files = tuple(one.sha256 for one in scenario.inputs if one.path in named)
    straight = scenario.kit.allowances.straight
    # a check by hand lapses when its module moves
    placed = scenario.layout.placements if scenario.boat.checked else ()
    parts = (scenario.boat, scenario.boat_file, scenario.layout.pitch, straight, placed)
    return key_of("space", (*files, *(repr(part) for part in parts)))
