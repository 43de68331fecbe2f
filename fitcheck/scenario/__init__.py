"""Scenario files to a Scenario in SI, or every fault of every file at once.

`read_scenario` takes the scenario file; `starter` writes one to begin with.
"""

from fitcheck.scenario.read import read_scenario
from fitcheck.scenario.starter import starter

__all__ = ["read_scenario", "starter"]
