"""Scenario files to a Scenario in SI, or every fault of every file at once.

`read_scenario` reads a scenario file, `read_kit` only its kit; `starter` writes an initial one,
`save_moved` one with moved modules, `save_applied` one with a remedy applied. `read_other` reads
the file that describes another mesh and the places picked on both.
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
