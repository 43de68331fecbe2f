"""Pumps, pressures and flows: limits, and what the sea can do at the openings."""

from __future__ import annotations

SENTENCES = {
    "judged.at-worst": "{expected} (worst case {judged})",
    # --- the state that governs a quantity
    "governing.vacuum-clean": "suction vacuum, strainer clean",
    "governing.vacuum-fouled": "suction vacuum, strainer fouled",
    "governing.npsh": "NPSH margin",
    "governing.flow": "pump flow",
    "governing.inlet-pressure": "inlet pressure",
    "governing.back-running": "{water} back pressure, running",
    "governing.back-stopped": "{water} back pressure, stopped",
    "governing.pressure-share": "loss as a share of the working pressure",
    "governing.velocity": "velocity",
    "governing.immersion": "depth of the intake below the sea",
    "governing.height": "height above the sea",
    "governing.first-fill": "priming lift at rest",
    # --- pumps
    "largest-flow.expected": "A flow of {wanted} is not possible ({state}): {why}. {can}",
    "largest-flow.unfavourable": "A flow of {wanted} is not possible at the unfavourable end of "
    "bores and heights ({state}): {why}. {can}",
    "largest-flow.vacuum": "the suction side would need a higher vacuum than the atmosphere "
    "allows, and the water would boil",
    "largest-flow.starved": "the high-pressure pump would be starved",
    "largest-flow.run-out": "the feed pump would run beyond the end of its curve",
    "largest-flow.some": "The maximum flow of this layout is {flow}.",
    "largest-flow.none": "The pumps are starved at any flow.",
    "largest-flow.brief": "a flow of {wanted} is not possible",
    "bypass-too-open": "The bypass is too far open: the feed pump runs beyond the end of its "
    "curve ({end}, {state}), and its flow there is unknown.",
    "bypass-too-open.brief": "makes the pump run beyond its curve",
    "not-known": "Unknown: {what:and}, because no route was found for {lines:and}.",
    "not-known.vacuum": "the suction vacuum at {port}",
    "not-known.feed-pump": "the flow and NPSH of the feed pump",
    "not-known.inlet-pressure": "the inlet pressure at {port}",
    "not-known.back-pressure": "the back pressure of the {water}",
    "not-known.brief": "cannot be calculated",
    "suction-vacuum.most": "Suction vacuum at {pump}: {vacuum}, limit {limit} ({state}). The "
    "inlet is {where}; {line} has the largest hose loss, {lost}.",
    "suction-vacuum.fine": "Suction vacuum at {pump}: {vacuum}, recommended up to {limit} "
    "({state}). The inlet is {where}; {line} has the largest hose loss, {lost}.",
    "suction-vacuum.above": "{height} above the sea",
    "suction-vacuum.below": "{depth} below the sea",
    "suction-vacuum.brief": "suction vacuum {vacuum}, limit {limit}",
    "suction-vacuum.fine-brief": "suction vacuum {vacuum}, recommended up to {limit}",
    "suction-vacuum.remedy": "Reduce the losses in hoses and strainer by {less}.",
    "npsh-margin.short": "NPSH of {pump}: {available} available, {required} required at {flow} "
    "including bypass ({state}); {wanted} is recommended.",
    "npsh-margin.short-brief": "NPSH {available} available, {required} required",
    "npsh-margin.beyond": "{pump} runs at {flow} including bypass, but its required NPSH is given "
    "only up to {end} ({state}).",
    "npsh-margin.beyond-brief": "required NPSH not given at this flow",
    "inlet-pressure": "Inlet pressure of {pump}: {pressure}, minimum {least} ({state}).",
    "inlet-pressure.brief": "inlet pressure {pressure}, minimum {least}",
    "acceleration-head": "{pump} draws in pulses: {plungers} plungers at {speed}. If {lines:and} "
    "({length}) were rigid, accelerating the water in them would require up to {asked} more "
    "NPSH; the minimum NPSH at its inlet is {stands}. Flexible hose absorbs most of it: this is "
    "advice, not a verdict.",
    "acceleration-head.beyond": "{advice} The formula is valid only up to {longest}.",
    "acceleration-head.remedy": "Keep the last hose before the pump short, wide and flexible, "
    "with no rigid pipe next to it, or fit a pulsation damper at its inlet.",
    # --- single hoses
    "suction-wall.suction": "{line} is under a vacuum of {vacuum} and its wall is soft ({state}); "
    "above {limit} a soft hose collapses.",
    "suction-wall.bypass": "{line} is under a vacuum of {vacuum} and its wall is soft ({state}); "
    "above {limit} a soft hose collapses, unless its valve is at the return end and keeps it "
    "under pressure.",
    "suction-wall.brief": "soft wall under vacuum",
    "pressure-rating": "{line} is rated {rating}; {why}.",
    "pressure-rating.relief": "the relief valve opens at {need}",
    "pressure-rating.shut-off": "the shut-off pressure of the feed pump is {need}",
    "pressure-rating.seen": "it can be exposed to {need}",
    "pressure-rating.brief": "rated {rating}, can be exposed to {need}",
    "high-pressure-loss.most": "{line} loses {loss}, {share} of the working pressure ({state}); "
    "limit {limit}.",
    "high-pressure-loss.fine": "{line} loses {loss}, {share} of the working pressure ({state}); "
    "recommended up to {limit}.",
    "high-pressure-loss.brief": "loses {share} of the working pressure",
    "velocity.limit": "Velocity in {line}: {speed} (limit {most}).",
    "velocity.recommended": "Velocity in {line}: {speed} (recommended up to {fine}, limit "
    "{most}).",
    "velocity.brief": "velocity {speed}, limit {limit}",
    "velocity.fine-brief": "velocity {speed}, recommended up to {limit}",
    "transition-flow": "The flow in {line} may be laminar or turbulent (Reynolds number "
    "{reynolds}, {state}): {expected} expected, checked with {judged}.",
    "transition-flow.brief": "flow may be laminar or turbulent",
    # --- outlets
    "brine-back-pressure.most": "Back pressure of the brine on {module}: {pressure} {doing}, "
    "limit {limit} ({state}).",
    "brine-back-pressure.fine": "Back pressure of the brine on {module}: {pressure} {doing}, "
    "recommended up to {limit} ({state}).",
    "product-back-pressure": "Back pressure of the product on the membrane: {pressure} {doing}, "
    "limit {limit} ({state}). A higher pressure can tear the membrane from its support.",
    "back-pressure.running": "running",
    "back-pressure.stopped": "stopped",
    "back-pressure.brief": "back pressure {pressure}, limit {limit}",
    "back-pressure.fine-brief": "back pressure {pressure}, recommended up to {limit}",
    # --- openings
    "pickup-immersion.known": "{port} is {where} ({state}); at least {wanted} below the sea is "
    "required, or the pump draws air.",
    "pickup-immersion.not-known": "{port} is {where} ({state}); at least {wanted} below the sea "
    "is required, or the pump draws air. If its opening is lower, give opening_below.",
    "pickup-immersion.above": "{height} above the sea",
    "pickup-immersion.below": "only {depth} below the sea",
    "pickup-immersion.remedy": "Move the opening {deeper} deeper, or closer to the centreline.",
    "outlet-height": "The brine outlet is {height} above the sea at rest; at least {wanted} is "
    "recommended, because waves reach it and load lowers it.",
    "outlet-under-water.holds": "The outlet of the {water} is {depth} below the sea ({state}). "
    "Its line rises to {loop} above that waterline and keeps the sea out; at least {wanted} is "
    "required. It still needs a seacock.",
    "outlet-under-water.runs-back": "The outlet of the {water} is {depth} below the sea "
    "({state}). Its line rises to {loop} above that waterline, at least {wanted} is required: the "
    "sea can flow back through {line}.",
    "outlet-under-water.remedy": "Raise the loop in {line} by {higher}, with a vent at its top, "
    "and fit a seacock; or move the outlet up.",
    "siphon.product": "The product enters {port} {above} above the membrane. Let it discharge "
    "above the highest level of the tank, or the tank can flow back when the plant stops.",
    "siphon.brine": "{line} ends {below} below {start}: it empties by siphoning when the plant "
    "stops, unless the pressure valve is closed or its highest point is vented.",
    "first-fill.by-hand": "The priming lift at rest is {lift}, and a centrifugal pump does not "
    "draw air. Fill the suction side by hand before the first start, and fit a non-return valve "
    "to keep it full.",
    "first-fill.too-high": "The suction side rises {lift} above the sea at rest; {pump} primes "
    "only to {primes}.",
    "first-fill.remedy": "Place {pump} and route its suction hoses to rise {less} less ({state}), "
    "or choose a pump with a higher priming lift.",
    "stands-below-the-sea": "Close the seacock before opening any of these modules, which are "
    "below the sea (worst heel and trim): {modules:and}.",
    "stands-below-the-sea.module": "{module} ({depth})",
    # --- steps of a calculation ----------------------------------------------------------------
    "explain.bend": "{angle}, radius {radius}",
    "explain.tail": "{tail} of tail",
}
