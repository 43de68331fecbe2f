"""Cautions printed with every result."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A short heading and its text."""

    about: str
    text: str


# The two flows are Cd A sqrt(2 g h) with Cd = 0.6 for a sharp-edged hole, h = 0.5 m; the jet speed
# is sqrt(2 p / rho) at 55 bar in seawater of 1025 kg/m3. A test recalculates them.
CAUTIONS: tuple[Caution, ...] = (
    Caution(
        about="An estimate",
        text="All of this is calculated from a scan and from the numbers in the input files. It "
        "is not an approval. Measure again on board before cutting or ordering. The "
        "instructions of the makers of modules, hoses and pumps take precedence, and so do "
        "local codes, class and flag rules and the practice of licensed trades.",
    ),
    Caution(
        about="Flooding",
        text="Half a metre (1.6 ft) under water an open hole of 12.7 mm (1/2 in) lets in about "
        "14 L/min (3.7 US gal/min), one of 19 mm (3/4 in) about 32 L/min (8.4 US gal/min). Close "
        "the seacock and check that it holds before opening any fitting below the waterline; a "
        "new hole in the hull is work for a boat out of the water.",
    ),
    Caution(
        about="High pressure",
        text="At 55 bar (800 psi) a leak is a jet of about 104 m/s (340 ft/s) that penetrates "
        "skin, and a hose that fails whips. Stop the pump and relieve the pressure before "
        "touching anything; never search for a leak by hand; wear eye protection; use only hoses "
        "and fittings rated for it, with a relief valve; no hidden high-pressure joint where "
        "people sit or sleep.",
    ),
    Caution(
        about="Electricity",
        text="Pump motors are close to salt water. Cables, fuses and earthing are not checked "
        "here; have them done by a qualified person to the rules that apply to the boat.",
    ),
    Caution(
        about="Drinking water",
        text="Use only hose and fittings made for drinking water on the product side, discard the "
        "first product, test the water before drinking it and keep it disinfected. Nothing "
        "here checks that the water is fit to drink.",
    ),
    Caution(
        about="Lifting",
        text="Lift heavy modules with two people or a tackle. Use mounts that hold at heel and in "
        "a seaway, and secure the modules against falling while you fix them.",
    ),
)
