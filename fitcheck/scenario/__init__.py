"""Scenario files to a Scenario in SI, or every fault of every file at once.

`read_scenario` takes the scenario file, `read_kit` only its kit; `starter` writes one to begin
with, `save_moved` one whose modules were moved, `save_applied` one with a remedy applied.
`read_other` takes the file that says what is known of another mesh and which of its places are
the same.
"""

from fitcheck.scenario.changed import save_applied, save_moved
from fitcheck.scenario.other import read_other
from fitcheck.scenario.stage import read_kit, read_scenario
from fitcheck.scenario.starter import starter

__all__ = [
    "read_kit",
    "read_other",
    "read_scenario",
    "save_applied",
    "save_moved",
    "starter",
]
