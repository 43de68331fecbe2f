"""What to buy: pieces longer or shorter than sold, what is left out, what is assumed."""

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
