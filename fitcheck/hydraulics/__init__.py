"""The water side: the losses of every hose, and whether the pumps are fed, in every state.

Takes the scenario, the sea level in the boat and the hoses as routed; promises losses, pump
states, back pressures and verdicts. `mend_water` adds a tested remedy for whatever fails,
`find_ranges` the allowed suction length and bypass settings. `explain_water` takes the same and
gives the calculation of every line and of every judged number step by step. `standing` takes a kit
alone and calculates its allowed suction length and lift.
"""

from fitcheck.hydraulics.answers.explain_judged import explain_water
from fitcheck.hydraulics.answers.kit_alone import standing
from fitcheck.hydraulics.stage import find_ranges, mend_water, solve_water

__all__ = [
    "explain_water",
    "find_ranges",
    "mend_water",
    "solve_water",
    "standing",
]
