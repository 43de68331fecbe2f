"""How the water is led: lines, openings, what gathers in them."""

from __future__ import annotations

from fitcheck.findings.rule import FILES, ORDER, PRACTICE, Rule

PIPING = (
    Rule(
        rule="line-missing",
        title="line missing",
        meaning="No line leads a water of the plant where it must go.",
        severities=("fail",),
        bars=ORDER,
        remedies=("words",),
    ),
    Rule(
        rule="boat-port-role",
        title="wrong boat port",
        meaning="A line leads to a boat port that cannot give or take this water.",
        severities=("fail",),
        bars=ORDER,
        remedies=("words",),
    ),
    Rule(
        rule="line-reversed",
        title="line reversed",
        meaning="A line is written against the way its water runs.",
        severities=("fail",),
        bars=ORDER,
        remedies=("keys",),
    ),
    Rule(
        rule="line-without-flow",
        title="line without flow",
        meaning="No water runs through a line of the kit.",
        severities=("caution",),
    ),
    Rule(
        rule="water-stranded",
        title="water with nowhere to go",
        meaning="Water at a port has no line to or from the sea or a tank.",
        severities=("caution",),
    ),
    Rule(
        rule="consumer-unknown",
        title="other consumer unknown",
        meaning="Something else draws on the suction side, and nobody says how much.",
        severities=("caution",),
        bars=ORDER,
        remedies=("words",),
    ),
    Rule(
        rule="backward-flow",
        title="backward flow",
        meaning="Water runs through a line from its end to its start.",
        severities=("caution",),
    ),
    Rule(
        rule="outlet-dry",
        title="outlet runs dry",
        meaning="One way out draws the hose of another empty, and air comes in there.",
        severities=("caution",),
    ),
    Rule(
        rule="pickup-immersion",
        title="depth of the pick-up",
        against="required",
        meaning="The opening that the plant draws from comes too near the surface of the sea, "
        "or above it.",
        severities=("caution",),
        limit="the depth wanted under water",
        origins=(PRACTICE,),
        bars=ORDER,
        remedies=("words",),
    ),
    Rule(
        rule="outlet-height",
        title="height of the outlet",
        against="required",
        meaning="The brine leaves so little above the sea that waves reach the opening.",
        severities=("caution",),
        limit="the height wanted above the sea",
        origins=(PRACTICE,),
    ),
    Rule(
        rule="outlet-under-water",
        title="outlet under water",
        meaning="An outlet comes under water in some attitude.",
        severities=("caution", "note"),
        limit="the height of the loop wanted above that waterline",
        origins=(PRACTICE,),
        remedies=("words", "none"),
    ),
    Rule(
        rule="siphon",
        title="siphon",
        meaning="A line draws itself empty, or a tank runs back, when the plant stops.",
        severities=("note",),
    ),
    Rule(
        rule="first-fill",
        title="first fill of the pump",
        meaning="The suction side rises above the sea, and the pump has air in it before its "
        "first start.",
        severities=("fail", "caution"),
        limit="the height to which the pump draws water up through air",
        origins=(FILES, PRACTICE),
        remedies=("words",),
    ),
    Rule(
        rule="stands-below-the-sea",
        title="module below the waterline",
        meaning="Modules stand below the sea in some attitude and run full when opened.",
        severities=("note",),
    ),
    Rule(
        rule="air-trap",
        title="air trap",
        meaning="The suction side has a high point in which air gathers.",
        severities=("caution", "note"),
        limit="the bore of the hose",
        origins=(PRACTICE,),
        remedies=("words", "none"),
    ),
    Rule(
        rule="vents",
        title="vents",
        meaning="Air gathers at these high points; a vent would let it out.",
        severities=("note",),
    ),
    Rule(
        rule="drains",
        title="drains",
        meaning="Water stays in these low points, for frost or a long stop.",
        severities=("note",),
    ),
    Rule(
        rule="flush",
        title="flush water",
        meaning="How much fresh water a flush takes, and how long.",
        severities=("note",),
    ),
)
