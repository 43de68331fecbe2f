"""Lines and how the water is led; what the water side says of a line and takes for granted."""

from __future__ import annotations

SENTENCES = {
    # --- what the kit must have
    "not-known.no-pump": "The kit names no high-pressure pump, so no flow is known and the water "
    "side was not judged; give [kit.high_pressure_pump].",
    "not-known.give-pump": "Give [kit.high_pressure_pump].",
    "not-known.no-membrane": "The kit names no membrane, so neither brine nor product was judged; "
    "give [kit.membrane].",
    "not-known.give-membrane": "Give [kit.membrane].",
    "line-missing": "No line leads the {duty} water from {start} to {end}, so no hose was routed "
    "or judged for it.",
    "line-missing.boat": "the boat",
    "line-missing.remedy": "Add a line from {start} to {end} under [kit.lines].",
    "boat-port-role.from": "The {duty} water comes from {port}, {wrong}.",
    "boat-port-role.to": "The {duty} water runs to {port}, {wrong}.",
    "boat-port-role.intake": "which is also where the plant draws its sea water",
    "boat-port-role.is-not": "which is {role}, not {right}",
    "boat-port-role.seacock": "a seacock",
    "boat-port-role.overboard": "an opening overboard",
    "boat-port-role.tank": "a tank",
    "boat-port-role.another": "Lead the line to another boat port that is {right}.",
    "boat-port-role.remedy": "Lead the line to a boat port that is {right}, or, if {port} is one, "
    'write boat.ports.{name}.role = "{role}".',
    "line-reversed": "{line} is written against its water, which runs from {start} to {end}.",
    "line-reversed.remedy": 'Write kit.lines.{line}.from = "{start}" and to = "{end}".',
    # --- what runs where
    "line-without-flow": "No water runs through {line} in this kit.",
    "water-stranded": "The water at {port} has no line to or from the sea or a tank.",
    "consumer-unknown": "The suction side was not judged: a hose branches off it to {port}, and "
    "how much water is drawn there is not known. What is drawn there lowers the pressure at the "
    "pump.",
    "consumer-unknown.remedy": "State what is drawn there at most while the plant runs: "
    '[kit.consumers.{module}] at = "{port}", flow = "..."; flow = "0 L/min" if it never runs with '
    "the plant.",
    "backward-flow": "Water runs through {line} from its end to its start ({state}).",
    "outlet-dry": "No water leaves at {port}: the other way out draws its hose empty and air can "
    "come in there ({state}).",
    "pump-cycling": "{pump} gives {given} while it runs and {drawn} is drawn: its switch stops it "
    "at {stops} and starts it at {starts}, running {share} of the time. Judged at the pressure at "
    "which it starts and the suction at which it runs.",
    "pump-cycling.remedy": "A pressure vessel behind it makes the cycles longer; a bypass that "
    "passes {bypass} makes it run through.",
    "salinity-range": "The saltiest water has {saltiest}; the density used is published to "
    "{stated} and off by no more than 0.1 % above.",
    # --- what gathers
    "air-trap.drawn": "{where} {rise} above the low points beside it ({state}): air gathers there "
    "and comes to the pump in one piece.",
    "air-trap.stays": "{where} {rise} above the low points beside it ({state}): air gathers there "
    "and stays, though the water there is under pressure; vent it when filling.",
    "air-trap.has": "{place} has a high point",
    "air-trap.is": "{place} is a high point",
    "air-trap.remedy": "Lead {line} so that it only rises towards the pump, or fit a vent at that "
    "point.",
    "vents": "Air gathers at high points; a vent there lets it out: {places:and}.",
    "drains": "Water stays in low points; for frost or a long stop open or blow out: "
    "{places:and}.",
    "gathered.place": "{where} ({at})",
    "gathered.forward": "{by} forward",
    "gathered.aft": "{by} aft",
    "gathered.port": "{by} to port",
    "gathered.starboard": "{by} to starboard",
    "gathered.up": "{by} up",
    "gathered.down": "{by} down",
    "flush.given": "A flush changes {held} of water {times} times: {volume} of fresh water, "
    "{minutes} min at {flow}.",
    "flush.not-given": "A flush changes {held} of water {times} times: {volume} of fresh water, "
    "{minutes} min at {flow}; the kit does not say how it is flushed.",
    "flush.left-out": "{flush} Not counted: the water in {modules:and}.",
    # --- coils
    "coil-too-tight": "The coil in {line} is {across} across on its centre line; {hose} may be "
    "coiled no tighter than {least}.",
    "coil-too-tight.remedy": "Cut the spare hose off, or lay it in a wider coil.",
    "coil": "{turns} turns of {line} in a coil, {whole} of hose, lose {lost} ({state}), {share} "
    "of what the line loses. Its place, {across} across, was not looked for.",
    "coil.remedy": "Cut the spare hose off.",
    # --- a line in few words
    "line.fails": "fails: {why}",
    "line.caution": "caution: {why}",
    "line.better": "{verdict}; {hose} would do",
    "line.fine-share": "fine: {share} of the working pressure",
    "line.fine": "fine",
    "line.not-judged": "not judged",
    # --- how long the kit says a suction side may be
    "suction-length": "{kit}.",
    "suction-length.recommended": "The suction side has {whole} of {hose}, of which the kit "
    "recommends no more than {most} ({source})",
    "suction-length.allowed": "The suction side has {whole} of {hose}, of which the kit allows "
    "no more than {most} ({source})",
    "suction-length.disagrees": "{kit}, but the calculation allows {allowed} at {vacuum} "
    "({state}), because at {flow} height takes {height}, the strainer, bends, fittings and other "
    "hoses take {others}, and each metre of this hose takes {each}.",
    "suction-length.not-drawn": "{kit}, but the calculation allows none, because {flow} cannot "
    "be drawn through it ({state}).",
    "suction-length.remedy": "Shorten it by {over}, or take a wider hose.",
    # --- what is taken for granted
    "taken.bores": "bore of every hose",
    "taken.bores-as": "as written in the kit, right within {within}; judged on the unfavourable "
    "side",
    "taken.heights": "heights above the sea",
    "taken.heights-as": "as surveyed, right within {within}; judged on the unfavourable side",
    "taken.product": "salinity of the product",
    "taken.product-as": "{salinity}",
    "taken.way-through": "way through {modules:and}",
    "taken.way-through-as": "from the hose in to the hose out without loss",
    "taken.limits": "limits of the pumps and the membrane",
    "taken.limits-as": "common practice",
    # --- the same where a kit is judged alone
    "alone.hoses": "the other hoses",
    "alone.hoses-as": "{each} each",
    "alone.bends": "bends of every hose",
    "alone.bends-as": "{bends} of 90 deg, as tight as the hose allows",
    "alone.heights": "heights",
    "alone.heights-as": "all modules level with the pump; lift is at rest or in the worst heel",
    "alone.sea": "the sea",
    "alone.sea-as": "{cold} and {warm} degC, {salt} of salt",
    "alone.bores": "bores",
    "alone.bores-as": "on the narrow side of their tolerance; fittings of the suction lines as in "
    "the kit",
}
