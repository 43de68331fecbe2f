"""How modules stand: what they meet, how they are carried, where else they would stand."""

from __future__ import annotations

SENTENCES = {
    # --- parts of many sentences ---------------------------------------------------------------
    "fit.at": " at {place}",
    "fit.within": ", +-{within}",
    "fit.length": "{length}",
    "fit.the-mesh": "the {mesh}",
    "fit.a-bit": "a {bit} of the mesh (a bracket, or noise)",
    "before.front": "in front of",
    "before.back": "behind",
    "before.left": "on the left of",
    "before.right": "on the right of",
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
    "clash.inside": "{name} stands inside a solid or outside the compartment{at}.",
    "outside.beyond": "{name} stands outside the boat: a corner lies {depth} beyond what was "
    "measured{at}.",
    "unseen.reaches": "{name} reaches {depth} into space that was never seen{at}; anything may be "
    "there.",
    "sunk.drawn": "{name} is drawn {depth} into {what}, which it is fixed to{at}: it will stand "
    "that much further out, and so will its ports.",
    "sunk.remedy": "Move {name} {depth} away from the surface there.",
    # --- what it is near -----------------------------------------------------------------------
    "tight.overlap": "{name} and {what} overlap by {depth}{within}{at}: tight. The mesh may be "
    "wrong by as much; look there before cutting.",
    "tight.gap": "{name} has a gap of {gap}{within}, to {what}{at}: tight; {asked} is asked.",
    "tight.remedy": "Move {name} {by} away from {what}.",
    "tight.remedy-or-measure": "Move {name} {by} away from {what}, or measure the gap on board.",
    "no-clearance.none": "No gap is asked between a module and what it is not fixed to: it could "
    "neither be set in nor move on its mounts.",
    "mounted.against": "{name} lies against {what} with: {faces}; taken as screwed to it there, "
    "so no gap is asked.",
    "mounted.face": "{face} ({gap})",
    # --- service space -------------------------------------------------------------------------
    "service-clearance.short": "{part}, {name} asks {wanted} {before} it; {there} clear before it "
    "meets {what}{at}.",
    "service-clearance.tight": "{short} Tight: measure on board.",
    "service-clearance.hands": "For hands",
    "service-clearance.part": "For the part that comes out",
    "service-clearance.drop": "To drop what comes out downward",
    "service-clearance.nothing": "nothing is",
    "service-clearance.some": "{clear} is",
    "service-clearance.about": "{clear}, +-{within}, is",
    "service-clearance.remedy": "Measure on board whether {wanted} {before} {name} is clear, or "
    "move it {by} away from {what}.",
    # --- how it stands, comes in and is lifted -------------------------------------------------
    "standing.upright": "{name} must stand upright; it leans {lean}, {most} is the most.",
    "standing.level": "{name} must stand with its length level; it leans {lean}, {most} is the "
    "most.",
    "hatch.unchecked": "The hatch is {small} by {large}; the way beyond it to each place is not "
    "checked.",
    "hatch.too-small": "{name} does not pass the hatch: end on it is {thin} by {middle}, the "
    "hatch is {small} by {large}.",
    "hatch.in-doubt": "{name} passes the hatch with {room} to spare, less than the mesh may be "
    "wrong ({doubt}).",
    "hatch.turn": "See whether it comes apart or can be turned through. Leave boat.hatch out once "
    "the way in was checked by hand.",
    "hatch.measure": "Measure the hatch on board. Leave boat.hatch out once the way in was "
    "checked by hand.",
    "lifting.two": "{name} weighs {mass}: two persons to lift it in.",
    # --- what carries it -----------------------------------------------------------------------
    "not-carried.nothing": "Nothing carries {name}: {nearest}. It may be fixed by its "
    "{faces: or }.",
    "not-carried.no-surface": "no surface lies square to a face it may be fixed by",
    "not-carried.too-little": "only {share} of its {face} lies against {what}",
    "not-carried.too-far": "the nearest surface that could, {what}, is {gap} {before} it{at}",
    "not-carried.ways": "{ways: Or: }",
    "not-carried.push": "Move it {by} {way} (layout.modules.{name}.at = [{at}]).",
    "not-carried.board": "Put a board {before} it: {board} (boat.boards).",
    "not-carried.no-way": "No board that reaches structure within {looked} would carry it here, "
    "nor is there a clear place right against any: stand it elsewhere by its {faces: or }, or "
    "build up to it with boards (boat.boards) that stand on the boat's structure.",
    # --- boards --------------------------------------------------------------------------------
    "board-not-carried.nothing": "Nothing carries {board}: no edge or face of it lies against the "
    "boat's structure.",
    "board-not-carried.overhang": "{board} reaches {reach} from where it is held ({by: and }); at "
    "most {most} is usual without a brace.",
    "board-not-carried.little": "{board} is held ({by: and }) along only {line}, under half of "
    "its side.",
    "board-not-carried.remedy": "Extend it to something that carries it, or add a board "
    "(boat.boards) that stands on the boat's structure and meets one of its edges.",
    "board-runs-into.unseen": "{board} lies partly in space never seen{at}.",
    "board-runs-into.beyond": "{board} lies partly beyond a surface, where there is no air on "
    "either side{at}.",
    "board-runs-into.thing": "{board} runs {depth} into {what}{at}.",
    "board-runs-into.remedy": "Make it smaller or place it elsewhere (boat.boards '{board}').",
    "board.longer": "Extend it {by} {way}: {board} (boat.boards).",
    "board.shorter": "Make it {by} shorter {way}: {board} (boat.boards).",
    # --- another place -------------------------------------------------------------------------
    "place.there": "{move}{turned}: at = [{at}]. {checked}{shut}{board}",
    "place.raise": "Raise {name} by {by}",
    "place.move": "Move {name} {shifts: and }",
    "place.turn": "Turn {name}",
    "place.shift": "{by} {way}",
    "place.turned": " to {angles}",
    "place.moved-and-turned": " and turn it to roll, pitch, yaw {angles}",
    "place.checked": "Checked: it fits there, its service clearances kept. Its hoses are not "
    "tried.",
    "place.in-doubt": "It may not fit there; measure before cutting: {doubts:;}.",
    "place.shut": " A hose may then have no room to turn before {ports: and }.",
    "place.needs-board": " Nothing carries it there: it then needs a board.",
    "place.none": "No clear place for {name} within {reach}, turned by quarters or not.{unseen}",
    "place.unseen": " Scan the unseen part again, or look there and declare it free in the boat "
    "file.",
    "doubt.sunk": "it stands {depth} deep in {what}",
    "doubt.gap": "{gap} +-{within} to {what} of {asked} asked",
    "doubt.service": "{gap} +-{within} {before} it, to {what}, of {asked} asked",
    "doubt.neighbours": "what it leaves clear for its neighbours",
    # --- assumed -------------------------------------------------------------------------------
    "assumed.box-gap": "gap between a module and anything it is not fixed to",
    "assumed.fixed-by": "faces {module} may be fixed by",
    "assumed.faces": "{faces: or }",
    "assumed.fixed-to": "a face this near a surface, its base or half covered, is fixed to it",
}
