"""The result of a scenario: as an earlier run kept it where nothing has changed, else run.

The stages are imported only where there is something to work out.
"""

from __future__ import annotations

from pathlib import Path

from fitcheck.kept import kept_result
from fitcheck.model.finding import Tell, silent
from fitcheck.model.result import Result
from fitcheck.scenario import read_scenario


def opened(file: Path, tell: Tell = silent) -> Result:
    """Everything there is to say about a scenario. Raises what `pipeline.run` does."""
    scenario = read_scenario(file)
    result = kept_result(scenario)
    if result is not None:
        tell("Nothing has changed since an earlier run: its result is opened")
        return result
    from fitcheck.pipeline import run_read

    return run_read(scenario, tell)
