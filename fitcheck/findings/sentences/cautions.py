"""Sentences of the cautions that are printed with every result."""

SENTENCES = {
    "caution.estimate": "All of this is calculated from a scan and from the numbers in the input "
    "files. It is not an approval. Measure again on board before cutting or ordering. The "
    "instructions of the makers of modules, hoses and pumps take precedence, and so do local "
    "codes, class and flag rules and the practice of licensed trades.",
    "caution.flooding": "{depth} under water an open hole of {small} lets in about {little}, one "
    "of {large} about {much}. Close the seacock and check that it holds before opening any "
    "fitting below the waterline; a new hole in the hull is work for a boat out of the water.",
    "caution.high-pressure": "At {pressure} a leak is a jet of about {speed} that penetrates "
    "skin, and a hose that fails whips. Stop the pump and relieve the pressure before touching "
    "anything; never search for a leak by hand; wear eye protection; use only hoses and fittings "
    "rated for it, with a relief valve; no hidden high-pressure joint where people sit or sleep.",
    "caution.electricity": "Pump motors are close to salt water. Cables, fuses and earthing are "
    "not checked here; have them done by a qualified person to the rules that apply to the boat.",
    "caution.drinking-water": "Use only hose and fittings made for drinking water on the product "
    "side, discard the first product, test the water before drinking it and keep it disinfected. "
    "Nothing here checks that the water is fit to drink.",
    "caution.lifting": "Lift heavy modules with two people or a tackle. Use mounts that hold at "
    "heel and in a seaway, and secure the modules against falling while you fix them.",
}
