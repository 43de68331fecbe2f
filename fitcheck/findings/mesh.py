"""What the mesh, the scan and the boat file say of the compartment."""

from __future__ import annotations

from fitcheck.findings.rule import BOTH, FILES, MEASURED, PRACTICE, Rule

MESH = (
    Rule(
        rule="file",
        title="remark on the mesh file",
        meaning="The mesh file said something of itself, or something in it was read in a way "
        "worth knowing.",
        severities=("note",),
    ),
    Rule(
        rule="file-unit",
        title="unit of the mesh file",
        meaning="The unit was taken from the mesh file, or the boat file names another unit "
        "than the mesh file.",
        severities=("caution", "note"),
        limit="the unit the mesh file names",
        origins=(MEASURED,),
        remedies=("words", "none"),
    ),
    Rule(
        rule="file-whole",
        title="mesh file possibly incomplete",
        meaning="The mesh file may have been cut short or damaged.",
        severities=("caution",),
        remedies=("words",),
    ),
    Rule(
        rule="points",
        title="walls made from points",
        meaning="The file holds points instead of faces, and each point was made into a square.",
        severities=("caution", "note"),
        limit="squares of two cells' width, beyond which walls are guessed",
        origins=(MEASURED,),
        remedies=("words", "none"),
    ),
    Rule(
        rule="dropped-triangles",
        title="triangles left out",
        meaning="Triangles that mean nothing, such as those without area, were left out of the "
        "mesh.",
        severities=("note",),
    ),
    Rule(
        rule="loose-bits",
        title="loose pieces of mesh",
        meaning="Small pieces of mesh hang free in the compartment; they count as solid.",
        severities=("note",),
        remedies=("words",),
    ),
    Rule(
        rule="facing",
        title="faces disagree on inside and outside",
        meaning="The triangles do not agree which side of a surface is the outside.",
        severities=("caution",),
        remedies=("words",),
    ),
    Rule(
        rule="leak",
        title="gap in the compartment",
        meaning="The compartment is not closed: the mesh has a gap in it.",
        severities=("fail", "caution", "note"),
        limit="no gap in a drawing",
        origins=(MEASURED,),
        remedies=("words",),
    ),
    Rule(
        rule="inside-pocket",
        title="inside point in a closed pocket",
        meaning="The inside point lies in a closed space smaller than another one in the mesh, "
        "perhaps inside a body.",
        severities=("caution",),
        remedies=("words",),
    ),
    Rule(
        rule="viewpoint-in-solid",
        title="viewpoint inside a solid",
        meaning="A viewpoint lies in a surface or a solid and is not used.",
        severities=("note",),
        remedies=("words",),
    ),
    Rule(
        rule="no-viewpoint",
        title="no usable viewpoint",
        meaning="A scan has no usable viewpoint, so only what the inside point sees is called "
        "free.",
        severities=("caution",),
        remedies=("words",),
    ),
    Rule(
        rule="unseen-share",
        title="share of unseen space",
        meaning="A part of the compartment was not seen well enough to be called free.",
        severities=("caution", "note"),
        limit="the largest share unseen that passes as a note",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="unseen-near",
        title="unseen space near a module",
        meaning="Space close to a module was never seen.",
        severities=("note",),
        remedies=("words",),
    ),
    Rule(
        rule="open-edge",
        title="free space beyond the mesh",
        meaning="Free space runs to the edge of the mesh or of its crop, and nothing beyond is "
        "known.",
        severities=("caution",),
        remedies=("words",),
    ),
    Rule(
        rule="port-blocked",
        title="boat port blocked",
        against="required",
        meaning="A boat port opens into a wall or into space never seen.",
        severities=("fail",),
        limit="the straight length kept free in front of a port",
        origins=(FILES,),
        remedies=("words",),
    ),
    Rule(
        rule="port-off-surface",
        title="boat port far from any surface",
        meaning="A boat port lies far from every surface of the mesh.",
        severities=("caution",),
        limit="how far off a surface a pick may lie",
        origins=(PRACTICE,),
        bars=BOTH,
        remedies=("words",),
    ),
    Rule(
        rule="hole-blocked",
        title="hole blocked on one side",
        against="required",
        meaning="Nothing is free on one side of a hole for hoses.",
        severities=("caution",),
        limit="the room a hose needs to leave the hole",
        origins=(PRACTICE,),
        remedies=("words",),
    ),
    Rule(
        rule="hole-off-surface",
        title="hole far from any surface",
        meaning="A hole for hoses lies far from every surface of the mesh.",
        severities=("caution",),
        limit="how far off a surface a pick may lie",
        origins=(PRACTICE,),
        bars=BOTH,
        remedies=("words",),
    ),
    Rule(
        rule="accuracy-doubted",
        title="stated scan accuracy in doubt",
        meaning="Smooth faces of the scan waver by more than its stated accuracy, so it cannot "
        "be that accurate.",
        severities=("caution",),
        limit="how far the scan's own faces waver",
        origins=(MEASURED,),
        remedies=("keys",),
    ),
    Rule(
        rule="board-to-build",
        title="board to be built",
        meaning="A board in the boat file is still to be built.",
        severities=("note",),
    ),
)
