"""Hoses: ways, bends, clearances, lengths, what holds them."""

from __future__ import annotations

SENTENCES = {
    # no way
    "no-route.none": "No way was found for the {line} hose: {why}.",
    "no-route.other-hose": "Use the hose {hose} (bend radius {radius}): with it there is a way.",
    "no-route.move": "Move a module or turn a port so that the place told is avoided.",
    "no-route.too-stiff": "a hose of {radius} bend radius gets {ahead} ahead of {end} before it "
    "has turned to the other port, and the whole compartment is {room} that way",
    "no-route.clearance": "the curve found does not keep its clearance to {met}",
    "no-route.hole-too-small": "the hole {hole} is smaller than the hose",
    "no-route.hole-hidden": "no clear place within {within} of the hole {hole}",
    "no-route.straight": "the straight {straight} at {end}",
    "no-route.into-mesh": "{where} runs into the mesh",
    "no-route.blocked": "{where} is blocked: {met} is {missing} too near",
    "no-route.no-room": "where {where} ends there is {lack} too little room to go on",
    "no-route.no-fitting": "no fitting offered at {start} or {end} has room, a wrench counted",
    "no-route.contends": "{why}; it contends with {hoses}: without the other hoses it would be "
    "{alone} long and pass the place told",
    "no-route.no-bend": "searched at {pitch} pitch with a bend radius of {radius}: the hose is "
    "thin enough to pass, but finds no room to bend; {where}",
    "no-route.tightest": "the place told is the tightest",
    "no-route.ahead": "past the straight length at {end} only {ahead} lie ahead, and to turn off "
    "square takes {radius}",
    "no-route.hole": "the hole",
    "no-route.too-narrow": "searched at {pitch} pitch: at the tightest place of the widest way "
    "about {missing} are missing on one side",
    "no-route.closed": "searched at {pitch} pitch: the space round the start is closed off from "
    "the end",
    # holes
    "hole-chosen.passes": "{line} passes {holes: and }: {length}; {others:;}.",
    "hole-chosen.other": "by {holes: and } {length}",
    "hole-chosen.no-way": "by {holes: and } no way: {why}",
    "hole-chosen.none-found": "none found",
    # clearances and bends
    "no-clearance.round": "No clearance is asked round the hoses: a hose that touches chafes "
    "through.",
    "no-clearance.between": "No gap is asked between hoses: a hose that touches chafes through.",
    "no-clearance.remedy": "Write kit.allowances.{allowance}; {usual} is usual.",
    "clearance-accuracy.near": "{near} of {routed} hoses may touch something for all the scan "
    "tells: {hoses}. {line} has {gap}, +-{unsure}, to {met}: tight. Offer up before cutting.",
    "clearance-accuracy.remedy": "{look}. Or ask for a clearance of {ask} round every hose "
    "(kit.allowances.hose_clearance); whether every hose then has a way was not tried.",
    "clearance-accuracy.scan": "Scan that place again, or look there and declare it free "
    "(boat.declared_free)",
    "clearance-accuracy.measure": "Measure that gap on board, or move what stands there",
    "bend-radius.kept": "{hoses} {hoses:hose keeps|hoses keep} the bend radius everywhere: every "
    "bend is an arc of at least that radius.",
    "straight-pressure-hose.straight": "The {line} hose runs nearly straight ({percent}% of its "
    "length is the distance between its ends); a high-pressure hose may shorten by 4 % under "
    "pressure and must have a bend to take it up.",
    "straight-pressure-hose.remedy": "Order it longer or move a port so that it bends.",
    "way-without-high-point.other-way": "The shortest way of the suction hose {line} has a high "
    "point of {rise} in which air would gather; {led}, and {rest}.",
    "way-without-high-point.same": "it is led another way, its length unchanged",
    "way-without-high-point.longer": "it is led {by} longer",
    "way-without-high-point.shorter": "it is led {by} shorter",
    "way-without-high-point.left": "one of {rise} is left",
    "way-without-high-point.none": "this way has none",
    # what holds them
    "unsupported-span.free": "The {line} hose is led along structure but hangs free for {free}, "
    "out of reach ({reach}) of any surface; {asked} was asked and no way was found that keeps it.",
    "unsupported-span.remedy": "Add a board there (boat.boards), or allow a longer reach for its "
    "clips.",
    "hanging-free.free": "Led the shortest way, out of a clip's reach of any surface: {hoses}. "
    'Route them with way = "along structure", or add boards to clip them to.',
    "hanging-free.line": "{line} {free}",
    "hanging-free.remedy": 'Write way = "along structure" for them, or add a board (boat.boards).',
    "span-kept.kept": "Led along structure, nowhere free for longer than allowed: {hoses}.",
    "span-kept.line": "{line} {free} of {asked} allowed",
    "clips-on-modules.clips": "Clips that would sit on {modules}: {hoses}. Take hull, bulkhead or "
    "joinery where a module is opened, lifted out or stands on soft mounts.",
    "clips-on-modules.line": "{there} of {clips} of {line}",
    "clip-between-planes.lacking": "The high-pressure hose {line} goes from a bend in one plane "
    "into a bend in another at {places} where no clip can sit: nothing is in reach there, or the "
    "straight between the bends is too short. Under pressure it would twist.",
    "clip-between-planes.place": "a place",
    "clip-between-planes.places": "{places} places",
    "clip-between-planes.remedy": "Fit a bracket there, or turn a port so that it bends in one "
    "plane.",
    # lengths
    "assembly-laid.laid": "Assemblies of these lengths can be laid with their excess in a bow "
    "that keeps bend radius and clearance: {hoses:;}.",
    "assembly-laid.under-pressure": "Assemblies of these lengths can be laid with their excess in "
    "a bow that keeps bend radius and clearance, also when 2 % longer and shortened under "
    "pressure: {hoses:;}.",
    "assembly-laid.line": "{line} {whole}, {more} more than its shortest way",
    "assembly-not-laid.none": "No way was found to lay an assembly of {whole} ({sold}) for "
    "{line}: its {excess} beyond the shortest way found no bow of {radius} radius that keeps the "
    "clearance.",
    "assembly-not-laid.stock": "the shortest sold that reaches",
    "assembly-not-laid.to-length": "as it would be ordered",
    "assembly-not-laid.remedy": "Have it made up to length, or make room for a bow beside its "
    "way.",
    "assembly-under-pressure.not": "{line} can be laid as an assembly of {whole}, but not when it "
    "is {when:or} under pressure: it would bend tighter, touch something or pull on its ends.",
    "assembly-under-pressure.longer": "longer",
    "assembly-under-pressure.shorter": "shorter",
    "assembly-under-pressure.remedy": "Order it longer, or make room for a bow beside its way.",
    "mounting.kept": "Mount the modules within +-{usual} of their places: every ordered length "
    "holds.",
    "mounting.short": "With the modules within +-{usual} of their places not every ordered length "
    "holds. These ask for more: {hoses}.",
    "mounting.unknown": "A box was moved: whether the ordered lengths still hold where modules "
    "stand a little off has not been looked at.",
    "mounting.look": "Run all checks on the layout (F8 in the window, or fitcheck check).",
    "mounting.play": "{line} +-{within}",
    "mounting.no-play": "{line} no play at all",
    "mounting.remedy": "Measure these once the modules stand, or route them another way: {hoses}. "
    "Or mount the modules within +-{least} of their places and write that as "
    "kit.allowances.mounting.",
    "mounting.no-length": "{line}: no length was found that would hold",
    "mounting.longer": "{line}: {spare} more than {whole} would hold",
    # assumed
    "hoses.clearance": "clearance round hoses",
    "hoses.gap": "gap between hoses",
    "hoses.straight": "straight length at hose ends",
    "hoses.taken": "{value}",
}
