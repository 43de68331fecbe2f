"""What would put the water right: other hoses, the valve, the strainer, heights, lengths."""

from __future__ import annotations

SENTENCES = {
    "other-hose": "{told: } The {hoses:hose|hoses} will be re-routed.",
    "other-hose.given": "Give {lines:and} {hose}, {bore} bore{bends}.",
    "other-hose.bends": " (minimum bend radius {wider} instead of {now}: the route may change)",
    "hose-and-valve": "{told: }",
    "valve-closed": "Close the valve in {line} until it passes {to} at 1 bar (now {now}).",
    "module-lowered": "Put {module} {down} lower, where its box stands. {effect} Its hoses will "
    "be re-routed.",
    "strainer-larger": "A larger {strainer}: at {flow} no more than {clean} clean and {fouled} "
    "fouled (now {clean_now} and {fouled_now}).",
    "line-shortened": "Shorten {line} to {most} at most (now {now}). No run between these ports "
    "is shorter than {bound}; whether one this short exists was not tried.",
    # --- what is then left
    "effect.suction": "That leaves {vacuum} at most and {npsh} of NPSH at least.",
    "effect.vacuum": "a vacuum of {vacuum}",
    "effect.no-vacuum": "no vacuum",
    "effect.fouled": "{clean} clean and {fouled} fouled",
    "effect.back-pressure": "That leaves a back pressure of {most} at most.",
    "effect.high-pressure": "It then loses {share} of the pressure.",
    # --- where nothing that was tried does it
    "no-hose.bore": "A bore {times} times as wide in {lines:and} would put this right (up to "
    "{bore}).",
    "no-hose.suction": "No hose puts this right, however wide: it is the height, or the dirt the "
    "filters may hold, or the pump. Move the modules nearer to the sea, or the opening; change "
    "filters sooner; or take a stronger pump.",
    "no-hose.lift": "No hose puts this right, however wide: it is the height the water is lifted "
    "to. Move what it leaves or what it runs to so that it rises less.",
    "no-hose.rated": "rated for at least {need} for {line}",
    "no-hose.reinforced": 'with wall = "reinforced" for {line}',
    "no-hose.add": "Add a hose {wants:and} to the kit; none of its hoses will do.",
}
