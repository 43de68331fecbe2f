"""Lines and water flow; judgements and assumptions of the water side."""

from __future__ import annotations

SENTENCES = {
    # --- what the kit must have
    "device-missing.no-pump": "The kit has no high-pressure pump, so no flow is known and the "
    "water side was not checked. Add [kit.high_pressure_pump].",
    "device-missing.give-pump": "Add [kit.high_pressure_pump].",
    "device-missing.no-membrane": "The kit has no membrane, so brine and product were not "
    "checked. Add [kit.membrane].",
    "device-missing.give-membrane": "Add [kit.membrane].",
    "line-missing": "The {duty} line from {start} to {end} is missing, so no hose was routed or "
    "checked for it.",
    "line-missing.boat": "the boat",
    "line-missing.remedy": "Add a line from {start} to {end} under [kit.lines].",
    "boat-port-role.from": "The {duty} water comes from {port}, {wrong}.",
    "boat-port-role.to": "The {duty} water goes to {port}, {wrong}.",
    "boat-port-role.intake": "which is also the seawater intake of the plant",
    "boat-port-role.is-not": "which is {role}, not {right}",
    "boat-port-role.seacock": "a seacock",
    "boat-port-role.overboard": "an overboard outlet",
    "boat-port-role.tank": "a tank",
    "boat-port-role.another": "Connect the line to another boat port that is {right}.",
    "boat-port-role.remedy": "Connect the line to a boat port that is {right}. If {port} is one, "
    'write boat.ports.{name}.role = "{role}".',
    "line-reversed": "{line} is defined against the flow, which is from {start} to {end}.",
    "line-reversed.remedy": 'Write kit.lines.{line}.from = "{start}" and to = "{end}".',
    # --- what flows where
    "line-without-flow": "No water flows through {line} in this kit.",
    "water-stranded": "The water at {port} has no line to or from the sea or a tank.",
    "consumer-unknown": "The suction side was not checked: a hose branches off to {port}, and the "
    "flow drawn there is unknown. That flow lowers the inlet pressure of the pump.",
    "consumer-unknown.remedy": "State the maximum flow drawn there while the plant runs: "
    '[kit.consumers.{module}] at = "{port}", flow = "..."; use flow = "0 L/min" if it never runs '
    "with the plant.",
    "backward-flow": "Water flows backwards through {line} ({state}).",
    "outlet-dry": "No water leaves at {port}: the other outlet drains its hose, and air can "
    "enter there ({state}).",
    "pump-cycling": "{pump} delivers {given} while it runs, but only {drawn} is used. Its switch "
    "stops it at {stops} and starts it at {starts}; it runs {share} of the time. The start "
    "pressure and the suction while running are checked.",
    "pump-cycling.remedy": "Fit a pressure accumulator after the pump for longer cycles, or a "
    "bypass that passes {bypass} to keep it running.",
    "salinity-range": "The maximum salinity is {saltiest}. The density formula is published up to "
    "{stated}; above that its error is at most 0.1 %.",
    # --- high and low points
    "air-trap.drawn": "{where} {rise} above its surroundings ({state}): air collects there and "
    "can reach the pump in one bubble.",
    "air-trap.stays": "{where} {rise} above its surroundings ({state}): air collects there and "
    "stays, although the water is under pressure. Vent it when filling.",
    "air-trap.has": "{place} has a high point",
    "air-trap.is": "{place} is a high point",
    "air-trap.remedy": "Route {line} so that it only rises towards the pump, or fit a vent at the "
    "high point.",
    "vents": "Air collects at high points; a vent there releases it: {places:and}.",
    "drains": "Water stays in low points. Open or blow them out before frost or a long shutdown: "
    "{places:and}.",
    "gathered.place": "{where} ({at})",
    "gathered.forward": "{by} forward",
    "gathered.aft": "{by} aft",
    "gathered.port": "{by} to port",
    "gathered.starboard": "{by} to starboard",
    "gathered.up": "{by} up",
    "gathered.down": "{by} down",
    "flush.given": "Flushing replaces {held} of water {times} times: {volume} of fresh water, "
    "{minutes} min at {flow}.",
    "flush.not-given": "Flushing replaces {held} of water {times} times: {volume} of fresh water, "
    "{minutes} min at {flow}; the kit does not define how it is flushed.",
    "flush.left-out": "{flush} This does not include the water in {modules:and}.",
    # --- coils
    "coil-too-tight": "The coil in {line} has a diameter of {across} on its centre line; {hose} "
    "requires at least {least}.",
    "coil-too-tight.remedy": "Cut off the excess hose, or make the coil larger.",
    "coil": "{turns} turns of {line} in a coil, {whole} of hose, lose {lost} ({state}), {share} "
    "of the loss of the line. Room for the coil, {across} in diameter, was not checked.",
    "coil.remedy": "Cut off the excess hose.",
    # --- a line in few words
    "line.fails": "fails ({why})",
    "line.caution": "caution ({why})",
    "line.water": "hydraulics: {verdict}",
    "line.no-water": "hydraulics not calculated",
    "line.better": "{verdict}; {hose} would be large enough",
    "line.fine-share": "ok, loses {share} of the working pressure",
    "line.fine": "ok",
    "line.not-judged": "not checked",
    # --- how long the kit says a suction side may be
    "suction-length": "{kit}.",
    "suction-length.recommended": "The suction side has {whole} of {hose}; the kit recommends at "
    "most {most} ({source})",
    "suction-length.allowed": "The suction side has {whole} of {hose}; the limit of the kit is "
    "{most} ({source})",
    "suction-length.disagrees": "{kit}. The calculation allows {allowed} at {vacuum} ({state}): "
    "at {flow} the height uses {height}, the strainer, bends, fittings and other hoses use "
    "{others}, and each metre of this hose uses {each}.",
    "suction-length.not-drawn": "{kit}. The calculation allows none: the suction side cannot pass "
    "{flow} ({state}).",
    "suction-length.remedy": "Shorten it by {over}, or use a larger hose.",
    # --- assumed
    "taken.bores": "bore of every hose",
    "taken.bores-as": "as given in the kit, ± {within}; checked at the unfavourable end",
    "taken.heights": "heights above the sea",
    "taken.heights-as": "as surveyed, ± {within}; checked at the unfavourable end",
    "taken.product": "salinity of the product",
    "taken.product-as": "{salinity}",
    "taken.way-through": "flow path through {modules:and}",
    "taken.way-through-as": "from the inlet hose to the outlet hose without loss",
    "taken.limits": "limits of the pumps and the membrane",
    "taken.limits-as": "common practice",
    # --- the same where a kit is judged alone
    "alone.hoses": "the other hoses",
    "alone.hoses-as": "{each} each",
    "alone.bends": "bends of every hose",
    "alone.bends-as": "{bends} of 90° at the minimum bend radius",
    "alone.heights": "heights",
    "alone.heights-as": "all modules level with the pump; the lift is at rest or at the worst "
    "heel",
    "alone.sea": "the sea",
    "alone.sea-as": "{cold} and {warm}, {salt} salinity",
    "alone.bores": "bores",
    "alone.bores-as": "at the narrow end of their tolerance; fittings of the suction lines as in "
    "the kit",
}
