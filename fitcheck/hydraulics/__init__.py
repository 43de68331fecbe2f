"""The water side: what every hose loses and whether the pumps are fed, in every state.

Takes the scenario, where the sea stands in the boat and the hoses as routed; promises losses,
pump states, back pressures and verdicts; `mend_water` adds a tried remedy for whatever fails,
`find_ranges` how far the suction side may reach and how a bypass may be set. `explain_water`
takes the same and gives the calculation of every line and of every judged number step by step.
`standing` takes a kit alone and says how far and how high it may stand.
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
