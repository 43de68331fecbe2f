"""The hoses: ways, bends, clearances, what holds them."""

from __future__ import annotations

from fitcheck.findings.rule import BOTH, FILES, MEASURED, ORDER, PRACTICE, Rule

ROUTES = (
    Rule(
        rule="no-route",
        meaning="No way was found for a hose.",
        severities=("fail",),
        limit="what is missing to the bend radius and the clearances of the kit",
        origins=(FILES,),
        bars=BOTH,
        remedies=("keys", "words"),
    ),
    Rule(
        rule="bend-radius",
        meaning="Every hose laid keeps its bend radius.",
        severities=("note",),
        limit="the bend radius of the hose",
        origins=(FILES,),
    ),
    Rule(
        rule="clearance-accuracy",
        meaning="A hose may touch something for all the scan tells.",
        severities=("caution",),
        limit="how far the boat frame and the scan may be wrong, at 95 %",
        origins=(MEASURED,),
        bars=ORDER,
        remedies=("words",),
    ),
    Rule(
        rule="hole-chosen",
        meaning="A line passes one of several holes, and this is what the others would have "
        "come to.",
        severities=("note",),
    ),
    Rule(
        rule="straight-pressure-hose",
        meaning="A high-pressure hose runs nearly straight and has no bend to take up its "
        "change of length.",
        severities=("caution",),
        limit="the share of its length at which a hose counts as nearly straight",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="clip-between-planes",
        meaning="A high-pressure hose changes the plane it bends in where no clip can hold it.",
        severities=("caution",),
        limit="no such place",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="unsupported-span",
        meaning="A hose to be led along structure hangs free for longer than asked.",
        severities=("caution",),
        limit="the free span allowed",
        origins=(PRACTICE, FILES),
        bars=ORDER,
        remedies=("words",),
    ),
    Rule(
        rule="hanging-free",
        meaning="Hoses led the shortest way hang free for longer than usual.",
        severities=("note",),
        limit="the free span that is usual",
        origins=(PRACTICE, FILES),
        bars=ORDER,
        remedies=("words",),
    ),
    Rule(
        rule="span-kept",
        meaning="Hoses led along structure hang free nowhere for longer than allowed.",
        severities=("note",),
    ),
    Rule(
        rule="clips-on-modules",
        meaning="Clips would sit on a module, which may be lifted out or shake.",
        severities=("note",),
    ),
    Rule(
        rule="way-without-high-point",
        meaning="A suction hose was led another way than the shortest, to avoid a high point.",
        severities=("note",),
    ),
    Rule(
        rule="mounting",
        meaning="How exactly the modules must stand for every ordered length to reach.",
        severities=("caution", "note"),
        limit="the tolerance of mounting (kit.allowances.mounting)",
        origins=(FILES, PRACTICE),
        bars=ORDER,
        remedies=("words", "none"),
    ),
    Rule(
        rule="assembly-laid",
        meaning="Hose assemblies longer than their shortest way can be laid with the excess in "
        "a bow.",
        severities=("note",),
    ),
    Rule(
        rule="assembly-not-laid",
        meaning="No way was found to lay an assembly of the length to be ordered.",
        severities=("caution",),
        limit="no excess that finds no bow",
        origins=(FILES,),
        remedies=("words",),
    ),
    Rule(
        rule="assembly-under-pressure",
        meaning="An assembly can be laid, but not when pressure makes it longer or shorter.",
        severities=("caution",),
        limit="the length of the shortest way",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
)
