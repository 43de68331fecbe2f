"""Positions of modules: what they meet, what supports them, where else they would fit."""

from __future__ import annotations

SENTENCES = {
    # --- parts of many sentences ---------------------------------------------------------------
    "fit.at": " at {place}",
    "fit.within": " ± {within}",
    "fit.length": "{length}",
    "fit.a-bit": "a {bit} of the mesh (a bracket, or noise)",
    "before.front": "in front of",
    "before.back": "behind",
    "before.left": "to the left of",
    "before.right": "to the right of",
    "before.top": "above",
    "before.base": "below",
    "way.forward": "forward",
    "way.aft": "aft",
    "way.port": "to port",
    "way.starboard": "to starboard",
    "way.up": "up",
    "way.down": "down",
    # --- what a module runs into ---------------------------------------------------------------
    "clash.overlap": "{name} and {what} overlap by {depth}{at}.",
    "clash.inside": "{name} is inside a solid or outside the compartment{at}.",
    "outside.beyond": "{name} is outside the boat: one corner is {depth} beyond the mesh{at}.",
    "unseen.reaches": "{name} reaches {depth} into unscanned space{at}. What is there is unknown.",
    "touch.gap": "{name} fits by what was scanned, but {gap} from it is weakly scanned space{at}: "
    "too few lines of sight agree that it is free.",
    "touch.reaches": "{name} fits by what was scanned, but reaches {depth} into weakly scanned "
    "space{at}: too few lines of sight agree that it is free.",
    "touch.remedy": "Touch it there before cutting{at}. If it is free, write the measured gap as "
    "[[boat.checked]], or scan it from another side.",
    "sunk.drawn": "{name} is placed {depth} inside {what}, its mounting surface{at}. Once "
    "mounted, it and its ports will be {depth} further out.",
    "sunk.remedy": "Move {name} {depth} away from the surface.",
    # --- what it is near -----------------------------------------------------------------------
    "tight.overlap": "{name} and {what} overlap by {depth}{within}{at}. The overlap is within the "
    "uncertainty of the mesh: measure there before cutting.",
    "tight.gap": "{name} is tight: the gap to {what} is {gap}{within}{at}, {asked} is required.",
    "tight.remedy": "Move {name} {by} away from {what}.",
    "tight.remedy-or-measure": "Move {name} {by} away from {what}, or measure the gap on board.",
    "no-clearance.none": "No gap is required between a module and its neighbours. It could not be "
    "installed, or would touch them when it moves on its mounts.",
    "mounted.against": "{name} is in contact with {what}: {faces}. It is treated as screwed on "
    "there, so no gap is required.",
    "mounted.face": "{face} ({gap})",
    # --- service space -------------------------------------------------------------------------
    "service-clearance.short": "{name} needs {wanted} clear {before} it {part}; {there} available "
    "(limited by {what}{at}).",
    "service-clearance.tight": "{short} This is within the uncertainty of the mesh: measure on "
    "board.",
    "service-clearance.hands": "for hand access",
    "service-clearance.part": "to withdraw a part",
    "service-clearance.drop": "to withdraw a part downward",
    "service-clearance.nothing": "none is",
    "service-clearance.some": "{clear} is",
    "service-clearance.about": "{clear} ± {within} is",
    "service-clearance.remedy": "Measure on board whether {wanted} {before} {name} is clear, or "
    "move it {by} away from {what}.",
    # --- orientation, access and weight --------------------------------------------------------
    "standing.upright": "{name} must be upright: it tilts {lean}, limit {most}.",
    "standing.level": "{name} must have its length level: it tilts {lean}, limit {most}.",
    "hatch.unchecked": "The hatch is {small} by {large}. The route from the hatch to each "
    "position is not checked.",
    "hatch.too-small": "{name} does not fit through the hatch: its smallest face is {thin} by "
    "{middle}, the hatch {small} by {large}.",
    "hatch.in-doubt": "{name} fits through the hatch with {room} to spare, less than the "
    "uncertainty of the mesh ({doubt}).",
    "hatch.turn": "Check whether it can be dismantled or turned through the hatch. Once you have "
    "checked the access yourself, leave boat.hatch out.",
    "hatch.measure": "Measure the hatch on board. Once you have checked the access yourself, "
    "leave boat.hatch out.",
    "lifting.two": "{name} weighs {mass}: lift it with two people.",
    # --- what supports it ----------------------------------------------------------------------
    "not-carried.nothing": "Nothing supports {name}: {nearest}. It may be fixed by its {faces: "
    "or } face.",
    "not-carried.no-surface": "no surface is parallel to a face it may be fixed by",
    "not-carried.too-little": "only {share} of its {face} is in contact with {what}",
    "not-carried.too-far": "the nearest suitable surface, {what}, is {gap} {before} it{at}",
    "not-carried.ways": "{ways: Or: }",
    "not-carried.push": "Move it {by} {way} (layout.modules.{name}.at = [{at}]).",
    "not-carried.board": "Add a board {before} it: {board} (boat.boards).",
    "not-carried.no-way": "No board that reaches structure within {looked} would support it "
    "here, and there is no clear position against a surface. Mount it elsewhere by its {faces: "
    "or } face, or add boards (boat.boards) that are supported by the boat's structure.",
    # --- boards --------------------------------------------------------------------------------
    "board-not-carried.nothing": "Nothing supports {board}: no edge or face of it is in contact "
    "with the boat's structure.",
    "board-not-carried.overhang": "{board} overhangs its support ({by: and }) by {reach}; the "
    "usual maximum without a brace is {most}.",
    "board-not-carried.little": "{board} is supported ({by: and }) along only {line}, less than "
    "half of its side.",
    "board-not-carried.remedy": "Extend it to a support, or add a board (boat.boards) that is "
    "supported by the boat's structure and touches one of its edges.",
    "board-runs-into.unseen": "{board} is partly in unscanned space{at}.",
    "board-runs-into.beyond": "{board} is partly behind a surface, with no free space on either "
    "side{at}.",
    "board-runs-into.thing": "{board} overlaps {what} by {depth}{at}.",
    "board-runs-into.remedy": "Make it smaller or move it (boat.boards '{board}').",
    "board.filed": "{ name = {name}, corners = [{corners}], thickness = {thickness}, "
    'grows = "{way}", state = "planned" }',
    "board.corner": "[{at}]",
    "board.longer": "Extend it {by} {way}: {board} (boat.boards).",
    "board.shorter": "Shorten it {by} {way}: {board} (boat.boards).",
    # --- another place -------------------------------------------------------------------------
    "place.there": "{move}{turned}: at = [{at}]. {checked}{shut}{board}",
    "place.raise": "Raise {name} by {by}",
    "place.move": "Move {name} {shifts: and }",
    "place.turn": "Turn {name}",
    "place.shift": "{by} {way}",
    "place.turned": " to {angles}",
    "place.moved-and-turned": " and turn it to roll, pitch, yaw {angles}",
    "place.checked": "It fits there with its service clearances. Its hoses are not checked.",
    "place.in-doubt": "The fit there is uncertain. Measure before cutting: {doubts:;}.",
    "place.shut": " A hose may then have no room to bend at {ports: and }.",
    "place.needs-board": " Nothing supports it there: it needs a board.",
    "place.none": "No clear position for {name} was found within {reach}, even when turned by "
    "90°.{unseen}",
    "place.unseen": " Scan the unscanned space, or inspect it and declare it free in the boat "
    "file.",
    "doubt.sunk": "it is {depth} inside {what}",
    "doubt.gap": "gap to {what} {gap} ± {within}, {asked} required",
    "doubt.service": "{gap} ± {within} {before} it to {what}, {asked} required",
    "doubt.neighbours": "the clearance it leaves for its neighbours",
    # --- assumed -------------------------------------------------------------------------------
    "assumed.box-gap": "gap required between a module and anything it is not fixed to",
    "assumed.fixed-by": "faces {module} may be fixed by",
    "assumed.faces": "{faces: or }",
    "assumed.fixed-to": "largest gap at which a module counts as fixed to a surface that covers "
    "its base or half of a face",
}
