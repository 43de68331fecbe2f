"""Another mesh compared with the boat's: alignment, deviations, effect on a layout."""

from __future__ import annotations

SENTENCES = {
    # --- alignment -----------------------------------------------------------------------------
    "settling.moving": "The alignment of the two meshes had not converged when the search "
    "stopped.",
    "settling.remedy": "Pick the pairs more carefully, or pick more of them.",
    "overlap.little": "The meshes overlap too little: {there} of the other mesh and {here} of "
    "this one have a matching surface.",
    "overlap.remedy": "Compare meshes that share more of the compartment, or crop this one with "
    "boat.crop.",
    "scatter.wide": "Surfaces that should coincide differ by {scatter}.",
    "scatter.remedy": "Check that both meshes show the same compartment, and check the pairs.",
    "free-motion.free": "The surfaces do not prevent {motion} of the other mesh: only {held} of "
    "them constrain it. The pairs alone decide its position, and deviations along that direction "
    "are not detected.",
    "free-motion.remedy": "Include something in both meshes that constrains it: a bulkhead, a "
    "frame, an engine.",
    "motion.sliding": "sliding along {way}",
    "motion.turning": "rotation about {way}",
    "motion.growing": "growth",
    "motion.along": "{way} ({numbers})",
    "motion.nearly": "nearly {way} ({numbers})",
    "motion.askew": "({numbers})",
    "way-round.better": "Turned {turn}, the other mesh fits better: {turned} of it matches this "
    "one, {lies} as the pairs place it.",
    "way-round.as-good": "Turned {turn}, the other mesh fits about as well ({turned} of it "
    "matches this one, {lies} as placed): only the pairs determine its orientation.",
    "way-round.remedy": "Check the pairs: are port and starboard, fore and aft named correctly?",
    "turn.upright": "180° about the vertical axis",
    "turn.fore-and-aft": "180° about the fore-and-aft axis",
    "turn.athwartships": "180° about the athwartships axis",
    "turn.to-port": "90° to port about the vertical axis",
    "turn.to-starboard": "90° to starboard about the vertical axis",
    "slid-away.off": "The alignment moved away from the pairs: {pairs} off.",
    "slid-away.remedy": "Pick the pairs again. If they are right, the compartments are not the "
    "same.",
    "stray-pair.off": "Some pairs do not match after alignment: {pairs} off.",
    "stray-pair.remedy": "Pick those pairs again, or check whether the boat has changed there.",
    "pair.off": "'{pair}' {off}",
    "scale-disagreement.solved": "The other mesh fits best when it is {other} than its unit "
    "gives; the uncertainty of its scale is {trusted}.",
    "scale-disagreement.kept": "With a free scale the other mesh is {other}, and the surfaces "
    "differ by {loose} instead of {kept}: its scale is not as stated, or the whole compartment "
    "has another size.",
    "scale-disagreement.larger": "{by} larger",
    "scale-disagreement.smaller": "{by} smaller",
    "scale-disagreement.remedy": "Prove the scale of both meshes with tape measurements.",
    # --- where the two differ ------------------------------------------------------------------
    "stands-inwards.place": "Protrudes inwards by {worst} (typically {typical}) over an area of "
    "{area}, {spans}{beside}.{doubt}",
    "stands-inwards.beside": ", next to {modules}",
    "stands-inwards.doubt": " The alignment is uncertain by {within}, so it may be less.",
    "stands-inwards.more": "{places} smaller {places:area protrudes|areas protrude} inwards by "
    "more than {limit}; see the table.",
    "stands-inwards.remedy": "Measure there on board before you build anything to fit.",
    "stands-outwards.places": "{places} {places:area leaves|areas leave} more room, up to {most} "
    "more: moved, removed or not scanned.",
    "span.one-side": "{span} {way}",
    "span.both-sides": "{less} {back} to {more} {ahead}",
    "span.above": "above the sea",
    "span.below": "below the sea",
    # --- what it means for the layout ----------------------------------------------------------
    "layout-not-tried.mesh": "The layout could not be checked in the other mesh: {seen}.",
    "layout-not-tried.remedy": "{remedy}, and compare again",
    "not-seen-there.unseen": "It is in unscanned space of {mesh}: whether it fits there is "
    "unknown.",
    "no-longer-fits.service": "In {mesh} its service clearance is no longer available: {said}",
    "no-longer-fits.box": "{less} It no longer fits there.",
    "fits-neither.either": "It fits neither here nor in {mesh}: {said}",
    "tight-there.tight": "{less} It is tight there but not here.",
    "face.none": "In {mesh}:",
    "face.less": "In {mesh} its {face} face has {before}{met}, {less} less.",
    "face.before": "a gap of {gap}",
    "face.deep": "an overlap of {depth}",
    "face.met": " to {met}",
    "change.remedy": "Make a separate layout for {mesh} and check it.",
    # --- assumed -------------------------------------------------------------------------------
    "assumed.places": "the other mesh differs from this one locally, not in its overall size",
    "assumed.solved": "its scale is solved as part of the alignment",
    "assumed.viewpoints": "the other mesh was scanned from the same viewpoints",
    "assumed.carried-over": "boat.viewpoints, carried over",
    "assumed.accuracy": "uncertainty of the other mesh",
    "assumed.off": "{off}",
    "step.aligned": "Meshes aligned; matching surfaces differ by {noise}.",
}
