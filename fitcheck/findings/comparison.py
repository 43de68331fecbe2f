"""Another mesh of the same compartment (`fitcheck deviation`)."""

from __future__ import annotations

from fitcheck.findings.rule import FILES, PRACTICE, Rule

COMPARISON = (
    Rule(
        rule="settling",
        meaning="The two surfaces were still moving on one another when the search ended.",
        severities=("fail",),
        remedies=("words",),
    ),
    Rule(
        rule="overlap",
        meaning="The two meshes have little in common.",
        severities=("fail", "caution"),
        limit="the share that must have a surface of the other beside it",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="scatter",
        meaning="Where both meshes should be the same, their surfaces scatter.",
        severities=("fail",),
        limit="how far surfaces of one thing may scatter",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="free-motion",
        meaning="Nothing stops the other mesh from sliding or turning one way, so along it the "
        "pairs alone decide.",
        severities=("fail",),
        limit="the share of the surfaces that must stand in the way",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="way-round",
        meaning="Turned another way the other mesh lies better, or about as well.",
        severities=("fail", "caution"),
        limit="the share that meets as the pairs lay it",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="slid-away",
        meaning="The surfaces slid away from the pairs they were laid by.",
        severities=("fail",),
        limit="three times what pick and fit may be off by",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="stray-pair",
        meaning="Some pairs do not meet once the surfaces lie on one another.",
        severities=("caution",),
        limit="three times what pick and fit may be off by",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="scale-disagreement",
        meaning="The other mesh fits best at another scale than it is stated to have.",
        severities=("fail", "caution"),
        limit="three times what both scales may be off by",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="stands-inwards",
        meaning="A place of the other mesh stands inwards, so there is less room.",
        severities=("caution",),
        limit="--limit, else how well the meshes can be compared",
        origins=(FILES, PRACTICE),
        remedies=("words", "none"),
    ),
    Rule(
        rule="stands-outwards",
        meaning="A place of the other mesh stands outwards, so there is more room.",
        severities=("note",),
        limit="--limit, else how well the meshes can be compared",
        origins=(FILES, PRACTICE),
    ),
    Rule(
        rule="layout-not-tried",
        meaning="The layout could not be tried in the other mesh.",
        severities=("fail",),
        remedies=("words",),
    ),
    Rule(
        rule="not-seen-there",
        meaning="A module stands in the other mesh where nothing was seen.",
        severities=("fail",),
        remedies=("words",),
    ),
    Rule(
        rule="no-longer-fits",
        meaning="A module that fits in the boat's mesh does not fit in the other, or cannot be "
        "serviced there.",
        severities=("fail",),
        remedies=("words",),
    ),
    Rule(
        rule="fits-neither",
        meaning="A module fits in neither mesh.",
        severities=("fail",),
        remedies=("words",),
    ),
    Rule(
        rule="tight-there",
        meaning="A module that fits in the boat's mesh is tight in the other.",
        severities=("caution",),
        remedies=("words",),
    ),
)
