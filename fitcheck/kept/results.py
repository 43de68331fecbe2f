"""A result under the key of all that it was worked out from."""

from __future__ import annotations

from contextlib import suppress

from fitcheck.kept.cache import keep, kept, key_of
from fitcheck.kept.codec import packed, unpacked
from fitcheck.model.given.scenario import Scenario
from fitcheck.model.result import Result


def keep_result(result: Result) -> None:
    """Keep a result for later runs."""
    # What cannot be kept is worked out again: never a reason to lose an answer.
    with suppress(TypeError, ValueError):
        keep(_key(result.scenario), packed(result))


def kept_result(scenario: Scenario) -> Result | None:
    """The result of a scenario, None where none is kept of just these files."""
    content = kept(_key(scenario))
    if content is None:
        return None
    with suppress(ValueError):
        result: Result = unpacked(content)
        return result
    return None


def _key(scenario: Scenario) -> str:
    """Every file a result is worked out from, and what it is called: remedies name files."""
    return key_of("result", (f"{one.sha256} {one.path}" for one in scenario.inputs))
