"""Pumps, pressures and flows."""

from __future__ import annotations

from fitcheck.findings.rule import FILES, ORDER, PRACTICE, PUBLISHED, Rule

WATER = (
    Rule(
        rule="not-known",
        meaning="A number could not be worked out, because a hose, a pump or the membrane is "
        "missing.",
        severities=("caution",),
        bars=ORDER,
        remedies=("words", "none"),
    ),
    Rule(
        rule="largest-flow",
        meaning="The flow asked for cannot be had.",
        severities=("fail",),
        limit="the flow that the plant asks",
        origins=(FILES,),
        remedies=("keys", "move", "words", "none"),
    ),
    Rule(
        rule="suction-vacuum",
        meaning="The vacuum at the inlet of the pump that sucks is high.",
        severities=("fail", "caution"),
        limit="kit.limits.suction_vacuum_ok and suction_vacuum_max",
        origins=(FILES, PRACTICE),
        remedies=("keys", "move", "words"),
    ),
    Rule(
        rule="npsh-margin",
        meaning="The pump that sucks has too little NPSH, or runs beyond the NPSH curve given.",
        severities=("fail", "caution"),
        limit="the NPSH it asks, with kit.limits.npsh_ratio and npsh_margin",
        origins=(FILES, PUBLISHED, PRACTICE),
        remedies=("keys", "move", "words", "none"),
    ),
    Rule(
        rule="inlet-pressure",
        meaning="The high-pressure pump gets too little pressure at its inlet.",
        severities=("fail",),
        limit="kit.limits.inlet_pressure_min",
        origins=(FILES, PRACTICE),
        remedies=("keys", "move", "words"),
    ),
    Rule(
        rule="bypass-too-open",
        meaning="The bypass passes so much that the feed pump runs beyond the end of its curve.",
        severities=("fail",),
        limit="the end of the pump curve",
        origins=(FILES,),
        remedies=("keys", "move", "words"),
    ),
    Rule(
        rule="pump-cycling",
        meaning="A diaphragm pump gives more than is drawn and is stopped and started by its "
        "switch.",
        severities=("caution",),
        limit="running all the time",
        origins=(FILES,),
        remedies=("words",),
    ),
    Rule(
        rule="acceleration-head",
        meaning="Speeding up the water in the hoses before a plunger pump asks this much head.",
        severities=("note",),
        remedies=("words", "none"),
    ),
    Rule(
        rule="salinity-range",
        meaning="The water is saltier than the published range of its density.",
        severities=("note",),
        limit="the end of the published range",
        origins=(PUBLISHED,),
    ),
    Rule(
        rule="rule-of-thumb",
        meaning="The trade's rule for the length of the suction side says something else than "
        "the numbers.",
        severities=("note",),
        limit="the length that the rule allows",
        origins=(PRACTICE,),
    ),
    Rule(
        rule="suction-wall",
        meaning="A hose with a soft wall comes under vacuum and may collapse.",
        severities=("fail", "caution"),
        limit="the vacuum that a soft wall takes",
        origins=(PRACTICE,),
        remedies=("keys", "move", "words"),
    ),
    Rule(
        rule="pressure-rating",
        meaning="A hose is rated for less pressure than it may see.",
        severities=("fail",),
        limit="the highest pressure that the line may see",
        origins=(FILES,),
        remedies=("keys", "move", "words"),
    ),
    Rule(
        rule="high-pressure-loss",
        meaning="A high-pressure hose loses a large share of the working pressure.",
        severities=("fail", "note"),
        limit="kit.limits.high_pressure_loss_max; as a note, the share that is fine",
        origins=(FILES, PRACTICE),
        remedies=("keys", "words", "none"),
    ),
    Rule(
        rule="velocity",
        meaning="The water in a hose runs fast.",
        severities=("caution", "note"),
        limit="the speed that is fine, and the speed that is much",
        origins=(PRACTICE,),
        remedies=("keys", "move", "words", "none"),
    ),
    Rule(
        rule="transition-flow",
        meaning="The flow may be laminar or turbulent and is judged at the higher loss.",
        severities=("note",),
    ),
    Rule(
        rule="brine-back-pressure",
        meaning="The brine has to push against a high pressure on its way out.",
        severities=("fail", "caution"),
        limit="kit.limits.brine_back_pressure_max",
        origins=(FILES, PRACTICE),
        remedies=("keys", "words"),
    ),
    Rule(
        rule="product-back-pressure",
        meaning="The product has to push against a pressure that can tear the membrane.",
        severities=("fail",),
        limit="kit.limits.product_back_pressure_max",
        origins=(FILES, PRACTICE),
        remedies=("keys", "words"),
    ),
    Rule(
        rule="coil-too-tight",
        meaning="Spare hose is coiled tighter than the hose may be bent.",
        severities=("fail",),
        limit="twice the bend radius of the hose",
        origins=(FILES,),
        remedies=("words",),
    ),
    Rule(
        rule="coil",
        meaning="Spare hose laid in a coil loses this much pressure.",
        severities=("note",),
        remedies=("words",),
    ),
)
