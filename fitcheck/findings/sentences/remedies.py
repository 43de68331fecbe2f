"""Remedies for the water side: other hoses, the valve, the strainer, heights, lengths."""

from __future__ import annotations

SENTENCES = {
    "other-hose": "{told: } The {hoses:hose|hoses} will be re-routed.",
    "other-hose.given": "Use {hose} for {lines:and}: {bore} bore{bends}.",
    "other-hose.bends": " (minimum bend radius {wider} instead of {now}: the route may change)",
    "hose-and-valve": "{told: }",
    "valve-closed": "Close the valve in {line} until it passes {to} at {pressure} (now {now}).",
    "module-lowered": "Lower {module} by {down} at its present position. {effect} Its hoses will "
    "be re-routed.",
    "strainer-larger": "Fit a larger {strainer}: at {flow} at most {clean} clean and {fouled} "
    "fouled (now {clean_now} and {fouled_now}).",
    "line-shortened": "Shorten {line} to {most} or less (now {now}). The proven minimum between "
    "these ports is {bound}; whether a route this short exists was not checked.",
    # --- what is then left
    "effect.suction": "The suction vacuum is then at most {vacuum}, the available NPSH at least "
    "{npsh}.",
    "effect.vacuum": "{vacuum}",
    "effect.no-vacuum": "zero",
    "effect.fouled": "{clean} clean and {fouled} fouled",
    "effect.back-pressure": "The back pressure is then at most {most}.",
    "effect.high-pressure": "It then loses {share} of the working pressure.",
    # --- where nothing that was tested is enough
    "no-hose.bore": "A bore {times} times as large in {lines:and} would be large enough (up to "
    "{bore}).",
    "no-hose.suction": "A larger hose cannot fix this: the cause is the height, the fouling of "
    "the filters or the pump. Move the modules or the opening closer to the sea surface, change "
    "filters sooner, or choose a stronger pump.",
    "no-hose.lift": "A larger hose cannot fix this: the cause is the height to which the water is "
    "lifted. Move the start or the end of the line so that it rises less.",
    "no-hose.rated": "rated for at least {need} for {line}",
    "no-hose.reinforced": 'with wall = "reinforced" for {line}',
    "no-hose.add": "Add a hose {wants:and} to the kit: none of its hoses is suitable.",
}
