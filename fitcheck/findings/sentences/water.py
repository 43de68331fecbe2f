"""Pumps, pressures and flows: what they may be, and what the sea can do at the openings."""

from __future__ import annotations

SENTENCES = {
    "judged.at-worst": "{expected}, {judged} at worst",
    # --- the state that governs a quantity
    "governing.vacuum-clean": "suction vacuum, strainer clean",
    "governing.vacuum-fouled": "suction vacuum, strainer fouled",
    "governing.npsh": "NPSH margin",
    "governing.flow": "pump flow",
    "governing.inlet-pressure": "inlet pressure",
    "governing.back-running": "{water} back pressure, running",
    "governing.back-stopped": "{water} back pressure, stopped",
    "governing.pressure-share": "share of the working pressure",
    "governing.velocity": "velocity",
    "governing.immersion": "depth of the intake",
    "governing.height": "height above the sea",
    "governing.first-fill": "priming lift",
    # --- pumps
    "largest-flow.expected": "{wanted} cannot be had ({state}): {why}. {can}",
    "largest-flow.unfavourable": "{wanted} cannot be had on the unfavourable side of bores and "
    "heights ({state}): {why}. {can}",
    "largest-flow.vacuum": "the suction side would need more vacuum than the atmosphere can give, "
    "the water boils first",
    "largest-flow.starved": "the high-pressure pump would be starved",
    "largest-flow.run-out": "the feed pump would run beyond the end of its curve",
    "largest-flow.some": "The largest flow this layout feeds is {flow}.",
    "largest-flow.none": "No flow at all keeps the pumps fed.",
    "largest-flow.brief": "{wanted} cannot be had",
    "bypass-too-open": "The bypass passes so much that the feed pump runs beyond the end of its "
    "curve ({end}, {state}); what it then gives is not known.",
    "bypass-too-open.brief": "lets the pump run beyond its curve",
    "not-known": "Not known: {what:and}; no way was found for {lines:and}.",
    "not-known.vacuum": "the vacuum at {port}",
    "not-known.feed-pump": "the flow and NPSH of the feed pump",
    "not-known.inlet-pressure": "the pressure at {port}",
    "not-known.back-pressure": "back pressure of the {water}",
    "not-known.brief": "not known",
    "suction-vacuum.most": "A vacuum gauge at the inlet of {pump} would show {vacuum} ({state}); "
    "{limit} is the most. The inlet stands {where}; of the hoses {line} loses most, {lost}.",
    "suction-vacuum.fine": "A vacuum gauge at the inlet of {pump} would show {vacuum} ({state}); "
    "up to {limit} is fine. The inlet stands {where}; of the hoses {line} loses most, {lost}.",
    "suction-vacuum.above": "{height} above the sea",
    "suction-vacuum.below": "{depth} below the sea",
    "suction-vacuum.brief": "pump vacuum {vacuum}, limit {limit}",
    "suction-vacuum.remedy": "{less} less lost in hoses and strainer would make it fine.",
    "npsh-margin.short": "{pump} has {available} of NPSH and asks {required} at its {flow}, "
    "bypass included ({state}); {wanted} would be safe.",
    "npsh-margin.short-brief": "NPSH {available} against {required}",
    "npsh-margin.beyond": "{pump} runs at {flow}, bypass included, and the NPSH it asks is only "
    "given to {end} ({state}).",
    "npsh-margin.beyond-brief": "NPSH not given at this flow",
    "inlet-pressure": "{pump} gets {pressure} at its inlet ({state}); {least} is the least.",
    "inlet-pressure.brief": "inlet pressure {pressure}",
    "acceleration-head": "{pump} draws in pulses: {plungers} plungers at {speed}. Were "
    "{lines:and} ({length}) rigid, speeding up the water in them would ask up to {asked} besides; "
    "{stands} of NPSH stands at its inlet at least. Hose gives way and takes most of it: advice, "
    "not a verdict.",
    "acceleration-head.beyond": "{advice} Beyond {longest} the formula ends.",
    "acceleration-head.remedy": "Keep the last hose before it short, wide and flexible, with no "
    "rigid pipe next to the pump, or fit a pulsation damper at its inlet.",
    # --- single hoses
    "suction-wall.suction": "{line} comes under a vacuum of {vacuum} ({state}) and its wall is "
    "soft; above {limit} a soft hose collapses.",
    "suction-wall.bypass": "{line} comes under a vacuum of {vacuum} ({state}) and its wall is "
    "soft; above {limit} unless its valve sits at the return end, so that the hose is under "
    "pressure, a soft hose collapses.",
    "suction-wall.brief": "soft wall under vacuum",
    "pressure-rating": "{line} is a hose for {rating}; {why}.",
    "pressure-rating.relief": "the relief valve opens at {need}",
    "pressure-rating.shut-off": "the feed pump at shut-off makes {need}",
    "pressure-rating.seen": "it may see {need}",
    "pressure-rating.brief": "rated {rating}, may see {need}",
    "high-pressure-loss.most": "{line} loses {loss}, {share} of the working pressure ({state}); "
    "{limit} is the most.",
    "high-pressure-loss.fine": "{line} loses {loss}, {share} of the working pressure ({state}); "
    "up to {limit} is fine.",
    "high-pressure-loss.brief": "loses {share} of the working pressure",
    "velocity": "The water in {line} runs at {speed}; {fine} is fine, above {most} it is much.",
    "velocity.brief": "fast, {speed}",
    "transition-flow": "The flow in {line} may be laminar or turbulent (Reynolds number "
    "{reynolds}, {state}): {expected} expected, judged at {judged}.",
    "transition-flow.brief": "laminar or turbulent",
    # --- ways out
    "brine-back-pressure.most": "The brine stands at {pressure} against the {module} when {doing} "
    "({state}); {limit} is the most.",
    "brine-back-pressure.fine": "The brine stands at {pressure} against the {module} when {doing} "
    "({state}); {limit} and less is fine.",
    "product-back-pressure": "The product stands at {pressure} against the membrane when {doing} "
    "({state}); {limit} is the most. More can tear the membrane from its support.",
    "back-pressure.running": "running",
    "back-pressure.stopped": "stopped",
    "back-pressure.brief": "back pressure {pressure}, limit {limit}",
    # --- openings
    "pickup-immersion.known": "{port} stands {where} ({state}); {wanted} under water is wanted, "
    "or the pump draws air.",
    "pickup-immersion.not-known": "{port} stands {where} ({state}); {wanted} under water is "
    "wanted, or the pump draws air (or give opening_below if it lies deeper).",
    "pickup-immersion.above": "{height} above the sea",
    "pickup-immersion.below": "only {depth} under water",
    "pickup-immersion.remedy": "An opening {deeper} deeper, or nearer to the centreline, stays "
    "under.",
    "outlet-height": "The brine leaves {height} above the sea at rest; waves and load reach it, "
    "{wanted} is wanted.",
    "outlet-under-water.holds": "The opening of the {water} lies {depth} under water ({state}). "
    "Its line rises to {loop} above that waterline and keeps the sea out; {wanted} is wanted. It "
    "still needs a seacock.",
    "outlet-under-water.runs-back": "The opening of the {water} lies {depth} under water "
    "({state}). Its line rises to {loop} above that waterline, where {wanted} is wanted: the sea "
    "can run back through {line}.",
    "outlet-under-water.remedy": "Lead {line} in a loop {higher} higher, vented at its top, and "
    "fit a seacock; or move the opening up.",
    "siphon.product": "The product enters {port} {above} above the membrane: let it fall in from "
    "above the highest level of the tank, or the tank can run back when the plant stops.",
    "siphon.brine": "{line} ends {below} below {start}: when the plant stops it draws itself "
    "empty as a siphon unless the pressure valve is shut or air is let in at its highest point.",
    "first-fill.by-hand": "At rest the suction side rises {lift} above the sea, and a centrifugal "
    "pump does not draw air: fill it by hand before the first start and keep it full by a "
    "non-return valve before it.",
    "first-fill.too-high": "At rest the suction side rises {lift} above the sea; {pump} draws "
    "water up through air to {primes} only.",
    "first-fill.remedy": "Place {pump} and lead its suction hoses so that they rise {less} less "
    "({state}), or take a pump that draws water up through air to that height.",
    "stands-below-the-sea": "Shut the seacock before opening what stands below the sea, in its "
    "worst attitude: {modules:and}.",
    "stands-below-the-sea.module": "{module} ({depth})",
}
