"""Another mesh beside the boat's: how it lies, where the two differ, what becomes of a layout."""

from __future__ import annotations

SENTENCES = {
    # --- how it lies ---------------------------------------------------------------------------
    "settling.moving": "The two surfaces were still moving on one another when the search was "
    "ended.",
    "settling.remedy": "Pick the pairs with more care, or more of them.",
    "overlap.little": "Only {there} of the other mesh has a surface of this one beside it, and "
    "{here} of this one a surface of the other.",
    "overlap.remedy": "Compare meshes that hold more of the same compartment, or crop this one "
    "with boat.crop.",
    "scatter.wide": "Where they should be the same the surfaces scatter by {scatter} about one "
    "another.",
    "scatter.remedy": "Look whether both meshes are of the same compartment, and at the pairs.",
    "free-motion.free": "The surfaces do not stop the other mesh from {motion}: {held} of them "
    "stand in its way. There it lies as the pairs were picked, and what differs along that way is "
    "not seen.",
    "free-motion.remedy": "Let both meshes hold something that stops it: a bulkhead, a frame, an "
    "engine.",
    "motion.sliding": "sliding along {way}",
    "motion.turning": "turning about {way}",
    "motion.growing": "growing",
    "motion.along": "{way} ({numbers})",
    "motion.nearly": "nearly {way} ({numbers})",
    "motion.askew": "({numbers})",
    "way-round.better": "Turned {turn} the other mesh lies better: {turned} of it meets this one, "
    "{lies} as the pairs lay it.",
    "way-round.as-good": "Turned {turn} the other mesh lies about as well ({turned} of it meets "
    "this one, {lies} as it lies): only the pairs tell which way round it is.",
    "way-round.remedy": "Look at the pairs: are port and starboard, fore and aft as they are "
    "named?",
    "turn.upright": "half round about the upright",
    "turn.fore-and-aft": "half round about the fore-and-aft line",
    "turn.athwartships": "half round about the athwartships line",
    "turn.to-port": "a quarter to port about the upright",
    "turn.to-starboard": "a quarter to starboard about the upright",
    "slid-away.off": "The surfaces slid away from the pairs they were laid by: {pairs} off.",
    "slid-away.remedy": "Pick the pairs again; if they are right the compartments are not the "
    "same.",
    "stray-pair.off": "Once the surfaces lie on one another some pairs do not: {pairs} off.",
    "stray-pair.remedy": "Pick those pairs again, or see whether that place has moved.",
    "pair.off": "'{pair}' {off}",
    "scale-disagreement.solved": "The other mesh fits best {other} than its unit says; its scale "
    "is trusted to {trusted}.",
    "scale-disagreement.kept": "With its scale left free the other mesh lies {other} and scatters "
    "by {loose} instead of {kept}: either its scale is not what it is stated to be, or the whole "
    "compartment is of another size.",
    "scale-disagreement.larger": "{by} larger",
    "scale-disagreement.smaller": "{by} smaller",
    "scale-disagreement.remedy": "Prove the scale of both meshes with tape measures.",
    # --- where the two differ ------------------------------------------------------------------
    "stands-inwards.place": "Stands {worst} inwards (typically {typical}) over {area}, "
    "{spans}{beside}.{doubt}",
    "stands-inwards.beside": ", beside {modules}",
    "stands-inwards.doubt": " One mesh lies on the other to {within}, so it may be less.",
    "stands-inwards.more": "{places} smaller {places:place stands|places stand} inwards by more "
    "than {limit}; see the table.",
    "stands-inwards.remedy": "Measure that place on board before anything is built to fit it.",
    "stands-outwards.places": "{places} {places:place leaves|places leave} more room, up to "
    "{most} more: moved, or not there, or not scanned.",
    "span.one-side": "{span} {way}",
    "span.both-sides": "{less} {back} to {more} {ahead}",
    "span.above": "above the sea",
    "span.below": "below the sea",
    # --- what becomes of the layout ------------------------------------------------------------
    "layout-not-tried.mesh": "The layout could not be tried in it: {seen}.",
    "layout-not-tried.remedy": "{remedy}, and compare again",
    "not-seen-there.unseen": "In {mesh} it stands where nothing was seen: nobody can say whether "
    "it fits.",
    "no-longer-fits.service": "Its service space is no longer there in {mesh}: {said}",
    "no-longer-fits.box": "{less} It no longer fits there.",
    "fits-neither.either": "Fits neither here nor in {mesh}: {said}",
    "tight-there.tight": "{less} It is tight there and not here.",
    "face.none": "In {mesh}:",
    "face.less": "In {mesh} its {face} face has {before}{met}, {less} less.",
    "face.before": "{gap} before it",
    "face.deep": "something {depth} deep in it",
    "face.met": " ({met})",
    "change.remedy": "Give {mesh} a layout of its own, and check it by itself.",
    # --- assumed -------------------------------------------------------------------------------
    "assumed.places": "the other mesh differs from this one by places, not all over by its size",
    "assumed.solved": "its scale is solved with the rest",
    "assumed.viewpoints": "the other mesh was scanned from the places this one was scanned from",
    "assumed.carried-over": "boat.viewpoints, carried over",
    "assumed.accuracy": "how far the other mesh may be off",
    "assumed.off": "{off}",
}
