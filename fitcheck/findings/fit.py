"""Whether the boxes fit, can be serviced and are carried."""

from __future__ import annotations

from fitcheck.findings.rule import BOTH, CUT, FILES, MEASURED, PRACTICE, Rule

FIT = (
    Rule(
        rule="clash",
        meaning="A module overlaps something solid, another module or a board, or stands inside "
        "a body.",
        severities=("fail",),
        limit="no overlap",
        origins=(PRACTICE,),
        remedies=("move", "words"),
    ),
    Rule(
        rule="outside",
        meaning="A module reaches beyond what was measured of the boat.",
        severities=("fail",),
        limit="the extent of the mesh",
        origins=(MEASURED,),
        remedies=("move", "words"),
    ),
    Rule(
        rule="unseen",
        meaning="A module reaches into space that was never seen.",
        severities=("fail",),
        limit="no reach into such space",
        origins=(MEASURED,),
        remedies=("move", "words"),
    ),
    Rule(
        rule="sunk",
        meaning="A module is drawn deeper into the surface it is fixed to than the surface is "
        "rough.",
        severities=("caution",),
        limit="the roughness of the surface, and 3 mm of packing",
        origins=(MEASURED, PRACTICE),
        bars=BOTH,
        remedies=("move", "words"),
    ),
    Rule(
        rule="tight",
        meaning="A gap is smaller than asked, or may be an overlap for all the mesh tells.",
        severities=("caution",),
        limit="the gap asked (kit.allowances.box_gap) and how far the mesh may be wrong",
        origins=(FILES, MEASURED),
        bars=CUT,
        remedies=("move", "words"),
    ),
    Rule(
        rule="service-clearance",
        meaning="The space that a module needs in front of a face to be serviced is not clear, "
        "or may not be.",
        severities=("fail", "caution"),
        limit="the space that the kit asks",
        origins=(FILES,),
        bars=CUT,
        remedies=("move", "words"),
    ),
    Rule(
        rule="mounted",
        meaning="A module lies against something with these faces and counts as screwed to it "
        "there.",
        severities=("note",),
    ),
    Rule(
        rule="not-carried",
        meaning="Nothing that a module may be fixed to is in reach of it.",
        severities=("caution",),
        limit="how far a fixing reaches",
        origins=(FILES, PRACTICE),
        bars=BOTH,
        remedies=("move", "words"),
    ),
    Rule(
        rule="standing",
        meaning="A module that must stand upright or level leans.",
        severities=("fail",),
        limit="5 deg",
        origins=(FILES, PRACTICE),
        remedies=("move", "words", "none"),
    ),
    Rule(
        rule="no-clearance",
        meaning="No clearance at all is asked between modules, round hoses or between hoses.",
        severities=("caution",),
        limit="the clearance that is usual",
        origins=(PRACTICE,),
        bars=BOTH,
        remedies=("keys",),
    ),
    Rule(
        rule="hatch",
        meaning="A module does not pass the hatch, or only by less than the mesh may be wrong; "
        "or the way beyond the hatch was not checked.",
        severities=("caution", "note"),
        limit="the hatch, and how far the mesh may be wrong",
        origins=(FILES, MEASURED),
        bars=CUT,
        remedies=("words", "none"),
    ),
    Rule(
        rule="lifting",
        meaning="A module is too heavy for one person to lift in.",
        severities=("note",),
        limit="what one person should lift",
        origins=(PRACTICE,),
    ),
    Rule(
        rule="board-not-carried",
        meaning="A board still to be built has nothing in reach that carries it.",
        severities=("caution",),
        limit="how far a board may hang over",
        origins=(PRACTICE,),
        bars=BOTH,
        remedies=("keys", "words"),
    ),
    Rule(
        rule="board-runs-into",
        meaning="A board still to be built runs into something or into space never seen.",
        severities=("caution",),
        limit="no overlap",
        origins=(MEASURED,),
        bars=BOTH,
        remedies=("keys", "words"),
    ),
)
