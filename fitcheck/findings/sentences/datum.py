"""Scale, level and the height of the sea."""

from __future__ import annotations

SENTENCES = {
    "scale-unproven": "The scale of the mesh is not proven: {why}.",
    "scale-unproven.no-length": "no length was taken on board",
    "scale-unproven.lone": "one tape measure has nothing to agree with",
    "scale-unproven.remedy": "Measure two lengths on board with a tape, in different directions, "
    "and write them as [[boat.tape]]; for a drawing one that agrees is enough.",
    "scale": "By the tape measures the mesh is {ratio} times what its unit says; the tape "
    "measures are used.",
    "scale.doubted": "By the tape measures the mesh is {ratio} times what its unit says; the "
    "tape measures are used. With one tape measure nobody can say which of the two is wrong.",
    "scale.remedy": "Check boat.unit and the tapes' ends.",
    "scale.doubted-remedy": "Take a second tape measure.",
    "tape-disagreement.longer": "The tape measures disagree: number {number} ({taped}) is {off} "
    "longer than the others make it. Without it the scale is {without}, with it {whole}. "
    "{used:^}.",
    "tape-disagreement.shorter": "The tape measures disagree: number {number} ({taped}) is {off} "
    "shorter than the others make it. Without it the scale is {without}, with it {whole}. "
    "{used:^}.",
    "tape-disagreement.remedy": "Measure it again on board and pick its ends again.",
    "tape-disagreement.all": "The tape measures disagree, and no single one is to blame; number "
    "{number} ({taped}) is farthest off, {off}. The scale counts as no surer than they agree.",
    "tape-disagreement.all-remedy": "Measure them again on board and pick their ends again; take "
    "more.",
    "tape-residuals": "{count} tape measures give the scale within {within} (95 %); they lie "
    "{off} off it.",
    "outlier.left-out": "it is left out",
    "outlier.kept": "too few are left to leave it out",
    "marks.outlier-above": "Point {number} of boat.{marks} lies {off} above the plane of the "
    "others; {used}.",
    "marks.outlier-below": "Point {number} of boat.{marks} lies {off} below the plane of the "
    "others; {used}.",
    "marks.outlier-remedy": "Pick point {number} of boat.{marks} again.",
    "marks.residual": "The points of boat.{marks} lie {off} off their plane.",
    "marks.residual-remedy": "Pick the points of boat.{marks} again; more than one of them is "
    "wrong.",
    "marks.spread": "The level plane through {count} points of boat.{marks} may tip by {tilt}.",
    "marks.spread-remedy": "Pick more points, farther apart.",
    "up-unproven": "Which way is up is not proven: only an axis of the mesh says so.",
    "up-unproven.remedy": "State boat.conditions.trim for a drawing; for a scan pick six "
    "waterline marks or level points.",
    "sea-unproven": "The height of the sea is not known: neither boat.waterline nor boat.datum "
    "says.",
    "sea-unproven.remedy": "Pick six waterline marks, or give boat.datum.",
    "waterline-tilt": "The waterline lies {turned} from the mesh's own up axis; the waterline is "
    "used.",
    "waterline-tilt.remedy": "Pick the waterline again, or leave boat.up out if the mesh was not "
    "level.",
    "level-disagreement": "By boat.level up is {turned} from where the waterline has it, more "
    "than the {limit} both may be off; the waterline is used.",
    "level-disagreement.remedy": "Pick the waterline and boat.level again, or see whether the "
    "boat lay at rest.",
    "height-disagreement": "By the waterline the datum point stands {stands} above the sea, by "
    "boat.datum {told}; the waterline is used.",
    "height-disagreement.remedy": "Take the height of the datum point again, or pick the "
    "waterline again.",
    "assumed.scale": "the scan's scale is right to {within}",
    "assumed.scale-taken": "{within}",
    "assumed.centreline": "the centreline runs through the inside point",
    "assumed.centreline-taken": "{offset}",
    "assumed.sea": "the sea surface is as high as the inside point",
    "assumed.sea-taken": "{height}",
    "assumed.up-axis": "the mesh's up axis is vertical with the boat at rest",
    "assumed.up-axis-drawn": "up = {axis} of the mesh",
    "assumed.up-axis-scanned": "up = {axis} of the mesh, within {within}",
    "assumed.not-upside-down": "the mesh is not upside down",
    "assumed.not-upside-down-taken": "up = {axis} of the mesh",
    "axis.along": "{sign}{axis}",
    "axis.nearly": "nearly {sign}{axis}",
}
