"""Scale, level and sea level."""

from __future__ import annotations

SENTENCES = {
    "scale-unproven": "The scale of the mesh is not proven: {why}.",
    "scale-unproven.no-length": "no length was measured on board",
    "scale-unproven.lone": "one tape measurement cannot be cross-checked",
    "scale-unproven.remedy": "Measure two lengths on board with a tape, in different directions, "
    "and write them as [[boat.tape]]. For a drawing one that agrees is enough.",
    "scale": "The tape measurements make the mesh {ratio} times the size its unit gives; the tape "
    "measurements are used.",
    "scale.doubted": "The tape measurement is {taped}, but {by_unit} by boat.unit, so the mesh "
    "is {ratio} times the size its unit gives; the tape measurement is used. With only one it is "
    "unknown which of the two is wrong.",
    "scale.unit": "The tape measurements fit a mesh in {other}, but boat.unit is {unit} ({ratio} "
    "times); the tape measurements are used.",
    "scale.remedy": "Check boat.unit and the lengths and ends of the tape measurements.",
    "scale.doubted-remedy": "The tape measurement is {taped}, but {by_unit} by boat.unit. Correct "
    "the one that is wrong, and take a second tape measurement.",
    "scale.unit-remedy": "The tape measurements fit a mesh in {other}, but boat.unit is {unit}. "
    "Set boat.unit to {other}.",
    "scale.unit-doubted-remedy": "The tape measurement fits a mesh in {other}, but boat.unit is "
    "{unit}. Set boat.unit to {other}, or correct the length of the tape measurement.",
    "tape-disagreement.longer": "The tape measurements disagree: number {number} ({taped}) is "
    "{off} longer than the others predict. Without it the scale is {without}, with it {whole}. "
    "{used:^}.",
    "tape-disagreement.shorter": "The tape measurements disagree: number {number} ({taped}) is "
    "{off} shorter than the others predict. Without it the scale is {without}, with it {whole}. "
    "{used:^}.",
    "tape-disagreement.remedy": "Measure it again on board and pick its ends again.",
    "tape-disagreement.all": "The tape measurements disagree, and no single one explains it; "
    "number {number} ({taped}) has the largest deviation, {off}. The uncertainty of the scale is "
    "increased accordingly.",
    "tape-disagreement.all-remedy": "Measure them again on board, pick their ends again and take "
    "more.",
    "tape-residuals": "{count} tape measurements give the scale within {within} (95 %); they "
    "differ from it by {off}.",
    "outlier.left-out": "it is not used",
    "outlier.kept": "it is used, because without it too few remain",
    "marks.outlier-above": "Point {number} of boat.{marks} is {off} above the plane of the "
    "others; {used}.",
    "marks.outlier-below": "Point {number} of boat.{marks} is {off} below the plane of the "
    "others; {used}.",
    "marks.outlier-remedy": "Pick point {number} of boat.{marks} again.",
    "marks.residual": "The points of boat.{marks} deviate {off} from their plane.",
    "marks.residual-remedy": "Pick the points of boat.{marks} again; more than one of them is "
    "wrong.",
    "marks.spread": "The tilt of the plane through {count} points of boat.{marks} is uncertain by "
    "{tilt}.",
    "marks.spread-remedy": "Pick more points, farther apart.",
    "frame-doubted": "{names:and} {names:is|are} not in free space. With {change}, {clear} of "
    "{count} modules and boat ports would be.",
    "frame-doubted.remedy": "Write {change} if that is so on board: {clear} of {count} modules "
    "and boat ports are then in free space, now {now}.",
    "frame-doubted.axis": "{wrong} = {axis}",
    "frame-doubted.up": "boat.up reversed",
    "frame-doubted.swapped": "boat.up and boat.forward exchanged",
    "frame-doubted.forward": "another direction of boat.forward",
    "frame-doubted.side": "boat.centreline.side = {side}",
    "frame-doubted.height": "boat.datum.above_sea = {height}",
    "frame-doubted.waterline": "the coordinates of boat.waterline in the order {order}",
    "up-unproven": "The vertical is not proven: only an axis of the mesh defines it.",
    "up-unproven.remedy": "For a drawing state boat.conditions.trim; for a scan pick six "
    "waterline marks or level points.",
    "sea-unproven": "The sea level is unknown: neither boat.waterline nor boat.datum is given.",
    "sea-unproven.remedy": "Pick six waterline marks, or give boat.datum.",
    "waterline-tilt": "The waterline is tilted {turned} from the mesh's own up axis; the "
    "waterline is used.",
    "waterline-tilt.remedy": "Pick the waterline again, or leave boat.up out if the mesh was not "
    "level.",
    "level-disagreement": "The vertical from boat.level differs from that of the waterline by "
    "{turned}, more than their combined uncertainty of {limit}; the waterline is used.",
    "level-disagreement.remedy": "Pick the waterline and boat.level again, or check that the "
    "boat was at rest.",
    "height-disagreement": "The datum point is {stands} above the sea by the waterline, but "
    "{told} by boat.datum; the waterline is used.",
    "height-disagreement.remedy": "Measure the height of the datum point again, or pick the "
    "waterline again.",
    "assumed.scale": "the scale of the scan is correct within {within}",
    "assumed.scale-taken": "{within}",
    "assumed.centreline": "the centreline passes through the inside point",
    "assumed.centreline-taken": "{offset}",
    "assumed.sea": "the sea level is the height of the inside point",
    "assumed.sea-taken": "{height}",
    "assumed.up-axis": "the mesh's up axis is vertical with the boat at rest",
    "assumed.up-axis-drawn": "up = {axis} of the mesh",
    "assumed.up-axis-scanned": "up = {axis} of the mesh, within {within}",
    "assumed.not-upside-down": "the mesh is not upside down",
    "assumed.not-upside-down-taken": "up = {axis} of the mesh",
    "axis.along": "{sign}{axis}",
    "axis.nearly": "nearly {sign}{axis}",
}
