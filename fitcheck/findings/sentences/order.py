"""What to buy: findings, rows of the order, how the length of a piece came about."""

from __future__ import annotations

SENTENCES = {
    "not-ordered.no-way": "{line} is not in the order: it found no way, so its length is not "
    "known.",
    "straight-under-pressure.straight": "{line} runs straight; a high-pressure hose may shorten "
    "by {share} under pressure, here {shorter}, and pulls on its ends: give it a bend.",
    "longer-than-sold.one-piece": "{line} needs one piece of {piece}; the longest {hose} sold has "
    "{longest}, and a joint inside a line is not allowed. {way}.",
    "longer-than-sold.proven": "No other way helps: no hose of this bend radius between these "
    "ports is shorter than {bound}, a piece of {piece}",
    "longer-than-sold.open": "That a shorter way does is not ruled out: no hose of this bend "
    "radius between these ports is shorter than {bound} for certain",
    "longer-than-sold.remedy": "Move a box or turn a port so that the two ends come nearer, or "
    "take a hose that is sold longer.",
    "assembly-too-long.excess": "{line} wants {piece} and {hose} is sold as {whole}: {excess} "
    "more, which must be laid in a bend of {radius} radius or more.",
    # rows
    "item.hose": "{hose}, bore {bore}, outside diameter {outside}",
    "item.by-metre": "{hose}, by the metre",
    "item.roll": "{hose}, roll",
    "item.assembly": "{hose}, assembly with both ends, for {rating}",
    "item.fitting": "{parts}",
    "item.elbow": "elbow of 90 deg",
    "item.straight": "straight fitting",
    "item.end": "end for {hose}: {parts}",
    "item.end-bore": "bore no less than {bore}",
    "item.clamp": "clamp for {outside} outside diameter",
    "item.clip": "clip for {outside} outside diameter",
    "item.valve": "valve that passes {flow} at 1 bar",
    "note.not-yet": "not yet, another hose is wanted for {lines: and }",
    "note.not-yet-and": "{not_yet}; {note}",
    "note.spare-metre": "1 m more is a fair spare (common practice)",
    "note.rolls": "cut: {rolls:;}",
    "note.rolls-unproven": "cut: {rolls:;}; a cheaper choice may exist",
    "note.roll": "{pieces: + }",
    "note.roll-and-rest": "{pieces: + }, {rest} left",
    "note.face-to-face": "length face to face",
    "note.shortest-way": "as chosen for the shortest way",
    "note.made-on": "made on to the assembly, in its price",
    "note.one-spare": "and one as a spare (common practice)",
    "note.clamps": "{wet} tails that can come below the sea have two, {dry} others one; and two "
    "as spares (common practice)",
    "note.clips": "{placed} at the places told",
    "note.clips-and-brackets": "{placed} at the places told, {hanging} on brackets where nothing "
    "is in reach (common practice)",
    # lengths of pieces
    "cut.tube": "{routed} routed, {end} at each end, {slack} slack{unsure}{play}, rounded up to "
    "{step}",
    "cut.unsure": ", {short} that the scan may be short of",
    "cut.play": ", {spare} for modules that stand off by {within}",
    "cut.bow": "{routed} routed, {more} more{why}, laid in a bow, {sold}; face to face, ends "
    "included",
    "cut.for": " for {reasons: and }",
    "cut.for-pressure": "shortening under pressure",
    "cut.for-modules": "modules that stand off",
    "cut.for-scan": "the {short} the scan may be short of",
    "cut.stock": "the shortest sold that can be laid",
    "cut.to-length": "rounded up",
    "cut.assembly": "{routed} routed{unsure}, {share} for shortening under pressure, rounded "
    "up to {step}; face to face, ends included",
    "cut.coil": "{because}; {more} more in a coil of {turns} turns",
    # assumed
    "ordered.end-allowance": "end allowance",
    "ordered.slack": "slack",
    "ordered.high-pressure-slack": "high pressure slack",
    "ordered.taken": "{value}",
    "ordered.slack-taken": "{share}, at least {least}",
    "ordered.assemblies": "rounding of assembly lengths",
    "ordered.assemblies-taken": "up to {steps}, coarser with length",
    "ordered.cuts-and-clips": "length lost at a cut, distance of clips",
    "ordered.cuts-and-clips-taken": "{cut}, {clips}",
}
