"""What to buy: findings, rows of the order, how the length of a piece is calculated."""

from __future__ import annotations

SENTENCES = {
    "not-ordered.no-way": "{line} is not in the order: no route was found, so its length is "
    "unknown.",
    "straight-under-pressure.straight": "{line} runs straight. A high-pressure hose may shorten "
    "by {share} under pressure (here {shorter}) and would then pull on its ends. Give it a bend.",
    "longer-than-sold.one-piece": "{line} needs one piece of {piece}. The longest {hose} sold is "
    "{longest}, and a joint inside a line is not allowed. {way}.",
    "longer-than-sold.proven": "No other route helps: no hose of this bend radius between these "
    "ports is shorter than {bound}, which needs a piece of {piece}",
    "longer-than-sold.open": "A shorter route may exist: the proven minimum for this bend radius "
    "between these ports is {bound}",
    "longer-than-sold.remedy": "Move a module or turn a port to bring the two ends closer, or "
    "choose a hose that is sold longer.",
    "assembly-too-long.excess": "{line} needs {piece}, but {hose} is sold as {whole}: the excess "
    "of {excess} must be taken up in a bend of at least {radius} radius.",
    # rows
    "item.hose": "{hose}, bore {bore}, outside diameter {outside}",
    "item.by-metre": "{hose}, cut length",
    "item.roll": "{hose}, roll",
    "item.assembly": "{hose}, assembly with both ends, rated {rating}",
    "item.fitting": "{parts}",
    "item.elbow": "90° elbow",
    "item.straight": "straight fitting",
    "item.end": "end for {hose}: {parts}",
    "item.end-bore": "minimum bore {bore}",
    "item.clamp": "clamp for {outside} outside diameter",
    "item.clip": "clip for {outside} outside diameter",
    "item.valve": "valve that passes {flow} at {pressure}",
    "note.not-yet": "do not order yet: {lines: and } {lines:needs|need} another hose",
    "note.not-yet-and": "{not_yet}; {note}",
    "note.spare-metre": "an extra {spare} is a reasonable spare (common practice)",
    "note.rolls": "cut: {rolls:;}",
    "note.rolls-unproven": "cut: {rolls:;}; a cheaper choice may exist",
    "note.roll": "{pieces: + }",
    "note.roll-and-rest": "{pieces: + }, {rest} left over",
    "note.face-to-face": "length from face to face",
    "note.shortest-way": "selected for the shortest route",
    "note.made-on": "crimped to the assembly, included in its price",
    "note.one-spare": "includes one spare (common practice)",
    "note.clamps": "two on each of {wet} tails that can be below the sea, one on each of {dry} "
    "others; includes two spares (common practice)",
    "note.clips": "{placed} at the listed positions",
    "note.clips-and-brackets": "{placed} at the listed positions, {hanging} on brackets where no "
    "support is within reach (common practice)",
    # lengths of pieces
    "cut.tube": "{routed} routed, {end} at each end, {slack} slack{unsure}{play}, rounded up to "
    "{step}",
    "cut.unsure": ", {short} for the uncertainty of the scan",
    "cut.play": ", {spare} for a mounting tolerance of ± {within}",
    "cut.bow": "{routed} routed, {more} excess{why}, taken up in a bend, {sold}; face to face, "
    "ends included",
    "cut.for": " for {reasons: and }",
    "cut.for-pressure": "shortening under pressure",
    "cut.for-modules": "mounting tolerance of the modules",
    "cut.for-scan": "the uncertainty of the scan ({short})",
    "cut.stock": "the shortest stock length that can be installed",
    "cut.to-length": "rounded up",
    "cut.assembly": "{routed} routed{unsure}, {share} for shortening under pressure, rounded up "
    "to {step}; face to face, ends included",
    "cut.coil": "{because}; {more} excess in a coil of {turns} turns",
    # assumed
    "ordered.end-allowance": "end allowance (onto the tail or into the fitting)",
    "ordered.slack": "slack (extra length)",
    "ordered.high-pressure-slack": "slack of high-pressure hoses",
    "ordered.taken": "{value}",
    "ordered.slack-taken": "{share}, at least {least}",
    "ordered.assemblies": "rounding of assembly lengths",
    "ordered.assemblies-taken": "up to the next {steps}; longer assemblies in larger steps",
    "ordered.cuts-and-clips": "length lost per cut; clip spacing",
    "ordered.cuts-and-clips-taken": "{cut}, {clips}",
}
