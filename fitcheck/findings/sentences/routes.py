"""Hoses: routes, bends, clearances, lengths, supports."""

from __future__ import annotations

SENTENCES = {
    # no route
    "no-route.none": "No route was found for {line}: {why}.",
    "no-route.other-hose": "Use the hose {hose} (minimum bend radius {radius}): a route was found "
    "with it.",
    "no-route.move": "Move a module or turn a port to make room at that position.",
    "no-route.too-stiff": "a hose of {radius} minimum bend radius reaches {ahead} ahead of {end} "
    "before it has turned to the other port, and the whole compartment extends only {room} that "
    "way",
    "no-route.clearance": "the route found does not keep its clearance to {met}",
    "no-route.hole-too-small": "the hole {hole} is smaller than the hose",
    "no-route.hole-hidden": "no clear position within {within} of the hole {hole}",
    "no-route.straight": "the straight {straight} at {end}",
    "no-route.into-mesh": "{where} runs into hull or joinery",
    "no-route.blocked": "{where} is blocked: {met} is {missing} too close",
    "no-route.no-room": "at the end of {where} the room to continue is {lack} too small",
    "no-route.no-fitting": "no fitting allowed at {start} or {end} has enough room for itself "
    "and a wrench",
    "no-route.contends": "{why}; it conflicts with {hoses}: without the other hoses this hose "
    "would be {alone} long and pass through that position",
    "no-route.no-bend": "searched at {pitch} pitch with a minimum bend radius of {radius}: the "
    "hose is thin enough to pass but has no room to bend; {where}",
    "no-route.tightest": "the position given is the tightest",
    "no-route.ahead": "after the straight length at {end} only {ahead} is clear ahead, and a 90° "
    "bend needs {radius}",
    "no-route.hole": "the hole",
    "no-route.too-narrow": "searched at {pitch} pitch: the tightest position of the widest route "
    "is about {missing} too narrow on one side",
    "no-route.closed": "searched at {pitch} pitch: the space around the start has no connection "
    "to the end",
    # holes
    "hole-chosen.passes": "{line} passes through {holes: and }: {length}; {others:;}.",
    "hole-chosen.other": "through {holes: and } {length}",
    "hole-chosen.no-way": "through {holes: and } no route: {why}",
    "hole-chosen.none-found": "none found",
    # clearances and bends
    "no-clearance.round": "No clearance around the hoses is required by the kit: a hose that "
    "touches something chafes through.",
    "no-clearance.between": "No gap between hoses is required by the kit: hoses that touch chafe "
    "through.",
    "no-clearance.remedy": "Set kit.allowances.{allowance}; {usual} is a usual value.",
    "touch.hose": "{line} has a route by what was scanned, but only through weakly scanned space "
    "at {at}: too few lines of sight agree that it is free.",
    "touch.hose-remedy": "Touch the route there before ordering, at {at}. If it is free, write "
    "the measured gap as [[boat.checked]], or scan it from another side.",
    "clearance-accuracy.near": "Clearance of {line} is uncertain: {gap} ± {unsure} to {met}. "
    "{near} of {routed} hoses {near:is|are} uncertain: {hoses}. Trial-fit before cutting.",
    "clearance-accuracy.remedy": "{look}. Or set kit.allowances.hose_clearance to {ask}; whether "
    "every hose then has a route was not checked.",
    "clearance-accuracy.scan": "Scan that position again, or inspect it and declare it free "
    "(boat.declared_free)",
    "clearance-accuracy.measure": "Measure that clearance on board, or move what is there",
    "bend-radius.kept": "{hoses} {hoses:hose keeps|hoses keep} the minimum bend radius "
    "everywhere: every bend is an arc of at least that radius.",
    "straight-pressure-hose.straight": "{line} is nearly straight (the distance between its ends "
    "is {percent} % of its length). A high-pressure hose may shorten by 4 % under pressure and "
    "needs a bend to allow for that.",
    "straight-pressure-hose.remedy": "Order it longer, or move a port so that it bends.",
    "way-without-high-point.other-way": "The shortest route of the suction hose {line} has a high "
    "point of {rise} where air would collect; {led}, and {rest}.",
    "way-without-high-point.same": "it is re-routed with its length unchanged",
    "way-without-high-point.longer": "it is re-routed {by} longer",
    "way-without-high-point.shorter": "it is re-routed {by} shorter",
    "way-without-high-point.left": "a high point of {rise} remains",
    "way-without-high-point.none": "no high point remains",
    # supports
    "unsupported-span.free": "{line} has an unsupported span of {free}, limit {asked}: no surface "
    "is within reach of a clip ({reach}), and no route along structure keeps the limit.",
    "unsupported-span.remedy": "Add a board there (boat.boards), or allow a longer reach for its "
    "clips.",
    "hanging-free.free": "These hoses take the shortest route and have unsupported spans longer "
    "than usual: {hoses}.",
    "hanging-free.line": "{line} {free}",
    "hanging-free.remedy": 'Set way = "along structure" for these hoses, or add a board '
    "(boat.boards) to clip them to.",
    "span-kept.kept": "These hoses are routed along structure and keep the maximum unsupported "
    "span: {hoses}.",
    "span-kept.line": "{line} {free} (limit {asked})",
    "clips-on-modules.clips": "Some clips would be fixed to {modules}: {hoses}. Clip to hull, "
    "bulkhead or joinery if the module is opened, lifted out or on soft mounts.",
    "clips-on-modules.line": "{there} of {clips} of {line}",
    "clip-between-planes.lacking": "The high-pressure hose {line} changes from a bend in one "
    "plane to a bend in another at {places} without a clip: no support is within reach, or the "
    "straight between the bends is too short. It would twist under pressure.",
    "clip-between-planes.place": "one position",
    "clip-between-planes.places": "{places} positions",
    "clip-between-planes.remedy": "Fit a bracket there, or turn a port so that the hose bends in "
    "one plane.",
    # lengths
    "assembly-laid.laid": "Assemblies of these lengths can be installed; a bend takes up the "
    "excess at the required bend radius and clearance: {hoses:;}.",
    "assembly-laid.under-pressure": "Assemblies of these lengths can be installed; a bend takes "
    "up the excess at the required bend radius and clearance, also when they lengthen by 2 % or "
    "shorten under pressure: {hoses:;}.",
    "assembly-laid.line": "{line} {whole}, {more} longer than its shortest route",
    "assembly-not-laid.none": "An assembly of {whole} for {line} ({sold}) could not be "
    "installed: no bend of at least {radius} radius was found that takes up its excess of "
    "{excess} and keeps the clearance.",
    "assembly-not-laid.stock": "the shortest stock length that is long enough",
    "assembly-not-laid.to-length": "as it would be ordered",
    "assembly-not-laid.remedy": "Have it made to length, or make room for a bend next to its "
    "route.",
    "assembly-under-pressure.not": "{line} can be installed as an assembly of {whole}, but not "
    "when it becomes {when:or} under pressure: it would bend too tightly, touch something or pull "
    "on its ends.",
    "assembly-under-pressure.longer": "longer",
    "assembly-under-pressure.shorter": "shorter",
    "assembly-under-pressure.remedy": "Order it longer, or make room for a bend next to its "
    "route.",
    "mounting.kept": "Mount the modules within ± {usual} of their positions: then every ordered "
    "length fits.",
    "mounting.short": "A mounting tolerance of ± {usual} is too large for some ordered lengths. "
    "These hoses need a smaller one: {hoses}.",
    "mounting.unknown": "A module was moved: the mounting tolerance of the ordered lengths is not "
    "checked.",
    "mounting.look": "Run all checks on the layout (F8 in the window, or fitcheck check).",
    "mounting.play": "{line} ± {within}",
    "mounting.no-play": "{line} no mounting tolerance",
    "mounting.remedy": "Measure these hoses once the modules are mounted, or re-route them: "
    "{hoses}. Or mount the modules within ± {least} of their positions and set "
    "kit.allowances.mounting to that.",
    "mounting.no-length": "{line}: no length fits",
    "mounting.longer": "{line}: {spare} more than {whole} would fit",
    # assumed
    "hoses.clearance": "clearance around hoses",
    "hoses.gap": "gap between hoses",
    "hoses.straight": "straight length at hose ends",
    "hoses.taken": "{value}",
    # --- steps ---------------------------------------------------------------------------------
    "step.hose": "{line}: {told}",
    "step.no-route": "no route found",
    "step.routed": "{length}, {bends} {bends:bend|bends}",
}
